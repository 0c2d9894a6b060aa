"""How the parts of a plant belong together: what sits in what, and what hangs on one circuit."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field

from commission.plant.plant import Plant
from commission.plant.site import BankString, ChargeController


@dataclass(frozen=True)
class Relations:
    """Containers and circuits of the parts of one plant, by part id."""

    bank: str
    containers: dict[str, tuple[str, ...]]
    neighbours: dict[str, frozenset[str]]
    _within: dict[tuple[str, ...], tuple[str, ...]] = field(default_factory=dict)
    _circuits: dict[tuple[str, ...], frozenset[str]] = field(default_factory=dict)

    def within(self, parts: tuple[str, ...]) -> tuple[str, ...]:
        """Return the ids of what parts sit in, nearest first."""
        found = self._within.get(parts)
        if found is None:
            outer = (outer for part in parts for outer in self.containers.get(part, ()))
            found = tuple(dict.fromkeys(ident for ident in outer if ident not in parts))
            self._within[parts] = found
        return found

    def circuit(self, parts: tuple[str, ...]) -> frozenset[str]:
        """Return the ids of parts and of what hangs on the same circuit."""
        found = self._circuits.get(parts)
        if found is None:
            beside = (self.neighbours[part] for part in parts if part in self.neighbours)
            found = self._circuits[parts] = frozenset(parts).union(*beside)
        return found

    def is_bank(self, parts: tuple[str, ...]) -> bool:
        """Return whether parts are the bank itself, on which every DC circuit hangs."""
        return self.bank in parts


def array_strings(controller: ChargeController) -> tuple[BankString, ...]:
    """Return the strings of a controller's array, none where the site file does not describe it."""
    return () if controller.array is None else controller.array.strings


def relations(plant: Plant) -> Relations:
    """Return how the parts of a plant belong together."""
    containers: dict[str, list[str]] = {}
    for inner, outer in _contained(plant):
        containers.setdefault(inner, []).append(outer)
    neighbours: dict[str, set[str]] = {}
    for first, second in _wired(plant):
        neighbours.setdefault(first, set()).add(second)
        neighbours.setdefault(second, set()).add(first)
    return Relations(
        plant.bank.id,
        {part: tuple(outer) for part, outer in containers.items()},
        {part: frozenset(beside) for part, beside in neighbours.items()},
    )


def _contained(plant: Plant) -> Iterator[tuple[str, str]]:
    for controller in plant.site.charge_controllers:
        for array_string in array_strings(controller):
            yield array_string.id, controller.id
    yield from _on_one_circuit(plant)


def _on_one_circuit(plant: Plant) -> Iterator[tuple[str, str]]:
    """Yield what sits in what on the same circuit.

    An array's strings are a circuit of their own while their disconnect is open: at night or in rain, when
    they cannot be tested, the controller's bank side stays open to work. A step that connects the array
    stands on the tests of its strings.
    """
    for string in plant.bank.strings:
        yield string.id, plant.bank.id
    yield from _given((unit.id, unit.group) for unit in plant.site.inverter_chargers)
    yield from _given((guard.id, guard.of) for guard in plant.site.protection)
    yield from _given((source.run, source.id) for source in plant.sources)


def _wired(plant: Plant) -> Iterator[tuple[str, str]]:
    site = plant.site
    yield from _on_one_circuit(plant)
    yield from _given((source.id, source.protection) for source in plant.sources)
    yield from _given((pv.id, pv.panel_breaker) for pv in site.ac_pv_inverters)
    for unit in site.inverter_chargers:
        yield from _given((unit.id, breaker) for breaker in (unit.ac_breaker, *unit.input_breakers.values()))
    for run in site.runs:
        ends = (end for end in (run.from_, run.to) if end != plant.bank.id)
        yield from _given((run.id, beside) for beside in (run.protection, *ends))


def _given(pairs: Iterable[tuple[str | None, str | None]]) -> Iterator[tuple[str, str]]:
    """Yield the pairs of which both are named."""
    for first, second in pairs:
        if first and second:
            yield first, second
