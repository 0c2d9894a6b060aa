"""Units: reading what a person or a file wrote, and showing numbers in the site's unit system."""

from __future__ import annotations

import math
import re
import unicodedata
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from typing import Final, Literal, TypeAlias

from commission.errors import EntryError
from commission.unit_tables import ALIASES, AS_TYPED, SCALE, THOUSANDS_USUAL

UnitSystem: TypeAlias = Literal["metric", "us"]

_LONGEST: Final = 80
"""Characters of an entry; a number with its unit is far shorter."""
_NUMBER: Final = re.compile(
    r"(?P<sign>[+-]?)\s*(?P<run>[\d.,]+(?:[ '_]+[\d.,]+)*)"
    r"(?P<exponent>[eE][+-]?\d{1,3}(?![\d.,]))?\s*(?P<word>.*)"
)
_GROUPED: Final = re.compile(r"\d{1,3}(?:([,.'_ ])\d{3})(?:\1\d{3})*(?:(?!\1)[.,]\d+)?")
_TWO_MEANINGS: Final = re.compile(r"[1-9]\d{0,2},\d{3}")
_OVER: Final = re.compile(
    r"(?P<sign>-?)\s*(?:\.?[O0]\.?L\.?|OVER(?:LOAD| RANGE)?)\s*(?P<word>.*)", re.IGNORECASE
)
_GAUGE: Final = re.compile(
    r"(?:#|no\.?|awg)?\s*(?P<size>[1-4]/0|0{1,4}|\d{1,2})\s*(?P<mark>awg|ga|gauge)?", re.IGNORECASE
)
_CLOCK: Final = re.compile(r"(\d{1,3}):([0-5]\d)(?::([0-5]\d))?")
_SPOKEN: Final = re.compile(r"-?\s*(?:\d{1,6}(?!\d)\s*[A-Za-z]*\s*)+")
_SPOKEN_PART: Final = re.compile(r"(\d+)\s*([A-Za-z]*)")
_FEET: Final = re.compile(
    r"(\d{1,6})\s*(?:ft|feet|')\s*(\d{1,2}(?:\.\d+)?)\s*(?:in|inch|inches|\")", re.IGNORECASE
)
_TIME_UNITS: Final = ("s", "min", "h")
_NEXT_SMALLER: Final = {"d": "h", "h": "min", "min": "s"}


@dataclass(frozen=True, slots=True)
class Entry:
    """One number as it was typed: its value in the wanted unit, its digits, and whether it is one-sided."""

    value: float
    text: str
    decimals: int
    """Digits after the decimal mark, counted in the wanted unit (a shifted prefix shifts them)."""
    side: Literal["exact", "above", "below"] = "exact"
    """``above``: the meter showed OL or ``>``; ``below``: it showed ``<``, or OL on the negative side."""


def symbol_of(word: str, wanted: str = "") -> str | None:
    """Return the unit symbol that a word stands for, or None.

    Parameters
    ----------
    wanted
        Unit of the field; it settles what a bare prefix means: ``M`` for insulation, ``m`` for a time.
    """
    word = word.strip().translate(AS_TYPED)
    if word and word == wanted:
        return wanted
    prefixed = _prefix(word, SCALE[wanted][0] if wanted in SCALE else "")
    if prefixed is not None or (word in SCALE and word != "F"):
        return prefixed or word
    if word.lower() in {"mohm", "mohms"}:  # ten to the ninth apart: here the capital letter counts
        return "MΩ" if word[0] == "M" else "mΩ"
    return ALIASES.get(word.lower())


def _prefix(word: str, kind: str) -> str | None:
    """Return what a prefix without its unit means in a field of a kind."""
    if kind == "Ω" and word in {"k", "M", "G"}:
        return word + "Ω"
    if kind == "s" and word == "m":
        return "min"
    return "k" + kind if word == "k" and kind and "k" + kind in SCALE else None


def convert(value: float, unit: str, wanted: str) -> float:
    """Return a value given in ``unit`` in the unit ``wanted``.

    Raises
    ------
    EntryError
        If the two units do not measure the same thing.
    """
    if unit == wanted:
        return value
    if unit not in SCALE or wanted not in SCALE or SCALE[unit][0] != SCALE[wanted][0]:
        raise EntryError(f"{unit} cannot be read as {_named(wanted)}; {_allowed(wanted)}")
    _, factor, offset = SCALE[unit]
    _, wanted_factor, wanted_offset = SCALE[wanted]
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

    Decimal comma and any unit of the same kind are understood: ``13,2``, ``13.2V``, ``1320mV``, ``77F``,
    ``OL``, ``>999``, ``<0.1``, ``2/0 AWG``; ``1:30`` (hours and minutes) and ``2 h 30`` for times. What has
    two meanings is refused and both are told.

    Raises
    ------
    EntryError
        If it cannot be understood; the text says why, with an example.
    """
    entry = _read(text, unit)
    coldest = _ABSOLUTE_ZERO.get(unit)
    if coldest is not None and entry.value < coldest - 1e-9 and math.isfinite(entry.value):
        raise EntryError(f"{_quoted(entry.text)}: nothing is colder than {plain(coldest, 2)} {unit}")
    return entry


_ABSOLUTE_ZERO: Final = {"°C": -273.15, "°F": -459.67}


def _read(text: str, unit: str) -> Entry:
    typed = text.strip()
    raw = _as_meant(typed)
    if not raw:
        raise EntryError(f"nothing typed; a number in {_named(unit)}, such as {_example(unit)}")
    if len(raw) > _LONGEST:
        raise EntryError(
            f"too long to be a number; type a number in {_named(unit)}, such as {_example(unit)}"
        )
    if raw[0] in "<>":
        return _one_sided(raw, typed, unit)
    over = _over_range(raw, typed, unit)
    if over is not None:
        return over
    special = _special(raw, unit)
    if special is not None:
        return Entry(special[0], typed, special[1])
    return _plain(raw, typed, unit)


def _as_meant(typed: str) -> str:
    """Return the text with invisible marks dropped and wide digits, dashes and quotes made plain."""
    letters: list[str] = []
    for letter in typed.translate(AS_TYPED):
        kind = unicodedata.category(letter)
        if kind == "Nd":
            letters.append(str(unicodedata.decimal(letter)))
        elif kind == "Zs":
            letters.append(" ")
        elif kind != "Cf":
            letters.append(letter)
    return "".join(letters).strip()


def _one_sided(raw: str, typed: str, unit: str) -> Entry:
    rest = raw[1:].lstrip("= ")
    side: Literal["above", "below"] = "above" if raw[0] == ">" else "below"
    if not rest or rest[0] in "<>" or _OVER.fullmatch(rest):
        raise EntryError(
            f"{_quoted(typed)}: one number after {raw[0]} is wanted, such as {raw[0]}{_example(unit)}"
        )
    inner = read_number(rest, unit)
    return Entry(inner.value, typed, inner.decimals, side)


def _over_range(raw: str, typed: str, unit: str) -> Entry | None:
    match = _OVER.fullmatch(raw)
    litres_of_none = unit.startswith("L") and raw[0] == "0"
    if match is None or litres_of_none:
        return None
    if match["word"]:
        _factor(match["word"], unit)
    return Entry(-math.inf, typed, 0, "below") if match["sign"] else Entry(math.inf, typed, 0, "above")


def _special(raw: str, unit: str) -> tuple[float, int] | None:
    """Return value and decimals of a wire gauge, a time, or feet and inches; None for a plain number."""
    if unit == "mm²":
        gauge = _gauge(raw)
        return None if gauge is None else (gauge, 2)
    if unit in _TIME_UNITS:
        timed = _duration(raw)
        return None if timed is None else (convert(timed, "s", unit), 0)
    feet = _FEET.fullmatch(raw) if unit in {"m", "cm", "mm"} else None
    if feet is None:
        return None
    if float(feet[2]) >= 12.0:
        raise EntryError(f"{_quoted(raw)}: inches after feet go up to 11")
    return convert(int(feet[1]) + float(feet[2]) / 12.0, "ft", unit), 2


def _gauge(raw: str) -> float | None:
    match = _GAUGE.fullmatch(raw)
    if match is None:
        return None
    size = match["size"]
    marked = match["mark"] or not raw[0].isdigit() or "/" in size or (size != "0" and set(size) == {"0"})
    if not marked:
        return None
    if size.isdigit() and int(size) > 40:
        raise EntryError(
            f"{_quoted(raw)}: wire gauges go from 4/0 to 40 AWG; larger ones are in kcmil or mm²"
        )
    return awg_area(size)


def _plain(raw: str, typed: str, unit: str) -> Entry:
    match = _NUMBER.fullmatch(raw)
    if match is None:
        raise EntryError(f"{_quoted(typed)} is not a number; {_wanted(unit)}")
    word = match["word"]
    if word and (word[0].isdigit() or word[0] in "+-/:"):
        raise EntryError(f"{_quoted(typed)} is not one plain number; {_wanted(unit)}")
    symbol, factor, shift = _factor(word, unit) if word else (unit, 1.0, 0)
    digits = _digits(match["run"], typed, symbol or unit)
    exponent = int((match["exponent"] or "e0")[1:])
    value = float(f"{match['sign']}{digits}e{exponent}")
    value = convert(value, symbol, unit) if factor is None else value * factor
    if not math.isfinite(value):
        raise EntryError(f"{_quoted(typed)} is too large to be a reading")
    decimals = len(digits.partition(".")[2]) - exponent
    return Entry(value, typed, max(0, decimals + shift))


def _digits(run: str, typed: str, unit: str) -> str:
    """Return the digits with a point as decimal mark; refuse what could be meant in two ways."""
    said = _quoted(typed)
    marks = [letter for letter in run if not letter.isdigit()]
    if len(marks) == len(run):
        raise EntryError(f"{said} is not a number; {_wanted(unit)}")
    if len(marks) > 1 or (marks and marks[0] in " '_"):
        grouped = _GROUPED.fullmatch(run)
        if grouped is None:
            raise EntryError(
                f"{said} has more than one decimal mark or more than one number; {_wanted(unit)}"
            )
        raise EntryError(f"{said}: leave out the mark between thousands; did you mean {_ungrouped(run)}?")
    if run[-1] in ".,":
        raise EntryError(f"{said} ends in a decimal mark; is a digit missing?")
    if _TWO_MEANINGS.fullmatch(run) and (unit in THOUSANDS_USUAL or run.endswith(",000")):
        first, second = run.replace(",", "."), run.replace(",", "")
        raise EntryError(f"{said} could be {first} or {second} {unit}; type one of these")
    return run.replace(",", ".")


def _ungrouped(run: str) -> str:
    """Return a number without its thousands marks: the last mark is decimal where it occurs once."""
    marks = [letter for letter in run if not letter.isdigit()]
    last = marks[-1]
    if last in ".," and marks.count(last) == 1 and len(marks) > 1:
        whole, _, rest = run.rpartition(last)
        return re.sub(r"\D", "", whole) + "." + rest
    return re.sub(r"\D", "", run)


def _factor(word: str, unit: str) -> tuple[str, float | None, int]:
    """Return a typed unit, its factor to the wanted one (None: not by a factor), the shift of its digits."""
    symbol = symbol_of(word, unit)
    if symbol is None:
        raise EntryError(f"{_quoted(word)} is not a unit known here; {_allowed(unit)}")
    if symbol == unit:
        return symbol, 1.0, 0
    if unit == "K" and symbol in {"°C", "°F"}:  # a difference of temperatures: no offset
        return symbol, SCALE[symbol][1], 0
    convert(0.0, symbol, unit)  # refuses another kind
    shift = round(math.log10(SCALE[unit][1] / SCALE[symbol][1]))
    return symbol, None, shift


def _duration(raw: str) -> float | None:
    """Return seconds; None where it is a plain number with at most one unit."""
    clock = _CLOCK.fullmatch(raw)
    if clock:
        return int(clock[1]) * 3600.0 + int(clock[2]) * 60.0 + int(clock[3] or 0)
    if ":" in raw:
        raise EntryError(f"{_quoted(raw)} is not a time; hours:minutes, such as 1:30, or 2 h 30")
    parts = _SPOKEN_PART.findall(raw) if _SPOKEN.fullmatch(raw) else []
    if len(parts) < 2:
        return None
    seconds = sum(size * SCALE[unit][1] for size, unit in _spoken(parts, raw))
    return -seconds if raw.startswith("-") else seconds


def _spoken(parts: list[tuple[str, str]], raw: str) -> Iterator[tuple[int, str]]:
    """Yield the parts of a time such as ``2 h 30``; a last number without unit is of the next smaller one."""
    larger = ""
    for number, (digits, word) in enumerate(parts, start=1):
        bare_end = not word and number == len(parts)
        unit = _NEXT_SMALLER.get(larger) if bare_end else symbol_of(word, "s")
        smaller = (
            unit in SCALE and SCALE[unit][0] == "s" and (not larger or SCALE[unit][1] < SCALE[larger][1])
        )
        if unit is None or not smaller:
            raise EntryError(f"{_quoted(raw)} is not a time; {_wanted('s')}")
        most = 23 if unit == "h" else 59
        if larger and int(digits) > most:
            raise EntryError(f"{_quoted(raw)}: {unit} after {larger} goes up to {most}")
        yield int(digits), unit
        larger = unit


def _quoted(text: str) -> str:
    plain_text = "".join(letter if letter.isprintable() else "�" for letter in text)
    return f"'{plain_text}'" if len(plain_text) <= 40 else f"'{plain_text[:37]}…'"


def _named(unit: str) -> str:
    return {"1": "no unit", "": "no unit"}.get(unit, unit)


def _wanted(unit: str) -> str:
    return f"type a number in {_named(unit)}, such as {_example(unit)}"


def _allowed(unit: str) -> str:
    kind = SCALE[unit][0] if unit in SCALE else unit
    names = [name for name, (measures, _, _) in SCALE.items() if measures == kind and name != "1"]
    names += ["AWG"] if kind == "mm²" else []
    return f"known here: {', '.join(names)}; a number alone is taken in {_named(unit)}"


_EXAMPLES: Final[dict[str, str]] = {
    "V": "13.2",
    "A": "45",
    "°C": "21.5",
    "s": "90 s or 2 min",
    "1": "0.8 or 80 %",
    "mm²": "70 or 2/0 AWG",
    "kg/L": "1.265",
}


def _example(unit: str) -> str:
    return _EXAMPLES.get(unit, "12.5")


_US: Final[dict[str, str]] = {
    "°C": "°F", "m": "ft", "mm²": "AWG", "cm²": "in²", "m³": "ft³", "m³/h": "ft³/min", "N·m": "lb·in",
}  # fmt: skip
_AWG_SIZES: Final = ("18", "16", "14", "12", "10", "8", "6", "4", "3", "2", "1", "1/0", "2/0", "3/0", "4/0")
_KCMIL_SIZES: Final = (250, 300, 350, 400, 500, 600, 700, 750, 800, 900, 1000)


def area_in_gauge(area: float) -> str:
    """Return a cross-section in mm² as the US size that it is, else in mm²."""
    return next(
        (name for name, own in _gauges().items() if abs(own - area) <= 0.02 * area), f"{plain(area)} mm²"
    )


def between_gauges(area: float) -> str:
    """Return between which US sizes a cross-section in mm² lies; empty where it is one of them."""
    if not area_in_gauge(area).endswith("mm²"):
        return ""
    under = [name for name, own in _gauges().items() if own < area]
    over = [name for name, own in _gauges().items() if own > area]
    if under and over:
        return f"{under[-1]} to {over[0]}"
    return f"over {under[-1]}" if under else f"under {over[0]}"


@cache
def _gauges() -> dict[str, float]:
    """Return the US sizes and their areas in mm², smallest first."""
    awg = {f"{size} AWG": awg_area(size) for size in _AWG_SIZES}
    return awg | {f"{circular} kcmil": convert(circular, "kcmil", "mm²") for circular in _KCMIL_SIZES}


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
    if not math.isfinite(value):
        return plain(value)
    if unit == "s":
        return show_time(value)
    if unit == "mm²" and system == "us":
        return area_in_gauge(value)
    wanted = shown_unit(unit, system)
    number = plain(convert(value, unit, wanted) if wanted != unit else value, decimals)
    return number if wanted in {"", "1"} else f"{number} {wanted}"


def plain(value: float, decimals: int | None = None) -> str:
    """Return a number without exponent or trailing noise; a true minus sign for negative ones."""
    if not math.isfinite(value):
        return "not a number" if math.isnan(value) else "over range" if value > 0 else "under range"
    if decimals is None:
        decimals = 0 if value == 0 else max(0, min(9, 3 - math.floor(math.log10(abs(value)))))
        text = f"{value:.{decimals}f}"
        text = text.rstrip("0").rstrip(".") if "." in text else text
    else:
        text = f"{value:.{decimals}f}"
    if text.startswith("-"):
        text = text[1:] if float(text) == 0 else "−" + text[1:]
    return text


def plain_pair(one: float, other: float, digits: int = 4) -> tuple[str, str]:
    """Return two numbers to one place: so many significant digits, or as many more as tell them apart.

    Examples
    --------
    >>> plain_pair(57.6, 54.0), plain_pair(1.73205, 1.73208), plain_pair(57.6, 57.6)
    (('57.6', '54'), ('1.73205', '1.73208'), ('57.6', '57.6'))
    """
    large = max(abs(one), abs(other))
    if not math.isfinite(large) or large == 0.0:
        return plain(one), plain(other)
    texts = "", ""
    for more in range(digits, _MOST_DIGITS + 1):
        decimals = max(0, more - 1 - math.floor(math.log10(large)))
        texts = _bare(plain(one, decimals)), _bare(plain(other, decimals))
        if texts[0] != texts[1] or one == other:
            break
    return texts


_MOST_DIGITS: Final = 12


def _bare(number: str) -> str:
    return number.rstrip("0").rstrip(".") if "." in number else number


def show_time(seconds: float) -> str:
    """Return a duration as a person would say it: ``2 h 30 min``, ``90 d``, ``45 s``."""
    if not math.isfinite(seconds):
        return plain(seconds)
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
