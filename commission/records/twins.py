"""The same visit at another site and on other days: a record's twin, sealed anew.

For exercises that need many records: the words and readings stay, and what names the site, the days and the
records before is put in anew, in the file as in the canonical JSON that its seals cover. A twin is a record
like any other, and every reader takes it for one.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from typing import Any, Final

from commission.errors import Problem, RecordError
from commission.records.read import toml_of
from commission.records.seals import Comment, Says, canonical_data, sealed

_DATE: Final = re.compile(r"\d{4}-\d\d-\d\d")


@dataclass(frozen=True, slots=True)
class Sealing:
    """A seal to be put below a twin."""

    says: Says
    name: str = ""
    role: str = ""
    at: datetime | None = None
    comments: tuple[Comment, ...] = ()


@dataclass(frozen=True, slots=True)
class Mould:
    """A record without its seals, of which twins are made."""

    above: tuple[str, ...]
    """Every line above the first seal, in pieces: every second one names the site, a day or a record."""
    known: tuple[str, ...]
    """What those lines hold, as canonical JSON in such pieces."""
    seals: tuple[Sealing, ...]
    cut: re.Pattern[str]
    """By what it was cut; what is said in its seals is cut by the same."""


def mould_of(above: bytes, data: Mapping[str, Any], seals: Sequence[Sealing], names: Sequence[str]) -> Mould:
    """Return the mould of a record.

    Parameters
    ----------
    above, data
        What stands above the seals of the record, and the data in it.
    names
        What a twin has otherwise: the site's id, name and place, digests of the plant and of the records
        before. None of them may stand in the record as a part of another word.

    Raises
    ------
    RecordError
        If a day stands in the description of the plant: it would be moved along with those of the visit.
    """
    days = _DATE.findall(str(canonical_data({"plant": data.get("plant", {})})))
    if days:
        right = "a plant that tells no whole date"
        raise RecordError(
            [Problem("the record", "plant", days[0], "would be moved with the visit's days", right)]
        )
    cut = re.compile(
        "(" + "|".join([*map(re.escape, sorted(names, key=len, reverse=True)), _DATE.pattern]) + ")"
    )
    known = canonical_data(data).decode()
    return Mould(tuple(cut.split(above.decode())), tuple(cut.split(known)), tuple(seals), cut)


def twin(mould: Mould, tokens: Mapping[str, str], shift: timedelta) -> bytes:
    """Return a record of another site and other days.

    Parameters
    ----------
    tokens
        What stands for what, of the names by which the mould was cut.
    shift
        By how many days every date is moved.
    """
    moved: dict[str, str] = dict(tokens)
    said = [
        piece for one in mould.seals for words in one.comments for piece in mould.cut.split(words.text)[1::2]
    ]
    for piece in {*mould.above[1::2], *mould.known[1::2], *said}:
        if piece not in moved:
            moved[piece] = _moved(piece, shift)
    content, known = (_put(pieces, moved).encode() for pieces in (mould.above, mould.known))
    placed: list[dict[str, Any]] = []
    for one in mould.seals:
        at = None if one.at is None else one.at + shift
        comments = [replace(words, text=_put(mould.cut.split(words.text), moved)) for words in one.comments]
        content = sealed(
            content, {"seal": placed}, says=one.says, name=one.name, role=one.role, at=at,
            comments=comments, known=known,
        )  # fmt: skip
        if len(mould.seals) > 1:
            placed = toml_of(content[content.index(b"\n[[seal]]\n") :])["seal"]
    return content


def _put(pieces: Sequence[str], moved: Mapping[str, str]) -> str:
    made = list(pieces)
    made[1::2] = [moved[piece] for piece in pieces[1::2]]
    return "".join(made)


def _moved(text: str, shift: timedelta) -> str:
    try:
        return (date.fromisoformat(text) + shift).isoformat()
    except ValueError:
        return text


def last_digest(content: bytes) -> str:
    """Return the digest of a record's last seal, by which the next one names it."""
    place = content.rindex(b'\ndigest = "') + len(b'\ndigest = "')
    return content[place : content.index(b'"', place)].decode()
