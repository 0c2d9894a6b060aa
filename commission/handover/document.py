"""The handover document of a record: for the owner, the supervisor and the next technician, in this order."""

from __future__ import annotations

from pathlib import Path

from commission.handover.blocks import Document, Part
from commission.handover.compared import all_readings, drifted_readings
from commission.handover.matter import Matter, matter_of, short
from commission.handover.visited import (
    added,
    done,
    due_next,
    for_the_next,
    found_otherwise,
    kind_of,
    left_otherwise,
    new_baselines,
    old_and_new,
    put_off,
    put_right,
    this_visit,
)
from commission.revisit.summary import day


def handover_of(record: Path, closing: str) -> Document:
    """Return the handover document of a record, with the records of its site that lie beside it.

    Parameters
    ----------
    closing
        What is said last: that the program advises.

    Raises
    ------
    CommissionError
        If it is no intact, signed record.
    """
    return document_of(matter_of(record), closing)


def document_of(matter: Matter, closing: str) -> Document:
    """Return the handover document of what is known about a record."""
    visit = matter.visit
    kind = kind_of(visit)
    on = day(visit.started_at.date())
    name = matter.plant.site.site.name
    foot = f"{visit.site}, {on}, digest {short(matter.held.digest)}"
    return Document(f"{name}: {kind} of {on}", foot, _parts(matter), closing)


def _parts(matter: Matter) -> tuple[Part, ...]:
    made = (
        this_visit(matter),
        put_right(matter),
        found_otherwise(matter),
        left_otherwise(matter),
        done(matter),
        drifted_readings(matter),
        new_baselines(matter),
        put_off(matter),
        added(matter),
        due_next(matter),
        for_the_next(matter),
        all_readings(matter),
        old_and_new(matter),
    )
    return tuple(part for part in made if part is not None)
