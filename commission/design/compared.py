"""Values against their limits: over, within, or not known."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from commission.design.types import Found
from commission.design.words import gap
from commission.figure import Figure, Quantity

_SLACK: Final = 1e-6


def within(value: Quantity, limit: Quantity) -> bool:
    """Whether both are known and a value is not over its limit."""
    return isinstance(value, Figure) and isinstance(limit, Figure) and value.value <= limit.value + _SLACK


def over(value: Quantity, limit: Quantity) -> bool:
    """Whether both are known and a value is over its limit."""
    return isinstance(value, Figure) and isinstance(limit, Figure) and value.value > limit.value + _SLACK


def asked(check: str, parts: tuple[str, ...], *quantities: Quantity) -> Iterator[Found]:
    """Yield what is not checked for want of some quantities."""
    found = gap(check, parts, *quantities)
    if found is not None:
        yield found
