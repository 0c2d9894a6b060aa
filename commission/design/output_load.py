"""What the loads ask of an AC supply for long and at a start, and what its inverters give."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from commission.design.inverter_supplies import Supply, load_legs, loads_on, supplies_of, unit_legs
from commission.figure import Figure, Quantity, Unknown, given, greatest, least
from commission.formulas.ac_input import leg_power
from commission.formulas.generator import derating_between_rows
from commission.formulas.inverters import (
    alternating_part,
    altitude_factor,
    derated_output,
    greatest_start,
    mean_power_factor,
)
from commission.formulas.load_control import sum_of_powers
from commission.formulas.wiring_sizes import apparent_power
from commission.plant.equipment import DeratingRow
from commission.plant.once import once
from commission.plant.plant import Plant, datasheet_gap, fact, part_fact
from commission.plant.site import InverterCharger, Load

_RATED_AT: Final = 25.0
"""°C of the air at which a continuous rating is told."""
_START_MULTIPLE: Final = given(
    8.0, "1", "start over running, at most", source="from memory: locked rotor, 6 to 8 times"
)
_NO_FACTOR: Final = given(1.0, "1", "power factor, no loads told: 1", source="the least that it can be in VA")


# what the inverters give


def output_for_long(plant: Plant, unit: InverterCharger, leg: str | None = None) -> Quantity:
    """Return what an inverter gives for long in its room, all of it or on one leg, in VA."""
    return _of_leg(plant, unit, _derated(plant)[unit.id], leg)


@once
def _derated(plant: Plant) -> dict[str, Quantity]:
    """Return what each inverter gives for long in its room, in VA."""
    return {
        unit.id: derated_output.of(
            f"output of {unit.label} for long",
            rating=plant.rating(unit, "continuous_power"),
            by_temperature=_by_temperature(plant, unit),
            by_altitude=_by_altitude(plant, unit),
        )
        for unit in plant.site.inverter_chargers
    }


def surge_output(plant: Plant, unit: InverterCharger, leg: str | None = None) -> Quantity:
    """Return what an inverter gives for seconds, all of it or on one leg, in VA."""
    return _of_leg(plant, unit, plant.rating(unit, "surge_power"), leg)


def _of_leg(plant: Plant, unit: InverterCharger, whole: Quantity, leg: str | None) -> Quantity:
    legs = unit_legs(plant, unit)
    if leg is None or len(legs) < 2:
        return whole
    return leg_power.of(f"{whole.name}, one leg", rating=whole, legs=float(len(legs))).in_unit("VA")


def _by_temperature(plant: Plant, unit: InverterCharger) -> Quantity:
    rows, air = plant.inverter_class(unit).ambient_derating, fact(plant.site.site, "room_temperature", "site")
    name = f"share of {unit.label} that the air leaves"
    if rows:
        return _between(plant, unit, rows, air, name)
    if isinstance(air, Figure) and air.value > _RATED_AT:
        return Unknown(
            (datasheet_gap(unit, "ambient_derating", f"derating of {unit.label} by temperature"),), "1", name
        )
    return air if isinstance(air, Unknown) else given(1.0, "1", name, source="rated at 25 °C")


def _by_altitude(plant: Plant, unit: InverterCharger) -> Quantity:
    rows, height = plant.inverter_class(unit).altitude_derating, fact(plant.site.site, "altitude", "site")
    name = f"share of {unit.label} that the altitude leaves"
    return _between(plant, unit, rows, height, name) if rows else altitude_factor.of(name, altitude=height)


def _between(
    plant: Plant, unit: InverterCharger, rows: Sequence[DeratingRow], value: Quantity, name: str
) -> Quantity:
    if isinstance(value, Unknown):
        return value
    where = f"{plant.inverter_class(unit).id}, derating rows"
    factors = {row.at: min(row.factor, 1.0) for row in rows}
    made = [given(factor, "1", "factor", kind="profile", where=where) for factor in factors.values()]
    if len(made) == 1:
        return made[0].named(name)
    return derating_between_rows.of(
        name,
        value=value,
        values=[given(at, value.unit, "row", kind="profile", where=where) for at in factors],
        factors=made,
    )


def together(name: str, powers: Sequence[Quantity]) -> Quantity:
    """Return apparent powers added as numbers, in VA; a single one stays itself."""
    if len(powers) == 1:
        return powers[0].named(name)
    return sum_of_powers.of(name, powers=list(powers)).in_unit("VA")


# what the loads ask for


@once
def direct_loads(plant: Plant) -> Quantity:
    """Return the DC loads that run day and night, in W."""
    return sum_of_powers.of("DC loads that run day and night", powers=_direct(plant))


def _direct(plant: Plant) -> list[Quantity]:
    loads = [load for load in plant.site.loads if load.current == "dc" and load.continuous]
    return [part_fact(load, "power") for load in loads]


@once
def expected_alternating(plant: Plant) -> Quantity:
    """Return the part of the expected load that the inverters carry, in W.

    A DC load of unknown power is not taken off, which leaves the inverters more to carry.
    """
    known = [power for power in _direct(plant) if isinstance(power, Figure)]
    return alternating_part.of(
        "expected load on the AC side",
        load=fact(plant.site.expected, "load", "expected", "the plant"),
        direct=sum_of_powers.of("DC loads that run with it", powers=known),
    )


def running(load: Load) -> Quantity:
    """Return the apparent power of an AC load that runs, in VA."""
    return apparent_power.of(
        f"apparent power of {load.label}",
        power=part_fact(load, "power"),
        power_factor=part_fact(load, "power_factor"),
    )


def starting(load: Load) -> Quantity:
    """Return the apparent power of an AC load at its start, in VA; the most that it can be if untold."""
    told = part_fact(load, "starting_power")
    own = running(load)
    if isinstance(told, Figure):
        return greatest(f"start of {load.label}", told, own) if isinstance(own, Figure) else told
    return greatest_start.of(f"start of {load.label}, at most", running=own, multiple=_START_MULTIPLE)


def start_is_told(load: Load) -> bool:
    """Return whether the start of a load is told."""
    return isinstance(part_fact(load, "starting_power"), Figure)


def expected_apparent(plant: Plant, supply: Supply) -> Quantity:
    """Return the expected load of the AC side as apparent power, in VA, by the loads' own power factors.

    Of several supplies none carries more than what hangs on it.
    """
    return _expected(plant)[supply.ids]


@once
def _expected(plant: Plant) -> dict[tuple[str, ...], Quantity]:
    return {supply.ids: _expected_of(plant, supply) for supply in supplies_of(plant)}


def _expected_of(plant: Plant, supply: Supply) -> Quantity:
    loads = loads_on(plant, supply)
    expected = apparent_power.of(
        "expected load on the AC side, apparent",
        power=expected_alternating(plant),
        power_factor=_factor(loads),
    )
    if len(supplies_of(plant)) < 2:
        return expected
    return known_least("load that is expected here", expected, connected(loads, None))


def _factor(loads: Sequence[Load]) -> Quantity:
    known = [load for load in loads if isinstance(running(load), Figure)]
    powers = [part_fact(load, "power") for load in known]
    if not any(isinstance(power, Figure) and power.value > 0 for power in powers):
        return _NO_FACTOR
    return mean_power_factor.of(
        "power factor of the loads together",
        power=sum_of_powers.of("loads together", powers=powers),
        apparent=together("loads together, apparent", [running(load) for load in known]),
    )


def on_leg(load: Load, leg: str | None, value: Quantity) -> Quantity:
    """Return the part of a load's power that one leg carries; all of it for no leg."""
    legs = load_legs(load)
    if leg is None or len(legs) < 2:
        return value
    return leg_power.of(f"{value.name}, one leg", rating=value, legs=float(len(legs))).in_unit(value.unit)


def connected(loads: Sequence[Load], leg: str | None, but: Load | None = None) -> Quantity:
    """Return the apparent power of all loads on a leg, or on all, one of them left out, in VA."""
    found = [load for load in loads if load is not but and (leg is None or leg in load_legs(load))]
    word = "all loads" if leg is None else f"all loads on leg {leg}"
    name = word if but is None else f"{word} but {but.label}"
    return sum_of_powers.of(name, powers=[on_leg(load, leg, running(load)) for load in found]).in_unit("VA")


def lasting(loads: Sequence[Load], leg: str | None) -> Quantity | None:
    """Return the apparent power of the loads that run day and night, None where there is none, in VA."""
    found = [load for load in loads if load.continuous and (leg is None or leg in load_legs(load))]
    if not found:
        return None
    word = "loads that run day and night" if leg is None else f"loads on leg {leg} that run day and night"
    return together(word, [on_leg(load, leg, running(load)) for load in found])


def load_for_long(plant: Plant, supply: Supply, leg: str | None = None) -> Quantity:
    """Return the greatest apparent power that a supply, or one leg of it, has to carry for long, in VA.

    What is expected, on a leg no more than what hangs on it; never less than what runs day and night.
    """
    loads = loads_on(plant, supply)
    expected = expected_apparent(plant, supply)
    if leg is not None:
        expected = known_least(f"load of leg {leg} for long", expected, connected(loads, leg))
    always = lasting(loads, leg)
    if always is None:
        return expected
    name = "load for long" if leg is None else f"load of leg {leg} for long"
    if isinstance(expected, Unknown) and isinstance(always, Figure):
        return always
    return greatest(name, expected, always)


def start_load(plant: Plant, supply: Supply, load: Load, leg: str | None = None) -> Quantity:
    """Return the apparent power while one load starts beside what runs, in VA.

    Beside it runs what is expected, no more than the other loads together.
    """
    loads = loads_on(plant, supply)
    beside = known_least(
        f"load beside the start of {load.label}",
        expected_apparent(plant, supply),
        connected(loads, leg, load),
    )
    name = f"{load.label} starts" if leg is None else f"{load.label} starts, leg {leg}"
    return together(name, [on_leg(load, leg, starting(load)), beside])


def known_least(name: str, *candidates: Quantity) -> Quantity:
    """Return the least of what is known: each candidate alone is never less than what it bounds."""
    known = [item for item in candidates if isinstance(item, Figure)]
    return least(name, *known) if known else least(name, *candidates)
