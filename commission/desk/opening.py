"""Opening the desk on folders of records, as every front end does it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from pathlib import Path

from commission.desk.due_rows import StepIntervals
from commission.desk.index import Index, cache_folder, index_path
from commission.desk.scan import roots_of


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
