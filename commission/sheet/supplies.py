"""AC sources as the chargers behind them see them: what each leg may give, and who draws on it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from commission.figure import Figure, Gap, Quantity, Unknown, given, site_keys
from commission.formulas.ac_input import apparent_budget, leg_power
from commission.formulas.charging import remaining_current, shared_current
from commission.formulas.generator import (
    combined_derating,
    derating_between_rows,
    derating_by_altitude,
    derating_by_temperature,
    input_budget,
    input_current_limit,
)
from commission.formulas.overcurrent import continuous_limit
from commission.plant.equipment import DeratingRow, Input
from commission.plant.once import once
from commission.plant.plant import Plant, fact, part_fact
from commission.plant.site import Generator, InverterCharger, Utility
from commission.plant.values import UNKNOWN

_COMMON: Final = "common practice"
_LOADING: Final = given(0.8, "1", "share of the rating that is drawn for long", source=_COMMON)
_LEGS: Final = {"single": 1, "split": 2, "three": 3}
_ONE: Final = given(1.0, "1", "equal parts", source="ratings not all known")


@dataclass(frozen=True, slots=True)
class Supply:
    """An AC source: voltage of a leg to neutral, and what one leg may give for long."""

    part: Generator | Utility
    kind: Input
    connection: str
    voltage: Quantity
    apparent: Quantity | None
    """VA of one leg; None for a public supply, whose breaker alone binds."""
    active: Quantity | None
    """W of one leg, likewise."""
    breaker: Quantity
    """A of one leg, continuous."""
    load: Quantity
    """VA of one leg, greatest load that runs while it charges."""

    @property
    def legs(self) -> int:
        """Return how many legs or phases it has; one where that is not known, which is cautious."""
        return _LEGS.get(self.connection, 1)


def supply_of(plant: Plant, device: InverterCharger, kind: Input) -> Supply | None:
    """Return the AC source on an input of a device."""
    ident = device.inputs.get(kind)
    for generator in plant.site.generators:
        if generator.id == ident:
            return _generator_supply(plant, generator, kind)
    utility = plant.site.utility
    return _utility_supply(plant, utility, kind) if utility is not None and utility.id == ident else None


def _generator_supply(plant: Plant, generator: Generator, kind: Input) -> Supply:
    found = plant.generator_class(generator)
    legs = float(_LEGS[found.connection])
    derating = derating_of(plant, generator)
    made = []
    for field, unit in (("rated_apparent_power", "VA"), ("rated_power", "W")):
        rating = plant.rating(generator, field)
        one = leg_power.of(f"{rating.name}, one leg", rating=rating, legs=legs) if legs > 1 else rating
        budget = input_budget.of(
            f"{unit} of one leg of {generator.label}", rating=one, derating=derating, loading=_LOADING
        )
        made.append(budget.in_unit(unit))
    load = part_fact(generator, "load_while_charging")
    return Supply(
        part=generator,
        kind=kind,
        connection=found.connection,
        voltage=plant.rating(generator, "ac_voltage"),
        apparent=made[0],
        active=made[1],
        breaker=_continuous(plant, plant.rating(generator, "breaker"), f"breaker of {generator.label}"),
        load=leg_power.of("load on one leg meanwhile", rating=load, legs=legs),
    )


def _utility_supply(plant: Plant, utility: Utility, kind: Input) -> Supply:
    legs = float(_LEGS.get(utility.connection, 1))
    load = part_fact(utility, "load_while_charging")
    return Supply(
        part=utility,
        kind=kind,
        connection=utility.connection,
        voltage=_or_rule(plant, part_fact(utility, "ac_voltage"), "ac_voltage"),
        apparent=None,
        active=None,
        breaker=_continuous(plant, part_fact(utility, "supply_breaker"), f"breaker of {utility.label}"),
        load=leg_power.of("load on one leg meanwhile", rating=load, legs=legs),
    )


def _or_rule(plant: Plant, own: Quantity, field: str) -> Quantity:
    return own if isinstance(own, Figure) else plant.rule(field)


def _continuous(plant: Plant, rating: Quantity, name: str) -> Quantity:
    if isinstance(rating, Figure) and rating.value <= 0:
        return Unknown(
            (Gap(f"{rating.name}: 0 A is none", helps=f"look at {', '.join(site_keys(rating))}"),), "A", name
        )
    return continuous_limit.of(name, rating=rating, factor=plant.rule("continuous_factor"))


# derating of sets


def derating_of(plant: Plant, generator: Generator) -> Quantity:
    """Return the factor on a set's rating for the altitude and the hottest air where it stands.

    The rows of its class; for a class without rows the trade's rules: carburettor and gas engines from sea
    level and 25 °C, diesel from 1000 m and 40 °C.
    """
    return _deratings(plant)[generator.id]


@once
def _deratings(plant: Plant) -> dict[str, Quantity]:
    return {generator.id: _derating(plant, generator) for generator in plant.site.generators}


def _derating(plant: Plant, generator: Generator) -> Quantity:
    found = plant.generator_class(generator)
    altitude, air = fact(plant.site.site, "altitude", "site"), _air_at(plant, generator)
    sparked = found.fuel != "diesel"
    by_altitude = _by_rows(generator, found.altitude_derating, altitude, "altitude")
    if by_altitude is None:
        by_altitude = derating_by_altitude.of(
            altitude=altitude,
            start=0.0 if sparked else 1000.0,
            loss=0.035 if sparked else 0.03,
            step=300.0 if sparked else 500.0,
        )
    by_air = _by_rows(generator, found.ambient_derating, air, "temperature")
    if by_air is None:
        by_air = derating_by_temperature.of(
            temperature=air,
            start=25.0 if sparked else 40.0,
            loss=0.01 if sparked else 0.03,
            step=5.5 if sparked else 5.0,
        )
    name = f"derating of {generator.label}"
    made = combined_derating.of(name, by_altitude=by_altitude, by_temperature=by_air)
    if isinstance(made, Figure) and made.value <= 0:
        return Unknown(
            (Gap(f"{name}: its table leaves nothing here", helps="its maker's word for this place"),),
            "1",
            name,
        )
    return made


def _air_at(plant: Plant, generator: Generator) -> Quantity:
    """Return the hottest air at a set: its own where told, such as in a shed, else the site's."""
    own = part_fact(generator, "ambient")
    return own if isinstance(own, Figure) else fact(plant.site.site, "hottest_ambient", "site")


def _by_rows(
    generator: Generator, rows: Sequence[DeratingRow], value: Quantity, word: str
) -> Quantity | None:
    """Return the factor between the rows of a table; None where there is no table."""
    if not rows or isinstance(value, Unknown):
        return None if not rows else value
    name = f"derating of {generator.label} by {word}"
    last = max(row.at for row in rows)
    if value.value > last:
        return Unknown(
            (Gap(f"{name} beyond {last:g}, where its table ends", helps="its maker's word for this place"),),
            "1",
            name,
        )
    where, unit = f"{generator.profile}.{word}_derating", value.unit
    factors = {row.at: min(row.factor, 1.0) for row in rows}
    made = [
        (given(at, unit, word, kind="profile", where=where), given(factor, "1", "factor", kind="profile"))
        for at, factor in factors.items()
    ]
    if len(made) == 1:
        return made[0][1].named(name)
    return derating_between_rows.of(
        name, value=value, values=[at for at, _ in made], factors=[factor for _, factor in made]
    )


# who draws on which leg


def drawn_legs(plant: Plant, device: InverterCharger, supply: Supply) -> tuple[str, ...] | Unknown:
    """Return the legs of a source from which a device draws; one twice where both its legs hang on it."""
    two = plant.inverter_class(device).ac_legs == 2 or device.group_leg == "both"
    if supply.legs == 1:
        return _on_single(plant, device, supply) if two else ("1",)
    if two:
        return ("1", "2")
    if device.group_leg == UNKNOWN:
        return Unknown((Gap(f"leg of {device.label}", f"{device.where}.group_leg"),), "", "leg")
    if int(device.group_leg) > supply.legs:
        gap = f"leg of {device.label}: {supply.part.label} has no leg {device.group_leg}"
        return Unknown((Gap(gap, f"{device.where}.group_leg"),), "", "leg")
    return (device.group_leg,)


def _on_single(plant: Plant, device: InverterCharger, supply: Supply) -> tuple[str, ...]:
    """Return one leg for a device that lies across both lines of a single-phase source, else it twice."""
    voltage, own = supply.voltage, plant.rating(device, "ac_voltage")
    across = isinstance(voltage, Figure) and isinstance(own, Figure) and voltage.value > 1.5 * own.value
    return ("1",) if across else ("1", "1")


def units_on(plant: Plant, supply: Supply) -> list[tuple[InverterCharger, tuple[str, ...]]]:
    """Return the devices on a source with the legs they draw from; those without a known leg left out."""
    found = []
    for device in plant.site.inverter_chargers:
        if supply.part.id in device.inputs.values():
            legs = drawn_legs(plant, device, supply)
            if not isinstance(legs, Unknown):
                found.append((device, legs))
    return found


def leg_part(plant: Plant, supply: Supply, device: InverterCharger, leg: str, whole: Quantity) -> Quantity:
    """Return a device's part of what one leg gives or carries: in proportion to rated charge currents."""
    return sharing_on(plant, supply, leg).part(device, whole)


def sharing_on(plant: Plant, supply: Supply, leg: str) -> Sharing:
    """Return who shares a leg of a source."""
    return _sharing(plant, units_on(plant, supply), leg)


def group_part(plant: Plant, supply: Supply, device: InverterCharger, leg: str, whole: Quantity) -> Quantity:
    """Return a device's part of what its group gets on one leg."""
    return _sharing(plant, group_on(plant, supply, device), leg).part(device, whole)


def group_on(
    plant: Plant, supply: Supply, device: InverterCharger
) -> list[tuple[InverterCharger, tuple[str, ...]]]:
    """Return the devices of a device's group on a source, itself among them."""
    return [
        (unit, legs)
        for unit, legs in units_on(plant, supply)
        if unit.id == device.id or (device.group is not None and unit.group == device.group)
    ]


def _sharing(plant: Plant, members: Sequence[tuple[InverterCharger, tuple[str, ...]]], leg: str) -> Sharing:
    units = [unit for unit, legs in members for one in legs if one == leg]
    return Sharing(
        {unit.id: plant.rating(unit, "charger_current") for unit in units}, [unit.id for unit in units]
    )


@dataclass(frozen=True, slots=True)
class Sharing:
    """Who shares one leg: in proportion to rated charge currents, evenly where one is not known."""

    ratings: dict[str, Quantity]
    """A by id."""
    units: list[str]
    """Ids; one twice that draws on the leg twice."""

    def part(self, device: InverterCharger, whole: Quantity) -> Quantity:
        """Return a device's part of what the leg gives or carries."""
        if len(self.units) < 2:
            return whole
        even = any(isinstance(rating, Unknown) or rating.value <= 0 for rating in self.ratings.values())
        weights = [_ONE if even else self.ratings[unit] for unit in self.units]
        own = _ONE if even else self.ratings[device.id]
        name = f"{whole.name}, part of {device.label}"
        return shared_current.of(name, limit=whole, rating=own, ratings=weights)


# amperes of a leg


def leg_currents(plant: Plant, supply: Supply, device: InverterCharger) -> list[Quantity]:
    """Return what one leg may give, loads included, in A: by apparent power, by watts and by the breaker."""
    made = []
    if supply.apparent is not None:
        made.append(_amperes(supply, supply.apparent, f"VA of {supply.part.label}"))
    if supply.active is not None:
        made.append(_amperes(supply, _active_as_apparent(plant, supply, device), f"W of {supply.part.label}"))
    return [*made, supply.breaker]


def _active_as_apparent(plant: Plant, supply: Supply, device: InverterCharger) -> Quantity:
    assert supply.active is not None  # noqa: S101 - asked for by the caller
    factor = plant.rating(device, "charger_power_factor")
    name = f"watts of {supply.part.label} as apparent power"
    if isinstance(supply.load, Unknown) or isinstance(factor, Unknown):
        noted = supply.active.named(name, "power factor 1: loads or the charger's own factor not known")
        return noted.in_unit("VA")
    return apparent_budget.of(name, active=supply.active, load=supply.load, power_factor=factor)


def _amperes(supply: Supply, power: Quantity, name: str) -> Quantity:
    return input_current_limit.of(name, budget=power, voltage=supply.voltage)


def load_current(supply: Supply) -> Quantity:
    """Return the load that runs meanwhile on one leg, in A."""
    return _amperes(supply, supply.load, f"load on {supply.part.label} while it charges")


def less_load(current: Quantity, load: Quantity) -> Quantity:
    """Return what a current leaves for a charger beside the load."""
    return remaining_current.of(f"{current.name}, less the load", limit=current, others=[load])
