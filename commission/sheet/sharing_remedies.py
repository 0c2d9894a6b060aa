"""What helps where sources do not fit together: coordination, an interlock, a larger limit, with numbers."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping

from commission.figure import Figure, Quantity, given
from commission.plant.plant import Plant
from commission.sheet.plan import Plan
from commission.units import show


def label(plant: Plant, ident: str) -> str:
    """Return what people call a source, or the coordinated group."""
    part = plant.parts.get(ident)
    return ident if part is None else part.label


def names_of(plant: Plant, idents: Iterable[str]) -> str:
    """Return the names of sources as a list for people."""
    return ", ".join(label(plant, ident) for ident in idents)


def other_sets(count: int) -> str:
    """Return how many further sets of sources share the fault of the worst one."""
    if count < 1:
        return ""
    return f"; {count} other set{'s' if count > 1 else ''} of sources exceed{'' if count > 1 else 's'} it too"


def flow_figures(plan: Plan, flows: Mapping[str, float]) -> list[Quantity]:
    """Return the currents of a set as figures with the names of their sources."""
    made: list[Quantity] = []
    for ident, amps in flows.items():
        coupled = plan.scene.coupled.get(ident)
        name = f"charge current of {label(plan.scene.plant, ident)}"
        made.append(coupled if isinstance(coupled, Figure) else given(amps, "A", name, kind="setting"))
    return made


def remedies_over_limit(plan: Plan, flows: Mapping[str, float], total: Figure, limit: Figure) -> str:
    """Return what brings a set under a limit, in the order in which it is to be tried."""
    found = []
    commanded = {ident: amps for ident, amps in flows.items() if ident in plan.amounts}
    rest = total.value - math.fsum(commanded.values())
    if plan.group is None and len(commanded) > 1 and rest < limit.value:
        found.append(f"coordination that holds the commanded sources at {show(limit.value - rest, 'A')}")
    greatest = max(flows, key=lambda ident: flows[ident], default=None)
    if greatest is not None and len(flows) > 1:
        after = max(flows[greatest], total.value - flows[greatest])
        if after <= limit.value:
            name = label(plan.scene.plant, greatest)
            found.append(
                f"an interlock that lets {name} run only without the others ({show(after, 'A')} then)"
            )
    word = "never exceeded" if limit is plan.scene.never else "for daily use"
    found.append(f"a bank whose limit {word} is {show(total.value, 'A')} or more")
    return "; or ".join(found)


def remedies_for_pv(plan: Plan, held: Mapping[str, float], needed: Figure) -> str:
    """Return what gives PV back what is lost, in the order in which it is to be tried."""
    scene = plan.scene
    found = []
    pv = {ident: limit for ident, limit in scene.limits.items() if limit.is_pv and ident in held}
    now = math.fsum(held[ident] for ident in pv)
    wanted = math.fsum(limit.deliverable or 0.0 for limit in pv.values())
    could = min(wanted, scene.recommended.value)
    shared_with = [ident for ident in held if ident not in pv and ident not in scene.idle and held[ident] > 0]
    if could > now + 1.0:
        if plan.group is None and shared_with:
            found.append(f"coordination, with {show(could, 'A')} for PV while nothing else charges")
        others = [*shared_with, *scene.coupled]
        if others:
            names = names_of(scene.plant, others)
            found.append(f"an interlock between PV and {names}, with {show(could, 'A')} for PV")
    found.append(f"a bank whose limit for daily use is {show(needed.value, 'A')}")
    return "; or ".join(found)
