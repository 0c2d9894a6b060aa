"""What a handover tells of readings beside earlier ones: those that drifted, and behind them all."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final, TypeAlias

from commission.handover.blocks import Column, Fact, Facts, Part, Row, Table
from commission.handover.matter import Matter, earlier_text, exact, typed, with_unit
from commission.handover.visited import verdict_of
from commission.revisit.summary import day, drifted
from commission.units import plain
from commission.visit.changes import SIGNS
from commission.visit.types import Drift, EarlierReading, OneSided, Reading

_UNTOLD: Final = frozenset({"not judged", "not compared"})
_UNSEEN: Final = "see below"
_EACH_WHOLE: Final = 3
"""Readings of one step that drifted alike and are told whole; of more, such as all links, a line each."""
_Moved: TypeAlias = tuple[Reading, Drift]
_LIMITED: Final = (
    Column("reading", 15), Column("baseline", 11, number=True), Column("last", 11, number=True),
    Column("now", 11, number=True), Column("change", 13, number=True), Column("limit", 6, number=True),
    Column("verdict", 7),
)  # fmt: skip
_OTHERS: Final = (
    Column("reading", 41), Column("baseline", 12, number=True), Column("last", 12, number=True),
    Column("now", 12, number=True),
)  # fmt: skip


def drifted_readings(matter: Matter) -> Part | None:
    """Return the readings that have gone too far from an earlier one, or of which that is open."""
    limited = [one for one in matter.readings if _drifts(one)]
    if matter.service is None or (matter.service.returned is not None and not limited):
        return None
    told = tuple(fact for found in _alike(matter) for fact in _drifted(matter, found))
    holding = sum(all(drift.verdict == "holds" for drift in _drifts(one)) for one in limited)
    if limited:
        open_ = sum(any(drift.verdict == "not compared" for drift in _drifts(one)) for one in limited)
        more = f", {open_} could not be compared" if open_ else ""
        words = (
            f"{holding} of {len(limited)} readings with a limit of change hold{more}; all are told behind."
        )
    else:
        words = "No reading of this visit has a limit of change and an earlier value to compare with."
    return Part("Readings that drifted", (Facts((*told, Fact("", (words,)))),))


def _alike(matter: Matter) -> Iterator[list[_Moved]]:
    """Yield what drifted, readings of one step together that drifted since the same days to the same end."""
    groups: dict[tuple[object, ...], list[_Moved]] = {}
    for reading, drift in drifted(matter.visit):
        days = tuple(one and one.measured_at.date() for one in _earlier(matter, reading))
        same = (matter.place(reading.key)[0], drift.verdict, drift.since, days)
        groups.setdefault(same, []).append((reading, drift))
    yield from groups.values()


def _drifted(matter: Matter, found: list[_Moved]) -> Iterator[Fact]:
    """Yield what is to be told of drifts: each whole, or of many a line each and the furthest whole."""
    word = "open" if found[0][1].verdict == "not judged" else found[0][1].verdict
    if len(found) <= _EACH_WHOLE:
        for reading, drift in found:
            yield Fact(word, (matter.reading(reading.key), *_beside(matter, reading), _says(drift)))
        return
    title = matter.place(found[0][0].key)[0]
    lines = (_short(matter, *pair) for pair in found)
    furthest, drift = max(found, key=lambda pair: abs(pair[1].change))
    last = f"furthest, {matter.place(furthest.key)[1]}: {_says(drift)}"
    yield Fact(word, (f"{title}: {len(found)} readings", _days(matter, found[0][0]), *lines, last))


def _beside(matter: Matter, reading: Reading) -> Iterator[str]:
    """Yield the earlier values of a reading with their days, and what it is now."""
    beside = zip(("baseline", "last"), _earlier(matter, reading), strict=True)
    yield ", ".join(
        f"{name} {earlier_text(one)} ({day(one.measured_at.date())})" for name, one in beside if one
    )
    yield f"now {typed(reading)}, {verdict_of(reading)}"


def _days(matter: Matter, reading: Reading) -> str:
    beside = zip(("baseline", "last"), _earlier(matter, reading), strict=True)
    return ", ".join((*(f"{name} of {day(one.measured_at.date())}" for name, one in beside if one), "now"))


def _short(matter: Matter, reading: Reading, drift: Drift) -> str:
    values = ", ".join(earlier_text(one) for one in _earlier(matter, reading) if one)
    change = _change(drift)
    moved = "" if change == _UNSEEN else f", {change}"
    return f"{matter.place(reading.key)[1]}: {values}, {typed(reading)}{moved}; {verdict_of(reading)}"


def _says(drift: Drift) -> str:
    return drift.says or _change_text(drift)


def _change_text(drift: Drift) -> str:
    return f"{_change(drift)} since the {drift.since}; at most {with_unit(_limit(drift), drift.unit)}"


def _drifts(reading: Reading) -> tuple[Drift, ...]:
    return () if reading.judgement is None else reading.judgement.drifts


def _earlier(matter: Matter, reading: Reading) -> tuple[EarlierReading | None, EarlierReading | None]:
    """Return baseline and last value of a reading; the last is None where it is the baseline."""
    rows = [one for one in matter.earlier if one.key == reading.key]
    base = next((one for one in rows if one.baseline), None)
    return base, next((one for one in rows if not one.baseline), None)


# all of them


def all_readings(matter: Matter) -> Part | None:
    """Return every reading that has an earlier value beside it, by the days of these."""
    groups = _by_days(matter)
    if not groups:
        return None
    blocks: list[Facts | Table] = []
    for days, readings in groups.items():
        limited = [one for one in readings if _drifts(one)]
        others = [one for one in readings if not _drifts(one)]
        blocks.append(Facts((Fact("", (days,)),)))
        if limited:
            rows = tuple(row for one in limited for row in _rows(matter, one))
            blocks.append(Table(_LIMITED, rows))
        if others:
            blocks.append(Table(_OTHERS, tuple(_values(matter, one) for one in others)))
    return Part("Every reading beside its baseline and its last value", tuple(blocks), behind=True)


def _by_days(matter: Matter) -> dict[str, list[Reading]]:
    groups: dict[str, list[Reading]] = {}
    for reading in matter.readings:
        base, last = _earlier(matter, reading)
        if base is not None:
            firm = "provisional baseline" if base.provisional else "baseline"
            days = f"{firm} of {day(base.measured_at.date())}, visit {base.visit}"
            days += f"; last of {day(last.measured_at.date())}, visit {last.visit}" if last else ", last too"
            groups.setdefault(days, []).append(reading)
    return groups


def _values(matter: Matter, reading: Reading) -> Row:
    base, last = _earlier(matter, reading)
    cells = [earlier_text(one) if one else "same" for one in (base, last)]
    return Row((matter.reading(reading.key), *cells, typed(reading)))


def _rows(matter: Matter, reading: Reading) -> Iterator[Row]:
    """Yield a row for a reading with its first change in it, and one for each further change.

    Those of a column stand under its name, each by its place.
    """
    name, *values = _values(matter, reading).cells
    title, place = matter.place(reading.key)
    drifts = _drifts(reading)
    group = title if place and len(place) <= _LIMITED[0].width else name
    if drifts[0].compared_as:
        group = f"{group} ({drifts[0].compared_as})"
    known: tuple[str, ...] = ("" if group.startswith(name) else place, *values)
    for drift in drifts:
        since = "" if drift.since == "baseline" else "since the last"
        label = ", ".join(told for told in (known[0], since) if told)
        yield Row(
            (label, *known[1:], _change(drift), _limit(drift), drift.verdict), tuple(_notes(drift)), group
        )
        known = ("",) * len(known)


def _change(drift: Drift) -> str:
    """Return a change as its limit has it; of bounds only the words below it tell what is known."""
    if drift.verdict in _UNTOLD or drift.before_side or drift.now_side:
        return _UNSEEN
    sign = "+" if drift.change > 0 else ""
    return with_unit(f"{sign}{plain(round(drift.change, 6))}", drift.unit)


def _limit(drift: Drift) -> str:
    """Return how far a reading may go, in the unit of its change: ``±0.05``, ``+20``, ``+20 −10``."""
    high, low = (None if end is None else plain(end) for end in (drift.high, drift.low))
    if high is not None and low == f"−{high}":
        return f"±{high}"
    told = (f"+{high}" if high is not None else "", low or "")
    return " ".join(one for one in told if one) or "–"


def _notes(drift: Drift) -> Iterator[str]:
    """Yield what was compared and what the record says of it, where change and limit do not tell all."""
    if _plain_to_see(drift):
        return
    if drift.compared_as and f"as {drift.compared_as}:" not in drift.says:
        unit = drift.compared_unit or ""
        then = _side(drift.before, drift.before_side, unit)
        now = _side(drift.now, drift.now_side, unit)
        yield f"{drift.compared_as}: {then} then, {now} now"
    if drift.says:
        yield drift.says


def _plain_to_see(drift: Drift) -> bool:
    """Say whether change and limit alone make the verdict plain; what stands in doubt has its words."""
    if drift.verdict in _UNTOLD or drift.before_side or drift.now_side:
        return False
    within = (drift.low is None or drift.change >= drift.low) and (
        drift.high is None or drift.change <= drift.high
    )
    return within == (drift.verdict == "holds")


def _side(value: float, side: OneSided | None, unit: str) -> str:
    return f"{SIGNS[side or 'exact']}{with_unit(exact(value), unit)}"
