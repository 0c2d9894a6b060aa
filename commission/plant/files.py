"""Finding and loading sites, profiles and rule sets."""

from __future__ import annotations

import os
from collections.abc import Mapping
from dataclasses import dataclass
from difflib import get_close_matches
from functools import cache
from pathlib import Path
from typing import Any, Final

from pydantic import TypeAdapter

from commission.errors import Problem, SiteError
from commission.plant.battery import BatteryProfile, Curve
from commission.plant.check import problems_between_parts
from commission.plant.equipment import EquipmentClass
from commission.plant.plant import Plant
from commission.plant.rules import RuleSet
from commission.plant.site import Bank, Device, Site
from commission.plant.toml import read_toml, unknown_keys, validated

_EQUIPMENT: Final[TypeAdapter[Any]] = TypeAdapter(EquipmentClass)
_SECTIONS: Final = ("inverter_chargers", "charge_controllers", "ac_pv_inverters", "generators")


@dataclass(frozen=True, slots=True)
class LoadedPlant:
    """A plant and what was odd about its file without being wrong."""

    plant: Plant
    warnings: tuple[Problem, ...]
    path: Path


def data_folder(name: str) -> Path:
    """Return the folder of the program's own data: ``profiles`` or ``sample_sites``.

    A checkout has it beside the package, an installed wheel inside.
    """
    package = Path(__file__).resolve().parent.parent
    inside = package / "_data" / name
    return inside if inside.is_dir() else package.parent / name


def profile_path(kind: str, ident: str, beside: Path | None = None) -> Path:
    """Return the file of a profile.

    Parameters
    ----------
    kind
        ``batteries``, ``equipment``, ``rules`` or ``checklists``.
    ident
        The profile's id, which is the file's name.
    beside
        Folder of the site file; a ``profiles`` folder there goes before the program's own.

    Raises
    ------
    SiteError
        If there is no such profile; the nearest name is suggested.
    """
    folders = [data_folder("profiles") / kind]
    if beside is not None:
        folders.insert(0, beside / "profiles" / kind)
    for folder in folders:
        path = folder / f"{ident}.toml"
        if path.is_file():
            return path
    names = sorted({found.stem for folder in folders if folder.is_dir() for found in folder.glob("*.toml")})
    near = get_close_matches(ident, names, n=1, cutoff=0.4)
    right = f"did you mean {near[0]}?" if near else f"known: {', '.join(names)}"
    raise SiteError([Problem(f"profiles/{kind}", ident, "", "there is no such profile", right)])


def load_plant(path: str | os.PathLike[str]) -> LoadedPlant:
    """Load a site file with everything that it refers to.

    Raises
    ------
    SiteError
        With every problem found: file, key, value and what would be right.
    """
    file = Path(path)
    data = read_toml(file)
    site = validated(Site, data, file.name)
    return _resolved(site, file)


def _resolved(site: Site, file: Path) -> LoadedPlant:
    problems: list[Problem] = []
    beside = file.parent
    battery = _collect(problems, lambda: _battery(site.bank, file.name, beside), file.name, "bank.profile")
    rules = _collect(problems, lambda: load_rules(site.site.rules, beside), file.name, "site.rules")
    equipment: dict[str, Any] = {}
    for section, device in _devices(site):
        key = f"{section}[{device.id}]" if section != "monitor" else section
        made = _collect(
            problems, lambda d=device, k=key: _device(d, k, file.name, beside), file.name, f"{key}.profile"
        )
        if made is not None:
            equipment[device.id] = made
    problems += problems_between_parts(site, equipment, file.name)
    if problems or battery is None or rules is None:
        raise SiteError(problems)
    plant = Plant(site=site, battery=battery, equipment=equipment, rules=rules)
    return LoadedPlant(plant, tuple(unknown_keys(site, file.name)), file)


def _collect(problems: list[Problem], make: Any, file: str, key: str) -> Any:
    try:
        return make()
    except SiteError as error:
        for problem in error.problems:
            outside = problem.file.startswith("profiles/")
            problems.append(
                Problem(file, key, problem.key, problem.wrong, problem.right) if outside else problem
            )
        return None


def _devices(site: Site) -> list[tuple[str, Device]]:
    found: list[tuple[str, Device]] = [
        (section, device) for section in _SECTIONS for device in getattr(site, section)
    ]
    if site.monitor is not None:
        found.append(("monitor", site.monitor))
    return found


def _device(device: Device, key: str, file: str, beside: Path) -> Any:
    path = profile_path("equipment", device.profile, beside)
    data = merged(read_toml(path), device.datasheet)
    response = getattr(device, "response", None)
    if response:
        data = merged(data, {"response": response})
    if not device.datasheet and not response:
        return validated(_EQUIPMENT, data, path.name)
    made = validated(_EQUIPMENT, data, file, f"{key}.datasheet")
    odd = [name for name in device.datasheet if name not in type(made).model_fields]
    if odd:
        known = sorted(type(made).model_fields)
        raise SiteError([_odd_datasheet(file, f"{key}.datasheet.{name}", name, known) for name in odd])
    return made


def _odd_datasheet(file: str, key: str, name: str, known: list[str]) -> Problem:
    near = get_close_matches(name, known, n=1, cutoff=0.5)
    right = f"did you mean {near[0]}?" if near else f"known: {', '.join(known)}"
    return Problem(file, key, "", "the profile has no such field", right)


def load_rules(ident: str, beside: Path | None = None) -> RuleSet:
    """Load a rule set by its id."""
    path = profile_path("rules", ident, beside)
    return validated(RuleSet, read_toml(path), path.name)


def load_battery(ident: str, beside: Path | None = None) -> BatteryProfile:
    """Load a battery profile by its id."""
    return _profile(ident, beside)


def load_equipment(ident: str, beside: Path | None = None) -> Any:
    """Load an equipment profile by its id."""
    path = profile_path("equipment", ident, beside)
    return validated(_EQUIPMENT, read_toml(path), path.name)


def _profile(ident: str, beside: Path | None) -> BatteryProfile:
    path = profile_path("batteries", ident, beside)
    return validated(BatteryProfile, read_toml(path), path.name)


def _battery(bank: Bank, file: str, beside: Path) -> BatteryProfile:
    profile = _profile(bank.profile, beside)
    if not bank.datasheet:
        return profile
    known = sorted(BatteryProfile.model_fields)
    odd = [name for name in bank.datasheet if name not in known]
    if odd:
        raise SiteError([_odd_datasheet(file, f"bank.datasheet.{name}", name, known) for name in odd])
    data = profile.model_dump()
    for name, value in bank.datasheet.items():
        data[name] = _own_value(getattr(profile, name), value)
    return validated(BatteryProfile, data, file, "bank.datasheet")


def _own_value(standing: Any, value: Any) -> Any:
    """Return a datasheet value in the profile's form, its range widened where the value lies outside."""
    source = {"source": "datasheet of the installed battery", "known": "seen"}
    if isinstance(value, dict):
        return source | value
    if isinstance(standing, Curve) or not isinstance(value, int | float | str) or isinstance(value, bool):
        return value
    own: dict[str, Any] = {"value": value, **source}
    if isinstance(value, int | float):
        low, high = getattr(standing, "low", None), getattr(standing, "high", None)
        own["low"] = value if low is None else min(low, value)
        own["high"] = value if high is None else max(high, value)
    return own


def merged(base: Mapping[str, Any], over: Mapping[str, Any]) -> dict[str, Any]:
    """Return one nested dictionary laid over another."""
    result = dict(base)
    for key, value in over.items():
        standing = result.get(key)
        both = isinstance(standing, Mapping) and isinstance(value, Mapping)
        result[key] = merged(standing, value) if both else value  # type: ignore[arg-type]  # narrowed by `both`
    return result


@cache
def sample_sites() -> tuple[Path, ...]:
    """Return the sample sites that come with the program, by name."""
    return tuple(sorted(data_folder("sample_sites").glob("*.toml")))
