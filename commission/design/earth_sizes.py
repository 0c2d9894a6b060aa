"""How thick a protective conductor must be by the rule set's rows."""

from __future__ import annotations

from commission.design.guards import greatest_rating, guard_of, protecting
from commission.design.types import Circuit, Scene
from commission.figure import Figure, Gap, Quantity, Unknown, given, least
from commission.formulas.charging import scaled_current
from commission.formulas.overcurrent import device_for_load
from commission.formulas.wiring_sizes import grown_area, share_of_area
from commission.plant.plant import Plant, part_fact
from commission.plant.rules import ConductorSize, EarthConductor
from commission.plant.site import Run
from commission.sheet.run_limits import ampacity_parts


def needed_earth(scene: Scene, circuit: Circuit, run: Run) -> Quantity:
    """Return the least protective conductor of a run, in mm² of copper.

    By the overcurrent device of the run, or by its line conductor, as the rule set's rows go; a rule set
    that makes it grow with thicker line conductors has it in proportion, but never over the line conductor.
    """
    plant = scene.plant
    line = scaled_current.of(
        f"line conductor of {run.label}", current=part_fact(run, "area"), count=float(run.conductors)
    ).in_unit("mm²")
    name = f"protective conductor of {run.label}"
    if plant.rules.earth_conductors_by == "line":
        return _by_row(plant, _row(plant, line), line, name)
    guard = guard_of(scene, circuit)
    if guard is None:
        gap = Gap(f"overcurrent device of {run.label}", f"{run.where}.protection")
        return Unknown((gap,), "mm²", name)
    base = _by_row(plant, _row(plant, part_fact(guard, "rating")), line, name)
    if circuit.role == "array" or not plant.rules.earth_conductors_grow:
        return base
    return _grown(scene, circuit, run, base, line)


def _row(plant: Plant, by: Quantity) -> EarthConductor | Unknown:
    if isinstance(by, Unknown):
        return by
    rows = [row for row in plant.rules.earth_conductors if row.up_to >= by.value - 1e-9]
    if not rows:
        name = f"row for {by.value:g} {by.unit} in the table of protective conductors"
        return Unknown((Gap(name, helps="the size by the local code"),), "mm²", name)
    return min(rows, key=lambda row: row.up_to)


def _by_row(plant: Plant, row: EarthConductor | Unknown, line: Quantity, name: str) -> Quantity:
    if isinstance(row, Unknown):
        return Unknown(row.missing, "mm²", name)
    where = f"{plant.rules.id}.earth_conductors[up_to {row.up_to:g}]"
    source = plant.rules.earth_conductors_source
    if row.area is not None:
        return given(row.area, "mm²", name, kind="rules", where=where, source=source)
    if row.share is not None:
        share = given(row.share, "1", "share of the line conductor", kind="rules", where=where, source=source)
        return share_of_area.of(name, share=share, area=line)
    return line.named(name, "as the line conductor")


def _grown(scene: Scene, circuit: Circuit, run: Run, base: Quantity, line: Quantity) -> Quantity:
    """Return a protective conductor grown by the ratio of the line conductor to the least that would do."""
    if not isinstance(base, Figure) or not isinstance(line, Figure):
        return base if isinstance(base, Unknown) else line
    least_line = _least_line(scene, circuit, run)
    if least_line is None or least_line.value >= line.value * 0.98:
        return base
    name = f"protective conductor of {run.label}, grown with its line conductor"
    grown = grown_area.of(name, area=base, line=line, least_line=least_line)
    return least(name, grown, line) if isinstance(grown, Figure) else grown


def _least_line(scene: Scene, circuit: Circuit, run: Run) -> Figure | None:
    """Return the least line conductor, all parallel ones together, that carries and is protected."""
    plant = scene.plant
    needed = device_for_load.of(current=circuit.greatest, factor=circuit.factor)
    if not isinstance(needed, Figure):
        return None
    for row in sorted(plant.rules.conductors, key=lambda row: row.area):
        if _listed_most(row) * run.conductors < needed.value * 0.999:
            continue  # terminals bear no more than the table has, whatever the air
        made = run.model_copy(update={"area": row.area})
        if carries(plant, circuit, made) and protected(scene, circuit, made):
            where = f"{plant.rules.id}.conductors[{row.size}]"
            name = f"least line conductor of {run.label}"
            area = row.area * run.conductors
            source = plant.rules.conductors_source
            return given(area, "mm²", name, kind="rules", where=where, source=source)
    return None


def _listed_most(row: ConductorSize) -> float:
    """Return the greatest current that the table has for a size, in A."""
    return max(row.ampacity_60 or 0.0, row.ampacity_75 or 0.0, row.ampacity_90 or 0.0)


def carries(plant: Plant, circuit: Circuit, run: Run) -> bool:
    """Whether a run carries its circuit's greatest current where it lies, and its factor at the terminals."""
    in_place, at_terminals = ampacity_parts(plant, run)
    needed = device_for_load.of(current=circuit.greatest, factor=circuit.factor)
    if not isinstance(in_place, Figure) or not isinstance(at_terminals, Figure):
        return False
    if not isinstance(needed, Figure) or not isinstance(circuit.greatest, Figure):
        return False
    return in_place.value >= circuit.greatest.value - 1e-6 and at_terminals.value >= needed.value - 1e-6


def protected(scene: Scene, circuit: Circuit, run: Run) -> bool:
    """Whether the device of a run, where it has one, is not too large for its conductors."""
    found = protecting(scene, circuit)
    if found is None:
        return True
    rating, most = found.rating, greatest_rating(scene.plant, run, found.kind)
    if not isinstance(rating, Figure) or not isinstance(most, Figure):
        return False
    return rating.value <= most.value + 1e-9
