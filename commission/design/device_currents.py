"""What flows through every breaker and fuse, by the runs and the parts that it protects."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from commission.design import currents
from commission.design.circuits import circuits
from commission.design.direct import sums
from commission.design.fault_paths import BREAKS
from commission.design.guards import guard_of
from commission.design.types import Circuit, Scene
from commission.figure import Figure, Quantity
from commission.formulas.load_control import share_of_current
from commission.plant.equipment import Input
from commission.plant.once import once
from commission.plant.plant import Plant
from commission.plant.site import (
    AcPvInverter,
    ChargeController,
    Generator,
    InverterCharger,
    Load,
    Protection,
    Utility,
)

_INPUTS: Final[tuple[Input, ...]] = ("generator", "utility")


@dataclass(frozen=True, slots=True)
class Flow:
    """The greatest current through a device, and by what its rating must exceed it."""

    device: Protection
    current: Quantity
    factor: Figure
    circuits: tuple[Circuit, ...]
    """Runs that the device protects."""
    held: bool = False
    """A public supply's own breaker of that rating holds the current, in warm air sooner still."""


@once
def flows(scene: Scene) -> tuple[Flow, ...]:
    """Return what flows through every breaker and fuse of which that can be said, in the file's order."""
    return tuple(flow for device in scene.plant.site.protection if (flow := _flow(scene, device)))


def _flow(scene: Scene, device: Protection) -> Flow | None:
    if device.kind not in BREAKS:
        return None
    own = tuple(one for one in circuits(scene) if _holds(scene, one, device) and one.role != "unclear")
    cases = [(one.greatest, one.factor) for one in own] or list(_of_part(scene, device))
    utility = scene.plant.site.utility
    held = utility is not None and utility.id in {device.of, *(one.part for one in own)}
    known = [(current, factor) for current, factor in cases if isinstance(current, Figure)]
    if not known:
        return None if not cases else Flow(device, *cases[0], own, held)
    current, factor = max(known, key=lambda case: _value(case[0]) * case[1].value)
    return Flow(device, current, factor, own, held)


def _value(current: Quantity) -> float:
    return current.value if isinstance(current, Figure) else 0.0


def _holds(scene: Scene, circuit: Circuit, device: Protection) -> bool:
    guard = guard_of(scene, circuit)
    return guard is not None and guard.id == device.id


def _of_part(scene: Scene, device: Protection) -> Iterator[tuple[Quantity, Figure]]:
    """Yield current and factor of what a device without a run of its own protects, as the site names it."""
    plant, usual = scene.plant, scene.plant.rule("continuous_factor")
    for inverter in plant.site.inverter_chargers:
        kinds = tuple(kind for kind in _INPUTS if inverter.input_breakers.get(kind) == device.id)
        if kinds:
            yield currents.input_current(scene, inverter, kinds), usual
        if inverter.ac_breaker == device.id:
            yield currents.output_current(plant, inverter), usual
        if inverter.protection == device.id:
            yield currents.inverter_current(plant, inverter), usual
    for controller in plant.site.charge_controllers:
        if controller.protection == device.id:
            yield currents.controller_output(plant, controller), usual
    for coupled in plant.site.ac_pv_inverters:
        if coupled.panel_breaker == device.id:
            yield currents.coupled_current(plant, coupled), usual
    if device.protects in {"device", "branch"}:
        yield from _of_named(plant, device, usual)
    yield from _of_bank(scene, device, usual)


def _of_named(plant: Plant, device: Protection, usual: Figure) -> Iterator[tuple[Quantity, Figure]]:
    utility = plant.site.utility
    part = utility if utility is not None and utility.id == device.of else plant.parts.get(device.of or "")
    if isinstance(part, Load) and part.current == device.current:
        if part.current == "dc":
            yield currents.direct_load_current(plant, part, currents.bank_low(plant)), usual
        else:
            yield currents.load_current(plant, part), usual
    elif isinstance(part, Generator | Utility) and device.current == "ac":
        yield currents.supply_current(plant, part), currents.SUPPLY_FACTOR
    elif isinstance(part, AcPvInverter) and device.current == "ac":
        yield currents.coupled_current(plant, part), usual
    elif isinstance(part, InverterCharger) and device.current == "dc":
        yield currents.inverter_current(plant, part), usual
    elif isinstance(part, ChargeController) and device.current == "dc":
        yield currents.controller_output(plant, part), usual


def _of_bank(scene: Scene, device: Protection, usual: Figure) -> Iterator[tuple[Quantity, Figure]]:
    plant = scene.plant
    parts = [source.id for source in plant.sources]
    parts += [load.id for load in plant.site.loads if load.current == "dc"]
    if not parts or device.current != "dc":
        return
    mains = [one for one in plant.site.protection if one.protects == "bank" and one.kind in BREAKS]
    strings = {string.id for string in plant.bank.strings}
    if device.protects == "bank" and len(mains) == 1:
        yield sums(scene, parts, "the bank")[0], usual
    elif device.protects == "string" and device.of in strings:
        share = currents.one_of(len(strings), "strings")
        whole = sums(scene, parts, "all strings together")[0]
        name = f"share of {device.of} in the greatest current"
        yield share_of_current.of(name, share=share, current=whole), usual
