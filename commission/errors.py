"""Everything that can be wrong with what the program is given, as one tree of exceptions.

::

    CommissionError
    ├── InputError          a file: one Problem for each thing wrong, all at once
    │   ├── SiteError       site file or profile
    │   ├── ReadingsError   a file of readings
    │   ├── RecordError     an exported record
    │   └── KeyFileError    a key, or a list of known keys
    ├── EntryError          what a person typed into a field
    ├── FormulaError        a formula's input out of its range
    └── VisitError          a visit that cannot be opened, written or signed
        ├── NotKeptError    the disk does not take it; it can be entered again, or in another folder
        └── HeldError       somebody else has the visit open; it can be looked at
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from collections.abc import Sequence


@dataclass(frozen=True, slots=True)
class Problem:
    """One thing wrong in a file: where it is, what came, what would be right."""

    file: str
    key: str
    value: str
    """What the file says, shortened; empty where the key is missing."""
    wrong: str
    right: str
    """What would be right, with an example or the nearest known word; may be empty."""

    def __str__(self) -> str:
        came = f" = {self.value}" if self.value else ""
        mend = f"; {self.right}" if self.right else ""
        return harmless(f"{self.file}: {self.key}{came}: {self.wrong}{mend}".replace("\n", "�"))


class CommissionError(Exception):
    """Whatever is wrong with what the program was given; its text is fit for a person."""


class InputError(CommissionError):
    """A file that cannot be used, with every problem found in it."""

    def __init__(self, problems: Sequence[Problem]) -> None:
        self.problems = tuple(problems)
        super().__init__("\n".join(str(problem) for problem in self.problems))


class SiteError(InputError):
    """A site file, profile, rule set or checklist file that cannot be used."""


class ReadingsError(InputError):
    """A file of readings that cannot be used."""


class RecordError(InputError):
    """An exported record that cannot be read."""


class KeyFileError(InputError):
    """A key or a list of known keys that cannot be used, or a passphrase that does not open one."""


class EntryError(CommissionError):
    """What was typed cannot be understood; the text says why and gives an example."""


class FormulaError(CommissionError, ValueError):
    """An input of a formula lies outside the range in which the formula holds."""


class VisitError(CommissionError):
    """A visit that cannot be opened, written to or signed."""


class NotKeptError(VisitError):
    """The disk does not take an entry; it can be entered again once it does, or in another folder."""


class HeldError(VisitError):
    """A visit that somebody else holds open, or that is only looked at; the text says who and where."""


# what may reach a terminal

_COMMANDS: Final = re.compile(
    "[\x00-\x09\x0b-\x1f\x7f-\x9f\u2028\u2029\u202a-\u202e\u2066-\u2069\ud800-\udfff]"
)
"""What a terminal would take as a command, or turn the direction of writing by; a line end is none."""


def harmless(text: str, instead: str = "�") -> str:
    """Return text that can be shown on a terminal, its line ends kept."""
    return _COMMANDS.sub(instead, text)


def escaped(json: str) -> str:
    """Return a text in JSON with what is not harmless written as escapes; it means the same."""
    return _COMMANDS.sub(lambda found: f"\\u{ord(found[0]):04x}", json)
