"""Conductor runs that no breaker or fuse protects though something can feed a fault on them."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, Final

from commission.design.guards import greatest_rating
from commission.design.main_protection import bank_guards, greatest_bank_voltage
from commission.design.standard import device_voltages_from, ratings_from
from commission.design.types import Circuit, Found, Remedy, Scene
from commission.design.words import shown
from commission.figure import Figure, Quantity
from commission.formulas.overcurrent import device_for_load
from commission.plant.change import Change
from commission.plant.plant import Plant, part_fact
from commission.plant.site import Run
from commission.sheet.types import Finding

NONE: Final = "no-overcurrent-device"


def missing_device(scene: Scene, circuit: Circuit) -> Iterator[Found]:
    """Find a run that no device protects though something can feed a fault on it.

    PV strings and arrays are left out: their current is bound, and where it adds up string fuses are asked
    for. A main run without a device of the bank is told with the bank.
    """
    if circuit.role in {"array", "main"} or _held_upstream(scene, circuit):
        return
    run, feeds = circuit.run, _feeds(scene, circuit)
    text = f"no breaker or fuse protects {run.label}: {feeds} feeds a fault on it"
    bank = run.kind == "dc"
    finding = Finding(
        "stop" if bank and circuit.role != "string" else "correct",
        NONE,
        (run.id,),
        text,
        "a fuse or breaker at the end that feeds it",
        value=circuit.greatest if isinstance(circuit.greatest, Figure) else None,
    )
    yield Found(finding, tuple(_new(scene, circuit)))


def _feeds(scene: Scene, circuit: Circuit) -> str:
    if circuit.role == "string":
        return "every other string of the bank"
    return "the bank" if circuit.run.kind == "dc" else "whatever supplies it"


def _held_upstream(scene: Scene, circuit: Circuit) -> bool:
    """Whether what stands before a run protects it too: the bank's device, a source's own breaker."""
    plant, run = scene.plant, circuit.run
    if circuit.role == "string":
        return len(plant.bank.strings) == 1 and bool(bank_guards(scene))
    if run.kind == "dc":
        guards = bank_guards(scene)
        ratings = [(part_fact(one, "rating"), one.kind) for one in guards if one.protects == "bank"]
    else:
        ratings = [(own, "breaker") for own in _of_source(plant, circuit)]
    for rating, kind in ratings:
        most = greatest_rating(plant, run, kind)
        if isinstance(rating, Figure) and isinstance(most, Figure) and rating.value <= most.value + 1e-9:
            return True
    return False


def _of_source(plant: Plant, circuit: Circuit) -> list[Quantity]:
    for generator in plant.site.generators:
        if generator.id in {circuit.part, circuit.run.from_, circuit.run.to}:
            return [plant.rating(generator, "breaker")]
    utility = plant.site.utility
    if utility is not None and utility.id in {circuit.part, circuit.run.from_, circuit.run.to}:
        return [part_fact(utility, "supply_breaker")]
    return []


def _new(scene: Scene, circuit: Circuit) -> Iterator[Remedy]:
    """Yield new fuses of standard ratings that carry the current and protect the conductors."""
    plant, run = scene.plant, circuit.run
    needed = device_for_load.of(current=circuit.greatest, factor=circuit.factor)
    kind = "fuse" if run.kind == "dc" else "breaker"
    most = greatest_rating(plant, run, kind)
    if not isinstance(needed, Figure) or not isinstance(most, Figure):
        return
    fit = [one for one in ratings_from(plant, needed.value) if one.value <= most.value + 1e-9]
    for rating in fit[:2]:
        yield _new_device(scene, circuit, kind, rating)


def _new_device(scene: Scene, circuit: Circuit, kind: str, rating: Figure) -> Remedy:
    plant, run = scene.plant, circuit.run
    ident = next(name for name in _names(kind, run) if name not in plant.parts)
    voltage, breaks = _ratings_beside(scene, circuit)
    two = run.kind == "dc" and plant.site.earthing.dc not in {"negative", "positive"}
    part: dict[str, Any] = {
        "kind": kind,
        "current": run.kind,
        "rating": rating.value,
        "poles": 2 if two or circuit.legs == 2 else 3 if circuit.legs == 3 else 1,
        "protects": "string" if circuit.role == "string" else "device",
        "of": circuit.part,
        **({} if voltage is None else {"voltage": voltage}),
        **({} if breaks is None else {"interrupting": breaks}),
    }
    changes = (Change(f"protection[{ident}]", part), Change(f"{run.where}.protection", ident))
    return Remedy(
        f"a {kind} of {shown(scene, rating)} where {run.label} begins", passes=rating, change=changes
    )


def _names(kind: str, run: Run) -> Iterator[str]:
    yield f"{kind}-{run.id.removeprefix('run-')}"
    for number in range(2, 1000):
        yield f"{kind}-{run.id.removeprefix('run-')}-{number}"


def _ratings_beside(scene: Scene, circuit: Circuit) -> tuple[float | None, float | None]:
    """Return voltage and interrupting rating of the strongest device of the same current on site."""
    plant, run = scene.plant, circuit.run
    like = [one for one in plant.site.protection if one.current == run.kind and one.protects != "array"]
    volts = [one.voltage for one in like if isinstance(one.voltage, float | int)]
    amps = [one.interrupting for one in like if isinstance(one.interrupting, float | int)]
    voltage: float | None = max(volts, default=None)
    if voltage is None and run.kind == "dc":
        reached = greatest_bank_voltage(plant)
        if isinstance(reached, Figure):
            sold = next(device_voltages_from(plant, reached.value), None)
            voltage = None if sold is None else sold.value
    return voltage, max(amps, default=None)
