"""The low end: thresholds where they acted, delays, the way back, distance to the battery's own cut-off."""

from __future__ import annotations

from typing import Final

from commission.checklist.bands import around, at, band, compared, edge_high, edge_low, in_unit, part_of
from commission.checklist.charging_now import basis_count, step_of
from commission.checklist.conditions import beside
from commission.checklist.expectations.guards import late, timed
from commission.checklist.expectations.read_back import device_with
from commission.checklist.lookup import known_or, limit
from commission.checklist.registry import Judge, expectation
from commission.checklist.situation import Situation
from commission.checklist.types import Expectation, NotJudged
from commission.figure import Figure, Quantity, Unknown, greatest
from commission.formulas.bands import difference, share_of
from commission.formulas.load_control import current_of_power
from commission.formulas.uncertainty import root_sum_of_squares
from commission.plant.equipment import BatteryMonitorClass, DirectCurrentDevice
from commission.plant.plant import fact
from commission.plant.site import Device
from commission.sheet.states import cut_off_state

NO_SHEET: Final = 0.005
"""Accuracy of a device's voltage where its sheet is silent, share; common practice."""
POINT: Final = 0.01
"""What a state of charge may be out by where a device shows whole percents; common practice."""
APART: Final = 0.05
"""Distance between the steps of the low end by state of charge; common practice."""

VOLTAGES: Final = {
    "warning": "low_voltage_warning",
    "load disconnect": "load_disconnect_voltage",
    "load reconnect": "load_reconnect_voltage",
}


def _accuracy(situation: Situation, device: Device) -> Quantity:
    found = situation.plant.equipment[device.id]
    if isinstance(found, DirectCurrentDevice | BatteryMonitorClass):
        return known_or(situation.plant.rating(device, "voltage_accuracy"), NO_SHEET)
    return limit(NO_SHEET, "1", "accuracy of the device, common practice")


def _acted(setting: str) -> Judge:
    """Return the expectation of a threshold that was moved until it acted: as high as the meter showed."""

    def judge(situation: Situation) -> Expectation:
        measured = beside(situation, "measured")
        if not isinstance(measured, Figure):
            return measured
        device = device_with(situation, setting)
        ability = situation.plant.equipment[device.id].settings[setting]
        count = basis_count(situation.plant, device, ability)
        shown = share_of.of("the meter, as the device shows it", value=measured, share=1.0 / count)
        shown = shown.in_unit(measured.unit)
        step = share_of.of("one step", value=step_of(situation.plant, device, setting), share=1.0 / count)
        half = root_sum_of_squares.of(
            "accuracy and one step of the device",
            parts=[part_of(shown, _accuracy(situation, device), "accuracy"), step],
        ).in_unit(measured.unit)
        if situation.reading is None:
            return around(situation, shown, half, says=at(situation, measured))
        apart = difference.of("threshold over the meter", first=situation.reading.figure, second=shown)
        zero = limit(0.0, "V", "no difference")
        return compared(
            apart.in_unit("V"),
            low=edge_low(zero, half),
            high=edge_high(zero, half),
            says=at(situation, measured),
        )

    return judge


for _word, _setting in VOLTAGES.items():
    expectation(
        f"{_word} where it acted",
        says="the voltage at the device's terminals as it acted, within its accuracy and one step",
        source="data sheet of the device; 0.5 % where it is silent, common practice",
    )(_acted(_setting))


@expectation(
    "delay of the load disconnect",
    says="the delay as left, a tenth and 5 s either way",
    source="setting as left; a tenth and 5 s by common practice",
)
def _delay(situation: Situation) -> Expectation:
    device = device_with(situation, "load_disconnect_delay")
    held = situation.left(device.id, "load_disconnect_delay", None)
    if held is None:
        return NotJudged(f"{device.label} is not left with a delay")
    return timed(situation, held)


@expectation(
    "charge at which it acted",
    says="the state of charge that was told as it acted, within one point",
    source="common practice",
)
def _by_charge(situation: Situation) -> Expectation:
    told = beside(situation, "told")
    if not isinstance(told, Figure):
        return told
    return around(situation, in_unit(told, "1"), limit(POINT, "1", "one point"))


@expectation(
    "disconnect over the battery's own cut-off",
    says="at least 5 points of charge over the point at which the battery opens by itself",
    source="site file: cut-off of the management system; 5 points by common practice",
)
def _over_cut_off(situation: Situation) -> Expectation:
    own = cut_off_state(situation.plant)
    if own is None:
        return NotJudged("no management system opens under load here")
    if isinstance(own, Unknown):
        return NotJudged(f"not known: {', '.join(own.missing)}")
    return band(situation, low=edge_high(own, limit(APART, "1", "5 points"), "5 points over the cut-off"))


@expectation(
    "time until the bus is back",
    says="at most the connect delay of the chargers as left, and a minute for the devices to wake",
    source="settings as left; a minute by common practice",
)
def _bus(situation: Situation) -> Expectation:
    minute = limit(60.0, "s", "a minute for the devices to wake")
    delays = [
        situation.left(unit.id, "ac_input_connect_delay", kind)
        for unit in situation.plant.site.inverter_chargers
        for kind in unit.inputs
    ]
    known = [delay for delay in delays if isinstance(delay, Figure)]
    longest: Quantity = greatest("longest connect delay", *known) if known else minute
    return band(situation, high=late(edge_high(longest, minute)))


@expectation(
    "standing current with the loads off",
    says="what the site file states as the standing draw, a fifth more",
    source="site file: standing draw of the bank; a fifth by common practice",
)
def _standing(situation: Situation) -> Expectation:
    voltage = beside(situation, "voltage")
    if not isinstance(voltage, Figure):
        return voltage
    draw = current_of_power.of(
        "standing draw", power=fact(situation.plant.bank, "standing_draw", "bank"), voltage=voltage
    )
    return band(situation, high=part_of(draw, limit(1.2, "1", "a fifth more"), "standing draw and a fifth"))
