"""Help as wide as the panel is: paragraphs are filled, and what a key does hangs beside it."""

from __future__ import annotations

import re
import textwrap
from collections.abc import Iterator
from typing import Final

_KEY: Final = re.compile(r"(?:  )?\S.*?  +(?=\S)")
"""A line that begins with a key or a heading, two spaces or more, and what there is to say of it."""


def reflowed(text: str, width: int) -> str:
    """Return help filled to a width: lines of prose make paragraphs, deeper ones go on with the one above."""
    return "\n".join(line for block in _blocks(text) for line in _filled(block, width))


def _blocks(text: str) -> Iterator[str]:
    """Yield what belongs together, in one line each; an empty one for every empty line."""
    block = ""
    for line in text.splitlines():
        if block and line and (line.startswith("   ") or (_is_prose(line) and _is_prose(block))):
            block = f"{block} {line.strip()}"
            continue
        if block:
            yield block
        block = line
        if not line:
            yield ""
    if block:
        yield block


def _is_prose(line: str) -> bool:
    return line[:1] not in {"", " "} and _KEY.match(line) is None


def _filled(block: str, width: int) -> list[str]:
    found = _KEY.match(block)
    deep = len(found[0]) if found else len(block) - len(block.lstrip())
    hang = " " * min(deep, width // 2)
    return textwrap.wrap(block, max(width, 30), subsequent_indent=hang, break_on_hyphens=False) or [""]
