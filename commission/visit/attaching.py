"""Attaching files to the steps of a visit: the copy is on the disk before the journal names it."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime
from pathlib import Path
from typing import Final

from commission.checklist.types import Checklist, StepKey
from commission.errors import VisitError
from commission.plant.plant import Plant
from commission.sheet.types import Sheet
from commission.visit import events
from commission.visit.attachments import FOLDER, MOST, Measured, amiss, ending_of, measured, name_of, taken_in
from commission.visit.book import Book, made
from commission.visit.folder import HeldVisit, LookedAt
from commission.visit.journal import Keeps
from commission.visit.types import Attachment, Visit

_NOTHING: Final = f"sha256:{'0' * 64}"


class Attaching(Book):
    """The files attached to a visit."""

    def __init__(self, plant: Plant, sheet: Sheet, checklist: Checklist, visit: Visit, keeps: Keeps) -> None:
        super().__init__(plant, sheet, checklist, visit, keeps)
        self._sources: dict[str, Path] = {}
        """Where the files are that a visit without a folder names."""

    def attach(self, key: StepKey, path: Path, caption: str, now: datetime) -> Attachment:
        """Attach a copy of a file to a step; the same file again only changes its caption.

        Raises
        ------
        VisitError
            If the visit is signed or only looked at, the file is no ordinary one, too large or cannot be
            read, or the disk does not take it; nothing is kept then.
        """
        step = self._step(key)
        draft = made(
            Attachment,
            digest=_NOTHING,
            size=0,
            ending=ending_of(path.name),
            name=name_of(path),
            caption=" ".join(caption.split()),
            step=step.data.id,
            parts=step.parts,
            at=now,
        )
        back = self._put_back(draft, path)
        if back is not None:
            return back
        self._may_attach()
        found = self._copied(path, draft.ending)
        attachment = draft.model_copy(update={"digest": found.digest, "size": found.size})
        if self._folder is None:
            self._sources[attachment.file] = path
        self._keep(events.Attached(at=now, attachment=attachment))
        return attachment

    def _put_back(self, draft: Attachment, path: Path) -> Attachment | None:
        """Put a lost copy back to a signed visit, in which nothing changes; None where it is none of it."""
        if self.visit.sign_off is None or not isinstance(self._keeps, HeldVisit):
            return None
        digest = measured(path).digest
        known = next((one for one in self.attached_to(draft.key) if one.digest == digest), None)
        if known is not None:
            self._copied(path, known.ending)
        return known

    def _may_attach(self) -> None:
        if self.visit.sign_off is not None:
            raise VisitError(
                f"visit {self.visit.id} is signed; a file that comes after belongs into a new visit"
            )
        if isinstance(self._keeps, LookedAt):
            self._keeps.append()  # refuses, and says who has the visit open
        if len(self.visit.attachments) >= MOST:
            raise VisitError(
                f"{MOST} files are attached already, which is the most; put logs into one archive"
            )

    def _copied(self, path: Path, ending: str) -> Measured:
        folder = self._folder
        return measured(path) if folder is None else taken_in(path, folder, ending)

    @property
    def _folder(self) -> Path | None:
        """Folder of the attached files; None where the visit is kept in memory."""
        return self._keeps.folder / FOLDER if isinstance(self._keeps, HeldVisit | LookedAt) else None

    def take_off(self, attachment: Attachment, reason: str, now: datetime) -> None:
        """Take a file off the visit that was attached by mistake: the record says so and holds no copy.

        Raises
        ------
        VisitError
            If it is not attached, no reason is given, or the disk does not take it.
        """
        if attachment not in self.visit.attachments or attachment.withdrawn:
            raise VisitError(f"{attachment.name} is not attached")
        if not reason.strip():
            raise VisitError("why is it taken off? a reason is wanted")
        off = made(Attachment, **(attachment.model_dump() | {"withdrawn": reason.strip()}))
        self._keep(events.Attached(at=now, attachment=off))

    def attached_to(self, key: StepKey) -> tuple[Attachment, ...]:
        """Return what is attached to a step."""
        return tuple(one for one in self.visit.attachments if one.key == key and not one.withdrawn)

    def attached_files(self) -> dict[str, Path]:
        """Return where the attached files are, by the names that they have in a record."""
        folder = self._folder
        if folder is None:
            return dict(self._sources)
        return {one.file: folder / one.file for one in self.visit.attachments if not one.withdrawn}

    def attached_amiss(self) -> tuple[str, ...]:
        """Return what is wrong with the copies of attached files: lost, or changed since."""
        return tuple(self._amiss())

    def _amiss(self) -> Iterator[str]:
        files = self.attached_files()
        for one in self.visit.attachments:
            wrong = "" if one.withdrawn else amiss(one, files[one.file])
            if wrong:
                where = " ".join((one.step, *one.parts))
                yield f"{one.name} at {where}: the copy {wrong}; attach the file again, or take it off there"
