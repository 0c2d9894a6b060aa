"""From checklist data to the walk of one plant: steps repeated per part, resolved, ordered, with hold points.

The usual data are the files named in :data:`USUAL`; a site may name more of its own (``checklists``). The
caller loads them, since this room opens no files::

    names = (*USUAL, *plant.site.checklists)
    data = load_profiles("checklists", ChecklistData, names, beside)
    checklist = build_checklist(plant, sheet, data)
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from collections.abc import Set as AbstractSet
from itertools import compress
from typing import Final

from commission.checklist.check import check_data
from commission.checklist.order import in_walking_order
from commission.checklist.predicates import holds, settings_of
from commission.checklist.registry import SELECTORS, SERIES, At, Place
from commission.checklist.relations import Relations, relations
from commission.checklist.resolve import Resolved, resolve
from commission.checklist.service import check_plan
from commission.checklist.types import (
    Ask,
    Checklist,
    ChecklistData,
    ReadingData,
    ReadingKey,
    Stage,
    StageData,
    Step,
    StepData,
    StepKey,
)
from commission.plant.plant import Plant
from commission.sheet.types import Sheet

USUAL: Final = ("before-energy", "first-power", "charging", "operation")
"""Ids of the checklist files that make the usual walk, in order."""


def build_checklist(plant: Plant, sheet: Sheet, data: Sequence[ChecklistData]) -> Checklist:
    """Return the walk of a commissioning of a plant; its ``of_service`` is what service visits are made of.

    Parameters
    ----------
    data
        Checklist files in order; a later one may add stages, conditions and steps, never replace one.

    Raises
    ------
    SiteError
        If the data name what is not known, say something twice or stand on each other in a ring.
    """
    check_data(data)
    check_plan(plant.site.service, data)
    steps = [step for file in data for step in file.steps]
    known = relations(plant)
    places = _places(plant, sheet, steps)
    resolved = resolve(steps, places, known)
    made = [_step(plant, step, place, resolved, known) for step in steps for place in places[step.id]]
    ordered = _with_holds(in_walking_order(made), known)
    stages = _stages(data, [step for step in ordered if not step.data.service_only])
    more = any(step.data.service_only for step in ordered)
    used = {stage.data.number for stage in stages}
    without = (stage for file in data for stage in file.stages if stage.number not in used)
    conditions = (condition for file in data for condition in file.conditions)
    in_service = _stages(data, ordered) if more else ()
    return Checklist(stages, tuple(conditions), tuple(without), in_service=in_service)


def barred_by(checklist: Checklist, step: Step, passed: AbstractSet[StepKey]) -> list[StepKey]:
    """Return the open hold points that bar a step, in walking order; empty where it may be done.

    A hold point bars the steps that stand on it, directly or through others, and every later step that raises
    the energy of the same circuit.

    Parameters
    ----------
    passed
        Keys of the steps that have passed, or that the person whom their data name has released.
    """
    return [key for key in step.holds if key not in passed]


def unmet(step: Step, passed: AbstractSet[StepKey]) -> list[StepKey]:
    """Return what a step stands on and what has not passed yet, hold points or not."""
    return [key for key in step.stands_on if key not in passed]


def _places(plant: Plant, sheet: Sheet, steps: Iterable[StepData]) -> dict[str, list[Place]]:
    """Return where each step is done; an empty list where the plant has nothing of the kind."""
    settings = settings_of(sheet)
    yielded: dict[str, list[Place]] = {}
    found: dict[str, list[Place]] = {}
    for step in steps:
        if step.each not in yielded:
            yielded[step.each] = list(SELECTORS.entries[step.each].call(plant))
        found[step.id] = [
            place
            for place in yielded[step.each]
            if not step.when or _stays(step, At(plant, sheet, place, settings))
        ]
    return found


def _stays(step: StepData, at: At) -> bool:
    return all(holds(word, at) for word in step.when)


def _step(plant: Plant, data: StepData, place: Place, resolved: Resolved, known: Relations) -> Step:
    return Step(
        data,
        place.parts,
        _capital(filled(data.title, place)),
        filled(data.do, place),
        _asks(plant, data, place),
        resolved.stands_on(data.id, place),
        known.within(place.parts),
        known.circuit(place.parts),
    )


def filled(text: str, place: Place) -> str:
    """Return a text with the names of the parts in place of ``{part}`` and ``{other}``."""
    if "{" in text:
        for word, label in zip(("{part}", "{other}"), place.labels, strict=False):
            text = text.replace(word, label)
    return text


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def reading_name(step: StepData, reading: ReadingData) -> str:
    """Return what a reading of a step is known by: the step's id, with the reading's name behind it."""
    return f"{step.id}.{reading.name}" if reading.name else step.id


def _asks(plant: Plant, step: StepData, place: Place) -> tuple[Ask, ...]:
    made: list[Ask] = []
    for reading in step.readings:
        name = reading_name(step, reading)
        if not reading.series:
            made.append(Ask(ReadingKey(name, place.parts), reading, reading.prompt))
            continue
        labels = SERIES.entries[reading.series].call(plant, place)
        for index, label in enumerate(labels):
            made.append(Ask(ReadingKey(name, place.parts, index), reading, label))
    return tuple(made)


def _with_holds(ordered: Sequence[Step], known: Relations) -> list[Step]:
    """Return the steps with the hold points that bar each: what it stands on, and those of its circuit.

    Hold points are counted in walking order and sets of them kept as the bits of a number: a large site has
    hundreds of steps, each above dozens of hold points.
    """
    holds = [step.key for step in ordered if step.data.hold]
    bit = {key: 1 << number for number, key in enumerate(holds)}
    below: dict[StepKey, int] = {}
    told: dict[int, tuple[StepKey, ...]] = {}
    everywhere, of_part = 0, dict[str, int]()
    made: list[Step] = []
    for step in ordered:
        bars = 0
        for key in step.stands_on:
            bars |= below[key] | bit.get(key, 0)
        below[step.key] = bars
        if step.data.raises_energy:
            bars |= everywhere
            for part in step.circuit:
                bars |= of_part.get(part, 0)
        own = bit.get(step.key, 0)
        if own and (not step.parts or known.is_bank(step.parts)):
            everywhere |= own
        elif own:
            of_part |= {part: of_part.get(part, 0) | own for part in step.parts}
        if bars not in told:
            told[bars] = _keys(bars, holds)
        made.append(_barred(step, told[bars]) if bars else step)
    return made


def _keys(bars: int, holds: Sequence[StepKey]) -> tuple[StepKey, ...]:
    """Return the hold points that the bits of a number stand for, in walking order."""
    return tuple(compress(holds, map("1".__eq__, reversed(f"{bars:b}"))))


def _barred(step: Step, holds: tuple[StepKey, ...]) -> Step:
    return Step(
        step.data,
        step.parts,
        step.title,
        step.do,
        step.asks,
        step.stands_on,
        step.within,
        step.circuit,
        holds,
    )


def _stages(data: Sequence[ChecklistData], ordered: Sequence[Step]) -> tuple[Stage, ...]:
    known: dict[int, StageData] = {stage.number: stage for file in data for stage in file.stages}
    steps: dict[int, list[Step]] = {}
    for step in ordered:
        steps.setdefault(step.data.stage, []).append(step)
    return tuple(Stage(known[number], tuple(steps[number])) for number in sorted(steps))
