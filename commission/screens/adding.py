"""Taking a step that was not due into the walk: what it is, what it needs, who adds it."""

from __future__ import annotations

from collections import Counter

from commission.checklist.types import Checklist, Step
from commission.visit.adding import Addition
from commission.visit.standing import step_text

_TITLES = 4
"""Steps that come along and are told by their titles; more are counted by their stages."""


def addition_text(more: Addition) -> str:
    """Return what a step brings into the walk, in words."""
    if not more.more:
        return f"{more.step.do}\n\nIt needs nothing else."
    return f"{more.step.do}\n\nWith it, since it needs them: {_told(more.more, more.checklist)}."


def found_by(step: Step) -> str:
    """Return what a step is found by beside its title: its id, its parts, its readings."""
    readings = dict.fromkeys(word for ask in step.asks for word in (ask.key.step, ask.label))
    return " ".join((step_text(step.key), step.data.id.replace("-", " "), *step.parts, *readings))


def _told(steps: tuple[Step, ...], walk: Checklist) -> str:
    if len(steps) <= _TITLES:
        return "; ".join(step.title for step in steps)
    titles = {stage.data.number: stage.data.title for stage in walk.stages}
    stages = Counter(step.data.stage for step in steps)
    told = ", ".join(f"{titles[number]} ({count})" for number, count in sorted(stages.items()))
    return f"{len(steps)} steps: {told}"
