"""What the bank can drive into a short circuit, and whether every device on the DC side can break it."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import islice
from typing import Final

from commission.design.bank_fault import Level, level_at, level_of_string
from commission.design.fault_paths import FaultPaths, fault_paths
from commission.design.pv_array import array_short_circuit_current
from commission.design.standard import interrupting_from
from commission.design.types import Found, Later, Remedy, Scene
from commission.design.words import asked, gap, shown
from commission.figure import Figure, Gap, Quantity, Unknown
from commission.formulas.charging import sum_of_currents
from commission.plant.change import Change
from commission.plant.plant import part_fact
from commission.plant.site import ChargeController, Protection
from commission.sheet.known import not_checked
from commission.sheet.types import Finding

_CHECK: Final = "interrupting-rating"
_AT_THE_BANK: Final = frozenset({"bank", "string"})


def check_fault_level(scene: Scene) -> Iterator[Found]:
    """Find DC breakers and fuses that cannot break the current of a short circuit where they stand.

    The bank alone drives it: what chargers and controllers add is limited by their own electronics and lies
    within what the estimate of the bank's resistance leaves open. A management system that may open first
    is not counted on.
    """
    paths = fault_paths(scene)
    for guard in paths.guards:
        rating = asked(part_fact(guard, "interrupting"), f"interrupting rating of {guard.label}")
        missing = gap(_CHECK, (guard.id,), rating)
        if missing is not None:
            yield missing
        elif isinstance(rating, Figure):
            yield from _judged(scene, guard, rating, _level(scene, paths, guard))


def _level(scene: Scene, paths: FaultPaths, guard: Protection) -> Level:
    if paths.of_array(guard):
        current = _array_current(scene, paths, guard)
        return Level(current, current)
    if guard.protects == "string" and guard.of in {string.id for string in paths.plant.bank.strings}:
        return level_of_string(paths, str(guard.of), guard)
    return level_at(paths, paths.place(guard), guard)


def _judged(scene: Scene, guard: Protection, rating: Figure, level: Level) -> Iterator[Found]:
    missing = gap(_CHECK, (guard.id,), level.low, level.high)
    if missing is not None:
        yield missing
    if not isinstance(level.low, Figure) or not isinstance(level.high, Figure):
        return
    if rating.value >= level.high.value - 1e-6:
        return
    if level.missing:
        yield Found(not_checked(_CHECK, (guard.id,), level.missing))
    elif rating.value < level.low.value - 1e-6:
        yield _too_small(scene, guard, rating, level.low, level.high)
    else:
        yield _doubtful(scene, guard, rating, level.low, level.high)


def _too_small(scene: Scene, guard: Protection, rating: Figure, low: Figure, high: Figure) -> Found:
    text = (
        f"{guard.label} can break {shown(scene, rating)}, but a short circuit there drives "
        f"{_range(scene, low, high)}: it may burst and burn on"
    )
    finding = Finding(
        "stop",
        _CHECK,
        (guard.id,),
        text,
        f"a device that breaks {shown(scene, high)} or more",
        value=low,
        limit=rating,
        releasable=guard.protects not in _AT_THE_BANK,
    )
    return Found(finding, Later(_classes(scene, guard, high)))


def _doubtful(scene: Scene, guard: Protection, rating: Figure, low: Figure, high: Figure) -> Found:
    text = (
        f"{guard.label} can break {shown(scene, rating, beside=high)}; a short circuit there drives "
        f"{_range(scene, low, high)} by what is usual for such cells"
    )
    finding = Finding(
        "correct",
        _CHECK,
        (guard.id,),
        text,
        "the maker's short-circuit current of one string, or a device that breaks "
        f"{shown(scene, high, beside=rating)}",
        value=high,
        limit=rating,
    )
    also = ", or the maker's short-circuit current of one string if it shows less"
    return Found(finding, Later(_classes(scene, guard, high, also)))


def _range(scene: Scene, low: Figure, high: Figure) -> str:
    if high.value - low.value <= 1e-6 * high.value:
        return shown(scene, high, 0)
    return f"between {shown(scene, low, 0)} and {shown(scene, high, 0)}"


def _classes(scene: Scene, guard: Protection, high: Figure, also: str = "") -> Iterator[Remedy]:
    for rating in islice(interrupting_from(scene.plant, high.value), 2):
        yield Remedy(
            f"{guard.label} of a kind that breaks {shown(scene, rating)} dc{also}",
            passes=rating,
            change=(Change(f"{guard.where}.interrupting", rating.value),),
        )


def _array_current(scene: Scene, paths: FaultPaths, guard: Protection) -> Quantity:
    """Return what the array at a device drives into a short circuit; all of them where it names none."""
    controllers = [one for one in paths.plant.site.charge_controllers if one.array is not None]
    named = {guard.of, *(end for run in paths.runs_of(guard) for end in (run.from_, run.to))}
    own = [
        one
        for one in controllers
        if one.array is not None and named & {one.id, *(string.id for string in one.array.strings)}
    ]
    name = f"short-circuit current of the array at {guard.label}"
    currents = [_into_array(scene, one) for one in own or controllers]
    if not currents:
        return Unknown((Gap(f"the PV array at {guard.label}", f"{guard.where}.of"),), "A", name)
    return currents[0] if len(currents) == 1 else sum_of_currents.of(name, currents=currents)


def _into_array(scene: Scene, controller: ChargeController) -> Quantity:
    """Return what an array drives into a fault, with what its controller lets through from the bank."""
    own = array_short_circuit_current(scene, controller)
    back = scene.plant.rating(controller, "pv_backfeed_current")
    if isinstance(back, Figure) and back.value == 0.0:
        return own
    return sum_of_currents.of(f"fault current between array and {controller.label}", currents=[own, back])
