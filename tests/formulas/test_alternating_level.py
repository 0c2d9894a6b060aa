"""Short circuits on the AC side against worked examples."""

from __future__ import annotations

import math

import pytest

from commission.errors import FormulaError
from commission.formulas.alternating_level import (
    current_behind_cable,
    generator_fault_current,
    transformer_fault_current,
)


@pytest.mark.parametrize(
    ("power", "impedance", "published"),
    [  # transformers of 400 V on a strong network, tables of short-circuit currents in kA (makers' guides)
        (100e3, 0.04, 3.61),
        (250e3, 0.04, 9.02),
        (400e3, 0.04, 14.43),
        (630e3, 0.04, 22.73),
        (1000e3, 0.06, 24.06),
    ],
)
def test_a_transformer_of_400_volts(power: float, impedance: float, published: float) -> None:
    found = transformer_fault_current(power, 3.0, 400.0 / math.sqrt(3.0), impedance, 1.0)
    assert found / 1000.0 == pytest.approx(published, rel=0.002)


def test_a_split_phase_transformer_from_leg_to_neutral() -> None:
    # point-to-point method, 25 kVA, 240 V, 1.6 %: 6510 A across both legs, 9766 A from one leg (from memory)
    assert transformer_fault_current(25e3, 1.0, 240.0, 0.016, 1.0) == pytest.approx(6510.0, abs=1.0)
    assert transformer_fault_current(25e3, 1.0, 240.0, 0.016, 1.5) == pytest.approx(9766.0, abs=1.0)


def test_a_generator_gives_its_rated_current_over_its_reactance() -> None:
    # definition of the per-unit reactance: 100 A and 12.5 % make eight times
    assert generator_fault_current(100.0, 0.125) == pytest.approx(800.0)


@pytest.mark.parametrize("length", [0.0, 5.0, 50.0, 500.0])
def test_a_cable_never_raises_a_current_and_leaves_at_most_what_ohms_law_leaves(length: float) -> None:
    ohms = 2.0 * length * 0.00115
    found = current_behind_cable(230.0, 5000.0, ohms)
    assert found <= 5000.0
    assert ohms == 0.0 or found <= 230.0 / ohms
    assert found >= 230.0 / (230.0 / 5000.0 + ohms)  # added as numbers it would be less


@pytest.mark.parametrize("bad", [(0.0, 1.0, 1.0), (1.0, 0.0, 1.0), (1.0, 1.0, -0.1)])
def test_what_is_no_short_circuit_is_refused(bad: tuple[float, float, float]) -> None:
    with pytest.raises(FormulaError):
        current_behind_cable(*bad)
    with pytest.raises(FormulaError):
        generator_fault_current(bad[0], bad[1] if bad[2] > 0 else 0.0)
