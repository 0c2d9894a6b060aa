"""Journeys over the sign-off page."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest
from textual.widgets import Input

from commission.records.verify import verify
from commission.screens.record_file import usual_folder
from commission.sheet.types import Finding, Sheet
from commission.visit.digest import confirmation_words
from commission.visit.session import OpenVisit
from commission.visit.types import Person, Visit
from tests.screens.pages import TERMINALS, Hands, hands_on
from tests.visit.walks import (
    NOON,
    RUNA,
    after,
    begun,
    reading,
    resumed,
    setting,
    sheet,
    step,
    voltmeter,
    walk,
)

YES_OR_NO = reading(kind="yes or no")
LOOK, GUARD = step("look", YES_OR_NO, title="Look around"), step("guard", YES_OR_NO, title="Guard stops")
WALK = walk(LOOK, GUARD)
STOP = Finding("stop", "string-fuse", ("string-1",), "no fuse at string 1", "a fuse of 250 A")
CORRECT = Finding("correct", "conductor", ("run-1",), "run 1 is thin", "70 mm²")
WHOLE = sheet(setting())


def visit_of(root: Path, *, done: bool = False, made: Sheet = WHOLE) -> OpenVisit:
    """Return a visit; ``done``: with all read, set and told."""
    visit = begun(root, WALK, made)
    if done:
        for one in (LOOK, GUARD):
            visit.take(one.asks[0], "yes", measured_at=NOON, now=NOON)
        visit.set_left("inverter-1", "absorption_voltage", "57.6", NOON)
        visit.identify("inverter-1", NOON, serial="S-1", firmware="4.1")
    return visit


def on_disk(root: Path, visit: OpenVisit, made: Sheet = WHOLE) -> Visit:
    again = resumed(root, visit.visit.id, WALK, made)
    again.close()
    return again.visit


async def to_line(hands: Hands, words: str) -> None:
    """Go down to the line with some words."""
    for _ in range(60):
        if any(line.startswith(" ▶") and words in line for line in hands.sees.splitlines()):
            return
        await hands.pilot.press("down")
    raise AssertionError(f"no line with {words}:\n{hands.sees}")


@pytest.mark.screen
@pytest.mark.parametrize(("size", "colour"), TERMINALS)
async def test_what_is_missing_stands_there_and_enter_goes_to_it(
    tmp_path: Path, size: tuple[int, int], colour: bool
) -> None:
    visit = visit_of(tmp_path)
    async with hands_on(visit, "sign", tmp_path, size, colour) as hands:
        assert "4 missing" in hands.line("sign  ")
        assert "2 steps open: stage 1" in hands.reads
        assert "inverter-1: 1 setting not read as left, absorption voltage first" in hands.reads
        await to_line(hands, "2 steps open: stage 1")
        assert "Enter: the step in the walk" in hands.sees
        await hands.press("enter")
        assert hands.app.current_mode == "walk"
        assert visit.visit.at_step == "look"
        await hands.press("f9")
        await to_line(hands, "not read as left")
        await hands.press("enter")
        assert hands.app.current_mode == "settings"
        assert "as left, absorption voltage (V):" in hands.sees


@pytest.mark.screen
async def test_a_missing_licence_leads_to_the_person(tmp_path: Path) -> None:
    visit = visit_of(tmp_path)
    visit.add_person(Person(name="Runa Feld", role="technician"), NOON)
    async with hands_on(visit, "sign", tmp_path) as hands:
        await to_line(hands, "licence of Runa Feld is missing")
        await hands.press("enter")
        assert hands.app.current_mode == "people"
        assert "▶ technician  Runa Feld" in hands.sees
        assert "licence of Runa Feld:" in hands.sees
        await hands.type("E-118")
        await hands.press("f9")
        assert "licence" not in hands.sees
    assert on_disk(tmp_path, visit).people[0].licence == "E-118"


@pytest.mark.screen
async def test_an_instrument_leads_to_what_is_missing_of_it(tmp_path: Path) -> None:
    """The serial number stands there already, so the date of calibration is asked for."""
    visit = begun(tmp_path, walk(step("rest", reading(unit="V", instrument="dc voltmeter"))), WHOLE)
    visit.add_instrument(voltmeter(serial="K-7", calibrated="", due=""), NOON)
    ask = visit.checklist.steps[0].asks[0]
    visit.take(ask, "12.6 V", measured_at=NOON, now=NOON, instrument="meter-1")
    async with hands_on(visit, "sign", tmp_path) as hands:
        await to_line(hands, "date of calibration missing")
        await hands.press("enter")
        assert hands.app.current_mode == "people"
        assert "calibrated on:" in hands.sees


@pytest.mark.screen
async def test_a_step_that_was_put_off_and_read_later_is_not_listed_as_put_off(tmp_path: Path) -> None:
    visit = visit_of(tmp_path)
    for ident in ("look@", "guard@"):
        visit.dispose(ident, "deferred", reason="rain", by="Runa Feld", until="2026-12-24", now=NOON)
    visit.take(LOOK.asks[0], "yes", measured_at=after(1), now=after(1))
    async with hands_on(visit, "sign", tmp_path) as hands:
        await to_line(hands, "deferred until 2026-12-24: Guard stops")
        assert "Look around" not in hands.sees


@pytest.mark.screen
async def test_a_plate_is_typed_in_place(tmp_path: Path) -> None:
    visit = visit_of(tmp_path)
    async with hands_on(visit, "sign", tmp_path) as hands:
        await to_line(hands, "serial number and firmware version missing")
        await hands.press("enter")
        for text in ("S-100", "4.12", "2614"):
            await hands.type(text)
        assert "serial S-100, firmware 4.12, date code 2614" in hands.sees
        assert "3 missing" in hands.line("sign  ")
    device = on_disk(tmp_path, visit).devices[0]
    assert (device.part, device.serial, device.firmware, device.date_code) == (
        "inverter-1",
        "S-100",
        "4.12",
        "2614",
    )


@pytest.mark.screen
async def test_a_finding_is_put_off_only_with_a_day_to_come(tmp_path: Path) -> None:
    made = sheet(setting(), findings=(CORRECT,))
    visit = visit_of(tmp_path, made=made)
    async with hands_on(visit, "sign", tmp_path) as hands:
        await to_line(hands, "correct: run 1 is thin")
        await hands.press("enter")
        assert "isolated and locked" not in hands.sees
        await hands.press(*"defer", "enter")
        await hands.type("new cable is ordered")
        assert "Runa Feld" in hands.typed
        await hands.press("enter")
        await hands.type("2026-11-01")
        await hands.press("enter")
        assert "2026-11-01, which is past" in hands.reads
        assert hands.app.screen.query_one("#field-reason", Input).value == "new cable is ordered"
        await hands.press("up", "ctrl+u")
        await hands.type("2026-12-24")
        await hands.press("enter")
        await to_line(hands, "deferred until 2026-12-24: run 1 is thin; new cable is ordered")
    kept = on_disk(tmp_path, visit, made).dispositions[0]
    assert (kept.subject, kept.disposition, kept.reason, kept.by, kept.until) == (
        "conductor:run-1",
        "deferred",
        "new cable is ordered",
        "Runa Feld",
        "2026-12-24",
    )


@pytest.mark.screen
async def test_a_failed_reading_is_accepted_by_a_second_person_only(tmp_path: Path) -> None:
    visit = visit_of(tmp_path, done=True)
    visit.take(GUARD.asks[0], "no", measured_at=NOON, now=NOON)
    async with hands_on(visit, "sign", tmp_path) as hands:
        await to_line(hands, "'Guard stops' is 'fail'; what is done about it?")
        await hands.press("enter", *"accepted", "enter")
        await hands.type("the guard is not wanted here")
        assert hands.typed == "", "the technician is not offered"
        await hands.type("runa feld")
        assert "accepted by a second person" in hands.reads
        assert hands.typed == "runa feld"
        await hands.press("ctrl+u")
        await hands.type("Ole Berg")
        assert "nothing is missing" in hands.line("sign  ")
    kept = on_disk(tmp_path, visit).dispositions[0]
    assert (kept.subject, kept.disposition, kept.by) == ("guard@", "accepted", "Ole Berg")


@pytest.mark.screen
async def test_mended_leads_to_a_new_reading(tmp_path: Path) -> None:
    visit = visit_of(tmp_path, done=True)
    visit.take(GUARD.asks[0], "no", measured_at=NOON, now=NOON)
    async with hands_on(visit, "sign", tmp_path) as hands:
        await to_line(hands, "'Guard stops' is 'fail'")
        await hands.press("enter", *"mended", "enter")
        await hands.type("loose plug pushed home")
        await hands.press("enter")
        assert "now read it again, which proves it" in hands.sees
        assert "1 missing" in hands.line("sign  ")
        await to_line(hands, "'Guard stops' is 'fail'")
        await hands.press("enter", *"go there", "enter")
        assert hands.app.current_mode == "walk"
        assert visit.visit.at_step == "guard"


@pytest.mark.screen
async def test_a_finding_that_stops_work_wants_the_words_of_a_second_person(tmp_path: Path) -> None:
    made = sheet(setting(), findings=(STOP,))
    visit = visit_of(tmp_path, made=made)
    words = confirmation_words(visit.plant, STOP.id)
    async with hands_on(visit, "sign", tmp_path) as hands:
        await to_line(hands, "stop: no fuse at string 1")
        await hands.press("enter", *"second", "enter")
        for text in ("fuse comes tomorrow, plant stays open", "Ole Berg"):
            await hands.type(text)
        await hands.type("some other words")
        assert "not those of this plant and finding" in hands.reads
        assert hands.typed == "some other words"
        await hands.press("ctrl+u")
        await hands.type(words)
        await to_line(hands, "accepted: no fuse at string 1")


@pytest.mark.screen
async def test_what_nobody_on_site_can_release_is_not_offered(tmp_path: Path) -> None:
    bound = Finding("stop", "polarity", ("string-1",), "poles are reversed", releasable=False)
    visit = visit_of(tmp_path, made=sheet(setting(), findings=(bound,)))
    async with hands_on(visit, "sign", tmp_path) as hands:
        await to_line(hands, "stop: poles are reversed")
        await hands.press("enter")
        assert "may stay as it is" not in hands.reads
        assert "isolated and locked" in hands.sees


@pytest.mark.screen
async def test_a_state_is_chosen_and_less_is_missing(tmp_path: Path) -> None:
    visit = visit_of(tmp_path)
    async with hands_on(visit, "sign", tmp_path) as hands:
        await to_line(hands, "to be signed as   complete")
        await hands.press("enter", *"made safe", "enter")
        assert "to be signed as   made safe, not in service" in hands.sees
        assert "nothing is missing" in hands.line("sign  ")


@pytest.mark.screen
async def test_what_is_left_for_others_is_kept(tmp_path: Path) -> None:
    visit = visit_of(tmp_path)
    async with hands_on(visit, "sign", tmp_path) as hands:
        for words, text in (
            ("note to the next technician", "run 2 hums at night"),
            ("spare fuses and parts left", "two 250 A fuses"),
            ("where access codes are kept", "office safe"),
        ):
            await to_line(hands, words)
            await hands.press("enter")
            await hands.type(text)
            assert text in hands.sees
    kept = on_disk(tmp_path, visit)
    assert (kept.next_technician, kept.spares, kept.codes_kept) == (
        "run 2 hums at night",
        "two 250 A fuses",
        "office safe",
    )


@pytest.mark.screen
async def test_signing_is_refused_while_something_is_missing(tmp_path: Path) -> None:
    visit = visit_of(tmp_path)
    async with hands_on(visit, "sign", tmp_path) as hands:
        await to_line(hands, "4 missing")
        await hands.press("enter")
        assert "cannot be signed as complete yet" in hands.sees
        assert "▶ 2 steps open: stage 1" in hands.sees
    assert on_disk(tmp_path, visit).sign_off is None


@pytest.mark.screen
@pytest.mark.parametrize(("size", "colour"), TERMINALS)
async def test_the_visit_is_signed_and_its_record_verifies(
    tmp_path: Path, size: tuple[int, int], colour: bool
) -> None:
    visit = visit_of(tmp_path, done=True)
    folder = tmp_path / "records"
    async with hands_on(visit, "sign", tmp_path, size, colour) as hands:
        await to_line(hands, "nothing is missing")
        await hands.press("enter", "ctrl+u", *str(folder), "enter")
        await hands.type("Somebody Else")
        assert "Somebody Else is not a technician of this visit" in hands.reads
        assert hands.typed == "Somebody Else"
        await hands.press("ctrl+u")
        await hands.type("Runa Feld")
        (path,) = folder.iterdir()
        assert "signed by Runa Feld as complete, 2026-11-24 12:00" in hands.sees
        assert path.name in hands.letters
        assert "read back and intact" in hands.sees
        assert hands.sees.splitlines()[0].endswith("signed")
        checked = verify(path)
        assert checked.intact
        assert checked.digest in hands.sees
    assert tomllib.loads(path.read_text(encoding="utf-8"))["sign_off"]["name"] == "Runa Feld"
    assert on_disk(tmp_path, visit).sign_off is not None


@pytest.mark.screen
async def test_a_folder_that_cannot_be_made_is_refused_before_the_visit_is_signed(tmp_path: Path) -> None:
    visit = visit_of(tmp_path, done=True)
    blocked = tmp_path / "a-file"
    blocked.write_text("no folder")
    async with hands_on(visit, "sign", tmp_path) as hands:
        await to_line(hands, "nothing is missing")
        await hands.press("enter", "ctrl+u", *str(blocked), "enter")
        await hands.type("Runa Feld")
        assert "is no folder and cannot be made" in hands.reads
        assert visit.visit.sign_off is None
        assert hands.typed == "Runa Feld"


@pytest.mark.screen
async def test_a_record_refused_after_signing_is_written_elsewhere(tmp_path: Path) -> None:
    visit = visit_of(tmp_path, done=True)
    taken, free = tmp_path / "taken", tmp_path / "free"
    taken.mkdir()
    async with hands_on(visit, "sign", tmp_path) as hands:
        name = f"{visit.visit.site}_2026-11-24_commissioning_{visit.visit.id[-4:]}.toml"
        (taken / name).write_text("another record")
        await to_line(hands, "nothing is missing")
        await hands.press("enter", "ctrl+u", *str(taken), "enter")
        await hands.type("Runa Feld")
        assert "another record has this name" in hands.reads
        await hands.press("escape")
        assert "signed, but the record is not written" in hands.sees
        await hands.press("enter", "ctrl+u", *str(free), "enter")
        assert "read back and intact" in hands.sees
    assert (taken / name).read_text() == "another record"
    assert verify(free / name).intact


@pytest.mark.screen
async def test_a_signed_visit_takes_nothing_more(tmp_path: Path) -> None:
    visit = visit_of(tmp_path, done=True)
    visit.sign_off(RUNA.name, "complete", NOON)
    before = visit.visit
    async with hands_on(visit, "settings", tmp_path) as hands:
        await hands.type("58.0")
        assert "is signed; what comes after belongs into a new visit" in hands.reads
        assert hands.typed == "58.0"
        await hands.press("f9")
        assert "the record is not written from here yet" in hands.reads
    assert visit.visit == before


@pytest.mark.screen
async def test_all_can_be_reached_by_keys_and_the_footer_fits(tmp_path: Path) -> None:
    visit = visit_of(tmp_path)
    async with hands_on(visit, "sign", tmp_path) as hands:
        assert hands.footer_fits
        assert hands.reached_by_tab == ["signing"]
        await hands.press("enter")
        assert hands.reached_by_tab == ["narrow"]


def test_the_record_goes_where_the_program_was_started_wherever_visits_are_kept(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    started = tmp_path / "started here"
    started.mkdir()
    monkeypatch.chdir(started)
    monkeypatch.setenv("COMMISSION_VISITS", str(tmp_path / "elsewhere" / "visits"))
    assert usual_folder() == started


@pytest.mark.screen
async def test_what_is_missing_stands_whole_in_the_list(tmp_path: Path) -> None:
    """A long line goes on below, under where its text begins; also when the window gets narrower."""
    long = "Voltage between the posts of the bank and the busbar of the cabinet behind the second door"
    visit = begun(tmp_path, walk(step("long", reading(expect="between 50 and 60"), title=long)), sheet())
    ask = visit.checklist.steps[0].asks[0]
    visit.take(ask, "65", measured_at=NOON, now=NOON, instrument="meter-1")
    async with hands_on(visit, "sign", tmp_path) as hands:
        says = f"'the reading 1' of '{long}' is 'fail'; what is done about it?"
        for width in (80, 60):
            await hands.pilot.resize_terminal(width, 24)
            await hands.press()
            lines = hands.sees.splitlines()
            first = next(at for at, line in enumerate(lines) if "'the reading 1' of" in line)
            told = [line.strip(" ▶▂▄▆▇") for line in lines[first : first + 4]]
            assert " ".join(told).startswith(says), width
            assert lines[first + 1].startswith("   "), "under where the text begins"
            assert "…" not in "".join(lines[2:])
        await to_line(hands, "'the reading 1' of")
        assert "Enter: say what was done about it" in hands.reads
