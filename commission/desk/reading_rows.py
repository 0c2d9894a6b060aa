"""The readings of one record as rows: which count, which were corrected, how each meter's lay."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from hashlib import blake2b
from typing import Any, Final, TypeAlias

from commission.desk.tables import Row
from commission.desk.values import joined, moment, number, plain, rows, text

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
_VERDICTS: Final = FAILED | PASSED | {"not judged", "recorded"}
_NOTHING: Final[dict[str, Any]] = {}
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
    point: int
    name: str
    """Key as it is written."""
    verdict: str
    entered: int | None
    data: dict[str, Any]
    judged: dict[str, Any]
    """Its judgement."""
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


_POINTS: dict[tuple[Any, ...], Row] = {}
"""Points that this process has met: the same few names come in every record."""
_MANY: Final = 200_000


def _point(row: dict[str, Any]) -> Row:
    """Return the row of the point that a reading is of."""
    parts = row.get("parts")
    raw = (
        row.get("step"),
        tuple(parts) if isinstance(parts, list) else None,
        row.get("index"),
        row.get("unit"),
    )
    try:
        found = _POINTS.get(raw)
    except TypeError:  # a list or a table where a text should be
        return _new_point(row)
    if found is None:
        if len(_POINTS) > _MANY:
            _POINTS.clear()
        found = _POINTS[raw] = _new_point(row)
    return found


def _new_point(row: dict[str, Any]) -> Row:
    step, parts, index, unit = text(row, "step"), joined(row.get("parts")), _index(row), text(row, "unit")
    name = _name((step, parts, index))
    step_key = f"{step.partition('.')[0]}@{parts}"
    return point_number(name, unit), name, step, parts, step_key, index, unit


def read(number_: int, data: dict[str, Any], disposed: dict[str, str]) -> Readings:
    """Return the readings of a record.

    Parameters
    ----------
    disposed
        What was done about what, by its subject.
    """
    made = Readings()
    points: dict[int, Row] = {}
    newest: dict[str, Entered] = {}
    last: int | None = None
    for place, row in enumerate(rows(data, "reading")):
        point = _point(row)
        points[point[0]] = point
        entered = moment(row["entered_at"]) if "entered_at" in row else None
        told = row.get("judgement")
        judged = told if isinstance(told, dict) else _NOTHING
        verdict = judged.get("verdict")
        if verdict.__class__ is not str or verdict not in _VERDICTS:
            verdict = text(judged, "verdict")
        before = newest.get(point[1])
        one = Entered(place, point[0], point[1], verdict, entered, row, judged, before)
        if before is not None:
            before.superseded = True
        if entered is not None and not _judged_anew(one):
            one.fast = _is_fast(row, entered, last)
        newest[point[1]], last = one, entered
        made.entered.append(one)
    made.points = list(points.values())
    made.rows = [_row(number_, one, disposed, made.use) for one in made.entered]
    made.counts = _counts(made.entered, disposed)
    return made


def _judged_anew(one: Entered) -> bool:
    """Whether the program judged a reading again, once what it waited for was read: nobody typed then."""
    before = one.before
    return (
        before is not None
        and bool(one.data.get("corrects"))
        and all(one.data.get(name) == before.data.get(name) for name in ("text", "measured_at"))
    )


def _is_fast(row: dict[str, Any], entered: int, last: int | None) -> bool:
    if last is None or not 0 <= entered - last < FAST:
        return False
    measured = moment(row.get("measured_at"))
    copied = measured is not None and entered - measured > _COPIED
    return not copied and bool(row.get("instrument")) and row.get("kind") == "number"


def _row(number_: int, one: Entered, disposed: dict[str, str], use: dict[str, Use]) -> Row:
    row, judged = one.data, one.judged
    told = row.get("value")
    shown = ""
    if told.__class__ is float and not math.isnan(told):
        value: float | None = told
    else:
        value = (1.0 if told else 0.0) if isinstance(told, bool) else number(told)
        shown = "" if value is not None and not isinstance(told, bool) else (text(row, "text") or plain(told))
    low, high, compared = judged.get("low"), judged.get("high"), judged.get("compared")
    low = None if low is None else number(low)
    high = None if high is None else number(high)
    compared = None if compared is None else number(compared)
    instrument = row.get("instrument") or ""
    if not isinstance(instrument, str) or instrument not in use:
        instrument = plain(instrument)
    if instrument and not one.superseded:
        _used(use, instrument, one.verdict, value if compared is None else compared, low, high)
    return (
        number_, one.place, one.point, value, shown, low, high, compared, one.verdict,
        moment(row.get("measured_at")), one.entered, instrument, 1 if row.get("corrects") is True else 0,
        1 if one.superseded else 0, disposed.get(one.name, "") if disposed else "", 1 if one.fast else 0,
    )  # fmt: skip


def _used(
    use: dict[str, Use], meter: str, verdict: str, value: float | None, low: float | None, high: float | None
) -> None:
    found = use.get(meter)
    if found is None:
        found = use[meter] = Use()
    found.readings += 1
    if verdict in FAILED:
        found.judged += 1
        found.failed += 1
    elif verdict in PASSED:
        found.judged += 1
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
    if not half > 0.0 or not math.isfinite(half) or not math.isfinite(value):
        return None
    # one reading of a wrong order of magnitude is a slip of the pen and says nothing of the meter
    away = (value - low) / half - 1.0
    return away if -10.0 <= away <= 10.0 else math.copysign(10.0, away)


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
