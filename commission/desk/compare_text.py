"""What changed between two records, as a person reads it: what got worse first, what only one has counted."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any, Final

from commission.desk.compare import SUBJECTS, Change, Compared
from commission.desk.names import words_of
from commission.desk.reading_rows import FAILED

_HEADS: Final = {
    "plant": "the plant, by the keys of the site file",
    "device": "devices",
    "setting": "settings as left",
    "reading": "readings",
    "finding": "findings of the design check",
    "person": "people",
    "instrument": "instruments",
}
_NAMED: Final = 4
"""Readings that are named where many are only in one of the two records."""


@dataclass(frozen=True, slots=True)
class Line:
    """One change, or a count of what only one of the two records has."""

    head: str
    what: str
    before: str = ""
    after: str = ""
    worse: bool = False
    """Out of band now."""
    key: str = ""
    """Of a reading that is told in words."""

    @property
    def text(self) -> str:
        """The change in a line."""
        if not self.before and not self.after:
            return self.what
        beside = f"  ({self.key})" if self.key else ""
        return f"{self.what}: {self.before or 'not there'} → {self.after or 'not there'}{beside}"


def compared_rows(found: Compared) -> tuple[Line, ...]:
    """Return the changes by subject; readings that only one record has are counted, not listed."""
    return tuple(line for subject in SUBJECTS for line in _of(subject, found.of(subject)))


def _of(subject: str, changes: Sequence[Change]) -> Iterator[Line]:
    if subject != "reading":
        yield from (_line(change) for change in changes)
        return
    both = [change for change in changes if change.before and change.after]
    yield from (_line(change) for change in sorted(both, key=lambda one: not one.note))
    yield from _only("the later record only", [one.what for one in changes if not one.before])
    yield from _only("the earlier record only", [one.what for one in changes if not one.after])


def _line(change: Change) -> Line:
    was, _, now = change.note.partition(" → ")
    before, after = change.before, change.after
    if now:
        before, after = (f"{value}, {note}" if value else "" for value, note in ((before, was), (after, now)))
    worse = now in FAILED
    if change.subject != "reading":
        return Line(_HEADS[change.subject], change.what.replace("_", " "), before, after)
    words = words_of(change.what)
    key = change.what if words != change.what else ""
    return Line(_HEADS[change.subject], words, before, after, worse, key)


def _only(where: str, keys: Sequence[str]) -> Iterator[Line]:
    if keys:
        more = f" and {len(keys) - _NAMED} more" if len(keys) > _NAMED else ""
        many = f"{len(keys)} reading{'s' if len(keys) > 1 else ''}"
        yield Line(_HEADS["reading"], f"{many} in {where}: {'; '.join(map(words_of, keys[:_NAMED]))}{more}")


def compared_lines(found: Compared) -> Iterator[str]:
    """Yield the changes as lines, each subject under its name."""
    yield f"{found.before}  →  {found.after}"
    head = ""
    for line in compared_rows(found):
        if line.head != head:
            head = line.head
            yield head
        yield f"  {'! ' if line.worse else ''}{line.text}"
    if not head:
        yield "nothing differs"


def compared_json(found: Compared) -> dict[str, Any]:
    """Return the changes with the stable keys of ``compare --json``."""
    return {
        "before": found.before,
        "after": found.after,
        "changes": [
            {"subject": one.subject, "what": one.what, "before": one.before or None,
             "after": one.after or None, "note": one.note or None}
            for one in found.changes
        ],
        "same": dict(found.same),
    }  # fmt: skip
