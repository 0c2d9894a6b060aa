"""Resistance of a conductor run, cold and at its working temperature, from the rule set's table."""

from __future__ import annotations

from typing import Final

from commission.checklist.lookup import PRACTICE, limit
from commission.figure import Figure, Gap, Quantity, Unknown, given, least
from commission.formulas.bands import difference, share_of
from commission.formulas.bank_wiring import parallel_resistance
from commission.formulas.conductors import (
    ALUMINIUM_COEFFICIENT_20,
    ALUMINIUM_RESISTIVITY_20,
    COPPER_COEFFICIENT_20,
    COPPER_RESISTIVITY_20,
    conductor_temperature,
    joints_resistance,
    resistance_at_20,
    resistance_at_temperature,
    resistance_per_length,
    run_resistance,
)
from commission.plant.plant import Plant, part_fact
from commission.plant.rules import ConductorSize
from commission.plant.site import Run
from commission.plant.values import UNKNOWN
from commission.units import plain

SAME_AREA: Final = 0.02
"""Share within which a cross-section is a size of the table."""
TABLE_AIR: Final = 30.0
"""Air temperature to which tables of ampacity refer, °C."""
ALUMINIUM_SHARE: Final = 0.78
"""Ampacity of aluminium as a share of that of copper of the same size (IEC 60364-5-52, annex B; memory)."""
_HOTTEST: Final = 250.0
"""°C over which no conductor works; what is worked out beyond is only that it overheats."""
JOINT: Final = 50e-6
"""Resistance of a good bolted joint, Ω; common practice where the site does not say."""


def cold_resistance(plant: Plant, run: Run, air: Figure) -> Quantity:
    """Return the resistance of one conductor of a run, one way, without joints, as warm as the air."""
    return resistance_at_temperature.of(
        f"resistance of {run.label} at the temperature of the air",
        resistance_20=_at_20(plant, run),
        coefficient=_coefficient(run),
        temperature=air,
    )


def hot_resistance(plant: Plant, run: Run, air: Figure, current: Figure) -> Quantity:
    """Return the same at the temperature that the conductor takes under a current for long."""
    name, temperature = f"resistance of {run.label} hot", working_temperature(plant, run, air, current)
    if isinstance(temperature, Figure) and temperature.value > _HOTTEST:
        gap = Gap(
            f"{name}: by {plain(current.value, 0)} A for long it would overheat, it is too thin for them",
            helps=f"a thicker conductor, or less current on {run.label}",
        )
        return Unknown((gap,), "Ω", name)
    return resistance_at_temperature.of(
        f"resistance of {run.label} at its working temperature",
        resistance_20=_at_20(plant, run),
        coefficient=_coefficient(run),
        temperature=temperature,
    )


def joints_of(run: Run) -> Quantity:
    """Return the resistance of the joints along one conductor of a run."""
    if run.joint_resistance == UNKNOWN:
        each: Quantity = limit(JOINT, "Ω", "resistance of one joint")
    else:
        each = part_fact(run, "joint_resistance")
    return joints_resistance.of(f"joints of {run.label}", count=part_fact(run, "joints"), each=each)


def working_temperature(plant: Plant, run: Run, air: Figure, current: Figure) -> Quantity:
    """Return the temperature of a conductor that carries a current for long.

    Its rise goes with the square of the current: at the table's ampacity it is that of the insulation's
    rating over 30 °C.
    """
    rating = _rating(run)
    full = _ampacity(plant, run, rating)
    rise = difference.of(
        "rise at full current", first=rating, second=limit(TABLE_AIR, "°C", "air of the ampacity table")
    ).in_unit("K")
    return conductor_temperature.of(
        f"working temperature of {run.label}",
        ambient=air,
        rise_at_full=rise,
        current=current,
        full_current=full,
    )


def _at_20(plant: Plant, run: Run) -> Quantity:
    """Return the resistance of one conductor of a run at 20 °C; parallel ones count together."""
    metre = _per_metre(plant, run)
    length = part_fact(run, "length")
    one = run_resistance.of(
        f"one conductor of {run.label} at 20 °C", resistance_per_metre=metre, length=length
    )
    if run.conductors == 1:
        return one
    name = f"{run.conductors} conductors of {run.label} in parallel"
    return parallel_resistance.of(name, resistances=[one] * run.conductors)


def _per_metre(plant: Plant, run: Run) -> Quantity:
    gaps = [name for name in ("material", "area") if getattr(run, name) == UNKNOWN]
    if gaps or run.area == UNKNOWN:
        return Unknown(tuple(f"{gap} of {run.label}" for gap in gaps), "Ω/m", f"one metre of {run.label}")
    row = _row(plant, float(run.area))
    if row is None or run.material == "aluminium":
        aluminium = run.material == "aluminium"
        value = ALUMINIUM_RESISTIVITY_20 if aluminium else COPPER_RESISTIVITY_20
        source = "IEC 60889:1987; from memory" if aluminium else "IEC 60028:1925"
        resistivity = limit(value, "Ω·mm²/m", f"resistivity of {run.material}, 20 °C", source)
        return resistance_per_length.of(area=part_fact(run, "area"), resistivity_20=resistivity)
    where = f"{plant.rules.id}.conductors[{row.size}]"
    printed = given(
        row.resistance,
        "Ω/m",
        f"one metre of {row.size} copper, table",
        kind="rules",
        where=where,
        source=plant.rules.conductors_source,
    )
    return resistance_at_20.of(
        f"one metre of {row.size} at 20 °C",
        resistance=printed,
        coefficient=_coefficient(run),
        temperature=plant.rule("conductor_temperature"),
    ).in_unit("Ω/m")


def _row(plant: Plant, area: float) -> ConductorSize | None:
    rows = plant.rules.conductors
    return next((row for row in rows if abs(row.area - area) <= SAME_AREA * area), None)


def _coefficient(run: Run) -> Figure:
    aluminium = run.material == "aluminium"
    value = ALUMINIUM_COEFFICIENT_20 if aluminium else COPPER_COEFFICIENT_20
    source = "IEC 60889:1987; from memory" if aluminium else "IEC 60028:1925"
    return limit(value, "1/K", "temperature coefficient of the metal", source)


def _rating(run: Run) -> Quantity:
    """Return the temperature that insulation and terminals stand; the lowest usual one where not told."""
    told = [
        part_fact(run, field)
        for field in ("insulation_temperature", "terminal_temperature")
        if getattr(run, field) != UNKNOWN
    ]
    if not told:
        return limit(70.0, "°C", "insulation rating, not told: the lowest usual one", PRACTICE)
    return least("rating of insulation and terminals", *told)


def _ampacity(plant: Plant, run: Run, rating: Quantity) -> Quantity:
    """Return the table's ampacity: of the next size not over the run's, of the column not over its rating."""
    name = f"ampacity of {run.label} by the table"
    if run.area == UNKNOWN or isinstance(rating, Unknown):
        return Unknown((f"area of {run.label}",), "A", name)
    rows = [row for row in plant.rules.conductors if row.area <= float(run.area) * (1 + SAME_AREA)]
    columns = [(degrees, value) for row in rows[-1:] for degrees, value in _columns(row)]
    fitting = [value for degrees, value in columns if degrees <= rating.value] or [
        value for _, value in columns[:1]
    ]
    if not fitting:
        return Unknown((f"ampacity of a conductor as thin as {run.label}",), "A", name)
    where = f"{plant.rules.id}.conductors[{rows[-1].size}]"
    source = plant.rules.conductors_source
    one = given(fitting[-1], "A", name, kind="rules", where=where, source=source)
    share = run.conductors * (ALUMINIUM_SHARE if run.material == "aluminium" else 1.0)
    if share == 1.0:
        return one
    return share_of.of(f"ampacity of {run.label}", value=one, share=share).in_unit("A")


def _columns(row: ConductorSize) -> list[tuple[float, float]]:
    columns = (
        (60.0, row.ampacity_60),
        (70.0, row.ampacity_70),
        (75.0, row.ampacity_75),
        (90.0, row.ampacity_90),
    )
    return [(degrees, value) for degrees, value in columns if value is not None]
