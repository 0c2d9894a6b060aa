"""Making bands: limits in the unit of the reading, unknowns named, conditions told in a few words."""

from __future__ import annotations

from collections.abc import Iterable

from commission.checklist.situation import Situation
from commission.checklist.types import Expectation, Expected, NotJudged, Waits
from commission.errors import FormulaError
from commission.figure import Band, Figure, Quantity, Unknown
from commission.formulas.bands import band_high, band_low, in_other_unit, share_of
from commission.units import convert, show


def band(
    situation: Situation,
    *,
    low: Quantity | None = None,
    nominal: Quantity | None = None,
    high: Quantity | None = None,
    stop_below: Quantity | None = None,
    stop_above: Quantity | None = None,
    says: str = "",
) -> Expectation:
    """Return the band of a reading in the reading's own unit, or what is missing for one.

    A stop limit that is not known does not hide the band: the words beside the band name it.
    """
    gaps = missing(low, nominal, high)
    if gaps:
        return stopped(situation, stop_below, stop_above) or NotJudged(f"not known: {gaps}")
    unit = situation.ask.data.unit
    no_stop = missing(stop_below, stop_above)
    told = f"stop limit not known: {no_stop}" if no_stop else ""
    return Expected(
        Band(
            _in(low, unit),
            _in(nominal, unit),
            _in(high, unit),
            unit,
            _in(stop_below, unit),
            _in(stop_above, unit),
        ),
        "; ".join(text for text in (says, told) if text),
    )


def compared(
    value: Quantity,
    *,
    low: Quantity | None = None,
    high: Quantity | None = None,
    against: float | None = None,
    says: str = "",
    unit: str | None = None,
) -> Expectation:
    """Return the band of what is worked out from a reading: a difference, a share, a power.

    Parameters
    ----------
    value
        What is judged in place of the reading.
    against
        The other reading of a difference, in the unit of the reading, so that the meter's uncertainty is that
        of a difference.
    unit
        Unit of value and limits; that of the value where None.
    """
    gaps = missing(value, low, high)
    if gaps or not isinstance(value, Figure):
        return NotJudged(f"not known: {gaps}")
    wanted = unit or value.unit
    limits = Band(_in(low, wanted), None, _in(high, wanted), wanted)
    return Expected(limits, says, in_unit(value, wanted), against)


def around(
    situation: Situation,
    nominal: Quantity,
    half_width: Quantity,
    *,
    stop_below: Quantity | None = None,
    stop_above: Quantity | None = None,
    says: str = "",
) -> Expectation:
    """Return the band of a half-width either side of a nominal value."""
    return band(
        situation,
        low=edge_low(nominal, half_width),
        nominal=nominal,
        high=edge_high(nominal, half_width),
        stop_below=stop_below,
        stop_above=stop_above,
        says=says,
    )


def edge_low(nominal: Quantity, half_width: Quantity, name: str = "") -> Quantity:
    """Return the lower edge of a band, in the unit of its middle."""
    made = band_low.of(name or f"least {nominal.name}", nominal=nominal, half_width=half_width)
    return made.in_unit(nominal.unit)


def edge_high(nominal: Quantity, half_width: Quantity, name: str = "") -> Quantity:
    """Return the upper edge of a band, in the unit of its middle."""
    made = band_high.of(name or f"greatest {nominal.name}", nominal=nominal, half_width=half_width)
    return made.in_unit(nominal.unit)


def part_of(value: Quantity, share: Quantity, name: str) -> Quantity:
    """Return a share of a value, in the unit of the value."""
    return share_of.of(name, value=value, share=share).in_unit(value.unit)


def stopped(
    situation: Situation, stop_below: Quantity | None, stop_above: Quantity | None, says: str = ""
) -> Expected | None:
    """Return a band of stop limits alone where the reading lies beyond one; None otherwise.

    What stops work does so at once, also while the rest of the band still waits for a condition.
    """
    if situation.reading is None:
        return None
    unit = situation.ask.data.unit
    value = situation.reading.figure.value
    below, above = _in(_known(stop_below), unit), _in(_known(stop_above), unit)
    under = below is not None and value <= below.value
    over = above is not None and value >= above.value
    if not under and not over:
        return None
    return Expected(Band(below, None, above, unit, below, above), says)


def _known(quantity: Quantity | None) -> Figure | None:
    return quantity if isinstance(quantity, Figure) else None


def missing(*quantities: Quantity | None) -> str:
    """Return what is missing for any of some quantities, in words; empty where all are known."""
    gaps = (gap for item in quantities if isinstance(item, Unknown) for gap in item.missing)
    return ", ".join(dict.fromkeys(gaps))


def in_unit(figure: Figure, unit: str) -> Figure:
    """Return a figure in another unit of its kind; what has no unit, as a choice, stays as it is.

    Raises
    ------
    FormulaError
        If it is beyond a meter's range; the reading is then not judged.
    """
    if figure.unit == unit or not unit or not figure.unit:
        return figure
    factor = convert(1.0, figure.unit, unit)
    made = in_other_unit.of(figure.name, value=figure, factor=factor)
    if isinstance(made, Unknown):
        raise FormulaError(f"{figure.name}: {figure.value} {figure.unit} is no number to work with")
    return made.in_unit(unit)


def in_percent(share: Quantity) -> Quantity:
    """Return a share in percent, as a person says it; what is not known stays so."""
    return in_unit(share, "%") if isinstance(share, Figure) else share


def _in(quantity: Quantity | None, unit: str) -> Figure | None:
    return in_unit(quantity, unit) if isinstance(quantity, Figure) else None


def at(situation: Situation, *figures: Figure, also: Iterable[str] = ()) -> str:
    """Return conditions in a few words, as the site's unit system shows them: 'at 96.4 A, 31 °C'."""
    system = situation.plant.site.site.units
    shown = [show(figure.value, figure.unit, system) for figure in figures]
    return "at " + ", ".join([*shown, *also])


def together(*found: Figure | Waits | NotJudged) -> tuple[Figure, ...] | Waits | NotJudged:
    """Return figures that a band is made of, or everything that it waits for."""
    waits = [item for item in found if isinstance(item, Waits)]
    if waits:
        keys = tuple(dict.fromkeys(key for item in waits for key in item.keys))
        return Waits(keys, "; ".join(dict.fromkeys(item.why for item in waits)))
    refused = next((item for item in found if isinstance(item, NotJudged)), None)
    if refused is not None:
        return refused
    return tuple(item for item in found if isinstance(item, Figure))
