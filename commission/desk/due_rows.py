"""When the intervals that a visit covered are due again."""

from __future__ import annotations

from collections.abc import Mapping
from collections.abc import Set as AbstractSet
from datetime import date
from functools import lru_cache
from typing import TYPE_CHECKING, Any, Final, TypeAlias, cast

from commission.checklist.intervals import ALL, BY_AGREEMENT, MONTHS, covered_when_signed, next_due
from commission.desk import values
from commission.desk.table import Row
from commission.desk.values import day, day_start, table, text

if TYPE_CHECKING:
    from commission.plant.values import Interval  # its models take long to load

StepIntervals: TypeAlias = Mapping[str, frozenset[str]]
"""Intervals at which a service visit repeats a step, by its id."""
AGREED: Final = "agreed"
"""A date that was told to the owner, beside the intervals."""
_WITHOUT: Final = frozenset({"yearly"})
"""Where neither the site's plan nor the steps tell any interval; common practice."""


def due_rows(number: int, data: dict[str, Any], steps: StepIntervals, read: AbstractSet[str]) -> list[Row]:
    """Return a row for every interval that a signed visit covered.

    Parameters
    ----------
    number
        Of the file in the index.
    steps
        Of the usual checklists; those of the site's own stand in the record.
    read
        Ids of the steps that were read.
    """
    plan = table(table(table(data, "plant"), "site"), "service")
    agreed = day(plan.get("next_due"))
    made: list[Row] = []
    if agreed is not None:
        made.append((number, AGREED, day_start(agreed), agreed.isoformat(), 1))
    signed = table(data, "sign_off")
    on = day(table(data, "visit").get("started_at"))
    if not signed or on is None or not 1900 <= on.year <= 2999:
        return made
    held = _held(data, plan, steps, read)
    covered = _covered(data)
    made += [(number, one, *_again(one, on), int(one in held)) for one in MONTHS if one in covered]
    return made


@lru_cache(4096)
def _again(interval: Interval, on: date) -> tuple[int | None, str]:
    """Return when an interval is due again, as time and text; visits of one day are many."""
    due = next_due(interval, on)
    return day_start(due), due.isoformat()


def _covered(data: dict[str, Any]) -> frozenset[Interval]:
    visit = table(data, "visit")
    state = text(table(data, "sign_off"), "signed_as")
    if text(visit, "kind") != "service" or not isinstance(visit.get("service"), dict):
        return covered_when_signed(state, None)
    told = visit["service"].get("due")
    known = [one for one in told if one in ALL] if isinstance(told, list) else []
    return covered_when_signed(state, cast("list[Interval]", known))


def _held(
    data: dict[str, Any], plan: dict[str, Any], steps: StepIntervals, read: AbstractSet[str]
) -> frozenset[str]:
    """Return the intervals that the plant has: those agreed, else those of the steps that were read."""
    told = plan.get("intervals")
    agreed = frozenset(str(one) for one in told) & MONTHS.keys() if isinstance(told, list) else frozenset()
    if agreed:
        return frozenset(agreed)
    own = {
        text(step, "id"): frozenset(str(one) for one in step["service"])
        for checklist in values.rows(table(data, "visit"), "checklists")
        for step in values.rows(checklist, "steps")
        if isinstance(step.get("service"), list)
    }
    moved = {
        step: frozenset(str(one) for one in every)
        for step, every in table(plan, "steps").items()
        if isinstance(every, list)
    }
    known = {**steps, **own} if own else steps
    found = {every for step in read - moved.keys() for every in known.get(step, ())} - BY_AGREEMENT
    found |= {every for step in read & moved.keys() for every in moved[step]}
    return frozenset(found & MONTHS.keys()) or _WITHOUT
