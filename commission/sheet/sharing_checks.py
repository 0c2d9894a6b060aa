"""The settled charge currents added up for every set of sources: over a limit, lost, or never enough."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Final

from commission.figure import Figure, Gap, Quantity, given
from commission.formulas.arrays import charging_power
from commission.formulas.charging import bulk_time, charge_current_limit, sum_of_currents
from commission.plant.values import UNKNOWN
from commission.sheet.draft import Draft
from commission.sheet.known import gaps, not_checked
from commission.sheet.plan import Plan, make_plan
from commission.sheet.scene import GROUP, larger
from commission.sheet.sharing_remedies import (
    flow_figures,
    names_of,
    other_sets,
    remedies_for_pv,
    remedies_over_limit,
)
from commission.sheet.silence import check_silence
from commission.sheet.source_limits import SETTING, backfeed_unknown, lowest_bulk_voltage
from commission.sheet.types import Finding
from commission.units import show

_SLACK: Final = 1e-6
_VENTED_LEAST: Final = given(
    0.05, "1", "least charge rate of vented lead", source="common practice: the acid stratifies below C/20"
)


def check_sharing(draft: Draft, plan: Plan, held: Mapping[str, float]) -> None:
    """Prove that no set of sources exceeds a limit, or say by how much and what passes.

    Parameters
    ----------
    held
        What each commanded source holds once its setting is entered, in A.
    """
    _check_unknown(draft, plan)
    _check_sets(draft, plan, dict(held))
    _check_minimums(draft, plan, held)
    _check_pv_lost(draft, plan, held)
    _check_least_current(draft, plan, held)
    if draft.plant.site.coordination.kind != "none":
        check_silence(draft, plan, dict(held))


# what is not known


def _check_unknown(draft: Draft, plan: Plan) -> None:
    scene, plant = plan.scene, draft.plant
    open_ = [limit.own for limit in scene.limits.values() if limit.most is None]
    missing = gaps([*open_, *scene.coupled.values()])
    if missing:
        draft.find(not_checked("sharing", ("bank",), missing))
    untold = backfeed_unknown(plant)
    if untold:
        what = tuple(
            Gap(
                f"whether the charge limit of {plant.parts[ident].label} holds AC-coupled power",
                f"{plant.parts[ident].where}.datasheet.limit_binds_backfeed",
            )
            for ident in untold
        )
        draft.find(not_checked("backfeed", untold, what))
    useful = tuple(
        Gap(f"least useful current of {limit.device.label}", f"{limit.device.where}.least_useful_current")
        for limit in scene.limits.values()
        if limit.device.least_useful_current == UNKNOWN
    )
    if useful:
        draft.find(not_checked("least-useful-current", ("site",), useful))


# sums


def _check_sets(draft: Draft, plan: Plan, held: dict[str, float]) -> None:
    """Add up every set as the sources are settled, coordinated where they are; tell the worst of each."""
    scene = plan.scene
    over_never, over_daily = [], []
    for one in scene.sets:
        commanded = plan.together(one, held)
        everything = commanded | scene.uncommanded(one)
        if math.fsum(everything.values()) > scene.never.value + _SLACK:
            over_never.append(everything)
        elif math.fsum(commanded.values()) > scene.recommended.value + _SLACK:
            over_daily.append(commanded)
    for flows, limit in ((over_never, scene.never), (over_daily, scene.recommended)):
        if flows:
            draft.find(_over_limit(plan, flows, limit))


def _over_limit(plan: Plan, sets: list[dict[str, float]], limit: Figure) -> Finding:
    scene = plan.scene
    never = limit is scene.never
    worst = max(sets, key=lambda flows: math.fsum(flows.values()))
    flowing = {ident: amps for ident, amps in worst.items() if amps > 0}
    total = sum_of_currents.of("all sources of the set", currents=flow_figures(plan, flowing))
    assert isinstance(total, Figure)  # noqa: S101 - every input is known
    members = tuple(ident for ident in scene.limits if ident in scene.members) if GROUP in flowing else ()
    return Finding(
        "stop" if never else "correct",
        "bank-limit" if never else "daily-limit",
        ("bank", *(ident for ident in flowing if ident != GROUP), *members),
        f"{names_of(scene.plant, flowing)} together can drive {show(total.value, 'A')} into the bank; "
        f"{show(limit.value, 'A')} is {'never to be exceeded' if never else 'the most for daily use'} "
        f"({limit.binding().name}){other_sets(len(sets) - 1)}",
        remedies_over_limit(plan, flowing, total, limit),
        value=total,
        limit=limit,
        passes=total.named("limit of the bank that passes"),
    )


def _check_minimums(draft: Draft, plan: Plan, held: Mapping[str, float]) -> None:
    """Find devices whose least setting is more than their own breaker, conductor or source stands."""
    for ident, amps in held.items():
        limit = plan.scene.limits[ident]
        if not isinstance(limit.own, Figure) or amps <= limit.own.value + _SLACK:
            continue
        draft.find(
            Finding(
                "correct",
                "least-setting-over-limit",
                (ident,),
                f"{limit.device.label} cannot be set under {show(amps, 'A')}; "
                f"{show(limit.own.value, 'A')} is the most ({limit.own.binding().name})",
                f"what binds must stand {show(amps, 'A')}",
                value=given(amps, "A", f"least setting of {limit.device.label}", kind="profile"),
                limit=limit.own,
                passes=given(amps, "A", "limit that passes"),
                setting=SETTING,
            )
        )


# what is lost


def _check_pv_lost(draft: Draft, plan: Plan, held: Mapping[str, float]) -> None:
    lost = _pv_lost(plan, held)
    total = sum(lost.values())
    if total < 1.0:
        return
    plant = draft.plant
    figure = given(total, "A", "charge current that arrays could give and that is held back")
    power = charging_power.of("PV power lost", current=figure, bank_voltage=lowest_bulk_voltage(plant))
    watts = show(power.value, "W") if isinstance(power, Figure) else "power"
    needed = _limit_without_loss(draft, plan, total)
    draft.find(
        Finding(
            "advise",
            "pv-lost",
            tuple(lost),
            f"up to {watts} of PV is lost in full sun: {names_of(plant, lost)} held "
            f"{show(total, 'A')} under what their arrays can deliver",
            remedies_for_pv(plan, held, needed),
            value=power,
            passes=needed,
        )
    )


def _limit_without_loss(draft: Draft, plan: Plan, lost: float) -> Figure:
    """Return the limit for daily use with which no PV is lost, tried out on the same sources.

    More than what is lost is needed where AC-fed chargers get their part of a larger limit too.
    """
    scene = plan.scene
    now = scene.recommended.value
    everything = sum(limit.most or 0.0 for limit in scene.limits.values())
    everything += sum(amps.value for amps in scene.coupled.values() if isinstance(amps, Figure))
    tried = [now + share * lost for share in (1.0, 1.25, 1.5, 2.0, 3.0)]
    for limit in (*tried, 2.0 * max(now, everything)):
        larger_plan = make_plan(larger(draft, scene, limit / now))
        if sum(_pv_lost(larger_plan, larger_plan.amounts).values()) < 1.0:
            break
    return given(limit, "A", "limit for daily use that loses no PV", source="tried out on these sources")


def _pv_lost(plan: Plan, held: Mapping[str, float]) -> dict[str, float]:
    """Return by how much each controller is held under what its array and its own limit would give."""
    pv = {ident: limit for ident, limit in plan.scene.limits.items() if limit.is_pv and ident in held}
    lost = {}
    for ident, limit in pv.items():
        deliverable, step = limit.deliverable, limit.ability.step if limit.ability else None
        if isinstance(limit.useful, Figure) and deliverable is not None:
            short = deliverable - held[ident]
            lost[ident] = short if short > (step or 0.0) - _SLACK else 0.0
    for ident, short in _lost_to_group(plan, held, lost).items():
        lost[ident] += short
    return {ident: short for ident, short in lost.items() if short > 0}


def _lost_to_group(plan: Plan, held: Mapping[str, float], known: Mapping[str, float]) -> dict[str, float]:
    """Return what the limit of a coordinated group takes from its controllers beyond their own settings."""
    scene = plan.scene
    gives = {
        ident: min(held[ident], scene.limits[ident].deliverable or 0.0)
        for ident in known
        if ident in scene.members
    }
    total = sum(gives.values())
    if plan.group is None or total <= plan.group:
        return {}
    return {ident: amps * (1.0 - plan.group / total) for ident, amps in gives.items()}


# the least current that the chemistry needs


def _check_least_current(draft: Draft, plan: Plan, held: Mapping[str, float]) -> None:
    needed = _least_needed(draft)
    if not isinstance(needed, Figure):
        return
    flows = [_deliverable(plan, one, held) for one in plan.scene.sets]
    best = max(flows, key=lambda flow: sum(flow.values()), default={})
    current = sum_of_currents.of("greatest charge current", currents=flow_figures(plan, best))
    if not isinstance(current, Figure) or current.value >= needed.value - _SLACK:
        return
    draft.find(
        Finding(
            "advise",
            "least-charge-current",
            ("bank",),
            f"all sources together give {show(current.value, 'A')}, under the {show(needed.value, 'A')} that "
            f"these cells need: {_cost(draft, current)}",
            f"sources of {show(needed.value, 'A')} or more, or a smaller bank",
            value=current,
            limit=needed,
            passes=needed,
        )
    )


def _least_needed(draft: Draft) -> Quantity | None:
    """Return the least current that the chemistry needs: vented lead C/20, else the profile's."""
    plant = draft.plant
    if plant.battery.family == "lithium":
        return None
    vented = plant.battery.family == "lead" and plant.battery.vented
    if not vented and not plant.has_stage("charge_rate_least"):
        return None
    return charge_current_limit.of(
        "least charge current of the battery",
        rate=_VENTED_LEAST if vented else plant.cell("charge_rate_least"),
        capacity=draft.numbers["string_capacity"],
        strings=float(len(plant.bank.strings)),
    )


def _deliverable(plan: Plan, one: frozenset[str], held: Mapping[str, float]) -> dict[str, float]:
    """Return what the sources of a set really give: settings, as far as arrays and AC sources fill them."""
    scene = plan.scene
    given_ = {}
    for ident, amps in plan.waiting(one, dict(held)).items():
        useful = scene.limits[ident].useful
        given_[ident] = min(amps, useful.value) if isinstance(useful, Figure) else amps
    return plan.together(one, given_) | scene.uncommanded(one) if not plan.measured else given_


def _cost(draft: Draft, current: Figure) -> str:
    """Say what too little current costs: what happens to the cells, and how long bulk takes."""
    plant = draft.plant
    harm = "the acid stratifies and plates sulphate" if plant.battery.vented else "plates sulphate"
    harm = harm if plant.battery.family == "lead" else "it never becomes full"
    if current.value <= 0:
        return f"{harm}; nothing charges it"
    time = bulk_time.of(
        "bulk after an ordinary day",
        capacity=draft.numbers["bank_capacity"],
        depth=plant.cell("depth_usual"),
        current=current,
        charge_efficiency=plant.cell("charge_efficiency"),
    )
    if not isinstance(time, Figure):
        return harm
    return f"{harm}; bulk after an ordinary day takes {time.value / 3600.0:.0f} h"
