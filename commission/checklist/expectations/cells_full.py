"""Cells while the bank is full: voltages beside each other, density, and what a managed battery shows."""

from __future__ import annotations

from typing import Final

from commission.checklist.bands import around, at, band, compared, edge_high, edge_low, stopped
from commission.checklist.columns import distance, whole_column
from commission.checklist.conditions import beside, column, condition, earlier
from commission.checklist.expectations.battery import cell_stops
from commission.checklist.lookup import known_or, limit
from commission.checklist.registry import expectation
from commission.checklist.situation import Situation
from commission.checklist.types import Expectation, NotJudged, Waits
from commission.figure import Figure, Quantity
from commission.formulas.acceptance import float_deviation_limit
from commission.formulas.bands import difference, median_of
from commission.formulas.conductors import series_resistance
from commission.formulas.lead_acid import gravity_at_reference
from commission.formulas.lithium import spread
from commission.plant.plant import fact
from commission.plant.site import Management

NEAR_FULL: Final = 0.95
"""State of charge from which the spread of lithium cells is judged; common practice: the last 5 %."""
DENSITY: Final = 0.01
"""What a healthy full cell's density may be from the battery's own, kg/L; common practice."""


# lead and nickel, by meter


@expectation(
    "block on float among its like",
    says="within the chemistry's deviation on float from the middle of its string, by the root of its cells",
    source="battery profile: deviation of a cell on float; √cells for blocks (ZVEI leaflet practice)",
)
def _on_float(situation: Situation) -> Expectation:
    cells = limit(float(situation.plant.bank.cells_per_block), "1", "cells in a block", "site file")
    return _on_float_of(situation, cells)


@expectation(
    "cell on float among its like",
    says="within the chemistry's deviation on float from the middle of its string",
    source="battery profile: deviation of a cell on float (ZVEI leaflet practice)",
)
def _cell_on_float(situation: Situation) -> Expectation:
    return _on_float_of(situation, limit(1.0, "1", "one cell", "site file"))


def _on_float_of(situation: Situation, cells: Figure) -> Expectation:
    held = not_on_float(situation)
    if held is not None:
        return held
    plant = situation.plant
    low, high = (
        float_deviation_limit.of(
            f"most that it may lie {word} the middle",
            deviation=plant.cell(f"float_spread_{end}"),
            cells=cells,
        )
        for end, word in (("low", "under"), ("high", "over"))
    )
    return _from_middle(situation, low, high)


def _from_middle(situation: Situation, under: Quantity, over: Quantity) -> Expectation:
    every = whole_column(situation)
    if isinstance(every, Waits) or situation.reading is None:
        return every if isinstance(every, Waits) else Waits((situation.ask.key,), "nothing is read yet")
    own = situation.reading.figure
    middle = median_of.of("middle of its like", values=every).in_unit(own.unit)
    apart = difference.of("distance from the middle", first=own, second=middle).in_unit(own.unit)
    zero = limit(0.0, own.unit, "no difference")
    low = difference.of("least", first=zero, second=under).in_unit(own.unit)
    against = middle.value if isinstance(middle, Figure) else None
    return compared(apart, low=low, high=over, against=against, says=f"from the middle of {len(every)}")


def not_on_float(situation: Situation) -> NotJudged | Waits | None:
    """Return why cells are not judged: the bank is not held on float; None where it is."""
    held = beside(situation, "held")
    if not isinstance(held, Figure):
        return held
    if held.value == 1.0:
        return None
    return NotJudged("the bank is not held on float: cells differ more while it gasses")


@expectation(
    "cells closer than before equalise",
    says="the spread of the cells is not greater than before equalise",
    source="common practice: equalise draws cells together",
)
def _closer(situation: Situation) -> Expectation:
    before = earlier(situation, "equalise-ready", "spread")
    if not isinstance(before, Figure):
        return before
    return band(situation, high=before)


@expectation(
    "density of a full cell",
    says="density of a full cell at its temperature, ± 0.010 kg/L, then its distance from the others",
    source="battery profile: density when full and its slope; 0.010 kg/L by common practice",
)
def _full_density(situation: Situation) -> Expectation:
    temperature = condition(situation, "battery-temperature")
    if not isinstance(temperature, Figure):
        return temperature
    plant = situation.plant
    full = plant.cell("gravity_full")
    edge = limit(DENSITY, "kg/L", "what a healthy cell may differ by")
    if situation.reading is None:
        return around(situation, full, edge, says="restated at the battery's reference temperature")
    restated = gravity_at_reference.of(
        "density at the reference temperature",
        gravity=situation.reading.figure,
        temperature=temperature,
        temperature_reference=plant.cell("temperature_reference"),
        per_kelvin=plant.cell("gravity_slope"),
    )
    low, high = edge_low(full, edge, "least density"), edge_high(full, edge, "greatest density")
    alone = compared(restated, low=low, high=high, says=at(situation, temperature))
    read, unread = column(situation)
    if unread or not read or not within(restated, low, high):
        return alone
    return distance(situation, read, plant.cell("gravity_spread"))


def within(value: Quantity, low: Quantity, high: Quantity) -> bool:
    """Return whether a value lies between two limits that are all known."""
    if not (isinstance(value, Figure) and isinstance(low, Figure) and isinstance(high, Figure)):
        return False
    return low.value <= value.value <= high.value


# a managed battery shows its own


def _management(situation: Situation) -> Management:
    return situation.plant.bank.management or Management()


@expectation(
    "lowest cell near full",
    says="near the highest cell, judged only in the last 5 % of charge",
    source="battery profile: spread near full; accuracy of the battery's own reading",
)
def _lowest_full(situation: Situation) -> Expectation:
    below, above = cell_stops(situation.plant)
    danger = stopped(situation, below, above)
    if danger is not None:
        return danger
    state = condition(situation, "state-of-charge")
    if not isinstance(state, Figure):
        return state
    if state.value < NEAR_FULL:
        return NotJudged(f"{state.value:.0%} charge: cells are judged in the last 5 %")
    highest = beside(situation, "highest")
    if not isinstance(highest, Figure):
        return highest
    allowed = _spread_allowed(situation)
    if situation.reading is None:
        low = difference.of("least", first=highest, second=allowed).in_unit("V")
        return band(situation, low=low, stop_below=below, stop_above=above)
    apart = spread.of("spread of the cells", voltages=[highest, situation.reading.figure])
    return compared(apart, high=allowed, says=f"near full, highest {highest.value:g} V")


def _spread_allowed(situation: Situation) -> Quantity:
    own = fact(_management(situation), "cell_voltage_accuracy", "bank.management", "the management system")
    return series_resistance.of(
        "spread allowed, with the accuracy of the battery's own reading",
        resistances=[situation.plant.cell("full_spread"), known_or(own, 0.0)],
    ).in_unit("V")


@expectation(
    "highest cell near full",
    says="under its limit; at its limit work stops",
    source="battery profile: greatest voltage of a cell; cut-off that the site file states",
)
def _highest_full(situation: Situation) -> Expectation:
    below, above = cell_stops(situation.plant)
    told = fact(_management(situation), "cut_off_high", "bank.management", "the management system")
    high = told if isinstance(told, Figure) else situation.plant.cell("ceiling_voltage")
    return band(situation, high=high, stop_below=below, stop_above=above)
