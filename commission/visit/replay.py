"""Reading a journal again: the complete beginning, and what can be read behind whatever spoiled it."""

from __future__ import annotations

import json
from dataclasses import dataclass

from pydantic import ValidationError

from commission.visit.events import EVENT, Event
from commission.visit.framing import framed, intact, text_of, whole_beginning


@dataclass(frozen=True)
class Replay:
    """What a journal holds."""

    events: tuple[Event, ...]
    size: int
    """Bytes of the complete beginning."""
    damage: tuple[str, ...] = ()
    """What could not be read, as a person would say it."""
    after_damage: tuple[Event, ...] = ()
    """Events that can be read behind the first damage, and those whose line end alone is damaged."""
    torn: bool = False
    """Only the last line is incomplete, as when the machine died while writing it."""


def line_of(event: Event) -> bytes:
    """Return an event as a line of the journal."""
    data = event.model_dump(mode="json", by_alias=True, exclude_none=True)
    return framed(json.dumps(data, ensure_ascii=False, separators=(",", ":"), allow_nan=True))


def event_of(line: bytes) -> Event | None:
    """Return the event of a line without its end, None where the line is damaged."""
    if not intact(line):
        return None
    try:
        event: Event = EVENT.validate_json(text_of(line))
    except ValidationError:
        return None
    return event


def replay(content: bytes) -> Replay:
    """Read a journal: the complete beginning, and what is behind the first line that cannot be read."""
    lines = content.split(b"\n")
    tail = lines.pop()
    events: list[Event] = []
    size = 0
    for number, line in enumerate(lines, start=1):
        event = event_of(line)
        if event is None:
            return _damaged(number, lines[number - 1 :], tail, events, size)
        events.append(event)
        size += len(line) + 1
    whole, rest = _run_together(tail)
    if whole:
        said = (
            f"the line end of the last entry is damaged; the entry itself is whole and kept{_dropped(rest)}"
        )
        return Replay(tuple(events), size, (said,), whole)
    if tail:
        said = f"the last entry was cut short ({len(tail)} bytes) and is dropped; it was never confirmed"
        return Replay(tuple(events), size, (said,), torn=True)
    return Replay(tuple(events), size)


def _damaged(number: int, lines: list[bytes], tail: bytes, events: list[Event], size: int) -> Replay:
    """Tell what can be read from the first damaged line on; ``lines`` begins with that line."""
    found = [_run_together(line) for line in lines]
    last, rest = _run_together(tail)
    behind = (*(event for whole, _ in found for event in whole), *last)
    spoiled = sum(not whole or bool(over) for whole, over in found)
    if found[0][0] and not found[0][1]:
        said = [f"the line end of line {number} of the journal is damaged; its entries are whole"]
    else:
        readable = len(behind) - len(found[0][0])
        said = [f"line {number} of the journal is damaged; {readable} entries behind it can be read"]
        spoiled -= 1
    if spoiled:
        said.append(f"{spoiled} further lines are damaged")
    if tail and (rest or not last):
        said.append("the last entry was cut short and is dropped")
    return Replay(tuple(events), size, tuple(said), behind)


def _run_together(line: bytes) -> tuple[tuple[Event, ...], int]:
    """Return the entries that run together, since an end is damaged, and how many bytes are left over."""
    found: list[Event] = []
    while line:
        event = event_of(line)
        if event is not None:
            return (*found, event), 0
        end = whole_beginning(line)
        event = event_of(line[:end]) if end else None
        if event is None:
            break
        found.append(event)
        line = line[end + 1 :]  # the byte that should be a line end
    return tuple(found), len(line)


def _dropped(rest: int) -> str:
    return f"; {rest} bytes behind it are no entry and are dropped" if rest else ""
