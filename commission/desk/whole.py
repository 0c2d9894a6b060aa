"""A record told whole, line by line, each with the step that it belongs to and its full text."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from commission import plain_records
from commission.desk.names import step_words, words_of
from commission.records.types import FindingRow, Record, SettingRow
from commission.units import plain as number_text
from commission.visit.types import Instrument, Reading

Parts = tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Said:
    """One line of a record."""

    text: str
    full: str = ""
    """All that is known of it; the line itself where empty."""
    step: str = ""
    """Step and reading that it belongs to, where it does; a comment can be made there."""
    parts: Parts = ()
    key: str = ""
    """Key of a reading, so that its trend can be asked for."""
    about: str = ""
    """Key of what it says should be looked at first."""


@dataclass(frozen=True, slots=True)
class Section:
    """A part of a record under its heading."""

    title: str
    lines: tuple[Said, ...]


def sections(record: Record) -> tuple[Section, ...]:
    """Return everything that a record holds, in the order in which it is read."""
    made = (
        ("people and instruments", _people(record)),
        ("findings of the design check", _findings(record)),
        ("settings as found and as left", _settings(record)),
        ("readings", _readings(record)),
        ("what was decided", _decided(record)),
        ("hold points released, steps that do not apply", _released(record)),
        ("notes", _notes(record)),
    )
    told = ((title, tuple(lines)) for title, lines in made)
    return tuple(Section(title, lines) for title, lines in told if lines)


def _people(record: Record) -> Iterator[Said]:
    visit = record.visit
    for person in visit.people:
        licence = f"licence {person.licence}" if person.licence else ""
        yield Said(_joined(f"{person.role:<12}{person.name}", licence, person.employer))
    for one in visit.instruments:
        dates = _joined(
            f"serial {one.serial}" if one.serial else "no serial number",
            f"calibrated {one.calibrated}" if one.calibrated else "calibration not told",
            f"due {one.due}" if one.due else "",
        )
        yield Said(f"{'meter':<12}{_meter(one)}: {dates}")
    if visit.next_technician:
        yield Said(f"for the next technician: {visit.next_technician}")
    if visit.spares:
        yield Said(f"spares left: {visit.spares}")


def _meter(one: Instrument) -> str:
    name = one.name or one.id
    return name if name == one.kind else f"{name}, {one.kind}"


def _findings(record: Record) -> Iterator[Said]:
    for row in record.findings:
        yield Said(f"{row.kind:<12}{row.text}", _finding_in_full(row))


def _finding_in_full(row: FindingRow) -> str:
    lines = [f"{row.kind}: {row.text}", f"remedy: {row.remedy}" if row.remedy else ""]
    done = row.disposition
    if done is not None:
        until = f" until {done.until}" if done.until else ""
        lines.append(f"{done.disposition}{until} by {done.by}: {done.reason}")
    return "\n".join(line for line in (*lines, *row.why) if line)


def _settings(record: Record) -> Iterator[Said]:
    for row in record.settings:
        name = _joined(row.device, row.input or "", row.setting, sign=" ").replace("_", " ")
        told = _joined(
            f"recommended {_value(row.recommended, row)}" if row.recommended is not None else "",
            f"found {row.found_text or _value(row.found, row)}" if row.found is not None else "",
            f"left {row.left_text or _value(row.left, row)}" if row.left is not None else "not read as left",
        )
        odd = "  differs" if row.differs else "  moved since the visit before" if row.drifted else ""
        yield Said(f"{name:<44} {told}{odd}", _setting_in_full(name, told, row))


def _setting_in_full(name: str, told: str, row: SettingRow) -> str:
    lines = [
        f"{name}: {told}",
        _reason(row),
        *_found_before(row),
        "" if row.before is None else f"the visit before left {row.before_text or _value(row.before, row)}",
        row.note,
    ]  # fmt: skip
    return "\n".join(line for line in (*lines, *row.why) if line)


def _found_before(row: SettingRow) -> Iterator[str]:
    for old in row.found_before:
        told = old.found_text or _value(old.found, row)
        yield f"told as found at {told} first, put right {old.at:%Y-%m-%d %H:%M}: {old.why}"


def _reason(row: SettingRow) -> str:
    if row.reason:
        return f"why it differs: {row.reason}"
    return "differs, and no reason is told" if row.differs else ""


def _value(value: Any, row: SettingRow) -> str:
    if value is None:
        return "unknown"
    if isinstance(value, str):
        return value
    return f"{number_text(value)} {row.unit}".removesuffix(" 1").strip()


def _readings(record: Record) -> Iterator[Said]:
    standing = {id(reading) for reading in plain_records.standing_readings(record.visit.readings)}
    for reading in record.visit.readings:
        key = str(reading.key)
        (line,) = plain_records.reading_lines((reading,), words_of)
        count = "" if id(reading) in standing else "  (put right later)"
        beside = f"  ({key})" if words_of(key) != key else ""
        yield Said(f"{line}{count}{beside}", _reading_in_full(reading), reading.step, reading.parts, key)


def _reading_in_full(reading: Reading) -> str:
    judged = reading.judgement
    (line,) = plain_records.reading_lines((reading,), words_of)
    meter = f"with {reading.instrument}" if reading.instrument else ""
    by = f"by {reading.read_by}" if reading.read_by else ""
    lines = [
        " ".join(line.split()),
        f"key {reading.key}",
        _joined(
            f"measured {reading.measured_at:%Y-%m-%d %H:%M}",
            f"entered {reading.entered_at:%Y-%m-%d %H:%M:%S}",
            meter,
            by,
        ),
        f"corrects an earlier reading: {reading.reason or 'no reason told'}" if reading.corrects else "",
        f"reason: {reading.reason}" if reading.reason and not reading.corrects else "",
    ]
    if judged is not None:
        lines += [drift.says for drift in judged.drifts if drift.says]
        lines += judged.why
    return "\n".join(line for line in lines if line)


def _decided(record: Record) -> Iterator[Said]:
    for one in record.visit.dispositions:
        until = f" until {one.until}" if one.until else ""
        off = f"; stays off: {one.stays_off}" if one.stays_off else ""
        yield Said(f"{one.disposition}{until}  {words_of(one.subject)}  by {one.by}: {one.reason}{off}")


def _released(record: Record) -> Iterator[Said]:
    for one in record.visit.releases:
        reason = f": {one.reason}" if one.reason else ""
        yield Said(f"released  {step_words(one.step, one.parts)}  by {one.by}, {one.role}{reason}")
    for step in record.visit.not_applicable:
        word = "withdrawn" if step.withdrawn else "not here"
        yield Said(f"{word}  {step_words(step.step, step.parts)}: {step.reason}")


def _notes(record: Record) -> Iterator[Said]:
    for note in record.visit.notes:
        first = note.text.splitlines()[0] if note.text else ""
        yield Said(f"{step_words(note.step, note.parts)}: {first}", f"{note.at:%Y-%m-%d %H:%M}\n{note.text}",
                   note.step, note.parts)  # fmt: skip


def _joined(*told: str, sign: str = ", ") -> str:
    return sign.join(one for one in told if one)
