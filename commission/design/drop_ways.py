"""The ways of current whose voltage drop is judged, and what is lost on them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final

from commission.design import currents
from commission.design.circuits import circuits, share_among
from commission.design.fault_paths import FaultPaths, fault_paths
from commission.design.hot_cables import hot_resistance, reactance
from commission.design.points import Points
from commission.design.types import Circuit, Scene
from commission.figure import Figure, Quantity, given
from commission.formulas.charging import sum_of_currents
from commission.formulas.conductors import voltage_drop
from commission.formulas.load_control import share_of_current
from commission.formulas.voltage_drops import drop_share
from commission.formulas.wiring_sizes import impedance_drop
from commission.plant.plant import Plant, part_fact
from commission.plant.site import ChargeController, InverterCharger, Load, Run

_SHARED: Final = frozenset({"main", "direct panel"})
"""Roles of runs through which all that the plant draws flows to a DC load's own."""
_UNITY: Final = given(
    1.0, "1", "power factor", source="not told: active current, which drops most in a cable"
)


@dataclass(frozen=True, slots=True)
class Piece:
    """One run of a way, with the current at rating and the usual one."""

    circuit: Circuit
    greatest: Quantity
    working: Quantity


@dataclass(frozen=True, slots=True)
class Way:
    """A way of current whose drop is judged as a whole."""

    check: str
    parts: tuple[str, ...]
    what: str
    """``between bank and Inverter 1``."""
    limit: Figure
    voltage: Quantity
    pieces: tuple[Piece, ...]
    load: Load | None = None
    """AC load whose power factor counts."""


def ways(scene: Scene) -> Iterator[Way]:
    """Yield every way whose drop is judged."""
    for device in scene.plant.site.inverter_chargers:
        yield from _of_inverter(scene, device)
    for controller in scene.plant.site.charge_controllers:
        yield from _of_controller(scene, controller)
    for load in scene.plant.site.loads:
        if load.current == "dc":
            yield from _of_direct_load(scene, load)
    for circuit in circuits(scene):
        if circuit.role == "array":
            yield _of_array(scene, circuit)
        elif circuit.run.kind == "ac" and circuit.role != "unclear":
            yield _of_alternating(scene, circuit)


def drop_of(scene: Scene, way: Way, *, usual: bool = False, instead: Sequence[Run] = ()) -> Quantity:
    """Return the voltage lost on a way as a share, at its rating or usually, with runs as they might be."""
    other = {run.id: run for run in instead}
    drops = [drop_in(scene.plant, way, piece, usual, other) for piece in way.pieces]
    whole = drops[0] if len(drops) == 1 else sum_of_currents.of("drops together", currents=drops).in_unit("V")
    word = "usually" if usual else "at its rating"
    return drop_share.of(f"voltage lost {way.what} {word}", drop=whole, voltage=way.voltage)


def drop_in(plant: Plant, way: Way, piece: Piece, usual: bool, other: dict[str, Run]) -> Quantity:
    """Return the voltage lost in one run of a way, in V, with runs as they might be by their ids."""
    run = other.get(piece.circuit.run.id, piece.circuit.run)
    current = piece.working if usual else piece.greatest
    name = f"voltage lost in {run.label}"
    if run.kind == "dc":
        return voltage_drop.of(name, current=current, resistance=hot_resistance(plant, run))
    count = 1.0 if piece.circuit.legs == 3 else 2.0
    factor = _UNITY if way.load is None else part_fact(way.load, "power_factor")
    return impedance_drop.of(
        name,
        current=current,
        resistance=hot_resistance(plant, run, count),
        reactance=reactance(run, count),
        power_factor=factor,
    )


# the ways


def _of_inverter(scene: Scene, device: InverterCharger) -> Iterator[Way]:
    plant = scene.plant
    draws = {one.id: currents.nominal_draw(plant, one) for one in plant.site.inverter_chargers}
    pieces = _path(scene, device.id, draws)
    if pieces:
        yield Way(
            "drop-inverter",
            (device.id,),
            f"between bank and {device.label}",
            plant.rule("drop_inverter"),
            currents.bank_nominal(plant),
            pieces,
        )


def _of_controller(scene: Scene, controller: ChargeController) -> Iterator[Way]:
    plant = scene.plant
    gives = {one.id: currents.controller_output(plant, one) for one in plant.site.charge_controllers}
    pieces = _path(scene, controller.id, gives)
    if pieces:
        yield Way(
            "drop-controller",
            (controller.id,),
            f"between {controller.label} and bank",
            plant.rule("drop_controller"),
            currents.bank_nominal(plant),
            pieces,
        )


def _of_direct_load(scene: Scene, load: Load) -> Iterator[Way]:
    plant = scene.plant
    nominal = currents.bank_nominal(plant)
    loads = [one for one in plant.site.loads if one.current == "dc"]
    draws = {one.id: currents.direct_load_current(plant, one, nominal) for one in loads}
    pieces = tuple(
        Piece(piece.circuit, piece.working, piece.working) if piece.circuit.role in _SHARED else piece
        for piece in _path(scene, load.id, draws)
    )
    if pieces:
        yield Way(
            "drop-direct-load",
            (load.id,),
            f"between bank and {load.label}",
            plant.rule("drop_direct_load"),
            nominal,
            pieces,
        )


def _path(scene: Scene, part: str, flows: dict[str, Quantity]) -> tuple[Piece, ...]:
    """Return the runs from the bank to a part, each with what all parts of its kind behind it draw."""
    paths = fault_paths(scene)
    way = paths.hops.get(part) or _own_run(scene, paths, part)
    known = {one.run.id: one for one in circuits(scene)}
    made = []
    for hop in way:
        run = hop[0]
        behind = paths.points.beyond(run, _far(paths.points, run, part))
        drawn = [flows[ident] for ident in flows if ident in behind or ident == part]
        whole = currents.together(f"current in {run.label}", drawn)
        share = share_among(run, hop) if len(hop) > 1 else None
        most = whole if share is None else share_of_current.of(whole.name, share=share, current=whole)
        circuit = known[run.id]
        made.append(Piece(circuit, most, circuit.working))
    return tuple(made)


def _own_run(scene: Scene, paths: FaultPaths, part: str) -> tuple[tuple[Run, ...], ...]:
    """Return the way of a source that only names its run, and of a part that stands at a panel."""
    plant = scene.plant
    source = next((one for one in plant.sources if one.id == part), None)
    own = None if source is None else plant.run_of(source)
    if own is not None:
        far = next((paths.hops[end] for end in paths.points.ends(own) if end in paths.hops), ())
        return (*far, (own,))
    point = next((point for point, parts in paths.points.placed.items() if part in parts), None)
    return paths.hops.get(point or "", ())


def _far(points: Points, run: Run, part: str) -> str:
    """Return the end of a run from which a part is reached."""
    first, second = points.ends(run)
    return first if part in points.beyond(run, first) else second


def _of_array(scene: Scene, circuit: Circuit) -> Way:
    return Way(
        "drop-array",
        (circuit.run.id,),
        f"in {circuit.run.label}",
        scene.plant.rule("drop_array"),
        circuit.voltage,
        (Piece(circuit, circuit.working, circuit.working),),
    )


def _of_alternating(scene: Scene, circuit: Circuit) -> Way:
    part = scene.plant.parts.get(circuit.part)
    return Way(
        "drop-alternating",
        (circuit.run.id,),
        f"in {circuit.run.label}",
        scene.plant.rule("drop_alternating"),
        circuit.voltage,
        (Piece(circuit, circuit.greatest, circuit.working),),
        part if isinstance(part, Load) else None,
    )
