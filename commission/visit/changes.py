"""How far a reading has gone, beside the limits of its change: what is passed, what is kept, what is open.

Of a bound, such as ``> 550 MΩ``, only that counts which holds for every value that it allows: a limit is
passed where all of them pass it, and kept where none does. Between those nothing is said but why.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final, Literal

from commission.checklist.types import ChangeData
from commission.digits import place_of, to_place
from commission.errors import FormulaError
from commission.formulas.change import change_share_uncertainty
from commission.formulas.uncertainty import root_sum_of_squares
from commission.units import convert, plain
from commission.visit.compared import Compared, NotComparedError
from commission.visit.spans import Span, difference_of, share_of, span_of
from commission.visit.types import Drift, EarlierReading

_POINTS: Final = "points"
_EDGE: Final = 1e-9
"""Exactly on a limit counts as inside it, whatever binary fractions make of it."""
_MANY_TIMES: Final = 90.0
"""A fall by so many per cent is told as a fraction too."""
SIGNS: Final = {"exact": "", "above": "> ", "below": "< "}


@dataclass(frozen=True, slots=True)
class Change:
    """A change beside one limit, in the unit of the limit."""

    limit: ChangeData
    span: Span
    doubt: float | None
    """Expanded uncertainty; None where neither meter is known."""

    @property
    def value(self) -> float:
        """The change; of a bound its end nearest to none, and none where it has no end that tells."""
        low, high = self.span.low, self.span.high
        if low < 0.0 and math.isfinite(high):
            return high
        return low if low > self._deepest else 0.0

    @property
    def tells(self) -> bool:
        """Whether one end at least is nearer than it must be."""
        return math.isfinite(self.span.high) or self.span.low > self._deepest

    @property
    def _deepest(self) -> float:
        """How far any reading can fall: of a share, to nothing at most."""
        return -100.0 if self.limit.unit == "%" else -math.inf

    @property
    def passed(self) -> bool:
        """Whether every possible value passes the limit."""
        return self._above(self.span.low) or self._below(self.span.high)

    @property
    def kept(self) -> bool:
        """Whether no possible value passes the limit."""
        return not self._above(self.span.high) and not self._below(self.span.low)

    @property
    def size(self) -> float:
        """How far the limit lets it go in its direction."""
        return (self.limit.more if self.value > 0 else self.limit.less) or 0.0

    def _above(self, change: float) -> bool:
        return self.limit.more is not None and change > self.limit.more * (1.0 + _EDGE)

    def _below(self, change: float) -> bool:
        return self.limit.less is not None and -change > self.limit.less * (1.0 + _EDGE)


@dataclass(frozen=True, slots=True)
class Outcome:
    """What the limits say together, and the one that is told."""

    change: Change
    state: Literal["passed", "kept", "open"]


def outcome(limits: Sequence[ChangeData], now: Compared, then: Compared) -> Outcome:
    """Return what the limits of one kind say to a change, and the highest that was passed.

    Raises
    ------
    NotComparedError
        If the two are in units that do not compare.
    FormulaError
        If a change would be a share of nothing.
    """
    found = [_change(limit, now, then) for limit in limits]
    passed = [change for change in found if change.passed]
    if passed:
        return Outcome(max(passed, key=lambda change: change.size), "passed")
    undecided = [change for change in found if not change.kept]
    return Outcome(undecided[0], "open") if undecided else Outcome(found[0], "kept")


def _change(limit: ChangeData, now: Compared, then: Compared) -> Change:
    """Return the change in the unit of a limit; unknown meters count as exact."""
    if now.unit != then.unit:
        raise NotComparedError(f"it is in {now.unit} now and was in {then.unit}")
    doubts = [one.doubt for one in (now, then) if one.doubt is not None]
    if limit.unit == "%":
        span = share_of(now.span, then.span)
        doubt = change_share_uncertainty(
            now.value, then.value, now_uncertainty=now.doubt or 0.0, before_uncertainty=then.doubt or 0.0
        )
        return Change(limit, _scaled(span, 100.0), 100.0 * doubt if doubts else None)
    scale = 1.0 if limit.unit in {_POINTS, now.unit} else _scale(now.unit, limit.unit)
    whole = scale * root_sum_of_squares(doubts) if doubts else None
    return Change(limit, _scaled(difference_of(now.span, then.span), scale), whole)


def _scaled(span: Span, scale: float) -> Span:
    return Span(scale * span.low, scale * span.high)


def _scale(unit: str, wanted: str) -> float:
    if (unit, wanted) == ("°C", "K"):
        return 1.0
    return convert(1.0, unit, wanted) - convert(0.0, unit, wanted)


def worth_telling(drift: Drift) -> bool:
    """Say whether a person should look at a comparison by itself, not only where it stands.

    Two bounds of one side prove nothing; but where the newer one lies no further back than a change may go,
    the meter was at its end both times, and nothing speaks of a change.
    """
    if drift.verdict != "not judged":
        return drift.verdict in {"act", "advise"}
    if drift.before_side is None or drift.before_side != drift.now_side or not drift.unit:
        return True
    ends = span_of(drift.now, "exact", ""), span_of(drift.before, "exact", "")
    try:
        moved = 100.0 * share_of(*ends).low if drift.unit == "%" else difference_of(*ends).low
    except FormulaError:
        return True
    return (drift.low is not None and moved < drift.low) or (drift.high is not None and moved > drift.high)


# in words


def sentence(found: Outcome, before: EarlierReading, since: str, now: str, unsaid: str = "not judged") -> str:
    """Return how far a reading has gone, since when, and how far it may.

    Parameters
    ----------
    since
        ``baseline`` or ``last``.
    now
        The reading as it was typed.
    unsaid
        What it is called where a bound leaves it open.
    """
    change, limit = found.change, found.change.limit
    unit = limit.unit if limit.unit == "%" else f" {limit.unit}"
    ends = [
        f"{sign}{plain(end)}{unit}" for sign, end in (("+", limit.more), ("−", limit.less)) if end is not None
    ]
    whom = f"since {_whom(before, since)}"
    if found.state != "open":
        return f"{_gone(change, unit)} {whom}; at most {' and '.join(ends)}"
    said = f"{_gone(change, unit)} {whom}" if change.tells else f"{bound_text(before)} then, {now} now"
    return f"{unsaid}: {said}; whether by more than {' or '.join(ends)} a bound does not tell"


def bound_text(before: EarlierReading) -> str:
    """Return an earlier reading with its sign: ``> 550 MΩ``."""
    return f"{SIGNS[before.side]}{plain(before.value)} {before.unit}".strip()


def _whom(before: EarlierReading, since: str) -> str:
    day = f"{before.measured_at:%Y-%m-%d}"
    whom = f"the {'provisional ' if before.provisional else ''}baseline of {day}"
    whom = whom if since == "baseline" else f"the last visit, {day}"
    return whom if before.side == "exact" else f"{whom}, {bound_text(before)}"


def _gone(change: Change, unit: str) -> str:
    """Return how far a reading has gone, with its doubt; of a bound, how far at least or at most."""
    doubt = None if change.doubt is None else _up(change.doubt)
    off = "" if doubt is None else f" ± {to_place(doubt, place_of(doubt))}"
    if change.span.exact:
        sign = "+" if change.value > 0 else "−" if change.value < 0 else ""
        return f"{sign}{_size(change, doubt, round)}{off}{unit}"
    if change.span.low >= 0.0:
        return f"risen by {_size(change, doubt, math.floor)}{off}{unit} or more"
    if change.span.high <= 0.0:
        return f"fallen by {_size(change, doubt, math.floor)}{off}{unit} or more{_fraction(change)}"
    way = "risen" if math.isfinite(change.span.high) else "fallen"
    return f"{way} by {_size(change, doubt, math.ceil)}{off}{unit} at most"


def _size(change: Change, doubt: float | None, whole: Callable[[float], int]) -> str:
    """Return how far a reading has gone, with the digits that its doubt deserves.

    ``whole`` keeps 'or more' and 'at most' true. Where so few digits would put it on the other side of the
    limit, there are more.
    """
    size = abs(round(change.value, 6))
    place = None if doubt is None else place_of(doubt)
    if place is None:
        return plain(size)
    told = whole(round(size * 10.0**place, 6)) / 10.0**place
    return plain(size) if (size > change.size) != (told > change.size) else to_place(told, place)


def _fraction(change: Change) -> str:
    """Return a deep fall as a fraction too, which is easier to see: ``, to 1/183 or less``."""
    if change.limit.unit != "%" or not -100.0 < change.value < -_MANY_TIMES:
        return ""
    return f", to 1/{math.floor(100.0 / (100.0 + change.value))} or less"


def _up(doubt: float) -> float:
    """Return an uncertainty with two digits, never less than it is."""
    if doubt <= 0.0:
        return 0.0
    decimals = 1 - math.floor(math.log10(doubt))
    return round(math.ceil(doubt * 10.0**decimals - _EDGE) / 10.0**decimals, max(0, decimals))
