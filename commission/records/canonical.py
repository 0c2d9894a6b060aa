"""A record's data apart from how the file writes them: the same for a file that was only rewritten."""

from __future__ import annotations

import hashlib
import math
from collections.abc import Mapping
from datetime import UTC, date, datetime, time
from typing import Any, Final

from commission.visit.digest import canonical_json

DIGEST: Final = "sha256:"
_LARGEST: Final = 1.7976931348623157e308


def data_digest(data: Mapping[str, Any]) -> str:
    """Return the digest of parsed TOML: SHA-256 of its canonical JSON (RFC 8785).

    A moment counts as such, whatever its offset; what JSON lacks (infinities, numbers beyond a double) is
    written as text.
    """
    return DIGEST + hashlib.sha256(canonical_json(plain_data(data))).hexdigest()


def plain_data(value: Any) -> Any:
    """Return parsed TOML as what JSON can hold: moments, days and numbers that it lacks as text."""
    if isinstance(value, Mapping):
        return {str(key): plain_data(item) for key, item in value.items() if item is not None}
    if isinstance(value, list | tuple):
        return [plain_data(item) for item in value]
    if isinstance(value, datetime):
        return f"moment {_moment(value).isoformat()}"
    if isinstance(value, date | time):
        return f"day {value.isoformat()}"
    if isinstance(value, int | float) and not isinstance(value, bool):
        return _number(value)
    return value


def _moment(value: datetime) -> datetime:
    """Return a moment in UTC; at the ends of the calendar, which UTC has not, with the offset that it has."""
    try:
        return value if value.tzinfo is None else value.astimezone(UTC)
    except OverflowError:
        return value


def _number(value: float) -> float | str:
    """Return a number as JSON has it, one that JSON lacks as text."""
    if isinstance(value, int) and abs(value) > _LARGEST:
        return f"number {value:x}"
    if not math.isfinite(value):
        return f"number {float(value)}"
    return value
