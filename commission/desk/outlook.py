"""A trend in plain words, for the moment at which it is asked: what is past is not told as still to come."""

from __future__ import annotations

from datetime import datetime
from typing import Final

from commission.desk.series import Point, Reached, Trend
from commission.digits import place_of, three_digits, to_place
from commission.unit_tables import SCALE
from commission.units import plain

_GOES_ON: Final = ", if it goes on like this"
_WEE: Final = 0.1
"""What is smaller than this in a unit is told in the next smaller one: 0.7 mV, not 0.0007 V."""
_NOISE: Final = 1e-3
"""No slope of readings is surer than this share of itself; less is what binary fractions leave of a line."""
_SMALLER: Final = {"V": "mV", "A": "mA", "GΩ": "MΩ", "MΩ": "kΩ", "kΩ": "Ω", "Ω": "mΩ", "mΩ": "µΩ"}


def outlook_of(found: Trend, asked: datetime) -> str:
    """Return what a trend says in a sentence."""
    return "; ".join(outlook_lines(found, asked))


def outlook_lines(found: Trend, asked: datetime) -> tuple[str, ...]:
    """Return what a trend says, each thing by itself: what changes, and what that means for its limit.

    Parameters
    ----------
    asked
        When it is asked, with its offset. A moment before the newest reading counts as that of the reading:
        then a clock is wrong, and nothing that was read lies ahead.
    """
    newest = found.newest or (found.used[-1] if found.used else None)
    now = asked if newest is None else max(asked, newest.at)
    said = [_named(found, _change(found)), _limit(found, now), _after(found, now)]
    return tuple(part for part in said if part)


def _named(found: Trend, text: str) -> str:
    if not found.subject:
        return text
    return f"{found.subject} {text}" if found.slope is not None else f"{found.subject}: {text}"


# what changes


def _change(found: Trend) -> str:
    slope = found.slope
    if slope is None:
        return found.silence
    if found.slope_low is None or found.slope_high is None:
        return f"{_so_far(found, slope)}; {found.silence}"
    low, high = found.slope_low, found.slope_high
    if low == high == 0.0:
        return f"has stayed the same at {len(found.used)} visits"
    most, half = max(abs(low), abs(high)), (high - low) / 2.0
    unit, factor = _handy(found.unit, most)
    place = place_of(factor * half) if half > _NOISE * most else None
    a_year, sure = f"{_unit(unit)} a year".strip(), f"{100.0 * found.confidence:.4g} % sure"
    if _unclear(found):
        ends = " and ".join(_signed(factor * end, place) for end in (low, high))
        return f"shows no clear trend: between {ends} {a_year}, {sure}"
    verb = "falls" if slope < 0.0 else "rises"
    told = [_shown(factor * one, place) for one in (abs(slope), *sorted((abs(low), abs(high))))]
    return f"{verb} {told[0]} {a_year} ({' to '.join(told[1:])}, {sure})"


def _shown(size: float, place: int | None) -> str:
    """Return a size to a place, but never none where there is some: an end at 0 would say it may not move."""
    told = to_place(size, place)
    return told if told.strip("0.") or size == 0.0 else plain(float(f"{size:.1g}"))


def _so_far(found: Trend, slope: float) -> str:
    """Return what few readings show, of which no interval is known: with two digits."""
    if len(found.used) == 2:
        first, last = found.used
        change = last.value - first.value
        unit, factor = _handy(found.unit, abs(change))
        return f"changed by {_rough(factor * change)} {_unit(unit)}".rstrip() + f" since {_month(first.at)}"
    unit, factor = _handy(found.unit, abs(slope))
    return f"so far {_rough(factor * slope)} {_unit(unit)}".rstrip() + " a year"


def _rough(value: float) -> str:
    return _signed(value, place_of(abs(value))) if value % 1.0 else _signed(value, 0)


def _unclear(found: Trend) -> bool:
    low, high = found.slope_low, found.slope_high
    return low is None or high is None or low <= 0.0 <= high


# what that means for a limit


def _limit(found: Trend, now: datetime) -> str:
    reached = found.reached
    if reached is None:
        return ""
    if reached.when in {"open", "dated"}:
        return (_open if reached.when == "open" else _dated)(found, reached, now)
    limit = limit_words(found, reached)
    if reached.when == "reached":
        return _passed(found, limit)
    return {
        "not told": f"when {limit} is reached cannot be said yet",
        "never": f"{limit} is not approached",
    }.get(reached.when, f"{limit} is not reached within 40 years{_GOES_ON}")


def limit_words(found: Trend, reached: Reached) -> str:
    """Return a limit with what it means to be there: ``80 %, end of life``."""
    value = told_value(reached.limit.value, found.unit)
    return f"{value}, {reached.limit.name}," if reached.limit.name else value


def _passed(found: Trend, limit: str) -> str:
    newest = found.newest
    assert found.reached is not None  # noqa: S101 - its caller has seen it
    if newest is None:
        return f"{limit} is passed already"
    if newest.holds:
        return f"{limit} is passed already by the line of its readings"
    if newest not in found.used:
        return (
            f"{limit} is passed already by the newest reading, {_read(newest, found)}, "
            "which the slope leaves out"
        )
    if not found.reached.limit.ages:
        side = "over" if found.reached.limit.side == "high" else "under"
        return f"the newest reading, {_read(newest, found)}, is {side} its band, which ends at {limit}"
    return f"{limit} is passed already: {_read(newest, found)}"


def _open(found: Trend, reached: Reached, now: datetime) -> str:
    """Return what a bound tells that allows values on both sides of the limit, and no more."""
    assert found.newest is not None  # noqa: S101 - it is the bound
    said = (
        f"the newest reading, {_read(found.newest, found)}, may lie on either side of "
        f"{limit_words(found, reached).rstrip(',')}"
    )
    if reached.middle is None or _unclear(found) or reached.middle <= now:
        return said
    return f"{said}; by the readings before it {_dated(found, reached, now)}"


def _after(found: Trend, now: datetime) -> str:
    """Return what comes after a limit that is passed; nothing where no clear trend leads there."""
    if found.then is None or found.then.middle is None or _unclear(found):
        return ""
    return f"next, {_dated(found, found.then, now)}"


def _dated(found: Trend, reached: Reached, now: datetime) -> str:
    assert reached.earliest is not None  # noqa: S101 - it is dated
    limit = limit_words(found, reached)
    if reached.middle is None or _unclear(found):
        if _month_of(reached.earliest) > _month_of(now):
            return f"{limit} is not to be expected before {_month(reached.earliest)}{_GOES_ON}"
        return f"at the quickest {limit} may be reached by now; {_still_inside(found)}"
    if _month_of(reached.middle) < _month_of(now):
        return _overdue(found, reached, limit)
    if reached.latest is not None and _month_of(reached.earliest) == _month_of(reached.latest):
        return f"{limit} is reached in {_month(reached.middle)}{_GOES_ON}"
    about = "now" if _month_of(reached.middle) == _month_of(now) else _month(reached.middle)
    return f"{limit} is reached about {about}, {_span(reached, now)}{_GOES_ON}"


def _span(reached: Reached, now: datetime) -> str:
    """Return between which dates a limit is reached, of which the first may be past."""
    assert reached.earliest is not None  # noqa: S101 - it is dated
    late = None if reached.latest is None else _month(reached.latest)
    if _month_of(reached.earliest) <= _month_of(now):
        return "perhaps already, perhaps only decades later" if late is None else (
            f"perhaps already, in {late} at the latest"
        )  # fmt: skip
    early = _month(reached.earliest)
    if late is None:
        return f"not before {early}, perhaps only decades later"
    return f"between {early} and {late}"


def _overdue(found: Trend, reached: Reached, limit: str) -> str:
    """Return what is said where the date by the slope is past, and no reading has been over the limit."""
    assert reached.earliest is not None  # noqa: S101 - it is dated
    assert reached.middle is not None  # noqa: S101
    if reached.middle <= found.used[-1].at:
        return f"{limit} is passed by the line of its readings; {_still_inside(found)}"
    early, late = (
        _month(reached.earliest),
        "decades later" if reached.latest is None else _month(reached.latest),
    )
    span = "" if early == late else f" (between {early} and {late})"
    about = _month(reached.middle)
    return f"by its slope {limit} was to be reached about {about}{span}; {_still_inside(found)}: read again"


def _still_inside(found: Trend) -> str:
    newest = found.newest or found.used[-1]
    return f"the newest reading, {_read(newest, found)}, was still inside"


# numbers and dates


def _read(point: Point, found: Trend) -> str:
    """Return a reading with its sign and its month: ``< 90 µΩ in May 2031``."""
    sign = {"exact": "", "above": "> ", "below": "< "}[point.side]
    return f"{sign}{told_value(point.value, found.unit)} in {_month(point.at)}"


def told_value(value: float, unit: str) -> str:
    """Return a value in a unit that needs few noughts: ``0.84 mΩ`` of 0.00084 Ω."""
    handy, factor = _handy(unit, abs(value))
    return f"{three_digits(factor * value)} {'' if handy == '1' else handy}".rstrip()


def _handy(unit: str, size: float) -> tuple[str, float]:
    """Return the unit in which a size is told, and by what it is multiplied for that."""
    factor = 1.0
    while 0.0 < factor * size < _WEE and unit in _SMALLER:
        smaller = _SMALLER[unit]
        factor *= SCALE[unit][1] / SCALE[smaller][1]
        unit = smaller
    return unit, factor


def _unit(unit: str) -> str:
    return {"%": "points", "1": ""}.get(unit, unit)


def _signed(value: float, place: int | None) -> str:
    told = to_place(abs(value), place)
    return told if not told.strip("0.") else f"{'−' if value < 0 else '+'}{told}"


def _month_of(at: datetime) -> tuple[int, int]:
    return at.year, at.month


def _month(at: datetime) -> str:
    return f"{_MONTHS[at.month - 1]} {at.year}"


_MONTHS: Final = (
    "January", "February", "March", "April", "May", "June", "July", "August", "September", "October",
    "November", "December",
)  # fmt: skip
"""Of our own, since ``strftime`` speaks the machine's language."""
