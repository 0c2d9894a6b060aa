"""Journeys over the first screen."""

from __future__ import annotations

import shutil
from datetime import timedelta
from pathlib import Path
from threading import Event
from typing import Any

import pytest
from textual.screen import Screen
from textual.widgets import OptionList

from commission.errors import VisitError
from commission.plant.files import load_plant
from commission.plant.places import data_folder
from commission.screens.app import CommissionApp
from commission.visit.session import OpenVisit
from commission.visit.shelf import list_visits
from tests.screens.pages import NARROW, Hands
from tests.visit.walks import NOON


def site_of(root: Path) -> Path:
    """Return a site file of one's own, its id in its name."""
    return Path(
        shutil.copy(data_folder("sample_sites") / "tarnwold-cabin.toml", root / "tarnwold-cabin.toml")
    )


async def begin_by(hands: Hands, site: Path, name: str) -> str:
    """Begin a visit and name its technician; returns its id."""
    await hands.type(str(site))
    await hands.rest()
    if "open already" in hands.reads:
        await hands.press(*"begin", "enter")
        await hands.rest()
    await hands.type(name)
    ident = hands.app.visit.visit.id
    hands.app.go_home()
    await hands.press()
    return ident


@pytest.mark.screen
async def test_two_visits_of_a_site_are_told_apart_and_the_newest_is_taken_up_first(tmp_path: Path) -> None:
    """By time and technician; a new visit is the last choice and not the first."""
    site, times = site_of(tmp_path), iter(range(10_000))
    clock = lambda: NOON + timedelta(minutes=next(times))  # noqa: E731 - a clock that moves on
    app = CommissionApp(root=tmp_path / "visits", clock=clock)
    async with app.run_test(size=NARROW, notifications=True) as pilot:
        hands = Hands(pilot, app)
        first = await begin_by(hands, site, "Runa Feld")
        second = await begin_by(hands, site, "Ove Starn")
        assert first != second
        for found in list_visits(app.root):
            assert found.started_at is not None
            assert f"{found.started_at:%d %b %Y %H:%M}, {found.technician}, 0 readings" in hands.reads
        await hands.type(str(site))
        rows = hands.reads
        assert rows.index("take up") < rows.index("go on") < rows.index("begin")
        assert "24 Nov 2026 12:00, Runa Feld" in rows
        await hands.press("enter")
        assert app.visit.visit.id == second
        app.close_visit()


@pytest.mark.screen
async def test_the_open_visit_of_the_named_site_is_in_view_and_not_that_of_another(tmp_path: Path) -> None:
    """The newest visit is of another site; Enter takes up the one of the site that was named."""
    own, other = site_of(tmp_path), data_folder("sample_sites") / "northspar-beacon.toml"
    times = iter(range(10_000))
    app = CommissionApp(root=tmp_path / "visits", clock=lambda: NOON + timedelta(minutes=next(times)))
    async with app.run_test(size=NARROW) as pilot:
        hands = Hands(pilot, app)
        first = await begin_by(hands, own, "Runa Feld")
        await begin_by(hands, other, "Runa Feld")
    app = CommissionApp(root=tmp_path / "visits", site=own, clock=lambda: NOON + timedelta(days=1))
    async with app.run_test(size=NARROW) as pilot:
        hands = Hands(pilot, app)
        await hands.press("enter")
        assert app.visit.visit.id == first
        app.close_visit()


@pytest.mark.screen
async def test_how_to_take_a_line_and_how_to_quit_stand_in_the_footer(tmp_path: Path) -> None:
    app = CommissionApp(root=tmp_path / "visits", clock=lambda: NOON)
    async with app.run_test(size=NARROW) as pilot:
        hands = Hands(pilot, app)
        await hands.press()
        footer = hands.sees.splitlines()[-1]
        assert "⏎ take" in footer
        assert "^q quit" in footer
        assert hands.footer_fits
        await hands.press("f1")
        assert "ctrl+q        quit" in hands.sees


def test_a_name_that_was_put_right_is_the_one_that_is_listed(tmp_path: Path) -> None:
    from commission.visit.types import Person
    from tests.visit.walks import begun, step, walk

    with begun(tmp_path, walk(step("a"))) as visit:
        visit.add_person(Person(name="Elin Corse", role="supervisor"), NOON)
        visit.add_person(Person(name="Runa Fell", role="technician"), NOON, instead_of="Runa Feld")
    (found,) = list_visits(tmp_path)
    assert found.technician == "Runa Fell"


@pytest.mark.screen
async def test_what_takes_long_stands_on_the_screen_before_it_begins(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A large plant takes some seconds, in which nothing else would move."""
    site = site_of(tmp_path)
    app = CommissionApp(root=tmp_path / "visits", clock=lambda: NOON)
    painted: list[str] = []
    async with app.run_test(size=NARROW, notifications=True) as pilot:
        hands = Hands(pilot, app)
        paint = app._display

        def painting(screen: Screen[object], what: object) -> None:
            painted.append(hands.reads)
            paint(screen, what)  # type: ignore[arg-type]

        monkeypatch.setattr(app, "_display", painting)
        await hands.type(str(site))
        await hands.rest()
    said = "settings, design check and walk are worked out"
    first = next(at for at, text in enumerate(painted) if said in text)
    assert any("opening tarnwold-cabin.toml" in text for text in painted[:first])
    assert any("name of the technician" in text for text in painted[first:])


@pytest.mark.screen
async def test_the_page_stays_alive_while_a_plant_is_opened(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The list moves, help opens, a second Enter begins nothing else and says what is still being done."""
    app = CommissionApp(root=tmp_path / "visits", clock=lambda: NOON, site=site_of(tmp_path))
    may_end, begin, count = Event(), app.new_visit, []

    def slow(*told: Any) -> OpenVisit:
        count.append(told)
        may_end.wait(60)
        return begin(*told)

    monkeypatch.setattr(app, "new_visit", slow)
    async with app.run_test(size=NARROW, notifications=True) as pilot:
        hands = Hands(pilot, app)
        await hands.press("enter")
        await hands.until("walk are worked out")
        await hands.press("down", "down", "up")
        assert app.screen.query_one("#offers", OptionList).highlighted == 1
        await hands.press("enter")
        assert "still at it" in hands.reads
        await hands.press("f1")
        assert "Here you take up a visit" in hands.sees
        await hands.press("escape")
        may_end.set()
        await hands.until("name of the technician")
        assert len(count) == 1
    app.close_visit()


@pytest.mark.screen
async def test_what_is_left_before_it_had_begun_leaves_no_visit_behind(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Nothing is written before sheet and walk stand, so that nobody finds a visit that was never seen."""
    app = CommissionApp(root=tmp_path / "visits", clock=lambda: NOON)
    plant = load_plant(site_of(tmp_path)).plant
    with pytest.raises(VisitError, match="left before"):
        app.new_visit(plant, None, lambda: False)
    assert list_visits(app.root) == ()
