"""What of a reading is compared with earlier ones: of this day and of theirs, made alike where need be."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from statistics import median
from typing import Final, Literal, TypeAlias

from commission.checklist.conditions import column, condition
from commission.checklist.restate import RESTATEMENTS, Restatement
from commission.checklist.situation import Situation
from commission.checklist.types import ReadingKey, Side, Waits
from commission.figure import Figure, given
from commission.formulas.uncertainty import root_sum_of_squares
from commission.units import convert, plain
from commission.visit.entry import Typed
from commission.visit.spans import Span, span_of
from commission.visit.types import EarlierReading, Judgement, Named
from commission.visit.uncertain import Kit, doubt_among, doubt_of_reading

Earlier: TypeAlias = dict[ReadingKey, tuple[EarlierReading, ...]]
Compares: TypeAlias = Literal["reading", "judged", "error", "among"]
_EDGE: Final = 1e-9
"""Exactly on a limit counts as inside it, whatever binary fractions make of it."""
_AS: Final[Mapping[str, str]] = {
    "judged": "what its verdict was made on",
    "error": "how far it was off",
    "among": "distance from the middle of its column",
}


class NotComparedError(Exception):
    """Why two readings cannot be compared."""


@dataclass(frozen=True, slots=True)
class Compared:
    """What is compared, of one day."""

    value: float
    unit: str
    doubt: float | None
    """Expanded uncertainty in its unit; None where the meter is not known."""
    side: Side = "exact"
    remark: str = ""
    """What a person should know of it."""

    @property
    def span(self) -> Span:
        """All values that it allows."""
        return span_of(self.value, self.side, self.unit)


def compared_of(
    value: float, unit: str, doubt: float | None, judged: Judgement | None, compares: Compares
) -> tuple[float | None, str, float | None]:
    """Return what of a reading is compared where it is not the reading itself, its unit and uncertainty."""
    if judged is None or compares in {"reading", "among"}:
        return None, "", None
    if compares == "error":
        off = None if judged.nominal is None else value - judged.nominal
        return off, unit, doubt
    if judged.compared is None:
        return None, "", None
    return judged.compared, judged.unit, judged.uncertainty


def as_read_then(before: EarlierReading) -> Compared:
    """Return an earlier reading, not restated."""
    return Compared(before.value, before.unit, before.uncertainty, before.side)


class Alike:
    """Makes a reading of today and one of an earlier day alike."""

    def __init__(
        self, situation: Situation, typed: Typed, kit: Kit, judged: Judgement, earlier: Earlier
    ) -> None:
        self.waits: list[Named] = []
        """Readings of today without which nothing can be compared."""
        self._situation = situation
        self._typed = typed
        self._kit = kit
        self._judged = judged
        self._earlier = earlier
        self._data = situation.ask.data
        self._way = RESTATEMENTS[self._data.restated] if self._data.restated else None

    @property
    def named(self) -> str | None:
        """What is compared, where it is not the reading as it was read."""
        return self._data.restated or _AS.get(self._data.compares)

    @property
    def rough(self) -> bool:
        """Whether it is restated by a rule of thumb, which a change must not hang on alone."""
        return self._way is not None and self._way.rough

    @property
    def beside(self) -> str:
        """What the comparison allows for, in words."""
        return "" if self._way is None else self._way.beside

    def now(self) -> Compared:
        """Return what is compared of today.

        Raises
        ------
        NotComparedError
            If that is not known.
        """
        observed = self._situation.reading
        assert observed is not None  # noqa: S101 - asked before
        value, unit = observed.figure.value, observed.figure.unit
        self._allow_bound(value, self._typed.side, f"'{self._typed.text}'")
        doubt = doubt_of_reading(observed, self._data.instrument, self._kit).expanded
        if self._data.compares == "among":
            middle = median((value, *self._others_now(unit)))
            doubt = doubt_among(observed, middle, self._data.instrument, self._kit).expanded
            return Compared(value - middle, unit, doubt)
        if self._data.compares != "reading":
            compared, unit, doubt = compared_of(value, unit, doubt, self._judged, self._data.compares)
            if compared is None:
                raise NotComparedError("its verdict was not made on a number")
            return Compared(compared, unit, doubt)
        found = self.as_read()
        return (
            found if self._way is None else self._restated(self._way, found, self._living(self._way), "now")
        )

    def as_read(self) -> Compared:
        """Return the reading of today, not restated."""
        observed = self._situation.reading
        assert observed is not None  # noqa: S101 - asked before
        doubt = doubt_of_reading(observed, self._data.instrument, self._kit).expanded
        return Compared(observed.figure.value, observed.figure.unit, doubt, self._typed.side)

    def then(self, before: EarlierReading) -> Compared:
        """Return what is compared of an earlier day.

        Raises
        ------
        NotComparedError
            If that is not known.
        """
        self._allow_bound(before.value, before.side, f"the reading of {before.measured_at:%Y-%m-%d}")
        if self._data.compares == "among":
            others = self._others_then(before)
            if not others:
                raise NotComparedError("the column of that visit is not known")
            told = before.compared_uncertainty
            doubt = before.uncertainty if told is None else told
            return Compared(before.value - median((before.value, *others)), before.unit, doubt)
        if self._data.compares != "reading":
            if before.compared is None:
                raise NotComparedError("the earlier one had no verdict on a number")
            return Compared(before.compared, before.compared_unit, before.compared_uncertainty)
        found = as_read_then(before)
        if self._way is None:
            return found
        return self._restated(self._way, found, self._of_then(self._way, before), "then")

    def _allow_bound(self, value: float, side: Side, name: str) -> None:
        """Refuse a bound that tells nothing of what is compared."""
        if math.isinf(value):
            raise NotComparedError(f"{name} is beyond a range whose end is not known")
        if side != "exact" and (self._data.compares != "reading" or (self._way and value < 0.0)):
            raise NotComparedError(f"{name} is no single number")

    def _wait(self, keys: Iterable[ReadingKey]) -> None:
        self.waits += [Named(step=key.step, parts=key.parts, index=key.index) for key in keys]

    # the others of a column

    def _others_now(self, unit: str) -> list[float]:
        read, unread = column(self._situation)
        if unread:
            known = {named.key for named in (*self._judged.waits, *self.waits)}
            self._wait(key for key in unread if key not in known)
            raise NotComparedError("its column is not whole")
        return [convert(one.figure.value, one.figure.unit, unit) for one in read]

    def _others_then(self, before: EarlierReading) -> list[float]:
        """Return the other readings of the column of that visit."""
        own = before.key
        keys = (ask.key for ask in self._situation.step.asks if ask.key.step == own.step)
        rows = [row for key in keys if key != own for row in self._earlier.get(key, ())]
        rows = [row for row in rows if row.visit == before.visit]
        if any(row.side != "exact" for row in rows):
            raise NotComparedError("the column of that visit is not whole")
        return [convert(row.value, row.unit, before.unit) for row in rows]

    # conditions

    def _living(self, way: Restatement) -> float | None:
        """Return the condition that a restatement wants, now; None where the usual one is to serve."""
        found = condition(self._situation, way.condition)
        if isinstance(found, Figure):
            return convert(found.value, found.unit, way.unit)
        if way.usual is not None and not (way.asked and isinstance(found, Waits)):
            return None
        if isinstance(found, Waits):
            self._wait(found.keys)
        raise NotComparedError(found.why)

    def _of_then(self, way: Restatement, before: EarlierReading) -> float | None:
        """Return the condition of the earlier day; None where the usual one is to serve."""
        for item in before.used:
            found = self._situation.checklist.asks.get(item.key)
            if found is not None and found[1].data.condition == way.condition:
                return convert(item.value, item.unit, way.unit)
        if way.condition == "battery-temperature" and before.temperature is not None:
            return before.temperature
        if way.usual is not None:
            return None
        raise NotComparedError(f"the {self._name(way)} of {before.measured_at:%Y-%m-%d} is not known")

    def _name(self, way: Restatement) -> str:
        data = self._situation.checklist.conditions_by_id.get(way.condition)
        return way.condition if data is None else data.name

    def _restated(
        self, way: Restatement, found: Compared, state: float | None, day: Literal["now", "then"]
    ) -> Compared:
        usual = 0.0 if way.usual is None else way.usual
        known, off = (usual, way.spread) if state is None else (state, way.off(state))
        made = self._at(way, found.value, found.unit, known)
        sides = (off, -off) if state is None else (off,)
        by_state = max(
            abs(self._at(way, found.value, found.unit, known + side).value - made.value) for side in sides
        )
        whole = None
        if found.doubt is not None:
            by_meter = self._at(way, found.value + found.doubt, found.unit, known).value - made.value
            whole = root_sum_of_squares([abs(by_meter), by_state])
        elif state is None:
            whole = by_state
        taken = f"taken as {plain(usual)} ± {plain(way.spread)} {way.unit}"
        remark = f"{self._name(way)} not known {day}, {taken}" if state is None else ""
        return Compared(made.value, made.unit, whole, found.side, remark)

    def _at(self, way: Restatement, reading: float, unit: str, state: float) -> Figure:
        """Return a reading restated from a condition."""
        of_day = given(state, way.unit, way.condition)
        made = way.call(self._situation.plant, given(reading, unit, self._data.prompt), of_day)
        if not isinstance(made, Figure):
            raise NotComparedError(f"not known: {', '.join(made.missing)}")
        return made

    # state of charge

    def allow_charge(self, before: EarlierReading) -> None:
        """Refuse to compare readings of a full and of an empty bank where that matters.

        Raises
        ------
        NotComparedError
            If the states of charge lie too far apart.
        """
        most, now = self._data.like_charge, self.charge_now()
        if most is None or now is None or before.state_of_charge is None:
            return
        if abs(now - before.state_of_charge) > most + _EDGE:
            then = before.state_of_charge
            raise NotComparedError(f"the bank was at {then:.0%} charge then and is at {now:.0%} now")

    def charge_now(self) -> float | None:
        """Return the state of charge at the moment, 0 to 1; None where it is not known."""
        found = condition(self._situation, "state-of-charge")
        return convert(found.value, found.unit, "%") / 100.0 if isinstance(found, Figure) else None
