"""The walk of a service visit: what is due of the whole walk, and what a change makes due again.

Kept are the steps whose interval is due, all steps of parts that were changed or that an event concerns, and
what keeps them safe: what names the hazards of what is done, and, where one of them needs the plant off, the
whole isolation and what switches the plant on again. What else a step stands on falls away: the record of the
visit before proves it. Readings that a kept step waits for can still be asked inside it
(:attr:`Checklist.aside`).
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Sequence
from dataclasses import dataclass, replace
from difflib import get_close_matches
from typing import Final

from commission.checklist.intervals import BY_AGREEMENT, MONTHS, ORDER, covered
from commission.checklist.relations import Relations, relations
from commission.checklist.types import (
    Ask,
    Checklist,
    ChecklistData,
    PlantState,
    ReadingData,
    Stage,
    Step,
    StepData,
    StepKey,
)
from commission.errors import Problem, SiteError
from commission.plant.plant import Plant
from commission.plant.service_plan import ServicePlan
from commission.plant.values import Interval

ISOLATION: Final = 2
"""Stage in which every source is isolated and proven dead."""
_NOT_LIVE: Final[frozenset[PlantState]] = frozenset({"any", "dead"})
_OFF: Final[frozenset[PlantState]] = frozenset({"dead", "dc only"})
"""States in which every source is locked off."""
WHOLE_SITE: Final = "site"
"""Stands among changed parts for what belongs to no part: climate, earthing, coordination."""


def check_plan(plan: ServicePlan | None, data: Iterable[ChecklistData]) -> None:
    """Refuse a plan that moves steps which no checklist has.

    Raises
    ------
    SiteError
        With every step that is not known, and the one that may be meant.
    """
    known = {step.id for file in data for step in file.steps}
    problems = []
    for ident in () if plan is None else plan.steps:
        if ident not in known:
            near = get_close_matches(ident, sorted(known), n=1, cutoff=0.5)
            right = (
                f"did you mean '{near[0]}'?" if near else "the id of a step, as the checklist command lists"
            )
            problems.append(
                Problem("site file", f"service.steps.{ident}", "", "there is no such step", right)
            )
    if problems:
        raise SiteError(problems)


def intervals_of(step: StepData, plan: ServicePlan | None) -> tuple[Interval, ...]:
    """Return the intervals of a step: those of the site's own plan, else those of the checklist."""
    return step.service if plan is None else plan.steps.get(step.id, step.service)


def agreed_intervals(whole: Checklist, plan: ServicePlan | None) -> tuple[Interval, ...]:
    """Return the intervals that hold for a plant, shortest first, without what every visit does.

    Those that the site's plan tells; where it tells none, those of the steps, a monthly one only where the
    plan moved a step there.
    """
    if plan is not None and plan.intervals:
        found = set(plan.intervals)
    else:
        steps = [step.data for step in (*whole.of_service.steps, *whole.aside)]
        found = {interval for step in steps for interval in intervals_of(step, plan)} - BY_AGREEMENT
        found |= set[Interval]().union(*(plan.steps.get(step.id, ()) for step in steps)) if plan else set()
    return tuple(sorted(found & MONTHS.keys(), key=ORDER.index))


def service_walk(
    whole: Checklist,
    plant: Plant,
    *,
    due: Sequence[Interval],
    parts: Collection[str] = (),
    changed: Collection[str] = (),
    steps: Collection[StepKey] = (),
    steps_only: bool = False,
    aged: bool = True,
) -> Checklist:
    """Return the walk of a service visit.

    Parameters
    ----------
    whole
        The walk of a commissioning of the plant as it is now. The steps that only a service visit has are
        taken from its ``of_service``.
    due
        Intervals that are due; a longer one brings the shorter ones along.
    parts
        Ids of parts that an event concerns: all of their steps are done.
    changed
        Ids of parts that are new or told otherwise than at the visit before: all of their steps are done and
        judged as of a new part, with what stands on them.
    steps
        Keys of steps that are done beside what is due.
    steps_only
        Only these are done, with what keeps them safe; not even what every visit does.
    aged
        False where all is judged as of a new plant, since only a commissioning is put right.
    """
    whole = whole.of_service
    wanted = frozenset() if steps_only else covered(due)
    plan = plant.site.service
    touched = frozenset(parts) | frozenset(changed)
    kept = {step.key for step in whole.steps if wanted & set(intervals_of(step.data, plan))}
    kept |= whole.by_key.keys() & set(steps)
    if touched:
        kept |= _Touched(whole, plant, relations(plant), touched).steps()
    kept = _with_safety(whole, kept)
    bridged = _bridges(whole, kept)
    ages = _Aged(frozenset(changed)) if aged else None
    made = {
        step.key: replace(step, stands_on=bridged(step), holds=tuple(filter(kept.__contains__, step.holds)))
        for step in whole.steps
        if step.key in kept
    }
    if ages is not None:
        made = {key: ages.step(step) for key, step in made.items()}
    stages = [
        Stage(stage.data, tuple(made[step.key] for step in stage.steps if step.key in made))
        for stage in whole.stages
    ]
    empty = [stage.data for stage in stages if not stage.steps]
    return Checklist(
        tuple(stage for stage in stages if stage.steps),
        whole.conditions,
        tuple(sorted((*whole.without, *empty), key=lambda stage: stage.number)),
        tuple(step for step in whole.steps if step.key not in kept),
    )


@dataclass(frozen=True)
class _Touched:
    """Finds what has to be done again for parts that were changed or that an event concerns."""

    whole: Checklist
    plant: Plant
    known: Relations
    parts: frozenset[str]

    def steps(self) -> set[StepKey]:
        """Return the steps of the parts, of their cables and guards, and those above them that follow."""
        own = self.parts | self._cables()
        found = {step.key for step in self.whole.steps if own & set(step.parts)}
        if WHOLE_SITE in self.parts:
            found |= {step.key for step in self.whole.steps if not any(map(self._is_part, step.parts))}
        outer = {outer for part in self.parts for outer in self.known.containers.get(part, ())}
        for step in self.whole.steps:
            if outer & set(step.parts) and found & set(step.stands_on):
                found.add(step.key)
        return found

    def _cables(self) -> set[str]:
        """Return the runs and guards on the circuits of the parts: their ends were opened with them."""
        runs = {run.id for run in self.plant.site.runs}
        guards = {guard.id for guard in self.plant.site.protection}
        near = {
            part for ident in self.parts for part in self.known.circuit((ident,)) if part in runs | guards
        }
        return near | {part for run in near & runs for part in self.known.circuit((run,)) if part in guards}

    def _is_part(self, ident: str) -> bool:
        return ident in self.plant.parts or ident in self.known.containers or ident == self.plant.bank.id


def _with_safety(whole: Checklist, kept: set[StepKey]) -> set[StepKey]:
    """Return the steps with what keeps them safe, as far as they need it.

    What needs the plant dead, or closes what was opened, brings the isolation, which comes whole, and what
    switches the plant on again. What names a hazard comes before everything that it bars.
    """
    below, grown = _Below(whole), set(kept)
    isolation = {step.key for step in whole.steps if step.data.stage == ISOLATION}
    if kept & isolation or any(
        _needs_dead(whole.by_key[key]) and not isolation.isdisjoint(below.all(key)) for key in kept
    ):
        grown |= isolation
        closing = [step.key for step in whole.steps if step.data.back_on and step.data.raises_energy]
        live = [key for key in kept if whole.by_key[key].data.state not in _NOT_LIVE]
        under = {key for one in (*closing, *live) for key in (one, *below.all(one))}
        grown |= {key for key in under if whole.by_key[key].data.back_on}
    hazards = {step.key for step in whole.steps if step.data.hazard}
    return grown | {key for one in grown for key in hazards & {*below.all(one), *whole.by_key[one].holds}}


def _needs_dead(step: Step) -> bool:
    """Say whether a step works on a plant that is off, or closes what has to be open before."""
    return not step.data.as_it_runs and (step.data.raises_energy or step.data.state in _OFF)


class _Below:
    """What a step stands on, directly or through others."""

    def __init__(self, whole: Checklist) -> None:
        self._whole = whole
        self._known: dict[StepKey, frozenset[StepKey]] = {}

    def all(self, key: StepKey) -> frozenset[StepKey]:
        """Return everything under a step; what it stands on comes earlier in the walk, so this ends."""
        if not self._known:
            for step in self._whole.steps:
                under = (self._known[below] | {below} for below in step.stands_on)
                self._known[step.key] = frozenset().union(*under)
        return self._known[key]


def _bridges(whole: Checklist, kept: Collection[StepKey]) -> Callable[[Step], tuple[StepKey, ...]]:
    """Return what gives the kept steps that a step stands on, also those under steps that fall away."""
    known: dict[StepKey, tuple[StepKey, ...]] = {}
    for step in whole.steps:
        found: dict[StepKey, None] = {}
        for key in step.stands_on:
            found |= dict.fromkeys((key,) if key in kept else known[key])
        known[step.key] = tuple(found)
    return lambda step: known[step.key]


class _Aged:
    """Gives readings the expectation of a service visit, except those of parts that are new."""

    def __init__(self, new: frozenset[str]) -> None:
        self._new = new
        self._made: dict[int, ReadingData] = {}
        """By the identity of the data, which columns of like readings share."""

    def step(self, step: Step) -> Step:
        """Return a step with the expectations that hold for aged parts."""
        if self._new & set(step.parts) or not any(ask.data.service_expect for ask in step.asks):
            return step
        return replace(step, asks=tuple(Ask(ask.key, self._of(ask.data), ask.label) for ask in step.asks))

    def _of(self, data: ReadingData) -> ReadingData:
        if not data.service_expect:
            return data
        made = self._made.get(id(data))
        if made is None:
            made = self._made[id(data)] = data.model_copy(update={"expect": data.service_expect})
        return made
