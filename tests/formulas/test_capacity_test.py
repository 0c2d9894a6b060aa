"""Capacity tests: the two tables of IEEE 450, and the rule of IEC 60896-11."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from commission.errors import FormulaError
from commission.formulas.capacity_test import (
    RATE_FACTORS,
    REPLACE_BELOW,
    TEST_YEARLY_BELOW,
    TIME_FACTORS,
    capacity_share,
    iec_corrected_capacity,
    rate_adjusted_capacity,
    rate_adjusted_current,
    rate_factor,
    time_adjusted_capacity,
    time_factor,
)
from tests.formulas.worked import Row, assert_no_number_passes_as_one, fahrenheit, hours, row

TIME = "time-adjusted, factors as transcribed from IEEE 450, from memory"
RATE = "rate-adjusted, factors as transcribed from IEEE 450, from memory"

ROWS = [
    row("six and a half of eight hours at 60 °F", time_adjusted_capacity, 92.1, 0.3, TIME, in_unit="%",
        actual_time=hours(6.5), rated_time=hours(8), temperature=fahrenheit(60)),
    row("a bank at the reference temperature", time_adjusted_capacity, 90.0, 0.1, TIME, in_unit="%",
        actual_time=hours(7.2), rated_time=hours(8), temperature=fahrenheit(77)),
    row("a bank to be replaced", time_adjusted_capacity, 73.3, 0.3, TIME, in_unit="%",
        actual_time=hours(2.1), rated_time=hours(3), temperature=fahrenheit(70)),
    row("test current at 65 °F", rate_adjusted_current, 370.4, 0.3, RATE,
        published_current=400, temperature=fahrenheit(65)),
    row("capacity at 65 °F", rate_adjusted_capacity, 93.0, 0.2, RATE, in_unit="%",
        test_current=370.4, published_current=430, temperature=fahrenheit(65)),
    row("465 Ah at 12 °C", iec_corrected_capacity, 488.4, 0.2, "IEC 60896-11, from memory",
        capacity=465, temperature=12, coefficient=0.006),
    row("488.4 of 500 Ah", capacity_share, 97.7, 0.2, "IEC 60896-11, from memory", in_unit="%",
        capacity=488.4, rated_capacity=500),
    row("395 of 500 Ah", capacity_share, 79.0, 0.1, "US Reclamation FIST 3-6, 80 %, from memory", in_unit="%",
        capacity=395, rated_capacity=500),
    row("rate factor at 68 °F", rate_factor, 1.056, 0.0005, "IEEE 450 and 485, as transcribed",
        temperature=fahrenheit(68)),
    row("rate factor between two rows", rate_factor, 1.095, 1e-9, "mean of 1.11 and 1.08 by hand",
        temperature=fahrenheit(62.5)),
    row("time factor at 60 °F", time_factor, 0.882, 0.0005, "IEEE 450, as transcribed",
        temperature=fahrenheit(60)),
    row("time factor between two rows", time_factor, 0.931, 1e-9, "mean of 0.920 and 0.942 by hand",
        temperature=fahrenheit(66.5)),
]  # fmt: skip

within = st.floats(4.5, 48.8)


@pytest.mark.parametrize("row", ROWS)
def test_worked_example(row: Row) -> None:
    assert row.value() == pytest.approx(row.expected, abs=row.tolerance)


@pytest.mark.parametrize("row", ROWS)
def test_what_is_not_a_number_is_refused(row: Row) -> None:
    assert_no_number_passes_as_one(row)


@pytest.mark.parametrize(
    ("share", "replace", "yearly"),
    [
        # limits of IEEE 450 and of US Reclamation FIST 3-6, 1997, page 27
        pytest.param(time_adjusted_capacity(hours(2.1), hours(3), fahrenheit(70)), True, True, id="73 %"),
        pytest.param(capacity_share(395, 500), True, True, id="79 %"),
        pytest.param(capacity_share(400, 500), False, True, id="exactly 80 %"),
        pytest.param(capacity_share(449, 500), False, True, id="just under 90 %"),
        pytest.param(capacity_share(488.4, 500), False, False, id="98 %"),
    ],
)
def test_shares_at_which_a_bank_is_replaced_or_tested_yearly(share, replace, yearly):
    assert (share < REPLACE_BELOW) is replace
    assert (share < TEST_YEARLY_BELOW) is yearly


@pytest.mark.parametrize(
    ("call", "says"),
    [
        pytest.param(lambda: rate_factor(0.0), "from 4.4 to 48.9 °C", id="colder than the table"),
        pytest.param(lambda: time_factor(77.0), "from 4.4 to 48.9 °C", id="temperature typed in °F"),
        pytest.param(lambda: time_adjusted_capacity(600, 900, 25), "rate-adjusted", id="under an hour"),
        pytest.param(lambda: time_adjusted_capacity(-1, 3600, 25), "actual_time = -1", id="negative time"),
        pytest.param(lambda: rate_adjusted_current(0, 25), "published_current = 0", id="no current"),
        pytest.param(lambda: rate_adjusted_capacity(400, 0, 25), "published_current = 0",
                     id="nothing published"),
        pytest.param(lambda: iec_corrected_capacity(465, -90, 0.010), "too cold", id="beyond the rule"),
        pytest.param(lambda: iec_corrected_capacity(465, 12, -0.006), "coefficient = -0.006",
                     id="wrong sign"),
        pytest.param(lambda: capacity_share(395, 0), "rated_capacity = 0", id="no rating"),
    ],
)  # fmt: skip
def test_out_of_range_is_refused_with_what_came(call, says):
    with pytest.raises(FormulaError, match=says):
        call()


def test_both_tables_have_the_same_temperatures_and_pass_through_one_at_the_reference():
    assert [row[0] for row in RATE_FACTORS] == [row[0] for row in TIME_FACTORS]
    assert dict(RATE_FACTORS)[77.0] == dict(TIME_FACTORS)[77.0] == 1.0


def test_the_tables_are_not_reciprocals_of_each_other():
    # at 60 °F: 1 ÷ 1.11 is 0.901, the table of the other method says 0.882
    assert 1 / rate_factor(fahrenheit(60)) - time_factor(fahrenheit(60)) == pytest.approx(0.019, abs=0.0005)


def test_every_row_of_the_tables_leads_the_same_way():
    for (_, colder), (_, warmer) in pairwise(RATE_FACTORS):
        assert warmer < colder
    for (_, colder), (_, warmer) in pairwise(TIME_FACTORS):
        assert warmer > colder


@given(first=within, second=within)
def test_the_same_discharge_from_a_colder_bank_proves_no_less_capacity(first, second):
    cold, warm = sorted((first, second))
    assert time_adjusted_capacity(hours(5), hours(8), cold) >= time_adjusted_capacity(
        hours(5), hours(8), warm
    )
    assert rate_adjusted_capacity(300, 400, cold) >= rate_adjusted_capacity(300, 400, warm)
    assert iec_corrected_capacity(400, cold, 0.006) >= iec_corrected_capacity(400, warm, 0.006)


@given(temperature=within, published=st.floats(1.0, 1000.0))
def test_a_sound_bank_at_the_adjusted_current_shows_its_full_capacity(temperature, published):
    current = rate_adjusted_current(published, temperature)
    assert rate_adjusted_capacity(current, published, temperature) == pytest.approx(1.0)


@given(capacity=st.floats(1.0, 2000.0), temperature=st.floats(-10.0, 50.0))
def test_correction_to_20_degrees_can_be_undone(capacity, temperature):
    corrected = iec_corrected_capacity(capacity, temperature, 0.006)
    assert corrected + corrected * 0.006 * (temperature - 20) == pytest.approx(capacity)
