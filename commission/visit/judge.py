"""The verdict on a reading, with everything that it was built on.

Rule of decision, fixed before measuring: ILAC-G8:09/2019, 4.2.3, with a guard band as wide as the expanded
uncertainty (k = 2). Where the uncertainty is not known, because no meter or no accuracy was told, a value
inside its limits is a conditional pass at best and one outside is a fail: doubt never helps a reading. A
meter past its calibration cannot carry a clear pass either. Danger is guarded the other way round: work stops
as soon as the reading may have reached the limit, with an ordinary meter's error where none is known.
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Final, Literal

from commission.checklist.expect import find
from commission.checklist.situation import Situation
from commission.checklist.types import Expectation, Expected, NotJudged, Observation, Waits
from commission.errors import EntryError, FormulaError
from commission.figure import Band, Figure
from commission.formulas.uncertainty import pass_is_possible, verdict_zone
from commission.units import convert, plain
from commission.visit.entry import Typed
from commission.visit.kit import NO_METER, label, overdue
from commission.visit.lines import as_line, derivation
from commission.visit.types import Judgement, Named, Used, Verdict
from commission.visit.uncertain import (
    Doubt,
    Expect,
    Kit,
    assumed_uncertainty,
    doubt_of_compared,
    doubt_of_reading,
)

_EDGE: Final = 1e-9


def expectation_named(name: str) -> Expect:
    """Return an expectation by the name under which the checklist asks for it."""
    return find(name) or (lambda _: NotJudged(f"the program knows no expectation '{name}'"))


def expected_now(situation: Situation, expect: Expect) -> Expectation:
    """Return what a reading should be; an input outside a formula's range is a reason not to judge."""
    try:
        return expect(situation)
    except FormulaError as error:
        return NotJudged(str(error))


def judge(situation: Situation, typed: Typed, kit: Kit, expect: Expect | None = None) -> Judgement:
    """Return the verdict on a reading.

    Parameters
    ----------
    situation
        The moment, with the reading in it as an observation.
    typed
        The reading as it was entered.
    kit
        The visit's instruments by id.
    expect
        What the reading should be; the one that the checklist names where None.
    """
    if expect is None and situation.ask.data.expect:
        expect = expectation_named(situation.ask.data.expect)
    outcome = None if expect is None else expected_now(situation, expect)
    if isinstance(outcome, Waits | NotJudged):
        return _not_judged(situation, outcome)
    if typed.kind == "yes or no":
        return _answered(situation, typed, outcome)
    if expect is None or outcome is None or typed.number is None or situation.reading is None:
        return _recorded(situation, kit, outcome)
    return _measured(situation, typed, outcome, kit, expect)


def _not_judged(situation: Situation, outcome: Waits | NotJudged) -> Judgement:
    keys = outcome.keys if isinstance(outcome, Waits) else ()
    return Judgement(
        verdict="not judged",
        unit=situation.ask.data.unit,
        says=as_line(outcome.why),
        used=used_in(situation),
        waits=tuple(Named(step=key.step, parts=key.parts, index=key.index) for key in keys),
    )


def _answered(situation: Situation, typed: Typed, outcome: Expected | None) -> Judgement:
    right = typed.value is (situation.ask.data.wants == "yes")
    wrong: Verdict = "stop work" if situation.step.data.stops_work else "fail"
    says = f"should be {situation.ask.data.wants}" if outcome is None else outcome.says
    return Judgement(verdict="pass" if right else wrong, says=as_line(says), used=used_in(situation))


def _recorded(situation: Situation, kit: Kit, outcome: Expected | None) -> Judgement:
    observed, data = situation.reading, situation.ask.data
    number = observed is not None and data.kind == "number"
    doubt = doubt_of_reading(observed, data.instrument, kit) if observed and number else Doubt(None)
    says = outcome.says if outcome is not None else ""
    return Judgement(
        verdict="recorded",
        unit=data.unit,
        uncertainty=doubt.expanded,
        says=as_line(says),
        used=used_in(situation),
    )


# a measured value against its band


def _measured(situation: Situation, typed: Typed, expected: Expected, kit: Kit, expect: Expect) -> Judgement:
    band, observed = expected.band, situation.reading
    assert observed is not None  # noqa: S101 - asked before
    if expected.compared is not None and typed.side != "exact":
        one_sided = NotJudged(f"'{typed.text}' gives no number to compare with others")
        return _not_judged(situation, one_sided)
    used = used_in(situation)
    subject, doubt = _subject(situation, expected, kit, expect, observed)
    if subject is None:
        reason = f"the reading is in {observed.figure.unit}, its band in {band.unit}"
        return _not_judged(situation, NotJudged(reason))
    low, high = _value(band.low), _value(band.high)
    if low is not None and high is not None and low > high:
        reason = f"no value can be right: at least {plain(low)} and at most {plain(high)} {band.unit}"
        return _not_judged(situation, NotJudged(reason))
    weighed = _Weighed(situation, typed, expected, subject, doubt)
    verdict, remarks = weighed.verdict(_calibration(observed, kit))
    limit = weighed.deciding(verdict)
    return Judgement(
        verdict=verdict,
        low=low,
        nominal=_value(band.nominal),
        high=high,
        unit=band.unit,
        stop_below=_value(band.stop_below),
        stop_above=_value(band.stop_above),
        compared=None if expected.compared is None else expected.compared.value,
        uncertainty=doubt.expanded,
        margin=weighed.margin(),
        says=as_line("; ".join(part for part in (expected.says, *remarks) if part)),
        used=used,
        why=() if verdict == "pass" else derivation(limit, expected.compared),
    )


def _subject(
    situation: Situation, expected: Expected, kit: Kit, expect: Expect, observed: Observation
) -> tuple[float | None, Doubt]:
    """Return what is judged, in the unit of the band, and its uncertainty."""
    if expected.compared is not None:
        return expected.compared.value, doubt_of_compared(situation, expect, expected, kit)
    doubt = doubt_of_reading(observed, situation.ask.data.instrument, kit)
    unit, wanted = observed.figure.unit, expected.band.unit
    if unit == wanted:
        return observed.figure.value, doubt
    try:
        scale = convert(1.0, unit, wanted) - convert(0.0, unit, wanted)
        value = convert(observed.figure.value, unit, wanted)
    except EntryError:
        return None, doubt
    return value, doubt if doubt.expanded is None else replace(doubt, expanded=doubt.expanded * scale)


def _calibration(observed: Observation, kit: Kit) -> str:
    """Return why a meter cannot carry a clear pass; empty where it can."""
    instrument = kit.get(observed.instrument or "")
    if instrument is None or instrument.kind in NO_METER:
        return ""
    if overdue(instrument, observed.measured_at.date()):
        return f"{label(instrument)} is past its calibration, so no clear pass"
    return ""


class _Weighed:
    """What is judged, beside its band: one verdict and the words to it."""

    def __init__(
        self, situation: Situation, typed: Typed, expected: Expected, subject: float, doubt: Doubt
    ) -> None:
        self.situation = situation
        self.side: Literal["exact", "above", "below"] = typed.side
        self.text = typed.text
        self.expected = expected
        self.band: Band = expected.band
        self.value = subject
        self.doubt = doubt
        self.low, self.high = _value(self.band.low), _value(self.band.high)

    def verdict(self, calibration: str) -> tuple[Verdict, list[str]]:
        """Return the verdict and the remarks that a person should read beside it."""
        remarks = [part for part in (self.doubt.unknown, calibration) if part]
        if self._stops():
            return "stop work", remarks
        if self.low is None and self.high is None:
            return "recorded", remarks
        found = self._zone()
        if found is None:
            return "not judged", [f"'{self.text}' does not tell on which side of the limit it lies"]
        expanded = self.doubt.expanded
        if expanded and not pass_is_possible(self.low, self.high, expanded):
            remarks.append(f"meter too coarse for this band: ± {plain(expanded)} {self.band.unit}".rstrip())
        if found == "pass" and (self.doubt.expanded is None or calibration):
            found = "conditional pass"
        return self._weight(found), remarks

    def _weight(self, found: Verdict) -> Verdict:
        if found != "fail":
            return found
        if not self.expected.decides:
            return "conditional fail"
        return "stop work" if self.situation.step.data.stops_work else "fail"

    def _zone(self) -> Verdict | None:
        """Return the verdict by zones; a one-sided value only where it cannot lie on both sides."""
        doubt = self.doubt.expanded or 0.0
        if self.side == "exact":
            return verdict_zone(self.value, self.low, self.high, doubt)
        ahead = self.high if self.side == "above" else self.low
        behind = self.low if self.side == "above" else self.high
        if ahead is not None:
            beyond = self.value > ahead if self.side == "above" else self.value < ahead
            return verdict_zone(self.value, self.low, self.high, doubt) if beyond else None
        assert behind is not None  # noqa: S101 - a band has one limit at least
        found = verdict_zone(self.value, self.low, self.high, doubt)
        return found if found in {"pass", "conditional pass"} else None

    def _stops(self) -> bool:
        below, above = _value(self.band.stop_below), _value(self.band.stop_above)
        if above is not None and self.side == "above":
            return True
        if below is not None and self.side == "below":
            return True
        guard = self.doubt.expanded
        if guard is None and math.isinf(self.value):
            guard = 0.0
        elif guard is None:
            kind = self.situation.ask.data.instrument
            guard = assumed_uncertainty(kind, self.value, self.band.unit)
        reaches_up = above is not None and self.value + guard >= above - _EDGE * abs(above)
        reaches_down = below is not None and self.value - guard <= below + _EDGE * abs(below)
        return reaches_up or reaches_down

    def margin(self) -> float | None:
        """Return the distance to the nearer limit, negative outside; None without a finite one."""
        limits = []
        if self.low is not None:
            limits.append(self.value - self.low)
        if self.high is not None:
            limits.append(self.high - self.value)
        nearest = min(limits, default=math.inf)
        return nearest if math.isfinite(nearest) else None

    def deciding(self, verdict: Verdict) -> Figure | None:
        """Return the limit that decided: the nearer one, or the one at which work stops."""
        band = self.band
        ends = (band.stop_below, band.stop_above) if verdict == "stop work" else (band.low, band.high)
        limits = [limit for limit in ends if limit is not None]
        if not limits:
            limits = [limit for limit in (band.low, band.high) if limit is not None]
        return min(limits, key=lambda limit: abs(limit.value - self.value), default=None)


def _value(figure: Figure | None) -> float | None:
    return None if figure is None or not math.isfinite(figure.value) else figure.value


def used_in(situation: Situation) -> tuple[Used, ...]:
    """Return the readings that were looked at, as a verdict keeps them."""
    return tuple(
        Used(
            step=item.key.step,
            parts=item.key.parts,
            index=item.key.index,
            value=item.figure.value,
            unit=item.figure.unit,
            measured_at=item.measured_at,
        )
        for item in situation.used
    )
