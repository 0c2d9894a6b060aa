"""What a step stands on, resolved from ids in the data to steps of the walk."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from commission.checklist.registry import Place
from commission.checklist.relations import Relations
from commission.checklist.types import StepData, StepKey


@dataclass
class Resolved:
    """Finds the concrete steps behind the ids that a step stands on."""

    steps: Mapping[str, StepData]
    places: Mapping[str, Sequence[Place]]
    known: Relations
    _index: dict[str, dict[tuple[str, ...], Place]] = field(default_factory=dict)
    _matching: dict[StepKey, Sequence[Place]] = field(default_factory=dict)
    _standing: dict[str, tuple[str, ...]] = field(default_factory=dict)

    def stands_on(self, ident: str, place: Place) -> tuple[StepKey, ...]:
        """Return the keys of the steps that one step at one place stands on, each once."""
        found: dict[StepKey, None] = {}
        for below in self.standing(ident):
            for where in self.matching(below, place):
                found[below, where.parts] = None
        return tuple(found)

    def standing(self, ident: str) -> tuple[str, ...]:
        """Return the steps that a step stands on and that this plant has.

        In place of one that the plant has not come those that it would have stood on itself, so that a chain
        does not break where a step has vanished.
        """
        found = self._standing.get(ident)
        if found is None:
            below: list[str] = []
            for step in self.steps[ident].stands_on:
                below += [step] if self.places[step] else self.standing(step)
            found = self._standing[ident] = tuple(dict.fromkeys(below))
        return found

    def matching(self, ident: str, place: Place) -> Sequence[Place]:
        """Return the places of a step that belong to a place: its own parts, what it sits in, what it holds.

        Where nothing belongs together, as of a bank's string and an inverter, all of them count.
        """
        found = self._matching.get((ident, place.parts))
        if found is None:
            found = self._matching[ident, place.parts] = self._search(ident, place)
        return found

    def _search(self, ident: str, place: Place) -> Sequence[Place]:
        index = self._of(ident)
        if place.parts in index:
            return (index[place.parts],)
        here = frozenset(place.parts)
        shared = [where for where in index.values() if not here.isdisjoint(where.parts)]
        if shared:
            return shared
        for outer in self.known.within(place.parts):
            if (outer,) in index:
                return (index[(outer,)],)
        inside = [where for where in index.values() if not here.isdisjoint(self.known.within(where.parts))]
        circuit = self.known.circuit(place.parts)
        near = [where for where in index.values() if not circuit.isdisjoint(where.parts)]
        return inside or near or tuple(index.values())

    def _of(self, ident: str) -> dict[tuple[str, ...], Place]:
        found = self._index.get(ident)
        if found is None:
            found = self._index[ident] = {where.parts: where for where in self.places[ident]}
        return found


def resolve(steps: Sequence[StepData], places: Mapping[str, Sequence[Place]], known: Relations) -> Resolved:
    """Return what finds the steps behind ids; the ids themselves have been checked."""
    return Resolved({step.id: step for step in steps}, places, known)
