"""Steps as data, and the walk that is made of them for one plant."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from functools import cached_property
from typing import Literal, TypeAlias

from pydantic import Field

from commission.figure import Band, Figure
from commission.plant.values import Ident, Interval, Line, Model, Seconds, Text

PlantState: TypeAlias = Literal[
    "any", "dead", "dc only", "island", "generator", "utility", "charging", "full", "loads out"
]
"""What the plant must be in for a step; the walk groups steps by it."""
ReadingKind: TypeAlias = Literal["number", "yes or no", "text", "choice"]
Side: TypeAlias = Literal["exact", "above", "below"]
"""On which side of the number that was read the true one lies: ``> 550`` is above."""
Provisional: TypeAlias = Literal["", "six months", "second reading"]
"""Until when a first reading is no firm baseline."""
InstrumentKind: TypeAlias = Literal[
    "none", "eye", "display", "dc voltmeter", "ac voltmeter", "dc clamp", "ac clamp", "low-ohm meter",
    "insulation tester", "ohmic tester", "hydrometer", "thermometer", "infrared camera", "torque wrench",
    "irradiance meter", "timer", "logger", "residual-current tester", "voltage tester", "frequency meter",
]  # fmt: skip


class ChangeData(Model):
    """How far a reading may go from an earlier one before it is told."""

    since: Literal["baseline", "last"] = "baseline"
    more: float | None = Field(default=None, gt=0, description="a rise above this is told")
    less: float | None = Field(default=None, gt=0, description="a fall beyond this is told, without sign")
    unit: Line = Field(
        default="%", description="'%' of the earlier one, else the unit in which the difference is taken"
    )
    verdict: Literal["advise", "act"] = "advise"
    float_service: bool = Field(
        default=False, description="a limit for float service: advise in a cycled plant, see [service]"
    )
    says: Line = Field(default="", description="what to do then, in a few words")
    source: Line


class ReadingData(Model):
    """One thing that a step asks for."""

    name: Ident | None = Field(default=None, description="sets several readings of one step apart")
    prompt: Line = Field(description="what is read, in a few words: 'voltage across the open switch'")
    kind: ReadingKind = "number"
    unit: Line = Field(default="", description="unit in which the number is stored")
    choices: tuple[Line, ...] = Field(default=(), strict=False)
    expect: Line = Field(
        default="", description="expectation that makes the band; empty: recorded, not judged"
    )
    wants: Literal["yes", "no"] = Field(default="yes", description="of a yes or no: the answer that passes")
    series: Line = Field(default="", description="a column of like readings: cells, blocks, legs")
    condition: Ident | None = Field(
        default=None, description="other readings depend on this one, by this name"
    )
    group: Ident | None = Field(
        default=None, description="readings that are compared: same meter, same range"
    )
    instrument: InstrumentKind = "none"
    optional: bool = False
    service_expect: Line = Field(
        default="", description="expectation at a service visit, where age is allowed for"
    )
    change: tuple[ChangeData, ...] = Field(
        default=(), strict=False, description="limits of its change since an earlier visit"
    )
    compares: Literal["reading", "judged", "error", "among"] = Field(
        default="reading",
        description="what is compared: the reading, what its verdict was made on, how far it was off, or its "
        "distance from the middle of its column",
    )
    restated: Line = Field(
        default="", description="restatement that makes readings of different days comparable"
    )
    like_charge: float | None = Field(
        default=None, gt=0, le=1, description="states of charge may differ by this share of the capacity"
    )
    provisional: Provisional = Field(default="", description="until when a first reading is no firm baseline")


class LikelyCause(Model):
    """What a reading out of band usually means, most likely first."""

    side: Literal["over", "under", "either"] = "either"
    cause: Line
    remedy: Line


class StepData(Model):
    """One step, before it is laid over a plant."""

    id: Ident
    stage: int = Field(ge=1, le=18)
    each: Line = Field(default="site", description="selector: repeated for every part that it yields")
    when: tuple[Line, ...] = Field(default=(), strict=False, description="predicates that must all hold")
    title: Line = Field(description="may hold {part} and {other}")
    do: Text = Field(description="what to do; may hold {part} and {other}")
    why: Text
    caution: Text = ""
    state: PlantState = "any"
    readings: tuple[ReadingData, ...] = Field(strict=False, min_length=1)
    needs: tuple[Ident, ...] = Field(
        default=(), strict=False, description="conditions asked for in this step"
    )
    stands_on: tuple[Ident, ...] = Field(default=(), strict=False, description="steps that must have passed")
    hold: bool = Field(
        default=False, description="a hold point: bars what stands on it and what raises energy"
    )
    released_by: Literal["readings", "technician", "supervisor"] = "readings"
    raises_energy: bool = Field(default=False, description="barred by any open hold point of the same parts")
    alters: Line = Field(
        default="", description="what the step changes for a test; its own read-back ends it"
    )
    back_on: bool = Field(
        default=False,
        description="part of switching on again: a service visit repeats it where it made the plant dead",
    )
    as_it_runs: bool = Field(
        default=False,
        description="at a service visit done with the plant as it runs: nothing is switched off for it",
    )
    hazard: bool = Field(
        default=False,
        description="names what can hurt or protects: a service visit repeats it before all that it bars",
    )
    service_only: bool = Field(
        default=False,
        description="no part of a commissioning: service visits alone do it, at the intervals of 'service'",
    )
    stops_work: bool = Field(default=False, description="a wrong answer stops work")
    service: tuple[Interval, ...] = Field(
        default=(), strict=False, description="when a service visit repeats it"
    )
    likely: tuple[LikelyCause, ...] = Field(default=(), strict=False)
    source: Line


class ConditionData(Model):
    """A reading that others depend on: how long it lives."""

    id: Ident
    name: Line
    unit: Line
    life: Seconds = Field(description="s that a reading lives")
    life_at_rest: Seconds | None = Field(default=None, description="s that it lives when no current flows")
    step: Ident = Field(description="step whose reading gives it")
    source: Line


class StageData(Model):
    """A stage's title and what can hurt in it."""

    number: int = Field(ge=1, le=18)
    title: Line
    caution: Text


class ChecklistData(Model):
    """A checklist file."""

    format: Literal[1]
    id: Ident
    name: Line
    stages: tuple[StageData, ...] = Field(default=(), strict=False)
    conditions: tuple[ConditionData, ...] = Field(default=(), strict=False)
    steps: tuple[StepData, ...] = Field(strict=False, min_length=1)


@dataclass(frozen=True, slots=True, order=True)
class ReadingKey:
    """What a reading is known by, in baselines, trends, files and the record: nothing else identifies it."""

    step: str
    """Id of the step, and ``.name`` behind it where the step asks for several readings."""
    parts: tuple[str, ...] = ()
    index: int = 0

    def __str__(self) -> str:
        beside = "+".join(self.parts)
        return f"{self.step}@{beside}" + (f"#{self.index}" if self.index else "")


StepKey: TypeAlias = tuple[str, tuple[str, ...]]
"""Id of a step and the ids of its parts, which together are unique in a walk."""


@dataclass(frozen=True, slots=True)
class Ask:
    """One reading that the walk asks for."""

    key: ReadingKey
    data: ReadingData
    label: str
    """What is read, with the place in its series: 'cell 3 of 24'."""


@dataclass(frozen=True, slots=True)
class Step:
    """One step of the walk of one plant."""

    data: StepData
    parts: tuple[str, ...]
    """Ids of the parts that it concerns; empty for the whole site."""
    title: str
    do: str
    asks: tuple[Ask, ...]
    stands_on: tuple[StepKey, ...] = ()
    """Keys of the steps that must have passed, resolved for these parts."""
    within: tuple[str, ...] = ()
    """Ids of what the parts sit in, nearest first: of an array string its controller."""
    circuit: frozenset[str] = frozenset()
    """Ids of the parts and of what hangs on the same circuit: run, breaker, string."""
    holds: tuple[StepKey, ...] = ()
    """Keys of the hold points that bar this step while they are open."""

    @property
    def key(self) -> StepKey:
        """Step id and parts, which together are unique in a walk."""
        return self.data.id, self.parts


@dataclass(frozen=True, slots=True)
class Stage:
    """A stage of the walk with the steps that this plant has in it."""

    data: StageData
    steps: tuple[Step, ...]


@dataclass(frozen=True)
class Checklist:
    """The whole walk of one plant, in the order that hurts nobody."""

    stages: tuple[Stage, ...]
    conditions: tuple[ConditionData, ...]
    without: tuple[StageData, ...] = ()
    """Stages in which this plant has nothing to do; lists name them, so that no number seems skipped."""
    aside: tuple[Step, ...] = ()
    """Steps that this visit leaves out; their readings may still be asked for inside another step."""
    in_service: tuple[Stage, ...] = ()
    """The stages with the steps that only service visits have; empty where there are no such steps."""

    @cached_property
    def of_service(self) -> Checklist:
        """The whole walk that service visits are made of: with the steps that a commissioning has not."""
        if not self.in_service:
            return self
        used = {stage.data.number for stage in self.in_service}
        without = tuple(stage for stage in self.without if stage.number not in used)
        return Checklist(self.in_service, self.conditions, without)

    @cached_property
    def steps(self) -> tuple[Step, ...]:
        """All steps in walking order."""
        return tuple(step for stage in self.stages for step in stage.steps)

    @cached_property
    def by_key(self) -> dict[StepKey, Step]:
        """Every step by its key."""
        return {step.key: step for step in self.steps}

    @cached_property
    def by_id(self) -> dict[str, tuple[Step, ...]]:
        """The steps made of one step of the data, by its id, in walking order; those left out last."""
        made: dict[str, list[Step]] = {}
        for step in (*self.steps, *self.aside):
            made.setdefault(step.data.id, []).append(step)
        return {ident: tuple(steps) for ident, steps in made.items()}

    @cached_property
    def asks(self) -> dict[ReadingKey, tuple[Step, Ask]]:
        """Every reading by its key, with the step that asks for it; also of steps that are left out."""
        return {ask.key: (step, ask) for step in (*self.steps, *self.aside) for ask in step.asks}

    @cached_property
    def conditions_by_id(self) -> dict[str, ConditionData]:
        """The conditions by their ids."""
        return {condition.id: condition for condition in self.conditions}


@dataclass(frozen=True, slots=True)
class Observation:
    """A reading as an expectation sees it."""

    key: ReadingKey
    figure: Figure
    """Of a yes or no 1 or 0; of a choice the place of the word in its choices, counted from 0, unit ``1``."""
    measured_at: datetime
    instrument: str | None


@dataclass(frozen=True, slots=True)
class Waits:
    """A band that cannot be made yet: the readings that it waits for."""

    keys: tuple[ReadingKey, ...]
    why: str


@dataclass(frozen=True, slots=True)
class NotJudged:
    """A reading that cannot be judged now: why, as a person would say it."""

    why: str


@dataclass(frozen=True, slots=True)
class Expected:
    """What a reading should be under today's conditions."""

    band: Band
    says: str = ""
    """The conditions in a few words: 'at 96.4 A, 31 °C, 2.4 m of 70 mm²'."""
    compared: Figure | None = None
    """What is judged where it is not the reading itself: a difference, a share, a spread."""
    against: float | None = None
    """The other reading of a difference, so that the meter's uncertainty is that of a difference."""
    decides: bool = True
    """False where it only informs: the verdict can then at worst be a conditional fail."""


Expectation: TypeAlias = "Expected | Waits | NotJudged"
