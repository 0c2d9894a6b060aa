"""How the bank's limit is shared: what each source is set to, and what flows in every set of sources.

Uncoordinated sources, and those that carry on alone when their controller falls silent, hold values that fit
together in every set. Members of a coordinated group that stop in silence keep their own limits; the group
counts with its own.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Final

from commission.sheet.filling import Claim, shared
from commission.sheet.scene import GROUP, Scene, silence_of

_EPS: Final = 1e-9


@dataclass(frozen=True)
class Plan:
    """What every commanded source is set to, in A by id."""

    scene: Scene
    amounts: dict[str, float]
    alone: dict[str, float]
    """What each would hold if nothing were coordinated."""
    group: float | None = None
    """Limit of the coordinated group."""
    carriers: frozenset[str] = frozenset()
    """Members that carry on alone in silence, and therefore keep what they would hold alone."""

    @property
    def measured(self) -> bool:
        """Whether the group's controller measures what flows into the bank."""
        return self.scene.plant.site.coordination.kind == "bank current"

    def by_itself(self, ident: str) -> bool:
        """Whether a source's setting must fit beside the settings of all others."""
        return ident not in self.scene.members or ident in self.carriers

    def together(self, one: frozenset[str], amounts: dict[str, float]) -> dict[str, float]:
        """Return what can flow from commanded sources in a set while the group is coordinated."""
        running = {ident: amps for ident, amps in amounts.items() if self.scene.runs(ident, one)}
        if self.group is None:
            return running
        members = [amps for ident, amps in running.items() if ident in self.scene.members]
        others = {ident: amps for ident, amps in running.items() if ident not in self.scene.members}
        if self.measured or not members:
            return others
        return others | {GROUP: min(self.group, math.fsum(members))}

    def silent(self, one: frozenset[str], amounts: dict[str, float]) -> dict[str, float]:
        """Return what can flow in a set once the members hear no controller and who stops has stopped.

        A controller that is a source itself goes on and keeps its group's limit: of its own output, or of
        what it measures at the bank.
        """
        running = {ident: amps for ident, amps in amounts.items() if self.scene.runs(ident, one)}
        controller = self.scene.plant.site.coordination.controller
        flowing = {ident: amps for ident, amps in running.items() if not self._stops(ident)}
        if controller in flowing and controller in self.scene.members and self.group is not None:
            others = [amps for ident, amps in flowing.items() if ident != controller]
            others += self.scene.uncommanded(one).values()
            left = self.group - math.fsum(others) if self.measured else self.group
            flowing[controller] = min(flowing[controller], max(0.0, left))
        return flowing

    def waiting(self, one: frozenset[str], amounts: dict[str, float]) -> dict[str, float]:
        """Return what can flow in a set until the members notice the silence of their controller."""
        return {ident: amps for ident, amps in amounts.items() if self.scene.runs(ident, one)}

    def _stops(self, ident: str) -> bool:
        if ident not in self.scene.members:
            return False
        return silence_of(self.scene.plant, ident, self.scene.limits[ident]).does != "carries on alone"


def make_plan(scene: Scene) -> Plan:
    """Return the plan of a plant."""
    alone = _alone(scene)
    if not scene.members:
        return Plan(scene, alone, alone)
    carriers = _carriers(scene)
    others = [ident for ident in scene.commanded if ident not in scene.members and ident not in scene.idle]
    amounts = {ident: alone[ident] for ident in others} if carriers else _beside_group(scene, others)
    group, rooms = _group_limit(scene, amounts)
    members = _member_settings(scene, alone, carriers, (group, rooms))
    idle = {ident: alone[ident] for ident in scene.idle if ident in alone}
    made = amounts | members | idle
    in_order = {ident: made[ident] for ident in scene.commanded}
    return Plan(scene, in_order, alone, group, carriers)


def _alone(scene: Scene) -> dict[str, float]:
    """Share out without any coordination; chargers that nothing feeds get what they would have if fed."""
    rooms = [scene.room(one) for one in scene.sets]
    active = [ident for ident in scene.commanded if ident not in scene.idle]
    amounts = shared(scene.claims(active), rooms)
    if set(scene.idle) & set(scene.commanded):
        if_fed = shared(scene.claims(scene.commanded, as_if_fed=True), rooms)
        amounts |= {ident: if_fed[ident] for ident in scene.idle if ident in if_fed}
    return {ident: amounts[ident] for ident in scene.commanded}


def _carriers(scene: Scene) -> frozenset[str]:
    """Return the members that need a value of their own: none where only the controller itself goes on."""
    carrying = frozenset(
        ident
        for ident in scene.members
        if silence_of(scene.plant, ident, scene.limits[ident]).does == "carries on alone"
    )
    controller = scene.plant.site.coordination.controller
    return carrying if carrying - {controller} else frozenset()


def _beside_group(scene: Scene, others: list[str]) -> dict[str, float]:
    """Share between the group and those outside it; a controller that measures the bank yields to them."""
    rooms = [scene.room(one) for one in scene.sets]
    claims = scene.claims(others)
    if scene.plant.site.coordination.kind == "own outputs":
        claims = [*claims, _group_claim(scene)]
    amounts = shared(claims, rooms)
    return {ident: amounts[ident] for ident in others}


def _group_claim(scene: Scene) -> Claim:
    """Return the group as one claim; one that holds a charge controller counts as PV."""
    members = scene.claims(ident for ident in scene.limits if ident in scene.members)
    caps = tuple(math.fsum(claim.caps[index] for claim in members) for index in range(len(scene.sets)))
    most = max(caps, default=0.0)
    running = [claim for claim in members if max(claim.caps, default=0.0) > 0]
    weights = [claim.weight for claim in running if claim.weight is not None]
    return Claim(
        GROUP,
        most=most,
        useful=min(most, math.fsum(claim.useful for claim in running)),
        least=min(most, math.fsum(claim.least for claim in running)),
        caps=caps,
        first=any(claim.first for claim in running),
        weight=math.fsum(weights) if weights else None,
    )


def _group_limit(scene: Scene, others: dict[str, float]) -> tuple[float, list[float]]:
    """Return the group's limit, and what each set leaves for it.

    The limit is what the roomiest set leaves; where another set leaves less, the members' settings hold that.
    """
    if scene.plant.site.coordination.kind == "bank current":
        return scene.recommended.value, [math.inf for _ in scene.sets]
    rooms = []
    for one in scene.sets:
        beside = math.fsum(amps for ident, amps in others.items() if scene.runs(ident, one))
        runs = any(scene.runs(ident, one) for ident in scene.members)
        rooms.append(max(0.0, scene.room(one) - beside) if runs else math.nan)
    known = [room for room in rooms if not math.isnan(room)]
    group = max(known, default=scene.recommended.value)
    return group, [room if room < group - _EPS else math.inf for room in rooms]


def _member_settings(
    scene: Scene, alone: dict[str, float], carriers: frozenset[str], group: tuple[float, list[float]]
) -> dict[str, float]:
    _, rooms = group
    idents = [ident for ident in scene.commanded if ident in scene.members and ident not in scene.idle]
    claims = [
        replace(
            claim,
            most=min(claim.most, alone[claim.ident]),
            caps=tuple(min(cap, alone[claim.ident]) for cap in claim.caps),
        )
        if claim.ident in carriers
        else claim
        for claim in scene.claims(idents)
    ]
    return shared(claims, rooms)
