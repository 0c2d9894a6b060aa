"""AC runs: inverter outputs and inputs, AC-coupled PV, supplies, loads and panels."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

from commission.design import currents
from commission.design.direct import unclear, usual_of
from commission.design.points import Points
from commission.design.types import Circuit, Scene
from commission.figure import Figure, Gap, Quantity, Unknown, greatest
from commission.formulas.charging import sum_of_currents
from commission.plant.equipment import Input
from commission.plant.plant import Plant
from commission.plant.site import AcPvInverter, Generator, InverterCharger, Load, Run, Utility
from commission.sheet.gaps import serves_gap

_KINDS: Final[tuple[Input, ...]] = ("generator", "utility")


def alternating(scene: Scene, net: Points, run: Run) -> Circuit:
    """Return what flows through an AC run."""
    ends = [scene.plant.parts.get(end) for end in (*net.ends(run), run.from_, run.to)]
    for end in ends:
        if isinstance(end, Load):
            return _load(scene, run, end)
        if isinstance(end, AcPvInverter):
            return _coupled(scene, run, end)
    inverter = next((end for end in ends if isinstance(end, InverterCharger)), None)
    source = next((end for end in ends if isinstance(end, Generator | Utility)), None)
    if inverter is not None:
        return _inverter(scene, net, run, inverter, source)
    if source is not None:
        return _supply(scene, run, source)
    return _panel(scene, net, run)


def _load(scene: Scene, run: Run, load: Load) -> Circuit:
    plant, legs = scene.plant, currents.load_legs(load) or 1
    most = currents.load_current(plant, load)
    voltage = currents.across(currents.leg_voltage(plant), legs)
    return Circuit(run, "ac load", voltage, most, most, plant.rule("continuous_factor"), load.id, legs)


def _coupled(scene: Scene, run: Run, device: AcPvInverter) -> Circuit:
    plant = scene.plant
    most = currents.coupled_current(plant, device)
    return Circuit(
        run,
        "ac pv",
        plant.rating(device, "ac_voltage"),
        most,
        most,
        plant.rule("continuous_factor"),
        device.id,
        currents.coupled_legs(plant, device),
    )


# inverters


def _inverter(
    scene: Scene, net: Points, run: Run, device: InverterCharger, source: Generator | Utility | None
) -> Circuit:
    plant, legs = scene.plant, currents.output_legs(scene.plant, device)
    voltage = currents.across(plant.rating(device, "ac_voltage"), legs)
    factor = plant.rule("continuous_factor")
    kinds = _inputs(net, run, device, source)
    if kinds:
        most = currents.input_current(scene, device, kinds)
        return Circuit(run, "ac input", voltage, most, most, factor, device.id, legs)
    most = currents.output_current(plant, device)
    usual = usual_of(currents.output_working(plant, device), most)
    return Circuit(run, "ac output", voltage, most, usual, factor, device.id, legs)


def _inputs(
    net: Points, run: Run, device: InverterCharger, source: Generator | Utility | None
) -> tuple[Input, ...]:
    """Return the inputs of an inverter/charger that a run feeds, none where it is its output."""
    if source is not None:
        return tuple(kind for kind in _KINDS if device.inputs.get(kind) == source.id) or _KINDS
    if run.protection is not None and run.protection == device.ac_breaker:
        return ()
    guarded = tuple(kind for kind in _KINDS if device.input_breakers.get(kind) == run.protection)
    if guarded and run.protection is not None:
        return guarded
    first, second = net.ends(run)
    reached = net.beyond(run, second if first == device.id else first)
    if run.to != device.id:
        return ()
    return tuple(kind for kind in _KINDS if device.inputs.get(kind) in reached)


# supplies, panels


def _supply(scene: Scene, run: Run, source: Generator | Utility) -> Circuit:
    plant = scene.plant
    legs = currents.supply_legs(plant, source) or 1
    voltage = currents.across(currents.supply_voltage(plant, source), legs)
    most = currents.supply_current(plant, source)
    return Circuit(run, "supply", voltage, most, most, currents.SUPPLY_FACTOR, source.id, legs)


def _panel(scene: Scene, net: Points, run: Run) -> Circuit:
    """Return what a run between panels carries: the loads behind it leg by leg, or what is made there."""
    plant = scene.plant
    sides = [(end, net.beyond(run, end)) for end in net.ends(run)]
    used = [(end, side) for end, side in sides if not _makers(plant, side)]
    voltage = currents.leg_voltage(plant)
    if not used:
        gap = f"which way the current of {run.label} flows: something feeds both its ends"
        return unclear(
            run, Unknown((Gap(gap, helps="its current by hand"),), "A", f"current of {run.label}"), voltage
        )
    end, behind = used[-1]
    loads = [load for load in plant.site.loads if load.current == "ac" and load.id in behind]
    if not loads:
        return unclear(run, Unknown((serves_gap(run),), "A", f"current of {run.label}"), voltage)
    legs = max(currents.load_legs(load) or 1 for load in loads)
    most = _by_leg(plant, loads, run.label)
    return Circuit(
        run,
        "ac panel",
        currents.across(voltage, legs),
        most,
        most,
        plant.rule("continuous_factor"),
        end if end in plant.parts else run.id,
        legs,
    )


def _makers(plant: Plant, side: frozenset[str]) -> bool:
    utility = [] if plant.site.utility is None else [plant.site.utility]
    makers = (*plant.site.inverter_chargers, *plant.site.generators, *plant.site.ac_pv_inverters, *utility)
    return any(part.id in side for part in makers)


def _by_leg(plant: Plant, loads: Iterable[Load], label: str) -> Quantity:
    """Return the greatest sum of load currents on one leg."""
    on: dict[str, list[Quantity]] = {}
    for load in loads:
        for leg in _legs_of(load):
            on.setdefault(leg, []).append(currents.load_current(plant, load))
    sums = [
        sum_of_currents.of(f"loads behind {label} on leg {leg}", currents=parts)
        for leg, parts in sorted(on.items())
    ]
    known = [one for one in sums if isinstance(one, Figure)]
    if len(known) < len(sums) or len(sums) == 1:
        return next((one for one in sums if isinstance(one, Unknown)), sums[0])
    return greatest(f"loads behind {label} on the fullest leg", *known)


def _legs_of(load: Load) -> tuple[str, ...]:
    return {"both": ("1", "2"), "all": ("1", "2", "3")}.get(load.leg, (load.leg,))
