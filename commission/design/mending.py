"""Remedies that are tried: a change is made to the plant and the whole check runs again.

So a remedy that is offered passes its own check by trial, and what it would break elsewhere is known.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import Final

from commission.design.types import Found, Remedy
from commission.errors import CommissionError
from commission.plant.change import changed
from commission.plant.plant import Plant
from commission.sheet.types import KINDS, Finding

_TRIES: Final = 8
"""Remedies of one finding that are tried; a check puts its best first."""

Rerun = Callable[[Plant], Mapping[str, Finding]]
"""All findings of a plant by id, without their remedies tried."""


@dataclass(frozen=True, slots=True)
class _Outcome:
    remedy: Remedy
    gone: bool
    brings: tuple[Finding, ...]
    """Findings that the plant has with the remedy and does not have without."""


def mended(plant: Plant, found: Found, standing: Mapping[str, Finding], rerun: Rerun) -> Finding:
    """Return a finding with the first of its remedies that passes without bringing another finding.

    Where every remedy brings something, the one that brings least is offered and the text says what it
    brings and that none passes both.
    """
    finding, words = found.finding, [one for one in found.remedies if not one.change]
    trials: list[_Outcome] = []
    for remedy in [one for one in found.remedies if one.change][:_TRIES]:
        outcome = _tried(plant, finding, remedy, standing, rerun)
        if outcome is None or not outcome.gone:
            continue
        if not outcome.brings:
            return _with(finding, remedy, "")
        trials.append(outcome)
    if trials:
        best = min(trials, key=_harm)
        brought = "; ".join(f"{one.kind} at {', '.join(one.parts)}: {one.text}" for one in best.brings)
        other = f", or {words[0].text}" if words else ""
        return _with(finding, best.remedy, f"{other}; but it brings {brought}; no single change passes both")
    if words:
        return _with(finding, words[0], "")
    return finding


def _tried(
    plant: Plant, finding: Finding, remedy: Remedy, standing: Mapping[str, Finding], rerun: Rerun
) -> _Outcome | None:
    try:
        after = rerun(changed(plant, remedy.change))
    except CommissionError:  # a change that does not fit the plant is no remedy
        return None
    brings = tuple(
        one
        for ident, one in after.items()
        if one.kind != "advise" and (ident not in standing or _worse(one, standing[ident]))
    )
    return _Outcome(remedy, finding.id not in after, brings)


def _worse(one: Finding, other: Finding) -> bool:
    return KINDS.index(one.kind) < KINDS.index(other.kind)


def _harm(outcome: _Outcome) -> tuple[int, int]:
    worst = min(KINDS.index(one.kind) for one in outcome.brings)
    return -worst, len(outcome.brings)


def _with(finding: Finding, remedy: Remedy, more: str) -> Finding:
    return replace(finding, remedy=remedy.text + more, passes=remedy.passes, change=remedy.change)
