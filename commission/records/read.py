"""Reading a record back: the very visit and plant that were written."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any, Final

from pydantic import TypeAdapter

from commission.errors import Problem, RecordError, SiteError
from commission.plant.plant import Plant
from commission.plant.toml import validated
from commission.records.types import FORMAT, FindingRow, Header, Record, SettingRow
from commission.visit.types import Visit

LARGEST: Final = 50_000_000
"""Bytes; a visit of weeks to the largest plant stays far below."""
_QUOTED: Final = re.compile(r'"(?:[^"\\\n]|\\.)*+"|\'[^\'\n]*+\'')
_LONG_KEY: Final = re.compile(r"(?<![\w-])(?:[\w-]++\s*+\.\s*+){25}")
"""Dotted keys for which the TOML reader takes the square of their length in time; texts left out."""
_SETTINGS: Final[TypeAdapter[Any]] = TypeAdapter(list[SettingRow])
_FINDINGS: Final[TypeAdapter[Any]] = TypeAdapter(list[FindingRow])


def read_record(path: Path) -> Record:
    """Return a record.

    It says nothing about whether the record was changed; that is ``verify``'s.

    Raises
    ------
    RecordError
        With every problem found, if the file cannot be read, is no record, or is of a later format.
    """
    data = _parsed(path)
    _check_format(data, path.name)
    try:
        return _record(data, path.name)
    except SiteError as error:
        raise RecordError(error.problems) from None


def _record(data: dict[str, Any], file: str) -> Record:
    header = validated(Header, _table(data, "header", file), file, "header")
    visit = validated(Visit, _visit(data, file), file, "visit")
    plant = validated(Plant, _table(data, "plant", file), file, "plant")
    settings = validated(_SETTINGS, data.get("setting", []), file, "setting")
    findings = validated(_FINDINGS, data.get("finding", []), file, "finding")
    record = Record(header, plant, visit, tuple(settings), tuple(findings))
    wrong = list(_disagreements(record, file))
    if wrong:
        raise RecordError(wrong)
    return record


def _visit(data: dict[str, Any], file: str) -> dict[str, Any]:
    """Put the visit together again from the tables that it is spread over."""
    apart = {"readings": data.get("reading", []), "notes": data.get("note", [])}
    signed = {"sign_off": data["sign_off"]} if "sign_off" in data else {}
    return _table(data, "visit", file) | apart | signed


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
        if path.stat().st_size > LARGEST:
            raise _unreadable(path, f"larger than {LARGEST:,} bytes", "a record of one visit")
        return toml_of(path.read_bytes())
    except FileNotFoundError:
        raise _unreadable(path, "there is no such file", "") from None
    except OSError as error:
        raise _unreadable(path, f"cannot be read: {error.strerror or error}", "") from None
    except UnicodeDecodeError as error:
        raise _unreadable(path, f"byte {error.start} is not UTF-8", "a record as it was written") from None
    except tomllib.TOMLDecodeError as error:
        raise _unreadable(path, f"not TOML: {error}", "a record as it was written") from None
    except ValueError:  # more digits than Python reads
        wrong = "holds a number of thousands of digits"
        raise _unreadable(path, wrong, "a record as it was written") from None
    except RecursionError:
        raise _unreadable(path, "nested too deeply", "a record as it was written") from None


def toml_of(content: bytes) -> dict[str, Any]:
    """Return the tables of a record that anybody may have changed.

    Raises
    ------
    ValueError, RecursionError
        If it is not UTF-8, not TOML, nests too deeply or holds a number of thousands of digits.
    """
    text = content.decode("utf-8")
    if _LONG_KEY.search(_QUOTED.sub("x", text)):
        raise RecursionError("nested too deeply")
    return tomllib.loads(text)


def _check_format(data: dict[str, Any], file: str) -> None:
    told = data.get("format")
    if told == FORMAT and not isinstance(told, bool):
        return
    later = isinstance(told, int) and not isinstance(told, bool) and told > FORMAT
    right = "a later version of the program reads it" if later else f"a record begins with format = {FORMAT}"
    raise RecordError(
        [Problem(file, "format", "" if told is None else str(told), "is not known here", right)]
    )


def _table(data: dict[str, Any], name: str, file: str) -> dict[str, Any]:
    found = data.get(name)
    if isinstance(found, dict):
        return found
    raise RecordError([Problem(file, name, "", "is missing", "a record as it was written")])


def _unreadable(path: Path, wrong: str, right: str) -> RecordError:
    return RecordError([Problem(str(path), "file", "", wrong, right)])
