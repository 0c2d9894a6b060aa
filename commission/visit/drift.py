"""How far a reading has gone from its baseline and from the last visit, and what follows for its verdict.

A change counts only where it is larger than what both meters may be off (the root of the sum of their
squares: between two visits a meter drifts, so its error is not common to both). A change beyond a limit that
asks to act makes a passing verdict a conditional fail: inside its band, and yet not as it should be; so it
needs a word before the visit is signed. A limit that advises only says so.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Final, Literal, TypeAlias

from commission.checklist.conditions import condition
from commission.checklist.situation import Situation
from commission.checklist.types import ChangeData, Side
from commission.errors import EntryError, FormulaError
from commission.figure import Figure, given
from commission.formulas.bands import difference
from commission.formulas.change import change_share
from commission.units import plain
from commission.visit.changes import SIGNS, Change, Outcome, outcome, sentence, worth_telling
from commission.visit.compared import Alike, Compared, Earlier, NotComparedError, as_read_then
from commission.visit.entry import Typed
from commission.visit.judge import judge, used_in
from commission.visit.kit import label
from commission.visit.lines import LONGEST, as_line, derivation
from commission.visit.types import Drift, EarlierReading, Judgement, OneSided, Service, Verdict
from commission.visit.uncertain import Kit

_LOWERED: Final[frozenset[Verdict]] = frozenset({"pass", "conditional pass", "recorded"})
COLD_RISE: Final = 0.01
"""Share by which the resistance of a lead or nickel block may be higher for each kelvin that it is colder;
makers' sheets of valve-regulated batteries tell half of that to the whole below 25 °C, from memory."""
LITHIUM_COLD_RISE: Final = 0.04
"""The same of lithium cells under load, whose resistance about doubles from 25 to 0 °C; from memory."""
LIKE_WARMTH: Final = 5.0
"""Kelvin within which two days count as equally warm for such a resistance; common practice."""
Since: TypeAlias = Literal["baseline", "last"]
DriftVerdict: TypeAlias = Literal["holds", "advise", "act", "not judged", "not compared"]


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
    beside = _Beside(situation, typed, kit, Alike(situation, typed, kit, judged, earlier))
    drifts = tuple(
        drift for since in ("baseline", "last") if (drift := beside.since(since, rows)) is not None
    )
    return _with(judged, drifts, beside)


def _with(judged: Judgement, drifts: Sequence[Drift], beside: _Beside) -> Judgement:
    acts = [drift for drift in drifts if drift.verdict == "act"]
    told = [drift.says for drift in drifts if worth_telling(drift)]
    bound = beside.bound and judged.verdict == "not judged" and not judged.waits
    lowered = bool(acts) and (judged.verdict in _LOWERED or bound)
    return judged.model_copy(
        update={
            "verdict": "conditional fail" if lowered else judged.verdict,
            "says": _joined(judged.says, told),
            "used": used_in(beside.situation),
            "waits": (*judged.waits, *beside.alike.waits),
            "drifts": tuple(drifts),
            "why": derivation(*beside.reasons) if lowered else judged.why,
        }
    )


class _Beside:
    """One reading beside earlier ones."""

    def __init__(self, situation: Situation, typed: Typed, kit: Kit, alike: Alike) -> None:
        self.situation = situation
        self.alike = alike
        self.reasons: list[Figure] = []
        """Limits that ask to act, and the changes that passed them."""
        self._typed = typed
        self._kit = kit
        self._data = situation.ask.data

    @property
    def bound(self) -> bool:
        """Whether the reading is one-sided."""
        return self._typed.side != "exact"

    def since(self, since: Since, rows: Sequence[EarlierReading]) -> Drift | None:
        """Return how far the reading has gone, None where no limit asks for that."""
        limits = [limit for limit in self._data.change if limit.since == since]
        before = _baseline(rows) if since == "baseline" else max(rows, key=lambda row: row.measured_at)
        if not limits or before is None:
            return None
        try:
            now, then = self.alike.now(), self.alike.then(before)
            self.alike.allow_charge(before)
            return self._drift(since, before, now, then, outcome(limits, now, then))
        except (NotComparedError, FormulaError, EntryError) as error:
            return self._not_compared(since, before, str(error))

    def _not_compared(self, since: Since, before: EarlierReading, why: str) -> Drift:
        observed = self.situation.reading
        exact = self._typed.side == before.side == "exact"
        verdict: DriftVerdict = "not compared" if exact else "not judged"
        return Drift(
            since=since,
            visit=before.visit,
            measured_at=before.measured_at,
            before=before.value,
            now=before.value if observed is None else observed.figure.value,
            before_side=_one_sided(before.side),
            now_side=_one_sided(self._typed.side),
            change=0.0,
            verdict=verdict,
            says=as_line(f"{verdict}: {why}"),
        )

    def _drift(
        self, since: Since, before: EarlierReading, now: Compared, then: Compared, found: Outcome
    ) -> Drift:
        limit = found.change.limit
        verdict, remarks = self._verdict(since, found, before)
        if verdict == "act":
            self.reasons += self._reasons(found.change, before, now, then)
        told = (*remarks, *self._restated(verdict, now, then), *self._said(before, now, then))
        return Drift(
            since=since,
            visit=before.visit,
            measured_at=before.measured_at,
            before=then.value,
            now=now.value,
            before_side=_one_sided(then.side),
            now_side=_one_sided(now.side),
            compared_as=self.alike.named,
            compared_unit=now.unit if self.alike.named else None,
            change=found.change.value,
            unit=limit.unit,
            low=None if limit.less is None else -limit.less,
            high=limit.more,
            verdict=verdict,
            says=as_line("; ".join((sentence(found, before, since, self._typed.text, verdict), *told))),
        )

    def _reasons(self, change: Change, before: EarlierReading, now: Compared, then: Compared) -> list[Figure]:
        """Return the limit and the change as figures that can say why."""
        limit, step = change.limit, self.situation.step.data.id
        told = given(change.size, limit.unit, "greatest change", where=f"{step}.change", source=limit.source)
        names = (f"reading of {before.measured_at:%Y-%m-%d}", self._data.prompt)
        key = str(self.situation.ask.key)
        first, second = (
            given(point.value, point.unit, name, kind="reading", where=key)
            for point, name in zip((then, now), names, strict=True)
        )
        made = (change_share if limit.unit == "%" else difference).of(
            "change" if change.span.exact else "change, at least",
            **({"now": second, "before": first} if limit.unit == "%" else {"first": second, "second": first}),
        )
        return [told, *([made] if isinstance(made, Figure) else [])]

    def _verdict(
        self, since: Since, found: Outcome, before: EarlierReading
    ) -> tuple[DriftVerdict, list[str]]:
        if found.state == "open":
            if self._at_its_end(found, before):
                return "not compared", ["the meter was at its end both times"]
            bound = self._typed.side == "above"
            return "not judged", ["read it with a meter that reaches so far"] if bound else []
        if found.state == "kept":
            return "holds", []
        limit, change = found.change.limit, found.change
        if change.doubt is not None and abs(change.value) <= change.doubt:
            remark = "no more than both meters may be off: read it again with a finer one"
            return ("advise" if limit.verdict == "act" else "holds"), [remark]
        if limit.verdict == "advise":
            excused = self._by_warmth(since, limit, before)
            return ("holds", excused) if excused else ("advise", _what(limit))
        softened = self._softened(since, limit, before) or self._by_warmth(since, limit, before)
        return ("advise" if softened else "act"), [*_what(limit), *softened]

    def _softened(self, since: Since, limit: ChangeData, before: EarlierReading) -> list[str]:
        """Return why a limit that asks to act only advises here.

        A first reading is provisional as the baseline of a trend. As the reading of the last visit it is what
        it is: a capacity of day one is accepted, so a fall since then counts from the second test on.
        """
        plan = self.situation.plant.site.service
        if limit.float_service and (plan is None or not plan.float_limits_hold):
            return ["a limit for float service, which only advises in a cycled plant"]
        if before.provisional and since == "baseline":
            return ["the first reading is no firm baseline yet"]
        return []

    def _by_rule(self, limit: ChangeData, before: EarlierReading) -> list[str]:
        """Return why a change is none, or asks for less: a rule of thumb alone makes it pass its limit."""
        if not self.alike.rough:
            return []
        if outcome([limit], self.alike.as_read(), as_read_then(before)).state == "passed":
            return []
        return ["as read it has not changed so far, and the rule for warmth is a rough one"]

    def _by_warmth(self, since: Since, limit: ChangeData, before: EarlierReading) -> list[str]:
        """Return why warmth or cold alone may have made a change: then it asks for less.

        What is left of it without them is held to the limits that act, where it passed one of these, else to
        all: what a cold day alone may show is not even told.
        """
        by_rule, colder = self._by_rule(limit, before), self._colder(before)
        if by_rule or abs(colder) <= LIKE_WARMTH or (limit.more if colder > 0.0 else limit.less) is None:
            return by_rule
        limits = [one for one in self._data.change if one.since == since]
        if limit.verdict == "act":
            limits = [one for one in limits if one.verdict == "act"]
        now, then = self.alike.now(), self.alike.then(before)
        share = 1.0 + self._cold_rise * abs(colder)
        warmed = replace(now, value=now.value / share if colder > 0.0 else now.value * share)
        if outcome(limits, warmed, then).state == "passed":
            return []
        word, alone = ("colder", "cold") if colder > 0.0 else ("warmer", "warmth")
        return [f"{abs(colder):.0f} K {word} than then: {alone} alone may do it, read again as warm as then"]

    @property
    def _cold_rise(self) -> float:
        family = self.situation.plant.battery.family
        return LITHIUM_COLD_RISE if family == "lithium" else COLD_RISE

    def _colder(self, before: EarlierReading) -> float:
        """Return by how many kelvin the battery is colder than then, where cold raises what is compared."""
        found = condition(self.situation, "battery-temperature")
        if self._data.like_charge is None or self._data.restated or before.temperature is None:
            return 0.0
        return before.temperature - found.value if isinstance(found, Figure) else 0.0

    def _at_its_end(self, found: Outcome, before: EarlierReading) -> bool:
        """Say whether only a rough rule sets two bounds apart: as read, the newer one takes nothing back."""
        if not self.alike.rough or before.side == "exact" or before.side != self._typed.side:
            return False
        now, then = self.alike.now(), self.alike.then(before)
        limits = [found.change.limit]
        apart = _between(limits, now, then) != "kept"
        return apart and _between(limits, self.alike.as_read(), as_read_then(before)) == "kept"

    def _restated(self, verdict: DriftVerdict, now: Compared, then: Compared) -> list[str]:
        """Return what both readings are as they are compared: else nobody could follow the change."""
        if not self._data.restated or verdict in {"holds", "not compared"}:
            return []
        return [f"as {self.alike.named}: {_told(then)} then, {_told(now)} now"]

    def _said(self, before: EarlierReading, now: Compared, then: Compared) -> list[str]:
        """Return what a person should know of the comparison."""
        told = [part for part in (self.alike.beside, then.remark, now.remark) if part]
        if self._data.like_charge is not None:
            if not self._data.restated:
                told.append(self._temperatures(before))
            if before.state_of_charge is None or self.alike.charge_now() is None:
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


def _told(point: Compared) -> str:
    """Return what is compared with its sign and four digits: ``> 275 MΩ``."""
    value, unit = point.value, point.unit
    if unit == "Ω" and abs(value) < 1.0:
        value, unit = 1000.0 * value, "mΩ"
    return f"{SIGNS[point.side]}{plain(float(f'{value:.4g}'))} {unit}"


def _joined(says: str, told: Sequence[str]) -> str:
    """Return a verdict's words with those of its comparisons, as many of these as are whole in one line."""
    line = "; ".join(part for part in (says, *told[:1]) if part)
    for part in told[1:]:
        if len(line) + len(part) + 2 > LONGEST:
            break
        line = f"{line}; {part}"
    return as_line(line)


def _between(limits: Sequence[ChangeData], now: Compared, then: Compared) -> str:
    """Return what the limits say to the way between the ends of two bounds."""
    return outcome(limits, replace(now, side="exact"), replace(then, side="exact")).state


def _what(limit: ChangeData) -> list[str]:
    return [limit.says] if limit.says else []


def _one_sided(side: Side) -> OneSided | None:
    return None if side == "exact" else side


def _baseline(rows: Sequence[EarlierReading]) -> EarlierReading | None:
    return next((row for row in rows if row.baseline), None)
