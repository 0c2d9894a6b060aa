"""What came of a service visit: why it was made, what was done, what drifted, when the next is due."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from typing import Final

from commission.checklist.intervals import MONTHS, ORDER, next_due
from commission.checklist.types import Ask, Checklist, ReadingKey, Step
from commission.plant.plant import Plant
from commission.plant.values import Interval
from commission.sheet.types import Sheet
from commission.visit.changes import worth_telling
from commission.visit.service import covers_of, service_now, setting_drift_lines
from commission.visit.state import Readings
from commission.visit.types import Drift, Reading, Service, SignedAs, Visit

_ORDER: Final = ("act", "advise", "not judged")


def day(when: date) -> str:
    """Return a date as people say it: ``12 May 2026``."""
    return f"{when.day} {when:%b %Y}"


def why_text(service: Service) -> str:
    """Return why a plant is visited again, in words."""
    added = [f"{_steps(len(service.added))} added during the visit"] if service.added else []
    if service.returned is not None:
        count = len(service.returned.comments)
        told = [f"returned by {service.returned.by} with {count} comment{'s' if count > 1 else ''}"]
        return "; ".join((*told, *added))
    told = [f"due {', '.join(service.due)}"] if service.due else []
    told += [f"{service.event or 'an event'}: {', '.join(service.parts)}"] if service.parts else []
    told += [f"{_steps(len(service.put_off))} put off before"] if service.put_off else []
    told += [f"begun anew: {', '.join(service.changed)}"] if service.changed else []
    return "; ".join((*told, *added)) or "what is done at every visit"


def _steps(count: int) -> str:
    return f"{count} step{'s' if count > 1 else ''}"


def drifted(visit: Visit) -> tuple[tuple[Reading, Drift], ...]:
    """Return the readings that have gone too far from an earlier one, those that ask to act first.

    Behind them come those of which a bound does not tell whether they have.
    """
    found = [
        (reading, drift)
        for reading in Readings(visit.readings, visit.plant_changes).all_current()
        if reading.judgement is not None
        for drift in reading.judgement.drifts
        if worth_telling(drift)
    ]
    return tuple(sorted(found, key=lambda pair: _ORDER.index(pair[1].verdict)))


def drift_lines(visit: Visit, checklist: Checklist, sheet: Sheet, plant: Plant) -> Iterator[str]:
    """Yield what has drifted since the visits before: readings, then settings."""
    for reading, drift in drifted(visit):
        word = "open" if drift.verdict == "not judged" else drift.verdict
        yield f"{word:<7}{_name(checklist.asks.get(reading.key), reading.key)}: {drift.says}"
    for line in setting_drift_lines(plant, sheet, visit):
        yield f"{'found':<7}{line}"


def _name(found: tuple[Step, Ask] | None, key: ReadingKey) -> str:
    if found is None:
        return str(key)
    step, ask = found
    return step.title if len(step.asks) == 1 else f"{step.title}, {ask.label}"


def next_lines(visit: Visit, agreed: tuple[Interval, ...], signed_as: SignedAs) -> Iterator[str]:
    """Yield when each interval that this visit covers is due again; of the others, that it does not count.

    Parameters
    ----------
    agreed
        Intervals that hold for the plant.
    signed_as
        State that the visit is signed in, or is to be signed in.
    """
    service = service_now(visit)
    if service is None or service.returned is not None:
        return
    done, on = covers_of(visit, signed_as), visit.started_at.date()
    if not done:
        yield "the plant stays off, so this visit counts as none of them; each date stays as it was"
        return
    for interval in sorted(set(agreed) & MONTHS.keys(), key=ORDER.index):
        if interval in done:
            yield f"{interval:<12}{day(next_due(interval, on))}"
        else:
            yield f"{interval:<12}not done now; its date stays as it was"


def returned_lines(service: Service) -> Iterator[str]:
    """Yield what a supervisor said who returned the record before."""
    for comment in () if service.returned is None else service.returned.comments:
        where = f"{' '.join((comment.step, *comment.parts))}: " if comment.step else ""
        was = f"  (read then: {comment.was})" if comment.was else ""
        yield f"{where}{' '.join(comment.text.split())}{was}"
