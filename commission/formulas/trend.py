"""Trends of repeated readings: slope, how sure it is, and when a limit is reached.

Nothing here assumes a distribution of the readings: slopes are medians of pairs, and how sure they are
follows from counting how many pairs rise. With too few points there is no interval, and the formulas refuse.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence
from functools import lru_cache
from statistics import NormalDist, median
from typing import Final

from commission.errors import FormulaError
from commission.figure import formula
from commission.formulas.ranges import require_finite, require_not_negative, require_one_or_more

EXACT_UP_TO: Final = 30
"""Points up to which every order of them is counted; beyond it the normal distribution serves as well."""
EXACT_MEDIAN: Final = 400
"""Values up to which the binomial distribution is summed."""
_SOURCE: Final = "Theil 1950; Sen 1968, Journal of the American Statistical Association 63, 1379-1389"


def _require_series(times: Sequence[float], values: Sequence[float], fewest: int) -> None:
    if len(times) != len(values):
        raise FormulaError(f"times = {len(times)} and values = {len(values)}: one time a value is wanted")
    if len(times) < fewest:
        raise FormulaError(f"values = {len(values)}: {fewest} or more are wanted")
    for number in (*times, *values):
        require_finite(number=number)


def _require_confidence(confidence: float) -> None:
    if not 0.0 < confidence < 1.0:
        raise FormulaError(f"confidence = {confidence}: must be between 0 and 1, such as 0.95")


def _slopes(times: Sequence[float], values: Sequence[float]) -> list[float]:
    """Return the slopes of all pairs that were taken at different times, in rising order."""
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


def _tied(values: Sequence[float]) -> tuple[int, ...]:
    """Return the sizes of the groups of equal values, ones too, in falling order."""
    return tuple(sorted(Counter(values).values(), reverse=True))


@formula(
    expression="median of (values[j] − values[i]) ÷ (times[j] − times[i]) over all pairs of unlike times",
    unit="",
    source=_SOURCE,
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
    _require_series(times, values, 2)
    return median(_slopes(times, values))


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
    _require_series(times, values, 1)
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
    _require_series(times, values, 1)
    require_finite(slope=slope)
    return median(value - slope * time for time, value in zip(times, values, strict=True))


# how sure


@formula(
    expression="pairs of (times, values) that rise − pairs that fall",
    unit="1",
    source="Kendall 1938; Mann 1945",
)
def kendall_score(times: Sequence[float], values: Sequence[float]) -> float:
    """How far readings go one way: pairs that rise less pairs that fall.

    Parameters
    ----------
    times
        When each value was measured. [unit of the time]
    values
        What was measured. [unit of the reading]

    Returns
    -------
    float
        Score; n(n−1)/2 where every later value is greater. [1]

    Raises
    ------
    FormulaError
        If there are fewer than two values, or not one time a value.

    Examples
    --------
    >>> kendall_score([0, 1, 2, 3, 4], [100.0, 97.0, 95.0, 91.0, 90.0])
    -10.0

    References
    ----------
    .. [1] Mann, H. B., "Nonparametric tests against trend", Econometrica 13, 1945, 245-259.
    .. [2] Kendall, M. G., "A new measure of rank correlation", Biometrika 30, 1938, 81-93.
    """
    _require_series(times, values, 2)
    points = sorted(zip(times, values, strict=True))
    return float(
        sum(
            (later > value) - (later < value)
            for place, (time, value) in enumerate(points)
            for then, later in points[place + 1 :]
            if then > time
        )
    )


@formula(
    expression="(count × (count − 1) × (2 × count + 5)"
    " − sum over tied of tied × (tied − 1) × (2 × tied + 5)) ÷ 18",
    unit="1",
    source="Kendall 1970, Rank correlation methods; Sen 1968",
)
def kendall_variance(count: float, tied: Sequence[float]) -> float:
    """Variance of Kendall's score where there is no trend.

    Parameters
    ----------
    count
        Number of readings. [1]
    tied
        Sizes of the groups of equal ones; none, or ones, where there are none. [1]

    Returns
    -------
    float
        Variance. [1]

    Raises
    ------
    FormulaError
        If a number is negative, or the groups hold more readings than there are.

    Examples
    --------
    >>> kendall_variance(7, [1])
    44.333

    References
    ----------
    .. [1] Kendall, M. G., "Rank correlation methods", 4th edition, 1970 (from memory).
    """
    require_not_negative(count=count)
    for size in tied:
        require_not_negative(tied=size)
    if sum(tied) > count and max(tied, default=0) > 1:
        raise FormulaError(f"tied = {sum(tied):g}: more than the {count:g} readings")
    less = sum(size * (size - 1.0) * (2.0 * size + 5.0) for size in tied)
    return (count * (count - 1.0) * (2.0 * count + 5.0) - less) / 18.0


@lru_cache(maxsize=512)
def _tail_counts(tied: tuple[int, ...]) -> tuple[tuple[int, ...], int]:
    """Return, for each number of inversions, how many orders have at most so many, and how many there are.

    The numbers of inversions over all orders of things of which some are alike are the coefficients of the
    q-multinomial, a product of Gaussian binomials.
    """
    counts, placed = [1], 0
    for size in tied:
        for one in range(1, size + 1):
            counts = _divided(_times_ladder(counts, placed + one), one)
        placed += size
    running, total = [], 0
    for count in counts:
        total += count
        running.append(total)
    return tuple(running), total


def _times_ladder(counts: list[int], width: int) -> list[int]:
    """Multiply by 1 + q + … + q^(width − 1)."""
    made = [0] * (len(counts) + width - 1)
    window = 0
    for place in range(len(made)):
        window += counts[place] if place < len(counts) else 0
        window -= counts[place - width] if 0 <= place - width < len(counts) else 0
        made[place] = window
    return made


def _divided(counts: list[int], width: int) -> list[int]:
    """Divide by 1 + q + … + q^(width − 1), which leaves no rest here."""
    made: list[int] = []
    window = 0
    for place in range(len(counts) - width + 1):
        window -= made[place - width] if place >= width else 0
        made.append(counts[place] - window)
        window += made[place]
    return made


def _upper_tail(score: float, tied: tuple[int, ...]) -> float:
    """Return the share of all orders of the readings whose score is at least so great."""
    running, total = _tail_counts(tied)
    most = len(running) - 1
    inversions = math.floor((most - score) / 2.0 + 1e-9)
    if inversions < 0:
        return 0.0
    return running[min(inversions, most)] / total


@formula(
    expression="share of all orders of values over times whose score is at least as far from zero",
    unit="1",
    source="Kendall 1938, exact; Mann-Kendall with the variance for ties beyond 30 points",
)
def kendall_probability(times: Sequence[float], values: Sequence[float]) -> float:
    """Chance that readings without any trend go one way as far as these do.

    Parameters
    ----------
    times
        When each value was measured. [unit of the time]
    values
        What was measured. [unit of the reading]

    Returns
    -------
    float
        Probability, for both directions together; 2/n! where n readings go all one way. [1]

    Raises
    ------
    FormulaError
        If there are fewer than two values, or not one time a value.

    Notes
    -----
    Exact up to 30 points, with equal values too, as long as no two were measured at one time; else by the
    normal distribution with the correction for continuity.

    Examples
    --------
    >>> kendall_probability([0, 1, 2, 3, 4], [100.0, 97.0, 95.0, 91.0, 90.0])
    0.016667

    References
    ----------
    .. [1] Kendall, M. G., "Rank correlation methods", 4th edition, 1970 (from memory).
    """
    score = abs(kendall_score(times, values))
    alike, at_once = _tied(values), _tied(times)
    if len(values) <= EXACT_UP_TO and 1 in {alike[0], at_once[0]}:
        return min(1.0, 2.0 * _upper_tail(score, max(alike, at_once))) if score else 1.0
    variance = _variance_of_both(len(values), alike, at_once)
    if variance <= 0.0 or score == 0.0:
        return 1.0
    return min(1.0, 2.0 * (1.0 - NormalDist().cdf((score - 1.0) / math.sqrt(variance))))


def _variance_of_both(count: int, alike: Sequence[int], at_once: Sequence[int]) -> float:
    """Return the variance of the score where both values and times repeat (Kendall 1970, chapter 4)."""
    plain = kendall_variance(count, alike) - kendall_variance(count, [1]) + kendall_variance(count, at_once)

    def sums(power: int) -> float:
        one, other = (
            sum(math.prod(size - step for step in range(power)) for size in sizes)
            for sizes in (alike, at_once)
        )
        return float(one * other)

    if count < 3:
        return plain
    return (
        plain
        + sums(3) / (9.0 * count * (count - 1.0) * (count - 2.0))
        + sums(2) / (2.0 * count * (count - 1.0))
    )


@formula(
    expression="least n with 2 ÷ n! ≤ 1 − confidence",
    unit="1",
    source="Kendall's exact distribution: n readings all one way have p = 2/n!",
)
def fewest_points(confidence: float) -> float:
    """Fewest readings with which a slope has an interval.

    Parameters
    ----------
    confidence
        Share of cases in which the interval shall hold the true slope; 0.95. [1]

    Returns
    -------
    float
        Readings: 5 for 95 %. [1]

    Raises
    ------
    FormulaError
        If the confidence is not between 0 and 1.

    Examples
    --------
    >>> fewest_points(0.95)
    5.0

    References
    ----------
    .. [1] Kendall, M. G., "A new measure of rank correlation", Biometrika 30, 1938, 81-93.
    """
    _require_confidence(confidence)
    count = 2
    while 2.0 / math.factorial(count) > (1.0 - confidence) * (1.0 + 1e-9):
        count += 1
    return float(count)


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
    running, total = _tail_counts(at_once)
    exact = sum(1 for orders in running[: (slopes + 1) // 2] if orders / total <= allowed)
    return min(exact, by_rule)


def _end(times: Sequence[float], values: Sequence[float], confidence: float) -> tuple[float, float]:
    _require_series(times, values, 2)
    _require_confidence(confidence)
    slopes = _slopes(times, values)
    rank = _rank(len(slopes), _tied(times), confidence)
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
    source=_SOURCE,
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
    source=_SOURCE,
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
    _require_series(times, values, 1)
    require_finite(slope=slope, intercept=intercept)
    return median(abs(value - intercept - slope * time) for time, value in zip(times, values, strict=True))


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
    _require_confidence(confidence)
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
    _require_confidence(confidence)
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
