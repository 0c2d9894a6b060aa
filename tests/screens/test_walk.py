"""Journeys over the walk."""

from __future__ import annotations

from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from datetime import timedelta
from pathlib import Path

import pytest
from textual.widgets import Static

from commission.checklist.types import Expected
from commission.plant.files import load_plant
from commission.plant.places import site_path
from commission.prepare import prepare_visit
from commission.screens.app import CommissionApp
from commission.visit.session import OpenVisit
from commission.visit.shelf import Holder
from tests.screens.pages import TERMINALS, Hands, hands_on
from tests.technician import START, Clock, begin

CABIN = load_plant(site_path(Path("tarnwold-cabin"))).plant


@asynccontextmanager
async def walking(
    root: Path, size: tuple[int, int] = (80, 24), colour: bool = True
) -> AsyncIterator[tuple[Hands, OpenVisit]]:
    visit = begin(root, CABIN, Clock())
    async with hands_on(visit, "walk", root, size, colour) as hands:
        yield hands, visit


async def go_to(hands: Hands, *words: str) -> None:
    """Choose a step by its words."""
    await hands.press("f6", *" ".join(words))
    await hands.press("enter")


def again(root: Path, ident: str) -> OpenVisit:
    return OpenVisit.resume(root, ident, prepare_visit, holder=Holder(2, "bench", "tester"))


@pytest.mark.screen
@pytest.mark.parametrize(("size", "colour"), TERMINALS)
async def test_a_reading_costs_its_digits_and_enter(
    tmp_path: Path, size: tuple[int, int], colour: bool
) -> None:
    async with walking(tmp_path, size, colour) as (hands, visit):
        first = visit.checklist.steps[0]
        assert first.title in hands.reads
        for _ in first.asks:
            await hands.type("y")
        assert visit.standing.status(first) == "done"
        assert visit.checklist.steps[1].title in hands.reads
        assert "pass" in hands.line("last")
        assert hands.footer_fits
    kept = again(tmp_path, visit.visit.id)
    assert [reading.text for reading in kept.visit.readings] == ["y"] * len(first.asks)
    kept.close()


@pytest.mark.screen
async def test_the_reading_field_stays_on_its_line(tmp_path: Path) -> None:
    async with walking(tmp_path) as (hands, visit):
        lines: set[int] = set()
        for _ in range(12):
            shown = enumerate(hands.sees.splitlines())
            lines |= {at for at, line in shown if line.startswith(("  should be", "  barred"))}
            await hands.press("pagedown")
        assert len(lines) == 1
        assert visit.visit.at_step != visit.checklist.steps[0].data.id


@pytest.mark.screen
async def test_rubbish_stays_and_is_explained(tmp_path: Path) -> None:
    async with walking(tmp_path) as (hands, visit):
        await hands.type("perhaps")
        assert "neither yes nor no" in hands.reads
        assert hands.typed == "perhaps"
        assert visit.visit.readings == ()


@pytest.mark.screen
async def test_a_barred_step_says_what_bars_it_and_enter_goes_there(tmp_path: Path) -> None:
    async with walking(tmp_path) as (hands, visit):
        await go_to(hands, "Output", "under", "full")
        assert "barred" in hands.sees
        before = visit.visit.at_step
        await hands.press("enter")
        assert visit.visit.at_step != before


@pytest.mark.screen
async def test_the_verdict_is_painted_while_the_number_is_typed(tmp_path: Path) -> None:
    """The air temperature is asked without a band; a waiting time has one: at least 300 s."""
    async with walking(tmp_path) as (hands, visit):
        step = next(
            step
            for step in visit.checklist.steps
            if step.asks[0].data.kind == "number"
            and step.asks[0].data.expect
            and not list(visit.standing.bars(step))
            and isinstance(visit.expectation_for(step.asks[0], START), Expected)
        )
        await go_to(hands, *step.title.split()[:4])
        assert step.title in hands.reads
        await hands.press(*"0.0001")
        shown = str(hands.app.screen.query_one("#verdict", Static).render())
        assert shown.split(maxsplit=1)[0] in {"pass", "fail", "conditional", "stop", "not"}
        assert visit.visit.readings == ()


@pytest.mark.screen
async def test_a_correction_keeps_the_earlier_value(tmp_path: Path) -> None:
    async with walking(tmp_path) as (hands, visit):
        await hands.type("n")
        key = visit.checklist.steps[0].asks[0].key
        assert "fail" in hands.sees
        await hands.press("up")
        if visit.current(key) is None or visit.visit.at_step != visit.checklist.steps[0].data.id:
            await go_to(hands, *visit.checklist.steps[0].title.split()[:3])
        await hands.type("y")
        assert "There is a reading already" in hands.sees
        await hands.press("enter")
        assert [reading.text for reading in visit.history(key)] == ["n", "y"]


@pytest.mark.screen
async def test_a_note_and_not_here_are_kept(tmp_path: Path) -> None:
    async with walking(tmp_path) as (hands, visit):
        await hands.press("f3")
        await hands.type("label is torn")
        assert visit.visit.notes[0].text == "label is torn"
        step = next(step for step in visit.checklist.steps if not step.data.hold)
        visit.move_to(step.key, Clock()())
        await hands.press("f7", "escape")
        await hands.press("f4")
        await hands.type("no such thing here")
        assert visit.standing.status(step) == "not applicable"
        assert visit.visit.not_applicable[0].reason == "no such thing here"


@pytest.mark.screen
async def test_why_shows_the_chain_and_leaves_the_field_alone(tmp_path: Path) -> None:
    async with walking(tmp_path) as (hands, _):
        await hands.press(*"ye", "f2")
        assert "source" in hands.sees
        await hands.press("escape")
        assert hands.typed == "ye"


@pytest.mark.screen
async def test_the_visit_resumes_on_the_same_step(tmp_path: Path) -> None:
    async with walking(tmp_path) as (hands, visit):
        await hands.type("y")
        await hands.press("pagedown", "pagedown")
        at = visit.visit.at_step, visit.visit.at_parts
    app = CommissionApp(root=tmp_path, clock=Clock())
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        await pilot.press("enter")
        await pilot.pause()
        assert app.current_mode == "walk"
        assert (app.visit.visit.at_step, app.visit.visit.at_parts) == at
        app.close_visit()


@pytest.mark.screen
async def test_a_clock_that_goes_back_does_not_hide_the_newer_reading(tmp_path: Path) -> None:
    times = iter([START + timedelta(hours=2)] * 60)
    clock = Clock()
    visit = begin(tmp_path, CABIN, clock)
    app = CommissionApp(root=tmp_path, clock=lambda: next(times, START - timedelta(hours=5)))
    async with app.run_test(size=(80, 24)) as pilot:
        app.open_visit = visit
        await app.switch_mode("walk")
        hands = Hands(pilot, app)
        await hands.press()
        key = visit.checklist.steps[0].asks[0].key
        await hands.type("y")
        assert visit.current(key) is not None
        for _ in times:
            pass  # from here on the clock is five hours back
        first = visit.checklist.steps[0].asks[0]
        visit.take(first, "n", measured_at=app.now(), now=app.now())
        current = visit.current(key)
        assert current is not None
        assert current.text == "n"
    visit.close()
