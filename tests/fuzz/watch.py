"""Watching one reader at work: nothing but our own errors, in a second, in some memory."""

from __future__ import annotations

import faulthandler
import gc
import re
import sys
import time
import traceback
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Final

from commission.errors import CommissionError

SLOWEST: Final = 1.0
"""Seconds of the processor for one input."""
MOST: Final = 200 * 2**20
"""Bytes by which the process may grow."""
HANGS: Final = 60
"""Seconds of the clock after which a hang is told and the process ended."""
_COMMANDS: Final = re.compile("[\x00-\x09\x0b-\x1f\x7f-\x9f\u2028\u2029\u202a-\u202e\u2066-\u2069]")
MANY: Final = 20
"""Bad outcomes that are told of one reader."""


@dataclass
class Outcomes:
    """What came of a reader's executions."""

    name: str
    count: int = 0
    read: int = 0
    refused: int = 0
    slowest: float = 0.0
    grown: int = 0
    bad: list[str] = field(default_factory=list)

    def line(self) -> str:
        """Return the outcomes as a line."""
        return (
            f"{self.name:<12} {self.count:>8} executions, {self.read:>7} read, {self.refused:>7} refused; "
            f"slowest {self.slowest:.2f} s, grown by {self.grown / 2**20:.0f} MiB; {len(self.bad)} bad"
        )


def watched(
    name: str, read: Callable[[Any], object], inputs: Callable[[], Any], count: int, *, seconds: float = 1e9
) -> Outcomes:
    """Return what came of feeding a reader so many inputs."""
    found = Outcomes(name)
    gc.collect()
    forget_peak()
    started, begun = resident(), time.monotonic()
    while found.count < count and len(found.bad) < MANY and time.monotonic() - begun < seconds:
        given = inputs()
        found.count += 1
        once(found, read, given)
        if found.count % 200 == 0:
            gc.collect()
    found.grown = max(0, peak() - started)
    if found.grown > MOST:
        found.bad.append(f"{name}: the process grew by {found.grown / 2**20:.0f} MiB")
    return found


def once(found: Outcomes, read: Callable[[Any], object], given: Any) -> None:
    """Feed a reader one input."""
    begun = time.process_time()
    with suppress(ValueError, OSError, AttributeError):  # where standard error is no file
        faulthandler.dump_traceback_later(HANGS, exit=True)
    said = ""
    try:
        read(given)
        found.read += 1
    except CommissionError as error:
        found.refused += 1
        said = str(error)
        if not said.strip():
            found.bad.append(f"{found.name}: refused without a word: {shown(given)}")
    except Exception as error:
        trace = traceback.extract_tb(error.__traceback__)[-1]
        where = f"{trace.filename.rpartition('/')[2]}:{trace.lineno}"
        found.bad.append(
            f"{found.name}: {type(error).__name__} in {where}: {str(error)[:200]}: {shown(given)}"
        )
    finally:
        faulthandler.cancel_dump_traceback_later()
    took = time.process_time() - begun
    found.slowest = max(found.slowest, took)
    if took > SLOWEST:
        found.bad.append(f"{found.name}: took {took:.1f} s: {shown(given)}")
    if _COMMANDS.search(said):
        found.bad.append(f"{found.name}: its error holds a command to the terminal: {said!r}")


def shown(given: Any) -> str:
    """Return an input so that it can be given again, its midst left out."""
    text = repr(given)
    return text if len(text) < 2000 else f"{text[:1000]} … {text[-1000:]}"


def resident() -> int:
    """Return how many bytes the process has now, or has had at most where the system tells only that."""
    return _of_linux("VmRSS") or _most()


def peak() -> int:
    """Return how many bytes the process has had at most since it was forgotten, or ever."""
    return _of_linux("VmHWM") or _most()


def forget_peak() -> None:
    """Have the system count the most anew, where it can."""
    with suppress(OSError):
        Path("/proc/self/clear_refs").write_text("5")


def _of_linux(name: str) -> int:
    with suppress(OSError):
        for line in Path("/proc/self/status").read_text().splitlines():
            if line.startswith(f"{name}:"):
                return int(line.split()[1]) * 1024
    return 0


def _most() -> int:
    """Return the most that the process has ever had; 0 where the system does not tell."""
    try:
        import resource
    except ImportError:  # Windows
        return 0
    told = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return told if sys.platform == "darwin" else told * 1024
