"""Two records side by side: only what changed."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final, Literal, TypeAlias

from commission.desk import values
from commission.desk.concerns import setting_subject
from commission.desk.reading_rows import key_text
from commission.desk.values import plain, table, text
from commission.errors import Problem, RecordError
from commission.plant.kinds import wrong_kind
from commission.records.fast import strict_tables

Subject: TypeAlias = Literal["plant", "setting", "reading", "finding", "device", "person", "instrument"]
SUBJECTS: Final[tuple[Subject, ...]] = (
    "plant", "device", "setting", "reading", "finding", "person", "instrument",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Change:
    """One thing that is otherwise in the later record."""

    subject: Subject
    what: str
    """Key of the site file, of the reading, of the setting; name of the person."""
    before: str
    """Empty where it was not there."""
    after: str
    """Empty where it is not there any more."""
    note: str = ""
    """Verdicts, where they are others."""


@dataclass(frozen=True, slots=True)
class Compared:
    """What changed from one record to another."""

    before: str
    """Site, kind and date of the earlier record."""
    after: str
    changes: tuple[Change, ...]
    same: dict[Subject, int]
    """How many of each are as they were."""

    def of(self, subject: Subject) -> tuple[Change, ...]:
        """Return the changes of one subject."""
        return tuple(change for change in self.changes if change.subject == subject)


def compare_files(before: Path, after: Path) -> Compared:
    """Return what changed from one record to another.

    Raises
    ------
    RecordError
        If one of them cannot be read, or is no record.
    """
    return compared(_tables(before), _tables(after))


def _tables(path: Path) -> dict[str, Any]:
    try:
        data = strict_tables(path.read_bytes())
    except OSError as error:
        wrong = f"cannot be read: {error.strerror or error}"
        raise RecordError([Problem(str(path), "file", "", wrong, "")]) from None
    except ValueError as error:
        raise RecordError(
            [Problem(str(path), "file", "", str(error), "a record as it was written")]
        ) from None
    other = wrong_kind(data, "record", path.name)
    if other is not None:
        raise RecordError([other])
    if not isinstance(data.get("header"), dict):
        raise RecordError([Problem(str(path), "header", "", "is missing", "a record as it was written")])
    return data


def compared(before: Mapping[str, Any], after: Mapping[str, Any]) -> Compared:
    """Return what changed between the tables of two records."""
    changes: list[Change] = []
    same: dict[Subject, int] = {}
    for subject in SUBJECTS:
        old, new = (_OF[subject](dict(data)) for data in (before, after))
        found = list(_changes(subject, old, new))
        changes += found
        same[subject] = len(old.keys() | new.keys()) - len(found)
    return Compared(_title(before), _title(after), tuple(changes), same)


_Told: TypeAlias = dict[str, tuple[str, str]]
"""What is shown, and what stands beside it, by key."""


def _changes(subject: Subject, old: _Told, new: _Told) -> Iterator[Change]:
    for key in dict.fromkeys((*new, *old)):
        was, now = old.get(key), new.get(key)
        if was == now:
            continue
        beside = (was[1] if was else "", now[1] if now else "")
        note = f"{beside[0] or 'none'} → {beside[1] or 'none'}" if beside[0] != beside[1] else ""
        yield Change(subject, key, was[0] if was else "", now[0] if now else "", note)


def _title(data: Mapping[str, Any]) -> str:
    header, visit = table(data, "header"), table(data, "visit")
    begun = values.local(visit.get("started_at"))
    return " ".join(part for part in (text(header, "site"), text(header, "kind"), begun) if part)


def _plant(data: dict[str, Any]) -> _Told:
    site = table(table(data, "plant"), "site")
    return {key: (shown, "") for key, shown in _leaves("", site)}


def _leaves(key: str, found: Any) -> Iterator[tuple[str, str]]:
    """Yield every value below a key as text; entries of lists by their ids."""
    if isinstance(found, dict):
        for name, inner in found.items():
            yield from _leaves(f"{key}.{name}".lstrip("."), inner)
    elif isinstance(found, list) and any(isinstance(inner, dict) for inner in found):
        for place, inner in enumerate(found):
            ident = text(inner, "id") if isinstance(inner, dict) else ""
            yield from _leaves(f"{key}[{ident or place}]", inner)
    elif isinstance(found, list):
        if found:
            yield key, ", ".join(_shown(inner) for inner in found)
    else:
        yield key, _shown(found)


def _shown(found: Any) -> str:
    if isinstance(found, bool):
        return "yes" if found else "no"
    return plain(found) if isinstance(found, str | int | float) else str(found)


def _settings(data: dict[str, Any]) -> _Told:
    told: _Told = {}
    for row in values.rows(data, "setting"):
        left = row.get("left") if row.get("left") is not None else row.get("before")
        shown = text(row, "left_text") or text(row, "before_text") or _shown(left) if left is not None else ""
        beside = " ".join((_shown(row.get("recommended", "")), text(row, "unit"))).strip()
        told[setting_subject(row)] = (shown, f"recommended {beside}" if beside else "")
    return told


def _readings(data: dict[str, Any]) -> _Told:
    told: _Told = {}
    for row in values.rows(data, "reading"):
        unit = text(row, "unit")
        shown = text(row, "text") or _shown(row.get("value", ""))
        bare = unit and unit != "1" and not any(letter.isalpha() for letter in shown)
        told[key_text(row)] = (f"{shown} {unit}" if bare else shown, text(table(row, "judgement"), "verdict"))
    return told


def _findings(data: dict[str, Any]) -> _Told:
    return {
        text(row, "id"): (
            f"{text(row, 'kind')}: {text(row, 'text')}",
            text(table(row, "disposition"), "disposition"),
        )
        for row in values.rows(data, "finding")
    }


def _devices(data: dict[str, Any]) -> _Told:
    told: _Told = {}
    for row in values.rows(table(data, "visit"), "devices"):
        names = ("serial", "firmware", "date_code")
        shown = ", ".join(f"{name} {text(row, name)}" for name in names if text(row, name))
        told[text(row, "part")] = (shown, "")
    return told


def _people(data: dict[str, Any]) -> _Told:
    return {
        text(row, "name"): (text(row, "role"), text(row, "licence"))
        for row in values.rows(table(data, "visit"), "people")
    }


def _instruments(data: dict[str, Any]) -> _Told:
    told: _Told = {}
    for row in values.rows(table(data, "visit"), "instruments"):
        shown = ", ".join(part for name in ("kind", "name", "serial") if (part := text(row, name)))
        told[text(row, "id")] = (shown, f"due {text(row, 'due')}" if text(row, "due") else "")
    return told


_OF: Final = {
    "plant": _plant, "setting": _settings, "reading": _readings, "finding": _findings, "device": _devices,
    "person": _people, "instrument": _instruments,
}  # fmt: skip
