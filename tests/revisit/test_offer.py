"""What a service visit could be: dates by hand, what was changed, put off, returned, passed over."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime
from pathlib import Path
from random import Random

import pytest

from commission import __version__
from commission.desk.index import Index
from commission.errors import RecordError
from commission.prepare import worked_out_anew
from commission.records.answer import answer_record
from commission.records.read import read_record
from commission.records.seals import Comment
from commission.records.write import write_record
from commission.revisit.offer import Offer, Wanted, offer_of
from commission.revisit.returned import returned_of
from commission.revisit.seen import seen_in
from commission.revisit.told import note_lines, offer_json, offer_lines, open_lines, summary
from commission.visit.service import why_repeated
from commission.visit.session import OpenVisit
from commission.visit.shelf import Holder
from commission.visit.standing import step_text
from commission.visit.state import finding_disposition
from commission.visit.types import Disposed, Person
from tests.revisit.sites import BEACON, NOTE, begun_service, commissioned, kit_of
from tests.technician import TECHNICIAN, Clock, _put_off, _settle_step, settle, sign, typed, walk

JUNE = date(2026, 6, 1)


@pytest.fixture
def beacon(tmp_path: Path) -> Path:
    """Return the site file of a beacon that was commissioned on 12 May 2025."""
    return commissioned(tmp_path)[0]


def offered(named: Path, today: date = JUNE) -> Offer:
    offer, said = offer_of(named, today=today)
    assert offer is not None, said
    return offer


def test_dates_are_counted_from_the_last_visit_by_the_calendar(beacon: Path) -> None:
    """Commissioned on 12 May 2025: a quarter later 12 August, then a year and two."""
    offer = offered(beacon)
    assert [(row.interval, row.on.isoformat(), row.state) for row in offer.due] == [
        ("quarterly", "2025-08-12", "overdue"),
        ("yearly", "2026-05-12", "overdue"),
        ("two-yearly", "2027-05-12", "coming"),
    ]
    assert offer.at_hand.due == ("quarterly", "yearly")
    assert "quarterly due since 12 Aug 2025" in summary(offer)


def test_the_note_to_the_next_technician_comes_before_all_else(beacon: Path) -> None:
    lines = list(offer_lines(offered(beacon), Wanted()))
    first, second = NOTE.splitlines()
    assert lines.index("  " + first) < lines.index("  " + second) < lines.index("due:")
    assert list(note_lines(offered(beacon)))[2:] == [
        "spares left: one 30 A fuse",
        "access codes are kept: harbour office",
    ]


def test_what_was_put_off_is_told_with_its_date_and_that_this_is_past(beacon: Path) -> None:
    """The technician of the tests puts off for 52 days; readings of one step stand together."""
    told = list(open_lines(offered(beacon)))
    assert (
        "deferred until 2025-07-03, WHICH IS PAST: Each link of the string, 17 readings; not on this day"
        in told
    )
    assert not any("PAST" in line for line in open_lines(offered(beacon, date(2025, 7, 3))))


def test_what_was_put_off_and_read_before_the_end_of_that_visit_is_not_put_off(beacon: Path) -> None:
    """Put off in the morning, read at noon, signed: the next visit finds nothing of it."""
    offer = offered(beacon)
    clock = Clock(datetime.fromisoformat("2026-06-01T08:00:00+00:00"))
    with begun_service(beacon.parent, offer, Wanted(("quarterly",)), clock) as visit:
        first, second = visit.checklist.steps[:2]
        for step in (first, second):
            _put_off(visit, step_text(step.key), clock)
        for ask in first.asks:
            visit.take(ask, typed(visit, ask, clock()), measured_at=clock(), now=clock())
        settle(visit, clock)
        sign(visit, clock)
        write_record(beacon.parent, visit.visit, visit.plant, visit.sheet)
    after = offered(beacon)
    assert second.key in after.put_off
    assert first.key not in after.put_off
    assert not any(first.title in line for line in open_lines(after))


def test_what_was_put_off_is_walked_when_wanted_and_says_so(beacon: Path) -> None:
    offer = offered(beacon)
    without, with_it = Wanted(("quarterly",)), Wanted(("quarterly",), put_off=True)
    assert ("capacity-test", ("bank",)) in offer.put_off
    assert ("capacity-test", ("bank",)) not in offer.walk(without).by_key
    step = offer.walk(with_it).by_key["capacity-test", ("bank",)]
    assert why_repeated(step, offer.plant, offer.service(with_it)) == "put off at the last visit"


def test_a_part_that_the_site_file_tells_otherwise_begins_anew(beacon: Path) -> None:
    """Its steps are all done, none of its readings has a baseline, and the old file's are told."""
    text = beacon.read_text(encoding="utf-8")
    changed = text.replace('id = "controller-1"', 'id = "controller-1"\nlabel = "New array"', 1)
    assert changed != text
    beacon.write_text(changed.replace('label = "Tower array"\n', "", 1), encoding="utf-8")
    offer = offered(beacon)
    assert offer.changed == ("controller-1",)
    service = offer.service(Wanted())
    assert not any("controller-1" in row.parts for row in service.earlier)
    assert not any(entry.device == "controller-1" for entry in service.left)
    step = next(step for step in offer.walk(Wanted()).steps if step.parts == ("controller-1",))
    assert why_repeated(step, offer.plant, service) == "controller-1: changed"


def test_a_part_that_is_not_there_is_refused_with_those_that_are(beacon: Path) -> None:
    with pytest.raises(RecordError, match=r"strng-a.*string-a"):
        offered(beacon).service(Wanted((), "battery replaced", ("strng-a",)))


def test_a_record_that_was_changed_is_passed_over_and_told(beacon: Path) -> None:
    record = next(beacon.parent.glob(f"{BEACON}_*.toml"))
    record.write_bytes(record.read_bytes().replace(b"The hatch sticks", b"The hatch opens"))
    offer, said = offer_of(beacon, today=JUNE)
    assert offer is None
    assert "is changed and was passed over" in " ".join(said)


def test_a_record_alone_is_enough(beacon: Path) -> None:
    record = next(beacon.parent.glob(f"{BEACON}_*.toml"))
    beacon.unlink()
    offer = offered(record)
    assert offer.file is None
    assert offer.changed == ()


def returned(beacon: Path) -> Path:
    """Let a supervisor return the record at one step, and say something to the whole."""
    record = next(beacon.parent.glob(f"{BEACON}_*.toml"))
    comments = (Comment("which meter?", "link-resistance", ("string-a",)), Comment("photographs, please"))
    now = datetime.fromisoformat("2025-05-20T10:00:00+00:00")
    return answer_record(record, "returned", name="Oswin Harl", role="supervisor", now=now, comments=comments)


def test_a_returned_record_opens_at_its_comments_and_asks_only_what_keeps_them_safe(beacon: Path) -> None:
    offer = offered(returned(beacon))
    assert offer.at_hand == Wanted(returned=True)
    service, walk = offer.service(offer.at_hand), offer.walk(offer.at_hand)
    reasons = {step.data.id: why_repeated(step, offer.plant, service) for step in walk.steps}
    assert reasons.pop("link-resistance") == 'commented by Oswin Harl: "which meter?"'
    # the string is isolated for it, so the plant is switched on again after it
    assert set(reasons.values()) == {"keeps you safe", "what can hurt there", "switches the plant on again"}
    told = "\n".join(offer_lines(offer, offer.at_hand))
    assert "Returned by Oswin Harl (supervisor), 20 May 2025:" in told
    assert "Each link of the string: which meter?" in told
    assert "to the whole: photographs, please" in told
    assert f"{len(walk.aside)} are no part of this correction" in told
    assert "not due" not in told


def test_a_record_that_was_returned_without_a_step_says_why_each_step_is_there(beacon: Path) -> None:
    """Where no comment names a step, what every visit does is done, and nothing was changed."""
    record = next(beacon.parent.glob(f"{BEACON}_*.toml"))
    now = datetime.fromisoformat("2025-05-20T10:00:00+00:00")
    comments = (Comment("photographs, please"),)
    answer_record(record, "returned", name="Oswin Harl", role="supervisor", now=now, comments=comments)
    offer = offered(beacon)
    service = offer.service(offer.at_hand)
    told = {why_repeated(step, offer.plant, service) for step in offer.walk(offer.at_hand).steps}
    assert told == {"done at every visit", "what can hurt there"}


def test_nothing_is_compared_with_a_reading_that_is_doubted(beacon: Path) -> None:
    """The commissioning itself was returned, so there is no visit before it to compare with."""
    offer = offered(returned(beacon))
    service = offer.service(offer.at_hand)
    assert service.earlier == ()
    assert service.returned is not None
    assert "and 14 more" in service.returned.comments[0].was  # 18 links, of which four are told


def test_names_and_last_seals_tell_what_is_in_a_folder_without_reading_it(beacon: Path) -> None:
    (seen,) = seen_in([beacon.parent])
    assert (seen.site, seen.on, seen.comments) == (BEACON, "2025-05-12", 0)
    returned(beacon)
    assert [one.comments for one in seen_in([beacon.parent])] == [2]


def test_the_keys_of_the_json_are_those_that_scripts_know(beacon: Path) -> None:
    offer = offered(beacon)
    data = offer_json(offer, offer.at_hand)
    assert set(data) == {
        "site", "name", "last", "note", "due", "changed", "drifted", "open", "records", "passed_over",
        "returned", "wanted", "steps", "left_out",
    }  # fmt: skip
    assert len(data["steps"]) + data["left_out"] == len(offer.whole.steps)


def open_returns(folder: Path) -> int:
    """Return how many returned records the desk takes for open."""
    with Index(folder / "desk.sqlite", [folder]) as index:
        index.update(processes=1)
        return sum(row["returned"] for row in index.ask("sites"))


def test_what_was_decided_about_findings_holds_for_the_visit_that_puts_right(beacon: Path) -> None:
    """What stops is decided anew, and what is said in the visit itself goes before."""
    offer = offered(returned(beacon))
    held = offer.records.newest
    mend, stop = held.record.findings[:2]
    accepted = Disposed(
        subject="", disposition="accepted", reason="agreed", by="Oswin Harl", at=held.record.visit.started_at
    )
    told = [accepted.model_copy(update={"subject": row.id}) for row in (mend, stop)]
    findings = (
        mend.model_copy(update={"kind": "correct", "disposition": told[0]}),
        stop.model_copy(update={"kind": "stop", "disposition": told[1]}),
    )
    found = returned_of(replace(held, record=replace(held.record, findings=findings)))
    assert found is not None
    assert found.decided == (told[0],)
    service = offer.service(offer.at_hand).model_copy(update={"returned": found})
    visit = held.record.visit.model_copy(update={"service": service, "dispositions": ()})
    assert finding_disposition(visit, mend.id, stops=False) == told[0]
    assert finding_disposition(visit, mend.id, stops=True) is None
    assert finding_disposition(visit, stop.id, stops=False) is None
    own = told[0].model_copy(update={"disposition": "mended"})
    again = visit.model_copy(update={"dispositions": (own,)})
    assert finding_disposition(again, mend.id, stops=False) == own


def test_a_record_that_was_put_right_hides_nothing_of_the_one_before_it(beacon: Path) -> None:
    """Note, plates and what was put off stand in the returned record; only what was read again is new."""
    offer = offered(returned(beacon))
    assert open_returns(beacon.parent) == 1
    clock = Clock(datetime.fromisoformat("2025-06-01T08:00:00+00:00"))
    with OpenVisit.start(
        beacon.parent / "visits",
        offer.plant,
        offer.prepare,
        kind="service",
        program=__version__,
        now=clock(),
        holder=Holder(1, "bench", "tester"),
        random=Random(3),
        service=offer.service(offer.at_hand),
    ) as visit:
        visit.add_person(Person(name=TECHNICIAN, role="technician", licence="E-1042"), clock())
        for instrument in kit_of(2025):
            visit.add_instrument(instrument, clock())
        walk(visit, clock)
        for step in visit.checklist.steps:
            _settle_step(visit, step, clock)
        sign(visit, clock)
        path = write_record(beacon.parent, visit.visit, visit.plant, visit.sheet)
    anew, _ = worked_out_anew(read_record(path), __version__)
    assert anew.differences == ()
    assert open_returns(beacon.parent) == 0, "the desk takes it for answered"
    after = offered(beacon)
    assert after.returned is None
    assert after.last.id == visit.visit.id
    assert "  " + NOTE.splitlines()[0] in offer_lines(after, Wanted())
    assert ("capacity-test", ("bank",)) in after.put_off
    service = after.service(Wanted(("yearly",)))
    assert {plate.part for plate in service.plates} == {"controller-1", "monitor-1"}
    links = [row for row in service.earlier if row.step == "link-resistance"]
    assert links
    assert {row.visit for row in links} == {visit.visit.id}  # the doubted ones are no baseline
    assert next(row.on for row in after.due if row.interval == "yearly") == date(2026, 5, 12)
