"""The device through which a panel is fed, against its bus bars."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import islice
from typing import Final

from commission.design.fault_paths import fault_paths
from commission.design.guards import strings_together
from commission.design.main_protection import bank_guards, new_main_fuses
from commission.design.standard import ratings_down_from, ratings_from
from commission.design.types import Found, Remedy, Scene
from commission.design.words import gap, shown
from commission.figure import Figure, Quantity, Unknown
from commission.plant.change import Change
from commission.plant.plant import part_fact
from commission.plant.site import Panel, Protection
from commission.sheet.types import Finding

_MAIN: Final = "panel-main"


def check_main(scene: Scene, panel: Panel) -> Iterator[Found]:
    """Find a panel whose main device does not guard its bus bars."""
    guard = _main_of(scene, panel)
    if guard is None:
        yield from _by_strings(scene, panel)
        return
    bar, rating = part_fact(panel, "bus_bar"), part_fact(guard, "rating")
    if isinstance(rating, Unknown):
        found = gap(_MAIN, (panel.id,), rating)
        if found is not None:
            yield found
        return
    if not isinstance(bar, Figure) or rating.value <= bar.value + 1e-9:
        return
    text = (
        f"{panel.label}: {guard.label} of {shown(scene, rating, beside=bar)} does not guard bus bars of "
        f"{shown(scene, bar, beside=rating)}"
    )
    down = [
        Remedy(
            f"{guard.label} of at most {shown(scene, least)}",
            passes=least,
            change=(Change(f"{guard.where}.rating", least.value),),
        )
        for least in islice(ratings_down_from(scene.plant, bar.value), 1)
    ]
    up = [
        Remedy(
            f"a panel with bus bars of {shown(scene, more)}",
            passes=more,
            change=(Change(f"{panel.where}.bus_bar", more.value),),
        )
        for more in islice(ratings_from(scene.plant, rating.value), 1)
    ]
    finding = Finding("correct", _MAIN, (panel.id,), text, value=rating, limit=bar)
    yield Found(finding, (*down, *up))


def _main_of(scene: Scene, panel: Panel) -> Protection | None:
    """Return the device through which a panel is fed: the told one, else the bank's own."""
    if panel.main is not None:
        return scene.plant.protection_of(panel.main)
    fed = any(
        run.kind == "dc" and panel.id in {run.from_, run.to} and scene.plant.bank.id in {run.from_, run.to}
        for run in scene.plant.site.runs
    )
    guards = bank_guards(scene)
    return guards[0] if fed and len(guards) == 1 else None


def _by_strings(scene: Scene, panel: Panel) -> Iterator[Found]:
    """Find bus bars that the devices of all strings together do not guard, where nothing else stands before.

    Each string's device sees its part of an overload alone: nothing opens under the sum of their ratings.
    """
    paths, together = fault_paths(scene), strings_together(scene.plant)
    fed = panel.kind == "dc" and panel.main is None and panel.id in paths.hops
    if together is None or not fed or paths.guard_before(panel.id) is not None:
        return
    bar, rating = part_fact(panel, "bus_bar"), together.rating
    if not isinstance(rating, Figure) or not isinstance(bar, Figure) or rating.value <= bar.value + 1e-9:
        return  # an unknown rating is told with its device
    text = (
        f"{panel.label}: without a main device the devices of all strings together, "
        f"{shown(scene, rating, beside=bar)}, "
        f"do not guard bus bars of {shown(scene, bar, beside=rating)}"
    )
    up = tuple(
        Remedy(
            f"a panel with bus bars of {shown(scene, more)}",
            passes=more,
            change=(Change(f"{panel.where}.bus_bar", more.value),),
        )
        for more in islice(ratings_from(scene.plant, rating.value), 2)
    )
    finding = Finding(
        "correct",
        _MAIN,
        (panel.id,),
        text,
        f"a main fuse of at most {shown(scene, bar, beside=rating)} at the bank's post, or larger bus bars",
        value=rating,
        limit=bar,
    )
    fuses = [one for one in new_main_fuses(scene) if one.passes and _within(one.passes, bar)]
    yield Found(finding, (*fuses, *up))


def _within(rating: Quantity, bar: Figure) -> bool:
    return isinstance(rating, Figure) and rating.value <= bar.value + 1e-9
