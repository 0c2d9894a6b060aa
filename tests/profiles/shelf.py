"""The profile files, read without the program's own loader, so that a fault there cannot hide one here."""

from __future__ import annotations

import tomllib
from functools import cache
from itertools import pairwise
from pathlib import Path
from typing import Any, Final

from pydantic import TypeAdapter

from commission.plant.battery import BatteryProfile, Curve, Datum
from commission.plant.equipment import DirectCurrentDevice, EquipmentClass
from commission.plant.rules import ConductorSize, RuleSet

ROOT: Final = Path(__file__).parents[2] / "profiles"
BATTERIES: Final = sorted(path.stem for path in (ROOT / "batteries").glob("*.toml"))
EQUIPMENT: Final = sorted(path.stem for path in (ROOT / "equipment").glob("*.toml"))
RULES: Final = sorted(path.stem for path in (ROOT / "rules").glob("*.toml"))
FILES: Final = [
    *(f"batteries/{stem}" for stem in BATTERIES),
    *(f"equipment/{stem}" for stem in EQUIPMENT),
    *(f"rules/{stem}" for stem in RULES),
]
_EQUIPMENT_CLASS: Final[TypeAdapter[EquipmentClass]] = TypeAdapter(EquipmentClass)


def raw(file: str) -> dict[str, Any]:
    """Return a profile as TOML has it."""
    return tomllib.loads((ROOT / f"{file}.toml").read_text(encoding="utf-8"))


@cache
def battery(ident: str) -> BatteryProfile:
    """Return a battery profile."""
    return BatteryProfile.model_validate(raw(f"batteries/{ident}"))


@cache
def equipment(ident: str) -> EquipmentClass:
    """Return a class of equipment."""
    return _EQUIPMENT_CLASS.validate_python(raw(f"equipment/{ident}"))


@cache
def rules(ident: str) -> RuleSet:
    """Return a rule set."""
    return RuleSet.model_validate(raw(f"rules/{ident}"))


def profile(file: str) -> BatteryProfile | EquipmentClass | RuleSet:
    """Return any profile by folder and name."""
    folder, _, ident = file.partition("/")
    if folder == "batteries":
        return battery(ident)
    return equipment(ident) if folder == "equipment" else rules(ident)


def source_classes() -> list[tuple[str, DirectCurrentDevice]]:
    """Return every class that charges over the DC bus."""
    found = ((ident, equipment(ident)) for ident in EQUIPMENT)
    return [(ident, device) for ident, device in found if isinstance(device, DirectCurrentDevice)]


def data(owner: BatteryProfile | RuleSet) -> dict[str, Datum]:
    """Return every value of a profile that states its source, by field."""
    return {name: getattr(owner, name) for name in type(owner).model_fields if _is_datum(owner, name)}


def _is_datum(owner: BatteryProfile | RuleSet, name: str) -> bool:
    return isinstance(getattr(owner, name), Datum)


def number(owner: BatteryProfile | RuleSet, field: str) -> float:
    """Return a value that has to be a number."""
    value = getattr(owner, field).value
    assert isinstance(value, float | int), f"{field} of {owner.id} is {value}"
    return float(value)


def conductor(region: str, size: str) -> ConductorSize:
    """Return a row of a conductor table."""
    return next(row for row in rules(region).conductors if row.size == size)


def on_curve(curve: Curve, state: float) -> float:
    """Return a curve's value on the straight line between its rows."""
    rows = list(zip(curve.states, curve.values, strict=True))
    for (low, at_low), (high, at_high) in pairwise(rows):
        if low <= state <= high:
            return at_low + (at_high - at_low) * (state - low) / (high - low)
    raise AssertionError(f"{state} lies outside the curve")
