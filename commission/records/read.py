"""Reading a record back: the very visit and plant that were written."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from pathlib import Path
from typing import Any, Final

from pydantic import TypeAdapter

from commission.errors import Problem, RecordError, SiteError
from commission.plant.explain import problem
from commission.plant.formats import brought_up, told_format
from commission.plant.kinds import wrong_kind
from commission.plant.plant import Plant
from commission.plant.toml import Limits, UnfitError, bounded, guarded, validated
from commission.records.canonical import DIGEST
from commission.records.migrate import RECORDS
from commission.records.types import FindingRow, Header, Record, SettingRow
from commission.visit.digest import canonical_json
from commission.visit.types import Visit

LIMITS: Final = Limits(largest=25_000_000, usual="a record of one visit", deepest=32)
"""Twice a visit of ten thousand readings; what a site file nests stands deeper in a record."""
_APART: Final = ("readings", "notes", "sign_off")
"""Fields of the visit that stand in tables of their own, and nowhere else."""
_SETTINGS: Final[TypeAdapter[Any]] = TypeAdapter(list[SettingRow])
_FINDINGS: Final[TypeAdapter[Any]] = TypeAdapter(list[FindingRow])


def read_record(path: Path) -> Record:
    """Return a record, one of an earlier format as it is in the newest.

    It says nothing about whether the record was changed; that is ``verify``'s.

    Raises
    ------
    RecordError
        With every problem found, if the file cannot be read, is no record, or is of a later format.
    """
    return record_in(_parsed(path), path.name)


def record_in(data: dict[str, Any], file: str) -> Record:
    """Return the record that a file's tables hold, as :func:`read_record` does.

    Raises
    ------
    RecordError
        With every problem found, if they are no record, or of a later format.
    """
    other = wrong_kind(data, "record", file)
    if other is not None:
        raise RecordError([other])
    try:
        return _record(data, file)
    except SiteError as error:
        raise RecordError(error.problems) from None


def _record(told: dict[str, Any], file: str) -> Record:
    format_ = told_format(told)
    if format_ is None:
        right = f"a record begins with format = {RECORDS.newest}"
        raise RecordError([problem(file, "format", "", "is missing or no number of a format", right)])
    data = brought_up(told, RECORDS, file)
    header = validated(Header, _table(data, "header", file), file, "header")
    visit = validated(Visit, _visit(data, file), file, "visit")
    plant = validated(Plant, _table(data, "plant", file), file, "plant")
    settings = validated(_SETTINGS, data.get("setting", []), file, "setting")
    findings = validated(_FINDINGS, data.get("finding", []), file, "finding")
    digest = _digest_of(_table(told, "plant", file))
    record = Record(header, plant, visit, tuple(settings), tuple(findings), format_, digest)
    wrong = list(_disagreements(record, file))
    if wrong:
        raise RecordError(wrong)
    return record


def _visit(data: dict[str, Any], file: str) -> dict[str, Any]:
    """Put the visit together again from the tables that it is spread over."""
    own = _table(data, "visit", file)
    twice = [name for name in _APART if name in own]
    if twice:
        right = "in a table of its own, as it was written"
        raise RecordError([problem(file, f"visit.{name}", "", "stands in [visit]", right) for name in twice])
    apart = {"readings": data.get("reading", []), "notes": data.get("note", [])}
    signed = {"sign_off": data["sign_off"]} if "sign_off" in data else {}
    return own | apart | signed


def _digest_of(plant: dict[str, Any]) -> str:
    """Return the digest of a plant as the record holds it, whatever its format; empty where JSON lacks it."""
    try:
        return DIGEST + hashlib.sha256(canonical_json(plant)).hexdigest()
    except ValueError:
        return ""


def _disagreements(record: Record, file: str) -> Iterator[Problem]:
    header, visit = record.header, record.visit
    for key, told, held in (
        ("header.visit", header.visit, visit.id),
        ("header.site", header.site, visit.site),
        ("plant.site.site.id", record.plant.site.site.id, visit.site),
    ):
        if told != held:
            yield Problem(file, key, told, f"the visit in the record says {held}", "the same in both places")


def _parsed(path: Path) -> dict[str, Any]:
    try:
        return toml_of(bounded(path, LIMITS))
    except UnfitError as error:
        raise _unreadable(path, error.wrong, error.right) from None
    except FileNotFoundError:
        raise _unreadable(path, "there is no such file", "") from None
    except OSError as error:
        raise _unreadable(path, f"cannot be read: {error.strerror or error}", "") from None
    except ValueError:
        raise _unreadable(path, "this is no name of a file", "") from None


def toml_of(content: bytes) -> dict[str, Any]:
    """Return the tables of a record that anybody may have changed.

    Raises
    ------
    UnfitError
        If it is too large, not UTF-8, not TOML, nests too deeply or holds a number of thousands of digits.
    """
    return guarded(content, LIMITS)


def _table(data: dict[str, Any], name: str, file: str) -> dict[str, Any]:
    found = data.get(name)
    if isinstance(found, dict):
        return found
    raise RecordError([Problem(file, name, "", "is missing", "a record as it was written")])


def _unreadable(path: Path, wrong: str, right: str) -> RecordError:
    return RecordError([problem(str(path), "file", "", wrong, right)])


def is_site_file(path: Path) -> bool:
    """Say whether a file beside records is a site's, and no record that lost its seal."""
    try:
        content = bounded(path, LIMITS)
        data = {} if b"[[seal]]" in content else toml_of(content)
    except (UnfitError, OSError, ValueError):
        return False
    return isinstance(data.get("site"), dict) and "header" not in data and "visit" not in data


def is_record(path: Path) -> bool:
    """Say whether a file is meant as a record, whatever may be wrong with it: a site file has no visit."""
    try:
        data = toml_of(bounded(path, LIMITS))
    except (UnfitError, OSError, ValueError):
        return False
    return isinstance(data.get("header"), dict) and isinstance(data.get("visit"), dict)
