"""What the chargers draw from a generator set as the sheet sets them, and what charge that makes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from commission.design.types import Scene
from commission.figure import Gap, Quantity, Unknown, given, greatest, least
from commission.formulas.ac_input import drawn_power, leg_power
from commission.formulas.bank import bank_voltage
from commission.formulas.charging import sum_of_currents
from commission.formulas.energy import in_proportion
from commission.formulas.generator import charger_draw, input_budget
from commission.formulas.load_control import sum_of_powers
from commission.plant.once import once
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
    return _drawn_from_sets(scene)[generator.id]


@once
def _drawn_from_sets(scene: Scene) -> dict[str, tuple[Drawn, ...]]:
    return {generator.id: _on_set(scene, generator) for generator in scene.plant.site.generators}


def _on_set(scene: Scene, generator: Generator) -> tuple[Drawn, ...]:
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
        return Unknown(
            (
                Gap(
                    "a charger that the generator feeds",
                    helps="the set among the inputs of an inverter/charger",
                ),
            ),
            "A",
            name,
        )
    total = sum_of_currents.of(name, currents=[one.current for one in drawn])
    return least(name, total, scene.sheet.recommended_limit)


def charge_power(scene: Scene, drawn: Sequence[Drawn]) -> Quantity:
    """Return the watts that all chargers draw from a set beside its greatest load, by the worst of them."""
    ratings = [scene.plant.rating(one.device, "charger_efficiency") for one in drawn]
    efficiency = least("efficiency of the chargers", *ratings)
    return _power(scene, drawn, charge_current(scene, drawn), efficiency)


def least_power(scene: Scene, drawn: Sequence[Drawn], beside: Quantity) -> Quantity:
    """Return the watts on a set that charges beside its least load.

    The chargers give what is set and what they are built for, by the best of their efficiencies; a limit on
    the current taken from the set holds them back, and what passes through counts in it where it does so.
    """
    plant = scene.plant
    free = sum_of_currents.of("charge current beside the least load", currents=_settled(scene, drawn))
    current = least(free.name, free, scene.sheet.recommended_limit)
    ratings = [plant.rating(one.device, "charger_efficiency") for one in drawn]
    charging = _power(scene, drawn, current, greatest("efficiency of the chargers", *ratings))
    limits = _input_limits(scene, drawn)
    whole = all(plant.inverter_class(one.device).ac_limit_counts == "whole input" for one in drawn)
    name = "power on the set while it charges"
    if whole or not limits:
        both = sum_of_powers.of(name, powers=[charging, beside])
        return least(name, both, *limits) if limits else both
    return sum_of_powers.of(name, powers=[least("charging", charging, *limits), beside])


def free_on_leg(scene: Scene, drawn: Sequence[Drawn], leg: str, unit: str = "VA") -> Quantity:
    """Return what the chargers would draw from one leg if nothing on the AC side held them back."""
    free = [
        Drawn(
            one.device,
            one.supply,
            one.legs,
            current,
            in_proportion.of("drawn", value=one.apparent, wanted=current, given=one.current).in_unit("VA"),
            in_proportion.of("drawn", value=one.active, wanted=current, given=one.current).in_unit("W"),
        )
        for one, current in zip(drawn, _settled(scene, drawn), strict=True)
    ]
    return on_leg(free, leg, unit)


def _settled(scene: Scene, drawn: Sequence[Drawn]) -> list[Quantity]:
    made = []
    for one in drawn:
        setting = scene.sheet.value(one.device.id, "charge_current_limit")
        rating = scene.plant.rating(one.device, "charger_current")
        made.append(rating if setting is None else least(f"charge of {one.device.label}", setting, rating))
    return made


def _input_limits(scene: Scene, drawn: Sequence[Drawn]) -> list[Quantity]:
    """Return up to what the chargers' limits let them draw all together; nothing where one has none.

    A limit of a whole group counts once, on every leg from which the group draws.
    """
    parts, seen = [], set()
    for one in drawn:
        group = one.device.group if scene.plant.inverter_class(one.device).ac_limit_per == "group" else None
        if group is not None and group in seen:
            continue
        seen.add(group)
        legs = len(one.legs)
        if group is not None:
            legs = len({leg for other in drawn if other.device.group == group for leg in other.legs})
        setting, ident = "ac_input_current_limit", one.device.id
        held = [scene.sheet.value(ident, setting, kind) for kind in (one.supply.kind, None)]
        limit = next((value for value in held if value is not None), None)
        if limit is None:
            return []
        name = f"limit of {one.device.label} on the set"
        volts = one.supply.voltage
        parts.append(drawn_power.of(name, current=limit, voltage=volts, legs=float(legs)))
    return [sum_of_powers.of("limits on what is taken from the set", powers=parts)]


def _power(scene: Scene, drawn: Sequence[Drawn], current: Quantity, efficiency: Quantity) -> Quantity:
    made = charger_draw.of(
        "power that the chargers draw",
        voltage=greatest("absorption", *(absorption(scene, one.device) for one in drawn)),
        current=current,
        efficiency=efficiency,
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
