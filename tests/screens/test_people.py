"""Journeys over people and instruments."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from random import Random

import pytest

from commission import __version__
from commission.checklist.types import Checklist, Expected
from commission.errors import EntryError
from commission.figure import Band, given
from commission.screens.forms import Field, FormPanel
from commission.screens.people import as_line, role_of
from commission.screens.people_rows import another, due_text, instrument_hint, rows
from commission.screens.rows import RowList
from commission.visit.accuracy import accuracy_text
from commission.visit.session import OpenVisit
from commission.visit.types import Accuracy, Visit
from tests.screens.pages import TERMINALS, hands_on
from tests.visit.walks import (
    HOLDER,
    NOON,
    begun,
    expecting,
    reading,
    resumed,
    sheet,
    small_plant,
    step,
    voltmeter,
    walk,
)

WALK = walk(step("look", title="Look around"))


def fresh(root: Path, made: Checklist = WALK) -> OpenVisit:
    """Return a visit in which nobody and nothing is told yet."""
    return OpenVisit.start(
        root,
        small_plant(),
        lambda *_: (sheet(), made),
        kind="commissioning",
        program=__version__,
        now=NOON,
        holder=HOLDER,
        random=Random(1),
    )


def on_disk(root: Path, visit: OpenVisit) -> Visit:
    again = resumed(root, visit.visit.id, WALK)
    again.close()
    return again.visit


def journal_of(root: Path) -> str:
    """Return what is on the disk at this moment."""
    found = next(path for path in root.rglob("*") if path.is_file() and "journal" in path.name)
    return found.read_text(encoding="utf-8")


@pytest.mark.screen
@pytest.mark.parametrize(("size", "colour"), TERMINALS)
async def test_the_technician_is_named_field_by_field(
    tmp_path: Path, size: tuple[int, int], colour: bool
) -> None:
    visit = fresh(tmp_path)
    async with hands_on(visit, "people", tmp_path, size, colour) as hands:
        assert "name of the technician:" in hands.sees
        await hands.type("Runa Feld")
        assert "technician, supervisor, witness, owner; Enter keeps" in hands.reads
        await hands.press("enter")
        assert "licence missing" in hands.line("Runa Feld  ")
        assert "'none held' where there is none" in hands.sees
        await hands.type("E-118")
        await hands.type("Fell Power")
        assert "Fell Power" in hands.line("E-118")
        assert "Enter alone: nobody else" in hands.sees
    person = on_disk(tmp_path, visit).people[0]
    assert (person.name, person.role, person.licence, person.employer) == (
        "Runa Feld",
        "technician",
        "E-118",
        "Fell Power",
    )


@pytest.mark.screen
async def test_the_name_is_on_the_disk_before_anything_else_is_told(tmp_path: Path) -> None:
    visit = fresh(tmp_path)
    async with hands_on(visit, "people", tmp_path) as hands:
        await hands.type("Runa Feld")
        assert "Runa Feld" in journal_of(tmp_path)
        await hands.press("f7")
        assert hands.app.current_mode == "plant"


@pytest.mark.screen
async def test_nobody_named_is_said_and_the_field_waits(tmp_path: Path) -> None:
    visit = fresh(tmp_path)
    async with hands_on(visit, "people", tmp_path) as hands:
        await hands.press("enter")
        assert "the technician's name is wanted" in hands.sees
        assert "name of the technician:" in hands.sees
    assert on_disk(tmp_path, visit).people == ()


@pytest.mark.screen
async def test_a_mistyped_name_is_put_right_and_a_witness_added(tmp_path: Path) -> None:
    visit = begun(tmp_path, WALK)
    async with hands_on(visit, "people", tmp_path) as hands:
        assert "Enter keeps Runa Feld" in hands.sees
        await hands.type("Runa Feldt")
        await hands.press("enter", "enter", "enter")
        await hands.type("Ole Berg")
        await hands.type("x")
        assert hands.typed == "x"
        assert "one of: technician, supervisor, witness, owner" in hands.reads
        await hands.press("ctrl+u")
        await hands.type("wit")
        await hands.press("enter")
        await hands.press("enter")
    people = on_disk(tmp_path, visit).people
    assert [(person.name, person.role) for person in people] == [
        ("Runa Feldt", "technician"),
        ("Ole Berg", "witness"),
    ]


@pytest.mark.screen
async def test_a_field_is_emptied_by_a_dash(tmp_path: Path) -> None:
    visit = begun(tmp_path, WALK)
    async with hands_on(visit, "people", tmp_path) as hands:
        await hands.press("enter", "enter", "enter")
        assert "employer of Runa Feld:" in hands.sees
        await hands.type("-")
    assert on_disk(tmp_path, visit).people[0].employer == ""


@pytest.mark.screen
async def test_an_instrument_is_in_the_kit_when_its_serial_number_is_given(tmp_path: Path) -> None:
    visit = begun(tmp_path, WALK)
    async with hands_on(visit, "people", tmp_path) as hands:
        await hands.press("down", "down", "down")
        assert "dc voltmeter: serial number:" in hands.sees
        await hands.press("enter")
        assert "ac voltmeter: serial number:" in hands.sees
        await hands.type("B-3")
        await hands.type("2025-06-01")
        assert "overdue 2026-06-01" in hands.line("B-3")
        await hands.type("2027-01-01")
        assert "due 2027-01-01" in hands.line("B-3")
        await hands.type("0,8 % + 4")
        assert "0.8 % + 4 digits" in hands.line("B-3")
        await hands.type("my meter")
        assert "my meter" in hands.line("B-3")
    told = {one.id: one for one in on_disk(tmp_path, visit).instruments}
    meter = told["ac-voltmeter"]
    assert "dc-voltmeter" not in told
    assert (meter.serial, meter.calibrated, meter.due, meter.name) == (
        "B-3",
        "2025-06-01",
        "2027-01-01",
        "my meter",
    )
    assert {(one.percent, one.digits) for one in meter.ranges} == {(0.8, 4.0)}


@pytest.mark.screen
@pytest.mark.parametrize(
    ("enters", "typed", "says"),
    [
        pytest.param(1, "1.3.2026", "written as year-month-day", id="calibrated"),
        pytest.param(2, "soon", "written as year-month-day", id="due"),
        pytest.param(3, "good enough", "is no accuracy", id="accuracy"),
    ],
)
async def test_rubbish_stays_as_typed_and_is_explained(
    tmp_path: Path, enters: int, typed: str, says: str
) -> None:
    visit = begun(tmp_path, WALK)
    before = visit.visit
    async with hands_on(visit, "people", tmp_path) as hands:
        hands.app.screen.query_one("#people", RowList).point_at("instrument|meter-1")
        await hands.pilot.pause()
        for _ in range(enters):
            await hands.press("enter")
        await hands.type(typed)
        assert hands.typed == typed
        assert says in hands.reads
    assert visit.visit == before


@pytest.mark.screen
async def test_the_whole_usual_kit_is_taken_with_one_key(tmp_path: Path) -> None:
    visit = fresh(tmp_path)
    async with hands_on(visit, "people", tmp_path) as hands:
        await hands.press("down")
        assert "▶ the whole usual kit" in hands.sees
        await hands.press("enter")
        assert "give each that you use its serial number" in hands.reads
        await hands.rest()
    kit = on_disk(tmp_path, visit).instruments
    assert {"dc-voltmeter", "insulation-tester"} <= {one.id for one in kit}


@pytest.mark.screen
async def test_a_second_meter_of_a_kind_gets_an_id_of_its_own(tmp_path: Path) -> None:
    visit = begun(tmp_path, WALK)
    async with hands_on(visit, "people", tmp_path) as hands:
        for _ in range(2):
            await hands.press(*["pagedown"] * 4)
            assert "▶ another instrument" in hands.sees
            await hands.press("enter", *"dc volt", "enter")
        assert "dc voltmeter 3: serial number:" in hands.sees
        await hands.rest()
    assert [one.id for one in on_disk(tmp_path, visit).instruments] == [
        "meter-1",
        "dc-voltmeter-2",
        "dc-voltmeter-3",
    ]


@pytest.mark.screen
@pytest.mark.parametrize("size", [(80, 24), (140, 40)])
async def test_what_the_kit_cannot_decide_is_said_before_the_walk(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, size: tuple[int, int]
) -> None:
    band = Band(given(12.0, "V", "least"), None, given(12.01, "V", "greatest"), "V")
    expecting(monkeypatch, "narrow band", lambda _: Expected(band))
    made = walk(step("drop", reading(expect="narrow band"), title="Drop along the run"))
    visit = begun(tmp_path, made)
    async with hands_on(visit, "people", tmp_path, size) as hands:
        await hands.rest()
        # 0.05 % + 2 digits of 0.01 V at 12 V is ± 0.026 V, against a band of ± 0.005 V
        assert "this kit cannot decide 1 of the readings" in hands.reads
        assert ("Drop along the run" in hands.sees) is (size == (140, 40))
        await hands.press("f2")
        assert "Drop along the run: the reading 1" in hands.reads
        assert "the band is ± 0.005" in hands.reads
        await hands.press("escape")
        await hands.press(*["pagedown"] * 4, "up")
        # a meter of 0.01 % and of a tenth of a millivolt decides it
        hands.app.screen.query_one("#people", RowList).point_at("instrument|meter-1")
        await hands.press("enter", "enter", "enter")
        await hands.type("0.01 % + 2 to 60 V by 0.0001")
        await hands.rest()
        assert "can decide every reading" in hands.reads


@pytest.mark.screen
async def test_entries_that_arrive_together_stay_apart(tmp_path: Path) -> None:
    visit = fresh(tmp_path)
    async with hands_on(visit, "people", tmp_path) as hands:
        await hands.at_once("Runa Feld\n\nE-118\nFell Power\n")
    person = on_disk(tmp_path, visit).people[0]
    assert (person.name, person.licence, person.employer) == ("Runa Feld", "E-118", "Fell Power")


@pytest.mark.screen
async def test_all_can_be_reached_by_keys_and_the_footer_fits(tmp_path: Path) -> None:
    visit = begun(tmp_path, WALK)
    async with hands_on(visit, "people", tmp_path) as hands:
        assert hands.footer_fits
        assert hands.reached_by_tab == ["entry"]


# without a screen


@pytest.mark.parametrize(
    ("calibrated", "due", "says"),
    [
        ("", "", "calibration not told"),
        ("2026-03-01", "", "due 2027-03-01"),
        ("2025-11-23", "", "overdue 2026-11-23"),
        ("2025-11-24", "", "due 2026-11-24"),
        ("2020-01-01", "2026-12-01", "due 2026-12-01"),
    ],
)
def test_when_a_meter_is_due_is_said_in_words(calibrated: str, due: str, says: str) -> None:
    assert due_text(voltmeter(calibrated=calibrated, due=due), dt.date(2026, 11, 24)) == says


def test_a_signed_name_keeps_out_what_no_record_may_hold() -> None:
    assert as_line("Ole 'Bo' Berg [/b]") == "Ole 'Bo' Berg [/b]"
    for wrong in ("a\x07b", "x" * 401, "a\u202eb"):
        with pytest.raises(EntryError):
            as_line(wrong)


@pytest.mark.parametrize("typed", ["", "t e", "boss"])
def test_a_role_is_one_of_four(typed: str) -> None:
    with pytest.raises(EntryError, match="technician, supervisor, witness, owner"):
        role_of(typed)


def test_every_line_has_a_key_of_its_own(tmp_path: Path) -> None:
    with begun(tmp_path, WALK) as visit:
        keys = [row.key for row in rows(visit.visit, NOON.date()) if row.key]
        assert len(keys) == len(set(keys))
        assert another(visit.visit, "logger").id == "logger-2"


@pytest.mark.screen
async def test_an_accuracy_by_ranges_is_shown_whole_for_the_meter_in_view(tmp_path: Path) -> None:
    """Its line has no room for it at 80×24."""
    ranges = tuple(
        Accuracy(unit="V", up_to=end, percent=percent, digits=2, resolution=digit)
        for end, percent, digit in ((6.0, 0.3, 0.001), (60.0, 0.5, 0.01), (600.0, 0.8, 0.1))
    )
    told = accuracy_text(ranges)
    assert len(told) > 40
    with begun(tmp_path, WALK) as visit:
        visit.add_instrument(voltmeter(ranges=ranges), NOON)
        async with hands_on(visit, "people", tmp_path) as hands:
            assert told not in hands.reads
            hands.app.screen.query_one("#people", RowList).point_at("instrument|meter-1")
            await hands.press()
            assert told in hands.reads
            await hands.press("up")
            assert told not in hands.reads


@pytest.mark.screen
async def test_a_long_question_of_a_form_is_not_cut(tmp_path: Path) -> None:
    with begun(tmp_path, WALK) as visit:
        async with hands_on(visit, "people", tmp_path) as hands:
            asked = Field("worked_on", "were the parts worked on (yes, no)")
            hands.app.push_screen(FormPanel("Go on", "With a changed plant", (asked,), lambda _: None))
            await hands.press()
            assert "were the parts worked on" in hands.reads
            assert "(yes, no)" in hands.reads


def test_a_meter_of_the_last_visit_that_is_not_here_is_not_said_to_be_kept() -> None:
    """Enter alone leaves it out of the kit; its serial number is told, to be compared and typed."""
    meter = voltmeter(serial="K-1")
    assert (
        instrument_hint("serial", meter, known=False) == "K-1 at the last visit; Enter alone: not in the kit"
    )
    assert instrument_hint("serial", meter, known=True) == "Enter keeps K-1"
    nameless = voltmeter(serial="")
    assert instrument_hint("serial", nameless, known=False) == "Enter alone: not in the kit"
