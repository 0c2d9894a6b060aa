"""Breakers and fuses: large enough for what flows, small enough for what they protect, and none missing."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import islice
from typing import Any, Final

from commission.design.circuits import circuits
from commission.design.device_currents import Flow, flows
from commission.design.guards import greatest_rating, guard_of
from commission.design.main_protection import bank_guards, greatest_bank_voltage
from commission.design.sizes import size_remedy, thicker
from commission.design.standard import device_voltages_from, ratings_down_from, ratings_from
from commission.design.types import Circuit, Found, Remedy, Scene
from commission.design.words import gap, shown
from commission.figure import Figure, Quantity, given
from commission.formulas.overcurrent import device_for_load
from commission.formulas.wiring_sizes import derated_device
from commission.plant.change import Change
from commission.plant.plant import Plant, fact, part_fact
from commission.plant.site import Protection, Run
from commission.sheet.types import Finding

RATING: Final = "overcurrent-rating"
CONDUCTOR: Final = "conductor-protection"
NONE: Final = "no-overcurrent-device"
_ONE: Final = given(1.0, "1", "factor of a device marked for its whole rating", source="its marking")


def check_overcurrent(scene: Scene) -> Iterator[Found]:
    """Find devices too small for their current or too large for their conductors, and runs without any."""
    for flow in flows(scene):
        yield from _carried(scene, flow)
    for circuit in circuits(scene):
        guard = guard_of(scene, circuit)
        if guard is not None:
            yield from _protected(scene, circuit, guard)
        elif circuit.role != "unclear":
            yield from _missing(scene, circuit)


# large enough


def device_factor(flow: Flow) -> Figure:
    """Return by how much a device's rating must exceed its current."""
    return _ONE if flow.device.full_rated else flow.factor


def carried_for_long(plant: Plant, device: Protection, rating: Quantity) -> Quantity:
    """Return what a device carries for long where it is, in A: a breaker less in warm air."""
    if device.kind != "breaker":
        return rating
    return derated_device.of(
        f"what {device.label} carries in its air",
        rating=rating,
        loss=plant.rule("breaker_derating"),
        ambient=device_air(plant, device),
        reference=plant.rule("breaker_reference"),
    )


def device_air(plant: Plant, device: Protection) -> Quantity:
    """Return the air around a device, in °C: its own, else the room's, else the hottest outside."""
    own = part_fact(device, "ambient")
    if isinstance(own, Figure):
        return own
    for field in ("room_temperature", "hottest_ambient"):
        told = fact(plant.site.site, field, "site")
        if isinstance(told, Figure):
            return told.named(f"air around {device.label}", "not told for the device: the site's")
    return own


def _carried(scene: Scene, flow: Flow) -> Iterator[Found]:
    plant, device = scene.plant, flow.device
    rating = part_fact(device, "rating")
    long = carried_for_long(plant, device, rating)
    missing = gap(RATING, (device.id,), long, *(() if flow.circuits else (flow.current,)))
    if missing is not None:
        yield missing
    needed = device_for_load.of(
        f"least rating of {device.label}", current=flow.current, factor=device_factor(flow)
    )
    if not isinstance(rating, Figure) or not isinstance(long, Figure) or not isinstance(needed, Figure):
        return
    assert isinstance(flow.current, Figure)  # noqa: S101 - needed is known
    if rating.value < needed.value - 1e-6:
        yield _too_small(scene, flow, needed, rating, "")
    elif not flow.held and long.value < flow.current.value - 1e-6:
        air = device_air(plant, device)
        warm = f" in air of {shown(scene, air)}" if isinstance(air, Figure) else ""
        yield _too_small(scene, flow, flow.current, long, warm)


def _too_small(scene: Scene, flow: Flow, needed: Figure, carried: Figure, warm: str) -> Found:
    device, factor = flow.device, device_factor(flow).value
    assert isinstance(flow.current, Figure)  # noqa: S101 - asked where it is known
    name = flow.current.binding().name
    times = (
        f": {shown(scene, flow.current)} ({name}) times {factor:g} for hours of it"
        if factor != 1.0 and not warm
        else f" ({name})"
    )
    text = (
        f"{device.label} carries {shown(scene, carried)}{warm} and must carry {shown(scene, needed)}{times}"
    )
    finding = Finding("correct", RATING, (device.id,), text, "a larger device", value=needed, limit=carried)
    return Found(finding, tuple(_larger(scene, flow)))


def _larger(scene: Scene, flow: Flow) -> Iterator[Remedy]:
    """Yield the next ratings that carry the current, then such a rating with thicker conductors."""
    rated = list(islice((one for one in ratings_from(scene.plant, 0.0) if enough(scene, flow, one)), 3))
    for rating in rated:
        yield _of_rating(scene, flow.device, rating)
    for rating in rated[:1]:
        for circuit in flow.circuits:
            yield from _with_conductors(scene, circuit, flow.device, rating)


def enough(scene: Scene, flow: Flow, rating: Figure) -> bool:
    """Whether a device of a rating would carry what flows through it."""
    needed = device_for_load.of(current=flow.current, factor=device_factor(flow))
    long = carried_for_long(scene.plant, flow.device, rating)
    if not isinstance(needed, Figure) or not isinstance(long, Figure) or not isinstance(flow.current, Figure):
        return False
    carried = flow.held or long.value >= flow.current.value - 1e-6
    return rating.value >= needed.value - 1e-6 and carried


def _of_rating(scene: Scene, device: Protection, rating: Figure) -> Remedy:
    return Remedy(
        f"{device.label} of {shown(scene, rating)}",
        passes=rating,
        change=(Change(f"{device.where}.rating", rating.value),),
    )


def _with_conductors(scene: Scene, circuit: Circuit, device: Protection, rating: Figure) -> Iterator[Remedy]:
    def passes(run: Run) -> bool:
        most = greatest_rating(scene.plant, run, device.kind)
        return isinstance(most, Figure) and most.value >= rating.value - 1e-9

    for row, made in thicker(scene, circuit, passes, most=2):
        remedy = size_remedy(scene, circuit, row, made, f" behind {device.label} of {shown(scene, rating)}")
        more = Change(f"{device.where}.rating", rating.value)
        yield Remedy(remedy.text, passes=rating, change=(*remedy.change, more))


# small enough


def _protected(scene: Scene, circuit: Circuit, guard: Protection) -> Iterator[Found]:
    rating, most = part_fact(guard, "rating"), greatest_rating(scene.plant, circuit.run, guard.kind)
    if not isinstance(rating, Figure) or not isinstance(most, Figure):
        return  # told by the checks of the device's rating and of the run's ampacity
    if rating.value <= most.value + 1e-9:
        return
    run = circuit.run
    text = (
        f"{guard.label} of {shown(scene, rating)} protects {run.label} only up to {shown(scene, most)}: an "
        "overload between the two heats the conductors and nothing opens"
    )
    finding = Finding(
        "correct",
        CONDUCTOR,
        (run.id, guard.id),
        text,
        "a smaller device, or thicker conductors",
        value=rating,
        limit=most,
    )
    yield Found(finding, tuple(_smaller(scene, circuit, guard, most, rating)))


def _smaller(
    scene: Scene, circuit: Circuit, guard: Protection, most: Figure, rating: Figure
) -> Iterator[Remedy]:
    flow = next((one for one in flows(scene) if one.device.id == guard.id), None)
    fit = (
        one for one in ratings_down_from(scene.plant, most.value) if flow is None or enough(scene, flow, one)
    )
    for one in islice(fit, 2):
        yield _of_rating(scene, guard, one)

    def passes(run: Run) -> bool:
        allowed = greatest_rating(scene.plant, run, guard.kind)
        return isinstance(allowed, Figure) and allowed.value >= rating.value - 1e-9

    for row, made in thicker(scene, circuit, passes):
        yield size_remedy(scene, circuit, row, made)


# missing


def _missing(scene: Scene, circuit: Circuit) -> Iterator[Found]:
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
