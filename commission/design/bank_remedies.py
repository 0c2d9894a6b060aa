"""What helps a bank that does not give enough: more strings, thicker cables, less load."""

from __future__ import annotations

import math
from collections.abc import Iterator
from itertools import islice
from typing import Any, Final

from commission.design.fresh import fresh_ids
from commission.design.standard import size_name, sizes_over
from commission.design.types import Remedy, Scene
from commission.design.words import shown
from commission.figure import Figure, given
from commission.plant.change import Change
from commission.plant.plant import Plant, fact
from commission.plant.site import InverterCharger, Protection, Run
from commission.plant.values import UNKNOWN
from commission.sheet.cables import cable_resistance, path_to_bank

_MOST_STRINGS: Final = 3
"""Counts of strings that are offered, from the least that could pass on."""


def more_strings(scene: Scene, ratio: float) -> Iterator[Remedy]:
    """Yield banks of more strings, each with the run and the fuse of the last one that stands.

    Parameters
    ----------
    ratio
        What is asked over what the bank gives now.
    """
    bank = scene.plant.bank
    now = len(bank.strings)
    first = max(now + 1, math.ceil(now * min(ratio, 100.0) - 1e-9))
    for count in range(first, first + _MOST_STRINGS):
        passes = given(float(count), "1", "strings that pass", source="tried out on this plant")
        names = islice(fresh_ids(scene.plant, "string-added", now + 1), count - now)
        changes = tuple(change for name in names for change in string_like_the_last(scene.plant, name))
        what = "packs" if scene.plant.battery.managed else "strings"
        yield Remedy(
            f"{count} {what} in parallel instead of {now}, each with its leads and fuse", passes, changes
        )


def string_like_the_last(plant: Plant, new: str) -> Iterator[Change]:
    """Yield the changes that add a string like the last one, with its own run and protection."""
    last = plant.bank.strings[-1]
    told = last.model_dump(exclude_unset=True)
    told.pop("id", None)
    yield Change(f"bank.strings[{new}]", told)
    fuses = [guard for guard in plant.site.protection if guard.of == last.id and guard.protects == "string"]
    for guard in fuses:
        yield Change(f"protection[{guard.id}-{new}]", _copied(guard, {"of": new}))
    own = {guard.id for guard in fuses}
    for run in plant.site.runs:
        if last.id not in (run.from_, run.to):
            continue
        ends = {"from": _renamed(run.from_, last.id, new), "to": _renamed(run.to, last.id, new)}
        guard_id = {"protection": f"{run.protection}-{new}"} if run.protection in own else {}
        yield Change(f"runs[{run.id}-{new}]", _copied(run, {**ends, **guard_id}))


def _copied(part: Run | Protection, differs: dict[str, Any]) -> dict[str, Any]:
    told = part.model_dump(by_alias=True, exclude_unset=True)
    told.pop("id", None)
    told.pop("name", None)
    return {**told, **differs}


def _renamed(name: str, old: str, new: str) -> str:
    return new if name == old else name


def thicker_cables(scene: Scene, unit: InverterCharger, over: float) -> Iterator[Remedy]:
    """Yield thicker conductors for the run that resists most between an inverter and the bank.

    Parameters
    ----------
    over
        Ω by which bank and cables together resist too much.
    """
    plant = scene.plant
    runs = [run for run in path_to_bank(plant, unit.id) or () if isinstance(cable_resistance(run), Figure)]
    if not runs:
        return
    thin = max(runs, key=_ohms)
    left = _ohms(thin) - over
    if not isinstance(thin.area, float | int) or left <= 0:
        return
    needed = float(thin.area) * _ohms(thin) / left
    rows = [row for row in sizes_over(plant, float(thin.area)) if row.area >= needed * 0.98]
    for row in rows[:3]:
        passes = given(
            row.area, "mm²", f"area of {thin.label} that passes", source=plant.rules.conductors_source
        )
        text = f"{thin.label} in {row.size} instead of {size_name(plant, float(thin.area))}"
        yield Remedy(text, passes, (Change(f"{thin.where}.area", row.area),))


def _ohms(run: Run) -> float:
    found = cable_resistance(run)
    return found.value if isinstance(found, Figure) else 0.0


def less_load(scene: Scene, ratio: float) -> Iterator[Remedy]:
    """Yield the expected load that the bank carries."""
    told = fact(scene.plant.site.expected, "load", "expected", "the plant")
    if not isinstance(told, Figure) or scene.plant.site.expected.load == UNKNOWN or ratio <= 0:
        return
    watts = math.floor(told.value / ratio / 10.0) * 10.0
    if watts <= 0:
        return
    passes = given(watts, "W", "expected load that passes", source="in proportion to what the bank gives")
    shed = given(told.value - watts, "W", "load to shed")
    yield Remedy(
        f"at most {shown(scene, passes)} at once: {shown(scene, shed)} of load less, or run at another time",
        passes,
        (Change("expected.load", watts),),
    )
