"""Joining strings of a bank: the difference before, the current at the moment."""

from __future__ import annotations

from commission.checklist.bands import around, band, edge_high, edge_low, part_of
from commission.checklist.conditions import earlier
from commission.checklist.lookup import limit, nominal_voltage, whole
from commission.checklist.registry import expectation
from commission.checklist.situation import Situation
from commission.checklist.types import Expectation
from commission.figure import Figure, greatest
from commission.formulas.bands import magnitude, share_of
from commission.formulas.commissioning_tests import equalising_current
from commission.formulas.low_end import bank_resistance
from commission.plant.plant import fact
from commission.sheet.bank_state import cells


@expectation(
    "difference before joining",
    says="difference of two strings that the chemistry allows before joining; a reversed string stops",
    source="common practice: 0.5 % of nominal for lead, 50 mV a cell for lithium",
)
def _before_joining(situation: Situation) -> Expectation:
    plant = situation.plant
    allowed = whole(plant, plant.cell("join_difference"), "difference allowed between strings")
    zero = limit(0.0, "V", "no difference")
    half = part_of(nominal_voltage(plant), limit(0.5, "1", "half"), "half of the bank's voltage")
    return around(
        situation,
        zero,
        allowed,
        stop_below=edge_low(zero, half, "a string is reversed"),
        stop_above=edge_high(zero, half, "a string is reversed"),
    )


@expectation(
    "joining current",
    says="at most the difference read before joining over the resistance of both strings",
    source="Ohm's law; resistance of the battery's profile at its low end",
)
def _joining(situation: Situation) -> Expectation:
    before = earlier(situation, "join-difference")
    if not isinstance(before, Figure):
        return before
    plant = situation.plant
    amount = magnitude.of("difference before joining, without sign", value=before).in_unit("V")
    low, _ = plant.cell_range("resistance_capacity")
    string = bank_resistance.of(
        "least resistance of one string",
        cells=cells(plant),
        resistance_capacity=low or plant.cell("resistance_capacity"),
        capacity=fact(plant.bank, "capacity", "bank"),
        strings=1.0,
    )
    both = share_of.of("both strings", value=string, share=2.0).in_unit("Ω")
    flow = equalising_current.of("greatest current at joining", difference=amount, resistance=both)
    small = share_of.of(
        "what counts as nothing", value=fact(plant.bank, "capacity", "bank"), share=0.01
    ).in_unit("A")
    top = greatest("current at joining", flow, small)
    zero = limit(0.0, "A", "no current")
    return band(
        situation, low=edge_low(zero, top), high=top, says=f"after {abs(before.value):g} V of difference"
    )
