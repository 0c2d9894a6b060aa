"""Automatic start and stop of a generator, on the device that starts it.

The start is by voltage under load (several thresholds, the deeper the shorter its delay) and by state of
charge where that is counted; the stop at the lowest absorption that a charger on the set reaches, and at 85 %
charge.
"""

from __future__ import annotations

from typing import Final

from commission.figure import Figure, Gap, Quantity, Unknown, given, greatest
from commission.formulas.charging import end_current, scaled_current
from commission.formulas.generator_control import load_threshold
from commission.formulas.load_control import current_of_power, sum_of_powers, threshold_between
from commission.plant.plant import Plant, datasheet_gap
from commission.plant.site import Device, Generator, InverterCharger
from commission.sheet.bank_state import COMMON, capacity
from commission.sheet.draft import Draft, Side
from commission.sheet.gaps import charger_gap
from commission.sheet.generator_aside import put_generator_aside, starts_of
from commission.sheet.generator_run import STOP_STATE, settle_run_times
from commission.sheet.generator_start import highest_disconnect, settle_start_pairs
from commission.sheet.low_end import charge_is_counted
from commission.sheet.reached import lowest
from commission.sheet.settling import not_checked, put_aside, settled
from commission.sheet.states import states_of
from commission.sheet.thresholds import above, thresholds_of
from commission.sheet.types import Finding

_STOP_DELAY: Final = given(600.0, "s", "time that a stop condition must last", source=COMMON)
_MOST_STOP_DELAY: Final = given(1800.0, "s", "longest that a stop condition must last", source=COMMON)
_START_LOAD: Final = given(0.8, "1", "load that starts a generator, share of the inverters", source=COMMON)
_STOP_LOAD: Final = given(0.6, "1", "load under which it stops, share of the inverters", source=COMMON)
_FLOOR: Final = 1.3
_HALF: Final = 0.5


def settle_generator(draft: Draft) -> None:
    """Settle what starts and stops a generator; on devices that start none, nothing does."""
    _check_starters(draft)
    for device in draft.plant.devices:
        settings = draft.plant.equipment[device.id].settings
        if not any(setting.startswith("generator_") for setting in settings):
            continue
        generators = starts_of(draft.plant, device)
        if generators:
            _settle(draft, device, generators)
        else:
            put_generator_aside(draft, device)


def fed_by(plant: Plant, generators: tuple[Generator, ...]) -> tuple[InverterCharger, ...]:
    """Return the inverter/chargers that have one of some generators on an input."""
    idents = {generator.id for generator in generators}
    return tuple(one for one in plant.site.inverter_chargers if idents & set(one.inputs.values()))


def _settle(draft: Draft, device: Device, generators: tuple[Generator, ...]) -> None:
    settle_start_pairs(draft, device)
    _states(draft, device)
    _loads(draft, device)
    _emergency(draft, device)
    fed = fed_by(draft.plant, generators)
    _stop_voltage(draft, device, generators, fed)
    _stop_current(draft, device)
    settled(draft, device, "generator_stop_delay", _STOP_DELAY, high=_MOST_STOP_DELAY)
    settle_run_times(draft, device, generators, fed)


def _states(draft: Draft, device: Device) -> None:
    if not charge_is_counted(draft.plant):
        note = "nothing on this site counts the charge"
        put_aside(draft, device, "generator_start_state_of_charge", "low", note)
        put_aside(draft, device, "generator_stop_state_of_charge", "high", note)
        return
    start = states_of(draft.plant).start
    settled(draft, device, "generator_start_state_of_charge", start, low=start)
    settled(draft, device, "generator_stop_state_of_charge", STOP_STATE, high=STOP_STATE)


def _loads(draft: Draft, device: Device) -> None:
    for setting, share in (("generator_start_load", _START_LOAD), ("generator_stop_load", _STOP_LOAD)):
        ability = draft.ability(device, setting)
        if ability is not None:
            wanted = _load(draft.plant, device, share, ability.unit)
            settled(draft, device, setting, wanted, note="share of the inverters' continuous rating")


def _load(plant: Plant, device: Device, share: Figure, unit: str) -> Quantity:
    """Return a load in the unit in which a device counts it."""
    if unit == "1":
        return share
    group = _group(plant, device)
    ratings = [plant.rating(one, "continuous_power") for one in group]
    rating = sum_of_powers.of("continuous rating of the inverters", powers=ratings).in_unit("VA")
    name = f"{share.name}, of their rating"
    load = load_threshold.of(name, share=share, rating=rating)
    if unit != "A" or not group:
        return load.in_unit(unit)
    return current_of_power.of(name, power=load, voltage=plant.rating(group[0], "ac_voltage"))


def _group(plant: Plant, device: Device) -> tuple[InverterCharger, ...]:
    """Return the inverters whose load a device counts: its group; all of them for a monitor."""
    inverters = plant.site.inverter_chargers
    if not isinstance(device, InverterCharger):
        return inverters
    if device.group is None:
        return (device,)
    return tuple(one for one in inverters if one.group == device.group)


def _emergency(draft: Draft, device: Device) -> None:
    """Settle the voltage that starts the set even in its no-start hours: half way down to the disconnect."""
    if draft.ability(device, "generator_emergency_voltage") is None:
        return
    found = thresholds_of(draft.plant, device)
    lower = highest_disconnect(draft, found)
    wanted = threshold_between.of("emergency start", low=lower, high=found.start, part=_HALF)
    clear = above(draft.plant, "clear of the load disconnect", lower)
    settled(
        draft,
        device,
        "generator_emergency_voltage",
        greatest("emergency start", wanted, clear),
        low=clear,
        high=found.start,
        note="starts even in the no-start hours",
    )


def _stop_voltage(
    draft: Draft, device: Device, generators: tuple[Generator, ...], fed: tuple[InverterCharger, ...]
) -> None:
    names = ", ".join(generator.label for generator in generators)
    low = lowest(draft, "absorption", fed) if fed else None
    if low is None:
        low = Unknown((charger_gap(names),), "V", "lowest absorption that a fed charger reaches")
    settled(
        draft,
        device,
        "generator_stop_voltage",
        low.named("lowest absorption that a charger on the set reaches"),
        high=low,
        note="absorption of the hottest battery",
    )


def _stop_current(draft: Draft, device: Device) -> None:
    """Settle the end current of the bank, never under what still flows when it is full."""
    plant = draft.plant
    setting = "generator_stop_end_current"
    if not plant.has_stage("end_current"):
        note = "this chemistry's current does not taper: voltage and time stop the set"
        put_aside(draft, device, setting, "low", note)
        return
    total = capacity(plant)
    wanted = end_current.of("end current of the bank", share=plant.cell("end_current"), capacity=total)
    side: Side = "down" if plant.battery.family == "lead" else "up"
    if not plant.has_stage("floor_current"):
        settled(draft, device, setting, wanted, side=side)
        return
    share = plant.cell("floor_current")
    floor = _floor(share, total)
    wanted = greatest("end current of the bank", wanted, floor)
    held = draft.number(device, setting, wanted, side=side)
    if isinstance(held, Figure) and isinstance(floor, Figure) and held.value < floor.value - 1e-9:
        side = "up"
    settled(draft, device, setting, wanted, low=floor, side=side)


def _floor(share: Quantity, total: Quantity) -> Quantity:
    if isinstance(share, Figure) and share.value == 0:
        return share.in_unit("A")
    flowing = end_current.of("current that still flows when full", share=share, capacity=total)
    return scaled_current.of("1.3 × the current that still flows when full", current=flowing, count=_FLOOR)


def _check_starters(draft: Draft) -> None:
    plant = draft.plant
    for generator in plant.site.generators:
        if generator.started_by is not None:
            _check_starter(draft, generator)
    named = {generator.started_by for generator in plant.site.generators}
    for inverter in plant.site.inverter_chargers:
        if inverter.starts_generator and inverter.id not in named:
            draft.find(
                Finding(
                    "correct",
                    "starter-of-no-generator",
                    (inverter.id,),
                    f"{inverter.label} is said to start a generator, and no generator names it in started_by",
                    f"started_by = '{inverter.id}' at the generator, or starts_generator = false",
                )
            )


def _check_starter(draft: Draft, generator: Generator) -> None:
    """Find a set that cannot be started by what the site file names, or that feeds nothing."""
    plant = draft.plant
    starter = next((device for device in plant.devices if device.id == generator.started_by), None)
    if starter is None:
        missing = Gap(f"which device starts {generator.label}", f"{generator.where}.started_by")
        gap = Unknown((missing,), "", "starter")
        not_checked(draft, "generator-starter", (generator.id,), gap)
        return
    kind = plant.generator_class(generator).start_kind
    if kind == "unknown":
        missing = datasheet_gap(generator, "start_kind", f"start kind of {generator.label}")
        gap = Unknown((missing,), "", "start kind")
        not_checked(draft, "generator-start-kind", (generator.id,), gap)
    if kind == "by hand":
        _find(
            draft,
            generator,
            "generator-started-by-hand",
            f"{generator.label} is started by hand, {starter.label} cannot start it",
            "a set with two-wire or three-wire start, or no started_by in the site file",
        )
    starts = ("generator_start", "generator_start_state_of_charge", "generator_start_load")
    if not any(draft.ability(starter, setting) for setting in starts):
        _find(
            draft,
            generator,
            "starter-without-start",
            f"{starter.label} has no generator start setting and cannot start {generator.label}",
            "another device in started_by, or none: by hand",
        )
    if not fed_by(plant, (generator,)):
        _find(
            draft,
            generator,
            "generator-feeds-no-charger",
            f"{generator.label} is started for the bank and is on no charger's input",
            f"inputs = {{ generator = '{generator.id}' }} at the inverter/charger that it feeds",
        )


def _find(draft: Draft, generator: Generator, check: str, text: str, remedy: str) -> None:
    draft.find(Finding("correct", check, (generator.id,), text, remedy))
