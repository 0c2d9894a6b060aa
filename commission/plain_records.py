"""Readings, records and keys as text and JSON, for the command line and the screens alike."""

from __future__ import annotations

import re
from collections.abc import Callable, Container, Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import islice
from pathlib import Path
from typing import Any, Literal

from commission.plant.explain import printable
from commission.records.attached import AttachedState
from commission.records.chain import Told
from commission.records.differing import difference_lines
from commission.records.keys import KeyFile, KnownKey, fingerprint, key_bytes
from commission.records.migrate import RECORDS
from commission.records.seals import Comment, SealState
from commission.records.types import VerifyResult
from commission.units import plain
from commission.visit.recompute import Recomputed
from commission.visit.types import Judgement, Reading

_OPEN_VERDICTS = frozenset({"fail", "conditional fail", "stop work", "not judged"})


def any_open(readings: Iterable[Reading]) -> bool:
    """Whether a reading failed, conditionally or not, stopped work or was not judged."""
    return any(_verdict(reading) in _OPEN_VERDICTS for reading in standing_readings(readings))


def standing_readings(readings: Iterable[Reading]) -> list[Reading]:
    """Return the newest reading of every key, in the order in which they were first entered."""
    return list({reading.key: reading for reading in readings}.values())


def _verdict(reading: Reading) -> str:
    return "recorded" if reading.judgement is None else reading.judgement.verdict


def reading_json(reading: Reading) -> dict[str, Any]:
    """Return a reading and its verdict with the stable keys of ``judge --json``."""
    return reading.model_dump(mode="json", exclude_none=True)


def reading_lines(readings: Iterable[Reading], named: Callable[[str], str] = str) -> Iterator[str]:
    """Yield a line for every reading that holds, with its band and verdict.

    Parameters
    ----------
    named
        Returns what a reading is called, for its key.
    """
    for reading in standing_readings(readings):
        judged = reading.judgement
        band = "" if judged is None else _judged_band(judged)
        says = f"  {judged.says}" if judged is not None and judged.says else ""
        told = f"{_verdict(reading):<17} {named(str(reading.key)):<52} {reading_text(reading)}"
        yield f"{told}{band}{says}".rstrip()


def reading_text(reading: Reading) -> str:
    """Return a reading as it was typed, with its unit where none was typed."""
    typed = reading.text.strip()
    bare = not any(sign.isalpha() or sign in "°%" for sign in typed)
    return f"{typed} {_sign(reading.unit)}".rstrip() if reading.kind == "number" and bare else typed


def _sign(unit: str) -> str:
    return "" if unit == "1" else unit


def _judged_band(judged: Judgement) -> str:
    low, high = (None if end is None else plain(end) for end in (judged.low, judged.high))
    unit = f" {_sign(judged.unit)}".rstrip()
    if low is not None and high is not None:
        return f"  ({low} to {high}{unit})"
    if high is not None:
        return f"  (at most {high}{unit})"
    return f"  (at least {low}{unit})" if low is not None else ""


def verified_json(path: Path, result: VerifyResult) -> dict[str, Any]:
    """Return what was found of a record with the stable keys of ``verify --json``."""
    return {
        "record": str(path),
        "state": result.state,
        "intact": result.intact,
        "format": result.format or None,
        "complete": result.complete,
        "reasons": list(result.reasons),
        "digest": result.digest or None,
        "visit": result.visit or None,
        "signed_by": result.signed_by or None,
        "previous": result.previous or None,
        "site": result.site or None,
        "attachments": [_attached_json(one) for one in result.attachments],
        "unlisted": list(result.unlisted),
        "seals": [_seal_json(seal) for seal in result.seals],
    }


def _attached_json(found: AttachedState) -> dict[str, Any]:
    one = found.attachment
    if one is None:
        return {"state": found.state, "says": found.says}
    fields = {"name", "caption", "digest", "size", "file", "step", "withdrawn"}
    told = one.model_dump(include=fields) | {"file": one.file, "parts": list(one.parts)}
    return told | {"at": one.at.isoformat(), "state": found.state, "says": found.says or None}


def _attached_lines(result: VerifyResult) -> Iterator[str]:
    """Yield how many attached files are there, and what lies beside the record that nobody sealed."""
    wanted = [one for one in result.attachments if one.state != "taken off"]
    if wanted:
        there = sum(one.holds for one in wanted)
        yield f"{there} of {len(wanted)} attached files are there as they were attached"
    if result.unlisted:
        yield f"not listed in it, so nobody's: {', '.join(result.unlisted)}"


def chain_lines(chains: Iterable[Told]) -> Iterator[str]:
    """Yield what is odd about the chains of the sites' records."""
    for told in chains:
        word = "gap" if told.gap else "remark"
        yield f"{word:<10} {printable(told.path.name, 400)}: {printable(told.text, 400)}"


def _seal_json(seal: SealState) -> dict[str, Any]:
    return {
        "says": seal.says,
        "name": seal.name or None,
        "role": seal.role or None,
        "at": None if seal.at is None else seal.at.isoformat(),
        "signature": seal.signature,
        "key": seal.key,
        "fingerprint": fingerprint(seal.public) if seal.public else None,
        "comments": [
            {"step": one.step or None, "parts": list(one.parts), "text": one.text} for one in seal.comments
        ],
    }


_UNUSED = ", ALTHOUGH A KEY OF THIS PERSON IS KNOWN: ask whether they sealed it"


def _seal_lines(seal: SealState) -> Iterator[str]:
    """Yield who stands for a record and how sure that is, and what they say to it."""
    at = "" if seal.at is None else f", {seal.at:%Y-%m-%d %H:%M}"
    by = f" by {seal.name} ({seal.role})" if seal.name else ""
    how = {
        "none": f"without a key: a name and a digest only{_UNUSED if seal.key == 'not used' else ''}",
        "bad": "with a false signature",
        "good": f"key {seal.key or 'without a time'}",
    }[seal.signature]
    yield f"{seal.says or 'sealed'}{by}{at}, {how}"
    if seal.signature == "good":
        yield f"    {fingerprint(seal.public)}"
    for comment in seal.comments:
        where = f"{' '.join((comment.step, *comment.parts))}: " if comment.step else ""
        yield f"    {where}{comment.text}"


def comment_of(text: str, steps: Container[str]) -> Comment:
    """Return a comment as it is typed: ``step part: what to do``, or words to the whole record.

    What is written like a step's id counts as one, so that a mistyped one is told.
    """
    step, colon, rest = text.partition(":")
    named = step.split()
    meant = len(named) == 1 and _WORD.fullmatch(step)
    if colon and named and (named[0] in steps or meant or all(_STEP.fullmatch(word) for word in named)):
        return Comment(rest.strip(), named[0], tuple(named[1:]))
    return Comment(text.strip())


_STEP = re.compile(r"[a-z0-9]+(?:[-.][a-z0-9]+)+")
_WORD = re.compile(r"[a-z0-9.-]+")


def keys_json(own: Iterable[KeyFile], known: Iterable[KnownKey]) -> dict[str, Any]:
    """Return keys with the stable keys of ``keys --json``."""
    return {
        "own": [
            {"name": key.name, "role": key.role, "fingerprint": key.fingerprint, "file": str(key.path)}
            for key in own
        ],
        "known": [
            key.model_dump(include={"name", "role", "since", "until", "revoked"})
            | {"fingerprint": fingerprint(key_bytes(key))}
            for key in known
        ],
    }


def key_lines(own: Sequence[KeyFile], known: Sequence[KnownKey], folder: Path) -> Iterator[str]:
    """Yield keys as text; the fingerprint is what two people compare over a telephone.

    It stands on a line of its own, so that no narrow terminal breaks it.
    """
    yield f"your keys, in {printable(str(folder), 4096)}:" if own else f"no key of yours in {folder}"
    for key in own:
        yield f"    {printable(f'{key.name}, {key.role}', 80)}  {key.path.name}"
        yield f"        {key.fingerprint}"
    yield "keys that you know:" if known else "no list of known keys"
    for one in known:
        times = (("from", one.since), ("until", one.until), ("revoked", one.revoked))
        told = "".join(f"  {word} {day}" for word, day in times if day)
        yield f"    {printable(f'{one.name}, {one.role}', 80)}{told}"
        yield f"        {fingerprint(key_bytes(one))}"


@dataclass(frozen=True, slots=True)
class Anew:
    """What came of working a record out anew."""

    found: Recomputed
    explained: tuple[str, ...] = ()
    """What explains differences: another version, another format; empty where nothing does."""

    @property
    def false(self) -> bool:
        """Whether it says what this program would not have said, and no other version explains it."""
        found = self.found.differences
        return any(not one.excusable for one in found) or bool(found and not self.explained)

    @property
    def doubts(self) -> tuple[str, ...]:
        """Why it cannot be said to be what the program would have said, although nothing is false."""
        excused = self.explained if self.found.differences else ()
        return () if self.false else (*excused, *self.found.in_the_way)

    @property
    def verdict(self) -> Literal["confirmed", "not confirmed", "false"]:
        """How the numbers of a record stand."""
        return "false" if self.false else "not confirmed" if self.doubts else "confirmed"


def anew_json(anew: Anew | None) -> dict[str, Any]:
    """Return what came of working a record out anew; null where that was not asked for."""
    if anew is None:
        return {"verdict": None, "recomputed": None}
    found = anew.found
    return {
        "verdict": anew.verdict,
        "recomputed": {
            "compared": found.count,
            "left_out": found.left_out,
            "differences": [str(one) for one in found.differences],
            "explained_by": list(anew.explained),
            "brought_along": [*found.own, *found.in_the_way],
        },
    }


def anew_lines(anew: Anew | None, result: VerifyResult, named: Callable[[str], str] = str) -> Iterator[str]:
    """Yield what came of working a record out anew.

    Parameters
    ----------
    named
        Returns what a reading or step is called, for its key.
    """
    if anew is None:
        return
    for line in (*_compared_lines(anew, named), *_believed_lines(anew, result)):
        yield f"           {printable(line, 400)}"


def _compared_lines(anew: Anew, named: Callable[[str], str]) -> Iterator[str]:
    found, many = anew.found, len(anew.found.differences)
    left = f"; {_many(found.left_out, 'corrected reading')} left out" if found.left_out else ""
    if not many:
        yield f"worked out anew: {found.count} settings, findings and verdicts agree{left}"
        return
    why = (
        f", which may be why: {'; '.join(anew.explained)}" if anew.explained else ", and nothing explains it"
    )
    if anew.explained and anew.false:
        why = ", and no other version or format explains all of them"
    told = f"{_many(many, 'difference')} in {found.count} settings, findings and verdicts"
    yield f"worked out anew: {told}{left}{why}"
    for line in islice(difference_lines(found.differences, named), _DIFFERENCES):
        yield f"  {line}"
    if many > _DIFFERENCES:
        yield f"  and {many - _DIFFERENCES} more; --json lists all"


def _many(count: int, name: str) -> str:
    return f"{count} {name}" if count == 1 else f"{count} {name}s"


def _believed_lines(anew: Anew, result: VerifyResult) -> Iterator[str]:
    """Yield what a record brings along itself, and that it can be neither confirmed nor called false."""
    found = anew.found
    for text in (*found.own, *found.in_the_way):
        yield f"believed as it stands: {text}"
    if not anew.doubts:
        return
    what = _many(len(found.differences), "difference") if found.differences else "numbers of the site's own"
    yield f"NOT CONFIRMED: {what} cannot be told from changes made later; {_NEXT}"
    if not any(seal.signature == "good" for seal in result.seals):
        yield f"  it is sealed without a key, so anybody may have written {_EXCUSES}"


_NEXT = "ask who made it, or verify it with what it was made with"
_EXCUSES = "its numbers and the version in it"
_DIFFERENCES = 12


def _format_lines(result: VerifyResult) -> Iterator[str]:
    """Yield that a record is of an earlier format than the program writes."""
    if 0 < result.format < RECORDS.newest:
        yield f"written in format {result.format}, read here as format {RECORDS.newest}"


def verified_text(path: Path, result: VerifyResult) -> str:
    """Return what was found of a record in a line, with every reason below.

    Anybody may have written the record, so nothing of it reaches the terminal as a command to it.
    """
    signed = f"signed by {result.signed_by}" if result.signed_by else "unsigned"
    head = f"{result.word:<10} {printable(str(path), 4096)}  ({printable(signed, 400)})"
    seals = (line for seal in result.seals for line in _seal_lines(seal))
    more = [*_format_lines(result), *result.reasons, *_attached_lines(result), *seals]
    return "\n".join((head, *(f"           {printable(line, 400)}" for line in more)))
