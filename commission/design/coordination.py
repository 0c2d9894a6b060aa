"""The controller of a coordinated group: that there is one, that it leads, and whom it leads."""

from __future__ import annotations

from collections.abc import Iterator

from commission.design.types import Found, Later, Remedy, Scene
from commission.plant.change import Change
from commission.plant.plant import Plant
from commission.plant.site import Device, DirectCurrentSource, InverterCharger
from commission.plant.values import UNKNOWN
from commission.sheet.types import Finding

_KIND = "coordination.kind"


def check_coordination(scene: Scene) -> Iterator[Found]:
    """Find coordination that nothing does or measures, or that names the wrong parts or leaves some out."""
    if scene.plant.site.coordination.kind == "none":
        yield from _idle(scene.plant)
        return
    yield from _controller(scene.plant)
    yield from _measured(scene.plant)
    yield from _hears(scene.plant)
    yield from _members(scene.plant)
    yield from _outside(scene.plant)
    yield from _firmware(scene.plant)


def _idle(plant: Plant) -> Iterator[Found]:
    """Find a controller or members beside the word that nothing is coordinated."""
    coordination = plant.site.coordination
    if coordination.controller in {None, UNKNOWN} and not coordination.members:
        return
    text = (
        "the file names a controller or members of a group and says that nothing coordinates them: no source "
        "is held back"
    )
    finding = Finding(
        "advise",
        "coordination-idle",
        ("site",),
        text,
        "coordination.kind as it is on site, or no controller and no members",
    )
    yield Found(finding)


def _controller(plant: Plant) -> Iterator[Found]:
    coordination = plant.site.coordination
    ident = coordination.controller
    if ident == UNKNOWN:  # the settings ask for it
        return
    if ident is None or ident not in plant.parts:
        text = f"sources are coordinated by {coordination.kind}, and no part of the site is the controller"
        yield Found(_of_controller(("site",), text), Later(_candidates(plant)))
        return
    part = plant.parts[ident]
    if isinstance(part, DirectCurrentSource) and plant.source_class(part).coordinable is False:
        text = f"{part.label} is named as controller of the group, and its class takes no part in any group"
        yield Found(_of_controller((ident,), text), Later(_candidates(plant)))
    elif isinstance(part, InverterCharger) and part.group is not None and part.group_role == "follower":
        text = (
            f"{part.label} is named as controller and follows another unit: the reference of its group leads"
        )
        yield Found(_of_controller((ident,), text), Later(_candidates(plant)))


def _of_controller(parts: tuple[str, ...], text: str) -> Finding:
    return Finding("correct", "coordination-controller", parts, text, "a controller that leads all members")


def _candidates(plant: Plant) -> Iterator[Remedy]:
    """Yield devices that can lead: the reference of a group, then others that take part in one."""
    ranked = sorted(
        (one for one in plant.sources if plant.source_class(one).coordinable is True),
        key=_rank,
    )
    for one in ranked[:2]:
        if not (isinstance(one, InverterCharger) and one.group_role == "follower"):
            yield Remedy(f"{one.label} as controller", change=(Change("coordination.controller", one.id),))


def _rank(source: DirectCurrentSource) -> int:
    if not isinstance(source, InverterCharger):
        return 2
    return 0 if source.group_role == "reference" else 1


def _measured(plant: Plant) -> Iterator[Found]:
    """Find a limit on the bank's current that nothing measures."""
    coordination, monitor, management = plant.site.coordination, plant.site.monitor, plant.bank.management
    told = coordination.hears_battery and management is not None and management.data_link is True
    if coordination.kind != "bank current" or monitor is not None or told:
        return
    text = "the controller holds the current of the bank, and neither a shunt nor the battery tells it"
    finding = Finding(
        "correct", "bank-current-not-measured", ("site",), text, "a monitor with its shunt at the bank"
    )
    change = Change(_KIND, "own outputs")
    yield Found(
        finding, (Remedy("a controller that sums its devices' own outputs instead", change=(change,)),)
    )


def _hears(plant: Plant) -> Iterator[Found]:
    management = plant.bank.management
    if not plant.site.coordination.hears_battery:
        return
    if management is not None and management.data_link in {True, UNKNOWN}:  # the settings ask for a link
        return
    text = (
        "the controller is said to hear the battery, and the battery has no data link: no limit is ever told"
    )
    change = Change("coordination.hears_battery", False)
    remedy = Remedy("a controller that goes by its own limits", change=(change,))
    finding = Finding("correct", "coordination-hears-nothing", ("site",), text, "a battery with a data link")
    yield Found(finding, (remedy,))


def _members(plant: Plant) -> Iterator[Found]:
    """Find members that charge nothing over the DC bus: no controller's command reaches them."""
    named = plant.site.coordination.members
    sources = {source.id for source in plant.sources}
    for ident in dict.fromkeys(named):
        if ident in sources or ident not in plant.parts:
            continue
        label = plant.parts[ident].label
        rest = [one for one in named if one != ident]
        text = (
            f"{label} is a member of the coordinated group and charges nothing that a charge limit could hold"
        )
        remedy = Remedy(f"{label} left out of the group", change=(Change("coordination.members", rest),))
        yield Found(Finding("correct", "member-not-charging", (ident,), text), (remedy,))


def _outside(plant: Plant) -> Iterator[Found]:
    """Find sources that could follow the controller and charge beside its group."""
    coordination = plant.site.coordination
    if not coordination.members:  # asked for by the settings
        return
    outside = [
        one
        for one in plant.sources
        if one.id not in coordination.members and plant.source_class(one).coordinable is True
    ]
    if not outside:
        return
    names = ", ".join(one.label for one in outside)
    verb = "charges" if len(outside) == 1 else "charge"
    text = f"{names} could follow the controller and {verb} beside its group"
    finding = Finding(
        "advise",
        "outside-the-group",
        tuple(one.id for one in outside),
        f"{text}: held to a fixed share of the bank's limit",
        "in the group, where the controller can take them in",
    )
    yield Found(finding)


def _firmware(plant: Plant) -> Iterator[Found]:
    """Find members of one class with unlike versions; units of one supply are told with their group."""
    members = [one for one in plant.devices if one.id in plant.site.coordination.members]
    classes: dict[str, list[Device]] = {}
    for one in members:
        classes.setdefault(plant.equipment[one.id].id, []).append(one)
    for devices in classes.values():
        told = {one.firmware for one in devices if one.firmware not in {"", UNKNOWN}}
        if len(told) < 2 or _one_supply(devices):
            continue
        names = ", ".join(one.label for one in devices)
        versions = ", ".join(sorted(told))
        text = f"{names} are alike and have versions {versions} of firmware in one coordinated group"
        parts = tuple(one.id for one in devices)
        yield Found(
            Finding("correct", "member-firmware", parts, text, "one version on all, as the maker releases it")
        )


def _one_supply(devices: list[Device]) -> bool:
    groups = {one.group if isinstance(one, InverterCharger) else None for one in devices}
    return len(groups) == 1 and None not in groups
