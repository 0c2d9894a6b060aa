"""All values that a reading allows, and how far two such readings may lie apart.

A reading of ``> 550 MΩ`` allows every value from there on. What holds for all of them is proven by it; what
holds for some only cannot be told.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from commission.checklist.types import Side
from commission.errors import FormulaError
from commission.formulas.change import change_share

NEVER_NEGATIVE: Final = frozenset({"µΩ", "mΩ", "Ω", "kΩ", "MΩ", "GΩ", "kg/L", "ms", "s", "min", "h"})
"""Units of what is nought at least, so that ``< 90 µΩ`` has an end on the other side too."""


@dataclass(frozen=True, slots=True)
class Span:
    """From the least to the greatest value that is possible; one value where both are the same."""

    low: float
    high: float

    @property
    def exact(self) -> bool:
        """Whether there is one value only."""
        return self.low == self.high


def span_of(value: float, side: Side, unit: str) -> Span:
    """Return the values that a reading allows."""
    if side == "above":
        return Span(value, math.inf)
    if side == "below":
        return Span(0.0 if unit in NEVER_NEGATIVE and value >= 0.0 else -math.inf, value)
    return Span(value, value)


def difference_of(now: Span, then: Span) -> Span:
    """Return between what now less then lies."""
    return Span(now.low - then.high, now.high - then.low)


def share_of(now: Span, then: Span) -> Span:
    """Return between what the change lies as a share of then.

    Raises
    ------
    FormulaError
        If then may be nothing: a change has no share of that.
    """
    if then.low < 0.0 <= then.high or then.high == 0.0:
        raise FormulaError("the earlier one may be nothing: a change has no share of that")
    found = [
        share
        for one in (now.low, now.high)
        for other in (then.low, then.high)
        for share in _at_corner(one, other)
    ]
    return Span(min(found), max(found))  # monotone in either, so that both ends lie at corners


def _at_corner(now: float, then: float) -> Iterator[float]:
    """Yield the share at a corner, or what it comes near to there; nothing where other corners tell more."""
    if math.isinf(then):
        if math.isfinite(now):
            yield -math.copysign(1.0, then)
    elif math.isinf(now):
        yield now
    elif then == 0.0:
        yield -1.0 if now == 0.0 else math.copysign(math.inf, now)
    else:
        yield change_share(now, then)
