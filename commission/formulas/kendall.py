"""Whether readings go one way by chance: Kendall's score, and how often every order of them has it.

Nothing here assumes a distribution of the readings: how sure a trend is follows from counting how many pairs
rise.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence
from functools import lru_cache
from statistics import NormalDist
from typing import Final

from commission.errors import FormulaError
from commission.figure import formula
from commission.formulas.ranges import require_confidence, require_not_negative, require_series

EXACT_UP_TO: Final = 30
"""Points up to which every order of them is counted; beyond it the normal distribution serves as well."""


def tied_sizes(values: Sequence[float]) -> tuple[int, ...]:
    """Return the sizes of the groups of equal values, ones too, in falling order."""
    return tuple(sorted(Counter(values).values(), reverse=True))


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
    require_series(times, values, 2)
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
def tail_counts(tied: tuple[int, ...]) -> tuple[tuple[int, ...], int]:
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
    running, total = tail_counts(tied)
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
    alike, at_once = tied_sizes(values), tied_sizes(times)
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
    require_confidence(confidence)
    count = 2
    while 2.0 / math.factorial(count) > (1.0 - confidence) * (1.0 + 1e-9):
        count += 1
    return float(count)
