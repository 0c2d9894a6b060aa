"""How steep a response must be, and how often a PV inverter trips on a full bank."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from commission.errors import FormulaError
from commission.formulas.ac_coupling import current_for_overshoot, dc_voltage_overshoot
from commission.formulas.frequency_shift import (
    delay_for_time,
    held_frequency,
    time_between_trips,
    zero_for_frequency,
)
from tests.formulas.worked import Row, assert_no_number_passes_as_one, row

ROWS = [
    row("1.5 of 5 kW by the line of EN 50549-1", held_frequency, 51.95, 0.005,
        "EN 50549-1 4.6.1, from 50.2 Hz, droop 5 %", power=0.3, power_before=1, start=50.2, zero=52.7),
    row("the end of that line from what it holds", zero_for_frequency, 52.7, 0.005,
        "EN 50549-1 4.6.1, turned round", power=0.3, frequency=51.95, start=50.2),
    row("the end of the line of Australia A", zero_for_frequency, 52.0, 0.005,
        "AS/NZS 4777.2:2020 4.5, 1.5 of 5 kW at 51.475 Hz, from memory",
        power=0.3, frequency=51.475, start=50.25),
    row("60 s and a tenth a minute, a tenth of load", time_between_trips, 120, 1e-9, "EN 50549-1 4.10",
        delay=60, ramp=600, power=0.1),
    row("300 s without a ramp", time_between_trips, 300, 0, "IEEE 1547-2003: 5 min", delay=300, ramp=0,
        power=0.5),
    row("200 s with that ramp", delay_for_time, 140, 1e-9, "EN 50549-1 4.10, by hand",
        time_between=200, ramp=600, power=0.1),
    row("a ramp that is long enough alone", delay_for_time, 0, 0, "by hand", time_between=200, ramp=600,
        power=0.5),
    row("80 A over 12 mΩ", current_for_overshoot, 80, 1e-6, "Ohm's law", limit=57.36, voltage=56.4,
        resistance=0.012),
]  # fmt: skip

shares = st.floats(0.0, 0.95)


@pytest.mark.parametrize("row", ROWS)
def test_worked_example(row: Row) -> None:
    assert row.value() == pytest.approx(row.expected, abs=row.tolerance)


@pytest.mark.parametrize("row", ROWS)
def test_what_is_not_a_number_is_refused(row: Row) -> None:
    assert_no_number_passes_as_one(row)


@pytest.mark.parametrize(
    ("formula", "inputs", "says"),
    [
        (zero_for_frequency, {"power": 1, "frequency": 51, "start": 50.2}, "whole power"),
        (zero_for_frequency, {"power": 0.5, "frequency": 50.2, "start": 50.2}, "must lie above"),
        (time_between_trips, {"delay": -1, "ramp": 0, "power": 0}, "delay"),
        (delay_for_time, {"time_between": 200, "ramp": 600, "power": 1.2}, "power"),
        (current_for_overshoot, {"limit": 56, "voltage": 57, "resistance": 0.01}, "lies under"),
    ],
)
def test_out_of_range_is_refused_with_what_came(formula, inputs, says):
    with pytest.raises(FormulaError, match=says):
        formula(**inputs)


@given(shares, st.floats(50.3, 55.0))
def test_a_line_that_ends_where_it_should_holds_the_share_there(power: float, frequency: float) -> None:
    zero = zero_for_frequency(power, frequency, 50.2)
    assert held_frequency(power, 1.0, 50.2, zero) == pytest.approx(frequency)


@given(shares, st.floats(0.0, 600.0), st.floats(0.0, 600.0))
def test_the_delay_that_passes_keeps_the_time(power: float, ramp: float, time: float) -> None:
    assert time_between_trips(delay_for_time(time, ramp, power), ramp, power) >= time - 1e-6


@given(st.floats(40.0, 60.0), st.floats(0.0, 5.0), st.floats(0.001, 0.1))
def test_the_current_that_passes_just_reaches_the_limit(volts: float, room: float, ohms: float) -> None:
    current = current_for_overshoot(volts + room, volts, ohms)
    assert dc_voltage_overshoot(volts, current, ohms) == pytest.approx(volts + room)
