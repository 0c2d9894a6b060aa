"""What a check of PV yields: findings, and what it lacks, so that the same thing is asked for once."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import TypeAlias

from commission.design.types import Found
from commission.figure import Quantity
from commission.sheet.known import gaps, not_checked


@dataclass(frozen=True, slots=True)
class Lack:
    """Something that a check lacks."""

    check: str
    parts: tuple[str, ...]
    missing: tuple[str, ...]


PvFound: TypeAlias = Found | Lack


def lacking(check: str, parts: tuple[str, ...], *quantities: Quantity) -> Iterator[Lack]:
    """Yield what a check lacks of some quantities, nothing where all are known."""
    missing = gaps(quantities)
    if missing:
        yield Lack(check, parts, missing)


def asked_once(found: Iterable[PvFound]) -> Iterator[Found]:
    """Yield findings, then one gap for each check; what several lack is asked for by the first of them only.

    Findings come first, since of two with one id the first counts.
    """
    asked: dict[str, tuple[str, tuple[str, ...]]] = {}
    for one in found:
        if isinstance(one, Found):
            yield one
        else:
            for missing in one.missing:
                asked.setdefault(missing, (one.check, one.parts))
    for check, parts in dict.fromkeys(asked.values()):
        own = tuple(missing for missing, asker in asked.items() if asker == (check, parts))
        yield Found(not_checked(check, parts, own))
