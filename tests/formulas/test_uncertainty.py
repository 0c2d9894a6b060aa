"""Measurement uncertainty, and the four verdicts that come of it."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import norm, uniform

from commission.errors import FormulaError
from commission.formulas.uncertainty import (
    acceptance_limit,
    accuracy_half_width,
    conformity_probability,
    difference_uncertainty,
    expanded_uncertainty,
    false_accept_probability,
    pass_is_possible,
    relative_half_width,
    root_sum_of_squares,
    standard_uncertainty,
    uncertainty_ratio,
    verdict_zone,
)
from tests.formulas.worked import Row, assert_no_number_passes_as_one, row

TEACHING = "university worked example"
S9 = "EA-4/02 example S9, from memory"
JCGM = "JCGM 106:2012"
NORMAL = "one-sided normal distribution"

ROWS = [
    row("digits near zero", accuracy_half_width, 0.03225, 0.0001, TEACHING,
        reading=0.09, percent=2.5, digits=3, resolution=0.01),
    row("120.0 V within 118.96 to 121.04", accuracy_half_width, 1.04, 0.0001,
        "worked example for electricians",
        reading=120.0, percent=0.7, digits=2, resolution=0.1),
    row("2 V of a good meter", accuracy_half_width, 0.0036, 0.0001, "worked example of a meter",
        reading=2.0, percent=0.08, digits=2, resolution=0.001),
    row("0.35 V at k = 2", expanded_uncertainty, 0.404145, 0.0001, "GUM 4.3.7 and 6.2, from memory",
        uncertainty=standard_uncertainty(0.35), coverage=2.0),
    row("0.35 V at k = 1.65", expanded_uncertainty, 0.33342, 0.0001, S9,
        uncertainty=standard_uncertainty(0.35), coverage=1.65),
    row("half-width of a rectangle", standard_uncertainty, 0.35 / math.sqrt(3), 1e-12, "GUM 4.3.7, by hand",
        half_width=0.35),
    row("hand-held meter at 100 V", root_sum_of_squares, 0.03, 0.0005, S9, parts=[0.029, 0.001, 0.0064]),
    row("hand-held meter at 100 V, expanded", expanded_uncertainty, 0.05, 0.001, S9, uncertainty=0.03,
        coverage=1.65),
    row("two limits", conformity_probability, 0.6626, 0.001, f"{JCGM} 7.4, with scipy",
        estimate=13.6, uncertainty=1.8, lower=12.5, upper=16.3),
    row("upper limit alone", conformity_probability, 0.9192, 0.001, f"{JCGM} 7.3, from memory",
        estimate=-5.47, uncertainty=0.05, lower=-math.inf, upper=-5.4),
    row("at a guard of 0.83 U", false_accept_probability, 0.0484572, 0.00048, NORMAL, guard=0.83,
        coverage=2.0),
    row("at a guard of 1.5 U", false_accept_probability, 0.0013499, 1.3e-5, NORMAL, guard=1.5, coverage=2.0),
    row("at a guard of 3 U", false_accept_probability, 9.86588e-10, 1e-10, NORMAL, guard=3.0, coverage=2.0),
    row("no guard at all", false_accept_probability, 0.5, 1e-12, "ILAC-G8:09/2019 4.2.1", guard=0.0,
        coverage=2.0),
    row("52.0 V of a voltmeter", relative_half_width, 0.0053846, 1e-7, "GUM 5.1.6, by hand",
        half_width=0.28, reading=52.0),
    row("two blocks with one meter", difference_uncertainty,
        2 * math.sqrt(2) * 0.02 / math.sqrt(3) + 0.005 * 0.03,
        1e-12, "GUM 5.2, by hand",
        first=12.71, second=12.68, percent=0.5, digits=2, resolution=0.01, coverage=2.0),
    row("0.4 V against 0.05 V", uncertainty_ratio, 4.0, 1e-9, "ANSI Z540.3, from memory",
        low=54.2, high=54.6, uncertainty=0.05),
]  # fmt: skip


@pytest.mark.parametrize("row", ROWS)
def test_worked_example(row: Row) -> None:
    assert row.value() == pytest.approx(row.expected, abs=row.tolerance)


@pytest.mark.parametrize("row", ROWS)
def test_what_is_not_a_number_is_refused(row: Row) -> None:
    assert_no_number_passes_as_one(row)


@pytest.mark.parametrize(
    ("guard", "low", "high"),
    [
        pytest.param(0.83, 9.166, 10.834, id="0.83 U (ISO 14253-1:2017)"),
        pytest.param(1.0, 9.2, 10.8, id="1 U (ILAC-G8:2009)"),
        pytest.param(1.5, 9.3, 10.7, id="1.5 U (three standard uncertainties)"),
    ],
)
def test_the_acceptance_zone_is_drawn_in_on_both_sides(guard: float, low: float, high: float) -> None:
    """10 ± 1 with U = 0.2; zone to 0.001."""
    assert acceptance_limit(9.0, 0.2, guard=guard, side="lower") == pytest.approx(low, abs=0.001)
    assert acceptance_limit(11.0, 0.2, guard=guard, side="upper") == pytest.approx(high, abs=0.001)


def test_uncertainty_of_a_power_is_decided_by_the_clamp() -> None:
    """52.0 V with 0.5 % + 2 of 0.01, 90.0 A with 2 % + 5 of 0.1: 3.016 % within 0.01 (GUM 5.1.6)."""
    volts = accuracy_half_width(52.0, 0.5, digits=2, resolution=0.01)
    amperes = accuracy_half_width(90.0, 2.0, digits=5, resolution=0.1)
    parts = [
        standard_uncertainty(relative_half_width(volts, 52.0)),
        standard_uncertainty(relative_half_width(amperes, 90.0)),
    ]
    assert 100 * expanded_uncertainty(root_sum_of_squares(parts), 2.0) == pytest.approx(3.016, abs=0.01)
    assert parts[1] > 4 * parts[0]


G8 = "ILAC-G8:09/2019 4.2.3"


@pytest.mark.parametrize(
    ("reading", "expected"),
    [
        pytest.param(54.45, "pass", id=f"well inside ({G8})"),
        pytest.param(54.58, "conditional pass", id=f"inside by less than U ({G8})"),
        pytest.param(54.62, "conditional fail", id=f"outside by less than U ({G8})"),
        pytest.param(54.70, "fail", id=f"outside by more than U ({G8})"),
        pytest.param(54.10, "fail", id=f"under by more than U ({G8})"),
    ],
)
def test_verdict_on_a_charger_voltage(reading: float, expected: str) -> None:
    """54.2 to 54.6 V with a meter of 0.05 % and two digits of 0.01 V at k = 2."""
    half = accuracy_half_width(reading, 0.05, digits=2, resolution=0.01)
    uncertainty = expanded_uncertainty(standard_uncertainty(half), 2.0)
    assert uncertainty == pytest.approx(0.0545, abs=0.0003)
    assert verdict_zone(reading, 54.2, 54.6, uncertainty) == expected


def test_a_deviation_within_its_limit_by_less_than_its_uncertainty_passes_on_condition() -> None:
    """0.0025 within 0.003, U = 0.001 (ILAC-G8:09/2019 4.2.3)."""
    assert verdict_zone(0.0025, None, 0.003, 0.001) == "conditional pass"


@pytest.mark.parametrize(
    ("reading", "low", "high", "uncertainty", "expected"),
    [
        pytest.param(54.6, 54.2, 54.6, 0.0, "pass", id="on the upper limit without uncertainty"),
        pytest.param(54.6, 54.2, 54.6, 0.05, "conditional pass", id="on the upper limit"),
        pytest.param(54.2, 54.2, 54.6, 0.05, "conditional pass", id="on the lower limit"),
        pytest.param(0.3, None, 0.1 + 0.2, 0.0, "pass", id="on a computed limit, rounding above"),
        pytest.param(0.1 + 0.2, None, 0.3, 0.0, "pass", id="on a computed limit, rounding below"),
        pytest.param(54.55, 54.2, 54.6, 0.05, "pass", id="on the edge of the clear pass"),
        pytest.param(54.65, 54.2, 54.6, 0.05, "conditional fail", id="on the edge of the clear fail"),
        pytest.param(54.4, 54.2, 54.6, 0.2, "pass", id="one value passes when U is half the band"),
        pytest.param(54.4, 54.2, 54.6, 0.3, "conditional pass", id="none passes when U is more"),
        pytest.param(-1.02, -1.0, 1.0, 0.05, "conditional fail", id="under a negative limit"),
        pytest.param(math.inf, 1e6, None, 0.0, "pass", id="over range against a least value"),
        pytest.param(math.inf, None, 5.0, 0.1, "fail", id="over range against a greatest value"),
        pytest.param(-math.inf, 0.0, 5.0, 0.1, "fail", id="under range"),
        pytest.param(0.2, None, 0.5, 0.1, "pass", id="greatest value alone"),
        pytest.param(0.2, 0.5, None, 0.1, "fail", id="least value alone"),
    ],
)
def test_edges_of_the_zones_count_as_inside(
    reading: float, low: float | None, high: float | None, uncertainty: float, expected: str
) -> None:
    assert verdict_zone(reading, low, high, uncertainty) == expected


@pytest.mark.parametrize(
    ("reading", "low", "high", "uncertainty", "says"),
    [
        (math.nan, 0.0, 1.0, 0.1, "not a number"),
        (0.5, None, None, 0.1, "at least one limit"),
        (0.5, 1.0, 0.0, 0.1, "lies above"),
        (0.5, math.nan, 1.0, 0.1, "nan"),
        (0.5, 0.0, 1.0, -0.1, "uncertainty"),
        (0.5, 0.0, 1.0, math.nan, "uncertainty"),
    ],
)
def test_what_cannot_be_judged_is_refused(
    reading: float, low: float | None, high: float | None, uncertainty: float, says: str
) -> None:
    with pytest.raises(FormulaError, match=says):
        verdict_zone(reading, low, high, uncertainty)


def test_a_meter_too_coarse_for_the_band_leaves_no_clear_pass() -> None:
    """54.2 to 54.6 V with a meter of 0.5 % and two digits of 0.01 V at k = 2: U is over half the band."""
    half = accuracy_half_width(54.4, 0.5, digits=2, resolution=0.01)
    uncertainty = expanded_uncertainty(standard_uncertainty(half), 2.0)
    assert not pass_is_possible(54.2, 54.6, uncertainty)
    assert uncertainty_ratio(54.2, 54.6, uncertainty) < 1.0
    assert pass_is_possible(54.2, 54.6, 0.2)
    assert pass_is_possible(54.2, None, 10.0)
    with pytest.raises(FormulaError, match="above"):
        pass_is_possible(54.6, 54.2, 0.1)


RANK = {"pass": 0, "conditional pass": 1, "conditional fail": 2, "fail": 3}
readings = st.floats(-100, 100)
uncertainties = st.floats(0, 20)


@given(readings, readings, readings, uncertainties)
def test_zones_are_nested_around_the_middle(
    one: float, other: float, reading: float, uncertainty: float
) -> None:
    """Moving a reading toward the middle of its band never makes the verdict worse."""
    low, high = sorted((one, other))
    middle = (low + high) / 2
    nearer = middle + (reading - middle) / 2
    assert (
        RANK[verdict_zone(nearer, low, high, uncertainty)]
        <= RANK[verdict_zone(reading, low, high, uncertainty)]
    )


@given(readings, readings, readings, uncertainties, uncertainties)
def test_a_better_meter_only_makes_verdicts_firmer(
    one: float, other: float, reading: float, first: float, second: float
) -> None:
    """Inside stays inside and outside stays outside; what was clear with the coarse meter stays clear."""
    low, high = sorted((one, other))
    fine, coarse = sorted((first, second))
    with_fine = RANK[verdict_zone(reading, low, high, fine)]
    with_coarse = RANK[verdict_zone(reading, low, high, coarse)]
    assert (with_fine <= 1) == (with_coarse <= 1)
    if with_coarse in {0, 3}:
        assert with_fine == with_coarse


@given(readings, readings, st.floats(0.01, 20))
def test_acceptance_limits_are_where_the_clear_pass_ends(
    one: float, other: float, uncertainty: float
) -> None:
    low, high = sorted((one, other))
    edge = acceptance_limit(high, uncertainty, guard=1.0, side="upper")
    if edge < acceptance_limit(low, uncertainty, guard=1.0, side="lower"):
        assert not pass_is_possible(low, high, uncertainty) or high - low >= 2 * uncertainty * (1 - 1e-6)
        return
    assert verdict_zone(edge, low, high, uncertainty) == "pass"
    assert verdict_zone(edge + 0.001 * uncertainty, low, high, uncertainty) != "pass"


@given(readings, st.floats(0.01, 10), readings, readings)
def test_probability_of_conformity_is_that_of_the_normal_distribution(
    estimate: float, uncertainty: float, one: float, other: float
) -> None:
    low, high = sorted((one, other))
    expected = norm.cdf(high, estimate, uncertainty) - norm.cdf(low, estimate, uncertainty)
    ours = conformity_probability(estimate, uncertainty, lower=low, upper=high)
    assert ours == pytest.approx(float(expected), abs=1e-9)


@given(st.floats(-2, 4), st.floats(0.5, 4))
def test_false_acceptance_is_the_upper_tail(guard: float, coverage: float) -> None:
    assert false_accept_probability(guard, coverage) == pytest.approx(
        float(norm.sf(guard * coverage)), rel=1e-9
    )


@given(st.floats(0.001, 100))
def test_a_rectangle_has_the_standard_deviation_that_scipy_gives_it(half: float) -> None:
    assert standard_uncertainty(half) == pytest.approx(float(uniform.std(-half, 2 * half)))


@given(readings, readings, st.floats(0, 2), st.floats(0, 10), st.floats(0.001, 1))
def test_a_difference_with_one_meter_is_never_less_certain_than_with_two(
    first: float, second: float, percent: float, digits: float, resolution: float
) -> None:
    """Where both readings have one sign, the error of the scale that they share cancels."""
    one, other = abs(first), abs(second)
    together = difference_uncertainty(
        one, other, percent=percent, digits=digits, resolution=resolution, coverage=2.0
    )
    apart = sum(
        accuracy_half_width(each, percent, digits=digits, resolution=resolution) for each in (one, other)
    )
    assert together <= apart + 1e-9


@pytest.mark.parametrize(
    ("formula", "inputs", "says"),
    [
        (
            acceptance_limit,
            {"limit": 1.0, "uncertainty": 0.1, "guard": 1.0, "side": "left"},
            "'upper' or 'lower'",
        ),
        (relative_half_width, {"half_width": 0.1, "reading": 0.0}, "magnitude"),
        (conformity_probability, {"estimate": 1, "uncertainty": 0.0, "lower": 0, "upper": 2}, "uncertainty"),
        (conformity_probability, {"estimate": 1, "uncertainty": 0.1, "lower": 2, "upper": 0}, "lies above"),
        (accuracy_half_width, {"reading": 1, "percent": -1, "digits": 2, "resolution": 0.1}, "percent"),
        (root_sum_of_squares, {"parts": [1.0, -1.0]}, "parts"),
        (uncertainty_ratio, {"low": 0, "high": 1, "uncertainty": 0}, "uncertainty"),
    ],
)
def test_out_of_range_is_refused_with_what_came(formula, inputs, says):
    with pytest.raises(FormulaError, match=says):
        formula(**inputs)
