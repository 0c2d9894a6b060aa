"""What this program's own files say of the profiles that a plant carries along."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import partial

from commission.errors import SiteError
from commission.plant.files import (
    battery_of_bank,
    class_of_device,
    load_battery,
    load_rules,
    named_devices,
    profile_path,
)
from commission.plant.plant import Plant
from commission.plant.site import Device
from commission.plant.values import Model


@dataclass(frozen=True, slots=True)
class Shipped:
    """A rule set or profile of a plant beside what the program's own files make of its name."""

    place: str
    """What it is in the plant: ``rule set iec-230``, ``profile agm of bank``."""
    file: str
    """``rules/iec-230``: kind and id."""
    told: Model | None
    """As the plant carries it; None where it has none."""
    own: Model | None
    """As the program's file and the plant's datasheet make it; None where the program has no such file."""
    brought: bool
    """The plant says that it stood beside the site file."""
    refused: str = ""
    """Why the program's own file cannot be laid under the plant's datasheet."""


def shipped(plant: Plant) -> Iterator[Shipped]:
    """Yield the rule set and every profile of a plant beside the program's own of that name."""
    site, bank = plant.site, plant.bank
    yield _one(plant, f"rule set {site.site.rules}", "rules", site.site.rules, plant.rules, load_rules)
    yield _one(
        plant,
        f"profile {bank.profile} of {bank.where}",
        "batteries",
        bank.profile,
        plant.battery,
        lambda _: battery_of_bank(bank, "record"),
    )
    for ident, profile in (plant.batteries or {}).items():
        yield _one(plant, f"profile {ident}", "batteries", ident, profile, load_battery)
    for _, device in named_devices(site):
        told = plant.equipment.get(device.id)
        make = partial(_of_device, device)
        yield _one(plant, f"profile {device.profile} of {device.id}", "equipment", device.profile, told, make)


def _of_device(device: Device, _: str) -> Model:
    made: Model = class_of_device(device, "record")
    return made


def _one(
    plant: Plant, place: str, kind: str, ident: str, told: Model | None, make: Callable[[str], Model]
) -> Shipped:
    file = f"{kind}/{ident}"
    brought = file in (plant.brought or ())
    try:
        profile_path(kind, ident)
    except SiteError:
        return Shipped(place, file, told, None, brought)
    try:
        return Shipped(place, file, told, make(ident), brought)
    except SiteError as error:
        return Shipped(place, file, told, None, brought, str(error))
