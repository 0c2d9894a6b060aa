"""Legs, neutrals and inverters in parallel, against phasors and a solved network."""

from __future__ import annotations

import cmath
import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from commission.errors import FormulaError
from commission.formulas.split_phase import (
    SYNCHRONISING_LIMITS,
    circulating_current,
    contact_voltage,
    leg_drop,
    leg_imbalance,
    line_to_line_voltage,
    lost_neutral_voltage,
    may_be_joined,
    neutral_current,
    share_deviation,
    three_wire_leg_current,
)
from tests.formulas.worked import Row, assert_no_number_passes_as_one, row

PHASORS = "phasors, from memory"
DIVIDER = "series divider, from memory"
PRACTICE = "common practice"

ROWS = [
    row("split phase", line_to_line_voltage, 240.0, 0.1, PHASORS, first=120, second=120, angle=180),
    row("both units on one phase", line_to_line_voltage, 0.0, 0.1, PHASORS, first=120, second=120, angle=0),
    row("three phases of 230 V", line_to_line_voltage, 398.372, 0.1, PHASORS, first=230, second=230,
        angle=120),
    row("ten degrees apart", contact_voltage, 20.917, 0.05, PHASORS, voltage=120, angle=10),
    row("30 and 18 A on two legs", neutral_current, 12.0, 0.05, PHASORS, first=30, second=18, angle=180),
    row("30 and 18 A wrongly in phase", neutral_current, 48.0, 0.05, PHASORS, first=30, second=18, angle=0),
    row("25 A lagging by 0.8 against 30 A", neutral_current, 18.03, 0.02, "vector difference, from memory",
        first=30, second=25, angle=180 - math.degrees(math.acos(0.8))),
    row("4800 and 1200 W at 120 V", neutral_current, 30.0, 0.02, "vector difference, from memory",
        first=4800 / 120, second=1200 / 120, angle=180),
    row("10 Ω against 30 Ω", lost_neutral_voltage, 60.0, 0.1, DIVIDER,
        line_voltage=240, resistance=10, other_resistance=30, conductors=0),
    row("30 Ω against 10 Ω", lost_neutral_voltage, 180.0, 0.1, DIVIDER,
        line_voltage=240, resistance=30, other_resistance=10, conductors=0),
    row("24 Ω against 16 Ω", lost_neutral_voltage, 144.0, 0.1, DIVIDER,
        line_voltage=240, resistance=24, other_resistance=16, conductors=0),
    row("16 Ω against 24 Ω", lost_neutral_voltage, 96.0, 0.1, DIVIDER,
        line_voltage=240, resistance=16, other_resistance=24, conductors=0),
    row("highest of three units", share_deviation, 6.122, 0.05, PRACTICE, in_unit="%",
        current=10.4, currents=[10.4, 9.8, 9.2]),
    row("higher of two units", share_deviation, 11.392, 0.05, PRACTICE, in_unit="%",
        current=22.0, currents=[22.0, 17.5]),
    row("1 V over two impedances of 20 mΩ", circulating_current, 25.0, 0.1, "Ohm's law, from memory",
        difference=1.0, impedance=0.02, other_impedance=0.02),
    row("60 A against 20 A", leg_drop, 5.0, 0.01, "Kirchhoff's law, from memory",
        resistance=0.05, current=60, other_current=20),
    row("20 A against 60 A rises", leg_drop, -1.0, 0.01, "Kirchhoff's law, from memory",
        resistance=0.05, current=20, other_current=60),
    row("4800 against 1200 W", leg_imbalance, 60.0, 0.05, "from memory", in_unit="%", first=4800,
        second=1200),
]  # fmt: skip

NETWORKS = [
    pytest.param(0.05, 2.0, 6.0, [115.245, 120.867, 37.478, 59.259, 177.778], id="2 Ω against 6 Ω"),
    pytest.param(0.03, 2.4, 4.8, [117.805, 119.973, 24.091, 79.339, 158.678], id="2.4 Ω against 4.8 Ω"),
    pytest.param(0.02, 1.5, 3.0, [117.662, 119.969, 38.452, 79.295, 158.59], id="1.5 Ω against 3 Ω"),
]
"""Ω of each conductor and of both loads on an ideal 120/240 V source; then by a network solver
the voltage of both legs to 0.01 V, the neutral current to 0.01 A, both with the neutral open to 0.02 V."""


@pytest.mark.parametrize("row", ROWS)
def test_worked_example(row: Row) -> None:
    assert row.value() == pytest.approx(row.expected, abs=row.tolerance)


@pytest.mark.parametrize("row", ROWS)
def test_what_is_not_a_number_is_refused(row: Row) -> None:
    assert_no_number_passes_as_one(row)


@pytest.mark.parametrize(("ohms", "heavy", "light", "expected"), NETWORKS)
def test_three_wires_agree_with_a_solved_network(
    ohms: float, heavy: float, light: float, expected: list[float]
) -> None:
    first = three_wire_leg_current(120, heavy, other_resistance=light, line=ohms, neutral=ohms)
    second = three_wire_leg_current(120, light, other_resistance=heavy, line=ohms, neutral=ohms)
    assert [first * heavy, second * light] == pytest.approx(expected[:2], abs=0.01)
    assert neutral_current(first, second, 180.0) == pytest.approx(expected[2], abs=0.01)
    opened = [
        lost_neutral_voltage(240, one, other_resistance=other, conductors=2 * ohms)
        for one, other in ((heavy, light), (light, heavy))
    ]
    assert opened == pytest.approx(expected[3:], abs=0.02)


volts = st.floats(0, 300)
ohms = st.floats(0.5, 50)
wires = st.floats(0, 0.5)


@given(volts, volts, st.floats(-720, 720))
def test_sums_and_differences_of_legs_are_those_of_complex_numbers(
    one: float, other: float, angle: float
) -> None:
    turned = cmath.rect(other, math.radians(angle))
    assert line_to_line_voltage(one, other, angle) == pytest.approx(abs(one - turned), abs=1e-4)
    assert neutral_current(one, other, angle) == pytest.approx(abs(one + turned), abs=1e-4)


@given(volts, st.floats(-720, 720))
def test_an_open_contact_shows_the_difference_of_equal_sources(voltage: float, angle: float) -> None:
    assert contact_voltage(voltage, angle) == pytest.approx(
        line_to_line_voltage(voltage, voltage, angle), abs=1e-4
    )


@given(ohms, ohms, wires, wires)
def test_both_meshes_are_solved(heavy: float, light: float, line: float, neutral: float) -> None:
    meshes = np.array([[heavy + line + neutral, -neutral], [-neutral, light + line + neutral]])
    solved = np.linalg.solve(meshes, np.array([120.0, 120.0]))
    ours = [
        three_wire_leg_current(120, heavy, other_resistance=light, line=line, neutral=neutral),
        three_wire_leg_current(120, light, other_resistance=heavy, line=line, neutral=neutral),
    ]
    assert ours == pytest.approx(list(map(float, solved)))


@given(ohms, ohms, wires)
def test_leg_drop_is_what_the_network_drops(heavy: float, light: float, each: float) -> None:
    first = three_wire_leg_current(120, heavy, other_resistance=light, line=each, neutral=each)
    second = three_wire_leg_current(120, light, other_resistance=heavy, line=each, neutral=each)
    assert 120 - first * heavy == pytest.approx(leg_drop(each, first, second), abs=1e-6)


@given(ohms, ohms)
def test_with_the_neutral_lost_both_legs_share_the_line_voltage(one: float, other: float) -> None:
    first, second = (
        lost_neutral_voltage(240, mine, other_resistance=theirs, conductors=0)
        for mine, theirs in ((one, other), (other, one))
    )
    assert first + second == pytest.approx(240)
    assert (first > second) == (one > other)


@given(st.lists(st.floats(1, 100), min_size=2, max_size=6))
def test_deviations_from_the_mean_sum_to_nothing(currents: list[float]) -> None:
    assert sum(share_deviation(each, currents) for each in currents) == pytest.approx(0.0, abs=1e-9)


def test_sources_far_apart_in_angle_may_not_be_joined() -> None:
    """0.1 Hz, 2 % and 25° against 0.3 Hz, 10 % and 20° (IEEE 1547-2018 table 5, from memory)."""
    limits = SYNCHRONISING_LIMITS["up to 500 kVA"]
    assert (limits.frequency, limits.voltage, limits.angle) == (0.3, 0.10, 20.0)
    assert not may_be_joined(frequency_difference=0.1, voltage_difference=0.02, angle=25.0, limits=limits)


@pytest.mark.parametrize(
    ("frequency", "voltage", "angle", "joined"),
    [(0.3, 0.10, 20.0, True), (-0.3, -0.10, -20.0, True), (0.31, 0.0, 0.0, False), (0.0, 0.11, 0.0, False)],
)
def test_exactly_on_a_synchronising_limit_is_inside(
    frequency: float, voltage: float, angle: float, joined: bool
) -> None:
    limits = SYNCHRONISING_LIMITS["up to 500 kVA"]
    assert (
        may_be_joined(frequency_difference=frequency, voltage_difference=voltage, angle=angle, limits=limits)
        is joined
    )


def test_limits_tighten_with_size() -> None:
    small, medium, large = SYNCHRONISING_LIMITS.values()
    assert small.angle > medium.angle > large.angle
    assert small.frequency > medium.frequency > large.frequency
    assert small.voltage > medium.voltage > large.voltage


@pytest.mark.parametrize(
    ("formula", "inputs", "says"),
    [
        (line_to_line_voltage, {"first": -120, "second": 120, "angle": 180}, "first"),
        (share_deviation, {"current": 10.0, "currents": [10.0]}, "at least two"),
        (share_deviation, {"current": 9.0, "currents": [10.0, 11.0]}, "one of the currents"),
        (share_deviation, {"current": 0.0, "currents": [0.0, 0.0]}, "mean"),
        (lost_neutral_voltage,
         {"line_voltage": 240, "resistance": 0, "other_resistance": 10, "conductors": 0}, "resistance"),
        (leg_imbalance, {"first": 0, "second": 0}, "sum_of_both"),
        (circulating_current, {"difference": 1, "impedance": 0, "other_impedance": 0.1}, "impedance"),
    ],
)  # fmt: skip
def test_out_of_range_is_refused_with_what_came(formula, inputs, says):
    with pytest.raises(FormulaError, match=says):
        formula(**inputs)
