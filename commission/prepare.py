"""From a plant to its sheet and walk: the steps that every front end takes in the same way."""

from __future__ import annotations

from functools import cache
from pathlib import Path

from commission.checklist.build import USUAL, build_checklist
from commission.checklist.types import Checklist, ChecklistData
from commission.design.check import checked_sheet
from commission.plant.files import load_profiles
from commission.plant.plant import Plant
from commission.records.recompute import explained, recompute
from commission.records.types import Record
from commission.sheet.types import Sheet
from commission.visit.recompute import Recomputed
from commission.visit.service import service_now, walk_of_service
from commission.visit.types import Service, VisitKind


@cache
def usual() -> tuple[ChecklistData, ...]:
    """Return the checklists that make the usual walk."""
    return load_profiles("checklists", ChecklistData, USUAL)


def own_checklists(plant: Plant, beside: Path | None = None) -> tuple[ChecklistData, ...]:
    """Return the checklists that a site file names beside the usual ones.

    Parameters
    ----------
    beside
        Folder of the site file, whose ``profiles`` folder may hold a firm's own checklists.
    """
    named = plant.site.checklists
    return load_profiles("checklists", ChecklistData, named, beside) if named else ()


def worked_out_anew(record: Record, program: str) -> tuple[Recomputed, tuple[str, ...]]:
    """Return how far a record is what this program says of its plant and readings, and what explains it.

    Parameters
    ----------
    program
        Version of this program.
    """
    visit = record.visit
    sheet, checklist = prepare_visit(record.plant, visit.kind, visit.checklists, service_now(visit))
    return recompute(record, sheet, checklist), explained(record, checklist, program)


def walk_of(plant: Plant, sheet: Sheet, beside: Path | None = None) -> Checklist:
    """Return the walk of a plant with the checklists that its site file names."""
    return build_checklist(plant, sheet, (*usual(), *own_checklists(plant, beside)))


def prepare(plant: Plant, beside: Path | None = None) -> tuple[Sheet, Checklist]:
    """Return the sheet and the walk of a plant."""
    sheet = checked_sheet(plant)
    return sheet, walk_of(plant, sheet, beside)


def prepare_visit(
    plant: Plant, kind: VisitKind, own: tuple[ChecklistData, ...], service: Service | None = None
) -> tuple[Sheet, Checklist]:
    """Return the sheet and the walk of a visit that brings the site's own checklists along.

    Parameters
    ----------
    service
        Of a service visit: its walk is what is due; without it the whole walk is made.
    """
    sheet = checked_sheet(plant)
    whole = build_checklist(plant, sheet, (*usual(), *own))
    if kind != "service" or service is None:
        return sheet, whole.of_service if kind == "service" else whole
    return sheet, walk_of_service(whole, plant, service)
