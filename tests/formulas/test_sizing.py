"""Size of a bank against its loads."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from commission.errors import FormulaError
from commission.formulas.lead_acid import peukert_time
from commission.formulas.sizing import (
    autonomy_time,
    battery_load,
    capacity_by_cell_power,
    charger_input_current,
    constant_power_capacity,
    functional_hour_rate,
    least_cells,
    most_cells,
    power_per_cell,
    required_capacity,
)
from tests.formulas.worked import Row, assert_no_number_passes_as_one, hours, row

ROWS = [
    row("charger of 60 A on 230 V", charger_input_current, 16.67, 0.05, "power balance, from memory",
        voltage=24 * 2.45, current=60, efficiency=0.92, ac_voltage=230, power_factor=1.0),
    row("6 kW through an inverter of 92 %", battery_load, 6.52, 0.01, "UFC 3-520-01 (2002), appendix E",
        in_unit="kW", power=6000, efficiency=0.92),
    row("10 kVA for half an hour", constant_power_capacity, 34.24, 0.05, "UPS battery specification sheet",
        power=10000 * 0.8 / 0.85, time=hours(0.5), cells=108, end_voltage=1.75, temperature_factor=1,
        age=1.25,
        design=1.1),
    row("cells under 272 V on float", most_cells, 120, 0, "a maker's block manual",
        greatest_voltage=272, cell_voltage=2.26),
    row("power of one cell of 120", power_per_cell, 44.17, 0.02, "a maker's block manual", load=5300,
        cells=120),
    row("capacity by a table of constant power", capacity_by_cell_power, 23.59, 0.05,
        "a maker's block manual",
        cell_power=5300 / 120, specific_power=1.872),
    row("three days of 5 kWh", required_capacity, 482.3, 0.5, "IEEE 1013, from memory",
        daily_energy=5000, efficiency=0.9, voltage=48, days=3, depth=0.8, temperature_share=0.9),
    row("cells under 60 V in equalise", most_cells, 23, 0, "IEEE 485, number of cells, from memory",
        greatest_voltage=60, cell_voltage=2.58),
    row("cells that keep 42 V at their end", least_cells, 24, 0, "by hand", least_voltage=42,
        cell_voltage=1.75),
    row("functional-hour rate", functional_hour_rate, 19.3, 0.1, "IEEE 1013, from memory",
        capacity=482.3, current=25),
    row("rated current to 80 %", autonomy_time, 57600, 1e-6, "by hand: 16 of 20 hours",
        capacity=400, rate=20, exponent=1.25, depth=0.8, temperature_share=1, current=20),
    row("half the rated current gets no credit", autonomy_time, 115200, 1e-6, "by hand: twice as long",
        capacity=400, rate=20, exponent=1.25, depth=0.8, temperature_share=1, current=10),
]  # fmt: skip


@pytest.mark.parametrize("row", ROWS)
def test_worked_example(row: Row) -> None:
    assert row.value() == pytest.approx(row.expected, abs=row.tolerance)


@pytest.mark.parametrize("row", ROWS)
def test_what_is_not_a_number_is_refused(row: Row) -> None:
    assert_no_number_passes_as_one(row)


def test_24_flooded_cells_do_not_fit_under_60_volts_in_equalise():
    # number of cells; from memory
    assert most_cells(60, 2.58) < 24


def test_a_quotient_that_is_whole_is_not_lost_to_binary_fractions():
    # 57.6 ÷ 2.4 is 24 by hand; in binary fractions it may come out a hair under
    assert most_cells(57.6, 2.4) == 24
    assert most_cells(2.1 * 23, 2.1) == 23
    assert least_cells(1.1 * 3, 1.1) == 3


@pytest.mark.parametrize(
    ("call", "says"),
    [
        pytest.param(lambda: battery_load(6000, 92), "efficiency = 92", id="efficiency in per cent"),
        pytest.param(lambda: required_capacity(5000, 0.9, 48, 3, 80, 0.9), "depth = 80",
                     id="depth in per cent"),
        pytest.param(lambda: required_capacity(5000, 0.9, 0, 3, 0.8, 0.9), "voltage = 0", id="no voltage"),
        pytest.param(lambda: constant_power_capacity(9412, 0, 108, 1.75, 1, 1.25, 1.1), "time = 0",
                     id="no time"),
        pytest.param(lambda: most_cells(2.0, 2.58), "not even one cell", id="no cell fits"),
        pytest.param(lambda: least_cells(42, 0), "cell_voltage = 0", id="cell without voltage"),
        pytest.param(lambda: power_per_cell(5300, 0), "cells = 0", id="no cells"),
        pytest.param(lambda: capacity_by_cell_power(44, 0), "specific_power = 0", id="empty table"),
        pytest.param(lambda: functional_hour_rate(482, 0), "current = 0", id="no current"),
        pytest.param(lambda: autonomy_time(400, 20, 1.25, 0.8, 1, 0), "current = 0", id="no load"),
        pytest.param(lambda: charger_input_current(58.8, 60, 0.92, 230, 0), "power_factor = 0",
                     id="no power"),
    ],
)  # fmt: skip
def test_out_of_range_is_refused_with_what_came(call, says):
    with pytest.raises(FormulaError, match=says):
        call()


@given(greatest=st.floats(10.0, 600.0), cell=st.floats(1.2, 4.2))
def test_most_cells_fit_and_one_more_does_not(greatest, cell):
    cells = most_cells(greatest, cell)
    assert cells * cell <= greatest * 1.000001
    assert (cells + 1) * cell > greatest


@given(least=st.floats(5.0, 600.0), cell=st.floats(1.0, 3.3))
def test_least_cells_keep_the_voltage_and_one_fewer_does_not(least, cell):
    cells = least_cells(least, cell)
    assert cells * cell >= least * 0.999999
    assert cells == 1 or (cells - 1) * cell < least


@given(current=st.floats(20.0, 300.0), exponent=st.floats(1.0, 1.4))
def test_above_the_rated_current_autonomy_is_the_law(current, exponent):
    lasts = autonomy_time(400, 20, exponent, 1.0, 1.0, current)
    assert lasts == pytest.approx(peukert_time(400, 20, current, exponent))


@given(current=st.floats(0.1, 20.0), exponent=st.floats(1.01, 1.4))
def test_below_the_rated_current_autonomy_never_counts_on_more_than_the_rating(current, exponent):
    lasts = autonomy_time(400, 20, exponent, 1.0, 1.0, current)
    assert lasts * current / 3600 == pytest.approx(400)
    assert lasts <= peukert_time(400, 20, current, exponent) * 1.000001


@given(days=st.floats(0.5, 7.0), share=st.floats(0.5, 1.0))
def test_a_colder_bank_is_never_a_smaller_one(days, share):
    cold = required_capacity(5000, 0.9, 48, days, 0.8, share)
    assert cold >= required_capacity(5000, 0.9, 48, days, 0.8, 1.0)
