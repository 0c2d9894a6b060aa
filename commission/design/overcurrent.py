"""Breakers and fuses: large enough for what flows, small enough for what they protect, and none missing."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from itertools import islice
from typing import Final

from commission.design.circuits import circuits
from commission.design.device_currents import Flow, flows
from commission.design.earth_sizes import protected
from commission.design.guards import greatest_rating, guard_of, protecting
from commission.design.main_protection import new_main_fuses
from commission.design.missing_devices import missing_device, strings_without
from commission.design.sizes import size_remedy, thicker
from commission.design.standard import ratings_down_from, ratings_from
from commission.design.types import Circuit, Found, Later, Remedy, Scene
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
            yield from missing_device(scene, circuit)
            yield from _by_strings(scene, circuit)
    yield from strings_without(scene)


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
        f"{device.label} carries {shown(scene, carried, beside=needed)}{warm} and must carry "
        f"{shown(scene, needed, beside=carried)}{times}"
    )
    finding = Finding("correct", RATING, (device.id,), text, "a larger device", value=needed, limit=carried)
    return Found(finding, Later(_larger(scene, flow)))


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
        f"{guard.label} of {shown(scene, rating, beside=most)} protects {run.label} only up to "
        f"{shown(scene, most, beside=rating)}: an "
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
    yield Found(finding, Later(_smaller(scene, circuit, guard, most, rating)))


def _by_strings(scene: Scene, circuit: Circuit) -> Iterator[Found]:
    """Find a main run that the devices of all strings together do not protect, where nothing else does."""
    together = protecting(scene, circuit)
    if together is None:
        return
    run, most = circuit.run, greatest_rating(scene.plant, circuit.run, together.kind)
    if not isinstance(together.rating, Figure) or not isinstance(most, Figure):
        return  # told by the checks of the devices' ratings and of the run's ampacity
    if together.rating.value <= most.value + 1e-9:
        return
    text = (
        "without a main device the devices of all strings together, "
        f"{shown(scene, together.rating, beside=most)}, "
        f"stand for {run.label}, which bears {shown(scene, most, beside=together.rating)}: an overload "
        "between the two heats the "
        "conductors and nothing opens"
    )
    remedies = (
        *(
            size_remedy(scene, circuit, row, made)
            for row, made in thicker(scene, circuit, _strings_fit(scene, circuit))
        ),
        *new_main_fuses(scene),
    )
    finding = Finding(
        "correct",
        CONDUCTOR,
        (run.id, scene.plant.bank.id),
        text,
        "a main fuse at the bank's post, or thicker conductors",
        value=together.rating,
        limit=most,
    )
    yield Found(finding, remedies)


def _strings_fit(scene: Scene, circuit: Circuit) -> Callable[[Run], bool]:
    return lambda run: protected(scene, circuit, run)


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
