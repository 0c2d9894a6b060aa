"""A band in words."""

from __future__ import annotations

import pytest

from commission import plain
from commission.figure import Band, given


@pytest.mark.parametrize(
    ("low", "high", "says"),
    [(2.0, 2.0, "2"), (2.0, 3.0, "2 to 3"), (None, 2.0, "at most 2"), (2.0, None, "at least 2")],
)
def test_a_band_of_one_number_is_told_once(low: float | None, high: float | None, says: str) -> None:
    first, last = (None if end is None else given(end, "1", "blocks") for end in (low, high))
    assert plain.band_text(Band(low=first, nominal=None, high=last, unit="1"), "metric") == says


def test_the_size_of_a_cable_is_told_as_it_is_printed_with_limits_in_one_unit() -> None:
    """2/0 AWG is 67.43 mm² (ASTM B258): two per cent either way are no US sizes themselves."""
    low, size, high = (given(area, "mm²", "size") for area in (66.08, 67.43, 68.78))
    band = Band(low=low, nominal=size, high=high, unit="mm²")
    assert plain.band_text(band, "us") == "2/0 AWG, 66.08 to 68.78 mm²"
    assert plain.band_text(band, "metric") == "66.08 to 68.78 mm²"
