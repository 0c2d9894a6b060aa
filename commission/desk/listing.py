# ruff: noqa: S608 - the texts are put together from our own names only; what is asked is always bound
"""Which sites a supervisor wants to see: by what is open, by words, by who or what they have in common.

The order of the ids is asked once, and the rows of those in view when they come into view, so that a list of
a hundred thousand sites is as quick as one of ten.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any, Final, Protocol, TypeAlias

from commission.desk.queries import Query

DAY: Final = 86400
SiteRow: TypeAlias = dict[str, Any]


class Answers(Protocol):
    """What answers queries by their names: the embedded index, a database, an export."""

    def ask(self, name: str, /, **asked: Any) -> list[dict[str, Any]]:
        """Return the rows of a named query."""


class Asked(Answers, Protocol):
    """What also answers a text of SQL: the embedded index."""

    def rows(self, sql: str, asked: dict[str, Any]) -> list[dict[str, Any]]:
        """Return the rows of a text of SQL."""


@dataclass(frozen=True, slots=True)
class Show:
    """One way to narrow the list."""

    key: str
    text: str
    """What is shown, in words."""
    where: str
    """Condition on a site ``s``; ``:now`` is the time."""


SHOWS: Final = (
    Show("all", "all sites", "1 = 1"),
    Show("look", "something to look at", "s.score < 7"),
    Show("broken", "a record is not as it was sealed", "s.broken > 0"),
    Show("unreadable", "files that cannot be read", "s.unreadable > 0"),
    Show("gaps", "a record is missing from the chain", "s.gaps > 0"),
    Show("stops", "stops work, or must not be energised", "s.stopped > 0 OR s.stop_findings > 0"),
    Show("open", "findings open", "s.open_findings > 0"),
    Show("failed", "readings out of band, nobody decided", "s.undecided > 0"),
    Show("out", "readings out of band, whatever was decided", "s.failed > 0"),
    Show("accepted", "readings or findings accepted", "s.accepted > 0 OR s.accepted_findings > 0"),
    Show("deferred", "put off until later", "s.deferred > 0"),
    Show("past", "put off, and the date is past", "s.deferred_until < :now"),
    Show("drift", "readings that drifted far", "s.drifts_act > 0 OR s.drifts_advise > 0"),
    Show("differ", "settings other than recommended", "s.differing > 0"),
    Show("released", "hold points released by a person", "s.released > 0"),
    Show("odd", "late corrections, readings typed fast", "s.late > 0 OR s.overturned > 0 OR s.fast > 0"),
    Show("unsigned", "records that nobody signed", "s.unsigned > 0"),
    Show("waiting", "waits to be countersigned", "s.waiting > 0"),
    Show("returned", "returned, and nobody has answered", "s.returned > 0"),
    Show("overdue", "service overdue", "s.next_due < :now"),
    Show("month", "service due within 30 days", f"s.next_due >= :now AND s.next_due < :now + {30 * DAY}"),
    Show("quarter", "service due within 90 days", f"s.next_due >= :now AND s.next_due < :now + {90 * DAY}"),
    Show("never", "no date for the next service", "s.next_due IS NULL"),
)
SHOW: Final = {one.key: one for one in SHOWS}

DIMENSIONS: Final[dict[str, str]] = {
    "technician": "s.site IN (SELECT r.site FROM record r WHERE r.technician_key = :member)",
    "chemistry": "s.chemistry = :member",
    "device class": "s.site IN (SELECT h.site FROM held h WHERE h.kind = 'device' AND h.value = :member)",
    "instrument": (
        "s.site IN (SELECT r.site FROM instrument i JOIN record r ON r.record = i.record "
        "WHERE i.meter = :member)"
    ),
}
"""What sites are put together by, with the condition for one group; ``name`` of a tally is the member."""
_ORDER: Final = "ORDER BY s.score, coalesce(s.next_due, 9999999999), s.site"
_MOST: Final = 6
"""Words that are searched for; more only narrow what is narrow already."""


@dataclass(frozen=True, slots=True)
class Wanted:
    """What is wanted of the sites."""

    show: str = "all"
    words: str = ""
    dimension: str = ""
    member: str = ""

    def narrowed(self, **changed: str) -> Wanted:
        """Return the same with something else wanted."""
        return replace(self, **changed)


def wanted_sql(wanted: Wanted, now: int) -> tuple[str, dict[str, Any]]:
    """Return the text that asks for the ids of the sites, worst first, and what is bound in it."""
    where, given = [SHOW[wanted.show].where], dict[str, Any]()
    if ":now" in where[0]:
        given["now"] = now
    if wanted.dimension:
        where.append(DIMENSIONS[wanted.dimension])
        given["member"] = wanted.member
    words = wanted.words.casefold().split()[:_MOST]
    if words:
        names = [f"word_{chr(97 + at)}" for at in range(len(words))]
        given |= dict(zip(names, words, strict=True))
        holds = " AND ".join(f"strpos(x.words, :{name}) > 0" for name in names)
        where.append(f"s.site IN (SELECT x.site FROM search x WHERE {holds})")
    told = " AND ".join(f"({one})" for one in where)
    return f"SELECT s.site FROM site s WHERE {told} {_ORDER}", given


def site_ids(index: Asked, wanted: Wanted, now: int) -> list[str]:
    """Return the ids of the sites that are wanted, worst first."""
    sql, given = wanted_sql(wanted, now)
    return [row["site"] for row in _rows(index, sql, given)]


def site_rows(index: Asked, ids: Sequence[str]) -> dict[str, SiteRow]:
    """Return the rows of some sites by their ids."""
    if not ids:
        return {}
    names = [f"site_{_letters(at)}" for at in range(len(ids))]
    sql = f"SELECT * FROM site WHERE site IN ({', '.join(f':{name}' for name in names)})"
    return {row["site"]: row for row in _rows(index, sql, dict(zip(names, ids, strict=True)))}


def _letters(at: int) -> str:
    """Return a number in letters, since what is bound is named by letters only."""
    return "".join(chr(97 + int(digit)) for digit in str(at))


def _rows(index: Asked, sql: str, given: dict[str, Any]) -> list[dict[str, Any]]:
    return index.rows(Query("listing", "", sql).text("sqlite"), given)
