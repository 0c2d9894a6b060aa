"""A file of readings, judged without a screen: what an office does with readings taken on paper.

::

    format = 1
    [visit]
    kind = "commissioning"
    technician = "Runa Feld"
    started_at = 2026-11-24T08:30:00+01:00
    [[instrument]]                  # as in a record; without any, no reading can pass clearly
    id = "meter-1"
    kind = "dc voltmeter"
    ranges = [{ unit = "V", up_to = 60.0, percent = 0.1, digits = 2, resolution = 0.01 }]
    [[reading]]
    step = "absorption-voltage"     # with .name behind it where the step asks for several readings
    parts = ["inverter-1"]
    value = "57.62"                 # text keeps its digits; a bare number is in the unit of the step
    measured_at = 2026-11-24T14:05:00+01:00
    instrument = "meter-1"
    attachments = ["screen.jpg"]    # files beneath the folder of this one
    [[attachment]]                  # the same, with a caption, also to a step without a reading
    step = "absorption-voltage"
    parts = ["inverter-1"]
    file = "photographs/lid.jpg"
    caption = "the lid is cracked"

Band and verdict are the program's to give, so such keys are refused.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime
from difflib import get_close_matches
from pathlib import Path
from typing import Any, Final

from pydantic import Field

from commission.checklist.types import Ask, Checklist, ChecklistData, ReadingKey
from commission.errors import EntryError, Problem, ReadingsError, SiteError, VisitError
from commission.plant.plant import Plant
from commission.plant.toml import read_toml, unknown_keys, validated
from commission.plant.values import Ident, Line, Model
from commission.records.on_paper import AttachmentRow, attach_all
from commission.sheet.types import Sheet
from commission.units import UnitSystem
from commission.visit.digest import walk_digest
from commission.visit.journal import InMemory
from commission.visit.kit import checked
from commission.visit.session import OpenVisit
from commission.visit.types import Instrument, Person, Service, Visit, VisitKind, When

_ENTRIES: Final = 10_000
"""Readings of one file; a second file takes the rest."""
_JUDGED: Final = frozenset({"band", "low", "high", "nominal", "verdict", "judgement", "uncertainty"})


class ReadingRow(Model):
    """One reading of the file."""

    step: Line
    parts: tuple[Line, ...] = Field(default=(), strict=False)
    index: int = Field(default=0, ge=0, description="place in its column, from 0")
    value: int | float | bool | str
    measured_at: When | None = Field(default=None, description="the visit's started_at where missing")
    instrument: Ident | None = None
    read_by: Line = ""
    reason: Line = ""
    attachments: tuple[Line, ...] = Field(default=(), strict=False)


class About(Model):
    """What the readings are of."""

    kind: VisitKind = "commissioning"
    technician: Line = ""
    licence: Line = ""
    employer: Line = ""
    started_at: When | None = None


class ReadingsFile(Model):
    """A file of readings."""

    format: int = Field(ge=1, le=1)
    visit: About = About()
    instrument: tuple[Instrument, ...] = Field(default=(), strict=False)
    reading: tuple[ReadingRow, ...] = Field(default=(), strict=False)
    attachment: tuple[AttachmentRow, ...] = Field(default=(), strict=False)


@dataclass(frozen=True)
class Judged:
    """Readings of a file after they were judged: an unsigned visit, and what is odd about them."""

    visit: Visit
    remarks: tuple[str, ...]
    """Steps that were read although something had to pass before."""
    open_visit: OpenVisit


def read_readings(path: Path) -> ReadingsFile:
    """Read a file of readings.

    Raises
    ------
    ReadingsError
        With every problem found: file, key, value and what would be right.
    """
    try:
        data = read_toml(path, entries=_ENTRIES, wanted="file of readings")
        found = validated(ReadingsFile, data, path.name)
    except SiteError as error:
        raise ReadingsError(error.problems) from None
    problems = [_refusal(problem) for problem in unknown_keys(found, path.name)]
    problems += _instruments(found, path.name)
    if not found.reading:
        problems.append(Problem(path.name, "reading", "", "is missing", "at least one [[reading]] table"))
    if problems:
        raise ReadingsError(problems)
    return found


def _refusal(problem: Problem) -> Problem:
    """Turn the warning of an unknown key into a refusal: a reading that is not taken must not look taken."""
    key = re.sub(r"^reading\[(\d+)\]", lambda match: _row(int(match[1])), problem.key)
    if key.rpartition(".")[2] in _JUDGED:
        return Problem(problem.file, key, "", "is given by the program", "leave it out")
    return Problem(problem.file, key, problem.value, "unknown key", problem.right)


def _row(place: int) -> str:
    """Return the key of a reading as a person counts."""
    return f"reading[number {place + 1}]"


def _instruments(found: ReadingsFile, file: str) -> Iterator[Problem]:
    known: set[str] = set()
    for instrument in found.instrument:
        key = f"instrument[{instrument.id}]"
        if instrument.id in known:
            yield Problem(file, key, instrument.id, "is given twice", "an id for each")
        known.add(instrument.id)
        try:
            checked(instrument)
        except EntryError as error:
            yield Problem(file, key, "", str(error), "")
    for place, row in enumerate(found.reading):
        if row.instrument is not None and row.instrument not in known:
            near = get_close_matches(row.instrument, known, n=1, cutoff=0.4)
            listed = f"known: {', '.join(sorted(known))}" if known else "an [[instrument]] table with that id"
            right = f"did you mean {near[0]}?" if near else listed
            wrong = "no such instrument in this file"
            yield Problem(file, f"{_row(place)}.instrument", row.instrument, wrong, right)


def judge_readings(  # noqa: PLR0913 - the command names everything once
    plant: Plant,
    sheet: Sheet,
    checklist: Checklist,
    readings: ReadingsFile,
    *,
    file: str,
    ident: str,
    program: str,
    now: datetime,
    folder: Path | None = None,
    own: tuple[ChecklistData, ...] = (),
    service: Service | None = None,
) -> Judged:
    """Judge the readings of a file as if they had been typed, in the order in which they were measured.

    Parameters
    ----------
    file
        Name of the file, for errors.
    ident
        Id of the visit that the readings make.
    program
        Version of the program.
    folder
        That of the file, beneath which attached files are; None where there is no such folder.
    own
        Checklists of the site's own, by which the walk was made; the record carries them.
    service
        Of readings of a service visit: what the visits before left. The walk is the one that is due then.

    Raises
    ------
    ReadingsError
        With every reading that the walk does not ask for or that cannot be understood, every file that cannot
        be attached.
    """
    started = readings.visit.started_at or now
    visit = Visit(
        id=ident,
        site=plant.site.site.id,
        kind=readings.visit.kind,
        started_at=started,
        program=program,
        service=service,
        checklists=own,
        walk=walk_digest(checklist),
    )
    paper = _OnPaper(plant, sheet, checklist, visit, InMemory())
    _begin(paper, readings, now)
    wrong = _take_all(paper, readings, file=file, started=started, now=now)
    wrong += attach_all(paper, _attachments(readings), file=file, folder=folder or Path(), now=now)
    if wrong:
        raise ReadingsError(wrong)
    return Judged(paper.visit, tuple(_remarks(paper)), paper)


def _take_all(
    paper: _OnPaper, readings: ReadingsFile, *, file: str, started: datetime, now: datetime
) -> list[Problem]:
    """Take every reading of a file in the order of measuring; returns what is wrong, in the file's order."""
    problems: dict[int, Problem] = {}
    for place, row, ask in _in_order(readings, paper.checklist, started, file, problems):
        try:
            _take(paper, row, ask, started=started, now=max(now, row.measured_at or started))
        except (EntryError, VisitError) as error:
            problems[place] = Problem(file, f"{_row(place)}.value", _shown(row.value), str(error), "")
    return [problems[place] for place in sorted(problems)]


class _OnPaper(OpenVisit):
    """A visit whose readings are taken already: nothing is barred any more, it can only be told."""

    def _allow(self, ask: Ask) -> None:
        """Take every reading that the walk asks for."""

    def _system(self) -> UnitSystem:
        """Return the unit system of files, which is that of the keys whatever the site shows."""
        return "metric"

    def _above(self, key: ReadingKey) -> str:
        """Return nothing: in a file every number carries its own unit."""
        return ""


def _begin(paper: OpenVisit, readings: ReadingsFile, now: datetime) -> None:
    about = readings.visit
    if about.technician:
        person = Person(
            name=about.technician, role="technician", licence=about.licence, employer=about.employer
        )
        paper.add_person(person, now)
    for instrument in readings.instrument:
        paper.add_instrument(instrument, now)


def _take(paper: OpenVisit, row: ReadingRow, ask: Ask, *, started: datetime, now: datetime) -> None:
    paper.take(
        ask,
        _typed(row.value),
        measured_at=row.measured_at or started,
        now=now,
        instrument=row.instrument,
        read_by=row.read_by,
        reason=row.reason,
    )


def _attachments(readings: ReadingsFile) -> list[tuple[str, str, AttachmentRow]]:
    """Return the attached files of the readings and those of steps, with the keys under which they stand."""
    of_readings = [
        (
            f"{_row(place)}.step",
            f"{_row(place)}.attachments",
            AttachmentRow(step=row.step, parts=row.parts, file=name),
        )
        for place, row in enumerate(readings.reading)
        for name in row.attachments
    ]
    of_steps = [
        (f"attachment[number {place}].step", f"attachment[number {place}].file", row)
        for place, row in enumerate(readings.attachment, start=1)
    ]
    return [*of_readings, *of_steps]


def _typed(value: float | bool | str) -> str:
    """Return a value of the file as it would be typed; a bare number is in the unit of the step."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    return value if isinstance(value, str) else repr(value)


def _in_order(
    readings: ReadingsFile, checklist: Checklist, started: datetime, file: str, problems: dict[int, Problem]
) -> list[tuple[int, ReadingRow, Ask]]:
    """Return the readings that the walk asks for, by time and then in walking order."""
    rank = {key: place for place, key in enumerate(checklist.asks)}
    known = _by_loose_key(checklist)
    found: list[tuple[int, ReadingRow, Ask]] = []
    given: set[tuple[ReadingKey, datetime]] = set()
    for place, row in enumerate(readings.reading):
        ask = known.get((row.step, tuple(sorted(row.parts)), row.index))
        if ask is None:
            problems[place] = _not_asked(checklist, row, _row(place), file)
            continue
        moment = ask.key, row.measured_at or started
        if moment in given:
            wrong = "the same reading at the same time is given twice"
            problems[place] = Problem(file, _row(place), str(ask.key), wrong, "its own measured_at")
        given.add(moment)
        found.append((place, row, ask))
    return sorted(found, key=lambda item: (item[1].measured_at or started, rank[item[2].key]))


def _by_loose_key(checklist: Checklist) -> Mapping[tuple[str, tuple[str, ...], int], Ask]:
    """Return the readings of the walk by keys in which the order of the parts does not matter."""
    return {(key.step, tuple(sorted(key.parts)), key.index): ask for key, (_, ask) in checklist.asks.items()}


def _not_asked(checklist: Checklist, row: ReadingRow, key: str, file: str) -> Problem:
    names = {ask_key.step for ask_key in checklist.asks}
    if row.step not in names:
        near = get_close_matches(row.step, names, n=1, cutoff=0.4)
        right = f"did you mean {near[0]}?" if near else "the checklist command lists the steps of this plant"
        return Problem(file, f"{key}.step", row.step, "this plant's walk has no such reading", right)
    places = sorted({ask_key.parts for ask_key in checklist.asks if ask_key.step == row.step})
    if tuple(sorted(row.parts)) not in {tuple(sorted(parts)) for parts in places}:
        listed = "; ".join(" + ".join(parts) or "none" for parts in places[:8])
        return Problem(
            file, f"{key}.parts", " + ".join(row.parts), f"'{row.step}' is not read there", f"known: {listed}"
        )
    last = max(ask_key.index for ask_key in checklist.asks if ask_key.step == row.step)
    wrong = "there is no such place in the column"
    return Problem(file, f"{key}.index", str(row.index), wrong, f"between 0 and {last}")


_NOT_COMPARED: Final = (
    "nothing was compared with earlier visits: what has drifted inside its band is not told; "
    "the service visit in the app does that"
)


def _remarks(paper: OpenVisit) -> Iterator[str]:
    if paper.visit.kind == "service":
        yield _NOT_COMPARED
    read = {reading.key for reading in paper.visit.readings}
    for step in paper.checklist.steps:
        if any(ask.key in read for ask in step.asks):
            bars = [bar.why for bar in paper.standing.bars(step)]
            more = f", and {len(bars) - 1} more had to pass before" if len(bars) > 1 else ""
            yield from (f"'{step.title}' was read, but {why}{more}" for why in bars[:1])


def _shown(value: Any) -> str:
    text = str(value)
    return text if len(text) <= 60 else text[:57] + "…"
