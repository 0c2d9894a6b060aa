"""Every page as text at 80×24 and 140×40, beside a picture that a person has looked at.

After a change that is meant, these tests with ``NEW_PICTURES=1`` in the environment write them anew; look at
each in the difference before it is committed.
"""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from commission.plant.files import load_plant
from commission.plant.places import site_path
from commission.screens.app import CommissionApp
from tests.screens.pages import Hands
from tests.technician import START, Clock, begin

PICTURES = Path(__file__).parent / "pictures"
CABIN = load_plant(site_path(Path("tarnwold-cabin"))).plant
SIZES = {"80x24": (80, 24), "140x40": (140, 40)}
PAGES = ("people", "plant", "findings", "settings", "walk", "sign")


def compare(name: str, seen: str) -> None:
    picture = PICTURES / f"{name}.txt"
    shown = seen.rstrip("\n") + "\n"
    if os.environ.get("NEW_PICTURES"):
        picture.write_text(shown, encoding="utf-8", newline="\n")
    assert shown == picture.read_text(encoding="utf-8"), f"{name} looks otherwise"


async def at_rest(hands: Hands) -> None:
    """Wait until no work in the background is left and the screen has stood still."""
    for _ in range(100):
        await hands.pilot.pause(0.05)
        if all(worker.is_finished for worker in hands.app.workers):
            break
    await hands.pilot.pause(0.05)


@pytest.mark.screen
@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("page", PAGES)
async def test_a_page_looks_as_it_did(page: str, size: str, tmp_path: Path) -> None:
    visit = begin(tmp_path, CABIN, Clock())
    app = CommissionApp(root=tmp_path, clock=lambda: START)
    async with app.run_test(size=SIZES[size]) as pilot:
        app.open_visit = visit
        await app.switch_mode(page)
        hands = Hands(pilot, app)
        await at_rest(hands)
        compare(f"{page}-{size}", hands.sees)
        assert hands.footer_fits
    visit.close()


@pytest.mark.screen
@pytest.mark.parametrize("size", SIZES)
async def test_the_first_screen_looks_as_it_did(size: str, tmp_path: Path) -> None:
    app = CommissionApp(root=tmp_path, clock=lambda: START)
    async with app.run_test(size=SIZES[size]) as pilot:
        hands = Hands(pilot, app)
        await at_rest(hands)
        compare(f"home-{size}", hands.sees)


@pytest.mark.screen
@pytest.mark.parametrize("size", SIZES)
async def test_a_reading_out_of_band_looks_as_it_did(size: str, tmp_path: Path) -> None:
    """State of charge before full load: 41 % where 60 % are wanted."""
    visit = begin(tmp_path, CABIN, Clock())
    app = CommissionApp(root=tmp_path, clock=lambda: START)
    async with app.run_test(size=SIZES[size]) as pilot:
        app.open_visit = visit
        await app.switch_mode("walk")
        hands = Hands(pilot, app)
        await hands.press("f6", *"Ready for full", "enter")
        await hands.press(*"41 %")
        compare(f"out-of-band-{size}", hands.sees)
    visit.close()
