"""What the desk tells without a screen: values with stable keys, and lines of text."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from difflib import get_close_matches
from math import inf
from typing import Any, Final

from commission.desk.history import limits_of, trend_of
from commission.desk.index import Index
from commission.desk.lines import due_sentence
from commission.desk.listing import Answers
from commission.desk.names import held_value, held_words, words_of
from commission.desk.outlook import outlook_lines as trend_lines
from commission.desk.sentences import site_sentence
from commission.desk.series import Limit, Trend
from commission.desk.site_visits import key_of, visits_in
from commission.desk.trend_text import folded, trend_json
from commission.desk.watch import Caution, Watched, soon, watched
from commission.desk.worklists import EVERYTHING
from commission.errors import Problem, RecordError

_SHOWN: Final = 12
"""Readings that are named where what was typed fits several or none."""


def desk_json(index: Answers, at: datetime) -> dict[str, Any]:
    """Return how everything stands, with the stable keys of ``desk --json``."""
    sites, now = index.ask("sites", limit=EVERYTHING), int(at.timestamp())
    return {
        "overview": index.ask("overview", now=now)[0],
        "states": {row["state"]: row["records"] for row in index.ask("states")},
        "concerns": {row["kind"]: {"many": row["many"], "sites": row["sites"]}
                     for row in index.ask("concern counts")},
        "sites": [_public(site) | {"says": site_sentence(site, at)} for site in sites],
        "no_records": [row["path"] for row in index.ask("no records", limit=EVERYTHING)],
    }  # fmt: skip


def _public(row: dict[str, Any]) -> dict[str, Any]:
    """Return a row without the numbers that only this index knows."""
    return {name: value for name, value in row.items() if name not in {"record", "root"}}


# due


def due_told(index: Answers, until: int, now: int) -> list[dict[str, Any]]:
    """Return the sites whose service is due before a moment, the longest overdue first."""
    return [_public(row) | {"overdue": row["next_due"] < now}
            for row in index.ask("due", until=until, limit=EVERYTHING)]  # fmt: skip


def due_lines(rows: Sequence[dict[str, Any]], now: int) -> Iterator[str]:
    """Yield a line for every site that is due."""
    for row in rows:
        told = {"every": row["next_interval"], "due_text": row["next_text"], "due_at": row["next_due"]}
        yield f"{row['site']:<30} {due_sentence(told, now)}  {row['name']}".rstrip()
    if not rows:
        yield "nothing is due by then"


# trend


def trend_of_site(
    index: Index, site: str, words: str
) -> tuple[str, Trend, tuple[Limit, ...], tuple[str, ...]]:
    """Return a reading's key, its trend, its limits, and which records were passed over.

    Parameters
    ----------
    site
        Its id.
    words
        Key of the reading, or words that only one has in its key or name.

    Raises
    ------
    RecordError
        If there is no such site, no such reading, or several.
    """
    records = index.ask("records of site", site=site)
    if not records:
        raise _wrong("site", site, "no record here is of this site", "the id of a site of these records")
    name = _reading(index, site, words)
    paths = [index.file_of(row) for row in records if row["state"] not in {"changed", "malformed"}]
    found = visits_in(paths)
    key = key_of(name)
    return name, trend_of(found.visits, key), limits_of(found.visits, key), found.passed_over


def _reading(index: Answers, site: str, words: str) -> str:
    known: list[str] = [row["name"] for row in index.ask("points of site", site=site)]
    if words in known:
        return words
    wanted = words.casefold().split()
    fits = [
        name
        for name in dict.fromkeys(known)
        if wanted and all(word in f"{name} {words_of(name)}".casefold() for word in wanted)
    ]
    if len(fits) == 1:
        return fits[0]
    listed = fits or list(dict.fromkeys(known))
    more = f" and {len(listed) - _SHOWN} more" if len(listed) > _SHOWN else ""
    wrong = f"{len(fits)} readings have these words" if fits else "no reading of this site has these words"
    raise _wrong("reading", words, wrong, f"one of {', '.join(listed[:_SHOWN])}{more}")


# what comes to a limit


@dataclass(frozen=True, slots=True)
class Outlook:
    """What comes to a limit within a time, the soonest first."""

    soon: tuple[Watched, ...]
    watched: int
    """Readings for which trade practice has such a limit."""
    sure: int
    """Of them those whose trend tells how fast they go."""
    passed_over: tuple[str, ...]


def outlook_of_sites(index: Index, now: datetime, within: timedelta, caution: Caution) -> Outlook:
    """Return what comes to a limit within a time, over all sites; every record of them is read."""
    trends: list[Watched] = []
    told: list[str] = []
    for site in index.ask("sites", limit=EVERYTHING):
        records = index.ask("records of site", site=site["site"])
        paths = [index.file_of(row) for row in records if row["state"] not in {"changed", "malformed"}]
        found = visits_in(paths)
        told += found.passed_over
        if found.visits and site["site"]:
            trends += watched(found.visits)
    sure = sum(one.trend.slope_low is not None for one in trends)
    return Outlook(soon(trends, now, caution, within), len(trends), sure, tuple(told))


def outlook_lines(found: Outlook, now: datetime) -> Iterator[str]:
    """Yield every reading that comes to its limit with what is said of it, then what could be said at all."""
    for one in found.soon:
        yield from folded([f"{one.site}  {reading_words(str(one.key))}"])
        yield from folded(f"    {line}" for line in trend_lines(one.trend, now))
    if not found.soon:
        yield "nothing comes to its limit within that time, of what can be told"
    left = found.watched - found.sure
    yield f"{found.watched:,} readings are watched; {left:,} have too few points to say how fast they go"


def reading_words(key: str) -> str:
    """Return the words of a reading with its key, by which it is asked for."""
    words = words_of(key)
    return f"{words} ({key})" if words != key else key


def outlook_json(found: Outlook, now: datetime) -> dict[str, Any]:
    """Return what comes to a limit with the stable keys of ``outlook --json``."""
    soonest = [{"site": one.site} | trend_json(str(one.key), one.trend, now) for one in found.soon]
    return {"soon": soonest, "watched": found.watched, "sure": found.sure}


# recall


def recalled(index: Answers, named: dict[str, str]) -> list[dict[str, Any]]:
    """Return the sites that have all of what is named.

    Parameters
    ----------
    named
        What was typed, by the kind of what is recalled.

    Raises
    ------
    RecordError
        If nothing is named, or a setting is not written as one.
    """
    if not named:
        right = "--profile, --device, --firmware, --instrument or --setting; --list KIND tells what there is"
        raise _wrong("recall", "", "nothing is named", right)
    found = [_having(index, kind, told) for kind, told in named.items()]
    sites = set.intersection(*({row["site"] for row in rows} for rows in found))
    return [_public(row) for rows in found for row in rows if row["site"] in sites]


def _having(index: Answers, kind: str, told: str) -> list[dict[str, Any]]:
    """Return what has something; refuse a name that nothing has: 'no site' would look like safe."""
    found = _rows_having(index, kind, told)
    if not found:
        names = [one["name"] if kind == "setting" else one["value"] for one in what_there_is(index, kind)]
        wanted = told.partition("=")[0].strip() if kind == "setting" else told.rpartition("=")[2].strip()
        if wanted not in names:
            near = get_close_matches(wanted, sorted(set(names)), n=3, cutoff=0.4)
            right = f"the nearest: {', '.join(near)}; " if near else ""
            raise _wrong(
                "recall", told, f"no record here has this {kind}", f"{right}--list tells what there is"
            )
    return found


def _rows_having(index: Answers, kind: str, told: str) -> list[dict[str, Any]]:
    if kind == "setting":
        return _with_setting(index, told)
    name, equals, value = told.partition("=") if kind == "firmware" else ("", "", told)
    if not equals:
        name, value = "", told
    return index.ask("recall", kind=kind, name=name, value=value, limit=EVERYTHING)


def _with_setting(index: Answers, told: str) -> list[dict[str, Any]]:
    name, equals, value = told.partition("=")
    if not equals or not name.strip() or not value.strip():
        right = "name=value or name=low..high, such as absorption_voltage=57.6..58.4"
        raise _wrong("--setting", told, "is no setting with a value", right)
    low, to, high = value.partition("..")
    ends = _number(low, -inf), _number(high if to else low, inf)
    if None in ends:
        return index.ask("recall", kind="setting", name=name.strip(), value=value.strip(), limit=EVERYTHING)
    return index.ask("recall between", name=name.strip(), low=ends[0], high=ends[1], limit=EVERYTHING)


def _number(text: str, empty: float) -> float | None:
    """Return a number that was typed, None of a word; an end that is left out is open."""
    if not text.strip():
        return empty
    try:
        return float(text.strip().replace(",", "."))
    except ValueError:
        return None


def recall_lines(rows: Sequence[dict[str, Any]]) -> Iterator[str]:
    """Yield a line for every part that has what was recalled, and the count."""
    for row in rows:
        what = held_words(row)
        yield f"{row['site']:<30} {row['part']:<16} {what}  {row['site_name']}, {row['place']}".rstrip(" ,")
    sites = len({row["site"] for row in rows})
    yield _sites(sites)


def held_lines(rows: Sequence[dict[str, Any]]) -> Iterator[str]:
    """Yield a line for everything that there is to recall, with how many sites have it."""
    for row in rows:
        told = f"{row['name']} {held_value(row)}".strip()
        yield f"{told}  at {_sites(row['sites'])}"


def _sites(many: int) -> str:
    return f"{many:,} site{'' if many == 1 else 's'}"


def what_there_is(index: Answers, kind: str) -> list[dict[str, Any]]:
    """Return what there is to recall of a kind, the most common first."""
    return index.ask("held", kind=kind, limit=EVERYTHING)


def _wrong(where: str, given: str, wrong: str, right: str) -> RecordError:
    return RecordError([Problem("desk", where, given, wrong, right)])
