"""The trend of one repeated reading: what changes, how sure that is, and when its limit is reached.

A series of points becomes a :class:`Trend`. Points that cannot be compared are left out, each with its
reason; what is left is corrected for temperature where physics says so. The slope is that of Theil and Sen
with its interval; with fewer points than that needs, the trend says so and gives no date.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from statistics import median
from typing import Final, Literal, TypeAlias

from commission.checklist.baseline import baseline_of
from commission.checklist.types import Side
from commission.desk.series import CONFIDENCE, LeftOut, Limit, Point, Reached, Trend
from commission.desk.subjects import Subject, subject_of
from commission.digits import three_digits
from commission.errors import FormulaError
from commission.formulas.kendall import fewest_points, kendall_probability
from commission.formulas.trend import level_intercept, median_residual, theil_sen_slope, time_at_limit
from commission.formulas.trend_interval import greatest_slope, least_slope, level_half_width
from commission.formulas.uncertainty import root_sum_of_squares

YEAR: Final = timedelta(days=365.25)
HORIZON: Final = 40 * YEAR
"""How far ahead a date is told at all: twice the life of most plants; beyond it the word is 'not within'."""
_Stands: TypeAlias = Literal["inside", "past", "either"]


def trend(
    points: Sequence[Point],
    limits: Sequence[Limit] = (),
    *,
    step: str = "",
    confidence: float = CONFIDENCE,
) -> Trend:
    """Return the trend of a series.

    Parameters
    ----------
    points
        Readings of one key at one site, in any order.
    limits
        What must not be passed; the one that is reached first counts. Where trade practice has a limit of its
        own for what is read, that counts instead.
    step
        Id of the step, by which it is known what the reading is and how it is corrected.
    confidence
        Share of cases in which the interval of the slope shall hold the true one.
    """
    subject = subject_of(step)
    chosen = _chosen(points, subject)
    named = next((point.compared_as for point in chosen.used if point.compared_as), "")
    chosen = replace(chosen, subject=subject.name or named)
    return _weighed(chosen, _own_limit(chosen, subject) or limits, confidence)


# which points count


def _chosen(points: Sequence[Point], subject: Subject) -> Trend:
    """Return the points that can be compared, corrected, in order of time; the rest with the reason."""
    ordered = sorted(points, key=lambda point: point.at)
    begun = max((point.at for point in ordered if point.begins), default=None)
    left: list[LeftOut] = []
    kept: list[Point] = []
    for point in ordered:
        why = point.unfit or _unfit(point, begun)
        if why:
            left.append(LeftOut(point, why))
        else:
            kept.append(point)
    kept, others, remarks = _one_unit(kept)
    left += others
    kept, others = _from_the_baseline(kept, subject)
    left += others
    kept, others = _alike_charge(kept, subject)
    left += others
    baseline, newest = (_corrected(kept[place], subject) for place in (0, -1)) if kept else (None, None)
    kept, others = _exact(kept)
    left += others
    kept, others, said = _one_meter(kept)
    left += others
    corrected = [_corrected(point, subject) for point in kept]
    if subject.correct and any(point.temperature is None for point in kept):
        remarks.append("where no temperature was read, the value stands as it was read")
    unit = kept[-1].unit if kept else (ordered[-1].unit if ordered else "")
    order = tuple(sorted(left, key=lambda one: one.point.at))
    told = subject.corrected_for or next(
        (f"told as {one.compared_as}" for one in kept if one.compared_as), ""
    )
    return Trend(unit, tuple(corrected), order, "", told, (*remarks, *said), baseline, newest)


def _unfit(point: Point, begun: datetime | None) -> str:
    if point.corrected:
        return "it was put right by a later entry"
    if begun is not None and point.at < begun:
        return f"before the new baseline of {begun:%Y-%m-%d}"
    return ""


def _one_unit(points: list[Point]) -> tuple[list[Point], list[LeftOut], list[str]]:
    if not points:
        return points, [], []
    unit = points[-1].unit
    kept = [point for point in points if point.unit == unit]
    left = [
        LeftOut(point, f"read in {point.unit or 'no unit'}, the newest in {unit or 'no unit'}")
        for point in points
        if point.unit != unit
    ]
    return kept, left, []


def _alike_charge(points: list[Point], subject: Subject) -> tuple[list[Point], list[LeftOut]]:
    """Leave out what was read at another state of charge, where the value depends on it."""
    known = [point.state_of_charge for point in points if point.state_of_charge is not None]
    if subject.like_charge is None or not known:
        return points, []
    usual = median(known)
    kept, left = [], []
    for point in points:
        charge = point.state_of_charge
        if charge is None or abs(charge - usual) <= subject.like_charge + 1e-9:
            kept.append(point)
        else:
            why = f"read at {100 * charge:.0f} % charge, the others about {100 * usual:.0f} %"
            left.append(LeftOut(point, why))
    return kept, left


def _from_the_baseline(points: list[Point], subject: Subject) -> tuple[list[Point], list[LeftOut]]:
    """Leave out what was read before the baseline, which is the one that service visits compare with."""
    if not points or not subject.provisional:
        return points, []
    place, _ = baseline_of(points, subject.provisional)
    why = "of day one: accepted, but the trend begins with the second test"
    if subject.provisional == "six months":
        why = "of the first half year: provisional"
    return points[place:], [LeftOut(point, why) for point in points[:place]]


def _exact(points: list[Point]) -> tuple[list[Point], list[LeftOut]]:
    """Leave out bounds: a slope is laid through numbers."""
    left = [
        LeftOut(point, f"only known to be {point.side} {three_digits(point.value)} {point.unit}".rstrip())
        for point in points
        if point.side != "exact"
    ]
    return [point for point in points if point.side == "exact"], left


def _one_meter(points: list[Point]) -> tuple[list[Point], list[LeftOut], list[str]]:
    """Keep the points of one meter, where it alone has enough of them."""
    counted = Counter(point.instrument for point in points)
    if len(counted) < 2:
        return points, [], []
    newest = {point.instrument: point.at for point in points}
    most = max(counted, key=lambda meter: (counted[meter], newest[meter]))
    if counted[most] < fewest_points(CONFIDENCE) or counted[most] < len(points) / 2:
        said = f"read with {len(counted)} different meters, so their difference is in it"
        return points, [], [said]
    kept = [point for point in points if point.instrument == most]
    left = [
        LeftOut(
            point, f"read with {point.instrument or 'a meter not named'}, the others with {most or 'none'}"
        )
        for point in points
        if point.instrument != most
    ]
    return kept, left, []


def _corrected(point: Point, subject: Subject) -> Point:
    if subject.correct is None or point.temperature is None:
        return point
    try:
        return replace(point, value=subject.correct(point.value, point.temperature))
    except FormulaError:
        return point


def _own_limit(found: Trend, subject: Subject) -> tuple[Limit, ...]:
    """Return the limit that trade practice has for a subject.

    Where it is reckoned from a first reading, from the baseline that service visits compare with, whichever
    meter read it: from a later one it would forgive what has risen up to then.
    """
    first = found.baseline
    if subject.limit is None or first is None:
        return ()
    if subject.of_first and first.side != "exact":
        if not found.used:
            return ()
        first = found.used[0]
    value = subject.limit * (first.value if subject.of_first else 1.0)
    return (Limit(value, subject.side, subject.limit_source, subject.limit_name),)


# what they say


def _weighed(found: Trend, limits: Sequence[Limit], confidence: float) -> Trend:
    points = found.used
    if len(points) < 2:
        told = "one reading" if points else "no reading"
        silence = f"{told} that can be compared: a trend needs more"
        said = _without_interval(found, limits)
        if said is not None and said.when == "not told":
            said = None
        return replace(found, silence=silence, confidence=confidence, reached=said)
    start = points[0].at
    times = [(point.at - start) / YEAR for point in points]
    values = [point.value for point in points]
    wanted = int(fewest_points(confidence))
    try:
        slope = theil_sen_slope(times, values)
    except FormulaError:
        return replace(found, silence="all were read at one time", confidence=confidence)
    intercept = level_intercept(times, values, slope)
    found = replace(
        found,
        slope=slope,
        level=intercept + slope * times[-1],
        residual=median_residual(times, values, slope, intercept),
        probability=kendall_probability(times, values),
        confidence=confidence,
    )
    try:
        low, high = least_slope(times, values, confidence), greatest_slope(times, values, confidence)
    except FormulaError:
        return replace(found, silence=_too_few(len(points), wanted), reached=_without_interval(found, limits))
    found = replace(found, slope_low=low, slope_high=high)
    level = level_half_width(found.residual or 0.0, len(points), confidence)
    return _with_limits(found, _Line(start, times, values, level), limits)


def _too_few(count: int, wanted: int) -> str:
    return f"{count} readings, {wanted} are wanted to say how sure it is"


def _stands(found: Trend, limit: Limit) -> _Stands:
    """Say on which side of a limit the newest reading lies, also one that the slope leaves out.

    Where the visit found that the reading holds, within what meters and warmth may make of it, the line of
    all readings decides.
    """
    newest = found.newest
    if newest is None:
        return "inside"
    if newest.holds:
        known = found.level is not None and found.slope_low is not None
        return _side_of(found.level or 0.0, "exact", limit) if known else "inside"
    return _side_of(newest.value, newest.side, limit)


def _side_of(value: float, side: Side, limit: Limit) -> _Stands:
    """Say where all values lie that a reading allows: ``< 90`` may be under 60 or over it, ``< 60`` is under.

    Exactly on a limit counts as inside.
    """
    if side == "exact":
        return "past" if (value > limit.value if limit.side == "high" else value < limit.value) else "inside"
    if (side == "above") == (limit.side == "high"):  # the open end points over the limit
        past = value >= limit.value if side == "above" else value <= limit.value
        return "past" if past else "either"
    inside = value >= limit.value if side == "above" else value <= limit.value
    return "inside" if inside else "either"


def _without_interval(found: Trend, limits: Sequence[Limit]) -> Reached | None:
    """Return the limit that the newest reading has passed, or may have: more needs an interval."""
    gone = [limit for limit in limits if _stands(found, limit) == "past"]
    if gone:
        return Reached(min(gone, key=lambda limit: _way(limit, found)), "reached")
    ageing = [limit for limit in limits if limit.ages]
    either = next((limit for limit in ageing if _stands(found, limit) == "either"), None)
    if either is not None:
        return Reached(either, "open")
    return Reached(ageing[0], "not told") if ageing else None


def _way(limit: Limit, found: Trend) -> float:
    """Return how far a limit is passed: of several the last one counts, which asks for most."""
    assert found.newest is not None  # noqa: S101 - it has passed the limit
    return abs(limit.value - found.newest.value)


@dataclass(frozen=True, slots=True)
class _Line:
    """The points, to lay lines of any slope through them."""

    start: datetime
    times: Sequence[float]
    values: Sequence[float]
    level: float
    """Half-width of the interval of the line's level."""

    def crosses(self, limit: Limit, slope: float) -> float | None:
        """Return the years from the start at which a line of a slope passes a limit; None where never."""
        if slope == 0.0 or (slope < 0.0) != (limit.side == "low"):
            return None
        return time_at_limit(limit.value, slope, level_intercept(self.times, self.values, slope))

    def end(self, limit: Limit, slope: float, middle: float | None, sign: float) -> float | None:
        """Return an end of the crossing's interval: doubts of slope and level by root sum of squares."""
        crossing = self.crosses(limit, slope)
        if crossing is None:
            return None
        if middle is None:
            return crossing + sign * self.level / abs(slope)
        beside = self.level / abs(slope)
        return middle + sign * root_sum_of_squares([abs(crossing - middle), beside])

    def date(self, years: float | None) -> datetime | None:
        """Return a date that still lies within the horizon."""
        newest = self.times[-1]
        if years is None or years - newest > HORIZON / YEAR:
            return None
        return self.start + years * YEAR


def _with_limits(found: Trend, line: _Line, limits: Sequence[Limit]) -> Trend:
    """Return a trend with the limit that is told, and the one that comes after it."""
    made = [one for limit in limits if (one := _of_limit(found, line, limit)) is not None]
    ahead = sorted((one for one in made if one.earliest is not None and one.when == "dated"), key=_first)
    gone = [one for one in made if one.when == "reached"]
    if gone:
        told = min(gone, key=lambda one: _way(one.limit, found))
        after = (one for one in ahead if one.limit.side == told.limit.side)
        return replace(found, reached=told, then=next(after, None))
    either = [one for one in made if one.when == "open"]
    return replace(found, reached=next(iter((*either, *ahead, *made)), None))


def _first(one: Reached) -> tuple[datetime, datetime]:
    assert one.earliest is not None  # noqa: S101 - it is dated
    return one.middle or one.earliest, one.earliest


def _of_limit(found: Trend, line: _Line, limit: Limit) -> Reached | None:
    """Return what is said of a limit; None where it is one for the day of a visit, and kept."""
    stands = _stands(found, limit)
    if stands == "past":
        return Reached(limit, "reached")
    if not limit.ages:
        return None
    dated = _dated(found, line, limit)
    return replace(dated, when="open") if stands == "either" else dated


def _dated(found: Trend, line: _Line, limit: Limit) -> Reached:
    assert found.slope is not None  # noqa: S101 - a trend has a line here
    assert found.slope_low is not None  # noqa: S101
    assert found.slope_high is not None  # noqa: S101
    quick, slow = found.slope_low, found.slope_high
    if limit.side == "high":
        quick, slow = slow, quick
    if line.crosses(limit, quick) is None:
        return Reached(limit, "never")
    now = line.times[-1]
    by_slope = line.crosses(limit, found.slope)
    found_ends = (line.end(limit, quick, by_slope, -1.0), by_slope, line.end(limit, slow, by_slope, 1.0))
    earliest, middle, latest = (None if years is None else max(years, now) for years in found_ends)
    if line.date(earliest) is None:
        return Reached(limit, "not reached")
    return Reached(limit, "dated", line.date(middle), line.date(earliest), line.date(latest))
