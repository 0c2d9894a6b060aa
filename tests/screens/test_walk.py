"""Journeys over the walk."""

from __future__ import annotations

from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from datetime import timedelta
from pathlib import Path
from random import Random
from typing import Any

import pytest
from textual.widgets import Static

from commission import __version__
from commission.checklist.types import Expected, NotJudged
from commission.plant.files import load_plant
from commission.plant.places import site_path
from commission.prepare import prepare_visit
from commission.screens.app import CommissionApp
from commission.sheet.types import Finding
from commission.visit.session import OpenVisit
from commission.visit.shelf import Holder
from tests.screens.pages import TERMINALS, Hands, hands_on
from tests.technician import START, Clock, begin
from tests.visit.walks import NOON, begun, expecting, reading, setting, sheet, step, walk

YES_OR_NO = reading(kind="yes or no")
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
            lines.add(hands.app.screen.query_one("#reading").region.y)
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
        await hands.press("f4", *"does not apply", "enter")
        await hands.type("no such thing here")
        assert visit.standing.status(step) == "not applicable"
        assert visit.visit.not_applicable[0].reason == "no such thing here"
        visit.move_to(step.key, Clock()())
        await hands.press("f7", "escape", "f4")
        assert visit.standing.status(step) == "open"


@pytest.mark.screen
async def test_not_here_also_puts_off_to_a_date_and_a_hold_point_only_that(tmp_path: Path) -> None:
    """The README says of F4: put off, or does not apply."""
    async with walking(tmp_path) as (hands, visit):
        hold = next(step for step in visit.checklist.steps if step.data.hold)
        visit.move_to(hold.key, Clock()())
        await hands.press("f7", "escape", "f4")
        assert "a hold point can only be put off" in hands.reads
        assert "does not apply" not in hands.reads
        await hands.press("enter")
        await hands.type("2026-12-24 no fuel on site")
        assert visit.standing.status(hold) == "deferred"
        told = visit.visit.dispositions[-1]
        assert (told.until, told.reason) == ("2026-12-24", "no fuel on site")


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


# nothing is cut at 80×24

LONG = "what stands here is long enough to need more than one line of the narrow terminal, and ends with"


def long_visit(root: Path, **told: Any) -> OpenVisit:
    """Return a visit whose first step has more to say than others."""
    fields: dict[str, Any] = {"do": f"{LONG} doing.", "caution": f"{LONG} caution."}
    steps = walk(step("first", *told.pop("readings", ()), **(fields | told)), step("second", YES_OR_NO))
    return begun(root, steps, sheet(setting()))


@pytest.mark.screen
async def test_a_step_with_much_to_say_says_all_of_it(tmp_path: Path) -> None:
    wants = reading("seen", kind="yes or no", prompt=f"{LONG} prompt")
    visit = long_visit(tmp_path, title=f"{LONG} title", readings=(wants,))
    async with hands_on(visit, "walk", tmp_path) as hands:
        for end in ("title", "doing.", "caution.", "prompt"):
            assert f"{LONG} {end}" in hands.reads
        assert "should be" in hands.sees
        assert "earlier" in hands.sees
        line = hands.app.screen.query_one("#reading").region.y
        await hands.press("pagedown")
        assert hands.app.screen.query_one("#reading").region.y == line


@pytest.mark.screen
async def test_what_has_no_room_at_all_is_in_the_help(tmp_path: Path) -> None:
    """The reading is never pushed off the screen, and that something is left out shows."""
    visit = long_visit(tmp_path, do=" ".join(["Do this and do that."] * 40) + " The end.")
    async with hands_on(visit, "walk", tmp_path) as hands:
        assert "… F1" in hands.sees
        assert "The end." not in hands.sees
        assert f"{LONG} caution." in hands.reads
        await hands.type("54.2")
        assert visit.visit.readings[0].text == "54.2"
        await hands.press("pageup", "f1")
        seen = ""
        for _ in range(3):
            seen += hands.reads
            await hands.press("pagedown")
        assert "The end." in seen


@pytest.mark.screen
async def test_a_long_bar_is_told_whole_also_when_something_was_typed(tmp_path: Path) -> None:
    """Why it is barred stands above the field, and again below it where a reading was not taken."""
    stop = Finding("stop", "fuse", ("bank",), f"{LONG} the fuse", "a fuse", releasable=False)
    close = step("close", YES_OR_NO, parts=("inverter-1",), raises_energy=True, title="Close the breaker")
    visit = begun(tmp_path, walk(close), sheet(findings=(stop,)))
    async with hands_on(visit, "walk", tmp_path) as hands:
        assert f"{LONG} the fuse" in hands.reads
        assert "Enter goes to what bars it" in hands.reads
        assert "the findings of the design check" in hands.line("next ")
        await hands.type("yes")
        told = hands.reads
        assert "barred, so not taken: the design check stops it" in told
        assert told.count(f"{LONG} the fuse") == 2
        assert "Enter on an empty field goes there" in told


@pytest.mark.screen
async def test_next_is_where_enter_goes(tmp_path: Path) -> None:
    """From a step that is barred to what bars it; from one that bars the following to that."""
    first = step("first", YES_OR_NO, title="Prove it dead")
    second = step("second", YES_OR_NO, stands_on=(("first", ()),), title="Open the cover")
    visit = begun(tmp_path, walk(first, second, step("third", YES_OR_NO, title="Look around")), sheet())
    async with hands_on(visit, "walk", tmp_path) as hands:
        assert "Open the cover" in hands.line("next ")
        await hands.press("pagedown")
        assert "Prove it dead" in hands.line("next ")
        await hands.press("enter")
        await hands.type("yes")
        assert visit.visit.at_step == "second"


@pytest.mark.screen
async def test_words_have_room_to_be_typed(tmp_path: Path) -> None:
    """A licence with its number and who gave it is longer than a number."""
    visit = long_visit(tmp_path, readings=(reading("licence", kind="text"),))
    async with hands_on(visit, "walk", tmp_path) as hands:
        licence = "electrician, E-1042, given by the county of Northfold in 2019"
        await hands.press(*licence)
        assert licence in hands.sees


@pytest.mark.screen
async def test_a_cause_alone_has_no_number_and_several_are_told_whole(tmp_path: Path) -> None:
    """'1 calibration is past its date' would read as a count."""
    alone = ({"cause": "calibration is past its date", "remedy": f"{LONG} remedy"},)
    both = (*alone, {"cause": "a wrong meter", "remedy": "borrow another and read again"})
    for place, likely in enumerate((alone, both)):
        root = tmp_path / str(place)
        visit = long_visit(root, readings=(YES_OR_NO,), likely=likely)
        async with hands_on(visit, "walk", root) as hands:
            await hands.type("no")
            assert f"calibration is past its date: {LONG} remedy" in hands.reads
            assert ("1. calibration" in hands.reads) == (place == 1)
            assert "1 calibration" not in hands.reads
            assert ("2. a wrong meter: borrow another and read again" in hands.reads) == (place == 1)


@pytest.mark.screen
async def test_a_reading_that_is_not_judged_is_told_no_causes(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """It is out of nothing: 'remake the joint' beside the only link of its kind would be a false alarm."""
    expecting(monkeypatch, "nothing to compare", lambda _: NotJudged("it is the only one of its kind"))
    likely = ({"cause": "dirt between", "remedy": "remake the joint"},)
    alone = step("link", reading(expect="nothing to compare"), likely=likely)
    async with hands_on(begun(tmp_path, walk(alone), sheet()), "walk", tmp_path) as hands:
        await hands.type("54")
        assert "it is the only one of its kind" in hands.reads
        assert "not judged ?" in hands.sees
        assert "remake the joint" not in hands.reads


@pytest.mark.screen
async def test_causes_that_have_no_room_are_counted_and_told_in_the_help(tmp_path: Path) -> None:
    likely = tuple({"cause": f"cause {place}", "remedy": f"{LONG} {place}"} for place in range(3))
    visit = long_visit(tmp_path, readings=(YES_OR_NO,), likely=likely)
    async with hands_on(visit, "walk", tmp_path) as hands:
        await hands.type("no")
        assert f"1. cause 0: {LONG} 0" in hands.reads
        assert f"2. cause 1: {LONG} 1" in hands.reads
        assert "F1 tells 1 more" in hands.reads
        await hands.press("f1")
        seen = ""
        for _ in range(3):
            seen += hands.reads
            await hands.press("pagedown")
        assert "cause 2: what stands here" in seen


# an empty kit, a list without what was typed, steps that do not apply


@pytest.mark.screen
async def test_another_meter_of_an_empty_kit_leads_to_where_meters_are_put_in(tmp_path: Path) -> None:
    visit = OpenVisit.start(
        tmp_path,
        CABIN,
        prepare_visit,
        kind="commissioning",
        program=__version__,
        now=START,
        holder=Holder(1, "bench", "tester"),
        random=Random(7),
    )
    async with hands_on(visit, "walk", tmp_path) as hands:
        await hands.press("ctrl+t")
        assert "The kit is empty" in hands.reads
        assert "F10" in hands.reads
        await hands.press("enter")
        assert hands.app.current_mode == "people"
        await hands.press("escape", "f10")
        assert hands.app.current_mode == "people"


@pytest.mark.screen
async def test_a_list_says_that_nothing_in_it_has_the_words(tmp_path: Path) -> None:
    async with walking(tmp_path) as (hands, _):
        await hands.press("f6")
        assert "nothing in this list" not in hands.sees
        await hands.press(*"zzz", "enter")
        assert "nothing in this list has these words" in hands.sees
        await hands.press(*["backspace"] * 3)
        assert "nothing in this list" not in hands.sees


@pytest.mark.screen
async def test_from_a_step_that_does_not_apply_the_walk_does_not_leave_a_stage_unbegun(
    tmp_path: Path,
) -> None:
    """Within its stage it goes on; at the end of the stage back to the first step that is open."""
    steps = walk(*(step(name, YES_OR_NO, stage=at) for name, at in (("a", 1), ("b", 2), ("c", 2), ("d", 3))))
    visit = begun(tmp_path, steps, sheet(setting()))
    visit.move_to(("b", ()), NOON)
    async with hands_on(visit, "walk", tmp_path) as hands:
        for reached in ("c", "a"):
            await hands.press("f4", *"does not apply", "enter")
            await hands.type("no such thing here")
            assert visit.visit.at_step == reached


@pytest.mark.screen
async def test_sign_off_stands_in_the_footer_of_the_walk(tmp_path: Path) -> None:
    async with walking(tmp_path) as (hands, _):
        assert "F9 sign" in hands.sees.splitlines()[-1]
        assert hands.footer_fits


@pytest.mark.screen
async def test_a_stage_with_nothing_to_do_is_named_and_not_skipped(tmp_path: Path) -> None:
    """The cabin has no generator and no AC-coupled PV: two stages of eighteen stay empty."""
    async with walking(tmp_path, (140, 60)) as (hands, visit):
        empty = [stage for stage in visit.standing.progress() if not stage.total]
        assert [stage.number for stage in visit.standing.progress()] == list(range(1, 19))
        assert empty
        await hands.press("f9")
        for stage in empty:
            assert "nothing to do here" in hands.line(f"{stage.number:>2}  {stage.title[:20]}")
