"""The chain of a site's records from their rows, by the rules of ``records.chain``."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import Final, TypeAlias

from commission.desk.table import Row
from commission.desk.tables_of_all import LINK
from commission.records.chain import chain_told
from commission.records.seals import SealState
from commission.records.types import State, VerifyResult

Member: TypeAlias = tuple[int, int, str, str, str, str, str, str, int | None]
"""Record, root, path, site, visit, state, signed by, previous, started at."""
MEMBERS: Final = """
    SELECT r.record, r.root, r.path, r.site, r.visit, r.state, r.signed_by, r.previous, r.started_at
    FROM record r
    WHERE r.state NOT IN ('no record', 'malformed', 'unreadable') AND r.site IN (SELECT site FROM touched)
    ORDER BY r.site, r.root, r.path"""
SEALS: Final = """
    SELECT s.record, s.digest FROM seal s JOIN record r ON r.record = s.record
    WHERE r.site IN (SELECT site FROM touched) ORDER BY s.record, s.place"""
_STATES: Final[dict[str, State]] = {
    "rewritten": "rewritten",
    "changed": "changed",
    "malformed": "malformed",
}


def link_rows(members: Iterable[Member], seals: Iterable[tuple[int, str]]) -> list[Row]:
    """Return what is odd about the chains of sites.

    A record that the strict reader has not seen yet is taken as what it says it is: its own state says that
    it is not checked.
    """
    digests: dict[int, list[str]] = defaultdict(list)
    for record, digest in seals:
        digests[record].append(digest)
    sites: dict[str, list[Member]] = defaultdict(list)
    for member in members:
        sites[member[3]].append(member)
    return [
        row
        for site, found in sites.items()
        if not _surely_in_order(found, digests)
        for row in _of(site, found, digests)
    ]


def _surely_in_order(found: list[Member], digests: dict[int, list[str]]) -> bool:
    """Say that nothing can be odd about a chain, without working it out; nearly all are so.

    All stand as they were sealed, each of a visit of its own; the first names none before it, and every other
    one names a record that is here and that no other one names.
    """
    owners = {digest: member[0] for member in found for digest in digests[member[0]]}
    begun = min((member[8] for member in found if member[8] is not None), default=None)
    followed: set[int] = set()
    visits: set[str] = set()
    for record, _, _, _, visit, state, _, previous, started in found:
        if state in _STATES or visit in visits:
            return False
        visits.add(visit)
        if not previous:
            if started is None or started != begun:
                return False
        elif (before := owners.get(previous)) is None or before in followed:
            return False
        else:
            followed.add(before)
        if previous in digests[record]:
            return False
    return True


def _of(site: str, found: list[Member], digests: dict[int, list[str]]) -> Iterator[Row]:
    paths = {Path(str(member[1]), member[2]): member[0] for member in found}
    results = [(Path(str(member[1]), member[2]), _result(member, digests[member[0]])) for member in found]
    places: dict[int, int] = defaultdict(int)
    for told in chain_told(results):
        record = paths[told.path]
        yield LINK.row(
            {
                "record": record,
                "place": places[record],
                "site": site,
                "says": told.text,
                "gap": int(told.gap),
            }
        )
        places[record] += 1


def _result(member: Member, digests: list[str]) -> VerifyResult:
    _, _, _, site, visit, state, signed_by, previous, started = member
    return VerifyResult(
        _STATES.get(state, "intact"),
        digest=digests[-1] if digests else "",
        visit=visit,
        signed_by=signed_by,
        seals=tuple(_seal(digest) for digest in digests),
        previous=previous,
        site=site,
        started_at=None if started is None else datetime.fromtimestamp(started, UTC),
    )


def _seal(digest: str) -> SealState:
    return SealState("", "", "", None, (), bytes_hold=True, data_hold=None, signature="none", digest=digest)
