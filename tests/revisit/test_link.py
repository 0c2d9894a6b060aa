"""A service visit's record stands behind the very record that its readings were compared with."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path

import pytest

from commission import __version__
from commission.errors import RecordError
from commission.prepare import worked_out_anew
from commission.records.answer import answer_record
from commission.records.chain import chain_told
from commission.records.read import read_record
from commission.records.verify import verify
from commission.revisit.offer import Wanted, offer_of
from commission.screens.record_file import Told, sign_and_write
from commission.visit.session import OpenVisit
from commission.visit.types import SignedAs
from tests.revisit.sites import begun_service, commissioned
from tests.technician import TECHNICIAN, Clock, settle, walk

MADE = datetime.fromisoformat("2026-06-01T08:00:00+00:00")
DEFERRED: SignedAs = "in service with deferred steps"


@pytest.fixture
def visit(tmp_path: Path) -> Iterator[OpenVisit]:
    """A monthly visit that is walked to its end."""
    site, _ = commissioned(tmp_path)
    offer, _ = offer_of(site, today=MADE.date())
    assert offer is not None
    clock = Clock(MADE)
    with begun_service(tmp_path, offer, Wanted(("monthly",)), clock) as begun:
        walk(begun, clock)
        settle(begun, clock)
        yield begun


def first_record(folder: Path) -> Path:
    return next(folder.glob("*_commissioning_*.toml"))


def test_a_seal_that_was_put_below_the_record_before_in_the_meantime_changes_nothing(
    visit: OpenVisit, tmp_path: Path
) -> None:
    """The record before is countersigned while the visit is under way: it is the same record all the same."""
    before = first_record(tmp_path)
    began = verify(before).digest
    answer_record(before, "countersigned", name="Oswin Harl", role="supervisor", now=MADE)
    assert verify(before).digest != began
    told = sign_and_write(
        visit, name=TECHNICIAN, signed_as=DEFERRED, told=Told(str(tmp_path)), now=visit.newest
    )
    path = tmp_path / told[0]
    assert verify(path).previous == began
    assert f"follows {before.name}" in told
    assert chain_told([(one, verify(one)) for one in (before, path)]) == ()
    record = read_record(path)
    assert worked_out_anew(record, __version__)[0].differences == ()
    forged = replace(record, header=record.header.model_copy(update={"previous": verify(before).digest}))
    (wrong,) = worked_out_anew(forged, __version__)[0].differences
    assert (wrong.place, wrong.field) == ("header", "previous")
    after, _ = offer_of(path, today=MADE.date())
    assert after is not None
    assert ("capacity-test", ("bank",)) in after.put_off, "put off at the commissioning, in no monthly walk"


def test_a_visit_that_was_signed_in_the_meantime_is_told_and_not_taken_for_the_one_before(
    visit: OpenVisit, tmp_path: Path
) -> None:
    """Two technicians go on from one record: both say so, and the chain tells the fork."""
    site = next(tmp_path.glob("northspar-beacon.toml"))
    offer, _ = offer_of(site, today=MADE.date())
    assert offer is not None
    clock = Clock(MADE + timedelta(hours=3))
    with begun_service(tmp_path, offer, Wanted(("monthly",)), clock, visit_id=4) as other:
        walk(other, clock)
        settle(other, clock)
        first = sign_and_write(
            other, name=TECHNICIAN, signed_as=DEFERRED, told=Told(str(tmp_path)), now=clock()
        )
    with pytest.raises(RecordError, match="this visit goes on from that of"):
        sign_and_write(
            visit,
            name=TECHNICIAN,
            signed_as=DEFERRED,
            told=Told(str(tmp_path), after=str(tmp_path / first[0])),
            now=visit.newest,
        )
    assert visit.visit.sign_off is None
    told = sign_and_write(
        visit, name=TECHNICIAN, signed_as=DEFERRED, told=Told(str(tmp_path)), now=visit.newest
    )
    assert f"{first[0]} was written since: it and this record follow the same one" in told
    paths = [first_record(tmp_path), tmp_path / first[0], tmp_path / told[0]]
    assert any("follows the same record" in one.text for one in chain_told([(p, verify(p)) for p in paths]))
