"""A trend as characters: readings over time with their limits, without colour."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Final, Literal, TypeAlias

from commission.units import plain

Glyphs: TypeAlias = Literal["ascii", "box", "braille"]
_LABEL: Final = 10
"""Letters left of the axis."""


@dataclass(frozen=True, slots=True)
class Mark:
    """A reading on the chart."""

    at: datetime
    value: float
    outside: bool = False
    sign: Literal["o", ".", "^", "v"] = "o"
    """``.`` is one that does not count; of a bound ``^`` or ``v`` says where the true value lies."""


@dataclass(frozen=True, slots=True)
class _Signs:
    upright: str
    level: str
    corner: str
    dash: str
    tick: str


_SIGNS: Final[dict[str, _Signs]] = {
    "ascii": _Signs("|", "-", "+", "- ", "+"),
    "box": _Signs("│", "─", "└", "╌╌", "┤"),
    "braille": _Signs("⡇", "⣀", "⣇", "⠒ ", "⡧"),
}
_DOTS: Final = ((0x01, 0x08), (0x02, 0x10), (0x04, 0x20), (0x40, 0x80))
"""Bits of the braille signs from U+2800 on: four rows of two dots."""


def chart(
    marks: Sequence[Mark],
    limits: Sequence[tuple[float, str]] = (),
    *,
    width: int = 78,
    height: int = 16,
    glyphs: Glyphs = "box",
) -> str:
    """Return readings over time as text: ``o`` inside the limits, ``X`` outside; limits dashed and named.

    A reading that does not count, or a bound, has the sign of its mark.

    Parameters
    ----------
    limits
        Value and name of each.
    width, height
        Of the whole chart in characters, axes and dates too; at least 30 by 6.
    glyphs
        Which signs the terminal has; ``braille`` places readings that are inside four times finer.
    """
    signs, wide, high = _SIGNS[glyphs], max(width, 30) - _LABEL - 1, max(height, 6) - 2
    if not marks:
        return "no reading to draw"
    low, top = _range([mark.value for mark in marks] + [value for value, _ in limits])
    first, last = (end(mark.at for mark in marks) for end in (min, max))
    span = (last - first).total_seconds() or 1.0
    cells = [[" "] * wide for _ in range(high)]
    labels = {0: top, high - 1: low}
    for value, name in limits:
        row = _place(top - value, top - low, high)
        cells[row] = list(f"{name} {signs.dash * wide}"[:wide])
        labels[row] = value
    # what counts is drawn over what does not, and what is outside over the rest
    for mark in sorted(marks, key=lambda one: (one.outside, one.sign == "o")):
        across, down = (mark.at - first).total_seconds() / span, (top - mark.value) / (top - low)
        _draw(cells, across, down, "X" if mark.outside else mark.sign, fine=glyphs == "braille")
    rows = [
        f"{plain(float(f'{labels[place]:.4g}')) if place in labels else '':>{_LABEL}.{_LABEL}}"
        f"{signs.tick if place in labels else signs.upright}{''.join(row).rstrip()}"
        for place, row in enumerate(cells)
    ]
    begin, end = f"{first:%Y-%m-%d}", f"{last:%Y-%m-%d}"
    dates = begin if begin == end else begin + end.rjust(wide - len(begin))
    return "\n".join([*rows, " " * _LABEL + signs.corner + signs.level * wide, " " * (_LABEL + 1) + dates])


def _range(values: Sequence[float]) -> tuple[float, float]:
    low, top = min(values), max(values)
    margin = 0.06 * (top - low) or 0.05 * abs(top) or 1.0
    return low - margin, top + margin


def _place(part: float, whole: float, count: int) -> int:
    return min(max(int(part / whole * count), 0), count - 1)


def _draw(cells: list[list[str]], across: float, down: float, sign: str, *, fine: bool) -> None:
    high, wide = len(cells), len(cells[0])
    row, column = _place(down, 1.0, high), _place(across, 1.0, wide)
    if sign != "o" or not fine:
        cells[row][column] = sign
        return
    dot = _DOTS[_place(down, 1.0, high * 4) % 4][_place(across, 1.0, wide * 2) % 2]
    there = ord(cells[row][column]) - 0x2800
    cells[row][column] = chr(0x2800 + (dot | there if 0 <= there < 0x100 else dot))
