"""What a supervisor returned: open until it is answered, however many newer visits the site has.

It is answered by the visit that puts it right, by a later seal on the record itself, or by whoever
countersigns another record of the site and says in a comment that this settles it: then he knew.
"""

from __future__ import annotations

import re
from typing import Any, Final

from commission.desk import values
from commission.desk.values import moment, table, text

RETURNED: Final = "returned"
_SETTLES: Final = re.compile(r"\bsettles the returned visit\s+([a-z0-9][a-z0-9-]*)", re.IGNORECASE)


def settling(visit: str) -> str:
    """Return the comment of a countersign by which it settles another visit of the site that was returned."""
    return f"settles the returned visit {visit}"


def settled_by(says: str) -> str:
    """Return the visit that a comment of a countersign settles, empty where none."""
    found = _SETTLES.search(says)
    return "" if found is None else found[1]


def put_right(visit: dict[str, Any]) -> dict[str, Any]:
    """Return which visit this one puts right, and when that was returned, as columns of a record."""
    service = table(visit, "service")
    doubted = table(service, "returned")
    if not doubted:
        return {"puts_right": ""}
    return {"puts_right": text(service, "previous_visit"), "puts_right_at": moment(doubted.get("at"))}


def returned(data: dict[str, Any]) -> dict[str, Any] | None:
    """Return what a supervisor looks at where the last seal of a record returns it: who, when, what."""
    seals = values.rows(data, "seal")
    last = seals[-1] if len(seals) > 1 else {}
    if last.get("says") != RETURNED:
        return None
    at = values.local(last.get("at"))[:10]
    comments = "; ".join(text(one, "text") for one in values.rows(last, "comments"))
    says = " ".join(part for part in ("by", text(last, "name"), at) if part)
    return {
        "kind": RETURNED, "subject": text(table(data, "visit"), "id"), "decided_by": text(last, "name"),
        "at_time": moment(last.get("at")), "says": f"{says}: {comments}" if comments else says,
    }  # fmt: skip


ALIVE: Final = """
    EXISTS (
        SELECT 1 FROM record r WHERE r.record = concern.record
        AND NOT EXISTS (
            SELECT 1 FROM record o WHERE o.site = r.site AND o.puts_right <> '' AND o.puts_right = r.visit
                AND o.signed = 1 AND o.state NOT IN ('changed', 'malformed')
                AND coalesce(o.puts_right_at, o.signed_at) >= r.answered_at
        )
        AND NOT EXISTS (
            SELECT 1 FROM record o JOIN comment m ON m.record = o.record
            JOIN seal s ON s.record = m.record AND s.place = m.seal
            WHERE o.site = r.site AND m.settles <> '' AND m.settles = r.visit
                AND o.state NOT IN ('changed', 'malformed') AND s.at_time >= r.answered_at
        )
        AND NOT EXISTS (
            SELECT 1 FROM record o
            WHERE o.site = r.site AND o.visit = r.visit AND o.record <> r.record AND (
                o.answered_at > r.answered_at OR (
                    o.answered_at = r.answered_at AND o.answer = 'returned'
                    AND (o.root < r.root OR (o.root = r.root AND o.path < r.path))
                )
            )
        )
    )"""
"""Whether a record that was returned still waits: the rule above, in SQL; of copies one counts."""
