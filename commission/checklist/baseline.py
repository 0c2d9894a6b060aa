"""Which reading of a row is the baseline that later ones are compared with, and from when it is firm."""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import datetime, timedelta
from typing import Final, Protocol

from commission.checklist.types import Provisional, Side

FIRM_AFTER: Final = timedelta(days=182)
"""Half a year, after which a reading of a new bank is a firm baseline (IEEE 1188 practice)."""
WORN_BEFORE: Final = 0.20
"""A rise over day one beyond which a later reading is no baseline: it would hide what has risen already. At
this share an ohmic value is watched (IEEE 1188 practice, from memory)."""
Firm = tuple[int, bool]
"""Place of the baseline in its row, and whether it is firm."""


class Kept(Protocol):
    """A reading as it is kept: when it was taken, and what it showed."""

    @property
    def measured_at(self) -> datetime:
        """When it was measured."""

    @property
    def value(self) -> float:
        """What was read; of a one-sided reading the bound."""

    @property
    def side(self) -> Side:
        """On which side of the value the true one lies."""


def baseline_of(rows: Sequence[Kept], provisional: Provisional) -> Firm:
    """Return which of the readings since a part was new is the baseline, and whether it is firm.

    Parameters
    ----------
    rows
        Oldest first; one at least.
    provisional
        Until when a first reading is no firm baseline, as the checklist says.
    """
    if provisional == "second reading":
        return (1, True) if len(rows) > 1 else (0, False)
    if provisional == "six months":
        return _after_half_a_year(rows)
    return _first_that_tells(rows), True


def _first_that_tells(rows: Sequence[Kept]) -> int:
    """Return the place of the first reading; of a bound, that of the first number which it allows.

    A number tells more, and where the bound allows it nothing is proven to have changed before it. Over a
    range whose end nobody knows, nothing can be compared.
    """
    place = next((place for place, row in enumerate(rows) if math.isfinite(row.value)), 0)
    bound = rows[place]
    if bound.side == "exact":
        return place
    numbers = ((at, row) for at, row in enumerate(rows) if at > place and row.side == "exact")
    return next((at for at, row in numbers if _allows(bound, row.value)), place)


def _allows(bound: Kept, value: float) -> bool:
    return value >= bound.value if bound.side == "above" else value <= bound.value


def _after_half_a_year(rows: Sequence[Kept]) -> Firm:
    first = rows[0]
    for place, row in enumerate(rows):
        if row.measured_at - first.measured_at >= FIRM_AFTER:
            return (0, True) if _may_be_worn(row, first) else (place, True)
    return 0, False


def _may_be_worn(row: Kept, first: Kept) -> bool:
    """Say whether a reading may have risen over the first so far that it would hide it."""
    return row.side == "above" or row.value > first.value * (1.0 + WORN_BEFORE)
