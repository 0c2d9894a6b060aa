"""A trend in plain words."""

from __future__ import annotations

from datetime import datetime
from typing import Final

from commission.desk.series import Reached, Trend
from commission.desk.subjects import Subject
from commission.units import plain


def outlook_of(found: Trend, subject: Subject) -> str:
    """Return what a trend says in a sentence or two, or why it says nothing."""
    said = [_change(found), _date(found)]
    text = "; ".join(part for part in said if part)
    if not subject.name:
        return text
    return f"{subject.name} {text}" if found.slope is not None else f"{subject.name}: {text}"


def _change(found: Trend) -> str:
    slope, unit = found.slope, _per_year(found.unit)
    if slope is None:
        return found.silence
    if found.slope_low is None or found.slope_high is None:
        if len(found.used) == 2:
            first, last = found.used
            change = last.value - first.value
            return (
                f"changed by {_signed(change)} {_unit(found.unit)} since {_month(first.at)}; {found.silence}"
            )
        return f"so far {_signed(slope)} {unit}; {found.silence}"
    low, high = found.slope_low, found.slope_high
    if low == high == 0.0:
        return f"has stayed the same at {len(found.used)} visits"
    if _unclear(found):
        return f"shows no clear trend: between {_signed(low)} and {_signed(high)} {unit}, {_sure(found)}"
    verb = "falls" if slope < 0.0 else "rises"
    near, far = sorted((abs(low), abs(high)))
    return f"{verb} {_number(abs(slope))} {unit} ({_number(near)} to {_number(far)}, {_sure(found)})"


def _date(found: Trend) -> str:
    reached = found.reached
    if reached is None:
        return ""
    limit = f"{_number(reached.limit.value)} {_limit_unit(found.unit)}".strip()
    named = f"{limit}, {reached.limit.name}," if reached.limit.name else limit
    if reached.when == "reached":
        return f"{named} is passed already{_left_out(found)}"
    if reached.when == "not told":
        return f"when {limit} is reached cannot be said yet"
    if reached.when == "never":
        return f"{limit} is not approached"
    if reached.when == "not reached":
        return f"{limit} is not reached within 40 years if it goes on like this"
    return f"{named} {_when(found, reached)}, if it goes on like this"


def _left_out(found: Trend) -> str:
    """Return by which reading a limit is passed, where the slope leaves that one out."""
    newest = found.newest
    if newest is None or newest in found.used:
        return ""
    sign = {"exact": "", "above": "> ", "below": "< "}[newest.side]
    told = f"{sign}{_number(newest.value)} {_limit_unit(found.unit)}".strip()
    return f" by the newest reading, {told} in {_month(newest.at)}, which the slope leaves out"


def _unclear(found: Trend) -> bool:
    low, high = found.slope_low, found.slope_high
    return low is None or high is None or low <= 0.0 <= high


def _sure(found: Trend) -> str:
    return f"{100.0 * found.confidence:.4g} % sure"


def _when(found: Trend, reached: Reached) -> str:
    assert reached.earliest is not None  # noqa: S101 - it is dated
    early = _month(reached.earliest)
    if reached.middle is None or _unclear(found):
        return f"is not reached before {early}"
    about = _month(reached.middle)
    if reached.latest is None:
        return f"is reached about {about}, not before {early}, perhaps only decades later"
    late = _month(reached.latest)
    if early == late:
        return f"is reached in {about}"
    return f"is reached about {about}, between {early} and {late}"


def _month(at: datetime) -> str:
    return f"{_MONTHS[at.month - 1]} {at.year}"


_MONTHS: Final = (
    "January", "February", "March", "April", "May", "June", "July", "August", "September", "October",
    "November", "December",
)  # fmt: skip
"""Of our own, since ``strftime`` speaks the machine's language."""


def _unit(unit: str) -> str:
    return "points" if unit == "%" else unit


def _limit_unit(unit: str) -> str:
    return "" if unit == "1" else unit


def _per_year(unit: str) -> str:
    return f"{_unit(_limit_unit(unit))} a year".strip()


def _number(value: float) -> str:
    return plain(float(f"{value:.3g}"))


def _signed(value: float) -> str:
    return f"{'−' if value < 0 else '+'}{_number(abs(value))}"
