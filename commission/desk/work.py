"""Reading many records on several processors: what the workers do, and how they are kept busy."""

from __future__ import annotations

import hashlib
import os
from collections import deque
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Future, ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from itertools import islice
from multiprocessing import get_context
from pathlib import Path
from typing import Any, Final, TypeAlias, TypeVar

from commission.desk.due_rows import StepIntervals
from commission.desk.rows import FileSeen, Rows, empty_rows, error_rows, record_rows
from commission.desk.tables import Row
from commission.records.fast import LARGEST, fast_tables

Job: TypeAlias = tuple[int, FileSeen]
"""The number that a file gets, and the file."""
_AT_ONCE: Final = 100
"""Files that a worker reads before it hands over their rows."""
_FEW: Final = 300
"""Files for which starting workers takes longer than reading."""
_AHEAD: Final = 3
"""Batches for each worker that wait for it or for the writer; more would only take memory."""
In = TypeVar("In")
Out = TypeVar("Out")


def rows_of_file(roots: Sequence[str], job: Job, steps: StepIntervals) -> Rows:
    """Return the rows of one file, whatever is in it."""
    number, file = job
    path = Path(roots[file.root], file.path)
    if file.size > LARGEST:
        return error_rows(number, file, "", f"larger than {LARGEST:,} bytes")
    try:
        content = path.read_bytes()
    except OSError as error:
        return error_rows(number, file, "", f"cannot be read: {error.strerror or error}")
    digest = hashlib.sha256(content).hexdigest()
    try:
        data = fast_tables(content)
    except ValueError as error:
        return error_rows(number, file, digest, f"the file is not TOML any more: {error}")
    try:
        return record_rows(number, file, digest, data, steps)
    except Exception as error:
        return error_rows(number, file, digest, f"cannot be understood: {error.__class__.__name__}: {error}")


_WORKER: dict[str, tuple[tuple[str, ...], StepIntervals]] = {}


def _begin(roots: tuple[str, ...], steps: StepIntervals) -> None:
    _WORKER["own"] = roots, steps


def _batch(jobs: Sequence[Job]) -> Rows:
    roots, steps = _WORKER["own"]
    return _joined(roots, jobs, steps)


def _joined(roots: Sequence[str], jobs: Sequence[Job], steps: StepIntervals) -> Rows:
    made = empty_rows()
    points: dict[int, Row] = {}
    for job in jobs:
        rows = rows_of_file(roots, job, steps)
        points.update((row[0], row) for row in rows.pop("point"))
        for name, found in rows.items():
            made[name] += found
    made["point"] = list(points.values())
    return made


def all_rows(
    roots: Sequence[str], jobs: Sequence[Job], steps: StepIntervals, processes: int
) -> Iterator[tuple[int, Rows]]:
    """Yield the rows of files, batch by batch, in order, each with how many files it holds."""
    batches = _batches(jobs)
    if processes < 2 or len(jobs) < _FEW:
        for batch in batches:
            yield len(batch), _joined(roots, batch, steps)
        return
    counts = [len(batch) for batch in batches]
    done = 0
    try:
        for rows in side_by_side(_batch, batches, processes, _begin, (tuple(roots), steps)):
            yield counts[done], rows
            done += 1
    except (BrokenProcessPool, OSError):  # no room for another process: go on in this one
        for batch in batches[done:]:
            yield len(batch), _joined(roots, batch, steps)


def _batches(jobs: Sequence[Job]) -> list[Sequence[Job]]:
    return [jobs[start : start + _AT_ONCE] for start in range(0, len(jobs), _AT_ONCE)]


def side_by_side(
    work: Callable[[In], Out],
    batches: Sequence[In],
    processes: int,
    begin: Callable[..., None] | None = None,
    given: tuple[Any, ...] = (),
) -> Iterator[Out]:
    """Yield what workers make of batches, in order, with few batches ahead of whoever takes them.

    Processes are spawned, never forked, so that it is the same on every system and beside threads.
    """
    waiting: deque[Future[Out]] = deque()
    left = iter(batches)
    with ProcessPoolExecutor(processes, get_context("spawn"), initializer=begin, initargs=given) as pool:
        try:
            waiting.extend(pool.submit(work, one) for one in islice(left, processes * _AHEAD))
            while waiting:
                yield waiting.popleft().result()
                waiting.extend(pool.submit(work, one) for one in islice(left, 1))
        finally:
            pool.shutdown(wait=False, cancel_futures=True)


def processors() -> int:
    """Return how many processes are worth starting here: as many as there are processors, eight at most."""
    try:
        usable = len(os.sched_getaffinity(0))
    except AttributeError:  # not on every system
        usable = os.cpu_count() or 1
    return max(1, min(8, usable))
