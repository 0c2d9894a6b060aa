"""What the sources drive into a short circuit on the AC side, and whether every breaker there breaks it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import islice
from typing import Final

from commission.design import currents
from commission.design.alternating_paths import AlternatingPaths, Feed, Guarded, Way
from commission.design.standard import interrupting_from
from commission.design.types import Found, Later, Remedy, Scene
from commission.design.words import asked, gap, shown
from commission.figure import Figure, Gap, Quantity, Unknown, given, greatest, least
from commission.formulas.alternating_level import (
    current_behind_cable,
    generator_fault_current,
    transformer_fault_current,
)
from commission.formulas.charging import scaled_current
from commission.formulas.conductors import series_resistance
from commission.plant.change import Change
from commission.plant.plant import Plant, part_fact
from commission.plant.site import Generator, Protection, Utility
from commission.sheet.cables import cable_resistance
from commission.sheet.types import Finding

CHECK: Final = "interrupting-rating"
_KINDS: Final = frozenset({"breaker", "fuse"})
_USUAL: Final = "usual of sets of this size: IEEE 141 and makers' sheets, 8 % to 20 %; from memory"
_LEAST_REACTANCE: Final = given(0.08, "1", "least Xd'' of a set", source=_USUAL)
_GREATEST_REACTANCE: Final = given(0.20, "1", "greatest Xd'' of a set", source=_USUAL)
_HALF_WINDING: Final = given(
    1.5,
    "1",
    "fault from leg to neutral over one across both",
    source="point-to-point method: half of a centre-tapped winding feeds it; from memory",
)
_WHOLE: Final = given(1.0, "1", "factor of a fault across the whole winding", source="definition")


@dataclass(frozen=True, slots=True)
class Level:
    """What a source drives into a short circuit somewhere, between two bounds."""

    source: Generator | Utility
    low: Quantity
    """A that it surely drives; unknown where nothing is told."""
    high: Quantity
    """A that it may drive at most."""


def check_alternating_level(scene: Scene) -> Iterator[Found]:
    """Find AC breakers and fuses that cannot break what a generator or public supply drives there.

    Inverters limit their own fault current electronically, far under what any device breaks.
    """
    paths = AlternatingPaths(scene)
    open_: dict[str, Unknown] = {}
    for guard in scene.plant.site.protection:
        if guard.current == "ac" and guard.kind in _KINDS and guard.protects != "array":
            yield from _judged(paths, guard, open_)
    for part, missing in open_.items():
        found = gap(CHECK, (part,), missing)
        if found is not None:
            yield found


def _judged(paths: AlternatingPaths, guard: Protection, open_: dict[str, Unknown]) -> Iterator[Found]:
    scene = paths.scene
    rating = asked(part_fact(guard, "interrupting"), f"interrupting rating of {guard.label}")
    missing = gap(CHECK, (guard.id,), rating)
    if missing is not None:
        yield missing
    if not isinstance(rating, Figure):
        return
    over: list[tuple[Level, Figure]] = []
    for feed in paths.feeds:
        level = level_at(paths, feed, guard)
        if level is None:
            continue
        if isinstance(level.high, Unknown):
            open_.setdefault(level.source.id, level.high)
        bounds = [one for one in (level.high, level.low) if isinstance(one, Figure)]
        most = next(iter(bounds), None)
        if most is not None and most.value > rating.value + 1e-6:
            over.append((level, most))
    if over:
        level, most = max(over, key=lambda one: one[1].value)
        yield _too_small(scene, guard, rating, level, most)


def _too_small(scene: Scene, guard: Protection, rating: Figure, level: Level, most: Figure) -> Found:
    sure = isinstance(level.low, Figure) and level.low.value > rating.value + 1e-6
    if sure and isinstance(level.low, Figure) and level.low.value < most.value - 1e-6:
        drives = f"between {shown(scene, level.low, 0)} and {shown(scene, most, 0)}"
    elif isinstance(level.high, Unknown):
        drives = f"{shown(scene, most, 0)} or more"
    else:
        drives = f"up to {shown(scene, most, 0)}"
    end = ": it may burst and burn on" if sure else " by what is usual for such a set"
    finding = Finding(
        "stop" if sure else "correct",
        CHECK,
        (guard.id,),
        f"{guard.label} can break {shown(scene, rating)}, but {level.source.label} drives {drives} into a "
        f"short circuit there{end}",
        f"a device that breaks {shown(scene, most)} ac or more",
        value=level.low if sure else most,
        limit=rating,
    )
    return Found(finding, Later(_classes(scene, guard, most)))


def _classes(scene: Scene, guard: Protection, most: Figure) -> Iterator[Remedy]:
    for rating in islice(interrupting_from(scene.plant, most.value), 2):
        yield Remedy(
            f"{guard.label} of a kind that breaks {shown(scene, rating)} ac",
            passes=rating,
            change=(Change(f"{guard.where}.interrupting", rating.value),),
        )


# what a source drives


def level_at(paths: AlternatingPaths, feed: Feed, guard: Protection) -> Level | None:
    """Return what a feed drives into a short circuit at a device, None where it does not feed it."""
    if feed.supply is None:
        return None
    resistance = _between(paths, feed, guard)
    if resistance is None:
        return None
    plant, source = paths.scene.plant, feed.supply
    low, high = at_terminals(plant, source)
    return Level(source, _behind(plant, source, low, resistance), _behind(plant, source, high, resistance))


def at_terminals(plant: Plant, source: Generator | Utility) -> tuple[Quantity, Quantity]:
    """Return the least and the greatest first current of a short circuit at a source's terminals, in A."""
    if isinstance(source, Generator):
        return _of_set(plant, source)
    told = part_fact(source, "fault_current_greatest")
    by_transformer = _of_transformer(plant, source)
    if not isinstance(told, Figure) and isinstance(by_transformer, Figure):
        told = by_transformer
    least_ = part_fact(source, "fault_current_least")
    if not isinstance(told, Figure):
        name = f"greatest fault current of {source.label}"
        gap_ = Gap(f"{name} (ask the network operator)", f"{source.where}.fault_current_greatest")
        return least_, Unknown((gap_,), "A", name)
    if isinstance(least_, Figure):
        told = greatest(f"greatest fault current of {source.label}", told, least_)
    return told, told


def _of_set(plant: Plant, generator: Generator) -> tuple[Quantity, Quantity]:
    rated = currents.supply_current(plant, generator)
    own = plant.rating(generator, "subtransient_reactance")
    name = f"first current of a short circuit at {generator.label}"
    if isinstance(own, Figure):
        one = generator_fault_current.of(name, current=rated, reactance=own)
        return one, one
    return (
        generator_fault_current.of(f"{name}, least", current=rated, reactance=_GREATEST_REACTANCE),
        generator_fault_current.of(f"{name}, greatest", current=rated, reactance=_LEAST_REACTANCE),
    )


def _of_transformer(plant: Plant, utility: Utility) -> Quantity:
    split = utility.connection == "split"
    phases = 3.0 if utility.connection == "three" else 1.0
    return transformer_fault_current.of(
        f"greatest fault current of {utility.label}",
        power=part_fact(utility, "transformer_power"),
        phases=given(phases, "1", "phases of the transformer", source="the site file"),
        voltage=currents.across(currents.supply_voltage(plant, utility), 2 if split else 1),
        impedance=part_fact(utility, "transformer_impedance"),
        factor=_HALF_WINDING if split else _WHOLE,
    )


def _behind(plant: Plant, source: Generator | Utility, current: Quantity, resistance: Quantity) -> Quantity:
    """Return what is left of a source's current behind its cables; the whole where a cable is not known."""
    if not isinstance(resistance, Figure) or resistance.value <= 0:
        return current
    legs = currents.supply_legs(plant, source) or 1
    voltage = currents.across(currents.supply_voltage(plant, source), 2 if legs == 2 else 1)
    return current_behind_cable.of(
        f"{current.name}, behind its cables", voltage=voltage, current=current, resistance=resistance
    )


# the cables before a device


def _between(paths: AlternatingPaths, feed: Feed, guard: Protection) -> Quantity | None:
    """Return the least resistance of the cables from a source to a device; None where it does not feed it.

    Out and back, of three phases out alone. What the file does not show counts as nothing.
    """
    assert feed.supply is not None  # noqa: S101 - asked of sources alone
    ways = _ways(paths, feed, guard)
    if ways is None:
        return None
    totals = [_total(paths.scene, feed.supply, guard, way) for way in ways]
    known = [one for one in totals if isinstance(one, Figure)]
    if not known or len(known) < len(totals):
        return _none()
    shortest = known[0] if len(known) == 1 else least("least resistance of the cables", *known)
    if len(known) == 1:
        return shortest
    count = 1.0 / len(known)
    return scaled_current.of(
        "least resistance of the ways side by side", current=shortest, count=count
    ).in_unit("Ω")


def _ways(paths: AlternatingPaths, feed: Feed, guard: Protection) -> tuple[Way, ...] | None:
    """Return the ways from a source to a device; empty where the file does not show them."""
    circuit = next((one for one in paths.guarded if one.guard.id == guard.id), None)
    if circuit is not None:
        return paths.ways(feed, circuit) if paths.fed(feed, circuit) else None
    for unit in feed.units:  # the device at an inverter's output: the source feeds it through the inverter
        if unit.ac_breaker == guard.id:
            return paths.ways(feed, Guarded(guard, unit.id, "input"))
    return None


def _total(scene: Scene, source: Generator | Utility, guard: Protection, way: Way) -> Quantity:
    plant = scene.plant
    runs = {step.run.id: step.run for step in way if step.run is not None and step.run.protection != guard.id}
    if not runs:
        return _none()
    pieces = [cable_resistance(run) for run in runs.values()]
    both = series_resistance.of("cables from the source, out and back", resistances=pieces)
    if currents.supply_legs(plant, source) != 3:
        return both
    return scaled_current.of("cables from the source, out alone", current=both, count=0.5).in_unit("Ω")


def _none() -> Figure:
    return given(0.0, "Ω", "cables from the source, none counted", source="cautious: nothing is left out")
