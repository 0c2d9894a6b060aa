"""What is typed for a reading, and what becomes of it."""

from __future__ import annotations

import math
from contextlib import suppress
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from commission.errors import EntryError
from commission.visit.entry import read_column, read_entry
from tests.visit.walks import known, reading, step, voltmeter

VOLTS = step("volts").asks[0]
CELLS = step("cells", reading(series="cells"), rows=24).asks


@pytest.mark.parametrize(
    ("typed", "value", "side"),
    [
        pytest.param("54.40", 54.4, "exact", id="digits"),
        pytest.param("54,4", 54.4, "exact", id="decimal comma"),
        pytest.param("54.4V", 54.4, "exact", id="unit without space"),
        pytest.param("1320mV", 1.32, "exact", id="millivolts"),
        pytest.param("-12.1", -12.1, "exact", id="negative"),
        pytest.param(">999", 999.0, "above", id="over"),
        pytest.param("<0.1", 0.1, "below", id="under"),
    ],
)
def test_a_number_is_understood_as_it_is_typed(typed: Any, value: Any, side: Any) -> None:
    """The typed text is kept beside the number, since its digits count."""
    found = read_entry(VOLTS, typed)
    assert found.value == pytest.approx(value)
    assert (found.text, found.unit, found.side) == (typed, "V", side)


def test_over_range_means_the_end_of_the_meters_highest_range() -> None:
    """Without a meter it is only known to be more than anything."""
    assert read_entry(VOLTS, "OL", instrument=voltmeter()).value == 60.0
    assert read_entry(VOLTS, "OL").value == math.inf
    assert read_entry(VOLTS, "OL").side == "above"


def test_a_bare_number_is_in_the_unit_that_the_site_shows() -> None:
    """77 at a site in US units is 77 °F, which is 25 °C; a unit that is typed always holds."""
    ask = step("warm", reading(unit="°C", instrument="thermometer")).asks[0]
    us = read_entry(ask, "77", system="us")
    assert us.value == pytest.approx(25.0)
    assert (us.text, us.unit) == ("77 °F", "°C")
    assert read_entry(ask, "25C", system="us").value == pytest.approx(25.0)
    assert read_entry(ask, "25", system="metric").value == 25.0


@pytest.mark.parametrize(
    ("typed", "system", "says"),
    [
        ("-273.2", "metric", "nothing is colder than −273.15 °C"),
        ("-459.7", "us", "nothing is colder than −459.67 °F"),
        ("-500 F", "metric", "nothing is colder"),
        ("<-300", "metric", "nothing is colder"),
    ],
)
def test_nothing_is_colder_than_absolute_zero(typed: str, system: Any, says: str) -> None:
    """Zero of the Kelvin scale: −273.15 °C, −459.67 °F."""
    ask = step("warm", reading(unit="°C", instrument="thermometer")).asks[0]
    with pytest.raises(EntryError, match=says):
        read_entry(ask, typed, system=system)
    assert read_entry(ask, "-273.15 °C", system=system).value == pytest.approx(-273.15)
    assert read_entry(step("volts").asks[0], "-300").value == -300.0


@pytest.mark.parametrize("typed", ["yes", "Yes", "y", "Y", " y "])
def test_yes(typed: Any) -> None:
    """Plain English, any case."""
    assert read_entry(step("seen", reading(kind="yes or no")).asks[0], typed).value is True


@pytest.mark.parametrize("typed", ["no", "N"])
def test_no(typed: Any) -> None:
    """Plain English, any case."""
    assert read_entry(step("seen", reading(kind="yes or no")).asks[0], typed).value is False


@pytest.mark.parametrize("typed", ["", "j", "1", "true", "maybe"])
def test_neither_yes_nor_no_is_refused(typed: Any) -> None:
    """Nothing is guessed where a wrong answer may hurt."""
    with pytest.raises(EntryError, match="yes or no"):
        read_entry(step("seen", reading(kind="yes or no")).asks[0], typed)


def test_a_choice_is_taken_by_its_beginning_and_a_slip_is_answered() -> None:
    """Begin of a word where it is the only one; else the nearest is named."""
    ask = step("state", reading(kind="choice", choices=("bulk", "absorption", "float", "flooded"))).asks[0]
    assert read_entry(ask, "ABS").value == "absorption"
    assert read_entry(ask, "float").value == "float"
    with pytest.raises(EntryError, match="none of"):
        read_entry(ask, "flo")
    with pytest.raises(EntryError, match="did you mean absorption"):
        read_entry(ask, "absorbtion")


@pytest.mark.parametrize("typed", ["", "abc", "5 A", "--", "54.4\x07"])
def test_nonsense_is_refused_with_what_would_be_right(typed: Any) -> None:
    """Nothing of it is taken."""
    with pytest.raises(EntryError):
        read_entry(VOLTS, typed)


def test_the_unit_of_the_row_above_holds_for_a_bare_number() -> None:
    """1318 under 1320 mV is 1.318 V, not 1318 V."""
    found = read_column(CELLS[:3], ["1320 mV", "1318", "1.319 V"])
    assert [known(row).value for row in found.rows] == pytest.approx([1.320, 1.318, 1.319])


def test_a_skipped_row_stays_empty_and_a_wrong_one_is_told() -> None:
    """The others are taken."""
    found = read_column(CELLS[:4], ["2.11", "", "2x11", "2.12"])
    assert [None if row is None else row.value for row in found.rows] == [2.11, None, None, 2.12]
    assert list(found.wrong) == [2]


def test_a_mean_typed_into_every_row_is_doubted() -> None:
    """24 equal readings warn; a few equal ones, or 24 that differ, do not."""
    assert "mean" in read_column(CELLS, ["2.12"] * 24).warning
    assert not read_column(CELLS, ["2.12"] * 5).warning
    assert not read_column(CELLS, ["2.12"] * 23 + ["2.13"]).warning


def test_more_rows_than_readings_are_refused() -> None:
    """25 rows for 24 cells hide which cell is which."""
    with pytest.raises(EntryError, match="25 rows typed, 24"):
        read_column(CELLS, ["2.12"] * 25)


@given(st.text(max_size=500))
@settings(max_examples=300, deadline=None)
def test_whatever_is_typed_is_taken_or_explained(text: Any) -> None:
    """Never another error than the one that a person reads."""
    for kind in ("number", "yes or no", "text", "choice"):
        ask = step("any", reading(kind=kind, choices=("one", "two"))).asks[0]
        with suppress(EntryError):
            assert "\n" not in read_entry(ask, text).text
