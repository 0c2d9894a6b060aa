"""The readings of one record as rows: which count, which were corrected, how each meter's lay."""

from __future__ import annotations

from dataclasses import dataclass, field
from hashlib import blake2b
from math import isfinite
from typing import Any, Final, TypeAlias

from commission.desk.tables import Row
from commission.desk.values import joined, moment, number, plain, rows, table, text

FAILED: Final = frozenset({"fail", "conditional fail", "stop work"})
"""Verdicts of what lies out of its band."""
PASSED: Final = frozenset({"pass", "conditional pass"})
FAST: Final = 2.0
"""Seconds under which nobody measures and types; common practice. What was measured before it was typed is
copied from paper (``measured_at``) and never counts as too fast."""
_COPIED: Final = 60.0
"""Seconds that a reading was measured before it was typed, from which it was copied."""
LATE: Final = 8 * 3600.0
"""Seconds after the first entry from which a correction is late: another day's work; common practice."""
_Key: TypeAlias = tuple[str, str, int]


@dataclass(slots=True)
class Use:
    """How the readings of one meter lay."""

    readings: int = 0
    judged: int = 0
    failed: int = 0
    placed: int = 0
    deviation: float = 0.0
    deviation_squares: float = 0.0


NOT_USED: Final = Use()


@dataclass(slots=True)
class Entered:
    """One reading as it is looked at while rows are made."""

    place: int
    key: _Key
    point: int
    name: str
    verdict: str
    entered: int | None
    data: dict[str, Any]
    before: Entered | None = None
    """The one that it replaces."""
    superseded: bool = False
    fast: bool = False


@dataclass(slots=True)
class Readings:
    """The readings of one record."""

    rows: list[Row] = field(default_factory=list)
    points: list[Row] = field(default_factory=list)
    entered: list[Entered] = field(default_factory=list)
    use: dict[str, Use] = field(default_factory=dict)
    counts: dict[str, int] = field(default_factory=dict)


def key_text(row: dict[str, Any]) -> str:
    """Return the key of a reading or step as it is written."""
    index = _index(row)
    return _name((text(row, "step"), joined(row.get("parts")), index))


def point_number(name: str, unit: str) -> int:
    """Return the number of a point, the same everywhere and always."""
    drawn = blake2b(f"{name}\0{unit}".encode(), digest_size=8).digest()
    return int.from_bytes(drawn, "big") >> 1


def _index(row: dict[str, Any]) -> int:
    found = row.get("index", 0)
    return found if isinstance(found, int) and not isinstance(found, bool) and 0 <= found < 10**9 else 0


def _name(key: _Key) -> str:
    step, parts, index = key
    return f"{step}@{parts}#{index}" if index else f"{step}@{parts}"


_POINTS: dict[tuple[_Key, str], Row] = {}
"""Points that this process has met: the same few names come in every record."""
_MANY: Final = 200_000


def _point(key: _Key, unit: str) -> Row:
    found = _POINTS.get((key, unit))
    if found is None:
        if len(_POINTS) > _MANY:
            _POINTS.clear()
        name = _name(key)
        step, parts, index = key
        step_key = f"{step.partition('.')[0]}@{parts}"
        found = _POINTS[key, unit] = (point_number(name, unit), name, step, parts, step_key, index, unit)
    return found


def read(number_: int, data: dict[str, Any], disposed: dict[str, str]) -> Readings:
    """Return the readings of a record.

    Parameters
    ----------
    disposed
        What was done about what, by its subject.
    """
    made = Readings()
    points: dict[int, Row] = {}
    newest: dict[_Key, Entered] = {}
    last: int | None = None
    for place, row in enumerate(rows(data, "reading")):
        key = (text(row, "step"), joined(row.get("parts")), _index(row))
        point = _point(key, text(row, "unit"))
        points[point[0]] = point
        entered = moment(row.get("entered_at"))
        verdict = text(table(row, "judgement"), "verdict")
        one = Entered(place, key, point[0], point[1], verdict, entered, row, newest.get(key))
        if one.before is not None:
            one.before.superseded = True
        one.fast = _is_fast(row, entered, last)
        newest[key], last = one, entered
        made.entered.append(one)
    made.points = list(points.values())
    made.rows = [_row(number_, one, disposed, made.use) for one in made.entered]
    made.counts = _counts(made.entered, disposed)
    return made


def _is_fast(row: dict[str, Any], entered: int | None, last: int | None) -> bool:
    if entered is None or last is None or not row.get("instrument") or row.get("kind") != "number":
        return False
    measured = moment(row.get("measured_at"))
    copied = measured is not None and entered - measured > _COPIED
    return not copied and 0 <= entered - last < FAST


def _row(number_: int, one: Entered, disposed: dict[str, str], use: dict[str, Use]) -> Row:
    row, judged = one.data, table(one.data, "judgement")
    told = row.get("value")
    value = (1.0 if told else 0.0) if isinstance(told, bool) else number(told)
    shown = "" if value is not None and not isinstance(told, bool) else (text(row, "text") or plain(told))
    low, high = number(judged.get("low")), number(judged.get("high"))
    compared = number(judged.get("compared"))
    instrument = text(row, "instrument")
    if instrument and not one.superseded:
        _used(use, instrument, one.verdict, value if compared is None else compared, low, high)
    return (
        number_, one.place, one.point, value, shown, low, high, compared, one.verdict,
        moment(row.get("measured_at")), one.entered, instrument, int(row.get("corrects") is True),
        int(one.superseded), disposed.get(one.name, ""), int(one.fast),
    )  # fmt: skip


def _used(
    use: dict[str, Use], meter: str, verdict: str, value: float | None, low: float | None, high: float | None
) -> None:
    found = use.get(meter)
    if found is None:
        found = use[meter] = Use()
    found.readings += 1
    found.judged += verdict in FAILED or verdict in PASSED
    found.failed += verdict in FAILED
    away = deviation(value, low, high)
    if away is not None:
        found.placed += 1
        found.deviation += away
        found.deviation_squares += away * away


def deviation(value: float | None, low: float | None, high: float | None) -> float | None:
    """Return how far a value lies from the middle of its band, in half-widths; None without two ends."""
    if value is None or low is None or high is None:
        return None
    half = (high - low) / 2.0
    if not half > 0.0 or not isfinite(half) or not isfinite(value):
        return None
    # one reading of a wrong order of magnitude is a slip of the pen and says nothing of the meter
    return max(-10.0, min(10.0, (value - low) / half - 1.0))


def _counts(entered: list[Entered], disposed: dict[str, str]) -> dict[str, int]:
    stand = [one for one in entered if not one.superseded]
    verdicts = [one.verdict for one in stand]
    failed = [one for one in stand if one.verdict in FAILED]
    passed, conditional = verdicts.count("pass"), verdicts.count("conditional pass")
    return {
        "readings": len(stand),
        "judged": passed + conditional + len(failed),
        "passed": passed,
        "conditional": conditional,
        "failed": len(failed),
        "not_judged": verdicts.count("not judged"),
        "undecided": sum(1 for one in failed if not disposed.get(one.name)),
        "accepted": sum(1 for one in failed if disposed.get(one.name) == "accepted"),
        "fast": sum(1 for one in entered if one.fast),
    }
