"""Reading a table between its rows."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from commission.errors import FormulaError
from commission.formulas.tables import table_value
from tests.formulas.worked import Row, assert_no_number_passes_as_one, row

STATES = [0.0, 0.25, 0.50, 0.75, 1.0]
GRAVITIES = [1.120, 1.155, 1.190, 1.225, 1.265]

ROWS = [
    row("halfway between two rows", table_value, 30.0, 0.0, "by hand", x=3.0, xs=[2.0, 4.0], ys=[20.0, 40.0]),
    row("on a row", table_value, 20.0, 0.0, "by hand", x=2.0, xs=[1.0, 2.0, 4.0], ys=[10.0, 20.0, 60.0]),
    row("on the first row", table_value, 10.0, 0.0, "by hand", x=1.0, xs=[1.0, 2.0], ys=[10.0, 20.0]),
    row("on the last row", table_value, 20.0, 0.0, "by hand", x=2.0, xs=[1.0, 2.0], ys=[10.0, 20.0]),
    row("table that falls", table_value, 25.0, 0.0, "by hand", x=1.5, xs=[2.0, 1.0], ys=[20.0, 30.0]),
]  # fmt: skip


@pytest.mark.parametrize("row", ROWS)
def test_worked_example(row: Row) -> None:
    assert row.value() == pytest.approx(row.expected, abs=row.tolerance)


@pytest.mark.parametrize("row", ROWS)
def test_what_is_not_a_number_is_refused(row: Row) -> None:
    assert_no_number_passes_as_one(row)


@pytest.mark.parametrize(
    ("x", "xs", "ys", "says"),
    [
        pytest.param(
            0.9, [1, 2], [10, 20], "outside the table, which goes from 1 to 2", id="under the table"
        ),
        pytest.param(2.1, [1, 2], [10, 20], "outside the table", id="over the table"),
        pytest.param(1.0, [1, 2], [10], "as many of both", id="columns of different length"),
        pytest.param(1.0, [1], [10], "at least two", id="one row"),
        pytest.param(1.0, [1, 1, 2], [10, 20, 30], "twice", id="two answers for one value"),
    ],
)
def test_a_table_that_has_no_answer_refuses(x, xs, ys, says):
    with pytest.raises(FormulaError, match=says):
        table_value(x, xs, ys)


def test_a_bound_converted_from_another_unit_is_not_lost():
    fahrenheit = (40.0 - 32.0) / 1.8 * 1.8 + 32.0 - 1e-14
    assert table_value(fahrenheit, [40.0, 45.0], [1.30, 1.25]) == pytest.approx(1.30)


@given(share=st.floats(0.0, 1.0))
def test_agrees_with_another_interpolation(share):
    expected = float(np.interp(share, STATES, GRAVITIES))
    assert table_value(share, STATES, GRAVITIES) == pytest.approx(expected)


@given(share=st.floats(0.0, 1.0))
def test_order_of_rows_does_not_matter_and_there_is_a_way_back(share):
    gravity = table_value(share, STATES[::-1], GRAVITIES[::-1])
    assert GRAVITIES[0] <= gravity <= GRAVITIES[-1]
    assert table_value(gravity, GRAVITIES, STATES) == pytest.approx(share, abs=1e-9)
