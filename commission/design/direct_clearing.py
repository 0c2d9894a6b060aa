"""Whether the least short circuit on a DC run still makes its breaker or fuse open without delay."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import islice
from typing import Final

from commission.design.bank_fault import least_current
from commission.design.fault_paths import FaultPaths, fault_paths
from commission.design.standard import ratings_down_from, size_name, sizes_over
from commission.design.types import Found, Remedy, Scene
from commission.design.words import gap, shown
from commission.figure import Figure, Quantity, Unknown, given, least
from commission.formulas.charging import scaled_current
from commission.formulas.fault_current import clearing_current
from commission.plant.change import Change
from commission.plant.plant import Plant, fact, part_fact
from commission.plant.site import Protection, Run
from commission.sheet.types import Finding

_CHECK: Final = "fault-clearing"
_FIRST: Final = "management-opens-first"


def check_direct_clearing(scene: Scene) -> Iterator[Found]:
    """Find DC runs whose far end does not drive enough fault current to open their device at once."""
    paths = fault_paths(scene)
    for run, guard, count in _guarded(paths):
        yield from _of_run(scene, paths, run, guard, count)
    yield from _management(scene, paths)


def _guarded(paths: FaultPaths) -> Iterator[tuple[Run, Protection, int]]:
    """Yield the runs that the bank feeds, of side by side the first, with the device that must clear them.

    Where nothing but the strings' own devices stands before a run, the greatest of them and their number:
    each sees its part of the fault current.
    """
    strings = paths.string_guards
    for run in paths.points.runs:
        fed = paths.points.of_string(run) or paths.near(run) is not None
        if not fed or {run.from_, run.to} & paths.pv_strings or paths.points.twins(run)[0] != run:
            continue
        guard = paths.clears(run)
        if guard is not None:
            yield run, guard, 1
        elif strings and not paths.points.of_string(run):
            yield run, max(strings, key=_size), len(strings)


def _size(guard: Protection) -> float:
    rating = part_fact(guard, "rating")
    return rating.value if isinstance(rating, Figure) else 0.0


def _of_run(scene: Scene, paths: FaultPaths, run: Run, guard: Protection, count: int) -> Iterator[Found]:
    needed, current = _together(clears_at(scene.plant, guard), guard, count), least_current(paths, run)
    missing = gap(_CHECK, (run.id,), needed, current)
    if missing is not None:
        yield missing
    if not isinstance(needed, Figure) or not isinstance(current, Figure):
        return
    if current.value >= needed.value - 1e-6:
        return
    text = (
        f"a short circuit at the far end of {run.label} may drive only "
        f"{shown(scene, current, 0, beside=needed)}; "
        f"{guard.label}{_and_its_like(count)} at once from {shown(scene, needed, beside=current)}; the "
        "cable heats meanwhile"
    )
    finding = Finding(
        "correct",
        _CHECK,
        (run.id,),
        text,
        "a device of a smaller rating or a quicker curve, or a thicker or shorter cable",
        value=current,
        limit=needed,
    )
    made = _quicker_or_smaller(scene.plant, guard, current) if count == 1 else ()
    yield Found(finding, (*made, *islice(_thicker(scene.plant, paths, run, needed), 3)))


def _together(needed: Quantity, guard: Protection, count: int) -> Quantity:
    if count == 1:
        return needed
    name = f"current at which {count} devices like {guard.label} open at once"
    return scaled_current.of(name, current=needed, count=float(count))


def _and_its_like(count: int) -> str:
    return " opens" if count == 1 else f" and its like, {count} in all, open"


def clears_at(plant: Plant, guard: Protection) -> Quantity:
    """Return the current from which a DC breaker or fuse opens without delay, in A.

    As its maker states it, else by the letter of its curve, else by what the rule set holds of such devices.
    """
    told = part_fact(guard, "instant_trip")
    if isinstance(told, Figure):
        return told
    name = f"current at which {guard.label} opens at once"
    return clearing_current.of(name, rating=part_fact(guard, "rating"), multiple=_multiple(plant, guard))


def _multiple(plant: Plant, guard: Protection) -> Quantity:
    if guard.kind == "fuse":
        return plant.rule("fuse_multiple")
    return _of_curve(plant, guard.curve) or plant.rule("breaker_multiple")


def _of_curve(plant: Plant, curve: str) -> Figure | None:
    row = next((row for row in plant.rules.trip_curves if row.curve == curve), None)
    if row is None:
        return None
    where, source = f"{plant.rules.id}.trip_curves[{curve}]", plant.rules.trip_curves_source
    return given(
        row.multiple, "1", f"curve {curve} over the rating", kind="rules", where=where, source=source
    )


def _quicker_or_smaller(plant: Plant, guard: Protection, current: Figure) -> Iterator[Remedy]:
    """Yield other devices that the fault current opens; of one whose maker states its trip, none is known."""
    multiple, rating = _multiple(plant, guard), part_fact(guard, "rating")
    if isinstance(part_fact(guard, "instant_trip"), Figure):
        return
    if isinstance(rating, Figure):
        yield from _quicker(plant, guard, rating, current)
    if isinstance(multiple, Figure):
        for smaller in islice(ratings_down_from(plant, current.value / multiple.value), 2):
            yield Remedy(
                f"{guard.label} of {smaller.value:g} A",
                passes=smaller,
                change=(Change(f"{guard.where}.rating", smaller.value),),
            )


def _quicker(plant: Plant, guard: Protection, rating: Figure, current: Figure) -> Iterator[Remedy]:
    if guard.kind != "breaker":
        return
    for row in sorted(plant.rules.trip_curves, key=lambda row: -row.multiple):
        needed = _of_curve(plant, row.curve)
        if needed is None or row.curve == guard.curve or row.multiple * rating.value > current.value:
            continue
        yield Remedy(
            f"{guard.label} of curve {row.curve}, which opens at once from {row.multiple:g} times its rating",
            passes=needed,
            change=(Change(f"{guard.where}.curve", row.curve),),
        )
        return


def _thicker(plant: Plant, paths: FaultPaths, run: Run, needed: Figure) -> Iterator[Remedy]:
    area = part_fact(run, "area")
    if not isinstance(area, Figure):
        return
    for row in sizes_over(plant, area.value):
        thicker = run.model_copy(update={"area": row.area})
        reached = least_current(_with_run(paths, thicker), thicker)
        if isinstance(reached, Figure) and reached.value >= needed.value:
            passes = given(row.area, "mm²", "conductor of the table", source=plant.rules.conductors_source)
            change = (Change(f"{run.where}.area", row.area),)
            yield Remedy(f"{run.label} in {size_name(plant, row.area)}", passes=passes, change=change)


def _with_run(paths: FaultPaths, run: Run) -> FaultPaths:
    site = paths.plant.site
    runs = tuple(run if one.id == run.id else one for one in site.runs)
    return FaultPaths(paths.plant.model_copy(update={"site": site.model_copy(update={"runs": runs})}))


# management systems


def _management(scene: Scene, paths: FaultPaths) -> Iterator[Found]:
    """Tell where the packs' management opens before the devices behind them do."""
    plant, management = scene.plant, scene.plant.bank.management
    guards = [one for one in paths.guards if one.protects != "string" and not paths.of_array(one)]
    if management is None or not guards:
        return
    limit = scaled_current.of(
        "discharge limit of all packs",
        current=fact(management, "discharge_current", "bank.management", "one pack"),
        count=float(len(plant.bank.strings)),
    )
    missing = gap(_FIRST, (plant.bank.id,), limit)
    if missing is not None:
        yield missing
    needed = {guard.label: clears_at(plant, guard) for guard in guards}
    known = {label: item for label, item in needed.items() if isinstance(item, Figure)}
    if isinstance(limit, Unknown):
        return
    slow = {label: item for label, item in known.items() if item.value > limit.value}
    if not slow:
        return
    first = least("first of the devices that open after the packs", *slow.values())
    others = f" and {len(slow) - 1} more" if len(slow) > 1 else ""
    text = (
        f"the packs' management may open from {shown(scene, limit)}, too soon for {next(iter(slow))}{others}:"
        " a short circuit then darkens the whole plant while the sources still charge"
    )
    remedy = (
        "ask the packs' maker at what current and time they open; see that every source survives the loss of "
        "the battery"
    )
    yield Found(Finding("advise", _FIRST, (plant.bank.id,), text, remedy, value=limit, limit=first))
