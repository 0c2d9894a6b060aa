"""A step that was not due, taken into the walk of a service visit while it is under way."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from typing import TypeAlias

from commission.checklist.types import Checklist, ChecklistData, Step, StepKey
from commission.errors import VisitError
from commission.plant.plant import Plant
from commission.sheet.types import Sheet
from commission.visit.service import service_now
from commission.visit.types import Service, StepAdded, Visit, VisitKind

Prepare: TypeAlias = Callable[
    [Plant, VisitKind, tuple[ChecklistData, ...], Service | None], tuple[Sheet, Checklist]
]
"""Makes sheet and walk of a plant for a kind of visit, with checklists of the site's own; of a service visit
for what is due."""


@dataclass(frozen=True)
class Addition:
    """The walk as it is with one more step; nothing is kept of it yet."""

    step: Step
    more: tuple[Step, ...]
    """What comes along, since the step needs it: in walking order."""
    sheet: Sheet
    checklist: Checklist


def addition(visit: Visit, plant: Plant, now: Checklist, key: StepKey, prepare: Prepare) -> Addition:
    """Return the walk of a service visit with a step that it leaves out, and with what that step needs.

    Parameters
    ----------
    now
        The walk as it is.

    Raises
    ------
    VisitError
        If it is no service visit, or the step is none of those that it leaves out.
    """
    service = service_now(visit)
    step = next((one for one in now.aside if one.key == key), None)
    if service is None or step is None:
        raise VisitError(f"'{' '.join((key[0], *key[1]))}' is no step that this visit leaves out")
    wanted = StepAdded(step=key[0], parts=key[1], by="", at=visit.started_at)
    trial = service.model_copy(update={"added": (*service.added, wanted)})
    sheet, checklist = prepare(plant, visit.kind, visit.checklists, trial)
    more = tuple(one for one in checklist.steps if one.key not in now.by_key and one.key != key)
    return Addition(checklist.by_key[key], more, sheet, checklist)


def step_added(added: Addition, by: str, reason: str, now: datetime) -> StepAdded:
    """Return who adds a step.

    Raises
    ------
    VisitError
        If nobody is named, or no reason is told.
    """
    if not by.strip():
        raise VisitError("who adds it? a name is wanted")
    if not reason.strip():
        raise VisitError("why is it added? a few words are wanted")
    ident, parts = added.step.key
    return StepAdded(step=ident, parts=parts, by=by.strip(), reason=reason.strip(), at=now)
