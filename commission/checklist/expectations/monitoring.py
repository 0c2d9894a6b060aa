"""The battery monitor: when it takes the bank for full, and what it counts through a part discharge."""

from __future__ import annotations

from dataclasses import replace
from typing import Final

from commission.checklist.bands import (
    around,
    at,
    band,
    compared,
    edge_high,
    in_percent,
    in_unit,
    missing,
    part_of,
    together,
)
from commission.checklist.charging_now import recorded
from commission.checklist.conditions import beside, condition, earlier
from commission.checklist.expectations.battery import rest_missing
from commission.checklist.expectations.load_steps import least_voltage, measured_resistance
from commission.checklist.lookup import limit, monitor_of, rested_bank, whole
from commission.checklist.registry import expectation
from commission.checklist.situation import Situation
from commission.checklist.types import Expectation, Expected, NotJudged, Waits
from commission.figure import Figure, Quantity, Unknown, given
from commission.formulas.bands import difference
from commission.formulas.capacity_test import capacity_share, iec_corrected_capacity, time_adjusted_capacity
from commission.formulas.conductors import voltage_drop
from commission.formulas.lead_acid import delivered_charge, peukert_time
from commission.formulas.monitor import charge_efficiency_measured, state_of_charge_counted
from commission.formulas.uncertainty import root_sum_of_squares
from commission.plant.values import in_words
from commission.sheet.bank_state import capacity
from commission.sheet.monitor import own_rate

FULL: Final = 0.995
"""State of charge that a synchronised monitor shows, share; common practice: 100 % and half a point."""
POINTS: Final = 0.05
"""What two counts of the charge may differ by; common practice."""
COUNTED: Final = 0.03
"""What a count and a clamp may differ by over a discharge, share; common practice."""
LEAST_DEPTH: Final = 0.05
"""Depth under which a part discharge tells nothing; common practice."""
WORN_OUT: Final = 0.80
"""Share of the rated capacity under which a bank is replaced (IEEE 450 and 1188)."""
TESTED_YEARLY: Final = 0.90
"""Share under which it is tested every year (IEEE 450 and 1188)."""
CORRECTION: Final = 0.006
"""Change of a lead bank's capacity with temperature, 1/K (IEC 60896-11; from memory)."""


def _left(situation: Situation, setting: str) -> Quantity:
    monitor = monitor_of(situation)
    held = situation.left(monitor.id, setting, None)
    gap = f"{in_words(setting)} of {monitor.label}"
    return Unknown((gap,), "", gap) if held is None else held


# full


@expectation(
    "voltage at which it is full",
    says="at or over the voltage that the monitor takes for full, as left",
    source="setting as left",
)
def _voltage(situation: Situation) -> Expectation:
    return band(situation, low=_left(situation, "monitor_full_voltage"))


@expectation(
    "current at which it is full",
    says="charging, and at or under the current that the monitor takes for full, as left",
    source="setting as left",
)
def _current(situation: Situation) -> Expectation:
    zero = limit(0.0, "A", "no discharge")
    return band(situation, low=zero, high=_left(situation, "monitor_full_current"))


@expectation(
    "time at which it is full",
    says="at or over the time that the monitor wants, as left",
    source="setting as left",
)
def _time(situation: Situation) -> Expectation:
    return band(situation, low=_left(situation, "monitor_full_time"))


@expectation(
    "charge shown when full",
    says="100 %, once voltage, current and time have all been met; not judged before",
    source="common practice",
)
def _shown(situation: Situation) -> Expectation:
    met = {
        "voltage": (_left(situation, "monitor_full_voltage"), True),
        "current": (_left(situation, "monitor_full_current"), False),
        "time": (_left(situation, "monitor_full_time"), True),
    }
    for name, (setting, over) in met.items():
        read = beside(situation, name)
        if not isinstance(read, Figure):
            return read
        if isinstance(setting, Unknown):
            return NotJudged(f"not known: {missing(setting)}")
        value = in_unit(read, setting.unit).value
        if value < setting.value - 1e-9 if over else not -1e-9 <= value <= setting.value + 1e-9:
            return NotJudged(f"the {name} that it waits for is not met: it may not be full yet")
    full, half = limit(1.0, "1", "full"), limit(1.0 - FULL, "1", "half a point")
    return around(situation, full, half)


@expectation(
    "battery's own count beside the monitor",
    says="within 5 points of charge of what the battery counts itself, which is believed",
    source="common practice; the management system is the authority",
)
def _own_count(situation: Situation) -> Expectation:
    told = beside(situation, "battery")
    if not isinstance(told, Figure):
        return told
    made = around(situation, in_unit(told, "1"), limit(POINTS, "1", "5 points"))
    return replace(made, decides=False) if isinstance(made, Expected) else made


# a part discharge


def _through(situation: Situation) -> tuple[Figure, Figure] | Waits | NotJudged:
    """Return mean current, without sign, and duration of the discharge."""
    asked = (earlier(situation, "part-discharge", name) for name in ("current", "duration"))
    found = together(*asked)
    if not isinstance(found, tuple):
        return found
    current, duration = found
    return replace(current, value=abs(current.value)), in_unit(duration, "s")


@expectation(
    "counted through the discharge",
    says="current × time by the clamp, within 3 %",
    source="definition of charge; shunt class and clamp, 3 % by common practice",
)
def _counted(situation: Situation) -> Expectation:
    found = _through(situation)
    if not isinstance(found, tuple):
        return found
    current, duration = found
    nominal = delivered_charge.of("charge by clamp and watch", current=current, time=duration)
    half = part_of(nominal, limit(COUNTED, "1", "clamp and monitor"), "3 % of it")
    return around(situation, nominal, half, says=at(situation, current, duration))


@expectation(
    "charge left after the discharge",
    says="from full, by the exponent and capacity that the monitor was left with, ± 3 points",
    source="Peukert 1897 in the form with a rated hour; settings as left",
)
def _state(situation: Situation) -> Expectation:
    found = _through(situation)
    if not isinstance(found, tuple):
        return found
    nominal = state_after(situation, *found)
    if isinstance(nominal, Figure) and nominal.value > 1.0 - LEAST_DEPTH:
        return NotJudged(f"{1.0 - nominal.value:.1%} of depth is too little to tell; 5 % at least")
    return around(situation, nominal, limit(COUNTED, "1", "3 points"), says=at(situation, *found))


def state_after(situation: Situation, current: Figure, duration: Figure) -> Quantity:
    """Return the state of charge that a monitor should show after a discharge from full."""
    rate = situation.left(monitor_of(situation).id, "monitor_capacity_rate", None)
    return state_of_charge_counted.of(
        "state of charge after the discharge",
        start=1.0,
        current=replace(current, value=-current.value, name="current, out of the bank"),
        time=duration,
        capacity=_left(situation, "monitor_capacity"),
        rate=rate or own_rate(situation.plant),
        exponent=_left(situation, "monitor_peukert_exponent"),
        charge_efficiency=1.0,
    )


@expectation(
    "voltage at the end of the discharge",
    says="rested voltage by the rated capacity less the measured sag, ± healthy cells and a fifth of the sag",
    source="battery profile: rested voltage; resistance that the first load step measured",
)
def _end(situation: Situation) -> Expectation:
    plant = situation.plant
    if plant.battery.curve == "flat":
        return recorded(
            situation, "the voltage of this chemistry does not tell its charge; kept as a baseline"
        )
    found, resistance = _through(situation), measured_resistance(situation)
    if not isinstance(found, tuple):
        return found
    if not isinstance(resistance, Figure):
        return resistance
    state = state_by_rating(situation, *found)
    if isinstance(state, Unknown):
        return NotJudged(f"not known: {missing(state)}")
    if state.value > 1.0 - LEAST_DEPTH:
        return NotJudged(f"{1.0 - state.value:.1%} of depth is too little to tell; 5 % at least")
    sag = voltage_drop.of("sag of the bank", current=found[0], resistance=resistance)
    rest = rested_bank(plant, state)
    nominal = difference.of("voltage under this load", first=rest, second=sag).in_unit("V")
    half = root_sum_of_squares.of(
        "spread of healthy cells and a fifth of the sag",
        parts=[_spread(situation), part_of(sag, limit(0.2, "1", "a fifth"), "a fifth of the sag")],
    ).in_unit("V")
    return around(situation, nominal, half, stop_below=least_voltage(situation), says=at(situation, found[0]))


def state_by_rating(situation: Situation, current: Figure, duration: Figure) -> Quantity:
    """Return the state of charge that a bank of its rated capacity has after a discharge from full."""
    plant = situation.plant
    return state_of_charge_counted.of(
        "state of charge by the rated capacity",
        start=1.0,
        current=replace(current, value=-current.value, name="current, out of the bank"),
        time=duration,
        capacity=capacity(plant),
        rate=plant.cell("capacity_rate"),
        exponent=plant.cell("peukert_exponent"),
        charge_efficiency=1.0,
    )


def _spread(situation: Situation) -> Quantity:
    curve = situation.plant.battery.open_circuit_voltage
    one = given(
        curve.spread,
        "V",
        "spread of healthy cells",
        kind="profile",
        where=f"{situation.plant.battery.id}.open_circuit_voltage.spread",
        source=curve.source,
    )
    return whole(situation.plant, one, "spread of healthy cells, whole bank")


@expectation(
    "rest voltage after the discharge",
    says="rested voltage of the charge that the monitor shows, ± the spread of healthy cells and 3 points",
    source="battery profile: rested voltage; after 6 h of rest, without current",
)
def _rested(situation: Situation) -> Expectation:
    plant = situation.plant
    if plant.battery.curve == "flat":
        return NotJudged("the voltage of this chemistry does not tell its charge")
    rested = rest_missing(situation)
    if not isinstance(rested, Figure):
        return rested
    state = condition(situation, "state-of-charge")
    if not isinstance(state, Figure):
        return state
    low, high = (
        rested_bank(plant, replace(state, value=min(1.0, max(0.0, state.value + shift))))
        for shift in (-COUNTED, COUNTED)
    )
    spread = _spread(situation)
    return band(
        situation,
        low=difference.of("least rest voltage", first=low, second=spread).in_unit("V"),
        high=edge_high(high, spread),
        says=at(situation, state),
    )


# charge and capacity


@expectation(
    "efficiency of the recharge",
    says="ampere-hours out over in between two full points, near the setting of the monitor",
    source="definition; setting as left; 5 points by common practice; informs only",
)
def _efficiency(situation: Situation) -> Expectation:
    out = beside(situation, "out")
    if not isinstance(out, Figure):
        return out
    held = _left(situation, "monitor_charge_efficiency")
    if situation.reading is None or isinstance(held, Unknown):
        return (
            Waits((situation.ask.key,), "nothing is read yet")
            if isinstance(held, Figure)
            else NotJudged(f"not known: {missing(held)}")
        )
    found = charge_efficiency_measured.of("efficiency", charge_out=out, charge_in=situation.reading.figure)
    low = difference.of("least", first=held, second=limit(POINTS, "1", "5 points")).in_unit("1")
    made = compared(found, low=low, high=edge_high(held, limit(POINTS, "1", "5 points")))
    return replace(made, decides=False) if isinstance(made, Expected) else made


@expectation(
    "capacity of the bank",
    says="at least what the chemistry owes when new, restated for temperature and rate",
    source="IEEE 450 (time-adjusted) for lead; IEC 60896-11; battery profile: acceptance",
)
def _capacity(situation: Situation) -> Expectation:
    return _capacity_over(situation, situation.plant.cell("capacity_acceptance"))


@expectation(
    "capacity in service",
    says="at least 80 % of the rating, restated for temperature and rate; under 90 % a test every year",
    source="IEEE 450 and 1188; US Reclamation FIST 3-6: act under 90 %, replace under 80 %",
)
def _capacity_in_service(situation: Situation) -> Expectation:
    found = _capacity_over(
        situation, limit(WORN_OUT, "1", "capacity at which a bank is replaced", "IEEE 450")
    )
    if not isinstance(found, Expected) or found.compared is None:
        return found
    if WORN_OUT * 100.0 <= found.compared.value < TESTED_YEARLY * 100.0:
        return replace(found, says=f"{found.says}; under 90 %: test every year")
    return found


def _capacity_over(situation: Situation, owed: Quantity) -> Expectation:
    found = together(beside(situation, "current"), condition(situation, "battery-temperature"))
    if not isinstance(found, tuple):
        return found
    current, temperature = found
    if situation.reading is None:
        return Waits((situation.ask.key,), "nothing is read yet")
    duration = in_unit(situation.reading.figure, "s")
    size = replace(current, value=abs(current.value))
    share = _share(situation, size, duration, temperature)
    says = at(situation, size, temperature, also=(f"{duration.value / 3600.0:.2f} h to the end voltage",))
    return compared(in_percent(share), low=in_percent(owed), says=says)


def _share(situation: Situation, current: Figure, duration: Figure, temperature: Figure) -> Quantity:
    plant = situation.plant
    rate = plant.cell("capacity_rate")
    rated = peukert_time.of(
        "time at this current by the rating",
        capacity=capacity(plant),
        rate=rate,
        current=current,
        exponent=plant.cell("peukert_exponent"),
    )
    if plant.battery.family == "lead":
        return time_adjusted_capacity.of(
            "capacity, time-adjusted", actual_time=duration, rated_time=rated, temperature=temperature
        )
    given_back = delivered_charge.of("charge given", current=current, time=duration)
    if plant.battery.family == "nickel":
        given_back = iec_corrected_capacity.of(
            "charge given, at 20 °C",
            capacity=given_back,
            temperature=temperature,
            coefficient=limit(CORRECTION, "1/K", "change with temperature", "IEC 60623; from memory"),
        )
    return capacity_share.of("capacity", capacity=given_back, rated_capacity=capacity(plant))
