"""What the sources reach at the coldest and hottest battery: as settled before, else derived."""

from __future__ import annotations

from typing import Final, Literal, TypeAlias

from commission.figure import Quantity, given, greatest, least
from commission.formulas.charging import clamped_temperature, compensated_voltage, per_cell
from commission.plant.site import DirectCurrentSource
from commission.plant.values import in_words
from commission.sheet.bank_state import cells, whole
from commission.sheet.clamp import device_maximum
from commission.sheet.draft import Draft
from commission.sheet.temperature import climate

Stage: TypeAlias = Literal["absorption", "float", "equalize"]
End: TypeAlias = Literal["coldest", "hottest", "coldest_month", "hottest_month"]
"""The coldest or hottest that the bank gets, or the mean of its coldest or hottest month."""
_WHEN: Final[dict[End, str]] = {
    "coldest": "the coldest battery",
    "hottest": "the hottest battery",
    "coldest_month": "the battery of the coldest month",
    "hottest_month": "the battery of the hottest month",
}
_COEFFICIENT: Final = "temperature_coefficient"


def reached(draft: Draft, device: DirectCurrentSource, stage: Stage, end: End) -> Quantity | None:
    """Return the whole-bank voltage that a source reaches in a stage, None where it has no such stage."""
    told = draft.numbers.get(f"{stage}_{end}:{device.id}")
    if told is not None:
        return told
    setting = f"{stage}_voltage"
    if draft.recommended(device.id, setting) == "off" or not draft.plant.has_stage(setting):
        return None
    held = draft.value(device.id, setting)
    if held is None and draft.ability(device, setting) is None and stage != "absorption":
        return None
    return _compensated(
        draft, device, held or whole(draft.plant, setting), f"{in_words(stage)} at {_WHEN[end]}", end
    )


def _compensated(
    draft: Draft, device: DirectCurrentSource, setpoint: Quantity, name: str, end: End
) -> Quantity:
    plant = draft.plant
    able = plant.source_class(device).temperature_sensor not in {"none", "unknown"}
    if not able or device.sensor_fitted is False or draft.ability(device, _COEFFICIENT) is None:
        return setpoint
    weather = climate(plant)
    held = clamped_temperature.of(
        temperature=getattr(weather, end),
        low=draft.value(device.id, "temperature_low_limit") or plant.cell("temperature_clamp_low"),
        high=draft.value(device.id, "temperature_high_limit") or plant.cell("temperature_clamp_high"),
    )
    value = compensated_voltage.of(
        name,
        cells=cells(plant),
        reference=per_cell.of(bank_voltage=setpoint, cells=cells(plant)),
        slope=_slope(draft, device),
        temperature=held,
        temperature_reference=draft.value(device.id, "temperature_reference")
        or given(25.0, "°C", f"reference temperature of {device.label}", source="it shows none"),
    )
    ceiling = draft.value(device.id, "charge_voltage_ceiling")
    return value if ceiling is None else least(name, value, ceiling)


def _slope(draft: Draft, device: DirectCurrentSource) -> Quantity:
    if draft.recommended(device.id, _COEFFICIENT) == "off":
        return given(0.0, "mV/K", f"slope of {device.label}, off", source="switched off")
    held = draft.value(device.id, _COEFFICIENT)
    if held is None:
        return draft.plant.cell("temperature_slope")
    name = f"slope of one cell held by {device.label}"
    return per_cell.of(name, bank_voltage=held, cells=cells(draft.plant)).in_unit("mV/K")


def all_reached(
    draft: Draft, stage: Stage, end: End, devices: tuple[DirectCurrentSource, ...] | None = None
) -> list[Quantity]:
    """Return what each of some sources reaches in a stage, those without it left out."""
    chosen = draft.plant.sources if devices is None else devices
    found = [reached(draft, device, stage, end) for device in chosen]
    return [value for value in found if value is not None]


def lowest(
    draft: Draft, stage: Stage, devices: tuple[DirectCurrentSource, ...] | None = None
) -> Quantity | None:
    """Return the least that any source reaches in a stage over the year, None where none has it."""
    found = [*all_reached(draft, stage, "coldest", devices), *all_reached(draft, stage, "hottest", devices)]
    return least(f"lowest {in_words(stage)} of the year", *found) if found else None


def highest_charge(draft: Draft) -> Quantity | None:
    """Return the highest voltage that any source reaches over the year, None without sources."""
    stages: tuple[Stage, ...] = ("absorption", "float", "equalize")
    ends: tuple[End, ...] = ("coldest", "hottest")
    found = [value for stage in stages for end in ends for value in all_reached(draft, stage, end)]
    return greatest("highest charging voltage of the year", *found) if found else None


def highest_float(draft: Draft) -> Quantity | None:
    """Return the highest float of the year, None where no source floats."""
    found = [*all_reached(draft, "float", "coldest"), *all_reached(draft, "float", "hottest")]
    return greatest("highest float of the year", *found) if found else None


def bus_maximum(draft: Draft) -> Quantity:
    """Return the least greatest DC voltage of everything on the bus."""
    told = draft.numbers.get("bus_maximum")
    return device_maximum(draft.plant) if told is None else told
