"""What was typed for a reading, made into its value."""

from __future__ import annotations

import math
import re
import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass
from difflib import get_close_matches
from typing import Final, Literal

from commission.checklist.types import Ask, ReadingKind
from commission.errors import EntryError
from commission.units import UnitSystem, convert, read_number, shown_unit, symbol_of
from commission.visit.kit import range_end
from commission.visit.lines import LONGEST
from commission.visit.types import Instrument

_YES: Final = frozenset({"yes", "y"})
_NO: Final = frozenset({"no", "n"})
_BARE: Final = re.compile(r"^[<>]?\s*[+\-−]?\s*(?:\d+(?:[.,]\d*)?|[.,]\d+)(?:[eE][+\-]?\d+)?$")
_WITH_UNIT: Final = re.compile(r"^[<>]?\s*[+\-−]?\s*[\d.,]+\s*([^\d\s.,].*)$")
_TURNS: Final = dict.fromkeys((0x2028, 0x2029, *range(0x202A, 0x202F), *range(0x2066, 0x206A)))
"""Marks that turn the direction of writing, or part lines: copied along unseen, they are dropped."""
_MANY: Final = 6
"""Like readings from which on the same digits in every row are doubted."""


@dataclass(frozen=True, slots=True)
class Typed:
    """A reading as it was entered, not judged yet."""

    kind: ReadingKind
    value: float | bool | str
    text: str
    unit: str = ""
    side: Literal["exact", "above", "below"] = "exact"

    @property
    def number(self) -> float | None:
        """Return the value where it is a number."""
        return self.value if self.kind == "number" and isinstance(self.value, float) else None


@dataclass(frozen=True, slots=True)
class Column:
    """A column of like readings: one row each, None where it was skipped or not understood."""

    rows: tuple[Typed | None, ...]
    wrong: dict[int, str]
    """What is wrong with a row, by its place."""
    warning: str = ""


def read_entry(
    ask: Ask,
    typed: str,
    *,
    system: UnitSystem = "metric",
    instrument: Instrument | None = None,
    before: str = "",
) -> Typed:
    """Return what was typed for a reading as its value.

    Parameters
    ----------
    system
        Unit system of the site; a bare number is in the unit that is shown there.
    instrument
        The meter; its highest range is what ``OL`` means.
    before
        What was typed in the row above, whose unit a bare number keeps.

    Raises
    ------
    EntryError
        If it cannot be understood; the text says why, with an example.
    """
    text = unicodedata.normalize("NFC", typed.translate(_TURNS)).strip()
    if any(unicodedata.category(letter) in {"Cc", "Cs"} for letter in text):
        raise EntryError("there are control characters in what was typed; plain text on one line is wanted")
    if len(text) > LONGEST:
        raise EntryError(f"{len(text)} characters; at most {LONGEST} are kept, put the rest into a note")
    kind = ask.data.kind
    if kind == "number":
        return _number(ask, text, system, instrument, before)
    if kind == "yes or no":
        return Typed(kind, _yes(text), text)
    if kind == "choice":
        return Typed(kind, _choice(text, ask.data.choices), text)
    if not text:
        raise EntryError("nothing typed; a few words are wanted")
    return Typed(kind, text, text)


def _number(ask: Ask, text: str, system: UnitSystem, instrument: Instrument | None, before: str) -> Typed:
    unit = ask.data.unit or "1"
    shown = shown_unit(unit, system)
    shown = unit if shown == "AWG" else shown  # a gauge is told by its word, never by a bare number
    whole = _with_unit_above(text, before)
    entry = read_number(whole, shown)
    value = entry.value
    if math.isinf(value):
        end = None if instrument is None else range_end(instrument, unit)
        value = value if end is None else math.copysign(end, value)
    elif shown != unit:
        value = convert(value, shown, unit)
    kept = f"{text} {shown}" if whole == text and shown != unit and _BARE.match(text) else whole
    return Typed("number", value, kept, unit, entry.side)


def _with_unit_above(text: str, before: str) -> str:
    """Give a bare number the unit of the row above: 1318 under 1320 mV is in mV too."""
    if not _BARE.match(text):
        return text
    above = _WITH_UNIT.match(before.strip())
    unit = None if above is None else symbol_of(above[1])
    return text if unit is None else f"{text} {unit}"


def _yes(text: str) -> bool:
    word = text.casefold()
    if word in _YES:
        return True
    if word in _NO:
        return False
    raise EntryError(f"'{text}' is neither yes nor no; type yes or no" if text else "type yes or no")


def _choice(text: str, choices: Sequence[str]) -> str:
    word = text.casefold()
    exact = [choice for choice in choices if choice.casefold() == word]
    begun = [choice for choice in choices if word and choice.casefold().startswith(word)]
    if exact or len(begun) == 1:
        return (exact or begun)[0]
    near = get_close_matches(word, [choice.casefold() for choice in choices], n=1, cutoff=0.5)
    hint = next((f"; did you mean {choice}?" for choice in choices if [choice.casefold()] == near), "")
    raise EntryError(f"'{text}' is none of: {', '.join(choices)}{hint}")


def read_column(
    asks: Sequence[Ask],
    typed: Sequence[str],
    *,
    system: UnitSystem = "metric",
    instrument: Instrument | None = None,
) -> Column:
    """Return a column of like readings, each row by itself; a skipped row stays visibly empty.

    The unit of one row holds for the bare numbers below it.

    Raises
    ------
    EntryError
        If there are more rows than readings wanted.
    """
    if len(typed) > len(asks):
        raise EntryError(f"{len(typed)} rows typed, {len(asks)} are wanted")
    rows: list[Typed | None] = []
    wrong: dict[int, str] = {}
    before = ""
    for place, (ask, text) in enumerate(zip(asks, typed, strict=False)):
        row = None
        try:
            if text.strip():
                row = read_entry(ask, text, system=system, instrument=instrument, before=before)
                before = row.text
        except EntryError as error:
            wrong[place] = str(error)
        rows.append(row)
    rows += [None] * (len(asks) - len(rows))
    return Column(tuple(rows), wrong, all_alike(rows))


def all_alike(rows: Sequence[Typed | None]) -> str:
    """Return a warning where many like readings carry the very same digits, as a mean typed into each."""
    values = [row.value for row in rows if row is not None and row.number is not None]
    if len(values) < _MANY or any(value != values[0] for value in values):
        return ""
    return (
        f"{len(values)} readings with the very same digits: each cell's own reading is wanted; a mean typed "
        "into every row hides the one that is weak"
    )
