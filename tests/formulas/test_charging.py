"""Charging voltages, currents and times against worked examples and against what must always hold."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from commission.errors import FormulaError
from commission.figure import Figure, Unknown
from commission.figure import given as known
from commission.formulas.charging import (
    array_current,
    bulk_time,
    charge_current_limit,
    clamped_temperature,
    compensated_voltage,
    end_current,
    per_cell,
    recharge_current,
    remaining_current,
    scaled_current,
    shared_current,
    slope_error,
    sum_of_currents,
    voltage_at_other_reference,
)
from tests.formulas.worked import Row, assert_no_number_passes_as_one, hours, row

ROWS = [
    row("AGM float in a hot room", compensated_voltage, 53.4, 0.02, "compensation law, from memory",
        cells=24, reference=2.27, slope=-3, temperature=40, temperature_reference=25),
    row("one cell on float at 35 °C", compensated_voltage, 2.27, 0.005,
        "published guide to charging at high and low temperatures, BU-410",
        cells=1, reference=2.30, slope=-3, temperature=35, temperature_reference=25),
    row("24 V gel absorption in the cold", compensated_voltage, 28.92, 0.02, "compensation law, from memory",
        cells=12, reference=2.35, slope=-4, temperature=10, temperature_reference=25),
    row("flooded absorption at −20 °C, not clamped", compensated_voltage, 64.2, 0.02,
        "compensation law, from memory",
        cells=24, reference=2.45, slope=-5, temperature=-20, temperature_reference=25),
    row("lithium is not compensated", compensated_voltage, 56.0, 0.01, "LFP profile, from memory",
        cells=16, reference=3.5, slope=0, temperature=5, temperature_reference=25),
    row("flooded absorption of a freezing bank", compensated_voltage, 60.6, 0.01,
        "own derivation, from memory",
        cells=24, reference=2.40, slope=-5, temperature=0, temperature_reference=25),
    row("tubular gel float given at 20 °C", voltage_at_other_reference, 2.235, 0.02 / 24,
        "reference conversion, from memory",
        reference=2.25, slope=-3, temperature_from=20, temperature_to=25),
    row("cold edge of the clamp", clamped_temperature, 0.0, 0.0, "temperature clamp, common practice",
        temperature=-20, low=0, high=40),
    row("hot edge of the clamp", clamped_temperature, 50.0, 0.0, "temperature clamp, common practice",
        temperature=55, low=0, high=50),
    row("one cell of a 12 V block", per_cell, 2.4, 0.005, "definition, from memory",
        bank_voltage=14.4, cells=6),
    row("end voltage of one cell of 120", per_cell, 1.7, 0.005, "a maker's block manual",
        bank_voltage=204, cells=120),
    row("recommended for two flooded strings", charge_current_limit, 58.5, 0.1,
        "flooded profile, from memory",
        rate=0.13, capacity=225, strings=2),
    row("most for two flooded strings", charge_current_limit, 90.0, 0.1, "flooded profile, from memory",
        rate=0.2, capacity=225, strings=2),
    row("least for one string of 415 Ah", charge_current_limit, 20.75, 0.05,
        "off-grid guide to charge rates of lead-acid", rate=0.05, capacity=415, strings=1),
    row("most for one string of 415 Ah", charge_current_limit, 83.0, 0.05,
        "off-grid guide to charge rates of lead-acid", rate=0.2, capacity=415, strings=1),
    row("greater charger's share", shared_current, 78.95, 0.05, "shared limit split by rating, from memory",
        limit=125, rating=120, ratings=[120, 70]),
    row("lesser charger's share", shared_current, 46.05, 0.05, "shared limit split by rating, from memory",
        limit=125, rating=70, ratings=[120, 70]),
    row("three packs of 100 A", scaled_current, 300.0, 0.1, "limit of the management systems, from memory",
        current=100, count=3),
    row("two packs once one is out", scaled_current, 200.0, 0.1,
        "limit of the management systems, from memory",
        current=100, count=2),
    row("three sources together", sum_of_currents, 125.5, 0.0, "by hand", currents=[60, 45, 20.5]),
    row("left beside two sources", remaining_current, 20.0, 0.0, "by hand", limit=125, others=[60, 45]),
    row("nothing left beside a source as large as the limit", remaining_current, 0.0, 0.0, "by hand",
        limit=50, others=[60]),
    row("nickel-cadmium back in eight hours", recharge_current, 55.0, 0.1, "IEEE 946, from memory",
        load=20, factor=1.4, removed=200, time=hours(8)),
    row("bulk after half of 400 Ah", bulk_time, 4.44, 0.02, "bulk time, from memory", in_unit="h",
        capacity=400, depth=0.5, current=50, charge_efficiency=0.9),
    row("bulk of an LFP bank from 20 % to full", bulk_time, 2.263, 0.005,
        "bulk time, from memory", in_unit="h",
        capacity=280, depth=0.8, current=100, charge_efficiency=0.99),
    row("end current of 2 %", end_current, 9.0, 0.05, "end current, from memory", share=0.02, capacity=450),
    row("sensorless device, cells of −5 mV/K at 35 °C", slope_error, 50.0, 0.0, "by hand",
        device_slope=0, battery_slope=-5, temperature=35, temperature_reference=25),
    row("sensorless device, cells of −5 mV/K at 5 °C", slope_error, -100.0, 0.0, "by hand",
        device_slope=0, battery_slope=-5, temperature=5, temperature_reference=25),
    row("array of 2.4 kW on 48 V", array_current, 55.0, 0.0, "by hand", power=2400, margin=1.1, voltage=48),
]  # fmt: skip

temperatures = st.floats(-40.0, 70.0)
slopes = st.floats(-6.0, 0.0)
currents = st.floats(0.0, 500.0)


@pytest.mark.parametrize("row", ROWS)
def test_worked_example(row: Row) -> None:
    assert row.value() == pytest.approx(row.expected, abs=row.tolerance)


@pytest.mark.parametrize("row", ROWS)
def test_what_is_not_a_number_is_refused(row: Row) -> None:
    assert_no_number_passes_as_one(row)


@pytest.mark.parametrize(
    ("reference", "slope", "temperature", "low", "high", "expected"),
    [
        # temperature clamp; from memory
        pytest.param(2.45, -5, -20, 0, 40, 61.8, id="flooded absorption held at the cold edge"),
        pytest.param(2.25, -5, 55, 0, 50, 51.0, id="flooded float held at the hot edge"),
    ],
)
def test_voltage_is_held_beyond_the_clamp(reference, slope, temperature, low, high, expected):
    held = clamped_temperature(temperature, low, high)
    assert compensated_voltage(24, reference, slope, held, 25) == pytest.approx(expected, abs=0.02)


def test_a_bank_restated_from_20_to_25_degrees():
    # reference conversion; from memory
    restated = voltage_at_other_reference(2.25, -3, 20, 25)
    assert compensated_voltage(24, restated, -3, 25, 25) == pytest.approx(53.64, abs=0.02)


def test_absorption_comes_on_top_of_bulk():
    # bulk time with 3 h of absorption; from memory
    total = bulk_time(400, 0.5, 50, 0.9) + hours(3)
    assert total / 3600 == pytest.approx(7.44, abs=0.02)


@pytest.mark.parametrize(
    ("call", "says"),
    [
        pytest.param(lambda: compensated_voltage(0, 2.27, -3, 40, 25),
                 "cells = 0: must be one", id="no cells"),
        pytest.param(lambda: clamped_temperature(20, 40, 0), "lies above", id="clamp upside down"),
        pytest.param(lambda: per_cell(14.4, 0), "cells = 0", id="block without cells"),
        pytest.param(lambda: charge_current_limit(-0.1, 225, 2), "rate = -0.1", id="negative rate"),
        pytest.param(lambda: charge_current_limit(0.1, 0, 2), "capacity = 0", id="no capacity"),
        pytest.param(lambda: charge_current_limit(0.1, 225, 0), "strings = 0", id="no strings"),
        pytest.param(lambda: scaled_current(100, -1), "count = -1", id="less than no packs"),
        pytest.param(lambda: remaining_current(-1, []), "limit = -1", id="negative limit"),
        pytest.param(lambda: remaining_current(10, [-1]), "others = -1", id="a source that discharges"),
        pytest.param(lambda: shared_current(125, 80, [120, 70]),
                 "one of the ratings", id="a stranger shares"),
        pytest.param(lambda: shared_current(125, 0, [120, 0]), "ratings = 0", id="a source without rating"),
        pytest.param(lambda: bulk_time(400, 1.2, 50, 0.9), "depth = 1.2", id="more out than in it"),
        pytest.param(lambda: bulk_time(400, 0.5, 0, 0.9), "current = 0", id="no charge current"),
        pytest.param(lambda: bulk_time(400, 0.5, 50, 90), "at most 1", id="efficiency in per cent"),
        pytest.param(lambda: recharge_current(20, 0.9, 200, 100), "factor = 0.9", id="less back than out"),
        pytest.param(lambda: recharge_current(20, 1.1, 200, 0), "time = 0", id="no time"),
        pytest.param(lambda: end_current(0, 450), "share = 0", id="end current of nothing"),
        pytest.param(lambda: array_current(2400, 1.1, 0), "voltage = 0", id="bank of no voltage"),
        pytest.param(lambda: array_current(-1, 1.1, 48), "power = -1", id="array that draws"),
    ],
)  # fmt: skip
def test_out_of_range_is_refused_with_what_came(call, says):
    with pytest.raises(FormulaError, match=says):
        call()


@given(slope=slopes, colder=temperatures, warmer=temperatures)
def test_colder_is_never_lower(slope, colder, warmer):
    low, high = sorted((colder, warmer))
    assert compensated_voltage(24, 2.4, slope, low, 25) >= compensated_voltage(24, 2.4, slope, high, 25)


@given(temperature=temperatures, edges=st.tuples(temperatures, temperatures))
def test_clamp_holds_and_changes_nothing_inside(temperature, edges):
    low, high = sorted(edges)
    held = clamped_temperature(temperature, low, high)
    assert low <= held <= high
    assert held == temperature or temperature < low or temperature > high
    assert clamped_temperature(held, low, high) == held


@given(slope=slopes, first=temperatures, second=temperatures, at=temperatures)
def test_restating_the_reference_changes_no_voltage(slope, first, second, at):
    restated = voltage_at_other_reference(2.4, slope, first, second)
    there = compensated_voltage(24, restated, slope, at, second)
    assert there == pytest.approx(compensated_voltage(24, 2.4, slope, at, first))


@given(device=slopes, battery=slopes, at=temperatures)
def test_slope_error_is_the_difference_of_two_compensated_cells(device, battery, at):
    apart = compensated_voltage(1, 2.4, device, at, 25) - compensated_voltage(1, 2.4, battery, at, 25)
    assert slope_error(device, battery, at, 25) / 1000 == pytest.approx(apart, abs=1e-9)


@given(limit=currents, others=st.lists(currents, max_size=6))
def test_what_is_left_and_the_others_stay_within_the_limit(limit, others):
    left = remaining_current(limit, others)
    assert 0.0 <= left <= limit
    if left:
        assert sum_of_currents([left, *others]) == pytest.approx(limit)


@given(limit=currents, ratings=st.lists(st.floats(1.0, 300.0), min_size=1, max_size=6))
def test_shares_add_up_to_the_limit(limit, ratings):
    shares = [shared_current(limit, rating, ratings) for rating in ratings]
    assert sum_of_currents(shares) == pytest.approx(limit)


@given(depth=st.floats(0.01, 1.0), less=st.floats(0.5, 0.99), current=st.floats(1.0, 400.0))
def test_a_bank_that_wastes_more_charges_longer(depth, less, current):
    assert bulk_time(400, depth, current, less) > bulk_time(400, depth, current, 1.0)


def test_a_figure_remembers_what_it_was_worked_out_from():
    share = known(0.02, "A/Ah", "end current", kind="profile")
    capacity = known(450, "Ah", "capacity", kind="site", where="battery.capacity")
    made = end_current.of("end of absorption", share=share, capacity=capacity)
    assert isinstance(made, Figure)
    assert made.value == pytest.approx(9.0)
    assert made.unit == "A"


def test_an_unknown_input_makes_the_result_unknown_and_is_named():
    missing = remaining_current.of(limit=Unknown(("limit of bank",)), others=[Unknown(("rating of mppt-2",))])
    assert isinstance(missing, Unknown)
    assert missing.missing == ("limit of bank", "rating of mppt-2")
