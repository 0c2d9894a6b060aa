"""Restatements: what makes readings of different days comparable, where physics says how.

Each wants one condition of both days: the temperature of the acid, the current through a run, the light. Its
own doubt counts: ``doubt`` is what the condition may be off, as a share of it or in its unit. Where the
condition of a day is not known, and the error of that can be bounded, the ``usual`` one is taken and its
``spread`` counts as doubt; where it cannot be bounded nothing is compared.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Final, TypeAlias

from commission.checklist.bands import in_unit
from commission.checklist.lookup import limit
from commission.figure import Figure, Quantity
from commission.formulas.change import current_at_full_sun, insulation_at_reference, resistance_of_drop
from commission.formulas.conductors import COPPER_COEFFICIENT_20, resistance_at_20
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
    usual: float | None = None
    """What the condition is taken for on a day of which it is not known; None: then nothing is compared."""
    spread: float = 0.0
    """How far from the usual one it may have been, in its unit."""
    asked: bool = True
    """Whether that of today is waited for; else the usual one serves where none was read."""
    if_judged: bool = False
    """Whether what keeps a reading from being judged keeps it from being compared: a throttled current."""
    rough: bool = False
    """Whether it is a rule of thumb: a change that it alone makes asks nobody to act."""
    beside: str = ""
    """What else the doubt allows for, in words."""

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


def _copper(_: Plant, value: Figure, temperature: Figure) -> Quantity:
    """Joints of copper links and lead posts: lead alloys change by 0.0040 a kelvin, near enough to copper."""
    made = resistance_at_20.of(
        "resistance at 20 °C",
        resistance=in_unit(value, "Ω"),
        coefficient=limit(COPPER_COEFFICIENT_20, "1/K", "coefficient of copper, IEC 60028"),
        temperature=temperature,
    )
    return in_unit(made, value.unit) if isinstance(made, Figure) else made


CONDUCTOR_SPREAD: Final = 15.0
"""How far the metal of a joint or run may be from 20 °C where nobody read it [K]; common practice, 5 to
35 °C."""
_WARMTH: Final = CONDUCTOR_SPREAD * COPPER_COEFFICIENT_20
"""The same as a share of its resistance: 6 %."""

RESTATEMENTS: Final[dict[str, Restatement]] = {
    one.name: one
    for one in (
        Restatement(
            "density at the reference temperature", "battery-temperature", "°C", 1.0, False, _gravity
        ),
        Restatement(
            "resistance of the run",
            "run-current",
            "A",
            math.hypot(0.03, _WARMTH),  # the clamp, and the temperature of the cable
            True,
            _drop,
            beside=f"the cable's temperature is not known: ± {100.0 * _WARMTH:.0f}% is allowed for it",
        ),
        Restatement(
            "insulation at 20 °C",
            "air-temperature",
            "°C",
            2.0,
            False,
            _insulation,
            usual=20.0,
            spread=20.0,
            rough=True,
        ),
        Restatement(
            "resistance at 20 °C",
            "battery-temperature",
            "°C",
            2.0,
            False,
            _copper,
            usual=20.0,
            spread=CONDUCTOR_SPREAD,
            asked=False,
        ),
        Restatement("current at full sun", "irradiance", "W/m²", 0.05, True, _sun, if_judged=True),
    )
}
"""By name, as ``restated`` of a reading says; the doubts are common practice: thermometer, clamp, sensor.

That connection resistances are compared at like temperature is practice of IEEE 450 and 1188 (from memory);
copper by IEC 60028:1925, 0.00393 a kelvin about 20 °C.
"""
