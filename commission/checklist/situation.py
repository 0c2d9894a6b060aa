"""What an expectation may look at: the plant, the sheet, settings as left, readings that are still alive."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import datetime

from commission.checklist.types import Ask, Checklist, Observation, ReadingKey, Step
from commission.figure import Quantity
from commission.plant.equipment import Input
from commission.plant.plant import Plant
from commission.sheet.types import Sheet


@dataclass
class Situation:
    """The moment at which a reading is judged. Every reading that is looked at is remembered in ``used``."""

    plant: Plant
    sheet: Sheet
    checklist: Checklist
    step: Step
    ask: Ask
    now: datetime
    """When the reading was measured."""
    latest: Callable[[ReadingKey], Observation | None]
    """The newest reading of a key that was measured up to ``now``, whatever its age."""
    left: Callable[[str, str, Input | None], Quantity | None]
    """A setting as left, in whole-bank volts or its unit; the recommendation where nothing was entered."""
    reading: Observation | None = None
    """The reading that is to be judged; None while the band is only shown."""
    used: list[Observation] = field(default_factory=list)
    open_stops: tuple[str, ...] = ()
    """Findings that stop, in words, which nothing has ended yet."""

    def look(self, key: ReadingKey) -> Observation | None:
        """Return the newest reading of a key and remember that it was used."""
        found = self.latest(key)
        if found is not None and found not in self.used:
            self.used.append(found)
        return found
