"""The visit with what it is judged by, and the one way in which anything is added to it."""

from __future__ import annotations

from datetime import datetime
from itertools import accumulate
from typing import Any, TypeVar

from pydantic import BaseModel, ValidationError

from commission.checklist.types import Checklist, Step, StepKey
from commission.errors import VisitError
from commission.plant.plant import Plant
from commission.sheet.types import Sheet
from commission.visit import events
from commission.visit.dangers import dangers
from commission.visit.journal import Keeps
from commission.visit.situations import Situations
from commission.visit.standing import Standing
from commission.visit.state import apply
from commission.visit.types import Visit

Kind = TypeVar("Kind", bound=BaseModel)


class Book:
    """A visit, its plant, sheet and walk."""

    def __init__(self, plant: Plant, sheet: Sheet, checklist: Checklist, visit: Visit, keeps: Keeps) -> None:
        self.plant = plant
        """The plant, as it was when the visit began."""
        self.sheet = sheet
        """Settings and findings of the plant."""
        self.checklist = checklist
        """The walk."""
        self.standing = Standing(checklist, visit, dangers(plant, sheet.findings))
        """Status of steps, hold points, progress; current readings and their history."""
        self._situations = Situations(plant, sheet, checklist, self.standing)
        self._keeps = keeps
        self.newest = _newest(visit)
        """When the newest entry was made; a clock that goes back after it would put entries out of order."""

    @property
    def visit(self) -> Visit:
        """The visit as it stands."""
        return self.standing.visit

    def _keep(self, *added: events.Event) -> None:
        """Add events: on the disk first, with one flush for all, then in the visit as it stands.

        Raises
        ------
        VisitError
            If the visit is signed, or the disk does not take it; nothing has changed then.
        """
        stages = list(accumulate(added, apply, initial=self.visit))
        self._keeps.append(*added)
        for after, event in zip(stages[1:], added, strict=True):
            self.standing.follow(after, event)
            self.newest = max(self.newest, event.at)

    def _step(self, key: StepKey) -> Step:
        found = self.checklist.by_key.get(key)
        if found is None:
            raise VisitError(f"this plant's walk has no step {key[0]} {' '.join(key[1])}".rstrip())
        return found

    def close(self) -> None:
        """Let go of the visit; everything is on the disk already."""
        self._keeps.close()


def _newest(visit: Visit) -> datetime:
    moments = [visit.started_at, *(reading.entered_at for reading in visit.readings)]
    moments += [item.at for item in visit.dispositions]
    moments += [item.at for item in visit.releases]
    moments += [item.at for item in visit.settings]
    moments += [item.at for item in visit.attachments]
    moments += [item.at for item in visit.plant_changes]
    moments += [item.at for item in (visit.service.added if visit.service is not None else ())]
    return max(moments)


def made(kind: type[Kind], /, **fields: Any) -> Kind:
    """Return a model made from what a person typed.

    Raises
    ------
    VisitError
        If a field holds what it cannot; the text names it.
    """
    try:
        return kind(**fields)
    except ValidationError as error:
        first = error.errors()[0]
        name = ".".join(str(step) for step in first["loc"]).replace("_", " ")
        if first["type"] == "string_pattern_mismatch":
            allowed = (
                "small letters, digits and single hyphens" if "a-z0-9" in str(first["ctx"]) else "one line"
            )
            raise VisitError(f"{name}: has characters that it may not have; {allowed} wanted") from None
        raise VisitError(f"{name}: {first['msg'].removeprefix('Value error, ').lower()}") from None
