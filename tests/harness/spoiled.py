"""Bad writers, which every harness has to find out, and the counting of the calls that write."""

from __future__ import annotations

import os
import signal
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any, Final
from unittest import mock

import filelock

from commission.records import answer, write
from commission.visit import disk, folder, journal, moving
from commission.visit.events import Event
from commission.visit.journal import Journal
from commission.visit.replay import line_of

CALLS: Final = (
    "write", "fsync", "fdatasync", "replace", "rename", "link", "unlink", "mkdir", "rmdir", "ftruncate",
)  # fmt: skip
"""Every call of the system by which a visit or a record is changed on the disk."""
_FLUSHERS: Final = (disk, journal)
_FOLDERS: Final = (disk, journal, folder, moving, write, answer)


@contextmanager
def killed_at(place: int, *, half: bool) -> Iterator[list[int]]:
    """End this process by SIGKILL at the call of this place; yields the count of calls.

    Parameters
    ----------
    half
        A write does half of its work first.
    """
    count = [0]

    def counting(name: str, whole: Callable[..., Any]) -> Callable[..., Any]:
        def call(*given: Any, **named: Any) -> Any:
            count[0] += 1
            if count[0] == place:
                if half and name == "write":
                    whole(given[0], bytes(given[1])[: len(given[1]) // 2])
                os.kill(os.getpid(), signal.SIGKILL)
            return whole(*given, **named)

        return call

    with _patched([(os, name, counting(name, getattr(os, name))) for name in CALLS if hasattr(os, name)]):
        yield count


@contextmanager
def _patched(changes: list[tuple[Any, str, Any]]) -> Iterator[None]:
    if not changes:
        yield
        return
    with mock.patch.object(*changes[0]), _patched(changes[1:]):
        yield


def rewrites_in_place(self: Journal, *added: Event) -> None:
    """Keep entries as one would who knows no better: the whole file anew, over the old one."""
    self._kept += b"".join(line_of(event) for event in added)
    handle = os.open(self._path, os.O_WRONLY | os.O_TRUNC)
    try:
        os.write(handle, self._kept)
        os.fsync(handle)
    finally:
        os.close(handle)


def tells_too_early(self: Journal, *added: Event) -> None:
    """Say that entries are kept, and write them with the next ones."""
    lines = b"".join(line_of(event) for event in added)
    waiting: bytes = getattr(self, "_waiting", b"")
    os.write(self._handle or 0, waiting)
    disk.flush(self._handle or 0)
    self._kept += waiting
    vars(self)["_waiting"] = lines


def _nothing(*_: object, **__: object) -> None:
    """Flush nothing, lock nothing."""


def _always(*_: object) -> bool:
    return True


def _put_in_place(path: Path, content: bytes) -> None:
    """Write a longer record over the one that it begins with."""
    handle = os.open(path, os.O_WRONLY | os.O_TRUNC)
    try:
        os.write(handle, content)
        os.fsync(handle)
    finally:
        os.close(handle)


SEEDED: Final[dict[str, list[tuple[Any, str, Any]]]] = {
    "": [],
    "in place": [(Journal, "append", rewrites_in_place)],
    "too early": [(Journal, "append", tells_too_early)],
    "record in place": [(answer, "_put_in_place", _put_in_place)],
    "no flush": [(module, "flush", _nothing) for module in _FLUSHERS],
    "no folder flush": [(module, "flush_folder", _nothing) for module in _FOLDERS],
    "no lock": [(journal, "_alone", _always), (filelock.FileLock, "acquire", _nothing)],
}
"""Bad writers by their name, and the good one."""


@contextmanager
def writer(name: str) -> Iterator[None]:
    """Write in a bad way for a while; the empty name is the program as it is."""
    with _patched(SEEDED[name]):
        yield
