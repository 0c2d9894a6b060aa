"""Refusals that formulas share: each names the input, what came and what is allowed."""

from __future__ import annotations

import math
from collections.abc import Sequence

from commission.errors import FormulaError


def require_finite(**values: float) -> None:
    """Refuse what is not a finite number."""
    for name, value in values.items():
        if not math.isfinite(value):
            raise FormulaError(f"{name} = {value}: must be a finite number")


def require_positive(**values: float) -> None:
    """Refuse what is not a finite number greater than zero."""
    for name, value in values.items():
        if not (math.isfinite(value) and value > 0.0):
            raise FormulaError(f"{name} = {value}: must be greater than zero")


def require_not_negative(**values: float) -> None:
    """Refuse what is not a finite number of zero or more."""
    for name, value in values.items():
        if not (math.isfinite(value) and value >= 0.0):
            raise FormulaError(f"{name} = {value}: must be zero or more")


def require_one_or_more(**values: float) -> None:
    """Refuse a count under one."""
    for name, value in values.items():
        if not (math.isfinite(value) and value >= 1.0):
            raise FormulaError(f"{name} = {value}: must be one or more")


def require_share(**values: float) -> None:
    """Refuse a share outside 0 to 1."""
    for name, value in values.items():
        if not 0.0 <= value <= 1.0:
            raise FormulaError(f"{name} = {value}: must be a share between 0 and 1")


def require_efficiency(**values: float) -> None:
    """Refuse an efficiency that is not greater than 0 and at most 1."""
    for name, value in values.items():
        if not 0.0 < value <= 1.0:
            raise FormulaError(f"{name} = {value}: must be greater than 0 and at most 1")


def require_order(*, low: float, high: float) -> None:
    """Refuse a lower bound above its upper bound."""
    if not low <= high:
        raise FormulaError(f"low = {low} lies above high = {high}")


def require_exponent(**values: float) -> None:
    """Refuse what is no exponent of Peukert's law."""
    for name, value in values.items():
        if not 1.0 <= value <= 2.0:
            raise FormulaError(f"{name} = {value}: must be between 1 and 2, such as 1.25")


def require_series(times: Sequence[float], values: Sequence[float], fewest: int) -> None:
    """Refuse what is no row of so many finite values at least, with a time for each."""
    if len(times) != len(values):
        raise FormulaError(f"times = {len(times)} and values = {len(values)}: one time a value is wanted")
    if len(times) < fewest:
        raise FormulaError(f"values = {len(values)}: {fewest} or more are wanted")
    for number in (*times, *values):
        require_finite(number=number)


def require_confidence(confidence: float) -> None:
    """Refuse a share of cases that is not between 0 and 1."""
    if not 0.0 < confidence < 1.0:
        raise FormulaError(f"confidence = {confidence}: must be between 0 and 1, such as 0.95")
