"""The kinds of value that a site file or profile may hold, each with its unit.

A bare number is in the unit that its type names; any other unit is text with its unit (``"40 ft"``,
``"2/0 AWG"``); the word ``"unknown"`` is a value everywhere.
"""

from __future__ import annotations

import datetime as dt
import math
import re
from dataclasses import dataclass
from functools import cache
from typing import Annotated, Any, ClassVar, Final, Literal, TypeAlias

from pydantic import (
    AfterValidator,
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    StringConstraints,
    WithJsonSchema,
)

from commission.errors import EntryError
from commission.units import read_number

UNKNOWN: Final = "unknown"
Unknowable: TypeAlias = Literal["unknown"]
Interval: TypeAlias = Literal["monthly", "quarterly", "yearly", "two-yearly", "every visit"]
"""How often something is repeated at service visits."""


@dataclass(frozen=True, slots=True)
class Measured:
    """The unit of a number in a file, and the values that it may have."""

    unit: str
    least: float = -math.inf
    most: float = math.inf

    def read(self, value: Any) -> Any:
        """Return what a file holds as a number of this unit, or the word unknown."""
        if isinstance(value, bool) or not isinstance(value, int | float | str):
            wanted = f'a number in {self.unit} is wanted, or text with its unit, or "unknown"'
            raise ValueError(wanted)  # noqa: TRY004 - pydantic turns only ValueError into its report
        if isinstance(value, str):
            if value.strip().lower() == UNKNOWN:
                return UNKNOWN
            value = self._text(value)
        number = _as_float(value)
        if not math.isfinite(number):
            raise ValueError('a finite number is wanted, or "unknown"')
        if not self.least <= number <= self.most:
            unit = "" if self.unit == "1" else f" {self.unit}"
            raise ValueError(f"must be {self._range()}{unit}")
        return number

    def _text(self, value: str) -> float:
        if self.unit in _TWO_WAYS and _BARE.fullmatch(value.strip()):
            raise ValueError(self._without_unit(value.strip()))
        try:
            entry = read_number(value, self.unit)
        except EntryError as error:
            raise ValueError(str(error)) from error
        if entry.side != "exact":
            raise ValueError(f"a single number in {self.unit} is wanted")
        return entry.value

    def _without_unit(self, value: str) -> str:
        units = " or ".join(f'"{value} {unit}"' for unit in (self.unit, *_TWO_WAYS[self.unit]))
        return f"text without a unit; write {units}"

    def __get_pydantic_json_schema__(self, _: Any, __: Any) -> dict[str, Any]:
        """Return how a JSON Schema tells what may stand in a file."""
        unit = "a number" if self.unit == "1" else self.unit
        number: dict[str, Any] = {"type": "number", "description": f"in {unit}"}
        if math.isfinite(self.least):
            number["minimum"] = self.least
        if math.isfinite(self.most):
            number["maximum"] = self.most
        text = {"type": "string", "description": f'text with its unit, or "{UNKNOWN}"'}
        return {"anyOf": [number, text]}

    def _range(self) -> str:
        if self.most == math.inf:
            return f"at least {self.least:g}"
        if self.least == -math.inf:
            return f"at most {self.most:g}"
        return f"between {self.least:g} and {self.most:g}"


_BARE: Final = re.compile(r"[+-]?[\d.,]+")
"""A number in quotes with nothing beside it."""
_TWO_WAYS: Final = {
    "°C": ("°F",),
    "m": ("ft",),
    "mm²": ("AWG", "kcmil"),
    "cm²": ("in²",),
    "m³": ("ft³",),
    "m³/h": ("ft³/min",),
    "N·m": ("lb·in",),
    "L": ("gal",),
}
"""Units beside which another one is usual, so that a number in quotes does not say which is meant."""


def _as_float(value: float) -> float:
    try:
        return float(value)
    except OverflowError:  # a whole number of more digits than a float holds
        return math.inf


def _measured(measured: Measured) -> tuple[BeforeValidator, Measured]:
    return BeforeValidator(measured.read), measured


_Number: TypeAlias = float | Literal["unknown"]

Volts = Annotated[_Number, *_measured(Measured("V", 0))]
Amps = Annotated[_Number, *_measured(Measured("A", 0))]
AmpereHours = Annotated[_Number, *_measured(Measured("Ah", 1e-3))]
Watts = Annotated[_Number, *_measured(Measured("W", 0))]
VoltAmperes = Annotated[_Number, *_measured(Measured("VA", 0))]
WattHours = Annotated[_Number, *_measured(Measured("Wh", 0))]
Ohms = Annotated[_Number, *_measured(Measured("Ω", 0))]
Celsius = Annotated[_Number, *_measured(Measured("°C", -90, 150))]
Metres = Annotated[_Number, *_measured(Measured("m", 0))]
Altitude = Annotated[_Number, *_measured(Measured("m", -500, 7000))]
SquareMillimetres = Annotated[_Number, *_measured(Measured("mm²", 0))]
Seconds = Annotated[_Number, *_measured(Measured("s", 0))]
NewtonMetres = Annotated[_Number, *_measured(Measured("N·m", 0))]
Hertz = Annotated[_Number, *_measured(Measured("Hz", 0, 100))]
Share = Annotated[_Number, *_measured(Measured("1", 0, 1))]
Ratio = Annotated[_Number, *_measured(Measured("1", 0))]
PerKelvin = Annotated[_Number, *_measured(Measured("%/K", -5, 5))]
Hours = Annotated[_Number, *_measured(Measured("h", 0))]
"""The hour rate of a capacity; every other duration is in seconds."""
Farads = Annotated[_Number, *_measured(Measured("F", 0))]
CubicMetres = Annotated[_Number, *_measured(Measured("m³", 0))]
CubicMetresPerHour = Annotated[_Number, *_measured(Measured("m³/h", 0))]
SquareCentimetres = Annotated[_Number, *_measured(Measured("cm²", 0))]
Litres = Annotated[_Number, *_measured(Measured("L", 0))]
Tilt = Annotated[_Number, *_measured(Measured("°", 0, 90))]
Azimuth = Annotated[_Number, *_measured(Measured("°", 0, 360))]
Number = Annotated[_Number, *_measured(Measured("1"))]

Count = Annotated[int, Field(ge=0, le=1000)]
Several = Annotated[int, Field(ge=1, le=1000)]
"""A count of what cannot be none."""

Ident = Annotated[str, StringConstraints(pattern=r"^[a-z0-9]+(?:-[a-z0-9]+)*$", max_length=64)]
"""Lower-case letters, digits and hyphens; never changed and never given again."""
Line = Annotated[
    str,
    StringConstraints(
        pattern=r"^[^\x00-\x1f\x7f-\x9f\u2028\u2029\u202a-\u202e\u2066-\u2069]*$", max_length=400
    ),
]
"""One line of text for people, without control characters or marks that turn the direction of writing."""
Text = Annotated[
    str,
    StringConstraints(
        pattern=r"^[^\x00-\x08\x0b-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069]*$", max_length=20000
    ),
]
"""Text for people; line breaks are allowed, other control characters are not."""

_DATE: Final = re.compile(r"([0-9]{4})(?:-([0-9]{2})(?:-([0-9]{2}))?)?")


def _day_or_year(value: Any) -> Any:
    """Return a year, month or day as text; refuse one that the calendar does not have."""
    if isinstance(value, dt.date) and not isinstance(value, dt.datetime):
        return value.isoformat()
    if isinstance(value, int) and not isinstance(value, bool):
        value = str(value) if 0 < value < 10_000 else "?"
    if not isinstance(value, str) or value in {"", UNKNOWN}:
        return value
    if not _in_calendar(value):
        raise ValueError("is no date of the calendar; 2021, 2021-06 or 2021-06-30 is wanted")
    return value


def _in_calendar(text: str) -> bool:
    parts = _DATE.fullmatch(text)
    if parts is None:
        return False
    try:
        dt.date(int(parts[1]), int(parts[2] or 1), int(parts[3] or 1))
    except ValueError:
        return False
    return True


Day = Annotated[
    Line,
    BeforeValidator(_day_or_year),
    WithJsonSchema({"type": ["string", "integer"], "description": "2021, 2021-06 or 2021-06-30"}),
]
"""A day, a month or a year; the word unknown; or nothing."""


@cache
def in_words(name: str) -> str:
    """Return the name of a field, a setting or a stage as it is written in texts."""
    return name.rstrip("_").replace("equalize", "equalise").replace("_", " ")


def _kept(value: Any) -> Any:
    """Return a value that nothing looks into, as every file that it may be carried through can hold it.

    A journal has no dates, so they become text; no file has numbers that are none, or larger than TOML's.
    """
    if isinstance(value, dict):
        return {str(key): _kept(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [_kept(item) for item in value]
    if isinstance(value, dt.date | dt.time):
        return value.isoformat()
    if isinstance(value, float) and not math.isfinite(value):
        raise ValueError("nothing here looks at it, but to be kept it has to be a finite number")
    if isinstance(value, int) and abs(value) > _LARGEST:
        raise ValueError("nothing here looks at it, but to be kept it has to be of at most 18 digits")
    if value is None or isinstance(value, bool | int | float | str):
        return value
    raise ValueError("is of a kind that no file holds")


_LARGEST: Final = 10**18
"""TOML promises whole numbers of 64 bits."""
Kept = Annotated[Any, AfterValidator(_kept)]
"""What is carried along without a look at what it means, such as the value of an unknown key."""


class Model(BaseModel):
    """Base of everything read from TOML: frozen, strict; unknown keys are kept and survive a rewrite."""

    model_config = ConfigDict(frozen=True, strict=True, extra="allow", allow_inf_nan=False)
    __pydantic_extra__: dict[str, Kept]


class Part(Model):
    """Something that stands on the site and has an id; readings, settings and findings point to it."""

    section: ClassVar[str]
    """The table of the site file that holds parts of this kind."""
    id: Ident
    name: Line = ""
    """What people on site call it; the id where empty."""

    @property
    def label(self) -> str:
        """Return the name for people."""
        return self.name or self.id

    @property
    def where(self) -> str:
        """Return the key of this part in the site file."""
        return f"{self.section}[{self.id}]"
