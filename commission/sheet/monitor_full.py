"""When a monitor takes the bank for full: voltage, current and time, against what the chargers do."""

from __future__ import annotations

from typing import Final

from commission.figure import Figure, Quantity, Unknown, given, greatest, least
from commission.formulas.charging import end_current, per_cell, sum_of_currents
from commission.formulas.conductors import voltage_after_drop
from commission.formulas.monitor import full_current, full_voltage
from commission.formulas.monitor_full import current_fall_time_constant, time_at_low_current
from commission.formulas.setpoints import temperature_for_limit
from commission.plant.plant import Plant
from commission.plant.site import DirectCurrentSource, Monitor
from commission.sheet.bank_state import COMMON, attempted, capacity, cells, whole
from commission.sheet.cables import cable_resistance, path_to_bank, shared_series
from commission.sheet.draft import Draft
from commission.sheet.gaps import run_gap
from commission.sheet.reached import highest_float, reached
from commission.sheet.settling import not_checked, settled
from commission.sheet.types import Finding
from commission.units import show, show_time

_TIME: Final = given(180.0, "s", "time for which voltage and current must hold", source=COMMON)
_TIME_CONSTANT: Final = given(
    3600.0,
    "s",
    "time constant of the current's fall, the shortest met",
    source="logged charges of a sealed lead bank: 3600 to 5800 s",
)
_WARMEST: Final = given(40.0, "°C", "warmest room that a bank is kept in", source=COMMON)
_NO_DROP: Final = given(0.0, "Ω", "no run between: it senses at the posts", source=COMMON)


def settle_full(draft: Draft, monitor: Monitor, zero: Quantity) -> None:
    """Settle at which voltage, current and time the monitor takes the bank for full."""
    current = _current(draft, zero)
    voltage = _voltage(draft, current)
    note = _note(draft.plant)
    if voltage is not None:
        held = settled(draft, monitor, "monitor_full_voltage", voltage, high=voltage, note=note)
        _check_gap(draft, monitor, held)
    low = bank_end_current(draft)
    settled(draft, monitor, "monitor_full_current", current, low=low, side="up", note=note)
    _time(draft, monitor, current)


def _note(plant: Plant) -> str:
    management = plant.bank.management
    if management is not None and management.data_link is True:
        return "the battery's own count is the authority, this shunt a witness"
    return ""


def _voltage(draft: Draft, current: Quantity) -> Quantity | None:
    """Return the monitor's full voltage; None where nothing charges over the DC bus."""
    plant = draft.plant
    at_posts = [
        value
        for device in plant.sources
        if (value := _absorption_at_posts(draft, device, current)) is not None
    ]
    if not at_posts:
        return None
    lowest = least("lowest absorption at the posts, hottest battery", *at_posts)
    return full_voltage.of("full voltage of the monitor", absorption=lowest, nominal_voltage=_nominal(plant))


def _nominal(plant: Plant) -> Quantity:
    """Return the nominal voltage of the system as its devices state it: 48 V for 16 lithium cells as well."""
    return least(
        "nominal voltage of the system",
        *(plant.rating(device, "nominal_voltage") for device in plant.sources),
        whole(plant, "nominal_cell_voltage"),
    )


def _absorption_at_posts(draft: Draft, device: DirectCurrentSource, current: Quantity) -> Quantity | None:
    """Return what the bank gets in absorption at the hottest battery when the current has fallen."""
    value = reached(draft, device, "absorption", "hottest")
    if value is None:
        return None
    return voltage_after_drop.of(
        f"absorption of {device.label} at the posts, hottest battery",
        voltage=value,
        current=current,
        resistance=_run(draft.plant, device),
    )


def _run(plant: Plant, device: DirectCurrentSource) -> Quantity:
    if plant.source_class(device).senses_voltage == "remote":
        return _NO_DROP
    path = path_to_bank(plant, device.id)
    if path is None:
        return Unknown((run_gap(device),), "Ω", "run")
    first, *others = (cable_resistance(run) for run in path)
    return shared_series(f"cables of {device.label} at 20 °C", first, others)


def bank_end_current(draft: Draft) -> Quantity | None:
    """Return the current into the bank at which absorption ends; None where it never falls to a known share.

    The greatest of what the chargers hold, each referred to the bank: those that compare with their own
    output together, one that measures the bank by itself. The profile's share of the capacity where all
    are off.
    """
    plant = draft.plant
    own: list[Quantity] = []
    of_bank: list[Quantity] = []
    for device in plant.sources:
        held = draft.value(device.id, "absorption_end_current")
        ability = draft.ability(device, "absorption_end_current")
        if held is None or ability is None:
            continue
        reference = ability.reference or plant.source_class(device).end_current_reference
        (of_bank if reference == "bank" else own).append(held)
    if not plant.has_stage("end_current"):
        return None
    candidates = [sum_of_currents.of("end currents of the chargers together", currents=own)] if own else []
    candidates += of_bank
    if candidates:
        return greatest("end current of the bank", *candidates)
    return end_current.of(
        "end current of the bank, by the profile", share=plant.cell("end_current"), capacity=capacity(plant)
    )


def _current(draft: Draft, zero: Quantity) -> Quantity:
    plant = draft.plant
    ends = bank_end_current(draft)
    if ends is None:
        flowing = end_current.of(
            "charge current that flows to the end",
            share=plant.cell("charge_rate_recommended"),
            capacity=capacity(plant),
        )
        ends = flowing.named(
            "charge current that flows to the end: it does not taper, voltage and time decide"
        )
    return full_current.of(
        "full current of the monitor", end_current=ends, capacity=capacity(plant), shunt_zero=zero
    )


def _check_gap(draft: Draft, monitor: Monitor, held: Quantity | None) -> None:
    """Find a full voltage that the float of the coldest battery reaches as well."""
    top = highest_float(draft)
    if top is None or held is None:
        return
    both = greatest("full voltage and float", held, top)
    if not_checked(draft, "full-voltage-gap", (monitor.id,), both):
        return
    assert isinstance(held, Figure) and isinstance(top, Figure)  # noqa: S101, PT018 - checked above
    if held.value > top.value + 1e-9:
        return
    passes = _warmest_gap(draft.plant, held)
    units = draft.plant.site.site.units
    where = show(passes.value, "°C", units, 0) if isinstance(passes, Figure) else "its mean"
    warm = isinstance(passes, Figure) and passes.value > _WARMEST.value
    draft.find(
        Finding(
            "advise",
            "full-voltage-gap",
            (monitor.id,),
            f"{monitor.label} takes the bank for full from {held.value:.2f} V, and float reaches "
            f"{top.value:.2f} V at the coldest battery: voltage alone does not tell full from float",
            (
                "current and time decide, and every full count is looked at twice: no battery room is so "
                "warm "
                "that voltage alone could tell"
                if warm
                else f"a battery room kept warmer than {where} all year; until then current and time decide, "
                "and a full count in cold weather is looked at twice"
            ),
            value=held,
            limit=top,
            passes=None if warm else passes,
            setting="monitor_full_voltage",
        )
    )


def _warmest_gap(plant: Plant, held: Figure) -> Quantity | None:
    """Return the battery temperature over which float stays under the monitor's full voltage."""
    slope = plant.cell("temperature_slope")
    if not plant.has_stage("float_voltage") or not isinstance(slope, Figure) or slope.value >= 0:
        return None
    return temperature_for_limit.of(
        "battery temperature over which a gap is left",
        limit=held,
        cells=cells(plant),
        reference=per_cell.of(bank_voltage=whole(plant, "float_voltage"), cells=cells(plant)),
        slope=slope,
        temperature_reference=plant.cell("temperature_reference"),
    )


def _time(draft: Draft, monitor: Monitor, current: Quantity) -> None:
    """Settle the time, and check it against how long a charger stays at so low a current."""
    if not draft.plant.has_stage("end_current"):
        _time_alone(draft, monitor)
        return
    stays = time_at_low_current_of(draft, current)
    known = isinstance(stays, Figure)
    wanted = least("time for full", _TIME, stays) if stays is not None and known else _TIME
    held = settled(draft, monitor, "monitor_full_time", wanted, high=stays if known else None)
    if stays is None or held is None:
        return
    both = least("time for full", held, stays)
    if not_checked(draft, "full-time", (monitor.id,), both):
        return
    assert isinstance(held, Figure) and isinstance(stays, Figure)  # noqa: S101, PT018 - checked above
    if held.value < stays.value:
        return
    linked = bool(_note(draft.plant))
    draft.find(
        Finding(
            "advise" if linked else "correct",
            "full-time",
            (monitor.id,),
            f"{monitor.label} wants the low current for {held.value:.0f} s, a charger leaves absorption "
            f"after about {stays.value:.0f} s of it: the bank is never counted full",
            f"a time under {stays.value:.0f} s, or absorption ended by time and not by current",
            value=held,
            limit=stays,
            passes=stays,
            setting="monitor_full_time",
        )
    )


def _time_alone(draft: Draft, monitor: Monitor) -> None:
    """Settle the longest time where the current does not taper: full is then told by voltage alone."""
    ability = draft.ability(monitor, "monitor_full_time")
    if ability is None or ability.high is None:
        return
    most = given(ability.high, "s", f"longest time that {monitor.label} takes", kind="profile")
    wanted = least("time for full, as long as it can be", most, draft.plant.cell("absorption_time"))
    held = settled(draft, monitor, "monitor_full_time", wanted)
    if not isinstance(held, Figure):
        return
    draft.find(
        Finding(
            "advise",
            "full-by-voltage-alone",
            (monitor.id,),
            f"this chemistry's current does not taper: {monitor.label} takes the bank for full after "
            f"{show_time(held.value)} at its full voltage, whatever is still missing",
            "set its count to full by hand when absorption has ended, and look at it twice in between",
            value=held,
            setting="monitor_full_time",
        )
    )


def time_at_low_current_of(draft: Draft, current: Quantity) -> Quantity | None:
    """Return how long the current stays under the monitor's before the end current ends absorption.

    None where time ends absorption everywhere: it then stays low to the end.
    """
    plant = draft.plant
    live = [draft.value(device.id, "absorption_end_current") for device in plant.sources]
    ends = bank_end_current(draft)
    if ends is None or all(value is None for value in live) or not plant.has_stage("floor_current"):
        return None
    name = "time at low current before absorption ends"
    share = plant.cell("floor_current")
    floor = (
        share.in_unit("A")
        if isinstance(share, Figure) and share.value == 0
        else end_current.of("current that still flows when full", share=share, capacity=capacity(plant))
    )
    return attempted(
        lambda: time_at_low_current.of(
            name,
            full_current=current,
            end_current=ends,
            floor_current=floor,
            time_constant=_time_constant(plant),
        ),
        "s",
        name,
    )


def _time_constant(plant: Plant) -> Quantity:
    """Return how fast the current falls in absorption: as logged for lead, else by the cell's slope."""
    if plant.battery.family == "lead":
        return _TIME_CONSTANT
    curve = plant.battery.open_circuit_voltage
    where, source = f"{plant.battery.id}.open_circuit_voltage", f"{curve.source}; {curve.known}"
    span, rise = curve.states[-1] - curve.states[-2], curve.values[-1] - curve.values[-2]
    return current_fall_time_constant.of(
        "time constant of the current's fall near full",
        resistance_capacity=plant.cell("resistance_capacity"),
        span=given(span, "1", "last rows of the table, part of the charge", kind="profile", where=where),
        rise=given(rise, "V", "last rows of the table, rise", kind="profile", where=where, source=source),
    )
