"""Service visits begun straight from the records of a site, without the front ends' offer."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from commission.checklist.intervals import Due, due
from commission.checklist.service import agreed_intervals
from commission.plant.plant import Plant
from commission.plant.values import Interval
from commission.prepare import walk_of
from commission.records.earlier import SiteRecords, service_of, visits_done
from commission.sheet.settle import make_sheet
from commission.visit.types import Service


def begin_service(
    plant: Plant,
    records: SiteRecords,
    *,
    due: Sequence[Interval],
    parts: Sequence[str] = (),
    replaced: Sequence[str] = (),
) -> Service:
    """Return what a service visit begins with, of a plant without checklists of its own."""
    return service_of(
        records, plant, walk_of(plant, make_sheet(plant)), due=due, parts=parts, replaced=replaced
    )


def due_at(plant: Plant, records: SiteRecords, today: date) -> tuple[Due, ...]:
    """Return when each interval of a plant is due."""
    whole = walk_of(plant, make_sheet(plant))
    return due(agreed_intervals(whole, plant.site.service), visits_done(records), today)
