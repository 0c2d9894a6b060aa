"""Prospective short-circuit current of banks."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from commission.errors import FormulaError
from commission.formulas.fault_current import (
    bank_short_circuit_current,
    clearing_current,
    fault_resistance,
    load_step_resistance,
    load_step_short_circuit_current,
    nominal_fault_voltage,
    one_minute_short_circuit_current,
    parallel_short_circuit_current,
    peak_short_circuit_current,
    quasi_steady_short_circuit_current,
    short_circuit_current,
    told_fault_resistance,
    two_point_resistance,
    two_point_short_circuit_current,
)
from tests.formulas.worked import Row, assert_no_number_passes_as_one, row

ROWS = [
    row("voltage behind a fault of 48 V", nominal_fault_voltage, 50.4, 1e-9, "IEC 61660-1, from memory",
        factor=1.05, nominal_voltage=48),
    row("nine tenths of 7.2 mΩ", fault_resistance, 0.00648, 1e-9, "IEC 61660-1, from memory",
        share=0.9, resistance=0.0072),
    row("12 V that drives 2400 A", told_fault_resistance, 0.005, 1e-9,
        "battery short-circuit current calculation page", voltage=12, current=2400),
    row("32 A of curve C", clearing_current, 320, 1e-9, "IEC 60898-1, from memory", rating=32, multiple=10),
    row("12 V behind 5 mΩ", short_circuit_current, 2400, 5, "battery short-circuit current calculation page",
        voltage=12, resistance=0.005),
    row("12 V behind 20 mΩ", short_circuit_current, 600, 1,
        "telecommunication pages on short-circuit current",
        voltage=12, resistance=0.02),
    row("24 cells with joints and cable", bank_short_circuit_current, 5750, 15,
        "basic formula with cable, from memory",
        cells=24, cell_voltage=2.06, cell_resistance=0.00028, connection_resistance=24 * 0.00003,
        cable_resistance=6 * 0.000193),
    row("two strings at their terminals", parallel_short_circuit_current, 13714, 10,
        "own derivation, from memory",
        string_current=bank_short_circuit_current(24, 2.0, 0.00025, 0.001, 0.0), strings=2),
    row("one-minute rule", one_minute_short_circuit_current, 4500, 1, "IEEE 946, from memory",
        one_minute_current=450),
    row("peak of a 48 V bank", peak_short_circuit_current, 6738, 10, "IEC 61660-1, from memory",
        nominal_voltage=48, bank_resistance=0.0072, path_resistance=0.001),
    row("after the peak", quasi_steady_short_circuit_current, 5839, 10, "IEC 61660-1, from memory",
        nominal_voltage=48, bank_resistance=0.0072, path_resistance=0.001),
    row("three strings of 5.2 kA", parallel_short_circuit_current, 15600, 1, "strings add, from memory",
        string_current=5200, strings=3),
    row("slope of two points", two_point_resistance, 0.2, 0.002,
        "published page, slope of a curve, from memory",
        in_unit="mΩ", first_voltage=1.98, first_current=100, second_voltage=1.90, second_current=500),
    row("current by the same two points", two_point_short_circuit_current, 10000, 1e-6,
        "by hand: 2.00 V ÷ 0.2 mΩ",
        first_voltage=1.98, first_current=100, second_voltage=1.90, second_current=500),
    row("resistance of a 12 V block by a load step", load_step_resistance, 6.0, 0.01,
        "page of battery formulae, from memory", in_unit="mΩ", rested=12.7, loaded=12.1, current=100),
    row("current of that block", load_step_short_circuit_current, 2117, 2,
        "page of battery formulae, from memory",
        rested=12.7, loaded=12.1, current=100),
]  # fmt: skip

resistances = st.floats(0.0005, 0.02)
paths = st.floats(0.0, 0.02)


@pytest.mark.parametrize("row", ROWS)
def test_worked_example(row: Row) -> None:
    assert row.value() == pytest.approx(row.expected, abs=row.tolerance)


@pytest.mark.parametrize("row", ROWS)
def test_what_is_not_a_number_is_refused(row: Row) -> None:
    assert_no_number_passes_as_one(row)


@pytest.mark.parametrize(
    ("call", "says"),
    [
        pytest.param(lambda: short_circuit_current(12, 0), "resistance = 0", id="no resistance"),
        pytest.param(lambda: nominal_fault_voltage(0, 48), "factor = 0", id="no factor"),
        pytest.param(lambda: fault_resistance(0, 0.01), "share = 0", id="no share"),
        pytest.param(lambda: told_fault_resistance(12, 0), "current = 0", id="no told current"),
        pytest.param(lambda: clearing_current(0, 10), "rating = 0", id="no device"),
        pytest.param(lambda: bank_short_circuit_current(0, 2, 0.0003, 0, 0), "cells = 0", id="no cells"),
        pytest.param(lambda: bank_short_circuit_current(24, 2, 0, 0, 0), "cell_resistance = 0",
                     id="ideal cell"),
        pytest.param(lambda: parallel_short_circuit_current(5200, -1), "strings = -1", id="fewer than none"),
        pytest.param(lambda: load_step_resistance(12.1, 12.7, 100), "loaded = 12.7", id="voltage that rose"),
        pytest.param(lambda: load_step_short_circuit_current(12.7, 12.7, 100), "must lie under",
                     id="no fall"),
        pytest.param(lambda: two_point_resistance(1.98, 500, 1.9, 100), "second_current = 100", id="swapped"),
        pytest.param(lambda: two_point_short_circuit_current(1.9, 100, 1.98, 500), "second_voltage = 1.98",
                     id="rose"),
        pytest.param(lambda: one_minute_short_circuit_current(0), "one_minute_current = 0", id="no rating"),
        pytest.param(lambda: peak_short_circuit_current(48, 0, 0.001), "bank_resistance = 0",
                     id="ideal bank"),
        pytest.param(lambda: quasi_steady_short_circuit_current(48, 0.007, -1), "path_resistance = -1",
                     id="path"),
    ],
)  # fmt: skip
def test_out_of_range_is_refused_with_what_came(call, says):
    with pytest.raises(FormulaError, match=says):
        call()


@given(
    voltage=st.floats(1.5, 60.0),
    resistance=resistances,
    first=st.floats(1.0, 40.0),
    more=st.floats(5.0, 30.0),
)
def test_every_way_finds_the_source_that_the_readings_were_made_from(voltage, resistance, first, more):
    second = first + more
    at_first, at_second = voltage - resistance * first, voltage - resistance * second
    expected = short_circuit_current(voltage, resistance)
    two_points = (at_first, first, at_second, second)
    assert two_point_resistance(*two_points) == pytest.approx(resistance)
    assert two_point_short_circuit_current(*two_points) == pytest.approx(expected)
    assert load_step_resistance(voltage, at_second, second) == pytest.approx(resistance)
    assert load_step_short_circuit_current(voltage, at_second, second) == pytest.approx(expected)


@given(bank=resistances, path=paths, more=paths)
def test_more_path_is_never_more_current_and_the_peak_is_never_less_than_what_follows(bank, path, more):
    peak = peak_short_circuit_current(48, bank, path)
    assert peak >= peak_short_circuit_current(48, bank, path + more)
    assert peak >= quasi_steady_short_circuit_current(48, bank, path)


@given(bank=resistances, path=paths)
def test_the_standards_maximum_lies_above_the_basic_form_at_nominal_voltage(bank, path):
    basic = bank_short_circuit_current(24, 2.0, bank / 24, path, 0.0)
    assert peak_short_circuit_current(48, bank, path) > basic


@given(strings=st.integers(1, 8), current=st.floats(100.0, 10000.0))
def test_the_fuse_of_a_string_sees_all_the_others(strings, current):
    whole = parallel_short_circuit_current(current, strings)
    assert parallel_short_circuit_current(current, strings - 1) == pytest.approx(whole - current)


@given(bank=resistances, path=paths)
def test_voltage_and_resistance_by_the_rules_of_a_region_give_the_standard_s_peak(bank, path):
    loop = fault_resistance(0.9, bank) + path
    by_rules = short_circuit_current(nominal_fault_voltage(1.05, 48), loop)
    assert by_rules == pytest.approx(peak_short_circuit_current(48, bank, path))
