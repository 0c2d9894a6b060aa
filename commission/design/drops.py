"""Voltage lost in the conductors: bank to inverter, array to controller to bank, DC loads and AC runs."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import Final

from commission.design import currents
from commission.design.circuits import circuits, share_among
from commission.design.fault_paths import FaultPaths
from commission.design.hot_cables import hot_resistance, reactance
from commission.design.points import Points
from commission.design.sizes import size_remedy, thicker
from commission.design.types import Circuit, Found, Remedy, Scene
from commission.design.words import gap
from commission.figure import Figure, Quantity, given
from commission.formulas.charging import sum_of_currents
from commission.formulas.conductors import voltage_drop
from commission.formulas.load_control import share_of_current
from commission.formulas.voltage_drops import drop_share
from commission.formulas.wiring_sizes import impedance_drop
from commission.plant.plant import Plant, part_fact
from commission.plant.site import ChargeController, InverterCharger, Load, Run
from commission.sheet.types import Finding

_SHARED: Final = frozenset({"main", "direct panel"})
"""Roles of runs through which all that the plant draws flows to a DC load's own."""
_UNITY: Final = given(
    1.0, "1", "power factor", source="not told: active current, which drops most in a cable"
)


@dataclass(frozen=True, slots=True)
class _Piece:
    """One run of a way, with the current at rating and the usual one."""

    circuit: Circuit
    greatest: Quantity
    working: Quantity


@dataclass(frozen=True, slots=True)
class _Way:
    """A way of current whose drop is judged as a whole."""

    check: str
    parts: tuple[str, ...]
    what: str
    """``between bank and Inverter 1``."""
    limit: Figure
    voltage: Quantity
    pieces: tuple[_Piece, ...]
    load: Load | None = None
    """AC load whose power factor counts."""


def check_drops(scene: Scene) -> Iterator[Found]:
    """Find ways on which more voltage is lost than is good practice."""
    asked: set[str] = set()
    for way in ways(scene):
        yield from _untold(way, asked)
        yield from _judged(scene, way)


def ways(scene: Scene) -> Iterator[_Way]:
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


def drop_of(scene: Scene, way: _Way, *, usual: bool = False, instead: Sequence[Run] = ()) -> Quantity:
    """Return the voltage lost on a way as a share, at its rating or usually, with runs as they might be."""
    other = {run.id: run for run in instead}
    drops = [_drop(scene.plant, way, piece, usual, other) for piece in way.pieces]
    whole = drops[0] if len(drops) == 1 else sum_of_currents.of("drops together", currents=drops).in_unit("V")
    word = "usually" if usual else "at its rating"
    return drop_share.of(f"voltage lost {way.what} {word}", drop=whole, voltage=way.voltage)


def _drop(plant: Plant, way: _Way, piece: _Piece, usual: bool, other: dict[str, Run]) -> Quantity:
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


def _of_inverter(scene: Scene, device: InverterCharger) -> Iterator[_Way]:
    plant = scene.plant
    draws = {one.id: currents.nominal_draw(plant, one) for one in plant.site.inverter_chargers}
    pieces = _path(scene, device.id, draws)
    if pieces:
        yield _Way(
            "drop-inverter",
            (device.id,),
            f"between bank and {device.label}",
            plant.rule("drop_inverter"),
            currents.bank_nominal(plant),
            pieces,
        )


def _of_controller(scene: Scene, controller: ChargeController) -> Iterator[_Way]:
    plant = scene.plant
    gives = {one.id: currents.controller_output(plant, one) for one in plant.site.charge_controllers}
    pieces = _path(scene, controller.id, gives)
    if pieces:
        yield _Way(
            "drop-controller",
            (controller.id,),
            f"between {controller.label} and bank",
            plant.rule("drop_controller"),
            currents.bank_nominal(plant),
            pieces,
        )


def _of_direct_load(scene: Scene, load: Load) -> Iterator[_Way]:
    plant = scene.plant
    nominal = currents.bank_nominal(plant)
    loads = [one for one in plant.site.loads if one.current == "dc"]
    draws = {one.id: currents.direct_load_current(plant, one, nominal) for one in loads}
    pieces = tuple(
        _Piece(piece.circuit, piece.working, piece.working) if piece.circuit.role in _SHARED else piece
        for piece in _path(scene, load.id, draws)
    )
    if pieces:
        yield _Way(
            "drop-direct-load",
            (load.id,),
            f"between bank and {load.label}",
            plant.rule("drop_direct_load"),
            nominal,
            pieces,
        )


def _path(scene: Scene, part: str, flows: dict[str, Quantity]) -> tuple[_Piece, ...]:
    """Return the runs from the bank to a part, each with what all parts of its kind behind it draw."""
    paths = _paths(scene)
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
        made.append(_Piece(circuit, most, circuit.working))
    return tuple(made)


def _paths(scene: Scene) -> FaultPaths:
    made: FaultPaths | None = scene.__dict__.get("_drop_paths")
    if made is None:
        made = scene.__dict__["_drop_paths"] = FaultPaths(scene.plant)
    return made


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


def _of_array(scene: Scene, circuit: Circuit) -> _Way:
    return _Way(
        "drop-array",
        (circuit.run.id,),
        f"in {circuit.run.label}",
        scene.plant.rule("drop_array"),
        circuit.voltage,
        (_Piece(circuit, circuit.working, circuit.working),),
    )


def _of_alternating(scene: Scene, circuit: Circuit) -> _Way:
    part = scene.plant.parts.get(circuit.part)
    return _Way(
        "drop-alternating",
        (circuit.run.id,),
        f"in {circuit.run.label}",
        scene.plant.rule("drop_alternating"),
        circuit.voltage,
        (_Piece(circuit, circuit.greatest, circuit.working),),
        part if isinstance(part, Load) else None,
    )


# judged


def _untold(way: _Way, asked: set[str]) -> Iterator[Found]:
    """Ask for the lengths that are not told, each once."""
    runs = [piece.circuit.run for piece in way.pieces if piece.circuit.run.id not in asked]
    asked |= {run.id for run in runs}
    missing = gap(way.check, way.parts, *(part_fact(run, "length") for run in runs))
    if missing is not None:
        yield missing


def _judged(scene: Scene, way: _Way) -> Iterator[Found]:
    share = drop_of(scene, way)
    if not isinstance(share, Figure) or share.value <= way.limit.value + 1e-9:
        return  # what else is unknown is asked for with the ampacity of its run
    usual = drop_of(scene, way, usual=True)
    expected = (
        f", {_percent(usual)} {_usually(way)}"
        if isinstance(usual, Figure) and usual.value < share.value * 0.995
        else ""
    )
    text = (
        f"{_percent(share)} of the voltage is lost {way.what} at {_rating(way)}{expected}; "
        f"{_percent(way.limit)} is good practice"
    )
    finding = Finding(
        "advise",
        way.check,
        way.parts,
        text,
        "thicker conductors, or a shorter way",
        value=share,
        limit=way.limit,
    )
    yield Found(finding, tuple(_thicker(scene, way)))


def _rating(way: _Way) -> str:
    words = {
        "drop-inverter": "rated power",
        "drop-controller": "rated output",
        "drop-array": "maximum power",
        "drop-direct-load": "its full power",
    }
    return words.get(way.check, "its rating")


def _usually(way: _Way) -> str:
    if way.check == "drop-controller":
        return "with its array at test conditions"
    return "at the load that is expected"


def _percent(share: Figure) -> str:
    return f"{share.value * 100:.3g} %"


def _thicker(scene: Scene, way: _Way) -> Iterator[Remedy]:
    """Yield thicker conductors for the run that loses most, then for the next, then for all of them."""
    order = sorted(way.pieces, key=lambda piece: -_value(_drop(scene.plant, way, piece, False, {})))
    for piece in order:
        for row, made in thicker(scene, piece.circuit, _passes(scene, way, ()), most=2):
            yield size_remedy(scene, piece.circuit, row, made)
    if len(order) == 2:
        yield from _both(scene, way, order)


def _both(scene: Scene, way: _Way, order: Sequence[_Piece]) -> Iterator[Remedy]:
    for row, first in thicker(scene, order[0].circuit, lambda run: True, most=12):
        for other, second in thicker(scene, order[1].circuit, lambda run: True, most=12):
            if _passes(scene, way, second)(first[0]):
                one = size_remedy(scene, order[0].circuit, row, first)
                two = size_remedy(scene, order[1].circuit, other, second)
                yield Remedy(f"{one.text}, {two.text}", passes=one.passes, change=(*one.change, *two.change))
                return


def _passes(scene: Scene, way: _Way, besides: Sequence[Run]) -> Callable[[Run], bool]:
    ids = {piece.circuit.run.id for piece in way.pieces}

    def passes(run: Run) -> bool:
        if run.id not in ids:
            return True
        share = drop_of(scene, way, instead=(run, *besides))
        return isinstance(share, Figure) and share.value <= way.limit.value + 1e-9

    return passes


def _value(quantity: Quantity) -> float:
    return quantity.value if isinstance(quantity, Figure) else 0.0
