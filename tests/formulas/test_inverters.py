"""Inverters and their loads against standards, worked examples and what must always hold."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from commission.errors import FormulaError
from commission.formulas.inverters import (
    alternating_part,
    altitude_factor,
    bank_load,
    derated_output,
    greatest_start,
    mean_power_factor,
    phase_imbalance,
)
from commission.formulas.split_phase import leg_imbalance
from tests.formulas.worked import Row, assert_no_number_passes_as_one, row

ROWS = [
    row("1 % for each 100 m above 2000 m, at 3200 m", altitude_factor, 0.88, 1e-9,
        "from memory: usual derating of power electronics", altitude=3200),
    row("sea level keeps the rating", altitude_factor, 1.0, 0.0, "the same", altitude=0),
    row("a derated output", derated_output, 4080.0, 1e-6, "own arithmetic: 5000 × 0.85 × 0.96",
        rating=5000, by_temperature=0.85, by_altitude=0.96),
    row("6 kW through an inverter of 92 %", bank_load, 6521.7, 0.05, "UFC 3-520-01 (2002), appendix E",
        alternating=6000, efficiency=0.92, direct=0),
    row("DC loads beside it are not divided by the efficiency", bank_load, 1876.6, 0.05,
        "own arithmetic: 1200 ÷ 0.94 + 600", alternating=1200, efficiency=0.94, direct=600),
    row("the inverters' part of a load", alternating_part, 1200.0, 0.0, "conservation of energy",
        load=1800, direct=600),
    row("460, 467 and 450 V are 1.96 % unbalanced", phase_imbalance, 0.0196, 5e-5,
        "NEMA MG 1 14.36, worked example; from memory", loads=[460, 467, 450]),
    row("4800 W against 1200 W is 60 %", phase_imbalance, 0.60, 5e-4,
        "common practice: difference over sum of two legs", loads=[4800, 1200]),
    row("900 W at 0.9 and 500 W at 1", mean_power_factor, 1400 / 1500, 1e-9,
        "IEC 60050-131, 131-11-46", power=1400, apparent=1500),
    row("eight times running", greatest_start, 1008.0, 1e-9, "from memory: locked rotor",
        running=126, multiple=8),
]  # fmt: skip


@pytest.mark.parametrize("example", ROWS)
def test_worked_examples_come_out(example: Row) -> None:
    assert example.value() == pytest.approx(example.expected, abs=example.tolerance)


@pytest.mark.parametrize("example", ROWS)
def test_what_is_not_a_number_is_refused(example: Row) -> None:
    assert_no_number_passes_as_one(example)


@pytest.mark.parametrize(
    ("running", "locked"),
    # A at 115 V of single-phase motors of 1/2, 3/4, 1, 1 1/2, 2, 3 and 5 hp: NEC tables 430.248, 430.251(A)
    [(9.8, 58.8), (13.8, 82.8), (16.0, 96.0), (20.0, 120.0), (24.0, 144.0), (34.0, 204.0), (56.0, 336.0)],
)
def test_the_bound_of_a_start_covers_the_locked_rotors_of_the_code(running: float, locked: float) -> None:
    assert greatest_start(running, 8.0) >= locked


@given(st.floats(0, 1e5), st.floats(1, 1e5))
def test_two_legs_are_judged_as_the_formula_for_two_legs_does(first: float, second: float) -> None:
    assert phase_imbalance([first, second]) == pytest.approx(leg_imbalance(first, second), abs=1e-9)


@given(st.lists(st.floats(1, 1e4), min_size=2, max_size=3))
def test_like_loads_are_balanced_and_no_imbalance_is_negative(loads: list[float]) -> None:
    assert phase_imbalance(loads) >= 0
    assert phase_imbalance([loads[0]] * len(loads)) == pytest.approx(0.0, abs=1e-9)


def test_no_rating_is_left_in_orbit() -> None:
    with pytest.raises(FormulaError):
        altitude_factor(12500.0)


@pytest.mark.parametrize("loads", [[], [100.0], [0.0, 0.0], [-1.0, 5.0], [math.nan, 5.0]])
def test_legs_that_cannot_be_compared_are_refused(loads: list[float]) -> None:
    with pytest.raises(FormulaError):
        phase_imbalance(loads)
