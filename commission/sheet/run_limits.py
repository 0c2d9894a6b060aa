"""Currents that a conductor run and its protective device carry for long."""

from __future__ import annotations

from typing import Final

from commission.figure import Figure, Gap, Quantity, Unknown, given, greatest, least
from commission.formulas.ampacity import aluminium_ampacity, ambient_factor, corrected_ampacity
from commission.formulas.charging import scaled_current
from commission.formulas.overcurrent import continuous_limit
from commission.plant.once import once_each
from commission.plant.plant import Plant, fact, part_fact
from commission.plant.rules import ConductorSize
from commission.plant.site import Protection, Run
from commission.plant.values import UNKNOWN
from commission.sheet.gaps import material_gap
from commission.units import plain

_COLUMNS: Final = (60, 70, 75, 90)
_AREA_SLACK: Final = 0.02
"""A size counts as the table's row where its area lies within this share: circular mils against mm²."""
_ALUMINIUM: Final = given(
    0.75,
    "1",
    "aluminium over copper",
    source="least ratio in NEC table 310.16; IEC 60364-5-52 about 0.78; from memory",
)


def run_ampacity(plant: Plant, run: Run) -> Quantity:
    """Return what the conductors of one pole of a run may carry together where they lie, in A.

    The insulation's column of the rule set's table, corrected for the air and for circuits beside it, but
    never above the column of the terminals, which hot air lowers too where the rule set says so.
    """
    name = f"ampacity of {run.label}"
    found = _of_one(plant, run)
    if isinstance(found, Unknown):
        return found
    one = least(f"{name}, one conductor", *found)
    return scaled_current.of(name, current=one, count=float(run.conductors))


def ampacity_parts(plant: Plant, run: Run) -> tuple[Quantity, Quantity]:
    """Return what the conductors of one pole of a run carry where they lie, and at their terminals, in A.

    The first is the insulation's column, corrected; the second the terminals' column, as the table has it or
    lowered by hot air: the rule set says which.
    """
    name, found = f"ampacity of {run.label}", _of_one(plant, run)
    if isinstance(found, Unknown):
        return found, found
    corrected, at_terminals = found
    count = float(run.conductors)
    return (
        scaled_current.of(f"{name} where it lies", current=corrected, count=count),
        scaled_current.of(f"{name} at its terminals", current=at_terminals, count=count),
    )


def _of_the_table(run: Run) -> str:
    return f"{run.where}.area of a size that the rule set's table has"


@once_each
def _of_one(plant: Plant, run: Run) -> tuple[Quantity, Quantity] | Unknown:
    """Return what one conductor carries where it lies and at its terminals, or all that is missing."""
    name = f"ampacity of {run.label}"
    insulation = part_fact(run, "insulation_temperature")
    terminal = part_fact(run, "terminal_temperature")
    area = part_fact(run, "area")
    missing = [item for item in (area, insulation, terminal) if isinstance(item, Unknown)]
    if run.material == UNKNOWN:
        missing.append(Unknown((material_gap(run),)))
    if missing:
        return Unknown(tuple(gap for item in missing for gap in item.missing), "A", name)
    assert isinstance(area, Figure) and isinstance(insulation, Figure)  # noqa: S101, PT018 - gaps left above
    assert isinstance(terminal, Figure)  # noqa: S101 - likewise
    row = table_row(plant, area.value)
    if row is None:
        gap = Gap(f"a row for {area.value:g} mm² in the conductor table", helps=_of_the_table(run))
        return Unknown((gap,), "A", name)
    column, at_terminals = _column(row, insulation.value), _column(row, terminal.value)
    if column is None or at_terminals is None:
        hottest = min(insulation.value, terminal.value)
        listed = f"ampacity of {row.size} at {hottest:g} °C in the conductor table"
        return Unknown((Gap(listed, helps=_of_the_table(run)),), "A", name)
    corrected = corrected_ampacity.of(
        f"{name}, corrected",
        table_current=_of_table(plant, run, row, column),
        ambient=_ambient_factor(plant, run, column),
        grouping=_grouping_factor(plant, run),
    )
    return corrected, _terminal_current(plant, run, row, at_terminals)


def _terminal_current(plant: Plant, run: Run, row: ConductorSize, column: int) -> Quantity:
    """Return what a conductor may carry so that its terminals stay within their temperature, in A.

    A terminal stands in the air of its run and gets hotter than that air by the current: in hot air less
    is left to it. Cool air raises nothing. A rule set whose terminal columns hold in any air takes the
    table's current as it is.
    """
    listed = _of_table(plant, run, row, column)
    if not plant.rules.terminals_by_air:
        return listed
    factor = _terminal_factor(plant, run, column)
    if isinstance(factor, Figure) and factor.value >= 1.0:
        return listed
    one = given(1.0, "1", "no circuits beside the terminals", source="terminals stand apart")
    name = f"ampacity of {run.label} at its terminals, corrected"
    return corrected_ampacity.of(name, table_current=listed, ambient=factor, grouping=one)


def _terminal_factor(plant: Plant, run: Run, column: int) -> Quantity:
    """Return the table's factor; beyond its last row the equation from which such tables are made."""
    factor, air = _ambient_factor(plant, run, column), run_ambient(plant, run)
    if isinstance(factor, Figure) or not isinstance(air, Figure):
        return factor
    name = f"factor for air of {air.value:g} °C at the terminals of {run.label}"
    if air.value >= column:
        gap = Gap(
            f"what terminals of {column} °C carry in air of {plain(air.value)} °C",
            helps=f"look at {run.where}.ambient and {run.where}.terminal_temperature",
        )
        return Unknown((gap,), "1", name)
    limit = given(
        float(column), "°C", f"terminals of {run.label}, as the table has them", source="its column"
    )
    reference = plant.rule("ampacity_reference")
    return ambient_factor.of(name, conductor_limit=limit, ambient=air, reference=reference)


def conductor_limit(plant: Plant, run: Run) -> Quantity:
    """Return what a run carries for long: its ampacity over the rule set's continuous factor, in A."""
    return continuous_limit.of(
        f"conductors of {run.label}",
        rating=run_ampacity(plant, run),
        factor=plant.rule("continuous_factor"),
    )


def protection_limit(plant: Plant, protection: Protection) -> Quantity:
    """Return what a breaker or fuse carries for long, in A: its rating where it is marked for that."""
    name = f"{protection.kind} {protection.label}"
    rating = part_fact(protection, "rating")
    if isinstance(rating, Figure) and rating.value <= 0:
        rating = Unknown((Gap(f"{rating.name}: 0 A is none", f"{protection.where}.rating"),), "A", name)
    if protection.full_rated:
        return rating.named(name, "marked for continuous use at its whole rating")
    return continuous_limit.of(name, rating=rating, factor=plant.rule("continuous_factor"))


def table_row(plant: Plant, area: float) -> ConductorSize | None:
    """Return the greatest size of the table that is not over an area."""
    rows = [row for row in plant.rules.conductors if row.area <= area * (1.0 + _AREA_SLACK)]
    return max(rows, key=lambda row: row.area, default=None)


def _column(row: ConductorSize, temperature: float) -> int | None:
    """Return the hottest column of a row that a temperature allows."""
    held = [degrees for degrees in _COLUMNS if getattr(row, f"ampacity_{degrees}") is not None]
    return max((degrees for degrees in held if degrees <= temperature), default=None)


def _of_table(plant: Plant, run: Run, row: ConductorSize, degrees: int) -> Quantity:
    copper = given(
        float(getattr(row, f"ampacity_{degrees}")),
        "A",
        f"table current of {row.size} at {degrees} °C",
        kind="rules",
        where=f"{plant.rules.id}.conductors[{row.size}].ampacity_{degrees}",
        source=plant.rules.conductors_source,
    )
    if run.material == "copper":
        return copper
    return aluminium_ampacity.of(f"{copper.name}, aluminium", copper_current=copper, factor=_ALUMINIUM)


def _ambient_factor(plant: Plant, run: Run, degrees: int) -> Quantity:
    air = run_ambient(plant, run)
    if isinstance(air, Unknown):
        return air
    rows = [row for row in plant.rules.ambient_factors if row.up_to >= air.value - 1e-9]
    row = min(rows, key=lambda row: row.up_to, default=None)
    value = None if row is None else getattr(row, f"factor_{degrees}")
    if row is None or value is None:
        gap = f"factor for air of {air.value:g} °C and {degrees} °C conductors in the table"
        helps = f"look at {run.where}.ambient and {run.where}.insulation_temperature"
        return Unknown((Gap(gap, helps=helps),), "1", gap)
    where = f"{plant.rules.id}.ambient_factors[up_to {row.up_to:g}].factor_{degrees}"
    name = f"factor for air of {air.value:g} °C at {run.label}"
    return given(float(value), "1", name, kind="rules", where=where, source=plant.rules.ambient_source)


def run_ambient(plant: Plant, run: Run) -> Quantity:
    """Return the air around a run: the file's, else the hottest that the site tells of its rooms and air."""
    own = part_fact(run, "ambient")
    if isinstance(own, Figure):
        return own
    place = plant.site.site
    others = [fact(place, field, "site") for field in ("room_temperature", "hottest_ambient")]
    known = [item for item in others if isinstance(item, Figure)]
    if not known:
        return own
    return greatest(f"air around {run.label}", *known).named(
        f"air around {run.label}", "not told for the run: the hottest of room and outside air"
    )


def _grouping_factor(plant: Plant, run: Run) -> Quantity:
    rows = plant.rules.grouping_factors
    if run.grouped == 1:
        return given(1.0, "1", f"factor for circuits beside {run.label}: none", source="alone in its duct")
    if not rows:
        gap = "factors for circuits side by side in the rule set"
        return Unknown((Gap(gap, helps="a rule set that has them"),), "1", gap)
    held = [row for row in rows if row.up_to >= run.grouped] or [rows[-1]]
    row = min(held, key=lambda row: row.up_to)
    where = f"{plant.rules.id}.grouping_factors[up_to {row.up_to}]"
    name = f"factor for {run.grouped} circuits with {run.label}"
    return given(row.factor, "1", name, kind="rules", where=where, source=plant.rules.grouping_source)
