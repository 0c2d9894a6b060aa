"""``commission sheet`` and ``commission check``: what an office scripts against."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from commission.plant.files import load_plant
from commission.plant.places import sample_sites

Command = Callable[..., Any]
SAMPLES = [pytest.param(path.stem, id=path.stem) for path in sample_sites()]
SETTING_KEYS = {"device", "setting", "input", "recommended", "unit", "low", "high", "why"}
FINDING_KEYS = {
    "kind", "id", "check", "parts", "setting", "text", "remedy", "value", "limit", "passes", "unit",
    "missing", "change", "why",
}  # fmt: skip
OPEN = {"stop", "correct", "not checked"}
WORST_FIRST = ["stop", "correct", "not checked", "advise"]


def _devices(name: str) -> dict[str, str]:
    path = next(path for path in sample_sites() if path.stem == name)
    return {device.id: device.label for device in load_plant(path).plant.devices}


@pytest.mark.parametrize("name", SAMPLES)
def test_every_setting_has_exactly_the_stable_keys(told: Command, name: str) -> None:
    """Scripts hang on these names; one more or one less breaks them."""
    rows = told("sheet", name, "--json").data
    assert rows
    assert all(set(row) == SETTING_KEYS for row in rows)
    assert {row["device"] for row in rows} <= set(_devices(name))


@pytest.mark.parametrize("name", SAMPLES)
def test_a_setting_of_a_device_and_input_stands_once(told: Command, name: str) -> None:
    """Device, setting and input together are the key of a row."""
    rows = told("sheet", name, "--json").data
    keys = [(row["device"], row["setting"], row["input"]) for row in rows]
    assert len(keys) == len(set(keys))


@pytest.mark.parametrize("name", SAMPLES)
def test_every_recommendation_says_why_and_lies_in_its_range(told: Command, name: str) -> None:
    """A number without a reason is none; one outside its own range is wrong."""
    for row in told("sheet", name, "--json").data:
        assert row["why"], row
        recommended, low, high = row["recommended"], row["low"], row["high"]
        if isinstance(recommended, int | float):
            assert low is None or recommended >= low - 1e-9, row
            assert high is None or recommended <= high + 1e-9, row
        elif recommended is None:
            assert any("needs" in line for line in row["why"]), row


@pytest.mark.parametrize("name", SAMPLES)
def test_the_text_names_every_device_and_ends_in_the_caution(told: Command, name: str) -> None:
    """A person at the site reads the text, not the JSON."""
    said = told("sheet", name)
    for label in _devices(name).values():
        assert label in said.out
    assert "licensed people prevail" in said.out.splitlines()[-1]


@pytest.mark.parametrize("name", SAMPLES)
def test_the_exit_code_says_whether_anything_is_open(told: Command, name: str) -> None:
    """1 where a finding is stop, correct or not checked, else 0; sheet and check agree."""
    checked = told("check", name, "--json")
    expected = 1 if OPEN & {row["kind"] for row in checked.data} else 0
    assert checked.code == expected
    assert told("sheet", name).code == expected


@pytest.mark.parametrize("name", SAMPLES)
def test_findings_have_the_stable_keys_and_come_worst_first(told: Command, name: str) -> None:
    """What must not be energised stands at the top."""
    rows = told("check", name, "--json").data
    assert all(set(row) == FINDING_KEYS for row in rows)
    ranks = [WORST_FIRST.index(row["kind"]) for row in rows]
    assert ranks == sorted(ranks)
    assert len({row["id"] for row in rows}) == len(rows)


def test_samples_with_and_without_open_findings_are_among_these() -> None:
    """Else the test of the exit code would prove only one side."""
    assert {path.stem for path in sample_sites()} >= {"tarnwold-cabin", "lowmarsh-pumps"}


def test_values_of_a_flooded_12_v_bank(commission: Command) -> None:
    """Six cells: 2.45 V absorption and 2.25 V float of the profile, brought down onto tenths of a volt."""
    rows = commission("sheet", "tarnwold-cabin", "--json").data
    found = {row["setting"]: row for row in rows if row["device"] == "inverter-1"}
    assert found["absorption_voltage"]["recommended"] == 14.7  # 6 × 2.45
    assert found["float_voltage"]["recommended"] == 13.5  # 6 × 2.25
    assert found["absorption_voltage"]["unit"] == "V"
    assert found["ac_output_frequency"]["recommended"] == 60.0
    assert found["absorption_end_current"]["recommended"] == "off"


def test_why_shows_the_chain_down_to_the_file(commission: Command) -> None:
    """The plain sheet has no lineage, the one with --why goes down to profile and rule set."""
    plain, lineage = (
        commission("sheet", "tarnwold-cabin").out,
        commission("sheet", "tarnwold-cabin", "--why").out,
    )
    assert "[profile: flooded.absorption_voltage" not in plain
    assert "[profile: flooded.absorption_voltage" in lineage
    assert set(plain.splitlines()) <= set(lineage.splitlines())


def test_a_site_is_found_by_path_and_by_sample_name(commission: Command, tmp_path: Path) -> None:
    """The name of a sample, its path and a copy elsewhere give the same sheet."""
    path = next(path for path in sample_sites() if path.stem == "tarnwold-cabin")
    copy = tmp_path / "copy.toml"
    copy.write_bytes(path.read_bytes())
    outputs = {commission("sheet", named, "--json").out for named in ("tarnwold-cabin", path, copy)}
    assert len(outputs) == 1


def test_a_file_of_that_name_goes_before_the_sample(
    commission: Command, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What lies in the working folder is what the person means."""
    (tmp_path / "tarnwold-cabin").write_text("format = 2\n", encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    assert commission("sheet", "tarnwold-cabin").code == 2


def test_unknown_stays_unknown(commission: Command, tmp_path: Path) -> None:
    """A fresh template knows little: recommendations that need more are null and say what is missing."""
    site = tmp_path / "raven-hut.toml"
    assert commission("new", site).code == 0
    said = commission("sheet", site, "--json")
    assert said.code == 1
    gaps = [row for row in said.data if row["recommended"] is None]
    assert gaps
    assert all(any(line.strip().startswith("needs ") for line in row["why"]) for row in gaps)
    checked = commission("check", site, "--json").data
    assert "not checked" in {row["kind"] for row in checked}


def test_warnings_go_to_stderr_and_leave_the_json_whole(commission: Command, tmp_path: Path) -> None:
    """A mistyped key is told, with what was meant, without spoiling what a script reads."""
    path = next(path for path in sample_sites() if path.stem == "tarnwold-cabin")
    site = tmp_path / "site.toml"
    text = path.read_text(encoding="utf-8").replace("terminal_torque = ", "terminal_torqe = ", 1)
    site.write_text(text, encoding="utf-8")
    said = commission("sheet", site, "--json")
    assert said.err.startswith("warning: site.toml: bank.terminal_torqe")
    assert "terminal_torque" in said.err
    assert isinstance(json.loads(said.out), list)
    assert said.code in {0, 1}


def test_sites_lists_every_sample(commission: Command) -> None:
    """Id, name and file of each."""
    rows = commission("sites", "--json").data
    assert [row["id"] for row in rows] == [path.stem for path in sample_sites()]
    assert all(set(row) == {"id", "name", "file"} and Path(row["file"]).is_file() for row in rows)
    text = commission("sites")
    assert text.code == 0
    assert all(row["name"] in text.out for row in rows)
