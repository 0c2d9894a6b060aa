"""The chain of a site's records: each names the seal of the one before it, so that a missing one shows."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Final

from commission.errors import CommissionError, Problem, RecordError
from commission.records.types import VerifyResult
from commission.records.verify import content_of, verify_bytes
from commission.visit.types import Service

_SHORT: Final = 19
"""Letters of a digest that are said: ``sha256:`` and twelve of it."""


@dataclass(frozen=True, slots=True)
class Before:
    """The record that comes before one that is to be written."""

    digest: str = ""
    """Its last seal's; empty where there is none."""
    name: str = ""
    visit: str = ""
    """Id of the visit that it is a record of."""
    passed_over: tuple[str, ...] = ()
    """Records of the site that were found and cannot be built on, with the reason."""


def record_before(folder: Path, site: str, visit: str) -> Before:
    """Return the newest intact signed record of a site in a folder, by when its visit began.

    The record of the visit itself, where it was written already, keeps the one that it names.

    Raises
    ------
    RecordError
        If the folder cannot be read.
    """
    found: list[tuple[datetime, str, VerifyResult]] = []
    passed_over = []
    for path in _of_site(folder, site):
        try:
            result = verify_bytes(content_of(path))
        except CommissionError as error:
            passed_over.append(str(error))
            continue
        if result.state != "intact":
            passed_over.append(f"{path.name} is {result.state} and was passed over")
        elif result.visit == visit:
            name = "the record that it names already" if result.previous else ""
            return Before(result.previous, name, visit)
        elif result.site == site and result.signed_by and result.started_at is not None:
            found.append((result.started_at, path.name, result))
    if not found:
        return Before(passed_over=tuple(passed_over))
    _, name, newest = max(found, key=lambda item: item[:2])
    return Before(newest.digest, name, newest.visit, tuple(passed_over))


def _of_site(folder: Path, site: str) -> list[Path]:
    """Return the files that are named as a site's records are."""
    try:
        return sorted(path for path in folder.iterdir() if path.match(f"{site}_*.toml"))
    except FileNotFoundError:
        return []
    except OSError as error:
        wrong = f"cannot be read: {error.strerror or error}"
        raise RecordError([Problem(str(folder), "folder", "", wrong, "")]) from None


def named_before(path: Path, site: str) -> Before:
    """Return a record that was named as the one before.

    Raises
    ------
    RecordError
        If it cannot be read, is not intact, or is of another site.
    """
    result = verify_bytes(content_of(path))
    if result.state != "intact":
        wrong = f"is {result.state}: {'; '.join(result.reasons)}"
        raise RecordError([Problem(str(path), "record before", "", wrong, "an intact record")])
    if result.site != site:
        wrong = "is a record of another site"
        raise RecordError([Problem(str(path), "record before", result.site, wrong, f"one of {site}")])
    return Before(result.digest, path.name, result.visit)


def gone_on_from(service: Service, found: Before, *, named: bool) -> Before:
    """Return the record that a service visit goes on from, whatever else was found in the meantime.

    Its seal is that which stood when the visit began, also where another was put below it since.

    Parameters
    ----------
    found
        The newest of the folder, or the one that a person named.
    named
        Whether a person named it.

    Raises
    ------
    RecordError
        If another visit's record is named: what was compared is of the one that the visit began with.
    """
    if not service.previous_digest:
        return found
    same = found.visit == service.previous_visit
    if named and not same:
        wrong = f"is the record of {found.visit}; this visit goes on from that of {service.previous_visit}"
        raise RecordError([Problem(found.name, "record before", "", wrong, "leave the line empty")])
    said = found.passed_over
    if found.visit and not same:
        said = (*said, f"{found.name} was written since: it and this record follow the same one")
    name = found.name if same else f"the record of {service.previous_visit}"
    return Before(service.previous_digest, name, service.previous_visit, said)


@dataclass(frozen=True, slots=True)
class Told:
    """What is odd about a record's place in its chain."""

    path: Path
    text: str
    gap: bool = True
    """A record is missing, false, or beside the chain; False where it can also be in order so."""


def chain_told(results: Sequence[tuple[Path, VerifyResult]]) -> tuple[Told, ...]:
    """Return what is odd about the chains of the sites whose records these are."""
    sites: dict[str, list[tuple[Path, VerifyResult]]] = defaultdict(list)
    for path, result in results:
        if result.state != "malformed" and result.site:
            sites[result.site].append((path, result))
    return tuple(told for rows in sites.values() for told in _of(rows))


def _of(rows: list[tuple[Path, VerifyResult]]) -> Iterator[Told]:
    """Yield what is odd among the records of one site."""
    by_digest: dict[str, tuple[Path, VerifyResult]] = {}
    for path, result in rows:
        for seal in result.seals:
            standing = by_digest.get(seal.digest)
            if standing is None or standing[1].state != "intact":
                by_digest[seal.digest] = (path, result)
    yield from _twice(rows)
    yield from _gaps(rows, by_digest)
    yield from _forks(rows, by_digest)
    yield from _unlinked(rows)


def _first(result: VerifyResult) -> str:
    """Return the digest of a record's first seal, which stays when it is countersigned."""
    return result.seals[0].digest if result.seals else result.digest


def _twice(rows: list[tuple[Path, VerifyResult]]) -> Iterator[Told]:
    """Yield where two different records are of one visit."""
    known: dict[str, tuple[Path, str]] = {}
    for path, result in rows:
        other = known.setdefault(result.visit, (path, _first(result)))
        if other[1] != _first(result):
            yield Told(path, f"{other[0].name} is another record of the same visit, {result.visit}")


def _gaps(
    rows: list[tuple[Path, VerifyResult]], by_digest: dict[str, tuple[Path, VerifyResult]]
) -> Iterator[Told]:
    for path, result in rows:
        if not result.previous:
            continue
        before = by_digest.get(result.previous)
        if before is None:
            told = f"a record of this site is missing before it: {result.previous[:_SHORT]}… is not here"
            yield Told(path, told)
        elif before[1].state != "intact":
            yield Told(path, f"the record before it, {before[0].name}, is {before[1].state}")


def _forks(
    rows: list[tuple[Path, VerifyResult]], by_digest: dict[str, tuple[Path, VerifyResult]]
) -> Iterator[Told]:
    """Yield where two records of different visits follow the same one."""
    followers: dict[str, tuple[Path, VerifyResult]] = {}
    for path, result in sorted(rows, key=lambda row: row[0]):
        if not result.previous or result.state != "intact":
            continue
        before = by_digest.get(result.previous)
        other = followers.setdefault(_first(before[1]) if before else result.previous, (path, result))
        if other[1].visit != result.visit:
            yield Told(
                path, f"{other[0].name} follows the same record: one of the two stands beside the chain"
            )


def _unlinked(rows: list[tuple[Path, VerifyResult]]) -> Iterator[Told]:
    """Yield signed records that name none before them although there is an earlier one."""
    signed = [(path, one) for path, one in rows if one.signed_by and one.started_at is not None]
    begun = min((one.started_at for _, one in signed if one.started_at is not None), default=None)
    for path, result in signed:
        later = begun is not None and result.started_at is not None and result.started_at > begun
        if later and not result.previous:
            yield Told(path, "it names no record before it, although one of this site is earlier", gap=False)
