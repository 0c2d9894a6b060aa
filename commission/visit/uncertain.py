"""How far what is judged may be from the truth: of a reading, of a difference, of anything made of readings.

What is judged is often not the reading itself but a difference, a share or a spread of several. Its
uncertainty is found by moving each reading by its own meter's error and asking the expectation again
(GUM, 5.1.3 note 2): of one meter on one range the error of the scale is common to all and acts only on what
they differ by, while the digits of each count for themselves.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final, TypeAlias

from commission.checklist.situation import Situation
from commission.checklist.types import Expectation, Expected, InstrumentKind, Observation, ReadingKey
from commission.errors import EntryError
from commission.formulas.uncertainty import (
    difference_uncertainty,
    expanded_uncertainty,
    root_sum_of_squares,
    standard_uncertainty,
)
from commission.units import convert
from commission.visit.kit import COVERAGE, NO_METER, Statement, label, ordinary_meter, range_end, statement_at
from commission.visit.types import Instrument

Expect: TypeAlias = Callable[[Situation], Expectation]
Kit: TypeAlias = Mapping[str, Instrument]
_MANY: Final = 12


@dataclass(frozen=True, slots=True)
class Doubt:
    """Expanded uncertainty of what is judged, or why it is not known."""

    expanded: float | None
    unknown: str = ""


def doubt_of_reading(observed: Observation, kind: InstrumentKind, kit: Kit) -> Doubt:
    """Return the uncertainty of a reading, in its own unit.

    What is counted, seen, or read off a display without a meter is taken as shown.
    """
    if kind in NO_METER and observed.instrument is None:
        return Doubt(0.0)
    instrument = kit.get(observed.instrument or "")
    if instrument is None:
        return Doubt(None, "no meter named")
    value, unit = observed.figure.value, observed.figure.unit
    statement = statement_at(instrument, value, unit)
    if statement is None:
        return Doubt(None, _why_no_range(instrument, unit))
    end = math.copysign(statement.up_to, value)
    return Doubt(statement.uncertainty(end if math.isinf(value) else value))


def doubt_among(observed: Observation, middle: float, kind: InstrumentKind, kit: Kit) -> Doubt:
    """Return the uncertainty of how far a reading lies from the middle of its column, read with one meter.

    The error of the scale is common to the column and acts only on the distance; the digits count twice.
    """
    alone = doubt_of_reading(observed, kind, kit)
    part = _part(observed, kit)
    if alone.expanded is None or part is None:
        return alone
    return Doubt(
        difference_uncertainty(
            part.value,
            middle,
            percent=part.statement.percent,
            digits=part.statement.digits,
            resolution=part.statement.resolution,
            coverage=COVERAGE,
        )
    )


def _why_no_range(instrument: Instrument, unit: str) -> str:
    end = range_end(instrument, unit)
    if not instrument.ranges:
        return f"the accuracy of {label(instrument)} is not told"
    if end is None:
        return f"{label(instrument)} has no range in {unit}"
    return f"{label(instrument)} reads to {end:g} {unit} at most"


def assumed_uncertainty(kind: InstrumentKind, value: float, unit: str) -> float:
    """Return the uncertainty of an ordinary meter of a kind, to guard against danger where none is known."""
    reach = (statement_at(instrument, value, unit) for instrument in ordinary_meter(kind))
    return max((item.uncertainty(value) for item in reach if item is not None), default=0.0)


# what is made of several readings


@dataclass(frozen=True, slots=True)
class _Part:
    """A reading that goes into what is judged, with its meter's statement on the range in use."""

    observed: Observation
    statement: Statement

    @property
    def value(self) -> float:
        return self.observed.figure.value

    @property
    def meter(self) -> tuple[str | None, float]:
        """Meter and range, within which the error of the scale is common."""
        return self.observed.instrument, self.statement.up_to


def doubt_of_compared(situation: Situation, expect: Expect, expected: Expected, kit: Kit) -> Doubt:
    """Return the uncertainty of what is judged instead of the reading, in its unit."""
    own = situation.reading
    if own is None or expected.compared is None:
        return Doubt(None, "nothing was read")
    alone = doubt_of_reading(own, situation.ask.data.instrument, kit)
    if alone.expanded is None:
        return alone
    parts = [part for item in (own, *situation.used) if (part := _part(item, kit)) is not None]
    scale = _scale(own.figure.unit, expected.compared.unit)
    if expected.against is not None and scale is not None:
        return _doubt_of_difference(own, expected.against, parts, alone.expanded, scale)
    return _moved_by_meters(situation, expect, expected.compared.value, parts)


def _scale(unit: str, wanted: str) -> float | None:
    """Return what one unit of a difference is in another, None where the two do not compare."""
    try:
        return convert(1.0, unit, wanted) - convert(0.0, unit, wanted)
    except EntryError:
        return None


def _part(observed: Observation, kit: Kit) -> _Part | None:
    instrument = kit.get(observed.instrument or "")
    if instrument is None:
        return None
    statement = statement_at(instrument, observed.figure.value, observed.figure.unit)
    return None if statement is None else _Part(observed, statement)


def _doubt_of_difference(
    own: Observation, against: float, parts: Sequence[_Part], alone: float, scale: float
) -> Doubt:
    mine = next((part for part in parts if part.observed is own), None)
    if mine is None:  # both were read off a display
        return Doubt(alone * scale)
    other = next((part for part in parts if part.observed is not own and part.value == against), None)
    if other is not None and other.observed.instrument != own.instrument:
        return Doubt(scale * root_sum_of_squares([alone, other.statement.uncertainty(against)]))
    # where two ranges of one meter were used, the coarser one counts for both
    statement = max(mine, other or mine, key=lambda part: part.statement.resolution).statement
    expanded = difference_uncertainty(
        own.figure.value,
        against,
        percent=statement.percent,
        digits=statement.digits,
        resolution=statement.resolution,
        coverage=COVERAGE,
    )
    return Doubt(scale * expanded)


def _moved_by_meters(situation: Situation, expect: Expect, standing: float, parts: Sequence[_Part]) -> Doubt:
    def moved(shifts: Sequence[tuple[_Part, float]]) -> float:
        after = _compared_after(situation, expect, shifts)
        return math.nan if after is None else abs(after - standing)

    meters: dict[tuple[str | None, float], list[_Part]] = {}
    for part in parts:
        meters.setdefault(part.meter, []).append(part)
    squares: list[float] = []
    common = 0.0
    for alike in meters.values():
        shifts = [(part, _own_share(part, alone=len(alike) == 1)) for part in alike]
        squares += [moved(some) for some in _one_by_one(shifts)]
        if len(alike) > 1:
            common += moved([(part, part.statement.percent / 100.0 * part.value) for part in alike])
    if any(math.isnan(item) for item in (*squares, common)):
        return Doubt(None, "what is compared cannot be told within the meter's error")
    return Doubt(expanded_uncertainty(root_sum_of_squares(squares), COVERAGE) + common)


def _one_by_one(shifts: list[tuple[_Part, float]]) -> list[list[tuple[_Part, float]]]:
    """Return the moves to make: each reading for itself; of a long column the first, and all others at once.

    Moving many at once adds up what would partly cancel, so that the uncertainty is rather too large.
    """
    if len(shifts) <= _MANY:
        return [[shift] for shift in shifts]
    return [shifts[:1], shifts[1:]]


def _own_share(part: _Part, *, alone: bool) -> float:
    """Return the standard uncertainty that a reading does not share with others of the same meter."""
    digits = part.statement.digits * part.statement.resolution
    return standard_uncertainty(part.statement.half_width(part.value) if alone else digits)


def _compared_after(
    situation: Situation, expect: Expect, shifts: Sequence[tuple[_Part, float]]
) -> float | None:
    def moved(observed: Observation | None) -> Observation | None:
        for part, shift in shifts:
            if observed is not None and part.observed == observed:
                return replace(observed, figure=replace(observed.figure, value=part.value + shift))
        return observed

    def latest(key: ReadingKey) -> Observation | None:
        return moved(situation.latest(key))

    outcome = expect(replace(situation, latest=latest, reading=moved(situation.reading), used=[]))
    if not isinstance(outcome, Expected) or outcome.compared is None:
        return None
    return outcome.compared.value
