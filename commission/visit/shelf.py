"""Where visits in work are kept, and the list of them.

The first screen shows this list, so it is made without what reads a whole visit.
"""

from __future__ import annotations

import json
import os
from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any, Final

from commission.errors import VisitError
from commission.visit.framing import NAME, intact, text_of, whole_beginning
from commission.visit.user_folders import user_folder

LOCK: Final = "lock"
HOLDER: Final = "holder"
MOVED: Final = "moved"
"""Note in a folder of a visit that went on in another one."""
LARGEST: Final = 100_000_000
"""Bytes of a journal; one of ten thousand readings has a fifth of it."""
_SHORT: Final = 8192


@dataclass(frozen=True, slots=True)
class Holder:
    """Who holds a visit open."""

    pid: int
    host: str
    user: str

    def __str__(self) -> str:
        return f"{self.user or 'somebody'} on {self.host or 'this machine'} (process {self.pid})"


@dataclass(frozen=True, slots=True)
class VisitSummary:
    """A visit of the folder, for a list to choose from."""

    id: str
    """Name of its folder, by which it is taken up; it differs from the visit's own where that was renamed."""
    site: str
    kind: str
    started_at: datetime | None
    readings: int
    signed: bool
    open_by: str
    """Who holds it open; empty where nobody does."""
    damage: str
    """What is wrong with its journal; empty where nothing is."""
    moved_to: str = ""
    """Folder in which it went on; empty where it did not."""
    technician: str = ""
    """Who is named as its technician first; empty where nobody is yet."""


def visits_root(environment: Mapping[str, str], platform: str, home: Path) -> Path:
    """Return where visits in work are kept: the user's data folder of the system.

    Parameters
    ----------
    environment
        Environment variables; ``COMMISSION_VISITS`` names another folder.
    platform
        ``sys.platform``.
    home
        The user's home folder.
    """
    named = environment.get("COMMISSION_VISITS")
    return Path(named) if named else user_folder("data", environment, platform, home) / "visits"


def list_visits(root: Path) -> tuple[VisitSummary, ...]:
    """Return the visits of a folder, newest first; one that cannot be read is listed with the reason.

    Raises
    ------
    VisitError
        If the folder itself cannot be read.
    """
    found = [_summary(folder) for folder in folders(root)]
    return tuple(sorted(found, key=_begun, reverse=True))


def _begun(summary: VisitSummary) -> tuple[float, str]:
    return (0.0 if summary.started_at is None else summary.started_at.timestamp()), summary.id


def folders(root: Path) -> list[Path]:
    """Return the folders of all visits.

    Raises
    ------
    VisitError
        If the folder that they stand in is there and cannot be read.
    """
    try:
        return [folder for folder in root.iterdir() if has_journal(folder)] if root.is_dir() else []
    except OSError as error:
        raise VisitError(f"{root} cannot be read: {error.strerror or error}") from None


def has_journal(folder: Path) -> bool:
    """Say whether a folder is that of a visit; one that may not be looked into counts, and says so later."""
    try:
        return (folder / NAME).is_file()
    except PermissionError:
        return folder.is_dir()
    except (OSError, ValueError):  # a name that no file can have
        return False


def journal_bytes(folder: Path) -> bytes:
    """Return the journal in a visit's folder.

    Raises
    ------
    VisitError
        If it is larger than that of any visit.
    OSError
        If it cannot be read.
    """
    with (folder / NAME).open("rb") as file:
        content = file.read(LARGEST + 1)
    if len(content) > LARGEST:
        raise VisitError(f"{folder / NAME} is larger than {LARGEST:,} bytes, which no visit comes to")
    return content


def _summary(folder: Path) -> VisitSummary:
    try:
        content = journal_bytes(folder)
    except (OSError, VisitError) as error:
        return _unreadable(folder, "", getattr(error, "strerror", None) or str(error))
    lines = content.split(b"\n")[:-1]
    begun = _beginning(lines[0]) if lines else None
    if begun is None:
        return _unreadable(folder, open_by(folder), "the beginning of its journal cannot be read")
    # quotes inside a text are escaped in JSON, so this cannot be found in what a person wrote
    readings = sum(line.count(b'"event":"reading"') for line in lines)
    signed = any(b'"event":"signed"' in line for line in lines)
    bad = sum(not intact(line) for line in lines)
    said = f"{bad} of {len(lines)} lines of its journal are damaged" if bad else ""
    site, kind, at = begun
    there = moved_to(folder)
    moved = "" if there is None else str(there)
    return VisitSummary(
        folder.name, site, kind, at, readings, signed, open_by(folder), said, moved, _technician(lines)
    )


def _technician(lines: Sequence[bytes]) -> str:
    """Return the name of the first technician, as it was put right last."""
    people: dict[str, str] = {}
    for line in lines:
        if b'"event":"person"' in line and intact(line):
            with suppress(ValueError, TypeError, LookupError, RecursionError):
                told = json.loads(text_of(line))
                name, role = str(told["person"]["name"]), str(told["person"]["role"])
                gone = str(told.get("instead_of") or name)
                people = {name if known == gone else known: of for known, of in people.items()} | {name: role}
    named = next((name for name, role in people.items() if role == "technician"), "")
    return "".join(letter for letter in named if letter.isprintable())


def _unreadable(folder: Path, holder: str, damage: str) -> VisitSummary:
    return VisitSummary(folder.name, "", "", None, 0, False, holder, damage)


def _beginning(line: bytes) -> tuple[str, str, datetime] | None:
    """Return site, kind and time of the first event of a journal, None where it is none."""
    entry = line if intact(line) else line[: whole_beginning(line)]
    if not entry:
        return None
    try:
        told: dict[str, Any] = json.loads(text_of(entry))
        at = datetime.fromisoformat(told["at"])
        opened = told["event"] == "opened" and at.tzinfo is not None
        return (str(told["site"]), str(told["kind"]), at) if opened else None
    except (ValueError, TypeError, LookupError, RecursionError):
        return None


def keys_root(visits: Path) -> Path:
    """Return the folder of a person's own keys and of the list of known ones, beside that of the visits."""
    return visits.resolve().parent / "keys"


def open_by(folder: Path) -> str:
    """Return who holds a visit open, empty where nobody does; nothing is written to find out."""
    return (holder_of(folder) or "another process") if _is_held(folder / LOCK) else ""


def _is_held(lock: Path) -> bool:
    """Say whether somebody holds a lock.

    It is asked for as one of many, for a moment: others may ask at the same time and do not take each other
    for holders, and who opens the visit waits that moment out (``folder.PATIENCE``).
    """
    try:
        import fcntl
    except ImportError:  # Windows, which has no such shared question
        return _is_held_on_windows(lock)
    try:
        handle = os.open(lock, os.O_RDONLY | getattr(os, "O_CLOEXEC", 0))
    except OSError:
        return False
    try:
        fcntl.flock(handle, fcntl.LOCK_SH | fcntl.LOCK_NB)
    except BlockingIOError:
        return True
    except OSError:  # a file system without locks
        return False
    finally:
        os.close(handle)
    return False


def _is_held_on_windows(lock: Path) -> bool:
    from filelock import FileLock, Timeout  # only where there is a visit to ask about

    if not lock.exists():
        return False
    try:
        with FileLock(str(lock), timeout=0, thread_local=False):
            return False
    except Timeout:
        return True
    except OSError:
        return False


def holder_of(folder: Path) -> str:
    """Return who wrote last that a visit is theirs, empty where that cannot be read."""
    with suppress(OSError, ValueError, TypeError):
        told = str(Holder(**json.loads(_short(folder / HOLDER))))
        return "".join(letter for letter in told if letter.isprintable())
    return ""


def moved_to(folder: Path) -> Path | None:
    """Return the folder in which a visit went on, None where it did not."""
    with suppress(OSError, ValueError, TypeError, KeyError):
        told = str(json.loads(_short(folder / MOVED))["folder"])
        return Path(told) if told.isprintable() else None
    return None


def followed(root: Path, ident: str) -> tuple[Path, str]:
    """Return root and id where a visit went on last, as far as that place is there now."""
    at = root / ident
    seen = {at}
    while (there := moved_to(at)) is not None and there not in seen and has_journal(there):
        seen.add(there)
        at = there
    return at.parent, at.name


def _short(path: Path) -> str:
    """Return the beginning of a small file; whatever was put there in its place is not read whole."""
    with path.open(encoding="utf-8") as file:
        return file.read(_SHORT)
