"""A series of readings of one key, and what its trend holds."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Final, Literal, TypeAlias

from commission.checklist.types import Side
from commission.visit.types import Verdict

CONFIDENCE: Final = 0.95
"""Share of cases in which the interval of a slope holds the true one, where nothing else is asked for."""
When: TypeAlias = Literal["reached", "open", "dated", "not reached", "never", "not told"]
"""``open``: the newest reading is a bound that allows values on both sides of the limit."""


@dataclass(frozen=True, slots=True)
class Point:
    """One reading of a series."""

    at: datetime
    value: float
    unit: str = ""
    visit: str = ""
    side: Side = "exact"
    verdict: Verdict | None = None
    corrected: bool = False
    """A later entry of the same visit replaced it."""
    instrument: str = ""
    temperature: float | None = None
    """Of the battery then. [°C]"""
    state_of_charge: float | None = None
    """Of the battery then, 0 to 1."""
    begins: bool = False
    """First reading of a new baseline: of a new battery, a new joint, a changed part."""
    compared_as: str = ""
    """What its value is, where it is not the reading as it was read: ``resistance of the run``."""
    holds: bool = False
    """Its visit found that it holds beside the baseline, within what meters and warmth may make of it."""
    unfit: str = ""
    """Why it cannot be compared; empty where it can."""

    @property
    def measured_at(self) -> datetime:
        """When it was measured."""
        return self.at


@dataclass(frozen=True, slots=True)
class LeftOut:
    """A point that does not count, and why."""

    point: Point
    why: str


@dataclass(frozen=True, slots=True)
class Limit:
    """A value that a reading must not pass."""

    value: float
    side: Literal["low", "high"]
    source: str
    name: str = ""
    """What it means to be there: 'end of life', 'to be remade', '50 % under the baseline'."""
    ages: bool = True
    """Whether ageing brings a reading there, so that a date may be told; else it is for one day."""


@dataclass(frozen=True, slots=True)
class Reached:
    """When a limit is reached, as far as the readings tell."""

    limit: Limit
    when: When
    middle: datetime | None = None
    """By the slope itself."""
    earliest: datetime | None = None
    latest: datetime | None = None
    """By the ends of the slope's interval; None where the limit may never be reached, or not in our time."""


@dataclass(frozen=True, slots=True)
class Trend:
    """What the readings of one key say together."""

    unit: str
    used: tuple[Point, ...]
    """In order of time, with the value as it was compared."""
    left_out: tuple[LeftOut, ...]
    subject: str = ""
    """What falls or rises, as the subject of a sentence; empty: the reading's own prompt."""
    corrected_for: str = ""
    remarks: tuple[str, ...] = ()
    baseline: Point | None = None
    """What the service visits compare with, as it was compared; the slope may leave it out."""
    newest: Point | None = None
    """The newest reading that can be held against a limit: a bound, or of another meter, too."""
    slope: float | None = None
    """Change a year."""
    slope_low: float | None = None
    slope_high: float | None = None
    probability: float | None = None
    """Chance that readings without a trend go one way so far."""
    level: float | None = None
    """Value of the line at the newest point."""
    residual: float | None = None
    """Median distance of a point from the line."""
    reached: Reached | None = None
    """The limit that is told: what is passed, else what comes first."""
    then: Reached | None = None
    """The limit that comes after one that is passed."""
    confidence: float = CONFIDENCE
    silence: str = ""
    """Why nothing is claimed; empty where something is."""
