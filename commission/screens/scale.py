"""The band as a picture: a scale with the mark of the reading and the uncertainty of the meter around it."""

from __future__ import annotations

import math
import re

MARK = "●"
_SPAN = "─"
_DOUBT = "━"
_GAP = "·"
_OUT_BELOW = re.compile(rf"^{MARK}{_GAP}*")
_OUT_ABOVE = re.compile(rf"{_GAP}*{MARK}$")


def draw(
    value: float | None,
    low: float | None,
    high: float | None,
    uncertainty: float | None,
    width: int,
    ends: tuple[str, str] = ("", ""),
) -> str:
    """Return the scale of a band as one line of ``width`` cells, the numbers of ``ends`` at the band's ends.

    Inside the band the mark stands on the line; outside it stands beyond the end, joined by dots. An open
    side of a one-sided band ends in an arrow.
    """
    left, right = (f"{ends[0]} " if ends[0] else ""), (f" {ends[1]}" if ends[1] else "")
    room = width - len(left) - len(right)
    if room < 12 or (low is None and high is None):
        return ""
    if low is not None and high is not None:
        drawn = _two_sided(value, low, high, uncertainty, room)
    else:
        drawn = _one_sided(value, low, high, uncertainty, room)
    before, after = _OUT_BELOW.match(drawn), _OUT_ABOVE.search(drawn)
    below, above = (before[0] if before else ""), (after[0] if after else "")
    line = drawn[len(below) : len(drawn) - len(above)]
    return f"{below}{left}{line}{right}{above}"


def _two_sided(value: float | None, low: float, high: float, uncertainty: float | None, width: int) -> str:
    span = high - low
    if span <= 0:
        span = max(abs(high), 1.0) * 1e-6
    outside = 0.0 if value is None or math.isnan(value) else max(low - value, value - high, 0.0)
    room = 0 if outside <= 0 else max(4, min(width // 2, round(width * _squeezed(outside, span))))
    line = width - room
    cells = ["├", *[_SPAN] * (line - 2), "┤"]
    if value is None or math.isnan(value):
        return "".join(cells)
    if outside <= 0:
        place = 1 + round((line - 3) * min(1.0, max(0.0, (value - low) / span)))
        _doubt(cells, place, uncertainty, span, line)
        cells[place] = MARK
        return "".join(cells)
    beyond = _GAP * (room - 1)
    return f"{MARK}{beyond}{''.join(cells)}" if value < low else f"{''.join(cells)}{beyond}{MARK}"


def _one_sided(
    value: float | None, low: float | None, high: float | None, uncertainty: float | None, width: int
) -> str:
    end = low if low is not None else high
    assert end is not None  # noqa: S101 - one of the two is given
    upward = low is not None
    cells = [*("├" if upward else "←"), *[_SPAN] * (width - 2), *("→" if upward else "┤")]
    if value is None or math.isnan(value):
        return "".join(cells)
    inside = value >= end if upward else value <= end
    if not inside:
        room = width // 3
        line = "".join([cells[0], *[_SPAN] * (width - room - 2), cells[-1]])
        beyond = _GAP * (room - 1)
        return f"{MARK}{beyond}{line}" if upward else f"{line}{beyond}{MARK}"
    share = _squeezed(abs(value - end), max(abs(end), 1e-9))
    place = 1 + round((width - 3) * share)
    place = place if upward else width - 1 - place
    _doubt(cells, place, uncertainty, max(abs(end), 1e-9) * 2, width)
    cells[place] = MARK
    return "".join(cells)


def _squeezed(distance: float, scale: float) -> float:
    """Return a distance without end as a share of the line: half the line for the size of the limit.

    Over the range of the meter (OL) is the whole line.
    """
    return 1.0 if math.isinf(distance) else distance / (distance + scale)


def _doubt(cells: list[str], place: int, uncertainty: float | None, span: float, line: int) -> None:
    """Thicken the line around the mark by the meter's uncertainty."""
    if not uncertainty:
        return
    reach = round(min(line, (line - 3) * uncertainty / span))
    for cell in range(max(1, place - reach), min(line - 1, place + reach + 1)):
        cells[cell] = _DOUBT
