"""What the desk's screens and commands show, as typed values: sites worst first, one site, one record."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any, Final

from commission.desk.index import Index
from commission.desk.queries import FILTERS, MANY
from commission.desk.rows import FileSeen, Rows
from commission.desk.sentences import record_sentence, site_sentence
from commission.desk.tables import BY_NAME
from commission.desk.work import rows_of_file

_WORDS: Final = 3
"""Words that are searched at once; further ones are left aside."""


@dataclass(frozen=True, slots=True)
class SiteLine:
    """One site in a list, worst first by ``summaries.SCORE``, then by the date of the next service."""

    site: str
    name: str
    place: str
    says: str
    """What a supervisor would say of it."""
    score: int
    """0 is worst."""
    record: int
    """Its newest record."""
    started_text: str
    technician: str
    chemistry: str
    state: str
    """Of the newest record."""
    next_text: str
    """Day of the next service; empty where none is known."""
    next_interval: str


@dataclass(frozen=True, slots=True)
class RecordLine:
    """One record in a list."""

    record: int
    site: str
    site_name: str
    root: int
    path: str
    kind: str
    started_text: str
    technician: str
    state: str
    answer: str
    says: str
    """How it stands."""


@dataclass(frozen=True, slots=True)
class Concern:
    """One thing to look at."""

    kind: str
    """One of ``tables.CONCERNS``."""
    says: str
    subject: str
    site: str
    site_name: str
    record: int
    until_text: str = ""
    decided_by: str = ""
    when: str = ""
    """When the visit began."""


@dataclass(frozen=True, slots=True)
class DueLine:
    """One interval of a site."""

    every: str
    on: str
    days: int
    """Until then; negative where overdue."""


@dataclass(frozen=True, slots=True)
class SiteView:
    """One site: its sentence, what still holds, its records, its dates, its chain."""

    line: SiteLine
    first: tuple[Concern, ...]
    records: tuple[RecordLine, ...]
    due: tuple[DueLine, ...]
    chain: tuple[str, ...]
    """What is odd about it."""
    readings: tuple[tuple[str, str, int], ...]
    """Key, unit and how often read, of what has a series."""


@dataclass(frozen=True, slots=True)
class CommentLine:
    """What was said when a record was answered."""

    answer: str
    name: str
    at: str
    step: str
    parts: str
    says: str


@dataclass(frozen=True, slots=True)
class ReadingLine:
    """One reading of a record."""

    key: str
    shown: str
    """As typed."""
    band: str
    verdict: str
    disposition: str
    superseded: bool
    fast: bool
    instrument: str
    measured_at: int | None


@dataclass(frozen=True, slots=True)
class RecordView:
    """One record: what has to be looked at first, then everything."""

    line: RecordLine
    digest: str
    wrong: str
    """What is wrong with the file, in words."""
    first: tuple[Concern, ...]
    comments: tuple[CommentLine, ...]
    readings: tuple[ReadingLine, ...]
    settings: tuple[dict[str, Any], ...]
    findings: tuple[dict[str, Any], ...]
    dispositions: tuple[dict[str, Any], ...]
    people: tuple[dict[str, Any], ...]
    devices: tuple[dict[str, Any], ...]
    instruments: tuple[dict[str, Any], ...]


@dataclass(frozen=True, slots=True)
class MeterLine:
    """One instrument among its kind."""

    meter: str
    label: str
    kind: str
    sites: int
    readings: int
    failed: int
    mean: float
    """Where its readings lie in their bands: 0 the middle, ±1 the ends."""
    others: float
    """Where those of the others of its kind lie."""
    sigmas: float
    """How far that is, in standard errors of a mean of so many readings. Readings of one site are alike, so a
    small excess means little; over 5 the meter is worth a comparison with another one."""


# lists of sites


def site_lines(
    index: Index, now: datetime, *, only: str = "", limit: int = MANY, offset: int = 0
) -> tuple[SiteLine, ...]:
    """Return sites, worst first.

    Parameters
    ----------
    only
        One of ``queries.FILTERS``; empty for all.

    Raises
    ------
    KeyError
        If there is no such filter.
    """
    name = "sites" if not only else f"sites: {only}"
    return tuple(_line(row, now) for row in index.ask(name, limit=limit, offset=offset))


def sites_found(index: Index, typed: str, now: datetime, *, limit: int = MANY) -> tuple[SiteLine, ...]:
    """Return the sites of which a record holds every word that was typed, or its beginning, middle or end."""
    words = sorted(typed.casefold().split(), key=_common)[:_WORDS]
    if not words:
        return site_lines(index, now, limit=limit)
    asked = dict(zip(("first", "second", "third"), words, strict=False))
    return tuple(_line(row, now) for row in index.ask("sites found", limit=limit, **asked))


def _common(word: str) -> tuple[bool, int]:
    """Return by what words are ordered so that the rare ones are looked for first: with digits, then long."""
    return word.isalpha(), -len(word)


def _line(row: dict[str, Any], now: datetime) -> SiteLine:
    names = (
        "site", "name", "place", "score", "record", "started_text", "technician", "chemistry", "state",
        "next_text", "next_interval",
    )  # fmt: skip
    return SiteLine(says=site_sentence(row, now), **{name: row[name] for name in names})


def filters() -> dict[str, str]:
    """Return what a list of sites can be filtered by, with what it means."""
    return dict(FILTERS)


# one site


def site_view(index: Index, site: str, now: datetime) -> SiteView | None:
    """Return one site, None where the index has none of that id."""
    found = index.ask("site", site=site)
    if not found:
        return None
    chain = index.rows(
        "SELECT l.says FROM link l WHERE l.site = :site ORDER BY l.gap DESC, l.record, l.place",
        {"site": site},
    )
    return SiteView(
        line=_line(found[0], now),
        first=tuple(_concern(row) for row in index.ask("concerns of site", site=site)),
        records=tuple(_record_line(row) for row in index.ask("records of site", site=site)),
        due=tuple(_due(row, now) for row in index.ask("due at site", site=site)),
        chain=tuple(row["says"] for row in chain),
        readings=tuple(
            (row["name"], row["unit"], row["readings"]) for row in index.ask("points of site", site=site)
        ),
    )


def _concern(row: dict[str, Any]) -> Concern:
    return Concern(
        kind=row["kind"],
        says=row["says"],
        subject=row["subject"],
        site=row["site"],
        site_name=row.get("site_name", ""),
        record=row["record"],
        until_text=row["until_text"],
        decided_by=row["decided_by"],
        when=row.get("started_text", ""),
    )


def concerns(index: Index, kind: str, *, limit: int = MANY, offset: int = 0) -> tuple[Concern, ...]:
    """Return what still holds of one kind (``tables.CONCERNS``) over all sites."""
    return tuple(_concern(row) for row in index.ask("concerns", kind=kind, limit=limit, offset=offset))


def _record_line(row: dict[str, Any]) -> RecordLine:
    names = (
        "record", "site", "site_name", "root", "path", "kind", "started_text", "technician", "state",
        "answer",
    )  # fmt: skip
    return RecordLine(says=record_sentence(row), **{name: row[name] for name in names})


def record_lines(index: Index, query: str, **asked: Any) -> tuple[RecordLine, ...]:
    """Return the records that answer a query: unsigned, uncountersigned, returned, broken, records of …."""
    return tuple(_record_line(row) for row in index.ask(query, **asked))


def _due(row: dict[str, Any], now: datetime) -> DueLine:
    days = row["due_at"] // 86400 - int(now.timestamp()) // 86400
    return DueLine(row["every"], row["due_text"], days)


# one record


def record_view(index: Index, record: int) -> RecordView | None:
    """Return one record as its file is now, None where the index has none of that number.

    Whether it is valid is said by ``Index.check``, which a screen calls when it opens one.
    """
    found = index.ask("record", record=record)
    if not found:
        return None
    row = found[0]
    file = FileSeen(row["root"], row["path"], row["size"], row["mtime"])
    rows = rows_of_file([str(root) for root in index.roots], (record, file), {})
    points = {one["point"]: one for one in dicts("point", rows)}
    return RecordView(
        line=_record_line(row),
        digest=row["digest"],
        wrong=row["says"] or rows["record"][0][BY_NAME["record"].names.index("says")],
        first=tuple(
            _concern(one | {"site_name": row["site_name"], "started_text": row["started_text"]})
            for one in dicts("concern", rows)
        ),
        comments=tuple(
            CommentLine(one["answer"], one["name"], one["at_text"], one["step"], one["parts"], one["says"])
            for one in index.ask("comments of record", record=record)
        ),
        readings=tuple(_reading(one, points[one["point"]]) for one in dicts("reading", rows)),
        settings=tuple(dicts("setting", rows)),
        findings=tuple(dicts("finding", rows)),
        dispositions=tuple(dicts("disposition", rows)),
        people=tuple(dicts("person", rows)),
        devices=tuple(dicts("device", rows)),
        instruments=tuple(dicts("instrument", rows)),
    )


def dicts(table: str, rows: Rows) -> Iterator[dict[str, Any]]:
    """Yield the rows of a table by the names of its columns."""
    names = BY_NAME[table].names
    for row in rows[table]:
        yield dict(zip(names, row, strict=True))


def _reading(row: dict[str, Any], point: dict[str, Any]) -> ReadingLine:
    unit = point["unit"] if point["unit"] != "1" else ""
    shown = row["text"] or ("" if row["value"] is None else f"{row['value']:.6g} {unit}".rstrip())
    return ReadingLine(
        key=point["name"],
        shown=shown,
        band=band_text(row["low"], row["high"], unit),
        verdict=row["verdict"],
        disposition=row["disposition"],
        superseded=bool(row["superseded"]),
        fast=bool(row["fast"]),
        instrument=row["instrument"],
        measured_at=row["measured_at"],
    )


def band_text(low: float | None, high: float | None, unit: str = "") -> str:
    """Return a band in words, empty where there is none."""
    beside = f" {unit}" if unit else ""
    if low is not None and high is not None:
        return f"{low:.5g} to {high:.5g}{beside}"
    if low is not None:
        return f"at least {low:.5g}{beside}"
    return f"at most {high:.5g}{beside}" if high is not None else ""


# over all sites


def meter_lines(rows: Sequence[dict[str, Any]]) -> tuple[MeterLine, ...]:
    """Return instruments from the rows of the query ``meters``, the oddest first."""
    made = []
    for row in rows:
        away, variance = row["mean"] - row["others"], max(row["variance"], 1e-9)
        sigmas = away * (row["placed"] / variance) ** 0.5
        made.append(
            MeterLine(
                meter=row["name"],
                label=row["label"],
                kind=row["kind"],
                sites=row["sites"],
                readings=row["placed"],
                failed=row["failed"],
                mean=row["mean"],
                others=row["others"],
                sigmas=sigmas,
            )
        )
    return tuple(sorted(made, key=lambda one: (-abs(one.sigmas), one.meter)))


def local_day(at: int | None) -> str:
    """Return the day of a moment in UTC, empty where there is none."""
    return "" if at is None else datetime.fromtimestamp(at, UTC).date().isoformat()
