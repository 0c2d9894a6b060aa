"""The low end: voltage under load against a second way of working it out, and reserves."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import brentq

from commission.errors import FormulaError
from commission.formulas.low_end import (
    bank_resistance,
    reconnect_hysteresis,
    reserve_time,
    sagged_current,
    sagged_voltage,
    state_of_charge_step,
    voltage_under_load,
)
from tests.formulas.worked import Row, assert_no_number_passes_as_one, hours, row

POWER = "constant power behind a resistance, upper root, from memory"

ROWS = [
    row("4 kW on 51.2 V", sagged_voltage, 49.907, 0.01, POWER,
        rest_voltage=51.2, resistance=0.015, power=4000, efficiency=0.93),
    row("current of 4 kW on 51.2 V", sagged_current, 86.181, 0.05, POWER,
        rest_voltage=51.2, resistance=0.015, power=4000, efficiency=0.93),
    row("2 kW on 25.4 V", sagged_voltage, 24.303, 0.01, POWER,
        rest_voltage=25.4, resistance=0.012, power=2000, efficiency=0.9),
    row("surge of 9 kVA on 50.4 V", sagged_voltage, 48.19, 0.02, POWER,
        rest_voltage=50.4, resistance=0.0104, power=9000, efficiency=0.88),
    row("current of a surge of 9 kVA", sagged_current, 212.2, 0.2, POWER,
        rest_voltage=50.4, resistance=0.0104, power=9000, efficiency=0.88),
    row("24 cells, 12 mΩ, 100 A", voltage_under_load, 47.76, 1e-9, "by hand",
        cells=24, rested=2.04, resistance=0.012, current=100),
    row("block of 100 Ah, sealed", bank_resistance, 0.0048, 0.0001,
        "makers' data sheets in general, from memory",
        cells=6, resistance_capacity=0.08, capacity=100, strings=1),
    row("two flooded strings", bank_resistance, 24 * 0.2 / 450, 1e-9, "by hand",
        cells=24, resistance_capacity=0.2, capacity=225, strings=2),
    row("hysteresis of flooded cells", reconnect_hysteresis, 4.8, 0.01, "flooded profile, from memory",
        cells=24, disconnect=1.9, reconnect=2.1),
    row("disconnect five points over the cut-off", state_of_charge_step, 0.15, 1e-9, "by hand",
        state=0.10, step=0.05),
    row("twenty points of 400 Ah at 40 A", reserve_time, 2.0, 1e-9, "by hand", in_unit="h",
        capacity=400, upper=0.5, lower=0.3, current=40),
]  # fmt: skip

inverters = {
    "rest_voltage": st.floats(22.0, 58.0),
    "resistance": st.floats(0.001, 0.03),
    "power": st.floats(10.0, 3000.0),
    "efficiency": st.floats(0.8, 1.0),
}


@pytest.mark.parametrize("row", ROWS)
def test_worked_example(row: Row) -> None:
    assert row.value() == pytest.approx(row.expected, abs=row.tolerance)


@pytest.mark.parametrize("row", ROWS)
def test_what_is_not_a_number_is_refused(row: Row) -> None:
    assert_no_number_passes_as_one(row)


@pytest.mark.parametrize(
    ("call", "says"),
    [
        pytest.param(
            lambda: sagged_voltage(51.2, 0.015, 50000, 0.93), "passes at most", id="more than it can"
        ),
        pytest.param(lambda: sagged_current(51.2, 0.015, 4000, 93), "efficiency = 93", id="per cent"),
        pytest.param(lambda: sagged_voltage(0, 0.015, 4000, 0.93), "rest_voltage = 0", id="dead bank"),
        pytest.param(lambda: voltage_under_load(24, 2.04, 0.5, 100), "more than the bank", id="dead short"),
        pytest.param(lambda: voltage_under_load(24, 2.04, 0.012, -1), "current = -1", id="charging"),
        pytest.param(lambda: bank_resistance(24, 0.2, 225, 0), "strings = 0", id="no strings"),
        pytest.param(lambda: state_of_charge_step(0.98, 0.05), "above full", id="above full"),
        pytest.param(lambda: state_of_charge_step(0.1, 5), "step = 5", id="step in per cent"),
        pytest.param(lambda: reserve_time(400, 0.3, 0.5, 40), "lower = 0.5", id="reserve upside down"),
        pytest.param(lambda: reserve_time(400, 0.5, 0.3, 0), "current = 0", id="no load"),
        pytest.param(lambda: reconnect_hysteresis(24, 2.1, 1.9), "must lie above", id="reconnect below"),
    ],
)
def test_out_of_range_is_refused_with_what_came(call, says):
    with pytest.raises(FormulaError, match=says):
        call()


def test_the_refusal_names_the_power_that_would_pass():
    # the most that passes is where the voltage has fallen to half: 0.93 × 51.2² ÷ (4 × 0.015) = 40.63 kW
    with pytest.raises(FormulaError, match="at most 40632 W"):
        sagged_voltage(51.2, 0.015, 41000, 0.93)
    assert sagged_voltage(51.2, 0.015, 40632.0, 0.93) == pytest.approx(25.6, abs=0.2)


@given(**inverters)
def test_voltage_and_current_carry_the_power_and_obey_the_resistance(
    rest_voltage, resistance, power, efficiency
):
    voltage = sagged_voltage(rest_voltage, resistance, power, efficiency)
    current = sagged_current(rest_voltage, resistance, power, efficiency)
    assert voltage * current * efficiency == pytest.approx(power)
    assert voltage == pytest.approx(rest_voltage - resistance * current)


@given(**inverters)
def test_agrees_with_a_root_found_by_search(rest_voltage, resistance, power, efficiency):
    def unbalanced(voltage: float) -> float:
        return float((rest_voltage - voltage) / resistance * voltage - power / efficiency)

    found = brentq(unbalanced, rest_voltage / 2.0, rest_voltage)
    assert sagged_voltage(rest_voltage, resistance, power, efficiency) == pytest.approx(found)


@given(less=st.floats(0.0, 3000.0), more=st.floats(0.0, 3000.0))
def test_more_load_is_never_a_higher_voltage(less, more):
    low, high = sorted((less, more))
    assert sagged_voltage(51.2, 0.015, high, 0.93) <= sagged_voltage(51.2, 0.015, low, 0.93)


@given(upper=st.floats(0.5, 1.0), lower=st.floats(0.0, 0.5), current=st.floats(1.0, 200.0))
def test_two_reserves_in_a_row_last_as_long_as_one(upper, lower, current):
    parts = reserve_time(400, upper, 0.5, current) + reserve_time(400, 0.5, lower, current)
    assert parts == pytest.approx(reserve_time(400, upper, lower, current))
    assert parts <= hours(400 / current) * 1.000001
