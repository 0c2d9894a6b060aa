"""A managed battery that opens under charge: remedies for what the settings found, and the DC loads."""

from __future__ import annotations

from collections.abc import Iterator

from commission.design.types import Found, Later, Remedy, Scene
from commission.design.words import gap
from commission.figure import Unknown
from commission.plant.change import Change
from commission.plant.plant import Plant
from commission.plant.site import Management
from commission.plant.values import UNKNOWN
from commission.sheet.gaps import survival_gap
from commission.sheet.hearing import hears_battery
from commission.sheet.types import Finding

_LOSS = "bank-lost-under-charge"


def check_battery_loss(scene: Scene) -> Iterator[Found]:
    """Give what the settings found its remedies, ask for what it leaves open, and tell the DC loads."""
    management = scene.plant.bank.management
    if management is None:
        return
    found = [one for one in scene.sheet.findings if one.check == _LOSS and one.kind == "correct"]
    for finding in found:
        yield Found(finding, Later(_remedies(scene.plant, finding)))
        yield from _not_told(scene.plant)
    yield from _direct_loads(scene.plant, management)


def _remedies(plant: Plant, finding: Finding) -> Iterator[Remedy]:
    deaf = [one for one in plant.sources if not hears_battery(plant, one)]
    told = Change("bank.management.tells_zero_before_opening", True)
    link = Change("bank.management.data_link", True)
    if not plant.site.ac_pv_inverters:
        on_link = tuple(Change(f"{one.where}.on_battery_link", True) for one in deaf)
        names = f", and {', '.join(one.label for one in deaf)} on its link" if deaf else ""
        words = f"a management that tells a limit of zero before it opens{names}"
        yield Remedy(words, change=(link, told, *on_link) if deaf else (told,))
    survive = tuple(
        Change(f"{plant.parts[ident].where}.datasheet.survives_battery_loss", True) for ident in finding.parts
    )
    names = ", ".join(plant.parts[ident].label for ident in finding.parts)
    yield Remedy(
        f"in place of {names} devices that survive the loss of their battery; {finding.remedy}",
        change=survive,
    )


def _not_told(plant: Plant) -> Iterator[Found]:
    """Ask for the devices that the finding of the weak ones passes over."""
    untold = [one for one in plant.sources if plant.source_class(one).survives_battery_loss == UNKNOWN]
    gaps = [Unknown((survival_gap(one),)) for one in untold]
    missing = gap("survives-battery-loss", tuple(one.id for one in untold), *gaps)
    if missing is not None:
        yield missing


def _direct_loads(plant: Plant, management: Management) -> Iterator[Found]:
    """Tell of DC loads that stay on a bus without its bank."""
    loads = [load for load in plant.site.loads if load.current == "dc"]
    heard = all(hears_battery(plant, one) for one in plant.sources) and not plant.site.ac_pv_inverters
    if not loads or not plant.sources or (heard and management.tells_zero_before_opening is not False):
        return
    names = ", ".join(load.label for load in loads)
    finding = Finding(
        "advise",
        "loads-without-bank",
        tuple(load.id for load in loads),
        f"where the management opens under charge {names} {'stays' if len(loads) == 1 else 'stay'} on a bus "
        "that only the sources hold: its voltage is not steady then",
        "a converter or a small bank of their own between the bus and these loads, if they cannot stand it",
    )
    yield Found(finding)
