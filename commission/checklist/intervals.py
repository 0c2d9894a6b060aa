"""When a service visit is due: intervals, what a visit covered, and the next dates."""

from __future__ import annotations

from calendar import monthrange
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING, Final, Literal

if TYPE_CHECKING:
    from commission.plant.values import Interval  # its models take long to load


ORDER: Final[tuple[Interval, ...]] = ("every visit", "monthly", "quarterly", "yearly", "two-yearly")
"""Shortest first; a visit of one interval covers all before it."""
MONTHS: Final[dict[Interval, int]] = {"monthly": 1, "quarterly": 3, "yearly": 12, "two-yearly": 24}
BY_AGREEMENT: Final[frozenset[Interval]] = frozenset({"monthly"})
"""What nobody misses unless the site's plan asks for it: who runs the plant looks after it each month, and a
technician comes as agreed; common practice."""
EARLY: Final = 0.1
"""Share of an interval by which a visit may come before its date and still take it; common practice."""
ALL: Final[frozenset[Interval]] = frozenset(ORDER)
"""What a commissioning covers."""


@dataclass(frozen=True, slots=True)
class Done:
    """A visit that was made, and the intervals that it covered."""

    on: date
    covers: frozenset[Interval]


@dataclass(frozen=True, slots=True)
class Due:
    """One interval of one plant: when it was covered last, and when it is due again."""

    interval: Interval
    last: date | None
    """None where no visit has ever covered it."""
    on: date
    days: int
    """Days until then; negative where it is overdue."""

    @property
    def state(self) -> Literal["overdue", "due", "coming"]:
        """Where it stands: past its date, so near that a visit takes it along, or later."""
        if self.days < 0:
            return "overdue"
        return "due" if self.days <= EARLY * MONTHS[self.interval] * 30 else "coming"


def covered(due: Iterable[Interval]) -> frozenset[Interval]:
    """Return all intervals that a visit covers: with the two-yearly one also the yearly, and so on.

    What is done at every visit is always among them.
    """
    longest = max((ORDER.index(interval) for interval in due), default=0)
    return frozenset(ORDER[: longest + 1])


def covered_when_signed(signed_as: str, due: Iterable[Interval] | None) -> frozenset[Interval]:
    """Return the intervals that a signed visit covers; nothing where it leaves the plant out of service.

    Parameters
    ----------
    due
        Those that a service visit took; None of a commissioning, which covers all.
    """
    if signed_as == "made safe, not in service":
        return frozenset()
    return ALL if due is None else covered(due)


def next_due(interval: Interval, last: date) -> date:
    """Return the date at which an interval is due again: the same day of a later month, or its last day.

    Raises
    ------
    KeyError
        If it is ``every visit``, which has no date of its own.
    """
    months = last.year * 12 + last.month - 1 + MONTHS[interval]
    year, month = divmod(months, 12)
    return date(year, month + 1, min(last.day, monthrange(year, month + 1)[1]))


def due(intervals: Iterable[Interval], visits: Iterable[Done], today: date) -> tuple[Due, ...]:
    """Return when each interval is due, shortest first.

    Parameters
    ----------
    intervals
        Those that hold for the plant: agreed with the owner, else those of its checklists.
    visits
        The visits so far; an interval is reckoned from the last that covered it. What was never covered is
        due today.
    """
    known = tuple(visits)
    found = []
    for interval in sorted(set(intervals) & MONTHS.keys(), key=ORDER.index):
        last = max((visit.on for visit in known if interval in visit.covers), default=None)
        on = today if last is None else next_due(interval, last)
        found.append(Due(interval, last, on, (on - today).days))
    return tuple(found)


def at_hand(rows: Iterable[Due]) -> tuple[Interval, ...]:
    """Return the intervals that a visit of today should take: overdue, or nearly due."""
    return tuple(row.interval for row in rows if row.state != "coming")
