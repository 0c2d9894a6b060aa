"""The journal of a visit: one line an event, on the disk before anybody hears that it was taken.

A line is the CRC-32 of what follows it in hex, a space, JSON, a line end; the check covers the space too. The
file is only ever appended to, so that whatever ends the process leaves a complete beginning and at most one
torn line, which is cut when the visit is taken up again.
"""

from __future__ import annotations

import errno
import os
from contextlib import suppress
from pathlib import Path
from typing import Final, Protocol

from commission.errors import HeldError, NotKeptError, VisitError
from commission.visit.disk import (
    BINARY,
    flush,
    flush_folder,
    free_name,
    make_folder,
    put,
    read_all,
    reason_of,
    write_all,
    write_whole,
)
from commission.visit.events import Event
from commission.visit.replay import line_of


class Keeps(Protocol):
    """Where events are kept."""

    def append(self, *added: Event) -> None:
        """Keep events; once this returns they are safe."""

    def close(self) -> None:
        """Give up the place."""


class InMemory:
    """Keeps events for as long as the process lives: for readings judged without a visit on the disk."""

    def __init__(self) -> None:
        self.events: list[Event] = []

    def append(self, *added: Event) -> None:
        """Keep events."""
        self.events += added

    def close(self) -> None:
        """Nothing is held."""


_OPEN: Final = os.O_RDWR | os.O_APPEND | BINARY
_HELP: Final = "make room, or go on in another folder, and enter it again"


class Journal:
    """The journal file, open for appending. Only who holds the visit's lock may have it.

    All that was kept stays in memory too (some hundred kilobytes), so that a journal whose file was deleted,
    or whose disk was pulled out, can be written whole again there or elsewhere.
    """

    def __init__(self, path: Path, size: int) -> None:
        self._path = path
        self._disk = _device_of(path.parent.parent)
        self._closed = False
        self._replaced = ""
        self._tried = b""
        """What was last to be written; after a failure it may stand behind what was kept."""
        self._handle: int | None = os.open(path, _OPEN | os.O_CREAT, 0o600)
        try:
            if not _alone(self._handle):
                told = "is being written by another process; close the visit there first"
                raise HeldError(f"{path} {told}")
            self._kept = bytearray(read_all(self._handle)[:size])
            os.ftruncate(self._handle, size)
            flush(self._handle)
        except (OSError, VisitError):
            self.close()
            raise

    @property
    def content(self) -> bytes:
        """Everything that was kept."""
        return bytes(self._kept)

    def append(self, *added: Event) -> None:
        """Write events and wait until the disk has them.

        After a failure the next call first puts the file right again, so that it goes on as soon as the disk
        takes it.

        Raises
        ------
        NotKeptError
            If they could not be written whole; nothing of them is kept then.
        """
        if self._closed:
            raise VisitError("the visit is closed")
        if self._replaced:
            told = f"the visit can be written no more: {self._replaced}"
            raise NotKeptError(f"{told}; go on in another folder, or close it and open it again")
        lines = b"".join(line_of(event) for event in added)
        try:
            handle = self._ready()
            self._tried = lines
            self._write(handle, lines)
        except OSError as error:
            raise NotKeptError(
                f"not kept: {self._path} cannot be written ({reason_of(error)}); {_HELP}"
            ) from None
        self._kept += lines

    def _write(self, handle: int, lines: bytes) -> None:
        """Write and flush; after a failure take away what is there of it, or let go of the file."""
        try:
            write_all(handle, lines)
            flush(handle)
        except OSError:
            try:
                os.ftruncate(handle, len(self._kept))
                flush(handle)
            except OSError:
                self._let_go()
            raise

    def _ready(self) -> int:
        """Return the handle of the file that stands under the journal's name and ends where it should."""
        if self._handle is not None and self._in_place(self._handle):
            return self._handle
        self._let_go()
        if not self._path.exists():
            self._put_back()
        handle = os.open(self._path, _OPEN)
        try:
            self._look_through(handle)
            os.ftruncate(handle, len(self._kept))
            flush(handle)
        except (OSError, VisitError):
            os.close(handle)
            raise
        self._handle = handle
        return handle

    def _in_place(self, handle: int) -> bool:
        """Say whether the open file is still the one under the journal's name."""
        try:
            there = self._path.stat()
        except FileNotFoundError:
            return False
        return os.path.samestat(os.fstat(handle), there)

    def _put_back(self) -> None:
        """Write a journal that was deleted while it was open under its name again."""
        root = self._path.parent.parent
        if _device_of(root) != self._disk:  # the stick is out; what stands there now is what lay under it
            raise FileNotFoundError(errno.ENOENT, f"{root} is gone or on another disk now")
        make_folder(self._path.parent)
        put(self._path, [self.content])

    def _look_through(self, handle: int) -> None:
        """Make sure that a file found under the journal's name is the journal, and nobody else writes it."""
        if not _alone(handle):
            raise NotKeptError(f"not kept: {self._path} is being written by another process; {_HELP}")
        content = read_all(handle)
        rest = content[len(self._kept) :]
        if content.startswith(self._kept) and self._tried.startswith(rest):
            return
        aside = free_name(self._path.parent, f"{self._path.name}-replaced")
        write_whole(aside, [self.content])
        flush_folder(aside.parent)
        self._replaced = f"its journal was replaced by another program; what was entered is in {aside}"
        raise NotKeptError(f"not kept: {self._replaced}; go on in another folder and enter it again")

    def _let_go(self) -> None:
        if self._handle is not None:
            handle, self._handle = self._handle, None
            with suppress(OSError):  # of a disk that was pulled out
                os.close(handle)

    def close(self) -> None:
        """Close the file."""
        self._closed = True
        self._let_go()


def _device_of(folder: Path) -> int | None:
    """Return the disk that a folder is on, None where it is not there."""
    try:
        return folder.stat().st_dev
    except OSError:
        return None


def _alone(handle: int) -> bool:
    """Hold a file for this process, where the system can; False where another one holds it.

    The visit's lock is a file of its own, which somebody may have deleted.
    """
    try:
        import fcntl
    except ImportError:  # Windows, where an open file cannot be deleted
        return True
    try:
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        return False
    except OSError:  # a file system without locks
        return True
    return True
