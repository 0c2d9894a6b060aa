"""Journeys over the page of findings, and back to a visit with a changed site file."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from commission.plant.places import data_folder
from commission.screens.app import CommissionApp
from commission.sheet.types import Finding
from commission.visit.digest import confirmation_words
from tests.screens.pages import NARROW, TERMINALS, Hands, hands_on
from tests.visit.walks import NOON, begun, reading, sheet, small_plant, step, walk

YES_OR_NO = reading(kind="yes or no")
CLOSE = step(
    "close", YES_OR_NO, parts=("inverter-1",), raises_energy=True, title="Close the breaker of inverter 1"
)
STOP = Finding("stop", "fuse", ("inverter-1",), "the fuse of inverter 1 is no fuse", "a fuse of 250 A")
NEVER = Finding("stop", "main", ("bank",), "no fuse at the bank", "a fuse of 250 A", releasable=False)
THIN = Finding("correct", "conductor", ("run-1",), "run 1 is thin", "70 mm²")


@pytest.mark.screen
@pytest.mark.parametrize(("size", "colour"), TERMINALS)
async def test_a_stop_bars_the_step_and_enter_leads_to_it(
    tmp_path: Path, size: tuple[int, int], colour: bool
) -> None:
    visit = begun(tmp_path, walk(CLOSE), sheet(findings=(NEVER, STOP, THIN)))
    async with hands_on(visit, "walk", tmp_path, size, colour) as hands:
        assert "the design check stops it" in hands.reads
        await hands.type("yes")
        assert "barred, so not taken" in hands.reads
        assert not visit.visit.readings
        await hands.press(*["backspace"] * 3, "enter")
        assert hands.app.current_mode == "findings"
        assert "Nobody on site can release this one" in hands.reads
        assert hands.footer_fits


@pytest.mark.screen
async def test_the_second_person_reads_the_words_where_the_finding_stands(tmp_path: Path) -> None:
    visit = begun(tmp_path, walk(CLOSE), sheet(findings=(STOP, THIN)))
    words = confirmation_words(small_plant(), STOP.id)
    async with hands_on(visit, "findings", tmp_path) as hands:
        await hands.press("f4")
        assert words in hands.reads
        await hands.press("escape", "down", "f4")
        assert "Only a finding that stops" in hands.reads
        await hands.press("escape", "up", "enter")
        assert "mended" not in hands.sees
        await hands.press("down", "enter")
        await hands.type("")
        assert "a reason is wanted" in hands.reads
        for text in ("seen last week", "Elin Corse", words):
            await hands.type(text)
        assert visit.visit.dispositions[0].disposition == "accepted"
        assert "(accepted)" in hands.reads
        await hands.press("escape")
        assert "barred" not in hands.sees


@pytest.mark.screen
async def test_nobody_reads_words_for_what_nobody_releases(tmp_path: Path) -> None:
    visit = begun(tmp_path, walk(CLOSE), sheet(findings=(NEVER,)))
    async with hands_on(visit, "findings", tmp_path) as hands:
        await hands.press("f4")
        assert "Nobody can release this one" in hands.reads


@pytest.mark.screen
async def test_a_visit_goes_on_with_the_changed_site_file(tmp_path: Path) -> None:
    """The same file opened again asks: begin, go on with this file, take up as it was."""
    site = tmp_path / "my-cabin.toml"
    shutil.copy(data_folder("sample_sites") / "tarnwold-cabin.toml", site)
    app = CommissionApp(root=tmp_path / "visits", clock=lambda: NOON)
    async with app.run_test(size=NARROW, notifications=True) as pilot:
        hands = Hands(pilot, app)
        await hands.type(str(site))
        ident = app.visit.visit.id
        app.go_home()
        await hands.press()
        text = site.read_text(encoding="utf-8")
        site.write_text(text.replace("rating = 350", "rating = 300"), encoding="utf-8")
        await hands.type(str(site))
        assert "open already" in hands.reads
        assert "take up" in hands.line("▶")
        await hands.press("down", "enter")
        for line in ("main fuse of 300 A", "Runa Feld", "perhaps"):
            await hands.type(line)
        assert "yes where the parts themselves were changed" in hands.reads
        await hands.press(*["backspace"] * 7)
        await hands.type("yes")
        assert app.current_mode == "findings"
        assert app.visit.visit.id == ident
        assert app.visit.visit.plant_changes[0].parts == ("fuse-main",)
        app.close_visit()


@pytest.mark.screen
async def test_a_long_remedy_is_told_whole_below_the_list_and_with_the_numbers(tmp_path: Path) -> None:
    remedy = " ".join(["one way out, with its number, and then"] * 14) + " the last way"
    visit = begun(
        tmp_path, walk(CLOSE), sheet(findings=(Finding("correct", "long", ("run-1",), "thin", remedy),))
    )
    async with hands_on(visit, "findings", tmp_path) as hands:
        assert remedy in hands.reads
        await hands.press("f2")
        assert remedy in hands.reads


@pytest.mark.screen
async def test_what_enter_and_escape_do_stands_in_the_footer(tmp_path: Path) -> None:
    visit = begun(tmp_path, walk(CLOSE), sheet(findings=(STOP,)))
    async with hands_on(visit, "findings", tmp_path) as hands:
        footer = hands.sees.splitlines()[-1]
        assert "⏎ decide" in footer
        assert "esc walk" in footer
        assert hands.footer_fits
        await hands.press("escape")
        assert hands.app.current_mode == "walk"
