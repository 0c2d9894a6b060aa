"""What a supervisor would say of a site, in one line, worst first."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import UTC, datetime
from typing import Any, Final

BETWEEN: Final = " · "
NOTHING: Final = "nothing open"
NO_SITE: Final = "(no site told)"
"""Name of what could not be read so far that its site is known."""
_DAY: Final = 86400
_MONTHS: Final = 90
_YEARS: Final = 730
"""Days from which months, and years, are spoken of."""
_SOON: Final = 60
"""Days before its date from which a service is spoken of."""

_COUNTED: Final[dict[str, tuple[str, str]]] = {
    "broken": ("1 record is not as it was sealed", "{} records are not as they were sealed"),
    "stopped": ("1 reading stops work", "{} readings stop work"),
    "stop_findings": ("1 finding that stops is open", "{} findings that stop are open"),
    "returned": ("1 returned record not answered", "{} returned records not answered"),
    "gaps": ("1 gap in the chain of records", "{} gaps in the chain of records"),
    "failed_only": ("1 reading failed, nothing decided", "{} readings failed, nothing decided"),
    "to_mend": ("1 finding to mend", "{} findings to mend"),
    "drifts_act": ("1 reading drifted past its limit", "{} readings drifted past their limits"),
    "unsigned": ("1 record not signed", "{} records not signed"),
    "unreadable": (
        "1 file cannot be read, it may be no record",
        "{} files cannot be read, they may be no records",
    ),
    "failed_deferred": ("1 reading failed and was put off", "{} readings failed and were put off"),
    "failed_settled": ("1 failed reading mended or isolated", "{} failed readings mended or isolated"),
    "accepted": ("1 reading accepted out of band", "{} readings accepted out of band"),
    "accepted_findings": ("1 finding accepted", "{} findings accepted"),
    "deferred": ("1 thing put off", "{} things put off"),
    "released": ("1 hold point released by a person", "{} hold points released by a person"),
    "overturned": ("1 failed reading corrected to a pass", "{} failed readings corrected to a pass"),
    "waiting": ("countersign waits", "{} countersigns wait"),
    "differing": ("1 setting not as recommended", "{} settings not as recommended"),
    "late": ("1 late correction", "{} late corrections"),
    "fast": ("1 reading typed too fast to be measured", "{} readings typed too fast to be measured"),
    "drifts_advise": ("1 reading drifted", "{} readings drifted"),
    "uncalibrated": ("1 instrument past its calibration date", "{} instruments past their calibration date"),
}
"""In this order, which is that of ``summaries.SCORE``."""


def site_sentence(row: Mapping[str, Any], now: datetime) -> str:
    """Return what a supervisor would say of a site.

    Parameters
    ----------
    row
        Of the table of sites.
    """
    counts = dict(row)
    counts["failed_only"] = row["undecided"] - row["stopped"]
    counts["failed_settled"] = row["failed"] - row["undecided"] - row["accepted"] - row["failed_deferred"]
    counts["to_mend"] = row["open_findings"] - row["stop_findings"]
    told = [_count(name, counts, now) for name in _COUNTED if (counts.get(name) or 0) > 0]
    told += _service(row, now)
    return BETWEEN.join(told) or NOTHING


def _count(name: str, counts: Mapping[str, Any], now: datetime) -> str:
    one, more = _COUNTED[name]
    many = counts[name]
    said = one if many == 1 else more.format(many)
    if name == "waiting" and counts["waiting_since"] is not None:
        return f"{said} {_for_days(counts['waiting_since'], now)}"
    if name == "returned":
        return f"{said} {_since(counts['returned_since'], now)}".rstrip()
    if name == "deferred" and counts["deferred_until"] is not None:
        day = datetime.fromtimestamp(counts["deferred_until"], UTC).date()
        until = f" until {day}" if many == 1 else f", the first until {day}"
        return f"{said}{until}" + (", which is past" if day < now.astimezone(UTC).date() else "")
    return said


def _since(at: int | None, now: datetime) -> str:
    told = "" if at is None else _for_days(at, now)
    return f"for {told}" if told[:1].isdigit() else told


def _for_days(since: int, now: datetime) -> str:
    return span(int(now.timestamp() - since))


def span(seconds: int) -> str:
    """Return a time that something has lasted, as people say it: days, then months, then years."""
    days = max(0, seconds // _DAY)
    if days < 1:
        return "since today"
    if days < _MONTHS:
        return _days(days)
    return f"{days * 12 // 365} months" if days < _YEARS else f"{days // 365} years"


def _days(days: int) -> str:
    return f"{days} day{'s' if days > 1 else ''}"


def _service(row: Mapping[str, Any], now: datetime) -> Iterator[str]:
    if row["next_due"] is None:
        return
    today = int(now.timestamp()) // _DAY
    days = row["next_due"] // _DAY - today
    what = "service" if row["next_interval"] == "agreed" else f"{row['next_interval']} service"
    if days < 0:
        yield f"{what} overdue by {span(-days * _DAY)}"
    elif days <= _SOON:
        yield f"{what} due " + ("today" if days == 0 else f"in {_days(days)}")
