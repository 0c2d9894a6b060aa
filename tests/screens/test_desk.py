"""Journeys over the desk: a supervisor finds the site that needs them, opens its record, answers it."""

from __future__ import annotations

import os
import re
import shutil
import threading
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, cast

import pytest

from commission.desk.index import Index, Updated
from commission.desk.series import Limit, Point
from commission.desk.trend import trend
from commission.records.answer import answer_record
from commission.records.keys import make_key
from commission.records.read import read_record
from commission.records.seals import Comment
from commission.records.verify import verify
from commission.screens.desk_app import DeskApp
from commission.visit.shelf import keys_root
from tests.desk.small_fleet import TODAY, Made, small_fleet
from tests.screens.pages import NARROW, TERMINALS, WIDE, Hands
from tests.visit.walks import NOON

PHRASE = "seven grey geese"


@pytest.fixture(scope="module")
def fleet(tmp_path_factory: pytest.TempPathFactory) -> Made:
    """Five sites; nobody writes into them."""
    return small_fleet(tmp_path_factory.mktemp("fleet"))


@pytest.fixture
def own(fleet: Made, tmp_path: Path) -> Made:
    """The same five sites for a test that writes into them."""
    folder = tmp_path / "records"
    shutil.copytree(fleet.folder, folder)
    return Made(
        folder,
        {
            site: [folder / path.relative_to(fleet.folder) for path in paths]
            for site, paths in fleet.records.items()
        },
    )


class DeskHands(Hands):
    """Hands that wait until no question is under way any more: one answer may lead to the next question."""

    async def rest(self) -> None:
        for _ in range(200):
            await self.pilot.pause()
            if not any(worker.is_running for worker in self.app.workers):
                break
            await self.app.workers.wait_for_complete()
        await self.pilot.pause()


@asynccontextmanager
async def desk_on(
    made: Made, root: Path, size: tuple[int, int] = NARROW, colour: bool = True
) -> AsyncIterator[Hands]:
    """Run the desk over some sites."""

    def opening() -> Index:
        return Index(root / "index" / "desk.sqlite", [made.folder])

    app = DeskApp(opening=opening, root=root / "visits", clock=lambda: TODAY, colour=colour)
    async with app.run_test(size=size, notifications=True) as pilot:
        hands = DeskHands(pilot, app)
        await hands.rest()
        yield hands


@pytest.mark.screen
@pytest.mark.parametrize(("size", "colour"), TERMINALS)
async def test_the_worst_site_stands_first_and_says_why(
    fleet: Made, tmp_path: Path, size: tuple[int, int], colour: bool
) -> None:
    async with desk_on(fleet, tmp_path, size, colour) as hands:
        lines = [line for line in hands.sees.splitlines() if " · " in line]
        assert lines[0].startswith(" ▶ Ulenfell mill")
        assert "1 gap in the chain of records" in lines[0]
        assert "Marrowfell clinic" in lines[1]
        assert "1 reading failed, nothing decided" in lines[1]
        assert "1 reading accepted out of band" in lines[2]
        assert "5 of 5 sites" in hands.sees
        assert hands.footer_fits
        assert hands.reached_by_tab == ["words"]


@pytest.mark.screen
async def test_typing_narrows_the_list_and_escape_shows_all_again(fleet: Made, tmp_path: Path) -> None:
    async with desk_on(fleet, tmp_path) as hands:
        await hands.press(*"MARROW")
        await hands.rest()
        assert "1 of 5 sites" in hands.sees
        assert "▶ Marrowfell clinic" in hands.sees
        await hands.press(*" 'x%_\" [/b]")
        await hands.rest()
        assert "no site has that; Escape shows all again" in hands.sees
        await hands.press("enter", "down", "pageup")
        await hands.press("escape")
        await hands.rest()
        assert "5 of 5 sites" in hands.sees


@pytest.mark.screen
async def test_enter_opens_what_was_typed_however_long_the_list_takes(fleet: Made, tmp_path: Path) -> None:
    """Else the site that stood first before would be opened, and countersigned, in the place of another."""
    async with desk_on(fleet, tmp_path) as hands:
        desk = cast("DeskApp", hands.app)
        with desk._one:  # the index answers nobody meanwhile
            await hands.press(*"tarn", "enter")
            assert "5 of 5 sites" in hands.sees
        await hands.rest()
        assert hands.sees.splitlines()[0].startswith(" Tarnwold cabin")
        await hands.press("escape", "escape", "f5")
        await hands.rest()
        await hands.type("wait")
        await hands.rest()
        with desk._one:
            await hands.press(*"barn", "down", "enter")
        await hands.rest()
        assert hands.sees.splitlines()[0].startswith(" Yarnecroft barn  commissioning, 2025-11-24")


@pytest.mark.screen
async def test_a_filter_shows_only_sites_with_something_of_its_kind(fleet: Made, tmp_path: Path) -> None:
    async with desk_on(fleet, tmp_path) as hands:
        await hands.press("f3")
        await hands.type("nobody decided")
        await hands.rest()
        assert "1 of 5 sites" in hands.sees
        assert "only: readings out of band, nobody decided" in hands.sees
        assert "Marrowfell clinic" in hands.sees


@pytest.mark.screen
async def test_sites_are_put_together_by_technician(fleet: Made, tmp_path: Path) -> None:
    async with desk_on(fleet, tmp_path) as hands:
        await hands.press("f4")
        await hands.type("technician")
        await hands.rest()
        # 14 records of two readings each, of which the voltage is judged and failed at two sites
        assert "5 sites, 14 records" in hands.line("Runa Feld")
        await hands.press("enter")
        await hands.rest()
        assert "Desk  technician: Runa Feld" in hands.sees
        assert "5 of 5 sites" in hands.sees
        await hands.press("escape", "escape")
        await hands.rest()
        assert "Desk  technician" not in hands.sees


@pytest.mark.screen
@pytest.mark.parametrize(("size", "colour"), TERMINALS)
async def test_a_site_tells_what_holds_and_lists_its_records(
    fleet: Made, tmp_path: Path, size: tuple[int, int], colour: bool
) -> None:
    async with desk_on(fleet, tmp_path, size, colour) as hands:
        await hands.press("enter")
        await hands.rest()
        assert "Chain of records" in hands.sees
        assert "What still holds" in hands.sees
        assert "2 records" in hands.sees.splitlines()[0]
        await hands.press(*"2024")
        assert "2024-11-24  commissioning" in hands.sees
        assert "2026-11-24  commissioning" not in hands.sees
        assert hands.footer_fits


@pytest.mark.screen
@pytest.mark.parametrize(("size", "colour"), TERMINALS)
async def test_a_record_shows_first_what_to_look_at_and_is_checked_when_it_is_opened(
    fleet: Made, tmp_path: Path, size: tuple[int, int], colour: bool
) -> None:
    async with desk_on(fleet, tmp_path, size, colour) as hands:
        await hands.press(*"dunwether")
        await hands.rest()
        await hands.press("enter")
        await hands.rest()
        await hands.press(*"accepted", "enter")
        await hands.rest()
        first = hands.line("▶")
        assert "reading accepted" in first
        assert "volts@: 54.70 V is fail" in first
        assert "intact" in hands.sees.splitlines()[0]
        assert "nobody has answered it" in hands.sees
        assert "every byte is as it was sealed" in hands.reads
        assert hands.footer_fits
        await hands.press("enter")
        assert "accepted by Elin Corse" in hands.reads
        await hands.press("escape", *"serial")
        assert "serial A-17" in hands.reads
    (state,) = [row["state"] for row in _index(fleet, tmp_path).ask("records of site", site="site-0")][:1]
    assert state == "intact"


def _index(made: Made, root: Path) -> Index:
    return Index(root / "index" / "desk.sqlite", [made.folder])


@pytest.mark.screen
async def test_a_record_that_was_changed_says_so_when_it_is_opened(own: Made, tmp_path: Path) -> None:
    """Only the strict reader finds it: the index takes a record as what it says it is."""
    path = own.records["site-4"][-1]
    path.write_bytes(path.read_bytes().replace(b"lid\\ncracked", b"lid\\nis whole"))
    async with desk_on(own, tmp_path) as hands:
        await hands.press(*"yarnecroft", "enter")
        await hands.rest()
        await hands.press(*"2026-11-24", "enter")
        await hands.rest()
        assert "changed" in hands.sees.splitlines()[0]
        assert "CHANGED: it is not what was sealed" in hands.sees


async def opened(hands: Hands, site: str) -> None:
    """Open the newest record of a site."""
    await hands.press(*site)
    await hands.rest()
    await hands.press("enter")
    await hands.rest()
    await hands.press(*"2026-11-24  comm", "enter")
    await hands.rest()


@pytest.mark.screen
async def test_a_record_is_returned_with_a_comment_at_the_step_in_view(own: Made, tmp_path: Path) -> None:
    make_key(keys_root(tmp_path / "visits"), "Elin Corse", "supervisor", PHRASE, now=NOON, random=os.urandom)
    async with desk_on(own, tmp_path) as hands:
        await opened(hands, "marrowfell")
        assert "volts@: 54.70 V is fail" in hands.line("▶")
        await hands.press("f3")
        assert "at volts;" in hands.reads
        await hands.type("read it again with the other meter")
        assert "Your comments, not sent yet" in hands.sees
        await hands.press("f9")
        await hands.type("return")
        await hands.press("enter")  # with the only key
        assert "fingerprint" not in hands.typed
        await hands.type(PHRASE)  # into the wrong field: it would stand in the record for all to read
        await hands.type(PHRASE)
        assert "the passphrase stands as your word to the record too" in hands.reads
        await hands.press(*["backspace"] * 40, "up", *["backspace"] * 40, "enter")
        await hands.type("wrong phrase")
        assert "passphrase" in hands.reads
        assert verify(own.records["site-1"][-1]).seals[-1].says == "signed"
        await hands.press(*["backspace"] * 20)
        await hands.type(PHRASE)
        await hands.rest()
        assert "returned by Elin Corse" in hands.reads
        assert "Your comments, not sent yet" not in hands.sees
    seal = verify(own.records["site-1"][-1]).seals[-1]
    assert (seal.says, seal.signature) == ("returned", "good")
    assert [(one.step, one.text) for one in seal.comments] == [
        ("volts", "read it again with the other meter")
    ]


@pytest.mark.screen
async def test_a_comment_that_was_not_sent_is_there_when_the_record_is_opened_again(
    own: Made, tmp_path: Path
) -> None:
    async with desk_on(own, tmp_path) as hands:
        await opened(hands, "marrowfell")
        await hands.press("f3")
        await hands.type("which meter was it?")
    async with desk_on(own, tmp_path) as hands:
        await opened(hands, "marrowfell")
        assert "volts: which meter was it?" in hands.sees


@pytest.mark.screen
async def test_a_record_is_countersigned_without_a_key_but_not_by_its_own_technician(
    own: Made, tmp_path: Path
) -> None:
    async with desk_on(own, tmp_path, WIDE) as hands:
        await opened(hands, "dunwether")
        await hands.press("f9", "enter")
        await hands.press("enter", "enter")
        await hands.type("runa  feld")
        assert "is a technician of this visit" in hands.reads
        await hands.press(*["backspace"] * 20)
        await hands.type("Elin Corse")
        await hands.rest()
        assert "countersigned by Elin Corse" in hands.reads
        await hands.press("escape", "escape")
        await hands.rest()
        assert "2 countersigns wait" in hands.line("Dunwether hut")


@pytest.mark.screen
@pytest.mark.parametrize("size", [NARROW, WIDE])
async def test_two_records_show_only_what_changed(fleet: Made, tmp_path: Path, size: tuple[int, int]) -> None:
    async with desk_on(fleet, tmp_path, size) as hands:
        await opened(hands, "dunwether")
        await hands.press("f5")
        await hands.press("enter")
        await hands.rest()
        assert "! volts@" in hands.line("▶")
        assert "54.40 V, pass" in hands.line("▶")
        assert "54.70 V, fail" in hands.line("▶")
        assert "seen@" not in hands.sees
        assert "absorption" not in hands.sees


@pytest.mark.screen
@pytest.mark.parametrize(("size", "colour"), TERMINALS)
async def test_the_trend_of_a_reading_is_drawn_and_told(
    fleet: Made, tmp_path: Path, size: tuple[int, int], colour: bool
) -> None:
    async with desk_on(fleet, tmp_path, size, colour) as hands:
        await opened(hands, "yarnecroft")
        await hands.press("f6")
        await hands.rest()
        await hands.press(*"volts")
        await hands.rest()
        # 54.35, 54.40 and 54.45 V a year apart: 50 mV a year by arithmetic
        assert "50 mV a year" in hands.reads
        assert hands.sees.count("o ") or hands.sees.count(" o")
        assert "2024-11-24" in hands.sees
        assert "2026-11-24" in hands.sees
        await hands.press("enter")
        assert "points that count" in hands.sees
        assert "54.45 V" in hands.sees


@pytest.mark.screen
@pytest.mark.parametrize(
    ("begun", "says"), [(2014, "was to be reached about May 2022"), (2022, "is reached about May 2030")]
)
async def test_a_date_is_told_for_the_day_of_the_app(
    fleet: Made, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, begun: int, says: str
) -> None:
    """Five readings that by their slope are at 80 % in the eighth year; today is in November 2026."""
    rows = [
        Point(datetime(begun + place, 5, 4, 10, tzinfo=UTC), value, "%")
        for place, value in enumerate([100.0, 97.0, 95.0, 91.0, 90.0])
    ]
    limit = Limit(80.0, "low", "IEEE 450", "end of life")
    monkeypatch.setattr("commission.desk.history.trend_of", lambda *_: trend(rows, [limit]))
    async with desk_on(fleet, tmp_path, NARROW) as hands:
        await opened(hands, "yarnecroft")
        await hands.press("f6")
        await hands.rest()
        assert says in hands.reads
        await hands.press("enter")
        assert says in hands.reads


@pytest.mark.screen
@pytest.mark.parametrize("size", [NARROW, WIDE])
async def test_what_waits_is_listed_over_all_sites_and_opened(
    fleet: Made, tmp_path: Path, size: tuple[int, int]
) -> None:
    """14 records, of which one is countersigned; three of them are the clinic's."""
    async with desk_on(fleet, tmp_path, size) as hands:
        await hands.press("f5")
        await hands.rest()
        assert "13 records that wait to be countersigned" in hands.reads
        assert "1 reading accepted: a reading out of band" in hands.reads
        await hands.type("wait to be")
        await hands.rest()
        assert hands.sees.splitlines()[0].rstrip().endswith("13")
        await hands.press(*"clinic RUNA")
        await hands.rest()
        assert hands.sees.splitlines()[0].rstrip().endswith(" 3")
        assert "Marrowfell clinic     2024-11-24  commissioning Runa Feld" in hands.line("▶")
        assert hands.footer_fits
        await hands.press("enter")
        await hands.rest()
        assert "Marrowfell clinic  commissioning, 2024-11-24" in hands.sees
        await hands.press("escape", *" nobody")
        await hands.rest()
        assert "nothing here has these words" in hands.sees
        await hands.press("enter", "down")


@pytest.mark.screen
async def test_the_records_of_a_technician_are_listed(fleet: Made, tmp_path: Path) -> None:
    async with desk_on(fleet, tmp_path) as hands:
        await hands.press("f4")
        await hands.type("chemistry")
        await hands.rest()
        assert "F5" not in hands.sees.splitlines()[-1]
        await hands.press("escape", "f4")
        await hands.type("technician")
        await hands.rest()
        await hands.press("f5")
        await hands.rest()
        first = hands.sees.splitlines()[0]
        assert "records of Runa Feld" in first
        assert first.rstrip().endswith("14")


@pytest.mark.screen
async def test_a_returned_record_is_told_at_a_newer_one_and_can_be_settled_with_it(
    own: Made, tmp_path: Path
) -> None:
    said = Comment("read it again", "volts")
    old = own.records["site-1"][0]
    answer_record(old, "returned", name="Elin Corse", role="supervisor", now=TODAY, comments=[said])
    async with desk_on(own, tmp_path) as hands:
        assert "1 returned record not answered since today" in hands.line("Marrowfell clinic")
        await opened(hands, "marrowfell")
        told = "the record of 2024-11-24 was returned, and nobody has answered: by Elin Corse"
        assert told in hands.reads
        await hands.press("f9")
        await hands.type("settle the returned record of 2024-11-24")
        await hands.press("enter", "enter")
        await hands.type("Elin Corse")
        await hands.rest()
        assert "countersigned by Elin Corse" in hands.reads
        assert told not in hands.reads
        await hands.press("escape", "escape")
        await hands.rest()
        assert "returned" not in hands.line("Marrowfell clinic")
    (comment,) = verify(own.records["site-1"][-1]).seals[-1].comments
    assert comment.text == f"settles the returned visit {read_record(old).visit.id}"


@pytest.mark.screen
async def test_several_returned_records_are_settled_with_one_countersign(own: Made, tmp_path: Path) -> None:
    said = Comment("read it again", "volts")
    first, second, newest = own.records["site-1"]
    for path in (first, second):
        answer_record(path, "returned", name="Elin Corse", role="supervisor", now=TODAY, comments=[said])
    async with desk_on(own, tmp_path) as hands:
        await opened(hands, "marrowfell")
        await hands.press("f9")
        await hands.type("all 2 returned")
        await hands.press("enter")
        assert "It settles 2 returned records." in hands.reads
        await hands.press("enter")
        await hands.type("Elin Corse")
        await hands.rest()
        await hands.press("escape", "escape")
        await hands.rest()
        assert "returned" not in hands.line("Marrowfell clinic")
    visits = [read_record(path).visit.id for path in (first, second)]
    told = [comment.text for comment in verify(newest).seals[-1].comments]
    assert sorted(told) == [f"settles the returned visit {visit}" for visit in sorted(visits)]


@pytest.mark.screen
async def test_recall_lists_every_site_that_has_it(fleet: Made, tmp_path: Path) -> None:
    async with desk_on(fleet, tmp_path) as hands:
        await hands.press("f6")
        await hands.type("setting")
        await hands.rest()
        await hands.type("float")
        await hands.rest()
        assert "Recall  float voltage" in hands.sees
        assert " V" in hands.sees.splitlines()[0]
        assert "5 sites" in hands.sees.splitlines()[0]
        await hands.press("enter")
        await hands.rest()
        assert "Records, newest first" in hands.sees


@pytest.mark.screen
async def test_meters_are_listed_and_every_page_has_help(fleet: Made, tmp_path: Path) -> None:
    async with desk_on(fleet, tmp_path) as hands:
        await hands.press("f1")
        assert "worst first" in hands.reads
        await hands.press("escape", "f7")
        await hands.rest()
        assert "Desk  instruments" in hands.sees
        await hands.press("f1")
        assert "have it checked before" in hands.reads


@pytest.mark.screen
async def test_a_folder_without_records_says_so(tmp_path: Path) -> None:
    (tmp_path / "records").mkdir()
    async with desk_on(Made(tmp_path / "records", {}), tmp_path) as hands:
        assert "no record was found in" in hands.reads
        await hands.press("enter", "down", "f8")
        await hands.rest()
        assert "no record was found in" in hands.reads


@pytest.mark.screen
@pytest.mark.parametrize("key", ["f4", "f5", "f6", "f7"])
async def test_while_the_records_are_read_for_the_first_time_a_key_tells_to_wait(
    own: Made, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, key: str
) -> None:
    go_on = threading.Event()
    update = Index.update

    def slow(self: Index, *more: Any, **named: Any) -> Updated:
        go_on.wait(30)
        return update(self, *more, **named)

    monkeypatch.setattr(Index, "update", slow)
    app = DeskApp(opening=lambda: _index(own, tmp_path), root=tmp_path / "visits", clock=lambda: TODAY)
    async with app.run_test(size=NARROW, notifications=True) as pilot:
        hands = DeskHands(pilot, app)
        await hands.press(key)
        assert "the records are still being read" in hands.reads
        assert "update()" not in hands.reads
        go_on.set()
        await hands.rest()
        assert "5 of 5 sites" in hands.sees


@pytest.mark.screen
async def test_a_new_record_is_there_after_a_look_for_changes(own: Made, tmp_path: Path) -> None:
    kept = own.records["site-2"]
    away = tmp_path / "away"
    shutil.move(kept[-1].parent, away)
    async with desk_on(own, tmp_path) as hands:
        assert "4 of 4 sites" in hands.sees
        shutil.move(away, kept[-1].parent)
        await hands.press("f8")
        await hands.rest()
        assert "5 of 5 sites" in hands.sees


@pytest.mark.screen
async def test_a_gap_names_the_visit_after_it_and_a_spoiled_file_has_a_line(
    own: Made, tmp_path: Path
) -> None:
    (own.folder / "spoiled.toml").write_bytes(b"format = ")
    async with desk_on(own, tmp_path) as hands:
        assert "1 file cannot be read, it may be no record" in hands.line("(no site told)")
        await hands.press("f3")
        await hands.type("cannot be read")
        await hands.rest()
        await hands.press("enter")
        await hands.rest()
        assert "(no site told)" in hands.sees.splitlines()[0]
        assert "1 file" in hands.sees.splitlines()[0]
        assert "spoiled.toml · unreadable · the file is no TOML" in hands.line("▶")
        await hands.press("enter")
        await hands.rest()
        assert "nothing can be told of it: the file cannot be read as a record" in hands.reads
        assert "all in band" not in hands.reads
        assert "spoiled.toml" in hands.sees.splitlines()[0]
        await hands.press("escape", "escape", "escape")
        await hands.rest()
        await hands.press("ctrl+home", "enter")
        await hands.rest()
        (gap,) = [line for line in hands.sees.splitlines() if line.startswith(" ▶") and "is missing" in line]
        assert re.match(r" ▶ 20\d\d-\d\d-\d\d  a record of this site is missing before it", gap)
        await hands.press("enter")
        await hands.rest()
        assert "chain             a record of this site is missing before it" in hands.line("▶")
