"""What the readings of one key are as they were compared at each visit: restated, or worked out of them.

A drop along a run says nothing beside one at another current, nor a cold insulation beside a warm one. What
the service visits have compared is in their records; the trend is that of those numbers.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

from commission.checklist.restate import RESTATEMENTS
from commission.checklist.types import ReadingKey, Side
from commission.desk.subjects import subject_of
from commission.visit.types import Drift, Reading, Visit


@dataclass(frozen=True, slots=True)
class Alike:
    """The numbers that were compared, by visit."""

    name: str
    """What they are: ``resistance of the run``."""
    unit: str
    values: dict[str, tuple[float, Side]] = field(default_factory=dict)
    holding: set[str] = field(default_factory=set)
    """Visits that found it to hold beside the baseline."""
    refused: dict[str, str] = field(default_factory=dict)
    """Why nothing was compared, by visit."""

    def why_not(self, visit: str) -> str:
        """Return why there is no such number of a visit."""
        return self.refused.get(visit) or f"not known as {self.name}: no service visit compared it"


def alike_of(visits: Sequence[Visit], key: ReadingKey) -> Alike | None:
    """Return the numbers that were compared of a key; None where they are the readings themselves.

    Parameters
    ----------
    visits
        Of one site, in order of time.
    """
    subject = subject_of(key.step)
    if subject.correct is not None or subject.takes_compared:
        return None
    rows = [(visit, drift) for visit in visits for drift in _drifts(visit, key)]
    newest = next((drift for _, drift in reversed(rows) if drift.compared_as), None)
    if newest is None:
        return None
    found = Alike(newest.compared_as or "", newest.compared_unit or "")
    for visit, drift in rows:
        if (drift.compared_as, drift.compared_unit) == (newest.compared_as, newest.compared_unit):
            found.values[visit.id] = drift.now, drift.now_side or "exact"
            if drift.since == "baseline" and drift.verdict == "holds":
                found.holding.add(visit.id)
            found.values.setdefault(drift.visit, (drift.before, drift.before_side or "exact"))
        elif drift.verdict in {"not compared", "not judged"}:
            found.refused[visit.id] = drift.says
    return found


def restated_keys(visits: Sequence[Visit]) -> frozenset[ReadingKey]:
    """Return the readings that were compared as physics restates them."""
    return frozenset(
        reading.key
        for visit in visits
        for reading in visit.readings
        if reading.judgement is not None
        and any(drift.compared_as in RESTATEMENTS for drift in reading.judgement.drifts)
    )


def _drifts(visit: Visit, key: ReadingKey) -> Iterator[Drift]:
    """Yield the comparisons of the reading that holds for a key."""
    last = last_of(visit, key)
    if last is not None and last.judgement is not None:
        yield from last.judgement.drifts


def last_of(visit: Visit, key: ReadingKey) -> Reading | None:
    """Return the newest entry of a key in a visit."""
    return next((reading for reading in reversed(visit.readings) if reading.key == key), None)
