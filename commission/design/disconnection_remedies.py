"""What makes a fault to earth be cut off in time: residual-current protection, a finer curve or rating."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from commission.design.alternating_faults import allowed_time, fault_limits, holds, trip_multiple
from commission.design.alternating_paths import AlternatingPaths, Feed, Guarded
from commission.design.fresh import fresh_id
from commission.design.residual import electrode, systems
from commission.design.standard import ratings_down_from
from commission.design.types import Remedy
from commission.figure import Figure, Quantity, Unknown, given
from commission.plant.change import Change
from commission.plant.plant import part_fact
from commission.plant.site import Protection
from commission.plant.values import UNKNOWN

_BY_CODE: Final = (
    "a source that sustains more into a fault, or earth-fault protection of the feed as the local code has it"
)


def disconnection_remedies(
    paths: AlternatingPaths, circuit: Guarded, feeds: list[Feed]
) -> tuple[Remedy, ...]:
    """Return what might open a fault in time in every mode in which it is not, the best first."""
    return (
        *_residual(paths, circuit, feeds),
        *_curves(paths, circuit, feeds),
        *_ratings(paths, circuit, feeds),
    )


@dataclass(frozen=True)
class _Bound:
    current: float
    """A, least over the modes."""
    lasting: bool
    """The sources drive it for as long as the region's time."""


def _bound(paths: AlternatingPaths, circuit: Guarded, feeds: list[Feed]) -> _Bound | None:
    """Return the least fault current over modes, None where something is unknown."""
    limits = [one for feed in feeds for one in fault_limits(paths, feed, circuit)]
    known = [one.value for one in limits if isinstance(one, Figure)]
    if len(known) < len(limits) or not known:
        return None
    return _Bound(min(known), all(_lasts(paths, feed) for feed in feeds))


def _lasts(paths: AlternatingPaths, feed: Feed) -> bool:
    hold, allowed = holds(paths.scene.plant, feed), allowed_time(paths, feed)
    if hold is None or allowed is None:
        return True
    return isinstance(hold, Figure) and isinstance(allowed, Figure) and hold.value >= allowed.value - 1e-9


# residual-current protection


def _residual(paths: AlternatingPaths, circuit: Guarded, feeds: list[Feed]) -> Iterator[Remedy]:
    """Yield residual-current devices: for an input at its supply first, whose neutral has one way only."""
    if circuit.role != "final" and any(allowed_time(paths, feed) is None for feed in feeds):
        yield Remedy(_BY_CODE)
        return
    if circuit.role == "input":
        for other in paths.guarded:
            if other.role == "supply" and any(other.end == feed.mode for feed in feeds):
                yield _at(paths, other, feeds)
    yield _at(paths, circuit, feeds)


def _at(paths: AlternatingPaths, circuit: Guarded, feeds: list[Feed]) -> Remedy:
    guard, rated = circuit.guard, residual_rating(paths, circuit, feeds)
    kind = _type(paths, circuit)
    typed = f", type {kind}" if kind else ""
    size = f"{rated.value * 1000:g} mA{typed}"
    if guard.kind == "breaker":
        change = [Change(f"{guard.where}.residual_current", rated.value)]
        change += [Change(f"{guard.where}.residual_type", kind)] if kind else []
        return Remedy(f"a residual-current release of {size} on {guard.label}", rated, tuple(change))
    name = fresh_id(paths.scene.plant, f"residual-{guard.id}")
    return Remedy(
        f"a residual-current device of {size} in series with {guard.label}",
        rated,
        (Change(f"protection[{name}]", _part(guard, circuit, rated, kind)),),
    )


def residual_rating(paths: AlternatingPaths, circuit: Guarded, feeds: list[Feed]) -> Figure:
    """Return the residual current to fit, in A: people's on a final circuit, else the region's greatest.

    With an electrode of its own it is never more than the touch voltage allows.
    """
    plant = paths.scene.plant
    usual = plant.rule("residual_current")
    most = plant.rules.residual_current.high
    fixed = circuit.role != "final" or circuit.end in {one.id for one in plant.site.ac_pv_inverters}
    if not fixed or most is None:
        return usual
    resistance, touch = electrode(paths.scene), plant.rule_if_any("touch_voltage")
    apart = any(systems(paths.scene, feed) == "TT" for feed in feeds)
    if apart and not _held(resistance, touch, most):
        return usual
    return given(
        most,
        "A",
        "greatest usual residual current",
        kind="rules",
        where=f"{plant.rules.id}.residual_current.high",
        source=plant.rules.residual_current.source,
    )


def _held(resistance: Quantity, touch: Quantity | None, rated: float) -> bool:
    if isinstance(resistance, Unknown) or not isinstance(touch, Figure):
        return False
    return resistance.value * rated <= touch.value


def _type(paths: AlternatingPaths, circuit: Guarded) -> str | None:
    if not paths.scene.plant.rules.residual_types:
        return None
    coupled = {one.id for one in paths.scene.plant.site.ac_pv_inverters}
    return "B" if circuit.end in coupled else "A"


def _part(guard: Protection, circuit: Guarded, rated: Figure, kind: str | None) -> dict[str, object]:
    made: dict[str, object] = {
        "kind": "residual",
        "current": "ac",
        "rating": guard.rating,
        "voltage": guard.voltage,
        "interrupting": guard.interrupting,
        "poles": max(2, guard.poles),
        "protects": "branch",
        "of": circuit.end,
        "residual_current": rated.value,
    }
    return made | ({"residual_type": kind} if kind else {})


# finer curve, smaller rating


def _curves(paths: AlternatingPaths, circuit: Guarded, feeds: list[Feed]) -> Iterator[Remedy]:
    """Yield breakers of a finer curve that open at once on the weakest source."""
    guard, bound = circuit.guard, _bound(paths, circuit, feeds)
    rating = part_fact(guard, "rating")
    if guard.kind != "breaker" or bound is None or not bound.lasting or not isinstance(rating, Figure):
        return
    if guard.instant_trip != UNKNOWN:
        return
    now = trip_multiple(paths.scene.plant, guard).value
    for row in sorted(paths.scene.plant.rules.trip_curves, key=lambda row: -row.multiple):
        if row.multiple < now and row.multiple * rating.value <= bound.current:
            trip = row.multiple * rating.value
            yield Remedy(
                f"{guard.label} of curve {row.curve}, which opens at once from {trip:g} A",
                change=(Change(f"{guard.where}.curve", row.curve),),
            )


def _ratings(paths: AlternatingPaths, circuit: Guarded, feeds: list[Feed]) -> Iterator[Remedy]:
    """Yield the greatest smaller rating that opens at once on the weakest source."""
    if circuit.role != "final":
        return
    plant, guard, bound = paths.scene.plant, circuit.guard, _bound(paths, circuit, feeds)
    if guard.kind != "breaker" or bound is None or not bound.lasting or guard.instant_trip != UNKNOWN:
        return
    multiple = trip_multiple(plant, guard).value
    for rating in ratings_down_from(plant, bound.current / multiple):
        yield Remedy(
            f"{guard.label} of {rating.value:g} A, if its load allows",
            rating,
            (Change(f"{guard.where}.rating", rating.value),),
        )
        return
