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
from typing import Final

from commission.desk.series import CONFIDENCE
from commission.formulas.trend_interval import median_ranks
from commission.visit.kit import NO_METER
from commission.visit.state import Readings
from commission.visit.types import Visit

FEWEST: Final = 8
"""Readings of a meter under which nothing is said of it."""
NARROW: Final = 0.05
"""Half-width of a band, as a share of its middle, whose readings tell of a meter best."""
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
        """Return it in words."""
        more = "more" if self.off > 0.0 else "less"
        least, most = sorted((abs(self.least), abs(self.most)))
        if not self.odd:
            return f"{self.meter}: reads like the others, over {self.readings} readings at {self.sites} sites"
        return (
            f"{self.meter}: reads {100.0 * abs(self.off):.2g} % {more} than the others"
            f" ({100.0 * least:.2g} to {100.0 * most:.2g} %),"
            f" over {self.readings} readings at {self.sites} sites: have it calibrated"
        )


def odd_meters(
    readings: Iterable[MeterReading], *, confidence: float = CONFIDENCE, matters: float = 0.002
) -> tuple[MeterFound, ...]:
    """Return every meter with enough readings, the furthest off first.

    Parameters
    ----------
    confidence
        Share of whole fleets without a bad meter of which no meter is called odd.
    matters
        Least share by which a meter has to be off before it is called odd: 0.2 %, about what a good meter's
        maker promises.
    """
    shares: dict[str, list[tuple[float, MeterReading]]] = defaultdict(list)
    for step in _by_step(readings).values():
        if len({reading.meter for reading in step}) < 2:
            continue
        for reading in step:
            shares[reading.meter].append((_share(reading), reading))
    usual = _usual(shares)
    counted = {meter: rows for meter, rows in shares.items() if len(rows) >= FEWEST}
    tested = 1.0 - (1.0 - confidence) / max(len(counted), 1)
    found = [_found(meter, rows, usual, tested, matters) for meter, rows in counted.items()]
    return tuple(sorted(found, key=lambda one: (not one.odd, -abs(one.off), one.meter)))


def readings_of_meters(visits: Iterable[Visit]) -> Iterator[MeterReading]:
    """Yield the readings of visits that were judged by a band on both sides, with their meters."""
    for visit in visits:
        kit = {one.id: one for one in visit.instruments if one.kind not in NO_METER and one.serial}
        for reading in Readings(visit.readings, visit.plant_changes).all_current():
            meter, judged = kit.get(reading.instrument or ""), reading.judgement
            if meter is None or judged is None or judged.compared is not None or reading.side != "exact":
                continue
            if judged.low is None or judged.high is None or judged.unit != reading.unit:
                continue
            if isinstance(reading.value, float) and not isinstance(reading.value, bool):
                name = f"{meter.kind} {meter.serial}"
                yield MeterReading(
                    name, meter.kind, reading.step, visit.site, reading.value, judged.low, judged.high
                )


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
