"""Every order of the settings of a plant: what must stay under what, per device and across devices.

Voltages are whole-bank volts, those of charging at the coldest and the hottest battery after the clamp.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Final

from commission.figure import Figure, Quantity, Unknown, greatest
from commission.formulas.generator_control import sum_of_times
from commission.formulas.low_end import state_of_charge_step
from commission.plant.site import Device, DirectCurrentSource, InverterCharger
from commission.plant.values import in_words
from commission.sheet.bank_state import attempted, rested
from commission.sheet.draft import Draft
from commission.sheet.generator import fed_by
from commission.sheet.generator_aside import starts_of
from commission.sheet.generator_start import reserve_between, reserve_of
from commission.sheet.order import Mover, Order, pair_at_posts
from commission.sheet.reached import End, bus_maximum, highest_charge, lowest, reached
from commission.sheet.states import APART, states_of
from commission.sheet.types import Pair

_ENDS: Final[tuple[End, ...]] = ("coldest", "hottest")


def orders_of(draft: Draft) -> list[Order]:
    """Return every order that the settings of a plant must keep."""
    return [order for make in _GROUPS for order in make(draft)]


def _held(draft: Draft, setting: str) -> Iterator[tuple[Device, Quantity]]:
    for device in draft.plant.devices:
        value = draft.value(device.id, setting)
        if value is not None:
            yield device, value


def _starters(draft: Draft) -> Iterator[Device]:
    return (device for device in draft.plant.devices if starts_of(draft.plant, device))


def _highest(draft: Draft, setting: str) -> Quantity | None:
    found = [value for _, value in _held(draft, setting)]
    return greatest(f"highest {in_words(setting)}", *found) if found else None


# the low end


def _disconnects(draft: Draft) -> Iterator[Order]:
    setting = "load_disconnect_voltage"
    for device, value in _held(draft, setting):
        if isinstance(device, InverterCharger):
            cut_off = draft.plant.rating(device, "low_cut_off")
            mover = Mover(device, setting, "up")
            yield Order("cut-off-under-disconnect", (device.id,), cut_off, value, False, mover)
    top = _highest(draft, setting)
    if top is None:
        return
    for device, value in _held(draft, "low_voltage_warning"):
        mover = Mover(device, "low_voltage_warning", "up")
        yield Order("disconnect-under-warning", (device.id,), top, value, mover=mover)


def _reconnects(draft: Draft) -> Iterator[Order]:
    setting = "load_reconnect_voltage"
    rebound = rested(draft.plant, states_of(draft.plant).disconnect)
    float_low = lowest(draft, "float")
    for device, value in _held(draft, setting):
        up, down = Mover(device, setting, "up"), Mover(device, setting, "down")
        own = draft.value(device.id, "load_disconnect_voltage")
        if own is not None:
            yield Order("disconnect-under-reconnect", (device.id,), own, value, mover=up)
        yield Order("rebound-under-reconnect", (device.id,), rebound, value, mover=up)
        if float_low is not None:
            yield Order("reconnect-under-float", (device.id,), value, float_low, mover=down)
    for device, value in _held(draft, "load_high_reconnect_voltage"):
        upper = draft.value(device.id, "load_high_disconnect_voltage")
        if upper is not None:
            down = Mover(device, "load_high_reconnect_voltage", "down")
            yield Order("high-reconnect", (device.id,), value, upper, mover=down)


def _states(draft: Draft) -> Iterator[Order]:
    """Yield the orders of states of charge; on a flat curve they lie 5 points apart."""
    flat = draft.plant.battery.curve == "flat"
    top = _highest(draft, "load_disconnect_state_of_charge") or states_of(draft.plant).disconnect
    clear = _five_over(top) if flat else top
    for device, value in _held(draft, "generator_start_state_of_charge"):
        if not starts_of(draft.plant, device):
            continue
        setting = "generator_start_state_of_charge"
        yield Order(
            "disconnect-under-start-state", (device.id,), clear, value, not flat, Mover(device, setting, "up")
        )
        stop = draft.value(device.id, "generator_stop_state_of_charge")
        if stop is not None:
            mover = Mover(device, "generator_stop_state_of_charge", "up")
            yield Order("start-under-stop-state", (device.id,), value, stop, mover=mover)
    for device, value in _held(draft, "load_reconnect_state_of_charge"):
        own = draft.value(device.id, "load_disconnect_state_of_charge")
        if own is not None:
            mover = Mover(device, "load_reconnect_state_of_charge", "up")
            yield Order("disconnect-under-reconnect-state", (device.id,), own, value, mover=mover)


def _five_over(state: Quantity) -> Quantity:
    name = "5 points over the highest load disconnect"
    return attempted(lambda: state_of_charge_step.of(name, state=state, step=APART), "1", name)


# the generator


def _starts(draft: Draft) -> Iterator[Order]:
    for device in _starters(draft):
        found = draft.recommended(device.id, "generator_start")
        if found is None or isinstance(found, str):
            continue
        volts = _pair_volts(draft, device, found)
        yield from _pair_orders(draft, device, volts)
        yield from _delay_orders(draft, device, found)


def _pair_volts(draft: Draft, device: Device, found: object) -> list[Quantity]:
    if isinstance(found, tuple):
        return [pair_at_posts(draft, device, pair) for pair in found]
    return [found] if isinstance(found, Figure | Unknown) else []


def _pair_orders(draft: Draft, device: Device, volts: list[Quantity]) -> Iterator[Order]:
    setting, last = "generator_start", len(volts) - 1
    parts = (device.id,)
    top = _highest(draft, "load_disconnect_voltage")
    if top is not None:
        mover = Mover(device, setting, "up", last)
        yield Order("disconnect-under-start", parts, top, volts[last], mover=mover)
    rest = rested(draft.plant, states_of(draft.plant).voltage_start)
    yield Order("start-under-rested", parts, volts[0], rest, mover=Mover(device, setting, "down"))
    emergency = draft.value(device.id, "generator_emergency_voltage")
    if emergency is not None:
        name = "generator_emergency_voltage"
        if top is not None:
            yield Order("disconnect-under-emergency", parts, top, emergency, mover=Mover(device, name, "up"))
        down = Mover(device, name, "down")
        yield Order("emergency-under-start", parts, emergency, volts[0], False, down)
    yield from _stop_orders(draft, device, volts[0])


def _stop_orders(draft: Draft, device: Device, start: Quantity) -> Iterator[Order]:
    setting, parts = "generator_stop_voltage", (device.id,)
    stop = draft.value(device.id, setting)
    if stop is None:
        return
    yield Order("start-under-stop", parts, start, stop, mover=Mover(device, setting, "up"))
    fed = fed_by(draft.plant, starts_of(draft.plant, device))
    low = lowest(draft, "absorption", fed) if fed else None
    if low is not None:
        mover = Mover(device, setting, "down")
        yield Order("stop-under-absorption", parts, stop, low, False, mover)


def _delay_orders(draft: Draft, device: Device, found: object) -> Iterator[Order]:
    """Yield what must happen before the reserve is used up, and before the start counts as failed."""
    if not isinstance(found, tuple):
        return
    delays = [pair.delay for pair in found if isinstance(pair, Pair)]
    connecting = _connecting(draft, device)
    waiting, reserve = [*delays, *connecting], reserve_of(draft.plant, device)
    if _starts_by_count(draft, device):
        states = states_of(draft.plant)
        waiting, reserve = connecting, reserve_between(draft.plant, device, states.start, states.disconnect)
    if reserve is not None:
        total = sum_of_times.of("start delays, warm-up and qualification", times=waiting)
        yield Order("start-delays-under-reserve", (device.id,), total, reserve)
    failed = draft.value(device.id, "generator_failure_to_start_time")
    if failed is not None:
        ready = sum_of_times.of("warm-up and qualification", times=connecting)
        yield Order("ready-before-start-failed", (device.id,), ready, failed)


def _starts_by_count(draft: Draft, device: Device) -> bool:
    """Return whether the count of charge starts the set and the voltages only stand in for it."""
    counted = draft.value(device.id, "generator_start_state_of_charge")
    return draft.plant.battery.curve == "flat" and counted is not None


def _connecting(draft: Draft, device: Device) -> list[Quantity]:
    """Return the warm-up and the longest qualification of what the set feeds."""
    warm_up = draft.value(device.id, "generator_warm_up_time")
    fed = fed_by(draft.plant, starts_of(draft.plant, device))
    qualifying = [draft.value(one.id, "ac_input_connect_delay", "generator") for one in fed]
    known = [one for one in qualifying if one is not None]
    longest = [greatest("longest qualification", *known)] if known else []
    return [*([] if warm_up is None else [warm_up]), *longest]


# charging


def _stages(draft: Draft) -> Iterator[Order]:
    for device in draft.plant.sources:
        for end in _ENDS:
            yield from _stage_orders(draft, device, end)
        recharge = draft.value(device.id, "recharge_voltage")
        held = lowest(draft, "float", (device,))
        if recharge is not None and held is not None:
            mover = Mover(device, "recharge_voltage", "down")
            yield Order("recharge-under-float", (device.id,), recharge, held, mover=mover)


def _stage_orders(draft: Draft, device: DirectCurrentSource, end: End) -> Iterator[Order]:
    absorption = reached(draft, device, "absorption", end)
    held = reached(draft, device, "float", end)
    equalise = reached(draft, device, "equalize", end)
    if absorption is None:
        return
    if held is not None:
        mover = Mover(device, "float_voltage", "down")
        name = f"float-under-absorption-{end}"
        yield Order(name, (device.id,), held, absorption, False, mover)
    if equalise is not None and not _equalises_lower(draft):
        mover = Mover(device, "equalize_voltage", "up")
        name = f"absorption-under-equalise-{end}"
        yield Order(name, (device.id,), absorption, equalise, False, mover)


def _equalises_lower(draft: Draft) -> bool:
    """Return whether the chemistry's own rows put equalise under absorption, as of nickel-cadmium."""
    plant = draft.plant
    if not plant.has_stage("equalize_voltage"):
        return False
    equalise, absorption = plant.cell("equalize_voltage"), plant.cell("absorption_voltage")
    if not isinstance(equalise, Figure) or not isinstance(absorption, Figure):
        return False
    return equalise.value < absorption.value


def _cuts(draft: Draft) -> Iterator[Order]:
    top, maximum = highest_charge(draft), bus_maximum(draft)
    if top is None:
        return
    yield Order("charge-under-maximum", ("bank",), top, maximum)
    setting = "charge_disconnect_voltage"
    for device, value in _held(draft, setting):
        yield Order("charge-under-cut", (device.id,), top, value, mover=Mover(device, setting, "up"))
        yield Order("cut-under-maximum", (device.id,), value, maximum, mover=Mover(device, setting, "down"))
        back = draft.value(device.id, "charge_reconnect_voltage")
        if back is not None:
            mover = Mover(device, "charge_reconnect_voltage", "down")
            yield Order("charge-reconnect-under-cut", (device.id,), back, value, mover=mover)


def _temperatures(draft: Draft) -> Iterator[Order]:
    for device, value in _held(draft, "charge_low_temperature"):
        high = draft.value(device.id, "charge_high_temperature")
        if high is not None:
            yield Order("charge-temperatures", (device.id,), value, high)


def _monitors(draft: Draft) -> Iterator[Order]:
    low = lowest(draft, "absorption")
    for device, value in _held(draft, "monitor_full_voltage"):
        if low is not None:
            mover = Mover(device, "monitor_full_voltage", "down")
            yield Order("full-under-absorption", (device.id,), value, low, mover=mover)


_GROUPS: Final[tuple[Callable[[Draft], Iterator[Order]], ...]] = (
    _disconnects,
    _reconnects,
    _states,
    _starts,
    _stages,
    _cuts,
    _temperatures,
    _monitors,
)
