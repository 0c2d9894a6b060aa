"""AC-coupled PV inverters as the checks see them: what each gives, on which legs, beside which inverters."""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import Final

from commission.design.inverter_supplies import panels_of, supplies_of, unit_legs
from commission.design.types import Remedy
from commission.figure import Figure, Quantity, given, greatest, least
from commission.formulas.bands import share_of
from commission.formulas.load_control import sum_of_powers
from commission.plant.change import Change
from commission.plant.plant import Plant, part_fact
from commission.plant.site import AcPvInverter, InverterCharger
from commission.plant.values import UNKNOWN

_COLD: Final = given(
    1.1, "1", "what cold cells and bright clouds add to an array's power", source="common practice"
)
_STEP: Final = 10.0
"""W to which a limit of power is rounded down."""


def power_of(plant: Plant, pv: AcPvInverter) -> Quantity:
    """Return the greatest AC power of a PV inverter: its rating, or what a smaller array can drive."""
    rated = plant.rating(pv, "rated_power")
    array = part_fact(pv, "array_power")
    if not isinstance(array, Figure):
        return rated
    bright = share_of.of(f"array of {pv.label} in its brightest minute", value=array, share=_COLD)
    return least(f"greatest power of {pv.label}", rated, bright.in_unit("W"))


def power_of_all(plant: Plant) -> Quantity:
    """Return the greatest power of all AC-coupled PV together."""
    powers = [power_of(plant, pv) for pv in plant.site.ac_pv_inverters]
    return sum_of_powers.of("AC-coupled PV in full sun", powers=powers)


def efficiency(plant: Plant) -> Quantity:
    """Return the efficiency from AC to DC: the best of the chargers, 1 where one of them is not known."""
    found = [plant.rating(one, "charger_efficiency") for one in plant.site.inverter_chargers]
    if not found or any(not isinstance(one, Figure) for one in found):
        return given(1.0, "1", "no loss counted", source="efficiency of a charger not known: cautious")
    return greatest("best efficiency from AC to DC", *found)


def pv_legs(plant: Plant, pv: AcPvInverter) -> tuple[str, ...]:
    """Return the legs or phases that a PV inverter loads alike; none where that is not known."""
    if pv.leg == UNKNOWN:
        return ()
    if pv.leg == "all":
        return ("1", "2", "3")
    if pv.leg == "both" or (plant.ac_pv_class(pv).across_legs and {"1", "2"} <= set(_made(plant, pv))):
        return ("1", "2")
    return (pv.leg,)


def _made(plant: Plant, pv: AcPvInverter) -> Iterable[str]:
    return (leg for unit in units_beside(plant, pv) for leg in unit_legs(plant, unit))


def units_beside(plant: Plant, pv: AcPvInverter) -> tuple[InverterCharger, ...]:
    """Return the inverters on whose output a PV inverter feeds: all, where the file does not part them."""
    supplies = supplies_of(plant)
    near = [one for one in supplies if pv.panel is not None and pv.panel in panels_of(plant, one)]
    return tuple(unit for supply in (near or supplies) for unit in supply.units)


def limited(plant: Plant, units: Iterable[AcPvInverter], allowed: Figure, now: Figure) -> Remedy | None:
    """Return the PV inverters held to a part of their power, so that together they give what is allowed."""
    ratio = allowed.value / now.value if now.value > 0 else 0.0
    changes, words = [], []
    for pv in units:
        power = power_of(plant, pv)
        if not isinstance(power, Figure):
            return None
        watts = math.floor(power.value * ratio / _STEP + 1e-9) * _STEP
        if watts <= 0:
            return None
        changes.append(Change(f"{pv.where}.datasheet.rated_power", watts))
        words.append(f"{pv.label} to {watts:.0f} W")
    text = f"an output limit set on {', '.join(words)}, or fewer modules"
    return Remedy(text, passes=allowed, change=tuple(changes))
