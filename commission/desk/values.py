"""Values out of data that anybody may have written: what is not as it should be is null or empty."""

from __future__ import annotations

import math
from calendar import timegm
from datetime import UTC, date, datetime
from typing import Any, Final

from commission.errors import harmless

_INTEGER: Final = 2**63
"""What the engines hold."""
_EPOCH: Final = datetime(1970, 1, 1, tzinfo=UTC)


def table(data: Any, name: str) -> dict[str, Any]:
    """Return a table by its name, an empty one where there is none."""
    found = data.get(name) if isinstance(data, dict) else None
    return found if isinstance(found, dict) else {}


def rows(data: Any, name: str) -> list[dict[str, Any]]:
    """Return the tables of a list by its name."""
    found = data.get(name) if isinstance(data, dict) else None
    return [row for row in found if isinstance(row, dict)] if isinstance(found, list) else []


def text(data: dict[str, Any], name: str) -> str:
    """Return a text, harmless to a terminal and to every engine."""
    found = data.get(name)
    if found.__class__ is str and found.isprintable():
        return str(found)
    return plain(found)


def plain(found: Any) -> str:
    """Return a value as text; nothing of what is no text or number."""
    if isinstance(found, str):
        return found if found.isprintable() else harmless(found)
    if isinstance(found, bool) or not isinstance(found, int | float):
        return ""
    return "" if isinstance(found, int) and not -_INTEGER <= found < _INTEGER else f"{found}"


def number(found: Any) -> float | None:
    """Return a number that is finite or infinite, None of anything else."""
    if found.__class__ is float:
        return None if math.isnan(found) else float(found)
    if isinstance(found, bool) or not isinstance(found, int | float):
        return None
    try:
        made = float(found)
    except OverflowError:
        return None
    return None if math.isnan(made) else made


def joined(found: Any) -> str:
    """Return ids joined by +, as a key is written."""
    if not found or not isinstance(found, list):
        return ""
    return "+".join([plain(one) for one in found])


def moment(found: Any) -> int | None:
    """Return a time with an offset as whole seconds since 1970 in UTC."""
    if isinstance(found, datetime) and found.tzinfo is not None:
        try:
            since = found - _EPOCH
        except (ValueError, OverflowError):
            return None
        return since.days * 86_400 + since.seconds
    return None


def local(found: Any) -> str:
    """Return a time as it was on the spot, minutes and offset."""
    if isinstance(found, datetime) and found.tzinfo is not None:
        return found.isoformat(" ", "minutes")
    return ""


def day(found: Any) -> date | None:
    """Return a date from one, or from text such as 2026-12-24; None of a month or year alone."""
    if isinstance(found, datetime):
        return found.date()
    if isinstance(found, date):
        return found
    try:
        return date.fromisoformat(found) if isinstance(found, str) and len(found) == 10 else None
    except ValueError:
        return None


def day_start(found: date | None) -> int | None:
    """Return the first second of a day, UTC."""
    return None if found is None else timegm(found.timetuple())


def name_key(name: str) -> str:
    """Return a person's name as it is compared: letters and digits alone, in small letters."""
    return "".join(letter for letter in name.casefold() if letter.isalnum())
