"""Finding and loading sites, profiles and rule sets."""

from __future__ import annotations

import os
import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from difflib import get_close_matches
from functools import lru_cache, partial
from pathlib import Path
from typing import Any, Final, TypeVar

from pydantic import TypeAdapter

from commission.errors import Problem, SiteError
from commission.plant.battery import BatteryProfile
from commission.plant.change import grown, problems_of_changes
from commission.plant.check import problems_between_parts, problems_between_plans
from commission.plant.datasheet import battery_values, merged, odd_names
from commission.plant.doubts import doubts
from commission.plant.equipment import EquipmentClass, Response
from commission.plant.explain import printable, problem
from commission.plant.once import once
from commission.plant.places import data_folder
from commission.plant.plant import Plant
from commission.plant.rules import RuleSet
from commission.plant.site import AcPvInverter, Bank, BatteryString, Device, Planned, Site
from commission.plant.toml import check_entries, read_as, read_kept, read_toml, unknown_keys, validated
from commission.plant.values import Model

_ENTRIES: Final = 200
"""Entries of one list of a site file: every string may feed every other, every part stand on every other."""
_EQUIPMENT: Final[TypeAdapter[Any]] = TypeAdapter(EquipmentClass)
_IDENT: Final = re.compile(r"[a-z0-9]+(?:-[a-z0-9]+)*")
Kind = TypeVar("Kind", bound=Model)
_SECTIONS: Final = ("inverter_chargers", "charge_controllers", "ac_pv_inverters", "generators")


@dataclass(frozen=True, slots=True)
class LoadedPlant:
    """A plant and what was odd about its file without being wrong."""

    plant: Plant
    warnings: tuple[Problem, ...]
    path: Path


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
        if _is_file(path):
            return path
    names = sorted({found.stem for folder in folders if folder.is_dir() for found in folder.glob("*.toml")})
    near = get_close_matches(ident, names, n=1, cutoff=0.4)
    right = f"did you mean {near[0]}?" if near else f"known: {', '.join(names)}"
    raise SiteError([problem(f"profiles/{kind}", ident, "", "there is no such profile", right)])


def _is_file(path: Path) -> bool:
    """Say whether there is a file; a name that no file can have is none."""
    try:
        return path.is_file()
    except OSError:
        return False


def load_plant(path: str | os.PathLike[str]) -> LoadedPlant:
    """Load a site file with everything that it refers to.

    Raises
    ------
    SiteError
        With every problem found: file, key, value and what would be right.
    """
    file = Path(path)
    return plant_of(read_toml(file, wanted="site file"), file)


def plant_of(data: Mapping[str, Any], file: Path) -> LoadedPlant:
    """Return the plant that the content of a site file describes.

    Parameters
    ----------
    file
        Where the content stands or will stand; profiles beside it go before the program's own.

    Raises
    ------
    SiteError
        With every problem found.
    """
    check_entries(data, _ENTRIES, file.name)
    try:
        site = validated(Site, data, file.name)
    except SiteError as error:
        raise SiteError([*error.problems, *_missing_profiles(data, file)]) from None
    loaded = _resolved(site, file)
    return replace(loaded, warnings=(*loaded.warnings, *doubts(data, file.name)))


def _missing_profiles(data: Mapping[str, Any], file: Path) -> list[Problem]:
    """Return the profiles that a site file names in vain, where the file cannot be read as a whole."""
    named = [("batteries", "bank.profile", _inside(data, "bank", "profile"))]
    named.append(("rules", "site.rules", _inside(data, "site", "rules")))
    named.append(("equipment", "monitor.profile", _inside(data, "monitor", "profile")))
    for section in _SECTIONS:
        items = data.get(section)
        for item in items if isinstance(items, list) else []:
            if isinstance(item, Mapping):
                key = f"{section}[{printable(str(item.get('id', '?')))}].profile"
                named.append(("equipment", key, item.get("profile")))
    problems: list[Problem] = []
    for kind, key, ident in named:
        if isinstance(ident, str) and _IDENT.fullmatch(ident):
            _collect(problems, partial(profile_path, kind, ident, file.parent), file.name, key)
    return problems


def _inside(data: Mapping[str, Any], table: str, key: str) -> Any:
    found = data.get(table)
    return found.get(key) if isinstance(found, Mapping) else None


def _resolved(site: Site, file: Path) -> LoadedPlant:
    problems: list[Problem] = []
    warnings = list(unknown_keys(site, file.name))
    beside = file.parent
    battery = _collect(
        problems, lambda: battery_of_bank(site.bank, file.name, beside), file.name, "bank.profile"
    )
    rules = _collect(problems, lambda: load_rules(site.site.rules, beside), file.name, "site.rules")
    others = _other_batteries(site, file.name, beside, problems)
    equipment: dict[str, Any] = {}
    for within, device in named_devices(site):
        key = f"{within}{device.where}.profile"
        made = _collect(problems, partial(class_of_device, device, file.name, beside), file.name, key, within)
        if made is not None:
            equipment[device.id] = made
    problems += problems_between_parts(site, equipment, file.name)
    if problems or battery is None or rules is None:
        raise SiteError(problems)
    plant = Plant(
        site=site,
        battery=battery,
        batteries=others,
        equipment=equipment,
        rules=rules,
        brought=_brought(site, beside),
    )
    problems += problems_between_plans(site, file.name)
    for within, planned in _plans(site):
        problems += _problems_of_plan(plant, planned, within, file.name)
    if problems:
        raise SiteError(problems)
    for profile in {model.id: model for model in (battery, rules, *equipment.values())}.values():
        warnings += _odd_in(profile)
    return LoadedPlant(plant, tuple(warnings), file)


@once
def _odd_in(profile: BatteryProfile | RuleSet | EquipmentClass) -> tuple[Problem, ...]:
    """Return a warning for every key of a profile that nothing takes."""
    return tuple(unknown_keys(profile, f"{profile.id}.toml"))


def _brought(site: Site, beside: Path) -> tuple[str, ...] | None:
    """Return which of the profiles that a site names stand beside its file and are not the program's own."""
    folder = beside / "profiles"
    if folder.resolve() == data_folder("profiles").resolve():
        return None
    named = [("rules", site.site.rules), ("batteries", site.bank.profile)]
    named += [("batteries", string.profile) for string in _strings(site) if string.profile is not None]
    named += [("equipment", device.profile) for _, device in named_devices(site)]
    found = dict.fromkeys(f"{kind}/{ident}" for kind, ident in named if _is_there(folder, kind, ident))
    return tuple(found) or None


def _is_there(folder: Path, kind: str, ident: str) -> bool:
    return _is_file(folder / kind / f"{ident}.toml")


def _strings(site: Site) -> Iterator[BatteryString]:
    """Yield every string, planned ones after those that stand."""
    yield from site.bank.strings
    for planned in site.planned:
        yield from planned.strings


def _other_batteries(
    site: Site, file: str, beside: Path, problems: list[Problem]
) -> dict[str, BatteryProfile] | None:
    """Return the profiles of strings that are not of the bank's kind, planned ones with them."""
    found: dict[str, BatteryProfile] = {}
    for string in _strings(site):
        ident = string.profile
        if ident is None or ident == site.bank.profile or ident in found:
            continue
        key = f"bank.strings[{string.id}].profile"
        made = _collect(problems, partial(load_battery, ident, beside), file, key)
        if made is not None:
            found[ident] = made
    return found or None


def _collect(problems: list[Problem], make: Callable[[], Any], file: str, key: str, within: str = "") -> Any:
    try:
        return make()
    except SiteError as error:
        for found in error.problems:
            outside = found.file.startswith("profiles/")
            problems.append(
                problem(file, key, f"'{found.key}'", found.wrong, found.right)
                if outside
                else replace(found, key=f"{within}{found.key}" if found.file == file else found.key)
            )
        return None


def _problems_of_plan(plant: Plant, planned: Planned, within: str, file: str) -> list[Problem]:
    """Return what is wrong with planned additions: in their changes, and between parts once they stand."""
    try:
        larger = grown(plant, planned)
    except SiteError as error:
        found = list(problems_of_changes(plant, planned)) or error.problems
        return [replace(one, file=file, key=f"{within}changes: {one.key}") for one in found]
    found = problems_between_parts(larger.site, larger.equipment, file)
    return [replace(one, key=f"{within}{one.key}") for one in found]


def _plans(site: Site) -> Iterator[tuple[str, Planned]]:
    """Yield planned additions with the begin of their keys in the site file."""
    for number, planned in enumerate(site.planned, start=1):
        yield f"planned[number {number}].", planned


def named_devices(site: Site) -> Iterator[tuple[str, Device]]:
    """Yield every device with a profile and the begin of its key, planned ones after those that stand."""
    for within, place in (("", site), *_plans(site)):
        for section in _SECTIONS:
            yield from ((within, device) for device in getattr(place, section))
    if site.monitor is not None:
        yield "", site.monitor


def class_of_device(device: Device, file: str, beside: Path | None = None) -> Any:
    """Return the class of a device: its profile with the values of its own datasheet over it."""
    path = profile_path("equipment", device.profile, beside)
    plain = read_as(_EQUIPMENT, path)
    response = device.response if isinstance(device, AcPvInverter) else {}
    if not device.datasheet and not response:
        return plain
    problems = list(odd_names(device.datasheet, type(plain), file, f"{device.where}.datasheet"))
    problems += odd_names(response, Response, file, f"{device.where}.response")
    if problems:
        raise SiteError(problems)
    base = read_kept(path)
    made = validated(_EQUIPMENT, merged(base, device.datasheet), file, f"{device.where}.datasheet")
    if not response:
        return made
    whole = merged(merged(base, device.datasheet).get("response", {}), response)
    return made.model_copy(update={"response": validated(Response, whole, file, f"{device.where}.response")})


def load_rules(ident: str, beside: Path | None = None) -> RuleSet:
    """Load a rule set by its id."""
    return read_as(RuleSet, profile_path("rules", ident, beside))


def load_battery(ident: str, beside: Path | None = None) -> BatteryProfile:
    """Load a battery profile by its id."""
    return read_as(BatteryProfile, profile_path("batteries", ident, beside))


def load_equipment(ident: str, beside: Path | None = None) -> Any:
    """Load an equipment profile by its id."""
    return read_as(_EQUIPMENT, profile_path("equipment", ident, beside))


def load_profiles(
    kind: str, model: type[Kind], idents: Sequence[str], beside: Path | None = None
) -> tuple[Kind, ...]:
    """Load profiles of one kind by their ids, in order; the room that owns the type passes it in.

    A file that has not changed since it was last loaded is not read again.

    Raises
    ------
    SiteError
        With every problem of all of them.
    """
    problems: list[Problem] = []
    loaded: list[Kind] = []
    for ident in idents:
        try:
            path = profile_path(kind, ident, beside)
            loaded.append(_loaded(model, path, path.stat().st_mtime_ns))
        except SiteError as error:
            problems += error.problems
    if problems:
        raise SiteError(problems)
    return tuple(loaded)


@lru_cache(maxsize=64)
def _loaded(model: type[Kind], path: Path, changed: int) -> Kind:
    return validated(model, read_toml(path), path.name)


def battery_of_bank(bank: Bank, file: str, beside: Path | None = None) -> BatteryProfile:
    """Return the profile of a bank with the values of its own datasheet over it."""
    profile = load_battery(bank.profile, beside)
    if not bank.datasheet:
        return profile
    key = f"{bank.where}.datasheet"
    return validated(BatteryProfile, battery_values(profile, bank.datasheet, file, key), file, key)
