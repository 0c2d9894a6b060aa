"""What a supervisor would say of a site, a group, a meter: one line each, worst first."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime
from math import sqrt
from typing import Any, Final

from commission.desk.listing import DAY
from commission.desk.tables import NOT_CHECKED

_OPEN: Final[tuple[tuple[str, str, str], ...]] = (
    ("stopped", "1 reading stops work", "{} readings stop work"),
    ("broken", "1 record is not what was sealed", "{} records are not what was sealed"),
    ("stop_findings", "1 finding: must not be energised", "{} findings: must not be energised"),
    ("returned", "returned, waits for the technician", "{} returned, wait for the technician"),
    ("gaps", "1 gap in the chain of records", "{} gaps in the chain of records"),
    ("undecided", "1 reading out of band, nobody decided", "{} readings out of band, nobody decided"),
    ("_to_mend", "1 finding to mend", "{} findings to mend"),
    ("drifts_act", "1 reading drifted past its limit", "{} readings drifted past their limit"),
    ("unsigned", "1 record not signed", "{} records not signed"),
    ("accepted", "1 reading accepted out of band", "{} readings accepted out of band"),
    ("accepted_findings", "1 finding accepted", "{} findings accepted"),
    ("_deferred", "", ""),
    ("released", "1 hold point released by a person", "{} hold points released by a person"),
    ("overturned", "1 correction made a reading pass", "{} corrections made readings pass"),
    ("_waiting", "", ""),
    ("_overdue", "", ""),
    ("differing", "1 setting other than recommended", "{} settings other than recommended"),
    ("late", "1 late correction", "{} late corrections"),
    ("fast", "1 reading typed fast", "{} readings typed fast"),
    ("drifts_advise", "1 reading drifts", "{} readings drift"),
)
"""What may be open at a site, worst first: column, text of one, text of several."""


def site_sentence(row: dict[str, Any], now: int) -> str:
    """Return what has to be said of a site.

    Parameters
    ----------
    row
        Of the table ``site``.
    now
        Seconds since 1970, UTC.
    """
    said = list(_open(row, now))
    coming = _coming(row, now)
    if not said:
        said = ["nothing open"]
    return " · ".join((*said, coming)) if coming else " · ".join(said)


def _open(row: dict[str, Any], now: int) -> Iterator[str]:
    to_mend = (row["open_findings"] or 0) - (row["stop_findings"] or 0)
    undecided = (row["undecided"] or 0) - (row["stopped"] or 0)
    counts = row | {"_to_mend": to_mend, "undecided": undecided}
    made = {"_deferred": _deferred, "_waiting": _waiting, "_overdue": _overdue}
    for name, one, several in _OPEN:
        if name in made:
            told = made[name](row, now)
            if told:
                yield told
            continue
        many = counts.get(name) or 0
        if many > 0:
            yield one if many == 1 else several.format(f"{many:,}")


def _deferred(row: dict[str, Any], now: int) -> str:
    many, until = row["deferred"] or 0, row["deferred_until"]
    if not many:
        return ""
    if until is None:
        return f"{many} put off"
    return (
        f"{many} put off, {_ago(now - until)} past" if until < now else f"{many} put off until {day(until)}"
    )


def _waiting(row: dict[str, Any], now: int) -> str:
    many, since = row["waiting"] or 0, row["waiting_since"]
    if not many:
        return ""
    told = "" if since is None else f" {_ago(now - since)}"
    return f"countersign waits{told}" if many == 1 else f"{many} wait to be countersigned,{told or ' some'}"


def _overdue(row: dict[str, Any], now: int) -> str:
    at = row["next_due"]
    return "" if at is None or at >= now else f"{_interval(row)} service {_ago(now - at)} overdue"


def _coming(row: dict[str, Any], now: int) -> str:
    at = row["next_due"]
    if at is None:
        return "no date for the next service"
    return "" if at < now else f"{_interval(row)} service {day(at)}"


def _interval(row: dict[str, Any]) -> str:
    return row["next_interval"] or "next"


def _ago(seconds: int) -> str:
    days = max(seconds, 0) // DAY
    if days < 1:
        return "since today"
    if days < 90:
        return f"{days} day{'s' if days > 1 else ''}"
    if days < 730:
        return f"{days // 30} months"
    return f"{days // 365} years"


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
    return f"{sites}, {records}; {share:.3g} % of {judged:,} judged readings out of band"


def meter_sentence(row: dict[str, Any]) -> str:
    """Return how the readings of a meter lie beside those of others of its kind."""
    apart = row["mean"] - row["others"]
    side = "high" if apart > 0 else "low"
    sure = meter_sureness(row)
    lies = f"reads {abs(apart):.2f} of half a band too {side} beside others of its kind"
    if sure < _NOTABLE:
        lies = "reads as others of its kind do"
    return (
        f"{lies}; {row['failed']} out of band at {_many(row['sites'], 'site')} ({row['placed']:,} readings)"
    )


_NOTABLE: Final = 4.0
"""Standard errors from which a meter is said to lie apart: of a thousand good meters none does by chance."""


def meter_sureness(row: dict[str, Any]) -> float:
    """Return by how many standard errors a meter lies apart from the others of its kind."""
    variance, placed = row["variance"] or 0.0, row["placed"] or 0
    if variance <= 0.0 or placed <= 0:
        return 0.0
    return float(abs(row["mean"] - row["others"]) / sqrt(variance / placed))


def _many(count: int, what: str) -> str:
    return f"{count:,} {what}" if count == 1 else f"{count:,} {what}s"


def record_sentence(row: dict[str, Any], now: int) -> str:
    """Return what has to be said of a record in a list: when, what, by whom, how it stands."""
    when = row["started_text"][:10] or "no date   "
    who = row["technician"] or "nobody named"
    told = [f"{when}  {row['kind'] or 'no visit':<13} {who}", *_stands(row, now)]
    counts = (("failed", "out of band"), ("accepted", "accepted"), ("open_findings", "findings open"))
    told += [f"{row[name]} {text}" for name, text in counts if row.get(name)]
    return " · ".join(told)


def _stands(row: dict[str, Any], now: int) -> Iterator[str]:
    if row["state"] not in {"intact", NOT_CHECKED}:
        yield str(row["state"])
    if not row["signed_by"] and row["signed_at"] is None:
        yield "not signed"
    elif row["answer"]:
        yield f"{row['answer']} by {row['answered_by']} {row['answered_text'][:10]}"
    elif row["signed_at"] is not None:
        yield f"countersign waits {_ago(now - row['signed_at'])}"


def due_sentence(row: dict[str, Any], now: int) -> str:
    """Return when an interval is due."""
    at = row["due_at"]
    told = f"{row['every']:<12} {row['due_text']}"
    if at is None:
        return told
    if at < now:
        return f"{told}  {_ago(now - at)} overdue"
    return f"{told}  in {_ago(at - now)}" if at - now >= DAY else f"{told}  today"


def answer_sentence(row: dict[str, Any]) -> str:
    """Return who signed a record and what was answered, of a row of the table ``record``."""
    if not row["signed"]:
        return "not signed by anybody"
    signed = f"signed by {row['signed_by']} {row['signed_text'][:16]}, {row['signed_as']}"
    if not row["answer"]:
        return f"{signed}; nobody has answered it"
    return f"{signed}; {row['answer']} by {row['answered_by']} {row['answered_text'][:16]}"
