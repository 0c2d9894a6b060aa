"""The readings of one record as rows: which count, which were corrected, how each meter's lay."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field
from hashlib import blake2b
from math import copysign, inf, isnan
from typing import Any, Final, TypeAlias

from commission.desk.table import Row
from commission.desk.tables_of_record import READING
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
_QUIET: Final = frozenset({"pass", "recorded"})
"""Of what has such a verdict there is nothing to say, unless it was corrected, drifted or typed too fast."""
_VALUE, _LOW, _HIGH, _COMPARED, _VERDICT, _MEASURED, _ENTERED, _INSTRUMENT, _SUPERSEDED, _DISPOSITION = (
    READING.names.index(name)
    for name in (
        "value", "low", "high", "compared", "verdict", "measured_at", "entered_at", "instrument",
        "superseded", "disposition",
    )
)  # fmt: skip
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
    disposition: str = ""
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
    """Those about which there may be something to say; not what simply passed."""
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
_NUMBERED: Final = (int, type(None))
_WORDED: Final = (str, type(None))


def _point(row: dict[str, Any]) -> Row:
    """Return the row of the point that a reading is of."""
    step, parts, index, unit = row.get("step"), row.get("parts"), row.get("index"), row.get("unit")
    if parts.__class__ is list:
        parts = parts[0] if len(parts) == 1 and parts[0].__class__ is str else joined(parts)
    elif parts is not None:
        return _new_point(row)
    if step.__class__ is not str or index.__class__ not in _NUMBERED or unit.__class__ not in _WORDED:
        return _new_point(row)
    found = _POINTS.get((step, parts, index, unit))
    if found is None:
        if len(_POINTS) > _MANY:
            _POINTS.clear()
        found = _POINTS[step, parts, index, unit] = _new_point(row)
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
    told = rows(data, "reading")
    made = Readings()
    points: dict[int, Row] = {}
    newest: dict[str, int] = {}
    entries: dict[int, Entered] = {}
    last: int | None = None
    for place, row in enumerate(told):
        point = _point(row)
        number = point[0]
        points[number] = point
        made_row = _row(number_, place, number, row, disposed.get(point[1], "") if disposed else "")
        made.rows.append(made_row)
        entered, verdict = made_row[_ENTERED], made_row[_VERDICT]
        before = newest.get(point[1])
        newest[point[1]] = place
        quick = entered is not None and last is not None and 0 <= entered - last < FAST
        last = entered
        if before is None and not quick and verdict in _QUIET and "drifts" not in row["judgement"]:
            continue
        one = entries[place] = _entry(place, point, made_row, row)
        if before is not None:
            one.before = entries.get(before) or _entry(before, point, made.rows[before], told[before])
            entries[before] = one.before
            one.before.superseded = True
        one.fast = quick and not _judged_anew(one) and _is_fast(row, entered, made_row[_MEASURED])
    for place, one in entries.items():
        if one.superseded or one.fast:
            flags = int(one.superseded), made.rows[place][_DISPOSITION], int(one.fast)
            made.rows[place] = (*made.rows[place][:_SUPERSEDED], *flags)
    made.points = list(points.values())
    made.entered = [entries[place] for place in sorted(entries)]
    made.counts = _counted(made)
    return made


def _entry(place: int, point: Row, made: Row, row: dict[str, Any]) -> Entered:
    return Entered(
        place, point[0], point[1], made[_VERDICT], made[_ENTERED], row, table(row, "judgement"),
        made[_DISPOSITION],
    )  # fmt: skip


def _judged_anew(one: Entered) -> bool:
    """Whether the program judged a reading again, once what it waited for was read: nobody typed then."""
    before = one.before
    return (
        before is not None
        and bool(one.data.get("corrects"))
        and all(one.data.get(name) == before.data.get(name) for name in ("text", "measured_at"))
    )


def _is_fast(row: dict[str, Any], entered: int, measured: int | None) -> bool:
    """Whether a number of a meter that was typed soon after the one before was not copied from paper."""
    copied = measured is not None and entered - measured > _COPIED
    return not copied and bool(row.get("instrument")) and row.get("kind") == "number"


def _row(number_: int, place: int, point: int, row: dict[str, Any], disposition: str) -> Row:
    """Return the row of a reading as if nothing replaced it."""
    judged = row.get("judgement")
    if judged.__class__ is not dict:
        judged = _NOTHING
    told, shown = row.get("value"), ""
    value: float | None
    if told.__class__ is float and not isnan(told):
        value = told
    else:
        value = (1.0 if told else 0.0) if isinstance(told, bool) else number(told)
        shown = "" if value is not None and not isinstance(told, bool) else (text(row, "text") or plain(told))
    verdict = judged.get("verdict")
    if verdict.__class__ is not str or verdict not in _VERDICTS:
        verdict = plain(verdict)
    instrument = row.get("instrument")
    if instrument.__class__ is not str or not instrument.isascii() or not instrument.isprintable():
        instrument = plain(instrument)
    low, high, compared = judged.get("low"), judged.get("high"), judged.get("compared")
    return (
        number_, place, point, value, shown,
        low if low.__class__ is float and not isnan(low) else number(low),
        high if high.__class__ is float and not isnan(high) else number(high),
        compared if compared is None else number(compared),
        verdict, moment(row.get("measured_at")), moment(row["entered_at"]) if "entered_at" in row else None,
        instrument, 1 if row.get("corrects") is True else 0, 0, disposition, 0,
    )  # fmt: skip


def _counted(made: Readings) -> dict[str, int]:
    """Count verdicts of the readings that stand, and fill in how each meter's lay."""
    standing = [row for row in made.rows if not row[_SUPERSEDED]]
    counts = Counter([row[_VERDICT] for row in standing])
    _used(made.use, standing)
    failed = [one for one in made.entered if not one.superseded and one.verdict in FAILED]
    return {
        "readings": len(standing),
        "judged": counts["pass"] + counts["conditional pass"] + len(failed),
        "passed": counts["pass"],
        "conditional": counts["conditional pass"],
        "failed": len(failed),
        "not_judged": counts["not judged"],
        "undecided": sum(1 for one in failed if not one.disposition),
        "accepted": sum(1 for one in failed if one.disposition == "accepted"),
        "fast": sum(1 for one in made.entered if one.fast),
    }


def _used(use: dict[str, Use], standing: list[Row]) -> None:
    """Add readings to those of their meters."""
    for row in standing:
        meter = row[_INSTRUMENT]
        if not meter:
            continue
        found = use.get(meter)
        if found is None:
            found = use[meter] = Use()
        found.readings += 1
        verdict = row[_VERDICT]
        if verdict in PASSED:
            found.judged += 1
        elif verdict in FAILED:
            found.judged += 1
            found.failed += 1
        compared = row[_COMPARED]
        away = deviation(row[_VALUE] if compared is None else compared, row[_LOW], row[_HIGH])
        if away is not None:
            found.placed += 1
            found.deviation += away
            found.deviation_squares += away * away


def deviation(value: float | None, low: float | None, high: float | None) -> float | None:
    """Return how far a value lies from the middle of its band, in half-widths; None without two ends."""
    if value is None or low is None or high is None:
        return None
    half = (high - low) / 2.0
    if not 0.0 < half < inf or not -inf < value < inf:
        return None
    # one reading of a wrong order of magnitude is a slip of the pen and says nothing of the meter
    away = (value - low) / half - 1.0
    return away if -10.0 <= away <= 10.0 else copysign(10.0, away)
