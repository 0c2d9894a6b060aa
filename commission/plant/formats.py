"""Formats of files: an earlier one is brought to the newest step by step, a later one refused."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any, Final, TypeAlias

from commission.errors import SiteError
from commission.plant.explain import problem

Step: TypeAlias = Callable[[Mapping[str, Any]], dict[str, Any]]
"""Brings the content of a file from one format to the next; what it does not know it leaves alone."""


@dataclass(frozen=True)
class Formats:
    """The formats of one kind of file that are read."""

    newest: int = 1
    steps: Mapping[int, Step] = field(default_factory=dict)
    """By the format that a step begins with; they are kept for ever."""


FIRST: Final = Formats()
"""Of files whose format was never raised."""


def told_format(data: Mapping[str, Any]) -> int | None:
    """Return the format that a file says it is of, None where it says none that there could be."""
    told = data.get("format")
    return told if isinstance(told, int) and not isinstance(told, bool) and told >= 1 else None


def brought_up(data: Mapping[str, Any], formats: Formats, file: str) -> dict[str, Any]:
    """Return the content of a file in the newest format.

    A file that tells no format, or none that there could be, is left as it is: its model says so.

    Raises
    ------
    SiteError
        If it is of a later format.
    """
    told = told_format(data)
    if told is None:
        return dict(data)
    if told > formats.newest:
        wrong = "is a later format than this program reads"
        right = f"open it with a newer version of the program; this one reads formats up to {formats.newest}"
        raise SiteError([problem(file, "format", f"{min(told, 10**9)}", wrong, right)])
    brought = dict(data)
    for at in range(told, formats.newest):
        brought = formats.steps[at](brought)
    return brought | {"format": formats.newest}
