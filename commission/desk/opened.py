"""What comes of opening a record: its seals looked at, everything in it worked out anew and told."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Final

from commission import plain_records
from commission.desk.names import words_of
from commission.desk.whole import Section, sections
from commission.errors import CommissionError
from commission.prepare import worked_out_anew
from commission.records.keys import known_keys
from commission.records.read import read_record
from commission.records.verify import verify


@dataclass(frozen=True, slots=True)
class Checked:
    """How a record stands, in words, and what it holds."""

    state: str
    """What the strict reader says, in one word; the word of the index."""
    word: str
    """The same with whether its numbers were confirmed."""
    lines: tuple[str, ...]
    sections: tuple[Section, ...] = ()
    confirmed: bool = False
    """It is intact, and every number in it is the one that this program gives."""


_HEADS: Final = {
    "intact": "intact: every byte is as it was sealed",
    "rewritten": "REWRITTEN: the data are as sealed, but another program wrote the file anew",
    "incomplete": "INCOMPLETE: an attached file is missing, or other than it was",
    "changed": "CHANGED: it is not what was sealed",
    "malformed": "MALFORMED: this is no record any more",
}


def checked(path: Path, known: Path, program: str) -> Checked:
    """Return what the strict reader says of a record, worked out anew, and everything in it.

    Parameters
    ----------
    known
        List of known keys; it need not be there.
    program
        Version of this program.
    """
    try:
        result = verify(path, known_keys(known) if known.is_file() else ())
    except CommissionError as error:
        return Checked("malformed", "malformed", (str(error),))
    seals = [line.strip() for line in plain_records.verified_text(path, result).splitlines()[1:]]
    head = [_HEADS.get(result.word, result.word)]
    if result.state == "malformed":
        return Checked(result.word, result.word, (*head, *seals))
    try:
        record = read_record(path)
        anew = plain_records.Anew(*worked_out_anew(record, program))
    except CommissionError as error:
        says = f"it cannot be worked out anew: {error}"
        return Checked(result.word, f"{result.word}, not worked out anew", (*head, says, *seals))
    lines = [line.strip() for line in plain_records.anew_lines(anew, result, words_of)]
    word = f"{result.word}, numbers {anew.verdict}"
    confirmed = result.intact and anew.verdict == "confirmed"
    return Checked(result.word, word, (*head, *lines, *seals), sections(record), confirmed)
