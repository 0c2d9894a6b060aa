"""What was not checked, told by what is unknown: one line for what one lot of checks lacks."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from typing import Final

from commission.figure import Gap
from commission.sheet.known import check_words, unknown_words, what_helps
from commission.sheet.types import Finding

_NAMED: Final = 3
"""Checks and parts that a line names before it counts the rest."""
_FIRST: Final = 5
"""Keys that are proposed to be stated first."""


@dataclass(slots=True)
class Untold:
    """One thing that is unknown, with the findings that it leaves open."""

    gap: Gap
    findings: list[Finding] = field(default_factory=list)


def unchecked_lines(open_: Iterable[Untold]) -> Iterator[str]:
    """Yield what is not checked for want of what, and where it is stated.

    What leaves the same checks open stands in one line.
    """
    lots: dict[tuple[str, ...], list[Untold]] = {}
    for one in open_:
        lots.setdefault(tuple(finding.id for finding in one.findings), []).append(one)
    for lot in lots.values():
        yield _line(lot[0].findings, [one.gap for one in lot])


def _line(findings: Sequence[Finding], gaps: Sequence[Gap]) -> str:
    parts = _listed(part for one in findings for part in one.parts)
    checks = _listed(check_words(one.check, one.setting) for one in findings)
    count = f"{len(findings)} checks of " if len(findings) > 1 else ""
    helps = what_helps(gaps)
    return f"{count}{parts} ({checks}): {unknown_words(gaps)}{f': {helps}' if helps else ''}"


def untold(findings: Iterable[Finding]) -> list[Untold]:
    """Return everything that is unknown, what opens most checks first."""
    made: dict[str, Untold] = {}
    for finding in findings:
        for name in finding.missing:
            gap = name if isinstance(name, Gap) else Gap(name)
            made.setdefault(gap.key or gap, Untold(gap)).findings.append(finding)
    return sorted(made.values(), key=lambda one: -len(one.findings))


def state_first(open_: Iterable[Untold]) -> Iterator[str]:
    """Yield which keys of the site file to state first, where there is more than one to choose from."""
    keys = [one for one in open_ if one.gap.key]
    if len(keys) > 1:
        told = ", ".join(f"{one.gap.key} ({_checks(len(one.findings))})" for one in keys[:_FIRST])
        more = f", then {len(keys) - _FIRST} more" if len(keys) > _FIRST else ""
        yield f"state these first: {told}{more}"


def _checks(many: int) -> str:
    return "1 check" if many == 1 else f"{many} checks"


def _listed(words: Iterable[str]) -> str:
    """Return words, each once; of many the first few and how many more."""
    each = list(dict.fromkeys(words))
    more = len(each) - _NAMED
    return ", ".join(each) if more < 2 else f"{', '.join(each[:_NAMED])} and {more} more"
