"""Conductor runs that no breaker or fuse protects though something can feed a fault on them."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, Final

from commission.design.fault_paths import fault_paths
from commission.design.fresh import fresh_id
from commission.design.guards import greatest_rating
from commission.design.main_protection import bank_guards, greatest_bank_voltage
from commission.design.standard import device_voltages_from, ratings_from
from commission.design.types import Circuit, Found, Later, Remedy, Scene
from commission.design.words import shown
from commission.figure import Figure, Quantity
from commission.formulas.charging import scaled_current
from commission.formulas.overcurrent import device_for_load
from commission.plant.change import Change
from commission.plant.plant import Plant, part_fact
from commission.sheet.types import Finding

NONE: Final = "no-overcurrent-device"


def missing_device(scene: Scene, circuit: Circuit) -> Iterator[Found]:
    """Find a run that no device protects though something can feed a fault on it.

    PV strings and arrays are left out: their current is bound, and where it adds up string fuses are asked
    for. A main run without a device of the bank is told with the bank.
    """
    if circuit.role in {"array", "main"} or _held_upstream(scene, circuit):
        return
    run, string = circuit.run, circuit.role == "string"
    text = f"no breaker or fuse protects {run.label}: {_feeds(scene, circuit)}"
    finding = Finding(
        "stop" if run.kind == "dc" else "correct",
        NONE,
        (run.id,),
        text,
        "a fuse or breaker at the end that feeds it",
        value=circuit.greatest if isinstance(circuit.greatest, Figure) else None,
        releasable=not string,
    )
    yield Found(finding, Later(_new(scene, circuit)))


def _feeds(scene: Scene, circuit: Circuit) -> str:
    if circuit.role == "string":
        return _around(scene, circuit.part)
    return f"{'the bank' if circuit.run.kind == 'dc' else 'whatever supplies it'} feeds a fault on it"


def _around(scene: Scene, string: str) -> str:
    """Say what feeds a fault on the lead of a string: its own cells, and the other strings."""
    plant = scene.plant
    mains = [one.label for one in fault_paths(scene).guards if one.protects == "bank"]
    before = f"ahead of {mains[0]}" if mains else "ahead of every device"
    count = len(plant.bank.strings) - 1
    if count < 1:
        return f"{string} feeds a fault on it {before}, and nothing opens"
    others = "the other string" if count == 1 else f"the {count} other strings"
    return (
        f"{string} itself feeds a fault on it {before}, and {others} from the far end; nothing opens between "
        "its cells and the fault"
    )


def strings_without(scene: Scene) -> Iterator[Found]:
    """Find strings side by side of which neither a lead nor a device is told to protect them.

    Where the lead is told, the string is judged with it.
    """
    plant, paths = scene.plant, fault_paths(scene)
    if len(plant.bank.strings) < 2:
        return
    own = {one.of for one in paths.guards if one.protects == "string"}
    for string in plant.bank.strings:
        if string.id in own or paths.lead(string.id):
            continue
        text = f"no breaker or fuse protects {string.id}: {_around(scene, string.id)}"
        remedy = f"a fuse at the post of {string.id}"
        yield Found(Finding("stop", NONE, (string.id,), text, remedy, releasable=False))


def _held_upstream(scene: Scene, circuit: Circuit) -> bool:
    """Whether what stands before a run protects it too: the bank's device, a source's own breaker."""
    plant, run = scene.plant, circuit.run
    if circuit.role == "string":
        # of several strings each is fed by itself ahead of the bank's device, and by the others behind it
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
    string = circuit.role == "string"
    current = _with_one_less(plant, circuit.greatest) if string else circuit.greatest
    needed = device_for_load.of(current=current, factor=circuit.factor)
    kind = "fuse" if run.kind == "dc" else "breaker"
    most = greatest_rating(plant, run, kind)
    if not isinstance(needed, Figure) or not isinstance(most, Figure):
        return
    like = _of_the_others(scene) if string else []
    fit = [
        one
        for one in (*like, *ratings_from(plant, needed.value))
        if needed.value - 1e-6 <= one.value <= most.value + 1e-9
    ]
    for rating in fit[:3]:
        yield _new_device(scene, circuit, kind, rating)


def _with_one_less(plant: Plant, share: Quantity) -> Quantity:
    """Return the share of a pack that must go on with one fewer beside it: each opens by itself."""
    packs = len(plant.bank.strings)
    if plant.bank.management is None or packs < 3:
        return share
    return scaled_current.of(
        f"share of each of {packs - 1} packs, one open", current=share, count=packs / (packs - 1.0)
    )


def _of_the_others(scene: Scene) -> list[Figure]:
    """Return the ratings of the fuses that the other strings have, least first."""
    ratings = [
        part_fact(one, "rating")
        for one in fault_paths(scene).guards
        if one.protects == "string" and one.kind == "fuse"
    ]
    known = {one.value: one for one in ratings if isinstance(one, Figure)}
    return [known[value] for value in sorted(known)]


def _new_device(scene: Scene, circuit: Circuit, kind: str, rating: Figure) -> Remedy:
    plant, run = scene.plant, circuit.run
    ident = fresh_id(plant, f"{kind}-{run.id.removeprefix('run-')}")
    voltage, breaks = _ratings_beside(scene, circuit)
    two = run.kind == "dc" and plant.site.earthing.dc not in {"negative", "positive"}
    part: dict[str, Any] = {
        "kind": kind,
        "current": run.kind,
        "rating": rating.value,
        "poles": 2 if two or circuit.legs == 2 else 3 if circuit.legs == 3 else 1,
        "protects": "string" if circuit.role == "string" else "device",
        "of": circuit.part,
        **(_near_the_post(plant) if circuit.role == "string" else {}),
        **({} if voltage is None else {"voltage": voltage}),
        **({} if breaks is None else {"interrupting": breaks}),
    }
    changes = (Change(f"protection[{ident}]", part), Change(f"{run.where}.protection", ident))
    where = f"at the post of {circuit.part}" if circuit.role == "string" else f"where {run.label} begins"
    return Remedy(f"a {kind} of {shown(scene, rating)} {where}", passes=rating, change=changes)


def _near_the_post(plant: Plant) -> dict[str, float]:
    return {"distance": min(0.3, plant.rule("main_protection_distance").value)}


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
