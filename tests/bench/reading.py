"""A visit to the largest sample, left at a reading whose verdict changes with its last digit."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path
from typing import Final

from commission.checklist.types import Ask, Expected, Step
from commission.errors import EntryError
from commission.plant.files import load_plant
from commission.plant.places import site_path
from commission.plant.plant import Plant
from commission.screens.theme import VERDICT_MARK
from commission.visit.journal import InMemory
from commission.visit.session import OpenVisit
from tests import technician

LARGEST: Final = Path("skarnow-lodge")


@dataclass(frozen=True, slots=True)
class Typed:
    """What is typed for a reading, and what its last digit makes the screen say."""

    label: str
    before: str
    last: str
    verdict: str


@dataclass(frozen=True, slots=True)
class Answer:
    """What is typed for the readings of a step, and how many steps are done with it."""

    texts: tuple[str, ...]
    done: int


def now() -> datetime:
    """Return the time with its offset, whole seconds."""
    return datetime.now().astimezone().replace(microsecond=0)


def largest_plant() -> Plant:
    """Return the plant with the most parts among the samples."""
    return load_plant(site_path(LARGEST)).plant


def first_answers(root: Path, count: int) -> list[Answer]:
    """Begin a visit in a folder; return what its first steps are answered with, all of them good."""
    with technician.begin(root, largest_plant(), now) as visit:
        ahead = OpenVisit(visit.plant, visit.sheet, visit.checklist, visit.visit, InMemory())
    answers: list[Answer] = []
    step = ahead.standing.next_step()
    while step is not None and len(answers) < count:
        texts = [technician.typed(ahead, ask, now()) for ask in step.asks]
        for ask, text in zip(step.asks, texts, strict=True):
            ahead.take(ask, text, measured_at=now(), now=now())
        answers.append(Answer(tuple(texts), sum(stage.done for stage in ahead.standing.progress())))
        step = ahead.standing.next_step(step.key)
    return answers


def leave_at_a_reading(root: Path) -> Typed:
    """Walk a whole visit in a folder and leave it where a measured number with two limits was asked for.

    Raises
    ------
    LookupError
        If no step of the walk asks for such a number.
    """
    clock = technician.Clock(now() - timedelta(hours=12))
    with technician.begin(root, largest_plant(), clock) as visit:
        technician.walk(visit, clock)
        for step in visit.checklist.steps:
            typed = _of_step(visit, step) if visit.standing.status(step) == "done" else None
            if typed is not None:
                visit.move_to(step.key, now())
                return typed
    raise LookupError("no step of the largest sample asks for a measured number with two limits")


def _of_step(visit: OpenVisit, step: Step) -> Typed | None:
    ask = step.asks[0]
    if ask.data.kind != "number" or visit.instrument_for(ask) is None:
        return None
    expected = visit.expectation_for(ask, now())
    if not isinstance(expected, Expected) or expected.band.low is None or expected.band.high is None:
        return None
    middle = (expected.band.low.value + expected.band.high.value) / 2
    texts = (f"{middle:.{decimals}f}" for decimals in range(4))
    return next((found for text in texts if (found := _typed(visit, ask, text)) is not None), None)


def _typed(visit: OpenVisit, ask: Ask, text: str) -> Typed | None:
    """Return a text whose last digit makes the verdict a pass, None where it does not."""
    after, before = _verdict(visit, ask, text), _verdict(visit, ask, text[:-1])
    if not before or before == after or not after.startswith("pass"):
        return None
    return Typed(ask.label, text[:-1], text[-1], after)


def _verdict(visit: OpenVisit, ask: Ask, text: str) -> str:
    """Return the word and the mark that the walk shows for a text, empty where it is no reading."""
    meter = visit.instrument_for(ask)
    try:
        judged = visit.weigh(ask, text, measured_at=now(), instrument=None if meter is None else meter.id)
    except EntryError:
        return ""
    return f"{judged.verdict} {VERDICT_MARK[judged.verdict]}"
