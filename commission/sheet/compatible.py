"""Which sources can run together: every set that the interlocks allow, however many devices there are."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from commission.plant.plant import Plant


def compatible_sets(plant: Plant) -> tuple[frozenset[str], ...]:
    """Return the greatest sets of sources that can run together, by id, AC sources among them.

    An inverter/charger is in a set where one of its AC sources is: without any it charges nothing. Every
    smaller set is part of one of these. The order follows that of the site file.
    """
    everyone = _everyone(plant)
    order = {ident: place for place, ident in enumerate(everyone)}
    conflicts = _conflicts(plant, everyone)
    free = frozenset(ident for ident in everyone if ident not in conflicts)
    bound = [ident for ident in everyone if ident in conflicts]
    made = {_charging(plant, free | chosen) for chosen in _choices(bound, conflicts)}
    greatest = [one for one in made if not any(one < other for other in made)]
    return tuple(sorted(greatest, key=lambda one: sorted(order[ident] for ident in one)))


def _everyone(plant: Plant) -> list[str]:
    site = plant.site
    utility = () if site.utility is None else (site.utility,)
    return [part.id for part in (*plant.sources, *site.ac_pv_inverters, *site.generators, *utility)]


def _conflicts(plant: Plant, everyone: Iterable[str]) -> dict[str, set[str]]:
    """Return for each source that an interlock names those that cannot run beside it."""
    known = set(everyone)
    found: dict[str, set[str]] = {}
    for interlock in plant.site.interlocks:
        named = [ident for ident in dict.fromkeys(interlock.one_of) if ident in known]
        for ident in named if len(named) > 1 else []:
            found.setdefault(ident, set()).update(other for other in named if other != ident)
    return found


def _choices(bound: list[str], conflicts: Mapping[str, set[str]]) -> list[frozenset[str]]:
    """Return every set of the bound sources that can run together and allows none more."""
    friends = {ident: set(bound) - conflicts[ident] - {ident} for ident in bound}
    found: list[frozenset[str]] = []
    _extend(frozenset(), set(bound), set(), friends, found)
    return found


def _extend(
    chosen: frozenset[str],
    open_: set[str],
    done: set[str],
    friends: Mapping[str, set[str]],
    found: list[frozenset[str]],
) -> None:
    """Grow a set by everyone that may join it (the search of Bron and Kerbosch, with a pivot)."""
    if not open_ and not done:
        found.append(chosen)
        return
    pivot = max(sorted(open_ | done), key=lambda ident: len(friends[ident] & open_))
    for ident in sorted(open_ - friends[pivot]):
        _extend(chosen | {ident}, open_ & friends[ident], done & friends[ident], friends, found)
        open_ = open_ - {ident}
        done = done | {ident}


def _charging(plant: Plant, running: frozenset[str]) -> frozenset[str]:
    idle = {
        inverter.id
        for inverter in plant.site.inverter_chargers
        if not running & set(inverter.inputs.values())
    }
    return running - idle
