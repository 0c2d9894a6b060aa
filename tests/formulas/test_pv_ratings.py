"""Two-sided modules, string fuses, cold strings by the one-diode model, and what a string must hold."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from commission.errors import FormulaError
from commission.formulas.pv_limits import reverse_current
from commission.formulas.pv_ratings import (
    aged_voltage,
    fault_feed,
    limit_over_bank,
    needed_string_voltage,
    open_circuit_voltage_by_diode,
    share_lost_switched,
    two_sided_current,
    voltage_mismatch,
)
from tests.formulas.worked import Row, assert_no_number_passes_as_one, row

ROWS = [
    row("a tenth from behind", two_sided_current, 15.29, 1e-9, "by hand", current=13.9, rear_gain=0.1),
    row("a module of one side", two_sided_current, 13.9, 1e-12, "by hand", current=13.9, rear_gain=0.0),
    row("five per cent of age", aged_voltage, 33.82, 1e-9, "by hand", voltage=35.6, allowance=0.05),
    row("hot string for 58.8 V with 5 V of headroom", needed_string_voltage, 65.0, 1e-9, "by hand",
        charge_voltage=58.8, headroom=5.0, drop=1.2),
    row("bank and 136 V", limit_over_bank, 178.0, 1e-9, "by hand: 24 × 1.75 V + 136 V",
        bank_voltage=42.0, over=136.0),
    row("72 cells on a 12 V bank", share_lost_switched, 0.55, 1e-9, "by hand",
        maximum_power_voltage=32.0, bank_voltage=14.4),
    row("below the bank nothing is lost this way", share_lost_switched, 0.0, 1e-12, "by hand",
        maximum_power_voltage=14.0, bank_voltage=14.4),
    row("one of three a module short", voltage_mismatch, 0.25, 1e-9, "by hand",
        voltages=[124.8, 124.8, 93.6]),
    row("17.4 A from one other string", fault_feed, 17.375, 1e-9, "NEC 690.9(A)",
        currents=[13.9], factor=1.25, backfeed=0.0),
    row("27.8 A from two others", fault_feed, 27.8, 1e-9, "IEC 62548 6.3",
        currents=[13.9, 13.9], factor=1.0, backfeed=0.0),
    row("what the controller drives back", fault_feed, 15.2, 1e-9, "by hand",
        currents=[10.2], factor=1.0, backfeed=5.0),
    row("no change at 25 °C", open_circuit_voltage_by_diode, 369.0, 1e-9, "definition",
        module_voltage=36.9, modules=10, thermal_slope=1.5, temperature=25.0),
    row("37.3 V at −28.9 °C", open_circuit_voltage_by_diode, 43.706, 0.005,
        "by hand: 244.261 ÷ 298.15 × (37.3 + 1.46 × 10.9921)",
        module_voltage=37.3, modules=1, thermal_slope=1.46, temperature=-28.889),
]  # fmt: skip


@pytest.mark.parametrize("row", ROWS)
def test_worked_examples(row: Row) -> None:
    assert row.value() == pytest.approx(row.expected, abs=row.tolerance)


@pytest.mark.parametrize("row", ROWS)
def test_no_number_passes_as_one(row: Row) -> None:
    assert_no_number_passes_as_one(row)


@given(current=st.floats(0.1, 20.0), strings=st.integers(1, 12), factor=st.sampled_from([1.0, 1.25]))
def test_the_feed_of_like_strings_is_the_reverse_current(current, strings, factor):
    fed = fault_feed([current] * (strings - 1), factor=factor, backfeed=0.0)
    assert fed == pytest.approx(reverse_current(current, strings, factor))


@given(voltage=st.floats(10.0, 60.0), temperature=st.floats(-50.0, 24.0), share=st.floats(0.03, 0.055))
def test_colder_is_higher_by_less_and_less(voltage, temperature, share):
    def at(degrees: float) -> float:
        return open_circuit_voltage_by_diode(voltage, 1, thermal_slope=share * voltage, temperature=degrees)

    assert at(temperature) > at(temperature + 1.0)
    steps = [at(temperature - step) - at(temperature - step - 1.0) for step in range(3)]
    assert steps == sorted(steps)  # each further degree of cold adds less


@pytest.mark.parametrize(
    "call",
    [
        lambda: two_sided_current(-1.0, 0.1),
        lambda: aged_voltage(30.0, 1.5),
        lambda: needed_string_voltage(0.0, 1.0, 1.0),
        lambda: limit_over_bank(-1.0, 1.0),
        lambda: share_lost_switched(0.0, 12.0),
        lambda: voltage_mismatch([]),
        lambda: voltage_mismatch([0.0, 0.0]),
        lambda: fault_feed([1.0], factor=0.5, backfeed=0.0),
        lambda: open_circuit_voltage_by_diode(37.0, 1, thermal_slope=0.0, temperature=0.0),
        lambda: open_circuit_voltage_by_diode(37.0, 1, thermal_slope=1.5, temperature=-280.0),
    ],
)
def test_nonsense_is_refused(call):
    with pytest.raises(FormulaError):
        call()
