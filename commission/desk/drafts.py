"""Comments that a supervisor has typed and not sent yet: kept on the disk, so that nothing typed is lost."""

from __future__ import annotations

import json
from collections.abc import Sequence
from contextlib import suppress
from hashlib import sha256
from pathlib import Path

from commission.errors import Problem, RecordError
from commission.records.seals import Comment
from commission.visit.disk import put, reason_of


class Drafts:
    """Comments by the record that they are for, as it stands now."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder

    def _file(self, record: Path, digest: str) -> Path:
        named = f"{record.name}\n{digest}".encode("utf-8", "surrogatepass")
        return self._folder / f"{sha256(named).hexdigest()[:24]}.comments.json"

    def of(self, record: Path, digest: str) -> tuple[Comment, ...]:
        """Return the comments on a record; none where none are kept or they cannot be read."""
        try:
            rows = json.loads(self._file(record, digest).read_text("utf-8"))
            return tuple(
                Comment(str(one["text"]), str(one["step"]), tuple(map(str, one["parts"]))) for one in rows
            )
        except (OSError, ValueError, KeyError, TypeError):
            return ()

    def keep(self, record: Path, digest: str, comments: Sequence[Comment]) -> None:
        """Keep the comments on a record in the place of those before.

        Raises
        ------
        RecordError
            If they cannot be written.
        """
        file = self._file(record, digest)
        if not comments:
            with suppress(OSError):
                file.unlink(missing_ok=True)
            return
        rows = [{"text": one.text, "step": one.step, "parts": list(one.parts)} for one in comments]
        try:
            self._folder.mkdir(parents=True, exist_ok=True)
            put(file, [json.dumps(rows, ensure_ascii=False).encode("utf-8")])
        except OSError as error:
            wrong = f"cannot be written: {reason_of(error)}"
            raise RecordError([Problem(str(file), "comments", "", wrong, "")]) from None
