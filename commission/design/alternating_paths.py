"""The ways over which AC circuits are fed in each mode, and the protective devices along them."""

from __future__ import annotations

from collections import deque
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from typing import Final, Literal, TypeAlias

from commission.design.bond_places import ISLAND, groups
from commission.design.circuits import circuits
from commission.design.points import Points
from commission.design.types import Scene
from commission.plant.site import Generator, InverterCharger, Protection, Run, Utility

OPENS: Final = frozenset({"breaker", "fuse", "residual"})
"""Kinds of device that open a fault by themselves."""

_INPUT: Final = " input"
"""Added to an inverter's id: the point at its AC input."""


@dataclass(frozen=True)
class Feed:
    """What feeds the AC circuits in one mode of operation."""

    mode: str
    """``island``, or the id of a generator or of the public supply."""
    units: tuple[InverterCharger, ...]
    """The inverters that feed, or through which another source feeds."""
    supply: Generator | Utility | None = None

    @property
    def part(self) -> str:
        """Return the id by which findings name the feed."""
        if self.supply is not None:
            return self.supply.id
        return self.units[0].id


@dataclass(frozen=True)
class Step:
    """One piece of a way: a run, or a connection that the file has no run for, and its devices."""

    to: str
    run: Run | None
    guards: tuple[Protection, ...]


Way: TypeAlias = tuple[Step, ...]


@dataclass(frozen=True)
class Guarded:
    """A protective device and the AC circuit behind it."""

    guard: Protection
    end: str
    """Id of the load, PV inverter, panel or inverter at the far end; of a supply its own id."""
    role: Literal["final", "input", "supply"]


@dataclass(frozen=True)
class AlternatingPaths:
    """The AC side of a plant as a fault sees it."""

    scene: Scene

    @cached_property
    def feeds(self) -> tuple[Feed, ...]:
        """Return every way of feeding: each group of inverters alone, each generator, the public supply."""
        site = self.scene.plant.site
        islands = [Feed(ISLAND, units) for units in groups(site.inverter_chargers)]
        supplies: list[Generator | Utility] = [*site.generators, *([site.utility] if site.utility else [])]
        through = [
            Feed(
                one.id,
                tuple(unit for unit in site.inverter_chargers if one.id in unit.inputs.values()),
                one,
            )
            for one in supplies
        ]
        return (*islands, *through)

    @cached_property
    def guarded(self) -> tuple[Guarded, ...]:
        """Return the devices whose circuits are judged, those of inverters' outputs aside.

        A fault on the way from an inverter to its panel is ended by the inverter itself.
        """
        return tuple(found for guard in self._guards if (found := self._circuit_of(guard)) is not None)

    @cached_property
    def _guards(self) -> tuple[Protection, ...]:
        site = self.scene.plant.site
        return tuple(one for one in site.protection if one.current == "ac" and one.kind in OPENS)

    def _circuit_of(self, guard: Protection) -> Guarded | None:
        site = self.scene.plant.site
        inputs = {
            breaker: unit.id for unit in site.inverter_chargers for breaker in unit.input_breakers.values()
        }
        outputs = {unit.ac_breaker for unit in site.inverter_chargers}
        coupled = {one.panel_breaker: one.id for one in site.ac_pv_inverters}
        if guard.id in inputs:
            return Guarded(guard, inputs[guard.id], "input")
        if guard.id in outputs:
            return None
        if guard.id in self._of_supplies:
            return Guarded(guard, self._of_supplies[guard.id], "supply")
        panels = [panel.id for panel in site.panels if panel.kind == "ac"]
        far = {*(load.id for load in site.loads), *(one.id for one in site.ac_pv_inverters), *panels}
        end = coupled.get(guard.id, guard.of)
        return Guarded(guard, end, "final") if end in far and end is not None else None

    @cached_property
    def _of_supplies(self) -> dict[str, str]:
        """Return the devices on the way from a generator or the public supply, with its id."""
        supplies = {feed.mode for feed in self.feeds if feed.supply is not None}
        found = {guard.id: guard.of for guard in self._guards if guard.of in supplies and guard.of}
        for circuit in circuits(self.scene):
            run = circuit.run
            if circuit.role == "supply" and run.protection is not None:
                end = next((one for one in (run.from_, run.to) if one in supplies), None)
                if end is not None:
                    found.setdefault(run.protection, end)
        return found

    # the net

    @cached_property
    def _points(self) -> Points:
        return Points(self.scene.plant, "ac")

    @cached_property
    def panel_of(self) -> dict[str, str]:
        """Return the panel on which a device stands."""
        return {
            position.holds: panel.id
            for panel in self.scene.plant.site.panels
            for position in panel.positions
            if position.holds is not None
        }

    @cached_property
    def _steps(self) -> dict[str, tuple[Step, ...]]:
        found: dict[str, list[Step]] = {}
        for first, second, run, guards in (*self._of_runs(), *self._without_run()):
            found.setdefault(first, []).append(Step(second, run, (*guards, *self._incoming(second))))
            found.setdefault(second, []).append(Step(first, run, (*guards, *self._incoming(first))))
        return {point: tuple(steps) for point, steps in found.items()}

    def _of_runs(self) -> Iterator[tuple[str, str, Run | None, tuple[Protection, ...]]]:
        plant = self.scene.plant
        units = {unit.id for unit in plant.site.inverter_chargers}
        for circuit in circuits(self.scene):
            run = circuit.run
            if run.kind == "ac":
                entering = circuit.role == "ac input"
                first, second = (
                    f"{end}{_INPUT}" if entering and end in units else end for end in self._points.ends(run)
                )
                guard = plant.protection_of(run.protection)
                yield first, second, run, () if guard is None else (guard,)

    def _without_run(self) -> Iterator[tuple[str, str, Run | None, tuple[Protection, ...]]]:
        """Yield what a panel's device joins to its panel where no run of the file says so."""
        told = {run.protection for run in self.scene.plant.site.runs}
        parts = self.scene.plant.parts
        for guard in self._guards:
            panel = self.panel_of.get(guard.id)
            if panel is None or guard.of not in parts or guard.id in told or guard.of == panel:
                continue
            taken = any(guard.id in unit.input_breakers.values() for unit in self._units)
            yield panel, f"{guard.of}{_INPUT}" if taken else guard.of, None, (guard,)

    @cached_property
    def _units(self) -> tuple[InverterCharger, ...]:
        return self.scene.plant.site.inverter_chargers

    def _incoming(self, point: str) -> tuple[Protection, ...]:
        """Return the devices through which a whole panel is fed."""
        panel = next((one for one in self.scene.plant.site.panels if one.id == point), None)
        if panel is None:
            return ()
        return tuple(one for one in self._guards if one.id == panel.main or one.of == panel.id)

    def _found(self, start: str, end: str) -> Way | None:
        """Return the way between two points over as few pieces as there are, through panels only."""
        ends_here = self._terminal - {start}
        waiting: deque[tuple[str, Way]] = deque([(start, ())])
        seen = {start}
        while waiting:
            here, way = waiting.popleft()
            if here == end:
                return way
            if here in ends_here:
                continue
            for step in self._steps.get(here, ()):
                if step.to not in seen:
                    seen.add(step.to)
                    waiting.append((step.to, (*way, step)))
        return None

    @cached_property
    def _terminal(self) -> frozenset[str]:
        site = self.scene.plant.site
        utility = {site.utility.id} if site.utility else set()
        parts = (*site.ac_pv_inverters, *site.generators, *site.loads)
        units = {point for unit in self._units for point in (unit.id, f"{unit.id}{_INPUT}")}
        return frozenset({part.id for part in parts} | utility | units)

    # ways

    def ways(self, feed: Feed, circuit: Guarded) -> tuple[Way, ...]:
        """Return the ways from a feed to the far end of a circuit; none where the file does not show them."""
        if circuit.role == "supply":
            return (self._last(circuit),) if feed.mode == circuit.end else ()
        if circuit.role == "input":
            way = self._found(feed.mode, f"{circuit.end}{_INPUT}")
            return () if way is None else (way,)
        found = tuple(way for way in self._to_panel(feed, circuit) if way is not None)
        return tuple((*way, *self._last(circuit)) for way in found)

    def _to_panel(self, feed: Feed, circuit: Guarded) -> Iterator[Way | None]:
        panel = self.panel_of.get(circuit.guard.id)
        last = self._last_run(circuit)
        if panel is None and last is not None:
            ends = self._points.ends(last)
            panel = ends[0] if ends[1] == circuit.end else ends[1]
        if panel is None:
            return
        if feed.supply is None:
            for unit in feed.units:
                yield self._found(unit.id, panel)
            return
        for unit in feed.units:
            first, second = self._found(feed.mode, f"{unit.id}{_INPUT}"), self._found(unit.id, panel)
            yield None if first is None or second is None else (*first, *second)
        if not feed.units:
            yield self._found(feed.mode, panel)

    def _last(self, circuit: Guarded) -> Way:
        return (Step(circuit.end, self._last_run(circuit), (circuit.guard,)),)

    def _last_run(self, circuit: Guarded) -> Run | None:
        """Return the run of a circuit itself, None where the file has none."""
        for run in self._points.runs:
            if run.protection == circuit.guard.id:
                return run
        panel = self.panel_of.get(circuit.guard.id)
        for run in self._points.runs:
            if panel is not None and set(self._points.ends(run)) == {panel, circuit.end}:
                return run
        return None

    def fed(self, feed: Feed, circuit: Guarded) -> bool:
        """Whether a circuit is live in a mode, as far as the file tells."""
        if circuit.role == "supply":
            return feed.mode == circuit.end
        if circuit.role == "input":
            inverter = next(unit for unit in self._units if unit.id == circuit.end)
            kinds = [kind for kind, one in inverter.input_breakers.items() if one == circuit.guard.id]
            return any(inverter.inputs.get(kind) == feed.mode for kind in kinds)
        if any({feed.mode, circuit.end} <= set(lock.one_of) for lock in self.scene.plant.site.interlocks):
            return False
        if self.ways(feed, circuit):
            return True
        alone = sum(one.supply is None for one in self.feeds) == 1
        return alone if feed.supply is None else bool(feed.units) and alone
