"""Energy of the design month: what is taken, what the sun gives, how long the bank lasts."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from commission.design.autonomy import autonomy, check_autonomy, cold_share, depth_of_day
from commission.design.balance import from_sun, taken
from commission.design.check import checked_sheet
from commission.design.energy import check_energy
from commission.figure import Unknown
from commission.plant.change import changed
from commission.plant.plant import Plant
from tests.design.energy_plants import (
    BARE,
    CONTROLLER,
    array,
    energy_plant,
    load,
    number,
    raised,
    remedies,
    set_plant,
)

ALONE, DEPTH, RATIO = "autonomy:bank", "daily-depth:bank", "array-to-load:site"
SHARE, UNTOLD, ASKED = "generator-share:generator-1", "energy-untold:site", "daily-energy:site"


def ratio_plant(power: float, **expected: Any) -> Plant:
    """Return 5 kWh a day of DC load on an array in five hours of sun, nothing lost but in the bank."""
    loads = [load(5000.0, current="dc")]
    controller = CONTROLLER | {"array": array(power)}
    told = {"autonomy": 3600.0, "sun_hours": 5.0} | expected
    return energy_plant(loads=loads, controllers=[controller], expected=told)


# what is taken


def test_the_load_of_a_day_holds_losses_and_what_idles():
    """5000 Wh ÷ 0.9 + 240 Wh dc + 24 h × (20 W + 5 W), own arithmetic: 6395.6 Wh."""
    made = energy_plant(
        loads=[load(), load(240.0, id="load-lamp", current="dc")],
        inverter={"datasheet": {"inverter_efficiency": 0.9, "idle_power": 20.0}},
        bank={"standing_draw": 5.0},
    )
    assert number(taken(made)) == pytest.approx(6395.6, abs=0.1)


def test_a_load_that_never_stops_needs_no_daily_energy():
    """600 W day and night are 14.4 kWh, own arithmetic."""
    made = energy_plant(loads=[load("unknown", current="dc", power=600.0, continuous=True)])
    assert number(taken(made)) == pytest.approx(14400.0)


def test_an_untold_daily_energy_is_asked_for_once_and_only_where_something_was_promised():
    loads = [load("unknown")]
    assert ASKED not in raised(check_energy, energy_plant(loads=loads))
    promised = energy_plant(loads=loads, expected={"autonomy": 86400.0})
    gap = raised(check_energy, promised)[ASKED]
    assert gap.kind == "not checked"
    assert "daily energy of load-house" in gap.text
    assert not raised(check_autonomy, promised)


def test_what_was_not_promised_is_told_and_not_asked():
    found = raised(check_energy, energy_plant(controllers=[CONTROLLER | {"array": array(1000.0)}]))
    assert set(found) == {UNTOLD}
    assert found[UNTOLD].kind == "advise"
    told = {"autonomy": 3600.0, "sun_hours": 9.0}
    assert not raised(check_energy, ratio_plant(5000.0, **told))


# autonomy


def test_three_days_of_5_kwh_need_482_ah():
    """IEEE 1013 path, from memory: 5000 ÷ (0.9 × 48) × 3 ÷ (0.8 × 0.9) = 482.3 Ah."""
    promise = {"autonomy": 3 * 86400.0}
    enough = energy_plant(capacity=482.4, expected=promise, bank={"cold_capacity": 0.9})
    assert number(autonomy(enough)) == pytest.approx(259200.0, rel=5e-4)
    assert ALONE not in raised(check_autonomy, enough)
    short = energy_plant(capacity=482.2, expected=promise, bank={"cold_capacity": 0.9})
    found = raised(check_autonomy, short)[ALONE]
    assert found.kind == "advise"
    assert number(found.limit) == 259200.0
    assert remedies(check_autonomy, short, ALONE)[0] == "490 Ah in the string"


@pytest.mark.parametrize(
    ("temperature", "share"),
    [(25.0, 1.0), (35.0, 1.0), (10.0, 1 / 1.19), (4.4444, 1 / 1.30), (0.0, 1 / 1.398)],
)
def test_lead_in_the_cold_gives_what_ieee_485_leaves(temperature, share):
    """IEEE 485, table 1; 0 °C (32 °F) on a straight line between 1.43 (30 °F) and 1.35 (35 °F): 1.398."""
    made = energy_plant(place={"coldest_battery": temperature})
    assert number(cold_share(made)) == pytest.approx(share, abs=1e-4)


def test_below_the_table_the_maker_is_asked():
    made = energy_plant(place={"coldest_battery": -10.0}, expected={"autonomy": 3600.0})
    gap = raised(check_autonomy, made)[ALONE]
    assert gap.kind == "not checked"
    assert "cold capacity of bank" in gap.text
    told = energy_plant(
        place={"coldest_battery": -10.0}, expected={"autonomy": 3600.0}, bank={"cold_capacity": 0.55}
    )
    assert number(cold_share(told)) == 0.55
    assert not raised(check_autonomy, told)


def test_lithium_and_nickel_go_by_their_own_rows():
    """Data sheets in general, from memory: lithium 0.85 and nickel 0.85 at 0 °C, nickel 0.70 at −20 °C."""
    cold = {"coldest_battery": 0.0}
    assert number(cold_share(energy_plant(chemistry="lfp", place=cold))) == pytest.approx(0.85)
    colder = {"coldest_battery": -20.0}
    assert number(cold_share(energy_plant(chemistry="nickel-cadmium", place=colder))) == pytest.approx(0.70)
    coldest = {"coldest_battery": -35.0}
    assert isinstance(cold_share(energy_plant(chemistry="lfp", place=coldest)), Unknown)


def test_a_load_over_the_rated_current_costs_by_the_exponent_and_a_smaller_one_earns_nothing():
    """By hand: at twice the 20 h current 0.8 × 400 Ah last 8 h ÷ 2^0.1 = 7.464 h; at half of it 32 h."""
    heavy = energy_plant(loads=[load(46080.0, current="dc")])  # 40 A of 20 A
    assert number(autonomy(heavy)) / 3600 == pytest.approx(8.0 / 2**0.1, rel=1e-6)
    light = energy_plant(loads=[load(11520.0, current="dc")])
    assert number(autonomy(light)) / 3600 == pytest.approx(32.0)


def test_a_promise_that_holds_is_offered():
    made = energy_plant(expected={"autonomy": 7 * 86400.0})
    words = remedies(check_autonomy, made, ALONE)
    hours = number(autonomy(made)) // 3600
    assert words[-1] == f"{hours:.0f} h promised instead"


# the depth of an ordinary day


def test_half_of_the_bank_in_a_day_is_the_most_for_agm():
    """Usual depth 0.5 of AGM (IEEE 1013): of 400 Ah at 48 V 9600 Wh a day."""
    fine = energy_plant(loads=[load(9600.0, current="dc")])
    assert number(depth_of_day(fine)) == pytest.approx(0.5)
    assert DEPTH not in raised(check_autonomy, fine)
    deep = energy_plant(loads=[load(9610.0, current="dc")])
    assert raised(check_autonomy, deep)[DEPTH].kind == "advise"
    assert remedies(check_autonomy, deep, DEPTH)[0] == "410 Ah in the string"


def test_what_runs_day_and_night_is_fed_past_the_bank_while_the_sun_shines():
    """19.2 kWh × (24 − 6) ÷ 24 of 19.2 kWh, own arithmetic: 0.75."""
    loads = [load(19200.0, current="dc", continuous=True)]
    made = energy_plant(
        loads=loads, controllers=[CONTROLLER | {"array": array(1000.0)}], expected={"sun_hours": 6.0}
    )
    assert number(depth_of_day(made)) == pytest.approx(0.75)
    assert number(depth_of_day(energy_plant(loads=loads))) == pytest.approx(1.0)


# the sun


def test_the_sun_gives_power_times_hours_less_the_losses():
    """1000 W × 5 h × 1.0 × 0.95 of an AGM bank, own arithmetic."""
    assert number(from_sun(ratio_plant(1000.0))) == pytest.approx(4750.0)


def test_a_controller_takes_no_more_than_its_output():
    """60 A × 48 V = 2880 W whatever the array, own arithmetic."""
    assert number(from_sun(ratio_plant(9000.0))) == pytest.approx(2880.0 * 5 * 0.95)


def test_a_switched_controller_draws_its_array_down_to_the_bank():
    """10 A at 12 V of a module of 180 W: 120 W × 0.98 × 0.95 × 5 h, own arithmetic."""
    made = energy_plant(
        controllers=[
            {"id": "controller-1", "profile": "controller-12-24v-30-switched", "array": array(180.0)}
        ],
        bank={"blocks_in_series": 1},
        expected={"sun_hours": 5.0},
    )
    assert number(from_sun(made)) == pytest.approx(120.0 * 0.98 * 0.95 * 5.0)


def test_ac_coupled_pv_comes_through_the_charger_and_not_over_its_rating():
    """3000 W of an array of 3300 W × 0.93 × 0.95 × 2 h, own arithmetic."""
    pv = {"id": "ac-pv-1", "profile": "ac-pv-230-3000-trip-only", "leg": "1", "array_power": 3300.0}
    made = energy_plant(ac_pv_inverters=[pv], expected={"sun_hours": 2.0})
    assert number(from_sun(made)) == pytest.approx(3000.0 * 0.93 * 0.95 * 2.0)


def test_ordinary_loads_want_a_tenth_more_than_they_take():
    """IEEE 1562, from memory: 1.1 × 5000 Wh ÷ (5 h × 0.95) = 1157.9 W."""
    assert RATIO not in raised(check_energy, ratio_plant(1157.9))
    found = raised(check_energy, ratio_plant(1157.8))[RATIO]
    assert found.kind == "advise"
    assert number(found.limit) == 1.1
    words = remedies(check_energy, ratio_plant(1157.8), RATIO)
    assert words[0] == "1158 W of PV more: 1 string more of like modules on controller-1"
    assert words[1] == "at most 4990 Wh a day at load-house"


def test_critical_loads_want_three_tenths_more():
    """IEEE 1562, from memory: 1.3 × 5000 Wh ÷ (5 h × 0.95) = 1368.4 W."""
    assert RATIO not in raised(check_energy, ratio_plant(1368.5, critical=True))
    assert RATIO in raised(check_energy, ratio_plant(1368.3, critical=True))


def test_a_generator_or_a_public_supply_takes_the_ratio_away():
    told = {"autonomy": 3600.0, "sun_hours": 1.0}
    controller = CONTROLLER | {"array": array(500.0)}
    alone = energy_plant(controllers=[controller], expected=told)
    assert RATIO in raised(check_energy, alone)
    assert RATIO not in raised(check_energy, set_plant(controllers=[controller], expected=told))


def test_the_generator_gives_what_the_sun_lacks():
    """1000 W × 3 h × 0.95 = 2850 Wh of 5000 Wh: 43 % are left to the set, own arithmetic."""
    controller = CONTROLLER | {"array": array(1000.0)}
    told = {"autonomy": 3600.0, "sun_hours": 3.0, "generator_share": 0.43}
    loads = [load(5000.0, current="dc")]
    assert SHARE not in raised(check_energy, set_plant(loads=loads, controllers=[controller], expected=told))
    more = set_plant(loads=loads, controllers=[controller], expected=told | {"generator_share": 0.42})
    found = raised(check_energy, more)[SHARE]
    assert found.kind == "advise"
    assert number(found.value) == pytest.approx(0.43)
    words = remedies(check_energy, more, SHARE)
    assert "1000 W of PV more" in words[0]
    assert words[-1] == "43% promised instead"


def test_a_promised_share_needs_the_sun_hours():
    controller = CONTROLLER | {"array": array(1000.0)}
    made = set_plant(controllers=[controller], expected={"generator_share": 0.3})
    gap = raised(check_energy, made)[SHARE]
    assert gap.kind == "not checked"
    assert "sun hours" in gap.text


# what is tried


def test_the_remedy_that_is_offered_mends():
    made = energy_plant(capacity=300.0, expected={"autonomy": 3 * 86400.0})
    finding = next(one for one in checked_sheet(made).findings if one.id == ALONE)
    assert finding.change
    after = changed(made, finding.change)
    assert ALONE not in raised(check_autonomy, after)


# properties

ENERGIES = st.floats(100.0, 30000.0)


@settings(max_examples=40, deadline=None)
@given(capacity=st.floats(50.0, 2000.0), more=st.floats(1.0, 3.0), energy=ENERGIES)
def test_a_larger_bank_never_adds_a_finding(capacity, more, energy):
    told = {"autonomy": 86400.0}
    small = energy_plant(capacity=capacity, loads=[load(energy)], expected=told)
    large = energy_plant(capacity=capacity * more, loads=[load(energy)], expected=told)
    assert set(raised(check_autonomy, large, BARE)) <= set(raised(check_autonomy, small, BARE))


@settings(max_examples=40, deadline=None)
@given(energy=ENERGIES, less=st.floats(0.0, 1.0), lasting=st.booleans(), with_set=st.booleans())
def test_a_smaller_load_never_adds_a_finding(energy, less, lasting, with_set):
    told = {"autonomy": 86400.0, "sun_hours": 3.0, "generator_share": 0.2}
    build = set_plant if with_set else energy_plant

    def made(wh: float) -> Plant:
        controller = CONTROLLER | {"array": array(400.0, strings=2)}
        return build(loads=[load(wh, continuous=lasting)], controllers=[controller], expected=told)

    large, small = made(energy), made(energy * less)
    for check in (check_energy, check_autonomy):
        assert set(raised(check, small, BARE)) <= set(raised(check, large, BARE))


@settings(max_examples=40, deadline=None)
@given(power=st.floats(100.0, 2000.0), more=st.floats(1.0, 3.0))
def test_more_pv_never_adds_a_finding(power, more):
    assert set(raised(check_energy, ratio_plant(power * more), BARE)) <= set(
        raised(check_energy, ratio_plant(power), BARE)
    )


@settings(max_examples=40, deadline=None)
@given(temperature=st.floats(-3.5, 30.0), warmer=st.floats(0.0, 20.0))
def test_a_warmer_bank_never_lasts_less_long(temperature, warmer):
    cold = energy_plant(place={"coldest_battery": temperature})
    warm = energy_plant(place={"coldest_battery": temperature + warmer, "hottest_battery": 55.0})
    assert number(autonomy(warm)) >= number(autonomy(cold)) - 1e-6
