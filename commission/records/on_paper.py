"""Files that a file of readings names: read from beside it only, whatever the names in it say."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from datetime import datetime
from pathlib import Path, PurePosixPath, PureWindowsPath
from typing import Final

from pydantic import Field

from commission.checklist.types import Checklist, StepKey
from commission.errors import Problem, VisitError
from commission.plant.values import Line, Model
from commission.visit.session import OpenVisit

_OUT: Final = frozenset({"", ".", ".."})
_RIGHT: Final = 'a name relative to the file of readings, such as "photographs/lid.jpg"'


class AttachmentRow(Model):
    """A file that belongs to a step."""

    step: Line
    parts: tuple[Line, ...] = Field(default=(), strict=False)
    file: Line = Field(description="relative to the file of readings")
    caption: Line = ""


def beside(folder: Path, name: str) -> Path | None:
    """Return the file of a name beneath a folder; None where it leads elsewhere, or through a link."""
    windows = PureWindowsPath(name)
    if "\\" in name or windows.drive or windows.root or PurePosixPath(name).is_absolute():
        return None
    steps = name.split("/")
    if any(step in _OUT for step in steps):
        return None
    path = folder
    for step in steps:
        path /= step
        if path.is_symlink():
            return None
    return path


def attach_all(
    paper: OpenVisit,
    rows: Sequence[tuple[str, str, AttachmentRow]],
    *,
    file: str,
    folder: Path,
    now: datetime,
) -> Iterator[Problem]:
    """Attach the files that a file of readings names; yield what is wrong with them.

    Parameters
    ----------
    rows
        Each with the keys under which its step and its file's name stand in the file of readings.
    folder
        That of the file of readings.
    """
    for step_key, key, row in rows:
        step = step_of(paper.checklist, row)
        try:
            path = beside(folder, row.file)
        except OSError as error:
            yield Problem(file, key, row.file, f"is no name of a file here: {error.strerror}", _RIGHT)
            continue
        if step is None:
            named = " ".join((row.step, *row.parts))
            yield Problem(file, step_key, named, "this plant's walk has no such step", "")
        elif path is None:
            yield Problem(file, key, row.file, "leads out of the folder of the file of readings", _RIGHT)
        else:
            try:
                paper.attach(step, path, row.caption, now)
            except VisitError as error:
                yield Problem(file, key, row.file, _without(str(error), path.name), "")


def _without(text: str, name: str) -> str:
    return re.sub(rf"^{re.escape(name)}: ", "", text)


def step_of(checklist: Checklist, row: AttachmentRow) -> StepKey | None:
    """Return the step that is named, by its own id or that of one of its readings."""
    ident = row.step.partition(".")[0]
    wanted = sorted(row.parts)
    return next(
        (
            step.key
            for step in checklist.steps
            if step.data.id in {ident, row.step} and sorted(step.parts) == wanted
        ),
        None,
    )
