"""The emergency stop: whether it reaches everything that can make the plant live."""

from __future__ import annotations

from collections.abc import Iterator

from commission.design.types import Found, Remedy, Scene
from commission.figure import Gap
from commission.plant.change import Change
from commission.plant.plant import Plant
from commission.plant.site import ChargeController, Generator, InverterCharger, Utility
from commission.plant.values import UNKNOWN
from commission.sheet.known import not_checked
from commission.sheet.types import Finding


def check_emergency_stop(scene: Scene) -> Iterator[Found]:
    """Find sources that one emergency stop does not reach."""
    plant, reached = scene.plant, scene.plant.site.safety.emergency_stop
    wanted = sources(plant)
    if isinstance(reached, str):
        yield Found(
            not_checked(
                "emergency-stop",
                ("site",),
                [Gap("which sources the emergency stop reaches", "safety.emergency_stop")],
            )
        )
        return
    if not reached:
        yield _none(plant, wanted)
        return
    for ident in wanted:
        if ident not in reached:
            yield _missed(plant, ident, reached)


def sources(plant: Plant) -> tuple[str, ...]:
    """Return the ids of everything that can make the plant live: each device, supply and the bank."""
    site = plant.site
    utility = () if site.utility is None else (site.utility,)
    parts = (*plant.sources, *site.ac_pv_inverters, *site.generators, *utility)
    return (*(part.id for part in parts), plant.bank.id)


def _none(plant: Plant, wanted: tuple[str, ...]) -> Found:
    """Return that there is no emergency stop: to be mended where AC is made, else advice."""
    site = plant.site
    alternating = bool(site.inverter_chargers or site.generators or site.utility or site.ac_pv_inverters)
    finding = Finding(
        "correct" if alternating else "advise",
        "emergency-stop",
        ("site",),
        "no emergency stop: whoever must make the plant dead has to find and open every source",
    )
    remedy = Remedy(
        f"one emergency stop that reaches {', '.join(wanted)}",
        change=(Change("safety.emergency_stop", list(wanted)),),
    )
    return Found(finding, (remedy,))


def _missed(plant: Plant, ident: str, reached: tuple[str, ...]) -> Found:
    part = plant.parts.get(ident)
    label = "the bank" if part is None else part.label
    finding = Finding(
        "correct",
        "emergency-stop",
        (ident,),
        f"the emergency stop does not reach {label}: {_harm(plant, ident)}",
    )
    remedy = Remedy(
        f"an emergency stop that reaches {label} too",
        change=(Change("safety.emergency_stop", [*reached, ident]),),
    )
    return Found(finding, (remedy,))


def _harm(plant: Plant, ident: str) -> str:
    part = plant.parts.get(ident)
    if isinstance(part, Generator):
        by_itself = part.started_by not in {None, UNKNOWN}
        return "it can start by itself and feed again" if by_itself else "it goes on feeding"
    if isinstance(part, InverterCharger):
        return "its output stays live"
    if isinstance(part, ChargeController):
        return "its array goes on feeding the DC bus by day"
    if isinstance(part, Utility):
        return "it goes on feeding through the inverters' relays"
    if part is None:
        return "the DC bus stays live"
    return "it can go on feeding while anything else holds the AC bus"
