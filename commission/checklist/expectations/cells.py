"""Cells and blocks beside their like: density of the acid, ohmic values, links."""

from __future__ import annotations

from typing import Final

from commission.checklist.bands import band, compared, edge_high, edge_low, in_unit
from commission.checklist.columns import among, either_way, whole_column
from commission.checklist.conditions import column, condition
from commission.checklist.lookup import limit
from commission.checklist.registry import expectation
from commission.checklist.situation import Situation
from commission.checklist.types import Expectation, NotJudged, Waits
from commission.figure import Figure, Quantity, Unknown, given
from commission.formulas.acceptance import JOINT_SPREAD, connection_resistance_limit, resistance_limit
from commission.formulas.bands import difference, mean_of
from commission.formulas.lead_acid import gravity_at_reference
from commission.formulas.split_phase import share_deviation
from commission.formulas.tables import table_value
from commission.plant.plant import Plant

_ALONE: Final = NotJudged(
    "it is the only one of its kind here, so there is nothing to compare it with; later visits do that"
)
"""Beside itself even a loose joint would be as it should be."""


def _with_its_like(situation: Situation) -> list[Figure] | Waits | NotJudged:
    """Return a whole column of at least two, or why nothing can be compared."""
    if not any(column(situation)):  # nothing to wait for either, before it is read
        return _ALONE
    every = whole_column(situation)
    return _ALONE if not isinstance(every, Waits) and len(every) < 2 else every


@expectation(
    "density of the acid",
    says="density at the reference temperature by the profile, then its distance from the other cells",
    source="density table and spread of the battery's profile",
)
def _gravity(situation: Situation) -> Expectation:
    plant, own = situation.plant, situation.reading
    temperature = condition(situation, "battery-temperature")
    if not isinstance(temperature, Figure):
        return temperature
    low, high = _gravity_limits(plant)
    says = f"restated at {float(plant.battery.temperature_reference.value):g} °C"
    if own is None:
        return band(situation, low=low, high=high, says=says)
    restated = gravity_at_reference.of(
        "density at the reference temperature",
        gravity=own.figure,
        temperature=temperature,
        temperature_reference=plant.cell("temperature_reference"),
        per_kelvin=plant.cell("gravity_slope"),
    )
    alone = compared(restated, low=low, high=high, says=says)
    if isinstance(restated, Figure) and not _between(restated, low, high):
        return alone
    return among(situation, *column(situation), plant.cell("gravity_spread"), alone)


def _between(value: Figure, low: Quantity, high: Quantity) -> bool:
    under = isinstance(low, Figure) and value.value < low.value
    return not under and not (isinstance(high, Figure) and value.value > high.value)


def _gravity_limits(plant: Plant) -> tuple[Quantity, Quantity]:
    """Return the least density to begin with, after an ordinary day's discharge, and that of a full cell."""
    table, full, depth = plant.battery.gravity, plant.cell("gravity_full"), plant.cell("depth_usual")
    if table is None:
        return Unknown(("density table of the battery",), "kg/L", "least density"), full
    where, source = f"{plant.battery.id}.gravity", table.source
    left = difference.of("state of charge", first=limit(1.0, "1", "full"), second=depth)
    least = table_value.of(
        "density after an ordinary day's discharge",
        x=left,
        xs=[given(state, "1", "state", kind="profile", where=where, source=source) for state in table.states],
        ys=[
            given(value, "kg/L", "density", kind="profile", where=where, source=source)
            for value in table.values
        ],
    ).in_unit("kg/L")
    spread = given(
        table.spread, "kg/L", "spread of healthy cells", kind="profile", where=where, source=source
    )
    return edge_low(least, spread), edge_high(full, spread)


@expectation(
    "ohmic value among its like",
    says="within 20 % of the mean of the string, once all blocks are read",
    source="IEEE 1188 practice: 20 % is watched; the first baseline is provisional until 6 to 12 months",
)
def _ohmic(situation: Situation) -> Expectation:
    every = _with_its_like(situation)
    if isinstance(every, Waits | NotJudged):
        return every
    own = in_unit(situation.reading.figure, situation.ask.data.unit) if situation.reading else every[0]
    share = share_deviation.of("distance from the mean of the string", current=own, currents=every)
    return either_way(
        share, limit(0.20, "1", "distance that is watched", "IEEE 1188"), None, "beside its like"
    )


@expectation(
    "link among its like",
    says="at most the mean of the string's links + 10 % or + 5 µΩ, once all are read",
    source="installation sheets of stationary batteries; IEEE 1188",
)
def _link(situation: Situation) -> Expectation:
    every = _with_its_like(situation)
    if isinstance(every, Waits | NotJudged):
        return every
    mean = mean_of.of("mean of the string's links", values=[in_unit(one, "Ω") for one in every])
    return band(situation, high=connection_resistance_limit.of(mean=mean.in_unit("Ω")))


@expectation(
    "link in service",
    says="at most half as much again as the least of the string's links, once all are read",
    source="ANSI/NETA ATS 7.18.1: 50 % above the lowest is looked into; from memory",
)
def _link_in_service(situation: Situation) -> Expectation:
    every = _with_its_like(situation)
    if isinstance(every, Waits | NotJudged):
        return every
    least = min((in_unit(one, "Ω") for one in every), key=lambda one: one.value)
    return band(
        situation, high=resistance_limit.of("half above the least", baseline=least, rise=JOINT_SPREAD)
    )
