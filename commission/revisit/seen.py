"""Which sites have records in a folder, told by names and last seals: nothing is loaded for that."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Final


@dataclass(frozen=True, slots=True)
class Seen:
    """The newest record of a site, as its name and its last seal tell; nothing is verified yet."""

    site: str
    path: Path
    on: str
    """Date of the visit, ``2026-05-12``."""
    comments: int = 0
    """What a supervisor said who returned it; 0 where it was not returned."""


def seen_in(folders: Iterable[Path]) -> tuple[Seen, ...]:
    """Return the newest record of each site in some folders, newest first, without reading any whole."""
    newest: dict[str, Seen] = {}
    for folder in dict.fromkeys(folders):
        for path, match in _named_as_records(folder):
            one = Seen(match["site"], path, match["on"])
            known = newest.get(one.site)
            if known is None or (known.on, known.path.name) < (one.on, path.name):
                newest[one.site] = one
    found = (replace(one, comments=_comments_of(one.path)) for one in newest.values())
    return tuple(sorted(found, key=lambda one: (one.on, one.site), reverse=True))


def _named_as_records(folder: Path) -> list[tuple[Path, re.Match[str]]]:
    try:
        return [(path, match) for path in folder.iterdir() if (match := _NAME.fullmatch(path.name))]
    except OSError:
        return []


_NAME: Final = re.compile(
    r"(?P<site>[a-z0-9-]+)_(?P<on>\d{4}-\d\d-\d\d)_(?:commissioning|service)_[a-z0-9]+\.toml"
)
_TAIL: Final = 65_536
"""Bytes at the end of a record in which its last seal stands."""


def _comments_of(path: Path) -> int:
    """Return how many comments the last seal of a record has, if that returns it."""
    try:
        with path.open("rb") as file:
            file.seek(max(0, path.stat().st_size - _TAIL))
            seal = file.read(_TAIL).rpartition(b"\n[[seal]]\n")[2]
    except OSError:
        return 0
    return len(re.findall(rb"\btext = ", seal)) if b'\nsays = "returned"\n' in seal else 0
