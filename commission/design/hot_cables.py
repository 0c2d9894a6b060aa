"""Resistance of conductor runs as hot as their load makes them."""

from __future__ import annotations

from typing import Final

from commission.figure import Figure, Quantity, Unknown, given, least
from commission.formulas.conductors import (
    ALUMINIUM_COEFFICIENT_20,
    ALUMINIUM_RESISTIVITY_20,
    COPPER_COEFFICIENT_20,
    loop_resistance,
    resistance_at_20,
    resistance_at_temperature,
    resistance_per_length,
)
from commission.formulas.load_control import shared_resistance
from commission.formulas.voltage_drops import CABLE_REACTANCE
from commission.plant.plant import Plant, part_fact
from commission.plant.site import Run
from commission.plant.values import UNKNOWN
from commission.sheet.gaps import material_gap
from commission.sheet.run_limits import table_row

_COEFFICIENT: Final = {
    "copper": given(
        COPPER_COEFFICIENT_20, "1/K", "coefficient of copper about 20 °C", source="IEC 60028:1925"
    ),
    "aluminium": given(
        ALUMINIUM_COEFFICIENT_20,
        "1/K",
        "coefficient of aluminium about 20 °C",
        source="IEC 60889:1987; from memory",
    ),
}
_ALUMINIUM: Final = given(
    ALUMINIUM_RESISTIVITY_20,
    "Ω·mm²/m",
    "resistivity of aluminium, 20 °C",
    source="IEC 60889:1987; from memory",
)
_COPPER: Final = given(1.0 / 58.0, "Ω·mm²/m", "resistivity of copper, 20 °C", source="IEC 60028:1925")
_HOT: Final = given(
    75.0,
    "°C",
    "conductor under full load",
    source="neither insulation nor terminals told: common practice",
)


def hot_temperature(run: Run) -> Quantity:
    """Return the temperature of a run's conductors under full load, in °C: what they and their ends allow."""
    limits = [part_fact(run, field) for field in ("insulation_temperature", "terminal_temperature")]
    known = [limit for limit in limits if isinstance(limit, Figure)]
    return least(f"temperature of {run.label} under full load", *known) if known else _HOT


def hot_resistance(plant: Plant, run: Run, ways: float = 2.0) -> Quantity:
    """Return the resistance of a run under full load, in Ω.

    Parameters
    ----------
    ways
        Conductors in series: 2 out and back, 1 for a phase of a balanced three-phase run.
    """
    name = f"resistance of {run.label}, hot"
    if run.material == UNKNOWN:
        return Unknown((material_gap(run),), "Ω", name)
    hot = resistance_at_temperature.of(
        f"hot conductor of {run.label}, one metre",
        resistance_20=_cold_metre(plant, run),
        coefficient=_COEFFICIENT[run.material],
        temperature=hot_temperature(run),
    ).in_unit("Ω/m")
    loop = loop_resistance.of(
        name, resistance_per_metre=hot, length=part_fact(run, "length"), parallel=float(run.conductors)
    )
    return loop if ways == 2.0 else _half(loop, name)


def _half(loop: Quantity, name: str) -> Quantity:
    return shared_resistance.of(f"{name}, one way", resistance=loop, share=0.5)


def _cold_metre(plant: Plant, run: Run) -> Quantity:
    """Return the resistance of one metre at 20 °C: the table's for copper of one of its sizes."""
    area = part_fact(run, "area")
    row = table_row(plant, area.value) if isinstance(area, Figure) else None
    if row is None or not isinstance(area, Figure) or run.material != "copper":
        return _by_area(run, area)
    if abs(row.area - area.value) > 0.02 * row.area:
        return _by_area(run, area)
    table = given(
        row.resistance,
        "Ω/m",
        f"table resistance of {row.size}",
        kind="rules",
        where=f"{plant.rules.id}.conductors[{row.size}].resistance",
        source=plant.rules.conductors_source,
    )
    temperature = plant.rule("conductor_temperature")
    return resistance_at_20.of(
        f"{row.size} at 20 °C",
        resistance=table,
        coefficient=_COEFFICIENT["copper"],
        temperature=temperature,
    ).in_unit("Ω/m")


def _by_area(run: Run, area: Quantity) -> Quantity:
    resistivity = _COPPER if run.material == "copper" else _ALUMINIUM
    return resistance_per_length.of(area=area, resistivity_20=resistivity)


def reactance(run: Run, ways: float = 2.0) -> Quantity:
    """Return the reactance of an AC run, in Ω."""
    per_metre = given(
        CABLE_REACTANCE, "Ω/m", "reactance of a cable", source="IEC 60364-5-52, annex G; from memory"
    )
    loop = loop_resistance.of(
        f"reactance of {run.label}",
        resistance_per_metre=per_metre,
        length=part_fact(run, "length"),
        parallel=float(run.conductors),
    )
    return loop if ways == 2.0 else _half(loop, f"reactance of {run.label}")
