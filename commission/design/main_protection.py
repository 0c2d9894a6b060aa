"""Protection at the bank itself: that there is some, and how far from the posts."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from commission.design.types import Found, Remedy, Scene
from commission.design.words import gap, shown
from commission.figure import Figure
from commission.plant.change import Change
from commission.plant.plant import part_fact
from commission.plant.site import Protection
from commission.sheet.types import Finding

_BREAKS: Final = frozenset({"breaker", "fuse"})


def check_main_protection(scene: Scene) -> Iterator[Found]:
    """Find a bank without overcurrent protection of its own, and protection far from its posts."""
    guards = bank_guards(scene)
    if not guards:
        yield _none(scene)
    for guard in guards:
        yield from _distance(scene, guard)


def bank_guards(scene: Scene) -> tuple[Protection, ...]:
    """Return what protects the bank; the strings' own fuses or breakers where each string has one."""
    direct = [one for one in scene.plant.site.protection if one.current == "dc" and one.kind in _BREAKS]
    mains = tuple(one for one in direct if one.protects == "bank")
    if mains:
        return mains
    strings = {string.id for string in scene.plant.bank.strings}
    own = tuple(one for one in direct if one.protects == "string" and one.of in strings)
    return own if {one.of for one in own} == strings else ()


def _none(scene: Scene) -> Found:
    finding = Finding(
        "stop",
        "main-protection",
        (scene.plant.bank.id,),
        "no fuse or breaker protects the bank: a fault on the bus is fed until something burns",
        "a fuse at the bank's post, rated for its fault current",
        releasable=False,
    )
    return Found(finding)


def _distance(scene: Scene, guard: Protection) -> Iterator[Found]:
    distance, most = part_fact(guard, "distance"), scene.plant.rule("main_protection_distance")
    missing = gap("main-protection-distance", (guard.id,), distance)
    if missing is not None:
        yield missing
    if not isinstance(distance, Figure) or distance.value <= most.value + 1e-9:
        return
    text = (
        f"{shown(scene, distance)} of cable between the bank's post and {guard.label} are unprotected, "
        f"at most {shown(scene, most)} may be"
    )
    remedy = Remedy(
        f"{guard.label} within {shown(scene, most)} of the post",
        passes=most,
        change=(Change(f"{guard.where}.distance", most.value),),
    )
    finding = Finding("correct", "main-protection-distance", (guard.id,), text, value=distance, limit=most)
    yield Found(finding, (remedy,))
