"""What checklist data may name: selectors, predicates, series and expectations, each with its description.

A firm writes steps of its own as data. The words that its data may use are registered here by decorator, so
that the command line can list them and a slip can be answered with the nearest word.
"""

from __future__ import annotations

import importlib
import pkgutil
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field
from difflib import get_close_matches
from functools import cache
from typing import Final, Generic, TypeAlias, TypeVar

from commission.checklist.situation import Situation
from commission.checklist.types import Expectation
from commission.plant.plant import Plant
from commission.sheet.types import Sheet

T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class Place:
    """Where a step is done: the parts that it concerns, empty for the whole site."""

    parts: tuple[str, ...] = ()
    labels: tuple[str, ...] = ()
    """What people call the parts; ``{part}`` and ``{other}`` in the texts of a step."""


@dataclass(frozen=True, slots=True)
class At:
    """What a predicate looks at."""

    plant: Plant
    sheet: Sheet
    place: Place
    settings: frozenset[tuple[str, str]] = frozenset()
    """Device and name of every setting that is not off; once more without device for 'any of them'."""


Selector: TypeAlias = Callable[[Plant], Iterable[Place]]
Predicate: TypeAlias = Callable[[At], "bool | None"]
"""True, false, or None where the site file does not say: a step then stays, whichever way it was asked."""
Series: TypeAlias = Callable[[Plant, Place], Iterable[str]]
"""The labels of a column of like readings, in the order of their indexes."""
Judge: TypeAlias = Callable[[Situation], Expectation]


@dataclass(frozen=True, slots=True)
class Named(Generic[T]):
    """A registered word of the checklist data."""

    name: str
    says: str
    """One line for a list: what it yields, holds or computes."""
    call: T
    source: str = ""
    """Of an expectation: the standard, handbook or rule that its limits come from."""


@dataclass(frozen=True, slots=True)
class Words(Generic[T]):
    """The registered words of one kind."""

    kind: str
    entries: dict[str, Named[T]] = field(default_factory=dict)

    def add(self, name: str, says: str, source: str = "") -> Callable[[T], T]:
        """Return a decorator that registers a function under a name."""

        def register(call: T) -> T:
            if name in self.entries:
                raise ValueError(f"two functions are called {self.kind} '{name}'")
            self.entries[name] = Named(name, says, call, source)
            return call

        return register

    def get(self, name: str) -> Named[T] | None:
        """Return a word's entry, or None."""
        return self.entries.get(name)

    def nearest(self, name: str) -> str:
        """Return what would be right in place of a word that is not known."""
        near = get_close_matches(name, self.entries, n=1, cutoff=0.5)
        return f"did you mean '{near[0]}'?" if near else f"known: {', '.join(sorted(self.entries))}"

    def __iter__(self) -> Iterator[Named[T]]:
        return iter(sorted(self.entries.values(), key=lambda entry: entry.name))


SELECTORS: Final[Words[Selector]] = Words("selector")
PREDICATES: Final[Words[Predicate]] = Words("predicate")
SERIES: Final[Words[Series]] = Words("series")
EXPECTATIONS: Final[Words[Judge]] = Words("expectation")


def selector(name: str, says: str) -> Callable[[Selector], Selector]:
    """Register a selector: what ``each`` may say."""
    return SELECTORS.add(name, says)


def predicate(name: str, says: str) -> Callable[[Predicate], Predicate]:
    """Register a predicate: what ``when`` may say, with ``not`` before it to ask the contrary."""
    return PREDICATES.add(name, says)


def series(name: str, says: str) -> Callable[[Series], Series]:
    """Register a series: the columns of like readings that ``series`` may name."""
    return SERIES.add(name, says)


def expectation(name: str, *, says: str, source: str) -> Callable[[Judge], Judge]:
    """Register an expectation: what ``expect`` may say.

    Parameters
    ----------
    says
        One line: what the band is.
    source
        Standard, handbook or rule that the limits come from; ``common practice`` where that is so.
    """
    return EXPECTATIONS.add(name, says, source)


_ROOMS: Final = ("selectors", "predicates", "series")
"""Begin of the names of modules beside this one that register words."""


@cache
def load_words() -> None:
    """Import every module that registers words; without it a word is known only once its module is in use."""
    import commission.checklist as room
    import commission.checklist.expectations as package

    for found in pkgutil.iter_modules(room.__path__):
        if found.name.startswith(_ROOMS):
            importlib.import_module(f"{room.__name__}.{found.name}")
    for found in pkgutil.iter_modules(package.__path__):
        importlib.import_module(f"{package.__name__}.{found.name}")
