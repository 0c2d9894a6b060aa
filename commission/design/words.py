"""How findings are worded and made: values in the site's own units, gaps as 'not checked'."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from typing import Final

from commission.design.types import Found, Scene
from commission.figure import Figure, Gap, Quantity, Unknown
from commission.sheet.known import gaps, not_checked
from commission.units import UnitSystem, between_gauges, plain, show

_MOST_DIGITS: Final = 6


def shown(scene: Scene, figure: Figure, decimals: int | None = None, beside: Figure | None = None) -> str:
    """Return a number with its unit, in the unit system of the site.

    Parameters
    ----------
    decimals
        Digits after the point; four significant ones where None.
    beside
        A figure that the text sets it against: where the two would look the same and are not, both are shown
        with as many more digits as it takes to tell them apart.
    """
    units = scene.plant.site.site.units
    text = _with_gauges(show(figure.value, figure.unit, units, decimals), figure, units)
    if beside is None or beside.unit != figure.unit or beside.value == figure.value:
        return text
    if text != show(beside.value, beside.unit, units, decimals):
        return text
    for more in range(1, _MOST_DIGITS):
        one = show(figure.value, figure.unit, units, more)
        if one != show(beside.value, beside.unit, units, more):
            return one
    return text


def _with_gauges(text: str, figure: Figure, units: UnitSystem) -> str:
    """Return an area that is no US size with the sizes between which it lies."""
    between = between_gauges(figure.value) if figure.unit == "mm²" and units == "us" else ""
    return f"{text} ({between})" if between else text


def listed(names: Iterable[str], most: int = 3) -> str:
    """Return names, of many the first few and how many more there are."""
    each = list(names)
    more = len(each) - most
    return ", ".join(each) if more < 2 else f"{', '.join(each[:most])} and {more} more"


def marked(temperature: Figure) -> str:
    """Return a temperature for which insulation or a terminal is made, as the trade marks it: ``75 °C``."""
    return f"{plain(temperature.value)} °C"


def asked(quantity: Quantity, what: str) -> Quantity:
    """Return a quantity whose gap, if it is one, is asked for in words of the trade."""
    if not isinstance(quantity, Unknown):
        return quantity
    first = quantity.missing[0]
    gap = Gap(what, first.key, first.helps) if isinstance(first, Gap) else Gap(what)
    return replace(quantity, missing=(gap,))


def gap(check: str, parts: tuple[str, ...], *quantities: Quantity) -> Found | None:
    """Return the finding that a check lacks some quantities, None where none is missing."""
    missing = gaps(quantities)
    return Found(not_checked(check, parts, missing)) if missing else None
