"""Service visits whose every number is known: a beacon after lightning, and a returned record put right."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

import pytest

from commission.checklist.types import Ask
from commission.prepare import prepare_visit
from commission.records.answer import answer_record
from commission.records.seals import Comment
from commission.records.write import write_record
from commission.revisit.added import earlier_of
from commission.revisit.offer import Wanted, offer_of
from commission.visit.session import OpenVisit
from commission.visit.types import Person
from tests import technician
from tests.revisit.sites import begun_service, commissioned, micro_ohmmeter
from tests.technician import SUPERVISOR, TECHNICIAN, Clock, settle, sign, walk

MADE = datetime.fromisoformat("2026-06-01T08:00:00+00:00")
RETURNED = datetime.fromisoformat("2025-05-20T10:00:00+00:00")
NOTE = "The new controller is the grey one.\nCells 1 to 19 were watered."
TYPED = {"cells-on-float.cell": "1.3630 V", "monitor-zero": "0.05 A", "protective-conductor": "< 0.7 Ω"}
"""What was typed at the service visit, by reading; the rest is as it should be."""
FIRST_ONLY = "cells-on-float.cell"
"""Of a column, only the first is typed so."""
ADDED = ("post-torque", ("string-a",))


@dataclass(frozen=True)
class Made:
    """A folder with the records of a beacon."""

    folder: Path
    before: Path
    record: Path


def _typed(visit: OpenVisit, ask: Ask, now: datetime) -> str:
    told = TYPED.get(ask.key.step)
    if told is None or (ask.key.step == FIRST_ONLY and ask.key.index):
        return _USUAL(visit, ask, now)
    return told


_USUAL = technician.typed


def after_lightning(folder: Path) -> Made:
    """Make a yearly visit after lightning: a new controller, a setting that moved, a cell that drifted."""
    site, before = commissioned(folder)
    offer, _ = offer_of(site, today=MADE.date())
    assert offer is not None
    wanted = Wanted(("yearly",), "lightning close by", ("controller-1",), ("controller-1",))
    clock = Clock(MADE)
    with begun_service(folder, offer, wanted, clock) as begun, pytest.MonkeyPatch.context() as patched:
        patched.setattr(technician, "typed", _typed)
        visit = _prepared(begun, folder, clock)
        walk(visit, clock)
        settle(visit, clock)
        visit.leave(clock(), next_technician=NOTE, spares="one 30 A fuse", codes_kept="harbour office")
        sign(visit, clock)
        record = write_record(folder, visit.visit, visit.plant, visit.sheet)
    return Made(folder, before, record)


def _prepared(visit: OpenVisit, folder: Path, clock: Clock) -> OpenVisit:
    """Bring a meter, tell the settings as found, and add a step that was not due."""
    visit.add_instrument(micro_ohmmeter(2026), clock())
    visit.add_person(Person(name=SUPERVISOR, role="supervisor", licence="S-77"), clock())
    visit.set_found("monitor-1", "monitor_capacity", "300 Ah", clock())
    visit.found_as_left("monitor-1", clock())
    more = visit.with_step(ADDED, prepare_visit)
    earlier = earlier_of(more, visit.visit, [folder])
    return visit.add(more, by=TECHNICIAN, reason="the owner asks", now=clock(), earlier=earlier)


def put_right(folder: Path) -> Made:
    """Make the visit that answers a commissioning which a supervisor returned at one step."""
    site, before = commissioned(folder)
    comments = (Comment("which meter?", "link-resistance", ("string-a",)), Comment("photographs, please"))
    answer_record(before, "returned", name=SUPERVISOR, role="supervisor", now=RETURNED, comments=comments)
    offer, _ = offer_of(site, today=MADE.date())
    assert offer is not None
    clock = Clock(MADE)
    with begun_service(folder, offer, offer.at_hand, clock) as visit:
        visit.add_instrument(micro_ohmmeter(2026), clock())
        walk(visit, clock)
        for step in visit.checklist.steps:
            technician._settle_step(visit, step, clock)
        sign(visit, clock)
        record = write_record(folder, visit.visit, visit.plant, visit.sheet)
    return Made(folder, before, record)
