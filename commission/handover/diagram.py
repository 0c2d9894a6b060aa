"""The one-line diagram in text: what hangs on what, one part a line."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from commission.plant.plant import Plant
from commission.plant.site import ChargeController, DirectCurrentSource, InverterCharger
from commission.plant.values import UNKNOWN
from commission.units import plain, show


@dataclass(frozen=True, slots=True)
class DiagramLine:
    """One line of the diagram and the part that it stands for."""

    part: str
    tree: str
    """Branches drawn before the text."""
    text: str


@dataclass(frozen=True, slots=True)
class _Node:
    part: str
    text: str
    below: tuple[_Node, ...] = ()


def diagram(plant: Plant) -> list[DiagramLine]:
    """Return the plant as a tree: the bank with what sits on the DC bus, then the AC side."""
    roots = [_bank(plant), *_ac_side(plant)]
    return [line for root in roots for line in _drawn(root, "", "")]


def _drawn(node: _Node, before: str, below: str) -> Iterator[DiagramLine]:
    yield DiagramLine(node.part, before, node.text)
    for index, child in enumerate(node.below):
        last = index == len(node.below) - 1
        yield from _drawn(child, below + ("└─ " if last else "├─ "), below + ("   " if last else "│  "))


def _bank(plant: Plant) -> _Node:
    bank = plant.bank
    strings = f"{len(bank.strings)} strings" if len(bank.strings) > 1 else "1 string"
    capacity = UNKNOWN if bank.capacity == UNKNOWN else f"{plain(float(bank.capacity))} Ah"
    text = f"{plant.battery.name.lower()}, {bank.cells} cells in series, {strings} of {capacity}"
    children = [_source(plant, device) for device in plant.sources]
    if plant.site.monitor is not None:
        monitor = plant.site.monitor
        children.append(
            _Node(monitor.id, f"{monitor.label}, monitor, shunt {monitor.shunt_place}".rstrip(" ,"))
        )
    loads = [load for load in plant.site.loads if load.current == "dc"]
    children += [_Node(load.id, f"{load.label}, DC load{_watts(load.power)}") for load in loads]
    return _Node("bank", text, tuple(children))


def _source(plant: Plant, device: DirectCurrentSource) -> _Node:
    if isinstance(device, InverterCharger):
        return _inverter(device)
    assert isinstance(device, ChargeController)  # noqa: S101 - the only other source on the DC bus
    array = device.array
    below: tuple[_Node, ...] = ()
    if array is not None:
        count = f"{array.series} in series, {len(array.strings)} in parallel"
        below = (_Node(f"{device.id}:array", f"PV array, {count}{_watts(array.module_power, ' a module')}"),)
    return _Node(device.id, f"{device.label}, charge controller", below)


def _inverter(device: InverterCharger) -> _Node:
    leg = "both legs" if device.group_leg == "both" else f"leg {device.group_leg}"
    role = "" if device.group_role == "alone" else f", {device.group_role}"
    below = [
        _Node(f"{device.id}:{kind}", f"{kind} input from {supply}") for kind, supply in device.inputs.items()
    ]
    return _Node(device.id, f"{device.label}, inverter/charger, {leg}{role}", tuple(below))


def _ac_side(plant: Plant) -> Iterator[_Node]:
    site = plant.site
    for inverter in site.ac_pv_inverters:
        rated = plant.ac_pv_class(inverter).rated_power
        yield _Node(inverter.id, f"{inverter.label}, AC-coupled PV{_watts(rated)}, leg {inverter.leg}")
    for generator in site.generators:
        rated = plant.generator_class(generator).rated_power
        start = f", started by {generator.started_by}" if generator.started_by else ", started by hand"
        yield _Node(generator.id, f"{generator.label}, generator{_watts(rated)}{start}")
    if site.utility is not None:
        yield _Node(site.utility.id, f"{site.utility.label}, public supply")
    loads = [load for load in site.loads if load.current == "ac"]
    if loads:
        children = tuple(_Node(load.id, f"{load.label}{_watts(load.power)}") for load in loads)
        yield _Node("site", "AC loads", children)


def _watts(value: float | str, of: str = "") -> str:
    return "" if isinstance(value, str) else f", {show(value, 'W')}{of}"
