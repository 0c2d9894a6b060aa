"""Legs of a generator set, and what of the loads that run while it charges lies on each."""

from __future__ import annotations

from typing import Final

from commission.figure import Figure, Quantity, given
from commission.formulas.ac_input import leg_power
from commission.formulas.energy import in_proportion
from commission.plant.plant import Plant, part_fact
from commission.plant.site import Generator, Load
from commission.plant.values import UNKNOWN

_LEGS: Final = {"single": ("1",), "split": ("1", "2"), "three": ("1", "2", "3")}
_ALL: Final = {"both": ("1", "2"), "all": ("1", "2", "3")}


def set_legs(plant: Plant, generator: Generator) -> tuple[str, ...]:
    """Return the legs or phases of a set."""
    return _LEGS[plant.generator_class(generator).connection]


def load_on_leg(plant: Plant, generator: Generator, leg: str) -> Quantity:
    """Return what of the load that runs meanwhile lies on one leg, in VA.

    As the AC loads of the site lie on its legs; evenly where that is not told.
    """
    whole = part_fact(generator, "load_while_charging")
    legs = set_legs(plant, generator)
    name = f"load on leg {leg} of {generator.label} while it charges"
    watts = _by_leg(plant, legs)
    if len(legs) == 1 or watts is None:
        return leg_power.of(name, rating=whole, legs=float(len(legs)))
    total = sum(watts.values())
    return in_proportion.of(
        name,
        value=whole,
        wanted=given(watts[leg], "W", f"AC loads on leg {leg}", source="the site file"),
        given=given(total, "W", "AC loads on all legs", source="the site file"),
    ).in_unit("VA")


def _by_leg(plant: Plant, legs: tuple[str, ...]) -> dict[str, float] | None:
    """Return the watts of the AC loads on each leg; None where one of them is not known."""
    found = dict.fromkeys(legs, 0.0)
    for load in plant.site.loads:
        if load.current != "ac":
            continue
        power, own = part_fact(load, "power"), _legs_of(load, legs)
        if not isinstance(power, Figure) or own is None:
            return None
        for leg in own:
            found[leg] += power.value / len(own)
    return found if sum(found.values()) > 0 else None


def _legs_of(load: Load, legs: tuple[str, ...]) -> tuple[str, ...] | None:
    if load.leg == UNKNOWN:
        return None
    own = _ALL.get(load.leg, (load.leg,))
    return own if set(own) <= set(legs) else None
