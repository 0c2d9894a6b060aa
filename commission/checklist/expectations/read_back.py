"""Settings that were moved for a test, read back in the device's own basis against what was left."""

from __future__ import annotations

from typing import Final

from commission.checklist.bands import around
from commission.checklist.charging_now import basis_count
from commission.checklist.registry import Judge, expectation
from commission.checklist.situation import Situation
from commission.checklist.types import Expectation, NotJudged
from commission.errors import FormulaError
from commission.figure import Figure, Quantity, given
from commission.formulas.rounding import in_device_basis
from commission.plant.equipment import Ability, Input
from commission.plant.site import Device, InverterCharger
from commission.plant.values import in_words

MOVED: Final = (
    "charge_current_limit",
    "charge_disconnect_voltage",
    "charge_low_temperature",
    "charge_high_temperature",
    "generator_start_state_of_charge",
    "generator_stop_voltage",
    "generator_stop_state_of_charge",
    "generator_max_run_time",
    "low_voltage_warning",
    "load_disconnect_voltage",
    "load_disconnect_delay",
    "load_disconnect_state_of_charge",
    "load_reconnect_voltage",
    "load_high_disconnect_voltage",
)
"""Settings that steps of the usual checklist move for a test."""


def device_with(situation: Situation, setting: str) -> Device:
    """Return the device of a step that has a setting."""
    plant = situation.plant
    for device in plant.devices:
        if device.id in situation.step.parts and setting in plant.equipment[device.id].settings:
            return device
    raise FormulaError(f"no part of '{situation.step.data.id}' has a setting {in_words(setting)}")


def input_of(situation: Situation, device: Device, ability: Ability) -> Input | None:
    """Return the AC input that a step is about, where the device holds one value for each."""
    if not ability.per_input or not isinstance(device, InverterCharger):
        return None
    named = [kind for kind, supply in device.inputs.items() if supply in situation.step.parts]
    return next(iter(named or device.inputs), None)


def as_shown(situation: Situation, setting: str) -> Quantity | None:
    """Return a setting as left, in the device's own basis; None where it is no number."""
    device = device_with(situation, setting)
    ability = situation.plant.equipment[device.id].settings[setting]
    held = situation.left(device.id, setting, input_of(situation, device, ability))
    if held is None:
        return None
    count = basis_count(situation.plant, device, ability)
    if count == 1.0:
        return held
    return in_device_basis.of(f"{held.name}, as it is shown", bank_value=held, count=count).in_unit(held.unit)


def _judge(setting: str) -> Judge:
    def judge(situation: Situation) -> Expectation:
        held = as_shown(situation, setting)
        if held is None:
            return NotJudged(f"{in_words(setting)} is not left at a number here")
        device = device_with(situation, setting)
        ability = situation.plant.equipment[device.id].settings[setting]
        where = f"{situation.plant.equipment[device.id].id}.settings.{setting}"
        half = given(
            0.0 if ability.step is None else 0.5 * ability.step,
            held.unit if isinstance(held, Figure) else ability.unit,
            "half a step of the device",
            kind="profile",
            where=where,
        )
        return around(situation, held, half)

    return judge


def name_of(setting: str) -> str:
    """Return the expectation that reads a setting back."""
    return f"as left: {in_words(setting)}"


for _setting in MOVED:
    expectation(
        name_of(_setting),
        says="the value that was left on the device, as it shows it, within half a step",
        source="settings as left",
    )(_judge(_setting))
