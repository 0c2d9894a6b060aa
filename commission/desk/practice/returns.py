"""What the supervisor of a practice fleet returns, and how it is answered: in stated shares.

Of all service visits the share ``RETURNED`` is returned. Of these, as ``ANSWERS`` says, some are put right by
a visit of their own some weeks later, some are settled with the next record that is countersigned, and a few
stay open for ever. One that would be answered only after the last day of the fleet is open until then.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from random import Random
from types import MappingProxyType
from typing import Final, Literal, TypeAlias

from commission.records.seals import Comment
from commission.visit.types import Reading

Answer: TypeAlias = Literal["put right", "settled", "open"]
RETURNED: Final = 0.07
"""Share of the service visits that are returned."""
ANSWERS: Final[Mapping[Answer, float]] = MappingProxyType({"put right": 0.6, "settled": 0.3, "open": 0.1})
"""How those are answered, as shares of them."""
DAYS: Final = range(14, 43)
"""After how many days a visit puts a returned one right."""
_FIRST: Final[Mapping[int, tuple[int, Answer]]] = MappingProxyType(
    {0: (1, "put right"), 1: (1, "settled"), 4: (2, "open")}
)
"""What happens in any case: by the place of a life, at which visit."""
_DOUBTED: Final[Mapping[str, str]] = MappingProxyType(
    {
        "bulk-current": "was the battery full by then? read it again in bulk, please",
        "array-insulation.positive": "was the array dry? read it again, please, and note the weather",
        "running-array": "read current and sun at the same moment, please, and once more",
        "bank-voltage": "the plant was not at rest yet: read it again after a longer rest, please",
    }
)
"""Readings that are doubted, and what is said to them; every plant has the last one."""


def drawn_returns(random: Random, places: Iterable[int]) -> dict[int, Answer]:
    """Return which visits of a life are returned, and how each of them is answered.

    Parameters
    ----------
    places
        Those that can be returned, as years after the commissioning.
    """
    returned = [place for place in places if random.random() < RETURNED]
    drawn = random.choices(tuple(ANSWERS), tuple(ANSWERS.values()), k=len(returned))
    return dict(zip(returned, drawn, strict=True))


def returns_of(random: Random, life: int, places: Sequence[int]) -> dict[int, Answer]:
    """Return the same for a life by its place among all: the first lives between them have every answer."""
    returns = drawn_returns(random, places)
    place, answer = _FIRST.get(life, (0, "open"))
    # what is settled needs a visit after it
    return returns | ({place: answer} if place in places[:-1] else {})


def doubt(random: Random, readings: Sequence[Reading]) -> Comment:
    """Return what a supervisor says who returns a visit: which step is to be read again, and why."""
    found = {reading.step: reading for reading in readings if reading.step in _DOUBTED}
    step = random.choice(sorted(found))
    return Comment(_DOUBTED[step], step.partition(".")[0], found[step].parts)
