"""DC from the bank alone: proof of dead, polarity, pre-charge, standing currents, monitor, sensors."""

from __future__ import annotations

from typing import Final

from commission.checklist.bands import around, band, edge_high, edge_low, part_of, stopped, together
from commission.checklist.columns import either_way
from commission.checklist.conditions import beside, chosen, condition
from commission.checklist.expectations.arrays import string_at_test_conditions
from commission.checklist.expectations.battery import string_limits, string_stops
from commission.checklist.lookup import known_or, limit, monitor_of, nominal_voltage, source_of
from commission.checklist.registry import expectation
from commission.checklist.situation import Situation
from commission.checklist.types import Expectation, NotJudged
from commission.figure import Figure, Quantity, Unknown, greatest, least
from commission.formulas.bands import difference, magnitude, share_of
from commission.formulas.charging import sum_of_currents
from commission.formulas.commissioning_tests import precharge_residual, precharge_residual_under_draw
from commission.formulas.overcurrent import inverter_direct_current
from commission.formulas.uncertainty import root_sum_of_squares
from commission.plant.equipment import DirectCurrentDevice
from commission.plant.plant import fact
from commission.plant.site import DirectCurrentSource

ISOLATED: Final = 0.1
"""Share of its voltage that a source may show through what isolates it; common practice."""
CLOSING: Final = 0.1
"""Share of the bank's voltage that may be left across a switch when it is closed; common practice."""
LEAST_RATIO_CURRENT: Final = 5.0
"""Current under which monitor and clamp are not compared, A; common practice."""
SHUNT_CLASS: Final = 0.005
"""Class of an ordinary shunt, share (IEC 60051-8)."""
IDLE_SPREAD: Final = 0.2
"""Share by which an idle draw may differ from the data sheet; common practice."""
IDLE_STATES: Final = frozenset({"off", "waiting"})
"""States of a charger in which it only draws what it needs itself."""
SENSOR: Final = 2.0
"""What a battery sensor and a thermometer may differ by, K; common practice."""


# proof of dead


@expectation(
    "dead dc",
    says="under the rule set's voltage, and under a tenth of the bank's: it must not be the bank itself",
    source="IEC 61140; rule set; a tenth of the bank's voltage by common practice",
)
def _dead_dc(situation: Situation) -> Expectation:
    return _dead(situation, nominal_voltage(situation.plant))


@expectation(
    "dead pv",
    says="under the rule set's voltage, and under a tenth of a string's open-circuit voltage",
    source="IEC 61140; rule set; a tenth of the string's voltage by common practice",
)
def _dead_pv(situation: Situation) -> Expectation:
    return _dead(situation, string_at_test_conditions(situation))


def _dead(situation: Situation, source: Quantity) -> Expectation:
    touch = situation.plant.rule("dead_voltage_dc")
    leak = part_of(source, limit(ISOLATED, "1", "a tenth"), "a tenth of what could feed it")
    most = least("greatest voltage of a dead circuit", touch, leak) if isinstance(leak, Figure) else touch
    return band(situation, low=edge_low(limit(0.0, "V", "dead"), most), high=most)


@expectation("dead ac", says="under the rule set's voltage", source="IEC 61140; rule set")
def _dead_ac(situation: Situation) -> Expectation:
    return band(situation, high=situation.plant.rule("dead_voltage_ac"))


# polarity and pre-charge


@expectation(
    "bank at its posts",
    says="between an empty and a full bank, positive; reversed, or lithium outside its limits, stops",
    source="battery profile: end of discharge, greatest charging voltage",
)
def _posts(situation: Situation) -> Expectation:
    plant = situation.plant
    below, above = string_stops(plant)
    low, high = string_limits(plant)
    return band(situation, low=low, high=high, stop_below=below, stop_above=above)


@expectation(
    "voltage of the bank here",
    says="the bank's voltage of the moment within 0.5 %, with its sign; reversed polarity stops",
    source="common practice: without current nothing drops",
)
def _here(situation: Situation) -> Expectation:
    turned = limit(-1.0, "V", "reversed polarity")
    danger = stopped(situation, turned, None)
    if danger is not None:
        return danger
    bank = condition(situation, "bank-voltage")
    if not isinstance(bank, Figure):
        return bank
    half = part_of(bank, limit(0.005, "1", "what two readings may differ by"), "0.5 % of it")
    if situation.reading is None:
        return around(situation, bank, half, stop_below=turned)
    apart = difference.of("distance from the bank", first=situation.reading.figure, second=bank).in_unit("V")
    return either_way(apart, half, bank.value, f"against {bank.value:g} V at the posts")


@expectation(
    "pre-charge residual",
    says="at most a tenth of the bank's voltage; where the parts are known, what is left by now",
    source="discharge of a capacitor; a tenth by common practice",
)
def _residual(situation: Situation) -> Expectation:
    bank = condition(situation, "bank-voltage")
    if not isinstance(bank, Figure):
        return bank
    most = part_of(bank, limit(CLOSING, "1", "a tenth"), "what may be left when the switch closes")
    zero = limit(0.0, "V", "nothing left")
    small = part_of(bank, limit(0.01, "1", "a hundredth"), "what a meter may show under zero")
    left = _left_over(situation, bank)
    if not isinstance(left, Figure):
        says = "capacitance or resistor not known: a tenth of the bank's voltage, and falling"
        return band(situation, low=edge_low(zero, small), high=most, says=says)
    margin = part_of(bank, limit(0.02, "1", "two hundredths"), "spread of the parts")
    high = least("what may be left by now", most, edge_high(left, margin))
    return band(situation, low=edge_low(zero, small), nominal=left, high=high)


def _left_over(situation: Situation, bank: Figure) -> Quantity | None:
    """Return what is left across the switch by now; None where it cannot be worked out."""
    source, waited = source_of(situation), beside(situation, "time")
    rating = situation.plant.rating
    resistor, capacitance = rating(source, "precharge_resistance"), rating(source, "capacitance")
    known = isinstance(resistor, Figure) and isinstance(capacitance, Figure)
    if not known or not isinstance(waited, Figure):
        return None
    left = precharge_residual.of(voltage=bank, resistance=resistor, capacitance=capacitance, time=waited)
    draw = idle_current(situation, source, bank)
    if isinstance(draw, Unknown):
        return left
    return precharge_residual_under_draw.of(residual=left, standing_current=draw, resistance=resistor)


# standing currents


def idle_current(situation: Situation, source: DirectCurrentSource, bank: Figure) -> Quantity:
    """Return the current that a source draws from the bank without load, by its data sheet."""
    power = situation.plant.rating(source, "idle_power")
    return inverter_direct_current.of(
        f"idle current of {source.label}", power=power, efficiency=1.0, voltage=bank
    )


@expectation(
    "standing current of a device",
    says="at most 1.2 × the idle draw of its data sheet, and no charge",
    source="data sheet of the device; a fifth by common practice",
)
def _device_current(situation: Situation) -> Expectation:
    found = together(condition(situation, "bank-voltage"), condition(situation, "charger-state"))
    if not isinstance(found, tuple):
        return found
    bank, state = found
    word = chosen(situation, "charger-state", state)
    if word not in IDLE_STATES:
        return NotJudged(f"the charger is in {word}; nothing may charge yet")
    idle = idle_current(situation, source_of(situation), bank)
    return band(situation, low=_drawn(idle), high=limit(0.0, "A", "nothing charges"))


@expectation(
    "standing current of the bank",
    says="at most 1.2 × the idle draws of all devices on the DC bus, and no charge",
    source="data sheets of the devices; a fifth by common practice",
)
def _bank_current(situation: Situation) -> Expectation:
    bank = condition(situation, "bank-voltage")
    if not isinstance(bank, Figure):
        return bank
    idle = [idle_current(situation, source, bank) for source in situation.plant.sources]
    if not idle:
        return NotJudged("no device with an idle draw is on the DC bus")
    total = sum_of_currents.of("idle draws together", currents=idle)
    return band(situation, low=_drawn(total), high=limit(0.0, "A", "nothing charges"))


def _drawn(idle: Quantity) -> Quantity:
    """Return a draw with its allowance as a current out of the bank: negative."""
    more = share_of.of("with a fifth more", value=idle, share=1.0 + IDLE_SPREAD).in_unit("A")
    return edge_low(limit(0.0, "A", "no current"), more, "greatest draw")


# earthing of the DC side


@expectation(
    "positive pole to earth",
    says="what the declared earthing of the DC side makes of the bank's voltage",
    source="site file: earthing of the DC side",
)
def _positive(situation: Situation) -> Expectation:
    return _pole(situation, {"negative": 1.0, "positive": 0.0, "mid-point": 0.5})


@expectation(
    "negative pole to earth",
    says="what the declared earthing of the DC side makes of the bank's voltage",
    source="site file: earthing of the DC side",
)
def _negative(situation: Situation) -> Expectation:
    return _pole(situation, {"negative": 0.0, "positive": -1.0, "mid-point": -0.5})


def _pole(situation: Situation, shares: dict[str, float]) -> Expectation:
    earthing = situation.plant.site.earthing.dc
    if earthing == "floating":
        return NotJudged("the DC side floats: no voltage to earth is fixed")
    if earthing not in shares:
        return NotJudged("not known: earthing of the DC side")
    bank = condition(situation, "bank-voltage")
    if not isinstance(bank, Figure):
        return bank
    size = share_of.of("voltage of the pole", value=bank, share=abs(shares[earthing])).in_unit("V")
    zero = limit(0.0, "V", "earth")
    pole = edge_low(zero, size) if shares[earthing] < 0 else size
    half = greatest(
        "allowance",
        part_of(bank, limit(0.02, "1", "two hundredths"), "2 % of the bank's voltage"),
        limit(0.5, "V", "half a volt"),
    )
    return around(situation, pole, half, says=f"DC side earthed at: {earthing}")


# monitor, displays, sensors


@expectation(
    "zero of the monitor",
    says="within 0.1 % of the shunt's rating, or one digit of 0.1 A",
    source="common practice",
)
def _zero(situation: Situation) -> Expectation:
    monitor = monitor_of(situation)
    rating = fact(monitor, "shunt_current", "monitor", monitor.label)
    part = part_of(rating, limit(0.001, "1", "0.1 %"), "0.1 % of the shunt")
    most = greatest("zero error", part, limit(0.1, "A", "one digit"))
    return around(situation, limit(0.0, "A", "no current"), most)


@expectation(
    "clamp beside the monitor",
    says="what the monitor shows, within its accuracy and its shunt's class, with the same sign",
    source="shunt class 0.5 (IEC 60051-8); data sheet of the monitor",
)
def _ratio(situation: Situation) -> Expectation:
    shown = beside(situation, "shown")
    if not isinstance(shown, Figure):
        return shown
    if abs(shown.value) < LEAST_RATIO_CURRENT:
        return NotJudged(f"{abs(shown.value):g} A is too little; draw {LEAST_RATIO_CURRENT:g} A and more")
    monitor = monitor_of(situation)
    accuracy = known_or(situation.plant.rating(monitor, "current_accuracy"), 0.005)
    shunt = limit(SHUNT_CLASS, "1", "class of the shunt", "IEC 60051-8")
    both = root_sum_of_squares.of("monitor and shunt together", parts=[accuracy, shunt]).in_unit("1")
    size = magnitude.of("what the monitor shows, without sign", value=shown).in_unit("A")
    return around(situation, shown, part_of(size, both, "its accuracy"))


@expectation(
    "sensor beside the thermometer",
    says="the battery's temperature within 2 K",
    source="common practice",
)
def _sensor(situation: Situation) -> Expectation:
    battery = condition(situation, "battery-temperature")
    if not isinstance(battery, Figure):
        return battery
    return around(situation, battery, limit(SENSOR, "K", "what two thermometers differ by").in_unit("°C"))


@expectation(
    "meter beside the display",
    says="what the device shows, within its accuracy",
    source="data sheet of the device; 0.5 % where it is silent, common practice",
)
def _display(situation: Situation) -> Expectation:
    shown = beside(situation, "shown")
    if not isinstance(shown, Figure):
        return shown
    found = situation.plant.equipment.get(situation.step.parts[0]) if situation.step.parts else None
    told: Quantity = Unknown(("accuracy of the display",), "1", "accuracy of the display")
    if isinstance(found, DirectCurrentDevice):
        told = situation.plant.rating(source_of(situation), "voltage_accuracy")
    elif situation.plant.site.monitor is not None:
        told = situation.plant.rating(situation.plant.site.monitor, "voltage_accuracy")
    return around(situation, shown, part_of(shown, known_or(told, 0.005), "its accuracy"))
