"""Refusals that formulas share: each names the input, what came and what is allowed."""

from __future__ import annotations

import math

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
