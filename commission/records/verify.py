"""Saying whether a record is what was once written, byte for byte."""

from __future__ import annotations

import hashlib
import re
import stat
from pathlib import Path
from typing import Any, Final

from commission.errors import Problem, RecordError
from commission.records.read import LARGEST, toml_of
from commission.records.types import VerifyResult
from commission.records.write import DIGEST

_LAST: Final = re.compile(rb'digest = "sha256:([0-9a-f]{64})"\n')
_SEAL: Final = re.compile(rb"^\[\[seal\]\]$", re.MULTILINE)
_COUNTED: Final = {
    "readings": ("reading",),
    "settings": ("setting",),
    "findings": ("finding",),
    "notes": ("note",),
    "instruments": ("visit", "instruments"),
    "dispositions": ("visit", "dispositions"),
}
"""Where the rows stand that the header counts."""


def verify(path: Path) -> VerifyResult:
    """Say whether a record is intact, changed, or no record at all.

    Raises
    ------
    RecordError
        If the file cannot be read.
    """
    content = b""
    try:
        wrong = _no_record(path)
        if not wrong:
            content = path.read_bytes()
    except FileNotFoundError:
        wrong = "there is no such file"
    except OSError as error:
        wrong = f"cannot be read: {error.strerror or error}"
    if wrong:
        raise RecordError([Problem(str(path), "file", "", wrong, "")])
    return verify_bytes(content)


def _no_record(path: Path) -> str:
    """Return why a path is not even opened, empty where it can be."""
    told = path.stat()
    if not stat.S_ISREG(told.st_mode):
        return "this is no ordinary file"
    return f"larger than {LARGEST:,} bytes" if told.st_size > LARGEST else ""


def verify_bytes(content: bytes) -> VerifyResult:
    """Say whether the bytes of a record are intact."""
    try:
        data = toml_of(content)
    except (ValueError, RecursionError) as error:  # ValueError also for more digits than Python reads
        return VerifyResult("malformed", (f"the file is not TOML any more: {error}",))
    header, signed = _table(data, "header"), _table(data, "sign_off")
    about = {"visit": str(header.get("visit", "")), "signed_by": str(signed.get("name", ""))}
    wrong = _shape(content, data)
    if wrong:
        return VerifyResult("malformed", tuple(wrong), **about)
    last = content[:-1].rfind(b"\n") + 1
    told = _LAST.fullmatch(content[last:])
    assert told is not None  # noqa: S101 - the shape was looked at
    digest = told[1].decode()
    reasons = [] if hashlib.sha256(content[:last]).hexdigest() == digest else [_NOT_THE_SAME]
    reasons += _counts(data)
    return VerifyResult("changed" if reasons else "intact", tuple(reasons), DIGEST + digest, **about)


_NOT_THE_SAME: Final = "the content is not what was sealed: at least one byte was changed"


def _shape(content: bytes, data: dict[str, Any]) -> list[str]:
    """Return what keeps the file from being a sealed record: no, several or misplaced seals."""
    wrong = []
    seals = data.get("seal")
    lines = list(_SEAL.finditer(content))
    if not isinstance(seals, list) or not seals:
        return ["the seal is missing"]
    if len(seals) != len(lines):
        wrong.append(f"{len(seals)} seals are read and {len(lines)} lines begin one")
    if len(seals) > 1:
        wrong.append("it has more seals than this version of the program knows to check")
    first = seals[0]
    if not isinstance(first, dict) or first.get("kind") != "digest":
        wrong.append("the first seal is none of the kind 'digest'")
    if content[: content[:-1].rfind(b"\n") + 1].endswith(b"\r\n"):
        wrong.append("line ends were changed, as some mail and version control programs do")
    elif not _LAST.fullmatch(content[content[:-1].rfind(b"\n") + 1 :]):
        wrong.append("the last line is not the digest; something was added or cut off")
    return wrong


def _counts(data: dict[str, Any]) -> list[str]:
    counts = _table(_table(data, "header"), "counts")
    wrong = []
    for name, path in _COUNTED.items():
        found: Any = data
        for step in path:
            found = found.get(step, []) if isinstance(found, dict) else []
        count = len(found) if isinstance(found, list) else 0
        if counts.get(name) != count:
            wrong.append(f"{count} {name} stand in the record, its header counts {counts.get(name, 'none')}")
    return wrong


def _table(data: dict[str, Any], name: str) -> dict[str, Any]:
    found = data.get(name)
    return found if isinstance(found, dict) else {}
