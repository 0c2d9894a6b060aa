"""What every command shares: how it is added, how it speaks, and its exit codes."""

from __future__ import annotations

import argparse
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Final, Protocol, TypeAlias

OK: Final = 0
OPEN: Final = 1
"""A stop, correct or not checked finding; a reading that failed, stopped work or was not judged."""
BAD_INPUT: Final = 2
UNCONFIRMED: Final = 3
"""A record is intact, but what it says cannot be worked out anew as it stands: another version, own files."""
UNKNOWN_KEY: Final = 4
"""A record is intact, but sealed by a key that the list of known keys does not have, or does not count."""

CAUTION: Final = (
    "The program advises. The maker's instructions, the local code and licensed people prevail. "
    "Never work live where dead is possible."
)


@dataclass(frozen=True, slots=True)
class Voice:
    """How the command line speaks; it alone prints."""

    say: Callable[[str], None]
    complain: Callable[[str], None]
    print_json: Callable[[Any], None]
    can_show: Callable[[argparse.Namespace, str], bool]


Run: TypeAlias = Callable[[argparse.Namespace, Voice], int]
"""One command: what was typed, and how to speak; returns the exit code."""


class Commands(Protocol):
    """Where the commands are added."""

    def __call__(
        self, name: str, run: Run, text: str, *, site: str = "", json: bool = False, why: bool = False
    ) -> argparse.ArgumentParser:
        """Add a command and return its parser.

        Parameters
        ----------
        site
            Anything where the command takes a site file, ``?`` where it may be left out.
        json, why
            The command takes ``--json``, ``--why``.
        """
