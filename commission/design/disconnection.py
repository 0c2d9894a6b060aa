"""Whether a fault to earth is cut off in time in every AC circuit, on the weakest source that feeds it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from commission.design.alternating_faults import (
    LEAST_FACTOR,
    allowed_time,
    end_current,
    fault_limits,
    feed_voltage,
    holds,
    strength,
    trip_current,
)
from commission.design.alternating_paths import AlternatingPaths, Feed, Guarded
from commission.design.bonds import mode_in_words
from commission.design.disconnection_remedies import disconnection_remedies
from commission.design.residual import covered, systems
from commission.design.types import Found, Later, Scene
from commission.design.words import listed, shown
from commission.figure import Figure, Quantity, least
from commission.formulas.disconnection import greatest_loop_resistance
from commission.sheet.known import gaps, not_checked
from commission.sheet.types import Finding


@dataclass(frozen=True)
class Slow:
    """A mode in which a fault in a circuit is not cut off in time."""

    feed: Feed
    current: Figure
    """A, at most."""
    trip: Figure
    """A at which the device acts."""
    hold: Figure | None = None
    """s that the source drives the current, where that is too short."""
    allowed: Figure | None = None
    """s in which the fault must be cut off."""


def check_disconnection(scene: Scene) -> Iterator[Found]:
    """Find AC circuits whose breaker or fuse does not open a fault in time on one of the sources."""
    paths = AlternatingPaths(scene)
    passed: dict[str, list[tuple[Guarded, Feed]]] = {}
    asked: dict[str, tuple[str, ...]] = {}
    for circuit in paths.guarded:
        yield from _circuit(paths, circuit, passed, asked)
    for part, names in asked.items():
        yield Found(not_checked("fault-current", (part,), names))
    for feed in paths.feeds:
        if allowed_time(paths, feed) is None:
            circuits = [one for one in paths.guarded if _bare(paths, feed, one)]
            yield from _without_time(paths, feed, circuits)
    yield from _to_measure(paths, [one for modes in passed.values() for one in modes])


def _bare(paths: AlternatingPaths, feed: Feed, circuit: Guarded) -> bool:
    """Whether a circuit that a feed feeds has nothing but its breaker or fuse."""
    return paths.fed(feed, circuit) and not covered(paths, feed, circuit)


def _circuit(
    paths: AlternatingPaths,
    circuit: Guarded,
    passed: dict[str, list[tuple[Guarded, Feed]]],
    asked: dict[str, tuple[str, ...]],
) -> Iterator[Found]:
    """Judge a circuit in every mode; note where it passes, and what of a source is not known."""
    slow: list[Slow] = []
    missing: list[str] = []
    for feed in paths.feeds:
        if not _bare(paths, feed, circuit) or allowed_time(paths, feed) is None:
            continue
        found = _judged(paths, feed, circuit)
        if isinstance(found, Slow):
            slow.append(found)
        elif not found:
            passed.setdefault(circuit.guard.id, []).append((circuit, feed))
        elif _of_source(paths.scene, feed):
            asked.setdefault(feed.part, found)
        else:
            missing.extend(found)
    if slow:
        passed.pop(circuit.guard.id, None)
        yield _slow(paths, circuit, slow)
    elif missing:
        yield Found(not_checked("disconnection", (circuit.guard.id,), missing))


def _judged(paths: AlternatingPaths, feed: Feed, circuit: Guarded) -> Slow | tuple[str, ...]:
    """Return why a fault is not cut off in time, or what is missing to say so; nothing where it is."""
    plant = paths.scene.plant
    limits, trip = fault_limits(paths, feed, circuit), trip_current(plant, circuit.guard)
    current = _least_known(circuit, limits)
    if current is not None and isinstance(trip, Figure) and current.value < trip.value - 1e-9:
        return Slow(feed, current, trip)
    hold, allowed = holds(plant, feed), allowed_time(paths, feed)
    missing = gaps([one for one in (*limits, trip, hold, allowed) if one is not None])
    if missing or current is None or not isinstance(trip, Figure):
        return missing
    if isinstance(hold, Figure) and isinstance(allowed, Figure) and hold.value < allowed.value - 1e-9:
        return Slow(feed, current, trip, hold, allowed)
    return ()


def _least_known(circuit: Guarded, limits: tuple[Quantity, ...]) -> Figure | None:
    """Return the least of the limits that are known, which the fault current cannot pass."""
    known = [one for one in limits if isinstance(one, Figure)]
    if not known:
        return None
    made = known[0] if len(known) == 1 else least(f"fault behind {circuit.guard.label}", *known)
    return made if isinstance(made, Figure) else None


def _of_source(scene: Scene, feed: Feed) -> bool:
    """Whether what is missing is the source's own: then it is asked once for all circuits."""
    own: list[Quantity] = [one for one in (strength(scene.plant, feed, "all"),) if one is not None]
    hold = holds(scene.plant, feed)
    return bool(gaps((*own, *([] if hold is None else [hold]))))


def _slow(paths: AlternatingPaths, circuit: Guarded, slow: list[Slow]) -> Found:
    scene = paths.scene
    worst = min(slow, key=lambda one: one.current.value / one.trip.value)
    others = [mode_in_words(scene.plant, one.feed.mode) for one in slow if one is not worst]
    also = f"; nor {' nor '.join(others)}" if others else ""
    finding = Finding(
        "correct",
        "disconnection",
        (circuit.guard.id,),
        f"{_why(scene, circuit, worst)}{also}",
        value=worst.current if worst.hold is None else worst.hold,
        limit=worst.trip if worst.hold is None else worst.allowed,
    )
    feeds = [one.feed for one in slow]
    return Found(finding, Later(lambda: disconnection_remedies(paths, circuit, feeds)))


def _why(scene: Scene, circuit: Guarded, slow: Slow) -> str:
    mode = mode_in_words(scene.plant, slow.feed.mode)
    current, trip, guard = shown(scene, slow.current), shown(scene, slow.trip), circuit.guard.label
    if slow.hold is not None and slow.allowed is not None:
        return (
            f"{mode}, a fault to earth behind {guard} is driven for only {shown(scene, slow.hold)} of the "
            f"{shown(scene, slow.allowed)} allowed for opening it: whether the breaker acts is not sure"
        )
    return (
        f"{mode}, a fault to earth behind {guard} draws {current}, it opens at once from {trip} only: "
        "metal stays live meanwhile"
    )


# regions that name no time


def _without_time(paths: AlternatingPaths, feed: Feed, circuits: list[Guarded]) -> Iterator[Found]:
    """Find circuits whose device acts late on a weak source, and those whose device may never act."""
    scene, plant = paths.scene, paths.scene.plant
    hold = holds(plant, feed)
    late: list[tuple[Guarded, Figure, Figure]] = []
    for circuit in circuits:
        trip, end = trip_current(plant, circuit.guard), end_current(plant, circuit.guard)
        current = _least_known(circuit, fault_limits(paths, feed, circuit))
        if current is None or not isinstance(trip, Figure) or current.value >= trip.value - 1e-9:
            continue
        if hold is None and isinstance(end, Figure) and current.value < end.value - 1e-9:
            yield _never(paths, feed, circuit, current, end)
        else:
            late.append((circuit, current, trip))
    source = strength(plant, feed, "all")
    missing = gaps([one for one in (source, hold) if one is not None])
    if missing and circuits:
        yield Found(not_checked("fault-current", (feed.part,), missing))
    if late:
        yield _late(scene, feed, late)


def _never(paths: AlternatingPaths, feed: Feed, circuit: Guarded, current: Figure, end: Figure) -> Found:
    scene = paths.scene
    finding = Finding(
        "correct",
        "disconnection",
        (circuit.guard.id,),
        f"{mode_in_words(scene.plant, feed.mode)}, a fault to earth behind {circuit.guard.label} draws "
        f"{shown(scene, current, beside=end)}, under the {shown(scene, end, beside=current)} at which it "
        "opens at all",
        value=current,
        limit=end,
    )
    return Found(finding, Later(lambda: disconnection_remedies(paths, circuit, [feed])))


def _late(scene: Scene, feed: Feed, late: list[tuple[Guarded, Figure, Figure]]) -> Found:
    circuit, current, trip = min(late, key=lambda one: one[1].value / one[2].value)
    hold = holds(scene.plant, feed)
    lasting = f" for {shown(scene, hold)}" if isinstance(hold, Figure) else ""
    names = listed(one.guard.label for one, _, _ in late)
    finding = Finding(
        "advise",
        "weak-fault-current",
        (feed.part,),
        f"{mode_in_words(scene.plant, feed.mode)}, a fault to earth draws "
        f"{shown(scene, current, beside=trip)}{lasting}, "
        f"{circuit.guard.label} opens at once from {shown(scene, trip, beside=current)}: no instant trip "
        f"at {names}",
        "residual-current protection, or the maker's word on how soon the source itself shuts off; the local "
        "code decides",
        value=current,
        limit=trip,
    )
    return Found(finding)


# circuits whose cable the file does not have


def _to_measure(paths: AlternatingPaths, passed: list[tuple[Guarded, Feed]]) -> Iterator[Found]:
    """Tell which loops must be measured: their own cable is not in the file, and a breaker guards them."""
    bare = [
        (circuit, feed)
        for circuit, feed in passed
        if circuit.role == "final" and systems(paths.scene, feed) != "TT" and _no_run(paths, feed, circuit)
    ]
    if not bare:
        return
    names = ", ".join(dict.fromkeys(circuit.guard.label for circuit, _ in bare))
    plant, scene = paths.scene.plant, paths.scene
    most = [
        greatest_loop_resistance.of(
            f"greatest fault loop of {circuit.guard.label}",
            voltage=feed_voltage(plant, feed),
            factor=LEAST_FACTOR,
            current=trip_current(plant, circuit.guard),
        )
        for circuit, feed in bare
    ]
    known = [one for one in most if isinstance(one, Figure)]
    limit = least("greatest fault loop", *known) if known else None
    at_most = f" of at most {shown(scene, limit)}" if isinstance(limit, Figure) else ""
    finding = Finding(
        "advise",
        "fault-loop",
        ("site",),
        f"the cables behind {names} are not in the file: their breakers were judged at the panel",
        f"measure the fault loop at the far end of each: a loop{at_most}, hot, lets the breaker open in time",
        limit=limit,
    )
    yield Found(finding)


def _no_run(paths: AlternatingPaths, feed: Feed, circuit: Guarded) -> bool:
    ways = paths.ways(feed, circuit)
    return not ways or ways[0][-1].run is None
