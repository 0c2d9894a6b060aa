"""Changes to a site file: how a remedy is tried and how planned additions are laid over a plant."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any, Final

from pydantic import TypeAdapter

from commission.errors import Problem, SiteError
from commission.plant.battery import BatteryProfile
from commission.plant.datasheet import battery_values, merged, odd_names
from commission.plant.equipment import EquipmentBase, EquipmentClass, Response
from commission.plant.explain import problem
from commission.plant.plant import Plant
from commission.plant.site import AcPvInverter, Device, Planned, Site
from commission.plant.toml import unknown_keys, validated

_EQUIPMENT: Final[TypeAdapter[Any]] = TypeAdapter(EquipmentClass)
_PIECE: Final = re.compile(r"(?P<name>[a-z_]+)(?:\[(?P<item>[^\[\]]+)\])?")
_KNOWN_BY: Final = {"modes": "mode", "positions": "position", "planned": "name"}
"""What the items of a list are known by, where it is not their id."""
PLANNED_SECTIONS: Final = (
    "inverter_chargers", "charge_controllers", "ac_pv_inverters", "generators", "runs", "protection",
    "panels", "data_cables", "loads",
)  # fmt: skip
"""The tables of a site file that planned additions can add to."""
_FOR_EVER: Final = frozenset({"bank.profile", "site.rules"})
_ANOTHER: Final = "another profile cannot be laid over the one that stands"


@dataclass(frozen=True, slots=True)
class Change:
    """A key of the site file and the value that it gets, in the unit of the key.

    ``runs[run-main].area`` names a field of a part, ``protection[fuse-new]`` with a table a new part;
    None takes the key or the part away.
    """

    key: str
    value: Any


def changed_data(data: Mapping[str, Any], changes: Iterable[Change], file: str = "site") -> dict[str, Any]:
    """Return the content of a site file with changes made.

    Raises
    ------
    SiteError
        If a key names a part or a table that the file does not have.
    """
    made = dict(data)  # what a change goes through is copied on its way
    for change in changes:
        _change(made, change, file)
    return made


def changed(plant: Plant, changes: Iterable[Change]) -> Plant:
    """Return the plant that a changed site file describes.

    Devices keep their profiles; a datasheet's new value is laid over them.

    Raises
    ------
    SiteError
        If a key names nothing, a value does not fit, or a profile would be another one.
    """
    made = tuple(changes)
    for change in made:
        if change.key in _FOR_EVER:
            raise SiteError([problem("site", change.key, str(change.value), _ANOTHER, "another site file")])
    before = plant.site.model_dump(by_alias=True, exclude_unset=True)
    data = changed_data(before, made)
    site = _with_untouched(validated(Site, data, "site"), data, plant.site, before)
    equipment = dict(plant.equipment)
    for device in _devices(site):
        own = f"{device.where}."
        if device.id in equipment and any(change.key.startswith(own) for change in made):
            equipment[device.id] = _resolved(device, equipment[device.id])
    battery = plant.battery
    if any(one.key.startswith("bank.datasheet") for one in made):
        values = battery_values(battery, site.bank.datasheet, "site", "bank.datasheet")
        battery = BatteryProfile.model_validate(values)
    return plant.model_copy(update={"site": site, "equipment": equipment, "battery": battery})


def _with_untouched(site: Site, data: Mapping[str, Any], standing: Site, before: Mapping[str, Any]) -> Site:
    """Return a changed site with the very parts of the one before that no change went through.

    What has been worked out of such a part alone is kept with it and need not be worked out again.
    """
    untouched = {}
    for key, now in data.items():
        then = before.get(key)
        if then is None or key not in Site.model_fields:
            continue
        if now is then:
            untouched[key] = getattr(standing, key)
        elif isinstance(then, list | tuple):
            same = {id(one): part for one, part in zip(then, getattr(standing, key), strict=True)}
            parts = zip(now, getattr(site, key), strict=True)
            untouched[key] = tuple(same.get(id(one), part) for one, part in parts)
    return site.model_copy(update=untouched)


def grown(plant: Plant, planned: Planned) -> Plant:
    """Return the plant with planned additions built in; what it plans beside them is left out.

    Raises
    ------
    SiteError
        If one of its changes names nothing or does not fit.
    """
    before = plant.site.model_dump(by_alias=True, exclude_unset=True)
    data = dict(before)
    for section in PLANNED_SECTIONS:
        more = [part.model_dump(by_alias=True, exclude_unset=True) for part in getattr(planned, section)]
        data[section] = [*data.get(section, ()), *more]
    day = {"installed": planned.when} if planned.when else {}
    strings = [
        string.model_dump(exclude_unset=True) | ({} if string.installed else day)  # a record writes it empty
        for string in planned.strings
    ]
    if strings:
        data["bank"] = {**data["bank"], "strings": [*data["bank"]["strings"], *strings]}
    data["planned"] = []
    site = _with_untouched(validated(Site, data, "site"), data, plant.site, before)
    bare = plant.model_copy(update={"site": site})
    return _with_changes(bare, planned_changes(planned)) if planned.changes else bare


def problems_of_changes(plant: Plant, planned: Planned) -> Iterator[Problem]:
    """Yield what is wrong with each change of planned additions by itself, where all together fail."""
    bare = grown(plant, planned.model_copy(update={"changes": {}}))
    for change in planned_changes(planned):
        try:
            _with_changes(bare, (change,))
        except SiteError as error:
            yield from error.problems


def _with_changes(bare: Plant, changes: Iterable[Change]) -> Plant:
    whole = changed(bare, changes)
    odd = [str(one) for one in unknown_keys(bare.site, "site")]
    new = [one for one in unknown_keys(whole.site, "site") if str(one) not in odd]
    if new:
        raise SiteError([problem("site", one.key, "", "no field has this name", one.right) for one in new])
    return whole


def planned_changes(planned: Planned) -> tuple[Change, ...]:
    """Return the changes of planned additions."""
    return tuple(Change(key, value) for key, value in planned.changes.items())


def _resolved(device: Device, standing: EquipmentBase) -> Any:
    """Return a device's class with the datasheet and the response that its changed table tells."""
    if standing.id != device.profile:
        key, right = f"{device.where}.profile", "a new device beside it, or the datasheet's value"
        raise SiteError([problem("site", key, f"'{device.profile}'", _ANOTHER, right)])
    where = f"{device.where}.datasheet"
    response = device.response if isinstance(device, AcPvInverter) else {}
    odd = list(odd_names(device.datasheet, type(standing), "site", where))
    odd += odd_names(response, Response, "site", f"{device.where}.response")
    if odd:
        raise SiteError(odd)
    data = merged(standing.model_dump(exclude_unset=True), device.datasheet)
    if response:
        data = merged(data, {"response": response})
    return validated(_EQUIPMENT, data, "site", where)


def _devices(site: Site) -> Iterator[Device]:
    yield from (*site.inverter_chargers, *site.charge_controllers, *site.ac_pv_inverters, *site.generators)
    if site.monitor is not None:
        yield site.monitor


def _change(data: dict[str, Any], change: Change, file: str) -> None:
    pieces = [_PIECE.fullmatch(piece) for piece in _split(change.key)]
    if not pieces or any(piece is None for piece in pieces):
        raise SiteError([problem(file, change.key, "", "is no key of a site file", "runs[run-a].area")])
    matches = [piece for piece in pieces if piece is not None]
    holder: Any = data
    for piece in matches[:-1]:
        holder = _inside(holder, piece["name"], piece["item"], change.key, file)
    last = matches[-1]
    if last["item"] is None:
        _put(holder, last["name"], change.value)
    else:
        _put_item(holder, last["name"], last["item"], change, file)


def _split(key: str) -> list[str]:
    """Return the pieces of a key; a dot inside brackets parts nothing."""
    return re.split(r"\.(?![^\[]*\])", key)


def _inside(holder: dict[str, Any], name: str, item: str | None, key: str, file: str) -> Any:
    if item is None or isinstance(holder.get(name), Mapping):  # a single part, such as the monitor
        inner = dict(holder.get(name) or {})
        holder[name] = inner
        return inner
    items = _listed(holder, name, key, file)
    for at, one in enumerate(items):
        if one.get(_known_by(name)) == item:
            inner = dict(one)
            holder[name] = [*items[:at], inner, *items[at + 1 :]]
            return inner
    raise SiteError([problem(file, key, f"'{item}'", "no part has this id", "")])


def _listed(holder: Mapping[str, Any], name: str, key: str, file: str) -> list[Mapping[str, Any]]:
    """Return the items of a list of tables, none where the file has none yet."""
    items = holder.get(name) or ()
    if isinstance(items, list | tuple) and all(isinstance(one, Mapping) for one in items):
        return list(items)
    raise SiteError([problem(file, key, f"'{name}'", "holds no parts", "a list of tables, such as runs")])


def _known_by(name: str) -> str:
    return _KNOWN_BY.get(name, "id")


def _put(holder: dict[str, Any], name: str, value: Any) -> None:
    if value is None:
        holder.pop(name, None)
    else:
        holder[name] = value


def _put_item(holder: dict[str, Any], name: str, item: str, change: Change, file: str) -> None:
    items, by, value = _listed(holder, name, change.key, file), _known_by(name), change.value
    at = next((place for place, one in enumerate(items) if one.get(by) == item), None)
    if value is None:
        holder[name] = [one for one in items if one.get(by) != item]
        return
    if not isinstance(value, Mapping):
        wrong = "is no table of the part's fields"
        raise SiteError([problem(file, change.key, str(value), wrong, f'{{ {by} = "{item}", ... }}')])
    whole = {by: item, **value}
    if at is None:
        items.append(whole)
    else:
        items[at] = whole
    holder[name] = items
