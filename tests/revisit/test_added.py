"""A step that was not due is taken into a service visit under way, with all that it needs."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import datetime
from pathlib import Path

import pytest

from commission import __version__
from commission.checklist.service import ISOLATION
from commission.checklist.types import ReadingKey
from commission.errors import VisitError
from commission.prepare import prepare_visit, worked_out_anew
from commission.records.read import read_record
from commission.records.types import Record
from commission.records.write import write_record
from commission.revisit.added import earlier_of
from commission.revisit.offer import Wanted, offer_of
from commission.revisit.summary import why_text
from commission.visit.service import why_repeated
from commission.visit.session import OpenVisit
from commission.visit.shelf import Holder
from commission.visit.types import Service
from tests.revisit.sites import begun_service, commissioned
from tests.technician import TECHNICIAN, Clock, settle, sign, walk

MADE = datetime.fromisoformat("2026-06-01T08:00:00+00:00")
LINKS = ("link-resistance", ("string-a",))
PLACE = ("papers-left", ())


@pytest.fixture
def visit(tmp_path: Path) -> Iterator[OpenVisit]:
    """A monthly visit of a beacon: nothing in it needs the plant off."""
    site, _ = commissioned(tmp_path)
    offer, _ = offer_of(site, today=MADE.date())
    assert offer is not None
    with begun_service(tmp_path, offer, Wanted(("monthly",)), Clock(MADE)) as begun:
        yield begun


def now(visit: OpenVisit) -> datetime:
    return visit.newest


def test_a_step_that_needs_nothing_comes_alone_and_says_who_added_it(visit: OpenVisit) -> None:
    more = visit.with_step(PLACE, prepare_visit)
    assert more.more == ()
    count = len(visit.checklist.steps)
    after = visit.add(more, by=TECHNICIAN, reason="the owner asks", now=now(visit))
    assert len(after.checklist.steps) == count + 1
    service = after.visit.service
    assert service is not None
    step = after.checklist.by_key[PLACE]
    assert why_repeated(step, after.plant, service) == f"added by {TECHNICIAN}"
    assert after.standing.status(step) == "open"
    assert why_text(service) == "due monthly; 1 step added during the visit"


def test_a_step_on_a_dead_plant_brings_the_isolation_and_what_switches_on_again(visit: OpenVisit) -> None:
    more = visit.with_step(LINKS, prepare_visit)
    isolation = {step.key for step in visit.checklist.aside if step.data.stage == ISOLATION}
    assert isolation <= {step.key for step in more.more}
    assert all(step.data.stage == ISOLATION or step.data.back_on or step.data.hazard for step in more.more)
    after = visit.add(more, by=TECHNICIAN, reason="asked for", now=now(visit))
    assert after.standing.status(after.checklist.by_key[LINKS]) == "barred"


def test_nobody_adds_what_is_there_or_is_not_named(visit: OpenVisit) -> None:
    there = visit.checklist.steps[0].key
    with pytest.raises(VisitError, match="no step that this visit leaves out"):
        visit.with_step(there, prepare_visit)
    with pytest.raises(VisitError, match="who adds it"):
        visit.add(visit.with_step(PLACE, prepare_visit), by=" ", reason="asked for", now=now(visit))
    with pytest.raises(VisitError, match="why is it added"):
        visit.add(visit.with_step(PLACE, prepare_visit), by=TECHNICIAN, reason=" ", now=now(visit))


def test_an_added_step_survives_the_end_of_the_program_at_any_moment(
    visit: OpenVisit, tmp_path: Path
) -> None:
    after = visit.add(
        visit.with_step(LINKS, prepare_visit), by=TECHNICIAN, reason="asked for", now=now(visit)
    )
    keys = after.checklist.by_key.keys()
    after.close()
    holder = Holder(2, "bench", "x")
    with OpenVisit.resume(tmp_path / "visits", after.visit.id, prepare_visit, holder=holder) as again:
        assert again.checklist.by_key.keys() == keys
        assert again.visit.service == after.visit.service


def test_its_readings_stand_beside_those_of_the_visits_before(visit: OpenVisit, tmp_path: Path) -> None:
    """A link that was read at the commissioning keeps its baseline, though nobody meant to read it now."""
    key = ReadingKey(*LINKS, 17)
    assert key not in visit.earlier
    more = visit.with_step(LINKS, prepare_visit)
    earlier = earlier_of(more, visit.visit, [tmp_path])
    after = visit.add(more, by=TECHNICIAN, reason="asked for", now=now(visit), earlier=earlier)
    (row,) = after.earlier[key]
    assert row.baseline
    assert row.visit == after.visit.service.previous_visit  # type: ignore[union-attr]
    assert earlier_of(more, visit.visit, [tmp_path / "nothing"]) == ()


def test_a_record_tells_what_was_added_and_is_worked_out_anew_with_it(
    visit: OpenVisit, tmp_path: Path
) -> None:
    clock = Clock(MADE, 2.0)
    more = visit.with_step(LINKS, prepare_visit)
    after = visit.add(more, by=TECHNICIAN, reason="one looked hot", now=now(visit))
    walk(after, clock)
    settle(after, clock)
    sign(after, clock)
    path = write_record(tmp_path / "out", after.visit, after.plant, after.sheet)
    record = read_record(path)
    assert record.visit.service is not None
    (added,) = record.visit.service.added
    assert (added.key, added.by, added.reason) == (LINKS, TECHNICIAN, "one looked hot")
    assert worked_out_anew(record, __version__)[0].differences == ()
    hidden = record.visit.service.model_copy(update={"added": ()})
    assert "digest of its walk" in differences(record, hidden)
    nowhere = added.model_copy(update={"step": "link-resistence"})
    invented = record.visit.service.model_copy(update={"added": (added, nowhere)})
    assert "step" in differences(record, invented)


def differences(record: Record, service: Service) -> list[str]:
    """Return what the program finds wrong once the record tells another reason for the visit."""
    visit = record.visit.model_copy(update={"service": service})
    return [one.field for one in worked_out_anew(replace(record, visit=visit), __version__)[0].differences]
