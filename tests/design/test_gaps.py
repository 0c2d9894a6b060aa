"""What is not checked: which check, for want of what, and a key of the site file that really tells it."""

from __future__ import annotations

import copy
import re
from collections.abc import Iterator
from functools import cache
from typing import Any

import pytest

from commission import plain
from commission.design.check import checked_sheet
from commission.errors import SiteError
from commission.figure import Gap, Unknown, given
from commission.formulas.charging import scaled_current
from commission.plant.change import Change, changed_data
from commission.plant.files import plant_of
from commission.plant.places import data_folder, sample_sites
from commission.plant.values import Model
from commission.sheet.known import check_words, not_checked, what_helps
from commission.sheet.types import Finding
from tests.design.faults import data_of, findings_of

SITES = [path.stem for path in sample_sites()]
SECTIONS = {"runs", "loads", "data_cables", "inverter_chargers"}
STATED: dict[str, Any] = {
    "altitude": 200, "coldest_ambient": -20, "hottest_battery": 35, "room_temperature": 25,
    "load_while_charging": 500, "power": 1200, "power_factor": 0.9, "starting_power": 2400,
    "frequency_max": 63, "area": 107.2, "length": 3.0, "material": "copper", "insulation_temperature": 90,
    "terminal_temperature": 75, "earth_area": 13.3, "rating": 200, "voltage": 125, "interrupting": 20000,
    "polarised": False, "distance": 0.2, "bus_bar": 400, "offset": 0.0, "sensor_fitted": True,
    "least_useful_current": 1.0, "run": "run-controller-1", "series": 3, "open_circuit_voltage": 37.0,
    "short_circuit_current": 9.0, "maximum_power_voltage": 30.0, "power_coefficient": -0.4,
    "string_fuse": 15, "pv_input_current": 30, "limit_binds_backfeed": True, "sustained_current": 80,
    "neutral_bond": "none", "neutral_switched": True, "started_by": "inverter-1", "group_leg": "both",
    "group_role": "alone", "leg": "both", "shunt_current": 500, "shunt_voltage": 0.05, "least_load": 200,
    "load": 3000, "beside": [], "spark_distance": 1.0, "vent_area": 400, "dc": "negative",
    "electrode_conductor": 21.2, "dc_conductor": 21.2, "emergency_stop": ["bank"], "earthing": "TN",
    "array_on_building": False, "earth_fault_detection": True, "connection": "split", "capacity_rate": 20,
}  # fmt: skip
"""What a technician might find out of each thing that lowmarsh-pumps does not tell."""


def made_unknown(site: str) -> dict[str, Any]:
    """Return a sample in which everything that may be unknown is."""
    whole = plant_of(data_of(site), data_folder("sample_sites") / f"{site}.toml").plant.site
    return {**blanked(whole), "planned": []}


def blanked(model: Model) -> dict[str, Any]:
    """Return what a model was made from, with the word unknown wherever it may stand."""
    made = model.model_dump(by_alias=True, exclude_unset=True)
    for name, info in type(model).model_fields.items():
        key, value = info.alias or name, getattr(model, name)
        if key not in made:
            continue
        if "Literal['unknown']" in str(info.annotation) and not isinstance(value, tuple):
            made[key] = "unknown"
        elif isinstance(value, Model):
            made[key] = blanked(value)
        elif isinstance(value, tuple) and any(isinstance(one, Model) for one in value):
            made[key] = [blanked(one) for one in value]
    return made


def keys(findings: dict[str, Finding]) -> Iterator[str]:
    for finding in findings.values():
        yield from (gap.key for gap in finding.missing if isinstance(gap, Gap) and gap.key)


def stated(data: dict[str, Any], key: str, value: Any) -> dict[str, Any]:
    """Return a site with a key stated; a mode of the earthing that the file has not gets its own entry."""
    try:
        return changed_data(data, [Change(key, value)])
    except SiteError:
        mode = re.fullmatch(r"(earthing\.modes\[[a-z0-9-]+\])\.earthing", key)
        assert mode is not None, key
        return changed_data(data, [Change(mode[1], {"earthing": value, "bonds": []})])


@cache
def unknown_findings(site: str) -> dict[str, Finding]:
    return findings_of(made_unknown(site), site, ())


@pytest.mark.parametrize("site", SITES)
def test_every_key_that_is_asked_for_is_one_of_the_site_file(site: str) -> None:
    """Stated as unknown, all are read without a word; a list that is asked for is only looked up."""
    asked = set(keys(unknown_findings(site)))
    assert asked
    data = made_unknown(site)
    for key in asked - SECTIONS:
        data = stated(data, key, "unknown")
    path = data_folder("sample_sites") / f"{site}.toml"
    assert [str(one) for one in plant_of(data, path).warnings] == []


def test_what_is_stated_is_not_asked_for_again() -> None:
    site = "lowmarsh-pumps"
    before = findings_of(data_of(site), site, ())
    asked = set(keys(before)) - SECTIONS
    assert len(asked) > 50
    lead = {"kind": "dc", "from": "dc-panel", "to": "controller-1", "area": 33.6, "length": 2.0}
    rated = {"insulation_temperature": 90, "terminal_temperature": 75, "voltage": 600}
    data = changed_data(data_of(site), [Change("runs[run-controller-1]", {**lead, **rated})])
    for key in sorted(asked):
        data = stated(data, key, STATED[key.rsplit(".", 1)[-1]])
    after = findings_of(data, site, ())
    assert not asked & set(keys(after))
    few = sum(one.kind == "not checked" for one in after.values())
    assert few * 4 < sum(one.kind == "not checked" for one in before.values())


@pytest.mark.parametrize("site", SITES)
def test_every_gap_names_its_check_and_what_helps(site: str) -> None:
    for finding in unknown_findings(site).values():
        if finding.kind == "not checked":
            assert finding.missing, finding.id
            assert finding.text.startswith(f"{check_words(finding.check, finding.setting)} not checked: ")
            assert finding.remedy, finding.id
            assert "state it in the site file" not in finding.remedy


# how it is told


def test_a_gap_says_check_and_key() -> None:
    made = not_checked("drop-inverter", ("inverter-1",), [Gap("length of run-a", "runs[run-a].length")])
    assert made.text == "voltage drop to the inverter not checked: length of run-a unknown"
    assert made.remedy == "state runs[run-a].length"


def test_what_no_key_tells_says_what_helps() -> None:
    assert what_helps([Gap("a", helps="do this"), Gap("b", "site.b"), Gap("c", helps="do this")]) == (
        "state site.b; do this"
    )


def test_a_formula_that_does_not_hold_points_to_the_keys_it_rests_on() -> None:
    bad = given(float("inf"), "A", "current", kind="site", where="protection[a].rating")
    made = scaled_current.of("twice as much", current=bad, count=2.0)
    assert isinstance(made, Unknown)
    (gap,) = made.missing
    assert isinstance(gap, Gap)
    assert gap.helps == "look at protection[a].rating"


def test_a_controller_for_two_voltages_is_taken_at_the_higher_until_the_file_says_otherwise() -> None:
    """14.4 V for 12 V of AGM; per 12 V the class of 24 V cannot go under 24 V."""
    site = "tarnwold-cabin"
    told = findings_of(data_of(site), site, ())
    assert not [one for one in told.values() if one.check == "device-over-chemistry"]
    data = copy.deepcopy(data_of(site))
    for one in data["charge_controllers"]:
        one["datasheet"] = {k: v for k, v in one.get("datasheet", {}).items() if k != "nominal_voltage"}
    found = findings_of(data, site, ())
    stop = next(one for one in found.values() if one.check == "device-over-chemistry")
    key = "charge_controllers[controller-1].datasheet.nominal_voltage"
    assert f"if it works at 12 V too, state {key} = 12" in stop.remedy
    open_ = [one for one in found.values() if "that both the battery" in one.text]
    assert open_
    assert all(key in one.remedy and "state it" not in one.remedy for one in open_)
    mended = findings_of(changed_data(data, [Change(key, 12)]), site, ())
    assert not [one for one in mended.values() if one.check == "device-over-chemistry"]


def lines(*findings: Finding) -> list[str]:
    return list(plain.finding_lines(findings))


def test_what_one_lot_of_checks_lacks_is_one_line() -> None:
    length, area = Gap("length of run-a", "runs[run-a].length"), Gap("area of run-a", "runs[run-a].area")
    first = not_checked("drop-inverter", ("inverter-1",), [length])
    second = not_checked("ampacity", ("run-a",), [area, length])
    drop = "voltage drop to the inverter, ampacity"
    third = not_checked("selectivity", ("run-a",), [area])
    assert lines(first, second, third) == [
        f"not checked  2 checks of inverter-1, run-a ({drop}): {length} unknown: state {length.key}",
        f"not checked  2 checks of run-a (ampacity, selectivity): {area} unknown: state {area.key}",
        "state these first: runs[run-a].length (2 checks), runs[run-a].area (2 checks)",
    ]
    both = not_checked("ampacity", ("run-a",), [area, length])
    assert lines(both)[0] == (
        "not checked  run-a (ampacity): area of run-a, length of run-a unknown: "
        "state runs[run-a].area, runs[run-a].length"
    )


def test_json_keeps_one_entry_for_each_with_its_keys() -> None:
    sheet = checked_sheet(
        plant_of(data_of("lowmarsh-pumps"), data_folder("sample_sites") / "x.toml").plant, ()
    )
    rows = [plain.finding_json(one) for one in sheet.findings]
    open_ = [row for row in rows if row["kind"] == "not checked"]
    told = lines(*sheet.findings)
    assert len(open_) > len([line for line in told if line.startswith("not checked")])
    assert all(row["missing"] for row in open_)
    first = next(line for line in told if line.startswith("state these first: "))
    most = max({key for row in open_ for key in row["missing"]},
               key=lambda key: sum(key in row["missing"] for row in open_))  # fmt: skip
    assert first.startswith(f"state these first: {most} (")
