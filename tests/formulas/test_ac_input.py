"""Legs, arrays and accept windows against worked examples and against what must always hold."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from commission.errors import FormulaError
from commission.formulas.ac_input import apparent_budget, drawn_power, leg_power
from commission.formulas.arrays import array_power, charging_power
from commission.formulas.generator import phase_rated_current
from commission.formulas.windows import window_frequency, window_voltage
from tests.formulas.worked import Row, assert_no_number_passes_as_one, row

ROWS = [
    row("one third of a three-phase set", leg_power, 3333.33, 0.005, "definition", rating=10000, legs=3),
    row("one leg of a split-phase set", leg_power, 6000.0, 0.0, "definition", rating=12000, legs=2),
    row("watts used up beside a load", apparent_budget, 7000.0, 1e-9, "own arithmetic: 1000 + 5400 ÷ 0.9",
        active=6400, load=1000, power_factor=0.9),
    row("a load over the budget leaves the load", apparent_budget, 7000.0, 0.0, "own arithmetic",
        active=6400, load=7000, power_factor=0.9),
    row("both legs at 25 A", drawn_power, 6000.0, 1e-9, "definition", current=25, voltage=120, legs=2),
    row("six modules of 400 W", array_power, 2400.0, 0.0, "definition",
        module_power=400, series=3, strings=2),
    row("15 A at 48 V", charging_power, 720.0, 0.0, "definition", current=15, bank_voltage=48),
    row("15 % under 230 V", window_voltage, 195.5, 1e-9, "accept window, common practice",
        nominal=230, share=0.85),
    row("5 Hz under 60 Hz", window_frequency, 55.0, 0.0, "accept window, common practice",
        frequency=60, by=-5),
]  # fmt: skip


@pytest.mark.parametrize("example", ROWS)
def test_worked_examples_come_out(example: Row) -> None:
    assert example.value() == pytest.approx(example.expected, abs=example.tolerance)


@pytest.mark.parametrize("example", ROWS)
def test_what_is_not_a_number_is_refused(example: Row) -> None:
    assert_no_number_passes_as_one(example)


def test_a_phase_carries_what_its_rated_current_says() -> None:
    """10 kVA at 230 V: 3333 VA ÷ 230 = 14.49 A, the rated current of a phase by the other formula."""
    assert leg_power(10000.0, 3.0) / 230.0 == pytest.approx(phase_rated_current(10000.0, 230.0))


@given(st.floats(0, 1e5), st.floats(0, 1e5), st.floats(0.3, 1))
def test_the_watts_are_never_overdrawn(active: float, load: float, factor: float) -> None:
    """Load at power factor 1 and charger at its own: their watts come to the budget, or to the load alone."""
    charger = apparent_budget(active, load, factor) - load
    assert load + charger * factor == pytest.approx(max(active, load), rel=1e-9, abs=1e-6)


@pytest.mark.parametrize(
    ("formula", "inputs"),
    [
        (leg_power, {"rating": 1000.0, "legs": 0.0}),
        (leg_power, {"rating": -1.0, "legs": 1.0}),
        (apparent_budget, {"active": 100.0, "load": 10.0, "power_factor": 0.0}),
        (drawn_power, {"current": 1.0, "voltage": 0.0, "legs": 1.0}),
        (array_power, {"module_power": 100.0, "series": 0.0, "strings": 1.0}),
        (charging_power, {"current": 1.0, "bank_voltage": 0.0}),
        (window_voltage, {"nominal": 0.0, "share": 0.9}),
        (window_frequency, {"frequency": 60.0, "by": -60.0}),
    ],
)
def test_inputs_out_of_range_are_refused(formula: object, inputs: dict[str, float]) -> None:
    assert callable(formula)
    with pytest.raises(FormulaError):
        formula(**inputs)
