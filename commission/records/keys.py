"""Keys that sign records: made once, kept in a file under a passphrase, known to others by a list.

The private key is an Ed25519 key (RFC 8032) as encrypted PKCS#8. Its own passphrase is not what a person
types but that stretched by scrypt, since the container alone would cost a guesser next to nothing.
"""

from __future__ import annotations

import base64
import binascii
import hashlib
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path
from typing import Final, Literal

from cryptography.exceptions import InvalidSignature, UnsupportedAlgorithm
from cryptography.hazmat.primitives import serialization
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey, Ed25519PublicKey
from pydantic import Field

from commission.errors import KeyFileError, Problem, SiteError
from commission.plant.explain import problem
from commission.plant.toml import read_toml, validated
from commission.plant.values import Day, Line, Model, Text
from commission.records.tables import toml_text
from commission.visit.disk import flush_folder, give_name, make_folder, reason_of, write_whole

SHORTEST: Final = 8
"""Letters of a passphrase, at least."""
_COST: Final = 2**17
"""scrypt: about 0.3 s and 128 MiB for each guess on a small machine."""
_COSTS: Final = (2**14, 2**20)
"""Costs that a key file may ask for; more would be a way to stop the program."""
_ENDING: Final = ".key.toml"
Standing = Literal["known", "not known", "revoked", "not valid then", "not used"]
"""How a key stands in the list of known ones; ``not used``: sealed without the one that is known."""


class _Stretch(Model):
    """How the passphrase is stretched."""

    salt: Line
    cost: int = Field(ge=_COSTS[0], le=_COSTS[1], description="scrypt N")
    block: int = Field(ge=1, le=16, description="scrypt r")
    parallel: int = Field(ge=1, le=4, description="scrypt p")


class _KeyData(Model):
    """The content of a key file."""

    format: Literal[1]
    name: Line
    role: Line
    created: datetime
    public: Line = Field(description="base64 of the public key, 32 bytes")
    stretch: _Stretch
    private: Text = Field(description="PKCS#8 in PEM, encrypted")


class KnownKey(Model):
    """A line of the list of known keys."""

    name: Line
    role: Line
    public: Line = Field(description="base64 of the public key, 32 bytes")
    since: Day = Field(default="", description="first day on which its signatures count")
    until: Day = Field(default="", description="last day on which its signatures count")
    revoked: Day = Field(default="", description="day from which its signatures count no more")


class KnownData(Model):
    """The content of a list of known keys."""

    format: Literal[1]
    key: tuple[KnownKey, ...] = Field(default=(), strict=False)


@dataclass(frozen=True, slots=True)
class KeyFile:
    """What a key file tells without its passphrase."""

    path: Path
    name: str
    role: str
    created: datetime
    public: bytes

    @property
    def fingerprint(self) -> str:
        """What two people compare over a telephone."""
        return fingerprint(self.public)


@dataclass(frozen=True, slots=True)
class SigningKey:
    """A key that is open and can sign."""

    name: str
    role: str
    public: bytes
    _private: Ed25519PrivateKey

    def sign(self, message: bytes) -> bytes:
        """Return the signature of a message, 64 bytes."""
        return self._private.sign(message)


def fingerprint(public: bytes) -> str:
    """Return eight groups of four digits that stand for a public key; over a telephone easier than hex."""
    number = int.from_bytes(hashlib.sha256(public).digest()[:14])
    digits = f"{number % 10**32:032}"
    return " ".join(digits[place : place + 4] for place in range(0, 32, 4))


def make_key(
    folder: Path, name: str, role: str, passphrase: str, *, now: datetime, random: Callable[[int], bytes]
) -> KeyFile:
    """Make a key and write it into a folder; a file that is there already is never written over.

    Parameters
    ----------
    random
        Gives so many bytes that nobody can guess.

    Raises
    ------
    KeyFileError
        If the passphrase is too short, nobody is named, or the file cannot be written.
    """
    if len(passphrase) < SHORTEST:
        raise _wrong(folder, f"the passphrase has under {SHORTEST} letters", "a sentence is easiest to keep")
    if not name.strip() or not role.strip():
        raise _wrong(folder, "nobody is named", "a name and a role, such as technician or supervisor")
    private = Ed25519PrivateKey.from_private_bytes(random(32))
    public = private.public_key().public_bytes_raw()
    stretch = _Stretch(salt=_text(random(16)), cost=_COST, block=8, parallel=1)
    secret = serialization.BestAvailableEncryption(_stretched(passphrase, stretch))
    pem = private.private_bytes(
        serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, secret
    ).decode()
    data = validated(
        _KeyData,
        {
            "format": 1, "name": name, "role": role, "created": now, "public": _text(public),
            "stretch": stretch, "private": pem,
        },
        "the key",
    )  # fmt: skip
    path = folder / f"{_file_name(name)}-{hashlib.sha256(public).hexdigest()[:8]}{_ENDING}"
    _write_alone(path, toml_text(data.model_dump()).encode())
    return KeyFile(path, name, role, now, public)


def read_key(path: Path) -> KeyFile:
    """Return what a key file tells without its passphrase.

    Raises
    ------
    KeyFileError
        If it cannot be read or is none.
    """
    data = _key_data(path)
    return KeyFile(path, data.name, data.role, data.created, _public(data.public, path.name, "public"))


def open_key(path: Path, passphrase: str) -> SigningKey:
    """Return the key of a file, ready to sign.

    Raises
    ------
    KeyFileError
        If the file cannot be read, the passphrase is another, or the two halves do not belong together.
    """
    data = _key_data(path)
    try:
        loaded = serialization.load_pem_private_key(
            data.private.encode(), _stretched(passphrase, data.stretch)
        )
    except (ValueError, TypeError, UnsupportedAlgorithm):
        raise _wrong(path, "does not open", "the passphrase with which it was made") from None
    public = _public(data.public, path.name, "public")
    if not isinstance(loaded, Ed25519PrivateKey) or loaded.public_key().public_bytes_raw() != public:
        raise _wrong(path, "its two halves do not belong together", "the file as it was made")
    return SigningKey(data.name, data.role, public, loaded)


def keys_in(folder: Path) -> tuple[KeyFile, ...]:
    """Return the keys in a folder by name; what cannot be read is left out."""
    found = []
    for path in sorted(folder.glob(f"*{_ENDING}")):
        with suppress(KeyFileError):
            found.append(read_key(path))
    return tuple(found)


def known_keys(path: Path) -> tuple[KnownKey, ...]:
    """Return a list of known keys.

    Raises
    ------
    KeyFileError
        If it cannot be read, or a key in it is none.
    """
    try:
        listed = validated(KnownData, read_toml(path, wanted="list of known keys"), path.name).key
    except SiteError as error:
        raise KeyFileError(error.problems) from None
    for place, key in enumerate(listed, start=1):
        _public(key.public, path.name, f"key[number {place}].public")
    return listed


def key_bytes(key: KnownKey) -> bytes:
    """Return the public key of a line of the list."""
    return _public(key.public, "the list of known keys", "public")


def known_text(keys: tuple[KeyFile, ...]) -> str:
    """Return keys as lines of a list of known keys, to be added to it after the fingerprint was compared."""
    rows = [
        {"name": key.name, "role": key.role, "public": _text(key.public), "since": f"{key.created:%Y-%m-%d}"}
        for key in keys
    ]
    return "\n".join(f"[[key]]\n{toml_text(row)}" for row in rows)


def standing_of(public: bytes, name: str, role: str, at: datetime, known: tuple[KnownKey, ...]) -> Standing:
    """Return whether a key counts as that of a person in a role at a moment."""
    wanted = _text(public)
    rows = [key for key in known if key.public == wanted and (key.name, key.role) == (name, role)]
    if not rows:
        return "not known"
    day = at.date()
    if any(key.revoked and day >= _first_day(key.revoked) for key in rows):
        return "revoked"
    return "known" if any(_holds(key, day) for key in rows) else "not valid then"


def has_known_key(name: str, role: str, at: datetime | None, known: tuple[KnownKey, ...]) -> bool:
    """Return whether a key of a person in a role was known and counted at a moment; ever, if none is told."""
    rows = [key for key in known if (key.name, key.role) == (name, role)]
    if at is None:
        return bool(rows)
    return any(standing_of(key_bytes(key), name, role, at, known) == "known" for key in rows)


def signature_holds(public: bytes, signature: bytes, message: bytes) -> bool:
    """Return whether a signature is that of a public key over a message."""
    try:
        Ed25519PublicKey.from_public_bytes(public).verify(signature, message)
    except (InvalidSignature, ValueError):
        return False
    return True


def from_text(text: str, length: int) -> bytes | None:
    """Return the bytes that base64 stands for; None where it is none, or not of the wanted length.

    Only the one text that these bytes have is taken, so that nothing can be hidden in another.
    """
    try:
        found = base64.b64decode(text.encode("ascii"), validate=True)
    except (UnicodeEncodeError, binascii.Error, ValueError):
        return None
    return found if len(found) == length and _text(found) == text else None


def _holds(key: KnownKey, day: date) -> bool:
    begun = not key.since or day >= _first_day(key.since)
    return begun and (not key.until or day <= _last_day(key.until))


def _first_day(text: str) -> date:
    parts = [int(part) for part in text.split("-")]
    year, month, day = (*parts, 1, 1)[:3]
    return date(year, month, day)


def _last_day(text: str) -> date:
    """Return the last day that a year, month or day as text means."""
    first = _first_day(text)
    count = len(text.split("-"))
    if count == 1:
        return date(first.year, 12, 31)
    if count == 2:
        later = date(first.year + first.month // 12, first.month % 12 + 1, 1)
        return date.fromordinal(later.toordinal() - 1)
    return first


def _stretched(passphrase: str, stretch: _Stretch) -> bytes:
    salt = from_text(stretch.salt, 16) or b""
    raw = hashlib.scrypt(
        passphrase.encode(),
        salt=salt,
        n=1 << (stretch.cost.bit_length() - 1),
        r=stretch.block,
        p=stretch.parallel,
        maxmem=256 * stretch.cost * stretch.block,
        dklen=32,
    )
    return base64.b64encode(raw)


def _key_data(path: Path) -> _KeyData:
    try:
        return validated(_KeyData, read_toml(path, wanted="key"), path.name)
    except SiteError as error:
        raise KeyFileError(error.problems) from None


def _public(text: str, file: str, key: str) -> bytes:
    found = from_text(text, 32)
    if found is None:
        raise KeyFileError([problem(file, key, text, "is no public key", "44 letters of base64")])
    return found


def _write_alone(path: Path, content: bytes) -> None:
    """Write a file that only its owner can read, and that was not there before; half of it is never seen."""
    beside = path.with_name(f".{path.name}.part")
    try:
        make_folder(path.parent)
        write_whole(beside, [content])
        give_name(beside, path)
        flush_folder(path.parent)
    except FileExistsError:
        raise _wrong(path, "is there already", "it was left as it is") from None
    except OSError as error:
        with suppress(OSError):
            beside.unlink(missing_ok=True)
        raise _wrong(path, f"cannot be written: {reason_of(error)}", "mend that, then again") from None


def _file_name(name: str) -> str:
    letters = "".join(letter if letter.isascii() and letter.isalnum() else "-" for letter in name.lower())
    return "-".join(part for part in letters.split("-") if part)[:40] or "key"


def _text(raw: bytes) -> str:
    return base64.b64encode(raw).decode("ascii")


def _wrong(path: Path, wrong: str, right: str) -> KeyFileError:
    return KeyFileError([Problem(str(path), "key", "", wrong, right)])
