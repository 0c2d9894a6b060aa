"""Conditions: a reading with a time and a life, found for the parts of the step that needs it."""

from __future__ import annotations

from datetime import timedelta

import pytest

from commission.checklist.conditions import needed
from commission.checklist.types import Expected, Waits
from tests.builders import plant
from tests.checklist.bands import edges, waited_for
from tests.checklist.walks import NOON, Site

INVERTER = {"profile": "inverter-48v-120-3600"}
CONTROLLER = {"profile": "controller-48v-80-buck-200"}


def module(*strings: str) -> dict[str, object]:
    return {
        "series": 3,
        "strings": [{"id": string} for string in strings],
        "open_circuit_voltage": 40.0,
        "voltage_coefficient": -0.3,
    }


@pytest.fixture
def site() -> Site:
    return Site(
        plant(
            inverters=({"id": "inverter-1", **INVERTER},),
            controllers=(
                {"id": "controller-1", **CONTROLLER, "array": module("pv-a")},
                {"id": "controller-2", **CONTROLLER, "array": module("pv-b")},
            ),
        )
    )


SENSOR = ("sensor-reading", "inverter-1")


def test_a_condition_that_was_never_read_is_asked_for(site: Site) -> None:
    outcome = site.judged(*SENSOR)
    assert waited_for(outcome) == ["battery-temperature@bank"]
    assert isinstance(outcome, Waits)
    assert outcome.why == "the battery temperature is wanted"


@pytest.mark.parametrize(("minutes", "alive"), [(0, True), (119, True), (120, True), (121, False)])
def test_battery_temperature_holds_for_two_hours_at_rest(site: Site, minutes: float, alive: bool) -> None:
    site.read("battery-temperature", "bank", 18.0, ago=minutes)
    assert isinstance(site.judged(*SENSOR), Expected) is alive


@pytest.mark.parametrize(("minutes", "alive"), [(30, True), (31, False)])
def test_battery_temperature_holds_for_half_an_hour_under_current(
    site: Site, minutes: float, alive: bool
) -> None:
    site.read("battery-temperature", "bank", 18.0, ago=minutes).read(
        "bank-standing-current", "bank", -20.0, ago=5
    )
    assert isinstance(site.judged(*SENSOR), Expected) is alive


def test_a_standing_current_is_rest(site: Site) -> None:
    # 0.005 A per Ah of 200 Ah is 1 A
    site.read("battery-temperature", "bank", 18.0, ago=90).read("bank-standing-current", "bank", -0.9)
    assert isinstance(site.judged(*SENSOR), Expected)
    site.read("bank-standing-current", "bank", -1.1)
    assert waited_for(site.judged(*SENSOR)) == ["battery-temperature@bank"]


def test_an_old_current_says_nothing_about_rest(site: Site) -> None:
    site.read("battery-temperature", "bank", 18.0, ago=90).read(
        "bank-standing-current", "bank", -20.0, ago=31
    )
    assert isinstance(site.judged(*SENSOR), Expected)


def test_a_dead_condition_says_how_old_it_is(site: Site) -> None:
    site.read("battery-temperature", "bank", 18.0, ago=130)
    outcome = site.judged(*SENSOR)
    assert isinstance(outcome, Waits)
    assert outcome.why == "the battery temperature is 2 h 10 min old and holds for 2 h"


def test_what_is_read_later_does_not_count(site: Site) -> None:
    site.read("battery-temperature", "bank", 18.0)
    assert isinstance(site.judged(*SENSOR, now=NOON - timedelta(minutes=1)), Waits)


def test_the_condition_that_was_used_is_remembered(site: Site) -> None:
    site.read("battery-temperature", "bank", 18.0)
    site.judged(*SENSOR)
    assert [str(item.key) for item in site.used] == ["battery-temperature@bank"]


def test_a_string_takes_the_light_of_its_own_array(site: Site) -> None:
    site.read("irradiance", "controller-1", 800.0).read("module-temperature", "controller-1", 40.0)
    assert isinstance(site.judged("array-string-voltage", "pv-a"), Expected)
    assert waited_for(site.judged("array-string-voltage", "pv-b")) == [
        "irradiance@controller-2",
        "module-temperature@controller-2",
    ]


def test_light_and_module_temperature_hold_for_a_minute(site: Site) -> None:
    site.read("irradiance", "controller-1", 800.0, ago=1).read(
        "module-temperature", "controller-1", 40.0, ago=1
    )
    assert isinstance(site.judged("array-string-voltage", "pv-a"), Expected)
    site.read("irradiance", "controller-1", 800.0, ago=1.1)
    assert waited_for(site.judged("array-string-voltage", "pv-a")) == ["irradiance@controller-1"]


def test_a_condition_read_in_another_unit_is_restated(site: Site) -> None:
    # 85 % of charge as a share: rested voltage 24 × (2.10 + 0.4 × 0.042) V, with next to no load
    site.read("state-of-charge", "bank", 85.0).read("quarter-load.power", "inverter-1", 1.0)
    low, high = edges(site.judged("quarter-load.bank", "inverter-1"))
    assert low is not None
    assert high is not None
    assert (low + high) / 2 == pytest.approx(24 * (2.10 + 0.4 * 0.042), abs=0.02)


def test_a_step_knows_beforehand_which_conditions_it_will_want(site: Site) -> None:
    step, _ = site.find("array-string-voltage", "pv-b")
    assert [str(ask.key) for ask in needed(site.checklist, step)] == [
        "irradiance@controller-2",
        "module-temperature@controller-2",
    ]


def test_a_step_that_asks_a_condition_itself_does_not_want_it_beforehand() -> None:
    run = {"id": "run-1", "kind": "dc", "from": "bank", "to": "inverter-1"}
    wired = Site(plant(inverters=({"id": "inverter-1", **INVERTER, "run": "run-1"},), runs=[run]))
    step, _ = wired.find("run-drop.positive", "run-1")
    assert [str(ask.key) for ask in needed(wired.checklist, step)] == ["air-temperature@"]
