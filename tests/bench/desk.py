"""How soon the desk knows many records, beside a plain scan of them by the standard library.

``python -m tests.bench desk 10000 200``: so many small records of 42 readings and some 10 KB, and so
many copies of one that the program really writes. Everything is read by two processes; the plain scan is
one process and only parses; of more than ten thousand records it reads so many, and its time is reckoned
from them. Times are of the wall and of the processor: on a machine that others use, compare the latter.
"""

from __future__ import annotations

import os
import statistics
import time
import tomllib
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from itertools import islice
from pathlib import Path
from typing import Any, Final

from commission.desk.index import Index
from commission.desk.opening import usual_steps
from commission.desk.queries import QUERIES
from tests.bench.desk_records import make_real, make_small, real_record

_PROCESSES: Final = 2
_ROUNDS: Final = 7
_SHOWN: Final = 12
"""Queries that are listed, the slowest first."""
_NOW: Final = 1_800_000_000
_SCANNED: Final = 10_000
ASKED: Final[dict[str, dict[str, Any]]] = {
    "site": {"site": "site-000007"},
    "overview": {"now": _NOW},
    "concerns": {"kind": "reading accepted"},
    "concerns of site": {"site": "site-000007"},
    "put off": {"until": _NOW},
    "due": {"until": _NOW},
    "chain of site": {"site": "site-000007"},
    "due at site": {"site": "site-000007"},
    "tally": {"dimension": "technician"},
    "uncountersigned": {"first": "2417", "second": "station", "third": "valley"},
    "meters of kind": {"kind": "dc voltmeter"},
    "banded readings of meter": {"meter": "S-0007", "wide": 0.25},
    "readings of meter": {"meter": "S-0007"},
    "points of site": {"site": "site-000007"},
    "recall": {"kind": "setting", "name": "absorption_voltage", "value": "57.8"},
    "recall between": {"name": "absorption_voltage", "low": 57.7, "high": 59.0},
    "held": {"kind": "firmware"},
    "records of site": {"site": "site-000007"},
    "records of technician": {"technician": "runafelda"},
    "record": {"record": 77},
    "record at": {"root": 0, "path": "007/none.toml"},
    "concerns of record": {"record": 77},
    "comments of record": {"record": 77},
}


@dataclass(frozen=True, slots=True)
class Took:
    """How long something took [s]."""

    wall: float
    processor: float
    """Of this process and those that it started."""

    def __mul__(self, times: float) -> Took:
        return Took(self.wall * times, self.processor * times)

    def __str__(self) -> str:
        return f"{self.wall:7.2f} s, processor {self.processor:7.2f} s"


def _timed(call: Callable[[], object]) -> Took:
    begun, used = time.perf_counter(), _used()
    call()
    return Took(time.perf_counter() - begun, _used() - used)


def _used() -> float:
    told = os.times()
    return told.user + told.system + told.children_user + told.children_system


def measure(folder: Path, small: int, real: int) -> Iterator[str]:
    """Make records, measure, and yield what was found line by line."""
    yield f"small records: {small:,} of {make_small(folder / 'small', small) // small:,} bytes"
    yield from _round(folder, folder / "small", small)
    if real:
        size = make_real(folder / "real", real, real_record(folder / "one")) // real
        yield f"records as the program writes them: {real:,} of {size:,} bytes"
        yield from _round(folder, folder / "real", real)
    yield f"most memory of this process {_memory()}; of one of its workers {_memory(children=True)}"


def _round(folder: Path, records: Path, count: int) -> Iterator[str]:
    scanned = min(count, _SCANNED)
    scan = _timed(lambda: _scan(records, scanned)) * (count / scanned)
    reckoned = f"   reckoned from {scanned:,}" if scanned < count else ""
    yield f"  plain scan, one process      {scan}{reckoned}"
    with Index(folder / f"{records.name}.sqlite", [records], usual_steps) as index:
        first = _timed(lambda: index.rebuild(processes=_PROCESSES))
        size = index.path.stat().st_size / 1e6
        yield f"  first index, {_PROCESSES} processes     {first}   {size:.0f} MB"
        yield (
            f"  first index is faster by     {scan.wall / first.wall:7.1f} ×, processor for processor "
            f"{scan.processor / (first.processor / _PROCESSES):.1f} ×"
        )
    with Index(folder / f"{records.name}.sqlite", [records], usual_steps) as index:
        shown = _timed(lambda: (index.usable, index.ask("sites"), index.ask("overview", now=_NOW)))
        yield f"  list shown as last known     {shown}"
        opened = _timed(lambda: (index.update(), index.ask("sites"), index.ask("overview", now=_NOW)))
        yield f"  opened, nothing changed      {opened}"
        yield from _queries(index)
        changed = max(count // 100, 1)
        _change(records, changed)
        update = _timed(lambda: index.update(processes=_PROCESSES))
        share = update.processor / first.processor
        yield f"  {changed:,} changed                {update}   {share:.1%} of the first"


def _scan(folder: Path, count: int) -> None:
    for path in islice(folder.rglob("*.toml"), count):
        with path.open("rb") as file:
            tomllib.load(file)


def _change(folder: Path, count: int) -> None:
    """Change every hundredth file."""
    files = sorted(folder.rglob("*.toml"))
    for path in files[:: max(len(files) // count, 1)][:count]:
        path.write_bytes(path.read_bytes() + b"# looked at\n")


def _queries(index: Index) -> Iterator[str]:
    took = []
    for query in QUERIES:
        asked = ASKED.get(query.name, {})
        many = len(index.ask(query.name, **asked))
        times = [_timed(lambda: index.ask(query.name, **asked)).wall for _ in range(_ROUNDS)]  # noqa: B023
        took.append((statistics.median(times) * 1000, min(times) * 1000, query.name, many))
    took.sort(reverse=True)
    for median, least, name, many in took[:_SHOWN]:
        yield f"    {median:7.1f} ms (least {least:6.1f})  {name}, {many} rows"
    yield f"    and {len(took[_SHOWN:])} queries under {took[_SHOWN][0]:.1f} ms"


def _memory(*, children: bool = False) -> str:
    try:
        import resource
    except ImportError:  # not on every system
        return "not told by this system"
    who = resource.RUSAGE_CHILDREN if children else resource.RUSAGE_SELF
    return f"{resource.getrusage(who).ru_maxrss / 1024:.0f} MiB"
