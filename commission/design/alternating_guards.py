"""What stands before AC loads, sets and transfer relays: there, not too large, and sensitive enough."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import islice
from typing import Any, Final

from commission.design import currents
from commission.design.circuits import circuits
from commission.design.device_currents import flows
from commission.design.fresh import fresh_id
from commission.design.guards import guard_of
from commission.design.overcurrent import enough
from commission.design.residual import is_residual
from commission.design.standard import ratings_down_from, ratings_from
from commission.design.types import Found, Later, Remedy, Scene
from commission.design.words import gap, shown
from commission.figure import Figure, Quantity
from commission.formulas.overcurrent import device_for_load
from commission.plant.change import Change
from commission.plant.equipment import Input
from commission.plant.plant import Plant, part_fact
from commission.plant.site import Generator, InverterCharger, Load, Panel, Position, Protection
from commission.sheet.types import Finding

_INPUTS: Final[tuple[Input, ...]] = ("generator", "utility")
_SMALL: Final = 10.0
"""A of the smallest breaker that is offered: smaller ones trip on the start of appliances."""
_OPENS: Final = frozenset({"breaker", "fuse", "residual"})
_BREAKS: Final = frozenset({"breaker", "fuse"})


def check_alternating_guards(scene: Scene) -> Iterator[Found]:
    """Find AC loads without a breaker or residual device, and devices too large for what they guard."""
    for load in scene.plant.site.loads:
        if load.current == "ac":
            yield from _load(scene, load)
    for generator in scene.plant.site.generators:
        yield from _set(scene, generator)
    for unit in scene.plant.site.inverter_chargers:
        yield from _relay(scene, unit)


# loads


def _load(scene: Scene, load: Load) -> Iterator[Found]:
    guards = _before(scene, load)
    if not guards:
        yield _bare(scene, load)
    elif load.sockets:
        yield from _sockets(scene, load, guards)


def _before(scene: Scene, load: Load) -> tuple[Protection, ...]:
    """Return the devices before a load: its own, its run's, and what feeds it where it is the only load."""
    plant = scene.plant
    found = [one for one in plant.site.protection if one.current == "ac" and one.of == load.id]
    for circuit in circuits(scene):
        if circuit.run.kind == "ac" and load.id in {circuit.run.from_, circuit.run.to}:
            own = (guard_of(scene, circuit), plant.protection_of(circuit.run.protection))
            found += [one for one in own if one is not None]
    if len([one for one in plant.site.loads if one.current == "ac"]) == 1:
        outputs = [plant.protection_of(unit.ac_breaker) for unit in plant.site.inverter_chargers]
        found += [one for one in outputs if one is not None]
    made = {one.id: one for one in found if one.kind in _OPENS}
    return tuple(made.values())


def _bare(scene: Scene, load: Load) -> Found:
    most = currents.load_current(scene.plant, load)
    finding = Finding(
        "correct",
        "load-without-breaker",
        (load.id,),
        f"no breaker or fuse stands before {load.label}: whatever feeds its panel feeds a fault on its cable",
        "a breaker of its own, at the panel",
        value=most if isinstance(most, Figure) else None,
    )
    return Found(finding, Later(_new_breakers(scene, load)))


def _new_breakers(scene: Scene, load: Load) -> Iterator[Remedy]:
    plant = scene.plant
    factor = plant.rule("continuous_factor")
    needed = device_for_load.of(current=currents.load_current(plant, load), factor=factor)
    if not isinstance(needed, Figure):
        return
    like = [one for one in plant.site.protection if one.current == "ac" and one.kind in _OPENS]
    usual = max((one.poles for one in like if one.poles <= 2), default=1)
    part: dict[str, Any] = {
        "kind": "breaker",
        "current": "ac",
        "poles": max(currents.load_legs(load) or 1, usual),
        "protects": "branch",
        "of": load.id,
    }
    for field in ("voltage", "interrupting"):
        told = [value for one in like if isinstance(value := getattr(one, field), float | int)]
        if told:
            part[field] = max(told)
    finer = {"residual_current": plant.rule("residual_current").value, "residual_type": "A"}
    ident = fresh_id(plant, f"breaker-{load.id.removeprefix('load-')}")
    for rating in islice(ratings_from(plant, max(needed.value, _SMALL)), 2):
        for more, words in (({}, ""), (finer, f" with {finer['residual_current'] * 1000:g} mA")):  # type: ignore[operator]
            made = {**part, "rating": rating.value, **more}
            change = (Change(f"protection[{ident}]", made), *_on_spare(plant, load, ident))
            text = f"a breaker of {shown(scene, rating)}{words} for {load.label}"
            yield Remedy(text, passes=rating, change=change)


def _on_spare(plant: Plant, load: Load, ident: str) -> Iterator[Change]:
    """Yield the changes that put a new breaker on a spare position of the panel of the other loads."""
    place = next(_spare(plant), None)
    if place is not None:
        panel, position = place
        where = f"{panel.where}.positions[{position.position}]"
        yield Change(f"{where}.holds", ident)
        yield Change(f"{where}.circuit", load.label)


def _spare(plant: Plant) -> Iterator[tuple[Panel, Position]]:
    loads = {load.id for load in plant.site.loads}
    feeding = {one.id for one in plant.site.protection if one.of in loads and one.current == "ac"}
    feeding |= {unit.ac_breaker for unit in plant.site.inverter_chargers if unit.ac_breaker}
    for panel in plant.site.panels:
        if panel.kind == "ac" and any(one.holds in feeding for one in panel.positions):
            yield from ((panel, one) for one in panel.positions if one.holds is None)


# socket outlets


def _sockets(scene: Scene, load: Load, guards: tuple[Protection, ...]) -> Iterator[Found]:
    plant = scene.plant
    limit = plant.rule("residual_current")
    mains = [plant.protection_of(panel.main) for panel in plant.site.panels if panel.kind == "ac"]
    held = {one.holds: panel.main for panel in plant.site.panels for one in panel.positions}
    above = [one for one in mains if one is not None and any(held.get(own.id) == one.id for own in guards)]
    residual = [one for one in (*guards, *above) if is_residual(one)]
    rated = [part_fact(one, "residual_current") for one in residual]
    known = [one for one in rated if isinstance(one, Figure)]
    if any(one.value <= limit.value + 1e-9 for one in known):
        return
    missing = gap("socket-protection", (load.id,), *rated)
    if missing is not None:
        yield missing
        return
    finest = min(known, key=_value, default=None)
    has = "has no residual-current device" if finest is None else f"has one of {finest.value * 1000:g} mA"
    finding = Finding(
        "correct",
        "socket-protection",
        (load.id,),
        f"{load.label} {has}, socket outlets need {limit.value * 1000:g} mA or finer: somebody who touches a "
        "faulty appliance is not protected",
        value=finest,
        limit=limit,
    )
    yield Found(finding, Later(_finer(residual or list(guards), limit)))


def _value(figure: Figure) -> float:
    return figure.value


def _finer(guards: list[Protection], limit: Figure) -> Iterator[Remedy]:
    for guard in guards:
        changes = [Change(f"{guard.where}.residual_current", limit.value)]
        if not is_residual(guard):
            changes.append(Change(f"{guard.where}.residual_type", "A"))
        text = f"{guard.label} with a residual current of {limit.value * 1000:g} mA"
        yield Remedy(text, passes=limit, change=tuple(changes))


# sets


def _set(scene: Scene, generator: Generator) -> Iterator[Found]:
    """Find devices at a set that let its alternator be overloaded."""
    plant = scene.plant
    rated = currents.supply_current(plant, generator)
    most = device_for_load.of(
        f"greatest device at {generator.label}", current=rated, factor=plant.rule("generator_breaker_factor")
    )
    if not isinstance(rated, Figure) or not isinstance(most, Figure):
        return  # the settings ask for the rating of the set
    above = next(ratings_from(plant, most.value - 0.05), most)
    for guard in _at(scene, generator):
        rating = part_fact(guard, "rating")
        if not isinstance(rating, Figure) or rating.value <= max(above.value, most.value) + 1e-6:
            continue
        finding = Finding(
            "correct",
            "generator-overload",
            (guard.id, generator.id),
            f"{guard.label} of {shown(scene, rating, beside=above)} stands at {generator.label} of "
            f"{shown(scene, rated, 1)}: "
            f"an overload up to it heats the alternator; {shown(scene, above, beside=rating)} at most",
            value=rating,
            limit=above,
        )
        fit = [*_fitting(scene, guard, above.value), *ratings_down_from(plant, above.value)]
        remedies = [_of_rating(scene, guard, one) for one in dict.fromkeys(fit[:3])]
        yield Found(finding, tuple(remedies))


def _at(scene: Scene, generator: Generator) -> tuple[Protection, ...]:
    """Return the devices at a set: those that name it, and those of its own run."""
    plant = scene.plant
    found = [one for one in plant.site.protection if one.current == "ac" and one.of == generator.id]
    for circuit in circuits(scene):
        ends = {circuit.run.from_, circuit.run.to}
        guard = guard_of(scene, circuit) if circuit.run.kind == "ac" and generator.id in ends else None
        found += [] if guard is None else [guard]
    return tuple({one.id: one for one in found if one.kind in _BREAKS}.values())


def _fitting(scene: Scene, guard: Protection, most: float) -> Iterator[Figure]:
    """Yield the ratings up to a limit that still carry what flows through a device, greatest first."""
    flow = next((one for one in flows(scene) if one.device.id == guard.id), None)
    for one in ratings_down_from(scene.plant, most):
        if flow is not None and enough(scene, flow, one):
            yield one


def _of_rating(scene: Scene, guard: Protection, rating: Figure) -> Remedy:
    change = (Change(f"{guard.where}.rating", rating.value),)
    return Remedy(f"{guard.label} of {shown(scene, rating)}", passes=rating, change=change)


# transfer relays


def _relay(scene: Scene, unit: InverterCharger) -> Iterator[Found]:
    """Find devices before an input that let more through than the transfer relay carries."""
    plant = scene.plant
    guards = _before_input(scene, unit)
    over: list[tuple[Protection, Quantity]] = [(one, part_fact(one, "rating")) for one in guards]
    relay = plant.rating(unit, "transfer_current").named(f"transfer relay of {unit.label}")
    missing = gap("transfer-relay", (unit.id,), relay) if over else None
    if missing is not None:
        yield missing
    for guard, rating in over:
        if not isinstance(rating, Figure) or not isinstance(relay, Figure):
            continue
        if rating.value <= relay.value + 1e-6:
            continue
        finding = Finding(
            "correct",
            "transfer-relay",
            (guard.id, unit.id),
            f"{guard.label} of {shown(scene, rating, beside=relay)} stands before the transfer relay of "
            f"{unit.label}, which "
            f"carries {shown(scene, relay, beside=rating)}: loads that it passes on weld or burn the relay",
            value=rating,
            limit=relay,
        )
        fit = [*_fitting(scene, guard, relay.value), *ratings_down_from(plant, relay.value)]
        yield Found(finding, Later(_of_rating(scene, guard, one) for one in dict.fromkeys(fit[:4])))


def _before_input(scene: Scene, unit: InverterCharger) -> tuple[Protection, ...]:
    """Return the devices nearest before the inputs of an inverter: its own, its run's, else the source's."""
    plant = scene.plant
    found: list[Protection | None] = []
    for kind in _INPUTS:
        source = unit.inputs.get(kind)
        if source is None:
            continue
        own = plant.protection_of(unit.input_breakers.get(kind))
        runs = [
            guard_of(scene, one)
            for one in circuits(scene)
            if one.role == "ac input" and one.part == unit.id and source in {one.run.from_, one.run.to}
        ]
        at_source = [one for one in plant.site.protection if one.current == "ac" and one.of == source]
        nearest = [own] if own is not None else runs or at_source
        found += nearest
    return tuple({one.id: one for one in found if one is not None and one.kind in _BREAKS}.values())
