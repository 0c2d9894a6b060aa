"""AC-coupled PV: throttling by frequency, trips, return and what flows back into the bank."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from commission.errors import FormulaError
from commission.formulas.ac_coupling import (
    backfed_charge_current,
    dc_voltage_overshoot,
    droop_frequency,
    droop_power_fraction,
    largest_coupled_power,
    linear_frequency,
    linear_power_fraction,
    ramp_fraction,
    return_time,
    threshold_frequency,
    threshold_power_fraction,
    trips,
    voltage_trip,
)
from tests.formulas.worked import Row, assert_no_number_passes_as_one, row

DROOP = "IEEE 1547-2018 6.5.2.7.2"
LFSM = "EN 50549-1 4.6.1"
BRITAIN = "ENA EREC G98 and G99, from memory"
AUSTRALIA = "AS/NZS 4777.2:2020, from memory"

ROWS = [
    row("61.0 Hz, default droop", droop_power_fraction, 0.678667, 0.0005, DROOP,
        frequency=61.0, nominal=60, deadband=0.036, droop=0.05, power_before=1, power_least=0),
    row("61.2 Hz, at the slow trip", droop_power_fraction, 0.612, 0.0005, DROOP,
        frequency=61.2, nominal=60, deadband=0.036, droop=0.05, power_before=1, power_least=0),
    row("62.0 Hz, at the fast trip", droop_power_fraction, 0.345333, 0.0005, DROOP,
        frequency=62.0, nominal=60, deadband=0.036, droop=0.05, power_before=1, power_least=0),
    row("61.0 Hz from half of the rating", droop_power_fraction, 0.178667, 0.0005, DROOP,
        frequency=61.0, nominal=60, deadband=0.036, droop=0.05, power_before=0.5, power_least=0),
    row("60.03 Hz, inside the deadband", droop_power_fraction, 1.0, 0.0005, DROOP,
        frequency=60.03, nominal=60, deadband=0.036, droop=0.05, power_before=1, power_least=0),
    row("60.5 Hz from a fifth of the rating", droop_power_fraction, 0.045333, 0.0005, DROOP,
        frequency=60.5, nominal=60, deadband=0.036, droop=0.05, power_before=0.2, power_least=0),
    row("60.9 Hz, steep characteristic", droop_power_fraction, 0.509444, 0.0005, DROOP,
        frequency=60.9, nominal=60, deadband=0.017, droop=0.03, power_before=1, power_least=0),
    row("no output, steepest characteristic", droop_frequency, 61.217, 0.001, DROOP,
        power=0, nominal=60, deadband=0.017, droop=0.02, power_before=1),
    row("no output from 40 % of the rating", droop_frequency, 61.236, 0.001, DROOP,
        power=0, nominal=60, deadband=0.036, droop=0.05, power_before=0.4),
    row("lowest share held at 61.2 Hz, steepest", droop_power_fraction, 0.014167, 0.0005, DROOP,
        frequency=61.2, nominal=60, deadband=0.017, droop=0.02, power_before=1, power_least=0),
    row("30 % held, default droop", droop_frequency, 62.136, 0.005, f"{DROOP}, turned round",
        power=1.5 / 5.0, nominal=60, deadband=0.036, droop=0.05, power_before=1),
    row("50.7 Hz, default", threshold_power_fraction, 0.8, 0.0005, LFSM,
        frequency=50.7, threshold=50.2, droop=0.05, nominal=50),
    row("51.0 Hz, default", threshold_power_fraction, 0.68, 0.0005, LFSM,
        frequency=51.0, threshold=50.2, droop=0.05, nominal=50),
    row("51.5 Hz, at the usual trip", threshold_power_fraction, 0.48, 0.0005, LFSM,
        frequency=51.5, threshold=50.2, droop=0.05, nominal=50),
    row("51.4 Hz, flattest droop", threshold_power_fraction, 0.8, 0.0005, f"{LFSM}, from memory",
        frequency=51.4, threshold=50.2, droop=0.12, nominal=50),
    row("51.4 Hz, Great Britain", threshold_power_fraction, 0.8, 0.0005, BRITAIN,
        frequency=51.4, threshold=50.4, droop=0.1, nominal=50),
    row("52.0 Hz, Great Britain, at the trip", threshold_power_fraction, 0.68, 0.0005, BRITAIN,
        frequency=52.0, threshold=50.4, droop=0.1, nominal=50),
    row("30 % held, default", threshold_frequency, 51.95, 0.005, f"{LFSM}, turned round",
        power=1.5 / 5.0, threshold=50.2, droop=0.05, nominal=50),
    row("51.0 Hz, Australia A", linear_power_fraction, 0.571429, 0.0005, AUSTRALIA,
        frequency=51.0, start=50.25, zero=52.0),
    row("30 % held, Australia A", linear_frequency, 51.475, 0.005, AUSTRALIA, power=1.5 / 5.0, start=50.25,
        zero=52.0),
    row("delay and ramp of the defaults", return_time, 600, 1, "IEEE 1547-2018 table 4", delay=300, ramp=300),
    row("two minutes into six", ramp_fraction, 33.333, 0.1, "AS/NZS 4777.2:2020, ramp over six minutes",
        in_unit="%",
        time=120, ramp=360),
    row("fast trip of 240 V", voltage_trip, 288.0, 0.1, "IEEE 1547-2018 table 13", nominal=240,
        threshold=1.2),
    row("slow trip of 240 V", voltage_trip, 264.0, 0.1, "IEEE 1547-2018 table 13", nominal=240,
        threshold=1.1),
    row("5 kW at 94 % into 56.4 V", backfed_charge_current, 83.333, 0.001, "power balance, by hand",
        power=5000, efficiency=0.94, bank_voltage=56.4),
    row("80 A at 57.6 V and a sure load of 500 W", largest_coupled_power, 5620, 1e-6,
        "bank rule, common practice, by hand", current=80, bank_voltage=57.6, efficiency=0.9, load=500),
    row("80 A through 12 mΩ at 56.4 V", dc_voltage_overshoot, 57.36, 1e-9,
        "Ohm's law, common practice, by hand",
        voltage=56.4, current=80, resistance=0.012),
]  # fmt: skip


@pytest.mark.parametrize("row", ROWS)
def test_worked_example(row: Row) -> None:
    assert row.value() == pytest.approx(row.expected, abs=row.tolerance)


@pytest.mark.parametrize("row", ROWS)
def test_what_is_not_a_number_is_refused(row: Row) -> None:
    assert_no_number_passes_as_one(row)


def test_a_legacy_unit_trips_where_a_newer_one_throttles() -> None:
    """Above 60.5 Hz for 0.16 s (IEEE 1547-2003 table 2, from memory)."""
    assert trips(60.6, 0.2, 60.5, 0.16)
    assert not trips(60.6, 0.1, 60.5, 0.16)
    assert not trips(60.5, 10.0, 60.5, 0.16)


powers = st.floats(0, 1)
droops = st.floats(0.02, 0.12)
deadbands = st.floats(0.0, 1.0)


@given(powers, powers, droops, deadbands)
def test_the_frequency_for_a_share_gives_that_share(
    one: float, other: float, droop: float, deadband: float
) -> None:
    power, before = sorted((one, other))
    frequency = droop_frequency(power, 60.0, deadband=deadband, droop=droop, power_before=before)
    assert droop_power_fraction(
        frequency, 60.0, deadband=deadband, droop=droop, power_before=before, power_least=0.0
    ) == pytest.approx(power, abs=1e-9)


@given(powers, droops, st.floats(50.2, 52.0))
def test_the_frequency_for_a_share_beyond_a_threshold_gives_that_share(
    power: float, droop: float, threshold: float
) -> None:
    frequency = threshold_frequency(power, threshold, droop=droop, nominal=50.0)
    assert threshold_power_fraction(frequency, threshold, droop=droop, nominal=50.0) == pytest.approx(
        power, abs=1e-9
    )


@given(powers, st.floats(50.0, 51.0), st.floats(0.1, 3.0))
def test_the_frequency_for_a_share_on_a_line_gives_that_share(
    power: float, start: float, width: float
) -> None:
    frequency = linear_frequency(power, start, start + width)
    assert linear_power_fraction(frequency, start, start + width) == pytest.approx(power, abs=1e-9)


@given(st.floats(59, 66), st.floats(59, 66), powers, powers, droops)
def test_a_higher_frequency_never_gives_more_and_never_less_than_the_least(
    one: float, other: float, before: float, least: float, droop: float
) -> None:
    def output(frequency: float) -> float:
        return droop_power_fraction(
            frequency, 60.0, deadband=0.036, droop=droop, power_before=before, power_least=least
        )

    lower, higher = sorted((one, other))
    assert output(lower) >= output(higher)
    assert min(before, least) <= output(higher) <= before


@given(st.floats(45, 55), st.floats(45, 55))
def test_shares_beyond_a_threshold_fall_from_one_to_nothing(one: float, other: float) -> None:
    pair = sorted((one, other))
    beyond = [threshold_power_fraction(each, 50.2, droop=0.05, nominal=50.0) for each in pair]
    linear = [linear_power_fraction(each, 50.25, 52.0) for each in pair]
    for lower, higher in (beyond, linear):
        assert 1.0 >= lower >= higher >= 0.0


@given(st.floats(1, 500), st.floats(20, 60), st.floats(0.9, 0.95), st.floats(0, 3000))
def test_the_largest_pv_charges_with_just_the_bank_limit(
    current: float, voltage: float, efficiency: float, load: float
) -> None:
    power = largest_coupled_power(current, voltage, efficiency=efficiency, load=load)
    assert backfed_charge_current(power - load, efficiency, voltage) == pytest.approx(current)


@pytest.mark.parametrize(
    ("formula", "inputs", "says"),
    [
        (droop_power_fraction,
         {"frequency": 61, "nominal": 60, "deadband": 0.036, "droop": 0, "power_before": 1, "power_least": 0},
         "droop"),
        (droop_frequency,
         {"power": 0.8, "nominal": 60, "deadband": 0.036, "droop": 0.05, "power_before": 0.5},
         "not be above"),
        (threshold_frequency, {"power": 1.2, "threshold": 50.2, "droop": 0.05, "nominal": 50}, "power"),
        (linear_power_fraction, {"frequency": 51, "start": 52, "zero": 50.25}, "must lie above"),
        (ramp_fraction, {"time": 10, "ramp": 0}, "ramp"),
        (backfed_charge_current, {"power": 1000, "efficiency": 94, "bank_voltage": 50}, "efficiency"),
        (dc_voltage_overshoot, {"voltage": 0, "current": 10, "resistance": 0.01}, "voltage"),
        (trips, {"frequency": 61, "duration": -1, "threshold": 60.5, "clearing_time": 0.16}, "duration"),
    ],
)  # fmt: skip
def test_out_of_range_is_refused_with_what_came(formula, inputs, says):
    with pytest.raises(FormulaError, match=says):
        formula(**inputs)
