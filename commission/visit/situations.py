"""The moments at which readings are judged: what an expectation may see of a visit."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime

from commission.checklist.situation import Situation
from commission.checklist.types import Ask, Checklist, Observation, ReadingKey
from commission.errors import VisitError
from commission.figure import Quantity, given
from commission.plant.equipment import Input
from commission.plant.plant import Plant
from commission.sheet.types import Sheet
from commission.visit.compared import Earlier
from commission.visit.drift import earlier_by_key
from commission.visit.entry import Typed
from commission.visit.service import last_left, service_now
from commission.visit.settings import as_left
from commission.visit.standing import Standing
from commission.visit.state import setting_of
from commission.visit.types import Instrument, Reading, SettingEntry


class Situations:
    """Makes the situation of any reading of a visit, at any moment."""

    def __init__(self, plant: Plant, sheet: Sheet, checklist: Checklist, standing: Standing) -> None:
        self._plant = plant
        self._sheet = sheet
        self._checklist = checklist
        self._standing = standing
        self.earlier: Earlier = earlier_by_key(service_now(standing.visit))
        """What the visits before read, by key."""

    def at(self, ask: Ask, now: datetime, reading: Observation | None = None) -> Situation:
        """Return the situation of a reading at a moment.

        Raises
        ------
        VisitError
            If this plant's walk does not ask for the reading.
        """
        found = self._checklist.asks.get(ask.key)
        if found is None:
            raise VisitError(f"this plant's walk does not ask for {ask.key}")

        def latest(key: ReadingKey) -> Observation | None:
            standing = self._standing.readings.current(key, up_to=now)
            return None if standing is None else self.observation(standing)

        return Situation(
            plant=self._plant,
            sheet=self._sheet,
            checklist=self._checklist,
            step=found[0],
            ask=found[1],
            now=now,
            latest=latest,
            left=self.left,
            open_stops=self.open_stops(),
            reading=reading,
        )

    def observation(self, reading: Reading) -> Observation | None:
        """Return a reading as an expectation sees it; None where it holds no number to build on.

        Yes is 1 and no is 0; of a choice it is the place among the choices, with the word as the note. A
        one-sided value, such as one beyond a meter's range, is no number for others.
        """
        if reading.side != "exact":
            return None
        found = self._checklist.asks.get(reading.key)
        choices = found[1].data.choices if found else ()
        value = _as_number(reading.value, choices)
        if value is None:
            return None
        name = found[1].data.prompt if found else reading.step
        source = f"read at {reading.measured_at:%H:%M}"
        figure = given(value, reading.unit, name, kind="reading", where=str(reading.key), source=source)
        if reading.kind != "number":
            figure = figure.named(name, _word(reading.value))
        return Observation(reading.key, figure, reading.measured_at, reading.instrument)

    def observed(self, ask: Ask, typed: Typed, measured_at: datetime, instrument: str | None) -> Observation:
        """Return what was just typed as an observation, one-sided values too."""
        value = _as_number(typed.value, ask.data.choices)
        source = f"read at {measured_at:%H:%M}"
        figure = given(
            0.0 if value is None else value,
            typed.unit,
            ask.data.prompt,
            kind="reading",
            where=str(ask.key),
            source=source,
        )
        if typed.kind != "number":
            figure = figure.named(ask.data.prompt, _word(typed.value))
        return Observation(ask.key, figure, measured_at, instrument)

    def open_stops(self) -> tuple[str, ...]:
        """Return the findings that stop and that nothing has ended yet."""
        return tuple(danger.says for danger in self._standing.open_dangers())

    def left(self, device: str, setting: str, input_: Input | None) -> Quantity | None:
        """Return a setting as left, in whole-bank volts or its unit.

        Where this visit tells none, as the last one left it; else as recommended.
        """
        entry = setting_of(self._standing.visit, device, setting, input_)
        return self._as_left(device, setting, input_, entry)

    def _as_left(
        self, device: str, setting: str, input_: Input | None, entry: SettingEntry | None
    ) -> Quantity | None:
        known = self._sheet.setting(device, setting, input_)
        told = entry is not None and entry.left is not None
        if not told:
            entry = last_left(self._standing.visit, device, setting, input_)
        if known is None or entry is None or entry.left is None:
            return self._sheet.value(device, setting, input_)
        return as_left(known, entry, last_visit=not told)

    def kit(self) -> Mapping[str, Instrument]:
        """Return the visit's instruments by id."""
        return {instrument.id: instrument for instrument in self._standing.visit.instruments}


def _as_number(value: float | bool | str, choices: tuple[str, ...]) -> float | None:
    if isinstance(value, bool):
        return float(value)
    if isinstance(value, str):
        return float(choices.index(value)) if value in choices else None
    return value


def _word(value: float | bool | str) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    return str(value)
