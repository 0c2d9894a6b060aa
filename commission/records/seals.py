"""Seals of a record: who stands for every byte above, with or without a key.

A seal is a ``[[seal]]`` table at the end of the file. Its ``data`` is the digest of the data above, however
they are written; its ``digest`` is that of every byte above that line, its own other lines too. A
``signature``, the last line where there is one, is made with an Ed25519 key over the seal's other lines as
canonical JSON, so it covers both digests. Later seals stand below and so cover the earlier ones.
"""

from __future__ import annotations

import base64
import hashlib
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Final, Literal, TypeAlias

import tomli_w

from commission.records.canonical import DIGEST, data_digest, plain_data
from commission.records.keys import (
    KnownKey,
    SigningKey,
    Standing,
    from_text,
    has_known_key,
    signature_holds,
    standing_of,
)
from commission.records.tables import toml_text
from commission.visit.digest import canonical_json

Says: TypeAlias = Literal["judged", "signed", "countersigned", "returned"]
"""What a seal says: judged without a visit, signed by the technician, the supervisor's answer."""
Asked: TypeAlias = Literal["no list", "usual list", "named list"]
"""Whether those who verify have a list of known keys; one that is named asks a key of every seal."""
KIND: Final = "digest"
_TAG: Final = b"commission seal, version 1\n"
_HEAD: Final = re.compile(rb"^\[\[seal\]\]$", re.MULTILINE)
_DIGEST_LINE: Final = re.compile(rb'digest = "sha256:([0-9a-f]{64})"\n')
_SIGNATURE_LINE: Final = re.compile(rb'signature = "([A-Za-z0-9+/]{86}==)"\n')
_UNSIGNED: Final = ("signature",)
_PLACED: Final = ("data", "digest", "signature")


@dataclass(frozen=True, slots=True)
class Comment:
    """What a supervisor says to a step, or to the whole record where no step is named."""

    text: str
    step: str = ""
    parts: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class SealState:
    """What was found of one seal."""

    says: str
    name: str
    role: str
    at: datetime | None
    comments: tuple[Comment, ...]
    bytes_hold: bool
    """Every byte above it is as it was sealed."""
    data_hold: bool | None
    """The data above it are as they were sealed; None where the seal does not tell (format 1)."""
    signature: Literal["none", "good", "bad"]
    public: bytes = b""
    key: Standing | None = None
    """How the key stands in the list of known keys; None without a key, where none is known of the person."""
    digest: str = ""
    """The digest that the seal carries."""

    def counts(self, asked: Asked) -> bool:
        """Return whether its key is good enough for those who verify it."""
        if asked == "no list":
            return True
        return self.key == "known" or (self.key is None and asked == "usual list")


def sealed(  # noqa: PLR0913 - a seal is made once, with everything named
    above: bytes,
    data: Mapping[str, Any],
    *,
    says: Says,
    name: str = "",
    role: str = "",
    at: datetime | None = None,
    comments: Sequence[Comment] = (),
    key: SigningKey | None = None,
    known: bytes | None = None,
) -> bytes:
    """Return a file's bytes with one more seal.

    Parameters
    ----------
    data
        What ``above`` holds, parsed, its earlier seals too.
    key
        Signs the seal; its name and role must be those of the seal.
    known
        Canonical JSON of everything in ``data`` but its seals, where it is at hand (:func:`canonical_data`);
        ``data`` then need hold no more than those.
    """
    seal: dict[str, Any] = {"kind": KIND, "says": says}
    if name:
        seal |= {"name": name, "role": role}
    if at is not None:
        seal["at"] = at.replace(microsecond=0)
    if comments:
        seal["comments"] = [_comment_row(one) for one in comments]
    if key is not None:
        seal["key"] = _text(key.public)
    seal["data"] = _data_of(data, seal) if known is None else _data_known(known, data, seal)
    content = above.rstrip(b"\n") + b"\n\n[[seal]]\n" + _seal_text(seal).encode()
    seal["digest"] = DIGEST + hashlib.sha256(content).hexdigest()
    content += f'digest = "{seal["digest"]}"\n'.encode()
    if key is not None:
        content += f'signature = "{_text(key.sign(_message(seal)))}"\n'.encode()
    return content


def examined(
    content: bytes, data: Mapping[str, Any], known: Sequence[KnownKey]
) -> tuple[list[SealState], list[str]]:
    """Return what was found of every seal, and what is wrong with how they stand in the file.

    Raises
    ------
    ValueError
        If the file has no seal, or one of a kind that is not known here.
    """
    rows = data.get("seal")
    if not isinstance(rows, list) or not rows:
        raise ValueError("the seal is missing")
    for place, row in enumerate(rows, start=1):
        if not isinstance(row, dict) or row.get("kind") != KIND:
            raise ValueError(f"seal {place} is none of the kind '{KIND}'")
    blocks, wrong = _blocks(content, rows)
    states = []
    for place, row in enumerate(rows):
        before = {key: value for key, value in data.items() if key != "seal"} | {"seal": rows[:place]}
        states.append(_state(blocks[place], row, before, tuple(known)))
    return states, wrong


@dataclass(frozen=True, slots=True)
class _Block:
    """A seal as it stands in the file."""

    above: bytes
    """Every byte above its digest."""
    digest: str


def _blocks(content: bytes, rows: Sequence[Mapping[str, Any]]) -> tuple[list[_Block | None], list[str]]:
    """Return each seal as it stands in the file, None where it stands otherwise than it was written."""
    none: list[_Block | None] = [None] * len(rows)
    if b"\r\n" in content:
        return none, ["line ends were changed, as some mail and version control programs do"]
    heads = [match.start() for match in _HEAD.finditer(content)]
    if len(rows) != len(heads):
        return none, [f"{len(rows)} seals are read and {len(heads)} lines begin one"]
    found, wrong = none, []
    for place, (start, row) in enumerate(zip(heads, rows, strict=True)):
        end = heads[place + 1] - 1 if place + 1 < len(heads) else len(content)
        block = content[start:end]
        misplaced = _misplaced(block, row)
        if misplaced:
            wrong.append(f"seal {place + 1}: {misplaced}")
            continue
        line = list(_DIGEST_LINE.finditer(block))[-1]
        found[place] = _Block(content[: start + line.start()], DIGEST + line[1].decode())
    return found, wrong


def _state(
    block: _Block | None, row: Mapping[str, Any], before: Mapping[str, Any], known: tuple[KnownKey, ...]
) -> SealState:
    hold = block is not None and row.get("digest") == block.digest == DIGEST + _hex(block.above)
    own = {key: value for key, value in row.items() if key not in _PLACED}
    public = from_text(str(row.get("key", "")), 32) or b""
    signature = _signature(row, public)
    name, role, at = str(row.get("name", "")), str(row.get("role", "")), row.get("at")
    moment = at if isinstance(at, datetime) and at.tzinfo is not None else None
    standing = None
    if signature == "good" and moment is not None:
        standing = standing_of(public, name, role, moment, known)
    elif signature == "good":
        standing = "not known"  # a list tells when keys count, and this seal tells no time
    elif signature == "none" and has_known_key(name, role, moment, known):
        standing = "not used"
    return SealState(
        says=str(row.get("says", "")),
        name=name,
        role=role,
        at=moment,
        comments=_comments(row),
        bytes_hold=hold,
        data_hold=None if "data" not in row else row["data"] == _data_of(before, own),
        signature=signature,
        public=public,
        key=standing,
        digest=str(row.get("digest", "")),
    )


def _hex(content: bytes) -> str:
    return hashlib.sha256(content).hexdigest()


def _signature(row: Mapping[str, Any], public: bytes) -> Literal["none", "good", "bad"]:
    """Return how the signature of a seal stands; a key without a signature is as bad as a false one."""
    if "signature" not in row and "key" not in row:
        return "none"
    signature = from_text(str(row.get("signature", "")), 64)
    if signature is None or not public:
        return "bad"
    return "good" if signature_holds(public, signature, _message(row)) else "bad"


def _misplaced(block: bytes, row: Mapping[str, Any]) -> str:
    """Return what stands otherwise than a seal ends: the digest last, or the signature behind it."""
    *_, before, last, end = (b"", b"", *block.split(b"\n"))
    if end:
        return _CUT
    if "signature" not in row:
        return "" if _DIGEST_LINE.fullmatch(last + b"\n") else _CUT
    if not _SIGNATURE_LINE.fullmatch(last + b"\n"):
        return _CUT
    return "" if _DIGEST_LINE.fullmatch(before + b"\n") else "the digest is not above the signature"


_CUT: Final = "its last line is not the digest or signature; something was added or cut off"


def _message(seal: Mapping[str, Any]) -> bytes:
    """Return what a signature is over: the seal's other lines, whatever the file writes them like."""
    own = {key: value for key, value in seal.items() if key not in _UNSIGNED}
    return _TAG + canonical_json(data_digest(own))


def _data_of(data: Mapping[str, Any], seal: Mapping[str, Any]) -> str:
    own = {key: value for key, value in seal.items() if key not in _PLACED}
    above = {key: value for key, value in data.items() if key != "seal"}
    return data_digest({"above": above, "seals": data.get("seal", []), "seal": own})


def canonical_data(data: Mapping[str, Any]) -> bytes:
    """Return what a file holds above its seals as canonical JSON, as the digests of its seals cover it."""
    return canonical_json(plain_data({key: value for key, value in data.items() if key != "seal"}))


def _data_known(known: bytes, data: Mapping[str, Any], seal: Mapping[str, Any]) -> str:
    """Return the same as :func:`_data_of` from the canonical JSON of what stands above the seals."""
    own = {key: value for key, value in seal.items() if key not in _PLACED}
    seals = canonical_json(plain_data({"seal": own, "seals": data.get("seal", [])}))
    whole = b'{"above":' + known + b"," + seals.removeprefix(b"{")
    return DIGEST + hashlib.sha256(whole).hexdigest()


def _seal_text(seal: Mapping[str, Any]) -> str:
    """Return the lines of a seal; comments stand in one list, so that the last lines stay its own."""
    plain = toml_text({key: value for key, value in seal.items() if key not in {"comments", "data"}})
    comments = "".join(f"    {_inline(row)},\n" for row in seal.get("comments", ()))
    listed = f"comments = [\n{comments}]\n" if comments else ""
    return f"{plain}{listed}{toml_text({'data': seal['data']})}"


def _inline(row: Mapping[str, Any]) -> str:
    pairs = (f"{key} = {_value(value)}" for key, value in row.items())
    return f"{{ {', '.join(pairs)} }}"


def _value(value: Any) -> str:
    """Return a text or a list of texts as TOML writes it on one line."""
    if isinstance(value, list):
        return f"[{', '.join(_value(item) for item in value)}]"
    return tomli_w.dumps({"x": value}, multiline_strings=False).removeprefix("x = ").rstrip("\n")


def _comment_row(comment: Comment) -> dict[str, Any]:
    row: dict[str, Any] = {"text": comment.text}
    if comment.step:
        row |= {"step": comment.step, "parts": list(comment.parts)}
    return row


def _comments(row: Mapping[str, Any]) -> tuple[Comment, ...]:
    rows = row.get("comments")
    found = []
    for one in rows if isinstance(rows, list) else []:
        if isinstance(one, dict):
            parts = one.get("parts")
            named = tuple(str(part) for part in parts) if isinstance(parts, list) else ()
            found.append(Comment(str(one.get("text", "")), str(one.get("step", "")), named))
    return tuple(found)


def _text(raw: bytes) -> str:
    return base64.b64encode(raw).decode("ascii")
