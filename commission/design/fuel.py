"""Fuel: what a charge from start to stop burns, and how long the store carries the loads without sun."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import Final

from commission.design.balance import nominal, taken
from commission.design.generator_draw import Drawn, charge_current, charge_power, drawn_from
from commission.design.less import energy_shown, time_shown
from commission.design.types import Found, Later, Remedy, Scene
from commission.design.words import gap, shown
from commission.figure import Figure, Quantity, given
from commission.formulas.arrays import charging_power
from commission.formulas.energy import fuel_of_run, in_proportion, time_of_store
from commission.formulas.engine import fuel_rate
from commission.formulas.generator import run_time
from commission.formulas.load_control import sum_of_powers
from commission.plant.change import Change
from commission.plant.plant import fact, part_fact
from commission.plant.site import Generator
from commission.sheet.bank_state import attempted, capacity
from commission.sheet.generator_run import STOP_STATE
from commission.sheet.states import states_of
from commission.sheet.types import Finding

_FIVE: Final = 5.0
"""L to which a store is rounded up."""


def check_fuel(scene: Scene) -> Iterator[Found]:
    """Find stores that do not last for one charge, or not as long as the bank alone is promised to."""
    for generator in scene.plant.site.generators:
        drawn = drawn_from(scene, generator)
        if not drawn:
            continue
        yield from _one_charge(scene, generator, drawn)
        yield from _store(scene, generator, drawn)


def charge_time(scene: Scene, drawn: Sequence[Drawn]) -> Quantity:
    """Return how long a set runs from the usual depth to the state of charge that stops it, in s."""
    plant, name = scene.plant, "run of the generator from start to stop"
    start, current = states_of(plant).start, charge_current(scene, drawn)
    efficiency = plant.cell("charge_efficiency")
    return attempted(
        lambda: run_time.of(
            name,
            capacity=capacity(plant),
            start=start,
            stop=STOP_STATE,
            current=current,
            charge_efficiency=efficiency,
        ),
        "s",
        name,
    )


def _rate(scene: Scene, generator: Generator, drawn: Sequence[Drawn]) -> Quantity:
    """Return the fuel that a set burns while it charges, with the least load beside it."""
    plant = scene.plant
    beside = part_fact(generator, "least_load_while_charging").in_unit("W")
    power = sum_of_powers.of(f"load of {generator.label}", powers=[charge_power(scene, drawn), beside])
    return fuel_rate.of(
        f"fuel rate of {generator.label}",
        rating=plant.rating(generator, "rated_power"),
        power=power,
        idle=plant.rating(generator, "fuel_idle"),
        slope=plant.rating(generator, "fuel_slope"),
    )


def _one_charge(scene: Scene, generator: Generator, drawn: Sequence[Drawn]) -> Iterator[Found]:
    store = part_fact(generator, "fuel_store")
    time, rate = charge_time(scene, drawn), _rate(scene, generator, drawn)
    fuel = fuel_of_run.of(f"fuel of a charge by {generator.label}", rate=rate, time=time)
    if not isinstance(store, Figure) or not isinstance(fuel, Figure) or fuel.value <= store.value + 1e-9:
        return
    assert isinstance(time, Figure) and isinstance(rate, Figure)  # noqa: S101, PT018 - the fuel came of them
    text = (
        f"a charge from start to stop takes {time_shown(time)} at {shown(scene, rate)} and burns "
        f"{shown(scene, fuel, beside=store)}, the store of {generator.label} holds "
        f"{shown(scene, store, beside=fuel)}"
    )
    finding = Finding("advise", "fuel-for-a-charge", (generator.id,), text, value=fuel, limit=store)
    yield Found(finding, Later(_more(scene, generator, fuel.value)))


def _store(scene: Scene, generator: Generator, drawn: Sequence[Drawn]) -> Iterator[Found]:
    """Find a store that, without any sun, lasts less long than the bank alone was promised to last."""
    plant = scene.plant
    promised = fact(plant.site.expected, "autonomy", "expected")
    energy, current = taken(plant), charge_current(scene, drawn)
    if not isinstance(promised, Figure) or not isinstance(energy, Figure) or energy.value <= 0:
        return
    if not isinstance(current, Figure) or current.value <= 0:
        return  # the sheet has told why nothing flows
    store = part_fact(generator, "fuel_store")
    lasts = time_of_store.of(
        f"time that the fuel of {generator.label} lasts without sun",
        store=store,
        rate=_rate(scene, generator, drawn),
        power=charging_power.of(
            "power into the bank on the generator", current=current, bank_voltage=nominal(plant)
        ),
        charge_efficiency=plant.cell("charge_efficiency"),
        energy=energy,
    )
    missing = gap("fuel-store", (generator.id,), lasts)
    if missing is not None:
        yield missing
    if not isinstance(lasts, Figure) or not isinstance(store, Figure):
        return
    if lasts.value >= promised.value - 1e-6:
        return
    text = (
        f"without sun the {shown(scene, store)} of {generator.label} carry {energy_shown(energy)} a day for "
        f"{time_shown(lasts)}, less than the {time_shown(promised)} that the bank alone was promised to last"
    )
    finding = Finding("advise", "fuel-store", (generator.id,), text, value=lasts, limit=promised)
    wanted = in_proportion.of("store that passes", value=store, wanted=promised, given=lasts)
    yield Found(finding, Later(_more(scene, generator, wanted.value)) if isinstance(wanted, Figure) else ())


def _more(scene: Scene, generator: Generator, litres: float) -> Iterator[Remedy]:
    store = math.ceil(litres / _FIVE - 1e-9) * _FIVE
    passes = given(store, "L", "store that passes", source="rounded up")
    change = (Change(f"{generator.where}.fuel_store", store),)
    yield Remedy(f"{shown(scene, passes)} of fuel kept at {generator.label}", passes, change)
