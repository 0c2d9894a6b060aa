"""What the chargers draw from a generator set as the sheet sets them, and what charge that makes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from commission.design.types import Scene
from commission.figure import Quantity, Unknown, given, greatest, least
from commission.formulas.ac_input import leg_power
from commission.formulas.bank import bank_voltage
from commission.formulas.charging import sum_of_currents
from commission.formulas.generator import charger_draw, input_budget
from commission.formulas.load_control import sum_of_powers
from commission.plant.plant import Plant
from commission.plant.site import Generator, InverterCharger
from commission.sheet.supplies import Supply, derating_of, drawn_legs, supply_of

_ONE: Final = given(1.0, "1", "watts, not volt-amperes", source="definition")
_WHOLE: Final = given(1.0, "1", "the whole rating", source="definition")


@dataclass(frozen=True, slots=True)
class Drawn:
    """One charger on a set, as the sheet sets it."""

    device: InverterCharger
    supply: Supply
    legs: tuple[str, ...]
    """Legs of the set from which it draws; one twice where both of its own hang on it."""
    current: Quantity
    """A into the bank."""
    apparent: Quantity
    """VA, on all its legs together."""
    active: Quantity
    """W, likewise."""


def drawn_from(scene: Scene, generator: Generator) -> tuple[Drawn, ...]:
    """Return every charger on a set; one whose leg is not known is left out, since the sheet has told it."""
    made = []
    for device in scene.plant.site.inverter_chargers:
        for kind, ident in device.inputs.items():
            supply = supply_of(scene.plant, device, kind) if ident == generator.id else None
            legs = None if supply is None else drawn_legs(scene.plant, device, supply)
            if supply is not None and isinstance(legs, tuple):
                made.append(_drawn(scene, device, supply, legs))
    return tuple(made)


def _drawn(scene: Scene, device: InverterCharger, supply: Supply, legs: tuple[str, ...]) -> Drawn:
    current = _current(scene, device, supply.part.id)
    volts, efficiency = absorption(scene, device), scene.plant.rating(device, "charger_efficiency")
    name = f"drawn by {device.label} to charge"
    factor = scene.plant.rating(device, "charger_power_factor")
    apparent = charger_draw.of(
        name, voltage=volts, current=current, efficiency=efficiency, power_factor=factor
    )
    active = charger_draw.of(name, voltage=volts, current=current, efficiency=efficiency, power_factor=_ONE)
    return Drawn(device, supply, legs, current, apparent, active.in_unit("W"))


def _current(scene: Scene, device: InverterCharger, source: str) -> Quantity:
    """Return the charge current of one device: what the set feeds, what is set, what it is built for."""
    candidates = [
        scene.sheet.numbers.get(f"ac_feed:{device.id}:{source}"),
        scene.sheet.value(device.id, "charge_current_limit"),
        scene.plant.rating(device, "charger_current"),
    ]
    name = f"charge current of {device.label} on the set"
    return least(name, *(one for one in candidates if one is not None))


def absorption(scene: Scene, device: InverterCharger) -> Quantity:
    """Return the highest absorption that a device will hold, at the coldest battery, whole bank."""
    reached = scene.sheet.numbers.get(f"absorption_coldest:{device.id}")
    if reached is not None:
        return reached
    plant = scene.plant
    return bank_voltage.of(
        "absorption of the whole bank", cells=plant.bank.cells, cell_voltage=plant.cell("absorption_voltage")
    )


def charge_current(scene: Scene, drawn: Sequence[Drawn]) -> Quantity:
    """Return the charge current of all chargers on a set, within what the bank takes every day, in A."""
    name = "charge current on the generator"
    if not drawn:
        return Unknown(("a charger that the generator feeds",), "A", name)
    total = sum_of_currents.of(name, currents=[one.current for one in drawn])
    return least(name, total, scene.sheet.recommended_limit)


def charge_power(scene: Scene, drawn: Sequence[Drawn], *, least_loss: bool) -> Quantity:
    """Return the watts that all chargers draw from a set, by the best or the worst of their efficiencies."""
    if not drawn:
        return Unknown(("a charger that the generator feeds",), "W", "charging on the generator")
    ratings = [scene.plant.rating(one.device, "charger_efficiency") for one in drawn]
    choose = greatest if least_loss else least
    made = charger_draw.of(
        "power that the chargers draw",
        voltage=greatest("absorption", *(absorption(scene, one.device) for one in drawn)),
        current=charge_current(scene, drawn),
        efficiency=choose("efficiency of the chargers", *ratings),
        power_factor=_ONE,
    )
    return made.in_unit("W")


def on_leg(drawn: Sequence[Drawn], leg: str, unit: str = "VA") -> Quantity:
    """Return what the chargers draw from one leg of a set, in VA or W."""
    parts = []
    for one in drawn:
        whole = one.apparent if unit == "VA" else one.active
        part = leg_power.of(f"{one.device.label} on leg {leg}", rating=whole, legs=float(len(one.legs)))
        parts += [part.in_unit(unit)] * one.legs.count(leg)
    return sum_of_powers.of(f"chargers on leg {leg}", powers=parts).in_unit(unit)


def derated(plant: Plant, generator: Generator, field: str) -> Quantity:
    """Return a rating of a set where it stands: less for altitude and hot air."""
    rating = plant.rating(generator, field)
    return input_budget.of(
        f"{rating.name} where it stands",
        rating=rating,
        derating=derating_of(plant, generator),
        loading=_WHOLE,
    ).in_unit(rating.unit)
