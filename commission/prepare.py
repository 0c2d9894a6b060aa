"""From a plant to its sheet and walk: the steps that every front end takes in the same way."""

from __future__ import annotations

from functools import cache
from pathlib import Path

from commission.checklist.build import USUAL, build_checklist
from commission.checklist.types import Checklist, ChecklistData
from commission.plant.files import load_profiles
from commission.plant.plant import Plant
from commission.sheet.settle import make_sheet
from commission.sheet.types import Sheet


@cache
def _usual() -> tuple[ChecklistData, ...]:
    return load_profiles("checklists", ChecklistData, USUAL)


def walk_of(plant: Plant, sheet: Sheet, beside: Path | None = None) -> Checklist:
    """Return the walk of a plant with the checklists that its site file names.

    Parameters
    ----------
    beside
        Folder of the site file, whose ``profiles`` folder may hold a firm's own checklists.
    """
    own = plant.site.checklists
    data = (*_usual(), *load_profiles("checklists", ChecklistData, own, beside)) if own else _usual()
    return build_checklist(plant, sheet, data)


def prepare(plant: Plant, beside: Path | None = None) -> tuple[Sheet, Checklist]:
    """Return the sheet and the walk of a plant."""
    sheet = make_sheet(plant)
    return sheet, walk_of(plant, sheet, beside)
