"""The attached files of a record: in a folder of the record's name beside it, each named by its digest."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Final, Literal, TypeAlias

from pydantic import ValidationError

from commission.errors import NotKeptError, Problem, RecordError, VisitError
from commission.visit.attachments import MOST, Measured, amiss, taken_in
from commission.visit.types import Attachment, Visit

Beside: TypeAlias = Literal["not looked for", "there", "missing", "changed", "taken off", "malformed"]
"""How an attached file stands beside its record."""
_UNLISTED: Final = 20


@dataclass(frozen=True, slots=True)
class AttachedState:
    """What was found of one attached file."""

    state: Beside
    says: str
    """What is wrong, empty where nothing is."""
    attachment: Attachment | None
    """None where the record's row is none."""

    @property
    def holds(self) -> bool:
        """Whether the file is there as it was attached, or need not be."""
        return self.state in {"there", "taken off"}


def folder_beside(record: Path) -> Path:
    """Return the folder of a record's attached files."""
    return record.with_suffix("")


def put_beside(record: Path, visit: Visit, files: Mapping[str, Path]) -> None:
    """Copy the attached files of a visit into the folder of its record, which gets its name after.

    Raises
    ------
    RecordError
        If one is lost or changed, or the folder cannot be written. Files that were copied already stay.
    """
    folder = folder_beside(record)
    done: set[str] = set()
    for one in visit.attachments:
        if one.withdrawn or one.file in done:
            continue
        done.add(one.file)
        if amiss(one, folder / one.file):
            _put(one, folder, files.get(one.file))


def _put(one: Attachment, folder: Path, source: Path | None) -> None:
    wrong = "is missing" if source is None else amiss(one, source)
    if wrong or source is None:
        raise _refused(one, f"its copy {wrong}")
    try:
        found = taken_in(source, folder, one.ending)
    except NotKeptError as error:
        raise _refused(one, str(error)) from None
    except VisitError as error:
        raise _refused(one, f"its copy: {error}") from None
    if found != Measured(one.digest, one.size):
        raise _refused(one, "its copy was changed while it was read")


def _refused(one: Attachment, wrong: str) -> RecordError:
    right = "attach the same file again at its step"
    return RecordError([Problem("the record", f"attachment {one.name}", "", wrong, right)])


def listed(data: Mapping[str, Any]) -> tuple[AttachedState, ...]:
    """Return the attached files that a record lists, not looked for yet."""
    visit = data.get("visit")
    rows = visit.get("attachments", []) if isinstance(visit, dict) else []
    if not isinstance(rows, list) or len(rows) > MOST:
        return (AttachedState("malformed", f"the list of attached files is none of up to {MOST}", None),)
    return tuple(_listed(place, row) for place, row in enumerate(rows, start=1))


def _listed(place: int, row: object) -> AttachedState:
    try:
        one = Attachment.model_validate(row)
    except ValidationError:
        return AttachedState("malformed", f"attached file {place} is listed as nothing can be", None)
    return AttachedState("taken off" if one.withdrawn else "not looked for", "", one)


def looked_for(record: Path, rows: Sequence[AttachedState]) -> tuple[AttachedState, ...]:
    """Return the attached files of a record as they stand beside it, each read once."""
    folder = folder_beside(record)
    known: dict[tuple[str, int], str] = {}
    found = []
    for row in rows:
        one = row.attachment
        if one is None or row.state != "not looked for":
            found.append(row)
            continue
        key = one.file, one.size
        if key not in known:
            known[key] = amiss(one, folder / one.file)
        found.append(_with(row, one, known[key], folder))
    return tuple(found)


def _with(row: AttachedState, one: Attachment, wrong: str, folder: Path) -> AttachedState:
    if not wrong:
        return replace(row, state="there")
    state: Beside = "missing" if wrong == "is missing" else "changed"
    says = f"attached file {one.name} ({one.file[:12]}…) {wrong}, in {folder.name}"
    return replace(row, state=state, says=says)


def unlisted(record: Path, rows: Sequence[AttachedState]) -> tuple[str, ...]:
    """Return the names of files beside a record that it does not list: nobody stands for them."""
    known = {row.attachment.file for row in rows if row.attachment is not None}
    folder = folder_beside(record)
    try:
        others = sorted(path.name for path in folder.iterdir() if path.name not in known)
    except OSError:
        return ()
    more = len(others) - _UNLISTED
    return (*others[:_UNLISTED], *((f"and {more} more",) if more > 0 else ()))
