"""Where the parts of a plant stand along its conductor runs, and what lies behind a run."""

from __future__ import annotations

from collections import deque
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from typing import Literal

from commission.plant.plant import Plant
from commission.plant.site import Run


@dataclass(frozen=True)
class Points:
    """The runs of one kind as a net: parts, panels and whatever else a run's end names are its points."""

    plant: Plant
    kind: Literal["dc", "ac"]

    @cached_property
    def runs(self) -> tuple[Run, ...]:
        """Return the runs of this kind."""
        return tuple(run for run in self.plant.site.runs if run.kind == self.kind)

    @cached_property
    def strings(self) -> frozenset[str]:
        """Return the ids of the battery's strings."""
        return frozenset(string.id for string in self.plant.bank.strings)

    @cached_property
    def _names(self) -> dict[str, str]:
        """Return the point at which a name stands: a string is the bank, a breaker its panel."""
        site = self.plant.site
        names: dict[str, str] = {}
        for panel in site.panels:
            for position in panel.positions:
                if position.holds is not None:
                    names.setdefault(position.holds, panel.id)
        return names | dict.fromkeys(self.strings, self.plant.bank.id)

    def ends(self, run: Run) -> tuple[str, str]:
        """Return the points between which a run lies."""
        return self._names.get(run.from_, run.from_), self._names.get(run.to, run.to)

    def of_string(self, run: Run) -> bool:
        """Whether a run belongs to one string of the battery."""
        return run.from_ in self.strings or run.to in self.strings

    def twins(self, run: Run) -> tuple[Run, ...]:
        """Return the runs that lie beside a run between the same two points, itself among them."""
        return tuple(self._beside.get(self._between(run), ()))

    @cached_property
    def _beside(self) -> dict[frozenset[str], list[Run]]:
        found: dict[frozenset[str], list[Run]] = {}
        for run in self.runs:
            found.setdefault(self._between(run), []).append(run)
        return found

    def _between(self, run: Run) -> frozenset[str]:
        """Return the points of a run; of a string's lead the names of its ends, since all are at the bank."""
        return frozenset((run.from_, run.to) if self.of_string(run) else self.ends(run))

    @cached_property
    def _ways(self) -> tuple[Run, ...]:
        """Return the runs that join points; strings' own leads only where nothing else leaves the bank."""
        others = tuple(run for run in self.runs if not self.of_string(run))
        bank = self.plant.bank.id
        return others if any(bank in self.ends(run) for run in others) else self.runs

    @cached_property
    def _terminal(self) -> frozenset[str]:
        """Return the points at which a search ends: current is made or used there, not passed on."""
        site = self.plant.site
        parts = (*self.plant.sources, *site.ac_pv_inverters, *site.generators, *site.loads)
        utility = set() if site.utility is None else {site.utility.id}
        return frozenset({part.id for part in parts} | {self.plant.bank.id} | utility)

    @cached_property
    def placed(self) -> dict[str, tuple[str, ...]]:
        """Return the parts that stand at a point without a run of their own: behind a breaker of a panel."""
        found: dict[str, dict[str, None]] = {}
        for part, point in self._standing():
            found.setdefault(point, {})[part] = None
        return {point: tuple(parts) for point, parts in found.items()}

    def _standing(self) -> Iterator[tuple[str, str]]:
        reached = {point for run in self.runs for point in self.ends(run)}
        for device in self.plant.site.protection:
            panel, part = self._names.get(device.id), device.of
            if device.current != self.kind or panel is None or device.protects == "array":
                continue
            if part is not None and part not in reached and part in self._terminal:
                yield part, panel
        if self.kind == "dc":
            yield from self._unplaced(reached)

    def _unplaced(self, reached: set[str]) -> Iterator[tuple[str, str]]:
        """Yield DC parts whose run's ends do not name them, at their panel or else at the bus."""
        site = self.plant.site
        for source in self.plant.sources:
            if source.id not in reached:
                own = self.plant.run_of(source)
                yield source.id, (source.panel or self._bus if own is None else self._far(own))
        for load in site.loads:
            behind = any(one.of == load.id and one.id in self._names for one in site.protection)
            if load.current == "dc" and load.id not in reached and not behind:
                yield load.id, self._bus
        for controller in site.charge_controllers:
            strings = [] if controller.array is None else [one.id for one in controller.array.strings]
            first = next((string for string in strings if string in reached), None)
            if first is not None:
                yield from ((string, first) for string in strings if string not in reached)

    @cached_property
    def _bus(self) -> str:
        """Return the point to which the bank is led."""
        return next((self._far(run) for run in self._ways if self.plant.bank.id in self.ends(run)), "bus")

    def _far(self, run: Run) -> str:
        """Return the end of a run that is not nearer to the bank: the other one where it touches the bank."""
        first, second = self.ends(run)
        return first if second == self.plant.bank.id else second

    def beyond(self, run: Run, point: str) -> frozenset[str]:
        """Return the parts that are reached from an end of a run without going back over it or its twins."""
        barred = {one.id for one in self.twins(run)}
        waiting, seen = deque([point]), {point}
        found: set[str] = set()
        while waiting:
            here = waiting.popleft()
            found.add(here)
            found.update(self.placed.get(here, ()))
            if here in self._terminal:
                continue
            for way in self._ways:
                ends = self.ends(way)
                if way.id in barred or here not in ends:
                    continue
                there = ends[1] if ends[0] == here else ends[0]
                if there not in seen:
                    seen.add(there)
                    waiting.append(there)
        return frozenset(found)
