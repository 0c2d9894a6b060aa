"""Writing so that it outlasts the power: whole, flushed by the system's own call, under a name that is known.

Linux: ``fdatasync`` brings data and size, ``fsync`` of the folder its new names. macOS: ``F_FULLFSYNC``,
since a plain ``fsync`` leaves both in the drive. Windows: ``os.fsync`` is ``FlushFileBuffers``; it opens no
folder and writes new names itself.
"""

from __future__ import annotations

import errno
import os
from collections.abc import Iterable
from contextlib import suppress
from pathlib import Path
from typing import Final

try:
    import fcntl
except ImportError:  # Windows
    _FULL: int | None = None
else:
    _FULL = getattr(fcntl, "F_FULLFSYNC", None)

BINARY: Final = getattr(os, "O_BINARY", 0) | getattr(os, "O_CLOEXEC", 0)
"""Flags of every file that is opened here: Windows would change line ends, a child would inherit it."""
_NO_SUCH_FLUSH: Final = frozenset(
    {errno.EINVAL, errno.ENOSYS, errno.ENOTSUP, errno.EOPNOTSUPP, errno.EPERM, errno.EACCES, errno.EBADF}
)
"""What file systems say that cannot flush a folder; they write its names themselves."""
_FULL_DISK: Final = frozenset({errno.ENOSPC, errno.EFBIG, getattr(errno, "EDQUOT", errno.ENOSPC)})
_READ_ONLY: Final = frozenset({errno.EROFS, errno.EACCES, errno.EPERM})
_GONE: Final = frozenset(
    {errno.EIO, errno.ENXIO, errno.ENODEV, errno.ENOENT, getattr(errno, "ESTALE", errno.EIO)}
)


def flush(handle: int) -> None:
    """Wait until the drive itself has what was written to a file.

    Raises
    ------
    OSError
        If it does not take it.
    """
    if _FULL is not None and _flushed_whole(handle):
        return
    if _FULL is None and hasattr(os, "fdatasync"):
        os.fdatasync(handle)
    else:
        os.fsync(handle)


def _flushed_whole(handle: int) -> bool:
    """Flush through to the platter; False where that fails: ``fsync`` then says what is wrong."""
    try:
        fcntl.fcntl(handle, _FULL or 0)
    except OSError:
        return False
    return True


def flush_folder(folder: Path) -> None:
    """Wait until the disk knows a folder's new names, where the system has such a flush.

    Raises
    ------
    OSError
        If the folder is not there, or the disk does not take it.
    """
    try:
        handle = os.open(folder, os.O_RDONLY)
    except PermissionError:  # Windows, or a folder that may be written into and not be read
        return
    try:
        if _FULL is None or not _flushed_whole(handle):
            os.fsync(handle)
    except OSError as error:
        if error.errno not in _NO_SUCH_FLUSH:
            raise
    finally:
        os.close(handle)


def write_all(handle: int, content: bytes) -> None:
    """Write all of it; that a write takes less than it is given is no error to the system.

    Raises
    ------
    OSError
        If the rest finds no room.
    """
    rest = memoryview(content)
    while rest:
        written = os.write(handle, rest)
        if written <= 0:
            raise OSError(errno.ENOSPC, f"{len(content) - len(rest)} of {len(content)} bytes found room")
        rest = rest[written:]


def read_all(handle: int) -> bytes:
    """Return the whole content of an open file."""
    os.lseek(handle, 0, os.SEEK_SET)
    return b"".join(iter(lambda: os.read(handle, 1 << 20), b""))


def write_whole(path: Path, parts: Iterable[bytes]) -> None:
    """Write a new file and wait until the disk has it; a file of that name may not be there.

    Raises
    ------
    OSError
        If there is one, or the disk does not take it.
    """
    handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL | BINARY, 0o600)
    try:
        for part in parts:
            write_all(handle, part)
        flush(handle)
    finally:
        os.close(handle)


def put(path: Path, parts: Iterable[bytes]) -> None:
    """Put a file in its place in one move: at no moment is half of it seen, or neither old nor new.

    Raises
    ------
    OSError
        If the disk does not take it; what stood there before stands there still.
    """
    beside = path.with_name(f".{path.name}.part")
    try:
        beside.unlink(missing_ok=True)
        write_whole(beside, parts)
        beside.replace(path)
    except OSError:
        with suppress(OSError):
            beside.unlink(missing_ok=True)
        raise
    flush_folder(path.parent)


def give_name(beside: Path, path: Path) -> None:
    """Give a file its name, which must be free; a plain rename would take another file's place silently.

    Raises
    ------
    FileExistsError
        If the name is taken; the file is taken away.
    OSError
        If the disk does not take it.
    """
    try:
        os.link(beside, path)
    except FileExistsError:
        beside.unlink(missing_ok=True)
        raise
    except OSError:  # a file system without links
        if os.path.lexists(path):
            beside.unlink(missing_ok=True)
            raise FileExistsError(str(path)) from None
        beside.rename(path)
    else:
        beside.unlink()


def make_folder(folder: Path) -> None:
    """Make a folder with those that it stands in, each known to the disk.

    Raises
    ------
    OSError
        If it cannot be made, or a file has its name.
    """
    missing: list[Path] = []
    at = folder.absolute()
    while not at.exists() and at != at.parent:
        missing.append(at)
        at = at.parent
    for made in reversed(missing):
        made.mkdir(exist_ok=True)
        flush_folder(made.parent)
    folder.mkdir(exist_ok=True)  # says so where a file has the name


def free_name(folder: Path, stem: str) -> Path:
    """Return a path in a folder that nothing has yet: the stem with a number."""
    return next(path for count in range(1, 10_000) if not (path := folder / f"{stem}-{count}").exists())


def reason_of(error: OSError) -> str:
    """Return what is wrong with a disk, as a person would say it, with the system's own words."""
    said = error.strerror or str(error)
    if error.errno in _FULL_DISK:
        return f"the disk is full: {said}"
    if error.errno in _READ_ONLY:
        return f"it may not be written to: {said}"
    if error.errno in _GONE:
        return f"the disk does not answer or was taken out: {said}"
    return said
