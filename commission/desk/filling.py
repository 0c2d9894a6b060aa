"""Filling a new index: each worker fills a database of its own, and these are poured in.

Handing rows to one process that alone puts them in takes longer by a sixth: SQLite copies whole tables in a
tenth of the time that their rows take one by one.
"""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Callable, Generator, Sequence
from concurrent.futures.process import BrokenProcessPool
from contextlib import closing, suppress
from functools import partial
from glob import escape
from pathlib import Path

from commission.desk.due_rows import StepIntervals
from commission.desk.engines import sqlite as store
from commission.desk.work import Job, Roots, all_rows, are_many, batches, joined, side_by_side

_FILLS: dict[Path, sqlite3.Connection] = {}
"""The database that this worker fills, by its file."""


def fill(
    opened: sqlite3.Connection,
    beside: Path,
    roots: Roots,
    jobs: Sequence[Job],
    steps: StepIntervals,
    processes: int,
) -> Generator[int, None, None]:
    """Fill a new index with the rows of files; yield again and again how many are done.

    Parameters
    ----------
    opened
        The index, without its indexes.
    beside
        Its file; the databases of workers are made with names that begin with it, and removed.

    Raises
    ------
    sqlite3.OperationalError
        If one of the files cannot be written.
    """
    if are_many(jobs, processes):
        with suppress(BrokenProcessPool, OSError):  # no room for another process: all in this one
            yield from _by_workers(
                opened, beside, partial(_fill, beside, roots, dict(steps)), jobs, processes
            )
            return
    done = 0
    for count, rows in all_rows(roots, jobs, steps, 1):
        store.put(opened, rows)
        done += count
        yield done


def _by_workers(
    opened: sqlite3.Connection,
    beside: Path,
    work: Callable[[Sequence[Job]], tuple[int, Path]],
    jobs: Sequence[Job],
    processes: int,
) -> Generator[int, None, None]:
    done, parts = 0, set[Path]()
    try:
        with closing(side_by_side(work, batches(jobs), processes)) as filled:
            for count, part in filled:
                parts.add(part)
                done += count
                yield done
        store.pour(opened, sorted(parts))
    finally:
        remove_parts(beside)


def remove_parts(beside: Path) -> None:
    """Remove the databases of workers, of those too that were ended in the midst."""
    for part in beside.parent.glob(f"{escape(beside.name)}-*"):
        if part.name.rpartition("-")[2].isdecimal():
            with suppress(OSError):
                part.unlink()


def _fill(beside: Path, roots: Roots, steps: StepIntervals, jobs: Sequence[Job]) -> tuple[int, Path]:
    """Put the rows of files into the database of this worker; return how many, and its file."""
    part = beside.with_name(f"{beside.name}-{os.getpid()}")
    if part not in _FILLS:
        _FILLS[part] = store.made(part)
    store.put(_FILLS[part], joined(roots, steps, jobs))
    return len(jobs), part
