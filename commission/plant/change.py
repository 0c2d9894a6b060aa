"""Changes to a site file: how a remedy is tried and how planned additions are laid over a plant."""

from __future__ import annotations

import copy
import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any, Final

from pydantic import TypeAdapter

from commission.errors import SiteError
from commission.plant.battery import BatteryProfile
from commission.plant.datasheet import battery_values, merged
from commission.plant.equipment import EquipmentBase, EquipmentClass
from commission.plant.explain import problem
from commission.plant.plant import Plant
from commission.plant.site import AcPvInverter, Device, Planned, Site
from commission.plant.toml import validated

_EQUIPMENT: Final[TypeAdapter[Any]] = TypeAdapter(EquipmentClass)
_PIECE: Final = re.compile(r"(?P<name>[a-z_]+)(?:\[(?P<item>[^\[\]]+)\])?")
_NAMES: Final = ("id", "mode", "position")
"""What an item of a list is known by, in this order."""
_SECTIONS: Final = (
    "inverter_chargers", "charge_controllers", "ac_pv_inverters", "generators", "runs", "protection",
    "panels", "data_cables", "loads",
)  # fmt: skip
"""The tables of a site file that planned additions can add to."""


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
    made = copy.deepcopy(dict(data))
    for change in changes:
        _change(made, change, file)
    return made


def changed(plant: Plant, changes: Iterable[Change]) -> Plant:
    """Return the plant that a changed site file describes.

    Devices keep their profiles; a datasheet's new value is laid over them.

    Raises
    ------
    SiteError
        If a key names nothing, a value does not fit, or a device would be of another class.
    """
    made = tuple(changes)
    data = changed_data(plant.site.model_dump(by_alias=True, exclude_unset=True), made)
    site = validated(Site, data, "site")
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


def grown(plant: Plant, planned: Planned) -> Plant:
    """Return the plant with planned additions built in; what it plans beside them is left out.

    Raises
    ------
    SiteError
        If one of its changes names nothing or does not fit.
    """
    data = plant.site.model_dump(by_alias=True, exclude_unset=True)
    for section in _SECTIONS:
        more = [part.model_dump(by_alias=True, exclude_unset=True) for part in getattr(planned, section)]
        data[section] = [*data.get(section, ()), *more]
    day = {"installed": planned.when} if planned.when else {}
    strings = [day | string.model_dump(exclude_unset=True) for string in planned.strings]
    data["bank"]["strings"] = [*data["bank"]["strings"], *strings]
    data["planned"] = []
    bare = plant.model_copy(update={"site": validated(Site, data, "site")})
    return changed(bare, planned_changes(planned)) if planned.changes else bare


def planned_changes(planned: Planned) -> tuple[Change, ...]:
    """Return the changes of planned additions."""
    return tuple(Change(key, value) for key, value in planned.changes.items())


def _resolved(device: Device, standing: EquipmentBase) -> Any:
    """Return a device's class with the datasheet and the response that its changed table tells."""
    if standing.id != device.profile:
        raise SiteError([problem("site", f"{device.where}.profile", device.profile, "is another class", "")])
    data = merged(standing.model_dump(exclude_unset=True), device.datasheet)
    if isinstance(device, AcPvInverter) and device.response:
        data = merged(data, {"response": device.response})
    return _EQUIPMENT.validate_python(data)


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
        _put_item(holder, last["name"], last["item"], change.value)


def _split(key: str) -> list[str]:
    """Return the pieces of a key; a dot inside brackets parts nothing."""
    return re.split(r"\.(?![^\[]*\])", key)


def _inside(holder: dict[str, Any], name: str, item: str | None, key: str, file: str) -> Any:
    if item is None or isinstance(holder.get(name), Mapping):  # a single part, such as the monitor
        inner = dict(holder.get(name) or {})
        holder[name] = inner
        return inner
    items = [dict(one) for one in holder.get(name) or ()]
    holder[name] = items
    for one in items:
        if _called(one) == item:
            return one
    raise SiteError([problem(file, key, f"'{item}'", "no part has this id", "")])


def _called(item: Mapping[str, Any]) -> Any:
    return next((item[name] for name in _NAMES if name in item), None)


def _put(holder: dict[str, Any], name: str, value: Any) -> None:
    if value is None:
        holder.pop(name, None)
    else:
        holder[name] = value


def _put_item(holder: dict[str, Any], name: str, item: str, value: Any) -> None:
    items = list(holder.get(name) or ())
    at = next((place for place, one in enumerate(items) if _called(one) == item), None)
    if value is None:
        holder[name] = [one for one in items if _called(one) != item]
    elif at is None:
        holder[name] = [*items, _named(value, item)]
    else:
        items[at] = value
        holder[name] = items


def _named(value: Any, item: str) -> Any:
    """Return a new item under the name that its key gives it, where it does not tell its own."""
    told = not isinstance(value, Mapping) or any(name in value for name in _NAMES)
    return value if told else {"id": item, **value}
