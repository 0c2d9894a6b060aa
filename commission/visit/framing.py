"""How a line of a journal is framed: the CRC-32 of what follows it in hex, a space, JSON."""

from __future__ import annotations

import re
import zlib
from typing import Final

NAME: Final = "journal"
"""Name of the file in a visit's folder."""
_HEX: Final = re.compile(rb"^[0-9a-f]{8}$")
_CHECK: Final = 8
"""Letters of the check; it covers the space behind it too."""


def framed(text: str) -> bytes:
    """Return the JSON of an event as a line with its end."""
    body = b" " + text.encode("utf-8")
    return b"%08x" % zlib.crc32(body) + body + b"\n"


def intact(line: bytes) -> bool:
    """Say whether a line without its end is what was once written."""
    check, body = line[:_CHECK], line[_CHECK:]
    return bool(_HEX.match(check)) and body[:1] == b" " and int(check, 16) == zlib.crc32(body)


def text_of(line: bytes) -> bytes:
    """Return the JSON of an intact line."""
    return line[_CHECK + 1 :]


def whole_beginning(line: bytes) -> int:
    """Return how many bytes of a line are a whole entry whose line end was damaged; 0 where none are."""
    check, body = line[:_CHECK], line[_CHECK:]
    if not _HEX.match(check) or body[:1] != b" ":
        return 0
    wanted, crc, at = int(check, 16), 0, 0
    while (end := body.find(b"}", at) + 1) > 0:
        crc = zlib.crc32(body[at:end], crc)
        if crc == wanted:
            return _CHECK + end
        at = end
    return 0
