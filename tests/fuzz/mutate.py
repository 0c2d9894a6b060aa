"""Spoiling real files: bytes, lines, and values of what a file means."""

from __future__ import annotations

import copy
import datetime as dt
from collections.abc import Callable, Sequence
from random import Random
from typing import Any, Final

from commission.records.tables import toml_text

WORDS: Final = (
    b"\x00", b"\x1b[31m", b"\xff\xfe", b"\xc3", b"\xef\xbb\xbf", b"\r\n", b"\n", b"\n\n", b'"', b'"""',
    b"'''", b"'",
    b"#", b"[", b"]", b"[[", b"]]", b"{", b"}", b".", b"..", b"=", b" = ", b"nan", b"-inf", b"inf",
    b"0x" + b"f" * 40,
    b"9" * 400, b"9" * 5000, b"1e400", b"-1", b"0", b"true", b"unknown", b'"unknown"', b"2026-02-30",
    b"0001-01-01",
    b"9999-12-31T23:59:59Z", b"0001-01-01T00:00:00+23:59", b"1970-01-01T00:00:00", b"12:60:61",
    b"../../etc", b"\\u202e",
    b"\\u0000", b"\\ud800", b"\xe2\x80\xae", b"\xc2\x9b", b"a." * 30, b"[" * 60, b"{a=" * 30,
    b"[[seal]]\n",
    b"[[reading]]\n", b"[plant]\n", b"format = 1\n", b"format = 2\n", b"format = 3\n",
    b'digest = "sha256:', b"\xf0\x9f\x98\x82",
)  # fmt: skip
_TIMES: Final = (
    "0001-01-01", "9999-12-31T23:59", "0001-01-01T00:00+14:00", "9999-12-31T23:00-12:00",
    "2026-05-12T09:36Z",
)  # fmt: skip
ODD: Final[tuple[Any, ...]] = (
    None, True, False, 0, -1, 1, 10**17, 10**30, 10**400, -(10**19), 0.0, -0.0, 1e-320, 1e308,
    float("nan"), float("inf"),
    "", " ", "unknown", "none", "OL", ">5", "<0", "1,200 W", "2/0 AWG", "13,2", "-20 °F", "\x00",
    "\x1b[2J", "a\nb",
    "../../x", "con", "\u202eabc", "\u2028", "é" * 500, "a" * 30_000, "sha256:", "2026-13-01",
    "9999-99-99",
    *map(dt.datetime.fromisoformat, _TIMES), dt.date(1, 1, 1), dt.date(9999, 12, 31), dt.time(0, 0),
    [], {}, [[]], [{}], {"": {}}, [1, "a", None], [0] * 300, {"a": {"b": {"c": [1]}}},
)  # fmt: skip


def spoiled_bytes(content: bytes, others: Sequence[bytes], random: Random) -> bytes:
    """Return bytes with a few places spoiled."""
    found = bytearray(content)
    for _ in range(random.choice((1, 1, 1, 2, 3, 8))):
        random.choice(_BYTES)(found, others, random)
    return bytes(found[:400_000])


def _flip(found: bytearray, _: Sequence[bytes], random: Random) -> None:
    if found:
        found[random.randrange(len(found))] ^= 1 << random.randrange(8)


def _put(found: bytearray, _: Sequence[bytes], random: Random) -> None:
    at = random.randint(0, len(found))
    found[at : at + random.choice((0, 0, 1, 4))] = random.choice(WORDS)


def _drop(found: bytearray, _: Sequence[bytes], random: Random) -> None:
    at = random.randint(0, len(found))
    del found[at : at + random.choice((1, 2, 16, 200, 5000))]


def _cut(found: bytearray, _: Sequence[bytes], random: Random) -> None:
    del found[random.randint(0, len(found)) :]


def _again(found: bytearray, _: Sequence[bytes], random: Random) -> None:
    at = random.randint(0, len(found))
    part = found[at : at + random.choice((1, 20, 300, 4000))]
    to = random.randint(0, len(found))
    found[to:to] = part * random.choice((1, 1, 2, 10))


def _splice(found: bytearray, others: Sequence[bytes], random: Random) -> None:
    other = random.choice(others) if others else b""
    at, to = random.randint(0, len(other)), random.randint(0, len(found))
    found[to : to + random.choice((0, 50, 1000))] = other[at : at + random.choice((10, 200, 2000))]


def _lines(found: bytearray, _: Sequence[bytes], random: Random) -> None:
    lines = found.split(b"\n")
    at, to = random.randrange(len(lines)), random.randrange(len(lines))
    how = random.randrange(3)
    if how == 0:
        lines[at], lines[to] = lines[to], lines[at]
    elif how == 1:
        lines.insert(to, lines[at])
    else:
        del lines[at]
    found[:] = b"\n".join(lines)


_Change = Callable[[bytearray, Sequence[bytes], Random], None]
_BYTES: Final[tuple[_Change, ...]] = (_flip, _flip, _put, _put, _drop, _cut, _again, _splice, _lines, _lines)


def spoiled_data(data: Any, random: Random) -> Any:
    """Return nested data with a few values replaced, taken out, renamed, doubled or put in."""
    found = copy.deepcopy(data)
    for _ in range(random.choice((1, 1, 2, 4))):
        owner, key = _place(found, random)
        if owner is not None:
            _change(owner, key, random)
    return found


def _place(data: Any, random: Random) -> tuple[Any, Any]:
    """Return a table or list and a key of it, drawn by a walk from the top."""
    owner, key = None, None
    while isinstance(data, dict | list) and data:
        owner = data
        key = random.choice(list(data)) if isinstance(data, dict) else random.randrange(len(data))
        data = owner[key]
        if random.random() < 0.25:
            break
    return owner, key


def _change(owner: Any, key: Any, random: Random) -> None:
    how = random.randrange(6)
    if how <= 1:
        owner[key] = copy.deepcopy(random.choice(ODD))
    elif how == 2:
        del owner[key]
    elif how == 3 and isinstance(owner, dict):
        owner[random.choice((f"{key}x", "", "a.b", "\x1b", "id", "format"))] = owner.pop(key)
    elif how == 4 and isinstance(owner[key], list):
        owner[key] = owner[key] * random.choice((2, 2, 40))
    elif isinstance(owner[key], dict):
        owner[key]["added"] = copy.deepcopy(random.choice(ODD))
    elif isinstance(owner, dict):
        other = random.choice(list(owner))
        owner[key], owner[other] = owner[other], owner[key]


def as_toml(data: Any) -> bytes | None:
    """Return data as TOML, None where it holds what TOML has not."""
    try:
        return toml_text(data).encode("utf-8")
    except (ValueError, TypeError):
        return None


def odd_text(random: Random, seeds: Sequence[str]) -> str:
    """Return what a person, or a cat on the keyboard, may type."""
    text = random.choice(seeds) if seeds and random.random() < 0.8 else ""
    for _ in range(random.choice((0, 1, 1, 2, 5))):
        at = random.randint(0, len(text))
        text = text[:at] + random.choice(_TYPED) + text[at + random.choice((0, 0, 1, 3)) :]
    return text


_TYPED: Final = (
    *"0123456789.,+-−<>/ ;:=eEx°Ω%µ\t\n\x00\x1b", "OL", "V", "mV", "kV", "A", "°C", "°F", "AWG",
    "AWG ", "1/0", "mm²", "ft",
    " min", "h", "d", "off", "unknown", "nan", "inf", "1e400", "1e-400", "9" * 500, "yes", "no",
    "13,2", "1,234.5", "\u202e",
    "٣", "½", "²", "\ud800", "\U0001f602", " after ", "5' 6\"", "a" * 500, "()", "{}", "%s", "\\",
)  # fmt: skip
