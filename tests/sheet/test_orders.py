"""Orders that the settings must keep: what is moved, what cannot be kept, and whole random plants."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from commission.figure import Figure, Unknown
from commission.figure import given as figure
from commission.plant.equipment import Input
from commission.plant.plant import Plant
from commission.sheet.draft import Draft
from commission.sheet.generator import settle_generator
from commission.sheet.low_end import settle_low_end
from commission.sheet.monitor import settle_monitor
from commission.sheet.order import Order, pair_at_posts
from commission.sheet.order_list import orders_of
from commission.sheet.orders import broken_orders, check_orders, draft_of
from commission.sheet.settle import make_sheet
from commission.sheet.types import Pair
from tests.builders import plant
from tests.sheet.low_end_cases import (
    INVERTER,
    MANAGED,
    MONITOR,
    RUN,
    drafted,
    flooded,
    found,
    lithium,
    number,
    passes,
)
from tests.strategies import plants

SET = {"id": "gen-1", "profile": "generator-diesel-single-230-10000", "started_by": "inv-1"}
FED = INVERTER | {"inputs": {"generator": "gen-1"}}


def whole(of: Plant) -> Draft:
    return drafted(of, settle_low_end, settle_generator, settle_monitor)


def full(**changed: Any) -> Plant:
    """Return a plant whose settings take part in nearly every order."""
    fields: dict[str, Any] = {"inverters": (FED,), "generators": [SET], "monitor": MONITOR}
    return flooded(**(fields | changed))


def linked() -> Plant:
    """Return packs of iron phosphate on a data link, with a generator and a monitor."""
    return lithium(inverters=(FED | {"on_battery_link": True},), generators=[SET], monitor=MONITOR)


def put(draft: Draft, device: str, setting: str, value: float, input_: Input | None = None) -> None:
    """Put a whole-bank value into a setting, as a coarser device or another hand might."""
    key = (device, setting, input_)
    made = draft.settings[key]
    held = figure(value, made.ability.unit, f"{setting} put by the test", kind="setting")
    draft.settings[key] = replace(made, recommended=held, at_posts=held)


def put_reached(draft: Draft, key: str, value: float) -> None:
    draft.numbers[key] = figure(value, "V", f"{key} put by the test")


def checks(draft: Draft) -> set[str]:
    return {order.check for order in orders_of(draft) if order.broken}


# an order by itself


def order(lower: float, upper: float, *, strict: bool) -> Order:
    return Order("test", ("inv-1",), figure(lower, "V", "lower"), figure(upper, "V", "upper"), strict)


@pytest.mark.parametrize(
    ("lower", "upper", "strict", "broken"),
    [
        pytest.param(46.0, 46.1, True, False, id="under"),
        pytest.param(46.0, 46.0, True, True, id="equal, but has to be under"),
        pytest.param(46.0, 46.0, False, False, id="equal, as it may be"),
        pytest.param(46.1, 46.0, False, True, id="over"),
        pytest.param(0.1 + 0.2, 0.3, False, False, id="equal but for binary fractions"),
    ],
)
def test_an_order_is_broken_where_its_words_say_so(
    lower: float, upper: float, strict: bool, broken: bool
) -> None:
    assert order(lower, upper, strict=strict).broken is broken


def test_an_order_with_a_gap_is_neither_kept_nor_broken():
    gap = Unknown(("length of run-1",), "V", "upper")
    made = Order("test", ("inv-1",), figure(46.0, "V", "lower"), gap)
    assert not made.broken
    assert made.unknown is not None
    assert made.unknown.missing == ("length of run-1",)


# a settled plant keeps them all


@pytest.mark.parametrize(
    "of",
    [
        pytest.param(full(), id="flooded with a generator"),
        pytest.param(linked(), id="iron phosphate"),
        pytest.param(full(chemistry="gel"), id="gel"),
        pytest.param(full(chemistry="lead-carbon"), id="lead-carbon"),
    ],
)  # fmt: skip
def test_settled_plants_keep_every_order(of: Plant) -> None:
    draft = whole(of)
    assert broken_orders(draft) == []
    assert len(orders_of(draft)) > 15
    before = dict(draft.settings)
    check_orders(draft)
    assert draft.settings == before


# each order, broken by hand


@pytest.mark.parametrize(
    ("setting", "value", "check"),
    [
        pytest.param("load_disconnect_voltage", 39.0, "order-cut-off-under-disconnect", id="cut-off 40.0"),
        pytest.param("low_voltage_warning", 46.7, "order-disconnect-under-warning", id="warning"),
        pytest.param("load_reconnect_voltage", 48.1, "order-rebound-under-reconnect", id="rebound 48.11"),
        pytest.param("load_reconnect_voltage", 46.7, "order-disconnect-under-reconnect", id="disconnect"),
        pytest.param("load_reconnect_voltage", 53.0, "order-reconnect-under-float", id="float 52.8 at 35 °C"),
        pytest.param("load_high_reconnect_voltage", 66.5, "order-high-reconnect", id="high reconnect"),
        pytest.param("generator_stop_voltage", 47.5, "order-start-under-stop", id="stop at start"),
        pytest.param("generator_stop_voltage", 57.7, "order-stop-under-absorption", id="57.6 at 35 °C"),
        pytest.param("generator_emergency_voltage", 46.7, "order-disconnect-under-emergency", id="low start"),
        pytest.param("generator_emergency_voltage", 47.6, "order-emergency-under-start", id="high start"),
        pytest.param("recharge_voltage", 52.8, "order-recharge-under-float", id="recharge at float"),
        pytest.param("charge_disconnect_voltage", 60.0, "order-charge-under-cut", id="cut under equalise"),
        pytest.param("charge_disconnect_voltage", 66.0, "order-cut-under-maximum", id="cut at the maximum"),
        pytest.param("charge_reconnect_voltage", 66.0, "order-charge-reconnect-under-cut", id="return"),
        pytest.param("charge_low_temperature", 50.0, "order-charge-temperatures", id="temperatures"),
    ],
)  # fmt: skip
def test_each_order_is_seen_where_it_is_broken(setting: str, value: float, check: str) -> None:
    draft = whole(full())
    assert check not in checks(draft)
    put(draft, "inv-1", setting, value)
    assert check in checks(draft)
    assert any(one.startswith(check) for one in broken_orders(draft))


def test_a_full_voltage_at_absorption_is_seen():
    draft = whole(full())
    put(draft, "mon-1", "monitor_full_voltage", 57.6)
    assert "order-full-under-absorption" in checks(draft)


@pytest.mark.parametrize("end", ["coldest", "hottest"])
def test_stages_keep_their_order_at_both_ends_of_the_year(end: str) -> None:
    draft = whole(full())
    absorption = draft.numbers[f"absorption_{end}:inv-1"]
    assert isinstance(absorption, Figure)
    put_reached(draft, f"float_{end}:inv-1", absorption.value + 0.1)
    put_reached(draft, f"equalize_{end}:inv-1", absorption.value - 0.1)
    seen = checks(draft)
    assert {f"order-float-under-absorption-{end}", f"order-absorption-under-equalise-{end}"} <= seen


def test_nickel_cadmium_may_equalise_under_absorption():
    """Its rows: absorption 1.55, equalise 1.52 V per cell."""
    draft = drafted(flooded(chemistry="nickel-cadmium", cells_per_block=1, blocks=38))
    put_reached(draft, "equalize_coldest:inv-1", 10.0)
    assert "order-absorption-under-equalise-coldest" not in checks(draft)


def test_a_start_at_the_rested_voltage_and_one_at_the_disconnect_are_seen():
    """Rested at 50 %: 48.96 V; the highest disconnect is 46.7 V."""
    for value, check in ((49.0, "order-start-under-rested"), (46.7, "order-disconnect-under-start")):
        draft = whole(full())
        key = ("inv-1", "generator_start", None)
        pair = Pair(figure(value, "V", "start put by the test"), figure(60.0, "s", "delay"))
        draft.settings[key] = replace(draft.settings[key], recommended=(pair,))
        assert check in checks(draft)


def test_delays_that_outlast_the_reserve_are_found_with_the_time_that_passes():
    """15 Ah at 46.8 A last 1153.9 s; delays of 3 × 600 s and 180 s of warm-up do not fit."""
    draft = whole(full(capacity=50.0))
    key = ("inv-1", "generator_start", None)
    made = draft.settings[key]
    assert isinstance(made.recommended, tuple)
    long = tuple(replace(pair, delay=figure(600.0, "s", "delay")) for pair in made.recommended)
    draft.settings[key] = replace(made, recommended=long)
    check_orders(draft)
    finding = found(draft, "order-start-delays-under-reserve")
    assert finding is not None
    assert finding.kind == "correct"
    assert passes(finding) == pytest.approx(1153.9, abs=0.5)


def test_where_the_count_starts_the_set_its_reserve_counts_and_not_that_of_the_fallback():
    """51.52 V behind 10.478 mΩ, 3333.3 W: 4 R P = 139.71; √2514.6 = 50.146; V = 50.833 V; 65.57 A.

    10 points of 25 Ah last 137 s, less than the warm-up of 180 s; of 250 Ah 1373 s, although the 2 points of
    the fallback last less than its delays.
    """
    bank = {"resistance": 0.009, "management": MANAGED, "standing_draw": 0.0}
    small, large = (
        lithium(
            inverters=(FED | {"on_battery_link": True},), generators=[SET], bank=bank, strings=1, capacity=ah
        )
        for ah in (25.0, 250.0)
    )
    assert "order-start-delays-under-reserve" in checks(whole(small))
    assert "order-start-delays-under-reserve" not in checks(whole(large))


def test_states_of_charge_of_a_flat_curve_keep_five_points():
    """Disconnect 0.20: a start at 0.24 is too near, 0.25 is not."""
    draft = whole(linked())
    put(draft, "inv-1", "generator_start_state_of_charge", 0.24)
    assert "order-disconnect-under-start-state" in checks(draft)
    put(draft, "inv-1", "generator_start_state_of_charge", 0.25)
    assert "order-disconnect-under-start-state" not in checks(draft)
    put(draft, "inv-1", "generator_stop_state_of_charge", 0.25)
    assert "order-start-under-stop-state" in checks(draft)
    put(draft, "inv-1", "load_reconnect_state_of_charge", 0.20)
    assert "order-disconnect-under-reconnect-state" in checks(draft)


def test_a_failed_start_is_not_told_before_the_set_can_be_ready():
    """180 s of warm-up and 20 s of qualification want more than 200 s."""
    extra = {
        "settings": {"generator_failure_to_start_time": {"unit": "s", "low": 0, "high": 900, "step": 10}}
    }
    draft = whole(full(inverters=(FED | {"datasheet": FED["datasheet"] | extra},)))
    inverter = draft.plant.site.inverter_chargers[0]
    draft.number(inverter, "ac_input_connect_delay", figure(20.0, "s", "delay"), input_="generator")
    draft.number(inverter, "generator_failure_to_start_time", figure(200.0, "s", "time"))
    assert "order-ready-before-start-failed" in checks(draft)
    draft.number(inverter, "generator_failure_to_start_time", figure(210.0, "s", "time"))
    assert "order-ready-before-start-failed" not in checks(draft)


# across devices


def test_a_warning_of_one_device_lies_over_the_disconnect_of_another():
    draft = whole(full())
    put(draft, "mon-1", "low_voltage_warning", 46.7)
    assert broken_orders(draft) == ["order-disconnect-under-warning:mon-1:low_voltage_warning"]


def test_charging_is_cut_over_what_any_source_reaches():
    sun = {"id": "sun-1", "profile": "controller-48v-60-buck-150", "run": "run-1"}
    draft = whole(full(controllers=(sun,)))
    put_reached(draft, "equalize_coldest:sun-1", 65.9)
    assert "order-charge-under-cut:inv-1:charge_disconnect_voltage" in broken_orders(draft)


# moving


def test_rounding_that_makes_two_equal_moves_one_by_a_step_and_says_so():
    """Warning on the disconnect of 46.7 V, steps of 0.1 V: 46.8 V."""
    draft = whole(full())
    put(draft, "inv-1", "low_voltage_warning", 46.7)
    check_orders(draft)
    assert number(draft, "inv-1", "low_voltage_warning") == pytest.approx(46.8, abs=1e-9)
    finding = found(draft, "order-disconnect-under-warning")
    assert finding is not None
    assert finding.kind == "advise"
    assert passes(finding) == pytest.approx(46.8, abs=1e-9)
    assert broken_orders(draft) == []


def test_the_step_is_that_of_the_device_in_its_own_basis():
    """Steps of 0.1 V per 12 V are 0.4 V: over 46.7 V on the grid from 10.5 V per 12 V the next is 46.8 V."""
    per_block = {
        "settings": {
            "low_voltage_warning": {"unit": "V", "low": 10.5, "high": 13.5, "step": 0.1, "basis": "per 12 V"}
        }
    }
    draft = whole(full(inverters=(FED | {"datasheet": FED["datasheet"] | per_block},)))
    put(draft, "inv-1", "low_voltage_warning", 46.4)
    key = ("inv-1", "low_voltage_warning", None)
    draft.settings[key] = replace(draft.settings[key], recommended=figure(11.6, "V", "put by the test"))
    check_orders(draft)
    made = draft.settings[key]
    assert isinstance(made.recommended, Figure)
    assert made.recommended.value == pytest.approx(11.7)
    assert number(draft, "inv-1", "low_voltage_warning") == pytest.approx(46.8)


def test_float_over_absorption_comes_down_with_what_it_reaches():
    """Float 0.3 V over absorption at 35 °C: 0.3 V lower everywhere; equal is allowed."""
    draft = whole(full())
    setpoint = number(draft, "inv-1", "absorption_voltage") + 0.3
    put(draft, "inv-1", "float_voltage", setpoint)
    for end in ("coldest", "hottest"):
        absorption = draft.numbers[f"absorption_{end}:inv-1"]
        assert isinstance(absorption, Figure)
        put_reached(draft, f"float_{end}:inv-1", absorption.value + 0.3)
    check_orders(draft)
    assert number(draft, "inv-1", "float_voltage") == pytest.approx(setpoint - 0.3, abs=1e-6)
    for end in ("coldest", "hottest"):
        held, absorption = draft.numbers[f"float_{end}:inv-1"], draft.numbers[f"absorption_{end}:inv-1"]
        assert isinstance(held, Figure)
        assert isinstance(absorption, Figure)
        assert held.value == pytest.approx(absorption.value, abs=1e-6)


def test_a_start_on_the_disconnect_goes_up_a_step_and_keeps_its_delay():
    draft = whole(full())
    key = ("inv-1", "generator_start", None)
    made = draft.settings[key]
    assert isinstance(made.recommended, tuple)
    low = replace(made.recommended[-1], voltage=figure(46.7, "V", "put by the test"))
    draft.settings[key] = replace(made, recommended=(*made.recommended[:-1], low))
    check_orders(draft)
    moved = draft.settings[key].recommended
    assert isinstance(moved, tuple)
    inverter = draft.plant.site.inverter_chargers[0]
    assert pair_at_posts(draft, inverter, moved[-1]).value == pytest.approx(46.8, abs=1e-9)
    assert moved[-1].delay == low.delay


# what cannot be kept


def test_a_fixed_setting_is_not_moved_and_the_order_is_found_with_a_number():
    """Reconnect fixed at 12.6 V over a float of 6 × 2.00 = 12.0 V."""
    fixed = {"id": "sun-1", "profile": "controller-12v-20-plain", "run": "run-1"}
    of = plant(
        "agm",
        blocks=1,
        capacity=100.0,
        bank={"resistance": 0.005},
        controllers=(fixed,),
        runs=[RUN | {"from": "sun-1"}],
        expected={"load": 60.0},
        battery={"float_voltage": {"value": 2.20, "low": 2.0}},
    )
    draft = drafted(of, settle_low_end)
    put_reached(draft, "float_hottest:sun-1", 12.0)
    check_orders(draft)
    finding = found(draft, "order-reconnect-under-float")
    assert finding is not None
    assert finding.kind == "correct"
    assert passes(finding) == pytest.approx(12.0)
    assert number(draft, "sun-1", "load_reconnect_voltage") == pytest.approx(12.6)


def test_two_orders_that_pull_at_one_setting_end_in_a_finding():
    """Reconnect has to lie over a rebound of 48.11 V and under a float of 48.0 V: no value does both."""
    draft = whole(full())
    put_reached(draft, "float_hottest:inv-1", 48.0)
    check_orders(draft)
    kinds = {
        one.kind
        for one in draft.findings
        if one.check in {"order-reconnect-under-float", "order-rebound-under-reconnect"}
    }
    assert "correct" in kinds
    assert set(broken_orders(draft)) <= {one.id for one in draft.findings}


def test_a_range_that_ends_too_soon_is_found_with_the_value_that_passes():
    """The device warns at 46.0 V at most; 46.8 V is the first value over the disconnect of 46.7 V."""
    short = {"settings": {"low_voltage_warning": {"high": 46.0}}}
    draft = whole(full(inverters=(FED | {"datasheet": FED["datasheet"] | short},)))
    check_orders(draft)
    finding = found(draft, "order-disconnect-under-warning")
    assert finding is not None
    assert finding.kind == "correct"
    assert passes(finding) == pytest.approx(46.8)


def test_what_is_missing_for_an_order_is_said_once_for_a_setting():
    draft = whole(full(place={"hottest_battery": "unknown", "hottest_month_battery": 30.0}))
    check_orders(draft)
    gaps = [one for one in draft.findings if one.check == "order-open" and one.setting == "float_voltage"]
    assert len(gaps) == 1
    assert gaps[0].kind == "not checked"
    assert "hottest battery" in gaps[0].text


# whole random plants

COARSE = (
    "load_disconnect_voltage",
    "low_voltage_warning",
    "load_reconnect_voltage",
    "generator_start",
    "generator_stop_voltage",
    "generator_emergency_voltage",
    "recharge_voltage",
    "charge_disconnect_voltage",
)
"""Settings whose steps differ from device to device."""
_LONG = settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])


@pytest.mark.filterwarnings("ignore:Generating overly large repr")
@_LONG
@given(plants())
def test_every_order_of_a_random_plant_holds_or_a_finding_says_so(of: Plant) -> None:
    sheet = make_sheet(of)
    told = {finding.id for finding in sheet.findings if finding.kind in {"correct", "stop"}}
    assert set(broken_orders(draft_of(of, sheet))) <= told


@st.composite
def loaded_plants(draw: st.DrawFn) -> Plant:
    """Return a plant that knows all that the low end needs, its inverter on grids of any step."""
    chemistry = draw(st.sampled_from(["flooded", "agm", "gel", "tubular-vented", "lead-carbon", "lfp"]))
    packs = chemistry == "lfp"
    step = draw(st.sampled_from([0.01, 0.1, 0.2, 0.25, 0.4, 0.5, 1.0]))
    coarse = {name: {"step": step} for name in COARSE}
    sheet = {
        "inverter_efficiency": 0.9,
        "low_cut_off": draw(st.integers(380, 470)) / 10.0,
        "settings": coarse,
    }
    hottest = draw(st.integers(20, 48))
    return plant(
        chemistry,
        cells_per_block=16 if packs else 6,
        blocks=1 if packs else 4,
        capacity=float(draw(st.integers(5, 120)) * 10),
        bank={"resistance": draw(st.integers(1, 80)) / 1000.0},
        place={
            "coldest_battery": float(draw(st.integers(-20, 15))),
            "hottest_battery": float(hottest),
            "hottest_month_battery": float(hottest),
            "coldest_month_battery": 15.0,
        },
        inverters=(FED | {"datasheet": sheet},),
        generators=[SET],
        runs=[RUN],
        monitor=MONITOR,
        expected={"load": float(draw(st.integers(0, 40)) * 100)},
        authority={"state_of_charge": "mon-1"},
    )


@_LONG
@given(loaded_plants())
def test_orders_hold_on_grids_of_any_step_or_a_finding_says_so(of: Plant) -> None:
    draft = whole(of)
    check_orders(draft)
    told = {finding.id for finding in draft.findings if finding.kind == "correct"}
    assert set(broken_orders(draft)) <= told


@_LONG
@given(loaded_plants())
def test_checking_twice_changes_nothing(of: Plant) -> None:
    draft = whole(of)
    check_orders(draft)
    before = dict(draft.settings)
    check_orders(draft)
    assert {key: made.recommended for key, made in draft.settings.items()} == {
        key: made.recommended for key, made in before.items()
    }
