"""Trends of repeated readings: the line through them, and when it comes to a limit.

Nothing here assumes a distribution of the readings: slopes are medians of pairs. How sure they are stands in
:mod:`commission.formulas.trend_interval`.
"""

from __future__ import annotations

from collections.abc import Sequence
from statistics import median
from typing import Final

from commission.errors import FormulaError
from commission.figure import formula
from commission.formulas.ranges import require_finite, require_series

SEN: Final = "Theil 1950; Sen 1968, Journal of the American Statistical Association 63, 1379-1389"


def pair_slopes(times: Sequence[float], values: Sequence[float]) -> list[float]:
    """Return the slopes of all pairs that were taken at different times, in rising order.

    Raises
    ------
    FormulaError
        If all times are the same.
    """
    points = sorted(zip(times, values, strict=True))
    found = sorted(
        (later - value) / (then - time)
        for place, (time, value) in enumerate(points)
        for then, later in points[place + 1 :]
        if then > time
    )
    if not found:
        raise FormulaError("times: all are the same, so there is no slope")
    return found


@formula(
    expression="median of (values[j] − values[i]) ÷ (times[j] − times[i]) over all pairs of unlike times",
    unit="",
    source=SEN,
)
def theil_sen_slope(times: Sequence[float], values: Sequence[float]) -> float:
    """Slope of a trend, as the median of the slopes of all pairs.

    Parameters
    ----------
    times
        When each value was measured. [unit of the time]
    values
        What was measured. [unit of the reading]

    Returns
    -------
    float
        Change for one unit of time. [unit of the reading a time]

    Raises
    ------
    FormulaError
        If there are fewer than two values, not one time a value, or all times are the same.

    Notes
    -----
    A single wrong reading among four or more does not move it far, unlike the line of least squares.

    Examples
    --------
    The example of Sen's paper:

    >>> theil_sen_slope([1, 2, 3, 4, 10, 12, 18], [9, 15, 19, 20, 45, 55, 78])
    4.0

    References
    ----------
    .. [1] Sen, P. K., "Estimates of the regression coefficient based on Kendall's tau", Journal of the
       American Statistical Association 63(324), 1968, 1379-1389.
    .. [2] Theil, H., "A rank-invariant method of linear and polynomial regression analysis", Proceedings of
       the Royal Netherlands Academy of Sciences 53, 1950.
    """
    require_series(times, values, 2)
    return median(pair_slopes(times, values))


@formula(
    expression="median(values) − slope × median(times)",
    unit="",
    source="Conover 1999, Practical nonparametric statistics; one of the two usual definitions",
)
def trend_intercept(times: Sequence[float], values: Sequence[float], slope: float) -> float:
    """Value of a trend's line at time zero; the line goes through the medians.

    Parameters
    ----------
    times
        When each value was measured. [unit of the time]
    values
        What was measured. [unit of the reading]
    slope
        Slope of the line. [unit of the reading a time]

    Returns
    -------
    float
        Value at time zero. [unit of the reading]

    Raises
    ------
    FormulaError
        If there is no value, or not one time a value.

    Notes
    -----
    The other usual definition is :func:`level_intercept`; the two differ a little.

    Examples
    --------
    >>> trend_intercept([1, 2, 3, 4, 10, 12, 18], [9, 15, 19, 20, 45, 55, 78], 4.0)
    4.0

    References
    ----------
    .. [1] Conover, W. J., "Practical nonparametric statistics", 3rd edition, 1999, section 5.5 (from memory).
    """
    require_series(times, values, 1)
    require_finite(slope=slope)
    return median(values) - slope * median(times)


@formula(
    expression="median of (values − slope × times)",
    unit="",
    source="the other usual definition; scipy.stats.theilslopes calls it joint",
)
def level_intercept(times: Sequence[float], values: Sequence[float], slope: float) -> float:
    """Value of a trend's line at time zero, as half of the readings lie above the line and half below.

    Parameters
    ----------
    times
        When each value was measured. [unit of the time]
    values
        What was measured. [unit of the reading]
    slope
        Slope of the line. [unit of the reading a time]

    Returns
    -------
    float
        Value at time zero. [unit of the reading]

    Raises
    ------
    FormulaError
        If there is no value, or not one time a value.

    Notes
    -----
    Surer than the line through the medians where the trend is steep: there the median is a single reading.

    Examples
    --------
    >>> level_intercept([1, 2, 3, 4, 10, 12, 18], [9, 15, 19, 20, 45, 55, 78], 4.0)
    6.0

    References
    ----------
    .. [1] Helsel, D. R. and Hirsch, R. M., "Statistical methods in water resources",
       chapter 10 (from memory).
    """
    require_series(times, values, 1)
    require_finite(slope=slope)
    return median(value - slope * time for time, value in zip(times, values, strict=True))


@formula(
    expression="median of |values − (intercept + slope × times)|",
    unit="",
    source="median absolute deviation; Hampel 1974",
)
def median_residual(times: Sequence[float], values: Sequence[float], slope: float, intercept: float) -> float:
    """Distance of the readings from the line of their trend, as a median.

    Parameters
    ----------
    times
        When each value was measured. [unit of the time]
    values
        What was measured. [unit of the reading]
    slope
        Slope of the line. [unit of the reading a time]
    intercept
        Value of the line at time zero. [unit of the reading]

    Returns
    -------
    float
        Distance. [unit of the reading]

    Raises
    ------
    FormulaError
        If there is no value, or not one time a value.

    Examples
    --------
    >>> median_residual([0, 1, 2, 3], [100.0, 97.0, 95.0, 91.0], -3.0, 100.0)
    0.0

    References
    ----------
    .. [1] Hampel, F. R., "The influence curve and its role in robust estimation", Journal of the American
       Statistical Association 69, 1974, 383-393 (from memory).
    """
    require_series(times, values, 1)
    require_finite(slope=slope, intercept=intercept)
    return median(abs(value - intercept - slope * time) for time, value in zip(times, values, strict=True))


@formula(expression="(limit − intercept) ÷ slope", unit="", source="straight line")
def time_at_limit(limit: float, slope: float, intercept: float) -> float:
    """Time at which the line of a trend comes to a limit.

    Parameters
    ----------
    limit
        Value that is waited for. [unit of the reading]
    slope
        Slope of the line. [unit of the reading a time]
    intercept
        Value of the line at time zero. [unit of the reading]

    Returns
    -------
    float
        Time, which may lie in the past. [unit of the time]

    Raises
    ------
    FormulaError
        If an input is not finite, or the slope is zero: the line never comes there.

    Notes
    -----
    Never said alone: the ends of the slope's interval give the earliest and the latest time.

    Examples
    --------
    A bank that lost 2.5 points a year and stood at 100 % reaches 80 % after

    >>> time_at_limit(80.0, -2.5, 100.0)
    8.0

    References
    ----------
    .. [1] Equation of a straight line; NIST/SEMATECH e-Handbook of statistical methods, 4.1.4.
    """
    require_finite(limit=limit, slope=slope, intercept=intercept)
    if slope == 0.0:
        raise FormulaError("slope = 0: a level line never comes to a limit")
    return (limit - intercept) / slope
