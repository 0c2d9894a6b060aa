"""Lists over all sites, each line a record to open: what waits, what is odd, what was decided and why."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from difflib import get_close_matches
from typing import Any, Final

from commission.desk.lines import listed_record
from commission.desk.listing import Answers
from commission.desk.names import concern_text
from commission.desk.tables import CONCERNS
from commission.desk.values import name_key
from commission.errors import Problem, RecordError

_FAR: Final = 1 << 60
EVERYTHING: Final = 10_000_000
"""Lines that a command asks for where a screen would ask for a page."""
WORDS: Final = ("first", "second", "third")
"""Names of the words that a list can be narrowed by; more only narrow what is narrow already."""


@dataclass(frozen=True, slots=True)
class Worklist:
    """One list over all sites."""

    key: str
    text: str
    """What it lists, in a few words."""
    query: str
    given: dict[str, Any] = field(default_factory=dict)
    more: str = ""

    @property
    def told(self) -> str:
        """What it lists, in full."""
        return ": ".join(one for one in (self.text, self.more) if one)


def _of_kind(kind: str, text: str, more: str = "") -> Worklist:
    return Worklist(kind.replace(" ", "-"), text, "concerns", {"kind": kind}, more)


ALWAYS: Final = (
    Worklist("waiting", "records that wait to be countersigned", "uncountersigned"),
    Worklist("unsigned", "records that nobody signed", "unsigned"),
    _of_kind("returned", "records that were returned and not answered"),
    Worklist("broken", "records that are not as they were sealed", "broken"),
    Worklist("chains", "what is odd in the chains of records", "chains"),
    Worklist("put-off", "what was put off, by the date until when", "put off", {"until": _FAR}),
)
"""Lists that are offered even when they are empty, for that is good to know."""
_KNOWN: Final = {one.key for one in ALWAYS}
WORKLISTS: Final = (
    *ALWAYS,
    *(one for kind, text in CONCERNS.items() if (one := _of_kind(kind, kind, text)).key not in _KNOWN),
)
"""What can be listed, in the order in which it is offered."""
BY_KEY: Final = {one.key: one for one in WORKLISTS}


def of_technician(key: str, name: str) -> Worklist:
    """Return the list of the records of a technician, by the name as it is compared."""
    return Worklist("technician", f"records of {name}", "records of technician", {"technician": key})


def named(key: str | None, technician: str | None) -> Worklist:
    """Return a list by its key, or the records of a technician by the name.

    Raises
    ------
    RecordError
        If there is no such list, or both are named.
    """
    if technician is not None:
        if key is not None:
            raise _wrong("--technician", technician, "does not go with --of", "one of the two")
        return of_technician(name_key(technician), technician)
    found = BY_KEY.get(key or "")
    if found is None:
        near = get_close_matches(key or "", BY_KEY, n=3, cutoff=0.5) or list(BY_KEY)
        raise _wrong("--of", key or "", "there is no such list", ", ".join(near))
    return found


def _wrong(where: str, given: str, wrong: str, right: str) -> RecordError:
    return RecordError([Problem("desk", where, given, wrong, right)])


def counts(index: Answers) -> dict[str, int]:
    """Return how many lines each list has, by its key."""
    over = index.ask("overview", now=0)[0]
    kinds = {row["kind"]: row["many"] for row in index.ask("concern counts")}
    chains = index.ask("chain count")[0]["many"]
    told = {
        "waiting": over["waiting"],
        "unsigned": over["unsigned"],
        "broken": over["broken"],
        "chains": chains,
    }
    found = {one.key: told.get(one.key, kinds.get(one.given.get("kind", "put off"), 0)) for one in WORKLISTS}
    return {key: int(many) for key, many in found.items()}


def listed(index: Answers, wanted: Worklist, words: str, most: int = EVERYTHING) -> list[dict[str, Any]]:
    """Return the lines of a list that have some words in their record, so many at most.

    Parameters
    ----------
    words
        As typed: of site, place, people, serial numbers, notes.
    """
    typed = words.casefold().split()[: len(WORDS)]
    return index.ask(wanted.query, **wanted.given, **dict(zip(WORDS, typed, strict=False)), limit=most)


def line_of(row: dict[str, Any], now: int) -> str:
    """Return what a line of a list says of its record, beside the name of the site."""
    if "subject" in row:
        put_off = row["kind"] == "put off" and row["until_text"]
        when = f"until {row['until_text']}" if put_off else row["started_text"][:10]
        return f"{when}  {concern_text(row)}"
    if "says" not in row or not row["started_text"]:
        return listed_record(row, now)
    who = row["technician"] or "nobody named"
    return f"{row['started_text'][:10]}  {row['says']} · {row['kind']} by {who}"


def worklist_lines(rows: Sequence[dict[str, Any]], now: int) -> Iterator[str]:
    """Yield the lines of a list, each with its site."""
    for row in rows:
        yield f"{row['site']:<30} {line_of(row, now)}"
    if not rows:
        yield "nothing"


def worklist_json(rows: Sequence[dict[str, Any]]) -> list[dict[str, Any]]:
    """Return the lines of a list with the stable keys of ``list --json``; the key of a reading stays one."""
    hidden = {"record", "root", "place", "point"}
    return [{name: value for name, value in row.items() if name not in hidden} for row in rows]


def count_lines(many: dict[str, int]) -> Iterator[str]:
    """Yield a line for every list, with how many lines it has."""
    for one in WORKLISTS:
        yield f"{many[one.key]:>8,}  {one.key:<18} {one.more or one.text}"
