"""The greatest discharge current: by the cells, the management system and the main protection, shared out."""

from __future__ import annotations

from commission.figure import Figure, Quantity, Unknown
from commission.formulas.charging import scaled_current
from commission.formulas.load_control import discharge_current, share_of_current
from commission.plant.plant import Plant, fact
from commission.plant.site import Device, InverterCharger
from commission.sheet.bank_state import capacity, share_of
from commission.sheet.draft import Draft
from commission.sheet.known import least_known
from commission.sheet.run_limits import protection_limit


def discharge_limit(draft: Draft, device: Device) -> Quantity:
    """Return what a device may draw from the bank for long: an inverter its share by rating."""
    of_bank = bank_discharge_limit(draft)
    if not isinstance(device, InverterCharger) or len(draft.plant.site.inverter_chargers) == 1:
        return of_bank
    share = share_of(draft.plant, [device])
    name = f"discharge limit of {device.label}, its share by rating"
    return share_of_current.of(name, share=share, current=of_bank)


def bank_discharge_limit(draft: Draft) -> Quantity:
    """Return the greatest current out of the bank for long."""
    plant = draft.plant
    name = "discharge limit of the bank"
    cells = discharge_by_cells(plant)
    if isinstance(cells, Unknown):
        return cells
    others = [*discharge_by_management(plant), *_by_protection(plant)]
    return least_known(draft, name, [cells, *others], check="discharge-limit-part", parts=("bank",))


def discharge_by_cells(plant: Plant) -> Quantity:
    """Return what the cells give for long: as their maker states it, else by the profile's rate."""
    told = fact(plant.bank, "greatest_discharge", "bank")
    if isinstance(told, Figure):
        strings = float(len(plant.bank.strings))
        return scaled_current.of("discharge limit as the maker states it", current=told, count=strings)
    return discharge_current.of(
        "discharge limit of the cells",
        rate=plant.cell("discharge_rate_greatest"),
        capacity=capacity(plant),
    )


def discharge_by_management(plant: Plant) -> list[Quantity]:
    """Return the limit of the management systems; without a data link one pack may be open unseen.

    None at all for a bank without management.
    """
    management = plant.bank.management
    if management is None:
        return []
    packs = len(plant.bank.strings)
    count = packs if management.data_link is True else max(1, packs - 1)
    limit = fact(management, "discharge_current", "bank.management", "one pack")
    name = f"discharge limit of the management of {count} of {packs} packs"
    return [scaled_current.of(name, current=limit, count=float(count))]


def _by_protection(plant: Plant) -> list[Quantity]:
    return [
        protection_limit(plant, guard)
        for guard in plant.site.protection
        if guard.protects == "bank" and guard.current == "dc" and guard.kind in {"breaker", "fuse"}
    ]
