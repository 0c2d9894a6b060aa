"""Settings as found and as left: what was typed for one, and whether it agrees with the recommendation."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from difflib import get_close_matches
from typing import Final

from commission.errors import EntryError
from commission.figure import Figure, Quantity, Unknown, given
from commission.plant.values import in_words
from commission.sheet.types import Setting, Sheet
from commission.units import plain, read_number
from commission.visit.types import SettingEntry, Visit

OFF: Final = "off"
_PAIR: Final = re.compile(r"^\s*(\S+(?:\s*V)?)\s+(?:after\s+|/\s*)?(.+?)\s*$", re.IGNORECASE)


def read_setting(setting: Setting, typed: str) -> tuple[float | str, str]:
    """Return what was typed for a setting as its value and as text.

    Numbers are in the device's own unit and basis; ``off`` and the device's own words are words; pairs of
    voltage and delay are written ``47.2 15 min; 46 30 s``.

    Raises
    ------
    EntryError
        If it is none of what the device can hold; the text says what would be right.
    """
    text = typed.strip()
    ability = setting.ability
    if not text:
        raise EntryError(f"nothing typed; {_wanted(setting)}")
    if ability.off and text.casefold() == OFF:
        return OFF, text
    if ability.choices:
        return _word(text, ability.choices), text
    if isinstance(setting.recommended, tuple) or ability.entries > 1:
        return pairs_text(_pairs(text, setting)), text
    try:
        entry = read_number(text, ability.unit or "1")
    except EntryError as error:
        raise EntryError(f"{error}; {_wanted(setting)}") from None
    if ability.unit == "s" and entry.value and text.replace(".", "").replace(",", "").isdigit():
        raise EntryError(f"{text} what? write {text} s, {text} min, {text} h or {text} d; {_wanted(setting)}")
    if entry.side != "exact" or not math.isfinite(entry.value):
        raise EntryError(f"'{text}' is no setting; {_wanted(setting)}")
    return entry.value, text


def _wanted(setting: Setting) -> str:
    ability = setting.ability
    if ability.choices:
        return f"one of: {', '.join(ability.choices)}"
    off = ", or off" if ability.off else ""
    if ability.low is None or ability.high is None:
        return f"a number in {setting.unit or '1'}{off}"
    return f"the device takes {plain(ability.low)} to {plain(ability.high)} {setting.unit}".rstrip() + off


def _word(text: str, choices: tuple[str, ...]) -> str:
    exact = next((choice for choice in choices if choice.casefold() == text.casefold()), None)
    if exact is not None:
        return exact
    near = get_close_matches(text, choices, n=1, cutoff=0.5)
    hint = f"; did you mean {near[0]}?" if near else ""
    raise EntryError(f"'{text}' is none of: {', '.join(choices)}{hint}")


def _pairs(text: str, setting: Setting) -> tuple[tuple[float, float], ...]:
    found = []
    for item in text.split(";"):
        match = _PAIR.match(item)
        if match is None:
            raise EntryError(f"'{item.strip()}' is no voltage with its delay, such as 47.2 15 min")
        found.append((read_number(match[1], "V").value, read_number(match[2], "s").value))
    if len(found) > setting.ability.entries:
        raise EntryError(f"{len(found)} pairs; the device holds {setting.ability.entries}")
    return tuple(found)


def pairs_text(pairs: tuple[tuple[float, float], ...]) -> str:
    """Return value-delay pairs as one text, by which they are compared."""
    return "; ".join(f"{voltage:.10g} V after {delay:.10g} s" for voltage, delay in pairs)


def recommended_value(setting: Setting) -> float | str | None:
    """Return a recommendation in the form in which an entry is kept, None where it is not known."""
    wanted = setting.recommended
    if isinstance(wanted, Unknown):
        return None
    if isinstance(wanted, Figure):
        return wanted.value
    if isinstance(wanted, str):
        return wanted
    return pairs_text(tuple((pair.voltage.value, pair.delay.value) for pair in wanted))


def differs(setting: Setting, left: float | str) -> bool:
    """Say whether a value as left is another than the recommended one, apart from half a step."""
    wanted = recommended_value(setting)
    if wanted is None:
        return False
    if isinstance(wanted, float | int) and isinstance(left, float | int):
        half = (setting.ability.step or 0.0) / 2.0
        return abs(left - wanted) > max(half * (1.0 - 1e-6), 1e-9 * max(abs(wanted), 1.0))
    return str(wanted).casefold() != str(left).casefold()


def not_told(sheet: Sheet, visit: Visit) -> dict[str, list[Setting]]:
    """Return the settings whose value as left was not told, by device."""
    told = {(entry.device, entry.setting, entry.input) for entry in visit.settings if entry.left is not None}
    found: dict[str, list[Setting]] = {}
    for setting in sheet.settings:
        if setting.changeable and setting.key not in told:
            found.setdefault(setting.device, []).append(setting)
    return found


def unexplained(sheet: Sheet, visit: Visit) -> Iterator[tuple[Setting, SettingEntry]]:
    """Yield the settings that were left otherwise than recommended, without a reason."""
    for entry in visit.settings:
        setting = sheet.setting(entry.device, entry.setting, entry.input)
        if setting is None or entry.left is None or entry.reason:
            continue
        if differs(setting, entry.left):
            yield setting, entry


def as_left(setting: Setting, entry: SettingEntry) -> Quantity | None:
    """Return a setting as left in whole-bank volts or its own unit, None where it is no number."""
    if not isinstance(entry.left, float | int):
        return None
    name = f"{in_words(setting.setting)} of {setting.device}"
    where = ".".join(part for part in (setting.device, setting.input, setting.setting) if part)
    source = f"as left, read at {entry.at:%H:%M}"
    unit = setting.at_posts.unit if setting.at_posts is not None else setting.unit
    return given(entry.left * _posts_factor(setting), unit, name, kind="setting", where=where, source=source)


def _posts_factor(setting: Setting) -> float:
    """Return how many whole-bank volts one volt of the device's display is."""
    shown, posts = setting.recommended, setting.at_posts
    if not isinstance(shown, Figure) or not isinstance(posts, Figure) or shown.value == 0.0:
        return 1.0
    return posts.value / shown.value
