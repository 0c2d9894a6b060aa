"""The low end: warning, load disconnect and reconnect, discharge limit; with it the guards of charging.

Voltages are what a device reads while the expected load is drawn: the rested voltage at the depth in question
less bank and cable resistance times the current. On a flat curve the state of charge decides and the voltages
stand for under 10 %, where the count of charge has failed.
"""

from __future__ import annotations

from typing import Final

from commission.figure import Figure, Quantity, given, greatest, least
from commission.formulas.bank import bank_voltage
from commission.formulas.load_control import threshold_above, threshold_below
from commission.plant.plant import Plant
from commission.plant.site import Device, InverterCharger
from commission.sheet.bank_state import COMMON, cells, rested, whole
from commission.sheet.charge_guard import settle_charge_guard
from commission.sheet.clamp import load_maxima
from commission.sheet.discharge import discharge_limit
from commission.sheet.draft import Draft
from commission.sheet.known import not_checked
from commission.sheet.reached import bus_maximum, lowest
from commission.sheet.settling import put_aside, reachable, settled, side_within
from commission.sheet.states import States, check_standing_draw, states_of
from commission.sheet.thresholds import Thresholds, above, apart, disconnect_limits, thresholds_of
from commission.sheet.types import Finding

_HYSTERESIS: Final = given(
    0.13,
    "V",
    "least hysteresis of one lead cell",
    source="Universal technical standard for solar home systems, 1998; from memory",
)
_HIGH_HYSTERESIS: Final = given(0.05, "V", "hysteresis of the high disconnect, one cell", source=COMMON)
_DELAY: Final = given(30.0, "s", "delay that outlasts the start of a motor", source=COMMON)
_LEAST_DELAY: Final = given(5.0, "s", "least delay that outlasts a dip", source=COMMON)
_MOST_DELAY: Final = given(300.0, "s", "longest delay under the disconnect voltage", source=COMMON)
_LOADED: Final = ("low_voltage_warning", "load_disconnect_voltage", "load_reconnect_voltage")
_COUNTED: Final = ("load_disconnect_state_of_charge", "load_reconnect_state_of_charge")


def settle_low_end(draft: Draft) -> None:
    """Settle when loads are warned, dropped and taken back, and what guards the bank against charging.

    Leaves in ``draft.numbers``: ``warning_state``, ``start_state`` and ``disconnect_state`` (shares).
    """
    states = states_of(draft.plant)
    draft.numbers["warning_state"] = states.warning
    draft.numbers["start_state"] = states.start
    draft.numbers["disconnect_state"] = states.disconnect
    for device in draft.plant.devices:
        if any(draft.ability(device, setting) for setting in _LOADED):
            _voltages(draft, device, states)
        if any(draft.ability(device, setting) for setting in _COUNTED):
            _states(draft, device, states)
        _high_end(draft, device)
        if draft.ability(device, "discharge_current_limit") is not None:
            limit = discharge_limit(draft, device)
            wanted = reachable(draft, device, "discharge_current_limit", limit, "high")
            settled(draft, device, "discharge_current_limit", wanted, high=limit)
    _check_counter(draft)
    _check_cut_offs(draft)
    check_standing_draw(draft)
    settle_charge_guard(draft)


def charge_is_counted(plant: Plant) -> bool:
    """Return whether anything on the site counts the state of charge."""
    management = plant.bank.management
    return plant.site.authority.state_of_charge != "none" or (
        management is not None and management.data_link is True
    )


def _voltages(draft: Draft, device: Device, states: States) -> None:
    plant = draft.plant
    found = thresholds_of(plant, device)
    note = found.note
    if plant.battery.curve == "flat":
        fallback = "fallback for under 10 % charge, where the count has failed"
        note = f"{fallback}; {note}" if note else fallback
    disconnect = _settle_disconnect(draft, device, found, note)
    lower = disconnect if isinstance(disconnect, Figure) else found.disconnect
    clear = above(plant, "clear of the load disconnect", lower)
    settled(draft, device, "low_voltage_warning", greatest("warning", found.warning, clear), low=clear)
    settled(draft, device, "load_disconnect_delay", _DELAY, low=_LEAST_DELAY, high=_MOST_DELAY)
    _reconnect(draft, device, states, lower)


def _settle_disconnect(draft: Draft, device: Device, found: Thresholds, note: str) -> Quantity | None:
    """Settle the disconnect: rounded up, down where up would leave the battery's range."""
    limits = (found.low, found.high)
    setting = "load_disconnect_voltage"
    side = side_within(draft, device, setting, found.disconnect, limits, hard=False)
    return settled(
        draft, device, setting, found.disconnect, low=found.low, high=found.high, side=side, note=note
    )


def _reconnect(draft: Draft, device: Device, states: States, disconnect: Quantity) -> None:
    """Settle the reconnect: over what the bank rebounds to once the loads are off, under every float."""
    plant = draft.plant
    least_value = greatest(
        "least reconnect voltage",
        above(plant, "clear of the rebound", rested(plant, states.disconnect)),
        _over_hysteresis(plant, disconnect),
    )
    wanted = greatest("load reconnect", whole(plant, "load_reconnect_voltage"), least_value)
    held = lowest(draft, "float")
    high: Quantity | None = None
    if held is not None:
        high = threshold_below.of("clear of the lowest float", value=held, by=apart(plant))
        wanted = least("load reconnect", wanted, high)
    settled(draft, device, "load_reconnect_voltage", wanted, low=least_value, high=high)


def _over_hysteresis(plant: Plant, disconnect: Quantity) -> Quantity:
    if plant.battery.family != "lead":
        return above(plant, "clear of the load disconnect", disconnect)
    by = bank_voltage.of("hysteresis of the bank", cells=cells(plant), cell_voltage=_HYSTERESIS)
    return threshold_above.of("disconnect and 0.13 V per cell", value=disconnect, by=by)


def _states(draft: Draft, device: Device, states: States) -> None:
    if not charge_is_counted(draft.plant):
        for setting in _COUNTED:
            put_aside(draft, device, setting, "low", "nothing on this site counts the charge")
        return
    held = settled(draft, device, "load_disconnect_state_of_charge", states.disconnect, low=states.disconnect)
    lower = held if isinstance(held, Figure) else states.disconnect
    settled(draft, device, "load_reconnect_state_of_charge", states.reconnect, low=lower)


def _high_end(draft: Draft, device: Device) -> None:
    """Settle where loads are dropped for too much voltage: at what the bus and the DC loads stand."""
    plant = draft.plant
    if draft.ability(device, "load_high_disconnect_voltage") is None:
        return
    limit = least("highest voltage that bus and DC loads stand", bus_maximum(draft), *load_maxima(plant))
    held = settled(draft, device, "load_high_disconnect_voltage", limit, high=limit)
    by = bank_voltage.of("hysteresis of the bank", cells=cells(plant), cell_voltage=_HIGH_HYSTERESIS)
    back = threshold_below.of("return after too much voltage", value=held or limit, by=by)
    wanted = reachable(draft, device, "load_high_reconnect_voltage", back, "high")
    settled(draft, device, "load_high_reconnect_voltage", wanted, high=held or limit)


def _check_counter(draft: Draft) -> None:
    """Find a flat curve without a count of charge: its voltages tell only that it is nearly empty."""
    plant = draft.plant
    if plant.battery.curve != "flat" or charge_is_counted(plant):
        return
    draft.find(
        Finding(
            "correct",
            "charge-not-counted",
            ("bank",),
            "the voltage of this battery tells its charge only under 10 %, and nothing on the site counts it",
            "a battery monitor or the battery's own count, named in authority.state_of_charge",
        )
    )


def _check_cut_offs(draft: Draft) -> None:
    """Find inverters whose own cut-off is all that saves the bank, and lies too low for it."""
    plant = draft.plant
    low, _ = disconnect_limits(plant)
    for inverter in plant.site.inverter_chargers:
        if draft.ability(inverter, "load_disconnect_voltage") is None:
            _check_cut_off(draft, inverter, low)


def _check_cut_off(draft: Draft, inverter: InverterCharger, low: Quantity | None) -> None:
    cut_off = draft.plant.rating(inverter, "low_cut_off")
    wanted = thresholds_of(draft.plant, inverter).disconnect
    if not isinstance(cut_off, Figure) or not isinstance(low, Figure):
        missing = (*getattr(cut_off, "missing", ()), *getattr(low, "missing", ()))
        if missing:
            draft.find(not_checked("cut-off-too-low", (inverter.id,), missing))
        return
    if cut_off.value >= low.value - 1e-9:
        return
    passes = wanted if isinstance(wanted, Figure) else low
    draft.find(
        Finding(
            "correct",
            "cut-off-too-low",
            (inverter.id,),
            f"{inverter.label} has no load disconnect and stops by itself at {cut_off.value:.1f} V; "
            f"this bank must not be drawn under {low.value:.1f} V",
            f"a load disconnect beside it at {passes.value:.1f} V",
            value=cut_off,
            limit=low,
            passes=passes,
        )
    )
