# ruff: noqa: S608 - the texts are put together from our own names only; what is asked is always bound
"""The questions of the desk, each one text of SQL for every engine.

The portable subset: ``:name`` for what is asked, ``strpos`` for a text within another, no null among
what is asked (``''`` and 0 instead), every order complete, so that every engine gives the same rows in
the same order.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any, Final

from commission.desk.summaries import BROKEN, NO_COPY
from commission.desk.table import Engine

MANY: Final = 500
"""Rows that a screen asks for at once."""
_ASKED: Final = re.compile(r"(?<!:):([a-z_]+)")


@dataclass(frozen=True, slots=True)
class Query:
    """One question."""

    name: str
    asks: str
    """What it answers, for a person."""
    sql: str
    given: dict[str, Any] = field(default_factory=dict)
    """What is asked with, where the caller does not say."""

    @property
    def names(self) -> tuple[str, ...]:
        """Return the names of what has to be given, in order."""
        return tuple(dict.fromkeys(_ASKED.findall(self.sql)))

    def values(self, asked: dict[str, Any]) -> dict[str, Any]:
        """Return everything that the text asks for.

        Raises
        ------
        KeyError
            If something is missing, or given and not asked for.
        """
        known = self.given | asked
        wrong = set(known).symmetric_difference(self.names)
        if wrong:
            raise KeyError(f"{self.name} asks for {', '.join(self.names) or 'nothing'}, not {sorted(wrong)}")
        return known

    def text(self, engine: Engine) -> str:
        """Return the text as an engine takes it; the one place where engines differ."""
        if engine == "sqlite":
            return self.sql.replace("strpos(", "instr(")
        if engine == "duckdb":
            return _ASKED.sub(r"$\1", self.sql)
        return _ASKED.sub(r"%(\1)s", self.sql.replace("%", "%%"))


def plain_rows(names: Sequence[str], rows: Iterable[Sequence[Any]]) -> list[dict[str, Any]]:
    """Return what an engine answered as dictionaries, its numbers as every engine has them."""
    return [{name: _number(value) for name, value in zip(names, row, strict=True)} for row in rows]


def _number(value: Any) -> Any:
    if isinstance(value, Decimal):
        return int(value) if value == value.to_integral_value() else float(value)
    return value


def _query(name: str, asks: str, sql: str, /, **given: Any) -> Query:
    return Query(name, asks, sql, given)


_PAGE: Final[dict[str, Any]] = {"limit": MANY, "offset": 0}
_RECORDS: Final = """
    r.record, r.site, r.site_name, r.root, r.path, r.kind, r.state, r.signed_by, r.signed_at, r.signed_text,
    r.answer, r.answered_by, r.answered_text, r.started_at, r.started_text, r.technician"""
_CONCERNS: Final = """
    c.kind, c.site, r.site_name, c.record, c.place, c.subject, c.point, c.says, c.disposition, c.decided_by,
    c.until_at, c.until_text, r.started_text, r.technician"""

_WORDS: Final = """
    JOIN search x ON x.record = r.record AND strpos(x.words, :first) > 0 AND strpos(x.words, :second) > 0
    AND strpos(x.words, :third) > 0"""
_ANY: Final[dict[str, Any]] = {"first": "", "second": "", "third": ""}
"""No words: every record holds an empty text."""

_NO_COPY_OF_FOUND: Final = f"{NO_COPY.removesuffix(')')} AND o.record <> x.record)"
"""As ``NO_COPY``; as it names what was searched, it is asked of what has the words only: far sooner."""
_BY_SCORE: Final = "ORDER BY score, coalesce(next_due, 9999999999), site LIMIT :limit OFFSET :offset"
QUERIES: Final = (
    _query(
        "sites",
        "the latest state of every site, worst first",
        f"SELECT * FROM site {_BY_SCORE}",
        **_PAGE,
    ),
    _query("site", "the latest state of one site", "SELECT * FROM site WHERE site = :site"),
    _query(
        "overview",
        "how many there are of what a supervisor counts",
        """
        SELECT count(*) AS sites, coalesce(sum(records), 0) AS records, coalesce(sum(waiting), 0) AS waiting,
            coalesce(sum(returned), 0) AS returned, coalesce(sum(unsigned), 0) AS unsigned,
            coalesce(sum(broken), 0) AS broken, coalesce(sum(unreadable), 0) AS unreadable,
            coalesce(sum(gaps), 0) AS gaps, coalesce(sum(failed), 0) AS failed,
            coalesce(sum(open_findings), 0) AS open_findings, coalesce(sum(undecided), 0) AS undecided,
            coalesce(sum(accepted), 0) AS accepted, coalesce(sum(deferred), 0) AS deferred,
            coalesce(sum(failed_deferred), 0) AS failed_deferred, coalesce(sum(differing), 0) AS differing,
            coalesce(sum(CASE WHEN next_due < :now THEN 1 ELSE 0 END), 0) AS overdue
        FROM site""",
    ),
    _query(
        "states",
        "how many records stand in which state",
        "SELECT state, count(*) AS records FROM record GROUP BY state ORDER BY state",
    ),
    _query(
        "concerns",
        "what still holds of one kind, over all sites: see tables.CONCERNS",
        f"""
        SELECT {_CONCERNS} FROM concern c JOIN record r ON r.record = c.record {_WORDS}
        WHERE c.kind = :kind AND c.alive = 1
        ORDER BY c.kind, c.alive, c.rank, c.site, c.record, c.place LIMIT :limit OFFSET :offset""",
        **_PAGE,
        **_ANY,
    ),
    _query(
        "concern counts",
        "how many still hold, by kind",
        """
        SELECT kind, count(*) AS many, count(DISTINCT site) AS sites FROM concern WHERE alive = 1
        GROUP BY kind ORDER BY kind""",
    ),
    _query(
        "concerns of site",
        "what still holds at one site, worst first",
        f"""
        SELECT {_CONCERNS} FROM concern c JOIN record r ON r.record = c.record
        WHERE c.site = :site AND c.alive = 1 ORDER BY c.rank, r.started_at, c.record, c.place
        LIMIT :limit""",
        limit=MANY,
    ),
    _query(
        "put off",
        "what was put off until a date, the earliest first",
        f"""
        SELECT {_CONCERNS} FROM concern c JOIN record r ON r.record = c.record {_WORDS}
        WHERE c.kind = 'put off' AND c.alive = 1 AND coalesce(c.until_at, 0) < :until
        ORDER BY coalesce(c.until_at, 0), c.site, c.record, c.place LIMIT :limit OFFSET :offset""",
        **_PAGE,
        **_ANY,
    ),
    _query(
        "unsigned",
        "records that nobody signed",
        f"""
        SELECT {_RECORDS} FROM record r {_WORDS}
        WHERE r.signed = 0 AND r.state NOT IN ('malformed', 'no record', 'unreadable')
        ORDER BY coalesce(r.started_at, 0), r.root, r.path LIMIT :limit OFFSET :offset""",
        **_PAGE,
        **_ANY,
    ),
    _query(
        "uncountersigned",
        "signed records that nobody answered, the longest waiting first",
        f"""
        SELECT {_RECORDS} FROM record r {_WORDS}
        WHERE r.signed = 1 AND r.answer = '' AND {_NO_COPY_OF_FOUND}
        ORDER BY r.signed_at, r.record LIMIT :limit OFFSET :offset""",
        **_PAGE,
        **_ANY,
    ),
    _query(
        "broken",
        "records that are not as they were sealed, with what is wrong",
        f"""
        SELECT {_RECORDS}, r.says FROM record r {_WORDS}
        WHERE r.state IN {BROKEN}
        ORDER BY r.state, r.site, r.root, r.path LIMIT :limit OFFSET :offset""",
        **_PAGE,
        **_ANY,
    ),
    _query(
        "no records",
        "files that are no records",
        """
        SELECT root, path, says FROM record WHERE state = 'no record' ORDER BY root, path
        LIMIT :limit OFFSET :offset""",
        **_PAGE,
    ),
    _query(
        "chains",
        "what is odd about the chains of records",
        f"""
        SELECT {_RECORDS}, l.says, l.gap FROM link l JOIN record r ON r.record = l.record {_WORDS}
        ORDER BY l.gap DESC, l.site, l.record, l.place LIMIT :limit OFFSET :offset""",
        **_PAGE,
        **_ANY,
    ),
    _query(
        "chain of site",
        "what is odd about the chain of the records of one site",
        "SELECT record, says, gap FROM link WHERE site = :site ORDER BY gap DESC, record, place",
    ),
    _query("chain count", "how much is odd about the chains of records", "SELECT count(*) AS many FROM link"),
    _query(
        "due",
        "sites whose next service is due before a moment, the longest overdue first",
        """
        SELECT site, name, next_due, next_text, next_interval, technician, started_text, score FROM site
        WHERE next_due < :until ORDER BY next_due, site LIMIT :limit OFFSET :offset""",
        **_PAGE,
    ),
    _query(
        "due at site",
        "every interval of one site with its date",
        """
        SELECT d.every, max(d.due_at) AS due_at, max(d.due_text) AS due_text
        FROM record r JOIN due d ON d.record = r.record WHERE r.site = :site
        GROUP BY d.every HAVING max(d.holds) = 1 ORDER BY max(d.due_at), d.every""",
    ),
    _query(
        "tally",
        "counts and rates by site, technician, chemistry, device class or instrument, the highest rate first",
        """
        SELECT name, label, kind, sites, records, readings, judged, failed, accepted, rate FROM tally
        WHERE dimension = :dimension ORDER BY rate DESC, name LIMIT :limit OFFSET :offset""",
        **_PAGE,
    ),
    _query(
        "meters",
        "instruments of several sites, the one first whose readings lie furthest from those of its kind",
        """
        SELECT t.name, t.label, t.kind, t.sites, t.records, t.judged, t.failed, count(*) OVER () AS meters
        FROM tally t JOIN (
            SELECT kind, sum(placed) AS placed, sum(deviation) AS deviation
            FROM tally WHERE dimension = 'instrument' AND placed > 0 GROUP BY kind
        ) o ON o.kind = t.kind
        WHERE t.dimension = 'instrument' AND t.placed >= :least AND t.sites > 1 AND o.placed > t.placed
        ORDER BY t.placed * (t.deviation / t.placed - (o.deviation - t.deviation) / (o.placed - t.placed))
            * (t.deviation / t.placed - (o.deviation - t.deviation) / (o.placed - t.placed)) DESC, t.name
        LIMIT :limit""",
        least=8,
        limit=MANY,
    ),
    _query(
        "meters of kind",
        "instruments of a kind, the most used first: what others are held beside",
        """
        SELECT name FROM tally WHERE dimension = 'instrument' AND kind = :kind AND placed > 0
        ORDER BY placed DESC, name LIMIT :limit""",
        limit=MANY,
    ),
    _query(
        "banded readings of meter",
        "readings with one instrument, of its newest records, that have a band of two ends which is not wide",
        """
        SELECT m.kind, m.site, p.step, q.value, q.low, q.high
        FROM (
            SELECT i.record, i.instrument, i.kind, r.site, r.started_at, r.root, r.path
            FROM instrument i JOIN record r ON r.record = i.record WHERE i.meter = :meter AND i.placed > 0
            ORDER BY coalesce(r.started_at, 0) DESC, r.root, r.path LIMIT :records
        ) m JOIN reading q ON q.record = m.record AND q.instrument = m.instrument
        JOIN point p ON p.point = q.point
        WHERE q.superseded = 0 AND q.compared IS NULL AND q.text = '' AND q.value IS NOT NULL
            AND q.high > q.low AND q.high - q.low <= :wide * abs(q.high + q.low)
        ORDER BY coalesce(m.started_at, 0) DESC, m.root, m.path, q.place LIMIT :limit""",
        records=60,
        limit=MANY,
    ),
    _query(
        "readings of meter",
        "what was out of band with one instrument, over all sites",
        """
        SELECT r.site, r.site_name, r.record, q.place, p.name, q.value, q.text, p.unit, q.low, q.high,
            q.compared, q.verdict, q.measured_at
        FROM instrument i JOIN record r ON r.record = i.record
        JOIN reading q ON q.record = i.record AND q.instrument = i.instrument
        JOIN point p ON p.point = q.point
        WHERE i.meter = :meter AND i.failed > 0 AND q.superseded = 0
            AND q.verdict IN ('fail', 'conditional fail', 'stop work')
        ORDER BY coalesce(q.measured_at, 0) DESC, r.record, q.place LIMIT :limit""",
        limit=MANY,
    ),
    _query(
        "points of site",
        "what was read at one site, the most often read first",
        """
        SELECT p.name, p.unit, count(*) AS readings, max(q.measured_at) AS newest
        FROM record r JOIN reading q ON q.record = r.record JOIN point p ON p.point = q.point
        WHERE r.site = :site AND q.superseded = 0 AND q.value IS NOT NULL
        GROUP BY p.name, p.unit ORDER BY count(*) DESC, p.name, p.unit""",
    ),
    _query(
        "recall",
        "sites that have something: a battery profile, firmware, device, setting, instrument of a value",
        """
        SELECT h.kind, h.name, h.value, h.number, h.unit, h.part, s.site, s.name AS site_name, s.place,
            h.record
        FROM held h JOIN site s ON s.site = h.site
        WHERE h.kind = :kind AND (:name = '' OR h.name = :name) AND h.value = :value
            AND (:unit = '' OR h.unit = :unit)
        ORDER BY h.site, h.name, h.part, h.record LIMIT :limit""",
        name="",
        unit="",
        limit=MANY,
    ),
    _query(
        "recall between",
        "sites with a setting between two numbers",
        """
        SELECT h.kind, h.name, h.value, h.number, h.unit, h.part, s.site, s.name AS site_name, s.place,
            h.record
        FROM held h JOIN site s ON s.site = h.site
        WHERE h.kind = 'setting' AND h.name = :name AND h.number >= :low AND h.number <= :high
        ORDER BY h.number, h.site, h.part LIMIT :limit""",
        limit=MANY,
    ),
    _query(
        "held",
        "what there is to recall, and how often",
        """
        SELECT name, value, number, unit, count(*) AS many, count(DISTINCT site) AS sites FROM held
        WHERE kind = :kind
        GROUP BY name, value, number, unit ORDER BY count(*) DESC, name, value, unit, number LIMIT :limit""",
        limit=MANY,
    ),
    _query(
        "records of site",
        "the records of one site, newest first",
        f"""
        SELECT {_RECORDS}, r.says, r.failed, r.accepted, r.undecided, r.open_findings FROM record r
        WHERE r.site = :site AND r.state <> 'no record'
        ORDER BY coalesce(r.started_at, 0) DESC, r.root, r.path LIMIT :limit""",
        limit=MANY,
    ),
    _query(
        "records of technician",
        "the records of one technician, newest first",
        f"""
        SELECT {_RECORDS}, r.failed, r.accepted, r.open_findings FROM record r {_WORDS}
        WHERE r.technician_key = :technician
        ORDER BY coalesce(r.started_at, 0) DESC, r.root, r.path LIMIT :limit OFFSET :offset""",
        **_PAGE,
        **_ANY,
    ),
    _query("record", "one record", "SELECT * FROM record WHERE record = :record"),
    _query(
        "record at",
        "the record in a file",
        "SELECT * FROM record WHERE root = :root AND path = :path",
    ),
    _query(
        "concerns of record",
        "what has to be looked at first in one record",
        "SELECT * FROM concern WHERE record = :record ORDER BY place",
    ),
    _query(
        "comments of record",
        "what was said when it was answered",
        """
        SELECT c.seal, s.says AS answer, s.name, s.at_text, c.step, c.parts, c.says
        FROM comment c JOIN seal s ON s.record = c.record AND s.place = c.seal
        WHERE c.record = :record ORDER BY c.seal, c.place""",
    ),
)
BY_NAME: Final = {query.name: query for query in QUERIES}
