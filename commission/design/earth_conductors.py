"""Protective conductors laid with the runs, and the conductors to the earth electrode and of the DC pole."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import islice
from typing import Final

from commission.design.circuits import circuits
from commission.design.earth_sizes import needed_earth
from commission.design.standard import size_name, sizes_over
from commission.design.types import Circuit, Found, Remedy, Scene
from commission.design.words import gap, shown
from commission.figure import Figure, Gap, Quantity, greatest
from commission.figure import least as least_of
from commission.formulas.charging import scaled_current
from commission.plant.change import Change
from commission.plant.plant import fact, part_fact
from commission.sheet.known import not_checked
from commission.sheet.types import Finding

_CHECK: Final = "earth-conductor"
_EARTHED: Final = frozenset({"negative", "positive", "mid-point"})
_SLACK: Final = 1.02
"""Circular mils against rounded mm²: a size counts as the table's where it lies within this."""


def check_earth_conductors(scene: Scene) -> Iterator[Found]:
    """Find protective and earthing conductors under the rule set's least sizes."""
    for circuit in circuits(scene):
        if circuit.role != "unclear":
            yield from _laid_with(scene, circuit)
    yield from _earthing(scene, "electrode_conductor", scene.plant.rule("electrode_conductor"))
    if scene.plant.site.earthing.dc in _EARTHED:
        yield from _earthing(scene, "dc_conductor", _of_pole(scene))


def _laid_with(scene: Scene, circuit: Circuit) -> Iterator[Found]:
    run = circuit.run
    if run.earth_area is None:
        if run.kind == "ac":
            missing = (Gap(f"protective conductor of {run.label}", f"{run.where}.earth_area"),)
            yield Found(not_checked(_CHECK, (run.id,), missing))
        return
    laid, needed = part_fact(run, "earth_area"), needed_earth(scene, circuit, run)
    missing_size = gap(_CHECK, (run.id,), laid)
    if missing_size is not None:
        yield missing_size
    if not isinstance(laid, Figure) or not isinstance(needed, Figure):
        return  # the line conductor or the device are asked for by their own checks
    if laid.value * _SLACK >= needed.value:
        return
    rows = tuple(islice(sizes_over(scene.plant, needed.value / _SLACK**2), 2))
    least = rows[0].size if rows else shown(scene, needed, beside=laid)
    text = (
        f"the protective conductor of {run.label} is {shown(scene, laid, beside=needed)}, {least} is the "
        "least: a fault to a case may burn it before the device opens"
    )
    finding = Finding(
        "correct",
        _CHECK,
        (run.id,),
        text,
        "a thicker protective conductor",
        value=laid,
        limit=needed,
    )
    remedies = tuple(
        Remedy(
            f"protective conductor of {run.label} in {row.size}",
            passes=needed.named(f"{row.size}: at least this"),
            change=(Change(f"{run.where}.earth_area", row.area),),
        )
        for row in rows
    )
    yield Found(finding, remedies)


def _of_pole(scene: Scene) -> Quantity:
    """Return the least conductor between the earthed DC pole and earth, in mm²."""
    plant = scene.plant
    rule, enough = plant.rule("dc_earth_conductor"), plant.rule_if_any("dc_earth_conductor_enough")
    if not isinstance(enough, Figure):
        return rule
    sizes = [
        scaled_current.of(
            f"conductors of {run.label}", current=part_fact(run, "area"), count=float(run.conductors)
        ).in_unit("mm²")
        for run in plant.site.runs
        if run.kind == "dc"
    ]
    known = [size for size in sizes if isinstance(size, Figure)]
    if not known:
        return rule
    return least_of(rule.name, greatest("largest DC conductor, or the least of all", rule, *known), enough)


def _earthing(scene: Scene, field: str, needed: Quantity) -> Iterator[Found]:
    plant = scene.plant
    laid = fact(plant.site.earthing, field, "earthing", "the plant's earthing")
    check = field.replace("_", "-") if field == "electrode_conductor" else "dc-earth-conductor"
    missing = gap(check, ("site",), laid)
    if missing is not None:
        yield missing
    if not isinstance(laid, Figure) or not isinstance(needed, Figure):
        return
    if laid.value * _SLACK >= needed.value:
        return
    what = (
        "the conductor to the earth electrode"
        if field == "electrode_conductor"
        else f"the conductor from the DC {plant.site.earthing.dc} to earth"
    )
    finding = Finding(
        "correct",
        check,
        ("site",),
        f"{what} is {shown(scene, laid, beside=needed)}, {shown(scene, needed, beside=laid)} is the least",
        "a thicker earthing conductor",
        value=laid,
        limit=needed,
    )
    remedies = tuple(
        Remedy(
            f"{what} in {size_name(plant, row.area)}",
            passes=needed,
            change=(Change(f"earthing.{field}", row.area),),
        )
        for row in islice(sizes_over(plant, needed.value / _SLACK**2), 2)
    )
    yield Found(finding, remedies)
