"""The current that may flow into the bank: its cells, its management, its conductors and its protection.

What the plant does not have is no candidate; what it has and nobody knows becomes a finding, and the limit
from the rest says that it may be lower.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Final

from commission.figure import Figure, Gap, Quantity, Unknown, least
from commission.formulas.bank import bank_capacity
from commission.formulas.charging import charge_current_limit, scaled_current, sum_of_currents
from commission.formulas.lead_acid import capacity_at_rate
from commission.plant.plant import Plant, fact
from commission.plant.site import Load, Panel, Protection, Run
from commission.plant.values import UNKNOWN
from commission.sheet.draft import Draft
from commission.sheet.known import gaps, least_known, not_checked
from commission.sheet.run_limits import conductor_limit, protection_limit
from commission.sheet.types import Finding

_GUARDS: Final = frozenset({"breaker", "fuse"})


def settle_bank_limit(draft: Draft) -> None:
    """Settle the current into the bank that is never exceeded, and the one for daily use.

    Leaves in ``draft.numbers``: ``bank_limit`` and ``recommended_limit`` in A, ``string_capacity`` and
    ``bank_capacity`` in Ah at the hour rate that the battery's rates refer to.
    """
    plant = draft.plant
    capacity = rated_capacity(plant)
    _tell_other_rate(draft, capacity)
    draft.numbers["string_capacity"] = capacity
    draft.numbers["bank_capacity"] = bank_capacity.of(
        "capacity of the bank", capacity=capacity, strings=float(len(plant.bank.strings))
    )
    shared = [*_of_management(draft), *_of_main_path(plant), *_of_strings(plant)]
    never = _by_rate(plant, capacity, "greatest")
    daily = _by_rate(plant, capacity, "recommended")
    draft.numbers["bank_limit"] = _limit(draft, "current into the bank, never exceeded", never, shared)
    draft.numbers["recommended_limit"] = _limit(
        draft, "current into the bank for daily use", daily, [never, *shared]
    )


def rated_capacity(plant: Plant) -> Quantity:
    """Return the capacity of one string at the hour rate that the battery's C rates refer to, in Ah.

    A capacity stated at another rate is converted by the exponent; lithium's hardly depends on the rate and
    is not. A rate that the site file does not state is the profile's.
    """
    bank = plant.bank
    stated = fact(bank, "capacity", bank.where, "one string")
    wanted = plant.cell("capacity_rate")
    if plant.battery.family == "lithium":
        return stated
    if bank.capacity_rate == UNKNOWN:
        return stated.named(stated.name, "hour rate not stated: taken as the battery profile's")
    rate = fact(bank, "capacity_rate", bank.where, "one string")
    if isinstance(rate, Figure) and isinstance(wanted, Figure) and rate.value == wanted.value:
        return stated
    return capacity_at_rate.of(
        "capacity of one string at the profile's hour rate",
        capacity=stated,
        rate=rate,
        exponent=plant.cell("peukert_exponent"),
        wanted_rate=wanted,
    )


def _tell_other_rate(draft: Draft, capacity: Quantity) -> None:
    bank, wanted = draft.plant.bank, draft.plant.cell("capacity_rate")
    stated = fact(bank, "capacity", bank.where, "one string")
    if not isinstance(capacity, Figure) or not isinstance(stated, Figure) or not isinstance(wanted, Figure):
        return
    if capacity.value == stated.value:
        return
    draft.find(
        Finding(
            "advise",
            "capacity-at-other-rate",
            ("bank",),
            f"{stated.value:g} Ah hold at the {bank.capacity_rate:g} h rate; charge rates refer to the "
            f"{wanted.value:g} h rate, where the exponent leaves {capacity.value:.4g} Ah",
            f"the capacity that the data sheet states at {wanted.value:g} h; until then "
            f"{capacity.value:.4g} Ah",
            value=stated,
            passes=capacity,
        )
    )


def _by_rate(plant: Plant, capacity: Quantity, which: str) -> Quantity:
    word = "greatest charge rate" if which == "greatest" else "recommended charge rate"
    return charge_current_limit.of(
        f"{word} of the battery",
        rate=plant.cell(f"charge_rate_{which}"),
        capacity=capacity,
        strings=float(len(plant.bank.strings)),
    )


def _limit(draft: Draft, name: str, rate: Quantity, others: Sequence[Quantity]) -> Quantity:
    """Return the least of all; without the cells' own limit there is none, whatever the wiring carries."""
    if isinstance(rate, Unknown):
        draft.find(not_checked("bank-limit", ("bank",), rate.missing))
        return Unknown(rate.missing, "A", name)
    return least_known(draft, name, [rate, *others], check="bank-limit-part", parts=("bank",))


# management


def _of_management(draft: Draft) -> list[Quantity]:
    """Return the limit of the packs' management: one pack fewer where no data link tells of an open one.

    A single pack counts as itself: once it opens there is no bank left to be charged.
    """
    plant = draft.plant
    management = plant.bank.management
    if management is None:
        if plant.battery.managed:
            draft.find(
                not_checked(
                    "management", ("bank",), (Gap("management system of the battery", "bank.management"),)
                )
            )
        return []
    packs = len(plant.bank.strings)
    if management.data_link == UNKNOWN:
        draft.find(
            not_checked(
                "data-link",
                ("bank",),
                (Gap("whether the management has a data link", "bank.management.data_link"),),
            )
        )
    linked = management.data_link is True
    count = packs if linked else max(1, packs - 1)
    word = f"{count} pack" if count == 1 else f"{count} packs"
    why = "" if linked or packs == 1 else f" of {packs}: no data link tells when one has opened"
    limit = fact(management, "charge_current", "bank.management", "one pack")
    name = f"management of {word}{why}"
    return [scaled_current.of(name, current=limit, count=float(count))]


# main conductor and main protection


def _of_main_path(plant: Plant) -> list[Quantity]:
    """Return what the way between bank and sources carries, with its protection."""
    runs = main_runs(plant)
    ends = _by_end(plant, runs)
    guards = _main_guards(plant)
    if len(ends) < 2:
        return [*_conductors(plant, ends.values()), *_downstream(plant, runs), *_guards(plant, runs, guards)]
    ways = [_one_way(plant, way) for way in ends.values()]
    both = sum_of_currents.of("main conductors and their protection, all ways together", currents=ways)
    loose = [guard for guard in guards if all(run.protection != guard.id for run in runs)]
    return [both, *_downstream(plant, runs), *_together(plant, loose)]


def main_runs(plant: Plant) -> tuple[Run, ...]:
    """Return the runs through which all charge flows: from the bank, and no single source's or load's own."""
    strings = {string.id for string in plant.bank.strings}
    own = {source.run for source in plant.sources} | {source.id for source in plant.sources}
    found = []
    for run in plant.site.runs:
        ends = {run.from_, run.to}
        if run.kind != "dc" or ends & strings:
            continue
        guard = plant.protection_of(run.protection)
        if guard is not None and guard.protects == "bank":
            found.append(run)
        elif plant.bank.id in ends and run.id not in own and not ends & own:
            found += [run] if _carries_charge(plant, _far_end(plant, run)) else []
    return tuple(found)


def _far_end(plant: Plant, run: Run) -> str:
    return run.to if run.from_ == plant.bank.id else run.from_


def _carries_charge(plant: Plant, end: str) -> bool:
    """Whether a source can sit behind the far end of a run: not behind a load, nor on a panel of loads."""
    part = plant.parts.get(end)
    if isinstance(part, Load):
        return False
    if not isinstance(part, Panel):
        return True
    places = [_places(plant, source.panel, source.run) for source in plant.sources]
    told = [place for place in places if place]
    return not told or any(end in place for place in told)


def _places(plant: Plant, panel: str | None, run: str | None) -> set[str]:
    found = next((item for item in plant.site.runs if item.id == run), None)
    ends = set() if found is None else {found.from_, found.to}
    return (ends if panel is None else {*ends, panel}) - {plant.bank.id}


def _by_end(plant: Plant, runs: Iterable[Run]) -> dict[str, list[Run]]:
    """Return the runs that start at the bank, by where they go: those of one end lie in parallel."""
    found: dict[str, list[Run]] = {}
    for run in runs:
        if plant.bank.id in {run.from_, run.to}:
            found.setdefault(_far_end(plant, run), []).append(run)
    return found


def _conductors(plant: Plant, ways: Iterable[Sequence[Run]]) -> list[Quantity]:
    return [_parallel([conductor_limit(plant, run) for run in way]) for way in ways]


def _downstream(plant: Plant, runs: Iterable[Run]) -> list[Quantity]:
    """Return what the main way carries beyond its first run, in series with it."""
    return [conductor_limit(plant, run) for run in runs if plant.bank.id not in {run.from_, run.to}]


def _parallel(limits: Sequence[Quantity]) -> Quantity:
    """Return what like paths carry together: as many times the weakest, which must not take more."""
    if len(limits) == 1:
        return limits[0]
    weakest = least("weakest of the parallel paths", *limits)
    names = ", ".join(limit.name for limit in limits)
    return scaled_current.of(f"{names} in parallel", current=weakest, count=float(len(limits)))


def _main_guards(plant: Plant) -> list[Protection]:
    return [
        guard
        for guard in plant.site.protection
        if guard.protects == "bank" and guard.current == "dc" and guard.kind in _GUARDS
    ]


def _guards(plant: Plant, runs: Sequence[Run], guards: Sequence[Protection]) -> list[Quantity]:
    """Return the main protection of a bank with one way out, devices of parallel runs counted together."""
    named = [plant.protection_of(run.protection) for run in runs if run.protection is not None]
    own = {guard.id: guard for guard in named if guard is not None and guard.kind in _GUARDS}
    loose = [protection_limit(plant, guard) for guard in guards if guard.id not in own]
    if len(own) == len(runs) > 1 and len({_far_end(plant, run) for run in runs}) == 1:
        return [*loose, _parallel([protection_limit(plant, guard) for guard in own.values()])]
    return [*loose, *(protection_limit(plant, guard) for guard in own.values())]


def _one_way(plant: Plant, way: Sequence[Run]) -> Quantity:
    names = ", ".join(run.label for run in way)
    limits = [*_conductors(plant, [way]), *_guards(plant, way, ())]
    return least(f"way over {names}", *limits)


def _together(plant: Plant, guards: Sequence[Protection]) -> list[Quantity]:
    return [_parallel([protection_limit(plant, guard) for guard in guards])] if guards else []


# strings


def _of_strings(plant: Plant) -> list[Quantity]:
    """Return what the strings' own conductors and fuses carry, the weakest string times their number."""
    strings = [string.id for string in plant.bank.strings]
    fuses = [
        protection_limit(plant, guard)
        for guard in plant.site.protection
        if guard.protects == "string" and guard.kind in _GUARDS and (guard.of is None or guard.of in strings)
    ]
    runs = [
        conductor_limit(plant, run)
        for run in plant.site.runs
        if run.kind == "dc" and {run.from_, run.to} & set(strings)
    ]
    made: list[Quantity] = []
    for word, limits in (("fuses", fuses), ("conductors", runs)):
        if not limits:
            continue
        known = [limit for limit in limits if isinstance(limit, Figure)]
        unknown = gaps(limits)
        if unknown:
            made.append(Unknown(unknown, "A", f"{word} of the strings"))
        if known:
            weakest = least(f"weakest of the strings' {word}", *known)
            name = f"{word} of {len(strings)} strings"
            made.append(scaled_current.of(name, current=weakest, count=float(len(strings))))
    return made
