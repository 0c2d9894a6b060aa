"""How findings are worded and made: values in the site's own units, gaps as 'not checked'."""

from __future__ import annotations

from dataclasses import replace

from commission.design.types import Found, Scene
from commission.figure import Figure, Gap, Quantity, Unknown
from commission.sheet.known import gaps, not_checked
from commission.units import show


def shown(scene: Scene, figure: Figure, decimals: int | None = None) -> str:
    """Return a number with its unit, in the unit system of the site."""
    return show(figure.value, figure.unit, scene.plant.site.site.units, decimals)


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
