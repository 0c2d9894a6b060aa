"""What flows into the bank when the controller of a coordinated group falls silent, and for how long."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from commission.figure import Figure, Gap, given
from commission.formulas.charging import sum_of_currents
from commission.plant.plant import Plant, datasheet_gap
from commission.plant.values import UNKNOWN
from commission.sheet.draft import Draft
from commission.sheet.known import not_checked
from commission.sheet.plan import Plan
from commission.sheet.scene import silence_of
from commission.sheet.sharing_remedies import flow_figures, names_of
from commission.sheet.types import Finding, Kind
from commission.units import show

_SLACK: Final = 1e-6
_SHORT: Final = 60.0
"""Seconds for which more than the bank's limit is let pass with an advice; common practice."""


def check_silence(draft: Draft, plan: Plan, held: dict[str, float]) -> None:
    """Find what is not known of a silent controller's members, and what they can drive into the bank."""
    _check_members(draft, plan)
    if not plan.scene.members:
        return
    _check_untold(draft, plan)
    _check_after(draft, plan, held)
    _check_meanwhile(draft, plan, held)


def _check_members(draft: Draft, plan: Plan) -> None:
    plant = draft.plant
    named = plant.site.coordination.members
    if not named:
        draft.find(
            not_checked(
                "group-members", ("site",), (Gap("members of the coordinated group", "coordination.members"),)
            )
        )
    for ident in named:
        limit = plan.scene.limits.get(ident)
        if limit is None:
            continue
        coordinable = plant.source_class(limit.device).coordinable
        if coordinable == UNKNOWN:
            name = f"whether {limit.device.label} can follow a controller"
            gap = datasheet_gap(limit.device, "coordinable", name)
            draft.find(not_checked("coordinable", (ident,), (gap,)))
        if ident not in plan.scene.members:
            draft.find(_cannot_follow(plant, ident))


def _cannot_follow(plant: Plant, ident: str) -> Finding:
    name = plant.parts[ident].label
    return Finding(
        "correct",
        "member-cannot-follow",
        (ident,),
        f"{name} is named as a member of the coordinated group and cannot follow a controller: it is held to "
        "a value that fits beside all others",
        "take it out of the group, or a device that can follow",
    )


def _check_untold(draft: Draft, plan: Plan) -> None:
    """Say of which members it is not told what silence does; they are taken to stop."""
    plant = draft.plant
    missing = []
    for ident in _members(plan):
        limit = plan.scene.limits[ident]
        silence = silence_of(plant, ident, limit)
        if silence.does == UNKNOWN:
            name = f"what {limit.device.label} does when its controller is silent (taken as: stops)"
            missing.append(Gap(name, f"{limit.device.where}.silence.does"))
        elif silence.after == UNKNOWN and silence.does == "stops":
            name = f"how long its controller is silent before {limit.device.label} stops"
            missing.append(Gap(name, f"{limit.device.where}.silence.after"))
    if missing:
        draft.find(not_checked("silence-not-told", tuple(_members(plan)), missing))


def _members(plan: Plan) -> list[str]:
    return [ident for ident in plan.scene.limits if ident in plan.scene.members]


def _check_after(draft: Draft, plan: Plan, held: dict[str, float]) -> None:
    """Find what still flows once those who stop have stopped: it lasts as long as the silence."""
    scene, never = plan.scene, plan.scene.never.value
    found = [plan.silent(one, held) | scene.uncommanded(one) for one in scene.sets]
    over = [flows for flows in found if math.fsum(flows.values()) > never + _SLACK]
    if over:
        worst = max(over, key=lambda flows: math.fsum(flows.values()))
        members = [ident for ident in worst if ident in scene.members]
        how_long = "for as long as the silence lasts"
        draft.find(_unsafe(plan, ("correct", "silence"), worst, how_long, members))


def _check_meanwhile(draft: Draft, plan: Plan, held: dict[str, float]) -> None:
    """Find what can flow until the members notice that nobody commands them any more."""
    scene, never = plan.scene, plan.scene.never.value
    found = [_Wait.of(plan, plan.waiting(one, held) | scene.uncommanded(one)) for one in scene.sets]
    over = [wait for wait in found if wait.total > never + _SLACK and not wait.over_at_once]
    if over:
        worst = max(over, key=lambda wait: (wait.kind == "correct", wait.total))
        draft.find(_unsafe(plan, (worst.kind, "silence-delay"), worst.flows, worst.how_long, worst.stopping))


@dataclass(frozen=True, slots=True)
class _Wait:
    """What can flow in one set before its members stop, and until when."""

    flows: dict[str, float]
    stopping: list[str]
    times: list[float | None]

    @classmethod
    def of(cls, plan: Plan, flows: dict[str, float]) -> _Wait:
        scene = plan.scene
        stopping = [ident for ident in flows if ident in scene.members and not _goes_on(plan, ident)]
        delays = [silence_of(scene.plant, ident, scene.limits[ident]).after for ident in stopping]
        return cls(flows, stopping, [time if isinstance(time, float) else None for time in delays])

    @property
    def total(self) -> float:
        return math.fsum(self.flows.values())

    @property
    def over_at_once(self) -> bool:
        return all(time == 0.0 for time in self.times)

    @property
    def kind(self) -> Kind:
        short = all(time is not None and time <= _SHORT for time in self.times)
        return "advise" if short else "correct"

    @property
    def how_long(self) -> str:
        if None in self.times:
            return "for a time that is not known"
        return f"for up to {show(max(time for time in self.times if time is not None), 's')}"


def _goes_on(plan: Plan, ident: str) -> bool:
    scene = plan.scene
    return silence_of(scene.plant, ident, scene.limits[ident]).does == "carries on alone"


def _unsafe(
    plan: Plan,
    kind_and_check: tuple[Kind, str],
    flows: dict[str, float],
    how_long: str,
    members: list[str],
) -> Finding:
    plant, alone, never = plan.scene.plant, plan.alone, plan.scene.never
    kind, check = kind_and_check
    total = sum_of_currents.of("what can flow in silence", currents=flow_figures(plan, flows))
    values = ", ".join(f"{names_of(plant, [ident])} {show(alone[ident], 'A')}" for ident in members)
    shown = show(total.value, "A") if isinstance(total, Figure) else "more"
    return Finding(
        kind,
        check,
        tuple(flows),
        f"when the group's controller falls silent, {names_of(plant, flows)} can drive {shown} into the bank "
        f"{how_long}; {show(never.value, 'A')} is never to be exceeded",
        f"own limits that fit together without a controller: {values}" if members else _apart(plant, flows),
        value=total,
        limit=never,
        passes=given(sum(alone[ident] for ident in members), "A", "own limits of the members that pass")
        if members
        else None,
    )


def _apart(plant: Plant, flows: dict[str, float]) -> str:
    """Say what is left where no limit of a member helps: all that flows, nobody commands."""
    return (
        f"a contact that parts {names_of(plant, flows)} from the bus when the controller is silent or the "
        "bank "
        "is full, less PV on it, or a bank that takes what it can drive"
    )
