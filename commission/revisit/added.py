"""What the visits before read of a step that is added to a service visit under way."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from pathlib import Path

from commission.records.earlier import SiteRecords, earlier_readings
from commission.revisit.places import records_in
from commission.visit.adding import Addition
from commission.visit.service import service_now
from commission.visit.types import EarlierReading, Visit


def earlier_of(more: Addition, visit: Visit, folders: Iterable[Path]) -> tuple[EarlierReading, ...]:
    """Return baseline and newest of the readings that come into the walk.

    Nothing where the records that the visit was begun from are in none of the folders: then the readings are
    judged by their bands alone.
    """
    service = service_now(visit)
    found, _ = records_in(folders, visit.site)
    before = None if service is None or found is None else _up_to(found, service.previous_visit)
    if service is None or before is None:
        return ()
    if service.returned is not None:  # nothing is compared with what is doubted
        before = replace(before, records=before.records[:-1])
    asks = {ask.key: ask for step in (more.step, *more.more) for ask in step.asks}
    known = {row.key for row in service.earlier}
    wanted = {key: ask for key, ask in asks.items() if key not in known}
    return tuple(earlier_readings(before, more.checklist, wanted, service.changed))


def _up_to(found: SiteRecords, visit: str) -> SiteRecords | None:
    """Return the records up to that of a visit; None where it is not among them."""
    place = next((at for at, held in enumerate(found.records, 1) if held.record.visit.id == visit), None)
    return None if place is None else replace(found, records=found.records[:place])
