"""PV yield, load steps, shares and joints, against hand arithmetic and published numbers."""

from __future__ import annotations

from typing import Any

import pytest

from commission.checklist.types import Expected
from commission.figure import Figure
from tests.builders import plant
from tests.checklist.bands import (
    edges,
    is_inside,
    is_stopped,
    judged_value,
    nominal,
    refusal,
    stops,
    waited_for,
)
from tests.checklist.power_sites import Lefts, charging, left, managed_plant, pv_plant, sheet, told
from tests.checklist.walks import Site

LEFTS: Lefts = {("mppt-1", "charge_current_limit"): left(60.0, "A")}
ALLOWANCE = (0.05**2 + 0.03**2 + 0.03**2) ** 0.5
"""Sensor, soiling and tolerance together, share."""


# PV by light and warmth


def in_sun(state: str = "bulk", light: float = 800.0, warmth: float = 45.0) -> Site:
    site = charging(Site(pv_plant(), sheet(), LEFTS), state, light=light, warmth=warmth)
    return site.read("bank-voltage", "bank", 52.0)


def test_a_controller_yields_what_light_and_warmth_give() -> None:
    # 2 × 3 × 410 W × 0.8 × (1 − 0.0035 × 20) = 1830.24 W; × 0.975 ÷ 52 V = 34.317 A
    outcome = in_sun().judged("pv-yield", "mppt-1", 34.0)
    assert nominal(outcome) == pytest.approx(34.317, abs=1e-3)
    assert edges(outcome) == pytest.approx((34.317 * (1 - ALLOWANCE), 34.317 * (1 + ALLOWANCE)), abs=1e-2)


def test_a_yield_over_the_limit_is_held_to_the_limit() -> None:
    site = in_sun(light=1000.0, warmth=0.0)
    site.lefts = {("mppt-1", "charge_current_limit"): left(40.0, "A")}
    assert nominal(site.judged("pv-yield", "mppt-1", 40.0)) == pytest.approx(40.0)


def test_a_controller_that_only_switches_gives_the_arrays_current() -> None:
    array = {
        "series": 1,
        "strings": [{"id": "pv-a"}, {"id": "pv-b"}],
        "module_power": 100.0,
        "maximum_power_current": 5.5,
        "current_coefficient": 0.05,
        "power_coefficient": -0.4,
    }
    unit = {"id": "mppt-1", "profile": "controller-12-24v-30-switched", "array": array}
    site = Site(
        plant("flooded", blocks=1, controllers=(unit,)),
        sheet(),
        {("mppt-1", "charge_current_limit"): left(30.0, "A")},
    )
    charging(site, "bulk", light=800.0, warmth=45.0).read("bank-voltage", "bank", 13.0)
    # 2 × 5.5 A × 0.8 × (1 + 0.0005 × 20)
    assert nominal(site.judged("pv-yield", "mppt-1", 8.8)) == pytest.approx(8.888)


def test_the_current_of_a_running_array_follows_the_light() -> None:
    # 2 × 13.15 A × 0.8 × (1 + 0.0005 × 20) = 21.2504 A
    assert nominal(in_sun().judged("running-array", "mppt-1", 21.0)) == pytest.approx(21.2504)


@pytest.mark.parametrize("name", ["pv-yield", "running-array"])
@pytest.mark.parametrize("state", ["absorption", "float", "temperature limit", "off"])
def test_throttled_pv_is_never_judged(name: str, state: str) -> None:
    assert refusal(in_sun(state).judged(name, "mppt-1", 5.0)) == f"charger in {state}, not in bulk"


@pytest.mark.parametrize("name", ["pv-yield", "running-array"])
def test_weak_light_tells_nothing(name: str) -> None:
    assert "too little light" in refusal(in_sun(light=399.0).judged(name, "mppt-1", 8.0))


def test_light_of_another_minute_is_asked_for_again() -> None:
    site = in_sun().read("irradiance", "mppt-1", 800.0, ago=1.5)
    assert waited_for(site.judged("pv-yield", "mppt-1", 34.0)) == ["irradiance@mppt-1"]


def test_module_data_that_are_missing_are_named() -> None:
    bare = {"series": 3, "strings": [{"id": "pv-a"}]}
    site = charging(
        Site(pv_plant(controller={"array": bare}), sheet(), LEFTS), "bulk", light=800.0, warmth=45.0
    )
    site.read("bank-voltage", "bank", 52.0)
    assert "module power" in refusal(site.judged("pv-yield", "mppt-1", 34.0))


def test_running_strings_are_compared_within_a_minute() -> None:
    site = charging(Site(pv_plant()), "bulk").read("running-strings", "mppt-1", 9.0, 8.2)
    # mean 8.6 A: 8.2 A lies 4.65 % under it
    outcome = site.judged("running-strings", "mppt-1", 8.2, 1)
    assert judged_value(outcome) == pytest.approx(8.2 / 8.6 - 1.0)
    assert is_inside(outcome)
    site.read("running-strings", "mppt-1", 9.0, 8.0)
    assert not is_inside(site.judged("running-strings", "mppt-1", 8.0, 1))
    site.read("running-strings", "mppt-1", 9.0, ago=5.0)
    assert "light may have changed" in refusal(site.judged("running-strings", "mppt-1", 8.0, 1))


# load steps. 4 kW at 0.93 from 51.2 V behind 15 mΩ: 86.181 A and 49.907 V (V² − Voc·V + P·R ÷ η = 0)


def stepped(
    strings: int = 1, capacity: float = 200.0, bank: dict[str, Any] | None = None, **more: Any
) -> Site:
    site = Site(plant(strings=strings, capacity=capacity, bank=bank, **more))
    site.read("load-rest", "bank", 51.2).read("load-rest.current", "bank", 0.0)
    return site.read("load-half.current", "bank", 86.181)


def test_the_first_step_measures_the_bank() -> None:
    site = stepped()
    outcome = site.judged("load-half", "bank", 49.907)
    assert judged_value(outcome) == pytest.approx(15.0, abs=0.01)
    # AGM 0.05 to 0.12 Ω·Ah a cell, 24 cells of 200 Ah: 6.0 to 14.4 mΩ
    assert edges(outcome) == pytest.approx((6.0, 14.4))
    assert not is_inside(outcome)


def test_signs_of_the_clamp_do_not_matter() -> None:
    site = stepped().read("load-half.current", "bank", -86.181)
    assert judged_value(site.judged("load-half", "bank", 49.907)) == pytest.approx(15.0, abs=0.01)


def test_a_resistance_that_the_maker_tells_is_believed_within_two() -> None:
    # two strings of 16 mΩ: 8 mΩ, 4 to 16 mΩ
    outcome = stepped(strings=2, bank={"resistance": 0.016}).judged("load-half", "bank", 50.5)
    assert edges(outcome) == pytest.approx((4.0, 16.0))


def test_before_it_is_read_the_step_shows_volts() -> None:
    low, high = edges(stepped().judged("load-half", "bank"))
    assert (low, high) == pytest.approx((51.2 - 86.181 * 0.0144, 51.2 - 86.181 * 0.006))


def test_a_step_that_is_too_small_measures_nothing() -> None:
    site = stepped().read("load-half.current", "bank", 3.5)
    assert "4 A at least" in refusal(site.judged("load-half", "bank", 51.1))


def test_later_steps_follow_the_measured_resistance() -> None:
    site = stepped().read("load-half", "bank", 49.907).read("load-full.current", "bank", 150.0)
    outcome = site.judged("load-full", "bank", 48.9)
    # 51.2 − 0.015 × 150 = 48.95 V, a tenth of the sag of 2.25 V
    assert nominal(outcome) == pytest.approx(48.95, abs=2e-3)
    assert edges(outcome) == pytest.approx((48.95 - 0.225, 48.95 + 0.225), abs=3e-3)
    assert not is_inside(outcome, 48.5)


def test_later_steps_wait_for_the_first() -> None:
    site = stepped().read("load-full.current", "bank", 150.0)
    assert waited_for(site.judged("load-full", "bank", 48.9)) == ["load-half@bank"]


def test_an_empty_bank_stops_the_load() -> None:
    site = stepped().read("load-half", "bank", 49.907).read("load-full.current", "bank", 150.0)
    low = site.plant.cell_range("end_of_discharge_voltage")[0]
    assert isinstance(low, Figure)
    assert stops(site.judged("load-full", "bank", 48.9))[0] == pytest.approx(24 * low.value)


TWO = tuple(
    {"id": f"inverter-{number}", "profile": "inverter-48v-120-3600", "group": "house", "group_leg": "1"}
    for number in (1, 2)
)


@pytest.mark.parametrize(
    ("room", "watts"),
    [
        # 85 % at 40 °C by the class; half way between 25 and 40 °C 92.5 %
        pytest.param(25.0, 7200.0),
        pytest.param(40.0, 6120.0),
        pytest.param(32.5, 6660.0),
    ],
)
def test_full_load_is_what_the_inverters_give_in_their_room(room: float, watts: float) -> None:
    site = Site(plant(inverters=TWO, capacity=2000.0, place={"room_temperature": room}))
    assert nominal(site.judged("load-full.power", "bank", watts)) == pytest.approx(watts)
    assert nominal(site.judged("load-half.power", "bank", watts / 2)) == pytest.approx(watts / 2)


def test_a_small_bank_bounds_the_load() -> None:
    # 40 A at most: 40 × 48 V × 0.92
    site = Site(plant(inverters=TWO, bank={"greatest_discharge": 40.0}))
    assert nominal(site.judged("load-full.power", "bank", 1700.0)) == pytest.approx(1766.4)


def test_the_battery_tells_what_it_may_give() -> None:
    # two packs of 100 A are 200 A, less than the cells' 0.5 C of 600 Ah, until the battery tells less
    site = Site(managed_plant(discharge_current=100.0))
    assert waited_for(site.judged("load-full.current", "bank", 90.0)) == ["battery-told.discharge@bank"]
    told(site, 56.0, 90.0, 120.0)
    assert edges(site.judged("load-full.current", "bank", 90.0)) == pytest.approx((None, 120.0))
    told(site, 56.0, 90.0, 400.0)
    assert edges(site.judged("load-full.current", "bank", 90.0)) == pytest.approx((None, 200.0))


def test_a_plant_without_inverters_is_loaded_by_its_dc_loads() -> None:
    loads = [{"id": f"load-{number}", "current": "dc", "power": 120.0} for number in (1, 2)]
    site = Site(plant(loads=loads))
    assert nominal(site.judged("load-full.power", "bank", 240.0)) == pytest.approx(240.0)
    site.read("bank-voltage", "bank", 50.0)
    assert edges(site.judged("dc-load-voltage", "load-1", 48.0)) == pytest.approx((47.5, 50.25))


def test_efficiency_informs_and_does_not_condemn() -> None:
    site = Site(plant(inverters=TWO))
    site.read("inverter-efficiency.dc-voltage", "inverter-1", 49.907)
    site.read("inverter-efficiency.dc-current", "inverter-1", -86.181)
    outcome = site.judged("inverter-efficiency.power", "inverter-1", 4000.0)
    assert judged_value(outcome) == pytest.approx(0.93, abs=1e-4)
    assert edges(outcome) == pytest.approx((0.90, 1.0))
    assert isinstance(outcome, Expected)
    assert outcome.decides is False


def test_a_motor_may_pull_the_voltage_down_to_85_per_cent() -> None:
    loads = [{"id": "pump", "current": "ac", "starting_power": 6000.0}]
    site = Site(plant(inverters=TWO, loads=loads))
    assert edges(site.judged("motor-start.dip", "house", 104.0)) == pytest.approx((102.0, None))


# shares


def shared(first: float, second: float, charge: float = 60.0, minutes: float = 40.0, **more: Any) -> Site:
    site = Site(plant(strings=2, **more)).read("state-of-charge", "bank", charge)
    site.read("steady-time", "bank", minutes)
    return site.read("string-share-load", "string-2", second).read("string-share-load", "string-1", first)


@pytest.mark.parametrize(
    ("first", "second", "deviation", "good", "decides"),
    [
        pytest.param(52.0, 48.0, 4.0, True, False, id="good"),
        pytest.param(56.0, 44.0, 12.0, False, False, id="to be watched: at worst a conditional fail"),
        pytest.param(62.0, 38.0, 24.0, False, True, id="wrong"),
        pytest.param(-52.0, -48.0, 4.0, True, False, id="discharge"),
    ],
)
def test_strings_share_within_a_tenth(
    first: float, second: float, deviation: float, good: bool, decides: bool
) -> None:
    outcome = shared(first, second).judged("string-share-load", "string-1", first)
    assert judged_value(outcome) == pytest.approx(deviation)
    assert is_inside(outcome) is good
    assert isinstance(outcome, Expected)
    assert outcome.decides is decides


def test_shares_follow_the_leads() -> None:
    # 100 A over paths of 8 and 12 mΩ split into 60 and 40 A (inverse of resistance)
    def lead(string: str, length: float) -> dict[str, Any]:
        return {
            "id": f"run-{string}",
            "kind": "dc",
            "from": string,
            "to": "bus-bar",
            "area": 17.241,
            "length": length,
        }

    runs = [lead("string-1", 0.5), lead("string-2", 2.5)]
    site = shared(60.0, 40.0, runs=runs, bank={"resistance": 0.007})
    outcome = site.judged("string-share-load", "string-1", 60.0)
    assert judged_value(outcome) == pytest.approx(
        0.0, abs=1e-3
    )  # % of its share; 17.241 mm² are 1 mΩ/m to five digits


@pytest.mark.parametrize(
    ("charge", "minutes", "why"),
    [
        (90.0, 40.0, "20 to 80 %"),
        (60.0, 20.0, "30 min are wanted"),
    ],
)
def test_shares_are_not_judged_too_soon_or_too_full(charge: float, minutes: float, why: str) -> None:
    assert why in refusal(shared(56.0, 44.0, charge, minutes).judged("string-share-load", "string-1", 56.0))


def test_shares_of_a_small_current_tell_nothing() -> None:
    assert "from 40 A" in refusal(shared(20.0, 10.0).judged("string-share-load", "string-1", 20.0))


def test_shares_read_long_apart_are_read_again() -> None:
    site = shared(56.0, 44.0).read("string-share-load", "string-2", 44.0, ago=10.0)
    assert waited_for(site.judged("string-share-load", "string-1", 56.0)) == ["string-share-load@string-2"]


def test_flat_lithium_is_judged_near_full_only() -> None:
    site = Site(managed_plant()).read("state-of-charge", "bank", 60.0).read("steady-time", "bank", 40.0)
    assert not site.checklist.by_id.get("string-share-charge")
    site.read("string-share-full", "string-2", 44.0)
    assert "flat part of the curve" in refusal(site.judged("string-share-full", "string-1", 56.0))
    site.read("state-of-charge", "bank", 96.0)
    assert judged_value(site.judged("string-share-full", "string-1", 56.0)) == pytest.approx(12.0)


def units(*currents: float, load: float) -> Site:
    made = tuple(
        {"id": f"inverter-{n}", "profile": "inverter-48v-120-3600", "group": "house", "group_leg": "1"}
        for n in range(1, len(currents) + 1)
    )
    site = Site(plant(inverters=made)).read("ac-load", (), load)
    for number, current in enumerate(currents, start=1):
        site.read("inverter-shares", f"inverter-{number}", current)
    return site


def test_paralleled_units_share_by_the_mean() -> None:
    # (max − mean) ÷ mean: 6.122 % of 10.4, 9.8, 9.2 A; 11.392 % of 22.0, 17.5 A
    site = units(10.4, 9.8, 9.2, load=6000.0)
    outcome = site.judged("inverter-shares", "inverter-1", 10.4)
    assert judged_value(outcome) == pytest.approx(6.122, abs=1e-3)
    assert is_inside(outcome)
    outcome = units(22.0, 17.5, load=4000.0).judged("inverter-shares", "inverter-1", 22.0)
    assert judged_value(outcome) == pytest.approx(11.392, abs=1e-3)
    assert not is_inside(outcome)


def test_units_are_not_judged_under_half_load_or_asleep() -> None:
    assert "half load" in refusal(units(6.0, 5.0, load=1200.0).judged("inverter-shares", "inverter-1", 6.0))
    assert "asleep" in refusal(units(30.0, 0.2, load=4000.0).judged("inverter-shares", "inverter-1", 30.0))


# joints and heat


RUN = {
    "id": "run-1",
    "kind": "dc",
    "from": "bank",
    "to": "inverter-1",
    "area": 70.0,
    "length": 2.0,
    "insulation_temperature": 90.0,
    "terminal_temperature": 75.0,
}
ONE = {"id": "inverter-1", "profile": "inverter-48v-120-3600", "run": "run-1"}


def loaded_run(current: float) -> Site:
    return Site(plant(inverters=(ONE,), runs=[RUN])).read("run-drop.current", "run-1", current)


def test_a_joint_drops_at_most_half_as_much_again_as_a_good_one() -> None:
    # 100 A over 50 µΩ are 5.0 mV
    outcome = loaded_run(100.0).judged("load-run-drop.joint", "run-1", 5.0)
    assert edges(outcome) == pytest.approx((None, 7.5))


def test_like_joints_are_judged_against_the_lowest() -> None:
    site = loaded_run(100.0).read("load-run-drop.joint", "run-1", 3.0, 5.0)
    assert edges(site.judged("load-run-drop.joint", "run-1", 5.0, 1)) == pytest.approx((None, 4.5))


def test_a_small_current_tells_nothing_of_a_joint() -> None:
    assert "too little" in refusal(loaded_run(12.0).judged("load-run-drop.joint", "run-1", 0.6))


FULL = 3600.0 / (0.92 * 48.0)
"""DC current of the inverter at its rating, A."""


@pytest.mark.parametrize(
    ("rise", "share", "scaled", "good", "stopped"),
    [
        pytest.param(2.0, 1.0, 2.0, True, False, id="possible deficiency at most"),
        pytest.param(5.0, 1.0, 5.0, False, False, id="probable deficiency"),
        pytest.param(4.0, 0.5, 16.0, False, True, id="4 K at half load are 16 K at full"),
        pytest.param(18.0, 1.0, 18.0, False, True, id="18 K: major deficiency (ANSI/NETA MTS 100.18)"),
    ],
)
def test_a_warm_joint_is_scaled_to_full_load(
    rise: float, share: float, scaled: float, good: bool, stopped: bool
) -> None:
    outcome = loaded_run(FULL * share).judged("run-heat.rise", "run-1", rise)
    assert judged_value(outcome) == pytest.approx(scaled)
    assert is_inside(outcome) is good
    assert is_stopped(outcome, judged_value(outcome)) is stopped


def test_heat_under_two_fifths_of_the_load_tells_nothing() -> None:
    assert "under 40 %" in refusal(loaded_run(FULL * 0.39).judged("run-heat.rise", "run-1", 2.0))


def test_a_conductor_stays_under_its_terminals() -> None:
    outcome = loaded_run(FULL).judged("run-heat.hottest", "run-1", 60.0)
    assert edges(outcome) == (None, 75.0)
    assert is_stopped(outcome, 76.0)


def test_a_run_of_unknown_rating_is_not_judged() -> None:
    bare = {**RUN, "insulation_temperature": "unknown", "terminal_temperature": "unknown"}
    site = Site(plant(inverters=(ONE,), runs=[bare])).read("run-drop.current", "run-1", FULL)
    assert "rating of insulation" in refusal(site.judged("run-heat.hottest", "run-1", 60.0))
