"""The kinds of value that a site file or profile may hold, each with its unit.

A bare number is in the unit that its type names; any other unit is text with its unit (``"40 ft"``,
``"2/0 AWG"``); the word ``"unknown"`` is a value everywhere.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Annotated, Any, ClassVar, Final, Literal, TypeAlias

from pydantic import BaseModel, BeforeValidator, ConfigDict, StringConstraints

from commission.errors import EntryError
from commission.units import read_number

UNKNOWN: Final = "unknown"
Unknowable: TypeAlias = Literal["unknown"]


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
        number = float(value)
        if not math.isfinite(number):
            raise ValueError('a finite number is wanted, or "unknown"')
        if not self.least <= number <= self.most:
            raise ValueError(f"must be {self._range()} {self.unit}".rstrip(" 1"))
        return number

    def _text(self, value: str) -> float:
        try:
            entry = read_number(value, self.unit)
        except EntryError as error:
            raise ValueError(str(error)) from error
        if entry.side != "exact":
            raise ValueError(f"a single number in {self.unit} is wanted")
        return entry.value

    def _range(self) -> str:
        if self.most == math.inf:
            return f"at least {self.least:g}"
        if self.least == -math.inf:
            return f"at most {self.most:g}"
        return f"between {self.least:g} and {self.most:g}"


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
MillivoltsPerKelvin = Annotated[_Number, *_measured(Measured("mV/K", -50, 50))]
PerKelvin = Annotated[_Number, *_measured(Measured("%/K", -5, 5))]
Hours = Annotated[_Number, *_measured(Measured("h", 0))]
"""The hour rate of a capacity; every other duration is in seconds."""
Farads = Annotated[_Number, *_measured(Measured("F", 0))]
Number = Annotated[_Number, *_measured(Measured("1"))]

Ident = Annotated[str, StringConstraints(pattern=r"^[a-z0-9]+(?:-[a-z0-9]+)*$", max_length=64)]
"""Lower-case letters, digits and hyphens; never changed and never given again."""
Line = Annotated[str, StringConstraints(pattern=r"^[^\x00-\x1f\x7f-\x9f]*$", max_length=400)]
"""One line of text for people, without control characters."""
Text = Annotated[str, StringConstraints(pattern=r"^[^\x00-\x08\x0b-\x1f\x7f-\x9f]*$", max_length=20000)]
"""Text for people; line breaks are allowed, other control characters are not."""


class Model(BaseModel):
    """Base of everything read from TOML: frozen, strict; unknown keys are kept and survive a rewrite."""

    model_config = ConfigDict(frozen=True, strict=True, extra="allow", allow_inf_nan=False)


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
