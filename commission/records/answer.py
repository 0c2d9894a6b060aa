"""The supervisor's answer to a record: one more seal below the technician's, nothing above it touched."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager, suppress
from datetime import datetime
from difflib import get_close_matches
from pathlib import Path
from typing import Final, Literal, TypeAlias

from filelock import FileLock, Timeout
from pydantic import TypeAdapter, ValidationError

from commission.errors import Problem, RecordError
from commission.plant.toml import UnfitError, bounded
from commission.plant.values import Text
from commission.records.keys import SigningKey
from commission.records.read import LIMITS, read_record, toml_of
from commission.records.seals import Comment, sealed
from commission.records.verify import verify_bytes
from commission.visit.disk import put, reason_of

_WORDS: Final = TypeAdapter(Text)
Answer: TypeAlias = Literal["countersigned", "returned"]


def answer_record(
    path: Path,
    says: Answer,
    *,
    name: str,
    role: str,
    now: datetime,
    comments: Sequence[Comment] = (),
    key: SigningKey | None = None,
) -> Path:
    """Countersign a record, or return it with comments; returns its path, which stays the same.

    Parameters
    ----------
    comments
        What is said, to a step or to the whole. A returned record needs one at least.
    key
        The supervisor's own; None answers by name and digest only.

    Raises
    ------
    RecordError
        If the answer is refused (:func:`check_answer`), or it cannot be written.
    """
    public = b"" if key is None else key.public
    with _alone(path):
        content = check_answer(path, says, name=name, role=role, comments=comments, public=public)
        answered = sealed(
            content, toml_of(content), says=says, name=name, role=role, at=now, comments=comments, key=key
        )
        _put_in_place(path.resolve(), answered)  # a link stays one, and what it leads to is answered
    return path


@contextmanager
def _alone(path: Path) -> Iterator[None]:
    """Let one process at a time answer the records of a folder: the second sees the first one's seal.

    The file of the lock stays, since another process may be waiting for it.
    """
    lock = FileLock(str(path.resolve().parent / _LOCK), timeout=_PATIENCE, thread_local=False)
    try:
        lock.acquire()
    except Timeout:
        right = "again, once that is done"
        raise _wrong(path, "somebody else is answering a record of this folder", right) from None
    except OSError as error:
        raise _wrong(path, f"cannot be written: {reason_of(error)}", "a folder that can be") from None
    try:
        yield
    finally:
        with suppress(OSError):
            lock.release()


_LOCK: Final = ".answers.lock"
_PATIENCE: Final = 10.0
"""Seconds; an answer takes a small part of one."""


def check_answer(
    path: Path,
    says: Answer,
    *,
    name: str,
    role: str,
    comments: Sequence[Comment] = (),
    public: bytes = b"",
) -> bytes:
    """Return the bytes of a record that may be answered so, before a key is opened for it.

    Parameters
    ----------
    public
        Of the key with which it is to be answered.

    Raises
    ------
    RecordError
        If the record is not intact or not signed, its own technician answers, or somebody countersigns it a
        second time.
    """
    if not name.strip() or not role.strip():
        raise _wrong(path, "nobody is named", "a name and a role")
    _check_words(path, "a name", name)
    _check_words(path, "a role", role)
    for comment in comments:
        _check_words(path, "a comment", comment.text)
    content = _content(path)
    found = verify_bytes(content)
    if not found.intact:
        raise _wrong(
            path, f"is {found.state}: {'; '.join(found.reasons)}", "only an intact record is answered"
        )
    record = read_record(path)
    signed = record.visit.sign_off
    if signed is None:
        raise _wrong(path, "is not signed by a technician", "a signed record")
    technicians = {_plain(person.name) for person in record.visit.people if person.role == "technician"}
    if _plain(name) in technicians | {_plain(signed.name)}:
        raise _wrong(path, f"{name} is a technician of this visit", "somebody else answers")
    own = [seal for seal in found.seals if _plain(seal.name) == _plain(name) or seal.public == public != b""]
    if says == "countersigned" and own and own[-1].says == says:
        raise _wrong(path, f"{name} has countersigned it already", "somebody else, or nobody: once is enough")
    if says == "returned" and not comments:
        raise _wrong(path, "is returned without a word", "what has to be done, at which step")
    read = {reading.step for reading in record.visit.readings}
    _check_steps(path, comments, read | {step.partition(".")[0] for step in read})
    return content


def _plain(name: str) -> str:
    return " ".join(name.split()).casefold()


def _check_words(path: Path, what: str, text: str) -> None:
    """Refuse what could not be written, or would turn the writing of those who read it."""
    try:
        _WORDS.validate_python(text)
    except ValidationError:
        raise _wrong(path, f"{what} has characters that it may not have", "plain text") from None


def _check_steps(path: Path, comments: Sequence[Comment], known: set[str]) -> None:
    for comment in comments:
        if not comment.text.strip():
            raise _wrong(path, "a comment says nothing", "a few words")
        if comment.step and comment.step not in known:
            near = get_close_matches(comment.step, sorted(known), n=1, cutoff=0.4)
            right = f"'{near[0]}', if that is meant; or" if near else "a step of this record, or"
            right += " words without a colon, to the whole"
            raise _wrong(path, f"nothing was read at step '{comment.step}'", right)


def _content(path: Path) -> bytes:
    try:
        return bounded(path, LIMITS)
    except UnfitError as error:
        raise _wrong(path, error.wrong, error.right) from None
    except OSError as error:
        raise _wrong(path, f"cannot be read: {error.strerror or error}", "") from None


def _put_in_place(path: Path, content: bytes) -> None:
    """Put a longer record in the place of the one that it begins with; at no moment is there none."""
    try:
        put(path, [content])
    except OSError as error:
        raise _wrong(path, f"cannot be written: {reason_of(error)}", "mend that, then again") from None


def _wrong(path: Path, wrong: str, right: str) -> RecordError:
    return RecordError([Problem(str(path), "record", "", wrong, right)])
