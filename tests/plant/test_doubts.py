"""Numbers that are taken in the unit of their key and look like another unit's, and numbers in quotes."""

from __future__ import annotations

from typing import Any

import pytest

from commission.plant.change import Change, changed_data
from commission.plant.places import sample_sites
from tests.design.faults import data_of
from tests.plant.sites import problems, warnings

US, METRIC = "tarnwold-cabin", "harrowick-relay"


def told(site: str, key: str, value: Any) -> list[str]:
    return [str(one) for one in warnings(changed_data(data_of(site), [Change(key, value)]))]


@pytest.mark.parametrize("site", [US, METRIC])
@pytest.mark.parametrize(
    "key", ["site.hottest_ambient", "site.hottest_battery", "site.room_temperature", "runs[run-main].ambient"]
)
def test_air_and_batteries_are_never_so_hot(site: str, key: str) -> None:
    """93 °F is a hot day, 93 °C is none; the hottest air ever measured was 56.7 °C."""
    (warning,) = told(site, key, 93)
    assert warning.endswith(f'{key} = 93: is taken as 93 °C; write "93 °F" if it is that')
    assert told(site, key, 58) == []
    assert told(site, key, "93 °F") == []


def test_what_insulation_stands_may_be_hotter() -> None:
    assert told(US, "runs[run-main].insulation_temperature", 90) == []


@pytest.mark.parametrize(
    ("site", "area", "other"),
    [
        (US, 2, "2 AWG"),  # 33.6 mm²; no metric size
        (US, 12, "12 AWG"),
        (US, 10, "10 AWG"),  # 5.26 mm² as a gauge: less than 10 mm²
        (US, 250, "250 kcmil"),
        (US, 35, ""),
        (US, 67.4, ""),
        (US, "2 AWG", ""),
        (METRIC, 2, "2 AWG"),
        (METRIC, 8, "8 AWG"),
        (METRIC, 10, ""),  # a size of IEC 60228
        (METRIC, 300, ""),
        (METRIC, 1.5, ""),
    ],
)
def test_a_bare_area_that_is_a_gauge_is_doubted(site: str, area: Any, other: str) -> None:
    found = told(site, "runs[run-main].area", area)
    if not other:
        assert found == []
    else:
        (warning,) = found
        assert warning.endswith(f'is taken as {area} mm²; write "{other}" if it is that')


def test_planned_additions_are_doubted_too() -> None:
    plan = {"name": "more", "changes": {"runs[run-main].area": 2}}
    data = {**data_of(US), "planned": [plan]}
    (warning,) = warnings(data)
    assert 'write "2 AWG"' in str(warning)


def test_no_sample_is_in_doubt() -> None:
    assert {path.stem: warnings(data_of(path.stem)) for path in sample_sites()} == {
        path.stem: [] for path in sample_sites()
    }


@pytest.mark.parametrize(
    ("key", "value", "units"),
    [
        ("runs[run-main].area", "12", '"12 mm²" or "12 AWG" or "12 kcmil"'),
        ("runs[run-main].length", "4,5", '"4,5 m" or "4,5 ft"'),
        ("site.hottest_ambient", "93", '"93 °C" or "93 °F"'),
        ("bank.terminal_torque", " 10 ", '"10 N·m" or "10 lb·in"'),
    ],
)
def test_a_number_in_quotes_names_its_unit(key: str, value: str, units: str) -> None:
    (found,) = problems(changed_data(data_of(US), [Change(key, value)]))
    assert (found.key, found.wrong) == (key, f"text without a unit; write {units}")


def test_a_gauge_with_a_slash_and_volts_in_quotes_have_one_meaning() -> None:
    made = [Change("runs[run-main].area", "2/0"), Change("protection[fuse-main].voltage", "125")]
    assert warnings(changed_data(data_of(US), made)) == []


@pytest.mark.parametrize("key", ["array.series", "array.strings[pv-1a].series"])
def test_no_string_has_no_module(key: str) -> None:
    where = f"charge_controllers[controller-1].{key}"
    (found,) = problems(changed_data(data_of(US), [Change(where, 0)]))
    assert (found.key, found.wrong) == (where, "must be at least 1")


def test_every_bad_key_of_a_plan_is_told() -> None:
    changes = {
        "runs[run-x].area": 70,
        "bank.capacty": 400,
        "loads[none].power": 3,
        "runs[run-main].area": "lots",
    }
    found = problems({**data_of(US), "planned": [{"name": "more", "changes": changes}]})
    assert [one.key for one in found] == [f"planned[number 1].changes: {key}" for key in changes]
