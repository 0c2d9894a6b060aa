"""Fault loops against the published tables of disconnection."""

from __future__ import annotations

import pytest

from commission.errors import FormulaError
from commission.formulas.disconnection import (
    LEAST_VOLTAGE_FACTOR,
    greatest_loop_resistance,
    least_loop_current,
    touch_voltage_at_trip,
)
from commission.formulas.fault_current import clearing_current
from commission.formulas.insulation import greatest_electrode_resistance


@pytest.mark.parametrize(
    ("rating", "multiple", "published"),
    [  # BS 7671:2018 table 41.3, greatest loop impedance of breakers at 230 V (from memory)
        (6.0, 5.0, 7.28),
        (10.0, 5.0, 4.37),
        (16.0, 5.0, 2.73),
        (32.0, 5.0, 1.37),
        (6.0, 10.0, 3.64),
        (16.0, 10.0, 1.37),
        (32.0, 10.0, 0.68),
        (16.0, 20.0, 0.68),
    ],
)
def test_the_greatest_loop_is_that_of_the_published_table(
    rating: float, multiple: float, published: float
) -> None:
    trip = clearing_current(rating, multiple)
    assert greatest_loop_resistance(230.0, LEAST_VOLTAGE_FACTOR, trip) == pytest.approx(published, abs=0.006)


@pytest.mark.parametrize(
    ("residual", "published"),
    [  # BS 7671:2018 table 41.5, IEC 60364-4-41 411.5.3 (from memory): 50 V over the rated residual current
        (0.03, 1667.0),
        (0.1, 500.0),
        (0.3, 167.0),
        (0.5, 100.0),
    ],
)
def test_the_electrode_of_the_published_table_leaves_fifty_volts(residual: float, published: float) -> None:
    most = greatest_electrode_resistance(50.0, residual)
    assert most == pytest.approx(published, abs=0.5)
    assert touch_voltage_at_trip(most, residual) == pytest.approx(50.0)


def test_loop_and_current_undo_each_other() -> None:
    loop = greatest_loop_resistance(230.0, LEAST_VOLTAGE_FACTOR, 160.0)
    assert least_loop_current(230.0, LEAST_VOLTAGE_FACTOR, loop) == pytest.approx(160.0)


@pytest.mark.parametrize("bad", [(0.0, 0.95, 1.0), (230.0, 1.2, 1.0), (230.0, 0.95, 0.0)])
def test_what_is_no_loop_is_refused(bad: tuple[float, float, float]) -> None:
    with pytest.raises(FormulaError):
        least_loop_current(*bad)
    with pytest.raises(FormulaError):
        greatest_loop_resistance(*bad)
    with pytest.raises(FormulaError):
        touch_voltage_at_trip(0.0, 0.03)
