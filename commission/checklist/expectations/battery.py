"""A battery that is isolated: its temperature, its rest, its strings and blocks at rest."""

from __future__ import annotations

from typing import Final

from commission.checklist.bands import band, edge_high, edge_low, in_unit, stopped
from commission.checklist.columns import within_column
from commission.checklist.conditions import condition
from commission.checklist.lookup import limit, whole
from commission.checklist.registry import expectation
from commission.checklist.situation import Situation
from commission.checklist.types import Expectation, NotJudged, Waits
from commission.figure import Figure, Quantity, Unknown, given, greatest, least
from commission.formulas.bands import difference, share_of
from commission.formulas.bank import bank_voltage
from commission.formulas.commissioning_tests import string_voltage_with_reversed
from commission.plant.plant import Plant, fact
from commission.sheet.bank_state import cells, rested_of_one

BLOCK_SPREAD: Final = 0.10
"""Spread at rest between blocks of 12 V, V; common practice."""
CELLS_OF_12_V: Final = 6


@expectation(
    "battery fit for work",
    says="the battery's temperature lies where it may be charged",
    source="the battery's profile: charge temperatures",
)
def _temperature(situation: Situation) -> Expectation:
    plant = situation.plant
    return band(
        situation, low=plant.cell("charge_temperature_low"), high=plant.cell("charge_temperature_high")
    )


@expectation(
    "rested",
    says="the bank has rested as long as its chemistry asks for a rest voltage",
    source="the battery's profile: 6 h for lead, 2 h for lithium",
)
def _rested(situation: Situation) -> Expectation:
    return band(situation, low=situation.plant.cell("rest_time"))


@expectation(
    "blocks in series",
    says="as many blocks in series as the site file says",
    source="site file",
)
def _blocks(situation: Situation) -> Expectation:
    count = fact(situation.plant.bank, "blocks_in_series", "bank")
    return band(situation, low=count, nominal=count, high=count)


@expectation(
    "vent opening",
    says="at least the opening that the site file states",
    source="IEC 62485-2, ventilation; site file",
)
def _opening(situation: Situation) -> Expectation:
    return band(situation, low=fact(situation.plant.bank, "vent_area", "bank"))


# rest voltage


def rest_missing(situation: Situation) -> Waits | NotJudged | Figure:
    """Return the hours that the bank has rested, or why a rest voltage cannot be judged."""
    rested = condition(situation, "rest-time")
    wanted = situation.plant.cell("rest_time")
    if not isinstance(rested, Figure) or isinstance(wanted, Unknown):
        return rested
    hours = in_unit(wanted, "h")
    if rested.value < hours.value:
        return NotJudged(f"the bank has rested {rested.value:g} h; {hours.value:g} h are wanted")
    return rested


def rest_limits(plant: Plant) -> tuple[Quantity, Quantity]:
    """Return the least and greatest rest voltage of one cell that may be put to work.

    Least: as deeply discharged as on an ordinary day; under it the bank is charged first.
    """
    depth = plant.cell("depth_usual")
    if isinstance(depth, Unknown):
        return depth, depth
    spread = given(
        plant.battery.open_circuit_voltage.spread,
        "V",
        "spread of healthy cells",
        kind="profile",
        where=f"{plant.battery.id}.open_circuit_voltage.spread",
        source=plant.battery.open_circuit_voltage.source,
    )
    full = limit(1.0, "1", "full")
    left = difference.of("least state of charge to begin with", first=full, second=depth).in_unit("1")
    assert isinstance(left, Figure)  # noqa: S101 - both are known
    return (
        edge_low(rested_of_one(plant, left), spread, "least rest voltage of one cell"),
        edge_high(rested_of_one(plant, full), spread, "greatest rest voltage of one cell"),
    )


def cell_stops(plant: Plant) -> tuple[Quantity | None, Quantity | None]:
    """Return the voltages of one lithium cell at which work stops; None for other chemistries."""
    if plant.battery.family != "lithium":
        return None, None
    lowest, _ = plant.cell_range("end_of_discharge_voltage")
    return lowest or plant.cell("end_of_discharge_voltage"), plant.cell("ceiling_voltage")


def string_stops(plant: Plant) -> tuple[Quantity | None, Quantity | None]:
    """Return where work stops at a string: a block reversed, or lithium outside its limits."""
    below, above = cell_stops(plant)
    if below is not None and above is not None:
        return whole(plant, below), whole(plant, above)
    top = rest_limits(plant)[1]
    empty = rested_of_one(plant, limit(0.0, "1", "empty"))
    turned = string_voltage_with_reversed.of(
        "a full string with one block reversed",
        cells=cells(plant),
        reversed_cells=float(plant.bank.cells_per_block),
        cell_voltage=top,
    )
    lower = least("what no healthy string shows", turned, whole(plant, empty, "an empty string at rest"))
    zero = limit(0.0, "V", "reversed polarity")
    return greatest("a block or the string is reversed", zero, lower), None


def string_limits(plant: Plant) -> tuple[Quantity, Quantity]:
    """Return the least and greatest voltage of a string that stands by itself, rested or not."""
    return (
        whole(plant, plant.cell("end_of_discharge_voltage")),
        whole(plant, plant.cell("ceiling_voltage")),
    )


@expectation(
    "string polarity",
    says="between the end of discharge and the greatest voltage; reversed, or lithium outside, stops",
    source="battery profile: end of discharge and limit of a cell",
)
def _polarity(situation: Situation) -> Expectation:
    below, above = string_stops(situation.plant)
    low, high = string_limits(situation.plant)
    return band(situation, low=low, high=high, stop_below=below, stop_above=above)


@expectation(
    "string at rest",
    says="rest voltage of a string by its chemistry; reversed, or lithium outside its limits, stops",
    source="open-circuit voltage table of the battery's profile; lithium: its maker's cell limits",
)
def _string(situation: Situation) -> Expectation:
    plant = situation.plant
    below, above = string_stops(plant)
    danger = stopped(situation, below, above)
    if danger is not None:
        return danger
    rested = rest_missing(situation)
    if not isinstance(rested, Figure):
        return rested
    low, high = (whole(plant, end) for end in rest_limits(plant))
    says = f"{plant.bank.cells} cells after {rested.value:g} h of rest"
    return band(situation, low=low, high=high, stop_below=below, stop_above=above, says=says)


@expectation(
    "block at rest",
    says="rest voltage of each block, then its distance from the others once all are read; reversed stops",
    source="profile's open-circuit table; spread 0.02 V a cell, 0.10 V a block of 12 V, common practice",
)
def _block(situation: Situation) -> Expectation:
    plant = situation.plant
    in_block = limit(float(plant.bank.cells_per_block), "1", "cells of one block", "site file")
    stops: list[Quantity | None] = [
        None if end is None else bank_voltage.of("a block at its limit", cells=in_block, cell_voltage=end)
        for end in cell_stops(plant)
    ]
    below = stops[0] or limit(0.0, "V", "reversed or shorted block")
    danger = stopped(situation, below, stops[1])
    if danger is not None:
        return danger
    rested = rest_missing(situation)
    if not isinstance(rested, Figure):
        return rested
    low, high = (
        bank_voltage.of(end.name.replace("one cell", "one block"), cells=in_block, cell_voltage=end)
        for end in rest_limits(plant)
    )
    alone = band(situation, low=low, high=high, stop_below=below, stop_above=stops[1])
    return within_column(situation, block_spread(plant), alone)


def block_spread(plant: Plant) -> Quantity:
    """Return the greatest spread at rest between the blocks of a string."""
    count = float(plant.bank.cells_per_block)
    if plant.battery.family == "lead" and count > 1:
        twelve = limit(BLOCK_SPREAD, "V", "spread between blocks of 12 V")
        return share_of.of("spread between blocks", value=twelve, share=count / CELLS_OF_12_V).in_unit("V")
    spread = plant.cell("rest_spread")
    return (
        spread if count == 1 else share_of.of("spread between blocks", value=spread, share=count).in_unit("V")
    )
