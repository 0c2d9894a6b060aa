"""Things that follow from what never changes, worked out the first time that they are asked for."""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import Any, Final, TypeVar
from weakref import ref

Held = TypeVar("Held")
Asked = TypeVar("Asked")
Made = TypeVar("Made")

_KEPT: Final = "_kept"


class _Kept:
    """What was made of one thing, and of which."""

    __slots__ = ("made", "owner")

    def __init__(self, owner: object) -> None:
        self.owner = ref(owner)
        self.made: dict[Any, Any] = {}


def kept_with(held: object) -> dict[Any, Any]:
    """Return what has been made of one unchanging thing so far; a changed copy of it begins anew."""
    kept = held.__dict__.get(_KEPT)
    if kept is None or kept.owner() is not held:  # a copy of a model carries what the first one kept
        kept = held.__dict__[_KEPT] = _Kept(held)
    made: dict[Any, Any] = kept.made
    return made


def once(make: Callable[[Held], Made]) -> Callable[[Held], Made]:
    """Return a function of one unchanging thing that keeps with the thing what it has made of it."""

    @wraps(make)
    def kept(held: Held) -> Made:
        known = kept_with(held)
        if make not in known:
            known[make] = make(held)
        made: Made = known[make]
        return made

    return kept


def once_each(make: Callable[[Held, Asked], Made]) -> Callable[[Held, Asked], Made]:
    """Return a function of an unchanging thing and of a part of it or a name: made once for each.

    A name counts by its letters; anything else must be the very same thing to be taken for it, since a part
    that was changed is another part.
    """

    @wraps(make)
    def kept(held: Held, asked: Asked) -> Made:
        known = kept_with(held)
        key = make, asked if isinstance(asked, str) else id(asked)
        if key not in known:
            known[key] = asked, make(held, asked)  # what is asked for is kept, so that its id stays its own
        made: Made = known[key][1]
        return made

    return kept
