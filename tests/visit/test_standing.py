"""Where a visit stands: done, failed, waiting; hold points; danger; progress; temporary changes."""

from __future__ import annotations

from pathlib import Path

import pytest

from commission.checklist.types import ReadingKey, Waits
from commission.errors import VisitError
from commission.visit.session import OpenVisit
from tests.visit.walks import after, begun, expecting, known, reading, step, walk

IN_BAND = "between 50 and 60"


def take(visit: OpenVisit, ident: str, typed: str, minute: float = 1.0, parts: tuple[str, ...] = ()) -> str:
    """Take the first reading of a step with the voltmeter."""
    ask = visit.checklist.by_key[ident, parts].asks[0]
    meter = None if ask.data.kind != "number" else "meter-1"
    return visit.take(ask, typed, measured_at=after(minute), now=after(minute), instrument=meter).verdict


def status(visit: OpenVisit, ident: str, parts: tuple[str, ...] = ()) -> str:
    return visit.standing.status(visit.checklist.by_key[ident, parts])


def test_a_step_is_open_until_all_its_readings_are_there(tmp_path: Path) -> None:
    """An optional one is not waited for."""
    two = step("two", reading("a"), reading("b"), reading("c", optional=True))
    with begun(tmp_path, walk(two)) as visit:
        assert status(visit, "two") == "open"
        for ask, expected in ((two.asks[0], "open"), (two.asks[1], "done")):
            visit.take(ask, "54", measured_at=after(1), now=after(1), instrument="meter-1")
            assert status(visit, "two") == expected


def test_a_reading_out_of_band_fails_its_step_until_it_is_read_again_or_accepted(tmp_path: Path) -> None:
    """Mended is proven by a new reading, never by a word."""
    steps = walk(step("volts", reading(expect=IN_BAND)), step("more", reading(expect=IN_BAND)))
    with begun(tmp_path, steps) as visit:
        assert take(visit, "volts", "61.5") == "fail"
        visit.dispose("volts@", "mended", reason="tightened", by="Runa Feld", now=after(2))
        assert status(visit, "volts") == "failed"
        assert take(visit, "volts", "55", 3) == "pass"
        assert status(visit, "volts") == "done"
        take(visit, "more", "61.5", 4)
        visit.dispose("more@", "accepted", reason="known, watched", by="Elin Corse", now=after(5))
        assert status(visit, "more") == "done"


def test_a_failed_reading_is_accepted_by_a_second_person_or_put_off_with_what_stays_off(
    tmp_path: Path,
) -> None:
    """Never by the visit's technician, and never without saying what is off meanwhile."""
    with begun(tmp_path, walk(step("volts", reading(expect=IN_BAND)))) as visit:
        take(visit, "volts", "61.5")
        with pytest.raises(VisitError, match="second person"):
            visit.dispose("volts@", "accepted", reason="known", by="Runa Feld", now=after(2))
        with pytest.raises(VisitError, match="what stays off"):
            visit.dispose("volts@", "deferred", reason="r", by="R", until="2026-12-01", now=after(2))
        with pytest.raises(VisitError, match="does not end"):
            visit.dispose("volts@", "isolated and locked", reason="r", by="R", now=after(2))
        take(visit, "volts", "55", 3)
        with pytest.raises(VisitError, match="nothing has to be done"):
            visit.dispose("volts@", "accepted", reason="known", by="Elin Corse", now=after(4))


def test_a_disposition_holds_for_the_reading_that_it_was_given_for(tmp_path: Path) -> None:
    """A later failed reading needs its own."""
    with begun(tmp_path, walk(step("volts", reading(expect=IN_BAND)))) as visit:
        take(visit, "volts", "61.5")
        visit.dispose("volts@", "accepted", reason="known", by="Elin Corse", now=after(2))
        take(visit, "volts", "63", 3)
        assert status(visit, "volts") == "failed"


def test_a_step_that_stands_on_another_is_barred_until_that_has_passed(tmp_path: Path) -> None:
    """The reason is told, and nothing is taken meanwhile."""
    below = step("below", reading(expect=IN_BAND))
    above = step("above", stands_on=(below.key,))
    with begun(tmp_path, walk(below, above)) as visit:
        assert status(visit, "above") == "barred"
        with pytest.raises(VisitError, match="'above' is barred: stands on 'below'"):
            take(visit, "above", "54")
        take(visit, "below", "65")
        assert status(visit, "above") == "barred"
        take(visit, "below", "55", 2)
        assert status(visit, "above") == "open"
        take(visit, "above", "54", 3)


def test_a_hold_point_opens_by_its_readings_and_shuts_by_a_worse_one(tmp_path: Path) -> None:
    """A conditional pass counts with its reason only."""
    hold = step("hold", reading(expect=IN_BAND), hold=True)
    later = step("later", holds=(hold.key,), raises_energy=True)
    with begun(tmp_path, walk(hold, later)) as visit:
        assert [item.key for item in visit.standing.open_holds()] == [hold.key]
        assert take(visit, "hold", "59.99") == "conditional pass"
        assert status(visit, "later") == "barred"
        visit.dispose("hold@", "accepted", reason="meter at its edge", by="Runa Feld", now=after(2))
        assert status(visit, "later") == "open"
        assert visit.standing.open_holds() == ()
        take(visit, "hold", "65", 3)
        assert status(visit, "later") == "barred"


def test_a_failed_reading_that_was_accepted_does_not_release_a_hold_point(tmp_path: Path) -> None:
    """Only readings that pass do."""
    hold = step("hold", reading(expect=IN_BAND), hold=True)
    later = step("later", holds=(hold.key,))
    with begun(tmp_path, walk(hold, later)) as visit:
        take(visit, "hold", "61.5")
        visit.dispose("hold@", "accepted", reason="known", by="Elin Corse", now=after(2))
        assert status(visit, "hold") == "done"
        assert status(visit, "later") == "barred"


def test_a_hold_point_cannot_be_set_aside(tmp_path: Path) -> None:
    """It is released, never passed by."""
    with (
        begun(tmp_path, walk(step("hold", hold=True))) as visit,
        pytest.raises(VisitError, match="hold point"),
    ):
        visit.not_applicable(("hold", ()), "no time", after(1))


def test_a_hold_point_of_a_named_person_is_released_by_that_person_alone(tmp_path: Path) -> None:
    """After all its readings, never by the visit's technician where a supervisor is named."""
    hold = step("hold", hold=True, released_by="supervisor")
    later = step("later", holds=(hold.key,))
    with begun(tmp_path, walk(hold, later)) as visit:
        with pytest.raises(VisitError, match="all its readings"):
            visit.release(hold.key, by="Elin Corse", role="supervisor", now=after(1))
        take(visit, "hold", "54")
        assert status(visit, "later") == "barred"
        with pytest.raises(VisitError, match="not by the technician"):
            visit.release(hold.key, by="Runa Feld", role="technician", now=after(2))
        with pytest.raises(VisitError, match="other than its technician"):
            visit.release(hold.key, by="runa feld", role="supervisor", now=after(2))
        visit.release(hold.key, by="Elin Corse", role="supervisor", now=after(2))
        assert status(visit, "later") == "open"


def test_a_release_holds_for_the_readings_that_the_person_saw(tmp_path: Path) -> None:
    """A worse one entered later ends it."""
    hold = step("hold", reading(expect=IN_BAND), hold=True, released_by="supervisor")
    later = step("later", holds=(hold.key,))
    with begun(tmp_path, walk(hold, later)) as visit:
        take(visit, "hold", "61.5")
        visit.release(hold.key, by="Elin Corse", role="supervisor", reason="seen", now=after(2))
        assert status(visit, "later") == "open"
        take(visit, "hold", "70", 3)
        assert status(visit, "later") == "barred"


def test_a_step_whose_readings_release_it_needs_no_person(tmp_path: Path) -> None:
    """And no person can do it."""
    with begun(tmp_path, walk(step("hold", hold=True), step("plain"))) as visit:
        take(visit, "hold", "54")
        with pytest.raises(VisitError, match="its own readings"):
            visit.release(("hold", ()), by="Elin Corse", role="supervisor", now=after(2))
        with pytest.raises(VisitError, match="no hold point"):
            visit.release(("plain", ()), by="Elin Corse", role="supervisor", now=after(2))


def test_while_work_is_stopped_nothing_raises_energy(tmp_path: Path) -> None:
    """Until a new reading passes, or it is isolated and locked; other work goes on."""
    dead = step("dead", reading(kind="yes or no"), stops_work=True)
    power = step("power", raises_energy=True)
    other = step("other")
    with begun(tmp_path, walk(dead, power, other)) as visit:
        assert take(visit, "dead", "no") == "stop work"
        assert status(visit, "dead") == "failed"
        assert status(visit, "power") == "barred"
        assert status(visit, "other") == "open"
        assert [item.key.step for item in visit.standing.stops()] == ["dead"]
        visit.dispose("dead@", "isolated and locked", reason="lock 7", by="Runa Feld", now=after(2))
        assert status(visit, "power") == "open"
        assert take(visit, "dead", "no", 3) == "stop work"
        assert take(visit, "dead", "yes", 4) == "pass"
        assert status(visit, "power") == "open"
        assert visit.standing.stops() == ()


def test_stop_work_is_neither_accepted_nor_released(tmp_path: Path) -> None:
    """Nobody on site can."""
    hold = step("dead", reading(kind="yes or no"), stops_work=True, hold=True, released_by="supervisor")
    with begun(tmp_path, walk(hold)) as visit:
        take(visit, "dead", "no")
        with pytest.raises(VisitError, match="'mended' or 'isolated and locked'"):
            visit.dispose("dead@", "accepted", reason="known", by="Elin Corse", now=after(2))
        with pytest.raises(VisitError, match="nobody can release"):
            visit.release(hold.key, by="Elin Corse", role="supervisor", now=after(2))


def test_a_step_can_be_set_aside_and_taken_up_again(tmp_path: Path) -> None:
    """With a reason; what stands on it may go on meanwhile."""
    below, above = step("below"), step("above", stands_on=(("below", ()),))
    with begun(tmp_path, walk(below, above)) as visit:
        with pytest.raises(VisitError, match="reason"):
            visit.not_applicable(below.key, " ", after(1))
        visit.not_applicable(below.key, "no such cable", after(1))
        assert (status(visit, "below"), status(visit, "above")) == ("not applicable", "open")
        visit.applies_again(below.key, after(2))
        assert (status(visit, "below"), status(visit, "above")) == ("open", "barred")
        assert [entry.withdrawn for entry in visit.visit.not_applicable] == [False, True]


def test_a_step_can_be_put_off_to_a_day_to_come(tmp_path: Path) -> None:
    """Who and until when; what stands on it stays barred."""
    below, above = step("below"), step("above", stands_on=(("below", ()),))
    with begun(tmp_path, walk(below, above)) as visit:
        with pytest.raises(VisitError, match="until when"):
            visit.dispose("below@", "deferred", reason="rain", by="Runa Feld", now=after(1))
        with pytest.raises(VisitError, match="past"):
            visit.dispose("below@", "deferred", reason="rain", by="R", until="2026-11-23", now=after(1))
        visit.dispose("below@", "deferred", reason="rain", by="Runa Feld", until="2026-12-01", now=after(1))
        assert (status(visit, "below"), status(visit, "above")) == ("deferred", "barred")


def put_off(visit: OpenVisit, subject: str, minute: float) -> None:
    told = {"reason": "rain", "by": "Runa Feld", "until": "2026-12-01", "stays_off": "the pump"}
    visit.dispose(subject, "deferred", now=after(minute), **told)


def decided(visit: OpenVisit) -> list[str]:
    return [one.subject for one in visit.standing.decided()]


def test_a_step_that_was_put_off_and_read_later_is_put_off_no_more(tmp_path: Path) -> None:
    """Not before all of its readings are there; what was said stays in the visit."""
    one, two = step("one"), step("two", reading("a", expect=IN_BAND), reading("b", expect=IN_BAND))
    with begun(tmp_path, walk(one, two)) as visit:
        put_off(visit, "one@", 1)
        put_off(visit, "two@", 1)
        assert decided(visit) == ["one@", "two@"]
        take(visit, "one", "54", 2)
        take(visit, "two", "54", 2)
        assert decided(visit) == ["two@"]
        visit.take(two.asks[1], "54", measured_at=after(3), now=after(3), instrument="meter-1")
        assert decided(visit) == []
        assert (status(visit, "one"), status(visit, "two")) == ("done", "done")
        assert len(visit.visit.dispositions) == 2


def test_a_failed_reading_that_was_put_off_is_put_off_until_it_is_read_again(tmp_path: Path) -> None:
    with begun(tmp_path, walk(step("volts", reading(expect=IN_BAND)))) as visit:
        take(visit, "volts", "70", 1)
        put_off(visit, "volts@", 2)
        assert (decided(visit), status(visit, "volts")) == (["volts@"], "deferred")
        take(visit, "volts", "71", 3)
        assert (decided(visit), status(visit, "volts")) == ([], "failed")
        put_off(visit, "volts@", 4)
        take(visit, "volts", "54", 5)
        assert (decided(visit), status(visit, "volts")) == ([], "done")


def test_a_temporary_change_is_open_until_its_read_back_passes(tmp_path: Path) -> None:
    """From the first reading of the step to the last."""
    lifted = step("bond", reading("off"), reading("back", kind="yes or no"), alters="neutral bond lifted")
    with begun(tmp_path, walk(lifted)) as visit:
        assert visit.standing.open_changes() == ()
        take(visit, "bond", "0.3")
        assert [item.key for item in visit.standing.open_changes()] == [lifted.key]
        for answer, count in (("no", 1), ("yes", 0)):
            visit.take(lifted.asks[1], answer, measured_at=after(2), now=after(2))
            assert len(visit.standing.open_changes()) == count
            told = [item for item in visit.missing() if "neutral bond lifted" in item.says]
            assert len(told) == count


def test_progress_counts_what_is_done_in_each_stage(tmp_path: Path) -> None:
    """Done, set aside and put off count; what failed is told apart."""
    steps = walk(
        step("a", reading(expect=IN_BAND)),
        step("b", reading(expect=IN_BAND)),
        step("c"),
        step("d", stage=2),
    )
    with begun(tmp_path, steps) as visit:
        take(visit, "a", "55")
        take(visit, "b", "65")
        visit.not_applicable(("c", ()), "none here", after(2))
        first, second = visit.standing.progress()
        assert (first.number, first.done, first.total, first.failed) == (1, 2, 3, 1)
        assert (second.title, second.done, second.total) == ("stage 2", 0, 1)


def test_what_comes_next_is_told_as_if_the_step_in_hand_had_passed(tmp_path: Path) -> None:
    """A step that only waits for the one in hand is told, one that something else bars as well is not."""
    steps = walk(
        step("a", reading(expect=IN_BAND)),
        step("b", stands_on=(("a", ()), ("d", ()))),
        step("c", stands_on=(("a", ()),)),
        step("d"),
    )
    with begun(tmp_path, steps) as visit:
        first = visit.checklist.by_key["a", ()]
        assert known(visit.standing.next_step(first.key)).key == ("d", ())
        assert known(visit.standing.next_once_passed(first)).key == ("c", ())
        take(visit, "a", "65")
        assert visit.standing.status(first) == "failed"
        assert known(visit.standing.next_once_passed(first)).key == ("d", ())


def test_a_step_that_waits_for_its_verdict_is_not_next_as_long_as_it_is_barred(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What it stands on was read again and fails: Enter there would only lead back."""
    expecting(monkeypatch, "by what is to come", lambda _: Waits((ReadingKey("c"),), "c is wanted"))
    later = step("b", reading(expect="by what is to come"), stands_on=(("d", ()),))
    with begun(tmp_path, walk(step("a"), later, step("c"), step("d", reading(expect=IN_BAND)))) as visit:
        take(visit, "d", "55", 1)
        take(visit, "b", "55", 2)
        assert status(visit, "b") == "waiting"
        assert known(visit.standing.next_step(("a", ()))).key == ("b", ())
        take(visit, "d", "65", 3)
        assert known(visit.standing.next_step(("a", ()))).key == ("c", ())


def test_the_next_step_is_the_next_open_one_that_is_not_barred(tmp_path: Path) -> None:
    """Round to the beginning."""
    steps = walk(step("a"), step("b", stands_on=(("c", ()),)), step("c"), step("d"))
    with begun(tmp_path, steps) as visit:
        assert known(visit.standing.next_step()).key == ("a", ())
        assert known(visit.standing.next_step(("a", ()))).key == ("c", ())
        take(visit, "c", "54")
        assert known(visit.standing.next_step(("a", ()))).key == ("b", ())
        assert known(visit.standing.next_step(("d", ()))).key == ("a", ())
