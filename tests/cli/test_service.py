"""The service visit from the command line."""

from __future__ import annotations

from pathlib import Path
from typing import get_args

from commission.cli_service import INTERVALS
from commission.plant.values import Interval
from tests.cli.conftest import Command
from tests.revisit.sites import BEACON, commissioned


def test_a_visit_is_listed_without_a_screen(commission: Command, tmp_path: Path) -> None:
    site, _ = commissioned(tmp_path)
    said = commission("service", site, "--list", "--interval", "quarterly")
    assert said.code == 0
    assert said.out.index("The hatch sticks") < said.out.index("due:")
    assert "this visit would do: quarterly" in said.out
    assert "(due quarterly)" in said.out
    assert "(due yearly)" not in said.out


def test_an_event_does_the_steps_of_its_parts_only(commission: Command, tmp_path: Path) -> None:
    _, record = commissioned(tmp_path)
    data = commission("service", record, "--json", "--event", "fuse blown", "--part", "fuse-main").data
    assert data["wanted"]["intervals"] == []
    assert any(step["because"] == "fuse-main: fuse blown" for step in data["steps"])
    assert not any(step["because"].startswith("due") for step in data["steps"])


def test_records_are_looked_for_in_the_folder_that_is_named(commission: Command, tmp_path: Path) -> None:
    records, sites = tmp_path / "records", tmp_path / "sites"
    records.mkdir()
    sites.mkdir()
    site, _ = commissioned(records)
    moved = site.rename(sites / site.name)
    refused = commission("service", moved, "--list")
    assert refused.code == 2
    assert "--records" in refused.err
    assert commission("service", moved, "--list", "--records", records).code == 0


def test_a_part_that_is_not_there_is_told_with_those_that_are(commission: Command, tmp_path: Path) -> None:
    site, _ = commissioned(tmp_path)
    said = commission("service", site, "--list", "--event", "gone", "--part", "strng-a")
    assert said.code == 2
    assert "strng-a" in said.err
    assert "string-a" in said.err


def test_without_a_terminal_the_app_says_what_to_do(commission: Command, tmp_path: Path) -> None:
    site, record = commissioned(tmp_path)
    said = commission("service", site)
    assert said.code == 2
    assert "--list" in said.err
    assert commission("open", record).code == 2


def test_a_folder_of_records_may_hold_the_site_file_too(commission: Command, tmp_path: Path) -> None:
    commissioned(tmp_path)
    said = commission("verify", tmp_path, "--seals-only")
    assert said.code == 0
    assert f"{BEACON}.toml " not in said.out


def test_the_intervals_are_those_of_the_checklists() -> None:
    assert {*INTERVALS, "every visit"} == set(get_args(Interval))
