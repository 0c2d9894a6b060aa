"""Trends: slope and intercept after Theil and Sen, Kendall's score, and how sure they are."""

from __future__ import annotations

import math
from itertools import combinations, permutations, product
from random import Random
from statistics import median

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from commission.errors import FormulaError
from commission.formulas.acceptance import rise_over_baseline
from commission.formulas.kendall import (
    EXACT_UP_TO,
    fewest_points,
    kendall_probability,
    kendall_score,
    kendall_variance,
)
from commission.formulas.trend import (
    level_intercept,
    median_residual,
    theil_sen_slope,
    time_at_limit,
    trend_intercept,
)
from commission.formulas.trend_interval import greatest_slope, least_slope, level_half_width, median_ranks
from commission.formulas.uncertainty import root_sum_of_squares
from tests.formulas.worked import Row, row

SEN = "Sen 1968, the paper's example, also in the tests of scipy"
SEN_X, SEN_Y = [1, 2, 3, 4, 10, 12, 18], [9, 15, 19, 20, 45, 55, 78]
YEARS, PERCENT = [0, 1, 2, 3, 4], [100.0, 97.0, 95.0, 91.0, 90.0]

ROWS = [
    row("Sen's slope", theil_sen_slope, 4.0, 1e-9, SEN, times=SEN_X, values=SEN_Y),
    row("Sen's intercept", trend_intercept, 4.0, 1e-9, SEN, times=SEN_X, values=SEN_Y, slope=4.0),
    row("Sen's lower limit, 26/7", least_slope, 26 / 7, 1e-9, SEN,
        times=SEN_X, values=SEN_Y, confidence=0.93),
    row("Sen's upper limit, 35/8", greatest_slope, 35 / 8, 1e-9, SEN,
        times=SEN_X, values=SEN_Y, confidence=0.93),
    row("Sen's other intercept", level_intercept, 6.0, 1e-9,
        "scipy.stats.theilslopes, method 'joint'; by hand: median of 5 7 7 4 5 7 6",
        times=SEN_X, values=SEN_Y, slope=4.0),
    row("level of nine readings", level_half_width, 1.95996 * 1.2533 * 1.4826 * 0.6 / 3, 1e-4, "by hand",
        residual=0.6, count=9, confidence=0.95),
    row("rank for the median of 12 values", median_ranks, 3, 0,
        "Conover, table of the binomial distribution: P(at most 2 of 12) = 0.0193",
        count=12, confidence=0.95),
    row("five values have no interval", median_ranks, 0, 0, "by hand: 2/32 = 0.0625 > 0.05",
        count=5, confidence=0.95),
    row("six values have the whole", median_ranks, 1, 0, "by hand: 2/64 = 0.031", count=6, confidence=0.95),
    row("one outlier among seven", theil_sen_slope, 1.0, 1e-9,
        "Helsel and Hirsch, Statistical methods in water resources, 10.1, from memory",
        times=[1, 2, 3, 4, 5, 6, 7], values=[1, 2, 3, 4, 5, 16, 7]),
    row("score of a bank that falls every year", kendall_score, -10, 0, "by hand: all ten pairs fall",
        times=YEARS, values=PERCENT),
    row("probability of that", kendall_probability, 2 / 120, 1e-9, "2/5!, by hand",
        times=YEARS, values=PERCENT),
    row("variance without ties, seven points", kendall_variance, 7 * 6 * 19 / 18, 1e-9, "by hand",
        count=7, tied=[1]),
    row("variance with a pair and a triple", kendall_variance, (10 * 9 * 25 - 2 * 1 * 9 - 3 * 2 * 11) / 18,
        1e-9, "Kendall 1970, by hand", count=10, tied=[2, 3]),
    row("points for 90 %", fewest_points, 4, 0, "2/4! = 0.083, by hand", confidence=0.90),
    row("points for 95 %", fewest_points, 5, 0, "2/5! = 0.017, by hand", confidence=0.95),
    row("points for 99 %", fewest_points, 6, 0, "2/6! = 0.003, by hand", confidence=0.99),
    row("a straight line has no residual", median_residual, 0.0, 1e-12, "by hand",
        times=[0, 1, 2], values=[5, 3, 1], slope=-2, intercept=5),
    row("residuals 0, 1, 1, 3, 0", median_residual, 1.0, 1e-12, "by hand",
        times=[0, 1, 2, 3, 4], values=[0, 2, 1, 6, 4], slope=1, intercept=0),
]  # fmt: skip


@pytest.mark.parametrize("row", ROWS)
def test_worked_example(row: Row) -> None:
    assert row.value() == pytest.approx(row.expected, abs=row.tolerance)


def test_a_falling_bank_reaches_80_percent_after_eight_years():
    """Slopes of the ten pairs by hand: median −2.5833; line through (2, 95): 95 − 2.5833 × 5.8 = 80."""
    slope = theil_sen_slope(YEARS, PERCENT)
    assert slope == pytest.approx(median([-3, -2.5, -3, -2.5, -2, -3, -7 / 3, -4, -2.5, -1]))
    year = time_at_limit(80.0, slope, trend_intercept(YEARS, PERCENT, slope))
    assert year == pytest.approx(8.0, abs=0.01)


def test_a_joint_risen_from_52_to_60_has_changed_and_is_watched():
    """Rise 15.385 % by hand, under the 20 % of IEEE 450 and 1188; the change is beyond both meters' doubt."""
    assert 100 * rise_over_baseline(60e-6, 52e-6) == pytest.approx(15.385, abs=0.0005)
    assert root_sum_of_squares([1.56, 1.8]) == pytest.approx(2.382, abs=0.0005)
    assert abs(60.0 - 52.0) > root_sum_of_squares([1.56, 1.8])


series = st.integers(2, 12).flatmap(
    lambda count: st.tuples(
        st.lists(st.integers(0, 40), min_size=count, max_size=count).filter(lambda x: len(set(x)) > 1),
        st.lists(st.integers(-50, 50), min_size=count, max_size=count),
    )
)


@pytest.mark.filterwarnings("ignore:invalid value encountered in sqrt")  # scipy's own, where most are alike
@given(series)
def test_slope_and_intercept_are_those_of_scipy(drawn):
    """Oracle: scipy.stats.theilslopes, method 'separate'."""
    x, y = drawn
    found = stats.theilslopes(y, x, method="separate")
    slope = theil_sen_slope(x, y)
    assert slope == pytest.approx(float(found.slope), abs=1e-9)
    assert trend_intercept(x, y, slope) == pytest.approx(float(found.intercept), abs=1e-9)
    joint = stats.theilslopes(y, x, method="joint")
    assert level_intercept(x, y, slope) == pytest.approx(float(joint.intercept), abs=1e-9)


@given(st.integers(5, 12), st.integers(0, 10**6), st.sampled_from([0.9, 0.95, 0.99]))
def test_the_interval_is_never_narrower_than_that_of_scipy(count, seed, confidence):
    """Oracle: scipy.stats.theilslopes, whose ranks are those of Sen's rule for many points."""
    if count < fewest_points(confidence):
        return
    x = list(range(count))
    random = Random(seed)
    y = [random.gauss(0, 1) for _ in x]
    found = stats.theilslopes(y, x, confidence)
    assert least_slope(x, y, confidence) <= float(found.low_slope) + 1e-12
    assert greatest_slope(x, y, confidence) >= float(found.high_slope) - 1e-12


def test_the_interval_of_many_points_is_that_of_scipy():
    """Oracle: scipy.stats.theilslopes; beyond the exact range both use Sen's rule."""
    random = Random(5)
    x = list(range(EXACT_UP_TO + 15))
    y = [0.2 * time + random.gauss(0, 1) for time in x]
    found = stats.theilslopes(y, x, 0.95)
    assert least_slope(x, y, 0.95) == pytest.approx(float(found.low_slope))
    assert greatest_slope(x, y, 0.95) == pytest.approx(float(found.high_slope))


@given(st.integers(2, 15), st.integers(0, 10**6))
def test_the_exact_probability_without_ties_is_that_of_scipy(count, seed):
    """Oracle: scipy.stats.kendalltau, method 'exact'."""
    x = list(range(count))
    random = Random(seed)
    y = [random.random() for _ in x]
    assert kendall_probability(x, y) == pytest.approx(
        float(stats.kendalltau(x, y, method="exact").pvalue), abs=1e-9
    )


@pytest.mark.parametrize("values", [[1, 1, 2, 3, 4], [1, 2, 2, 2, 3, 5], [3, 3, 2, 2, 1, 1], [7, 7, 7, 1, 2]])
def test_the_exact_probability_with_ties_is_what_counting_every_order_gives(values):
    """Second way: all orders one by one."""
    x = list(range(len(values)))
    told = abs(kendall_score(x, values))
    far = [abs(kendall_score(x, order)) >= told for order in permutations(values)]
    assert kendall_probability(x, values) == pytest.approx(sum(far) / len(far))
    assert kendall_probability(values, x) == pytest.approx(sum(far) / len(far))


def test_many_points_with_ties_have_the_probability_of_the_normal_distribution():
    """Oracle: scipy.stats.kendalltau, asymptotic, whose variance counts ties in both; it leaves out the
    correction for continuity, which is undone here."""
    random = Random(3)
    x = [place // 2 for place in range(40)]
    y = [round(0.05 * time + random.gauss(0, 1)) for time in x]
    found = float(stats.kendalltau(x, y, method="asymptotic").pvalue)
    score = abs(kendall_score(x, y))
    deviation = score / stats.norm.isf(found / 2)
    assert kendall_probability(x, y) == pytest.approx(2 * stats.norm.sf((score - 1) / deviation), rel=1e-6)


@pytest.mark.parametrize(("count", "confidence"), list(product([5, 6, 7], [0.9, 0.93, 0.95])))
def test_over_every_order_of_the_errors_the_interval_holds_as_often_as_it_says(count, confidence):
    """The definition itself: errors in every order about a level line; how often is 0 inside?"""
    random = Random(count)
    errors = [random.gauss(0, 1) for _ in range(count)]
    x = list(range(count))
    held = [
        least_slope(x, order, confidence) <= 0.0 <= greatest_slope(x, order, confidence)
        for order in permutations(errors)
    ]
    assert sum(held) / len(held) >= confidence


def test_sens_own_limits_hold_97_percent_and_not_93():
    """Counting all 5040 orders: 1 − 2 × 76/5040; one pair further in it would be 93.1 %."""
    orders = list(permutations(range(7)))

    def share(least: int) -> float:
        inside = [least <= sum(a > b for a, b in combinations(order, 2)) <= 21 - least for order in orders]
        return sum(inside) / len(inside)

    slopes = sorted((b - a) / (v - u) for (u, a), (v, b) in combinations(zip(SEN_X, SEN_Y, strict=True), 2))
    assert slopes[3] == pytest.approx(26 / 7)
    assert share(4) == pytest.approx(1 - 2 * 76 / 5040)
    assert share(5) == pytest.approx(0.931, abs=0.0005)


@pytest.mark.parametrize("count", [6, 9, 20, 399, 400, 1000])
@pytest.mark.parametrize("confidence", [0.9, 0.95, 0.999])
def test_the_rank_of_a_median_leaves_out_no_more_than_it_may(count, confidence):
    """Oracle: scipy.stats.binom; a rank further in would leave out too much (of many values, two ranks)."""
    rank = median_ranks(count, confidence)
    assert 2 * stats.binom.cdf(rank - 1, count, 0.5) <= 1 - confidence + 1e-12
    assert 2 * stats.binom.cdf(rank + (0 if count < 400 else 1), count, 0.5) > 1 - confidence


@given(series, st.floats(-5, 5), st.floats(-5, 5))
def test_a_line_added_to_the_readings_is_added_to_the_slope(drawn, slope, level):
    x, y = drawn
    moved = [value + slope * time + level for time, value in zip(x, y, strict=True)]
    assert theil_sen_slope(x, moved) == pytest.approx(theil_sen_slope(x, y) + slope, abs=1e-9)


@pytest.mark.parametrize("count", [2, 3, 4])
def test_under_five_points_there_is_no_interval_of_95_percent(count):
    """2/4! = 0.083: even four readings all one way happen by chance too often."""
    x = list(range(count))
    with pytest.raises(FormulaError, match="5 at different times are wanted"):
        least_slope(x, x, 0.95)


def test_readings_of_one_day_count_as_one_time():
    """Five readings at two times leave too few orders for any interval."""
    with pytest.raises(FormulaError, match="too few"):
        greatest_slope([0, 0, 0, 1, 1], [1, 2, 3, 4, 5], 0.95)
    with pytest.raises(FormulaError, match="all are the same"):
        theil_sen_slope([2, 2, 2], [1, 2, 3])


@pytest.mark.parametrize(
    "call",
    [
        lambda: theil_sen_slope([1, 2], [1, math.nan]),
        lambda: theil_sen_slope([1, 2, 3], [1, 2]),
        lambda: theil_sen_slope([1], [1]),
        lambda: trend_intercept([], [], 1.0),
        lambda: kendall_score([1], [1]),
        lambda: kendall_variance(2, [3]),
        lambda: fewest_points(1.0),
        lambda: least_slope(SEN_X, SEN_Y, 0.0),
        lambda: time_at_limit(80.0, 0.0, 100.0),
        lambda: median_residual([1], [1], math.inf, 0.0),
    ],
)
def test_what_has_no_answer_is_refused(call):
    with pytest.raises(FormulaError):
        call()
