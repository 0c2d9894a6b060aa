"""Managed packs: their number, voltages, cells, told limits, and their charge beside each other."""

from __future__ import annotations

from typing import Final

from commission.checklist.bands import around, band, compared, part_of, stopped
from commission.checklist.columns import among
from commission.checklist.conditions import alike, beside
from commission.checklist.expectations.battery import (
    cell_stops,
    rest_limits,
    rest_missing,
    string_limits,
    string_stops,
)
from commission.checklist.lookup import known_or, limit, whole
from commission.checklist.registry import expectation
from commission.checklist.situation import Situation
from commission.checklist.types import Expectation, Expected, NotJudged
from commission.figure import Figure, Quantity, Unknown
from commission.formulas.bands import share_of
from commission.formulas.charging import scaled_current
from commission.formulas.conductors import series_resistance
from commission.formulas.lithium import charge_margin_voltage, spread
from commission.plant.plant import Plant, fact
from commission.plant.site import Management
from commission.sheet.bank_state import cells

ASLEEP: Final = 0.2
"""Voltage per cell under which a pack sleeps or its switch is open, V; common practice."""
STATE_SPREAD: Final = 0.05
"""Spread of charge between packs before they are joined, share; common practice."""


def _management(plant: Plant) -> Management:
    return plant.bank.management or Management()


def _told(plant: Plant, field: str) -> Quantity:
    return fact(_management(plant), field, "bank.management", "the management system")


def _packs(plant: Plant) -> float:
    return float(plant.bank.blocks_in_series * len(plant.bank.strings))


@expectation(
    "packs in the bank",
    says="as many packs as the site file has in series and in parallel",
    source="site file",
)
def _count(situation: Situation) -> Expectation:
    count = limit(_packs(situation.plant), "1", "packs installed", "site file")
    return band(situation, low=count, nominal=count, high=count)


@expectation(
    "pack voltage",
    says="rest voltage of a pack, or its limits; the meter beside what it shows; outside its limits stops",
    source="battery profile: rest voltage and cell limits; 0.5 % between meter and pack, common practice",
)
def _voltage(situation: Situation) -> Expectation:
    plant, own = situation.plant, situation.reading
    turned = limit(-1.0, "V", "reversed polarity")
    reversed_ = stopped(situation, turned, None)
    if reversed_ is not None:
        return reversed_
    if own is not None and abs(own.figure.value) < ASLEEP * plant.bank.cells:
        return NotJudged("the pack sleeps or its switch is open: wake it and read again")
    below, above = string_stops(plant)
    rested = isinstance(rest_missing(situation), Figure)
    low, high = (whole(plant, end) for end in rest_limits(plant)) if rested else string_limits(plant)
    alone = band(situation, low=low, high=high, stop_below=below, stop_above=above)
    shown = beside(situation, "shown")
    if own is None or not isinstance(shown, Figure) or not _inside(alone, own.figure.value):
        return alone
    accuracy = known_or(_told(plant, "cell_voltage_accuracy"), 0.0)
    half = (
        whole(plant, accuracy, "accuracy of the pack's own reading")
        if accuracy.value
        else part_of(shown, limit(0.005, "1", "accuracy of the pack's own reading"), "its accuracy")
    )
    return around(
        situation, shown, half, stop_below=below, stop_above=above, says="beside what the pack shows"
    )


def _inside(alone: Expectation, value: float) -> bool:
    if not isinstance(alone, Expected):
        return False
    low, high = alone.band.low, alone.band.high
    return (low is None or value >= low.value) and (high is None or value <= high.value)


@expectation(
    "least cell",
    says="the lowest cell of a pack is not empty; under its least limit work stops",
    source="battery profile: end of discharge of a cell",
)
def _least(situation: Situation) -> Expectation:
    below, above = cell_stops(situation.plant)
    low = situation.plant.cell("end_of_discharge_voltage")
    return band(situation, low=low, stop_below=below, stop_above=above)


@expectation(
    "greatest cell",
    says="the highest cell is under its limit, and after rest near the lowest; over its limit work stops",
    source="battery profile: limit of a cell, spread at rest; the battery's own accuracy",
)
def _greatest(situation: Situation) -> Expectation:
    plant, own = situation.plant, situation.reading
    below, above = cell_stops(plant)
    danger = stopped(situation, below, above)
    alone = danger or band(situation, high=plant.cell("ceiling_voltage"), stop_below=below, stop_above=above)
    if own is None or danger is not None:
        return alone
    lowest, rested = beside(situation, "least"), rest_missing(situation)
    if not isinstance(lowest, Figure) or not isinstance(rested, Figure):
        return alone
    apart = spread.of("spread of the cells", voltages=[lowest, own.figure])
    allowed = series_resistance.of(
        "spread allowed, with the accuracy of the battery's own reading",
        resistances=[plant.cell("rest_spread"), known_or(_told(plant, "cell_voltage_accuracy"), 0.0)],
    ).in_unit("V")
    return compared(apart, high=allowed, says=f"spread after {rested.value:g} h of rest")


# told limits


@expectation(
    "told charge current",
    says="what the battery lets in is not more than its packs may take",
    source="site file: charge current of one pack, times packs",
)
def _charge(situation: Situation) -> Expectation:
    return _told_current(situation, "charge_current")


@expectation(
    "told discharge current",
    says="what the battery gives out is not more than its packs may give",
    source="site file: discharge current of one pack, times packs",
)
def _discharge(situation: Situation) -> Expectation:
    return _told_current(situation, "discharge_current")


def _told_current(situation: Situation, field: str) -> Expectation:
    strings = float(len(situation.plant.bank.strings))
    top = scaled_current.of("all strings of packs", current=_told(situation.plant, field), count=strings)
    return band(situation, low=limit(0.0, "A", "no current"), high=top)


@expectation(
    "told charge voltage",
    says="what the battery asks for lies under its cells' limit and over its nominal voltage",
    source="battery profile: limit of a cell; site file: cut-off and margin",
)
def _charge_voltage(situation: Situation) -> Expectation:
    plant = situation.plant
    cut_off, margin = _told(plant, "cut_off_high"), _told(plant, "margin")
    ceiling = plant.cell("ceiling_voltage")
    top = whole(plant, ceiling, "all cells at their limit")
    if isinstance(cut_off, Figure) and not isinstance(margin, Unknown):
        top = charge_margin_voltage.of(
            "cut-off less the maker's margin", cells=cells(plant), cell_limit=cut_off, margin=margin
        )
    low = whole(plant, plant.cell("nominal_cell_voltage"), "nominal voltage of the bank")
    return band(situation, low=low, high=top)


@expectation(
    "state of charge among packs",
    says="within 5 % of charge of the other packs, once all are read",
    source="common practice: packs within 5 % of charge before they are joined",
)
def _charge_spread(situation: Situation) -> Expectation:
    nothing, full = limit(0.0, "1", "empty"), limit(1.0, "1", "full")
    alone = band(situation, low=nothing, high=full)
    if situation.reading is None:
        return alone
    points = share_of.of("spread of charge allowed", value=full, share=STATE_SPREAD).in_unit("1")
    return among(situation, *alike(situation), points, alone)
