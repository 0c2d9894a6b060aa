"""Start of a generator by voltage: several thresholds, each with a delay that the reserve allows."""

from __future__ import annotations

from typing import Final

from commission.figure import Figure, Quantity, Unknown, given, greatest, least
from commission.formulas.generator_control import delay_within_reserve
from commission.formulas.load_control import threshold_between
from commission.formulas.low_end import reserve_time
from commission.formulas.rounding import rounded_down
from commission.plant.equipment import Ability
from commission.plant.plant import Plant
from commission.plant.site import Device
from commission.sheet.bank_state import COMMON, attempted, capacity, expected_current, rested
from commission.sheet.draft import Draft
from commission.sheet.settling import not_checked
from commission.sheet.states import states_of
from commission.sheet.thresholds import Thresholds, above, thresholds_of
from commission.sheet.types import Pair

_SETTING: Final = "generator_start"
_DELAYS: Final = {1: (900.0,), 2: (900.0, 60.0), 3: (900.0, 300.0, 60.0)}
"""Usual delays in s by the number of thresholds, the highest voltage first; common practice."""


def settle_start_pairs(draft: Draft, device: Device) -> None:
    """Settle the voltages that start a generator, the deeper the shorter the delay."""
    ability = draft.ability(device, _SETTING)
    if ability is None:
        return
    found = thresholds_of(draft.plant, device)
    count = min(ability.entries, max(_DELAYS))
    voltages = [_on_device(draft, device, one) for one in _spread(draft, found, count)]
    reserve = reserve_of(draft.plant, device)
    delays = [_delay(draft, device, ability, reserve, _DELAYS[count], index) for index in range(count)]
    missing = tuple(
        dict.fromkeys(gap for one in (*voltages, *delays) if isinstance(one, Unknown) for gap in one.missing)
    )
    if missing:
        gap = Unknown(missing, draft.unit(ability), f"generator start of {device.label}")
        draft.pairs(device, _SETTING, gap)
        not_checked(draft, "setting-open", (device.id,), gap, _SETTING)
        return
    draft.pairs(device, _SETTING, _distinct(voltages, delays), note=_note(draft.plant))


def _note(plant: Plant) -> str:
    if plant.battery.curve == "flat":
        return "fallback for under 10 % charge, where the count has failed; deeper starts sooner"
    return "deeper starts sooner"


def highest_disconnect(draft: Draft, found: Thresholds) -> Quantity:
    """Return the highest voltage at which any device drops the loads."""
    held = [draft.value(device.id, "load_disconnect_voltage") for device in draft.plant.devices]
    known = [value for value in held if isinstance(value, Figure)]
    return greatest("highest load disconnect", found.disconnect, *known)


def _spread(draft: Draft, found: Thresholds, count: int) -> list[Quantity]:
    """Return the thresholds from the first start evenly down towards the disconnect."""
    floor = above(draft.plant, "clear of every load disconnect", highest_disconnect(draft, found))
    start = greatest("voltage that starts a generator", found.start, floor)
    between = [
        threshold_between.of(
            f"start {index + 1} of {count}", low=floor, high=start, part=(count - index) / count
        )
        for index in range(1, count)
    ]
    return [start, *between]


def _on_device(draft: Draft, device: Device, wanted: Quantity) -> Quantity:
    """Return a voltage as the device will hold it, in its own basis."""
    draft.number(device, _SETTING, wanted)
    held = draft.settings.pop((device.id, _SETTING, None)).recommended
    assert isinstance(held, Figure | Unknown)  # noqa: S101 - a number was just settled
    return held


def reserve_of(plant: Plant, device: Device) -> Quantity | None:
    """Return how long the charge from the start to the disconnect by voltage lasts; None without a load."""
    states = states_of(plant)
    return reserve_between(plant, device, states.voltage_start, states.voltage_disconnect)


def reserve_between(plant: Plant, device: Device, upper: Quantity, lower: Quantity) -> Quantity | None:
    """Return how long the charge between two states lasts; None where nothing is drawn."""
    current = expected_current(plant, device, rested(plant, upper))
    if isinstance(current, Figure) and current.value <= 0:
        return None
    name = "time that the charge from the start to the disconnect lasts"
    total = capacity(plant)
    return attempted(
        lambda: reserve_time.of(name, capacity=total, upper=upper, lower=lower, current=current), "s", name
    )


def _delay(
    draft: Draft,
    device: Device,
    ability: Ability,
    reserve: Quantity | None,
    usual: tuple[float, ...],
    index: int,
) -> Quantity:
    name = f"delay of start {index + 1} of {device.label}"
    where = f"{draft.plant.equipment[device.id].id}.settings.{_SETTING}"
    if ability.delay_low is None or ability.delay_high is None or ability.delay_step is None:
        return given(0.0, "s", f"{name}: it has none", kind="profile", where=where)
    wanted: Quantity = given(usual[index], "s", name, source=COMMON)
    if reserve is not None:
        wanted = delay_within_reserve.of(name, delay=wanted, total=sum(usual), reserve=reserve)
    low = given(ability.delay_low, "s", "least start delay", kind="profile", where=where)
    high = given(ability.delay_high, "s", "longest start delay", kind="profile", where=where)
    step = given(ability.delay_step, "s", "step of the start delay", kind="profile", where=where)
    rounded = rounded_down.of(name, value=wanted, start=low, step=step).in_unit("s")
    return greatest(name, low, least(name, rounded, high))


def _distinct(voltages: list[Quantity], delays: list[Quantity]) -> tuple[Pair, ...]:
    """Return the pairs without those that rounding has put onto the one above."""
    made: list[Pair] = []
    for voltage, delay in zip(voltages, delays, strict=True):
        assert isinstance(voltage, Figure)  # noqa: S101 - unknown ones were sorted out before
        assert isinstance(delay, Figure)  # noqa: S101 - as above
        if not made or voltage.value < made[-1].voltage.value - 1e-9:
            made.append(Pair(voltage, delay))
    return tuple(made)
