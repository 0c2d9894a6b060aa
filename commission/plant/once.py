"""Things that follow from what never changes, worked out the first time that they are asked for."""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import Final, TypeVar

Held = TypeVar("Held")
Made = TypeVar("Made")

_KEPT: Final = "_kept"


def once(make: Callable[[Held], Made]) -> Callable[[Held], Made]:
    """Return a function of one unchanging thing that keeps with the thing what it has made of it."""

    @wraps(make)
    def kept(held: Held) -> Made:
        owner, known = held.__dict__.get(_KEPT, (0, {}))
        if owner != id(held):  # a changed copy of a model carries what the first one kept
            known = {}
            held.__dict__[_KEPT] = id(held), known
        if make not in known:
            known[make] = make(held)
        made: Made = known[make]
        return made

    return kept
