"""What mends a missing or double bond of neutral and earth, as changes that can be tried."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import TypeAlias

from commission.design.bond_places import ISLAND, Bonds, Way, bonds_of, point_of, ways
from commission.design.types import Remedy
from commission.errors import CommissionError
from commission.plant.change import Change, changed
from commission.plant.plant import Plant
from commission.plant.site import Generator, InverterCharger, Panel, Utility

_Idea: TypeAlias = tuple[str, tuple[Change, ...], str | None]
"""A remedy in words, the change of devices, and the place that the earthing plan loses with it."""


def bond_remedies(plant: Plant, way: Way, bonds: Bonds, *, too_many: bool) -> tuple[Remedy, ...]:
    """Return what might bring a mode to its number of bonds, the best first."""
    found = _taken_away(plant, way, bonds) if too_many else _added(plant, way)
    made = [_with_plan(plant, text, change, without) for text, change, without in found]
    return tuple(sorted(made, key=lambda remedy: _wrong_after(plant, remedy)))


def _wrong_after(plant: Plant, remedy: Remedy) -> int:
    """Return in how many ways of feeding the number of bonds would be wrong: the fewest come first."""
    try:
        after = changed(plant, remedy.change)
    except CommissionError:
        return len(ways(plant)) + 1
    return sum(not _sound(after, way) for way in ways(after))


def _sound(plant: Plant, way: Way) -> bool:
    point = point_of(plant, way.mode)
    wanted = 0 if point is not None and point.earthing == "IT" else 1
    return bonds_of(plant, way).counts == (wanted, wanted)


def plan_remedy(plant: Plant, way: Way, bonds: Bonds) -> Remedy:
    """Return the remedy that the earthing plan follows the devices."""
    at = ", ".join(bonds.places) or "nowhere"
    return _with_plan(
        plant, f"the earthing plan says {at} for this mode, once that has been seen on site", ()
    )


def _taken_away(plant: Plant, way: Way, bonds: Bonds) -> Iterator[_Idea]:
    parts = [plant.parts.get(place) for place in (*bonds.places, *bonds.plugged)]
    for part in parts:
        if (
            isinstance(part, Generator | Utility)
            and part.id != way.mode
            and part.neutral_switched is not True
        ):
            change = Change(f"{part.where}.neutral_switched", True)
            yield f"a changeover that switches the neutral of {part.label} too", (change,), None
    yield from _from_units(way, [part for part in parts if isinstance(part, InverterCharger)])
    for part in parts:
        if isinstance(part, Panel):
            change = Change(f"{part.where}.neutral_bar_bonded", False)
            yield f"neutral and earth bars of {part.label} apart", (change,), part.id
        if isinstance(part, Generator):
            change = Change(f"{part.where}.neutral_bond", "none")
            yield f"no bond of neutral and frame at {part.label}", (change,), None


def _from_units(way: Way, units: list[InverterCharger]) -> Iterator[_Idea]:
    followers = [unit for unit in units if unit.group_role == "follower"]
    if way.mode == ISLAND and len(units) > 1:
        for unit in [*followers, *(one for one in units if one not in followers)]:
            yield _to(unit, "none", f"no bond in {unit.label}: one unit joins neutral and earth for all")
    for unit in units:
        if way.mode != ISLAND and unit.neutral_bond == "fixed":
            yield _to(
                unit, "automatic", f"the bond of {unit.label} automatic: open while another source feeds"
            )
        elif len(units) == 1:
            yield _to(unit, "none", f"no bond in {unit.label}")


def _added(plant: Plant, way: Way) -> Iterator[_Idea]:
    supply = plant.parts.get(way.mode)
    if isinstance(supply, Generator):
        for word in ("bonded frame", "switched"):
            change = Change(f"{supply.where}.neutral_bond", word)
            yield f"neutral joined to earth at {supply.label}: {word}", (change,), None
        return
    reference = sorted(way.units, key=lambda unit: unit.group_role == "follower")
    for unit in reference[:1]:
        for word in ("automatic", "fixed"):
            yield _to(unit, word, f"neutral joined to earth in {unit.label}: {word}")


def _to(unit: InverterCharger, word: str, text: str) -> _Idea:
    return text, (Change(f"{unit.where}.neutral_bond", word),), None


def _with_plan(plant: Plant, text: str, change: Iterable[Change], without: str | None = None) -> Remedy:
    """Return a remedy whose change also brings the earthing plan into line with the devices."""
    made = tuple(change)
    try:
        return Remedy(text, change=(*made, *_plan_after(plant, made, without)))
    except CommissionError:  # the change does not fit the plant; the trial will say so again
        return Remedy(text, change=made)


def _plan_after(plant: Plant, change: tuple[Change, ...], without: str | None) -> Iterator[Change]:
    """Yield the earthing plan of each mode as the changed devices make it; words that are no part stay."""
    devices = {
        part.id for part in plant.parts.values() if isinstance(part, InverterCharger | Generator | Utility)
    }
    points = plant.site.earthing.modes
    kept = {
        point.mode: [place for place in point.bonds if place not in devices and place != without]
        for point in points
    }
    bare = changed(plant, (*change, *(Change(f"earthing.modes[{mode}].bonds", kept[mode]) for mode in kept)))
    after: dict[str, dict[str, None]] = {}
    for way in ways(bare):
        after.setdefault(way.mode, {}).update(dict.fromkeys(bonds_of(bare, way).places))
    for point in points:
        stand = tuple(after.get(point.mode, ()))
        if point.mode in after and set(stand) != set(point.bonds):
            yield Change(f"earthing.modes[{point.mode}].bonds", list(stand))
