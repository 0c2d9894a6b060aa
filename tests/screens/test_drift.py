"""A journey of a service visit: readings inside their bands that went too far, and a bound as baseline."""

from __future__ import annotations

from pathlib import Path

import pytest

from commission.checklist.types import ReadingKey
from commission.revisit.offer import Wanted
from commission.visit.session import OpenVisit
from tests.revisit.sites import micro_ohmmeter, visited_twice
from tests.screens.pages import NARROW, Hands
from tests.screens.test_service import LINK, begin, offered, to

ARRAY = ReadingKey("array-insulation.positive", ("pv-1a",))
FIRST = {"link-resistance": "84 µΩ", ARRAY.step: "> 550 MΩ"}
SECOND = {"link-resistance": "88 µΩ", ARRAY.step: "400 MΩ"}


def read_all_but_the_last(visit: OpenVisit, hands: Hands, typed: str) -> None:
    """Read every link but the one that the journey reads; links are compared with their like."""
    asks = visit.checklist.asks[LINK][0].asks
    column = [typed] * (len(asks) - 1) + [""]
    now = hands.app.now()
    visit.take_column(asks, column, measured_at=now, now=now, instrument="low-ohm-meter")


@pytest.mark.screen
async def test_what_is_inside_its_band_and_has_gone_too_far_asks_for_a_word(tmp_path: Path) -> None:
    """Baseline, last value and the reason stand beside the reading, before Enter and after it.

    By hand: 106 µΩ at 20 °C over 84 µΩ at 21 °C is 26.7 %, the limit 20 %; 3 of > 550 MΩ is at most 1/183.
    """
    site = visited_twice(tmp_path, FIRST, SECOND)
    async with offered(tmp_path, site, Wanted(("yearly", "two-yearly")), NARROW) as (hands, _):
        visit = await begin(hands)
        visit.add_instrument(micro_ohmmeter(2026), hands.app.now())
        await to(hands, LINK)
        read_all_but_the_last(visit, hands, "86 µΩ")
        assert "baseline 84 µΩ 2025-05-12 at 21 °C · last 88 µΩ 2025-11-20" in hands.reads
        await hands.press(*"106")
        assert "conditional fail" in hands.sees
        assert "act" in hands.line("+26.7 ±")
        assert "since the baseline of 2025-05-12; at most +20%; remake the joint" in hands.reads
        await hands.press("enter")
        judged = visit.current(LINK)
        assert judged is not None
        assert judged.judgement is not None
        assert judged.judgement.verdict == "conditional fail"
        assert "Why may it stay?" in hands.reads
        assert "Conditional fail link 18 of 18: 106" in hands.reads
        assert "remake the joint, torque it, read again" in hands.reads
        await hands.type("no torque wrench here, remade next week")

        await to(hands, ReadingKey("air-temperature"))
        await hands.type("19 °C")
        await to(hands, ARRAY)
        assert "baseline > 550 MΩ 2025-05-12" in hands.reads
        assert "last 400 MΩ 2025-11-20" in hands.reads
        await hands.press("3")
        assert "conditional fail" in hands.sees
        assert "to 1/183 or less since the baseline of 2025-05-12, > 550 MΩ" in hands.reads
        await hands.press("enter")
        fallen = visit.current(ARRAY)
        assert fallen is not None
        assert fallen.judgement is not None
        assert [drift.verdict for drift in fallen.judgement.drifts] == ["act", "advise"]
        assert any("conditional fail" in missing.says for missing in visit.missing("complete"))
