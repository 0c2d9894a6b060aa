"""AC-coupled PV: its bus, its legs, the window of the shift, other sources, and the bank behind it.

Sources: IEEE 1547-2018 (tables 4, 18, 23, 24), EN 50549-1:2019, AS/NZS 4777.2:2020 and IEC 61727 for the
responses; the sizing rules of the trade (PV within the inverters of its phases, within the bank) by common
practice.
"""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from commission.design.ac_coupled import check_ac_coupled
from commission.design.coupled_bank import check_coupled_bank
from commission.design.coupled_legs import check_coupled_legs
from commission.design.coupled_window import check_coupled_window
from commission.plant.plant import Plant
from tests.builders import plant
from tests.design.battery_plants import IEC, found, kinds, mended, number, one

UNIT: dict[str, Any] = {"id": "inv-1", "profile": "inverter-48v-230-5000", "run": "run-1"}
DROOP: dict[str, Any] = {"id": "pv-1", "profile": "ac-pv-230-5000-droop", "leg": "1"}
TRIPS: dict[str, Any] = {"id": "pv-1", "profile": "ac-pv-230-3000-trip-only", "leg": "1"}
AMERICAN: dict[str, Any] = {"id": "pv-1", "profile": "ac-pv-240-5000-droop", "leg": "both"}
LEG: dict[str, Any] = {"profile": "inverter-48v-120-3600", "group": "house"}
HOUSE = (LEG | {"id": "inv-1", "group_leg": "1"}, LEG | {"id": "inv-2", "group_leg": "2"})
RUN = {"id": "run-1", "kind": "dc", "from": "inv-1", "to": "bank", "area": 70.0, "length": 3.0}
SET = {"id": "gen-1", "profile": "generator-diesel-single-230-10000"}


def coupled(*pvs: dict[str, Any], **more: Any) -> Plant:
    """Return one inverter of 5 kVA on 230 V with PV inverters on its output."""
    fields: dict[str, Any] = {
        "capacity": 450.0,
        "inverters": (UNIT,),
        "runs": [RUN],
        "place": IEC,
        "ac_pv_inverters": list(pvs or (DROOP,)),
        "expected": {"load": 2000.0, "least_load": 400.0},
    }
    return plant(**(fields | more))


def answers(pv: dict[str, Any], **response: Any) -> dict[str, Any]:
    """Return a PV inverter with values of its own response."""
    return pv | {"datasheet": pv.get("datasheet", {}) | {"response": response}}


def rated(pv: dict[str, Any], watts: float) -> dict[str, Any]:
    """Return a PV inverter of another rating."""
    return pv | {"datasheet": pv.get("datasheet", {}) | {"rated_power": watts}}


# legs: PV within the inverters of its phase, one inverter fewer told (common practice)


@pytest.mark.parametrize(("watts", "kind"), [(5000.0, None), (5010.0, "correct")])
def test_pv_within_the_inverter_of_its_leg(watts: float, kind: str | None) -> None:
    raised = kinds(check_coupled_legs, coupled(rated(DROOP, watts)))
    assert raised == ({} if kind is None else {"pv-over-inverters:pv-1": kind})


def test_what_is_over_is_held_to_what_passes() -> None:
    made = coupled(rated(DROOP, 8000.0))
    remedy = found(check_coupled_legs, made)["pv-over-inverters:pv-1"].remedies[0]
    assert [change.value for change in remedy.change] == [5000.0]
    assert mended(check_coupled_legs, made, "pv-over-inverters:pv-1")


def test_a_small_array_counts_with_its_brightest_minute() -> None:
    # 4500 W × 1.1 = 4950 W, under 5000 VA; 4600 W × 1.1 = 5060 W
    for watts, over in ((4500.0, False), (4600.0, True)):
        made = coupled(rated(DROOP, 8000.0) | {"array_power": watts})
        assert (one(check_coupled_legs, made, "pv-over-inverters:pv-1") is not None) is over


def test_one_of_two_inverters_out_is_told() -> None:
    # 2 × 5000 VA take 7000 W, one of them does not
    pair = (UNIT | {"group": "farm"}, UNIT | {"id": "inv-2", "group": "farm"})
    made = coupled(rated(DROOP, 7000.0), inverters=pair)
    assert kinds(check_coupled_legs, made) == {"pv-over-one-fewer:pv-1": "advise"}
    assert not found(check_coupled_legs, coupled(rated(DROOP, 5000.0), inverters=pair))
    assert mended(check_coupled_legs, made, "pv-over-one-fewer:pv-1")


def test_a_unit_across_both_legs_loads_them_alike() -> None:
    # 7200 W across the legs are 3600 W on each of two inverters of 3600 VA
    place = {"rules": "north-america", "units": "us"}
    for watts, over in ((7200.0, False), (7300.0, True)):
        made = coupled(rated(AMERICAN, watts), inverters=HOUSE, place=place)
        assert (one(check_coupled_legs, made, "pv-over-inverters:pv-1") is not None) is over


def test_a_three_phase_unit_loads_every_phase_with_a_third() -> None:
    phases = tuple(UNIT | {"id": f"inv-{leg}", "group": "farm", "group_leg": str(leg)} for leg in (1, 2, 3))
    for watts, over in ((15000.0, False), (15300.0, True)):
        made = coupled(rated(DROOP, watts) | {"leg": "all"}, inverters=phases)
        assert (one(check_coupled_legs, made, "pv-over-inverters:pv-1") is not None) is over


def test_pv_on_a_leg_that_nothing_makes_is_found() -> None:
    made = coupled(DROOP | {"leg": "2"})
    raised = one(check_coupled_legs, made, "pv-over-inverters:pv-1")
    assert raised is not None
    assert "no inverter makes that leg" in raised.text


def test_an_unknown_leg_is_asked_for() -> None:
    assert kinds(check_coupled_legs, coupled(DROOP | {"leg": "unknown"})) == {
        "pv-over-inverters:pv-1": "not checked"
    }


# voltage, frequency, place


def test_pv_of_another_voltage_than_its_bus() -> None:
    """EN 50160: ± 10 %. 240 V fits 230 V; 240 V on one leg of 120 V never connects; 120 V on 230 V burns."""
    assert (
        one(check_ac_coupled, coupled(DROOP | {"datasheet": {"ac_voltage": 240.0}}), "pv-voltage:pv-1")
        is None
    )
    place = {"rules": "north-america", "units": "us"}
    one_leg = (LEG | {"id": "inv-1", "group_leg": "1"},)
    never = one(
        check_ac_coupled, coupled(AMERICAN | {"leg": "1"}, inverters=one_leg, place=place), "pv-voltage:pv-1"
    )
    assert never is not None
    assert (never.kind, number(never.value)) == ("correct", 120.0)
    burns = one(check_ac_coupled, coupled(DROOP | {"datasheet": {"ac_voltage": 120.0}}), "pv-voltage:pv-1")
    assert burns is not None
    assert burns.kind == "stop"


def test_pv_across_the_legs_of_a_split_phase_fits() -> None:
    made = coupled(AMERICAN, inverters=HOUSE, place={"rules": "north-america", "units": "us"})
    assert not found(check_ac_coupled, made).keys() - {"no-start-from-empty:pv-1"}


def test_a_three_phase_unit_may_sit_between_phases_or_to_neutral() -> None:
    for volts, fits in ((230.0, True), (400.0, True), (277.0, False)):
        made = coupled(DROOP | {"leg": "all", "datasheet": {"ac_voltage": volts}})
        assert (one(check_ac_coupled, made, "pv-voltage:pv-1") is None) is fits


def test_pv_of_another_frequency_is_told_once() -> None:
    sixty = answers(DROOP, return_low=59.5, return_high=60.1) | {}
    sixty["datasheet"] = sixty["datasheet"] | {"ac_frequency": 60.0}
    assert one(check_ac_coupled, coupled(sixty), "pv-frequency:pv-1") is None  # the return window says it
    wide = answers(DROOP, return_low=45.0, return_high=65.0)
    wide["datasheet"] = wide["datasheet"] | {"ac_frequency": 60.0}
    assert one(check_ac_coupled, coupled(wide), "pv-frequency:pv-1") is not None


def test_a_frequency_of_pv_that_nobody_knows_is_asked_for() -> None:
    unknown = answers(DROOP, return_low=45.0, return_high=65.0)
    unknown["datasheet"] = unknown["datasheet"] | {"ac_frequency": "unknown"}
    told = one(check_ac_coupled, coupled(unknown), "pv-frequency:pv-1")
    assert told is not None
    assert told.kind == "not checked"
    assert [getattr(gap, "key", "") for gap in told.missing] == [
        "ac_pv_inverters[pv-1].datasheet.ac_frequency"
    ]


def test_a_leg_that_its_class_cannot_have() -> None:
    place = {"rules": "north-america", "units": "us"}
    made = coupled(AMERICAN | {"leg": "1"}, inverters=HOUSE, place=place)
    assert mended(check_ac_coupled, made, "pv-leg:pv-1")
    single = coupled(DROOP | {"leg": "both"})
    assert [remedy.change[0].value for remedy in found(check_ac_coupled, single)["pv-leg:pv-1"].remedies] == [
        "1",
        "2",
    ]


# the window on a full bank


def window(pv: dict[str, Any], least: float, **more: Any) -> dict[str, str]:
    """Return what the window's check finds with a least load."""
    return kinds(check_coupled_window, coupled(pv, expected={"least_load": least}, **more))


def test_a_load_that_the_line_holds_over_its_trip_is_told() -> None:
    # EN 50549-1 from 50.2 Hz, 5 %: 1.5 of 5 kW at 51.95 Hz, over the trip at 51.5 Hz (VDE-AR-N 4105)
    raised = one(check_coupled_window, coupled(expected={"least_load": 1500.0}), "pv-comes-and-goes:pv-1")
    assert raised is not None
    assert number(raised.value) == pytest.approx(51.95, abs=0.005)
    assert number(raised.limit) == 51.5
    # 1 − 1.3 ÷ 2.5 = 48 % of 5 kW can be held
    assert "2400 W of load" in raised.text
    assert "pv-comes-and-goes:pv-1" in window(DROOP, 2390.0)
    assert window(DROOP, 2410.0) == {}


def test_the_line_of_australia_holds_the_same_load() -> None:
    # AS/NZS 4777.2: 1.5 of 5 kW at 51.475 Hz, trip at 52.0 Hz
    line = answers(DROOP, start=50.25, zero=52.0, slow_trip=52.0, fast_trip=52.0)
    assert window(line, 1500.0) == {}
    assert window(line, 10.0) == {}


def test_the_default_of_ieee_1547_comes_and_goes_and_the_steepest_holds() -> None:
    # 62.136 Hz for 1.5 of 5 kW, over OF1 at 61.2 Hz; deadband 0.017 Hz and 2 %: 1.4 % still held at 61.2 Hz
    place = {"rules": "north-america", "units": "us"}
    made = coupled(AMERICAN, inverters=HOUSE, place=place, expected={"least_load": 1500.0})
    raised = one(check_coupled_window, made, "pv-comes-and-goes:pv-1")
    assert raised is not None
    assert number(raised.value) == pytest.approx(62.136, abs=0.005)
    steep = answers(AMERICAN, start=60.017, zero=61.217)
    assert window(steep, 75.0, inverters=HOUSE, place=place) == {}
    assert "pv-comes-and-goes:pv-1" in window(steep, 65.0, inverters=HOUSE, place=place)


def test_a_steeper_line_is_offered_where_it_can_be_set() -> None:
    # 1.5 of 5 kW at 51.4 Hz: ends at 50.2 + 1.2 ÷ 0.7 = 51.914 Hz, 3.4 % droop; 400 W would want 2.6 %
    made = coupled(expected={"least_load": 1500.0})
    remedy = found(check_coupled_window, made)["pv-comes-and-goes:pv-1"].remedies[0]
    assert remedy.change[0].value == pytest.approx(51.91)
    none = coupled(expected={"least_load": 0.0}, ac_pv_inverters=[answers(DROOP, slow_trip=51.0)])
    assert not found(check_coupled_window, none)["pv-comes-and-goes:pv-1"].remedies


def test_pv_that_only_trips_is_judged_by_how_often() -> None:
    # IEC 61727: returns after 20 s to 5 min; three trips in 10 min at most (common practice)
    assert window(TRIPS, 400.0) == {}
    assert window(answers(TRIPS, return_delay=200.0), 0.0) == {}
    quick = answers(TRIPS, return_delay=20.0)
    assert window(quick, 400.0) == {"pv-trips-often:pv-1": "correct"}
    made = coupled(quick)
    assert found(check_coupled_window, made)["pv-trips-often:pv-1"].remedies[0].change[0].value == 200.0


def test_a_ramp_spreads_the_trips() -> None:
    # EN 50549-1 4.10: 60 s, then a tenth a minute; 500 W of 5 kW trip again after 60 + 60 = 120 s
    made = coupled(expected={"least_load": 500.0})
    raised = one(check_coupled_window, made, "pv-trips-often:pv-1")
    assert raised is not None
    assert number(raised.value) == pytest.approx(120.0)
    assert found(check_coupled_window, made)["pv-trips-often:pv-1"].remedies[0].change[0].value == 140.0
    # a quarter of it after 60 + 150 s
    assert list(window(DROOP, 1250.0)) == ["pv-comes-and-goes:pv-1"]


def test_a_load_that_takes_all_is_never_throttled() -> None:
    assert window(answers(TRIPS, return_delay=20.0), 3000.0) == {}


def test_what_the_window_lacks_is_asked_for() -> None:
    assert kinds(check_coupled_window, coupled(expected={})) == {"held-share:pv-1": "not checked"}
    loads = [{"id": "mill", "current": "ac"}, {"id": "lamp", "current": "ac", "frequency_max": 52.0}]
    raised = kinds(check_coupled_window, coupled(TRIPS, loads=loads))
    assert raised == {"frequency-of-loads:mill": "not checked"}
    assert window(answers(DROOP, slow_trip="unknown"), 1500.0) == {"pv-comes-and-goes:pv-1": "not checked"}


def test_without_a_shift_the_settings_speak() -> None:
    plain = UNIT | {"profile": "inverter-48v-230-3000-plain"}
    assert not found(check_coupled_window, coupled(inverters=(plain,)))


# other sources


def fed(**more: Any) -> Plant:
    """Return the inverter with a generator on its input."""
    return coupled(inverters=(UNIT | {"inputs": {"generator": "gen-1"}},), generators=[SET], **more)


def test_pv_that_nothing_parts_from_a_generator() -> None:
    # islanded PV takes a set's frequency for a grid's, and a set cannot take power back (common practice)
    ident = "pv-beside-generator:gen-1+pv-1"
    assert kinds(check_ac_coupled, fed()) == {ident: "stop"}
    assert mended(check_ac_coupled, fed(), ident)
    least = fed(expected={"least_load": 20000.0})  # more than PV gives: nothing flows back
    assert kinds(check_ac_coupled, least) == {ident: "correct"}
    lock = {"id": "lock", "one_of": ["gen-1", "pv-1"], "by": "contactor"}
    assert not found(check_ac_coupled, fed(interlocks=[lock]))


def test_only_the_pv_that_is_not_parted_is_named() -> None:
    lock = {"id": "lock", "one_of": ["gen-1", "pv-1"], "by": "contactor"}
    pair = [TRIPS, TRIPS | {"id": "pv-2"}]
    made = fed(ac_pv_inverters=pair, interlocks=[lock])
    assert list(kinds(check_ac_coupled, made)) == ["pv-beside-generator:gen-1+pv-2"]


def test_a_set_that_feeds_no_inverter_is_not_on_the_bus() -> None:
    assert not any("generator" in ident for ident in found(check_ac_coupled, coupled(generators=[SET])))


def test_a_response_of_its_own_beside_the_public_supply_is_a_question_for_the_network_operator() -> None:
    grid = {"id": "grid", "ac_voltage": 230.0, "ac_frequency": 50.0, "connection": "single"}
    with_grid = {"inverters": (UNIT | {"inputs": {"utility": "grid"}},), "utility": grid}
    assert not found(check_ac_coupled, coupled(DROOP, **with_grid))
    made = coupled(answers(DROOP, fast_trip=52.0), **with_grid)
    raised = one(check_ac_coupled, made, "pv-beside-utility:pv-1+grid")
    assert raised is not None
    assert raised.kind == "advise"
    assert "fast trip 52 Hz, there 51.5 Hz" in raised.text
    lock = {"id": "lock", "one_of": ["grid", "pv-1"], "by": "contactor"}
    assert not found(check_ac_coupled, coupled(TRIPS, interlocks=[lock], **with_grid))
    assert "pv-beside-utility:pv-1+grid" in found(check_ac_coupled, coupled(TRIPS, **with_grid))


def test_pv_that_is_only_ac_coupled_cannot_start_an_empty_plant() -> None:
    # no AC bus, no AC-coupled PV (common practice)
    assert kinds(check_ac_coupled, coupled()) == {"no-start-from-empty:pv-1": "correct"}
    array = {"series": 3, "strings": [{"id": "s-1"}]}
    sun = {"id": "sun-1", "profile": "controller-48v-100-buck-250", "array": array}
    assert not found(check_ac_coupled, coupled(controllers=(sun,)))


# the bank behind it


def test_all_pv_on_a_full_bank_lifts_it_by_its_resistance() -> None:
    """56.4 V + 80 A × 12 mΩ = 57.36 V (Ohm); 4800 W at 94 % are 80 A; a maximum of 57.3 V is passed."""
    battery = {
        "absorption_voltage": {"value": 2.35, "low": 2.3},
        "temperature_slope": {"value": 0.0, "low": None, "high": None},
    }
    unit = UNIT | {"datasheet": {"charger_efficiency": 0.94, "senses_voltage": "remote"}}
    for maximum, over in ((66.0, False), (57.3, True), (57.4, False)):
        made = coupled(
            rated(DROOP, 4800.0),
            inverters=(unit | {"datasheet": unit["datasheet"] | {"dc_voltage_max": maximum}},),
            bank={"resistance": 0.012},
            battery=battery,
        )
        raised = one(check_coupled_bank, made, "overshoot-over-devices:pv-1")
        assert (raised is not None) is over, maximum
        if raised is not None:
            assert number(raised.value) == pytest.approx(57.36, abs=0.1)
            assert mended(check_coupled_bank, made, "overshoot-over-devices:pv-1")


def packs(*pvs: dict[str, Any], **more: Any) -> Plant:
    """Return 16 iron phosphate cells with a management, cold by 5 K more than they may be charged."""
    management = {
        "data_link": True, "cut_off_high": 3.65, "charge_permit_contact": False,
        "charge_low_temperature": 0.0, "charge_high_temperature": 45.0,
    } | more.pop("management", {})  # fmt: skip
    fields: dict[str, Any] = {
        "chemistry": "lfp",
        "cells_per_block": 16,
        "blocks": 1,
        "bank": {"management": management, "resistance": 0.003},
        "place": IEC | {"coldest_battery": -5.0},
    }
    return coupled(*pvs, **(fields | more))


def test_a_lithium_bank_that_pv_would_open() -> None:
    # 8 kW at full charge through 30 mΩ: over 16 × 3.65 = 58.4 V
    made = packs(rated(DROOP, 8000.0), bank={"management": {"cut_off_high": 3.65}, "resistance": 0.03})
    raised = one(check_coupled_bank, made, "overshoot-over-cut-off:pv-1")
    assert raised is not None
    assert number(raised.limit) == pytest.approx(58.4)
    assert number(raised.value) > 58.4
    assert mended(check_coupled_bank, made, "overshoot-over-cut-off:pv-1")
    assert one(check_coupled_bank, packs(rated(DROOP, 8000.0)), "overshoot-over-cut-off:pv-1") is None


def test_pv_on_a_bank_that_may_not_be_charged() -> None:
    # the shift goes by voltage; a bank that is blocked half charged has not got it
    ident = "pv-while-blocked:pv-1"
    deaf = (UNIT | {"on_battery_link": False},)
    assert kinds(check_coupled_bank, packs(inverters=deaf)) == {ident: "correct"}
    assert mended(check_coupled_bank, packs(inverters=deaf), ident)
    wired = packs(inverters=deaf, management={"charge_permit_contact": True})
    assert kinds(check_coupled_bank, wired) == {ident: "advise"}
    warm = packs(inverters=deaf, place=IEC | {"coldest_battery": 1.0})
    assert not found(check_coupled_bank, warm)


def test_pv_that_only_trips_leaves_a_blocked_bank_to_its_loads() -> None:
    heard = (UNIT | {"on_battery_link": True},)
    assert not found(check_coupled_bank, packs(inverters=heard))
    assert kinds(check_coupled_bank, packs(TRIPS, inverters=heard)) == {"pv-off-while-blocked:pv-1": "advise"}


def test_what_the_overshoot_lacks_is_asked_for() -> None:
    raised = kinds(check_coupled_bank, coupled(runs=[RUN | {"length": "unknown"}]))
    assert raised == {"overshoot-over-devices:pv-1": "not checked"}


def test_a_plant_without_ac_coupled_pv_is_left_alone() -> None:
    bare = plant(inverters=(UNIT,), runs=[RUN])
    for check in (check_ac_coupled, check_coupled_legs, check_coupled_window, check_coupled_bank):
        assert not found(check, bare)


# safer never adds


@settings(max_examples=12, deadline=None)
@given(st.floats(200.0, 20000.0), st.floats(200.0, 20000.0))
def test_fewer_ac_coupled_watts_never_add_a_grave_finding(first: float, second: float) -> None:
    few, many = sorted((first, second))
    for check in (check_ac_coupled, check_coupled_legs, check_coupled_window, check_coupled_bank):
        less, more = (
            {ident for ident, kind in kinds(check, coupled(rated(DROOP, watts))).items() if kind != "advise"}
            for watts in (few, many)
        )
        assert less <= more


@settings(max_examples=12, deadline=None)
@given(st.floats(0.0, 6000.0), st.floats(0.0, 6000.0))
def test_more_load_that_always_runs_never_adds_a_finding(first: float, second: float) -> None:
    small, large = sorted((first, second))
    assert set(window(DROOP, large)) <= set(window(DROOP, small))
