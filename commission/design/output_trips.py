"""Breakers at the outputs of inverters: whether a fault behind them trips them, on every source."""

from __future__ import annotations

from collections.abc import Iterator

from commission.design.alternating_faults import (
    LEAST_FACTOR,
    allowed_time,
    feed_voltage,
    holds,
    run_loop,
    strength,
    trip_current,
)
from commission.design.alternating_paths import AlternatingPaths, Feed, Guarded, Way
from commission.design.bonds import mode_in_words
from commission.design.residual import electrode, is_residual, systems
from commission.design.types import Found, Later, Remedy, Scene
from commission.design.words import shown
from commission.figure import Figure, Quantity, least
from commission.formulas.conductors import series_resistance
from commission.formulas.disconnection import least_loop_current
from commission.plant.change import Change
from commission.plant.site import InverterCharger, Protection, Run
from commission.plant.values import UNKNOWN
from commission.sheet.types import Finding


def check_output_trips(scene: Scene) -> Iterator[Found]:
    """Find breakers at inverters' outputs that a fault on a source behind the inverter does not trip.

    On the inverters alone no such breaker need open: they end a fault by shutting off (IEC 60364-4-41,
    411.3.2.5). That this is so is told, for the maker's word and a test must confirm it.
    """
    paths = AlternatingPaths(scene)
    for feed in paths.feeds:
        if feed.supply is None and allowed_time(paths, feed) is not None:
            yield from _alone(paths, feed)  # where the region names no time, it is told with the branches
    slow: dict[str, Found] = {}
    for feed in paths.feeds:
        if feed.supply is not None and allowed_time(paths, feed) is not None:
            for unit in feed.units:
                found = _through(paths, feed, unit)
                if found is not None:
                    slow.setdefault(found.finding.id, found)
    yield from slow.values()


def _outputs(paths: AlternatingPaths, units: tuple[InverterCharger, ...]) -> Iterator[Protection]:
    for unit in units:
        guard = paths.scene.plant.protection_of(unit.ac_breaker)
        if guard is not None and guard.kind in {"breaker", "fuse"} and not is_residual(guard):
            yield guard


def _alone(paths: AlternatingPaths, feed: Feed) -> Iterator[Found]:
    scene, plant = paths.scene, paths.scene.plant
    current = strength(plant, feed, "all")
    late = [
        (guard, trip)
        for guard in _outputs(paths, feed.units)
        if isinstance(trip := trip_current(plant, guard), Figure)
        and isinstance(current, Figure)
        and current.value < trip.value - 1e-9
    ]
    if not late or not isinstance(current, Figure):
        return  # what an unknown fault current leaves open is asked with the branches
    hold = holds(plant, feed)
    lasting = f" for {shown(scene, hold)}" if isinstance(hold, Figure) else ""
    told = ", ".join(
        f"{guard.label} opens at once from {shown(scene, trip, beside=current)}" for guard, trip in late
    )
    _, trip = max(late, key=lambda one: one[1].value)
    units = feed.units
    finding = Finding(
        "advise",
        "output-never-trips",
        tuple(unit.id for unit in units),
        f"a short circuit on the panel draws {shown(scene, current, beside=trip)}{lasting} from "
        f"{' and '.join(unit.label for unit in units)}; {told}: only the inverters themselves end it",
        "the maker's word that they shut off and stay off",
        value=current,
        limit=trip,
    )
    yield Found(finding)


def _through(paths: AlternatingPaths, feed: Feed, unit: InverterCharger) -> Found | None:
    """Judge the breaker at an output while another source feeds through the inverter."""
    scene, plant = paths.scene, paths.scene.plant
    guard = next(_outputs(paths, (unit,)), None)
    if guard is None:
        return None
    ways = paths.ways(feed, Guarded(guard, unit.id, "input"))
    if any(is_residual(one) for way in ways for step in way for one in step.guards):
        return None
    limits = [one for one in (strength(plant, feed, "all"), *_loops(paths, feed, guard, ways)) if one]
    known = [one for one in limits if isinstance(one, Figure)]
    trip = trip_current(plant, guard)
    if not known or not isinstance(trip, Figure):
        return None
    current = known[0] if len(known) == 1 else least(f"fault behind {guard.label}", *known)
    if not isinstance(current, Figure) or current.value >= trip.value - 1e-9:
        return None
    finding = Finding(
        "correct",
        "output-disconnection",
        (guard.id,),
        f"{mode_in_words(plant, feed.mode)}, a fault to earth behind {guard.label} draws "
        f"{shown(scene, current, beside=trip)}, it opens at once from "
        f"{shown(scene, trip, beside=current)} only: metal stays live meanwhile",
        "a breaker that trips sooner, or residual-current protection where the source begins",
        value=current,
        limit=trip,
    )
    return Found(finding, Later(_sooner(guard, feed, ways)))


def _loops(
    paths: AlternatingPaths, feed: Feed, guard: Protection, ways: tuple[Way, ...]
) -> Iterator[Quantity]:
    """Yield what the loop of the way and of the device's own run lets flow, where the file has runs."""
    plant = paths.scene.plant
    own = [run for run in plant.site.runs if run.kind == "ac" and run.protection == guard.id]
    for way in ways or ((),):
        runs: dict[str, Run] = {step.run.id: step.run for step in way if step.run is not None}
        runs |= {run.id: run for run in own}
        pieces = [run_loop(plant, run) for run in runs.values()]
        if systems(paths.scene, feed) == "TT":
            pieces.append(electrode(paths.scene))
        if pieces:
            yield least_loop_current.of(
                f"current that the loop of {guard.label} lets flow",
                voltage=feed_voltage(plant, feed),
                factor=LEAST_FACTOR,
                resistance=series_resistance.of("fault loop along the runs", resistances=pieces),
            )


def _sooner(guard: Protection, feed: Feed, ways: tuple[Way, ...]) -> Iterator[Remedy]:
    """Yield finer curves, then a residual release at the device nearest to the source."""
    coarser = {"D": ("C", "B"), "C": ("B",), UNKNOWN: ("B",)}.get(guard.curve, ())
    for curve in coarser if guard.kind == "breaker" else ():
        change = (Change(f"{guard.where}.curve", curve),)
        yield Remedy(f"{guard.label} of curve {curve}", change=change)
    before = [one for way in ways for step in way for one in step.guards if one.kind == "breaker"]
    for one in before[:1]:
        changes = (
            Change(f"{one.where}.residual_current", 0.3),
            Change(f"{one.where}.residual_type", "A"),
        )
        yield Remedy(f"{one.label} with a residual release of 300 mA", change=changes)
