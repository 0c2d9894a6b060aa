"""Series: the columns of like readings that one reading of a step may stand for."""

from __future__ import annotations

from collections.abc import Iterable
from itertools import combinations

from commission.checklist.predicates import legs, supplies
from commission.checklist.registry import Place, series
from commission.plant.plant import Plant


def _counted(word: str, count: int) -> Iterable[str]:
    return (f"{word} {number} of {count}" for number in range(1, count + 1))


@series("cells", "every cell in series of a string")
def _cells(plant: Plant, place: Place) -> Iterable[str]:
    return _counted("cell", plant.bank.cells)


@series("blocks", "every block in series of a string")
def _blocks(plant: Plant, place: Place) -> Iterable[str]:
    word = "cell" if plant.bank.cells_per_block == 1 else "block"
    return _counted(word, plant.bank.blocks_in_series)


@series("links", "every connection between the blocks of a string")
def _links(plant: Plant, place: Place) -> Iterable[str]:
    return _counted("link", plant.bank.blocks_in_series - 1)


@series("array strings", "every string of the array of a charge controller")
def _array_strings(plant: Plant, place: Place) -> Iterable[str]:
    for controller in plant.site.charge_controllers:
        if controller.id in place.parts and controller.array is not None:
            for string in controller.array.strings:
                yield f"string {string.id}"


@series("legs", "every leg or phase to neutral of an inverter, of a group, or of the site")
def _legs(plant: Plant, place: Place) -> Iterable[str]:
    return (f"leg {leg} to neutral" for leg in all_legs(plant, place))


@series("pairs of legs", "every two legs or phases of an inverter, of a group, or of the site")
def _leg_pairs(plant: Plant, place: Place) -> Iterable[str]:
    return (f"leg {first} to leg {second}" for first, second in combinations(all_legs(plant, place), 2))


def all_legs(plant: Plant, place: Place) -> tuple[str, ...]:
    """Return the legs or phases that the inverters of a place make together, else of the site."""
    found = supplies(plant, place) or supplies(plant, Place())
    return legs(plant, [unit for units in found for unit in units])
