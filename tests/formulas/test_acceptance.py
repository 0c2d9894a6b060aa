"""Limits of acceptance and service: joints, ohmic values, spreads, strings to be joined."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from commission.errors import FormulaError
from commission.formulas.acceptance import (
    EQUALIZE_BELOW,
    GRAVITY_STEPS,
    JOINT_SPREAD,
    OHMIC_STEPS,
    SERVICE_RISE,
    connection_resistance_limit,
    deviation_from_mean,
    float_deviation_limit,
    highest_over_lowest,
    joining_current,
    resistance_limit,
    rise_over_baseline,
    step_reached,
    voltage_match_limit,
)
from tests.formulas.worked import Row, assert_no_number_passes_as_one, row

JOINTS = "mean + 10 % or + 5 µΩ of a stationary maker's sheet, from memory"
OHMIC = "ohmic steps of 20, 30 and 50 %, from memory"
SQUARE_ROOT = "ZVEI leaflet practice, square-root rule, from memory"

ROWS = [
    row("joint risen from 32 to 40 µΩ", rise_over_baseline, 25.0, 0.1, "baseline + 20 %, from memory",
        in_unit="%",
        reading=40e-6, baseline=32e-6),
    row("limit where 5 µΩ is the greater", connection_resistance_limit, 46.0, 0.05, JOINTS, in_unit="µΩ",
        mean=41e-6),
    row("limit where 10 % is the greater", connection_resistance_limit, 77.0, 0.05, JOINTS, in_unit="µΩ",
        mean=70e-6),
    row("ohmic value risen to 1.12 mΩ", rise_over_baseline, 31.8, 0.1, OHMIC, in_unit="%",
        reading=1.12e-3, baseline=0.85e-3),
    row("ohmic value risen to 1.3 mΩ", rise_over_baseline, 52.9, 0.1, OHMIC, in_unit="%",
        reading=1.3e-3, baseline=0.85e-3),
    row("highest joint over the lowest", highest_over_lowest, 55.0, 0.1,
        "ANSI/NETA ATS 7.18.1, 50 %, from memory",
        in_unit="%", highest=31e-6, lowest=20e-6),
    row("vented block of 6 V above the mean", float_deviation_limit, 0.17, 0.005, SQUARE_ROOT,
        deviation=0.10, cells=3),
    row("vented block of 6 V below the mean", float_deviation_limit, -0.09, 0.005, SQUARE_ROOT,
        deviation=-0.05, cells=3),
    row("vented block of 12 V above the mean", float_deviation_limit, 0.24, 0.005, SQUARE_ROOT,
        deviation=0.10, cells=6),
    row("vented block of 12 V below the mean", float_deviation_limit, -0.12, 0.005, SQUARE_ROOT,
        deviation=-0.05, cells=6),
    row("sealed block of 6 V above the mean", float_deviation_limit, 0.35, 0.005, SQUARE_ROOT,
        deviation=0.20, cells=3),
    row("sealed block of 6 V below the mean", float_deviation_limit, -0.17, 0.005, SQUARE_ROOT,
        deviation=-0.10, cells=3),
    row("sealed block of 12 V above the mean", float_deviation_limit, 0.49, 0.005, SQUARE_ROOT,
        deviation=0.20, cells=6),
    row("sealed block of 12 V below the mean", float_deviation_limit, -0.24, 0.005, SQUARE_ROOT,
        deviation=-0.10, cells=6),
    row("lead strings of 48 V to be joined", voltage_match_limit, 0.24, 1e-9,
        "0.5 % of nominal, common practice",
        share=0.005, nominal_voltage=48),
    row("current when a string is joined", joining_current, 34.615, 0.05,
        "difference ÷ resistance, from memory",
        difference=0.9, resistance=0.026),
    row("joint in service 20 % over 32 µΩ", resistance_limit, 38.4, 1e-9, "by hand", in_unit="µΩ",
        baseline=32e-6, rise=0.20),
    row("string that takes a tenth less", deviation_from_mean, -0.10, 1e-9, "by hand", value=27, mean=30),
]  # fmt: skip

resistances = st.floats(1e-6, 1e-2)


@pytest.mark.parametrize("row", ROWS)
def test_worked_example(row: Row) -> None:
    assert row.value() == pytest.approx(row.expected, abs=row.tolerance)


@pytest.mark.parametrize("row", ROWS)
def test_what_is_not_a_number_is_refused(row: Row) -> None:
    assert_no_number_passes_as_one(row)


def test_a_joint_a_quarter_over_its_baseline_is_remade():
    # baseline + 20 %; from memory
    assert rise_over_baseline(40e-6, 32e-6) > SERVICE_RISE
    assert resistance_limit(32e-6, SERVICE_RISE) < 40e-6


@pytest.mark.parametrize(
    ("mean", "reading", "accepted"),
    [
        # mean + 10 % or + 5 µΩ, whichever is greater; from memory
        pytest.param(41.0e-6, 45.8e-6, True, id="45.8 beside 41 µΩ"),
        pytest.param(70.0e-6, 78.0e-6, False, id="78 beside 70 µΩ"),
    ],
)
def test_new_joints_are_accepted_up_to_the_greater_allowance(mean, reading, accepted):
    assert (reading <= connection_resistance_limit(mean)) is accepted


@pytest.mark.parametrize(
    ("reading", "expected"),
    [
        # ohmic steps of 20, 30 and 50 % over 0.85 mΩ; from memory
        pytest.param(0.95e-3, "", id="12 % over"),
        pytest.param(1.05e-3, "watch", id="24 % over"),
        pytest.param(1.12e-3, "investigate", id="32 % over"),
        pytest.param(1.30e-3, "replace", id="53 % over"),
    ],
)
def test_ohmic_value_calls_for_its_step(reading, expected):
    assert step_reached(rise_over_baseline(reading, 0.85e-3), OHMIC_STEPS) == expected


@pytest.mark.parametrize(
    ("spread", "expected"),
    [
        # three steps of an off-grid bank's gravity; US Army TM 5-3740-214-14 and dealers' practice
        pytest.param(0.010, "", id="alike"),
        pytest.param(0.015, "", id="exactly on the first step"),
        pytest.param(0.020, "watch", id="drifting"),
        pytest.param(0.031, "equalise", id="equalise"),
        pytest.param(0.060, "replace", id="cell beyond help"),
    ],
)
def test_gravity_spread_calls_for_its_step(spread, expected):
    assert step_reached(spread, GRAVITY_STEPS) == expected


def test_a_cell_at_212_on_float_is_equalised_at_once():
    # IEEE 450-1987, 4.4, cells of 1.215: under 2.13 V
    assert 2.12 < EQUALIZE_BELOW == pytest.approx(2.13)


def test_a_sealed_block_under_the_mean_by_more_than_the_rule_is_out_of_spread():
    # float spread of sealed 12 V blocks; from memory
    low = 13.62 + float_deviation_limit(-0.10, 6)
    assert low == pytest.approx(13.38, abs=0.01)
    assert low > 13.30


def test_joints_half_as_much_again_as_the_lowest_are_looked_into():
    # ANSI/NETA ATS 7.18.1; from memory
    assert highest_over_lowest(31e-6, 20e-6) > JOINT_SPREAD


@pytest.mark.parametrize(
    ("call", "says"),
    [
        pytest.param(lambda: connection_resistance_limit(0), "mean = 0", id="no mean"),
        pytest.param(lambda: rise_over_baseline(40e-6, 0), "baseline = 0", id="no baseline"),
        pytest.param(lambda: resistance_limit(32e-6, -0.2), "rise = -0.2", id="fall"),
        pytest.param(lambda: highest_over_lowest(20e-6, 31e-6), "must not be under", id="swapped"),
        pytest.param(lambda: float_deviation_limit(0.1, 0), "cells = 0", id="block without cells"),
        pytest.param(lambda: deviation_from_mean(27, 0), "must carry current", id="idle strings"),
        pytest.param(lambda: voltage_match_limit(0.005, 0), "nominal_voltage = 0", id="no voltage"),
        pytest.param(lambda: joining_current(0.9, 0), "resistance = 0", id="no resistance"),
        pytest.param(lambda: joining_current(-0.9, 0.026), "difference = -0.9", id="signed difference"),
    ],
)
def test_out_of_range_is_refused_with_what_came(call, says):
    with pytest.raises(FormulaError, match=says):
        call()


@given(mean=resistances)
def test_a_new_joint_is_never_allowed_less_than_either_allowance(mean):
    limit = connection_resistance_limit(mean)
    assert limit >= 1.1 * mean
    assert limit >= mean + 5e-6
    assert limit == pytest.approx(1.1 * mean) or limit == pytest.approx(mean + 5e-6)


@given(baseline=resistances, rise=st.floats(0.0, 3.0))
def test_the_limit_lies_at_the_rise_that_it_stands_for(baseline, rise):
    assert rise_over_baseline(resistance_limit(baseline, rise), baseline) == pytest.approx(rise, abs=1e-9)


@given(deviation=st.floats(-0.3, 0.3), cells=st.integers(1, 6))
def test_square_root_rule_adds_the_deviations_of_cells_as_independent_ones(deviation, cells):
    together = math.hypot(*([deviation] * cells))
    assert abs(float_deviation_limit(deviation, cells)) == pytest.approx(together)


@given(first=st.floats(0.0, 1.0), second=st.floats(0.0, 1.0))
def test_a_greater_rise_never_calls_for_a_milder_step(first, second):
    order = ["", "watch", "investigate", "replace"]
    low, high = sorted((first, second))
    assert order.index(step_reached(low, OHMIC_STEPS)) <= order.index(step_reached(high, OHMIC_STEPS))
