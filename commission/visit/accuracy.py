"""A maker's accuracy statement as people write it: ``0.5 % + 2 digits``, for one range or for all."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Final

from commission.errors import EntryError
from commission.units import plain, read_number
from commission.visit.types import Accuracy

_EXAMPLE: Final = "such as 0.5 % + 2 digits, or for one range 0.5 % + 2 to 60 V by 0.01"
_STATEMENT: Final = re.compile(
    r"\s*(?:±\s*)?(?P<percent>[\d.,]+)\s*%"
    r"(?:\s*\+\s*(?P<digits>[\d.,]+)\s*(?:digits?|counts?|d)?)?"
    r"(?:\s*to\s+(?P<up_to>[\d.,]+\s*\S*?)\s+by\s+(?P<step>[\d.,]+)\s*\S*)?\s*",
    re.IGNORECASE,
)


def accuracy_text(ranges: Sequence[Accuracy]) -> str:
    """Return what a maker promises: one statement where all ranges have the same, else each with its end.

    What it returns can be typed again.
    """
    statements = {(item.percent, item.digits) for item in ranges}
    if len(statements) == 1:
        return _statement(ranges[0])
    return "; ".join(
        f"{_statement(item)} to {plain(item.up_to)} {item.unit} by {plain(item.resolution)}"
        for item in ranges
    )


def _statement(item: Accuracy) -> str:
    digits = f" + {plain(item.digits)} {'digit' if item.digits == 1 else 'digits'}" if item.digits else ""
    return f"{plain(item.percent)} %{digits}"


def read_accuracy(text: str, ranges: Sequence[Accuracy]) -> tuple[Accuracy, ...]:
    """Read an accuracy statement over the ranges that an instrument has.

    One statement alone holds for all of them; statements that name the end and the least digit of a range
    are the instrument's ranges from now on.

    Raises
    ------
    EntryError
        If it cannot be understood; the text gives an example.
    """
    parts = [part for part in text.split(";") if part.strip()]
    found = [_STATEMENT.fullmatch(part) for part in parts]
    wrong = next((part for part, match in zip(parts, found, strict=True) if match is None), None)
    if wrong is not None or not found:
        said = f"'{wrong.strip()}' is no accuracy" if wrong else "nothing typed"
        raise EntryError(f"{said}; {_EXAMPLE}")
    named = [match for match in found if match is not None]
    if not ranges:
        raise EntryError("the unit that this instrument reads in is not known")
    if len(named) == 1 and named[0]["up_to"] is None:
        percent, digits = _number(named[0]["percent"]), _number(named[0]["digits"] or "0")
        return tuple(item.model_copy(update={"percent": percent, "digits": digits}) for item in ranges)
    return tuple(_range(match, ranges) for match in named)


def _range(match: re.Match[str], ranges: Sequence[Accuracy]) -> Accuracy:
    if match["up_to"] is None:
        raise EntryError(f"'{match[0].strip()}' does not say to which end of range it holds; {_EXAMPLE}")
    unit, end = _end(match["up_to"], ranges)
    step = _number(match["step"])
    if step <= 0.0 or end <= 0.0:
        raise EntryError(f"'{match[0].strip()}': end and least digit of a range are more than nothing")
    percent, digits = _number(match["percent"]), _number(match["digits"] or "0")
    return Accuracy(unit=unit, up_to=end, percent=percent, digits=digits, resolution=step)


def _end(text: str, ranges: Sequence[Accuracy]) -> tuple[str, float]:
    """Return the unit and the end of a range, in the first unit of the instrument that it can be read in."""
    units = list(dict.fromkeys(item.unit for item in ranges))
    # the unit as it is written comes first
    units.sort(key=lambda unit: not text.strip().endswith(f" {unit}"))
    for unit in units:
        try:
            return unit, read_number(text, unit).value
        except EntryError:
            continue
    raise EntryError(f"'{text}' is no end of a range; this instrument reads in {', '.join(units)}")


def _number(text: str) -> float:
    return read_number(text, "1").value
