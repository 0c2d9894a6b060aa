"""Whether the device nearest to a DC fault opens alone: branch before main, main before the strings."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import islice
from typing import Final

from commission.design.fault_paths import FaultPaths, fault_paths
from commission.design.standard import ratings_down_from, ratings_from
from commission.design.types import Found, Later, Remedy, Scene
from commission.design.words import gap, shown
from commission.figure import Figure, given, least
from commission.formulas.charging import scaled_current
from commission.plant.change import Change
from commission.plant.plant import part_fact
from commission.plant.site import Protection
from commission.sheet.types import Finding

_CHECK: Final = "selectivity"


def check_selectivity(scene: Scene) -> Iterator[Found]:
    """Find DC devices that do not open before the one upstream of them, by their ratings alone.

    A device larger than the one before it protects nothing that is not protected already, and its fault
    takes the whole plant down.
    """
    paths = fault_paths(scene)
    for guard in paths.guards:
        upstream = paths.upstream(guard)
        if upstream is not None:
            yield from _pair(scene, guard, upstream)
    mains = [one for one in paths.guards if one.protects == "bank"]
    if len(mains) == 1:
        yield from _of_strings(scene, paths, mains[0])


def _pair(scene: Scene, guard: Protection, upstream: Protection) -> Iterator[Found]:
    own, before = part_fact(guard, "rating"), part_fact(upstream, "rating")
    ratio = scene.plant.rule("selective_ratio")
    missing = gap(_CHECK, (guard.id, upstream.id), own, before)
    if missing is not None:
        yield missing
    if not isinstance(own, Figure) or not isinstance(before, Figure):
        return
    if before.value >= ratio.value * own.value - 1e-6:
        return
    larger = own.value > before.value + 1e-6
    text = (
        f"{guard.label} of {shown(scene, own, beside=before)} stands behind {upstream.label} of "
        f"{shown(scene, before, beside=own)}: "
        + (
            "the one upstream opens first, for every fault and overload of this circuit"
            if larger
            else f"under {ratio.value:g} to 1 both may open, and a fault darkens more than its own circuit"
        )
    )
    finding = Finding(
        "correct" if larger else "advise",
        _CHECK,
        (guard.id, upstream.id),
        text,
        f"{guard.label} of at most {shown(scene, before, beside=own)}, or {upstream.label} of at least "
        f"{shown(scene, own, beside=before)} where "
        "its conductors bear that"
        if larger
        else "devices that their maker lists as selective, or a larger step between the two",
        value=own,
        limit=before,
    )
    yield Found(finding, Later(_steps(scene, guard, upstream, (own, before))) if larger else ())


def _steps(
    scene: Scene, guard: Protection, upstream: Protection, ratings: tuple[Figure, Figure]
) -> Iterator[Remedy]:
    """Yield the next ratings that put the two in order: first the device itself, then the one before it."""
    own, before = ratings
    ratio = scene.plant.rule("selective_ratio").value
    for smaller in islice(ratings_down_from(scene.plant, before.value / ratio), 3):
        yield _of_rating(guard, smaller)
    for larger in islice(ratings_from(scene.plant, own.value * ratio), 2):
        yield _of_rating(upstream, larger)


def _of_rating(guard: Protection, rating: Figure) -> Remedy:
    change = (Change(f"{guard.where}.rating", rating.value),)
    return Remedy(f"{guard.label} of {rating.value:g} A", passes=rating, change=change)


def _of_strings(scene: Scene, paths: FaultPaths, main: Protection) -> Iterator[Found]:
    """Tell where a fault behind the main device can open the strings' own devices first."""
    strings = scene.plant.bank.strings
    own = [one for one in paths.guards if one.protects == "string"]
    ratings = [part_fact(one, "rating") for one in own]
    known = [one for one in ratings if isinstance(one, Figure)]
    before = part_fact(main, "rating")
    ratio = scene.plant.rule("selective_ratio")
    if len(strings) < 2 or not known or len(known) < len(own) or not isinstance(before, Figure):
        return
    together = scaled_current.of(
        "strings' devices together",
        current=least("smallest of the strings' devices", *known),
        count=given(float(len(strings)), "1", "strings in parallel", kind="site", where="bank.strings"),
    )
    if not isinstance(together, Figure) or together.value >= ratio.value * before.value - 1e-6:
        return
    text = (
        f"{len(strings)} strings' devices carry {shown(scene, together, beside=before)} together, "
        f"{main.label} "
        f"{shown(scene, before, beside=together)}: under {ratio.value:g} to 1 a fault behind it may open "
        "the strings too"
    )
    yield Found(
        Finding(
            "advise",
            "string-selectivity",
            (main.id,),
            text,
            "keep spare fuses for the strings, and check all of them after a fault",
            value=together,
            limit=before,
        )
    )
