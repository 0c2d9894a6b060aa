"""What the strict reader says of many records, on several processors."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import TypeAlias

from commission.desk.rows import MALFORMED, FileSeen
from commission.desk.work import in_turn_or_side_by_side

Known: TypeAlias = tuple[int, FileSeen, str]
"""Number of a record in the index, its file, and the digest that the index knows."""


@dataclass(frozen=True, slots=True)
class Seen:
    """What the strict reader says of one file."""

    record: int
    file: FileSeen
    state: str
    says: str
    other: bool
    """Its bytes are other ones than the index knows."""


def checked(roots: Sequence[str], known: Known) -> Seen:
    """Return what the strict reader says of one file, attached files too."""
    from commission.errors import CommissionError
    from commission.records.verify import verify

    record, file, digest = known
    path = Path(roots[file.root], file.path)
    try:
        now = hashlib.sha256(path.read_bytes()).hexdigest()
        found = verify(path)
    except OSError as error:
        return Seen(record, file, MALFORMED, f"cannot be read: {error.strerror or error}", other=False)
    except CommissionError as error:
        return Seen(record, file, MALFORMED, str(error), other=False)
    return Seen(record, file, found.word, "; ".join(found.reasons), other=now != digest)


def all_checked(roots: Sequence[str], jobs: Sequence[Known], processes: int) -> Iterator[list[Seen]]:
    """Yield what the strict reader says of files, batch by batch."""
    yield from in_turn_or_side_by_side(partial(_batch, tuple(roots)), jobs, processes)


def _batch(roots: tuple[str, ...], jobs: Sequence[Known]) -> list[Seen]:
    return [checked(roots, job) for job in jobs]


def seen_again(roots: Sequence[str], file: FileSeen) -> FileSeen:
    """Return a file as it is now."""
    told = Path(roots[file.root], file.path).stat()
    return FileSeen(file.root, file.path, told.st_size, told.st_mtime_ns)
