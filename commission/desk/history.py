"""From visits of one site to the series of one reading, and to its trend."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import datetime
from typing import Final, Literal

from commission.checklist.types import ReadingKey
from commission.desk.alike import Alike, alike_of
from commission.desk.series import CONFIDENCE, Limit, Point, Trend
from commission.desk.subjects import subject_of
from commission.desk.trend import trend
from commission.digits import three_digits
from commission.unit_tables import SCALE
from commission.units import plain
from commission.visit.types import Drift, Judgement, Reading, Visit

_TEMPERATURE: Final = "battery-temperature"
_CHARGE: Final = "state-of-charge"


def trend_of(visits: Sequence[Visit], key: ReadingKey, *, confidence: float = CONFIDENCE) -> Trend:
    """Return the trend of a reading over the visits of a site."""
    ordered = sorted(visits, key=lambda visit: visit.started_at)
    return trend(series_of(ordered, key), limits_of(ordered, key), step=key.step, confidence=confidence)


def series_of(visits: Sequence[Visit], key: ReadingKey) -> tuple[Point, ...]:
    """Return every number that the visits of a site have read for a key, in order of time."""
    begun = _baselines(visits, key)
    ordered = sorted(visits, key=lambda visit: visit.started_at)
    alike = alike_of(ordered, key)
    return tuple(
        point if alike is None or point.corrected else _as_compared(point, alike)
        for visit in ordered
        for point in _of_visit(visit, key, begins=visit.id in begun)
    )


def _as_compared(point: Point, alike: Alike) -> Point:
    """Return a point with the number that was compared, or why there is none."""
    found = alike.values.get(point.visit)
    if found is None:
        return replace(point, unfit=alike.why_not(point.visit))
    value, side = found
    holds = point.visit in alike.holding
    return replace(point, value=value, unit=alike.unit, side=side, compared_as=alike.name, holds=holds)


def _baselines(visits: Sequence[Visit], key: ReadingKey) -> set[str]:
    """Return the visits with which a new baseline begins for a reading.

    Where the record of the visit that began it is lost, a later one still names it: the next visit stands in.
    """
    found = {
        visit.id
        for visit in visits
        if visit.service is not None and set(key.parts) & set(visit.service.changed)
    }
    known = {visit.id for visit in visits}
    for visit in visits:
        for one in () if visit.service is None else visit.service.earlier:
            if one.baseline and one.key == key and one.visit not in known:
                later = (other for other in visits if other.started_at > one.measured_at)
                found |= {other.id for other in [min(later, key=lambda other: other.started_at)]}
    return found


def _of_visit(visit: Visit, key: ReadingKey, *, begins: bool) -> Iterator[Point]:
    entries = [reading for reading in visit.readings if reading.key == key and reading.kind == "number"]
    last = entries[-1] if entries else None
    for place, reading in enumerate(entries):
        again = last is not None and reading is not last and _same(reading, last)
        found = None if again else _value(reading)
        if found is None:
            continue
        value, unit = found
        judgement = reading.judgement
        yield Point(
            reading.measured_at,
            value,
            unit,
            visit.id,
            reading.side,
            None if judgement is None else judgement.verdict,
            reading is not last,
            _meter(visit, reading.instrument),
            _beside(visit, _TEMPERATURE, reading.measured_at),
            _share(_beside(visit, _CHARGE, reading.measured_at)),
            begins,
            unfit=_superseded(entries[place + 1 :]),
        )


def _superseded(later: Sequence[Reading]) -> str:
    """Return why an entry does not count that others follow which put nothing right, as of a condition."""
    if not later or any(reading.corrects for reading in later):
        return ""
    return "read again later at the same visit, which counts"


def _same(reading: Reading, other: Reading) -> bool:
    """Say whether an entry only judges another one anew."""
    return reading.measured_at == other.measured_at and reading.value == other.value


def _value(reading: Reading) -> tuple[float, str] | None:
    """Return what of a reading is compared over the years, and its unit."""
    judgement = reading.judgement
    if subject_of(reading.step).takes_compared:
        if judgement is None or judgement.compared is None:
            return None
        return judgement.compared, judgement.unit
    if isinstance(reading.value, bool | str):
        return None
    return float(reading.value), reading.unit


def _meter(visit: Visit, ident: str | None) -> str:
    """Return by which a meter is told from others: its kind, and its serial number where one is known."""
    found = next((one for one in visit.instruments if one.id == ident), None)
    return "" if found is None else f"{found.id} {found.serial}".strip()


def _beside(visit: Visit, step: str, moment: datetime) -> float | None:
    """Return the newest reading of a condition up to a moment, else the first of the visit."""
    found = [
        reading
        for reading in visit.readings
        if reading.step == step and reading.kind == "number" and reading.side == "exact"
    ]
    before = [reading for reading in found if reading.measured_at <= moment]
    chosen = before[-1] if before else next(iter(found), None)
    return None if chosen is None or isinstance(chosen.value, bool | str) else float(chosen.value)


def _share(percent: float | None) -> float | None:
    return None if percent is None else percent / 100.0


def limits_of(visits: Sequence[Visit], key: ReadingKey) -> tuple[Limit, ...]:
    """Return what a reading must not pass: the limits of its change, and its band at the newest visit.

    The limits of change are those of the newest visit that could compare it with the baseline of today: what
    was reckoned from a part that was changed since is no limit of the new one.

    A limit is one of ageing, of which a date may be told, where the checklist limits how far the reading may
    go from its baseline, since it does so of what age moves; or where it is a resistance, which belongs to a
    part and has the same limit on every day. Any other band was made for the day of its visit: of a
    temperature, the light, a state of charge, a voltage or a current as things stood. Nothing brings a
    reading to such a limit but another day, so that only a reading outside it is told. What the trade has a
    limit of its own for stands in :mod:`commission.desk.subjects` and needs none of these.
    """
    ordered = sorted(visits, key=lambda visit: visit.started_at)
    alike = alike_of(ordered, key)
    begun = _baselines(ordered, key)
    first = max((place for place, visit in enumerate(ordered) if visit.id in begun), default=0)
    judged = [
        (reading, reading.judgement)
        for visit in reversed(ordered[first:])
        for reading in reversed(visit.readings)
        if reading.key == key and reading.judgement is not None
    ]
    changes = next((found for one in judged if (found := tuple(_of_drifts(*one, alike)))), ())
    if alike is not None:
        return changes
    bands = (
        tuple(_of_band(judgement, ages=bool(changes) or _is_resistance(reading.unit)))
        for reading, judgement in judged
    )
    return (*changes, *next((band for band in bands if band), ()))


def _is_resistance(unit: str) -> bool:
    return unit in SCALE and SCALE[unit][0] == "Ω"


def _of_drifts(reading: Reading, judgement: Judgement, alike: Alike | None) -> Iterator[Limit]:
    for drift in judgement.drifts:
        if drift.since != "baseline" or not _is_of_the_points(reading, drift, alike):
            continue
        # beside a bound only that side is sure on which the true baseline asks for less
        if drift.low is not None and drift.before_side != "below":
            yield _limit_of(drift, drift.low, "low", reading.unit)
        if drift.high is not None and drift.before_side != "above":
            yield _limit_of(drift, drift.high, "high", reading.unit)


def _limit_of(drift: Drift, change: float, side: Literal["low", "high"], unit: str) -> Limit:
    """Return the limit of a change as a value, named by the change; its source tells the baseline."""
    words = f"{plain(abs(change))} {drift.unit}".rstrip()
    sign = {"below": "< ", "above": "> "}.get(drift.before_side or "", "")
    before = f"{sign}{three_digits(drift.before)} {drift.compared_unit or unit}".rstrip()
    return Limit(
        _moved(drift, change),
        side,
        f"the checklist; the baseline of {drift.measured_at:%Y-%m-%d} is {before}",
        f"{words} {'over' if side == 'high' else 'under'} the baseline",
    )


def _is_of_the_points(reading: Reading, drift: Drift, alike: Alike | None) -> bool:
    """Say whether a drift compared what the points of the trend are.

    A distance from the middle of a column, an error of a display, a value at full sun or a resistance worked
    out from a drop is no limit of the reading itself: every voltage lies beyond a few hundredths of a volt.
    """
    if alike is not None:
        return (drift.compared_as, drift.compared_unit or "") == (alike.name, alike.unit)
    if subject_of(reading.step).correct is not None:
        return True
    return not isinstance(reading.value, str) and math.isclose(drift.now, reading.value, rel_tol=1e-9)


def _moved(drift: Drift, change: float) -> float:
    """Return the value at which a change is used up; in % it is a share of the earlier reading."""
    return drift.before * (1.0 + change / 100.0) if drift.unit == "%" else drift.before + change


def _of_band(judgement: Judgement, *, ages: bool) -> Iterator[Limit]:
    if judgement.compared is not None:  # the band is then not one of the reading itself
        return
    says = "band of the newest visit"
    if judgement.low is not None:
        yield Limit(judgement.low, "low", says, "", ages)
    if judgement.high is not None:
        yield Limit(judgement.high, "high", says, "", ages)
