"""The ways that a fault current of the bank takes: from the cells over strings' leads and runs to a point."""

from __future__ import annotations

from collections import deque
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from typing import Final

from commission.design.points import Points
from commission.design.types import Scene
from commission.plant.once import once
from commission.plant.plant import Plant
from commission.plant.site import Protection, Run

BREAKS: Final = frozenset({"breaker", "fuse"})
"""Kinds of device that open a fault by themselves; a switch and a residual-current device do not."""

Hop = tuple[Run, ...]
"""Runs side by side between the same two points."""


@dataclass(frozen=True)
class FaultPaths:
    """The DC side of a plant as a fault sees it: the bank, what leads to each point, and what guards it."""

    plant: Plant

    @cached_property
    def points(self) -> Points:
        """Return the DC runs as a net."""
        return Points(self.plant, "dc")

    @cached_property
    def guards(self) -> tuple[Protection, ...]:
        """Return the DC breakers and fuses."""
        return tuple(one for one in self.plant.site.protection if one.current == "dc" and one.kind in BREAKS)

    @cached_property
    def string_guards(self) -> tuple[Protection, ...]:
        """Return the strings' own devices, none where not every string has one."""
        strings = {string.id for string in self.plant.bank.strings}
        own = tuple(one for one in self.guards if one.protects == "string" and one.of in strings)
        return own if {one.of for one in own} == strings else ()

    @cached_property
    def pv_strings(self) -> frozenset[str]:
        """Return the ids of the PV strings."""
        arrays = [one.array for one in self.plant.site.charge_controllers if one.array is not None]
        return frozenset(string.id for array in arrays for string in array.strings)

    @cached_property
    def hops(self) -> dict[str, tuple[Hop, ...]]:
        """Return the way from the bank to every point that it reaches, outward, over as few runs as it can.

        Strings' own leads lie before the bank's common point; a way ends at a source or load.
        """
        found: dict[str, tuple[Hop, ...]] = dict.fromkeys(self._starts, ())
        waiting = deque(found)
        ends_here = {part.id for part in (*self.plant.sources, *self.plant.site.loads)}
        while waiting:
            here = waiting.popleft()
            if here in ends_here:
                continue
            for run in self.points.runs:
                ends = self.points.ends(run)
                if here not in ends or self.points.of_string(run):
                    continue
                there = ends[1] if ends[0] == here else ends[0]
                if there not in found:
                    found[there] = (*found[here], self.points.twins(run))
                    waiting.append(there)
        return found

    @cached_property
    def _starts(self) -> tuple[str, ...]:
        """Return the bank's common points: the bank, and the ends of strings' leads if it has no others."""
        bank, points = self.plant.bank.id, self.points
        if any(bank in points.ends(run) for run in points.runs if not points.of_string(run)):
            return (bank,)
        leads = [points.ends(run) for run in points.runs if points.of_string(run)]
        return tuple(dict.fromkeys((bank, *(end for ends in leads for end in ends))))

    def lead(self, string: str) -> Hop:
        """Return the runs of one string of the battery."""
        return tuple(run for run in self.points.runs if string in {run.from_, run.to})

    def near(self, run: Run) -> str | None:
        """Return the end of a run that is nearer to the bank, None where neither reaches it."""
        known = [end for end in self.points.ends(run) if end in self.hops]
        return min(known, key=lambda end: len(self.hops[end]), default=None)

    def far(self, run: Run) -> str:
        """Return the end of a run that is further from the bank."""
        first, second = self.points.ends(run)
        return first if self.near(run) == second else second

    def runs_of(self, guard: Protection) -> tuple[Run, ...]:
        """Return the DC runs that a device protects."""
        return tuple(run for run in self.points.runs if run.protection == guard.id)

    def of_array(self, guard: Protection) -> bool:
        """Whether a device stands between a PV array and its controller."""
        ends = {end for run in self.runs_of(guard) for end in (run.from_, run.to)}
        return guard.protects == "array" or bool(ends & self.pv_strings)

    def place(self, guard: Protection) -> str | None:
        """Return the point at which a device stands, None where the site file does not tell."""
        if guard.protects == "bank":
            return self.plant.bank.id
        return next(self._places(guard), None)

    def _places(self, guard: Protection) -> Iterator[str]:
        for run in self.runs_of(guard):
            if (near := self.near(run)) is not None:
                yield near
        for panel in self.plant.site.panels:
            if any(position.holds == guard.id for position in panel.positions) and panel.id in self.hops:
                yield panel.id
            if panel.main == guard.id:
                yield from self._fed(panel.id)
        if guard.id in self.hops:
            yield guard.id
        owners = [guard.of, *(one.id for one in self.plant.sources if one.protection == guard.id)]
        for owner in owners:
            if owner is not None:
                yield from self._fed(owner)

    def _fed(self, part: str) -> Iterator[str]:
        """Yield the point from which a part is fed."""
        way = self.hops.get(part)
        if way and (near := self.near(way[-1][0])) is not None:
            yield near

    def upstream(self, guard: Protection) -> Protection | None:
        """Return the next device between a device and the bank, None where that is not one alone."""
        place = self.place(guard)
        if guard.protects in {"bank", "string"} or self.of_array(guard) or place is None:
            return None
        return self.guard_before(place, but=guard)

    def guard_before(self, point: str, but: Protection | None = None) -> Protection | None:
        """Return the device that clears a fault at a point of the bank's net, the nearest first."""
        for hop in reversed(self.hops.get(point, ())):
            for run in hop:
                found = next((one for one in self.guards if one.id == run.protection and one != but), None)
                if found is not None:
                    return found
        mains = [one for one in self.guards if one.protects == "bank" and one != but]
        return mains[0] if len(mains) == 1 else None

    def clears(self, run: Run) -> Protection | None:
        """Return the device that must clear a fault at the far end of a run: its own, else the one before.

        None stands before the lead of one of several strings, which its own string feeds.
        """
        own = next((one for one in self.guards if one.id == run.protection), None)
        near = self.near(run)
        if self.points.of_string(run) and len(self.plant.bank.strings) > 1:
            return None if own is None or own.protects == "bank" else own
        if own is not None or near is None:
            return own
        return self.guard_before(near)


@once
def fault_paths(scene: Scene) -> FaultPaths:
    """Return the DC side of a scene's plant as a fault sees it."""
    return FaultPaths(scene.plant)
