"""What the design check has left open."""

from __future__ import annotations

from commission.checklist.registry import expectation
from commission.checklist.situation import Situation
from commission.checklist.types import Expectation, Expected, NotJudged
from commission.figure import Band


@expectation(
    "no finding that stops is open",
    says="yes counts only where every finding that stops has ended: by a changed plant or a second person",
    source="common practice",
)
def _stops_ended(at: Situation) -> Expectation:
    """Tell how many findings that stop are open: as long as there are any, nobody can say there are none."""
    count = len(at.open_stops)
    if not count:
        return Expected(Band(None, None, None, ""), "no finding that stops is open")
    are = "finding that stops is" if count == 1 else "findings that stop are"
    return NotJudged(f"{count} {are} open (F8): {at.open_stops[0]}")
