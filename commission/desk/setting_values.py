"""A value of a setting as the desk tells it: a number with its unit, however it was typed, else the word."""

from __future__ import annotations

from functools import lru_cache
from typing import Any, Final

from commission.desk.values import number, text
from commission.units import plain_pair, show_time

_DIGITS: Final = 6
_CLOCK: Final = "generator_no_start"
"""Settings that are a time of the day begin so; their number is in seconds after midnight."""


@lru_cache(4096)
def bare_number(value: float) -> str:
    """Return a number as text by which like values are found: 57.6 of ``57,6``, ``57.60`` and ``57.6 V``.

    Values of many records are few, and every row asks for some.
    """
    return plain_pair(value, value, _DIGITS)[0]


def number_shown(value: float, unit: str, setting: str) -> str:
    """Return a number of a setting with its unit.

    Parameters
    ----------
    setting
        Its id, since some are times of the day.
    """
    return _shown(bare_number(value), value, unit, setting)


def values_shown(row: dict[str, Any], one: str, other: str) -> tuple[str, str]:
    """Return two values of a setting in a record in the same way, so that they can be compared; empty: none.

    Parameters
    ----------
    row
        The setting as it stands in the record.
    one, other
        Names of the values, of which the texts as typed stand beside them: ``left`` and ``left_text``.
    """
    unit, setting = text(row, "unit"), text(row, "setting")
    numbers = number(row.get(one)), number(row.get(other))
    texts = ["" if value is None else bare_number(value) for value in numbers]
    if numbers[0] is not None and numbers[1] is not None:
        texts = list(plain_pair(numbers[0], numbers[1], _DIGITS))
    shown = [
        text(row, f"{name}_text") or text(row, name) if value is None else _shown(told, value, unit, setting)
        for name, value, told in zip((one, other), numbers, texts, strict=True)
    ]
    return shown[0], shown[1]


def _shown(told: str, value: float, unit: str, setting: str) -> str:
    if setting.startswith(_CLOCK) and 0 <= value < 86400:
        return f"{int(value // 3600):02}:{int(value % 3600 // 60):02}"
    if unit == "s":
        return show_time(value)
    return told if unit in {"", "1"} else f"{told} {unit}"
