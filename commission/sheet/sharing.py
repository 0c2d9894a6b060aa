"""The charge current limit of every source, so that no set of sources overcharges the bank."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from commission.figure import Figure, Gap, Quantity, Unknown, given, least
from commission.formulas.charging import remaining_current, shared_current
from commission.formulas.rounding import rounded_down
from commission.plant.plant import Plant
from commission.plant.site import Device
from commission.sheet.compatible import compatible_sets
from commission.sheet.draft import Draft
from commission.sheet.known import not_checked
from commission.sheet.plan import Plan, make_plan
from commission.sheet.scene import GROUP, Scene, make_scene
from commission.sheet.sharing_checks import check_sharing
from commission.sheet.sharing_remedies import label
from commission.sheet.source_limits import SETTING, SourceLimit, source_limits
from commission.sheet.types import Finding

__all__ = ["GROUP_SETTING", "compatible_sets", "settle_sharing"]

GROUP_SETTING: Final = "group_charge_current_limit"
"""Where a source that coordinates others holds the limit of the whole group."""
_EPS: Final = 1e-6


def settle_sharing(draft: Draft) -> None:
    """Settle every charge current limit, and find what cannot be held within the bank's limit.

    Leaves in ``draft.shares`` what each source adds when it runs with all others, and in ``draft.numbers``
    ``group_limit`` where sources are coordinated and ``ac_pv_current:ID`` of each AC-coupled PV inverter.
    """
    recommended, never = (draft.numbers[name] for name in ("recommended_limit", "bank_limit"))
    if isinstance(recommended, Unknown) or isinstance(never, Unknown):
        _settle_nothing(draft, recommended, never)
        return
    scene = make_scene(draft, recommended, never)
    plan = make_plan(scene)
    for ident, amps in scene.coupled.items():
        draft.numbers[f"ac_pv_current:{ident}"] = amps
    for ident in scene.limits:
        _settle_source(draft, plan, ident)
    if plan.group is not None:
        _settle_group(draft, plan)
    for ident in scene.idle:
        _tell_idle(draft, plan, ident)
    held = {ident: _held(draft, ident, plan) for ident in scene.commanded}
    draft.shares.update(_shares(plan, held))
    check_sharing(draft, plan, held)


def _settle_nothing(draft: Draft, recommended: Quantity, never: Quantity) -> None:
    """Leave everything open where the bank's limit is not known."""
    missing = tuple(
        dict.fromkeys(
            gap for item in (recommended, never) if isinstance(item, Unknown) for gap in item.missing
        )
    )
    for ident, limit in source_limits(draft).items():
        unknown = Unknown(missing, "A", f"charge current limit of {limit.device.label}")
        draft.number(limit.device, SETTING, unknown)
        draft.shares[ident] = unknown
    if draft.plant.sources:
        draft.find(not_checked("sharing", ("bank",), missing))


# settings


def _settle_source(draft: Draft, plan: Plan, ident: str) -> None:
    limit = plan.scene.limits[ident]
    if limit.ability is not None and limit.ability.fixed is None and limit.ability.unit != "A":
        helps = "the number by its maker's instructions, worked out from amperes"
        gap = Gap(f"charge current limit of {limit.device.label} in amperes", helps=helps)
        draft.number(limit.device, SETTING, Unknown((gap,), limit.ability.unit, gap))
        draft.find(not_checked("source-limit-unit", (ident,), (gap,)))
        return
    if not limit.settable or ident not in plan.amounts:
        draft.number(limit.device, SETTING, limit.own)
        return
    wanted = _wanted(plan, limit)
    note = f"bound by {wanted.binding().name}"
    draft.number(limit.device, SETTING, wanted, high=_highest(plan, limit), note=note)


def _wanted(plan: Plan, limit: SourceLimit) -> Figure:
    """Return what a source is set to, before rounding, with everything that could have bound it."""
    ident, amps = limit.ident, plan.amounts[limit.ident]
    ability = limit.ability
    assert ability is not None and isinstance(limit.own, Figure)  # noqa: S101, PT018 - it is commanded
    name = f"charge current limit of {limit.device.label}"
    candidates: list[Quantity] = [limit.own]
    room = None if ident in plan.scene.idle else _room(plan, ident, daily=True)
    if room is not None:
        candidates.append(room)
    made = least(name, *candidates)
    assert isinstance(made, Figure)  # noqa: S101 - every candidate is known
    reached = rounded_down(made.value, ability.low or 0.0, ability.step or 1.0)
    if reached < amps - 1e-9:
        where = f"{limit.device.profile}.settings.{SETTING}"
        return given(amps, "A", f"least that {limit.device.label} can be set to", kind="profile", where=where)
    if reached > amps + 1e-9:
        why = "if a set were connected" if ident in plan.scene.idle else "by the sharing, in whole steps"
        share = given(amps, "A", f"share of {limit.device.label}", source=why)
        made = least(name, *candidates, share)
        assert isinstance(made, Figure)  # noqa: S101 - likewise
    return made


def _room(plan: Plan, ident: str, *, daily: bool) -> Figure | None:
    """Return what the tightest set leaves for a source beside the settings of the others.

    Daily use counts the limit that the commanded sources share; what is never exceeded counts them all.
    """
    scene = plan.scene
    found = []
    for one in scene.sets:
        if not scene.runs(ident, one) or not plan.by_itself(ident):
            continue
        beside = {other: amps for other, amps in _commanded(plan, one).items() if other != ident}
        if daily:
            found.append(_left(scene, scene.recommended, beside))
        found.append(_left(scene, scene.never, beside | scene.uncommanded(one)))
    return min(found, key=lambda room: room.value, default=None)


def _commanded(plan: Plan, one: frozenset[str]) -> dict[str, float]:
    """Return what a source's own setting must fit beside in a set: all settings, or the group's limit."""
    return plan.waiting(one, plan.alone) if plan.carriers else plan.together(one, plan.amounts)


def _left(scene: Scene, limit: Figure, beside: Mapping[str, float]) -> Figure:
    others = [_flow(scene, ident, amps) for ident, amps in beside.items()]
    names = ", ".join(label(scene.plant, ident) for ident in beside)
    name = f"{limit.name}, beside {names}" if names else limit.name
    made = remaining_current.of(name, limit=limit, others=others)
    assert isinstance(made, Figure)  # noqa: S101 - every input is known
    return made


def _flow(scene: Scene, ident: str, amps: float) -> Figure:
    coupled = scene.coupled.get(ident)
    if isinstance(coupled, Figure):
        return coupled
    name = f"charge current of {label(scene.plant, ident)}"
    return given(amps, "A", name, kind="setting", where=f"{ident}.{SETTING}")


def _highest(plan: Plan, limit: SourceLimit) -> Quantity:
    """Return the greatest acceptable setting: its own limit, and what the bank stands beside the others."""
    ident = limit.ident
    room = _room(plan, ident, daily=False)
    name = f"greatest charge current limit of {limit.device.label}"
    if room is None or ident in plan.scene.idle:
        return limit.own
    assert isinstance(limit.own, Figure)  # noqa: S101 - it is commanded
    held = given(plan.amounts[ident], "A", "what is recommended")
    highest = least(name, limit.own, room)
    assert isinstance(highest, Figure)  # noqa: S101 - likewise
    return highest if highest.value >= held.value else held


# the group


def _settle_group(draft: Draft, plan: Plan) -> None:
    plant = draft.plant
    assert plan.group is not None  # noqa: S101 - asked by the caller
    limit = _group_figure(plan)
    draft.numbers["group_limit"] = limit
    controller = _controller(plant)
    if controller is None:
        draft.find(
            not_checked(
                "group-limit",
                ("site",),
                (Gap("controller of the coordinated group", "coordination.controller"),),
            )
        )
        return
    settled = draft.number(
        controller,
        GROUP_SETTING,
        limit,
        high=_never_beside(plan, limit),
        note=f"bound by {limit.binding().name}",
    )
    if settled is None and controller.id not in plan.scene.limits:
        settled = draft.number(controller, SETTING, limit, note=f"bound by {limit.binding().name}")
    if settled is None:
        draft.find(_no_place(controller, limit))


def _group_figure(plan: Plan) -> Figure:
    """Return the group's limit with what decided it: the room of the roomiest set."""
    scene = plan.scene
    if plan.measured:
        return scene.recommended
    found = []
    for one in scene.sets:
        if any(scene.runs(ident, one) for ident in scene.members):
            flows = plan.together(one, plan.amounts)
            beside = {ident: amps for ident, amps in flows.items() if ident != GROUP}
            rooms = (
                _left(scene, scene.recommended, beside),
                _left(scene, scene.never, beside | scene.uncommanded(one)),
            )
            found.append(min(rooms, key=lambda room: room.value))
    return max(found, key=lambda room: room.value, default=scene.recommended)


def _never_beside(plan: Plan, limit: Figure) -> Quantity:
    return plan.scene.never if plan.measured else limit


def _controller(plant: Plant) -> Device | None:
    ident = plant.site.coordination.controller
    return next((device for device in plant.devices if device.id == ident), None)


def _no_place(controller: Device, limit: Figure) -> Finding:
    return Finding(
        "advise",
        "group-limit",
        (controller.id,),
        f"the coordinated group is limited to {limit.value:.1f} A; this sheet has no setting of "
        f"{controller.label} for it",
        f"enter {limit.value:.1f} A or less as the charge limit of the whole group at {controller.label}, by "
        "its maker's instructions, and read it back",
        passes=limit,
    )


# what is told


def _tell_idle(draft: Draft, plan: Plan, ident: str) -> None:
    """Say of a charger without an AC source what its value is for."""
    limit = plan.scene.limits[ident]
    amps = draft.value(ident, SETTING)
    shown = f"{amps.value:g} A" if isinstance(amps, Figure) else "its value"
    draft.find(
        Finding(
            "advise",
            "no-ac-source",
            (ident,),
            f"no AC source feeds {limit.device.label}: it counts for nothing in the sharing; {shown} is what "
            "it would hold if a set were plugged in",
            "put the set into the site file before it is plugged in: the other sources may then have to come "
            "down",
            value=amps,
        )
    )


def _held(draft: Draft, ident: str, plan: Plan) -> float:
    held = draft.value(ident, SETTING)
    return held.value if isinstance(held, Figure) else plan.amounts[ident]


def _shares(plan: Plan, held: Mapping[str, float]) -> dict[str, Quantity]:
    """Return what each source adds when it runs with all others; members divide the group's limit."""
    scene = plan.scene
    running = [ident for ident in held if ident not in scene.idle]
    members = {ident: held[ident] for ident in running if ident in scene.members}
    beside = {ident: held[ident] for ident in running if ident not in scene.members}
    group = _group_share(plan, beside)
    made: dict[str, Quantity] = {}
    for ident, limit in scene.limits.items():
        name = f"share of {limit.device.label}"
        if ident in scene.idle:
            made[ident] = given(0.0, "A", name, source="no AC source feeds it")
        elif ident not in held:
            made[ident] = limit.own.named(name)
        else:
            made[ident] = _share(plan, ident, held[ident], members, group)
    return made


def _group_share(plan: Plan, beside: Mapping[str, float]) -> Figure | None:
    """Return what the group adds beside all others, whose part one that measures the bank leaves them."""
    if plan.group is None:
        return None
    group = given(plan.group, "A", "limit of the coordinated group")
    if not plan.measured:
        return group
    made = _left(plan.scene, group, beside)
    return made.named("what a controller that measures the bank leaves for its group")


def _share(
    plan: Plan, ident: str, amps: float, members: Mapping[str, float], group: Figure | None
) -> Quantity:
    name = label(plan.scene.plant, ident)
    own = given(amps, "A", f"charge current limit of {name}", kind="setting", where=f"{ident}.{SETTING}")
    total = sum(members.values())
    if group is None or ident not in members or total <= group.value + _EPS or amps <= 0:
        return own.named(f"share of {name}")
    ratings = [
        given(value, "A", f"charge current limit of {label(plan.scene.plant, other)}", kind="setting")
        for other, value in members.items()
        if value > 0
    ]
    part = shared_current.of(f"share of {name}", limit=group, rating=own, ratings=ratings)
    return least(f"share of {name}", own, part)
