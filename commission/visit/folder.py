"""The folder of a visit in work, which one process at a time holds."""

from __future__ import annotations

import json
from contextlib import suppress
from dataclasses import asdict, dataclass
from datetime import datetime
from pathlib import Path
from random import Random
from typing import Final

from filelock import FileLock, Timeout

from commission.errors import VisitError
from commission.visit import events
from commission.visit.framing import NAME
from commission.visit.journal import Journal, Replay, flush_folder, free_name, line_of, replay, write_whole
from commission.visit.shelf import HOLDER, LOCK, Holder, folders, holder_of
from commission.visit.types import VisitKind

_LETTERS: Final = "abcdefghijklmnopqrstuvwxyz234567"
_SITE_LETTERS: Final = 34
"""Letters of the site's id that a visit's id has room for."""


def new_visit_id(root: Path, site: str, started: datetime, kind: VisitKind, random: Random) -> str:
    """Return an id that no visit has had: site, date, kind and four letters drawn by lot."""
    stem = f"{site[:_SITE_LETTERS].rstrip('-')}-{started:%Y-%m-%d}-{kind}"
    for _ in range(1000):
        made = f"{stem}-{''.join(random.choice(_LETTERS) for _ in range(4))}"
        if not (root / made).exists():
            return made
    raise VisitError(f"no free id for a visit of {site} in {root}; move old visits away")


@dataclass
class HeldVisit:
    """A visit's folder, held open by this process."""

    folder: Path
    journal: Journal
    replay: Replay
    lock: FileLock

    def append(self, *added: events.Event) -> None:
        """Write events to the journal; once this returns they are safe."""
        self.journal.append(*added)

    def close(self) -> None:
        """Let go of the visit."""
        self.journal.close()
        with suppress(OSError):
            (self.folder / HOLDER).unlink()
        self.lock.release()


def create(root: Path, opened: events.Opened, holder: Holder) -> HeldVisit:
    """Make the folder of a new visit with its first entry, and hold it.

    Raises
    ------
    VisitError
        If the folder is there already or cannot be made.
    """
    folder = root / opened.id
    try:
        root.mkdir(parents=True, exist_ok=True)
        folder.mkdir()
    except FileExistsError:
        raise VisitError(f"{folder} is there already; a visit's id is never used twice") from None
    except OSError as error:
        raise VisitError(f"{folder} cannot be made: {error.strerror or error}") from None
    lock = _held(folder, holder)
    try:
        write_whole(folder / NAME, [line_of(opened)])
        flush_folder(folder)
        flush_folder(root)
        return _opened(folder, lock)
    except OSError as error:
        _removed(folder, lock)
        raise VisitError(f"{folder} cannot be made: {error.strerror or error}") from None


def _removed(folder: Path, lock: FileLock) -> None:
    """Take away the folder of a visit that could not be begun; nothing was ever kept in it."""
    for name in (NAME, HOLDER, LOCK):
        if name == LOCK:
            lock.release()
        with suppress(OSError):
            (folder / name).unlink()
    with suppress(OSError):
        folder.rmdir()


def take_up(root: Path, ident: str, holder: Holder) -> HeldVisit:
    """Open the folder of a visit in work and hold it.

    A torn last line is cut. Where a line in the midst is damaged the whole file is set aside, the entries
    behind the damage are written on, and the replay says so.

    Raises
    ------
    VisitError
        If there is no such visit, somebody else holds it, or its beginning cannot be read.
    """
    folder = root / ident
    if not (folder / NAME).is_file():
        known = ", ".join(sorted(found.name for found in folders(root))) or "none"
        raise VisitError(f"there is no visit {ident} in {root}; known: {known}")
    lock = _held(folder, holder)
    try:
        return _opened(folder, lock)
    except OSError as error:
        lock.release()
        raise VisitError(f"{folder} cannot be opened: {error.strerror or error}") from None
    except VisitError:
        lock.release()
        raise


def _held(folder: Path, holder: Holder) -> FileLock:
    lock = FileLock(str(folder / LOCK), timeout=0, thread_local=False)
    try:
        lock.acquire()
    except Timeout:
        who = holder_of(folder) or "another process"
        raise VisitError(f"visit {folder.name} is open already, by {who}; close it there first") from None
    except OSError as error:
        raise VisitError(f"{folder} cannot be written: {error.strerror or error}") from None
    with suppress(OSError):  # it only tells others who holds the visit
        (folder / HOLDER).write_text(json.dumps(asdict(holder)), encoding="utf-8")
    return lock


def _opened(folder: Path, lock: FileLock) -> HeldVisit:
    path = folder / NAME
    found = replay(path.read_bytes())
    if not found.events:
        raise VisitError(
            f"the beginning of {path} cannot be read, so its plant is not known; "
            f"{len(found.after_damage)} further entries can be read in that file"
        )
    if found.damage and not found.torn:
        found = _set_aside(folder, found)
    return HeldVisit(folder, Journal(path, found.size), found, lock)


def _set_aside(folder: Path, found: Replay) -> Replay:
    """Keep a damaged journal under a name of its own, and put one of what can be read in its place.

    The place is taken in one move: whatever ends the process, the entries behind the damage stand in the
    journal, or the damage is found and told again.
    """
    content = (folder / NAME).read_bytes()
    aside = free_name(folder, f"{NAME}-damaged")
    write_whole(aside, [content])
    mended = folder / f"{NAME}-mended"
    mended.unlink(missing_ok=True)
    readable = [content[: found.size], *(line_of(event) for event in found.after_damage)]
    write_whole(mended, readable)
    mended.replace(folder / NAME)
    flush_folder(folder)
    said = (*found.damage, f"the damaged journal is set aside as {aside}; check what is missing")
    return Replay(found.events, sum(map(len, readable)), said, found.after_damage)
