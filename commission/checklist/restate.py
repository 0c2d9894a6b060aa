"""Restatements: what makes readings of different days comparable, where physics says how.

Each wants one condition of both days: the temperature of the acid, the current through a run, the light. Its
own doubt counts: ``doubt`` is what the condition may be off, as a share of it or in its unit.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final, TypeAlias

from commission.checklist.bands import in_unit
from commission.checklist.lookup import limit
from commission.figure import Figure, Quantity
from commission.formulas.change import current_at_full_sun, insulation_at_reference, resistance_of_drop
from commission.formulas.lead_acid import gravity_at_reference
from commission.plant.plant import Plant

Restate: TypeAlias = Callable[[Plant, Figure, Figure], Quantity]


@dataclass(frozen=True, slots=True)
class Restatement:
    """A way to bring readings of different days to like conditions."""

    name: str
    condition: str
    """Id of the condition that it wants."""
    unit: str
    """Of that condition."""
    doubt: float
    relative: bool
    """Whether the doubt is a share of the condition; else it is in the condition's unit."""
    call: Restate

    def off(self, condition: float) -> float:
        """Return how far a condition may be off, in its unit."""
        return abs(condition) * self.doubt if self.relative else self.doubt


def _gravity(plant: Plant, value: Figure, temperature: Figure) -> Quantity:
    return gravity_at_reference.of(
        "density at the reference temperature",
        gravity=value,
        temperature=temperature,
        temperature_reference=plant.cell("temperature_reference"),
        per_kelvin=plant.cell("gravity_slope"),
    )


def _drop(_: Plant, value: Figure, current: Figure) -> Quantity:
    return resistance_of_drop.of("resistance of the run", drop=in_unit(value, "V"), current=current)


def _insulation(_: Plant, value: Figure, temperature: Figure) -> Quantity:
    reference = limit(20.0, "°C", "reference temperature")
    return insulation_at_reference.of(
        "insulation at 20 °C", resistance=value, temperature=temperature, temperature_reference=reference
    )


def _sun(_: Plant, value: Figure, irradiance: Figure) -> Quantity:
    return current_at_full_sun.of("current at full sun", current=value, irradiance=irradiance)


RESTATEMENTS: Final[dict[str, Restatement]] = {
    one.name: one
    for one in (
        Restatement(
            "density at the reference temperature", "battery-temperature", "°C", 1.0, False, _gravity
        ),
        Restatement("resistance of the run", "run-current", "A", 0.03, True, _drop),
        Restatement("insulation at 20 °C", "air-temperature", "°C", 2.0, False, _insulation),
        Restatement("current at full sun", "irradiance", "W/m²", 0.05, True, _sun),
    )
}
"""By name, as ``restated`` of a reading says; the doubts are common practice: thermometer, clamp, sensor."""
