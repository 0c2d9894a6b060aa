"""Remedies that are tried: a change is made to the plant and the whole check runs again.

So a remedy that is offered passes its own check by trial, and what it would break elsewhere is known.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final, Protocol, TypeAlias

from commission.design.types import Found, Remedy
from commission.errors import CommissionError
from commission.figure import Figure
from commission.plant.change import Change, changed
from commission.plant.plant import Plant
from commission.sheet.types import KINDS, Finding

_TRIES: Final = 8
"""Remedies of one finding that are tried; a check puts its best first."""
_PAIRS: Final = 6
"""Pairs of remedies of one finding that are tried where no single one passes."""
_TOLD: Final = 2
"""Findings that a remedy brings which are told in words; the rest are counted."""
_SLACK: Final = 0.05
"""Share of a value by which it may lie further outside its limit and still count as it was: a thicker cable
lets a little more fault current through, and standard sizes lie further apart; common practice."""
_LONGEST: Final = 70
"""Letters of the text of a finding that a remedy brings."""

After: TypeAlias = Mapping[str, Found]
"""All findings of a plant by id, their remedies not tried."""
Rerun: TypeAlias = Callable[[Plant, tuple[Change, ...]], After]
"""What a plant is found to have as it is with changes made."""


class Looked(Protocol):
    """What one look at a plant found, and what another look at it with changes made would find."""

    @property
    def after(self) -> After:
        """Return all findings by id."""

    def again(self, plant: Plant, changes: tuple[Change, ...]) -> After:
        """Return the findings of the plant as it is with changes made."""


@dataclass(frozen=True, slots=True)
class Outcome:
    """What comes of a remedy."""

    remedy: Remedy
    after: After
    brings: tuple[Finding, ...]
    """Findings that the plant has with the remedy and does not have without, or that it makes worse."""
    worse: frozenset[str] = frozenset()
    """Ids of those that stand without the remedy too, and are worse with it."""


@dataclass(frozen=True, slots=True)
class Mended:
    """A finding with the remedy that is offered, and what comes of it; None where nothing was tried."""

    finding: Finding
    outcome: Outcome | None = None

    @property
    def clean(self) -> bool:
        """Whether its remedy was tried and brings nothing."""
        return self.outcome is not None and not self.outcome.brings


class Trials:
    """Changes tried on one plant; the same change is made and checked once."""

    def __init__(self, plant: Plant, standing: After, rerun: Rerun) -> None:
        self._plant, self._standing, self._rerun = plant, standing, rerun
        self._made: dict[str, After | None] = {}

    def outcome(self, remedy: Remedy) -> Outcome | None:
        """Return what comes of a remedy; None where it does not fit the plant."""
        after = self._after(remedy.change)
        if after is None:
            return None
        brings = tuple(found.finding for found in after.values() if self._brought(found.finding))
        return Outcome(remedy, after, brings, frozenset(one.id for one in brings if one.id in self._standing))

    def _after(self, change: tuple[Change, ...]) -> After | None:
        key = repr([(one.key, one.value) for one in change])
        if key not in self._made:
            try:
                self._made[key] = self._rerun(changed(self._plant, change), change)
            except CommissionError:  # a change that does not fit the plant is no remedy
                self._made[key] = None
        return self._made[key]

    def _brought(self, finding: Finding) -> bool:
        if finding.kind == "advise":
            return False
        before = self._standing.get(finding.id)
        return before is None or is_worse(before.finding, finding)


def is_worse(before: Finding, after: Finding) -> bool:
    """Whether a finding that stands is graver after a change, or its value further outside its limit.

    Further by more than a twentieth of value or limit, whichever is greater.
    """
    kinds = KINDS.index(after.kind) - KINDS.index(before.kind)
    if kinds != 0:
        return kinds < 0
    was, now = _outside(before), _outside(after)
    if was is None or now is None:
        return False
    return now[0] > was[0] + _SLACK * max(was[1], now[1])


def _outside(finding: Finding) -> tuple[float, float] | None:
    """Return how far a value lies from its limit, and the greater of them; None where one is not known."""
    value, limit = finding.value, finding.limit
    if not isinstance(value, Figure) or not isinstance(limit, Figure) or value.unit != limit.unit:
        return None
    return abs(value.value - limit.value), max(abs(value.value), abs(limit.value))


def mended(trials: Trials, found: Found) -> Mended:
    """Return a finding with the first of its remedies that passes and brings or worsens no other finding.

    Where every remedy brings something, each is tried together with a remedy of what it brings. Where no
    pair passes either, the one that brings least is offered, and the text says what it brings.
    """
    finding, words = found.finding, [one for one in found.remedies if not one.change]
    tried: list[Outcome] = []
    for remedy in [one for one in found.remedies if one.change][:_TRIES]:
        outcome = trials.outcome(remedy)
        if outcome is None or finding.id in outcome.after:
            continue
        if not outcome.brings:
            return offered(finding, outcome)
        tried.append(outcome)
    tried.sort(key=_harm)
    pair = next(_pairs(trials, finding, tried), None)
    if pair is not None:
        return offered(finding, pair)
    if tried:
        other = f", or {words[0].text}" if words else ""
        brings = f"; but it {_brought(tried[0])}; no single change passes both"
        return offered(finding, tried[0], f"{other}{brings}")
    return Mended(replace(finding, remedy=words[0].text, passes=words[0].passes) if words else finding)


def offered(finding: Finding, outcome: Outcome, more: str = "") -> Mended:
    """Return a finding that offers a remedy which was tried."""
    remedy = outcome.remedy
    told = replace(finding, remedy=remedy.text + more, passes=remedy.passes, change=remedy.change)
    return Mended(told, outcome)


def together(first: Remedy, second: Remedy) -> Remedy:
    """Return two remedies as one, the second alone where it changes all that the first does."""
    if {one.key for one in first.change} <= {one.key for one in second.change}:
        return second
    return Remedy(f"{first.text}; and with it {second.text}", first.passes, (*first.change, *second.change))


def _pairs(trials: Trials, finding: Finding, tried: Sequence[Outcome]) -> Iterator[Outcome]:
    """Yield pairs that pass: a remedy, with one of what it brings as the plant then is."""
    left = _PAIRS
    unlike: dict[frozenset[str], Outcome] = {}
    for outcome in tried:
        unlike.setdefault(frozenset(one.id for one in outcome.brings), outcome)
    for outcome in list(unlike.values())[:2]:
        for brought in sorted(outcome.brings, key=lambda one: KINDS.index(one.kind))[:2]:
            for remedy in [one for one in outcome.after[brought.id].remedies if one.change][:3]:
                if left == 0:
                    return
                if _contradict(outcome.remedy, remedy):
                    continue
                left -= 1
                pair = trials.outcome(together(outcome.remedy, remedy))
                if pair is not None and not pair.brings and finding.id not in pair.after:
                    yield pair


def _contradict(first: Remedy, second: Remedy) -> bool:
    """Whether two remedies set some of the same keys, and not all of the first's."""
    own, other = {one.key for one in first.change}, {one.key for one in second.change}
    return bool(own & other) and not own <= other


def _harm(outcome: Outcome) -> tuple[int, int]:
    worst = min(KINDS.index(one.kind) for one in outcome.brings)
    return -worst, len(outcome.brings)


def _brought(outcome: Outcome) -> str:
    """Return what a remedy brings or makes worse: the worst in words, the rest counted."""
    worst = sorted(outcome.brings, key=lambda one: KINDS.index(one.kind))
    told = ""
    for at, one in enumerate(worst[:_TOLD]):
        verb = "makes worse" if one.id in outcome.worse else "brings"
        before = "makes worse" if at and worst[at - 1].id in outcome.worse else "brings"
        lead = f"{verb} " if not at else f"; it {verb} " if verb != before else "; "
        told += f"{lead}{one.kind} at {', '.join(one.parts)}: {_cut(one.text)}"
    more = len(worst) - _TOLD
    return f"{told}; and {more} more" if more > 0 else told


def _cut(text: str) -> str:
    """Return a text, or its beginning up to a whole word."""
    return text if len(text) <= _LONGEST else f"{text[:_LONGEST].rsplit(' ', 1)[0].rstrip(',;:')} …"
