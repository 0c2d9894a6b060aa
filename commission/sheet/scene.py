"""The sources of a plant as the sharing sees them: who can run with whom, and what nobody commands."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from typing import Final

from commission.figure import Figure, Quantity, given, greatest
from commission.formulas.charging import charge_current_limit, scaled_current, sum_of_currents
from commission.formulas.generator import charge_current_from_budget, input_budget
from commission.plant.plant import Plant
from commission.plant.site import Generator, InverterCharger, Silence
from commission.plant.values import UNKNOWN
from commission.sheet.ac_sources import highest_absorption
from commission.sheet.compatible import compatible_sets
from commission.sheet.draft import Draft
from commission.sheet.filling import Claim
from commission.sheet.source_limits import SourceLimit, ac_pv_currents, binds_backfeed, source_limits

_PRACTICE: Final = "common practice"
_LEAST_RATE: Final = given(0.1, "1", "least charge rate of AC-fed chargers", source=_PRACTICE)
_DIESEL_LOAD: Final = given(
    0.3, "1", "least load of a diesel set, share of its nameplate", source="NFPA 110 8.4.2; common practice"
)
_WHOLE: Final = given(1.0, "1", "no derating: the nameplate counts", source=_PRACTICE)
_LEAST_WEIGHT: Final = 1e-6
GROUP: Final = "coordinated group"


@dataclass(frozen=True)
class Scene:
    """What is known before anything is shared."""

    plant: Plant
    sets: tuple[frozenset[str], ...]
    limits: dict[str, SourceLimit]
    recommended: Figure
    never: Figure
    coupled: dict[str, Quantity]
    """A into the bank of each AC-coupled PV inverter that nothing holds back."""
    members: frozenset[str]
    """Sources of a coordinated group; empty where nothing is coordinated."""
    least_fed: dict[frozenset[str], Quantity] = field(default_factory=dict)
    """For each set with AC-fed chargers the least useful current of all of them together."""
    inside: bool = False
    """Whether AC-coupled power lies within the inverter/chargers' own charge limits."""

    @property
    def commanded(self) -> tuple[str, ...]:
        """Return the sources whose charge current can be set, in the order of the file."""
        return tuple(
            ident for ident, limit in self.limits.items() if limit.settable and limit.most is not None
        )

    @property
    def fixed(self) -> tuple[str, ...]:
        """Return the sources on the DC bus that cannot be commanded."""
        return tuple(
            ident for ident, limit in self.limits.items() if not limit.settable and limit.most is not None
        )

    @property
    def idle(self) -> tuple[str, ...]:
        """Return the inverter/chargers that no AC source can ever feed."""
        return tuple(
            ident
            for ident, limit in self.limits.items()
            if not limit.is_pv and not any(self.runs(ident, one) for one in self.sets)
        )

    def runs(self, ident: str, one: frozenset[str]) -> bool:
        """Return whether a source can charge in a set; through AC-coupled power too where that is inside."""
        if ident in one:
            return True
        limit = self.limits.get(ident)
        fed_back = self.inside and limit is not None and not limit.is_pv
        return fed_back and any(pv.id in one for pv in self.plant.site.ac_pv_inverters)

    def uncommanded(self, one: frozenset[str]) -> dict[str, float]:
        """Return what flows in a set whatever is set, in A by id; no credit for loads."""
        found = {ident: _flowing(self.limits[ident]) for ident in self.fixed if self.runs(ident, one)}
        coupled = {ident: amps for ident, amps in self.coupled.items() if ident in one}
        return found | {ident: amps.value for ident, amps in coupled.items() if isinstance(amps, Figure)}

    def room(self, one: frozenset[str]) -> float:
        """Return what the commanded sources may add together in a set, in A."""
        left = self.never.value - sum(self.uncommanded(one).values())
        return max(0.0, min(self.recommended.value, left))

    def claims(self, idents: Iterable[str], *, as_if_fed: bool = False) -> list[Claim]:
        """Return what sources claim of the limit; as if all were fed, for those without an AC source."""
        wanted = list(idents)
        leasts = self._fed_leasts(wanted, as_if_fed=as_if_fed)
        weights = [self.limits[ident].device.weight or 0.0 for ident in wanted]
        heaviest = max(weights, default=0.0)
        return [self._claim(ident, leasts.get(ident, 0.0), heaviest, as_if_fed) for ident in wanted]

    def _claim(self, ident: str, least_fed: float, heaviest: float, as_if_fed: bool) -> Claim:
        limit = self.limits[ident]
        most, ability = limit.most or 0.0, limit.ability
        fed = as_if_fed and ident in self.idle
        useful = most if fed else limit.deliverable or 0.0
        own = limit.device.least_useful_current
        least_own = float(own) if isinstance(own, float | int) else 0.0
        weight = limit.device.weight or 1.0
        return Claim(
            ident,
            most=most,
            useful=useful,
            least=min(useful, max(least_own, least_fed)),
            caps=tuple(most if fed or self.runs(ident, one) else 0.0 for one in self.sets),
            first=limit.is_pv,
            weight=max(_LEAST_WEIGHT, weight / heaviest) if heaviest > 0 else None,
            low=0.0 if ability is None else ability.low or 0.0,
            step=None if ability is None else ability.step,
        )

    def _fed_leasts(self, idents: list[str], *, as_if_fed: bool) -> dict[str, float]:
        """Return each AC-fed charger's part in the least useful current of all, by their own limits."""
        found: dict[str, float] = {}
        for one, least_current in self.least_fed.items():
            fed = [ident for ident in idents if not self.limits[ident].is_pv and self.runs(ident, one)]
            if as_if_fed:
                fed += [ident for ident in idents if ident in self.idle]
            if isinstance(least_current, Figure):
                for ident, part in _parts(self.limits, fed, least_current.value).items():
                    found[ident] = max(found.get(ident, 0.0), part)
        return found


def _flowing(limit: SourceLimit) -> float:
    """Return what a source that cannot be commanded adds: a controller no more than its array delivers."""
    most = limit.most or 0.0
    deliverable = limit.deliverable
    return deliverable if limit.is_pv and deliverable is not None else most


def _parts(limits: Mapping[str, SourceLimit], idents: list[str], total: float) -> dict[str, float]:
    """Split a current by own limits; what one cannot deliver goes to the others."""
    caps = {ident: limits[ident].deliverable or 0.0 for ident in idents}
    parts = dict.fromkeys(idents, 0.0)
    open_ = [ident for ident in idents if caps[ident] > 0]
    left = total
    while open_ and left > 1e-9:
        weights = {ident: limits[ident].most or 0.0 for ident in open_}
        whole = sum(weights.values())
        level = min(left / whole, *((caps[ident] - parts[ident]) / weights[ident] for ident in open_))
        for ident in open_:
            parts[ident] += level * weights[ident]
        left -= level * whole
        open_ = [ident for ident in open_ if caps[ident] - parts[ident] > 1e-9]
    return parts


def make_scene(draft: Draft, recommended: Figure, never: Figure) -> Scene:
    """Return the sources of a plant with everything that the sharing needs to know of them."""
    plant = draft.plant
    limits = source_limits(draft)
    inside = binds_backfeed(plant) and all(limit.settable for limit in limits.values() if not limit.is_pv)
    sets = compatible_sets(plant) or (frozenset(),)
    return Scene(
        plant=plant,
        sets=sets,
        limits=limits,
        recommended=recommended,
        never=never,
        coupled={} if inside else ac_pv_currents(plant),
        members=members_of(plant, limits),
        least_fed=least_of_fed(draft, sets, recommended, draft.numbers["string_capacity"]),
        inside=inside,
    )


def members_of(plant: Plant, limits: Mapping[str, SourceLimit]) -> frozenset[str]:
    """Return the sources that a controller really commands: named, able to follow, with a limit to be set."""
    coordination = plant.site.coordination
    if coordination.kind == "none":
        return frozenset()
    return frozenset(
        ident
        for ident in coordination.members
        if ident in limits
        and limits[ident].settable
        and limits[ident].most is not None
        and plant.source_class(limits[ident].device).coordinable is not False
    )


def silence_of(plant: Plant, ident: str, limit: SourceLimit) -> Silence:
    """Return what a source does in silence: its own word, else that of its group.

    The controlling device itself hears no silence; it goes on by its own settings.
    """
    own, group = limit.device.silence, plant.site.coordination.silence
    if ident == plant.site.coordination.controller and own.does == UNKNOWN:
        return Silence(after=0.0, does="carries on alone")
    return Silence(
        after=group.after if own.after == UNKNOWN else own.after,
        does=group.does if own.does == UNKNOWN else own.does,
    )


# the least useful current of AC-fed chargers


def larger(draft: Draft, scene: Scene, ratio: float) -> Scene:
    """Return the same sources on a bank that is larger by a ratio, its limits with it."""
    recommended = given(scene.recommended.value * ratio, "A", scene.recommended.name)
    capacity = draft.numbers["string_capacity"]
    if isinstance(capacity, Figure):
        capacity = given(capacity.value * ratio, "Ah", capacity.name)
    return replace(
        scene,
        recommended=recommended,
        never=given(scene.never.value * ratio, "A", scene.never.name),
        least_fed=least_of_fed(draft, scene.sets, recommended, capacity),
    )


def least_of_fed(
    draft: Draft, sets: Iterable[frozenset[str]], recommended: Figure, capacity: Quantity
) -> dict[frozenset[str], Quantity]:
    """Return for each set the least useful current of all its AC-fed chargers together, in A.

    The profile's least charge rate, 0.1 of the capacity for a chemistry that has none and for lithium; what
    loads the diesel sets of the set to 30 % of their nameplate; never more than half of the shared limit.
    """
    return {one: _least_in(draft, one, recommended, capacity) for one in sets}


def _least_in(draft: Draft, one: frozenset[str], recommended: Figure, capacity: Quantity) -> Quantity:
    plant = draft.plant
    rate = plant.cell("charge_rate_least")
    if plant.battery.family == "lithium" or not isinstance(rate, Figure):
        rate = _LEAST_RATE
    by_rate = charge_current_limit.of(
        "least useful current of AC-fed chargers",
        rate=rate,
        capacity=capacity,
        strings=float(len(plant.bank.strings)),
    )
    diesel = [_diesel_current(draft, generator, one) for generator in plant.site.generators]
    known = [current for current in diesel if isinstance(current, Figure)]
    wanted = by_rate
    if known:
        wanted = greatest(
            by_rate.name, by_rate, sum_of_currents.of("load of the diesel sets", currents=known)
        )
    half = scaled_current.of("half of the bank's limit", current=recommended, count=0.5)
    if not isinstance(wanted, Figure) or not isinstance(half, Figure):
        return wanted
    return half if half.value < wanted.value else wanted


def _diesel_current(draft: Draft, generator: Generator, one: frozenset[str]) -> Quantity | None:
    """Return the charge current that alone loads a diesel set to 30 %; None where it feeds no one here."""
    plant = draft.plant
    fed = [device for device in plant.site.inverter_chargers if generator.id in device.inputs.values()]
    if generator.id not in one or plant.generator_class(generator).fuel != "diesel" or not fed:
        return None
    load = input_budget.of(
        f"30 % of {generator.label}",
        rating=plant.rating(generator, "rated_power"),
        derating=_WHOLE,
        loading=_DIESEL_LOAD,
    )
    return charge_current_from_budget.of(
        f"charge current that loads {generator.label} to 30 %",
        budget=load,
        load=given(0.0, "W", "other loads: none counted", source=_PRACTICE),
        power_factor=given(1.0, "1", "watts, not volt-amperes", source="definition"),
        efficiency=_efficiency(plant, fed),
        bank_voltage=highest_absorption(draft, fed[0]),
    )


def _efficiency(plant: Plant, fed: list[InverterCharger]) -> Quantity:
    return greatest(
        "best efficiency of the chargers", *(plant.rating(one, "charger_efficiency") for one in fed)
    )
