"""Walks of test plants, and the moment at which one reading of them is judged."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from functools import cache
from typing import Any

from commission.checklist.build import USUAL, build_checklist
from commission.checklist.expect import expected
from commission.checklist.situation import Situation
from commission.checklist.types import (
    Ask,
    Checklist,
    ChecklistData,
    Expectation,
    Observation,
    ReadingKey,
    Step,
)
from commission.figure import Quantity, Unknown, given
from commission.plant.equipment import Input
from commission.plant.files import load_profiles
from commission.plant.places import data_folder
from commission.plant.plant import Plant
from commission.sheet.types import Sheet

NOON = datetime(2026, 11, 24, 12, 0, tzinfo=UTC)
NO_NUMBER = Unknown(("not asked in this test",))


def empty_sheet(**numbers: Quantity) -> Sheet:
    """Return a sheet without settings or findings, for walks that need none."""
    return Sheet((), (), NO_NUMBER, NO_NUMBER, NO_NUMBER, dict(numbers))


@cache
def usual_data() -> tuple[ChecklistData, ...]:
    """Return the program's own checklist files that are there."""
    there = [ident for ident in USUAL if (data_folder("profiles") / "checklists" / f"{ident}.toml").is_file()]
    return load_profiles("checklists", ChecklistData, there)


def walk_of(plant: Plant, sheet: Sheet | None = None) -> Checklist:
    """Return the usual walk of a plant."""
    return build_checklist(plant, sheet or empty_sheet(), usual_data())


@dataclass
class Site:
    """A plant with its walk, and what has been read on it so far."""

    plant: Plant
    sheet: Sheet = field(default_factory=empty_sheet)
    lefts: Mapping[tuple[str, str], Quantity] = field(default_factory=dict)
    seen: dict[ReadingKey, Observation] = field(default_factory=dict)
    used: list[Observation] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.checklist = walk_of(self.plant, self.sheet)

    def find(self, name: str, parts: tuple[str, ...] | str = (), index: int = 0) -> tuple[Step, Ask]:
        """Return a step and its ask by the reading's name and the parts."""
        return self.checklist.asks[ReadingKey(name, _tuple(parts), index)]

    def read(
        self,
        name: str,
        parts: tuple[str, ...] | str = (),
        *values: float,
        ago: float = 0.0,
        meter: str | None = "meter-1",
    ) -> Site:
        """Note readings of one name, a column of several from index 0 on, taken some minutes ago."""
        for index, value in enumerate(values):
            _, ask = self.find(name, parts, index)
            self.seen[ask.key] = self._observed(ask, value, NOON - timedelta(minutes=ago), meter)
        return self

    def judged(
        self,
        name: str,
        parts: tuple[str, ...] | str = (),
        value: float | None = None,
        index: int = 0,
        now: datetime = NOON,
    ) -> Expectation | None:
        """Return what a reading should be; ``value`` is the reading itself, None while it is only shown."""
        step, ask = self.find(name, parts, index)
        situation = Situation(
            plant=self.plant,
            sheet=self.sheet,
            checklist=self.checklist,
            step=step,
            ask=ask,
            now=now,
            latest=self._latest(now),
            left=self._left,
            reading=None if value is None else self._observed(ask, value, now, "meter-1"),
        )
        outcome = expected(situation)
        self.used = situation.used
        return outcome

    def _latest(self, now: datetime) -> Any:
        def latest(key: ReadingKey) -> Observation | None:
            found = self.seen.get(key)
            return found if found is not None and found.measured_at <= now else None

        return latest

    def _left(self, device: str, setting: str, input_: Input | None) -> Quantity | None:
        return self.lefts.get((device, setting), self.sheet.value(device, setting, input_))

    def _observed(self, ask: Ask, value: float, at: datetime, meter: str | None) -> Observation:
        figure = given(value, ask.data.unit, ask.data.prompt, kind="reading", where=str(ask.key))
        return Observation(ask.key, figure, at, meter)


def _tuple(parts: tuple[str, ...] | str) -> tuple[str, ...]:
    return (parts,) if isinstance(parts, str) else parts
