"""PV arrays, isolated: module counts, open-circuit voltages, strings beside each other, insulation."""

from __future__ import annotations

import math
from typing import Final

from commission.checklist.bands import around, at, band, edge_low, part_of, stopped, together
from commission.checklist.columns import either_way, whole_column
from commission.checklist.conditions import column, condition
from commission.checklist.expectations.continuity import insulation_row
from commission.checklist.lookup import array_of, limit
from commission.checklist.registry import expectation
from commission.checklist.situation import Situation
from commission.checklist.types import Expectation, NotJudged, Waits
from commission.figure import Quantity, Unknown, least
from commission.formulas.bands import share_of
from commission.formulas.insulation import insulation_system_voltage
from commission.formulas.pv_strings import (
    expected_open_circuit_voltage,
    open_circuit_voltage_at,
    thermal_slope_default,
)
from commission.formulas.split_phase import share_deviation
from commission.plant.plant import fact
from commission.plant.site import Array, ChargeController
from commission.plant.values import UNKNOWN

TOLERANCE: Final = 0.05
"""Share by which a string may differ from what is expected and from its like (IEC 62446-1)."""
DAYLIGHT: Final = 0.75
"""Least voltage of a string by day as a share of its datasheet's: 200 W/m² takes 6 %, 70 °C takes 14 %."""
LEAST_LIGHT: Final = 200.0
"""Irradiance under which an open-circuit voltage is not judged, W/m²; common practice."""
REVERSED: Final = 5.0
"""Voltage under zero at which a string is reversed where its own voltage is not known, V; common practice."""
APART: Final = 60.0
"""Time that the readings of two strings may lie apart, s."""


def array_fact(situation: Situation, field: str) -> Quantity:
    """Return a value of the array that a step concerns."""
    controller, array = array_of(situation)
    return fact(array, field, f"{controller.where}.array", f"the array of {controller.label}")


@expectation("modules in series", says="as many modules in series as the site file says", source="site file")
def _modules(situation: Situation) -> Expectation:
    count = array_fact(situation, "series")
    return band(situation, low=count, nominal=count, high=count)


@expectation("string fuse", says="the string fuse that the site file states", source="site file")
def _fuse(situation: Situation) -> Expectation:
    rating = array_fact(situation, "string_fuse")
    return band(situation, low=rating, nominal=rating, high=rating)


def string_at_test_conditions(situation: Situation) -> Quantity:
    """Return the open-circuit voltage of one string at standard test conditions."""
    _, array = array_of(situation)
    if array.series == UNKNOWN:
        return Unknown((array_fact(situation, "series").name,), "V", "string at standard test conditions")
    one = array_fact(situation, "open_circuit_voltage")
    return share_of.of("string at standard test conditions", value=one, share=float(array.series)).in_unit(
        "V"
    )


@expectation(
    "array string polarity",
    says="from three quarters of the datasheet's voltage to that of the coldest day; reversed or over stops",
    source="common practice for the low end; NEC 690.7 for the high; absolute maximum of the controller",
)
def _polarity(situation: Situation) -> Expectation:
    controller, _ = array_of(situation)
    below, above = string_voltage_stops(situation, controller)
    string = string_at_test_conditions(situation)
    low = part_of(string, limit(DAYLIGHT, "1", "weak light and hot modules"), "least voltage by day")
    cold = open_circuit_voltage_at.of(
        "string on the coldest day",
        module_voltage=array_fact(situation, "open_circuit_voltage"),
        modules=array_fact(situation, "series"),
        coefficient=array_fact(situation, "voltage_coefficient"),
        temperature=fact(situation.plant.site.site, "coldest_ambient", "site"),
    )
    most = above if isinstance(cold, Unknown) else least("greatest voltage of a string", cold, above)
    return band(situation, low=low, high=most, stop_below=below, stop_above=above)


@expectation(
    "array string voltage",
    says="modules × Voc for today's module temperature and light, ± 5 %; reversed or over the maximum stops",
    source="De Soto 2006 at open circuit; IEC 62446-1: 5 %; absolute maximum of the charge controller",
)
def _string_voltage(situation: Situation) -> Expectation:
    controller, array = array_of(situation)
    below, above = string_voltage_stops(situation, controller)
    danger = stopped(situation, below, above)
    if danger is not None:
        return danger
    found = together(condition(situation, "irradiance"), condition(situation, "module-temperature"))
    if not isinstance(found, tuple):
        return found
    light, warmth = found
    if light.value < LEAST_LIGHT:
        return NotJudged(f"{light.value:g} W/m² is too little light; at least {LEAST_LIGHT:g} W/m²")
    nominal = expected_open_circuit_voltage.of(
        "open-circuit voltage of the string now",
        modules=array_fact(situation, "series"),
        module_voltage=array_fact(situation, "open_circuit_voltage"),
        coefficient=array_fact(situation, "voltage_coefficient"),
        temperature=warmth,
        irradiance=light,
        thermal_slope=_thermal_slope(situation, array),
    )
    half = part_of(nominal, limit(TOLERANCE, "1", "tolerance", "IEC 62446-1:2016"), "5 % of it")
    says = at(situation, light, warmth, also=(f"{array.series} modules in series",))
    return around(situation, nominal, half, stop_below=below, stop_above=above, says=says)


def string_voltage_stops(situation: Situation, controller: ChargeController) -> tuple[Quantity, Quantity]:
    """Return the voltages of a string at which work stops: reversed, or over the controller's maximum."""
    zero = limit(0.0, "V", "no voltage")
    string = string_at_test_conditions(situation)
    small = part_of(string, limit(0.05, "1", "what counts as nothing"), "5 % of the string's voltage")
    turned = edge_low(zero, small, "reversed polarity")
    if isinstance(turned, Unknown):
        turned = limit(-REVERSED, "V", "reversed polarity")
    return turned, situation.plant.rating(controller, "pv_voltage_absolute")


def _thermal_slope(situation: Situation, array: Array) -> Quantity:
    if array.thermal_slope == UNKNOWN:
        voltage = array_fact(situation, "open_circuit_voltage")
        return thermal_slope_default.of(open_circuit_voltage=voltage)
    return array_fact(situation, "thermal_slope")


@expectation(
    "array strings alike",
    says="within 5 % of the mean of the array's strings, all read one after the other in steady light",
    source="IEC 62446-1:2016, 6.4 and 6.5: like strings within 5 % of each other",
)
def _alike(situation: Situation) -> Expectation:
    return strings_alike(situation)


def strings_alike(situation: Situation) -> Expectation:
    """Return the band of a string's current among the strings of its array, read in the same light."""
    every = whole_column(situation)
    if isinstance(every, Waits) or situation.reading is None:
        return every if isinstance(every, Waits) else Waits((situation.ask.key,), "nothing is read yet")
    read, _ = column(situation)
    times = sorted(item.measured_at for item in (*read, situation.reading))
    span = (times[-1] - times[0]).total_seconds()
    if span > APART * (len(times) - 1):
        return NotJudged(f"the strings were read over {math.ceil(span / 60)} min: the light may have changed")
    share = share_deviation.of(
        "distance from the mean of the strings", current=situation.reading.figure, currents=every
    )
    half = limit(TOLERANCE, "1", "tolerance", "IEC 62446-1:2016")
    return either_way(share, half, None, f"among {len(every)} strings")


@expectation(
    "array insulation",
    says="least insulation resistance for 1.25 times the string's open-circuit voltage",
    source="IEC 62446-1:2016, insulation test, by the rule set's table",
)
def _insulation(situation: Situation) -> Expectation:
    string = string_at_test_conditions(situation)
    system = insulation_system_voltage.of("system voltage", open_circuit_voltage=string)
    if isinstance(system, Unknown):
        return band(situation, low=system)
    low, says = insulation_row(situation.plant, system)
    return band(situation, low=low, says=says)
