"""Journeys with a disk that refuses: what was typed stays, and is kept on the next Enter or elsewhere."""

from __future__ import annotations

import errno
import os
from pathlib import Path

import pytest
from textual.widgets import Input

from commission.plant.files import load_plant
from commission.plant.places import site_path
from commission.prepare import prepare_visit
from commission.screens.app import CommissionApp
from commission.screens.fault import FaultPanel
from commission.visit.session import OpenVisit
from commission.visit.shelf import Holder
from tests.screens.pages import TERMINALS, Hands, hands_on
from tests.technician import START, Clock, begin

CABIN = load_plant(site_path(Path("tarnwold-cabin"))).plant


class Disk:
    """A disk that can be filled."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch) -> None:
        self._patch = monkeypatch
        self._write = os.write

    def fill(self) -> None:
        def full(*_: object) -> int:
            raise OSError(errno.ENOSPC, "No space left on device")

        self._patch.setattr(os, "write", full)

    def make_room(self) -> None:
        self._patch.setattr(os, "write", self._write)


@pytest.fixture
def disk(monkeypatch: pytest.MonkeyPatch) -> Disk:
    return Disk(monkeypatch)


def texts(root: Path, ident: str) -> list[str]:
    with OpenVisit.resume(root, ident, prepare_visit, holder=Holder(2, "bench", "tester")) as visit:
        return [reading.text for reading in visit.visit.readings]


def on_walk(hands: Hands) -> bool:
    return not isinstance(hands.app.screen, FaultPanel)


@pytest.mark.screen
@pytest.mark.parametrize(("size", "colour"), TERMINALS)
async def test_a_reading_that_finds_no_room_stays_in_its_field_and_is_kept_by_the_next_enter(
    tmp_path: Path, disk: Disk, size: tuple[int, int], colour: bool
) -> None:
    visit = begin(tmp_path, CABIN, Clock())
    async with hands_on(visit, "walk", tmp_path, size, colour) as hands:
        disk.fill()
        await hands.type("y")
        assert "The disk does not take it" in hands.sees
        assert "No space left on device" in hands.reads
        assert "What you typed is still here" in hands.reads
        await hands.press("enter")  # still no room
        assert "The disk does not take it" in hands.sees
        await hands.press("escape")
        assert on_walk(hands)
        assert hands.typed == "y"
        assert not visit.visit.readings
        disk.make_room()
        await hands.press("enter")
        assert [reading.text for reading in visit.visit.readings] == ["y"]
        assert hands.typed == ""
    assert texts(tmp_path, visit.visit.id) == ["y"]


@pytest.mark.screen
async def test_trying_again_from_the_panel_keeps_the_reading(tmp_path: Path, disk: Disk) -> None:
    visit = begin(tmp_path, CABIN, Clock())
    async with hands_on(visit, "walk", tmp_path) as hands:
        disk.fill()
        await hands.type("y")
        disk.make_room()
        await hands.press("enter")
        await hands.pilot.pause()
        assert on_walk(hands)
        assert [reading.text for reading in visit.visit.readings] == ["y"]


@pytest.mark.screen
async def test_the_visit_goes_on_in_another_folder_with_what_was_typed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Only the old disk is full; a folder that cannot be made is answered in the panel."""
    old, new = tmp_path / "old", tmp_path / "new"
    visit = begin(old, CABIN, Clock())
    folder = visit.folder
    assert folder is not None
    write, journal = os.write, (folder / "journal").stat()

    def full(handle: int, data: bytes) -> int:
        if os.path.samestat(os.fstat(handle), journal):
            raise OSError(errno.ENOSPC, "No space left on device")
        return write(handle, data)

    (tmp_path / "file").write_text("")
    async with hands_on(visit, "walk", old) as hands:
        monkeypatch.setattr(os, "write", full)
        await hands.type("y")
        field = hands.app.screen.query_one("#fault-folder", Input)
        field.value = str(tmp_path / "file" / "below")
        await hands.press("enter")
        assert "cannot be made" in hands.reads
        field.value = str(new)
        await hands.press("enter")
        await hands.pilot.pause()
        assert on_walk(hands)
        assert [reading.text for reading in visit.visit.readings] == ["y"]
        assert hands.app.root == new
        await hands.type("y")
    assert texts(new, visit.visit.id) == ["y", "y"]
    assert (old / visit.visit.id / "moved").is_file()


@pytest.mark.screen
async def test_a_note_that_finds_no_room_stays_in_its_panel(tmp_path: Path, disk: Disk) -> None:
    visit = begin(tmp_path, CABIN, Clock())
    async with hands_on(visit, "walk", tmp_path) as hands:
        await hands.press("f3")
        disk.fill()
        await hands.type("lid cracked")
        assert "The disk does not take it" in hands.sees
        await hands.press("escape")
        assert hands.typed == "lid cracked"
        assert "not kept" in hands.reads
        disk.make_room()
        await hands.press("enter")
        assert [note.text for note in visit.visit.notes] == ["lid cracked"]
        assert on_walk(hands)


@pytest.mark.screen
async def test_one_can_look_about_in_the_walk_while_the_disk_is_full(tmp_path: Path, disk: Disk) -> None:
    """And the reading that is typed there is not lost by going back to the step that was kept."""
    visit = begin(tmp_path, CABIN, Clock())
    async with hands_on(visit, "walk", tmp_path) as hands:
        disk.fill()
        steps = visit.checklist.steps
        place = next(at for at in range(1, len(steps)) if not list(visit.standing.bars(steps[at])))
        there = steps[place]
        await hands.press(*["pagedown"] * place)
        assert on_walk(hands)
        assert there.title in hands.reads
        await hands.type("y")
        await hands.press("escape")
        assert there.title in hands.reads
        assert hands.typed == "y"


@pytest.mark.screen
async def test_a_setting_that_finds_no_room_stays_in_its_field(tmp_path: Path, disk: Disk) -> None:
    visit = begin(tmp_path, CABIN, Clock())
    async with hands_on(visit, "settings", tmp_path) as hands:
        await hands.rest()
        disk.fill()
        await hands.type("57.6")
        assert "The disk does not take it" in hands.sees
        await hands.press("escape")
        assert hands.typed == "57.6"
        disk.make_room()
        await hands.press("enter")
        assert [entry.left_text or entry.found_text for entry in visit.visit.settings] == ["57.6"]


@pytest.mark.screen
async def test_a_visit_that_is_open_elsewhere_is_looked_at_read_only(tmp_path: Path) -> None:
    """Who has it and where is said; nothing can be entered, and what is typed stays."""
    visit = begin(tmp_path, CABIN, Clock())
    app = CommissionApp(root=tmp_path, clock=lambda: START)
    async with app.run_test(size=(80, 24), notifications=True) as pilot:
        hands = Hands(pilot, app)
        await hands.rest()
        assert "open by tester on bench" in hands.reads
        await hands.press("enter")
        await hands.rest()
        assert "open already, by tester on bench (process 1)" in hands.reads
        assert "look at it, read-only" in hands.reads
        await hands.press("enter")
        await hands.rest()
        assert "READ-ONLY" in hands.sees
        await hands.press("pagedown", "pageup")
        await hands.type("y")
        assert "open by tester" in hands.reads or "only looked at" in hands.reads
        assert hands.typed == "y"
        app.close_visit()
    assert visit.visit.readings == ()
    visit.close()


@pytest.mark.screen
async def test_a_visit_that_went_on_elsewhere_is_taken_up_there(tmp_path: Path) -> None:
    visit = begin(tmp_path / "old", CABIN, Clock())
    visit.move_to_folder(tmp_path / "new")
    ask = visit.checklist.steps[0].asks[0]
    visit.take(ask, "y", measured_at=START, now=START.replace(hour=9))
    visit.close()
    app = CommissionApp(root=tmp_path / "old", clock=lambda: START)
    async with app.run_test(size=(140, 40), notifications=True) as pilot:
        hands = Hands(pilot, app)
        await hands.rest()
        assert "went on in" in hands.reads
        await hands.press("enter")
        await hands.rest()
        assert app.root == tmp_path / "new"
        assert len(app.visit.visit.readings) == 1
        app.close_visit()


@pytest.mark.screen
async def test_a_new_visit_that_finds_no_room_is_begun_in_another_folder(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "file").write_text("")
    app = CommissionApp(
        root=tmp_path / "file" / "visits", site=site_path(Path("tarnwold-cabin")), clock=lambda: START
    )
    async with app.run_test(size=(80, 24), notifications=True) as pilot:
        hands = Hands(pilot, app)
        await hands.rest()
        await hands.press("enter")
        await hands.rest()
        assert "cannot be made" in hands.reads
        app.screen.query_one("#fault-folder", Input).value = str(tmp_path / "other")
        await hands.press("enter")
        await hands.rest()
        assert app.open_visit is not None
        assert app.visit.folder is not None
        assert app.visit.folder.parent == tmp_path / "other"
        app.close_visit()
