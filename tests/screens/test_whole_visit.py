"""A whole visit of a sample plant by keyboard at 80×24, ending in a record that verifies."""

from __future__ import annotations

from pathlib import Path

import pytest
from textual import events
from textual.screen import ModalScreen

from commission.checklist.types import Ask
from commission.plant.places import sample_sites
from commission.records.verify import verify
from commission.screens.app import CommissionApp
from commission.screens.entry import Entry
from commission.screens.walk import Walk
from tests.screens.pages import Hands
from tests.screens.test_sign import to_line
from tests.technician import SUPERVISOR, TECHNICIAN, Clock, fresh_kit, settle, typed

PLANT = next(path for path in sample_sites() if path.stem == "tarnwold-cabin")


async def send(hands: Hands, text: str) -> None:
    """Send a line and Enter as a terminal does, and wait until the screen has taken it."""
    for letter in text:
        hands.app.post_message(events.Key(letter, letter))
    hands.app.post_message(events.Key("enter", "\r"))
    await hands.pilot.pause()


def on_screen(walk: Walk) -> tuple[Ask, bool]:
    """Return the reading that the screen asks for, and whether its step is barred."""
    assert walk._step is not None
    return walk._asked, next(walk.visit.standing.bars(walk._step), None) is not None


async def answer_panel(hands: Hands) -> None:
    """Give the reason that a conditional verdict asks for, or say that it was measured anew."""
    if "There is a reading already" in hands.sees:
        await send(hands, "")
    else:
        await send(hands, "a matter of the meter")


async def walk_all(hands: Hands, most: int) -> int:
    """Type what should be there until nothing new is asked; return how many entries were typed."""
    app, entries, standing_still = hands.app, 0, 0
    for _ in range(most):
        screen = app.screen
        if isinstance(screen, ModalScreen):
            await answer_panel(hands)
            continue
        assert isinstance(screen, Walk)
        ask, barred = on_screen(screen)
        read = len(app.visit.visit.readings)
        step = screen._step
        assert step is not None
        if barred or app.visit.current(ask.key) is not None:
            await send(hands, "")
        else:
            await send(hands, typed(app.visit, ask, app.now()))
            entries += 1
            await release(hands, screen)
        standing_still = standing_still + 1 if len(app.visit.visit.readings) == read else 0
        if standing_still > 3:
            break
    while isinstance(app.screen, ModalScreen):
        await hands.press("escape")
    return entries


async def release(hands: Hands, screen: Walk) -> None:
    """Release a hold point that waits for a person once all of it is read."""
    step = screen._step
    visit = hands.app.visit
    if step is None or isinstance(hands.app.screen, ModalScreen):
        return
    for hold in visit.standing.open_holds()[:3]:
        read = all(visit.current(ask.key) is not None or ask.data.optional for ask in hold.asks)
        if read and hold.data.released_by != "readings":
            name = TECHNICIAN if hold.data.released_by == "technician" else SUPERVISOR
            screen.jump(hold.key)
            await hands.pilot.pause()
            await hands.press("ctrl+r")
            await send(hands, name)


@pytest.mark.slow
@pytest.mark.screen
async def test_a_plant_is_commissioned_by_keyboard(tmp_path: Path) -> None:
    clock = Clock()
    app = CommissionApp(root=tmp_path / "visits", site=PLANT, clock=clock)
    folder = tmp_path / "records"
    async with app.run_test(size=(80, 24), notifications=True) as pilot:
        hands = Hands(pilot, app)
        await pilot.pause()
        await hands.press("enter")
        assert app.current_mode == "people"
        for line in (TECHNICIAN, "", "E-1042", "Fennimore"):  # the role is kept as offered
            await send(hands, line)
        assert app.visit.visit.people[0].name == TECHNICIAN
        for instrument in fresh_kit():
            app.visit.add_instrument(instrument, app.now())
        await hands.press("f7", "escape")
        assert isinstance(app.screen, Walk)
        assert isinstance(app.screen.focused, Entry)
        entries = await walk_all(hands, 1200)
        assert entries > 200, hands.sees
        done = sum(app.visit.standing.status(step) == "done" for step in app.visit.checklist.steps)
        assert done > 100, hands.sees

        settle(app.visit, app.now)  # plates, settings and deferrals, each tested on its own page
        missing = [item.says for item in app.visit.missing("in service with deferred steps")]
        assert not missing
        await hands.press("f9")
        await to_line(hands, "to be signed as")
        await hands.press("enter", *"in service", "enter")
        assert "in service with deferred steps" in hands.line("to be signed as")
        await hands.press("pageup", "pageup", "pageup")
        await to_line(hands, "nothing is missing")
        await hands.press("enter", "ctrl+u", *str(folder), "enter")
        await hands.type(TECHNICIAN)
        (record,) = folder.iterdir()
        assert verify(record).intact
        assert f"signed by {TECHNICIAN}" in hands.reads
        app.close_visit()
