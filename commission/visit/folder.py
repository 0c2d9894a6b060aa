"""The folder of a visit in work, which one process at a time holds."""

from __future__ import annotations

import json
from contextlib import suppress
from dataclasses import asdict, dataclass, replace
from datetime import datetime
from pathlib import Path
from random import Random
from typing import Final

from filelock import FileLock, Timeout

from commission.errors import HeldError, NotKeptError, VisitError
from commission.visit import events
from commission.visit.disk import flush_folder, free_name, make_folder, put, reason_of, write_whole
from commission.visit.framing import NAME
from commission.visit.journal import Journal
from commission.visit.replay import Replay, line_of, replay
from commission.visit.shelf import (
    HOLDER,
    LOCK,
    MOVED,
    Holder,
    folders,
    has_journal,
    holder_of,
    journal_bytes,
    moved_to,
    open_by,
)
from commission.visit.types import VisitKind

_LETTERS: Final = "abcdefghijklmnopqrstuvwxyz234567"
_SITE_LETTERS: Final = 34
"""Letters of the site's id that a visit's id has room for."""
_SHOWN: Final = 80
"""Letters of a name that cannot be found that are said again."""
PATIENCE: Final = 0.25
"""Seconds to wait for a lock: somebody who only lists the visits asks for it for a moment."""


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
    holder: Holder

    def append(self, *added: events.Event) -> None:
        """Write events to the journal; once this returns they are safe."""
        self.journal.append(*added)

    def close(self) -> None:
        """Let go of the visit."""
        self.journal.close()
        with suppress(OSError):
            (self.folder / HOLDER).unlink()
        let_go(self.lock)


@dataclass
class LookedAt:
    """A visit's folder that is only looked at: nothing is held, nothing is written."""

    folder: Path
    replay: Replay

    def append(self, *_: events.Event) -> None:
        """Refuse.

        Raises
        ------
        HeldError
            Always; the text says who has the visit open.
        """
        raise HeldError(f"not kept: the visit is only looked at; {_who_has(self.folder)}")

    def close(self) -> None:
        """Nothing is held."""


def _who_has(folder: Path) -> str:
    who = open_by(folder)
    return f"it is open by {who}" if who else "nobody has it open now: leave it and take it up"


def create(root: Path, opened: events.Opened, holder: Holder) -> HeldVisit:
    """Make the folder of a new visit with its first entry, and hold it.

    Raises
    ------
    VisitError
        If the folder is there already or cannot be made.
    """
    folder = root / opened.id
    return begin(folder, [line_of(opened)], holder)


def begin(folder: Path, content: list[bytes], holder: Holder) -> HeldVisit:
    """Make the folder of a visit with a journal of this content, and hold it.

    Raises
    ------
    NotKeptError
        If it cannot be made or written; nothing of it is there then.
    VisitError
        If the folder is there already.
    """
    try:
        make_folder(folder.parent)
        folder.mkdir()
    except FileExistsError:
        raise VisitError(f"{folder} is there already; a visit's id is never used twice") from None
    except OSError as error:
        raise _cannot(folder, "made", error) from None
    lock = None
    try:
        lock = _held(folder, holder)
        put(folder / NAME, content)  # in one move: half a beginning would be listed for ever
        flush_folder(folder.parent)
        return _opened(folder, lock, holder)
    except OSError as error:
        _removed(folder, lock)
        raise _cannot(folder, "made", error) from None
    except VisitError:
        _removed(folder, lock)
        raise


def _cannot(folder: Path, what: str, error: OSError) -> NotKeptError:
    return NotKeptError(f"{folder} cannot be {what}: {reason_of(error)}")


def let_go(lock: FileLock) -> None:
    """Release a lock, also one on a disk that was pulled out."""
    with suppress(OSError):
        lock.release()


def _removed(folder: Path, lock: FileLock | None) -> None:
    """Take away the folder of a visit that could not be begun; nothing was ever kept in it."""
    if lock is not None:
        let_go(lock)
    for name in (NAME, HOLDER, LOCK):
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
    folder = folder_of(root, ident)
    lock = _held(folder, holder)
    try:
        held = _opened(folder, lock, holder)
        moved = _not_followed(folder)
    except OSError as error:
        let_go(lock)
        raise _cannot(folder, "opened", error) from None
    except VisitError:
        let_go(lock)
        raise
    return replace(held, replay=replace(held.replay, damage=(*moved, *held.replay.damage)))


def folder_of(root: Path, ident: str) -> Path:
    """Return the folder of a visit that is there.

    Raises
    ------
    VisitError
        If there is none; the text names those that are.
    """
    one_name = Path(ident).name == ident and ident not in {"", ".."} and "\\" not in ident
    if one_name and has_journal(root / ident):
        return root / ident
    shown = ident if len(ident) <= _SHOWN else f"{ident[:_SHOWN]}…"
    known = ", ".join(sorted(found.name for found in folders(root))) or "none"
    raise VisitError(f"there is no visit {shown} in {root}; known: {known}")


def look_at(root: Path, ident: str) -> LookedAt:
    """Read the folder of a visit without holding it; somebody else may be writing there.

    Raises
    ------
    VisitError
        If there is no such visit, or its beginning cannot be read.
    """
    folder = folder_of(root, ident)
    try:
        found = _readable(folder)
    except OSError as error:
        raise VisitError(f"{folder} cannot be read: {error.strerror or error}") from None
    if found.torn:  # an entry that is just being written
        found = replace(found, damage=())
    return LookedAt(folder, found)


def _not_followed(folder: Path) -> tuple[str, ...]:
    """Take away the note that a visit went on elsewhere, since it goes on here again; return what to say."""
    there = moved_to(folder)
    if there is None:
        return ()
    aside = free_name(folder, MOVED)
    (folder / MOVED).replace(aside)
    flush_folder(folder)
    return (f"this visit went on in {there}, which was not taken up: what was entered there is missing here",)


def _held(folder: Path, holder: Holder) -> FileLock:
    lock = FileLock(str(folder / LOCK), timeout=PATIENCE, thread_local=False)
    try:
        lock.acquire(poll_interval=PATIENCE / 5)
    except Timeout:
        who = holder_of(folder) or "another process"
        raise HeldError(f"visit {folder.name} is open already, by {who}; close it there first") from None
    except OSError as error:
        raise _cannot(folder, "written", error) from None
    with suppress(OSError):  # it only tells others who holds the visit
        (folder / HOLDER).write_text(json.dumps(asdict(holder)), encoding="utf-8")
    return lock


def _readable(folder: Path) -> Replay:
    path = folder / NAME
    found = replay(journal_bytes(folder))
    first = next(iter((*found.events, *found.after_damage)), None)
    if not isinstance(first, events.Opened):
        raise VisitError(
            f"the beginning of {path} cannot be read, so its plant is not known; "
            f"{len(found.after_damage)} further entries can be read in that file"
        )
    return found


def _opened(folder: Path, lock: FileLock, holder: Holder) -> HeldVisit:
    found = _readable(folder)
    if found.damage and not found.torn:
        found = _set_aside(folder, found)
    return HeldVisit(folder, Journal(folder / NAME, found.size), found, lock, holder)


def _set_aside(folder: Path, found: Replay) -> Replay:
    """Keep a damaged journal under a name of its own, and put one of what can be read in its place.

    The place is taken in one move: whatever ends the process, the entries behind the damage stand in the
    journal, or the damage is found and told again.
    """
    content = journal_bytes(folder)
    aside = free_name(folder, f"{NAME}-damaged")
    write_whole(aside, [content])
    flush_folder(folder)
    readable = [content[: found.size], *(line_of(event) for event in found.after_damage)]
    put(folder / NAME, readable)
    said = (*found.damage, f"the damaged journal is set aside as {aside}; check what is missing")
    return Replay(found.events, sum(map(len, readable)), said, found.after_damage)
