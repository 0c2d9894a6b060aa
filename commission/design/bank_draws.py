"""What is drawn from the bank: for long and at a start, as it is expected and as much as inverters can."""

from __future__ import annotations

from collections.abc import Iterator

from commission.design.inverter_supplies import Supply, loads_on, supplies_of
from commission.design.output_load import (
    direct_loads,
    expected_alternating,
    load_for_long,
    start_is_told,
    start_load,
    together,
)
from commission.figure import Figure, Quantity, Unknown, given, greatest, least
from commission.formulas.inverters import bank_load
from commission.formulas.load_control import sum_of_powers
from commission.formulas.sizing import battery_load
from commission.plant.plant import Plant, fact, part_fact
from commission.plant.site import Load


def efficiency_of(plant: Plant) -> Quantity:
    """Return the least efficiency between bank and loads."""
    inverters = plant.site.inverter_chargers
    if not inverters:
        return given(1.0, "1", "no inverter between bank and loads", source="DC loads only")
    found = [plant.rating(one, "inverter_efficiency") for one in inverters]
    return least("least efficiency of the inverters", *found)


def long_power(plant: Plant) -> Quantity:
    """Return the power out of the bank at the load that is expected, or that runs day and night, in W."""
    loads = [load for load in plant.site.loads if load.current == "ac" and load.continuous]
    always = sum_of_powers.of(
        "AC loads that run day and night", powers=[part_fact(load, "power") for load in loads]
    )
    if not plant.site.inverter_chargers:
        return _direct_only(plant)
    told = expected_alternating(plant)
    alternating: Quantity
    if isinstance(told, Unknown) and loads:
        alternating = always
    else:
        alternating = greatest("AC load for long", told, always) if loads else told
    return bank_load.of(
        "power out of the bank at the load for long",
        alternating=alternating,
        efficiency=efficiency_of(plant),
        direct=direct_loads(plant),
    )


def _direct_only(plant: Plant) -> Quantity:
    told, always = fact(plant.site.expected, "load", "expected", "the plant"), direct_loads(plant)
    if isinstance(told, Figure) and isinstance(always, Figure):
        return greatest("DC load for long", told, always)
    return told if isinstance(told, Figure) or not isinstance(always, Figure) else always


def rated_power(plant: Plant) -> Quantity:
    """Return the most that inverters at their ratings and DC loads draw for long, in W."""
    powers = [
        battery_load.of(
            f"power that {one.label} draws at its rating",
            power=plant.rating(one, "continuous_power"),
            efficiency=plant.rating(one, "inverter_efficiency"),
        )
        for one in plant.site.inverter_chargers
    ]
    if not powers:
        loads = [load for load in plant.site.loads if load.current == "dc"]
        return sum_of_powers.of("all DC loads together", powers=[part_fact(load, "power") for load in loads])
    return sum_of_powers.of(
        "power out of the bank at the inverters' ratings", powers=[*powers, direct_loads(plant)]
    )


def surge_power(plant: Plant) -> Quantity:
    """Return the most that inverters draw for seconds, in W."""
    powers = [
        battery_load.of(
            f"power that {one.label} draws at its surge rating",
            power=plant.rating(one, "surge_power"),
            efficiency=plant.rating(one, "inverter_efficiency"),
        )
        for one in plant.site.inverter_chargers
    ]
    return sum_of_powers.of(
        "power out of the bank at the inverters' surge", powers=[*powers, direct_loads(plant)]
    )


def start_power(plant: Plant) -> Quantity | None:
    """Return the power out of the bank at the largest start that is told, None where none is, in W."""
    starts = [_started(plant, supply, load) for supply, load in _loads(plant) if start_is_told(load)]
    known = [item for item in starts if isinstance(item, Figure)]
    if not starts:
        return None
    return greatest("power out of the bank at the largest start", *known) if known else starts[0]


def untold_starts(plant: Plant) -> Iterator[tuple[Quantity, Quantity]]:
    """Yield, for every start that is not told, the most that it can be out of the bank and the gap."""
    for supply, load in _loads(plant):
        if not start_is_told(load):
            yield _started(plant, supply, load), part_fact(load, "starting_power")


def _loads(plant: Plant) -> Iterator[tuple[Supply, Load]]:
    for supply in supplies_of(plant):
        for load in loads_on(plant, supply):
            yield supply, load


def _started(plant: Plant, supply: Supply, load: Load) -> Quantity:
    """Return the power out of the bank while a load starts beside what runs, on all supplies, in W."""
    others = [load_for_long(plant, other) for other in supplies_of(plant) if other.ids != supply.ids]
    return bank_load.of(
        f"power out of the bank as {load.label} starts",
        alternating=together(f"{load.label} starts", [start_load(plant, supply, load), *others]),
        efficiency=efficiency_of(plant),
        direct=direct_loads(plant),
    )
