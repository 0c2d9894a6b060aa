"""Poles of AC breakers: one in every line of their circuit, and in the neutral where the region asks."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from commission.design import currents
from commission.design.circuits import circuits
from commission.design.types import Found, Remedy, Scene
from commission.figure import given
from commission.plant.change import Change
from commission.plant.plant import Plant
from commission.plant.site import AcPvInverter, Generator, Load, Protection, Utility
from commission.plant.values import Part
from commission.sheet.types import Finding

CHECK: Final = "breaker-poles"


def check_poles(scene: Scene) -> Iterator[Found]:
    """Find AC breakers that leave a line of their circuit, or a neutral that must open, closed."""
    apart = scene.plant.rules.neutral_poles_apart and any(
        point.earthing == "TT" for point in scene.plant.site.earthing.modes
    )
    for guard in scene.plant.site.protection:
        if guard.current != "ac" or guard.kind != "breaker":
            continue
        told = [one for one in (_lines(scene, guard), _lines_of_runs(scene, guard)) if one is not None]
        if not told:
            continue
        lines = max(told)
        needed = lines + 1 if apart and _has_neutral(scene.plant, guard, lines) else lines
        if guard.poles < needed:
            yield _too_few(guard, lines, needed)


def _lines(scene: Scene, guard: Protection) -> int | None:
    """Return the line conductors of a breaker's circuit, None where nothing tells them."""
    plant = scene.plant
    for unit in plant.site.inverter_chargers:
        if guard.id == unit.ac_breaker or guard.id in unit.input_breakers.values():
            return currents.output_legs(plant, unit)
    coupled = next((one for one in plant.site.ac_pv_inverters if one.panel_breaker == guard.id), None)
    part = coupled or _part(plant, guard)
    return None if part is None else _of_part(plant, part)


def _lines_of_runs(scene: Scene, guard: Protection) -> int | None:
    """Return the most line conductors of the runs that name a breaker as what protects them."""
    runs = [one for one in circuits(scene) if one.run.protection == guard.id and one.role != "unclear"]
    return max((one.legs for one in runs), default=None)


def _part(plant: Plant, guard: Protection) -> Part | None:
    utility = plant.site.utility
    if utility is not None and guard.of == utility.id:
        return utility
    return plant.parts.get(guard.of or "")


def _of_part(plant: Plant, part: Part) -> int | None:
    if isinstance(part, Load):
        return currents.load_legs(part) if part.current == "ac" else None
    if isinstance(part, AcPvInverter):
        return currents.coupled_legs(plant, part)
    if isinstance(part, Generator | Utility):
        return currents.supply_legs(plant, part)
    return None


def _has_neutral(plant: Plant, guard: Protection, lines: int) -> bool:
    """Whether a circuit surely has a neutral: one of a single line, and every source of several."""
    return lines == 1 or isinstance(_part(plant, guard), Generator | Utility)


def _too_few(guard: Protection, lines: int, needed: int) -> Found:
    what = {1: "one line", 2: "two lines", 3: "three phases"}[lines]
    neutral = " and a neutral of an earth electrode of its own" if needed > lines else ""
    stays = "the neutral" if guard.poles >= lines else "a line"
    finding = Finding(
        "correct",
        CHECK,
        (guard.id,),
        f"{guard.label} has {guard.poles} pole{'s' if guard.poles > 1 else ''}, its circuit {what}{neutral}: "
        f"{stays} stays live when it opens",
        f"a breaker of {needed} poles that open together",
        value=given(float(guard.poles), "1", f"poles of {guard.label}", kind="site", where=guard.where),
        limit=given(float(needed), "1", "poles that its circuit needs", source="its lines and neutral"),
    )
    tied = ", or single poles with an identified handle tie where the local code allows" if lines == 2 else ""
    passes = given(float(needed), "1", "poles that pass", source="its lines and neutral")
    change = (Change(f"{guard.where}.poles", needed),)
    return Found(
        finding, (Remedy(f"{guard.label} of {needed} poles that open together{tied}", passes, change),)
    )
