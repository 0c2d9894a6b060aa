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
