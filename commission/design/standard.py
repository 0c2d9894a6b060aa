"""Sizes that can be bought: the conductors and devices of the rule set, as its region names them."""

from __future__ import annotations

from collections.abc import Iterator

from commission.figure import Figure, given
from commission.plant.once import once
from commission.plant.plant import Plant
from commission.plant.rules import ConductorSize


def sizes_over(plant: Plant, area: float) -> Iterator[ConductorSize]:
    """Yield the conductor sizes of the rule set over an area in mm², smallest first."""
    yield from sorted((row for row in plant.rules.conductors if row.area > area * 1.02), key=_area)


def size_name(plant: Plant, area: float) -> str:
    """Return what the trade calls a conductor of an area in mm²: ``70 mm²``, ``2/0 AWG``."""
    rows = [row for row in plant.rules.conductors if abs(row.area - area) <= 0.02 * row.area]
    return rows[0].size if rows else f"{area:g} mm²"


def ratings_from(plant: Plant, current: float) -> Iterator[Figure]:
    """Yield the standard ratings of overcurrent devices that are not under a current in A, least first."""
    yield from (rating for rating in _ratings(plant) if rating.value >= current - 1e-9)


def ratings_down_from(plant: Plant, current: float) -> Iterator[Figure]:
    """Yield the standard ratings of overcurrent devices that are not over a current in A, greatest first."""
    yield from (rating for rating in reversed(_ratings(plant)) if rating.value <= current + 1e-9)


def interrupting_from(plant: Plant, current: float) -> Iterator[Figure]:
    """Yield the usual interrupting ratings of DC devices that are not under a current in A, least first."""
    rules = plant.rules
    for rating in sorted(rules.interrupting_classes):
        if rating >= current - 1e-6:
            where = f"{rules.id}.interrupting_classes"
            name = "usual interrupting rating"
            yield given(rating, "A", name, kind="rules", where=where, source=rules.interrupting_source)


def device_voltages_from(plant: Plant, voltage: float) -> Iterator[Figure]:
    """Yield the usual DC voltages of breakers and fuses that are not under a voltage in V, least first."""
    rules = plant.rules
    for rating in sorted(rules.device_voltages):
        if rating >= voltage - 1e-9:
            where = f"{rules.id}.device_voltages"
            name = "usual dc voltage of breakers and fuses"
            yield given(rating, "V", name, kind="rules", where=where, source=rules.device_voltages_source)


@once
def _ratings(plant: Plant) -> tuple[Figure, ...]:
    where, source = f"{plant.rules.id}.breaker_sizes", plant.rules.breaker_source
    return tuple(
        given(rating, "A", "standard rating", kind="rules", where=where, source=source)
        for rating in sorted(plant.rules.breaker_sizes)
    )


def _area(row: ConductorSize) -> float:
    return row.area
