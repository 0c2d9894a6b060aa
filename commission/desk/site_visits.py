"""The visits of one site from its records, for trends: each once, with what was passed over."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from commission.checklist.types import ReadingKey
from commission.errors import CommissionError
from commission.records.read import read_record
from commission.visit.types import Visit


@dataclass(frozen=True, slots=True)
class SiteVisits:
    """The visits of a site that can be read, oldest first."""

    visits: tuple[Visit, ...]
    passed_over: tuple[str, ...] = ()
    """What a person should know: records that cannot be read."""


def visits_in(paths: Iterable[Path]) -> SiteVisits:
    """Return the visits that some records of one site hold; a record that cannot be read is told."""
    found: dict[str, Visit] = {}
    said: list[str] = []
    for path in paths:
        try:
            visit = read_record(path).visit
        except CommissionError as error:
            said.append(f"{path.name} was passed over: {error}")
            continue
        other = found.get(visit.id)
        if other is None or len(visit.readings) > len(other.readings):
            found[visit.id] = visit
    ordered = sorted(found.values(), key=lambda visit: visit.started_at)
    return SiteVisits(tuple(ordered), tuple(said))


def key_of(name: str) -> ReadingKey:
    """Return the key of a reading from how it is written: ``step@part+part#index``."""
    step, _, rest = name.partition("@")
    parts, _, index = rest.partition("#")
    told = tuple(part for part in parts.split("+") if part)
    return ReadingKey(step, told, int(index) if index.isdecimal() and index.isascii() else 0)
