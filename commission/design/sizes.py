"""Conductor sizes that would do, tried on copies of a run, as changes to the site file."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

from commission.design.circuits import circuits, net_of
from commission.design.earth_sizes import needed_earth
from commission.design.standard import size_name, sizes_over
from commission.design.types import Circuit, Remedy, Scene
from commission.figure import Figure, given
from commission.plant.change import Change
from commission.plant.rules import ConductorSize
from commission.plant.site import InverterCharger, Run
from commission.plant.values import UNKNOWN

_LIKE = frozenset({"inverter", "ac output", "ac input"})


def companions(scene: Scene, circuit: Circuit) -> tuple[Circuit, ...]:
    """Return the circuits whose conductors must stay like those of one, itself first.

    Runs between the same points, the leads of all strings, and the leads of one group's inverters.
    """
    twins = {run.id for run in net_of(scene, circuit.run.kind).twins(circuit.run)}
    others = [
        one
        for one in circuits(scene)
        if one.run.id != circuit.run.id and (one.run.id in twins or _like(scene, circuit, one))
    ]
    return (circuit, *others)


def _like(scene: Scene, one: Circuit, other: Circuit) -> bool:
    if one.role != other.role:
        return False
    if one.role == "string":
        return True
    if one.role not in _LIKE:
        return False
    first, second = scene.plant.parts.get(one.part), scene.plant.parts.get(other.part)
    if not isinstance(first, InverterCharger) or not isinstance(second, InverterCharger):
        return False
    return first.group is not None and first.group == second.group


def thicker(
    scene: Scene, circuit: Circuit, passes: Callable[[Run], bool], most: int = 3
) -> Iterator[tuple[ConductorSize, tuple[Run, ...]]]:
    """Yield the next sizes with which a run and its companions pass, with the runs as they would then be."""
    area = circuit.run.area
    if area == UNKNOWN:
        return
    runs = [one.run for one in companions(scene, circuit)]
    found = 0
    for row in sizes_over(scene.plant, float(area)):
        # a companion that is thicker already stays as it is
        made = tuple(
            run
            if run.area != UNKNOWN and float(run.area) > row.area
            else run.model_copy(update={"area": row.area})
            for run in runs
        )
        if all(passes(run) for run in made):
            yield row, made
            found += 1
        if found >= most:
            return


def resized(scene: Scene, circuit: Circuit, made: Sequence[Run]) -> tuple[Change, ...]:
    """Return the changes that make runs what they are in copies, their protective conductors with them."""
    plant, changes = scene.plant, list[Change]()
    standing = {run.id: run for run in plant.site.runs}
    flows = {one.run.id: one for one in circuits(scene)}
    for run in made:
        old = standing[run.id]
        changes += [
            Change(f"{run.where}.{field}", getattr(run, field))
            for field in ("area", "length", "conductors")
            if getattr(run, field) != getattr(old, field)
        ]
        if run.area != old.area and isinstance(run.earth_area, float | int):
            needed = needed_earth(scene, flows[run.id], run)
            if isinstance(needed, Figure) and needed.value > run.earth_area * 1.02:
                size = next(sizes_over(plant, needed.value / 1.0201), None)
                if size is not None:
                    changes.append(Change(f"{run.where}.earth_area", size.area))
    return tuple(changes)


def _differs(run: Run, other: Run) -> bool:
    """Whether a run is laid otherwise than it stands, a size of the trade counting as one."""
    if UNKNOWN in {run.area, other.area}:
        return run.area != other.area
    thicker_by = abs(float(run.area) - float(other.area))
    return thicker_by > 0.02 * float(other.area) or run.conductors != other.conductors


def size_remedy(
    scene: Scene, circuit: Circuit, row: ConductorSize, made: Sequence[Run], more: str = ""
) -> Remedy:
    """Return the remedy of thicker conductors for a run and whatever must stay like it."""
    standing = {run.id: run for run in scene.plant.site.runs}
    other = [run for run in made if _differs(run, standing[run.id])] or list(made)
    labels = " and ".join(run.label for run in other) if len(other) < 4 else f"all {len(other)} like runs"
    name = size_name(scene.plant, row.area)
    where = f"{scene.plant.rules.id}.conductors[{row.size}]"
    size = given(
        row.area, "mm²", f"size {name}", kind="rules", where=where, source=scene.plant.rules.conductors_source
    )
    return Remedy(f"{labels} in {name}{more}", passes=size, change=resized(scene, circuit, made))
