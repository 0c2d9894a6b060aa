"""The journal of a visit: one line an event, on the disk before anybody hears that it was taken.

A line is the CRC-32 of what follows it in hex, a space, JSON, a line end; the check covers the space too. The
file is only ever appended to, so that whatever ends the process leaves a complete beginning and at most one
torn line, which is cut when the visit is taken up again.
"""

from __future__ import annotations

import json
import os
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Final, NoReturn, Protocol

from pydantic import ValidationError

from commission.errors import VisitError
from commission.visit.events import EVENT, Event
from commission.visit.framing import framed, intact, text_of


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


@dataclass(frozen=True)
class Replay:
    """What a journal holds."""

    events: tuple[Event, ...]
    size: int
    """Bytes of the complete beginning."""
    damage: tuple[str, ...] = ()
    """What could not be read, as a person would say it."""
    after_damage: tuple[Event, ...] = ()
    """Events that can be read behind a damaged line."""
    torn: bool = False
    """Only the last line is incomplete, as when the machine died while writing it."""


def line_of(event: Event) -> bytes:
    """Return an event as a line of the journal."""
    data = event.model_dump(mode="json", by_alias=True, exclude_none=True)
    return framed(json.dumps(data, ensure_ascii=False, separators=(",", ":"), allow_nan=True))


def event_of(line: bytes) -> Event | None:
    """Return the event of a line without its end, None where the line is damaged."""
    if not intact(line):
        return None
    try:
        event: Event = EVENT.validate_json(text_of(line))
    except ValidationError:
        return None
    return event


def replay(content: bytes) -> Replay:
    """Read a journal: the complete beginning, and what is behind the first line that cannot be read."""
    lines = content.split(b"\n")
    tail = lines.pop()
    events: list[Event] = []
    size = 0
    for number, line in enumerate(lines, start=1):
        event = event_of(line)
        if event is None:
            return _damaged(number, lines, tail, events, size)
        events.append(event)
        size += len(line) + 1
    if tail:
        said = f"the last entry was cut short ({len(tail)} bytes) and is dropped; it was never confirmed"
        return Replay(tuple(events), size, (said,), torn=True)
    return Replay(tuple(events), size)


def _damaged(number: int, lines: list[bytes], tail: bytes, events: list[Event], size: int) -> Replay:
    behind = tuple(event for line in lines[number:] if (event := event_of(line)) is not None)
    lost = len(lines) - number - len(behind)
    said = [f"line {number} of the journal is damaged; {len(behind)} entries behind it can be read"]
    if lost:
        said.append(f"{lost} further lines are damaged")
    if tail:
        said.append("the last entry was cut short and is dropped")
    return Replay(tuple(events), size, tuple(said), behind)


_APPENDING: Final = (
    os.O_RDWR | os.O_APPEND | os.O_CREAT | getattr(os, "O_BINARY", 0) | getattr(os, "O_CLOEXEC", 0)
)


class Journal:
    """The journal file, open for appending. Only who holds the visit's lock may have it."""

    def __init__(self, path: Path, size: int) -> None:
        self._path = path
        self._handle: int | None = os.open(path, _APPENDING, 0o600)
        self._size = size
        self._broken = ""
        if not _alone(self._handle):
            self.close()
            raise VisitError(f"{path} is being written by another process; close the visit there first")
        os.ftruncate(self._handle, size)
        flush(self._handle)

    def append(self, *added: Event) -> None:
        """Write events and wait until the disk has them.

        Raises
        ------
        VisitError
            If they could not be written whole; nothing of them is kept then.
        """
        if self._handle is None:
            raise VisitError("the visit is closed")
        if self._broken:
            raise VisitError(f"the visit can be written no more: {self._broken}; close it and open it again")
        if os.fstat(self._handle).st_nlink == 0:
            self._handle = self._put_back(self._handle)
        lines = b"".join(line_of(event) for event in added)
        try:
            written = os.write(self._handle, lines)
            if written == len(lines):
                flush(self._handle)
        except OSError as error:
            self._refuse(error.strerror or str(error))
        if written != len(lines):
            self._refuse(f"only {written} of {len(lines)} bytes found room")
        self._size += len(lines)

    def _put_back(self, handle: int) -> int:
        """Write a journal that was deleted while it was open under its name again; return its new handle."""
        try:
            os.lseek(handle, 0, os.SEEK_SET)
            content = b"".join(iter(lambda: os.read(handle, 1 << 20), b""))
            self._path.parent.mkdir(parents=True, exist_ok=True)
            if self._path.exists():
                aside = free_name(self._path.parent, f"{self._path.name}-replaced")
                write_whole(aside, [content])
                self._broken = f"its journal was replaced by another program; what was entered is in {aside}"
                raise VisitError(f"not kept: {self._broken}")
            write_whole(self._path, [content])
            flush_folder(self._path.parent)
            new = os.open(self._path, _APPENDING, 0o600)
        except OSError as error:
            reason = f"its journal was deleted and cannot be put back: {error.strerror or error}"
            raise VisitError(f"not kept: {reason}; make room and enter it again") from None
        _alone(new)
        os.close(handle)
        return new

    def _refuse(self, reason: str) -> NoReturn:
        """Take an incomplete line away again, so that the next one does not stand behind half a line."""
        try:
            if self._handle is not None:
                os.ftruncate(self._handle, self._size)
                flush(self._handle)
        except OSError as error:
            self._broken = error.strerror or str(error)
        raise VisitError(f"not kept: {self._path} cannot be written ({reason}); make room and enter it again")

    def close(self) -> None:
        """Close the file."""
        if self._handle is not None:
            os.close(self._handle)
            self._handle = None


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


def free_name(folder: Path, stem: str) -> Path:
    """Return a path in a folder that nothing has yet: the stem with a number."""
    return next(path for count in range(1, 10_000) if not (path := folder / f"{stem}-{count}").exists())


def _flush_to_platter() -> Callable[[int], None]:
    """Return the surest flush that the system has: macOS keeps data in the drive after a plain fsync."""
    try:
        import fcntl

        full: int | None = getattr(fcntl, "F_FULLFSYNC", None)
    except ImportError:  # Windows, where fsync flushes the file's buffers
        return os.fsync
    if full is None:
        return getattr(os, "fdatasync", os.fsync)
    command = full

    def whole(handle: int) -> None:
        try:
            fcntl.fcntl(handle, command)
        except OSError:  # a file system without it
            os.fsync(handle)

    return whole


flush: Final = _flush_to_platter()


def flush_folder(folder: Path) -> None:
    """Wait until the disk knows a folder's new names; systems without such a flush do it themselves."""
    try:
        handle = os.open(folder, os.O_RDONLY)
    except OSError:
        return
    try:
        os.fsync(handle)
    except OSError:
        return
    finally:
        os.close(handle)


def write_whole(path: Path, lines: Iterable[bytes]) -> None:
    """Write a new file and wait until the disk has it; a file of that name may not be there."""
    flags = os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0)
    handle = os.open(path, flags, 0o600)
    try:
        for line in lines:
            rest = memoryview(line)
            while rest:
                rest = rest[os.write(handle, rest) :]
        flush(handle)
    finally:
        os.close(handle)
