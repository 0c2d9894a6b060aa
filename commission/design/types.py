"""What a check of the design sees and what it returns."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import TypeAlias, overload

from commission.figure import Figure, Quantity
from commission.plant.change import Change
from commission.plant.plant import Plant
from commission.plant.site import Run
from commission.sheet.types import Finding, Sheet


@dataclass(frozen=True, slots=True)
class Remedy:
    """One way to mend a finding: in words with its number, and as changes that the program can try."""

    text: str
    """What to do, with the number that passes: ``run-main in 70 mm²``, ``at most 3 modules in series``."""
    passes: Quantity | None = None
    change: tuple[Change, ...] = ()
    """Keys of the site file that the remedy changes; empty where it is words only."""


class Later(Sequence[Remedy]):
    """Remedies that are worked out when somebody first asks for them: most findings are only counted."""

    __slots__ = ("_made", "_make")

    def __init__(self, make: Iterable[Remedy] | Callable[[], Iterable[Remedy]]) -> None:
        self._make: Iterable[Remedy] | Callable[[], Iterable[Remedy]] | None = make
        self._made: tuple[Remedy, ...] = ()

    def _whole(self) -> tuple[Remedy, ...]:
        if self._make is not None:
            self._made = tuple(self._make() if callable(self._make) else self._make)
            self._make = None
        return self._made

    @overload
    def __getitem__(self, at: int) -> Remedy: ...
    @overload
    def __getitem__(self, at: slice) -> tuple[Remedy, ...]: ...
    def __getitem__(self, at: int | slice) -> Remedy | tuple[Remedy, ...]:
        """Return one remedy, or several."""
        return self._whole()[at]

    def __len__(self) -> int:
        """Return how many there are."""
        return len(self._whole())

    def __iter__(self) -> Iterator[Remedy]:
        """Yield the remedies, the best first."""
        return iter(self._whole())

    def __eq__(self, other: object) -> bool:
        """Whether the other holds the same remedies."""
        return self._whole() == (other._whole() if isinstance(other, Later) else other)

    def __hash__(self) -> int:
        """Return the hash of the remedies."""
        return hash(self._whole())


@dataclass(frozen=True, slots=True)
class Found:
    """A finding with the remedies that might mend it, the best first.

    The finding's own ``remedy``, ``passes`` and ``change`` are filled from the remedy that passes.
    """

    finding: Finding
    remedies: Sequence[Remedy] = ()


@dataclass(frozen=True)
class Scene:
    """The plant and its sheet, as a check sees them. A check asks nothing else and keeps nothing.

    What several checks need is made of it ``once``.
    """

    plant: Plant
    sheet: Sheet


Check: TypeAlias = Callable[[Scene], Iterable[Found]]
"""One subject of the design check."""


@dataclass(frozen=True, slots=True)
class Circuit:
    """What flows through a conductor run, by what stands at its ends."""

    run: Run
    role: str
    """``string``, ``main``, ``inverter``, ``controller``, ``array``, ``direct load``, ``direct panel``,
    ``ac output``, ``ac input``, ``ac pv``, ``supply``, ``ac load``, ``ac panel``, or ``unclear``."""
    voltage: Quantity
    """V between its conductors, nominal; of an array the string's at maximum power."""
    greatest: Quantity
    """A in one pole (all its parallel conductors together) at the rating of what it serves."""
    working: Quantity
    """A in one pole at the load that is expected, as a voltage drop is judged; ``greatest`` if untold."""
    factor: Figure
    """By what a device and a conductor must exceed ``greatest``: the rule set's continuous factor."""
    part: str
    """Id of the device, string or load that it serves."""
    legs: int = 1
    """Legs or phases that it loads: 1 with its neutral, 2 against each other, 3 of three phases."""
