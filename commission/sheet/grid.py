"""The grid that several devices share: a value on it can be entered at every one of them."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

_PARTS: Final = 100_000
"""Parts of a volt in which grids are compared, as whole numbers, so that binary fractions cannot err."""


@dataclass(frozen=True, slots=True)
class Grid:
    """Values ``start + n × step``, whole bank."""

    start: float
    step: float


def shared_grid(grids: list[Grid]) -> Grid | None:
    """Return the values that lie on all grids, as a grid; None where no value does.

    Two grids meet where ``a + m·p = b + n·q`` has whole solutions; the shared step is the least
    common multiple.
    """
    if not grids:
        return None
    start, step = (round(number * _PARTS) for number in (grids[0].start, grids[0].step))
    for grid in grids[1:]:
        other_start, other_step = (round(number * _PARTS) for number in (grid.start, grid.step))
        divisor = math.gcd(step, other_step)
        if (other_start - start) % divisor:
            return None
        multiple = step // divisor * other_step
        ahead = (other_start - start) // divisor * pow(step // divisor, -1, other_step // divisor)
        start, step = start + step * (ahead % (other_step // divisor)), multiple
    return Grid(start / _PARTS, step / _PARTS)


def coarsest(grids: list[Grid]) -> Grid:
    """Return the grid with the greatest step; the first of equals."""
    return max(grids, key=lambda grid: grid.step)
