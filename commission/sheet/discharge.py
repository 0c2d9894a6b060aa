"""The greatest discharge current: by the cells, the management system and the main protection, shared out."""

from __future__ import annotations

from commission.figure import Figure, Quantity, Unknown, least
from commission.formulas.charging import scaled_current
from commission.formulas.load_control import discharge_current, share_of_current
from commission.formulas.overcurrent import continuous_limit
from commission.plant.plant import Plant, fact, part_fact
from commission.plant.site import Device, InverterCharger
from commission.sheet.bank_state import capacity, share_of
from commission.sheet.draft import Draft


def discharge_limit(draft: Draft, device: Device) -> Quantity:
    """Return what a device may draw from the bank for long: an inverter its share by rating."""
    of_bank = bank_discharge_limit(draft.plant)
    if not isinstance(device, InverterCharger) or len(draft.plant.site.inverter_chargers) == 1:
        return of_bank
    share = share_of(draft.plant, [device])
    name = f"discharge limit of {device.label}, its share by rating"
    return share_of_current.of(name, share=share, current=of_bank)


def bank_discharge_limit(plant: Plant) -> Quantity:
    """Return the greatest current out of the bank for long."""
    found = [_by_cells(plant), _by_management(plant), *_by_protection(plant)]
    candidates = [one for one in found if one is not None]
    return least("discharge limit of the bank", *candidates)


def _by_cells(plant: Plant) -> Quantity:
    told = fact(plant.bank, "greatest_discharge", "bank")
    if isinstance(told, Figure):
        strings = float(len(plant.bank.strings))
        return scaled_current.of("discharge limit as the maker states it", current=told, count=strings)
    return discharge_current.of(
        "discharge limit of the cells",
        rate=plant.cell("discharge_rate_greatest"),
        capacity=capacity(plant),
    )


def _by_management(plant: Plant) -> Quantity | None:
    """Return the limit of the management systems; without a data link one pack may be open unseen."""
    management = plant.bank.management
    if management is None:
        return None
    name = "discharge limit of the management systems"
    if management.data_link == "unknown":
        return Unknown(("data link of bank.management",), "A", name)
    packs = len(plant.bank.strings)
    count = packs if management.data_link or packs == 1 else packs - 1
    return scaled_current.of(
        name, current=fact(management, "discharge_current", "bank.management"), count=float(count)
    )


def _by_protection(plant: Plant) -> list[Quantity]:
    factor = plant.rule("continuous_factor")
    return [
        part_fact(guard, "rating")
        if guard.full_rated
        else continuous_limit.of(
            f"what {guard.label} carries for long", rating=part_fact(guard, "rating"), factor=factor
        )
        for guard in plant.site.protection
        if guard.protects == "bank" and guard.current == "dc" and guard.kind in {"breaker", "fuse"}
    ]
