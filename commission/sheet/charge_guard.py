"""Guards of charging: the voltage and the battery temperatures beyond which a source must stop."""

from __future__ import annotations

from typing import Final

from commission.figure import Figure, Quantity, given, greatest, least
from commission.formulas.bank import bank_voltage
from commission.formulas.lithium import charge_margin_voltage
from commission.formulas.load_control import charge_cut_voltage, threshold_below
from commission.formulas.setpoints import steps_below
from commission.plant.plant import Plant, fact
from commission.plant.site import Device, DirectCurrentSource
from commission.sheet.bank_state import COMMON, cells, whole
from commission.sheet.draft import Draft, Side
from commission.sheet.reached import bus_maximum, highest_charge, lowest
from commission.sheet.settling import not_checked, reachable, settled, side_within
from commission.sheet.types import Finding

_OVER: Final = given(0.02, "1", "distance of the cut over the highest charging voltage", source=COMMON)
_MARGIN: Final = given(0.050, "V", "margin of one cell under the cut-off", source=COMMON)
_HYSTERESIS: Final = given(0.05, "V", "hysteresis of the charge disconnect, one cell", source=COMMON)


def settle_charge_guard(draft: Draft) -> None:
    """Settle where charging is cut for voltage and for temperature, on every device that can."""
    for device in draft.plant.devices:
        _voltage(draft, device)
        _temperatures(draft, device)
    _check_cold_charging(draft)


def _voltage(draft: Draft, device: Device) -> None:
    if draft.ability(device, "charge_disconnect_voltage") is None:
        return
    wanted, high = cut_voltage(draft, device)
    low = highest_charge(draft)
    side: Side = "down"
    if draft.plant.battery.family != "lithium":
        side = side_within(draft, device, "charge_disconnect_voltage", wanted, (low, high), hard=True)
    held = settled(draft, device, "charge_disconnect_voltage", wanted, low=low, high=high, side=side)
    _check_room(draft, device, held, low)
    _back(draft, device, held or wanted)


def cut_voltage(draft: Draft, device: Device) -> tuple[Quantity, Quantity]:
    """Return where charging is to be cut, and the highest voltage at which it may be."""
    maximum = steps_below.of(
        "one step under the least device maximum",
        limit=bus_maximum(draft),
        steps=1.0,
        step=_step_of(draft, device),
    )
    if draft.plant.battery.family == "lithium":
        high = least("highest charge disconnect", lithium_cut(draft.plant), maximum)
        return high, high
    top = highest_charge(draft)
    if top is None:
        return maximum, maximum
    over = charge_cut_voltage.of("2 % over the highest charging voltage", highest=top, margin=_OVER)
    return least("charge disconnect", over, maximum), maximum


def _step_of(draft: Draft, device: Device) -> Figure:
    ability = draft.ability(device, "charge_disconnect_voltage")
    step = 0.0 if ability is None or ability.step is None else ability.step * draft.count(device, ability)
    where = f"{draft.plant.equipment[device.id].id}.settings.charge_disconnect_voltage"
    return given(step, "V", f"step of {device.label}, whole bank", kind="profile", where=where)


def lithium_cut(plant: Plant) -> Quantity:
    """Return where charging of a lithium bank is cut: cut-off less margin, the ceiling where none is told."""
    management = plant.bank.management
    told = None if management is None else fact(management, "cut_off_high", "bank.management")
    if management is None or not isinstance(told, Figure):
        return whole(plant, "ceiling_voltage")
    own = fact(management, "margin", "bank.management")
    return charge_margin_voltage.of(
        "cut-off less its margin",
        cells=cells(plant),
        cell_limit=told,
        margin=own if isinstance(own, Figure) else _MARGIN,
    )


def _check_room(draft: Draft, device: Device, held: Quantity | None, top: Quantity | None) -> None:
    """Find a cut less than one step over the highest charging voltage; one under it breaks an order."""
    if not isinstance(held, Figure) or not isinstance(top, Figure):
        return
    step = _step_of(draft, device).value
    if held.value - top.value >= step - 1e-9 or held.value <= top.value + 1e-9:
        return
    least_cut = given(top.value + max(step, 0.1), "V", "highest charging voltage and one step", source=COMMON)
    short = least_cut.value - held.value
    draft.find(
        Finding(
            "correct",
            "no-room-for-charge-disconnect",
            (device.id,),
            f"charging is cut at {held.value:.2f} V on {device.label}, sources reach {top.value:.2f} V: less "
            "than one step is left",
            f"charging voltages lower by {short:.2f} V, or equipment that lets charging be cut at "
            f"{least_cut.value:.2f} V",
            value=held,
            limit=top,
            passes=least_cut,
            setting="charge_disconnect_voltage",
        )
    )


def _back(draft: Draft, device: Device, cut: Quantity) -> None:
    """Settle where charging begins again: once the bank is back at float, or clear of the cut."""
    plant = draft.plant
    by = bank_voltage.of("hysteresis of the charge disconnect", cells=cells(plant), cell_voltage=_HYSTERESIS)
    clear = threshold_below.of("clear of the charge disconnect", value=cut, by=by)
    held = lowest(draft, "float")
    wanted = clear if held is None else least("return of charging", held, clear)
    settled(draft, device, "charge_reconnect_voltage", wanted, high=clear)


def _temperatures(draft: Draft, device: Device) -> None:
    if draft.ability(device, "charge_low_temperature") is not None:
        low = low_temperature(draft.plant)
        wanted = reachable(draft, device, "charge_low_temperature", low, "low")
        settled(draft, device, "charge_low_temperature", wanted, low=low)
    if draft.ability(device, "charge_high_temperature") is not None:
        high = high_temperature(draft.plant)
        wanted = reachable(draft, device, "charge_high_temperature", high, "high")
        settled(draft, device, "charge_high_temperature", wanted, high=high)


def low_temperature(plant: Plant) -> Quantity:
    """Return the battery temperature under which charging is blocked."""
    value = plant.cell("charge_temperature_low")
    told = _told(plant, "charge_low_temperature")
    return value if told is None else greatest("charging is blocked under", value, told)


def high_temperature(plant: Plant) -> Quantity:
    """Return the battery temperature over which charging is blocked."""
    value = plant.cell("charge_temperature_high")
    told = _told(plant, "charge_high_temperature")
    return value if told is None else least("charging is blocked over", value, told)


def _told(plant: Plant, field: str) -> Figure | None:
    management = plant.bank.management
    found = None if management is None else fact(management, field, "bank.management")
    return found if isinstance(found, Figure) else None


def _check_cold_charging(draft: Draft) -> None:
    """Find lithium that gets colder than it may be charged, and sources that nothing then stops."""
    plant = draft.plant
    if plant.battery.family != "lithium" or not plant.sources:
        return
    open_sources = tuple(source for source in plant.sources if not _blocks(draft, source))
    if not open_sources or _told(plant, "charge_low_temperature") is not None:
        return
    coldest = fact(plant.site.site, "coldest_battery", "site")
    parts = tuple(source.id for source in open_sources)
    if not_checked(draft, "charging-in-the-cold", parts, coldest):
        return
    limit = low_temperature(plant)
    if not isinstance(coldest, Figure) or not isinstance(limit, Figure) or coldest.value >= limit.value:
        return
    if plant.bank.management is not None:
        gap = fact(plant.bank.management, "charge_low_temperature", "bank.management")
        not_checked(draft, "charging-in-the-cold", parts, gap)
        return
    names = ", ".join(source.label for source in open_sources)
    draft.find(
        Finding(
            "correct",
            "charging-in-the-cold",
            parts,
            f"the bank gets as cold as {coldest.value:g} °C, charging under {limit.value:g} °C destroys its "
            f"cells, and nothing stops {names}",
            f"a block of charging under {limit.value:g} °C on every source, or the room kept over "
            f"{limit.value:g} °C",
            value=coldest,
            limit=limit,
            passes=limit,
        )
    )


def _blocks(draft: Draft, source: DirectCurrentSource) -> bool:
    return draft.ability(source, "charge_low_temperature") is not None
