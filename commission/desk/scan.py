"""The files of folders of records, and what changed since they were last looked at."""

from __future__ import annotations

import os
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TypeAlias

from commission.desk.rows import FileSeen
from commission.errors import Problem, RecordError


def roots_of(folders: Iterable[Path]) -> tuple[Path, ...]:
    """Return folders without those that lie within another, sorted, so that each file is met once.

    Raises
    ------
    RecordError
        If one is no folder, or none is named.
    """
    found = sorted({folder.resolve() for folder in folders})
    for folder in found:
        if folder.is_file():
            told = "this is a file; name the folder that it is in"
            alone = f"'commission verify {folder.name}' looks at one record"
            raise RecordError([Problem(str(folder), "folder", "", told, alone)])
        if not folder.is_dir():
            raise RecordError([Problem(str(folder), "folder", "", "there is no such folder", "")])
    if not found:
        raise RecordError([Problem("desk", "folder", "", "no folder is named", "a folder of records")])
    return tuple(one for one in found if not any(other in one.parents for other in found))


Listed: TypeAlias = tuple[int, str, int, int]
"""What a :class:`FileSeen` holds; it takes a fifth of the time of one to make."""


def files_in(roots: Sequence[Path]) -> Iterator[FileSeen]:
    """Yield the TOML files below folders, as :func:`listed` does."""
    return map(FileSeen._make, listed(roots))


def listed(roots: Sequence[Path]) -> Iterator[Listed]:
    """Yield the TOML files below folders; hidden ones and what cannot be looked into are passed over.

    Raises
    ------
    RecordError
        If one of the folders themselves cannot be looked into: its records are not gone.
    """
    for place, root in enumerate(roots):
        folders = [(os.fspath(root), "")]
        while folders:
            folder, below = folders.pop()
            try:
                with os.scandir(folder) as entries:
                    for entry in entries:
                        name = entry.name
                        if name[0] == ".":
                            continue
                        path = below + name
                        if not name.endswith(".toml"):
                            if entry.is_dir(follow_symlinks=False):
                                folders.append((entry.path, f"{path}/"))
                        elif (told := _told(entry)) is not None and (path.isascii() or _is_text(path)):
                            yield place, path, told.st_size, told.st_mtime_ns
            except OSError as error:
                if not below:
                    raise _closed(folder, error) from None


def _closed(folder: str, error: OSError) -> RecordError:
    wrong = f"cannot be looked into: {error.strerror or error}"
    right = "look again once it is there and may be read"
    return RecordError([Problem(folder, "folder", "", wrong, right)])


def _told(entry: os.DirEntry[str]) -> os.stat_result | None:
    """Return what the system tells of a file, None of anything else."""
    try:
        return entry.stat() if entry.is_file() else None
    except OSError:
        return None


def _is_text(path: str) -> bool:
    """Say whether a name can be kept as text."""
    try:
        path.encode()
    except UnicodeEncodeError:
        return False
    return True


@dataclass(frozen=True, slots=True)
class Changes:
    """What changed in folders since an index was made."""

    new: tuple[FileSeen, ...]
    """Added, or with another size or time."""
    gone: tuple[int, ...]
    """Numbers in the index of what was changed or removed."""
    unchanged: int

    @property
    def any(self) -> bool:
        """Whether there is anything to do."""
        return bool(self.new or self.gone)


def changes(known: Iterable[tuple[int, int, str, int, int]], files: Iterable[Listed]) -> Changes:
    """Return what changed.

    Parameters
    ----------
    known
        Number, root, path, size and time of each file in the index.
    files
        As they are now.
    """
    left = {(root, path, size, mtime): number for number, root, path, size, mtime in known}
    before = len(left)
    new = sorted(FileSeen._make(file) for file in files if left.pop(file, None) is None)
    return Changes(tuple(new), tuple(left.values()), before - len(left))
