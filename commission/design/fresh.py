"""Ids for parts that a remedy adds: never one that the site has, since that part would be replaced."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import count

from commission.plant.once import once
from commission.plant.plant import Plant


def fresh_id(plant: Plant, wanted: str) -> str:
    """Return an id that nothing on the site has: the one that is wanted, else with a number from 2 on."""
    names = (wanted if number == 1 else f"{wanted}-{number}" for number in count(1))
    return next(name for name in names if name not in _taken(plant))


def fresh_ids(plant: Plant, stem: str, first: int = 1) -> Iterator[str]:
    """Yield ids of strings that nothing on the site has, a stem with numbers from the first one on.

    Nor does anything have an id that is made of it, as the fuse and the run of an added string get.
    """
    names = (f"{stem}-{number}" for number in count(first))
    return (name for name in names if not any(f"-{one}".endswith(f"-{name}") for one in _taken(plant)))


@once
def _taken(plant: Plant) -> frozenset[str]:
    """Return the ids of everything on the site, strings and what is planned included."""
    site = plant.site
    arrays = [one.array for one in site.charge_controllers if one.array is not None]
    strings = [string.id for array in arrays for string in array.strings]
    planned = [
        *(string.id for one in site.planned for string in one.strings),
        *(guard.id for one in site.planned for guard in one.protection),
        *(run.id for one in site.planned for run in one.runs),
    ]
    own = [plant.bank.id, *(string.id for string in plant.bank.strings)]
    return frozenset((*plant.parts, *own, *strings, *planned))
