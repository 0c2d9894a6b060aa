"""Files that belong to a step, photographs and logs: copied whole, named by their digest, never run.

What a file was called elsewhere is text for people and never becomes a path here. Only an ordinary file is
read: no link, pipe or device.
"""

from __future__ import annotations

import hashlib
import os
import stat
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from commission.errors import NotKeptError, VisitError
from commission.visit.disk import BINARY, flush_folder, make_folder, reason_of, write_whole
from commission.visit.types import Attachment

FOLDER: Final = "attachments"
"""Folder of a visit's attached files, in the visit's own."""
LARGEST: Final = 50_000_000
"""Bytes of one attached file."""
MOST: Final = 500
"""Files of one visit."""
ENDINGS: Final = frozenset(
    {
        ".avif", ".bmp", ".csv", ".gif", ".heic", ".heif", ".jpeg", ".jpg", ".json", ".log", ".m4a", ".mov",
        ".mp4", ".ods", ".pdf", ".png", ".tif", ".tiff", ".tsv", ".txt", ".wav", ".webp", ".xml", ".zip",
    }
)  # fmt: skip
"""Endings that are kept, since the system opens such a file to be looked at; others become ``.bin``."""
_NAME: Final = 120
"""Letters of a file's name that are kept."""
_READ: Final = os.O_RDONLY | BINARY | getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_NONBLOCK", 0)
_PIECE: Final = 1 << 20
_PART: Final = ".attachment.part"


@dataclass(frozen=True, slots=True)
class Measured:
    """What a file holds: its digest and its size."""

    digest: str
    size: int


def ending_of(name: str) -> str:
    """Return the ending under which a file is kept."""
    ending = Path(name).suffix.lower()
    return ending if ending in ENDINGS else ".bin"


def name_of(path: Path) -> str:
    """Return what a file is called, as text that no terminal stumbles over."""
    printable = "".join(
        letter if letter.isprintable() else "\N{REPLACEMENT CHARACTER}" for letter in path.name
    )
    return printable if len(printable) <= _NAME else f"…{printable[1 - _NAME :]}"


def measured(source: Path) -> Measured:
    """Return digest and size of a file that may be attached.

    Raises
    ------
    VisitError
        If there is none, it is no ordinary file, is empty, too large, or cannot be read.
    """
    reading = _Reading(source)
    for _ in reading:
        pass
    return reading.measured


def taken_in(source: Path, folder: Path, ending: str) -> Measured:
    """Copy a file into a folder under its digest's name; it is on the disk when this returns.

    Raises
    ------
    VisitError
        If the file cannot be attached.
    NotKeptError
        If the disk does not take the copy; nothing of it is there then.
    """
    reading = _Reading(source)
    beside = folder / _PART
    try:
        if folder.is_symlink():
            folder.unlink()
        make_folder(folder)
        beside.unlink(missing_ok=True)
        write_whole(beside, reading)
        found = reading.measured
        _named(beside, folder / file_name(found.digest, ending), found)
        flush_folder(folder)
    except OSError as error:
        _gone(beside)
        told = f"{name_of(source)} is not attached: {folder} cannot be written ({reason_of(error)})"
        raise NotKeptError(f"{told}; make room, or go on in another folder") from None
    except VisitError:
        _gone(beside)
        raise
    return found


def _named(beside: Path, path: Path, found: Measured) -> None:
    """Give a copy its name; the same one that stands there already stays, somebody may be looking at it."""
    if path.is_symlink() or _wrong(path, found):
        beside.replace(path)
    else:
        beside.unlink()


def _gone(beside: Path) -> None:
    with suppress(OSError):
        beside.unlink(missing_ok=True)


def file_name(digest: str, ending: str) -> str:
    """Return the name under which a file of a digest is kept."""
    return f"{digest.partition(':')[2]}{ending}"


def amiss(one: Attachment, path: Path) -> str:
    """Return what is wrong with the file of an attachment, empty where it is as it was attached."""
    return _wrong(path, Measured(one.digest, one.size))


def _wrong(path: Path, wanted: Measured) -> str:
    try:
        told = os.lstat(path)
        if told.st_size != wanted.size and stat.S_ISREG(told.st_mode):
            return f"was changed: it has {told.st_size:,} bytes, {wanted.size:,} were attached"
        found = measured(path)
    except (FileNotFoundError, NotADirectoryError):
        return "is missing"
    except (OSError, ValueError) as error:
        return f"cannot be looked at: {error}"
    except VisitError as error:
        return f"cannot be taken: {error}"
    return "" if found == wanted else "was changed: its digest is another one"


class _Reading:
    """The pieces of a file, measured while they are read."""

    def __init__(self, source: Path) -> None:
        self._source = source
        self._sum = hashlib.sha256()
        self._size = 0

    @property
    def measured(self) -> Measured:
        """What has been read."""
        return Measured(f"sha256:{self._sum.hexdigest()}", self._size)

    def __iter__(self) -> Iterator[bytes]:
        handle = self._opened()
        try:
            while piece := self._piece(handle):
                self._size += len(piece)
                if self._size > LARGEST:
                    raise self._refused(f"is larger than {LARGEST // 1_000_000} MB; attach a smaller copy")
                self._sum.update(piece)
                yield piece
        finally:
            os.close(handle)
        if not self._size:
            raise self._refused("is empty")

    def _opened(self) -> int:
        try:
            told = os.lstat(self._source)
            wrong = _no_file(told)
            if wrong:
                raise self._refused(wrong)
            handle = os.open(self._source, _READ)
        except FileNotFoundError:
            raise self._refused("there is no such file") from None
        except ValueError:
            raise self._refused("no file can have this name") from None
        except OSError as error:
            raise self._refused(f"cannot be read: {reason_of(error)}") from None
        if os.path.samestat(os.fstat(handle), told):
            return handle
        os.close(handle)
        raise self._refused("was exchanged while it was opened; once more")

    def _piece(self, handle: int) -> bytes:
        try:
            return os.read(handle, _PIECE)
        except OSError as error:
            raise self._refused(f"cannot be read: {reason_of(error)}") from None

    def _refused(self, wrong: str) -> VisitError:
        return VisitError(f"{name_of(self._source) or 'that'}: {wrong}")


def _no_file(told: os.stat_result) -> str:
    """Return why something is not even opened, empty where it is an ordinary file of a size that is taken."""
    if stat.S_ISLNK(told.st_mode):
        return "is a link; attach the file itself"
    if stat.S_ISDIR(told.st_mode):
        return "is a folder; attach its files one by one"
    if not stat.S_ISREG(told.st_mode):
        return "is no ordinary file"
    if told.st_size > LARGEST:
        size, most = told.st_size / 1e6, LARGEST // 1_000_000
        return f"has {size:,.0f} MB, {most} MB are taken at most; attach a smaller copy"
    return ""
