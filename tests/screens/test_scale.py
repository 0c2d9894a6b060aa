"""The band as a picture: the mark inside, at the edge, outside, and the numbers at the band's own ends."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from commission.screens.scale import MARK, draw


def test_inside_the_mark_stands_on_the_line_between_the_ends() -> None:
    drawn = draw(0.5, 0.0, 1.0, 0.05, 40, ("0", "1"))
    assert drawn.startswith("0 ├")
    assert drawn.endswith("┤ 1")
    assert abs(drawn.index(MARK) - 20) <= 1


def test_outside_the_numbers_stay_at_the_edges_of_the_band() -> None:
    over = draw(13.2, -1.2, 1.2, None, 50, ("−1.2", "1.2"))
    assert over.index("┤ 1.2") < over.index(MARK)
    assert over.endswith(MARK)
    under = draw(-5.0, 0.0, 1.0, None, 50, ("0", "1"))
    assert under.startswith(MARK)
    assert under.index(MARK) < under.index("0 ├")


def test_a_one_sided_band_is_open_at_its_other_side() -> None:
    assert draw(None, 60.0, None, None, 30, ("60", "")).endswith("→")
    assert draw(None, None, 5.0, None, 30, ("", "5")).startswith("←")
    assert draw(2.0, 60.0, None, None, 40, ("60", "")).startswith(MARK)


def test_no_band_draws_nothing() -> None:
    assert draw(1.0, None, None, None, 40) == ""


@given(
    value=st.floats(-1e6, 1e6),
    low=st.floats(-1e3, 1e3),
    span=st.floats(0.0, 1e3),
    doubt=st.one_of(st.none(), st.floats(0, 1e3)),
    width=st.integers(20, 100),
)
def test_it_always_fits_its_width_and_has_one_mark(
    value: float, low: float, span: float, doubt: float | None, width: int
) -> None:
    drawn = draw(value, low, low + span, doubt, width)
    assert len(drawn) == width
    assert drawn.count(MARK) == 1
    inside = low <= value <= low + span
    assert (drawn[0] == MARK or drawn[-1] == MARK) == (not inside)


@pytest.mark.parametrize("value", [1.0, 100.0])
def test_one_sided_pictures_fit_too(value: float) -> None:
    assert len(draw(value, 10.0, None, 0.1, 33)) == 33
    assert len(draw(value, None, 10.0, 0.1, 33)) == 33


@pytest.mark.parametrize("band", [(-2.4, 2.4), (None, 2.4), (2.4, None)])
@pytest.mark.parametrize("value", [math.inf, -math.inf])
@pytest.mark.parametrize("doubt", [None, 27.0, math.inf])
def test_a_reading_over_the_range_of_the_meter_is_drawn_at_the_end(
    value: float, band: tuple[float | None, float | None], doubt: float | None
) -> None:
    low, high = band
    drawn = draw(value, low, high, doubt, 40)
    assert len(drawn) == 40
    assert drawn.count(MARK) == 1
    outside = (value > 0 and high is not None) or (value < 0 and low is not None)
    assert (drawn[0] == MARK or drawn[-1] == MARK) == outside
    assert (drawn.index(MARK) > 20) == (value > 0)
