"""Opening the desk on folders of records, as every front end does it."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Mapping
from contextlib import closing
from pathlib import Path

from commission.desk.due_rows import StepIntervals
from commission.desk.index import Index, cache_folder, index_path
from commission.desk.scan import roots_of
from commission.errors import Problem, RecordError


def index_of(folders: Iterable[Path], *, environment: Mapping[str, str], platform: str, home: Path) -> Index:
    """Return the index of folders of records; nothing is made or brought up to date yet.

    Parameters
    ----------
    environment
        Environment variables; ``COMMISSION_INDEX`` names the folder where indexes are kept. It should be on
        a disk of this machine: SQLite's log does not work over a network.
    platform
        ``sys.platform``.
    home
        The user's home folder.

    Raises
    ------
    RecordError
        If one is no folder.
    """
    roots = roots_of(folders)
    kept = cache_folder(environment, platform, home)
    return Index(index_path(kept, roots), roots, usual_steps)


def index_named(path: Path, folders: Iterable[Path]) -> Index:
    """Return the index of folders of records that is kept in a file of the user's choice.

    Raises
    ------
    RecordError
        If that is a folder, a device, or a file of something else: an index that is made anew would take its
        place.
    """
    if path.is_dir():
        right = "a file in it, which the desk makes"
        raise RecordError([Problem("desk", "--index", str(path), "is a folder", right)])
    other = path.exists() and (not path.is_file() or path.stat().st_size)
    if other and not (path.is_file() and _is_index(path)):
        right = "a new file, or one that the desk made; this one stays as it is"
        raise RecordError([Problem("desk", "--index", str(path), "is no index of the desk", right)])
    return Index(path, folders, usual_steps)


def _is_index(path: Path) -> bool:
    try:
        with closing(sqlite3.connect(f"{path.absolute().as_uri()}?mode=ro", uri=True)) as opened:
            return {"schema", "roots"} <= {name for (name,) in opened.execute("SELECT name FROM meta")}
    except sqlite3.Error:
        return False


def usual_steps() -> StepIntervals:
    """Return the intervals at which a service visit repeats the usual steps, by their ids."""
    from commission.checklist.build import USUAL
    from commission.checklist.types import ChecklistData
    from commission.plant.files import load_profiles

    return {
        step.id: frozenset(step.service)
        for checklist in load_profiles("checklists", ChecklistData, USUAL)
        for step in checklist.steps
        if step.service
    }
