"""When a service visit is due, by the calendar and by the visits that were made."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from commission.checklist.intervals import ALL, MONTHS, ORDER, Done, at_hand, covered, due, next_due

DATED = sorted(MONTHS, key=ORDER.index)
DAYS = st.dates(date(2000, 1, 1), date(2090, 12, 31))


@pytest.mark.parametrize(
    ("interval", "last", "expected"),
    [
        ("monthly", "2026-01-31", "2026-02-28"),
        ("monthly", "2028-01-31", "2028-02-29"),
        ("quarterly", "2026-11-24", "2027-02-24"),
        ("yearly", "2028-02-29", "2029-02-28"),
        ("two-yearly", "2026-11-24", "2028-11-24"),
        ("monthly", "2026-12-15", "2027-01-15"),
    ],
)
def test_it_is_due_on_the_same_day_of_a_later_month_or_on_its_last(interval, last, expected):
    """By the calendar."""
    assert next_due(interval, date.fromisoformat(last)) == date.fromisoformat(expected)


@given(st.sampled_from(DATED), DAYS)
def test_the_next_date_is_later_and_no_more_than_some_days_off_its_months(interval, last):
    found = next_due(interval, last)
    assert abs((found - last).days - 30.44 * MONTHS[interval]) < 4
    assert found.day == last.day or (found + timedelta(days=1)).day == 1


@given(st.sets(st.sampled_from(ORDER)))
def test_a_longer_visit_covers_the_shorter_ones(wanted):
    """A two-yearly visit is also the yearly, the quarterly and the monthly one."""
    found = covered(wanted)
    assert found >= {"every visit", *wanted}
    longest = max((ORDER.index(one) for one in wanted), default=0)
    assert found == set(ORDER[: longest + 1])


def test_an_interval_is_reckoned_from_the_last_visit_that_covered_it():
    visits = [
        Done(date(2025, 11, 24), ALL),  # commissioning covers all
        Done(date(2026, 2, 20), covered({"quarterly"})),
        Done(date(2026, 6, 1), covered(())),  # a fault call covers none with a date
    ]
    rows = {row.interval: row for row in due(DATED, visits, date(2026, 11, 1))}
    assert {name: row.on.isoformat() for name, row in rows.items()} == {
        "monthly": "2026-03-20",
        "quarterly": "2026-05-20",
        "yearly": "2026-11-24",
        "two-yearly": "2027-11-24",
    }
    assert {name: row.state for name, row in rows.items()} == {
        "monthly": "overdue",
        "quarterly": "overdue",
        "yearly": "due",
        "two-yearly": "coming",
    }
    assert (rows["quarterly"].days, rows["yearly"].days) == (-165, 23)
    assert at_hand(rows.values()) == ("monthly", "quarterly", "yearly")


def test_what_no_visit_has_covered_is_due_today():
    (row,) = due(["yearly", "every visit"], [], date(2026, 11, 1))
    assert (row.last, row.on, row.state) == (None, date(2026, 11, 1), "due")


@given(st.lists(st.tuples(DAYS, st.sets(st.sampled_from(DATED))), max_size=6), DAYS)
def test_a_longer_interval_is_never_due_before_a_shorter_one(made, today):
    """What covers the long one covers the short one too, so the short one's last visit is never earlier."""
    visits = [Done(on, covered(wanted)) for on, wanted in made]
    lasts = [row.last or date.min for row in due(DATED, visits, today)]
    assert lasts == sorted(lasts, reverse=True)


@given(st.lists(st.tuples(DAYS, st.sets(st.sampled_from(DATED))), max_size=6), DAYS, DAYS)
def test_one_more_visit_never_brings_a_date_nearer(made, more, today):
    visits = [Done(on, covered(wanted)) for on, wanted in made]
    before = due(DATED, [Done(date(2000, 1, 1), ALL), *visits], today)
    after = due(DATED, [Done(date(2000, 1, 1), ALL), *visits, Done(more, ALL)], today)
    assert all(one.on <= other.on for one, other in zip(before, after, strict=True))
