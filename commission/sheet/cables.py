"""The way from a device to the bank along the site file's DC runs, and what its cables resist."""

from __future__ import annotations

from collections import deque
from typing import Final

from commission.figure import Quantity, Unknown, given
from commission.formulas.conductors import (
    ALUMINIUM_RESISTIVITY_20,
    COPPER_RESISTIVITY_20,
    loop_resistance,
    resistance_per_length,
    series_resistance,
)
from commission.plant.once import once, once_each
from commission.plant.plant import Plant, part_fact
from commission.plant.site import Run
from commission.plant.values import UNKNOWN
from commission.sheet.gaps import material_gap

_RESISTIVITY: Final = {
    "copper": given(
        COPPER_RESISTIVITY_20, "Ω·mm²/m", "resistivity of copper, 20 °C", source="IEC 60028:1925"
    ),
    "aluminium": given(
        ALUMINIUM_RESISTIVITY_20,
        "Ω·mm²/m",
        "resistivity of aluminium, 20 °C",
        source="IEC 60889:1987; from memory",
    ),
}


@once
def cable_resistance(run: Run) -> Quantity:
    """Return the resistance of a run out and back at 20 °C, without its joints."""
    name = f"resistance of {run.label} at 20 °C, out and back"
    if run.material == UNKNOWN:
        return Unknown((material_gap(run),), "Ω", name)
    per_metre = resistance_per_length.of(
        area=part_fact(run, "area"), resistivity_20=_RESISTIVITY[run.material]
    )
    return loop_resistance.of(
        name,
        resistance_per_metre=per_metre,
        length=part_fact(run, "length"),
        parallel=float(run.conductors),
    )


def shared_series(name: str, first: Quantity, others: list[Quantity]) -> Quantity:
    """Return resistances in series as one."""
    return series_resistance.of(name, resistances=[first, *others])


@once_each
def path_to_bank(plant: Plant, device: str) -> tuple[Run, ...] | None:
    """Return the DC runs from a device to the bank, the device's own first; None where the file has none."""
    found = _search(plant, device)
    if found is not None:
        return found
    own = next((plant.run_of(source) for source in plant.sources if source.id == device), None)
    if own is None:
        return None
    if _touches_bank(plant, own):
        return (own,)
    mains = _main_runs(plant)
    return (own, *mains) if len(mains) <= 1 else None


def _main_runs(plant: Plant) -> list[Run]:
    """Return the runs at the bank that are no device's own."""
    owned = {source.run for source in plant.sources}
    return [
        run
        for run in plant.site.runs
        if run.kind == "dc" and run.id not in owned and _touches_bank(plant, run)
    ]


def _touches_bank(plant: Plant, run: Run) -> bool:
    return plant.bank.id in _ends(run, _nodes(plant))


@once
def _nodes(plant: Plant) -> dict[str, str]:
    """Return the point at which a part stands: a string is the bank, a breaker the panel that holds it."""
    nodes: dict[str, str] = {}
    for panel in plant.site.panels:
        for position in panel.positions:
            if position.holds is not None:
                nodes.setdefault(position.holds, panel.id)
    return nodes | {string.id: plant.bank.id for string in plant.bank.strings}


def _ends(run: Run, nodes: dict[str, str]) -> tuple[str, str]:
    return nodes.get(run.from_, run.from_), nodes.get(run.to, run.to)


def _search(plant: Plant, device: str) -> tuple[Run, ...] | None:
    """Return the shortest way from a device to the bank, over as few runs as there are."""
    nodes = _nodes(plant)
    runs = [(run, _ends(run, nodes)) for run in plant.site.runs if run.kind == "dc"]
    waiting: deque[tuple[str, tuple[Run, ...]]] = deque([(device, ())])
    seen = {device}
    while waiting:
        here, path = waiting.popleft()
        if here == plant.bank.id:
            return path
        for run, ends in runs:
            if here not in ends:
                continue
            there = ends[1] if ends[0] == here else ends[0]
            if there not in seen:
                seen.add(there)
                waiting.append((there, (*path, run)))
    return None
