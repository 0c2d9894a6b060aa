"""How far a reading has gone from its baseline and from the last visit, and what follows for its verdict.

A change counts only where it is larger than what both meters may be off (the root of the sum of their
squares: between two visits a meter drifts, so its error is not common to both). A change beyond a limit that
asks to act makes a passing verdict a conditional fail: inside its band, and yet not as it should be; so it
needs a word before the visit is signed. A limit that advises only says so.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import median
from typing import Final, Literal

from commission.checklist.conditions import column, condition
from commission.checklist.restate import RESTATEMENTS, Restatement
from commission.checklist.situation import Situation
from commission.checklist.types import ChangeData, ReadingKey, Waits
from commission.errors import EntryError, FormulaError
from commission.figure import Figure, given
from commission.formulas.bands import difference
from commission.formulas.change import change_share, change_share_uncertainty
from commission.formulas.uncertainty import root_sum_of_squares
from commission.units import convert, plain
from commission.visit.entry import Typed
from commission.visit.judge import judge, used_in
from commission.visit.kit import label
from commission.visit.lines import as_line, derivation
from commission.visit.types import Drift, EarlierReading, Judgement, Named, Service, Verdict
from commission.visit.uncertain import Kit, doubt_among, doubt_of_reading

_LOWERED: Final[frozenset[Verdict]] = frozenset({"pass", "conditional pass", "recorded"})
_POINTS: Final = "points"
_EDGE: Final = 1e-9
"""Exactly on a limit counts as inside it, whatever binary fractions make of it."""
Earlier = dict[ReadingKey, tuple[EarlierReading, ...]]


def earlier_by_key(service: Service | None) -> Earlier:
    """Return what the visits before read, by key; nothing of parts that have begun anew."""
    found: Earlier = {}
    if service is not None:
        new = frozenset(service.changed)
        for row in service.earlier:
            if new.isdisjoint(row.parts):
                found[row.key] = (*found.get(row.key, ()), row)
    return found


def judge_with_change(situation: Situation, typed: Typed, kit: Kit, earlier: Earlier) -> Judgement:
    """Return the verdict on a reading, also by how far it has gone from earlier ones."""
    judged = judge(situation, typed, kit)
    rows = earlier.get(situation.ask.key, ())
    data = situation.ask.data
    if not rows or not data.change or situation.reading is None or typed.kind != "number":
        return judged
    if judged.verdict == "not judged" and data.compares != "reading":
        return judged
    compare = _Compare(situation, typed, kit, judged, earlier)
    drifts = tuple(
        drift for since in ("baseline", "last") if (drift := compare.since(since, rows)) is not None
    )
    return _with(judged, drifts, compare)


def _with(judged: Judgement, drifts: Sequence[Drift], compare: _Compare) -> Judgement:
    acts = [drift for drift in drifts if drift.verdict == "act"]
    told = [drift.says for drift in drifts if drift.verdict in {"act", "advise"}]
    lowered = bool(acts) and judged.verdict in _LOWERED
    return judged.model_copy(
        update={
            "verdict": "conditional fail" if lowered else judged.verdict,
            "says": as_line("; ".join(part for part in (judged.says, *told) if part)),
            "used": used_in(compare.situation),
            "waits": (*judged.waits, *compare.waits),
            "drifts": tuple(drifts),
            "why": derivation(*compare.reasons) if lowered else judged.why,
        }
    )


def compared_of(
    value: float,
    unit: str,
    doubt: float | None,
    judged: Judgement | None,
    compares: Literal["reading", "judged", "error", "among"],
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


@dataclass(frozen=True, slots=True)
class _Point:
    """What is compared, of one day: value, unit, expanded uncertainty."""

    value: float
    unit: str
    doubt: float | None


class _NotComparedError(Exception):
    """Why two readings cannot be compared."""


class _Compare:
    """One reading beside earlier ones."""

    def __init__(
        self, situation: Situation, typed: Typed, kit: Kit, judged: Judgement, earlier: Earlier
    ) -> None:
        self.situation = situation
        self.waits: list[Named] = []
        self.reasons: list[Figure] = []
        """Limits that ask to act, and the changes that passed them."""
        self._typed = typed
        self._kit = kit
        self._judged = judged
        self._earlier = earlier
        self._data = situation.ask.data

    def since(self, since: Literal["baseline", "last"], rows: Sequence[EarlierReading]) -> Drift | None:
        """Return how far the reading has gone, None where no limit asks for that."""
        limits = [limit for limit in self._data.change if limit.since == since]
        before = _baseline(rows) if since == "baseline" else max(rows, key=lambda row: row.measured_at)
        if not limits or before is None:
            return None
        try:
            now, then = self._now(), self._then(before)
            self._like_charge(before)
            return self._weighed(since, limits, before, now, then)
        except (_NotComparedError, FormulaError, EntryError) as error:
            return self._not_compared(since, before, str(error))

    def _not_compared(self, since: Literal["baseline", "last"], before: EarlierReading, why: str) -> Drift:
        observed = self.situation.reading
        return Drift(
            since=since,
            visit=before.visit,
            measured_at=before.measured_at,
            before=before.value,
            now=before.value if observed is None else observed.figure.value,
            change=0.0,
            verdict="not compared",
            says=as_line(f"not compared: {why}"),
        )

    # what is compared

    def _now(self) -> _Point:
        observed = self.situation.reading
        assert observed is not None  # noqa: S101 - asked before
        if self._typed.side != "exact":
            raise _NotComparedError(f"'{self._typed.text}' is no single number")
        value, unit = observed.figure.value, observed.figure.unit
        doubt = doubt_of_reading(observed, self._data.instrument, self._kit).expanded
        if self._data.compares == "among":
            middle = median((value, *self._others_now(unit)))
            doubt = doubt_among(observed, middle, self._data.instrument, self._kit).expanded
            return _Point(value - middle, unit, doubt)
        if self._data.compares != "reading":
            compared, unit, doubt = compared_of(value, unit, doubt, self._judged, self._data.compares)
            if compared is None:
                raise _NotComparedError("its verdict was not made on a number")
            return _Point(compared, unit, doubt)
        way = self._way()
        return (
            _Point(value, unit, doubt)
            if way is None
            else self._restated(way, value, unit, doubt, self._living(way))
        )

    def _others_now(self, unit: str) -> list[float]:
        read, unread = column(self.situation)
        if unread:
            raise _NotComparedError("its column is not whole")
        return [convert(one.figure.value, one.figure.unit, unit) for one in read]

    def _others_then(self, before: EarlierReading) -> list[float]:
        """Return the other readings of the column of that visit."""
        own = before.key
        keys = (ask.key for ask in self.situation.step.asks if ask.key.step == own.step)
        rows = (row for key in keys if key != own for row in self._earlier.get(key, ()))
        return [convert(row.value, row.unit, before.unit) for row in rows if row.visit == before.visit]

    def _then(self, before: EarlierReading) -> _Point:
        if self._data.compares == "among":
            others = self._others_then(before)
            if not others:
                raise _NotComparedError("the column of that visit is not known")
            told = before.compared_uncertainty
            doubt = before.uncertainty if told is None else told
            return _Point(before.value - median((before.value, *others)), before.unit, doubt)
        if self._data.compares != "reading":
            if before.compared is None:
                raise _NotComparedError("the earlier one had no verdict on a number")
            return _Point(before.compared, before.compared_unit, before.compared_uncertainty)
        way = self._way()
        if way is None:
            return _Point(before.value, before.unit, before.uncertainty)
        return self._restated(way, before.value, before.unit, before.uncertainty, self._of_then(way, before))

    def _way(self) -> Restatement | None:
        return RESTATEMENTS[self._data.restated] if self._data.restated else None

    def _living(self, way: Restatement) -> float:
        """Return the condition that a restatement wants, now."""
        found = condition(self.situation, way.condition)
        if isinstance(found, Figure):
            return convert(found.value, found.unit, way.unit)
        if isinstance(found, Waits):
            self.waits += [Named(step=key.step, parts=key.parts, index=key.index) for key in found.keys]
        raise _NotComparedError(found.why)

    def _of_then(self, way: Restatement, before: EarlierReading) -> float:
        """Return the condition of the earlier day."""
        for item in before.used:
            found = self.situation.checklist.asks.get(item.key)
            if found is not None and found[1].data.condition == way.condition:
                return convert(item.value, item.unit, way.unit)
        if way.condition == "battery-temperature" and before.temperature is not None:
            return before.temperature
        data = self.situation.checklist.conditions_by_id.get(way.condition)
        name = way.condition if data is None else data.name
        raise _NotComparedError(f"the {name} of {before.measured_at:%Y-%m-%d} is not known")

    def _restated(
        self, way: Restatement, value: float, unit: str, doubt: float | None, state: float
    ) -> _Point:
        def at(reading: float, condition: float) -> Figure:
            of_day = given(condition, way.unit, way.condition)
            made = way.call(self.situation.plant, given(reading, unit, self._data.prompt), of_day)
            if not isinstance(made, Figure):
                raise _NotComparedError(f"not known: {', '.join(made.missing)}")
            return made

        made = at(value, state)
        by_state = at(value, state + way.off(state)).value - made.value
        by_meter = None if doubt is None else at(value + doubt, state).value - made.value
        whole = None if by_meter is None else root_sum_of_squares([abs(by_meter), abs(by_state)])
        return _Point(made.value, made.unit, whole)

    def _like_charge(self, before: EarlierReading) -> None:
        """Refuse to compare readings of a full and of an empty bank where that matters."""
        most = self._data.like_charge
        now = self._charge_now()
        if most is None or now is None or before.state_of_charge is None:
            return
        if abs(now - before.state_of_charge) > most + _EDGE:
            then = before.state_of_charge
            raise _NotComparedError(f"the bank was at {then:.0%} charge then and is at {now:.0%} now")

    def _charge_now(self) -> float | None:
        found = condition(self.situation, "state-of-charge")
        return convert(found.value, found.unit, "%") / 100.0 if isinstance(found, Figure) else None

    # what follows

    def _weighed(
        self,
        since: Literal["baseline", "last"],
        limits: Sequence[ChangeData],
        before: EarlierReading,
        now: _Point,
        then: _Point,
    ) -> Drift:
        found = [(limit, *_change(limit, now, then)) for limit in limits]
        passed = [row for row in found if _beyond(row[0], row[1])]
        limit, change, doubt = max(passed, key=lambda row: _size(row[0], row[1])) if passed else found[0]
        verdict, remarks = self._verdict(limit, change, doubt, before, beyond=bool(passed))
        if verdict == "act":
            self.reasons += self._reasons(limit, before, now, then, change)
        says = "; ".join((_sentence(limit, since, before, change, doubt), *remarks, *self._beside(before)))
        return Drift(
            since=since,
            visit=before.visit,
            measured_at=before.measured_at,
            before=then.value,
            now=now.value,
            change=change,
            unit=limit.unit,
            low=None if limit.less is None else -limit.less,
            high=limit.more,
            verdict=verdict,
            says=as_line(says),
        )

    def _reasons(
        self, limit: ChangeData, before: EarlierReading, now: _Point, then: _Point, change: float
    ) -> list[Figure]:
        """Return the limit and the change as figures that can say why."""
        most = (limit.more if change > 0 else limit.less) or 0.0
        step = self.situation.step.data.id
        told = given(most, limit.unit, "greatest change", where=f"{step}.change", source=limit.source)
        names = (f"reading of {before.measured_at:%Y-%m-%d}", self._data.prompt)
        key = str(self.situation.ask.key)
        first, second = (
            given(point.value, point.unit, name, kind="reading", where=key)
            for point, name in zip((then, now), names, strict=True)
        )
        made = (change_share if limit.unit == "%" else difference).of(
            "change",
            **({"now": second, "before": first} if limit.unit == "%" else {"first": second, "second": first}),
        )
        return [told, *([made] if isinstance(made, Figure) else [])]

    def _verdict(
        self, limit: ChangeData, change: float, doubt: float | None, before: EarlierReading, *, beyond: bool
    ) -> tuple[Literal["holds", "advise", "act"], list[str]]:
        if not beyond:
            return "holds", []
        plan = self.situation.plant.site.service
        floats = limit.float_service and (plan is None or not plan.float_limits_hold)
        acts = limit.verdict == "act"
        if doubt is not None and abs(change) <= doubt:
            remark = "no more than both meters may be off: read it again with a finer one"
            return ("advise" if acts else "holds"), [remark]
        if acts and floats:
            return "advise", [
                *_what(limit),
                "a limit for float service, which only advises in a cycled plant",
            ]
        if acts and before.provisional:
            return "advise", [*_what(limit), "the first reading is no firm baseline yet"]
        return limit.verdict, _what(limit)

    def _beside(self, before: EarlierReading) -> list[str]:
        """Return what a person should know of the comparison."""
        told = []
        if not self._data.restated and self._data.like_charge is not None:
            told.append(self._temperatures(before))
            if before.state_of_charge is None or self._charge_now() is None:
                told.append("state of charge of one of the days not known")
        observed = self.situation.reading
        meter = self._kit.get((observed.instrument if observed else None) or "")
        name = "" if meter is None else f"{meter.id} {meter.serial}".strip()
        if before.instrument and name and before.instrument != name and meter is not None:
            told.append(f"read with {label(meter)}, then with {before.instrument}")
        return told

    def _temperatures(self, before: EarlierReading) -> str:
        found = condition(self.situation, "battery-temperature")
        now = f"{found.value:.0f} °C" if isinstance(found, Figure) else "not known"
        then = "not known" if before.temperature is None else f"{before.temperature:.0f} °C"
        return f"not corrected for temperature: {then} then, {now} now"


def _what(limit: ChangeData) -> list[str]:
    return [limit.says] if limit.says else []


def _baseline(rows: Sequence[EarlierReading]) -> EarlierReading | None:
    return next((row for row in rows if row.baseline), None)


def _change(limit: ChangeData, now: _Point, then: _Point) -> tuple[float, float | None]:
    """Return the change in the unit of a limit, and its uncertainty; unknown meters count as exact."""
    if now.unit != then.unit:
        raise _NotComparedError(f"it is in {now.unit} now and was in {then.unit}")
    doubts = [point.doubt for point in (now, then) if point.doubt is not None]
    if limit.unit == "%":
        share = change_share(now.value, then.value)
        doubt = change_share_uncertainty(
            now.value, then.value, now_uncertainty=now.doubt or 0.0, before_uncertainty=then.doubt or 0.0
        )
        return 100.0 * share, 100.0 * doubt if doubts else None
    scale = 1.0 if limit.unit in {_POINTS, now.unit} else _scale(now.unit, limit.unit)
    whole = root_sum_of_squares(doubts) if doubts else None
    return scale * (now.value - then.value), None if whole is None else scale * whole


def _scale(unit: str, wanted: str) -> float:
    if (unit, wanted) == ("°C", "K"):
        return 1.0
    return convert(1.0, unit, wanted) - convert(0.0, unit, wanted)


def _beyond(limit: ChangeData, change: float) -> bool:
    if limit.more is not None and change > limit.more * (1.0 + _EDGE):
        return True
    return limit.less is not None and -change > limit.less * (1.0 + _EDGE)


def _size(limit: ChangeData, change: float) -> float:
    return (limit.more if change > 0 else limit.less) or 0.0


def _sentence(
    limit: ChangeData, since: str, before: EarlierReading, change: float, doubt: float | None
) -> str:
    unit = limit.unit if limit.unit == "%" else f" {limit.unit}"
    told = None if doubt is None else _up(doubt)
    off = "" if told is None else f" ± {plain(told)}"
    day = f"{before.measured_at:%Y-%m-%d}"
    whom = f"the {'provisional ' if before.provisional else ''}baseline of {day}"
    whom = whom if since == "baseline" else f"the last visit, {day}"
    ends = [
        f"{sign}{plain(end)}{unit}" for sign, end in (("+", limit.more), ("−", limit.less)) if end is not None
    ]
    sign = "+" if change > 0 else ""
    return f"{sign}{plain(round(change, 6))}{off}{unit} since {whom}; at most {' and '.join(ends)}"


def _up(doubt: float) -> float:
    """Return an uncertainty with two digits, never less than it is."""
    if doubt <= 0.0:
        return 0.0
    decimals = 1 - math.floor(math.log10(doubt))
    return round(math.ceil(doubt * 10.0**decimals - _EDGE) / 10.0**decimals, max(0, decimals))
