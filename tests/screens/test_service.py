"""Journeys of a service visit: offered, begun, as found first, drifts seen, returned records."""

from __future__ import annotations

from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from datetime import datetime, timedelta
from pathlib import Path

import pytest

from commission.checklist.types import ReadingKey
from commission.prepare import prepare_visit
from commission.records.answer import answer_record
from commission.records.read import read_record
from commission.records.seals import Comment
from commission.records.verify import verify
from commission.revisit.offer import Offer, Wanted, offer_of
from commission.screens.app import CommissionApp
from commission.screens.walk import Walk
from commission.visit.session import OpenVisit
from commission.visit.shelf import Holder, list_visits
from tests.revisit.sites import commissioned, kit_of
from tests.screens.pages import NARROW, TERMINALS, Hands
from tests.screens.test_pictures import compare

SPRING = datetime.fromisoformat("2026-06-01T09:00:00+00:00")
LINK = ReadingKey("link-resistance", ("string-a",), 17)


def app_for(root: Path, *, colour: bool = True, **more: object) -> CommissionApp:
    times = iter(range(100_000))
    clock = lambda: SPRING + timedelta(seconds=next(times))  # noqa: E731 - a clock that moves on
    return CommissionApp(root=root / "visits", clock=clock, colour=colour, **more)  # type: ignore[arg-type]


@asynccontextmanager
async def offered(
    root: Path, named: Path, wanted: Wanted, size: tuple[int, int] = NARROW, colour: bool = True
) -> AsyncIterator[tuple[Hands, Offer]]:
    """Run the app on the page before a service visit."""
    offer, _ = offer_of(named, today=SPRING.date())
    assert offer is not None
    app = app_for(root, colour=colour, offered=(offer, wanted))
    async with app.run_test(size=size, notifications=True) as pilot:
        hands = Hands(pilot, app)
        await hands.press()
        yield hands, offer
    app.close_visit()


async def begin(hands: Hands) -> OpenVisit:
    """Begin the visit, name the technician and put in a kit that is in calibration."""
    await hands.press("enter")
    await hands.rest()
    await hands.type("Runa Feld")
    visit = hands.app.visit
    for instrument in kit_of(2026):
        visit.add_instrument(instrument, hands.app.now())
    return visit


async def to(hands: Hands, key: ReadingKey) -> None:
    """Show the reading of a key in the walk, whatever bars it: what bars is tested elsewhere."""
    visit = hands.app.visit
    visit.standing.bars = lambda step: iter(())  # type: ignore[method-assign]
    await hands.app.switch_mode("walk")
    await hands.press()
    page = hands.app.screen
    assert isinstance(page, Walk)
    step = visit.checklist.asks[key][0]
    page._enter(step, next(at for at, ask in enumerate(step.asks) if ask.key == key))
    page._without_conditions = True
    page._paint()
    await hands.press()


@pytest.mark.screen
async def test_a_site_that_was_visited_before_is_offered_with_what_is_due(tmp_path: Path) -> None:
    """Enter on the line in view leads to the service visit; a commissioning anew is the second line."""
    site, _ = commissioned(tmp_path)
    app = app_for(tmp_path, site=site)
    async with app.run_test(size=NARROW, notifications=True) as pilot:
        hands = Hands(pilot, app)
        await hands.rest()
        assert "last visited 12 May 2025; quarterly due since 12 Aug 2025" in hands.reads
        assert hands.reads.index("service ") < hands.reads.index("begin ")
        await hands.press("enter")
        await hands.rest()
        assert app.current_mode == "service"


@pytest.mark.screen
async def test_a_typed_site_asks_whether_to_visit_again_or_to_begin(tmp_path: Path) -> None:
    site, _ = commissioned(tmp_path)
    app = app_for(tmp_path)
    async with app.run_test(size=NARROW, notifications=True) as pilot:
        hands = Hands(pilot, app)
        await hands.type(str(site))
        await hands.rest()
        assert "This site was visited before" in hands.sees
        await hands.press("enter")
        await hands.press()
        assert app.current_mode == "service"
        await hands.press("escape")
        assert app.current_mode == "home"
        assert list_visits(app.root) == ()


@pytest.mark.screen
@pytest.mark.parametrize(("size", "colour"), TERMINALS)
async def test_the_page_before_tells_the_note_first_and_lets_intervals_be_left(
    size: tuple[int, int], colour: bool, tmp_path: Path
) -> None:
    """Without the yearly steps the walk is shorter; with the two-yearly ones the shorter come along."""
    site, _ = commissioned(tmp_path)
    async with offered(tmp_path, site, Wanted(("quarterly", "yearly")), size, colour) as (hands, offer):
        assert hands.reads.index("The hatch sticks") < hands.reads.index("What this visit does")
        assert hands.footer_fits
        count = len(offer.walk(Wanted(("quarterly", "yearly"))).steps)
        assert f"{count} of {len(offer.whole.steps)} steps" in hands.sees
        await hands.press("down", "space")
        assert "leave  yearly" in hands.sees
        fewer = len(offer.walk(Wanted(("quarterly",))).steps)
        assert f"{fewer} of {len(offer.whole.steps)} steps" in hands.sees
        await hands.press("down", "space")
        assert [hands.line(word)[3:6] for word in ("quarterly ", "yearly ", "two-yearly ")] == ["do "] * 3


@pytest.mark.screen
async def test_the_page_before_and_a_reading_beside_its_baseline_look_as_they_did(tmp_path: Path) -> None:
    site, _ = commissioned(tmp_path)
    async with offered(tmp_path, site, Wanted(("quarterly", "yearly"))) as (hands, _):
        compare("service-80x24", hands.sees)
        await begin(hands)
        await hands.press("escape")
        await hands.type("14.1")
        compare("as-found-80x24", hands.sees)
        await to(hands, LINK)
        await hands.press("3")
        compare("drift-80x24", hands.sees)


@pytest.mark.screen
async def test_an_event_names_its_parts_and_a_wrong_one_stays_as_typed(tmp_path: Path) -> None:
    site, _ = commissioned(tmp_path)
    async with offered(tmp_path, site, Wanted()) as (hands, _):
        await hands.press("f3")
        await hands.type("bank replaced")
        await hands.type("strng-a")
        await hands.type("")
        assert "there is no such part" in hands.reads
        assert "strng-a" in hands.sees
        await hands.press("up", "ctrl+u")
        await hands.type("string-a")
        await hands.type("string-a")
        assert "bank replaced; string-a; new: string-a" in hands.reads


@pytest.mark.screen
@pytest.mark.parametrize(("size", "colour"), TERMINALS)
async def test_settings_as_found_come_before_the_walk_and_drifts_stand_on_top(
    size: tuple[int, int], colour: bool, tmp_path: Path
) -> None:
    """'=' stands for as last left; what is typed otherwise is told on top, with its sign in the row."""
    site, _ = commissioned(tmp_path)
    async with offered(tmp_path, site, Wanted(("quarterly",)), size, colour) as (hands, _):
        visit = await begin(hands)
        await hands.press("escape")
        assert hands.app.current_mode == "settings"
        before = visit.visit.service.left[0] if visit.visit.service else None
        assert before is not None
        assert "last left" in hands.sees
        await hands.type("=")
        assert visit.visit.settings[0].found == before.left
        await hands.type("1,5 h")
        drifted = "Tower array: absorption time was left at 7 h, found at 1 h 30 min"
        assert f"1 found otherwise than left: {drifted}" in hands.reads
        heads, row = hands.line("recommended"), hands.line("≠")
        assert row.index("≠") + 2 == heads.index("as found"), "the sign stands at what was found"
        assert hands.footer_fits
        await hands.press("ctrl+r", "enter")
        assert all(entry.found is not None for entry in visit.visit.settings)
        await hands.press("ctrl+r")
        assert "all settings of Tower array that were left last are told as found" in hands.reads
        for name in ("float_voltage", "absorption_voltage"):
            visit.set_found("controller-1", name, "30.0", hands.app.now(), why="misread")
        await hands.press("pagedown", "pageup")
        assert size != NARROW or "; 2 more: F9 tells all" in hands.reads, "what has no room on top"
        await hands.press("escape")
        assert hands.app.current_mode in {"walk", "findings"}


@pytest.mark.screen
@pytest.mark.parametrize(("size", "colour"), TERMINALS)
async def test_a_reading_stands_beside_its_baseline_and_its_drift_is_told_in_words(
    size: tuple[int, int], colour: bool, tmp_path: Path
) -> None:
    """A link three times its baseline: whatever its band, the change is told with its limit.

    By hand: the baseline of 21 °C is less by 1.00393 at 20 °C; today's temperature is not known and taken so.
    """
    site, _ = commissioned(tmp_path)
    async with offered(tmp_path, site, Wanted(("yearly",)), size, colour) as (hands, _):
        visit = await begin(hands)
        (row,) = visit.earlier[LINK]
        await to(hands, LINK)
        assert "due yearly" in hands.reads
        assert "before" in hands.sees
        assert "2025-05-12" in hands.line("before ")
        limit = visit.checklist.asks[LINK][1].data.change[0]
        await hands.press(*f"{row.value * 3:.0f}")
        assert "advise" in hands.line("+201")  # what both meters may be off is more than that
        assert "at most" in hands.reads
        await hands.press("f2")
        await hands.press("down", "down", "down", "down", "down", "down")
        assert "Limits of its change" in hands.reads
        assert f"a rise of more than {limit.more:.0f}%" in hands.reads


@pytest.mark.screen
async def test_a_killed_service_visit_goes_on_with_all_that_was_before(tmp_path: Path) -> None:
    site, _ = commissioned(tmp_path)
    async with offered(tmp_path, site, Wanted(("quarterly",))) as (hands, _):
        visit = await begin(hands)
        told, ident = visit.visit.service, visit.visit.id
    with OpenVisit.resume(tmp_path / "visits", ident, prepare_visit, holder=Holder(1, "bench", "x")) as again:
        assert again.visit.service == told
        assert again.checklist.by_key.keys() == visit.checklist.by_key.keys()
        assert again.records_before == site.parent, "its record belongs where those before it are"


@pytest.mark.screen
async def test_an_open_visit_is_taken_up_before_a_second_one_begins(tmp_path: Path) -> None:
    site, _ = commissioned(tmp_path)
    async with offered(tmp_path, site, Wanted(("quarterly",))) as (hands, _):
        ident = (await begin(hands)).visit.id
    app = app_for(tmp_path, site=site)
    async with app.run_test(size=NARROW, notifications=True) as pilot:
        hands = Hands(pilot, app)
        await hands.rest()
        await hands.press("down", "enter")
        assert "A visit of this site is open already" in hands.sees
        await hands.press("enter")
        assert app.visit.visit.id == ident
        app.close_visit()


@pytest.mark.screen
async def test_a_returned_record_is_read_again_at_its_comments_and_signed_behind_it(tmp_path: Path) -> None:
    """Only the step of the comment is read again; the new record names the seal that returned the old one."""
    site, record = commissioned(tmp_path)
    comments = (Comment("which torque?", "plant-as-found"), Comment("photographs, please"))
    answer_record(record, "returned", name="Oswin Harl", role="supervisor", now=SPRING, comments=comments)
    app = app_for(tmp_path, site=site)
    async with app.run_test(size=NARROW, notifications=True) as pilot:
        hands = Hands(pilot, app)
        await hands.until("returned  ")
        assert "returned" in hands.line("northspar")
        await hands.press("enter")
        await hands.rest()
        assert "Returned by Oswin Harl" in hands.sees
        visit = await begin(hands)
        assert [step.data.id for step in visit.checklist.steps] == ["plant-as-found"]
        app.show("walk")
        await hands.press()
        if app.current_mode == "findings":
            await hands.press("escape")
        assert "Oswin Harl: which torque?" in hands.reads
        assert "commented by Oswin Harl" in hands.line("step 1 of 1")
        assert "which torque?" not in hands.line("step 1 of 1"), "it stands below, whole"
        await hands.type("all on, nothing locked")
        await hands.type("yes")
        person = visit.visit.people[0].model_copy(update={"licence": "E-118"})
        visit.add_person(person, app.now())
        assert visit.missing("complete") == ()
        await hands.press("f9")
        assert "photographs, please" in hands.reads
        await hands.press("down", "enter")
        await hands.type("")
        await hands.type("")
        await hands.type("Runa Feld")
        await hands.rest()
        assert "signed; the record is written" in hands.reads
        app.close_visit()
    written = next(tmp_path.glob("*_service_*.toml"))  # noqa: ASYNC240 - a folder of one record
    result = verify(written)
    assert result.intact
    assert result.previous == verify(record).digest
    assert read_record(written).visit.service is not None
