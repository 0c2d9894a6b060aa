"""Saying whether a record is what was once written, byte for byte."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import Any, Final

from commission.errors import RecordError
from commission.plant.explain import problem
from commission.plant.formats import told_format
from commission.plant.kinds import wrong_kind
from commission.plant.toml import UnfitError, bounded
from commission.records.attached import listed, looked_for, unlisted
from commission.records.keys import KnownKey
from commission.records.migrate import RECORDS
from commission.records.read import LIMITS, toml_of
from commission.records.seals import SealState, examined
from commission.records.types import State, VerifyResult

_COUNTED: Final = {
    "readings": ("reading",),
    "settings": ("setting",),
    "findings": ("finding",),
    "notes": ("note",),
    "instruments": ("visit", "instruments"),
    "dispositions": ("visit", "dispositions"),
    "attachments": ("visit", "attachments"),
}
"""Where the rows stand that the header counts."""
_LATER: Final = frozenset({"attachments"})
"""What earlier records do not count, since they have none."""


def verify(path: Path, known: Sequence[KnownKey] = ()) -> VerifyResult:
    """Say whether a record is intact, rewritten, changed, or no record at all, and look for what is attached.

    Raises
    ------
    RecordError
        If the file cannot be read.
    """
    result = verify_bytes(content_of(path), known)
    found = looked_for(path, result.attachments)
    reasons = (*result.reasons, *(one.says for one in found if one.says and one.state != "malformed"))
    return replace(result, reasons=reasons, attachments=found, unlisted=unlisted(path, found))


def content_of(path: Path) -> bytes:
    """Return the bytes of a record.

    Raises
    ------
    RecordError
        If the file cannot be read, or cannot be a record.
    """
    try:
        return bounded(path, LIMITS)
    except UnfitError as error:
        wrong = error.wrong
    except FileNotFoundError:
        wrong = "there is no such file"
    except OSError as error:
        wrong = f"cannot be read: {error.strerror or error}"
    except ValueError:
        wrong = "this is no name of a file"
    raise RecordError([problem(str(path), "file", "", wrong, "")])


def verify_bytes(content: bytes, known: Sequence[KnownKey] = ()) -> VerifyResult:
    """Say whether the bytes of a record are intact, and who stands for them.

    Parameters
    ----------
    known
        Keys that count, as their list has them.
    """
    return verify_parsed(content, known)[0]


def verify_parsed(content: bytes, known: Sequence[KnownKey] = ()) -> tuple[VerifyResult, dict[str, Any]]:
    """Return what :func:`verify_bytes` says, and the tables, so that they are parsed once."""
    try:
        data = toml_of(content.removeprefix(_BOM))
    except UnfitError as error:
        return VerifyResult("malformed", (f"the file is not TOML any more: {error}",)), {}
    return _verified(content, data, known), data


def _verified(content: bytes, data: dict[str, Any], known: Sequence[KnownKey]) -> VerifyResult:
    other = wrong_kind(data, "record", "FILE")
    if other is not None:
        return VerifyResult("malformed", (f"{other.wrong}; {other.right}".rstrip("; "),))
    format_ = told_format(data) or 0
    if format_ > RECORDS.newest:
        return VerifyResult("malformed", (_LATER_FORMAT,), format=format_)
    header, signed = _table(data, "header"), _table(data, "sign_off")
    about: dict[str, Any] = {
        "format": format_,
        "visit": str(header.get("visit", "")),
        "signed_by": str(signed.get("name", "")),
        "previous": str(header.get("previous", "")),
        "site": str(header.get("site", "")),
        "started_at": _moment(_table(data, "visit").get("started_at")),
        "attachments": listed(data),
    }
    try:
        states, layout = examined(content, data, known)
    except ValueError as error:
        return VerifyResult("malformed", (str(error),), **about)
    reasons = [*_counts(data), *_false(states)]
    reasons += _disagree(states, signed, signed_at_all="sign_off" in data)
    reasons += [one.says for one in about["attachments"] if one.says]
    state: State = "changed" if reasons else _of_digests(states)
    if state == "rewritten":
        reasons = [
            "written anew by another program: the data are as they were sealed, the comments nobody's",
            *layout,
        ]
    elif state == "changed" and not all(one.bytes_hold for one in states):
        reasons = [_NOT_THE_SAME, *layout, *reasons]
    digest = str(data["seal"][-1].get("digest", ""))
    return VerifyResult(state, tuple(reasons), digest, seals=tuple(states), **about)


_LATER_FORMAT: Final = (
    f"it is of a later format than this program reads, which are those up to {RECORDS.newest}: "
    "verify it with a newer version of the program"
)
_NOT_THE_SAME: Final = "the content is not what was sealed: at least one byte was changed"
_BOM: Final = b"\xef\xbb\xbf"


def _of_digests(states: Sequence[SealState]) -> State:
    if all(one.bytes_hold for one in states):
        return "intact"
    return "rewritten" if all(one.data_hold for one in states) else "changed"


def _false(states: Sequence[SealState]) -> list[str]:
    """Return what is false by itself: a signature that is not that of its key, data other than the bytes."""
    wrong = [f"the signature of {one.name or 'nobody'} is false" for one in states if one.signature == "bad"]
    if any(one.bytes_hold and one.data_hold is False for one in states):
        wrong.append("a seal's two digests speak of different content")
    return wrong


def _disagree(states: Sequence[SealState], signed: dict[str, Any], *, signed_at_all: bool) -> list[str]:
    """Return where the seals do not belong to the record: another signer, or out of their order."""
    first = states[0]
    wrong = []
    if first.says and (first.says == "signed") != signed_at_all:
        wrong.append("the first seal does not say what the record says of its signature")
    signed_by = str(signed.get("name", ""))
    if first.says and signed_at_all and not _same_signature(first, signed):
        wrong.append("the first seal has another role or time than the signature")
    if first.name != signed_by:
        wrong.append(f"signed by {signed_by or 'nobody'}, sealed by {first.name or 'nobody'}")
    wrong += [
        f"seal {place} answers nothing" for place, one in enumerate(states[1:], 2) if one.says not in _ANSWERS
    ]
    return wrong


def _same_signature(seal: SealState, signed: dict[str, Any]) -> bool:
    at = _moment(signed.get("at"))
    same_time = at is None or seal.at == at.replace(microsecond=0)
    return same_time and (not seal.name or seal.role == signed.get("role"))


_ANSWERS: Final = frozenset({"countersigned", "returned"})


def _counts(data: dict[str, Any]) -> list[str]:
    counts = _table(_table(data, "header"), "counts")
    wrong = []
    for name, path in _COUNTED.items():
        found: Any = data
        for step in path:
            found = found.get(step, []) if isinstance(found, dict) else []
        count = len(found) if isinstance(found, list) else 0
        if counts.get(name, 0 if name in _LATER else None) != count:
            wrong.append(f"{count} {name} stand in the record, its header counts {counts.get(name, 'none')}")
    return wrong


def _moment(value: object) -> datetime | None:
    return value if isinstance(value, datetime) and value.tzinfo is not None else None


def _table(data: dict[str, Any], name: str) -> dict[str, Any]:
    found = data.get(name)
    return found if isinstance(found, dict) else {}
