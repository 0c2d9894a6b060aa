"""Which device starts a generator, and how the start is put aside on those that start none."""

from __future__ import annotations

from typing import Final, Literal

from commission.figure import Figure, given
from commission.plant.plant import Plant
from commission.plant.site import Device, Generator
from commission.sheet.draft import Draft
from commission.sheet.settling import put_aside
from commission.sheet.types import Pair

_ENDS: Final[dict[str, Literal["low", "high"]]] = {
    "generator_start_load": "high",
    "generator_stop_state_of_charge": "high",
    "generator_stop_voltage": "high",
    "generator_exercise_interval": "high",
}
"""Ends of the range that start nothing; of every other setting of the generator the low one."""
_NOTE: Final = "this device starts no generator"


def starts_of(plant: Plant, device: Device) -> tuple[Generator, ...]:
    """Return the generators that a device starts."""
    return tuple(generator for generator in plant.site.generators if generator.started_by == device.id)


def put_generator_aside(draft: Draft, device: Device) -> None:
    """Switch every start off; where a device cannot, put it where it never comes."""
    for setting in draft.plant.equipment[device.id].settings:
        if setting == "generator_start":
            _aside_pairs(draft, device)
        elif setting.startswith("generator_"):
            put_aside(draft, device, setting, _ENDS.get(setting, "low"), _NOTE)


def _aside_pairs(draft: Draft, device: Device) -> None:
    ability = draft.ability(device, "generator_start")
    if ability is None:
        return
    if ability.off:
        draft.word(device, "generator_start", "off", note=_NOTE)
        return
    where = f"{draft.plant.equipment[device.id].id}.settings.generator_start"
    least = ability.fixed if ability.fixed is not None else ability.low
    pair = Pair(
        _end(least, draft.unit(ability), "least start voltage", where),
        _end(ability.delay_high, "s", "longest start delay", where),
    )
    draft.pairs(device, "generator_start", (pair,), note=f"{_NOTE}: least voltage, longest delay")


def _end(value: float | None, unit: str, name: str, where: str) -> Figure:
    return given(0.0 if value is None else value, unit, name, kind="profile", where=where)
