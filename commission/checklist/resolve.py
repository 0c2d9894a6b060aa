"""What a step stands on, resolved from ids in the data to steps of the walk."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
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
    _index: dict[str, _Places] = field(default_factory=dict)
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
        there = self._of(ident)
        same = there.by_parts.get(place.parts)
        if same is not None:
            return (same,)
        shared = there.at(there.by_part, place.parts)
        if shared:
            return shared
        for outer in self.known.within(place.parts):
            around = there.by_parts.get((outer,))
            if around is not None:
                return (around,)
        inside = there.at(there.by_container, place.parts)
        return inside or there.at(there.by_part, self.known.circuit(place.parts)) or there.places

    def _of(self, ident: str) -> _Places:
        found = self._index.get(ident)
        if found is None:
            found = self._index[ident] = _Places(self.places[ident], self.known)
        return found


class _Places:
    """The places of one step, to be found by what is there and by what that sits in."""

    def __init__(self, places: Sequence[Place], known: Relations) -> None:
        self.by_parts = {where.parts: where for where in places}
        self.places = tuple(self.by_parts.values())
        self.by_part: dict[str, list[int]] = {}
        self.by_container: dict[str, list[int]] = {}
        for number, where in enumerate(self.places):
            for part in where.parts:
                self.by_part.setdefault(part, []).append(number)
            for outer in known.within(where.parts):
                self.by_container.setdefault(outer, []).append(number)

    def at(self, index: Mapping[str, Sequence[int]], parts: Iterable[str]) -> tuple[Place, ...]:
        """Return the places that an index has for any of some parts, in their own order."""
        numbers = {number for part in parts for number in index.get(part, ())}
        return tuple(self.places[number] for number in sorted(numbers))


def resolve(steps: Sequence[StepData], places: Mapping[str, Sequence[Place]], known: Relations) -> Resolved:
    """Return what finds the steps behind ids; the ids themselves have been checked."""
    return Resolved({step.id: step for step in steps}, places, known)
