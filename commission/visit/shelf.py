"""Where visits in work are kept, and the list of them.

The first screen shows this list, so it is made without what reads a whole visit.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any, Final

from commission.visit.framing import NAME, intact, text_of

LOCK: Final = "lock"
HOLDER: Final = "holder"


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
    if named:
        return Path(named)
    if platform == "win32":
        data = Path(environment.get("LOCALAPPDATA") or home / "AppData" / "Local")
    elif platform == "darwin":
        data = home / "Library" / "Application Support"
    else:
        told = environment.get("XDG_DATA_HOME", "")
        data = Path(told) if told.startswith("/") else home / ".local" / "share"
    return data / "commission" / "visits"


def list_visits(root: Path) -> tuple[VisitSummary, ...]:
    """Return the visits of a folder, newest first; one that cannot be read is listed with the reason."""
    found = [_summary(folder) for folder in folders(root)]
    return tuple(sorted(found, key=_begun, reverse=True))


def _begun(summary: VisitSummary) -> tuple[float, str]:
    return (0.0 if summary.started_at is None else summary.started_at.timestamp()), summary.id


def folders(root: Path) -> list[Path]:
    """Return the folders of all visits."""
    if not root.is_dir():
        return []
    return [folder for folder in root.iterdir() if (folder / NAME).is_file()]


def _summary(folder: Path) -> VisitSummary:
    try:
        content = (folder / NAME).read_bytes()
    except OSError as error:
        return _unreadable(folder, "", error.strerror or str(error))
    lines = content.split(b"\n")[:-1]
    begun = _beginning(lines[0]) if lines else None
    if begun is None:
        return _unreadable(folder, open_by(folder), "the beginning of its journal cannot be read")
    # quotes inside a text are escaped in JSON, so this cannot be found in what a person wrote
    readings = sum(b'"event":"reading"' in line for line in lines)
    signed = any(b'"event":"signed"' in line for line in lines)
    bad = sum(not intact(line) for line in lines)
    said = f"{bad} of {len(lines)} lines of its journal are damaged" if bad else ""
    site, kind, at = begun
    return VisitSummary(folder.name, site, kind, at, readings, signed, open_by(folder), said)


def _unreadable(folder: Path, holder: str, damage: str) -> VisitSummary:
    return VisitSummary(folder.name, "", "", None, 0, False, holder, damage)


def _beginning(line: bytes) -> tuple[str, str, datetime] | None:
    """Return site, kind and time of the first event of a journal, None where it is none."""
    if not intact(line):
        return None
    try:
        told: dict[str, Any] = json.loads(text_of(line))
        at = datetime.fromisoformat(told["at"])
        opened = told["event"] == "opened" and at.tzinfo is not None
        return (str(told["site"]), str(told["kind"]), at) if opened else None
    except (ValueError, TypeError, LookupError, RecursionError):
        return None


def keys_root(visits: Path) -> Path:
    """Return the folder of a person's own keys and of the list of known ones, beside that of the visits."""
    return visits.resolve().parent / "keys"


def open_by(folder: Path) -> str:
    """Return who holds a visit open, empty where nobody does."""
    from filelock import FileLock, Timeout  # only where there is a visit to ask about

    lock = FileLock(str(folder / LOCK), timeout=0, thread_local=False)
    try:
        with lock:
            return ""
    except Timeout:
        return holder_of(folder) or "another process"
    except OSError:
        return ""


def holder_of(folder: Path) -> str:
    """Return who wrote last that a visit is theirs, empty where that cannot be read."""
    with suppress(OSError, ValueError, TypeError):
        return str(Holder(**json.loads((folder / HOLDER).read_text(encoding="utf-8"))))
    return ""
