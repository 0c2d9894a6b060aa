"""The band of a reading: from the name that its data carry to what it should be now."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Final

from commission.checklist.bands import band
from commission.checklist.registry import EXPECTATIONS, Judge, load_words
from commission.checklist.situation import Situation
from commission.checklist.types import Expectation, NotJudged
from commission.errors import FormulaError
from commission.figure import Figure, given

_NUMBER: Final = r"(-?\d+(?:\.\d+)?)"
_PLAIN: Final = (
    (re.compile(rf"at least {_NUMBER}"), lambda number: (number, None)),
    (re.compile(rf"at most {_NUMBER}"), lambda number: (None, number)),
)
_BETWEEN: Final = re.compile(rf"between {_NUMBER} and {_NUMBER}")
PLAIN_FORMS: Final = ("at least 5", "at most 5", "between 4 and 6")
"""Bands that data may give as bare numbers, in the unit of the reading; the source is the step's."""


def expected(situation: Situation) -> Expectation | None:
    """Return what the reading should be; None where nothing is expected of it.

    A formula that refuses its inputs makes the reading 'not judged', with the refusal as the reason.
    """
    name = situation.ask.data.expect
    if not name:
        return None
    judge = find(name)
    if judge is None:
        return NotJudged(f"the expectation '{name}' is not known")
    try:
        return judge(situation)
    except FormulaError as error:
        return NotJudged(str(error))


def find(name: str) -> Judge | None:
    """Return the expectation behind a name: a registered one, or a band given as numbers."""
    load_words()
    entry = EXPECTATIONS.get(name)
    if entry is not None:
        return entry.call
    limits = _limits(name)
    return None if limits is None else _plain_band(*limits)


def nearest(name: str) -> str:
    """Return what would be right in place of a name that is not known."""
    return f"{EXPECTATIONS.nearest(name)}, or a plain band: {', '.join(PLAIN_FORMS)}"


def _limits(name: str) -> tuple[float | None, float | None] | None:
    for pattern, ends in _PLAIN:
        match = pattern.fullmatch(name)
        if match:
            return ends(float(match[1]))
    match = _BETWEEN.fullmatch(name)
    return None if match is None else (float(match[1]), float(match[2]))


def _plain_band(low: float | None, high: float | None) -> Callable[[Situation], Expectation]:
    def judge(situation: Situation) -> Expectation:
        ends = (_limit(situation, low, "least"), _limit(situation, high, "most"))
        return band(situation, low=ends[0], high=ends[1])

    return judge


def _limit(situation: Situation, value: float | None, word: str) -> Figure | None:
    if value is None:
        return None
    step = situation.step.data
    name = f"{word} that {situation.ask.data.prompt} may be"
    return given(value, situation.ask.data.unit, name, where=step.id, source=step.source)
