"""The AC supplies of a plant: which inverters make one together, on which legs, and what hangs on them."""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass

from commission.plant.once import once
from commission.plant.plant import Plant
from commission.plant.site import InverterCharger, Load
from commission.plant.values import UNKNOWN


@dataclass(frozen=True, slots=True)
class Supply:
    """Inverters that make one AC supply: a group, or a unit by itself."""

    group: str | None
    units: tuple[InverterCharger, ...]
    legs: tuple[str, ...]
    """Legs or phases that they feed, in order; empty where no unit's leg is known."""

    @property
    def ids(self) -> tuple[str, ...]:
        """Return the ids of its units."""
        return tuple(unit.id for unit in self.units)

    @property
    def names(self) -> str:
        """Return its units as people call them."""
        return ", ".join(unit.label for unit in self.units)


@once
def supplies_of(plant: Plant) -> tuple[Supply, ...]:
    """Return every AC supply of a plant, in the order of the site file."""
    found: dict[str, list[InverterCharger]] = {}
    for unit in plant.site.inverter_chargers:
        # a group may bear the id of a unit: two separate names
        key = f"unit {unit.id}" if unit.group is None else f"group {unit.group}"
        found.setdefault(key, []).append(unit)
    return tuple(_supply(plant, units) for units in found.values())


def _supply(plant: Plant, units: list[InverterCharger]) -> Supply:
    legs = {leg for unit in units for leg in unit_legs(plant, unit)}
    return Supply(units[0].group, tuple(units), tuple(sorted(legs)))


def unit_legs(plant: Plant, unit: InverterCharger) -> tuple[str, ...]:
    """Return the legs that one unit feeds; none where that is not known."""
    if plant.inverter_class(unit).ac_legs == 2 or unit.group_leg == "both":
        return ("1", "2")
    return () if unit.group_leg == UNKNOWN else (unit.group_leg,)


def load_legs(load: Load) -> tuple[str, ...]:
    """Return the legs that an AC load needs; none where that is not known."""
    if load.leg == UNKNOWN:
        return ()
    return {"both": ("1", "2"), "all": ("1", "2", "3")}.get(load.leg, (load.leg,))


def loads_on(plant: Plant, supply: Supply) -> tuple[Load, ...]:
    """Return the AC loads of a supply: all where it is the only one, else those its runs lead to."""
    loads = tuple(load for load in plant.site.loads if load.current == "ac")
    if len(supplies_of(plant)) < 2:
        return loads
    behind = _behind(plant, supply)
    return tuple(load for load in loads if load.id in behind)


def loads_without(plant: Plant) -> tuple[Load, ...]:
    """Return the AC loads of which it is not told which of several supplies feeds them."""
    supplies = supplies_of(plant)
    if len(supplies) < 2:
        return ()
    reached = [_behind(plant, supply) for supply in supplies]
    return tuple(
        load
        for load in plant.site.loads
        if load.current == "ac" and not any(load.id in behind for behind in reached)
    )


def panels_of(plant: Plant, supply: Supply) -> frozenset[str]:
    """Return the AC panels that a supply's outputs lead to."""
    behind = _behind(plant, supply)
    return frozenset(panel.id for panel in plant.site.panels if panel.kind == "ac" and panel.id in behind)


def _behind(plant: Plant, supply: Supply) -> frozenset[str]:
    """Return what the AC runs lead to from a supply's outputs, along the direction in which they are told."""
    ways = _ways(plant)
    everyone = {unit.id for unit in plant.site.inverter_chargers}
    waiting = deque(supply.ids)
    seen: set[str] = set(supply.ids)
    while waiting:
        for there in ways.get(waiting.popleft(), ()):
            if there not in seen and there not in everyone:
                seen.add(there)
                waiting.append(there)
    return frozenset(seen)


@once
def _ways(plant: Plant) -> dict[str, list[str]]:
    """Return the points to which the AC side leads from each point."""
    ways: dict[str, list[str]] = {}
    for run in plant.site.runs:
        if run.kind == "ac":
            ways.setdefault(_point(plant, run.from_), []).append(_point(plant, run.to))
    for guard in plant.site.protection:
        if guard.current == "ac" and guard.of is not None and guard.protects in {"device", "branch"}:
            panel = _point(plant, guard.id)
            if panel != guard.id:  # a load that hangs on a breaker of a panel without a run of its own
                ways.setdefault(panel, []).append(guard.of)
    return ways


def _point(plant: Plant, name: str) -> str:
    """Return the point at which a run ends: a breaker stands for its panel or for the inverter it guards."""
    for panel in plant.site.panels:
        if any(position.holds == name for position in panel.positions):
            return panel.id
    return next((unit.id for unit in plant.site.inverter_chargers if unit.ac_breaker == name), name)
