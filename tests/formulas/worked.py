"""Worked examples as rows: what a published or hand-made figure says a formula must give."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import pytest

from commission.figure import Formula
from commission.units import convert

if TYPE_CHECKING:
    from _pytest.mark.structures import ParameterSet


@dataclass(frozen=True)
class Row:
    """One expected value with its tolerance, in the unit of its source, and who says so."""

    what: str
    formula: Formula[...]
    expected: float
    tolerance: float
    source: str
    unit: str
    inputs: Mapping[str, Any]

    def value(self) -> float:
        """Return what the formula gives, in the unit of the source."""
        return convert(self.formula(**self.inputs), self.formula.unit, self.unit)

    def with_one_not_a_number(self) -> Iterator[tuple[str, dict[str, Any]]]:
        """Yield the inputs once for each of them, with that one spoilt."""
        for name, came in self.inputs.items():
            spoilt = [math.nan, *came[1:]] if isinstance(came, Sequence) else math.nan
            yield name, {**self.inputs, name: spoilt}


def row(
    what: str,
    formula: Formula[...],
    expected: float,
    tolerance: float,
    source: str,
    /,
    *,
    in_unit: str = "",
    **inputs: float | Sequence[float],
) -> ParameterSet:
    """Return a row as a parameter of a test, known by what it is and who says so."""
    made = Row(what, formula, expected, tolerance, source, in_unit or formula.unit, inputs)
    return pytest.param(made, id=f"{what} ({source})")


def hours(number: float) -> float:
    """Return a time in seconds that the source gives in hours."""
    return 3600.0 * number


def fahrenheit(number: float) -> float:
    """Return a temperature in °C that the source gives in °F."""
    return (number - 32.0) / 1.8


def assert_no_number_passes_as_one(made: Row) -> None:
    """Fail where a formula computes with something that is not a number instead of refusing it."""
    from commission.errors import FormulaError

    for name, inputs in made.with_one_not_a_number():
        with pytest.raises(FormulaError) as refusal:
            made.formula(**inputs)
        assert "nan" in str(refusal.value), (
            f"{made.formula.name}: the refusal of {name} does not say what came"
        )
