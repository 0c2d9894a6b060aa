"""The readings of a visit that is over, each with the conditions of its moment."""

from __future__ import annotations

from typing import Final

from commission.checklist.restate import RESTATEMENTS
from commission.checklist.types import Ask, Checklist, Observation
from commission.figure import given
from commission.plant.values import UNKNOWN
from commission.visit.compared import compared_of
from commission.visit.state import Readings, instrument_of
from commission.visit.types import EarlierReading, Reading, Used, Visit
from commission.visit.uncertain import doubt_among, doubt_of_reading

_NEAR: Final = 7200.0
"""Seconds within which a condition read beside a reading tells of its moment, however long it lives."""


class Moments:
    """The readings of one visit, each with the conditions under which it was taken."""

    def __init__(self, whole: Checklist, visit: Visit) -> None:
        self._whole = whole
        self._visit = visit
        self.living = Readings(visit.readings, visit.plant_changes).all_current()
        self._conditions: dict[str, list[Reading]] = {}
        for reading in visit.readings:
            found = whole.asks.get(reading.key)
            if found is not None and found[1].data.condition and reading.side == "exact":
                self._conditions.setdefault(found[1].data.condition, []).append(reading)

    def earlier(self, reading: Reading, ask: Ask) -> EarlierReading:
        """Return a reading as a later visit sees it."""
        meter = instrument_of(self._visit, reading.instrument)
        judged = reading.judgement
        charge = self._condition("state-of-charge", reading)
        figure = given(float(reading.value), reading.unit, ask.data.prompt)
        observed = Observation(reading.key, figure, reading.measured_at, reading.instrument)
        kit = {one.id: one for one in self._visit.instruments}
        own = doubt_of_reading(observed, ask.data.instrument, kit).expanded
        compared, unit, doubt = compared_of(figure.value, reading.unit, own, judged, ask.data.compares)
        if ask.data.compares == "among":  # of one meter, the scale's error acts on the small distance alone
            doubt = doubt_among(observed, figure.value, ask.data.instrument, kit).expanded
        return EarlierReading(
            step=reading.step,
            parts=reading.parts,
            index=reading.index,
            visit=self._visit.id,
            value=float(reading.value),
            unit=reading.unit,
            side=reading.side,
            measured_at=reading.measured_at,
            verdict=None if judged is None else judged.verdict,
            instrument="" if meter is None else f"{meter.id} {meter.serial}".strip(),
            temperature=self._condition("battery-temperature", reading),
            state_of_charge=None if charge is None else charge / 100.0,
            uncertainty=own,
            compared=compared,
            compared_unit=unit,
            compared_uncertainty=doubt,
            used=self._state(reading, ask),
        )

    def _state(self, reading: Reading, ask: Ask) -> tuple[Used, ...]:
        """Return the condition that a restatement wants, as it was; nothing where it is unknown."""
        way = RESTATEMENTS.get(ask.data.restated)
        found = None if way is None else self._newest(way.condition, reading)
        if found is None or not isinstance(found.value, float | int):
            return ()
        return (
            Used(
                step=found.step,
                parts=found.parts,
                index=found.index,
                value=float(found.value),
                unit=found.unit,
                measured_at=found.measured_at,
            ),
        )

    def _condition(self, ident: str, reading: Reading) -> float | None:
        found = self._newest(ident, reading)
        value = None if found is None else found.value
        return float(value) if isinstance(value, float | int) else None

    def _newest(self, ident: str, reading: Reading) -> Reading | None:
        """Return the condition of the moment of a reading: as its verdict used it, else as read near it.

        Near is within the life of the condition, two hours at most; before or after, since all is known now.
        """
        rows = [row for row in self._conditions.get(ident, []) if self._near(row, reading)]
        used = () if reading.judgement is None else reading.judgement.used
        for item in used:
            for row in self._conditions.get(ident, []):
                if row.key == item.key and row.measured_at == item.measured_at:
                    return row
        return min(rows, key=lambda row: abs(row.measured_at - reading.measured_at), default=None)

    def _near(self, row: Reading, reading: Reading) -> bool:
        asked = self._whole.asks[row.key][1].data.condition or ""
        data = self._whole.conditions_by_id.get(asked)
        told = [] if data is None else [data.life, data.life_at_rest or 0.0]
        lives = [float(life) for life in told if life != UNKNOWN]
        return abs((row.measured_at - reading.measured_at).total_seconds()) <= min(
            max(lives, default=0.0), _NEAR
        )
