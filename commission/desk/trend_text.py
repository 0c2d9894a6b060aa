"""A trend as lines: the chart with its limits, every point, and what was left out and why."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Iterator, Sequence
from datetime import datetime
from typing import Any, Final, Literal

from commission.desk.chart import Glyphs, Mark, chart
from commission.desk.outlook import outlook_lines, outlook_of, told_value
from commission.desk.series import Limit, Point, Reached, Trend
from commission.units import plain

_WIDE: Final = 80
_SIGNS: Final[dict[str, Literal[".", "^", "v"]]] = {"exact": ".", "above": "^", "below": "v"}
CHART_SIGNS: Final = "o in band   X out of it   . left out   ^ v the true value lies above, below"


def drawn(
    found: Trend, limits: Sequence[Limit], *, width: int = 78, height: int = 14, glyphs: Glyphs = "box"
) -> str:
    """Return the chart of a trend, with the limit that it runs into, else those that were handed over.

    An entry that was put right is not drawn: a slip of the keys would leave no room for the readings.
    """
    marks = [Mark(point.at, point.value, outside=_outside(point)) for point in found.used]
    marks += [
        Mark(point.at, point.value, outside=_outside(point), sign=_SIGNS[point.side])
        for point in (one.point for one in found.left_out)
        if point.unit == found.unit and not point.corrected
    ]
    shown = [found.reached.limit] if found.reached is not None else list(limits)
    named = [
        (limit.value, f"{limit.name or limit.side} {plain(float(f'{limit.value:.4g}'))}") for limit in shown
    ]
    return chart(marks, named, width=width, height=height, glyphs=glyphs)


def _outside(point: Point) -> bool:
    return point.verdict in {"fail", "conditional fail", "stop work"}


def said_lines(found: Trend, asked: datetime) -> Iterator[str]:
    """Yield what a trend says, what its values are and where its limit comes from."""
    said = outlook_lines(found, asked)
    yield from said or ("nothing can be said",)
    if found.corrected_for:
        yield f"values are {found.corrected_for}"
    if found.reached is not None:
        yield f"limit: {found.reached.limit.source}"
    yield from found.remarks


def points_lines(found: Trend) -> Iterator[str]:
    """Yield every point that counts, and those that do not with the reason below each."""
    meters = {point.instrument for point in (*found.used, *(one.point for one in found.left_out))}
    meter = next(iter(meters)) if len(meters) == 1 else ""
    all_with = f", all read with {meter}" if meter else ""
    yield f"{'points that count' if found.used else 'no point counts'}{all_with}"
    restated = bool(found.corrected_for)
    for point in found.used:
        yield f"  {_point(point, found.unit, restated=restated, meter=not meter)}"
    if found.left_out:
        yield "left out"
    for one in found.left_out:
        again = bool(one.point.compared_as)
        yield f"  {_point(one.point, one.point.unit, restated=again, meter=not meter)}"
        yield f"      {one.why}"


def folded(lines: Iterable[str]) -> Iterator[str]:
    """Yield lines that fit a terminal of 80 columns; what goes on stands a little further in."""
    for line in lines:
        inner = " " * (len(line) - len(line.lstrip(" ")) + 2)
        yield from textwrap.wrap(line, _WIDE - 1, subsequent_indent=inner, break_on_hyphens=False) or [""]


def _point(point: Point, unit: str, *, restated: bool, meter: bool) -> str:
    """Return a point as a line; a value that was worked out has no digits that a meter showed."""
    sign = {"above": ">", "below": "<"}.get(point.side, "")
    as_read = f"{plain(float(f'{point.value:.5g}'))} {'' if unit == '1' else unit}".strip()
    value = f"{sign}{told_value(point.value, unit) if restated else as_read}"
    beside = f"{point.temperature:.0f} °C" if point.temperature is not None else ""
    told = (f"{point.at:%Y-%m-%d}", f"{value:<10}", f"{beside:>6}", point.verdict or "",
            point.instrument if meter else "")  # fmt: skip
    return "  ".join(told).rstrip()


def trend_json(name: str, found: Trend, asked: datetime) -> dict[str, Any]:
    """Return a trend with the stable keys of ``trend --json``."""
    return {
        "reading": name,
        "unit": found.unit,
        "asked_at": asked.isoformat(timespec="seconds"),
        "outlook": outlook_of(found, asked),
        "silence": found.silence or None,
        "slope_a_year": found.slope,
        "slope_low": found.slope_low,
        "slope_high": found.slope_high,
        "confidence": found.confidence,
        "level": found.level,
        "corrected_for": found.corrected_for or None,
        "remarks": list(found.remarks),
        "limit": _reached_json(found.reached),
        "next_limit": _reached_json(found.then),
        "points": [_point_json(point) for point in found.used],
        "left_out": [_point_json(one.point) | {"why": one.why} for one in found.left_out],
    }


def _reached_json(reached: Reached | None) -> dict[str, Any] | None:
    if reached is None:
        return None
    limit = reached.limit
    return {
        "value": limit.value, "side": limit.side, "name": limit.name or None, "source": limit.source,
        "ages": limit.ages, "when": reached.when,
        "about": _day(reached.middle), "earliest": _day(reached.earliest), "latest": _day(reached.latest),
    }  # fmt: skip


def _day(at: datetime | None) -> str | None:
    return None if at is None else at.date().isoformat()


def _point_json(point: Point) -> dict[str, Any]:
    return {
        "at": point.at.isoformat(), "value": point.value, "unit": point.unit, "side": point.side,
        "verdict": point.verdict, "visit": point.visit, "instrument": point.instrument or None,
        "temperature": point.temperature,
    }  # fmt: skip
