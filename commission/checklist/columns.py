"""Columns of like readings: one among its others, once all are read."""

from __future__ import annotations

import statistics
from collections.abc import Sequence
from typing import Final

from commission.checklist.bands import compared, edge_high, edge_low, in_unit
from commission.checklist.conditions import column
from commission.checklist.lookup import limit
from commission.checklist.situation import Situation
from commission.checklist.types import Expectation, Expected, Observation, ReadingKey, Waits
from commission.figure import Figure, Quantity
from commission.formulas.bands import difference, median_of

NOT_ALL: Final = "it is compared with its like, which are not all read"

NOISE: Final = 1e-9
"""What binary fractions add to a difference: two ends as far from the middle are both the furthest."""


def within_column(situation: Situation, spread: Quantity, alone: Expectation) -> Expectation:
    """Return the band of a reading among its like, or what is still to be read for it.

    What lies outside its own band, or stops work, is judged by that at once, and the band alone is shown
    before anything is read. Of a complete column the reading that is furthest from the middle is judged by
    the whole spread, every other by its distance from the middle: so one odd block is named, not all.
    """
    if situation.reading is None or not _inside(situation, alone):
        return alone
    return among(situation, *column(situation), spread, alone)


def among(
    situation: Situation,
    read: Sequence[Observation],
    unread: Sequence[ReadingKey],
    spread: Quantity,
    alone: Expectation,
) -> Expectation:
    """Return the band of a reading among others: waiting for those unread, alone where there are none."""
    if unread:
        return Waits(tuple(unread), NOT_ALL)
    return distance(situation, read, spread) if read else alone


def distance(situation: Situation, others: Sequence[Observation], spread: Quantity) -> Expectation:
    """Return the band of a reading's distance from its like."""
    assert situation.reading is not None  # noqa: S101 - asked before
    own = situation.reading.figure
    figures = [in_unit(other.figure, own.unit) for other in others]
    middle = statistics.median([own.value, *(figure.value for figure in figures)])
    opposite = max(figures, key=lambda figure: abs(figure.value - own.value))
    if abs(own.value - middle) >= abs(opposite.value - middle) - NOISE:
        other: Quantity = opposite
        says = f"against {opposite.value:g} {own.unit}, the furthest of {len(others) + 1}"
    else:
        other = median_of.of("middle of its like", values=[own, *figures]).in_unit(own.unit)
        says = f"against the middle of {len(others) + 1}"
    apart = difference.of("distance from its like", first=own, second=other).in_unit(own.unit)
    return either_way(apart, spread, other.value if isinstance(other, Figure) else None, says)


def either_way(value: Quantity, half_width: Quantity, against: float | None, says: str) -> Expectation:
    """Return the band of a difference that may be as much under zero as over."""
    zero = limit(0.0, value.unit, "no difference")
    if isinstance(half_width, Figure):
        half_width = in_unit(half_width, value.unit)
    return compared(
        value, low=edge_low(zero, half_width), high=edge_high(zero, half_width), against=against, says=says
    )


def _inside(situation: Situation, alone: Expectation) -> bool:
    if not isinstance(alone, Expected) or situation.reading is None:
        return False
    value, low, high = situation.reading.figure.value, alone.band.low, alone.band.high
    return (low is None or value >= low.value) and (high is None or value <= high.value)


def whole_column(situation: Situation) -> list[Figure] | Waits:
    """Return all readings of a column in the reading's unit, or what is still to be read."""
    read, unread = column(situation)
    if situation.reading is None:
        unread = [situation.ask.key, *unread]
    if unread:
        return Waits(tuple(unread), NOT_ALL)
    own = [] if situation.reading is None else [situation.reading]
    return [in_unit(item.figure, situation.ask.data.unit) for item in (*own, *read)]
