"""Times of a visit: with an offset, in whole minutes, and in years in which something is measured."""

from __future__ import annotations

import pytest
from pydantic import TypeAdapter, ValidationError

from commission.errors import EntryError
from commission.visit.kit import checked
from commission.visit.types import When
from tests.visit.walks import voltmeter

_TIME = TypeAdapter(When)


@pytest.mark.parametrize(
    ("told", "says"),
    [
        ("0001-01-01T00:00:00+14:00", "between the years"),
        ("1899-12-31T23:59:59Z", "between the years"),
        ("9999-12-31T23:59:59-12:00", "between the years"),
        ("2026-05-12T09:36:00", "timezone"),
        ("2026-02-30T09:36:00Z", "datetime"),
        ("2026-05-12T09:36:00+01:00:30", "datetime"),
    ],
)
def test_a_time_that_cannot_be_is_refused(told: str, says: str) -> None:
    """Two minutes after the last moment of the calendar there is none, so it is not taken at all."""
    with pytest.raises(ValidationError, match=says):
        _TIME.validate_json(f'"{told}"')


def test_times_of_these_years_are_taken() -> None:
    for told in ("1900-01-01T00:00:00+14:00", "2026-05-12T09:36:00-07:00", "2999-12-31T23:59:59-12:00"):
        assert _TIME.validate_json(f'"{told}"').isoformat() == told


@pytest.mark.parametrize("day", ["2026-02-30", "2026-13-01", "last year", "0000-01-01"])
@pytest.mark.parametrize("field", ["calibrated", "due"])
def test_a_day_of_calibration_that_does_not_exist_is_refused(field: str, day: str) -> None:
    with pytest.raises(EntryError, match=r"\d{4}-\d\d-\d\d"):
        checked(voltmeter(**{field: day}))
