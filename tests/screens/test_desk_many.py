"""The desk on ten thousand records: what is shown at both sizes is what there is, counted by hand.

Of five sites with their fourteen records there are 715 each: 715 with a reading accepted, 715 with one that
failed, 715 with a gap in their chain, 715 whose newest record is countersigned.
"""

from __future__ import annotations

from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from pathlib import Path

import pytest

from commission.screens.desk_app import DeskApp
from tests.desk.many_sites import BAD_METER, COPIES, OTHER, RECORDS, SITES, many_sites, opening
from tests.desk.small_fleet import TODAY, Made
from tests.screens.pages import NARROW, WIDE, Hands
from tests.screens.test_desk import DeskHands


@asynccontextmanager
async def desk_on(made: Made, root: Path, size: tuple[int, int]) -> AsyncIterator[Hands]:
    app = DeskApp(opening=lambda: opening(made), root=root / "visits", clock=lambda: TODAY)
    async with app.run_test(size=size, notifications=True) as pilot:
        hands = DeskHands(pilot, app)
        await hands.rest()
        yield hands


@pytest.mark.screen
@pytest.mark.slow
async def test_ten_thousand_records_at_both_sizes(tmp_path: Path) -> None:
    """Both on one index, since making it takes longer than looking at it."""
    assert (SITES, RECORDS) == (3575, 10010)
    made = many_sites(tmp_path / "fleet")
    for size in (NARROW, WIDE):
        async with desk_on(made, tmp_path, size) as hands:
            await _opens_and_narrows(hands, size[1])
            await _groups(hands)
            if size == NARROW:
                await _filters_lists_and_meters(hands)
            await _opens_a_site_and_its_record(hands)


def _top(hands: Hands) -> str:
    return hands.sees.splitlines()[0].rstrip()


async def _opens_and_narrows(hands: Hands, high: int) -> None:
    assert _top(hands).endswith("3,575 of 3,575 sites")
    assert "1 gap in the chain of records" in hands.line("▶")
    assert sum("Ulenfell mill" in line for line in hands.sees.splitlines()) > high - 15
    assert hands.footer_fits
    await hands.press("ctrl+end")
    await hands.rest()
    assert "Yarnecroft barn 99" in hands.line("▶")
    await hands.press("ctrl+home", *"n41")
    await hands.rest()
    assert _top(hands).endswith("55 of 3,575 sites")  # n41 and n410 to n419, five sites each
    await hands.press(*" CLINIC")
    await hands.rest()
    assert _top(hands).endswith("11 of 3,575 sites")
    shown = [line for line in hands.sees.splitlines() if line[3:].startswith("Marrowfell clinic 4")]
    assert len(shown) == 11
    assert "Marrowfell clinic 41: 1 reading failed, nothing decided" in hands.reads
    assert all("1 reading failed, nothing decided" in line for line in shown)
    await hands.press(*"x")
    await hands.rest()
    assert _top(hands).endswith("0 of 3,575 sites")
    await hands.press("escape")
    await hands.rest()
    assert _top(hands).endswith("3,575 of 3,575 sites")


async def _groups(hands: Hands) -> None:
    await hands.press("f4")
    await hands.type("tech")
    await hands.rest()
    # of 715 copies every second one, 357, is his; the rest are hers
    assert "1,785 sites, 4,998 records" in hands.line(OTHER)
    assert "1,790 sites, 5,012 records" in hands.line("Runa Feld")
    await hands.press(*"id", "enter")
    await hands.rest()
    assert _top(hands).endswith("1,785 of 3,575 sites")
    await hands.press("escape", "escape")
    await hands.rest()


async def _filters_lists_and_meters(hands: Hands) -> None:
    await hands.press("f3")
    await hands.type("nobody d")
    await hands.rest()
    assert _top(hands).endswith(f"{COPIES} of 3,575 sites")
    assert "Marrowfell clinic" in hands.line("▶")
    await hands.press("escape", "f5")
    await hands.rest()
    assert "9,295 records that wait to be countersigned" in hands.reads
    await hands.type("wait")
    await hands.rest()
    assert _top(hands).endswith("the first 500")
    await hands.press(*"n123 mill")
    await hands.rest()
    assert _top(hands).endswith(" 2")  # of its three records one is gone
    await hands.press("escape", "f7")
    await hands.rest()
    assert BAD_METER in hands.line("▶")
    assert "reads 0.40 % more than the others" in hands.reads
    assert _top(hands).endswith("1 of 11 read otherwise")
    await hands.press("escape")


async def _opens_a_site_and_its_record(hands: Hands) -> None:
    await hands.press(*"barn n0")
    await hands.rest()
    assert _top(hands).endswith("1 of 3,575 sites")
    await hands.press("enter")
    await hands.rest()
    assert hands.sees.splitlines()[0].startswith(" Yarnecroft barn")
    assert _top(hands).endswith("3 records")
    await hands.press(*"2025", "enter")
    await hands.rest()
    assert "Yarnecroft barn  commissioning, 2025-11-24" in hands.sees.splitlines()[0]
    assert "intact" in hands.sees.splitlines()[0]
    assert hands.footer_fits
    await hands.press("escape", "escape")
    await hands.rest()
    assert _top(hands).endswith("1 of 3,575 sites")
    await hands.press("escape")
    await hands.rest()
    assert _top(hands).endswith("3,575 of 3,575 sites")
