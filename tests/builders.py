"""Small plants for tests, built from the program's own profiles with what a test is about stated in it."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from commission.plant.datasheet import merged
from commission.plant.files import load_battery as _battery
from commission.plant.files import load_equipment, load_rules
from commission.plant.plant import Plant
from commission.plant.site import Site

PLACE = {
    "id": "test-site",
    "name": "Test site",
    "place": "nowhere",
    "rules": "north-america",
    "units": "us",
    "altitude": 200.0,
    "coldest_battery": 0.0,
    "hottest_battery": 35.0,
    "coldest_month_battery": 5.0,
    "hottest_month_battery": 30.0,
    "mean_battery": 18.0,
    "coldest_ambient": -15.0,
    "hottest_ambient": 38.0,
    "room_temperature": 25.0,
}


def plant(
    chemistry: str = "agm",
    *,
    cells_per_block: int = 6,
    blocks: int = 4,
    strings: int = 1,
    capacity: float = 200.0,
    inverters: tuple[dict[str, Any], ...] = (),
    controllers: tuple[dict[str, Any], ...] = (),
    place: dict[str, Any] | None = None,
    bank: dict[str, Any] | None = None,
    battery: dict[str, Any] | None = None,
    **sections: Any,
) -> Plant:
    """Return a plant; devices are dictionaries of a site file's fields, ``datasheet`` laid over the class."""
    site = Site.model_validate(
        {
            "format": 1,
            "site": PLACE | (place or {}),
            "bank": {
                "profile": chemistry,
                "cells_per_block": cells_per_block,
                "blocks_in_series": blocks,
                "strings": [{"id": f"string-{number}"} for number in range(1, strings + 1)],
                "capacity": capacity,
                **(bank or {}),
            },
            "inverter_chargers": [{"sensor_fitted": True, **device} for device in inverters],
            "charge_controllers": [{"sensor_fitted": True, **device} for device in controllers],
            **sections,
        }
    )
    return resolved(site, battery or {})


def resolved(site: Site, battery: dict[str, Any] | None = None) -> Plant:
    """Return a site with its profiles, battery fields laid over the profile's."""
    monitor = () if site.monitor is None else (site.monitor,)
    devices = (
        *site.inverter_chargers,
        *site.charge_controllers,
        *site.ac_pv_inverters,
        *site.generators,
        *monitor,
    )
    equipment = {}
    for device in devices:
        standing = load_equipment(device.profile)
        data = merged(standing.model_dump(), device.datasheet)
        equipment[device.id] = type(standing).model_validate(data)
    profile = _battery(site.bank.profile)
    if battery:
        profile = type(profile).model_validate(merged(profile.model_dump(), battery))
    return Plant(site=site, battery=profile, equipment=equipment, rules=load_rules(site.site.rules, Path()))
