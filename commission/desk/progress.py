"""How far the reading of many records is, in a line, and how it is stopped."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from typing import Final

_OFTEN: Final = 0.25
"""Seconds between two lines; more often nobody can read."""
_WIDE: Final = 24


class Stopped(Exception):  # noqa: N818 - it is no error: somebody left while records were read
    """Reading was given up, since whoever waited for it has left."""


class Build:
    """Tells how far it is, as the index calls it, and stops the reading when nobody waits any more."""

    def __init__(
        self,
        say: Callable[[str], None],
        leaving: threading.Event | None = None,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        self._say, self._leaving, self._clock = say, leaving, clock
        self._begun = clock()
        self._last = -_OFTEN

    def __call__(self, done: int, of: int) -> None:
        """Take how many are done of how many.

        Raises
        ------
        Stopped
            If nobody waits any more.
        """
        if self._leaving is not None and self._leaving.is_set():
            raise Stopped
        now = self._clock()
        if done < of and now - self._last < _OFTEN:
            return
        self._last = now
        self._say(progress_text(done, of, now - self._begun))


def progress_text(done: int, of: int, seconds: float) -> str:
    """Return how far it is: a bar, counts, and about how long it still takes."""
    if not of:
        return "no record to read"
    full = _WIDE * done // of
    left = _left(seconds * (of - done) / done) if 0 < done < of and seconds > 2.0 else ""
    return f"reading records  {'━' * full}{'·' * (_WIDE - full)}  {done:,} of {of:,}{left}"


def _left(seconds: float) -> str:
    return f", {seconds / 60.0:.0f} min left" if seconds > 90.0 else f", {seconds:.0f} s left"
