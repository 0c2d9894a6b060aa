"""Values between the rows of a table."""

from __future__ import annotations

import math
from bisect import bisect_left
from collections.abc import Sequence
from itertools import pairwise

from commission.errors import FormulaError
from commission.figure import formula
from commission.formulas.ranges import require_finite

# A bound that was converted from another unit may miss the last row by a rounding of the machine.
_EDGE = 1e-9


def _rows(xs: Sequence[float], ys: Sequence[float]) -> tuple[list[float], list[float]]:
    """Return the columns in rising order of the first, once they are fit to be read between rows."""
    if len(xs) != len(ys) or len(xs) < 2:
        raise FormulaError(
            f"xs has {len(xs)} values and ys {len(ys)}: a table has as many of both, at least two"
        )
    if not all(map(math.isfinite, (*xs, *ys))):
        for x, y in zip(xs, ys, strict=True):
            require_finite(xs=x, ys=y)
    rows = sorted(zip(xs, ys, strict=True))
    for (x, _), (following, _) in pairwise(rows):
        if x == following:
            raise FormulaError(f"xs holds {x} twice: no value of it is unique")
    return [x for x, _ in rows], [y for _, y in rows]


@formula(
    expression="ys at x, on a straight line between the two rows of xs beside it",
    unit="",
    source="linear interpolation; common practice with printed tables",
)
def table_value(x: float, xs: Sequence[float], ys: Sequence[float]) -> float:
    """Value of a table between its rows, on a straight line.

    Parameters
    ----------
    x
        Where to read. [unit of xs]
    xs
        First column, in rising or falling order. [unit of xs]
    ys
        Second column, as long as the first. [unit of ys]

    Returns
    -------
    float
        The second column at ``x``. [unit of ys]

    Raises
    ------
    FormulaError
        If ``x`` lies outside the table, or the columns differ in length or repeat a value.

    Notes
    -----
    Never beyond the last row: a table says nothing there.

    Examples
    --------
    >>> table_value(2.5, [1.0, 2.0, 4.0], [10.0, 20.0, 60.0])
    30.0

    References
    ----------
    .. [1] Linear interpolation, common practice with printed tables.
    """
    require_finite(x=x)
    firsts, seconds = _rows(xs, ys)
    slack = _EDGE * (firsts[-1] - firsts[0])
    if not firsts[0] - slack <= x <= firsts[-1] + slack:
        raise FormulaError(
            f"x = {x:g} lies outside the table, which goes from {firsts[0]:g} to {firsts[-1]:g}"
        )
    upper = min(max(bisect_left(firsts, x), 1), len(firsts) - 1)
    lower = upper - 1
    part = (x - firsts[lower]) / (firsts[upper] - firsts[lower])
    return seconds[lower] + min(max(part, 0.0), 1.0) * (seconds[upper] - seconds[lower])
