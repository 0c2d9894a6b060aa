"""Journeys over the sign-off of a service visit."""

from __future__ import annotations

from pathlib import Path

import pytest

from commission.revisit.offer import Wanted
from tests.revisit.sites import commissioned
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
