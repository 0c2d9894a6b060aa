"""Verdicts worked out anew from what a visit holds, to see that they are those that the program gives."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from dataclasses import field as beside
from datetime import datetime
from typing import Any, Final

from commission.checklist.types import Checklist
from commission.errors import CommissionError
from commission.figure import Quantity
from commission.plant.equipment import Input
from commission.plant.plant import Plant
from commission.sheet.types import Sheet
from commission.visit.dangers import dangers
from commission.visit.drift import judge_with_change
from commission.visit.entry import Typed
from commission.visit.service import service_now
from commission.visit.situations import Situations
from commission.visit.standing import Standing
from commission.visit.state import Readings, setting_at
from commission.visit.types import Judgement, Reading, Visit

DIGITS: Final = 9
"""Significant digits at which numbers are compared: systems differ in the last bits."""
ANEW: Final = "worked out anew"


@dataclass(frozen=True, slots=True)
class Difference:
    """One thing that a record says and the program, asked anew, does not."""

    place: str
    """What it is about: a reading, a setting, a finding."""
    field: str
    told: str
    found: str
    where: str = ANEW
    """Where the other value was found."""
    excusable: bool = True
    """Another version of the program or another format may have said it; False: no version would have."""
    says: str = beside(default="", compare=False)
    """The same for a person, after what it is about, where it is not one value beside another."""
    values: tuple[Any, Any] | None = beside(default=None, compare=False)
    """What was told and what was found, as they are, where they are values."""
    unit: str = beside(default="", compare=False)
    """Of these values, where they are numbers."""

    def __str__(self) -> str:
        return f"{self.place}: {self.field} is {self.told} in the record and {self.found} {self.where}"


@dataclass(frozen=True, slots=True)
class Recomputed:
    """What came of working verdicts out anew."""

    count: int
    differences: tuple[Difference, ...]
    left_out: int
    """Readings that count no more, or were taken before the plant was changed: what they were judged by is
    gone."""
    own: tuple[str, ...] = ()
    """Rule set, profiles and checklists that the site brought along: told, and believed."""
    in_the_way: tuple[str, ...] = ()
    """Those of them that stand under a name of the program's own and say otherwise."""


class _AsOf(Situations):
    """Situations in which a setting is what it was at the moment of a reading."""

    moment: datetime

    def open_stops(self) -> tuple[str, ...]:
        return tuple(danger.says for danger in self._standing.open_dangers(self.moment))

    def left(self, device: str, setting: str, input_: Input | None) -> Quantity | None:
        entry = setting_at(self._standing.visit, device, setting, input_, self.moment)
        return self._as_left(device, setting, input_, entry)


def recomputed(plant: Plant, sheet: Sheet, checklist: Checklist, visit: Visit) -> Recomputed:
    """Return how far the verdicts of a visit's readings are those that follow from the visit itself.

    Each reading is judged with what was known when it was entered: the readings before it, the settings as
    they were left then.
    """
    living = {id(reading) for reading in Readings(visit.readings, visit.plant_changes).all_current()}
    changed = max((change.at for change in visit.plant_changes), default=None)
    bare = visit.model_copy(update={"readings": (), "plant_changes": (), "service": service_now(visit)})
    standing = Standing(checklist, bare, dangers(plant, sheet.findings))
    situations = _AsOf(plant, sheet, checklist, standing)
    differences: list[Difference] = []
    count = left_out = 0
    for reading in visit.readings:
        if id(reading) not in living or (changed is not None and reading.entered_at <= changed):
            left_out += 1
        else:
            count += 1
            differences += _of_reading(situations, checklist, reading)
        standing.readings.add(reading)
    return Recomputed(count, tuple(differences), left_out)


def _of_reading(situations: _AsOf, checklist: Checklist, reading: Reading) -> Iterator[Difference]:
    told = reading.judgement
    place = f"reading {reading.key}"
    if told is None:
        yield Difference(place, "verdict", "missing", "one", says="has no verdict in the record")
        return
    found = checklist.asks.get(reading.key)
    if found is None:
        says = "is not asked for in the walk of this plant"
        yield Difference(place, "step", "there", "not in the walk of this plant", says=says)
        return
    if reading.unit != found[1].data.unit and reading.kind == "number":
        units = reading.unit, found[1].data.unit
        yield Difference(place, "unit", *units, values=units)
    entry = Typed(reading.kind, reading.value, reading.text, reading.unit, reading.side)
    situations.moment = reading.entered_at
    moment = max([reading.measured_at, *(used.measured_at for used in told.used)])
    observed = situations.observed(found[1], entry, reading.measured_at, reading.instrument)
    try:
        situation = situations.at(found[1], moment, observed)
        again = judge_with_change(situation, entry, situations.kit(), situations.earlier)
    except CommissionError as error:
        says = f"'{told.verdict}' in the record cannot be judged anew: {error}"
        yield Difference(place, "verdict", told.verdict, f"none: {error}", says=says)
        return
    yield from differences_of(place, _data(told), _data(again))


def _data(judgement: Judgement) -> dict[str, Any]:
    return judgement.model_dump(exclude_none=True)


def differences_of(place: str, told: dict[str, Any], found: dict[str, Any]) -> Iterator[Difference]:
    """Yield where two rows of one thing differ; numbers at nine significant digits."""
    unit = found.get("unit") or told.get("unit") or ""
    for name in dict.fromkeys((*told, *found)):
        one, other = told.get(name), found.get(name)
        if not same(one, other):
            texts = shown(one), shown(other)
            yield Difference(place, name.replace("_", " "), *texts, values=(one, other), unit=unit)


def same(one: Any, other: Any) -> bool:
    """Say whether two values are the same, numbers at nine significant digits."""
    if isinstance(one, dict) and isinstance(other, dict):
        return one.keys() == other.keys() and all(same(one[key], other[key]) for key in one)
    if isinstance(one, list | tuple) and isinstance(other, list | tuple):
        return len(one) == len(other) and all(map(same, one, other))
    if _is_number(one) and _is_number(other):
        return one == other or (
            math.isfinite(one) and math.isfinite(other) and _rounded(one) == _rounded(other)
        )
    return type(one) is type(other) and bool(one == other)


def _is_number(value: Any) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool)


def _rounded(value: float) -> str:
    """Return a number with nine significant digits; what is nothing but rounding counts as nothing."""
    return "0" if abs(value) < 1e-12 else f"{value:.{DIGITS}g}"


def shown(value: Any) -> str:
    """Return a value of a record as a difference tells it."""
    if value is None:
        return "missing"
    text = f"{value:.12g}" if isinstance(value, float) else str(value)
    return f"'{text[:80]}'" if isinstance(value, str) else text[:80]
