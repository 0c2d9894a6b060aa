"""What is the same on every page of a visit: title line, keys, palette."""

from __future__ import annotations

from pathlib import Path

import pytest

from commission.screens.visit_page import VisitPage
from commission.visit.session import OpenVisit
from tests.screens.pages import NARROW, WIDE, hands_on
from tests.visit.walks import NOON, begun, reading, setting, sheet, step, walk

YES_OR_NO = reading(kind="yes or no")
LOOK = step("look", YES_OR_NO, title="Look around")
LIFT = step(
    "lift",
    reading("lifted", kind="yes or no"),
    reading("back", kind="yes or no"),
    title="Lift the bond",
    alters="bond lifted",
    stage=2,
)
PAGES = ["people", "settings", "sign", "findings", "plant"]


def visit_of(root: Path) -> OpenVisit:
    return begun(root, walk(LOOK, LIFT), sheet(setting()))


@pytest.mark.screen
@pytest.mark.parametrize("page", PAGES)
@pytest.mark.parametrize("size", [NARROW, WIDE])
async def test_every_page_says_where_how_far_and_what_is_altered(
    tmp_path: Path, page: str, size: tuple[int, int]
) -> None:
    visit = visit_of(tmp_path)
    async with hands_on(visit, page, tmp_path, size) as hands:
        title = hands.sees.splitlines()[0]
        assert title.startswith(" Test site  commissioning, 24 Nov 2026")
        assert "open" not in title
        visit.take(LIFT.asks[0], "yes", measured_at=NOON, now=NOON)
        screen = hands.app.screen
        assert isinstance(screen, VisitPage)
        screen.on_screen_resume()
        await hands.pilot.pause()
        assert "1 change open · " in hands.sees.splitlines()[0]
        assert hands.footer_fits


@pytest.mark.screen
async def test_function_keys_lead_from_page_to_page_and_escape_to_the_walk(tmp_path: Path) -> None:
    visit = visit_of(tmp_path)
    async with hands_on(visit, "people", tmp_path) as hands:
        for key, page in (("f5", "settings"), ("f7", "plant"), ("f8", "findings"), ("f9", "sign")):
            await hands.press(key)
            assert hands.app.current_mode == page
        await hands.press("escape")
        assert hands.app.current_mode == "walk"


@pytest.mark.screen
async def test_a_step_is_chosen_from_the_list_and_the_next_start_is_there(tmp_path: Path) -> None:
    visit = visit_of(tmp_path)
    async with hands_on(visit, "settings", tmp_path) as hands:
        await hands.press("f6")
        assert "Look around" in hands.sees
        await hands.press(*"bond", "enter")
        assert hands.app.current_mode == "walk"
        assert "Lift the bond" in hands.sees
    assert visit.visit.at_step == "lift"


@pytest.mark.screen
@pytest.mark.parametrize(
    ("typed", "mode"),
    [("lift the bond", "walk"), ("change between", "settings"), ("sign-off", "sign")],
)
async def test_the_palette_knows_keys_by_name_pages_and_steps(tmp_path: Path, typed: str, mode: str) -> None:
    visit = visit_of(tmp_path)
    async with hands_on(visit, "settings", tmp_path) as hands:
        await hands.press("ctrl+p")
        await hands.press(*typed)
        await hands.pilot.pause(0.5)
        await hands.press("down", "enter")
        await hands.pilot.pause(0.3)
        assert hands.app.current_mode == mode
        if mode == "walk":
            assert visit.visit.at_step == "lift"
        if mode == "settings":
            assert "as left, absorption voltage" in hands.sees


@pytest.mark.screen
async def test_a_step_with_marks_of_markup_in_its_title_is_shown_as_it_is(tmp_path: Path) -> None:
    odd = step("odd", YES_OR_NO, title="Look at [/b] and [x]")
    visit = begun(tmp_path, walk(odd), sheet(setting()))
    async with hands_on(visit, "settings", tmp_path) as hands:
        await hands.press("f6")
        assert "Look at [/b] and [x]" in hands.sees
        await hands.press("escape", "ctrl+p", *"look at")
        await hands.pilot.pause(0.5)
        assert "Look at [/b] and [x]" in hands.sees
