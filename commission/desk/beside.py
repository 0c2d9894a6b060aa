"""Two records side by side: only what changed, by the id of what it is about."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final, TypeVar

from commission import plain
from commission.plant.compare import changed_parts
from commission.plant.plant import Plant
from commission.records.types import Record, SettingRow
from commission.units import plain as number_text
from commission.visit.types import Reading

Row = TypeVar("Row")
_NAMED: Final = 4
"""Things that are named where many are only in one of the two records."""


@dataclass(frozen=True, slots=True)
class Change:
    """One thing that is otherwise in the second record."""

    section: str
    what: str
    before: str
    after: str
    bad: bool = False
    """It became worse: out of band now, or other than recommended."""

    @property
    def text(self) -> str:
        """The change in a line."""
        if not self.before and not self.after:
            return self.what
        return f"{self.what}: {self.before or 'not told'} → {self.after or 'not told'}"


def compared(first: Record, second: Record) -> tuple[Change, ...]:
    """Return what is otherwise in the second record, in the order in which a record is read."""
    return (*_visit(first, second), *_plant(first.plant, second.plant), *_devices(first, second),
            *_findings(first, second), *_settings(first, second), *_readings(first, second))  # fmt: skip


def heads(record: Record) -> str:
    """Return what tells a record from another in a line."""
    visit = record.visit
    signed = visit.sign_off.name if visit.sign_off is not None else "not signed"
    return f"{visit.started_at:%Y-%m-%d} {visit.kind}, {signed}"


def _visit(first: Record, second: Record) -> Iterator[Change]:
    before, after = first.visit, second.visit
    if before.site != after.site:
        yield Change("visit", "site", before.site, after.site)
    for what, of in (("people", _people), ("instruments", _instruments)):
        if of(first) != of(second):
            yield Change("visit", what, ", ".join(of(first)), ", ".join(of(second)))
    if first.header.rules != second.header.rules:
        yield Change("visit", "rule set", first.header.rules, second.header.rules)
    if first.header.program != second.header.program:
        yield Change("visit", "program", first.header.program, second.header.program)


def _people(record: Record) -> tuple[str, ...]:
    return tuple(f"{person.name} ({person.role})" for person in record.visit.people)


def _instruments(record: Record) -> tuple[str, ...]:
    return tuple(f"{one.name or one.id} {one.serial}".strip() for one in record.visit.instruments)


# the plant


def _plant(first: Plant, second: Plant) -> Iterator[Change]:
    before, after = _parts(first), _parts(second)
    for ident in changed_parts(first, second):
        old, new = before.get(ident), after.get(ident)
        if old is None or new is None:
            word = "is new" if old is None else "is gone"
            if old is not new:
                yield Change("plant", f"{ident} {word}", "", "")
                continue
        fields = list(_fields(old or {}, new or {}))
        for name, was, is_now in fields[:_MOST_FIELDS]:
            yield Change("plant", f"{ident} {name}", was, is_now)
        if not fields:
            yield Change("plant", f"{ident} is told otherwise", "", "")


_MOST_FIELDS: Final = 12


def _parts(plant: Plant) -> dict[str, dict[str, Any]]:
    found = {ident: part.model_dump(mode="json") for ident, part in plant.parts.items()}
    found |= {string.id: string.model_dump(mode="json") for string in plant.bank.strings}
    found[plant.bank.id] = plant.bank.model_dump(mode="json", exclude={"strings"})
    return found


def _fields(old: Mapping[str, Any], new: Mapping[str, Any], path: str = "") -> Iterator[tuple[str, str, str]]:
    for name in dict.fromkeys((*old, *new)):
        was, is_now, where = old.get(name), new.get(name), f"{path}{name}"
        if isinstance(was, dict) and isinstance(is_now, dict):
            yield from _fields(was, is_now, f"{where}.")
        elif was != is_now:
            yield where, _text(was), _text(is_now)


def _text(value: Any) -> str:
    if value is None or value == "":
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, int | float):
        return number_text(value)
    if isinstance(value, dict):
        return ", ".join(f"{name} {_text(one)}" for name, one in value.items() if one is not None)
    if isinstance(value, list | tuple):
        return ", ".join(map(_text, value))
    return str(value)


def _devices(first: Record, second: Record) -> Iterator[Change]:
    before = {one.part: one for one in first.visit.devices}
    for one in second.visit.devices:
        old = before.get(one.part)
        for name in ("serial", "firmware", "date_code"):
            was = "" if old is None else getattr(old, name)
            if getattr(one, name) and was != getattr(one, name):
                yield Change("devices", f"{one.part} {name.replace('_', ' ')}", was, getattr(one, name))


# findings, settings, readings


def _findings(first: Record, second: Record) -> Iterator[Change]:
    before, after = ({row.id: row for row in one.findings} for one in (first, second))
    for ident, row in after.items():
        old = before.get(ident)
        done = "" if row.disposition is None else f", {row.disposition.disposition}"
        if old is None:
            yield Change("findings", f"{row.kind}: {row.text}", "not there", f"there{done}", bad=not done)
            continue
        was = "" if old.disposition is None else old.disposition.disposition
        now = "" if row.disposition is None else row.disposition.disposition
        if (old.kind, was, old.text) != (row.kind, now, row.text):
            told = f"{old.kind}{f', {was}' if was else ''}"
            yield Change("findings", row.text, told, f"{row.kind}{f', {now}' if now else ''}")
    for ident, row in before.items():
        if ident not in after:
            yield Change("findings", f"{row.kind}: {row.text}", "there", "gone")


def _settings(first: Record, second: Record) -> Iterator[Change]:
    before = {_setting_key(row): row for row in first.settings}
    for row in second.settings:
        old = before.pop(_setting_key(row), None)
        name = " ".join(part for part in _setting_key(row) if part).replace("_", " ")
        was = "" if old is None else _left(old)
        now = _left(row)
        if now and was != now:
            yield Change("settings", name, was, now, bad=row.differs)
        if old is not None and old.recommended != row.recommended:
            yield Change("settings", f"{name}, recommended", _text(old.recommended), _text(row.recommended))


def _setting_key(row: SettingRow) -> tuple[str, str, str]:
    return row.device, row.input or "", row.setting


def _left(row: SettingRow) -> str:
    """Return a setting as this visit left it, else as the one before did."""
    value = row.before if row.left is None else row.left
    return value if isinstance(value, str) else _text(value)


_FAILED: Final = frozenset({"fail", "conditional fail", "stop work"})


def _readings(first: Record, second: Record) -> Iterator[Change]:
    before, after = (_standing(record) for record in (first, second))
    both = [key for key in after if key in before]
    for key in sorted(both, key=lambda one: not _verdict_changed(before[one], after[one])):
        old, new = before[key], after[key]
        if old.value != new.value or _verdict_changed(old, new):
            yield Change("readings", key, _reading(old), _reading(new), bad=_verdict(new) in _FAILED)
    yield from _only("in the second record only", [key for key in after if key not in before])
    yield from _only("in the first record only", [key for key in before if key not in after])


def _standing(record: Record) -> dict[str, Reading]:
    return {str(reading.key): reading for reading in plain.standing_readings(record.visit.readings)}


def _verdict(reading: Reading) -> str:
    return "recorded" if reading.judgement is None else reading.judgement.verdict


def _verdict_changed(old: Reading, new: Reading) -> bool:
    return _verdict(old) != _verdict(new)


def _reading(reading: Reading) -> str:
    return f"{plain.reading_text(reading)}, {_verdict(reading)}"


def _only(where: str, keys: Sequence[str]) -> Iterator[Change]:
    if keys:
        more = f" and {len(keys) - _NAMED} more" if len(keys) > _NAMED else ""
        many = f"{len(keys)} reading{'s' if len(keys) > 1 else ''}"
        yield Change("readings", f"{many} {where}: {', '.join(keys[:_NAMED])}{more}", "", "")


# told


def compared_lines(changes: Iterable[Change]) -> Iterator[str]:
    """Yield the changes as lines, each section under its name."""
    section = ""
    for change in changes:
        if change.section != section:
            section = change.section
            yield section
        yield f"  {change.text}"
    if not section:
        yield "nothing differs"


def compared_json(changes: Iterable[Change]) -> list[dict[str, Any]]:
    """Return the changes with the stable keys of ``compare --json``."""
    keys: tuple[tuple[str, Callable[[Change], Any]], ...] = (
        ("section", lambda one: one.section),
        ("what", lambda one: one.what),
        ("before", lambda one: one.before or None),
        ("after", lambda one: one.after or None),
        ("worse", lambda one: one.bad),
    )
    return [{name: of(change) for name, of in keys} for change in changes]
