"""Lead-acid cells: gravity, rested voltage, state of charge and Peukert's law."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from commission.errors import FormulaError
from commission.formulas.lead_acid import (
    capacity_at_rate,
    delivered_charge,
    effective_discharge_current,
    freezing_temperature,
    gravity_at_reference,
    gravity_from_open_circuit_voltage,
    gravity_spread,
    open_circuit_voltage_from_gravity,
    peukert_exponent,
    peukert_time,
    peukert_time_one_ampere,
    rest_voltage,
    rested_voltage_from_table,
    state_of_charge_from_table,
)
from tests.formulas.worked import Row, assert_no_number_passes_as_one, fahrenheit, hours, row

# Flooded 12 V block at 80 °F, rested, and the gravity that goes with it; a battery maker's table and a
# published list of specific gravity.
BLOCK_VOLTAGES = [11.89, 12.06, 12.24, 12.45, 12.65]
GRAVITIES = [1.120, 1.155, 1.190, 1.225, 1.265]
STATES = [0.0, 0.25, 0.50, 0.75, 1.00]

PEUKERT = "Peukert in the rated-hour form, from memory"

ROWS = [
    row("hydrometer in the frost", gravity_at_reference, 1.226, 0.0005,
        "generator-set service manual, example 1",
        gravity=1.25, temperature=fahrenheit(20), temperature_reference=fahrenheit(80),
        per_kelvin=0.004 / 10 * 1.8),
    row("hydrometer in the heat", gravity_at_reference, 1.243, 0.0005,
        "generator-set service manual, example 2",
        gravity=1.235, temperature=fahrenheit(100), temperature_reference=fahrenheit(80),
        per_kelvin=0.004 / 10 * 1.8),
    row("metric correction from 10 °C", gravity_at_reference, 1.2445, 0.0003, "metric rule, from memory",
        gravity=1.255, temperature=10, temperature_reference=25, per_kelvin=0.0007),
    row("acid of 1.265", freezing_temperature, -55, 0.5,
        "open data: battery handbook, freezing of electrolyte", gravity=1.265),
    row("acid of 1.150", freezing_temperature, -15, 0.5,
        "open data: battery handbook, freezing of electrolyte", gravity=1.150),
    row("acid of 1.200", freezing_temperature, -27, 1, "tables of sulphuric acid in handbooks, from memory",
        gravity=1.200),
    row("acid of 1.300", freezing_temperature, -55, 0.5, "the last row holds for stronger acid, by hand",
        gravity=1.300),
    row("sealed cell rested at 2.11 V", gravity_from_open_circuit_voltage, 1.265, 0.01,
        "IEEE 450 annex, from memory", voltage=2.11),
    row("cell of 1.265", open_circuit_voltage_from_gravity, 2.11, 0.01, "IEEE 450 annex, from memory",
        gravity=1.265),
    row("12 V block of 1.265", rest_voltage, 12.66, 0.01, "IEEE 450 annex, from memory",
        cells=6, per_cell=open_circuit_voltage_from_gravity(1.265)),
    row("cell of 1.215", open_circuit_voltage_from_gravity, 2.06, 0.03, "IEEE 450 annex, from memory",
        gravity=1.215),
    row("48 V bank of 1.215", rest_voltage, 49.44, 0.03, "IEEE 450 annex, from memory",
        cells=24, per_cell=open_circuit_voltage_from_gravity(1.215)),
    row("24 rested cells", rest_voltage, 50.88, 0.01, "n cells of one voltage, from memory", cells=24,
        per_cell=2.12),
    row("flooded block at 12.35 V", state_of_charge_from_table, 63.1, 0.5,
        "linear between rows of a maker's table, from memory", in_unit="%",
        voltage=12.35, voltages=BLOCK_VOLTAGES, states=STATES),
    row("gravity of 1.175", state_of_charge_from_table, 39.3, 0.5,
        "linear between rows of a published list, from memory", in_unit="%",
        voltage=1.175, voltages=GRAVITIES, states=STATES),
    row("flooded block three eighths down", rested_voltage_from_table, 12.35, 0.01,
        "the same table, the other way",
        state=0.631, states=STATES, voltages=BLOCK_VOLTAGES),
    row("one cell lags", gravity_spread, 0.018, 1e-9, "by hand", gravities=[1.262, 1.265, 1.247]),
    row("one-ampere form", peukert_time_one_ampere, 5.0886, 0.001, "physics calculation page, as printed",
        in_unit="h",
        capacity=250, current=20, exponent=1.3),
    row("one-ampere form to nine digits", peukert_time_one_ampere, 5.088631644, 0.0001,
        "textbook page on Peukert's law", in_unit="h", capacity=250, current=20, exponent=1.3),
    row("100 Ah at 10 A, exponent 1.2", peukert_time, 8.706, 0.02, PEUKERT, in_unit="h",
        capacity=100, rate=20, current=10, exponent=1.2),
    row("100 Ah at 10 A to four digits", peukert_time, 8.7055, 0.005, PEUKERT, in_unit="h",
        capacity=100, rate=20, current=10, exponent=1.2),
    row("225 Ah at 50 A", peukert_time, 3.099, 0.05, PEUKERT, in_unit="h",
        capacity=225, rate=20, current=50, exponent=1.25),
    row("100 Ah at 20 A, exponent 1.1", peukert_time, 4.353, 0.02, PEUKERT, in_unit="h",
        capacity=100, rate=20, current=20, exponent=1.1),
    row("800 Ah slower than rated", peukert_time, 22.974, 0.1, PEUKERT, in_unit="h",
        capacity=800, rate=10, current=40, exponent=1.2),
    row("charge out of 100 Ah at 10 A", delivered_charge, 87.06, 0.02, PEUKERT,
        current=10, time=peukert_time(100, 20, 10, 1.2)),
    row("charge out of 225 Ah at 50 A", delivered_charge, 155.0, 0.05, PEUKERT,
        current=50, time=peukert_time(225, 20, 50, 1.25)),
    row("charge out of 100 Ah at 20 A", delivered_charge, 87.06, 0.02, PEUKERT,
        current=20, time=peukert_time(100, 20, 20, 1.1)),
    row("charge out of 800 Ah at 40 A", delivered_charge, 919.0, 0.1, PEUKERT,
        current=40, time=peukert_time(800, 10, 40, 1.2)),
    row("exponent from 10 h and 3 h", peukert_exponent, 1.21215, 0.0005,
        "two rates of a data sheet, from memory",
        capacity=500, rate=10, other_capacity=405, other_rate=3),
    row("80 A out of 400 Ah", effective_discharge_current, 105.561, 0.02, PEUKERT,
        current=80, capacity=400, rate=20, exponent=1.2),
    row("capacity at 3 h from that at 10 h", capacity_at_rate, 405.0, 0.1,
        "two rates of a data sheet, from memory",
        capacity=500, rate=10, exponent=1.21215, wanted_rate=3),
]  # fmt: skip

exponents = st.floats(1.0, 1.5)
rates = st.floats(1.0, 120.0)
currents = st.floats(0.5, 400.0)


@pytest.mark.parametrize("row", ROWS)
def test_worked_example(row: Row) -> None:
    assert row.value() == pytest.approx(row.expected, abs=row.tolerance)


@pytest.mark.parametrize("row", ROWS)
def test_what_is_not_a_number_is_refused(row: Row) -> None:
    assert_no_number_passes_as_one(row)


def test_the_one_ampere_form_with_the_20_hour_capacity_is_wrong_by_hours():
    right = peukert_time(100, 20, 10, 1.2)
    wrong = peukert_time_one_ampere(100, 10, 1.2)
    assert right - wrong > hours(2)


@pytest.mark.parametrize(
    ("call", "says"),
    [
        pytest.param(lambda: open_circuit_voltage_from_gravity(1265), "such as 1.265",
                     id="gravity in points"),
        pytest.param(lambda: gravity_at_reference(0.9, 20, 25, 0.0007), "gravity = 0.9",
                     id="lighter than water"),
        pytest.param(lambda: gravity_spread([1.26]), "at least two", id="spread of one cell"),
        pytest.param(lambda: gravity_spread([1.26, 12.6]), "gravity = 12.6", id="a voltage among gravities"),
        pytest.param(lambda: state_of_charge_from_table(13.1, BLOCK_VOLTAGES, STATES), "from 11.89 to 12.65",
                     id="surface charge"),
        pytest.param(lambda: state_of_charge_from_table(12, [11, 13], [0, 100]), "states = 100",
                     id="per cent"),
        pytest.param(lambda: rested_voltage_from_table(50, STATES, BLOCK_VOLTAGES), "state = 50",
                     id="in per cent"),
        pytest.param(lambda: rested_voltage_from_table(0.5, [0, 100], [11, 13]), "states = 100", id="table"),
        pytest.param(lambda: rest_voltage(0, 2.1), "cells = 0", id="no cells"),
        pytest.param(lambda: capacity_at_rate(100, 0, 1.2, 5), "rate = 0", id="rate of no hours"),
        pytest.param(lambda: capacity_at_rate(100, 20, 0.9, 5), "exponent = 0.9", id="exponent under one"),
        pytest.param(lambda: peukert_time(100, 20, 0, 1.2), "current = 0", id="no current lasts for ever"),
        pytest.param(lambda: peukert_time(100, 20, 10, 12), "exponent = 12", id="exponent without its point"),
        pytest.param(lambda: peukert_time_one_ampere(0, 20, 1.3), "capacity = 0", id="no capacity"),
        pytest.param(lambda: peukert_exponent(500, 10, 405, 10), "two different hour rates",
                     id="one rate twice"),
        pytest.param(lambda: peukert_exponent(405, 10, 500, 3), "longer rate", id="more at the shorter rate"),
        pytest.param(lambda: effective_discharge_current(-80, 400, 20, 1.2), "current = -80", id="signed"),
        pytest.param(lambda: delivered_charge(10, -1), "time = -1", id="time that runs back"),
    ],
)  # fmt: skip
def test_out_of_range_is_refused_with_what_came(call, says):
    with pytest.raises(FormulaError, match=says):
        call()


@given(capacity=st.floats(20.0, 2000.0), rate=rates, current=currents, exponent=exponents)
def test_effective_current_empties_the_rated_capacity_in_the_time_of_the_law(
    capacity, rate, current, exponent
):
    lasts = peukert_time(capacity, rate, current, exponent)
    effective = effective_discharge_current(current, capacity, rate, exponent)
    assert delivered_charge(effective, lasts) == pytest.approx(capacity)


@given(capacity=st.floats(20.0, 2000.0), rate=rates, wanted=rates, exponent=exponents)
def test_capacity_at_another_rate_lasts_that_many_hours(capacity, rate, wanted, exponent):
    there = capacity_at_rate(capacity, rate, exponent, wanted)
    assert peukert_time(capacity, rate, there / wanted, exponent) == pytest.approx(hours(wanted))
    assert capacity_at_rate(there, wanted, exponent, rate) == pytest.approx(capacity)


@given(rate=rates, ratio=st.floats(1.5, 10.0), exponent=exponents)
def test_exponent_is_found_again_from_two_rates(rate, ratio, exponent):
    slow = capacity_at_rate(100.0, rate, exponent, rate * ratio)
    assert peukert_exponent(100.0, rate, slow, rate * ratio) == pytest.approx(exponent, abs=1e-6)


@given(first=currents, second=currents, exponent=exponents)
def test_more_current_never_lasts_longer(first, second, exponent):
    low, high = sorted((first, second))
    assert peukert_time(200, 20, high, exponent) <= peukert_time(200, 20, low, exponent)


@given(capacity=st.floats(20.0, 2000.0), rate=rates, exponent=exponents, current=currents)
def test_both_forms_of_the_law_agree_once_their_capacities_do(capacity, rate, exponent, current):
    one_ampere = capacity**exponent * rate ** (1.0 - exponent)
    expected = peukert_time(capacity, rate, current, exponent)
    assert peukert_time_one_ampere(one_ampere, current, exponent) == pytest.approx(expected)


@given(state=st.floats(0.0, 1.0))
def test_state_and_rested_voltage_are_two_ways_through_one_table(state):
    voltage = rested_voltage_from_table(state, STATES, BLOCK_VOLTAGES)
    assert state_of_charge_from_table(voltage, BLOCK_VOLTAGES, STATES) == pytest.approx(state, abs=1e-9)


def test_table_of_voltage_follows_the_table_of_gravity_within_its_spread():
    for gravity, block in zip(GRAVITIES, BLOCK_VOLTAGES, strict=True):
        assert 6 * open_circuit_voltage_from_gravity(gravity) == pytest.approx(block, abs=0.11)
