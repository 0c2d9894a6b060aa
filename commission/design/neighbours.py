"""Batteries that must not stand together: lithium with vented cells, acid with alkaline."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from commission.design.gas import makes_gas
from commission.design.types import Found, Remedy, Scene
from commission.figure import Gap
from commission.plant.battery import BatteryProfile
from commission.plant.change import Change
from commission.plant.site import Other
from commission.plant.values import UNKNOWN
from commission.sheet.known import not_checked
from commission.sheet.types import Finding

_VENTED: Final[frozenset[Other]] = frozenset({"vented lead", "nickel"})
"""What gives off gas and vapour of its electrolyte; nickel of no told kind counts as vented."""
_GASSING: Final[frozenset[Other]] = frozenset({"vented lead", "sealed lead", "nickel"})


def check_neighbours(scene: Scene) -> Iterator[Found]:
    """Find batteries in one room or cabinet, or in one bank, that endanger each other."""
    bank = scene.plant.bank
    yield from _in_one_bank(scene)
    if isinstance(bank.beside, str):
        what = (Gap("which other batteries are in the same room or cabinet", "bank.beside"),)
        yield Found(not_checked("batteries-together", (bank.id,), what))
        return
    own = kind_of(scene.plant.battery)
    foes = [one for one in bank.beside if _lithium_and_vented(own, one)]
    if foes:
        yield _together(scene, foes)
    vapours = [one for one in bank.beside if {own, one} == {"vented lead", "nickel"}]
    if vapours:
        yield _acid_and_alkali(scene, vapours)
    gassing = [one for one in bank.beside if one in _GASSING and one not in foes]
    if gassing and makes_gas(scene.plant):
        yield _air_of_others(scene, gassing)


def kind_of(battery: BatteryProfile) -> Other:
    """Return the kind of a battery as the site file names other batteries."""
    if battery.family == "lithium":
        return "lithium"
    if battery.family == "nickel":
        return "nickel"
    return "vented lead" if battery.vented else "sealed lead"


def _lithium_and_vented(one: Other, other: Other) -> bool:
    return (one == "lithium" and other in _VENTED) or (other == "lithium" and one in _VENTED)


def _in_one_bank(scene: Scene) -> Iterator[Found]:
    """Find strings of lithium and of vented cells in one bank; other mixtures are told with the strings."""
    own = kind_of(scene.plant.battery)
    for string in scene.plant.bank.strings:
        battery = scene.plant.battery_of(string)
        if battery is None or not _lithium_and_vented(own, kind_of(battery)):
            continue
        finding = Finding(
            "stop",
            "lithium-and-vented",
            (scene.plant.bank.id, string.id),
            f"{string.id} is {battery.name}, the bank {scene.plant.battery.name}: lithium and vented cells "
            "must neither be joined nor stand together",
            releasable=False,
        )
        change = (Change(f"bank.strings[{string.id}].profile", None),)
        yield Found(finding, (Remedy(f"{string.id} of the bank's own kind", change=change),))


def _together(scene: Scene, foes: list[Other]) -> Found:
    bank = scene.plant.bank
    finding = Finding(
        "stop",
        "lithium-and-vented",
        (bank.id,),
        f"{' and '.join(foes)} in the same room or cabinet as {scene.plant.battery.name}: gas and vapour of "
        "vented cells reach lithium cells, and a lithium fire reaches the gas",
        releasable=False,
    )
    return Found(finding, (_elsewhere(scene, foes, "another room, ventilated for itself"),))


def _acid_and_alkali(scene: Scene, vapours: list[Other]) -> Found:
    finding = Finding(
        "correct",
        "acid-and-alkali",
        (scene.plant.bank.id,),
        f"{' and '.join(vapours)} beside {scene.plant.battery.name}: vapour, tools and topping water of one "
        "spoil the other",
    )
    return Found(finding, (_elsewhere(scene, vapours, "another room, with tools of its own"),))


def _elsewhere(scene: Scene, moved: list[Other], place: str) -> Remedy:
    bank = scene.plant.bank
    stays = [one for one in bank.beside if bank.beside != UNKNOWN and one not in moved]
    return Remedy(f"{' and '.join(moved)} in {place}", change=(Change("bank.beside", stays),))


def _air_of_others(scene: Scene, gassing: list[Other]) -> Found:
    finding = Finding(
        "advise",
        "air-of-other-batteries",
        (scene.plant.bank.id,),
        f"{' and '.join(gassing)} in the same room: gas of its own, for which the air that this check asks "
        "for does not count",
        "add the air of the other batteries to it",
    )
    return Found(finding)
