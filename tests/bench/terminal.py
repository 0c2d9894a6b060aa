"""A program on a terminal of its own: keys are written to it, and its screen is read without escape codes."""

from __future__ import annotations

import fcntl
import os
import pty
import re
import select
import signal
import struct
import termios
import time
from collections.abc import Mapping, Sequence
from contextlib import suppress
from pathlib import Path
from types import TracebackType
from typing import Final

_CODES: Final = re.compile(
    rb"\x1b(?:\][^\x07\x1b]*(?:\x07|\x1b\\)|[P_^][^\x1b]*\x1b\\|\[[0-?]*[ -/]*[@-~]|[ -/]*[0-~])"
)
"""Operating system commands, other strings, control sequences, two-character escapes: ECMA-48."""
LONGEST: Final = 30.0
"""Seconds after which a text is taken not to come."""
QUIET: Final = 0.25
"""Seconds without output after which a screen is taken to be at rest."""


class Terminal:
    """One program under a pseudo-terminal. Use it in a ``with`` block."""

    def __init__(
        self, arguments: Sequence[str], environment: Mapping[str, str], columns: int = 80, rows: int = 24
    ) -> None:
        self.started = time.perf_counter()
        self._seen = b""
        self._pid, self._handle = pty.fork()
        if self._pid == 0:
            size = struct.pack("HHHH", rows, columns, 0, 0)
            fcntl.ioctl(0, termios.TIOCSWINSZ, size)
            os.execve(arguments[0], list(arguments), dict(environment))

    def __enter__(self) -> Terminal:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        with suppress(ProcessLookupError):
            os.kill(self._pid, signal.SIGKILL)
        os.waitpid(self._pid, 0)
        os.close(self._handle)

    def press(self, keys: str) -> float:
        """Write keys and forget what was on the screen before; return the moment."""
        self._seen = b""
        moment = time.perf_counter()
        os.write(self._handle, keys.encode())
        return moment

    def seen(self, text: str) -> float:
        """Wait until a text has been painted since the last keys; return the moment at which its end came.

        Raises
        ------
        TimeoutError
            If it does not come; with what was painted instead.
        """
        moment = time.perf_counter()
        until = moment + LONGEST
        while text not in self._text():
            read = self._read(until - time.perf_counter())
            if read is None:
                raise TimeoutError(f"'{text}' was not painted; the last was:\n{self._text()[-2000:]}")
            moment = read
        return moment

    def seen_after(self, keys: str, text: str) -> float:
        """Press keys and return the seconds until a text has been painted."""
        pressed = self.press(keys)
        return self.seen(text) - pressed

    def rest(self) -> str:
        """Wait until nothing is painted any more, and return what was painted since the last keys."""
        while self._read(QUIET) is not None:
            pass
        return self._text()

    def peak_memory(self) -> float | None:
        """Return the most memory that the program has held so far in MB; None where the system tells none."""
        status = Path(f"/proc/{self._pid}/status")
        if not status.exists():
            return None
        line = next(line for line in status.read_text().splitlines() if line.startswith("VmHWM"))
        return int(line.split()[1]) / 1024

    def _read(self, longest: float) -> float | None:
        """Read what has come; return the moment, None where nothing came in time or the program has ended."""
        ready, _, _ = select.select([self._handle], [], [], max(0.0, longest))
        if not ready:
            return None
        try:
            self._seen += os.read(self._handle, 65536)
        except OSError:  # how Linux tells that the other side is closed
            return None
        return time.perf_counter()

    def _text(self) -> str:
        return _CODES.sub(b"", self._seen).decode("utf-8", errors="replace")
