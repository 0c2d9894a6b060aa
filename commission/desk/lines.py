"""What the desk says in a line beside the sentence of a site: of a record, a group, a meter, a date."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime
from typing import Any, Final

from commission.desk.listing import DAY
from commission.desk.sentences import span
from commission.desk.tables import NOT_CHECKED

_UNREAD: Final = frozenset({"malformed", "unreadable"})


def day(at: int | None) -> str:
    """Return a day as the desk writes it, of seconds since 1970; empty where there is none."""
    if at is None:
        return ""
    try:
        return f"{datetime.fromtimestamp(at, UTC):%Y-%m-%d}"
    except (ValueError, OverflowError, OSError):
        return ""


def group_sentence(row: dict[str, Any]) -> str:
    """Return what has to be said of a group of sites: a technician, a chemistry, a class, a meter."""
    sites = _many(row["sites"], "site")
    records = _many(row["records"], "record")
    judged = row["judged"] or 0
    if not judged:
        return f"{sites}, {records}; nothing judged"
    share = 100.0 * (row["failed"] or 0) / judged
    return f"{share:.3g} % of {judged:,} judged out of band; {sites}, {records}"


def listed_record(row: dict[str, Any], now: int) -> str:
    """Return what has to be said of a record in a list: when, what, by whom, how it stands."""
    if is_unread(row):
        return " · ".join(one for one in (_file(row), row["state"], row.get("says", "")) if one)
    when = row["started_text"][:10] or "no date   "
    who = row["technician"] or "nobody named"
    told = [f"{when}  {row['kind'] or 'no visit':<13} {who}", *_stands(row, now)]
    counts = (("failed", "out of band"), ("accepted", "accepted"), ("open_findings", "findings open"))
    told += [f"{row[name]} {text}" for name, text in counts if row.get(name)]
    return " · ".join(told)


def is_unread(row: dict[str, Any]) -> bool:
    """Say whether nothing is known of a file but its name; of a record that was spoiled later more is."""
    return row["state"] in _UNREAD and row["started_at"] is None


def record_title(row: dict[str, Any]) -> str:
    """Return what a record is called: its site, kind and date, else its file."""
    if is_unread(row):
        return _file(row)
    return f"{row['site_name'] or row['site']}  {row['kind']}, {row['started_text'][:10]}"


def _file(row: dict[str, Any]) -> str:
    return str(row["path"]).rpartition("/")[2]


def _stands(row: dict[str, Any], now: int) -> Iterator[str]:
    if row["state"] not in {"intact", NOT_CHECKED}:
        yield str(row["state"])
    if not row["signed_by"] and row["signed_at"] is None:
        yield "not signed"
    elif row["answer"]:
        yield f"{row['answer']} by {row['answered_by']} {row['answered_text'][:10]}"
    elif row["signed_at"] is not None:
        yield f"countersign waits {span(now - row['signed_at'])}"


def due_sentence(row: dict[str, Any], now: int) -> str:
    """Return when an interval is due."""
    at = row["due_at"]
    told = f"{row['every']:<12} {row['due_text']}"
    if at is None:
        return told
    if at < now:
        return f"{told}  {span(now - at)} overdue"
    return f"{told}  in {span(at - now)}" if at - now >= DAY else f"{told}  today"


def answer_sentence(row: dict[str, Any]) -> str:
    """Return who signed a record and what was answered, of a row of the table ``record``."""
    if is_unread(row):
        return "it cannot be read, so nothing can be told of it"
    if not row["signed"]:
        return "not signed by anybody"
    signed = f"signed by {row['signed_by']} {row['signed_text'][:16]}, {row['signed_as']}"
    if not row["answer"]:
        return f"{signed}; nobody has answered it"
    return f"{signed}; {row['answer']} by {row['answered_by']} {row['answered_text'][:16]}"


def _many(count: int, what: str) -> str:
    return f"{count:,} {what}" if count == 1 else f"{count:,} {what}s"
