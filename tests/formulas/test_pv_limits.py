"""How many modules and strings fit, and what a controller leaves unused."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from commission.errors import FormulaError
from commission.formulas.pv_limits import (
    array_power_at_full_output,
    clipped_power,
    cold_factor,
    cold_voltage_by_factor,
    controller_output_current,
    greatest_array_current,
    least_in_series,
    most_in_series,
    reverse_current,
    worst_deviation,
)
from commission.formulas.pv_strings import open_circuit_voltage_at
from tests.formulas.worked import Row, assert_no_number_passes_as_one, row

TABLE = "NEC table 690.7(A)"
NOTES = "study notes on NEC 690"
BALANCE = "power balance, from memory"
STRINGS = "IEC 62446-1, comparison with the mean"

ROWS = [
    row("factor at −20 °C", cold_factor, 1.18, 1e-9, TABLE, temperature=-20),
    row("factor at −10 °C", cold_factor, 1.14, 1e-9, TABLE, temperature=-10),
    row("factor at 24 °C", cold_factor, 1.02, 1e-9, TABLE, temperature=24),
    row("factor at 0 °C", cold_factor, 1.10, 1e-9, TABLE, temperature=0),
    row("factor at −1 °C", cold_factor, 1.12, 1e-9, TABLE, temperature=-1),
    row("factor at −40 °C", cold_factor, 1.25, 1e-9, TABLE, temperature=-40),
    row("between whole degrees the colder band", cold_factor, 1.14, 1e-9, TABLE, temperature=-5.5),
    row("above 25 °C nothing is added", cold_factor, 1.0, 1e-9, TABLE, temperature=30),
    row("two of 38.9 V by the table at −20 °C", cold_voltage_by_factor, 91.8, 0.05,
        "published course example",
        module_voltage=38.9, modules=2, factor=1.18),
    row("fourteen by the straight line below 600 V", most_in_series, 14, 1e-9, "module database of pvlib",
        limit=600, module_voltage=36.9 + 0.130387 * 45),
    row("thirteen by the table below 600 V", most_in_series, 13, 1e-9, TABLE, limit=600,
        module_voltage=1.18 * 36.9),
    row("ten by the straight line below 600 V", most_in_series, 10, 1e-9, "module database of pvlib",
        limit=600, module_voltage=45.92 + 0.194701 * 45),
    row("eleven by the table below 600 V", most_in_series, 11, 1e-9, TABLE, limit=600,
        module_voltage=1.18 * 45.92),
    row("exactly on the limit is inside", most_in_series, 3, 1e-9, "by hand", limit=0.3, module_voltage=0.1),
    row("least for 58.8 V with 5 V of headroom", least_in_series, 2, 1e-9, "common practice, from memory",
        charge_voltage=58.8, headroom=5, module_voltage=35.6),
    row("one string of 11.2 A", greatest_array_current, 14.0, 0.01, f"published {NOTES}",
        current=11.2, strings=1, factor=1.25),
    row("one string of 11.2 A, continuous", greatest_array_current, 17.5, 0.01, f"published {NOTES}",
        current=11.2, strings=1, factor=1.25 * 1.25),
    row("9.5 A by 1.56", greatest_array_current, 14.8, 0.05, "published fuse example",
        current=9.5, strings=1, factor=1.56),
    row("four strings of 8.7 A", greatest_array_current, 43.5, 0.01, "NEC 690.8(A)",
        current=8.7, strings=4, factor=1.25),
    row("four strings of 8.7 A, continuous", greatest_array_current, 54.4, 0.05, "NEC 690.8(B)",
        current=8.7, strings=4, factor=1.25 * 1.25),
    row("two strings of 13.9 A", greatest_array_current, 34.75, 0.01, "NEC 690.8(A)",
        current=13.9, strings=2, factor=1.25),
    row("one other string of 10.2 A", reverse_current, 10.2, 0.01, "IEC 62548", current=10.2, strings=2,
        factor=1.0),
    row("one other string of 13.9 A", reverse_current, 17.4, 0.05, "NEC 690.9, from memory",
        current=13.9, strings=2, factor=1.25),
    row("output of 2400 W at 25.6 V", controller_output_current, 90.94, 0.02, BALANCE,
        power=2400, efficiency=0.97, bank_voltage=25.6),
    row("clipped of 2400 W by 80 A", clipped_power, 288.7, 0.5, BALANCE,
        power=2400, rating=80, efficiency=0.97, bank_voltage=25.6),
    row("output of 1200 W at 25.0 V", controller_output_current, 46.08, 0.02, BALANCE,
        power=1200, efficiency=0.96, bank_voltage=25.0),
    row("clipped of 1200 W by 40 A", clipped_power, 158.3, 0.5, BALANCE,
        power=1200, rating=40, efficiency=0.96, bank_voltage=25.0),
    row("output of 5200 W at 51.2 V", controller_output_current, 99.53, 0.02, BALANCE,
        power=5200, efficiency=0.98, bank_voltage=51.2),
    row("nothing clipped of 5200 W by 100 A", clipped_power, 0, 0.5, BALANCE,
        power=5200, rating=100, efficiency=0.98, bank_voltage=51.2),
    row("array for 80 A at 56 V", array_power_at_full_output, 4619, 2, BALANCE,
        rating=80, bank_voltage=56, efficiency=0.97),
    row("three strings, the last low", worst_deviation, -3.72, 0.02, STRINGS, in_unit="%",
        values=[412.0, 409.0, 388.0]),
    row("three strings, the last far low", worst_deviation, -7.67, 0.02, STRINGS, in_unit="%",
        values=[412.0, 409.0, 365.0]),
    row("four short strings, the last low", worst_deviation, -4.09, 0.02, STRINGS, in_unit="%",
        values=[118.2, 117.6, 119.0, 111.9]),
    row("four currents, the third low", worst_deviation, -6.95, 0.02, STRINGS, in_unit="%",
        values=[6.02, 6.11, 5.52, 6.08]),
]  # fmt: skip


@pytest.mark.parametrize("row", ROWS)
def test_worked_example(row: Row) -> None:
    assert row.value() == pytest.approx(row.expected, abs=row.tolerance)


@pytest.mark.parametrize("row", ROWS)
def test_what_is_not_a_number_is_refused(row: Row) -> None:
    assert_no_number_passes_as_one(row)


@pytest.mark.parametrize(
    ("voltage", "coefficient", "coldest", "limit", "most", "one_more"),
    [
        pytest.param(37.8, -0.32, -20, 150, 3, 173.0, id=f"150 V limit, three fit ({NOTES})"),
        pytest.param(49.6, -0.26, -15, 150, 2, 164.3, id=f"150 V limit, two fit ({NOTES})"),
        pytest.param(45.6, -0.28, -25, 250, 4, 259.9, id=f"250 V limit, four fit ({NOTES})"),
        pytest.param(41.5, -0.27, -10, 145, 3, 181.7, id=f"145 V limit, three fit ({NOTES})"),
    ],
)
def test_a_remedy_names_the_most_that_fit_and_what_one_more_gives(
    voltage: float, coefficient: float, coldest: float, limit: float, most: float, one_more: float
) -> None:
    cold = open_circuit_voltage_at(voltage, 1, coefficient=coefficient, temperature=coldest)
    assert most_in_series(limit, cold) == most
    assert (most + 1) * cold == pytest.approx(one_more, abs=0.1)


@given(st.floats(50, 1000), st.floats(10, 60))
def test_the_most_that_fit_stay_below_the_limit_and_one_more_does_not(limit: float, voltage: float) -> None:
    most = most_in_series(limit, voltage)
    assert most * voltage <= limit * (1 + 1e-6)
    assert (most + 1) * voltage > limit


@given(st.floats(12, 60), st.floats(0, 10), st.floats(15, 60))
def test_the_least_in_series_charges_and_one_fewer_does_not(
    charge: float, headroom: float, voltage: float
) -> None:
    least = least_in_series(charge, headroom, voltage)
    assert least * voltage >= (charge + headroom) * (1 - 1e-6)
    assert (least - 1) * voltage < charge + headroom


@given(st.floats(-40, 60), st.floats(-40, 60))
def test_colder_never_lowers_the_factor(one: float, other: float) -> None:
    colder, warmer = sorted((one, other))
    assert cold_factor(colder) >= cold_factor(warmer)


@given(st.floats(0, 10000), st.floats(0, 200), st.floats(0.8, 1.0), st.floats(10, 60))
def test_what_is_not_clipped_fills_the_controller_at_most(
    power: float, rating: float, efficiency: float, voltage: float
) -> None:
    clipped = clipped_power(power, rating, efficiency=efficiency, bank_voltage=voltage)
    taken = controller_output_current(max(0.0, power - clipped), efficiency, voltage)
    assert taken <= rating * (1 + 1e-9) + 1e-9
    assert (clipped == 0.0) == (power <= array_power_at_full_output(rating, voltage, efficiency))


@given(st.lists(st.floats(1, 500), min_size=2, max_size=9))
def test_no_string_deviates_more_than_the_worst(values: list[float]) -> None:
    mean = sum(values) / len(values)
    worst = worst_deviation(values)
    assert all(abs(value / mean - 1) <= abs(worst) + 1e-9 for value in values)


@pytest.mark.parametrize(
    ("formula", "inputs", "says"),
    [
        (cold_factor, {"temperature": -41}, "give the coefficient"),
        (most_in_series, {"limit": 150, "module_voltage": 0}, "module_voltage"),
        (least_in_series, {"charge_voltage": 58, "headroom": -1, "module_voltage": 35}, "headroom"),
        (greatest_array_current, {"current": 9, "strings": 0, "factor": 1.25}, "strings"),
        (clipped_power, {"power": 100, "rating": 10, "efficiency": 1.2, "bank_voltage": 24}, "efficiency"),
        (worst_deviation, {"values": [40.0]}, "at least two"),
        (worst_deviation, {"values": [0.0, 0.0]}, "mean"),
    ],
)
def test_out_of_range_is_refused_with_what_came(formula, inputs, says):
    with pytest.raises(FormulaError, match=says):
        formula(**inputs)
