"""Journeys over the sign-off of a service visit."""

from __future__ import annotations

from pathlib import Path

import pytest

from commission.revisit.offer import Wanted
from tests.revisit.sites import commissioned
from tests.screens.pages import TERMINALS, Hands
from tests.screens.test_service import begin, offered
from tests.screens.test_sign import to_line


@pytest.mark.screen
async def test_a_plant_that_stays_off_is_told_no_later_date(tmp_path: Path) -> None:
    """What is due next depends on the state that is chosen to be signed as, as it does once signed."""
    site, _ = commissioned(tmp_path)
    async with offered(tmp_path, site, Wanted(("quarterly",))) as (hands, _):
        await begin(hands)
        await hands.press("f9")
        await to_line(hands, "quarterly   1 Sep 2026")
        await hands.press("home")
        await to_line(hands, "to be signed as")
        await hands.press("enter", *"made", "enter")
        assert "made safe, not in service" in hands.line("to be signed as")
        await to_line(hands, "this visit counts as none of them")
        assert "1 Sep 2026" not in hands.sees


@pytest.mark.screen
@pytest.mark.parametrize(("size", "colour"), TERMINALS)
async def test_a_step_that_is_not_due_is_found_by_its_words_and_added(
    size: tuple[int, int], colour: bool, tmp_path: Path
) -> None:
    """What it needs is told before; the walk goes on at it, and says who added it."""
    site, _ = commissioned(tmp_path)
    async with offered(tmp_path, site, Wanted(("monthly",)), size, colour) as (hands, _):
        await begin(hands)
        await walk_on(hands)
        await hands.press("f6", *"papers on site")
        assert "Papers on site: add it" in hands.line("not due")
        await hands.press("enter")
        await hands.rest()
        assert "It needs nothing else." in hands.reads
        await hands.type("")
        assert "why is it added? a few words are wanted" in hands.reads
        await hands.type("the owner asks")
        await hands.type("Runa Feldlinks")
        assert hands.typed == "Runa Feldlinks", "what is typed takes the place of the name that stands there"
        assert "'Runa Feldlinks' is none of the people of this visit (Runa Feld)" in hands.reads
        await hands.press("ctrl+u")
        await hands.type("runa feld")
        await hands.rest()
        assert hands.app.visit.visit.at_step == "papers-left"
        assert "added by Runa Feld" in hands.reads
        await hands.press("f6", *"each link", "enter")
        await hands.rest()
        assert "With it, since it needs them:" in hands.reads
        assert "Isolate and prove dead" in hands.reads
        await hands.press("escape")
        assert not any(step.data.stage == 2 for step in hands.app.visit.checklist.steps)


@pytest.mark.screen
async def test_a_step_is_found_by_its_id_its_parts_and_its_readings_too(tmp_path: Path) -> None:
    """A record and the office name a step by its id, a technician by what they want to read."""
    site, _ = commissioned(tmp_path)
    wanted = {
        "papers-left": "Papers on site",
        "papers left": "Papers on site",
        "maintenance plan": "Papers on site",
        "link-resistance string-a": "Each link of the string",
    }
    async with offered(tmp_path, site, Wanted(("monthly",))) as (hands, _):
        await begin(hands)
        await walk_on(hands)
        assert "done at every visit" in hands.reads, "each step says why it is there"
        await hands.press("f6")
        for typed, title in wanted.items():
            await hands.press("ctrl+u", *typed)
            assert f"{title}: add it" in hands.line("not due"), typed
        await hands.press("ctrl+u", *"papers microscope")
        assert "nothing in this list has these words" in hands.reads


@pytest.mark.screen
async def test_who_makes_the_plant_safe_adds_the_isolation_first(tmp_path: Path) -> None:
    """A monthly visit leaves the plant running, so nothing in it is proven dead."""
    site, _ = commissioned(tmp_path)
    async with offered(tmp_path, site, Wanted(("monthly",))) as (hands, _):
        await begin(hands)
        await hands.press("f9", "home")
        await to_line(hands, "to be signed as")
        await hands.press("enter", *"made", "enter")
        await to_line(hands, "this visit does not isolate the plant")
        await hands.press("enter")
        await hands.rest()
        assert "With it, since it needs them:" in hands.reads
        await hands.type("it smells of burning")
        await hands.type("")
        await hands.rest()
        assert any(step.data.stage == 2 for step in hands.app.visit.checklist.steps)
        missing = [item.says for item in hands.app.visit.missing("made safe, not in service")]
        assert not any("does not isolate" in says for says in missing)
        assert any("is not done, so the plant is not known to be safe" in says for says in missing)


async def walk_on(hands: Hands) -> None:
    """Go to the walk, whatever is asked for before it."""
    for _ in range(3):
        if hands.app.current_mode != "walk":
            await hands.press("escape")
