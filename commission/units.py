"""Units: reading what a person or a file wrote, and showing numbers in the site's unit system."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from typing import Final, Literal, TypeAlias

from commission.errors import EntryError

UnitSystem: TypeAlias = Literal["metric", "us"]

# symbol: (dimension, factor to the dimension's base unit, offset)
_SCALE: Final[dict[str, tuple[str, float, float]]] = {
    "V": ("V", 1.0, 0.0),
    "mV": ("V", 1e-3, 0.0),
    "kV": ("V", 1e3, 0.0),
    "A": ("A", 1.0, 0.0),
    "mA": ("A", 1e-3, 0.0),
    "kA": ("A", 1e3, 0.0),
    "W": ("W", 1.0, 0.0),
    "kW": ("W", 1e3, 0.0),
    "VA": ("VA", 1.0, 0.0),
    "kVA": ("VA", 1e3, 0.0),
    "Ah": ("Ah", 1.0, 0.0),
    "Wh": ("Wh", 1.0, 0.0),
    "kWh": ("Wh", 1e3, 0.0),
    "Ω": ("Ω", 1.0, 0.0),
    "mΩ": ("Ω", 1e-3, 0.0),
    "µΩ": ("Ω", 1e-6, 0.0),
    "kΩ": ("Ω", 1e3, 0.0),
    "MΩ": ("Ω", 1e6, 0.0),
    "GΩ": ("Ω", 1e9, 0.0),
    "°C": ("°C", 1.0, 0.0),
    "°F": ("°C", 5.0 / 9.0, -160.0 / 9.0),
    "K": ("K", 1.0, 0.0),
    "m": ("m", 1.0, 0.0),
    "mm": ("m", 1e-3, 0.0),
    "cm": ("m", 1e-2, 0.0),
    "km": ("m", 1e3, 0.0),
    "ft": ("m", 0.3048, 0.0),
    "in": ("m", 0.0254, 0.0),
    "mm²": ("mm²", 1.0, 0.0),
    "kcmil": ("mm²", 0.506707479, 0.0),
    "cm²": ("cm²", 1.0, 0.0),
    "s": ("s", 1.0, 0.0),
    "ms": ("s", 1e-3, 0.0),
    "min": ("s", 60.0, 0.0),
    "h": ("s", 3600.0, 0.0),
    "d": ("s", 86400.0, 0.0),
    "N·m": ("N·m", 1.0, 0.0),
    "lb·in": ("N·m", 0.112984829, 0.0),
    "lb·ft": ("N·m", 1.355817948, 0.0),
    "Hz": ("Hz", 1.0, 0.0),
    "W/m²": ("W/m²", 1.0, 0.0),
    "kW/m²": ("W/m²", 1e3, 0.0),
    "1": ("1", 1.0, 0.0),
    "%": ("1", 1e-2, 0.0),
    "kg/L": ("kg/L", 1.0, 0.0),
    "mV/K": ("mV/K", 1.0, 0.0),
    "L/h": ("L/h", 1.0, 0.0),
    "m³/h": ("m³/h", 1.0, 0.0),
    "mA/Ah": ("mA/Ah", 1.0, 0.0),
    "Ω·Ah": ("Ω·Ah", 1.0, 0.0),
    "°": ("°", 1.0, 0.0),
}

_ALIASES: Final[dict[str, str]] = {
    "v": "V", "volt": "V", "volts": "V", "mv": "mV", "a": "A", "amp": "A", "amps": "A", "ma": "mA",
    "w": "W", "kw": "kW", "watts": "W", "va": "VA", "kva": "kVA", "ah": "Ah", "wh": "Wh", "kwh": "kWh",
    "ohm": "Ω", "ohms": "Ω", "r": "Ω", "mohm": "mΩ", "uohm": "µΩ", "microhm": "µΩ", "μω": "µΩ", "kohm": "kΩ",
    "Mohm": "MΩ", "megohm": "MΩ", "gohm": "GΩ", "c": "°C", "degc": "°C", "°c": "°C", "f": "°F", "degf": "°F",
    "°f": "°F", "k": "K", "ft": "ft", "feet": "ft", "'": "ft", "in": "in", '"': "in", "inch": "in",
    "mm2": "mm²", "cm2": "cm²", "kcmil": "kcmil", "mcm": "kcmil", "sec": "s", "secs": "s", "mins": "min",
    "hr": "h", "hrs": "h", "hours": "h", "days": "d", "day": "d", "nm": "N·m", "n.m": "N·m", "n·m": "N·m",
    "lbin": "lb·in", "lb.in": "lb·in", "lb-in": "lb·in", "in-lb": "lb·in", "lb·in": "lb·in", "lbft": "lb·ft",
    "lb.ft": "lb·ft", "lb-ft": "lb·ft", "ft-lb": "lb·ft", "hz": "Hz", "w/m2": "W/m²", "kw/m2": "kW/m²",
    "pct": "%", "percent": "%", "sg": "kg/L", "kg/l": "kg/L", "deg": "°",
}  # fmt: skip

_NUMBER: Final = re.compile(r"^([+\-−]?\s*(?:\d+(?:[.,]\d*)?|[.,]\d+)(?:[eE][+\-]?\d+)?)\s*(.*)$")
_AWG: Final = re.compile(r"^(\d{1,2}|[1-4]/0|0{1,4})\s*(?:awg|ga)$", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Entry:
    """One number as it was typed: its value in the wanted unit, its digits, and whether it is one-sided."""

    value: float
    text: str
    decimals: int
    """Digits after the decimal mark, counted in the wanted unit (a shifted prefix shifts them)."""
    side: Literal["exact", "above", "below"] = "exact"
    """``above``: the meter showed OL or ``>``; ``below``: it showed ``<``."""


def symbol_of(word: str) -> str | None:
    """Return the unit symbol that a word stands for, or None."""
    word = word.strip().replace("μ", "µ")
    if word in _SCALE:
        return word
    if word in _ALIASES:
        return _ALIASES[word]
    return _ALIASES.get(word.lower())


def convert(value: float, unit: str, wanted: str) -> float:
    """Return a value given in ``unit`` in the unit ``wanted``.

    Raises
    ------
    EntryError
        If the two units do not measure the same thing.
    """
    if unit == wanted:
        return value
    if unit not in _SCALE or wanted not in _SCALE or _SCALE[unit][0] != _SCALE[wanted][0]:
        raise EntryError(f"{unit} cannot be read as {wanted}")
    _, factor, offset = _SCALE[unit]
    _, wanted_factor, wanted_offset = _SCALE[wanted]
    return (value * factor + offset - wanted_offset) / wanted_factor


def awg_area(size: str) -> float:
    """Return the cross-section of an American wire gauge, in mm².

    The geometric definition: diameter 0.127 mm × 92^((36 − n) ÷ 39) (ASTM B258-18, section 5).
    """
    zeros, slash, _ = size.partition("/")
    if slash:
        number = 1 - int(zeros)
    elif set(size) == {"0"}:
        number = 1 - len(size)
    else:
        number = int(size)
    diameter: float = 0.127 * 92.0 ** ((36 - number) / 39.0)
    return math.pi / 4.0 * diameter**2


def read_number(text: str, unit: str) -> Entry:
    """Read what a person typed as a number of ``unit``.

    Decimal comma, any unit of the same kind and plain slips are understood: ``13,2``, ``13.2V``, ``1320mV``,
    ``77F``, ``OL``, ``>999``, ``<0.1``, ``2/0 AWG``, ``1:30`` and ``2 h 30`` for times.

    Raises
    ------
    EntryError
        If it cannot be understood; the text says why, with an example.
    """
    raw = text.strip()
    if not raw:
        raise EntryError(f"nothing typed; a number in {unit}, such as {_example(unit)}")
    if raw.upper() in {"OL", "O.L", "0L", "OVER"}:
        return Entry(math.inf, raw, 0, "above")
    if raw[0] in "<>":
        inner = read_number(raw[1:], unit)
        return Entry(inner.value, raw, inner.decimals, "above" if raw[0] == ">" else "below")
    gauge = _AWG.match(raw)
    if gauge and unit == "mm²":
        return Entry(awg_area(gauge[1]), raw, 2)
    if unit in {"s", "min", "h"}:
        timed = _duration(raw)
        if timed is not None:
            return Entry(convert(timed, "s", unit), raw, 0)
    return _plain(raw, unit)


def _plain(raw: str, unit: str) -> Entry:
    match = _NUMBER.match(raw)
    if match is None:
        raise EntryError(f"'{raw}' is not a number; type a number in {unit}, such as {_example(unit)}")
    digits = match[1].replace(" ", "").replace("−", "-").replace(",", ".")
    value = float(digits)
    word = match[2].strip()
    mantissa = digits.lower().split("e")[0]
    decimals = len(mantissa.split(".")[1]) if "." in mantissa else 0
    if not math.isfinite(value):
        raise EntryError(f"'{raw}' is too large to be a reading")
    if not word or word == unit:
        return Entry(value, raw, decimals)
    found = symbol_of(word)
    if found is None:
        raise EntryError(f"'{word}' is not a unit known here; the number alone is taken in {unit}")
    shift = 0
    if found in _SCALE and unit in _SCALE and _SCALE[found][0] == _SCALE[unit][0]:
        shift = round(math.log10(_SCALE[unit][1] / _SCALE[found][1])) if found != unit else 0
    return Entry(convert(value, found, unit), raw, max(0, decimals + shift))


def _duration(raw: str) -> float | None:
    clock = re.fullmatch(r"(\d{1,3}):([0-5]\d)(?::([0-5]\d))?", raw)
    if clock:
        return int(clock[1]) * 3600.0 + int(clock[2]) * 60.0 + int(clock[3] or 0)
    spoken = re.fullmatch(r"(\d+)\s*h\s*(\d{1,2})\s*(?:min|m)?", raw)
    if spoken:
        return int(spoken[1]) * 3600.0 + int(spoken[2]) * 60.0
    return None


_EXAMPLES: Final[dict[str, str]] = {"V": "13.2", "A": "45", "°C": "21.5", "s": "90 s or 2 min"}


def _example(unit: str) -> str:
    return _EXAMPLES.get(unit, "12.5")


_US: Final[dict[str, str]] = {"°C": "°F", "m": "ft", "mm²": "AWG", "N·m": "lb·in"}
_AWG_SIZES: Final = ("18", "16", "14", "12", "10", "8", "6", "4", "3", "2", "1", "1/0", "2/0", "3/0", "4/0")
_KCMIL_SIZES: Final = (250, 300, 350, 400, 500, 600, 700, 750, 800, 900, 1000)


def area_in_gauge(area: float) -> str:
    """Return a cross-section in mm² as the US size that it is, or its circular mils where it is none."""
    for size in _AWG_SIZES:
        if abs(awg_area(size) - area) <= 0.02 * area:
            return f"{size} AWG"
    kcmil = convert(area, "mm²", "kcmil")
    for circular in _KCMIL_SIZES:
        if abs(circular - kcmil) <= 0.02 * kcmil:
            return f"{circular} kcmil"
    return f"{kcmil:.4g} kcmil"


def shown_unit(unit: str, system: UnitSystem) -> str:
    """Return the unit in which a value of ``unit`` is shown in a unit system."""
    return _US.get(unit, unit) if system == "us" else unit


def show(value: float, unit: str, system: UnitSystem = "metric", decimals: int | None = None) -> str:
    """Return a value with its unit, one space between, as the site's unit system shows it.

    Parameters
    ----------
    value
        The value in ``unit``.
    decimals
        Digits after the point; four significant ones where None.
    """
    if unit == "s":
        return show_time(value)
    if unit == "mm²" and system == "us":
        return area_in_gauge(value)
    if unit == "1" and decimals is None:
        return f"{plain(value)}"
    wanted = shown_unit(unit, system)
    number = plain(convert(value, unit, wanted) if wanted != unit else value, decimals)
    return number if wanted in {"", "1"} else f"{number} {wanted}"


def plain(value: float, decimals: int | None = None) -> str:
    """Return a number without exponent or trailing noise; a true minus sign for negative ones."""
    if not math.isfinite(value):
        return "over range" if value > 0 else "under range"
    if decimals is None:
        decimals = 0 if value == 0 else max(0, min(9, 3 - math.floor(math.log10(abs(value)))))
        text = f"{value:.{decimals}f}"
        text = text.rstrip("0").rstrip(".") if "." in text else text
    else:
        text = f"{value:.{decimals}f}"
    if text.startswith("-"):
        text = text[1:] if float(text) == 0 else "−" + text[1:]
    return text


def show_time(seconds: float) -> str:
    """Return a duration as a person would say it: ``2 h 30 min``, ``90 d``, ``45 s``."""
    if seconds < 0:
        return "−" + show_time(-seconds)
    whole = round(seconds)
    if abs(seconds - whole) > 1e-9 and seconds < 60:
        return f"{plain(seconds)} s"
    if whole >= 172800 and whole % 86400 == 0:
        return f"{whole // 86400} d"
    hours, rest = divmod(whole, 3600)
    minutes, left = divmod(rest, 60)
    parts = [f"{hours} h"] if hours else []
    parts += [f"{minutes} min"] if minutes else []
    parts += [f"{left} s"] if left or not parts else []
    return " ".join(parts)
