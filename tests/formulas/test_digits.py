"""Digits beside a doubt: the examples of the GUM, and the rule of two digits at every size."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from commission.digits import place_of, three_digits, to_place


@pytest.mark.parametrize(
    ("value", "doubt", "told"),
    [
        pytest.param(10.05762, 0.027, "10.058", id="JCGM 100:2008, 7.2.6: 10.057 62 Ω, u = 27 mΩ"),
        pytest.param(100.02147, 0.00035, "100.02147", id="JCGM 100:2008, 7.2.2: 100.021 47 g, u = 0.35 mg"),
        pytest.param(-0.3749, 6.5, "−0.4", id="by hand"),
        pytest.param(-52.583, 12.0, "−53", id="by hand, whole numbers"),
        pytest.param(12345.0, 1840.0, "12300", id="by hand, hundreds"),
        pytest.param(1.23456, 0.0996, "1.23", id="by hand, 0.0996 is 0.10"),
        pytest.param(-0.001, 0.5, "0.00", id="by hand, no minus before nothing"),
    ],
)
def test_a_number_goes_to_the_place_of_the_second_digit_of_its_doubt(value, doubt, told):
    assert to_place(value, place_of(doubt)) == told


@given(st.floats(1e-9, 1e12))
def test_a_doubt_is_told_with_two_digits_and_within_a_twentieth(doubt):
    """Two significant digits: 10 to 99 of the last place, at most half of one off, so 0.5 of 10."""
    place = place_of(doubt)
    assert place is not None
    steps = round(doubt * 10.0**place)
    assert 10 <= steps <= 99
    assert float(to_place(doubt, place)) == pytest.approx(doubt, rel=0.0501)


@pytest.mark.parametrize("doubt", [0.0, -1.0, float("inf"), float("nan")])
def test_without_a_doubt_there_are_three_digits(doubt):
    assert place_of(doubt) is None
    assert to_place(6.2281, place_of(doubt)) == "6.23"
    assert three_digits(1.1934) == "1.193"
