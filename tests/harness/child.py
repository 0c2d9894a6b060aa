"""A process of its own that plays the story and says over a pipe which acts are done."""

from __future__ import annotations

import os
import signal
import struct
from collections.abc import Callable
from contextlib import AbstractContextManager, ExitStack
from dataclasses import dataclass, field
from typing import Final

from tests.harness.story import Site

_TOLD: Final = struct.Struct("<i")
FAILED: Final = 3
"""Exit code of a child in which something went wrong that nobody wanted."""


@dataclass
class Child:
    """A child at work; made by fork, so that a thousand of them cost little."""

    pid: int
    pipe: int
    told: list[int] = field(default_factory=list)
    _rest: bytes = b""

    def first(self) -> None:
        """Wait until something is told."""
        self._take(os.read(self.pipe, 1 << 16))

    def heard(self) -> int:
        """Return the last act that was told as done so far, without waiting; −1 where none was."""
        os.set_blocking(self.pipe, False)
        try:
            while content := os.read(self.pipe, 1 << 16):
                self._take(content)
        except BlockingIOError:
            pass
        finally:
            os.set_blocking(self.pipe, True)
        return self.told[-1] if self.told else -1

    def ended(self) -> int:
        """Wait for the end; return the exit code, negative for a signal."""
        while content := os.read(self.pipe, 1 << 16):
            self._take(content)
        _, status = os.waitpid(self.pid, 0)
        os.close(self.pipe)
        return os.waitstatus_to_exitcode(status)

    def send(self, number: signal.Signals) -> None:
        os.kill(self.pid, number)

    def _take(self, content: bytes) -> None:
        content = self._rest + content
        whole = len(content) // _TOLD.size * _TOLD.size
        self._rest = content[whole:]
        self.told += [number for (number,) in _TOLD.iter_unpack(content[:whole])]


def playing(site: Site, *around: Callable[[], AbstractContextManager[object]]) -> Child:
    """Play the story in a child, with some ways of spoiling it around."""

    def play(tell: Callable[[int], None]) -> None:
        with ExitStack() as stack:
            for one in around:
                stack.enter_context(one())
            site.play(tell)

    return forked(play)


def forked(work: Callable[[Callable[[int], None]], None]) -> Child:
    """Do some work in a child, which tells numbers."""
    reading, writing = os.pipe()
    whole = os.write
    pid = os.fork()
    if pid:
        os.close(writing)
        return Child(pid, reading)
    code = FAILED
    try:
        os.close(reading)
        work(lambda number: (whole(writing, _TOLD.pack(number)), None)[1])
        code = 0
    except BaseException as error:
        whole(2, f"child: {type(error).__name__}: {error}\n".encode())
    finally:
        os._exit(code)
