"""One bad meter, seen across sites: what it reads lies elsewhere in its bands than what others read.

A reading is put beside the middle of its own band, as a share of it; what all meters together read at the
same step is taken off, so that a band that lies a little to one side blames nobody. The shares of one meter
then have a median, whose interval needs no distribution: it follows from how many lie on either side.
"""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from statistics import median
from typing import Any, Final

from commission.desk.listing import Answers
from commission.desk.series import CONFIDENCE
from commission.formulas.trend_interval import median_ranks
from commission.visit.kit import NO_METER

FEWEST: Final = 8
"""Readings of a meter under which nothing is said of it."""
NARROW: Final = 0.05
"""Half-width of a band, as a share of its middle, whose readings tell of a meter best."""
CANDIDATES: Final = 20
"""Instruments that are looked at closely: those whose averages lie furthest from others of their kind."""
BESIDE: Final = 40
"""Instruments of each kind beside which these are held."""
NEWEST: Final = 600
"""Readings of each that count, the newest."""
WIDE: Final = 0.25
"""The same, for kinds of meters of which too few readings have a narrow band: a clamp's."""


@dataclass(frozen=True, slots=True)
class MeterReading:
    """One reading with a band on both sides."""

    meter: str
    """By which it is told from others: its kind and serial number."""
    kind: str
    step: str
    site: str
    value: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class MeterFound:
    """How far a meter reads from the others."""

    meter: str
    kind: str
    readings: int
    sites: int
    off: float
    """Median share by which it reads more than the others at the same steps."""
    least: float
    most: float
    """Interval of that."""
    odd: bool
    """It reads otherwise than the others, and not by chance."""

    @property
    def says(self) -> str:
        """Return how it reads, in words."""
        more = "more" if self.off > 0.0 else "less"
        least, most = map(_percent, sorted((abs(self.least), abs(self.most))))
        if not self.odd:
            return f"reads like the others, over {self.readings} readings at {self.sites} sites"
        return (
            f"reads {_percent(abs(self.off))} % {more} than the others"
            f" ({least} to {most} %),"
            f" over {self.readings} readings at {self.sites} sites: have it calibrated"
        )


def _percent(share: float) -> str:
    return f"{100.0 * share:#.2g}".rstrip(".")


def odd_meters(
    readings: Iterable[MeterReading],
    *,
    confidence: float = CONFIDENCE,
    matters: float = 0.002,
    among: int = 0,
) -> tuple[MeterFound, ...]:
    """Return every meter with enough readings, the furthest off first.

    Parameters
    ----------
    confidence
        Share of whole fleets without a bad meter of which no meter is called odd.
    matters
        Least share by which a meter has to be off before it is called odd: 0.2 %, about what a good meter's
        maker promises.
    among
        Meters from which these were chosen because they look odd; 0 where these are all. Of more meters one
        looks odd by chance more often.
    """
    shares: dict[str, list[tuple[float, MeterReading]]] = defaultdict(list)
    for step in _by_step(readings).values():
        if len({reading.meter for reading in step}) < 2:
            continue
        for reading in step:
            shares[reading.meter].append((_share(reading), reading))
    usual = _usual(shares)
    counted = {meter: rows for meter, rows in shares.items() if len(rows) >= FEWEST}
    tested = 1.0 - (1.0 - confidence) / max(len(counted), among, 1)
    found = [_found(meter, rows, usual, tested, matters) for meter, rows in counted.items()]
    return tuple(sorted(found, key=lambda one: (not one.odd, -abs(one.off), one.meter)))


@dataclass(frozen=True, slots=True)
class MeterTold:
    """An instrument of several sites, and how it reads where it was looked at closely."""

    row: dict[str, Any]
    """Of the query ``meters``."""
    found: MeterFound | None = None
    close: bool = False
    """It was looked at closely; without ``found`` it has too few readings that tell anything."""

    @property
    def name(self) -> str:
        """Return what it is called: kind or label, and serial number."""
        return f"{self.row['label'] or self.row['kind']} {self.row['name']}"


def meters_told(index: Answers) -> tuple[MeterTold, ...]:
    """Return the instruments of several sites: those that read otherwise, others looked at closely, the rest.

    The index tells which look odd; those are looked at closely, beside the most used ones of their kind.
    """
    rows = [row for row in index.ask("meters", least=FEWEST) if row["kind"] not in NO_METER]
    looked_at = rows[:CANDIDATES]
    names = dict.fromkeys(row["name"] for row in looked_at)
    for kind in dict.fromkeys(row["kind"] for row in looked_at):
        names |= dict.fromkeys(row["name"] for row in index.ask("meters of kind", kind=kind, limit=BESIDE))
    readings = (reading for name in names for reading in _readings_of(index, name))
    among = max((row["meters"] for row in rows), default=0)
    found = {one.meter: one for one in odd_meters(readings, among=among)}
    order = {meter: place for place, meter in enumerate(found)}
    told = [MeterTold(row, found.get(row["name"]), close=True) for row in looked_at]
    told.sort(key=lambda one: order.get(one.row["name"], len(order)))
    return (*told, *(MeterTold(row) for row in rows[CANDIDATES:]))


def _readings_of(index: Answers, meter: str) -> Iterator[MeterReading]:
    for row in index.ask("banded readings of meter", meter=meter, wide=WIDE, limit=NEWEST):
        yield MeterReading(
            meter, row["kind"], row["step"], row["site"], row["value"], row["low"], row["high"]
        )


def meter_words(told: MeterTold) -> str:
    """Return what is to be said of an instrument: how it reads, and how much was out of band with it."""
    row, found = told.row, told.found
    out = f"{row['failed']:,} of {row['judged']:,} judged readings out of band"
    if found is None:
        why = "too few readings with narrow bands" if told.close else "nothing odd in its averages"
        return f"not judged: {why}; {out}, at {row['sites']:,} sites"
    return f"{found.says}; {out}"


def meter_lines(told: Sequence[MeterTold]) -> Iterator[str]:
    """Yield a line for every instrument that was looked at closely, then how many were not."""
    close = [one for one in told if one.found is not None]
    for one in close:
        yield f"{one.row['name']:<20} {one.row['kind']}: {meter_words(one)}"
    left = len(told) - len(close)
    if left:
        yield f"{left:,} more lie closer to the others, or have too few readings to be looked at"
    if not told:
        yield "no instrument was read with at several sites yet"


def meters_json(told: Sequence[MeterTold]) -> list[dict[str, Any]]:
    """Return the instruments that were looked at closely with the stable keys of ``meters --json``."""
    return [
        {"meter": one.row["name"], "kind": one.row["kind"], "label": one.row["label"], "odd": found.odd,
         "off": found.off, "least": _finite(found.least), "most": _finite(found.most),
         "readings": found.readings, "sites": found.sites, "judged": one.row["judged"],
         "failed": one.row["failed"], "says": found.says}
        for one in told if (found := one.found) is not None
    ]  # fmt: skip


def _finite(share: float) -> float | None:
    return share if math.isfinite(share) else None


def _by_step(readings: Iterable[MeterReading]) -> dict[tuple[str, str], list[MeterReading]]:
    """Return the readings that tell something of a meter, by step and kind of meter."""
    told = [(_width(reading), reading) for reading in readings]
    narrow: Counter[str] = Counter(reading.kind for width, reading in told if width <= NARROW)
    count = Counter(kind for kind, _ in {(reading.kind, reading.meter) for _, reading in told})
    widest = {kind: NARROW if narrow[kind] >= FEWEST * count[kind] else WIDE for kind in count}
    found: dict[tuple[str, str], list[MeterReading]] = defaultdict(list)
    for width, reading in told:
        if width <= widest[reading.kind]:
            found[reading.step, reading.kind].append(reading)
    return found


def _width(reading: MeterReading) -> float:
    """Return the half-width of a reading's band as a share of its middle; infinite where there is none."""
    middle, half = (reading.low + reading.high) / 2.0, (reading.high - reading.low) / 2.0
    usable = all(map(math.isfinite, (reading.value, middle, half))) and half > 0.0 and middle
    return half / abs(middle) if usable and reading.meter else math.inf


def _share(reading: MeterReading) -> float:
    return reading.value / ((reading.low + reading.high) / 2.0) - 1.0


def _usual(shares: dict[str, list[tuple[float, MeterReading]]]) -> dict[tuple[str, str], float]:
    """Return where readings of a step lie, as the median over meters of each one's own median."""
    by_meter: dict[tuple[str, str], dict[str, list[float]]] = defaultdict(lambda: defaultdict(list))
    for rows in shares.values():
        for share, reading in rows:
            by_meter[reading.step, reading.kind][reading.meter].append(share)
    return {step: median(median(own) for own in meters.values()) for step, meters in by_meter.items()}


def _found(
    meter: str,
    rows: Sequence[tuple[float, MeterReading]],
    usual: dict[tuple[str, str], float],
    confidence: float,
    matters: float,
) -> MeterFound:
    off = sorted(share - usual[reading.step, reading.kind] for share, reading in rows)
    rank = int(median_ranks(len(off), confidence))
    least, most = (off[rank - 1], off[-rank]) if rank else (-math.inf, math.inf)
    middle = median(off)
    odd = (least > 0.0 or most < 0.0) and abs(middle) >= matters
    sites = len({reading.site for _, reading in rows})
    return MeterFound(meter, rows[0][1].kind, len(off), sites, middle, least, most, odd)
