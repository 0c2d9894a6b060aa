"""How long the stages last and by which current they end; when a charge begins anew."""

from __future__ import annotations

from typing import Final

from commission.figure import Figure, Quantity, Unknown, given, greatest, least
from commission.formulas.bank import bank_capacity, bank_voltage
from commission.formulas.charging import end_current, scaled_current
from commission.formulas.lead_acid import rested_voltage_from_table
from commission.formulas.rounding import in_device_basis
from commission.formulas.setpoints import lowered, reduction
from commission.plant.equipment import Ability
from commission.plant.plant import Plant, datasheet_gap, fact
from commission.plant.site import DirectCurrentSource
from commission.plant.values import UNKNOWN
from commission.sheet.draft import Draft, Side
from commission.sheet.known import not_checked
from commission.sheet.types import Finding

_COMMON: Final = "common practice"
_RECHARGE_STATE: Final = given(0.85, "1", "state of charge at which a charge begins anew", source=_COMMON)
_UNDER_FLOAT: Final = given(50.0, "mV", "distance of one cell under float", source=_COMMON)
_RECHARGE_DELAY: Final = given(300.0, "s", "delay before a charge begins anew", source=_COMMON)
_FLOOR_MARGIN: Final = 1.3
_LEAST_TIME: Final = 0.25
_EQUALIZE_RATE: Final = given(
    0.05, "1", "equalise current, share of capacity", source=f"ZVEI practice; {_COMMON}"
)


def settle_times(draft: Draft) -> None:
    """Settle times, end currents and recharge of every source."""
    for device in draft.plant.sources:
        _absorption_times(draft, device)
        _end_current(draft, device)
        _equalize(draft, device)
        _recharge(draft, device)
    _longest_day(draft)


def bank_ampere_hours(plant: Plant) -> Quantity:
    """Return the capacity of all strings together as the site file rates it, in Ah."""
    capacity = fact(plant.bank, "capacity", "bank")
    return bank_capacity.of("capacity of the bank", capacity=capacity, strings=float(len(plant.bank.strings)))


def _absorption_times(draft: Draft, device: DirectCurrentSource) -> None:
    plant = draft.plant
    side: Side = "down" if plant.battery.family == "lithium" else "up"
    time = plant.cell("absorption_time")
    low, _ = plant.cell_range("absorption_time")
    held = draft.number(
        device, "absorption_time", time, low=low, high=plant.cell("absorption_time_limit"), side=side
    )
    least_time = scaled_current.of("least absorption time", current=held or time, count=_LEAST_TIME).in_unit(
        "s"
    )
    draft.number(device, "absorption_time_least", least_time, high=held)


def _longest_day(draft: Draft) -> None:
    """Check the longest of all absorptions plus one restart against what the battery stands in a day."""
    times = [draft.value(device.id, "absorption_time") for device in draft.plant.sources]
    known = [time for time in times if time is not None]
    if not known:
        return
    longest = scaled_current.of(
        "longest absorption and one restart", current=greatest("longest absorption", *known), count=2.0
    ).in_unit("s")
    limit = draft.plant.cell("absorption_time_limit")
    if not isinstance(longest, Figure) or not isinstance(limit, Figure) or longest.value <= limit.value:
        return
    half = scaled_current.of("absorption time that passes", current=limit, count=0.5).in_unit("s")
    draft.find(
        Finding(
            "advise",
            "longest-day-in-absorption",
            ("bank",),
            f"absorption and one restart come to {longest.value / 3600:.1f} h, "
            f"{limit.value / 3600:.1f} h in a day is the most for this battery",
            f"absorption time of {(half.value if isinstance(half, Figure) else 0.0) / 3600:.1f} h, or an end "
            "current that ends it sooner",
            value=longest,
            limit=limit,
            passes=half,
        )
    )


# end current


def _end_current(draft: Draft, device: DirectCurrentSource) -> None:
    ability = draft.ability(device, "absorption_end_current")
    if ability is None:
        return
    if not draft.plant.has_stage("end_current"):
        _no_end_current(
            draft, device, ability, "this chemistry's current does not taper: time ends absorption"
        )
        return
    total = bank_ampere_hours(draft.plant)
    of_bank = end_current.of("end current of the bank", share=draft.plant.cell("end_current"), capacity=total)
    reference = _reference(draft, device, ability)
    if reference == UNKNOWN:
        name = f"what {device.label} compares its end current with"
        gap = datasheet_gap(device, "end_current_reference", name)
        draft.number(device, "absorption_end_current", Unknown((gap,), "A", "end current"))
        draft.find(not_checked("end-current-reference", (device.id,), (gap,)))
        return
    if reference == "bank" or _alone(draft.plant):
        _settle_end(draft, device, ability, of_bank, total)
    elif ability.off:
        note = "it measures its own output beside other sources or loads: time ends absorption"
        draft.word(device, "absorption_end_current", "off", note=note)
    else:
        sources = float(len(draft.plant.sources))
        name = "end current shared by the sources"
        share = in_device_basis.of(name, bank_value=of_bank, count=sources).in_unit("A")
        _settle_end(draft, device, ability, share, total)


def _reference(draft: Draft, device: DirectCurrentSource, ability: Ability) -> str:
    return ability.reference or draft.plant.source_class(device).end_current_reference


def _alone(plant: Plant) -> bool:
    """Whether a device's own output is what flows into the bank: no other source and no DC load."""
    others = len(plant.sources) > 1 or plant.site.ac_pv_inverters
    return not others and not any(load.current == "dc" for load in plant.site.loads)


def _settle_end(
    draft: Draft, device: DirectCurrentSource, ability: Ability, wanted: Quantity, total: Quantity
) -> None:
    """Settle an end current; one under the floor that still flows when full would never be reached."""
    floor = _floor(draft.plant, total)
    lead = draft.plant.battery.family == "lead"
    side: Side = "down" if lead else "up"
    if floor is None:
        draft.number(device, "absorption_end_current", wanted, side=side)
        return
    held = draft.number(device, "absorption_end_current", wanted, low=floor, side=side)
    if not isinstance(held, Figure) or not isinstance(floor, Figure) or held.value >= floor.value - 1e-9:
        return
    raised = draft.number(device, "absorption_end_current", floor, low=floor, side="up")
    reached = raised.value if isinstance(raised, Figure) else floor.value
    if isinstance(wanted, Figure) and wanted.value < floor.value:
        draft.find(
            Finding(
                "advise",
                "end-current-under-floor",
                (device.id,),
                f"{device.label}: an end current of {wanted.value:.1f} A would never be reached, "
                f"{floor.value / _FLOOR_MARGIN:.1f} A still flow when the bank is full",
                f"{reached:.1f} A is set; the time limit ends absorption",
                value=wanted,
                limit=floor,
                passes=raised,
                setting="absorption_end_current",
            )
        )


def _floor(plant: Plant, total: Quantity) -> Quantity | None:
    if not plant.has_stage("floor_current"):
        return None
    share = plant.cell("floor_current")
    flowing = end_current.of("current that still flows when full", share=share, capacity=total)
    return scaled_current.of(
        "1.3 × the current that still flows when full", current=flowing, count=_FLOOR_MARGIN
    )


def _no_end_current(draft: Draft, device: DirectCurrentSource, ability: Ability, note: str) -> None:
    if ability.off:
        draft.word(device, "absorption_end_current", "off", note=note)
        return
    bottom = ability.low if ability.low is not None else 0.0
    least_value = given(
        bottom, ability.unit, "least that the device takes", kind="profile", where=device.profile
    )
    draft.number(device, "absorption_end_current", least_value, note=note)


# equalise


def _equalize(draft: Draft, device: DirectCurrentSource) -> None:
    plant = draft.plant
    if plant.has_stage("equalize_voltage"):
        low, high = plant.cell_range("equalize_time")
        draft.number(device, "equalize_time", plant.cell("equalize_time"), low=low, high=high)
        low, high = plant.cell_range("equalize_interval")
        draft.number(device, "equalize_interval", plant.cell("equalize_interval"), low=low, high=high)
        limit = end_current.of("equalise current", share=_EQUALIZE_RATE, capacity=bank_ampere_hours(plant))
        draft.number(device, "equalize_current_limit", limit)
        return
    note = "this chemistry is not equalised"
    for setting, end in (
        ("equalize_time", "low"),
        ("equalize_current_limit", "low"),
        ("equalize_interval", "high"),
    ):
        _harmless(draft, device, setting, end, note)


def _harmless(draft: Draft, device: DirectCurrentSource, setting: str, end: str, note: str) -> None:
    """Switch a setting off, else put it to the end of its range that does least."""
    ability = draft.ability(device, setting)
    if ability is None:
        return
    if ability.off:
        draft.word(device, setting, "off", note=note)
        return
    value = ability.low if end == "low" else ability.high
    if value is not None:
        word = "least" if end == "low" else "greatest"
        name = f"{word} that the device takes"
        draft.number(
            device, setting, given(value, ability.unit, name, kind="profile", where=device.profile), note=note
        )


# recharge


def _recharge(draft: Draft, device: DirectCurrentSource) -> None:
    plant = draft.plant
    draft.number(device, "recharge_delay", _RECHARGE_DELAY)
    draft.number(device, "recharge_state_of_charge", _RECHARGE_STATE)
    rested = bank_voltage.of(
        "rested voltage at 85 % charge",
        cells=plant.bank.cells,
        cell_voltage=rested_cell(plant, _RECHARGE_STATE),
    )
    under = _hold(draft, device)
    if under is None:
        draft.number(device, "recharge_voltage", rested)
        return
    by = reduction.of("distance under float, whole bank", cells=plant.bank.cells, millivolts=_UNDER_FLOAT)
    bound = lowered.of("float less 50 mV a cell", value=under, by=by)
    draft.number(device, "recharge_voltage", least("recharge voltage", rested, bound), high=bound)


def _hold(draft: Draft, device: DirectCurrentSource) -> Quantity | None:
    """Return what the source holds after absorption at its lowest: float, at the hottest battery."""
    reached = draft.numbers.get(f"float_hottest:{device.id}")
    return reached if reached is not None else draft.value(device.id, "float_voltage")


def rested_cell(plant: Plant, state: Figure) -> Quantity:
    """Return the rested voltage of one cell at a state of charge, from the battery's table."""
    states, voltages = plant.rested_table
    name = f"rested voltage of one cell at {state.value:.0%} charge"
    return rested_voltage_from_table.of(name, state=state, states=states, voltages=voltages)
