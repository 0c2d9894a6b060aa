"""What a repeated reading is: how it is corrected before it is compared, and what its limit means."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Final, Literal

from commission.checklist.types import Provisional
from commission.formulas.acceptance import OHMIC_STEPS, SERVICE_RISE
from commission.formulas.capacity_test import REPLACE_BELOW
from commission.formulas.conductors import COPPER_COEFFICIENT_20, resistance_at_20


@dataclass(frozen=True, slots=True)
class Subject:
    """How the readings of a step are compared over the years."""

    name: str
    """What falls or rises, as the subject of a sentence; empty: the reading's own prompt."""
    correct: Callable[[float, float], float] | None = None
    """Value and battery temperature to the value at the reference temperature."""
    corrected_for: str = ""
    like_charge: float | None = None
    """States of charge further apart than this share are not compared, as the checklist has it."""
    takes_compared: bool = False
    """What was judged counts, not the reading itself: of a capacity test the share of the rating."""
    limit: float | None = None
    """At this value, or where ``of_first`` this many times the first reading of the baseline."""
    of_first: bool = False
    side: Literal["low", "high"] = "low"
    limit_name: str = ""
    limit_source: str = ""
    end_of_life: bool = False
    provisional: Provisional = ""
    """Until when a first reading is no firm baseline, as the checklist has it."""


def _copper(value: float, temperature: float) -> float:
    return resistance_at_20(value, COPPER_COEFFICIENT_20, temperature)


_REPLACE: Final = OHMIC_STEPS[-1][0]
_LINK: Final = Subject(
    "the joint's resistance",
    correct=_copper,
    corrected_for="corrected to 20 °C as copper (IEC 60028)",
    limit=1.0 + SERVICE_RISE,
    of_first=True,
    side="high",
    limit_name="to be remade",
    limit_source="IEEE 450 and 1188: 20 % over the baseline; for float service, elsewhere as guidance",
)
_OHMIC: Final = Subject(
    "the ohmic value",
    like_charge=0.1,
    limit=1.0 + _REPLACE,
    of_first=True,
    side="high",
    limit_name="end of life",
    limit_source="makers' sheets, IEEE 1188 from memory: replaced at 50 % over the baseline; as guidance",
    end_of_life=True,
    provisional="six months",
)
_DENSITY: Final = Subject("the acid's density")
"""Restated at the reference temperature of its own battery by the visits that compare it."""
_SUBJECTS: Final[dict[str, Subject]] = {
    "capacity-test.time": Subject(
        "capacity",
        takes_compared=True,
        corrected_for="as the test's share of the rating, corrected by the test itself",
        limit=100.0 * REPLACE_BELOW,
        limit_name="end of life",
        limit_source="IEEE 450; US Reclamation FIST 3-6: replaced below 80 % of the rating",
        end_of_life=True,
        provisional="second reading",
    ),
    "ohmic-value": _OHMIC,
    "ohmic-float": replace(_OHMIC, name="the ohmic value on float"),
    "blocks-on-float.block": Subject("", provisional="six months"),
    "link-resistance": _LINK,
    "cell-density.density": _DENSITY,
    "density-full": _DENSITY,
}
_OTHER: Final = Subject("")


def subject_of(step: str) -> Subject:
    """Return what the readings of a step are; ``step`` is the id that their key has."""
    return _SUBJECTS.get(step, _OTHER)
