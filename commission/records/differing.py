"""Where a record says otherwise than this program, in the words and units of those who work on the plant."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from datetime import datetime
from typing import Any, Final

from commission.checklist.types import ReadingKey
from commission.plant.values import in_words
from commission.units import plain, plain_pair
from commission.visit.recompute import ANEW, Difference, same

Named = Callable[[str], str]
"""What a reading or step is called, for its key."""
_WORDS: Final[dict[str, str]] = {
    "low": "lower limit",
    "high": "upper limit",
    "nominal": "value expected",
    "stop below": "work stops below",
    "stop above": "work stops above",
    "compared": "value that was judged",
    "uncertainty": "uncertainty (k = 2)",
    "margin": "distance to the limit",
    "says": "remark",
    "note": "remark",
    "used": "judged with",
    "waits": "waits for",
    "why": "derivation",
    "missing": "what is not known",
    "found": "as found",
    "found text": "as found, as typed",
    "found before": "told as found before",
    "left": "as left",
    "left text": "as left, as typed",
    "before": "as the visit before left it",
    "before text": "as the visit before left it, as typed",
    "differs": "left otherwise than recommended",
    "drifted": "found otherwise than the visit before left it",
    "at": "time",
    "passes": "value that passes",
    "releasable": "may be released on site",
    "disposition": "what was done about it",
    "rules": "rule set",
    "program": "version of the program",
    "drifts": "change",
}
"""Fields whose name is not what a technician would say."""
_OF_SETTING: Final = {"low": "lowest that it may be", "high": "highest that it may be"}
_OF_CHANGE: Final = {
    "verdict": "verdict", "change": "change", "low": "least allowed", "high": "most allowed",
    "before": "value then", "now": "value now", "says": "remark",
}  # fmt: skip
"""Of what differs in a change since an earlier reading, this in this order is told."""
_NONE: Final = "none"
_NO_MORE: Final = "nothing else"
_WINDOW: Final = 40
"""Letters of a text that are told about where it differs."""
_MARKS: Final = frozenset(",;:'\"")
"""What in a text could be taken for a part of the sentence around it."""
_FEW: Final = 3
"""Values of a list that are told."""


def difference_line(one: Difference, named: Named = str) -> str:
    """Return a difference in one line.

    Parameters
    ----------
    named
        Returns what a reading or step is called, for its key.
    """
    return f"{_subject(one.place, named)}: {difference_text(one, named)}"


def difference_text(one: Difference, named: Named = str) -> str:
    """Return the same without what it is about."""
    if one.says:
        return one.says
    field, where = _field(one), "anew" if one.where == ANEW else one.where
    if one.values is None:
        return f"{field}: {one.told} in the record, {one.found} {where}"
    (told, found), unit = one.values, one.unit
    if one.field == "drifts":
        field, told, found, unit = _change(told, found)
    field, told, found, unit = _inside(field, told, found, unit, named)
    shown, other = _both(told, found, unit, named)
    colon = "" if _number(told) or _number(found) else ":"
    return f"{field}{colon} {shown} in the record, {other} {where}"


def _subject(place: str, named: Named) -> str:
    kind, _, rest = place.partition(" ")
    if kind == "reading":
        return named(rest)
    if kind == "setting":
        return " ".join(map(in_words, rest.split()))
    if kind == "finding":
        check, _, parts = rest.partition(":")
        return f"finding '{check.replace('-', ' ')}' {parts.replace('+', ', ')}".rstrip()
    if place.startswith("disposition of "):
        return f"what was done about {named(place.removeprefix('disposition of '))}"
    return {"header": "head of the record"}.get(place, place)


def _field(one: Difference) -> str:
    kind = one.place.partition(" ")[0]
    if kind in {"rule", "profile"}:
        steps = one.field.replace("[", " ").replace("]", "").split(".")
        return ", ".join(map(in_words, steps))
    own = _OF_SETTING.get(one.field) if kind == "setting" else None
    return own or _WORDS.get(one.field, in_words(one.field))


# values within values


def _change(told: Any, found: Any) -> tuple[str, Any, Any, str]:
    """Return what differs in changes since earlier readings: the first that matters, and its unit."""
    sides = [{row["since"]: row for row in rows or ()} for rows in (told, found)]
    for since in ("baseline", "last"):
        one, other = (side.get(since) for side in sides)
        about = "since the baseline" if since == "baseline" else "since the last reading"
        if one is None or other is None:
            if one is not other:
                return f"change {about}", (one or {}).get("verdict"), (other or {}).get("verdict"), ""
            continue
        for field, words in _OF_CHANGE.items():
            if not same(one.get(field), other.get(field)):
                unit = one.get("compared_unit") if field in {"before", "now"} else one.get("unit")
                what = "" if field == "change" else f", {words}"
                return f"change {about}{what}", one.get(field), other.get(field), unit or ""
    return "change since an earlier reading", told, found, ""


def _inside(field: str, told: Any, found: Any, unit: str, named: Named) -> tuple[str, Any, Any, str]:
    """Return the first that differs within two values that hold others, what it is called, and its unit."""
    if isinstance(told, Mapping) and isinstance(found, Mapping):
        name = next((one for one in (*told, *found) if not same(told.get(one), found.get(one))), None)
        if name is not None:
            words = _WORDS.get(str(name).replace("_", " "), in_words(str(name)))
            unit = str(found.get("unit") or unit)
            return _inside(f"{field}, {words}", told.get(name), found.get(name), unit, named)
    if _rows(told) and _rows(found) and len(told) == len(found):
        place = next((at for at, pair in enumerate(zip(told, found, strict=True)) if not same(*pair)), None)
        if place is not None and _key(told[place]) == _key(found[place]):
            about = named(_key(told[place])) if _key(told[place]) else f"line {place + 1}"
            words = field if len(told) == 1 and not _key(told[place]) else f"{field}, {about}"
            return _inside(words, told[place], found[place], unit, named)
    if _rows(told) and _rows(found) and any(map(_key, (*told, *found))):
        return field, *_others(told, found), unit
    return field, told, found, unit


def _others(told: Sequence[Any], found: Sequence[Any]) -> tuple[Any, Any]:
    """Return what of two lists of readings stands in one of them alone; a word where that is nothing."""
    keys = [{_key(row) for row in rows} for rows in (told, found)]
    both = keys[0] & keys[1]
    alone = [[row for row in rows if _key(row) not in both] for rows in (told, found)]
    return alone[0] or (_NO_MORE if both else ()), alone[1] or (_NO_MORE if both else ())


def _rows(value: Any) -> bool:
    return isinstance(value, Sequence) and not isinstance(value, str)


def _key(value: Any) -> str:
    """Return the key of a reading that is named in a value; empty where none is."""
    if not isinstance(value, Mapping) or "step" not in value:
        return ""
    return str(ReadingKey(value["step"], tuple(value.get("parts", ())), value.get("index", 0)))


# values


def _both(told: Any, found: Any, unit: str, named: Named) -> tuple[str, str]:
    """Return two values as they are told, with as many digits and letters as they differ by."""
    if isinstance(told, str) and isinstance(found, str) and told and found:
        return _texts(told, found)
    if _number(told) and _number(found):
        return _numbers(told, found, unit)
    if isinstance(told, datetime) and isinstance(found, datetime):
        form = "%Y-%m-%d %H:%M" if f"{told:%F %R}" != f"{found:%F %R}" else "%Y-%m-%d %H:%M:%S"
        return told.strftime(form), found.strftime(form)
    return _one(told, unit, named), _one(found, unit, named)


def _one(value: Any, unit: str, named: Named) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if _number(value):
        return _with(plain(value), unit)
    if not value:
        return _NONE
    if isinstance(value, Mapping) or _rows(value):
        return _several(value, unit, named)
    text = f"{value:%Y-%m-%d %H:%M}" if isinstance(value, datetime) else str(value)
    return text if len(text) <= _WINDOW and not set(text) & _MARKS else f"'{_short(text)}'"


def _several(value: Any, unit: str, named: Named) -> str:
    """Return a value that holds others: what it is about, or the first of them."""
    if isinstance(value, Mapping):
        key = _key(value)
        return named(key) if key else _one(next(iter(value.values())), unit, named)
    shown = [_one(item, unit, named) for item in value[:_FEW]]
    more = [f"and {len(value) - _FEW} more"] if len(value) > _FEW else []
    return "; ".join((*shown, *more))


def _number(value: Any) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool)


def _with(number: str, unit: str) -> str:
    return f"{number} {unit}" if unit not in {"", "1"} and number[-1:].isdigit() else number


def _numbers(one: float, other: float, unit: str) -> tuple[str, str]:
    told, found = plain_pair(one, other)
    return _with(told, unit), _with(found, unit)


def _texts(one: str, other: str) -> tuple[str, str]:
    """Return two texts about the place where they differ."""
    if max(len(one), len(other)) <= _WINDOW:
        return _one(one, "", str), _one(other, "", str)
    first = next((at for at, pair in enumerate(zip(one, other, strict=False)) if pair[0] != pair[1]), None)
    at = min(len(one), len(other)) if first is None else first
    start = one.rfind(" ", 0, max(0, at - _WINDOW // 3)) + 1
    cut = "…" if start else ""
    return f"'{cut}{_short(one[start:])}'", f"'{cut}{_short(other[start:])}'"


def _short(text: str) -> str:
    return text if len(text) <= _WINDOW else f"{text[:_WINDOW].rstrip()}…"


def difference_lines(found: Sequence[Difference], named: Named = str) -> Iterator[str]:
    """Yield differences in a line each; first those that no other version of the program explains."""
    for one in sorted(found, key=lambda one: one.excusable):
        yield difference_line(one, named)
