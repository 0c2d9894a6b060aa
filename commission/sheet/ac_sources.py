"""What each charger may take from its AC sources, and the charge current that this feeds."""

from __future__ import annotations

from typing import Final

from commission.figure import Figure, Gap, Quantity, Unknown, given, least
from commission.formulas.ac_input import drawn_power
from commission.formulas.bank import bank_voltage
from commission.formulas.charging import scaled_current, sum_of_currents
from commission.formulas.generator import charge_current_from_budget
from commission.plant.equipment import Input
from commission.plant.plant import Plant, datasheet_gap
from commission.plant.site import InverterCharger
from commission.plant.values import UNKNOWN
from commission.sheet.ac_windows import settle_windows
from commission.sheet.draft import Draft
from commission.sheet.known import gaps, least_known, not_checked
from commission.sheet.run_limits import protection_limit
from commission.sheet.supplies import (
    Supply,
    drawn_legs,
    group_on,
    group_part,
    leg_currents,
    leg_part,
    less_load,
    load_current,
    sharing_on,
    supply_of,
)
from commission.sheet.types import Finding
from commission.units import show

_SETTING: Final = "ac_input_current_limit"
_KINDS: Final[tuple[Input, ...]] = ("generator", "utility")


def settle_ac_sources(draft: Draft) -> None:
    """Settle the current taken from each AC source and the windows in which it is accepted.

    Leaves in ``draft.numbers`` for each device and AC source ``ac_feed:DEVICE:SOURCE``: A into the bank that
    the source can feed through the device at the highest absorption that the device will hold.
    """
    for device in draft.plant.site.inverter_chargers:
        settle_windows(draft, device)
        supplies = [supply for kind in _KINDS if (supply := supply_of(draft.plant, device, kind))]
        if not supplies:
            continue
        wanted = {supply.kind: _wanted(draft, device, supply) for supply in supplies}
        _settle_limit(draft, device, wanted)
        for supply in supplies:
            _settle_feed(draft, device, supply, wanted[supply.kind])


def _settle_limit(draft: Draft, device: InverterCharger, wanted: dict[Input, Quantity]) -> None:
    ability = draft.ability(device, _SETTING)
    if ability is None or draft.plant.inverter_class(device).ac_limit_counts == "none":
        return
    if not ability.per_input:
        both = least(f"current that {device.label} takes from either source", *wanted.values())
        _settle_one(draft, device, None, both)
        return
    for kind, value in wanted.items():
        _settle_one(draft, device, kind, value)


def _settle_one(draft: Draft, device: InverterCharger, kind: Input | None, wanted: Quantity) -> None:
    held = draft.number(device, _SETTING, wanted, input_=kind, high=wanted, note=_why(wanted))
    if not isinstance(held, Figure) or not isinstance(wanted, Figure) or held.value <= wanted.value + 1e-6:
        return
    sources = device.inputs.values() if kind is None else [device.inputs[kind]]
    draft.find(
        Finding(
            "correct",
            "ac-limit-over-source",
            (device.id, *sources),
            f"{device.label} cannot be set under {show(held.value, 'A')}; its source stands "
            f"{show(wanted.value, 'A')} for long ({wanted.binding().name})",
            f"a source that gives it {show(held.value, 'A')} for long, or less load meanwhile",
            value=held,
            limit=wanted,
            passes=held.named("current that the source must give"),
            setting=_SETTING,
        )
    )


def _why(value: Quantity) -> str:
    return f"bound by {value.binding().name}" if isinstance(value, Figure) else ""


def _wanted(draft: Draft, device: InverterCharger, supply: Supply) -> Quantity:
    """Return the limit for one input in A per leg, before rounding, as the device counts it.

    What the set may give for long, or a public supply's breaker, must be known: no other limit stands for it.
    """
    plant, found = draft.plant, draft.plant.inverter_class(device)
    name = f"current that {device.label} takes from {supply.part.label}"
    parts = (device.id, supply.part.id)
    legs = drawn_legs(plant, device, supply)
    if isinstance(legs, Unknown):
        draft.find(not_checked("ac-source", parts, legs.missing))
        return Unknown(legs.missing, "A", name)
    _tell_unknown_kind(draft, device, supply)
    whole = found.ac_limit_counts == "whole input"
    grouped = found.ac_limit_per == "group"
    candidates = _of_source(plant, device, supply, whole=whole, grouped=grouped)
    own = candidates[0]
    if isinstance(own, Unknown):
        draft.find(not_checked("ac-source", parts, own.missing))
        return Unknown(own.missing, "A", name)
    candidates += _of_device(plant, device, supply, whole=whole, grouped=grouped)
    candidates += _range_end(draft, device)
    return least_known(draft, name, candidates, check="ac-source", parts=parts)


def _tell_unknown_kind(draft: Draft, device: InverterCharger, supply: Supply) -> None:
    """Say what is not known of the way the device counts; the cautious way is taken meanwhile."""
    found, missing = draft.plant.inverter_class(device), []
    if found.ac_limit_counts == UNKNOWN:
        name = f"whether the AC input limit of {device.label} counts loads that pass through"
        missing.append(datasheet_gap(device, "ac_limit_counts", name))
    if found.ac_limit_per == UNKNOWN and len(group_on(draft.plant, supply, device)) > 1:
        name = f"whether the AC input limit of {device.label} holds for the unit or its group"
        missing.append(datasheet_gap(device, "ac_limit_per", name))
    if missing:
        draft.find(not_checked("ac-limit-kind", (device.id,), missing))
    if supply.connection == UNKNOWN:
        gap = Gap(f"connection of {supply.part.label}", f"{supply.part.where}.connection")
        draft.find(not_checked("ac-connection", (supply.part.id,), (gap,)))


def _of_source(
    plant: Plant, device: InverterCharger, supply: Supply, *, whole: bool, grouped: bool
) -> list[Quantity]:
    """Return a device's or its group's part in what its legs give, once for each thing that limits."""
    made = []
    members = group_on(plant, supply, device) if grouped else [(device, drawn_legs(plant, device, supply))]
    drawn = {leg for _, legs in members if isinstance(legs, tuple) for leg in legs}
    sharing = {leg: sharing_on(plant, supply, leg) for leg in drawn}
    for current in leg_currents(plant, supply, device):
        free = current if whole else less_load(current, load_current(supply))
        on_legs: dict[str, list[Quantity]] = {}
        for unit, legs in members:
            for leg in dict.fromkeys(legs if isinstance(legs, tuple) else ()):
                on_legs.setdefault(leg, []).append(sharing[leg].part(unit, free))
        sums = [_together(f"{free.name}, group of {device.label}", parts) for parts in on_legs.values()]
        made.append(sums[0] if len(sums) == 1 else least(free.name, *sums))
    return made


def _range_end(draft: Draft, device: InverterCharger) -> list[Quantity]:
    ability = draft.ability(device, _SETTING)
    if ability is None or ability.high is None or ability.fixed is not None:
        return []
    where = f"{device.profile}.settings.{_SETTING}"
    name = f"greatest that {device.label} can be set to"
    return [given(ability.high, "A", name, kind="profile", where=where)]


def _together(name: str, parts: list[Quantity]) -> Quantity:
    return parts[0] if len(parts) == 1 else sum_of_currents.of(name, currents=parts)


def _of_device(
    plant: Plant, device: InverterCharger, supply: Supply, *, whole: bool, grouped: bool
) -> list[Quantity]:
    """Return what the device's own input breaker and transfer relay carry, loads passing through both."""
    made: list[Quantity] = []
    breaker = plant.protection_of(device.input_breakers.get(supply.kind))
    if breaker is not None:
        made.append(protection_limit(plant, breaker))
    relay = plant.rating(device, "transfer_current")
    if isinstance(relay, Figure):
        made.append(relay)
    if not whole:
        made = [less_load(limit, _own_load(plant, device, supply)) for limit in made]
    members = group_on(plant, supply, device) if grouped else []
    legs = {leg for _, drawn in members for leg in drawn}
    count = min((sum(leg in drawn for _, drawn in members) for leg in legs), default=1)
    if count < 2:
        return made
    return [
        scaled_current.of(f"{limit.name}, of each unit", current=limit, count=float(count)) for limit in made
    ]


def _own_load(plant: Plant, device: InverterCharger, supply: Supply) -> Quantity:
    """Return the load that passes through a device on each of its legs, in A."""
    legs = drawn_legs(plant, device, supply)
    if isinstance(legs, Unknown):
        return legs
    parts = [leg_part(plant, supply, device, leg, load_current(supply)) for leg in dict.fromkeys(legs)]
    return parts[0] if len(parts) == 1 else least(f"load through {device.label}", *parts)


# what it feeds


def _settle_feed(draft: Draft, device: InverterCharger, supply: Supply, wanted: Quantity) -> None:
    key = f"ac_feed:{device.id}:{supply.part.id}"
    plant = draft.plant
    name = f"charge current that {supply.part.label} feeds through {device.label}"
    legs = drawn_legs(plant, device, supply)
    if isinstance(legs, Unknown):
        draft.numbers[key] = Unknown(legs.missing, "A", name)
        return
    drawn = drawn_power.of(
        f"drawn by {device.label} to charge",
        current=_charger_current(draft, device, supply, wanted),
        voltage=supply.voltage,
        legs=float(len(legs)),
    )
    feed = charge_current_from_budget.of(
        name,
        budget=drawn,
        load=given(0.0, "VA", "load, already subtracted"),
        power_factor=plant.rating(device, "charger_power_factor"),
        efficiency=plant.rating(device, "charger_efficiency"),
        bank_voltage=highest_absorption(draft, device),
    )
    draft.numbers[key] = feed
    parts = (device.id, supply.part.id)
    if isinstance(feed, Unknown):
        draft.find(not_checked("ac-feed", parts, feed.missing))
    elif feed.value <= 0:
        draft.find(_nothing_left(draft, device, supply))


def _charger_current(draft: Draft, device: InverterCharger, supply: Supply, wanted: Quantity) -> Quantity:
    """Return the A on each leg that are the charger's own, with the limit as the device will hold it."""
    plant = draft.plant
    held = draft.value(device.id, _SETTING, supply.kind) or draft.value(device.id, _SETTING) or wanted
    found = plant.inverter_class(device)
    if found.ac_limit_per == "group":
        legs = drawn_legs(plant, device, supply)
        drawn = legs if isinstance(legs, tuple) else ()
        parts = [group_part(plant, supply, device, leg, held) for leg in drawn]
        held = parts[0] if len(parts) < 2 else least(held.name, *parts)
    if found.ac_limit_counts != "whole input":
        return held
    return less_load(held, _own_load(plant, device, supply))


def highest_absorption(draft: Draft, device: InverterCharger) -> Quantity:
    """Return the highest absorption that a device will hold, at the coldest battery, whole bank."""
    reached = draft.numbers.get(f"absorption_coldest:{device.id}")
    if reached is not None:
        return reached
    plant = draft.plant
    return bank_voltage.of(
        "absorption of the whole bank", cells=plant.bank.cells, cell_voltage=plant.cell("absorption_voltage")
    )


def _nothing_left(draft: Draft, device: InverterCharger, supply: Supply) -> Finding:
    """Return the finding that loads take all that a source may give; half is left for the charger by it."""
    plant, source = draft.plant, supply.part
    known = [item for item in leg_currents(plant, supply, device) if isinstance(item, Figure)]
    most = least("current of one leg", *known) if known else Unknown(gaps([supply.voltage]), "A")
    half = scaled_current.of("half of what the leg gives", current=most, count=0.5)
    passes = drawn_power.of(
        f"load on {source.label} that leaves half to the charger",
        current=half,
        voltage=supply.voltage,
        legs=float(supply.legs),
    )
    shown = f"{passes.value:.0f} VA" if isinstance(passes, Figure) else "less"
    return Finding(
        "correct",
        "ac-source-taken-by-loads",
        (device.id, source.id),
        f"the loads that run while {source.label} charges take all that it may give for long: "
        f"nothing is left for {device.label}",
        f"at most {shown} of load meanwhile on all legs, or a greater source",
        value=supply.load,
        limit=most,
        passes=passes,
    )
