"""Instruments: what their makers promise, when they are due, and what a kit is too coarse to decide."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Final

from commission.checklist.types import Ask, Expected, InstrumentKind, ReadingKey
from commission.errors import EntryError
from commission.formulas.uncertainty import (
    accuracy_half_width,
    expanded_uncertainty,
    pass_is_possible,
    standard_uncertainty,
)
from commission.units import convert, plain
from commission.visit.types import Accuracy, Instrument

COVERAGE: Final = 2.0
"""Coverage factor of every uncertainty here."""
NO_METER: Final[frozenset[InstrumentKind]] = frozenset({"none", "eye", "display"})
"""What is counted or read off a display is taken as shown; a device's own error is part of its band."""
_INTERVAL_MONTHS: Final[dict[InstrumentKind, int]] = {"hydrometer": 24, "infrared camera": 24}
"""Recalibration in the field; 12 months for everything else (common practice)."""


@dataclass(frozen=True, slots=True)
class Statement:
    """A maker's accuracy statement on the range in use, in the unit of the reading."""

    percent: float
    digits: float
    resolution: float
    up_to: float

    def half_width(self, value: float) -> float:
        """Return the half-width of the statement at a value."""
        return accuracy_half_width(value, self.percent, digits=self.digits, resolution=self.resolution)

    def uncertainty(self, value: float) -> float:
        """Return the expanded uncertainty at a value; the statement counts as a rectangle."""
        return expanded_uncertainty(standard_uncertainty(self.half_width(value)), COVERAGE)


def statement_at(instrument: Instrument, value: float, unit: str) -> Statement | None:
    """Return the statement of the lowest range that holds a value, None where no range does.

    An infinite value counts as at the end of the highest range.
    """
    found = sorted(_statements(instrument, unit), key=lambda item: item.up_to)
    if math.isinf(value):
        return found[-1] if found else None
    return next((item for item in found if abs(value) <= item.up_to * (1.0 + 1e-9)), None)


def range_end(instrument: Instrument, unit: str) -> float | None:
    """Return the end of an instrument's highest range in a unit, None where it has none in that unit."""
    return max((item.up_to for item in _statements(instrument, unit)), default=None)


def _statements(instrument: Instrument, unit: str) -> Iterable[Statement]:
    for accuracy in instrument.ranges:
        scale = _scale(accuracy.unit, unit)
        if scale is not None:
            end = convert(accuracy.up_to, accuracy.unit, unit)
            yield Statement(accuracy.percent, accuracy.digits, accuracy.resolution * scale, end)


def _scale(unit: str, wanted: str) -> float | None:
    """Return how many of one unit a difference of one of another is, None where they do not compare."""
    if unit == wanted:
        return 1.0
    try:
        return convert(1.0, unit, wanted) - convert(0.0, unit, wanted)
    except EntryError:
        return None


# calibration


def day(text: str) -> date | None:
    """Return a date written as YYYY-MM-DD, None where it is none."""
    try:
        return date.fromisoformat(text.strip())
    except ValueError:
        return None


def due_date(instrument: Instrument) -> date | None:
    """Return when an instrument is due for calibration: as told, else an interval after the last one."""
    told = day(instrument.due)
    last = day(instrument.calibrated)
    if told is not None or last is None:
        return told
    months = last.month - 1 + _INTERVAL_MONTHS.get(instrument.kind, 12)
    year, month = last.year + months // 12, months % 12 + 1
    try:
        return last.replace(year=year, month=month)
    except ValueError:  # the last of February of a leap year
        return date(year, 3, 1)


def overdue(instrument: Instrument, on: date) -> bool | None:
    """Say whether an instrument is past its calibration on a day, None where that is not known."""
    due = due_date(instrument)
    return None if due is None else on > due


def label(instrument: Instrument) -> str:
    """Return what people call an instrument."""
    return instrument.name or instrument.id


def checked(instrument: Instrument) -> Instrument:
    """Return an instrument whose dates can be read.

    Raises
    ------
    EntryError
        If a date is not written as YYYY-MM-DD, or the ranges of one unit repeat.
    """
    for name, text in (("calibrated", instrument.calibrated), ("due", instrument.due)):
        if text and day(text) is None:
            raise EntryError(f"{name} = {text}: no date; written as year-month-day, such as 2026-03-01")
    ends = [(item.unit, item.up_to) for item in instrument.ranges]
    if len(set(ends)) != len(ends):
        raise EntryError(f"{label(instrument)}: two ranges end at the same value")
    return instrument


# the kit against the walk


@dataclass(frozen=True, slots=True)
class TooCoarse:
    """A reading that the kit at hand cannot decide."""

    key: ReadingKey
    label: str
    unit: str
    half_band: float
    uncertainty: float | None
    """The best that the kit can do there; None where it has no meter for it."""
    says: str
    """What is wrong and what class of meter would do, as a person would say it."""


def too_coarse(bands: Iterable[tuple[Ask, Expected]], kit: Sequence[Instrument]) -> tuple[TooCoarse, ...]:
    """Say before the walk which readings a kit cannot decide, and what class of meter would.

    Parameters
    ----------
    bands
        Readings with the bands that can be told already; those that wait for other readings are left out
        by the caller.
    kit
        The instruments at hand.
    """
    found = (_coarse(ask, expected, kit) for ask, expected in bands)
    return tuple(item for item in found if item is not None)


def _coarse(ask: Ask, expected: Expected, kit: Sequence[Instrument]) -> TooCoarse | None:
    band, kind = expected.band, ask.data.instrument
    if kind in NO_METER or expected.compared is not None or (band.low is None and band.high is None):
        return None
    low = None if band.low is None else band.low.value
    high = None if band.high is None else band.high.value
    centre, half = _middle(low, high)
    reach = [_reach(instrument, centre, band.unit) for instrument in kit if instrument.kind == kind]
    best = min((item for item in reach if item is not None), default=None)
    if best is not None and _decides(low, high, best):
        return None
    says = _remedy(kind, best, centre, half, band.unit)
    return TooCoarse(ask.key, ask.label, band.unit, half, best, says)


def _middle(low: float | None, high: float | None) -> tuple[float, float]:
    """Return where a band is judged most kindly and half its width; one-sided bands reach to zero."""
    if low is not None and high is not None:
        return (low + high) / 2.0, (high - low) / 2.0
    limit = high if high is not None else low
    assert limit is not None  # noqa: S101 - a band without limits is left out before
    return limit, abs(limit)


def _reach(instrument: Instrument, value: float, unit: str) -> float | None:
    statement = statement_at(instrument, value, unit)
    return None if statement is None else statement.uncertainty(value)


def _decides(low: float | None, high: float | None, uncertainty: float) -> bool:
    if low is None and high is not None:
        return high <= 0.0 or uncertainty < high
    return pass_is_possible(low, high, uncertainty)


def _remedy(kind: InstrumentKind, best: float | None, centre: float, half: float, unit: str) -> str:
    wanted = half / 2.0
    # a quarter of the whole band is wanted of a meter, so that most good readings pass clearly (practice)
    good = f"one good to ± {plain(wanted)} {unit} at {plain(centre)} {unit} is wanted"
    named = _class_within(wanted, centre)
    beside = f": {named}" if named else ""
    if best is None:
        return f"no {kind} in the kit reads this; {good}{beside}"
    return (
        f"± {plain(best)} {unit} by the best {kind} of the kit, the band is ± {plain(half)}; {good}{beside}"
    )


def _class_within(wanted: float, value: float) -> str:
    """Name the coarsest usual class whose uncertainty at a value is small enough."""
    if value == 0.0:
        return ""
    for percent in (2.0, 1.0, 0.5, 0.2, 0.1, 0.05, 0.02, 0.01):
        share = expanded_uncertainty(standard_uncertainty(percent / 100.0 * abs(value)), COVERAGE)
        # four fifths for the percentage leaves room for the digits
        if share <= 0.8 * wanted:
            return f"{percent:g} % of reading or better"
    return ""


# what is offered at the start


def _ranges(unit: str, percent: float, digits: float, *ends: tuple[float, float]) -> tuple[Accuracy, ...]:
    return tuple(
        Accuracy(unit=unit, up_to=end, percent=percent, digits=digits, resolution=step) for end, step in ends
    )


def ordinary_meter(kind: InstrumentKind) -> tuple[Instrument, ...]:
    """Return meters of a kind as they are usually met, to guard against danger where none is named.

    A DC voltmeter is taken at 0.5 % and two digits, whatever the kit offers (common practice).
    """
    found = [instrument for instrument in default_kit() if instrument.kind == kind]
    return tuple(
        item.model_copy(
            update={
                "ranges": tuple(
                    accuracy.model_copy(update={"percent": max(accuracy.percent, 0.5)})
                    for accuracy in item.ranges
                )
            }
        )
        for item in found
    )


def default_kit() -> tuple[Instrument, ...]:
    """Return a kit to start from: replaced by what the technician holds in hand.

    Accuracies are those of ordinary handheld instruments, of the DC voltmeter those of a good one, since
    charge setpoints need it (common practice); serial numbers and dates are empty, and are asked for before
    the visit can be signed.
    """
    dc = _ranges("V", 0.1, 2, (0.6, 1e-4), (6.0, 1e-3), (60.0, 0.01), (600.0, 0.1), (1000.0, 1.0))
    ohms = _ranges("kΩ", 1.0, 5, (6.0, 1e-3), (60.0, 0.01), (600.0, 0.1), (40000.0, 10.0))
    ac = _ranges("V", 1.0, 3, (6.0, 1e-3), (60.0, 0.01), (600.0, 0.1), (1000.0, 1.0))
    logged = (
        *_ranges("V", 0.5, 2, (100.0, 0.01), (600.0, 0.1)),
        *_ranges("A", 2.0, 5, (1000.0, 0.1)),
        *_ranges("Hz", 0.05, 2, (100.0, 0.01)),
        *_ranges("s", 0.1, 2, (3600.0, 0.01)),
        *_ranges("ms", 0.1, 2, (10000.0, 1.0)),
    )
    residual = (*_ranges("ms", 2.0, 2, (10000.0, 1.0)), *_ranges("mA", 3.0, 3, (500.0, 0.1)))
    infrared = (*_ranges("°C", 2.0, 20, (250.0, 0.1)), *_ranges("K", 0.0, 10, (200.0, 0.1)))
    kit: tuple[tuple[str, InstrumentKind, tuple[Accuracy, ...]], ...] = (
        ("dc-voltmeter", "dc voltmeter", dc + ohms),
        ("ac-voltmeter", "ac voltmeter", ac),
        ("frequency-meter", "frequency meter", _ranges("Hz", 0.02, 1, (100.0, 0.01), (1000.0, 0.1))),
        ("dc-clamp", "dc clamp", _ranges("A", 2.0, 5, (60.0, 0.01), (1000.0, 0.1))),
        ("ac-clamp", "ac clamp", _ranges("A", 2.0, 5, (60.0, 0.01), (600.0, 0.1))),
        ("low-ohm-meter", "low-ohm meter", _ranges("Ω", 2.0, 3, (2.0, 1e-3), (20.0, 0.01), (200.0, 0.1))),
        ("insulation-tester", "insulation tester", _ranges("MΩ", 5.0, 3, (10.0, 0.01), (1000.0, 1.0))),
        ("ohmic-tester", "ohmic tester", _ranges("mΩ", 2.0, 5, (4.0, 1e-3), (40.0, 0.01), (400.0, 0.1))),
        ("hydrometer", "hydrometer", _ranges("kg/L", 0.0, 1, (1.3, 0.005))),
        ("thermometer", "thermometer", _ranges("°C", 0.5, 10, (200.0, 0.1))),
        ("infrared-camera", "infrared camera", infrared),
        ("torque-wrench", "torque wrench", _ranges("N·m", 4.0, 0, (200.0, 0.5))),
        ("irradiance-meter", "irradiance meter", _ranges("W/m²", 5.0, 5, (1500.0, 1.0))),
        ("timer", "timer", _ranges("s", 0.01, 3, (86400.0, 0.1))),
        ("logger", "logger", logged),
        ("residual-current-tester", "residual-current tester", residual),
        ("voltage-tester", "voltage tester", _ranges("V", 2.0, 3, (200.0, 0.1), (1000.0, 1.0))),
    )
    return tuple(Instrument(id=ident, kind=kind, name=kind, ranges=ranges) for ident, kind, ranges in kit)
