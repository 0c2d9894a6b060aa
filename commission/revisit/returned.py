"""A record that a supervisor returned: what has to be done again, and what the record holds of it."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from commission.plant.explain import printable
from commission.records.earlier import Held
from commission.records.seals import Comment as Said
from commission.visit.state import Readings
from commission.visit.types import Comment, Reading, Returned, Visit

_LISTED: Final = 4
"""Readings of a step that are told; of a column of twenty-four cells the first do."""
_LONGEST: Final = 2000


def returned_of(held: Held) -> Returned | None:
    """Return what was said where the last seal of a record returns it; None where it does not."""
    seal = held.seals[-1] if held.seals else None
    if seal is None or seal.says != "returned" or not seal.comments:
        return None
    visit = held.record.visit
    return Returned(
        by=printable(seal.name, _LONGEST),
        role=printable(seal.role, _LONGEST),
        at=seal.at,
        kind=visit.kind,
        comments=tuple(_comment(said, visit) for said in seal.comments),
        decided=tuple(
            row.disposition
            for row in held.record.findings
            if row.disposition is not None and row.kind != "stop"
        ),
    )


def _comment(said: Said, visit: Visit) -> Comment:
    text = "\n".join(printable(line, _LONGEST) for line in said.text.splitlines())
    return Comment(step=said.step, parts=said.parts, text=text, was=_was(said, visit))


def _was(said: Said, visit: Visit) -> str:
    """Return what the record holds of the step that is meant, in a few words."""
    if not said.step:
        return ""
    found = list(_meant(said, visit))
    told = [_reading_text(reading) for reading in found[:_LISTED]]
    more = [f"and {len(found) - _LISTED} more"] if len(found) > _LISTED else []
    return "; ".join((*told, *more))


def _meant(said: Said, visit: Visit) -> Iterator[Reading]:
    for reading in Readings(visit.readings, visit.plant_changes).all_current():
        same = reading.step == said.step or reading.step.partition(".")[0] == said.step
        if same and set(said.parts) <= set(reading.parts):
            yield reading


def _reading_text(reading: Reading) -> str:
    verdict = "" if reading.judgement is None else f", {reading.judgement.verdict}"
    unit = reading.unit if reading.kind == "number" and not any(map(str.isalpha, reading.text)) else ""
    return printable(f"{reading.text} {unit}".rstrip() + verdict, 120)
