"""How long the work behind the screens takes: sheet and walk, one reading, the command line's help."""

from __future__ import annotations

import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any, Final
from unittest.mock import patch

from commission.checklist.registry import load_words
from commission.prepare import prepare
from commission.visit.journal import InMemory
from commission.visit.session import OpenVisit
from commission.visit.types import Judgement
from tests import technician
from tests.bench.reading import largest_plant
from tests.bench.rounds import Measured

ROUNDS: Final = 11


def _timed(call: Callable[[], object]) -> float:
    begun = time.perf_counter()
    call()
    return (time.perf_counter() - begun) * 1000


def sheet_and_walk() -> Measured:
    """Return the time that sheet and walk of the largest sample take, its files loaded."""
    plant = largest_plant()
    load_words()
    prepare(plant)
    times = [_timed(lambda: prepare(plant)) for _ in range(ROUNDS)]
    return Measured("sheet and walk of the largest sample", "ms", times, aim=50.0)


def one_reading(visits: Path) -> tuple[Measured, Measured]:
    """Return the time that each reading of a whole walk takes: until it is on the disk, and in memory."""
    on_disk = Measured("one reading until it is on the disk", "ms", aim=10.0)
    in_memory = Measured("one reading without the disk", "ms", aim=10.0)
    clock = technician.Clock()
    with technician.begin(visits, largest_plant(), clock) as visit:
        untouched = OpenVisit(visit.plant, visit.sheet, visit.checklist, visit.visit, InMemory())
        for walked, measured in ((visit, on_disk), (untouched, in_memory)):
            with _every_take_timed(measured):
                technician.walk(walked, clock)
    return on_disk, in_memory


@contextmanager
def _every_take_timed(measured: Measured) -> Iterator[None]:
    take = OpenVisit.take

    def timed(*arguments: Any, **named: Any) -> Judgement:
        begun = time.perf_counter()
        judged = take(*arguments, **named)
        measured.values.append((time.perf_counter() - begun) * 1000)
        return judged

    with patch.object(OpenVisit, "take", timed):
        yield


def command_help() -> Measured:
    """Return the time that ``commission --help`` takes as a process."""
    call = "from commission.cli import main; main()"
    command = [sys.executable, "-c", call, "--help"]
    times = [_timed(lambda: subprocess.run(command, check=True, capture_output=True)) for _ in range(ROUNDS)]
    return Measured("commission --help", "ms", times, aim=100.0)
