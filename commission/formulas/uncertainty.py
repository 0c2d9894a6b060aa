"""Measurement uncertainty and the verdicts that take it into account."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final, Literal, TypeAlias

from commission.errors import FormulaError
from commission.figure import formula
from commission.formulas.ranges import (
    require_finite,
    require_not_negative,
    require_order,
    require_positive,
)

Verdict: TypeAlias = Literal["pass", "conditional pass", "conditional fail", "fail"]
"""The four verdicts of ILAC-G8:09/2019, 4.2.3."""

_EDGE: Final = 1e-9
"""Share of a limit by which it may miss a typed reading through the machine's rounding alone."""


@formula(
    expression="percent ÷ 100 × |reading| + digits × resolution",
    unit="",
    source="accuracy statement of digital meters; GUM, 4.3.7",
)
def accuracy_half_width(reading: float, percent: float, *, digits: float, resolution: float) -> float:
    """Half-width of a meter's accuracy statement.

    Parameters
    ----------
    reading
        What the meter shows. [unit of the reading]
    percent
        Share of the reading in the statement. [%]
    digits
        Count of least digits in the statement. [1]
    resolution
        Least digit of the range in use. [unit of the reading]

    Returns
    -------
    float
        Half-width. [unit of the reading]

    Raises
    ------
    FormulaError
        If the reading is not finite or another input negative.

    Notes
    -----
    Near zero the digits count more than the percentage: a lower range helps.

    Examples
    --------
    0.7 % and two digits of 0.1 V at 120.0 V:

    >>> accuracy_half_width(120.0, 0.7, digits=2, resolution=0.1)
    1.04

    References
    ----------
    .. [1] JCGM 100:2008 (GUM), 4.3.7.
    """
    require_finite(reading=reading)
    require_not_negative(percent=percent, digits=digits, resolution=resolution)
    return percent / 100.0 * abs(reading) + digits * resolution


@formula(expression="half_width ÷ √3", unit="", source="GUM, 4.3.7")
def standard_uncertainty(half_width: float) -> float:
    """Uncertainty, as a standard deviation, from limits within which every value is alike.

    Parameters
    ----------
    half_width
        Half-width of the limits. [unit of the reading]

    Returns
    -------
    float
        Standard uncertainty. [unit of the reading]

    Raises
    ------
    FormulaError
        If ``half_width`` is negative.

    Examples
    --------
    >>> standard_uncertainty(0.35)
    0.20207

    References
    ----------
    .. [1] JCGM 100:2008 (GUM), 4.3.7, rectangular distribution.
    """
    require_not_negative(half_width=half_width)
    return half_width / math.sqrt(3.0)


@formula(expression="coverage × uncertainty", unit="", source="GUM, 6.2.1")
def expanded_uncertainty(uncertainty: float, coverage: float) -> float:
    """Uncertainty expanded by a coverage factor.

    Parameters
    ----------
    uncertainty
        Standard uncertainty. [unit of the reading]
    coverage
        Coverage factor: 2; 1.65 covers 95 % where one rectangular part dominates. [1]

    Returns
    -------
    float
        Expanded uncertainty. [unit of the reading]

    Raises
    ------
    FormulaError
        If the uncertainty is negative or the factor not above zero.

    Examples
    --------
    >>> expanded_uncertainty(0.03, 1.65)
    0.05

    References
    ----------
    .. [1] JCGM 100:2008 (GUM), 6.2.1; EA-4/02 M:2022, example S9.
    """
    require_not_negative(uncertainty=uncertainty)
    require_positive(coverage=coverage)
    return coverage * uncertainty


@formula(expression="√(sum of the squares of parts)", unit="", source="GUM, 5.1.2")
def root_sum_of_squares(parts: Sequence[float]) -> float:
    """Uncertainty of a sum of independent parts.

    Parameters
    ----------
    parts
        Contributions, all in one unit and of one kind. [unit of the reading]

    Returns
    -------
    float
        Combined uncertainty. [unit of the reading]

    Raises
    ------
    FormulaError
        If a part is negative.

    Notes
    -----
    For a product or quotient the parts are relative uncertainties (GUM, 5.1.6).

    Examples
    --------
    >>> root_sum_of_squares([0.029, 0.001, 0.0064])
    0.030

    References
    ----------
    .. [1] JCGM 100:2008 (GUM), 5.1.2 and 5.1.6.
    """
    for part in parts:
        require_not_negative(parts=part)
    return math.hypot(*parts)


@formula(expression="half_width ÷ |reading|", unit="1", source="GUM, 5.1.6")
def relative_half_width(half_width: float, reading: float) -> float:
    """Half-width as a share of the reading.

    Parameters
    ----------
    half_width
        Half-width. [unit of the reading]
    reading
        What the meter shows. [unit of the reading]

    Returns
    -------
    float
        Share of the reading. [1]

    Raises
    ------
    FormulaError
        If the half-width is negative or the reading zero.

    Examples
    --------
    >>> relative_half_width(0.28, 52.0)
    0.005385

    References
    ----------
    .. [1] JCGM 100:2008 (GUM), 5.1.6.
    """
    require_not_negative(half_width=half_width)
    require_positive(magnitude=abs(reading))
    return half_width / abs(reading)


@formula(
    expression="coverage × √2 × digits × resolution ÷ √3 + percent ÷ 100 × |first − second|",
    unit="",
    source="GUM, 5.2, common error of one meter on one range; own choice",
)
def difference_uncertainty(
    first: float, second: float, *, percent: float, digits: float, resolution: float, coverage: float
) -> float:
    """Uncertainty of the difference of two readings of one meter on one range.

    Parameters
    ----------
    first
        First reading. [unit of the reading]
    second
        Second reading. [unit of the reading]
    percent
        Share of the reading in the accuracy statement. [%]
    digits
        Count of least digits in the statement. [1]
    resolution
        Least digit of the range in use. [unit of the reading]
    coverage
        Coverage factor; 2. [1]

    Returns
    -------
    float
        Expanded uncertainty of the difference. [unit of the reading]

    Raises
    ------
    FormulaError
        If a reading is not finite, an input negative or the factor not above zero.

    Notes
    -----
    The error of the scale is common to both readings and acts only on what they differ by.

    Examples
    --------
    Two blocks of 12.71 and 12.68 V with a meter of 0.5 % and two digits of 0.01 V:

    >>> difference_uncertainty(12.71, 12.68, percent=0.5, digits=2, resolution=0.01, coverage=2.0)
    0.0328

    References
    ----------
    .. [1] JCGM 100:2008 (GUM), 5.2 (correlated input quantities).
    """
    require_finite(first=first, second=second)
    require_not_negative(percent=percent, digits=digits, resolution=resolution)
    require_positive(coverage=coverage)
    scatter = coverage * math.sqrt(2.0) * digits * resolution / math.sqrt(3.0)
    return scatter + percent / 100.0 * abs(first - second)


def _normal_upto(value: float) -> float:
    return 0.5 * math.erfc(-value / math.sqrt(2.0))


@formula(
    expression="N((upper − estimate) ÷ uncertainty) − N((lower − estimate) ÷ uncertainty)",
    unit="1",
    source="JCGM 106:2012, clause 7",
)
def conformity_probability(estimate: float, uncertainty: float, *, lower: float, upper: float) -> float:
    """Probability that the true value lies within its limits.

    Parameters
    ----------
    estimate
        Reading. [unit of the reading]
    uncertainty
        Standard uncertainty. [unit of the reading]
    lower
        Lower limit; minus infinity where there is none. [unit of the reading]
    upper
        Upper limit; infinity where there is none. [unit of the reading]

    Returns
    -------
    float
        Probability; N is the standard normal distribution. [1]

    Raises
    ------
    FormulaError
        If the uncertainty is not above zero or the limits are not in order.

    Examples
    --------
    >>> conformity_probability(13.6, 1.8, lower=12.5, upper=16.3)
    0.6626

    References
    ----------
    .. [1] JCGM 106:2012, 7.3 and 7.4.
    """
    require_finite(estimate=estimate)
    require_positive(uncertainty=uncertainty)
    require_order(low=lower, high=upper)
    above = _normal_upto((lower - estimate) / uncertainty)
    return _normal_upto((upper - estimate) / uncertainty) - above


@formula(expression="1 − N(guard × coverage)", unit="1", source="JCGM 106:2012; ILAC-G8:09/2019, table 1")
def false_accept_probability(guard: float, coverage: float) -> float:
    """Greatest probability of accepting what lies beyond its limit, at the edge of acceptance.

    Parameters
    ----------
    guard
        Guard band as a share of the expanded uncertainty; 0 is simple acceptance. [1]
    coverage
        Coverage factor of the expanded uncertainty. [1]

    Returns
    -------
    float
        Probability, one-sided. [1]

    Raises
    ------
    FormulaError
        If an input is not finite or the factor not above zero.

    Examples
    --------
    A guard band as wide as the uncertainty keeps it under 2.5 %:

    >>> false_accept_probability(1.0, 2.0)
    0.0228

    References
    ----------
    .. [1] ILAC-G8:09/2019, table 1; JCGM 106:2012, clause 9.
    """
    require_finite(guard=guard)
    require_positive(coverage=coverage)
    return _normal_upto(-guard * coverage)


@formula(
    expression="limit ∓ guard × uncertainty: inward, less on the upper side and more on the lower",
    unit="",
    source="ILAC-G8:09/2019, 4.2.2",
)
def acceptance_limit(limit: float, uncertainty: float, *, guard: float, side: str) -> float:
    """Limit of acceptance, drawn in from the tolerance limit by the guard band.

    Parameters
    ----------
    limit
        Tolerance limit. [unit of the reading]
    uncertainty
        Expanded uncertainty. [unit of the reading]
    guard
        Guard band as a share of the uncertainty: 1, 0.83 or 1.5 by the rule agreed. [1]
    side
        ``upper`` or ``lower``: which limit it is. [word]

    Returns
    -------
    float
        Limit of acceptance. [unit of the reading]

    Raises
    ------
    FormulaError
        If an input is not finite, the uncertainty negative or the side neither of the two.

    Examples
    --------
    >>> acceptance_limit(11.0, 0.2, guard=0.83, side="upper")
    10.834

    References
    ----------
    .. [1] ILAC-G8:09/2019, 4.2.2; ISO 14253-1:2017 (guard band 0.83).
    """
    require_finite(limit=limit, guard=guard)
    require_not_negative(uncertainty=uncertainty)
    if side not in {"upper", "lower"}:
        raise FormulaError(f"side = {side}: 'upper' or 'lower'")
    return limit + (guard if side == "lower" else -guard) * uncertainty


@formula(expression="(high − low) ÷ (2 × uncertainty)", unit="1", source="ANSI/NCSL Z540.3; from memory")
def uncertainty_ratio(low: float, high: float, uncertainty: float) -> float:
    """Ratio of a band to the uncertainty with which it is judged.

    Parameters
    ----------
    low
        Lower limit. [unit of the reading]
    high
        Upper limit. [unit of the reading]
    uncertainty
        Expanded uncertainty. [unit of the reading]

    Returns
    -------
    float
        Ratio; four or more is wanted, below one no pass is possible. [1]

    Raises
    ------
    FormulaError
        If the limits are not in order or the uncertainty is not above zero.

    Examples
    --------
    >>> uncertainty_ratio(54.2, 54.6, 0.05)
    4.0

    References
    ----------
    .. [1] ANSI/NCSL Z540.3-2006, 5.3 (from memory).
    """
    require_finite(low=low, high=high)
    require_order(low=low, high=high)
    require_positive(uncertainty=uncertainty)
    return (high - low) / (2.0 * uncertainty)


def _inside(value: float, low: float | None, high: float | None, margin: float) -> bool:
    """Say whether a value lies between the limits once each is drawn in by a margin (out, if negative)."""
    above = low is None or value >= low + margin - _EDGE * max(abs(low), margin, 1e-3)
    below = high is None or value <= high - margin + _EDGE * max(abs(high), margin, 1e-3)
    return above and below


def verdict_zone(value: float, low: float | None, high: float | None, uncertainty: float) -> Verdict:
    """Return the verdict on a reading by the zone in which it lies (ILAC-G8:09/2019, 4.2.3).

    Exactly on a limit counts as inside. With an uncertainty of more than half the band there is no zone of
    a clear pass. A reading beyond the meter's range is judged as an infinite value.

    Parameters
    ----------
    value
        The reading; infinite where the meter showed that it is over its range.
    low
        Lower limit; None where there is none.
    high
        Upper limit; None where there is none.
    uncertainty
        Expanded uncertainty of the reading.

    Returns
    -------
    Verdict
        One of the four.

    Raises
    ------
    FormulaError
        If there is no limit, the limits are not in order, the uncertainty is negative or the reading is no
        number.
    """
    require_not_negative(uncertainty=uncertainty)
    if math.isnan(value):
        raise FormulaError("value: not a number, so it cannot be judged")
    if low is None and high is None:
        raise FormulaError("low and high: at least one limit is needed to judge by")
    require_order(low=-math.inf if low is None else low, high=math.inf if high is None else high)
    if _inside(value, low, high, uncertainty):
        return "pass"
    if _inside(value, low, high, 0.0):
        return "conditional pass"
    if _inside(value, low, high, -uncertainty):
        return "conditional fail"
    return "fail"


def pass_is_possible(low: float | None, high: float | None, uncertainty: float) -> bool:
    """Say whether any reading could be a clear pass: not with a meter too coarse for the band."""
    require_not_negative(uncertainty=uncertainty)
    if low is None or high is None:
        return True
    require_order(low=low, high=high)
    return _inside((low + high) / 2.0, low, high, uncertainty)
