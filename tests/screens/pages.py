"""The app on a page of a small visit, as a person sees it."""

from __future__ import annotations

from collections.abc import AsyncIterator, Iterable
from contextlib import asynccontextmanager
from itertools import groupby
from pathlib import Path
from typing import Any

import pytest
from textual import events
from textual.pilot import Pilot
from textual.widgets import Footer, Input

from commission.screens.app import CommissionApp
from commission.visit.session import OpenVisit
from tests.visit.walks import NOON

NARROW, WIDE = (80, 24), (140, 40)
TERMINALS = [
    pytest.param(NARROW, True, id="80x24"),
    pytest.param(WIDE, True, id="140x40"),
    pytest.param(NARROW, False, id="80x24-no-colour"),
]
"""Size and whether there is colour."""


class Hands:
    """What a person does at the keyboard, and what they see."""

    def __init__(self, pilot: Pilot[None], app: CommissionApp) -> None:
        self.pilot = pilot
        self.app = app

    async def press(self, *keys: str) -> None:
        """Press keys and wait until the screen rests; letters one behind the other come as fast as pasted."""
        for printable, same in groupby(keys, key=lambda key: len(key) == 1):
            run = list(same)
            if printable and len(run) > 1:
                self._at_once(run)
                await self.pilot.pause()
            else:
                await self.pilot.press(*run)
        await self.pilot.pause()

    def _at_once(self, letters: Iterable[str]) -> None:
        for letter in letters:
            key = "enter" if letter == "\n" else letter
            self.app.post_message(events.Key(key, None if letter == "\n" else letter))

    async def type(self, text: str) -> None:
        """Type a line and press Enter."""
        await self.press(*text, "enter")

    async def at_once(self, text: str) -> None:
        """Send keys as a slow line delivers them: all together, before the first is looked at."""
        self._at_once(text)
        await self.pilot.pause(0.3)

    async def rest(self) -> None:
        """Wait until work in the background has ended and is shown, also what it has begun in its turn."""
        for _ in range(2):
            await self.pilot.pause()
            await self.app.workers.wait_for_complete()
        await self.pilot.pause()

    async def until(self, words: str) -> None:
        """Wait until some words stand on the screen; a busy machine may take its time."""
        for _ in range(200):
            if words in self.sees:
                return
            await self.pilot.pause(0.1)
        raise AssertionError(f"{words} does not come:\n{self.sees}")

    @property
    def sees(self) -> str:
        """Everything on the screen, as text."""
        strips = self.app.screen._compositor.render_strips()
        return "\n".join(strip.text.rstrip() for strip in strips)

    @property
    def reads(self) -> str:
        """Everything on the screen as running text, so that it does not matter where a line ends."""
        return " ".join(self.sees.replace("│", " ").split())

    @property
    def letters(self) -> str:
        """Everything on the screen without any space, for what may be broken anywhere."""
        return "".join(self.sees.replace("│", " ").split())

    def line(self, words: str) -> str:
        """Return the first line on the screen in which some words stand."""
        return next(line for line in self.sees.splitlines() if words in line)

    @property
    def typed(self) -> str:
        """What stands in the field that has the focus."""
        field = self.app.screen.focused
        assert isinstance(field, Input)
        return field.value

    @property
    def footer_fits(self) -> bool:
        """Whether every key of the footer can be seen."""
        return self.app.screen.query_one(Footer).max_scroll_x == 0

    @property
    def reached_by_tab(self) -> list[str | None]:
        """Ids of what Tab goes to, in order."""
        return [widget.id for widget in self.app.screen.focus_chain]


@asynccontextmanager
async def hands_on(
    visit: OpenVisit, page: str, root: Path, size: tuple[int, int] = NARROW, colour: bool = True, **more: Any
) -> AsyncIterator[Hands]:
    """Run the app with a visit that is open on a page."""
    app = CommissionApp(root=root, clock=lambda: NOON, colour=colour, **more)
    async with app.run_test(size=size, notifications=True) as pilot:
        app.open_visit = visit
        await app.switch_mode(page)
        hands = Hands(pilot, app)
        await hands.press()
        await pilot.pause()  # the footer is laid out anew once the page has its keys
        yield hands
    visit.close()
