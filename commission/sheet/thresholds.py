"""Voltages under load at which a device warns, starts a generator and disconnects the loads."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from commission.figure import Figure, Quantity, given, greatest, least
from commission.formulas.bank import bank_voltage
from commission.formulas.load_control import threshold_above
from commission.plant.plant import Plant, fact
from commission.plant.site import Device, InverterCharger
from commission.sheet.bank_state import COMMON, cells, loaded, whole, whole_range
from commission.sheet.states import states_of

_APART: Final = given(0.01, "V", "least distance of two thresholds, one cell", source=COMMON)


@dataclass(frozen=True, slots=True)
class Thresholds:
    """Whole-bank voltages as one device reads them while the expected load is drawn."""

    warning: Quantity
    start: Quantity
    disconnect: Quantity
    low: Quantity | None
    """Least voltage at which the loads may still be connected."""
    high: Quantity | None
    note: str
    """What moved the disconnect voltage; empty where it is the voltage under load."""


def apart(plant: Plant) -> Quantity:
    """Return the least distance of two thresholds of the bank."""
    return bank_voltage.of("least distance of two thresholds", cells=cells(plant), cell_voltage=_APART)


def above(plant: Plant, name: str, value: Quantity) -> Quantity:
    """Return the least threshold that lies clear above another."""
    return threshold_above.of(name, value=value, by=apart(plant))


def thresholds_of(plant: Plant, device: Device) -> Thresholds:
    """Return what a device reads at the low end's states of charge, brought into its limits and order.

    Where the battery's range lifts the disconnect over the start, start and warning go up with it: the order
    of the three wins.
    """
    states = states_of(plant)
    raw = loaded(plant, device, states.voltage_disconnect)
    low, high = disconnect_limits(plant)
    disconnect, note = _brought_in(plant, device, raw, low, high)
    start = greatest(
        "voltage that starts a generator",
        loaded(plant, device, states.voltage_start),
        above(plant, "clear of the load disconnect", disconnect),
    )
    warning = greatest(
        "voltage of the warning",
        loaded(plant, device, states.voltage_warning),
        above(plant, "clear of the generator's start", start),
    )
    return Thresholds(warning, start, disconnect, low, high, note)


def disconnect_limits(plant: Plant) -> tuple[Quantity | None, Quantity | None]:
    """Return between which voltages loads are disconnected: the profile's range, for lithium its floor."""
    low, high = whole_range(plant, "load_disconnect_voltage")
    if plant.battery.family != "lithium":
        return low, high
    return lithium_floor(plant), high


def lithium_floor(plant: Plant) -> Quantity:
    """Return the voltage under load that a lithium bank must not pass: its end of discharge or cut-off."""
    end = whole(plant, "end_of_discharge_voltage")
    management = plant.bank.management
    told = None if management is None else fact(management, "cut_off_low", "bank.management")
    if not isinstance(told, Figure):
        return end
    cut_off = bank_voltage.of("low cut-off of the management system", cells=cells(plant), cell_voltage=told)
    return greatest("floor of the disconnect voltage", end, cut_off)


def _brought_in(
    plant: Plant, device: Device, raw: Quantity, low: Quantity | None, high: Quantity | None
) -> tuple[Quantity, str]:
    name = f"load disconnect of {device.label}"
    value = raw
    if high is not None and plant.battery.family != "lithium":
        value = least(name, value, high)
    if low is not None:
        value = greatest(name, value, low)
    cut_off = plant.rating(device, "low_cut_off") if isinstance(device, InverterCharger) else None
    if isinstance(cut_off, Figure):
        value = greatest(name, value, cut_off)
    return value, _why_moved(value, raw, low, cut_off)


def _why_moved(value: Quantity, raw: Quantity, low: Quantity | None, cut_off: Quantity | None) -> str:
    if not isinstance(value, Figure) or not isinstance(raw, Figure) or value.value == raw.value:
        return ""
    if isinstance(cut_off, Figure) and value.value == cut_off.value:
        return "held at the inverter's own cut-off"
    at_low = isinstance(low, Figure) and value.value == low.value
    return f"held at the {'low' if at_low else 'high'} end of what this battery asks for"
