"""A trend as lines: the chart with its limits, every point, and what was left out and why."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

from commission.desk.chart import Glyphs, Mark, chart
from commission.desk.series import Limit, Point, Trend
from commission.units import plain


def drawn(
    found: Trend, limits: Sequence[Limit], *, width: int = 78, height: int = 14, glyphs: Glyphs = "box"
) -> str:
    """Return the chart of a trend, with the limit that it runs into, else those that were handed over."""
    points = [*found.used, *(one.point for one in found.left_out if one.point.unit == found.unit)]
    marks = [Mark(point.at, point.value, outside=_outside(point)) for point in points]
    shown = [found.reached.limit] if found.reached is not None else list(limits)
    named = [
        (limit.value, f"{limit.name or limit.side} {plain(float(f'{limit.value:.4g}'))}") for limit in shown
    ]
    return chart(marks, named, width=width, height=height, glyphs=glyphs)


def _outside(point: Point) -> bool:
    return point.verdict in {"fail", "conditional fail", "stop work"}


def points_lines(found: Trend) -> Iterator[str]:
    """Yield the sentence, every point that counts, and those that do not with the reason."""
    yield found.outlook or found.silence or "nothing can be said"
    if found.corrected_for:
        yield f"values are {found.corrected_for}"
    if found.reached is not None:
        yield f"limit: {found.reached.limit.source}"
    yield from found.remarks
    yield ""
    yield "points that count" if found.used else "no point counts"
    for point in found.used:
        yield f"  {_point(point, found.unit)}"
    if found.left_out:
        yield "left out"
    for one in found.left_out:
        yield f"  {_point(one.point, one.point.unit)}  {one.why}"


def _point(point: Point, unit: str) -> str:
    sign = {"above": ">", "below": "<"}.get(point.side, "")
    value = f"{sign}{plain(float(f'{point.value:.5g}'))} {'' if unit == '1' else unit}".strip()
    beside = f"{point.temperature:.0f} °C" if point.temperature is not None else ""
    told = (f"{point.at:%Y-%m-%d}", f"{value:<14}", f"{beside:<6}", point.verdict or "", point.instrument)
    return "  ".join(told).rstrip()


def trend_json(name: str, found: Trend) -> dict[str, Any]:
    """Return a trend with the stable keys of ``trend --json``."""
    reached = found.reached
    return {
        "reading": name,
        "unit": found.unit,
        "outlook": found.outlook,
        "silence": found.silence or None,
        "slope_a_year": found.slope,
        "slope_low": found.slope_low,
        "slope_high": found.slope_high,
        "confidence": found.confidence,
        "level": found.level,
        "corrected_for": found.corrected_for or None,
        "remarks": list(found.remarks),
        "limit": None if reached is None else {
            "value": reached.limit.value, "side": reached.limit.side, "name": reached.limit.name or None,
            "source": reached.limit.source, "when": reached.when,
            "about": None if reached.middle is None else reached.middle.date().isoformat(),
            "earliest": None if reached.earliest is None else reached.earliest.date().isoformat(),
            "latest": None if reached.latest is None else reached.latest.date().isoformat(),
        },
        "points": [_point_json(point) for point in found.used],
        "left_out": [_point_json(one.point) | {"why": one.why} for one in found.left_out],
    }  # fmt: skip


def _point_json(point: Point) -> dict[str, Any]:
    return {
        "at": point.at.isoformat(), "value": point.value, "unit": point.unit, "side": point.side,
        "verdict": point.verdict, "visit": point.visit, "instrument": point.instrument or None,
        "temperature": point.temperature,
    }  # fmt: skip
