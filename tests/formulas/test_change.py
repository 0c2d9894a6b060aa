"""How far a reading has gone from an earlier one, and how sure that is."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from commission.errors import FormulaError
from commission.formulas.change import (
    change_share,
    change_share_uncertainty,
    current_at_full_sun,
    insulation_at_reference,
    resistance_of_drop,
)
from commission.formulas.uncertainty import root_sum_of_squares
from tests.formulas.worked import Row, assert_no_number_passes_as_one, row

IEEE = "IEEE 450 and 1188: readings against the baseline, from memory"
HALVES = "IEEE 43: insulation resistance halves for each 10 K, from memory"

ROWS = [
    row("joint from 52 to 60 µΩ", change_share, 15.385, 0.05, IEEE, in_unit="%", now=60e-6, before=52e-6),
    row("joint from 32 to 40 µΩ", change_share, 25.0, 0.1, IEEE, in_unit="%", now=40e-6, before=32e-6),
    row("block from 0.85 to 1.3 mΩ", change_share, 52.9, 0.1, IEEE, in_unit="%", now=1.3e-3, before=0.85e-3),
    row("a draw that has grown", change_share, -50.0, 1e-9, "by hand", in_unit="%", now=-0.3, before=-0.2),
    # √(1.8² + (60 ÷ 52 × 1.56)²) ÷ 52
    row("its uncertainty", change_share_uncertainty, 4.8954, 5e-4, "GUM 5.1.2, by hand", in_unit="%",
        now=60.0, before=52.0, now_uncertainty=1.8, before_uncertainty=1.56),
    row("run of 0.7 mΩ", resistance_of_drop, 0.7, 1e-9, "Ohm's law", in_unit="mΩ", drop=0.042, current=-60.0),
    row("insulation ten kelvin warmer", insulation_at_reference, 200.0, 1e-9, HALVES,
        resistance=100.0, temperature=30.0, temperature_reference=20.0),
    row("current of a hazy noon", current_at_full_sun, 9.024, 5e-4, "IEC 60891, by hand",
        current=7.4, irradiance=820.0),
]  # fmt: skip


@pytest.mark.parametrize("row", ROWS)
def test_worked_example(row: Row) -> None:
    assert row.value() == pytest.approx(row.expected, abs=row.tolerance)


@pytest.mark.parametrize("row", ROWS)
def test_what_is_not_a_number_is_refused(row: Row) -> None:
    assert_no_number_passes_as_one(row)


@pytest.mark.parametrize(
    ("before", "now", "doubts", "threshold", "changed"),
    [
        # is the change larger than the measurement? |d| > √(U1² + U2²), common practice
        pytest.param(52.0, 60.0, (1.56, 1.8), 2.382, True, id="joint of 52 and 60 µΩ"),
        pytest.param(54.4, 54.75, (0.34, 0.34), 0.481, False, id="bank of 54.4 and 54.75 V"),
    ],
)
def test_a_change_counts_only_above_what_both_meters_may_be_off(before, now, doubts, threshold, changed):
    assert root_sum_of_squares(doubts) == pytest.approx(threshold, abs=5e-4)
    assert (abs(now - before) > root_sum_of_squares(doubts)) is changed
    first, second = doubts
    share = change_share_uncertainty(now, before, now_uncertainty=second, before_uncertainty=first)
    assert (abs(change_share(now, before)) > share) is changed


@given(st.floats(0.1, 1e3), st.floats(0.1, 1e3), st.floats(0.001, 1e3))
def test_a_share_knows_no_unit(now, before, scale):
    assert change_share(now * scale, before * scale) == pytest.approx(change_share(now, before), abs=1e-9)


@pytest.mark.parametrize(
    "call",
    [
        lambda: change_share(1.0, 0.0),
        lambda: change_share_uncertainty(1.0, 0.0, now_uncertainty=0.0, before_uncertainty=0.0),
        lambda: resistance_of_drop(0.04, 0.0),
        lambda: current_at_full_sun(7.4, 399.0),
    ],
)
def test_what_tells_nothing_is_refused(call):
    with pytest.raises(FormulaError):
        call()
