"""The battery monitor: shunt, count of charge, and when the bank counts as full."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from commission.errors import FormulaError
from commission.formulas.monitor import (
    ampere_hours_to_return,
    charge_after_standing,
    charge_efficiency_measured,
    counts_as_full,
    full_current,
    full_voltage,
    recharge_charge,
    shunt_dissipation,
    shunt_misreading,
    shunt_resistance,
    shunt_voltage,
    state_of_charge_counted,
    zero_offset_drift,
)
from tests.formulas.worked import Row, assert_no_number_passes_as_one, hours, row

ROWS = [
    row("500 A and 50 mV at 123.4 A", shunt_voltage, 12.34, 0.005, "V = I × Vr ÷ Ir, from memory",
        in_unit="mV",
        current=123.4, rated_current=500, rated_voltage=0.050),
    row("discharge reads negative", shunt_voltage, -10.5, 0.005, "V = I × Vr ÷ Ir, from memory", in_unit="mV",
        current=-42, rated_current=300, rated_voltage=0.075),
    row("shunt of 100 A and 75 mV", shunt_resistance, 0.00075, 1e-7, "published table of shunts",
        rated_current=100, rated_voltage=0.075),
    row("shunt of 50 A and 75 mV", shunt_resistance, 0.0015, 1e-7, "published table of shunts",
        rated_current=50, rated_voltage=0.075),
    row("heat at full rating", shunt_dissipation, 25.0, 0.1, "P = I² × R, from memory",
        current=500, rated_current=500, rated_voltage=0.050),
    row("75 mV fitted, 50 mV set", shunt_misreading, 90.0, 0.1, "ratio of the two resistances, from memory",
        true_current=60, fitted_current=500, fitted_voltage=0.075, set_current=500, set_voltage=0.050),
    row("zero off by 0.2 A for 30 days", zero_offset_drift, 144.0, 0.1, "offset × 24 × days, from memory",
        offset=0.2, time=30 * hours(24)),
    row("120 Ah at 92 %", ampere_hours_to_return, 130.435, 0.02, "out ÷ efficiency, from memory",
        taken=120, charge_efficiency=0.92),
    row("60 Ah with 10 % on top", recharge_charge, 66.0, 0.1, "a maker's rule of 110 %, from memory",
        removed=60, factor=1.1),
    row("between two full points", charge_efficiency_measured, 0.9091, 0.0005, "out ÷ in, from memory",
        charge_out=850, charge_in=935),
    row("30 A for six hours from full", state_of_charge_counted, 0.55, 0.001, "counting, from memory",
        start=1.0, current=-30, time=hours(6), capacity=400, rate=20, exponent=1.0, charge_efficiency=0.9),
    row("80 Ah out, then 20 A for three hours in", state_of_charge_counted, 94.2, 0.1,
        "coulomb count with charge efficiency, from memory", in_unit="%",
        start=1 - 80 / 450, current=20, time=hours(3), capacity=450, rate=20, exponent=1.0,
        charge_efficiency=0.9),
    row("three months at 5 % a month", charge_after_standing, 385.8, 0.3,
        "compound self-discharge, from memory",
        charge=450, loss=0.05, months=3),
    row("full voltage of 48 V absorbing at 56.4 V", full_voltage, 56.0, 1e-9, "by hand",
        absorption=56.4, nominal_voltage=48),
    row("full current by capacity", full_current, 11.25, 1e-9, "by hand",
        end_current=9, capacity=450, shunt_zero=0.5),
    row("full current by a coarse shunt", full_current, 14.0, 1e-9, "by hand",
        end_current=9, capacity=450, shunt_zero=5),
]  # fmt: skip

states = st.floats(0.0, 1.0)
currents = st.floats(-400.0, 400.0)


@pytest.mark.parametrize("row", ROWS)
def test_worked_example(row: Row) -> None:
    assert row.value() == pytest.approx(row.expected, abs=row.tolerance)


@pytest.mark.parametrize("row", ROWS)
def test_what_is_not_a_number_is_refused(row: Row) -> None:
    assert_no_number_passes_as_one(row)


def test_a_count_over_a_discharge_and_a_charge():
    # coulomb count with charge efficiency; from memory: 450 Ah, 10 A for 8 h out, 20 A for 3 h in at 0.9
    monitor = {"capacity": 450, "rate": 20, "exponent": 1.0, "charge_efficiency": 0.9}
    down = state_of_charge_counted(start=1.0, current=-10, time=hours(8), **monitor)
    up = state_of_charge_counted(start=down, current=20, time=hours(3), **monitor)
    assert up * 450 == pytest.approx(424.0, abs=0.1)


@pytest.mark.parametrize(
    ("current", "time", "expected"),
    [
        # all three conditions together, current charging; common practice
        pytest.param(14.0, 4 * 60, True, id="all three conditions"),
        pytest.param(14.0, 2 * 60, False, id="time not met"),
        pytest.param(-3.0, 30 * 60, False, id="a load beside a cloud is no end of charge"),
        pytest.param(16.1, 30 * 60, False, id="current still high"),
        pytest.param(16.0, 3 * 60, True, id="exactly on each limit"),
    ],
)
def test_full_needs_voltage_low_current_and_time_while_charging(current, time, expected):
    seen = counts_as_full(
        voltage=56.2, full_voltage=56.0, current=current, full_current=16.0, time=time, full_time=3 * 60
    )
    assert seen is expected


def test_a_bank_under_the_full_voltage_is_not_full():
    seen = counts_as_full(
        voltage=55.9, full_voltage=56.0, current=5.0, full_current=16.0, time=3600, full_time=180
    )
    assert seen is False


@pytest.mark.parametrize(
    ("call", "says"),
    [
        pytest.param(lambda: shunt_resistance(0, 0.05), "rated_current = 0", id="shunt without rating"),
        pytest.param(lambda: shunt_voltage(10, 500, 0), "rated_voltage = 0", id="shunt without voltage"),
        pytest.param(lambda: shunt_dissipation(10, -500, 0.05), "rated_current = -500", id="negative rating"),
        pytest.param(lambda: shunt_misreading(10, 500, 0.05, 500, 0), "set_voltage = 0", id="nothing set"),
        pytest.param(lambda: zero_offset_drift(0.2, -1), "time = -1", id="time that runs back"),
        pytest.param(lambda: ampere_hours_to_return(120, 92), "charge_efficiency = 92", id="per cent"),
        pytest.param(lambda: recharge_charge(60, 0.9), "factor = 0.9", id="less back than out"),
        pytest.param(lambda: charge_efficiency_measured(850, 0), "charge_in = 0", id="nothing in"),
        pytest.param(lambda: full_voltage(0, 48), "absorption = 0", id="no absorption"),
        pytest.param(lambda: full_current(-1, 450, 0), "end_current = -1", id="negative end current"),
        pytest.param(lambda: charge_after_standing(450, 5, 3), "loss = 5", id="loss in per cent"),
        pytest.param(lambda: state_of_charge_counted(100, -30, 60, 400, 20, 1, 0.9), "start = 100",
                     id="start"),
        pytest.param(lambda: state_of_charge_counted(1, -30, 60, 400, 20, 0.5, 0.9), "exponent = 0.5",
                     id="exponent"),
    ],
)  # fmt: skip
def test_out_of_range_is_refused_with_what_came(call, says):
    with pytest.raises(FormulaError, match=says):
        call()


@given(start=states, current=currents, time=st.floats(0.0, 1e6), exponent=st.floats(1.0, 1.4))
def test_the_count_stays_between_empty_and_full_and_goes_with_the_current(start, current, time, exponent):
    end = state_of_charge_counted(start, current, time, 400, 20, exponent, 0.9)
    assert 0.0 <= end <= 1.0
    assert (end - start) * current >= 0.0


@given(depth=st.floats(0.01, 0.9), efficiency=st.floats(0.5, 1.0))
def test_putting_back_what_the_formula_asks_for_fills_the_bank(depth, efficiency):
    needed = ampere_hours_to_return(400 * depth, efficiency)
    end = state_of_charge_counted(1.0 - depth, needed, 3600.0, 400, 20, 1.2, efficiency)
    assert end == pytest.approx(1.0)
    assert charge_efficiency_measured(400 * depth, needed) == pytest.approx(efficiency)


@given(
    current=currents, rated=st.sampled_from([50, 100, 300, 500]), voltage=st.sampled_from([0.05, 0.06, 0.075])
)
def test_the_right_shunt_reads_right_and_its_heat_is_voltage_times_current(current, rated, voltage):
    assert shunt_misreading(current, rated, voltage, rated, voltage) == pytest.approx(current)
    heat = shunt_voltage(current, rated, voltage) * current
    assert shunt_dissipation(current, rated, voltage) == pytest.approx(heat)
    assert shunt_dissipation(current, rated, voltage) == pytest.approx(
        current**2 * shunt_resistance(rated, voltage)
    )


@given(current=st.floats(20.5, 300.0), exponent=st.floats(1.05, 1.4))
def test_a_discharge_faster_than_rated_counts_more_than_its_ampere_hours(current, exponent):
    plain = state_of_charge_counted(1.0, -current, 600.0, 400, 20, 1.0, 0.9)
    assert state_of_charge_counted(1.0, -current, 600.0, 400, 20, exponent, 0.9) < plain


@given(first=st.floats(0.0, 12.0), second=st.floats(0.0, 12.0))
def test_standing_for_two_spells_loses_as_much_as_for_both_at_once(first, second):
    parts = charge_after_standing(charge_after_standing(450, 0.05, first), 0.05, second)
    assert parts == pytest.approx(charge_after_standing(450, 0.05, first + second))


@given(absorption=st.floats(10.0, 70.0), nominal=st.sampled_from([12, 24, 36, 48]))
def test_full_voltage_lies_under_absorption(absorption, nominal):
    assert full_voltage(absorption, nominal) < absorption


@given(end=st.floats(0.0, 50.0), capacity=st.floats(10.0, 2000.0), zero=st.floats(0.0, 5.0))
def test_full_current_lies_over_the_end_current_by_what_the_shunt_can_see(end, capacity, zero):
    assert full_current(end, capacity, zero) - end >= max(zero, 0.005 * capacity) * (1 - 1e-9) - 1e-12
