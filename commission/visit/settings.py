"""Settings as found and as left: what was typed for one, and whether it agrees with the recommendation."""

from __future__ import annotations

import math
import re
from difflib import get_close_matches
from typing import Final, Literal

from commission.errors import EntryError
from commission.figure import Figure, Quantity, Unknown, given
from commission.plant.values import in_words
from commission.sheet.types import Setting, Sheet
from commission.units import UnitSystem, convert, plain, read_number, show, show_time, shown_unit
from commission.visit.types import SettingEntry, Visit

OFF: Final = "off"
CLOCK: Final = "generator_no_start"
"""How the names of settings begin that are a time of the day."""
_BARE: Final = re.compile(r"[+\-−]?(?:\d+(?:[.,]\d*)?|[.,]\d+)")
_PAIR: Final = re.compile(r"^\s*(\S+(?:\s*V)?)\s+(?:after\s+|/\s*)?(.+?)\s*$", re.IGNORECASE)


def read_setting(
    setting: Setting, typed: str, system: UnitSystem = "metric", *, held: bool = False
) -> tuple[float | str, str]:
    """Return what was typed for a setting as its value and as text.

    Numbers are in the device's own basis, in the unit that the site shows; ``off`` and the device's own words
    are words; pairs of voltage and delay are written ``47.2 15 min; 46 30 s``.

    Parameters
    ----------
    held
        The device is left so: what it cannot hold is refused. What was found may be anything.

    Raises
    ------
    EntryError
        If it is none of what the device can hold; the text says what would be right.
    """
    text = typed.strip()
    ability = setting.ability
    if not text:
        raise EntryError(f"nothing typed; {_wanted(setting, system)}")
    if ability.off and text.casefold() == OFF:
        return OFF, text
    if ability.choices:
        return _word(text, ability.choices), text
    if isinstance(setting.recommended, tuple) or ability.entries > 1:
        pairs = _pairs(text, setting)
        for voltage, delay in pairs if held else ():
            _check_held(voltage, ability.low, ability.high, setting, system)
            _check_held(delay, ability.delay_low, ability.delay_high)
        return pairs_text(pairs), text
    value, text = _number(setting, text, system)
    if held:
        _check_held(value, ability.low, ability.high, setting, system)
    return value, text


def _number(setting: Setting, text: str, system: UnitSystem) -> tuple[float, str]:
    unit = setting.ability.unit or "1"
    shown = shown_unit(unit, system)
    try:
        entry = read_number(text, shown)
    except EntryError as error:
        raise EntryError(f"{error}; {_wanted(setting, system)}") from None
    if unit == "s" and entry.value and _is_bare(text):
        units = f"write {text} s, {text} min, {text} h or {text} d"
        raise EntryError(f"{text} what? {units}; {_wanted(setting, system)}")
    if entry.side != "exact" or not math.isfinite(entry.value):
        raise EntryError(f"'{text}' is no setting; {_wanted(setting, system)}")
    if shown == unit:
        return entry.value, text
    return convert(entry.value, shown, unit), f"{text} {shown}" if _is_bare(text) else text


def _is_bare(text: str) -> bool:
    return _BARE.fullmatch(text) is not None


def _check_held(
    value: float,
    low: float | None,
    high: float | None,
    setting: Setting | None = None,
    system: UnitSystem = "metric",
) -> None:
    """Refuse a value that the device cannot hold; without a setting it is a delay.

    Raises
    ------
    EntryError
        If it is outside the device's range.
    """
    if low is None or high is None or low - slack(low) <= value <= high + slack(high):
        return
    other = "more" if value > high else "less"
    raise EntryError(
        f"the device takes {_range(low, high, setting, system)}; if the installed one takes {other}, its "
        "data sheet belongs into the site file"
    )


def _range(low: float, high: float, setting: Setting | None, system: UnitSystem) -> str:
    if setting is None:
        return f"a delay of {show_time(low)} to {show_time(high)}"
    least, most = (device_number(end, setting, system) for end in (low, high))
    return f"{least.removesuffix(f' {shown_unit(setting.unit, system)}')} to {most}"


def slack(end: float) -> float:
    """Return how far beyond a limit a number still counts as on it: what is lost in working it out."""
    return 1e-9 * max(abs(end), 1.0)


def device_number(value: float, setting: Setting, system: UnitSystem = "metric") -> str:
    """Return a number of a setting with the digits that the device has, and its unit."""
    unit = setting.unit
    if setting.setting.startswith(CLOCK):
        return f"{int(value // 3600):02}:{int(value % 3600 // 60):02}"
    if unit == "s":
        return show_time(value)
    if unit == "1":
        return plain(value, setting.decimals)
    if unit == "°C" and system == "us":
        return show(value, unit, system, max(0, setting.decimals - 1))
    return f"{plain(value, setting.decimals)} {unit}".rstrip()


def inward(value: float, setting: Setting, end: Literal["low", "high"]) -> float:
    """Return an end of a range rounded inward to the digits of the device: as printed it is inside."""
    scale = 10.0**setting.decimals
    nearest = round(value * scale)
    if abs(value * scale - nearest) < 1e-6:
        return nearest / scale
    return (math.ceil if end == "low" else math.floor)(value * scale) / scale


def _wanted(setting: Setting, system: UnitSystem) -> str:
    ability = setting.ability
    if ability.choices:
        return f"one of: {', '.join(ability.choices)}"
    off = ", or off" if ability.off else ""
    if ability.low is None or ability.high is None:
        return f"a number in {shown_unit(setting.unit, system) or '1'}{off}"
    return f"the device takes {_range(ability.low, ability.high, setting, system)}{off}"


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


def recommended_typed(setting: Setting, system: UnitSystem = "metric") -> str | None:
    """Return a recommendation as it would be typed, None where it is not known."""
    value = recommended_value(setting)
    if not isinstance(value, float | int):
        return value
    with_unit = setting.unit == "s" or shown_unit(setting.unit, system) != setting.unit
    return device_number(value, setting, system) if with_unit else plain(value, setting.decimals)


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


def as_left(setting: Setting, entry: SettingEntry, *, last_visit: bool = False) -> Quantity | None:
    """Return a setting as left in whole-bank volts or its own unit, None where it is no number.

    Parameters
    ----------
    last_visit
        It was left so by the visit before.
    """
    if not isinstance(entry.left, float | int):
        return None
    name = f"{in_words(setting.setting)} of {setting.device}"
    where = ".".join(part for part in (setting.device, setting.input, setting.setting) if part)
    then = f"by the last visit, {entry.at:%Y-%m-%d}" if last_visit else f"read at {entry.at:%H:%M}"
    source = f"as left, {then}"
    unit = setting.at_posts.unit if setting.at_posts is not None else setting.unit
    return given(entry.left * _posts_factor(setting), unit, name, kind="setting", where=where, source=source)


def _posts_factor(setting: Setting) -> float:
    """Return how many whole-bank volts one volt of the device's display is."""
    shown, posts = setting.recommended, setting.at_posts
    if not isinstance(shown, Figure) or not isinstance(posts, Figure) or shown.value == 0.0:
        return 1.0
    return posts.value / shown.value
