"""Remedies that agree with each other: whoever mends one finding must not spoil what mends another.

Each finding is mended by itself first. Then those that give one key of the site file different values get
the one with which all are gone, and what is only a symptom of another finding is sent to that one's remedy.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from typing import Any, Final

from commission.design.mending import Mended, Outcome, Trials, mended, offered
from commission.design.types import Found, Remedy
from commission.plant.change import Change
from commission.sheet.known import check_words
from commission.sheet.types import KINDS, Finding

_NAMED: Final = 2
"""Findings that a remedy also mends which are named; the rest are counted."""
_TRIES: Final = 5
"""Remedies of findings with a key in common that are tried for all of them."""


def all_mended(trials: Trials, founds: Iterable[Found]) -> list[Finding]:
    """Return findings with remedies that were tried and that agree with each other."""
    made = {found.finding.id: mended(trials, found) for found in reversed(list(founds))}
    agreed = {one.finding.id: one for group in _groups(made.values()) for one in _agreed(trials, group)}
    alone = [one for ident, one in made.items() if ident not in agreed]
    told = _with_causes(list({**made, **agreed}.values()), {one.finding.id for one in alone})
    return list(reversed(told))


# one key, several values


def _groups(made: Iterable[Mended]) -> Iterator[list[Mended]]:
    """Yield findings whose remedies give a key that they have in common different numbers."""
    groups: list[list[Mended]] = []
    for one in made:
        if not one.clean:
            continue
        near = [group for group in groups if any(_differ(one, other) for other in group)]
        groups = [group for group in groups if group not in near]
        groups.append([*(other for group in near for other in group), one])
    yield from (group for group in groups if len(group) > 1)


def _differ(one: Mended, other: Mended) -> bool:
    first, second = _numbers(one.finding.change), _numbers(other.finding.change)
    return any(first[key] != second[key] for key in first.keys() & second.keys())


def _numbers(change: Iterable[Change]) -> dict[str, float]:
    return {one.key: float(one.value) for one in change if _is_number(one.value)}


def _is_number(value: Any) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool)


def _agreed(trials: Trials, group: Sequence[Mended]) -> list[Mended]:
    """Return findings with the one remedy that passes for most of them, the greatest numbers first."""
    best, gone = None, frozenset[str]()
    idents = {one.finding.id for one in group}
    for outcome in _common(trials, group):
        passes = frozenset(idents - outcome.after.keys())
        if not outcome.brings and len(passes) > max(1, len(gone)):
            best, gone = outcome, passes
        if gone == idents:
            break
    if best is None:
        return []
    members = [one for one in group if one.finding.id in gone]
    return [_sharing(one, best, members) for one in members]


def _common(trials: Trials, group: Sequence[Mended]) -> Iterator[Outcome]:
    """Yield what comes of remedies that might serve for all: their own, then the greatest of each key."""
    own = [one.outcome for one in group if one.outcome is not None]
    own.sort(key=lambda one: -sum(_numbers(one.remedy.change).values()))
    yield from own[:_TRIES]
    merged = trials.outcome(_greatest([one.remedy for one in own]))
    if merged is not None:
        yield merged


def _greatest(remedies: Sequence[Remedy]) -> Remedy:
    """Return all changes of several remedies, of each key the greatest number."""
    changes: dict[str, Change] = {}
    for one in (one for remedy in remedies for one in remedy.change):
        before = changes.get(one.key)
        more = before is not None and _is_number(one.value) and _is_number(before.value)
        if before is None or (more and one.value > before.value):
            changes[one.key] = one
    text = ", ".join(f"{one.key} = {one.value}" for one in changes.values())
    return Remedy(text, remedies[0].passes, tuple(changes.values()))


def _sharing(one: Mended, outcome: Outcome, members: Sequence[Mended]) -> Mended:
    others = [other.finding for other in members if other.finding.id != one.finding.id]
    return offered(one.finding, outcome, _also(one.finding, others))


def _also(finding: Finding, others: Sequence[Finding]) -> str:
    own = set(finding.parts)  # what is wrong with the same part needs no name of it
    named = ", ".join(
        check_words(one.check, one.setting) if own & set(one.parts) else _called(one)
        for one in others[:_NAMED]
    )
    more = f" and {len(others) - _NAMED} more" if len(others) > _NAMED else ""
    return f", which also mends {named}{more}"


def _called(finding: Finding) -> str:
    return f"{check_words(finding.check, finding.setting)} of {', '.join(finding.parts)}"


# symptoms


def _with_causes(made: Sequence[Mended], alone: set[str]) -> list[Finding]:
    """Return findings, each symptom with the remedy of what causes it.

    Parameters
    ----------
    alone
        Ids of the findings that have not been given a common remedy yet.
    """
    told = {one.finding.id: one.finding for one in made}
    symptoms: dict[str, list[Finding]] = {}
    for one in made:
        cause = _cause(one, made) if one.finding.id in alone else None
        if cause is None or cause.outcome is None:
            continue
        symptoms.setdefault(cause.finding.id, []).append(one.finding)
        remedy = cause.outcome.remedy
        text = f"goes with: {remedy.text} ({_called(cause.finding)})"
        told[one.finding.id] = replace(one.finding, remedy=text, passes=remedy.passes, change=remedy.change)
    for ident, gone in symptoms.items():
        if ident in alone and ident not in {other.id for each in symptoms.values() for other in each}:
            told[ident] = replace(told[ident], remedy=told[ident].remedy + _also(told[ident], gone))
    return list(told.values())


def _cause(symptom: Mended, made: Sequence[Mended]) -> Mended | None:
    """Return the finding, at least as bad, whose remedy also mends this one while its own does not mend that.

    Of several the one whose remedy mends most.
    """
    finding = symptom.finding
    own = frozenset[str]() if symptom.outcome is None else frozenset(symptom.outcome.after)
    found: list[tuple[int, Mended]] = []
    for one in made:
        other = one.finding
        if one.outcome is None or not one.clean or other.id == finding.id:
            continue
        worse = KINDS.index(other.kind) <= KINDS.index(finding.kind)
        stays = symptom.outcome is None or other.id in own
        if worse and stays and finding.id not in one.outcome.after and not _in_common(finding, other):
            found.append((len(one.outcome.after), one))
    return min(found, key=lambda pair: pair[0])[1] if found else None


def _in_common(one: Finding, other: Finding) -> bool:
    return bool({change.key for change in one.change} & {change.key for change in other.change})
