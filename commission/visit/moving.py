"""Going on with an open visit in another folder, since the disk of its own does not take what is entered."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path

from commission.errors import HeldError, VisitError
from commission.visit.disk import flush_folder, free_name, make_folder, put, reason_of, write_whole
from commission.visit.folder import HeldVisit, begin, look_at
from commission.visit.framing import NAME
from commission.visit.replay import line_of
from commission.visit.shelf import HOLDER, LOCK, MOVED, Holder, has_journal, open_by

_STAYS = frozenset({NAME, LOCK, HOLDER, MOVED})
"""Files that are made anew in the new folder, or speak of the old one."""


def moved(held: HeldVisit, root: Path) -> tuple[HeldVisit, tuple[str, ...]]:
    """Write a visit whole into a folder of another root and hold it there; return it, and what to say.

    The journal comes from memory, so that this works where the old disk is gone. The old folder is left as it
    is, with a note in it where one can be written, and let go of once the new one is on its disk.

    Raises
    ------
    NotKeptError
        If the new folder cannot be written either; the visit stays where it is then.
    VisitError
        If it is the same folder.
    """
    root = root.absolute()
    if _same(root, held.folder.parent):
        raise VisitError(f"{root} is the folder that the visit is in already")
    new, said = _written(held.folder, held.journal.content, root, held.holder)
    said += _noted(held.folder, new.folder)
    held.close()
    return new, said


def copied(root: Path, ident: str, other: Path, holder: Holder) -> tuple[Path, tuple[str, ...]]:
    """Write a visit whose folder takes nothing into another root; return its new folder, and what to say.

    Raises
    ------
    NotKeptError
        If the new folder cannot be written either.
    VisitError
        If somebody has it open, or it cannot be read.
    """
    seen = look_at(root, ident)
    who = open_by(seen.folder)
    if who:
        raise HeldError(f"visit {ident} is open by {who}; close it there first")
    if _same(root, other):
        raise VisitError(f"{other} is the folder that the visit is in already")
    content = b"".join(line_of(event) for event in (*seen.replay.events, *seen.replay.after_damage))
    new, said = _written(seen.folder, content, other.absolute(), holder)
    new.close()
    return new.folder, (*seen.replay.damage, *said, *_noted(seen.folder, new.folder))


def _written(folder: Path, content: bytes, root: Path, holder: Holder) -> tuple[HeldVisit, tuple[str, ...]]:
    name = folder.name
    there = free_name(root, name) if _taken(root / name) else root / name
    new = begin(there, [content], holder)
    return new, _with_files(folder, new.folder)


def _taken(path: Path) -> bool:
    try:
        return path.exists()
    except OSError:
        return False


def _same(one: Path, other: Path) -> bool:
    try:
        return one.samefile(other)
    except OSError:
        return one == other


def _with_files(old: Path, new: Path) -> tuple[str, ...]:
    """Copy what else lies in the folder of the visit; return what could not be copied."""
    said: list[str] = []
    try:
        for path in _files(old):
            beside = new / path.relative_to(old)
            try:
                make_folder(beside.parent)
                write_whole(beside, [path.read_bytes()])
                flush_folder(beside.parent)
            except OSError as error:
                said.append(f"{path} could not be copied ({reason_of(error)}): copy it by hand")
    except OSError as error:
        said.append(f"what else lies in {old} could not be copied ({reason_of(error)})")
    return tuple(said)


def _files(folder: Path) -> Iterator[Path]:
    """Yield the files of a folder and those in its folders; links out of it are not followed."""
    for path in sorted(folder.iterdir()):
        if path.is_symlink():
            continue
        if path.is_dir():
            yield from _files(path)
        elif path.is_file() and path.name not in _STAYS:
            yield path


def _noted(old: Path, new: Path) -> tuple[str, ...]:
    """Leave a note in the old folder that the visit went on elsewhere, where it takes one."""
    try:
        if has_journal(old):
            put(old / MOVED, [json.dumps({"folder": str(new)}).encode()])
            return ()
        reason = "it is not there"
    except OSError as error:
        reason = reason_of(error)
    next_time = f'next time: commission --visits "{new.parent}"'
    return (f"no note could be left in {old} ({reason}): the visit goes on in {new} alone; {next_time}",)
