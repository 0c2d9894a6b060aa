"""Generator sets: derating, load on each leg, least load, steps, starts, stop, no-start hours, fuel."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from commission.design.fuel import charge_time, check_fuel
from commission.design.generator_draw import charge_current, charge_power, derated, drawn_from
from commission.design.generator_load import check_generator_load
from commission.design.generator_settings import check_generator_settings
from commission.design.generator_steps import check_generator_steps
from commission.figure import Quantity
from commission.plant.plant import Plant
from tests.design.energy_plants import CONTROLLER, array, load, number, raised, remedies, scene_of, set_plant

LOAD, LEAST, UNEVEN = (
    "generator-load:generator-1",
    "generator-least-load:generator-1",
    "generator-imbalance:generator-1",
)
STEP, START = "generator-step:generator-1", "generator-start:generator-1+load-house"
QUIET, ALONE, BY_HAND = (
    "generator-quiet-hours:generator-1",
    "generator-without-starter:generator-1",
    "generator-by-hand:generator-1",
)
CHARGE, STORE = "fuel-for-a-charge:generator-1", "fuel-store:generator-1"
THREE = {"profile": "generator-diesel-three-230-20000"}
PETROL = {"profile": "generator-petrol-single-230-5000"}


# what it gives where it stands


@pytest.mark.parametrize(
    ("altitude", "air", "factor"),
    [
        (2500.0, 40.0, 0.91),
        (1000.0, 50.0, 0.94),
        (1000.0, 55.0, 0.91),
        (2000.0, 45.0, 0.9118),
        (800.0, 30.0, 1.0),
    ],
)
@pytest.mark.parametrize("told_at_the_set", [False, True])
def test_altitude_and_hot_air_derate(altitude, air, factor, told_at_the_set):
    """The maker's handbook prints these rows: 3 % for each 500 m over 1000 m and each 5 °C over 40 °C."""
    place = {"altitude": altitude, "hottest_ambient": 30.0 if told_at_the_set else air}
    made = set_plant({"ambient": air} if told_at_the_set else {}, place=place)
    given_here = derated(made, made.site.generators[0], "rated_apparent_power")
    assert number(given_here) == pytest.approx(10000.0 * factor, abs=0.5)


def test_a_shed_makes_the_sheet_take_less():
    """Air of 55 °C at the set leaves 0.91 of 10 kVA × 0.8 for charger and loads (own arithmetic)."""
    cool, hot = (
        set_plant({"load_while_charging": 6000.0}),
        set_plant({"load_while_charging": 6000.0, "ambient": 55.0}),
    )
    assert number(_drawn(hot)) == pytest.approx(7280.0 - 6000.0, abs=230 * 0.5)
    assert number(_drawn(cool)) == pytest.approx(8000.0 - 6000.0, abs=230 * 0.5)


def _drawn(made: Plant) -> Quantity:
    return drawn_from(scene_of(made), made.site.generators[0])[0].apparent


# what is drawn


def test_a_charger_draws_by_efficiency_and_power_factor():
    """V × I ÷ (efficiency × power factor), common practice: 57.6 V × 70 A ÷ (0.88 × 0.95) = 4823 VA."""
    sheet = {"charger_efficiency": 0.88, "charger_power_factor": 0.95}
    made = set_plant(inverter={"datasheet": {"inverter_efficiency": 0.9, "idle_power": 0.0} | sheet})
    scene = scene_of(made)
    one = drawn_from(scene, made.site.generators[0])[0]
    volts = number(one.apparent) * 0.88 * 0.95 / number(one.current)
    assert volts == pytest.approx(57.6, abs=1e-6)
    assert number(one.current) == pytest.approx(70.0)
    assert number(one.apparent) == pytest.approx(4823.0, abs=0.5)
    assert number(one.active) == pytest.approx(4823.0 * 0.95, abs=0.5)


def test_a_run_from_start_to_stop_takes_its_time():
    """Common practice, C × (stop − start) ÷ (I × efficiency): 400 × 0.35 ÷ (70 × 0.95) = 2.105 h."""
    made = set_plant()
    scene = scene_of(made)
    drawn = drawn_from(scene, made.site.generators[0])
    assert number(charge_time(scene, drawn)) / 3600 == pytest.approx(140.0 / 66.5, rel=1e-6)


# on each leg


def test_loads_on_one_phase_are_more_than_it_gives():
    """16 kW in three phases give 5333 W on one; the sheet spreads 3000 VA evenly (own arithmetic)."""
    made = set_plant(THREE | {"load_while_charging": 3000.0})
    found = raised(check_generator_load, made)[LOAD]
    assert found.kind == "correct"
    assert number(found.limit) == pytest.approx(16000.0 / 3.0)
    left = float(remedies(check_generator_load, made, LOAD)[0].split("at most ")[1].split(" VA")[0])
    assert left < 3000.0 - (number(found.value) - number(found.limit)) + 10.0
    spread = set_plant(THREE | {"load_while_charging": 3000.0}, loads=[load(leg="all")])
    assert LOAD not in raised(check_generator_load, spread)


def test_the_breaker_of_the_set_counts_too():
    """A breaker of 16 A at 230 V carries 3680 VA by IEC; a set of 10 kVA would give more."""
    small = {"datasheet": {"breaker": 16.0, "rated_apparent_power": 10000.0}, "load_while_charging": 1500.0}
    assert LOAD not in raised(check_generator_load, set_plant(small))  # the sheet holds the charger back
    loaded = set_plant(
        THREE | {"datasheet": {"breaker": 10.0}, "load_while_charging": 4000.0}, loads=[load(leg="1")]
    )
    found = raised(check_generator_load, loaded)[LOAD]
    assert "breaker" in found.text
    assert number(found.limit) == pytest.approx(2300.0)


def test_what_the_sheet_has_said_is_not_said_twice():
    made = set_plant({"load_while_charging": 12000.0})
    told = {one.check for one in scene_of(made).sheet.findings}
    assert "ac-source-taken-by-loads" in told
    assert not {LOAD, LEAST} & set(raised(check_generator_load, made))


def test_an_unknown_load_is_asked_for_by_the_sheet_alone():
    made = set_plant({"load_while_charging": "unknown"})
    assert any(one.kind == "not checked" for one in scene_of(made).sheet.findings)
    assert not raised(check_generator_load, made)
    assert not raised(check_generator_steps, made)


# at least


def test_thirty_percent_of_the_nameplate_is_the_least_of_a_diesel():
    """NFPA 110: 30 % of 10 kW; 40 A at 57.6 V ÷ 0.93 are 2477 W, 523 W more are wanted."""
    small = set_plant(capacity=200.0)
    scene = scene_of(small)
    drawn = drawn_from(scene, small.site.generators[0])
    assert number(charge_current(scene, drawn)) == pytest.approx(40.0)
    assert number(charge_power(scene, drawn)) == pytest.approx(40 * 57.6 / 0.93, abs=0.1)
    found = raised(check_generator_load, small)[LEAST]
    assert found.kind == "advise"
    assert number(found.limit) == pytest.approx(3000.0)
    words = remedies(check_generator_load, small, LEAST)
    assert words == (
        "at least 530 VA of load kept on while generator-1 charges",
        "a set of at most 8200 W",
        "a smaller set, or more charge current on this one",
    )
    kept = {"least_load_while_charging": 530.0}
    assert LEAST not in raised(check_generator_load, set_plant(kept, capacity=200.0))
    less = {"least_load_while_charging": 520.0}
    assert LEAST in raised(check_generator_load, set_plant(less, capacity=200.0))


def test_a_petrol_set_may_idle_and_a_diesel_must_tell_its_least():
    assert not raised(check_generator_load, set_plant(PETROL, capacity=200.0))
    silent = set_plant({"datasheet": {"least_load": "unknown"}}, capacity=200.0)
    assert raised(check_generator_load, silent)[LEAST].kind == "not checked"


# in one step


def test_half_of_the_set_in_one_step_as_class_g2_proves_it():
    """ISO 8528-5 class G2, as tenders quote it: first step 0 to 50 %; of 10 kW 5000 W."""
    assert STEP not in raised(check_generator_steps, set_plant({"load_while_charging": 5000.0}))
    over = set_plant({"load_while_charging": 5010.0})
    found = raised(check_generator_steps, over)[STEP]
    assert found.kind == "advise"
    words = remedies(check_generator_steps, over, STEP)
    assert words[0].startswith("at most 5000 VA of load at the transfer")
    assert words[1] == "a set whose maker states a step of 51%"


def test_what_the_maker_states_goes_first():
    stated = {"load_while_charging": 6000.0, "datasheet": {"step_max": 0.6}}
    assert STEP not in raised(check_generator_steps, set_plant(stated))
    less = {"load_while_charging": 4000.0, "datasheet": {"step_max": 0.3}}
    assert STEP in raised(check_generator_steps, set_plant(less))


def test_a_step_is_judged_where_the_set_stands():
    """0.91 of 10 kW at 2500 m: half of it are 4550 W (generator maker's handbook)."""
    high = {"altitude": 2500.0}
    assert STEP not in raised(check_generator_steps, set_plant({"load_while_charging": 4550.0}, place=high))
    assert STEP in raised(check_generator_steps, set_plant({"load_while_charging": 4560.0}, place=high))


def test_a_charger_without_a_ramp_comes_at_once():
    """4379 VA of charge and 1000 VA of load are more than half of 10 kW (own arithmetic)."""
    made = set_plant()
    assert STEP not in raised(check_generator_steps, made)
    settings_of = dict(made.equipment["inverter-1"].settings)
    del settings_of["charge_ramp_time"]
    bare = made.equipment["inverter-1"].model_copy(update={"settings": settings_of})
    without = made.model_copy(update={"equipment": made.equipment | {"inverter-1": bare}})
    assert number(raised(check_generator_steps, without)[STEP].value) == pytest.approx(0.538, abs=1e-3)


# by a start


def test_a_motor_may_start_with_what_the_set_has_left():
    """1100 W ÷ 0.8 run within 3000 VA: 1625 VA beside it leave 8375 VA of 10 kVA (own arithmetic)."""
    beside = {"load_while_charging": 3000.0}

    def started(power: float) -> Plant:
        return set_plant(beside, loads=[load(power=1100.0, power_factor=0.8, starting_power=power)])

    assert START not in raised(check_generator_steps, started(8375.0))
    found = raised(check_generator_steps, started(8380.0))[START]
    assert found.kind == "advise"
    assert remedies(check_generator_steps, started(9000.0), START)[0] == "a soft start of at most 8370 VA"


def test_what_is_kept_off_while_it_charges_does_not_start():
    made = set_plant(
        {"load_while_charging": 1000.0}, loads=[load(power=1100.0, power_factor=0.8, starting_power=20000.0)]
    )
    assert START not in raised(check_generator_steps, made)


# unevenly


def test_one_phase_alone_drives_negative_sequence_current():
    """Symmetrical components: x on one phase of three makes x ÷ 3; IEC 60034-1 allows 8 %, from memory."""
    made = set_plant(THREE | {"load_while_charging": 300.0}, capacity=200.0)
    found = raised(check_generator_load, made)[UNEVEN]
    drawn = number(_drawn(made)) + 300.0
    assert number(found.value) == pytest.approx(drawn / 20000.0, rel=1e-6)
    assert number(found.limit) == 0.08


def test_three_chargers_on_three_phases_are_even():
    units = {"group": "farm", "inputs": {"generator": "generator-1"}}
    made = set_plant(THREE | {"load_while_charging": 3000.0}, loads=[load(leg="all")])
    site = made.site
    three = tuple(
        site.inverter_chargers[0].model_copy(
            update=units | {"id": f"inverter-{leg}", "group_leg": leg, "group_role": "follower"}
        )
        for leg in ("1", "2", "3")
    )
    equipment = made.equipment | {one.id: made.equipment["inverter-1"] for one in three}
    even = made.model_copy(
        update={"site": site.model_copy(update={"inverter_chargers": three}), "equipment": equipment}
    )
    assert UNEVEN not in raised(check_generator_load, even)


# the stop


def test_a_set_that_gives_less_than_the_end_current_stops_at_once():
    """2 % of 400 Ah are 8 A; 6 A never rise over it (own arithmetic)."""
    ident = "generator-stops-at-once:inverter-1+generator-1"

    def charging(amperes: float) -> Plant:
        sheet = {"inverter_efficiency": 0.9, "idle_power": 0.0, "charger_current": amperes}
        return set_plant(inverter={"datasheet": sheet})

    found = raised(check_generator_settings, charging(6.0))[ident]
    assert found.kind == "correct"
    assert number(found.limit) == 8.0
    assert ident not in raised(check_generator_settings, charging(20.0))


def test_a_run_limit_that_ends_the_charge_is_told():
    """400 × 0.35 ÷ (20 × 0.95) are 7.4 h, a device that ends every run after 4 h stops before."""
    ident = "generator-stops-early:inverter-1+generator-1"
    sheet = {"inverter_efficiency": 0.9, "idle_power": 0.0, "charger_current": 20.0}
    limit = {"unit": "s", "low": 3600, "high": 14400, "step": 1800}
    short = set_plant(inverter={"datasheet": sheet | {"settings": {"generator_max_run_time": limit}}})
    found = raised(check_generator_settings, short)[ident]
    assert found.kind == "advise"
    assert number(found.value) / 3600 == pytest.approx(140.0 / 19.0, rel=1e-6)
    assert number(found.passes) == pytest.approx(140.0 / 0.95 / 4.0, rel=1e-6)
    assert ident not in raised(check_generator_settings, set_plant(inverter={"datasheet": sheet}))


# no-start hours


def test_no_start_hours_must_not_outlast_the_reserve():
    """AGM starts at 50 % and drops its loads at 20 %: 60 of 200 Ah at 11.57 A last 5.2 h (by hand)."""
    loads = [load(12000.0)]
    quiet = {"quiet_from": "21:00", "quiet_until": "07:00"}
    made = set_plant(quiet, loads=loads, capacity=200.0)
    found = raised(check_generator_settings, made)[QUIET]
    assert found.kind == "advise"
    assert number(found.value) == 36000.0
    assert number(found.limit) / 3600 == pytest.approx(60.0 / (12000.0 / 0.9 / 24.0 / 48.0), rel=1e-6)
    assert remedies(check_generator_settings, made, QUIET)[:2] == (
        "no-start hours that end at 02:00",
        "390 Ah in the string",
    )
    shorter = quiet | {"quiet_until": "02:00"}
    assert QUIET not in raised(check_generator_settings, set_plant(shorter, loads=loads, capacity=200.0))
    assert QUIET not in raised(check_generator_settings, set_plant(quiet, loads=loads, capacity=390.0))


# by hand


def test_no_start_hours_without_a_starter_are_told():
    by_hand = {"started_by": None, "quiet_from": "21:00", "quiet_until": "07:00"}
    made = set_plant(by_hand)
    assert raised(check_generator_settings, made)[ALONE].kind == "advise"
    assert remedies(check_generator_settings, made, ALONE) == ("started by inverter-1",)
    assert ALONE not in raised(check_generator_settings, set_plant({"started_by": None}))


def test_starts_by_hand_more_than_once_a_week_are_told():
    """Half of 19.2 kWh against 5000 − 500 × 3 × 0.95 Wh a day: 2.7 d between two starts (own arithmetic)."""
    controller = CONTROLLER | {"array": array(500.0)}
    loads = [load(5000.0, current="dc")]

    def made(hours: float) -> Plant:
        return set_plant(
            {"started_by": None}, loads=loads, controllers=[controller], expected={"sun_hours": hours}
        )

    found = raised(check_generator_settings, made(3.0))[BY_HAND]
    assert number(found.value) / 86400 == pytest.approx(9600.0 / 3575.0, rel=1e-6)
    # 9600 ÷ 7 = 1371 Wh a day may be missing: (5000 − 1371) ÷ 475 = 7.64 h
    assert BY_HAND not in raised(check_generator_settings, made(7.65))
    assert BY_HAND in raised(check_generator_settings, made(7.63))


# fuel


def test_a_store_that_does_not_last_for_one_charge():
    """Skarstein and Uhlen, from memory: 0.08145 × 10 + 0.246 × 4.335 = 1.881 L/h, for 2.105 h: 3.96 L."""
    found = raised(check_fuel, set_plant({"fuel_store": 3.9}))[CHARGE]
    assert found.kind == "advise"
    assert number(found.value) == pytest.approx(3.960, abs=0.005)
    assert remedies(check_fuel, set_plant({"fuel_store": 3.9}), CHARGE) == (
        "5 L of fuel kept at generator-1",
    )
    assert CHARGE not in raised(check_fuel, set_plant({"fuel_store": 4.0}))


def test_a_store_against_the_days_that_the_bank_was_promised():
    """20 L ÷ 1.881 L/h × 70 A × 48 V × 0.95 ÷ 5556 Wh a day = 6.11 d (own arithmetic)."""
    promise = {"autonomy": 6 * 86400.0}
    assert STORE not in raised(check_fuel, set_plant({"fuel_store": 20.0}, expected=promise))
    longer = {"autonomy": 7 * 86400.0}
    short = set_plant({"fuel_store": 20.0}, expected=longer)
    found = raised(check_fuel, short)[STORE]
    assert found.kind == "advise"
    assert number(found.value) / 86400 == pytest.approx(6.11, abs=0.01)
    assert remedies(check_fuel, short, STORE) == ("25 L of fuel kept at generator-1",)
    assert STORE not in raised(check_fuel, set_plant({"fuel_store": 20.0}))


def test_an_unknown_store_is_asked_for_where_days_were_promised():
    assert STORE not in raised(check_fuel, set_plant({"fuel_store": "unknown"}))
    made = set_plant({"fuel_store": "unknown"}, expected={"autonomy": 86400.0})
    gap = raised(check_fuel, made)[STORE]
    assert gap.kind == "not checked"
    assert "fuel store of generator-1" in gap.text


# properties


@settings(max_examples=15, deadline=None)
@given(beside=st.floats(0.0, 8000.0), less=st.floats(0.0, 1.0))
def test_less_load_never_adds_an_overload_or_a_step(beside, less):
    more = set_plant(THREE | {"load_while_charging": beside})
    fewer = set_plant(THREE | {"load_while_charging": beside * less})
    for check, ident in ((check_generator_load, LOAD), (check_generator_steps, STEP)):
        assert ident in raised(check, more) or ident not in raised(check, fewer)


@settings(max_examples=15, deadline=None)
@given(store=st.floats(0.0, 60.0), more=st.floats(1.0, 3.0), days=st.floats(0.5, 12.0))
def test_more_fuel_never_adds_a_finding(store, more, days):
    promise = {"autonomy": days * 86400.0}
    small = set_plant({"fuel_store": store}, expected=promise)
    large = set_plant({"fuel_store": store * more}, expected=promise)
    assert set(raised(check_fuel, large)) <= set(raised(check_fuel, small))


@settings(max_examples=15, deadline=None)
@given(rating=st.floats(6000.0, 20000.0), smaller=st.floats(0.5, 1.0))
def test_a_smaller_diesel_never_idles_where_a_larger_does_not(rating, smaller):
    def made(watts: float) -> Plant:
        sheet = {"rated_power": watts, "rated_apparent_power": watts, "breaker": 100.0}
        return set_plant({"datasheet": sheet, "load_while_charging": 0.0}, capacity=200.0)

    large, small = (
        raised(check_generator_load, made(rating)),
        raised(check_generator_load, made(rating * smaller)),
    )
    assert LEAST in large or LEAST not in small
