"""The bank as the low end sees it: rested voltages, resistances up to a device, and what the loads draw."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

from commission.errors import FormulaError
from commission.figure import Figure, Quantity, Unknown, given, least
from commission.formulas.bank import bank_capacity, bank_voltage
from commission.formulas.bank_wiring import parallel_resistance
from commission.formulas.load_control import load_share, rating_share, shared_resistance, sum_of_powers
from commission.formulas.low_end import bank_resistance, sagged_current, voltage_under_load
from commission.plant.once import once, once_each
from commission.plant.plant import Plant, fact, part_fact
from commission.plant.site import Device, InverterCharger, Monitor
from commission.sheet.bank_limit import rated_capacity
from commission.sheet.cables import cable_resistance, path_to_bank, shared_series
from commission.sheet.gaps import run_gap
from commission.sheet.times import rested_cell

COMMON: Final = "common practice"


@once
def cells(plant: Plant) -> Figure:
    """Return the cells in series of the bank."""
    return given(float(plant.bank.cells), "1", "cells in series", kind="site", where="bank")


def whole(plant: Plant, field: str) -> Quantity:
    """Return a voltage of the battery's profile for the whole bank."""
    value = plant.cell(field)
    return bank_voltage.of(f"{value.name}, whole bank", cells=cells(plant), cell_voltage=value)


def whole_range(plant: Plant, field: str) -> tuple[Quantity | None, Quantity | None]:
    """Return the least and greatest of a voltage of the profile for the whole bank; None for no limit."""
    low, high = (
        None
        if end is None
        else bank_voltage.of(f"{end.name}, whole bank", cells=cells(plant), cell_voltage=end)
        for end in plant.cell_range(field)
    )
    return low, high


def attempted(make: Callable[[], Quantity], unit: str, name: str) -> Quantity:
    """Return what a formula makes, or what it refuses as a gap that a person can read."""
    try:
        return make()
    except FormulaError as error:
        return Unknown((f"{name}: {error}",), unit, name)


def rested_of_one(plant: Plant, state: Quantity) -> Quantity:
    """Return the rested voltage of one cell at a state of charge."""
    if isinstance(state, Unknown):
        return Unknown(state.missing, "V", "rested voltage of one cell")
    name = f"rested voltage of one cell at {state.value:.0%} charge"
    return attempted(lambda: rested_cell(plant, state), "V", name)


def rested(plant: Plant, state: Quantity) -> Quantity:
    """Return the rested voltage of the bank at a state of charge."""
    percent = f"{state.value:.0%}" if isinstance(state, Figure) else "an unknown"
    return bank_voltage.of(
        f"rested voltage of the bank at {percent} charge",
        cells=cells(plant),
        cell_voltage=rested_of_one(plant, state),
    )


@once
def resistance_of_bank(plant: Plant) -> Quantity:
    """Return the DC resistance of the bank: its maker's per string, else what is usual for the chemistry."""
    told = fact(plant.bank, "resistance", "bank")
    strings = len(plant.bank.strings)
    if isinstance(told, Figure):
        return parallel_resistance.of("resistance of the bank", resistances=[told] * strings)
    return bank_resistance.of(
        "resistance of the bank, as is usual for the chemistry",
        cells=cells(plant),
        resistance_capacity=plant.cell("resistance_capacity"),
        capacity=fact(plant.bank, "capacity", "bank"),
        strings=float(strings),
    )


@once_each
def resistance_up_to(plant: Plant, device: Device) -> Quantity:
    """Return the resistance between the cells and where a device reads its voltage, seen by all the load.

    A run that carries only this device's share of the load counts with that share; a monitor and a device
    with sense leads read at the posts.
    """
    inside = resistance_of_bank(plant)
    if isinstance(device, Monitor) or getattr(plant.equipment[device.id], "senses_voltage", "") == "remote":
        return inside
    path = path_to_bank(plant, device.id)
    if path is None:
        return Unknown((run_gap(device),), "Ω", f"resistance up to {device.label}")
    parts = [
        shared_resistance.of(
            f"resistance of {run.label}, as all the load sees it",
            resistance=cable_resistance(run),
            share=_share_on(plant, run.id, device),
        )
        for run in path
    ]
    return shared_series(f"resistance up to {device.label}", inside, parts)


def _share_on(plant: Plant, run: str, device: Device) -> Quantity:
    """Return the share of the load that a run carries: what the inverters behind it are rated for."""
    everyone = plant.site.inverter_chargers
    behind = [one for one in everyone if any(part.id == run for part in path_to_bank(plant, one.id) or ())]
    if len(behind) == len(everyone) or not everyone:
        return given(1.0, "1", "share of the load behind it: all", source=COMMON)
    if not behind:
        return _share_of_direct_loads(plant, device)
    return share_of(plant, behind)


def share_of(plant: Plant, devices: list[InverterCharger]) -> Quantity:
    """Return the share of the plant's load that some of its inverters carry, by their ratings."""
    ratings = [plant.rating(one, "continuous_power") for one in plant.site.inverter_chargers]
    shares = [
        rating_share.of(f"share of {one.label}", part=plant.rating(one, "continuous_power"), parts=ratings)
        for one in devices
    ]
    if len(shares) == 1:
        return shares[0]
    return sum_of_powers.of("share of the load behind the run", powers=shares).in_unit("1")


def _share_of_direct_loads(plant: Plant, device: Device) -> Quantity:
    """Return the share that DC loads have in the expected load, for a run that feeds no inverter."""
    loads = [load for load in plant.site.loads if load.current == "dc"]
    if not loads:
        return given(0.0, "1", f"share of the load on the run of {device.label}: no DC load", source=COMMON)
    total = sum_of_powers.of("DC loads", powers=[part_fact(load, "power") for load in loads])
    expected = expected_power(plant)
    name = f"share of the DC loads on the run of {device.label}"
    return attempted(lambda: load_share.of(name, load=total, whole=expected), "1", name)


@once
def expected_power(plant: Plant) -> Quantity:
    """Return the load that is expected for long: as told, else all continuous loads together."""
    told = fact(plant.site.expected, "load", "expected", "the plant")
    if isinstance(told, Figure):
        return told
    lasting = [part_fact(load, "power") for load in plant.site.loads if load.continuous]
    if not lasting:
        return told
    return sum_of_powers.of("continuous loads together", powers=lasting)


def expected_current(plant: Plant, device: Device, rest: Quantity) -> Quantity:
    """Return the current that the expected load draws from a bank of a rested voltage."""
    name = f"current of the expected load, seen at {device.label}"
    power, efficiency = expected_power(plant), _efficiency(plant, device)
    resistance = resistance_up_to(plant, device)
    return attempted(
        lambda: sagged_current.of(
            name, rest_voltage=rest, resistance=resistance, power=power, efficiency=efficiency
        ),
        "A",
        name,
    )


@once_each
def _efficiency(plant: Plant, device: Device) -> Quantity:
    inverters = plant.site.inverter_chargers
    if isinstance(device, InverterCharger):
        return plant.rating(device, "inverter_efficiency")
    if not inverters:
        return given(1.0, "1", "no inverter between bank and loads", source=COMMON)
    return least(
        "least efficiency of the inverters", *(plant.rating(one, "inverter_efficiency") for one in inverters)
    )


def loaded(plant: Plant, device: Device, state: Quantity) -> Quantity:
    """Return the voltage that a device reads at a state of charge while the expected load is drawn."""
    rest = rested(plant, state)
    current = expected_current(plant, device, rest)
    percent = f"{state.value:.0%}" if isinstance(state, Figure) else "an unknown"
    name = f"voltage at {device.label} at {percent} charge under the expected load"
    resistance = resistance_up_to(plant, device)
    return attempted(
        lambda: voltage_under_load.of(
            name,
            cells=cells(plant),
            rested=rested_of_one(plant, state),
            resistance=resistance,
            current=current,
        ),
        "V",
        name,
    )


def capacity(plant: Plant) -> Quantity:
    """Return the capacity of all strings together at the hour rate that the battery's rates refer to."""
    return bank_capacity.of(
        "capacity of the bank", capacity=rated_capacity(plant), strings=float(len(plant.bank.strings))
    )
