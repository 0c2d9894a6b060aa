"""How sure a trend is: intervals of its slope, of its level and of a median.

Nothing here assumes a distribution of the readings. With too few points there is no interval, and the
formulas refuse.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from statistics import NormalDist
from typing import Final

from commission.errors import FormulaError
from commission.figure import formula
from commission.formulas.kendall import EXACT_UP_TO, fewest_points, kendall_variance, tail_counts, tied_sizes
from commission.formulas.ranges import (
    require_confidence,
    require_not_negative,
    require_one_or_more,
    require_series,
)
from commission.formulas.trend import SEN, pair_slopes

EXACT_MEDIAN: Final = 400
"""Values up to which the binomial distribution is summed."""


def _rank(slopes: int, at_once: tuple[int, ...], confidence: float) -> int:
    """Return which slope from either end bounds the interval; 0 where even the outermost is too near.

    The rank by Kendall's exact distribution, or that of Sen's large-sample rule where it lies further out.
    """
    count = sum(at_once)
    width = NormalDist().inv_cdf(0.5 + confidence / 2.0) * math.sqrt(kendall_variance(count, at_once))
    by_rule = max(round((slopes - width) / 2.0), 1)
    if count > EXACT_UP_TO:
        return by_rule
    allowed = (1.0 - confidence) / 2.0 * (1.0 + 1e-9)
    running, total = tail_counts(at_once)
    exact = sum(1 for orders in running[: (slopes + 1) // 2] if orders / total <= allowed)
    return min(exact, by_rule)


def _end(times: Sequence[float], values: Sequence[float], confidence: float) -> tuple[float, float]:
    require_series(times, values, 2)
    require_confidence(confidence)
    slopes = pair_slopes(times, values)
    rank = _rank(len(slopes), tied_sizes(times), confidence)
    if rank == 0:
        wanted = fewest_points(confidence)
        raise FormulaError(
            f"values = {len(values)}: too few for an interval that holds in {100 * confidence:g} % of cases;"
            f" {wanted:g} at different times are wanted"
        )
    return slopes[rank - 1], slopes[-rank]


@formula(
    expression="slope of (times, values) at the lower rank by Kendall's distribution at confidence",
    unit="",
    source=SEN,
)
def least_slope(times: Sequence[float], values: Sequence[float], confidence: float) -> float:
    """Lower end of the interval of a trend's slope.

    Parameters
    ----------
    times
        When each value was measured. [unit of the time]
    values
        What was measured. [unit of the reading]
    confidence
        Share of cases in which the interval shall hold the true slope; 0.95. [1]

    Returns
    -------
    float
        Slope. [unit of the reading a time]

    Raises
    ------
    FormulaError
        If there are too few values for any interval: five are wanted for 95 %.

    Notes
    -----
    Up to 30 points the rank is that of the exact distribution; Sen's rule for many points counts where it
    lies further out, as in his own example, where it holds 97 % and not 93 %. So it is never too narrow.

    Examples
    --------
    The example of Sen's paper, 26/7:

    >>> least_slope([1, 2, 3, 4, 10, 12, 18], [9, 15, 19, 20, 45, 55, 78], 0.93)
    3.714

    References
    ----------
    .. [1] Sen, P. K., "Estimates of the regression coefficient based on Kendall's tau", Journal of the
       American Statistical Association 63(324), 1968, 1379-1389.
    .. [2] Hollander, M. and Wolfe, D. A., "Nonparametric statistical methods", section 9.3 (from memory).
    """
    return _end(times, values, confidence)[0]


@formula(
    expression="slope of (times, values) at the upper rank by Kendall's distribution at confidence",
    unit="",
    source=SEN,
)
def greatest_slope(times: Sequence[float], values: Sequence[float], confidence: float) -> float:
    """Upper end of the interval of a trend's slope.

    Parameters
    ----------
    times
        When each value was measured. [unit of the time]
    values
        What was measured. [unit of the reading]
    confidence
        Share of cases in which the interval shall hold the true slope; 0.95. [1]

    Returns
    -------
    float
        Slope. [unit of the reading a time]

    Raises
    ------
    FormulaError
        If there are too few values for any interval: five are wanted for 95 %.

    Examples
    --------
    The example of Sen's paper, 35/8:

    >>> greatest_slope([1, 2, 3, 4, 10, 12, 18], [9, 15, 19, 20, 45, 55, 78], 0.93)
    4.375

    References
    ----------
    .. [1] Sen, P. K., "Estimates of the regression coefficient based on Kendall's tau", Journal of the
       American Statistical Association 63(324), 1968, 1379-1389.
    """
    return _end(times, values, confidence)[1]


@formula(
    expression="normal quantile of (1 + confidence) ÷ 2 × 1.2533 × 1.4826 × residual ÷ √count",
    unit="",
    source="standard error of a median, Kendall and Stuart; deviation from the median residual, Hampel 1974",
)
def level_half_width(residual: float, count: float, confidence: float) -> float:
    """Half-width of the interval of a line's level.

    Parameters
    ----------
    residual
        Median distance of the readings from the line. [unit of the reading]
    count
        Number of readings. [1]
    confidence
        Share of cases in which the interval shall hold the true level; 0.95. [1]

    Returns
    -------
    float
        Half-width. [unit of the reading]

    Raises
    ------
    FormulaError
        If the residual is negative, the count under one, or the confidence not between 0 and 1.

    Examples
    --------
    >>> level_half_width(1.0, 16, 0.95)
    0.910

    References
    ----------
    .. [1] Kendall, M. G. and Stuart, A., "The advanced theory of statistics", volume 1 (from memory).
    """
    require_not_negative(residual=residual)
    require_one_or_more(count=count)
    require_confidence(confidence)
    return NormalDist().inv_cdf(0.5 + confidence / 2.0) * 1.2533 * 1.4826 * residual / math.sqrt(count)


@formula(
    expression="greatest r with P(fewer than r of count lie below) ≤ (1 − confidence) ÷ 2, at even chances",
    unit="1",
    source="interval of a median by the sign test; Conover 1999, section 3.2",
)
def median_ranks(count: float, confidence: float) -> float:
    """Rank, from either end, of the values that bound the interval of a median.

    Parameters
    ----------
    count
        Number of values. [1]
    confidence
        Share of cases in which the interval shall hold the true median; 0.95. [1]

    Returns
    -------
    float
        Rank; 0 where there are too few values for an interval. [1]

    Raises
    ------
    FormulaError
        If the count is under one, or the confidence not between 0 and 1.

    Notes
    -----
    Nothing is assumed of how the values are distributed.

    Examples
    --------
    The third lowest and the third highest of twelve:

    >>> median_ranks(12, 0.95)
    3.0

    References
    ----------
    .. [1] Conover, W. J., "Practical nonparametric statistics", 3rd edition, 1999, section 3.2 (from memory).
    """
    require_one_or_more(count=count)
    require_confidence(confidence)
    whole = int(count)
    allowed = (1.0 - confidence) / 2.0 * (1.0 + 1e-9) * 2.0**whole if whole < EXACT_MEDIAN else 0.0
    if not allowed:
        width = NormalDist().inv_cdf(0.5 + confidence / 2.0) * math.sqrt(count)
        return float(max(math.floor((count - width) / 2.0), 0))
    rank, below = 0, 1.0
    while below <= allowed:
        rank += 1
        below += math.comb(whole, rank)
    return float(rank)
