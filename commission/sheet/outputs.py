"""What a supply is set to put out, and the place of each unit in its group."""

from __future__ import annotations

from typing import Final

from commission.figure import Gap
from commission.plant.site import InverterCharger
from commission.plant.values import UNKNOWN, in_words
from commission.sheet.draft import Draft
from commission.sheet.known import not_checked
from commission.sheet.types import Finding

_ROLES: Final = ("group_role", "group_leg", "neutral_bond")


def settle_outputs(draft: Draft) -> None:
    """Settle output voltage and frequency, roles, legs, bonds and clocks."""
    for device in draft.plant.devices:
        draft.word(device, "clock_zone", "local", note=draft.plant.site.site.time_zone)
    for inverter in draft.plant.site.inverter_chargers:
        draft.number(inverter, "ac_output_voltage", draft.plant.rule("ac_voltage"))
        draft.number(inverter, "ac_output_frequency", draft.plant.rule("ac_frequency"))
        for setting in _ROLES:
            _stated(draft, inverter, setting)


def _stated(draft: Draft, device: InverterCharger, setting: str) -> None:
    """Settle a word that the site file states, where the device has it among its choices."""
    ability = draft.ability(device, setting)
    if ability is None:
        return
    word = str(getattr(device, setting))
    name = in_words(setting)
    if word == UNKNOWN:
        gap = Gap(f"{name} of {device.label}", f"{device.where}.{setting}")
        draft.unknown_word(device, setting, gap)
        draft.find(not_checked("word-unknown", (device.id,), (gap,), setting))
    elif word in ability.choices:
        draft.word(device, setting, word)
    else:
        draft.unknown_word(device, setting, f"a {name} that {device.label} has: the site file says '{word}'")
        draft.find(
            Finding(
                "correct",
                "word-not-on-device",
                (device.id,),
                f"{name}: the site file says '{word}', {device.label} has {', '.join(ability.choices)}",
                f"one of {', '.join(ability.choices)} in the site file, or another device",
                setting=setting,
            )
        )
