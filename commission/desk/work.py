"""Reading many records on several processors: what the workers do, and how they are kept busy."""

from __future__ import annotations

import gc
import hashlib
import os
import threading
from collections import deque
from collections.abc import Callable, Generator, Iterator, Mapping, Sequence
from concurrent.futures import Future, ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from functools import partial
from itertools import islice
from multiprocessing import get_context, parent_process
from pathlib import Path
from typing import Any, Final, TypeAlias, TypeVar

from commission.desk.due_rows import StepIntervals
from commission.desk.rows import MALFORMED, FileSeen, Rows, empty_rows, error_rows, record_rows
from commission.desk.table import Row
from commission.records.fast import LARGEST, fast_tables

Roots: TypeAlias = Sequence[str] | Mapping[int, str]
"""Folders by the number that files tell them by."""
Job: TypeAlias = tuple[int, FileSeen]
"""The number that a file gets, and the file."""
_AT_ONCE: Final = 30
"""Files that a worker reads before it hands over their rows: few enough that these stay in a processor's own
memory (a hundred take some 15 % longer), enough that handing over costs little."""
_AGAIN: Final = -1
"""Time of a file that could not be read: no file has it, so that every update tries it again."""
_FEW: Final = 300
"""Files for which starting workers takes longer than reading."""
_AHEAD: Final = 3
"""Batches for each worker that wait for it or for the writer; more would only take memory."""
In = TypeVar("In")
Out = TypeVar("Out")


def rows_of_file(roots: Roots, job: Job, steps: StepIntervals) -> Rows:
    """Return the rows of one file, whatever is in it."""
    number, file = job
    path = Path(roots[file.root], file.path)
    if file.size > LARGEST:
        return error_rows(number, file, "", f"larger than {LARGEST:,} bytes")
    try:
        content = path.read_bytes()
    except OSError as error:
        says = f"cannot be read: {error.strerror or error}"
        return error_rows(number, file._replace(mtime=_AGAIN), "", says)
    digest = hashlib.sha256(content).hexdigest()
    try:
        data = fast_tables(content, in_worker="work" in _WORKER)
    except ValueError as error:
        return error_rows(number, file, digest, f"the file is no TOML: {error}", content=content)
    try:
        return record_rows(number, file, digest, data, steps)
    except Exception as error:
        says = f"cannot be understood: {error.__class__.__name__}: {error}"
        return error_rows(number, file, digest, says, state=MALFORMED)


def joined(roots: Roots, steps: StepIntervals, jobs: Sequence[Job]) -> Rows:
    """Return the rows of files together."""
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
    roots: Roots, jobs: Sequence[Job], steps: StepIntervals, processes: int
) -> Iterator[tuple[int, Rows]]:
    """Yield the rows of files, batch by batch, in order, each with how many files it holds."""
    work = partial(joined, roots, dict(steps))
    for rows in in_turn_or_side_by_side(work, jobs, processes):
        yield len(rows["record"]), rows


def in_turn_or_side_by_side(
    work: Callable[[Sequence[In]], Out], jobs: Sequence[In], processes: int
) -> Iterator[Out]:
    """Yield what is made of jobs, batch by batch, in order: here where they are few, else by workers."""
    left = batches(jobs)
    done = 0
    if are_many(jobs, processes):
        try:
            for made in side_by_side(work, left, processes):
                yield made
                done += 1
        except (BrokenProcessPool, OSError):  # no room for another process: go on in this one
            pass
    for batch in left[done:]:
        yield work(batch)


def are_many(jobs: Sequence[In], processes: int) -> bool:
    """Whether so much is to be done that starting workers is worth while."""
    return processes > 1 and len(jobs) >= _FEW


def batches(jobs: Sequence[In]) -> list[Sequence[In]]:
    """Return jobs, so many at once as a worker does."""
    return [jobs[start : start + _AT_ONCE] for start in range(0, len(jobs), _AT_ONCE)]


def side_by_side(
    work: Callable[[Sequence[In]], Out], jobs: Sequence[Sequence[In]], processes: int
) -> Generator[Out, None, None]:
    """Yield what workers make of batches of jobs, in order, with few ahead of whoever takes them.

    Processes are spawned, never forked, so that it is the same on every system and beside threads.

    Raises
    ------
    concurrent.futures.process.BrokenProcessPool, OSError
        If a worker cannot be started, or was ended.
    """
    waiting: deque[Future[Out]] = deque()
    left = iter(jobs)
    pool = ProcessPoolExecutor(processes, get_context("spawn"), initializer=_begin, initargs=(work,))
    try:
        waiting.extend(pool.submit(_work, one) for one in islice(left, processes * _AHEAD))
        while waiting:
            yield waiting.popleft().result()
            waiting.extend(pool.submit(_work, one) for one in islice(left, 1))
    finally:
        pool.shutdown(cancel_futures=True)  # waits: whoever goes on must not meet a worker that still writes


_WORKER: dict[str, Callable[[Any], Any]] = {}
"""What a worker does, given once: it may be large."""


def _begin(work: Callable[[Any], Any]) -> None:
    gc.disable()  # rows hold no rings, and looking for some takes a third of the time
    _WORKER["work"] = work
    threading.Thread(target=_leave_with_parent, daemon=True).start()


def _leave_with_parent() -> None:
    """End this worker when whoever started it is gone, however that ended; nobody would ever tell it."""
    parent = parent_process()
    if parent is not None:
        parent.join()
        os._exit(1)


def _work(batch: Any) -> Any:
    return _WORKER["work"](batch)


def processors() -> int:
    """Return how many processes are worth starting here: as many as there are processors, eight at most."""
    try:
        usable = len(os.sched_getaffinity(0))
    except AttributeError:  # not on every system
        usable = os.cpu_count() or 1
    return max(1, min(8, usable))
