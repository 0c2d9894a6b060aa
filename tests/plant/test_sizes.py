"""Files that are larger than any plant are refused with what is too much, before they take minutes."""

from __future__ import annotations

from pathlib import Path
from time import perf_counter
from typing import Any

import pytest

from commission.cli import main
from commission.errors import ReadingsError, SiteError
from commission.plant.files import load_battery
from commission.plant.places import data_folder
from commission.records.readings import read_readings
from tests.plant.sites import content, problems


def _strings(count: int) -> list[dict[str, Any]]:
    return [{"id": f"s-{place}"} for place in range(count)]


@pytest.mark.parametrize(
    ("within", "key", "rows"),
    [
        (("bank",), "bank.strings", _strings(201)),
        (("charge_controllers", 0, "array"), "charge_controllers.array.strings", _strings(30_000)),
        ((), "loads", [{"id": f"l-{place}", "current": 1} for place in range(201)]),
        ((), "x", [1] * 201),
    ],
)
def test_a_list_longer_than_any_plant_has_is_refused(within: Any, key: str, rows: list[Any]) -> None:
    site = content()
    place: Any = site
    for step in within:
        place = place[step]
    place[key.rpartition(".")[2]] = rows
    begun = perf_counter()
    (found,) = problems(site)
    assert (found.key, found.right) == (key, "at most 200 in one list")
    assert found.wrong == f"has {len(rows):,} entries"
    assert perf_counter() - begun < 2


def test_a_bank_of_more_cells_than_can_be_measured_is_refused() -> None:
    site = content()
    site["bank"] |= {"strings": _strings(12), "blocks_in_series": 900, "cells_per_block": 1}
    found = next(one for one in problems(site) if one.key == "bank")
    assert (found.wrong, found.right) == ("make 10,800 cells", "at most 10,000 in one bank")


def test_a_profile_with_an_endless_table_is_refused(tmp_path: Path) -> None:
    folder = tmp_path / "profiles" / "batteries"
    folder.mkdir(parents=True)
    text = (data_folder("profiles") / "batteries" / "flooded.toml").read_text(encoding="utf-8")
    (folder / "flooded.toml").write_text(f"x = [{'1, ' * 1001}]\n{text}", encoding="utf-8")
    with pytest.raises(SiteError, match="x: has 1,001 entries"):
        load_battery("flooded", tmp_path)


def test_a_file_of_more_readings_than_are_judged_at_once_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "readings.toml"
    row = '[[reading]]\nstep = "battery-temperature"\nparts = ["bank"]\nvalue = 20\n'
    path.write_text("format = 1\n" + row * 10_001)
    with pytest.raises(ReadingsError, match="reading: has 10,001 entries; at most 10,000"):
        read_readings(path)


@pytest.mark.slow
def test_a_large_plant_that_is_allowed_is_checked_in_good_time(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Two hundred strings of modules in parallel, where each may feed the fault of every other."""
    text = (data_folder("sample_sites") / "tarnwold-cabin.toml").read_text(encoding="utf-8")
    begin = text.rindex("strings = [")
    more = "".join(f'{{ id = "s-{place}" }}, ' for place in range(198))
    path = tmp_path / "site.toml"
    path.write_text(
        text[:begin] + "strings = [" + more + text[begin + len("strings = [") :], encoding="utf-8"
    )
    begun = perf_counter()
    assert main(["check", str(path)]) == 1
    assert perf_counter() - begun < 60
    assert "stop" in capsys.readouterr().out
