"""Trends at the desk: which readings count, what is said, and whether the intervals hold as often as said.

Figures by hand where not said otherwise; the coverage is held to the nominal level by the binomial
distribution.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime, timedelta
from random import Random
from typing import Any

import pytest
from scipy import stats

from commission.checklist.types import ReadingKey
from commission.desk.chart import Mark, chart
from commission.desk.history import limits_of, series_of, trend_of
from commission.desk.outlook import outlook_of
from commission.desk.series import Limit, Point, Trend
from commission.desk.trend import YEAR, trend
from commission.desk.trend_text import drawn as shown
from commission.desk.trend_text import folded, points_lines, said_lines
from commission.desk.watch import ageing_first, comes_to_limit
from commission.visit.types import (
    Drift,
    EarlierReading,
    Instrument,
    Judgement,
    Reading,
    Service,
    Visit,
)

START = datetime(2026, 5, 4, 10, tzinfo=UTC)
END_OF_LIFE = Limit(80.0, "low", "IEEE 450", "end of life")


def points(values: list[float], unit: str = "%", **more: Any) -> list[Point]:
    return [Point(START + place * YEAR, value, unit, **more) for place, value in enumerate(values)]


def said(found: Trend, years: float | None = None) -> str:
    """Return what is said so many years after the first reading; else on the day of the newest."""
    last = found.used[-1].at if found.used else START
    return outlook_of(found, last if years is None else START + years * YEAR)


# what is said


def test_a_falling_reading_is_told_with_slope_interval_and_dates():
    """Ten pairs, 2.5 points a year in the median; five points: the interval is the whole span of slopes."""
    found = trend(points([100.0, 97.0, 95.0, 91.0, 90.0]), [END_OF_LIFE])
    assert found.slope == pytest.approx(-2.5)
    assert (found.slope_low, found.slope_high) == pytest.approx((-4.0, -1.0))
    assert found.probability == pytest.approx(2 / 120)
    assert found.reached is not None
    assert found.reached.earliest is not None
    assert found.reached.middle is not None
    assert found.reached.latest is not None
    assert (found.reached.middle - START) / YEAR == pytest.approx(8.0)  # S355: year 8
    assert (found.reached.earliest - START) / YEAR == pytest.approx(2 + 15 / 4)
    assert (found.reached.latest - START) / YEAR == pytest.approx(2 + 15)
    assert said(found) == (
        "falls 2.5 points a year (1.0 to 4.0, 95 % sure); 80 %, end of life, is reached about May 2034, "
        "between February 2032 and May 2043, if it goes on like this"
    )


@pytest.mark.parametrize(
    ("values", "says"),
    [
        ([], "no reading that can be compared: a trend needs more"),
        ([100.0], "one reading that can be compared: a trend needs more"),
        (
            [100.0, 97.0],
            "changed by −3 points since May 2026; 2 readings, 5 are wanted to say how sure it is",
        ),
        (
            [100.0, 97.0, 94.0, 91.0],
            "so far −3 points a year; 4 readings, 5 are wanted to say how sure it is",
        ),
    ],
)
def test_with_too_few_readings_no_interval_and_no_date_is_given(values, says):
    """Under five points even readings all one way happen by chance more often than once in twenty."""
    found = trend(points(values), [END_OF_LIFE])
    assert found.silence
    assert found.slope_low is None
    assert found.reached is None or found.reached.middle is None
    assert said(found).startswith(says)
    assert "reached about" not in said(found)


def test_a_limit_that_is_passed_is_told_even_with_two_readings():
    found = trend(points([85.0, 78.0]), [END_OF_LIFE])
    assert found.reached is not None
    assert found.reached.when == "reached"
    assert "80 %, end of life, is passed already: 78 % in May 2027" in said(found)


def test_readings_that_go_up_and_down_have_no_trend_and_no_date():
    found = trend(points([90.0, 92.0, 89.0, 91.0, 90.5, 90.0]), [END_OF_LIFE])
    assert said(found).startswith("shows no clear trend: between −")
    assert found.reached is not None
    assert found.reached.latest is None
    assert "is not to be expected before" in said(found)
    assert "about" not in said(found)


def test_a_rise_away_from_a_low_limit_never_comes_there():
    found = trend(points([81.0, 82.0, 83.0, 84.0, 85.0]), [END_OF_LIFE])
    assert found.reached is not None
    assert found.reached.when == "never"
    assert "80 %, end of life, is not approached" in said(found)


def test_a_slow_fall_is_not_given_a_date_in_the_next_century():
    found = trend(points([100.0, 99.9, 99.8, 99.7, 99.6]), [END_OF_LIFE])
    assert found.reached is not None
    assert found.reached.when == "not reached"


def test_of_two_limits_the_one_on_the_way_is_told():
    found = trend(points([5, 6, 7, 8, 9], "V"), [Limit(1, "low", "band"), Limit(20, "high", "band")])
    assert found.reached is not None
    assert found.reached.limit.value == 20
    assert found.reached.middle is not None
    assert (found.reached.middle - START) / YEAR == pytest.approx(15)


FALLS = [100.0, 97.0, 95.0, 91.0, 90.0]
"""By its slope at 80 % in year 8, between years 5.75 and 17; the newest reading is of year 4."""


@pytest.mark.parametrize(
    ("years", "says"),
    [
        pytest.param(
            4, "is reached about May 2034, between February 2032 and May 2043, if it", id="all of it ahead"
        ),
        pytest.param(6, "is reached about May 2034, perhaps already, in May 2043 at the latest", id="begun"),
        pytest.param(8, "is reached about now, perhaps already, in May 2043 at the latest", id="this month"),
        pytest.param(
            8.5,
            "by its slope 80 %, end of life, was to be reached about May 2034 (between February 2032 and "
            "May 2043); the newest reading, 90 % in May 2030, was still inside: read again",
            id="past",
        ),
        pytest.param(30, "was to be reached about May 2034 (between February 2032 and May 2043)", id="gone"),
    ],
)
def test_a_date_is_told_for_the_day_on_which_it_is_asked(years, says):
    """The dates by hand, as in the first test of this file: nothing that is past is still to come."""
    found = trend(points(FALLS), [END_OF_LIFE])
    assert says in said(found, years)
    assert ("was still inside" in said(found, years)) is (years > 8)


def test_a_clock_before_the_newest_reading_counts_as_its_day():
    found = trend(points(FALLS), [END_OF_LIFE])
    assert said(found, -20) == said(found, 4)


def test_a_quick_end_that_is_past_is_told_as_perhaps_there():
    """No clear trend of some 90: its quick end comes to 88 years after the last visit, and then is past."""
    found = trend(points([90.0, 92.0, 89.0, 91.0, 90.5, 90.0]), [Limit(88.0, "low", "by hand")])
    assert found.reached is not None
    assert found.reached.earliest is not None
    quick = (found.reached.earliest - START) / YEAR
    assert 5 < quick < 15
    assert "88 % is not to be expected before" in said(found, quick - 0.2)
    later = said(found, quick + 0.2)
    assert "at the quickest 88 % may be reached by now" in later
    assert "the newest reading, 90 % in May 2031, was still inside" in later


def test_a_line_that_has_passed_a_limit_beside_a_newest_reading_inside_is_told_as_both():
    """100, 95 … 70 fall 5 a year; the last one, 82, lies over the 80 that the line passed in year 4."""
    found = trend(points([100.0, 95.0, 90.0, 85.0, 80.0, 75.0, 82.0]), [END_OF_LIFE])
    assert found.reached is not None
    assert found.reached.when == "dated"
    assert "80 %, end of life, is passed by the line of its readings" in said(found, 6.5)
    assert "the newest reading, 82 % in May 2032, was still inside" in said(found, 6.5)


def test_of_several_limits_that_are_passed_the_last_is_told_and_what_comes_next():
    """Half of 100 MΩ asks to look, a tenth to act: at 40 the first is passed, at 5 the second too."""
    limits = [Limit(50.0, "low", "", "look"), Limit(10.0, "low", "", "act"), Limit(500.0, "high", "")]
    found = trend(points([100.0, 88.0, 76.0, 64.0, 52.0, 40.0], "MΩ"), limits)
    assert found.reached is not None
    assert (found.reached.limit.value, found.reached.when) == (50.0, "reached")
    assert found.then is not None
    assert found.then.limit.value == 10.0  # (100 − 10) ÷ 12 = 7.5 years
    assert "next, 10 MΩ, act, is reached in November 2033, if it goes on like this" in said(found)
    both = trend(points([100.0, 81.0, 62.0, 43.0, 24.0, 5.0], "MΩ"), limits)
    assert both.reached is not None
    assert both.reached.limit.value == 10.0
    assert both.then is None


@pytest.mark.parametrize(
    ("value", "side", "limit", "stands"),
    [
        (90.0, "below", Limit(60.0, "high", ""), "open"),
        (60.0, "below", Limit(60.0, "high", ""), ""),
        (59.0, "above", Limit(60.0, "high", ""), "open"),
        (60.0, "above", Limit(60.0, "high", ""), "reached"),
        (40.0, "above", Limit(45.0, "low", ""), "open"),
        (45.0, "above", Limit(45.0, "low", ""), ""),
        (46.0, "below", Limit(45.0, "low", ""), "open"),
        (45.0, "below", Limit(45.0, "low", ""), "reached"),
    ],
)
def test_a_bound_says_of_a_limit_what_all_values_say_that_it_allows(value, side, limit, stands):
    """``< 90`` may be 50 or 80: beside 60 nothing is known, and no date is 'not before'."""
    found = trend(
        [*points([50.0, 51.0, 50.0, 51.0, 50.0], "µΩ"), Point(START + 5 * YEAR, value, "µΩ", side=side)],
        [limit],
    )
    assert found.reached is not None
    assert (found.reached.when if found.reached.when in {"open", "reached"} else "") == stands
    sign = {"above": ">", "below": "<"}[side]
    words = (
        f"the newest reading, {sign} {value:g} µΩ in May 2031, may lie on either side of {limit.value:g} µΩ"
    )
    assert (words in said(found)) is (stands == "open")
    if stands == "open":
        assert "before" not in said(found)
        assert not comes_to_limit(found, START + 50 * YEAR)
        assert comes_to_limit(found, START, "possible")


def test_beside_a_bound_that_leaves_it_open_the_readings_before_it_keep_their_date():
    """50, 51 … 54 come to 60 µΩ in year 10; < 90 of year 5 says nothing of that."""
    series = [
        *points([50.0, 51.0, 52.0, 53.0, 54.0], "µΩ"),
        Point(START + 5 * YEAR, 90.0, "µΩ", side="below"),
    ]
    found = trend(series, [Limit(60.0, "high", "")])
    assert "may lie on either side of 60 µΩ; by the readings before it 60 µΩ is reached in May 2036" in said(
        found
    )
    assert comes_to_limit(found, START + 10.5 * YEAR)
    one = trend(series[-1:], [Limit(60.0, "high", "")])
    assert "may lie on either side of 60 µΩ" in said(one)


@pytest.mark.parametrize(
    ("values", "unit", "says"),
    [
        # pairs from −4 to −1 by hand above: half-width 1.5, so to a tenth
        pytest.param(FALLS, "%", "falls 2.5 points a year (1.0 to 4.0, 95 % sure)", id="points"),
        # a thousandth of it in V: −2.5 (−4 to −1) mV a year, half-width 1.5 mV
        pytest.param(
            [25.6 + one / 1000 for one in FALLS], "V", "falls 2.5 mV a year (1.0 to 4.0, 95 %", id="volts"
        ),
        # tenfold: −25 (−40 to −10), half-width 15
        pytest.param(
            [10 * one for one in FALLS], "MΩ", "falls 25 MΩ a year (10 to 40, 95 % sure)", id="tens"
        ),
        # the near end of 0.02 beside a half-width of some 15 is no 0, or it would say that nothing may move
        pytest.param(
            [100.0, 99.98, 80.0, 60.0, 30.0],
            "MΩ",
            "falls 20 MΩ a year (0.02 to 30, 95 % sure)",
            id="near none",
        ),
    ],
)
def test_slopes_have_the_digits_that_their_interval_deserves(values, unit, says):
    """Two significant digits of the half-width, all to the same place: JCGM 100:2008, 7.2.6."""
    assert said(trend(points(values, unit))).startswith(says)


def test_what_is_told_fits_a_terminal_of_80_columns_and_loses_no_word():
    at = [*points(FALLS, instrument="ohmic-tester K01-08", verdict="conditional fail")]
    at.append(Point(START + 3 * YEAR, 0.5, "MΩ", instrument="insulation-tester K03-07", temperature=21.0))
    found = trend(at, [END_OF_LIFE])
    for asked in (4, 6, 8, 9, 30):
        lines = [*said_lines(found, START + asked * YEAR), *points_lines(found)]
        shown = list(folded(lines))
        assert max(map(len, shown)) <= 79
        assert " ".join(shown).split() == " ".join(lines).split()


# which readings count


def test_what_cannot_be_compared_is_left_out_with_its_reason():
    series = [
        Point(START - 3 * YEAR, 50.0, "MΩ"),
        Point(START, 40.0, "MΩ", begins=True),
        Point(START + YEAR, 200.0, "MΩ", side="above"),
        Point(START + 2 * YEAR, 3.8, "MΩ", corrected=True),
        Point(START + 2 * YEAR, 38.0, "MΩ"),
        Point(START + 3 * YEAR, 0.037, "GΩ"),
        Point(START + 4 * YEAR, 36.0, "MΩ"),
    ]
    found = trend(series)
    assert [point.value for point in found.used] == [40.0, 38.0, 36.0]
    assert [one.why for one in found.left_out] == [
        "before the new baseline of 2026-05-04",
        "only known to be above 200 MΩ",
        "it was put right by a later entry",
        "read in GΩ, the newest in MΩ",
    ]


def test_a_second_meter_is_left_out_where_the_first_has_enough():
    series = points([100, 98, 96, 94, 92], "V", instrument="m1")
    series.append(Point(START + 5 * YEAR, 80.0, "V", instrument="m2"))
    found = trend(series)
    assert len(found.used) == 5
    assert "read with m2" in found.left_out[0].why
    short = trend(series[2:])
    assert len(short.used) == 4
    assert "different meters" in short.remarks[0]


def test_an_ohmic_value_is_compared_at_like_charge_and_with_a_settled_baseline():
    """Half a year after day one counts: 1.5 × 0.84 = 1.26 mΩ; the one at 40 % charge is no like reading."""
    at = [START, START + timedelta(days=200), *(START + place * YEAR for place in range(1, 7))]
    values = [0.90, 0.84, 0.86, 0.90, 0.94, 0.98, 1.02, 1.40]
    charges = [0.95, 0.98, 0.92, 0.95, 1.00, 0.95, 0.95, 0.40]
    series = [Point(*row[:2], "mΩ", state_of_charge=row[2]) for row in zip(at, values, charges, strict=True)]
    found = trend(series, step="ohmic-value")
    assert [one.why for one in found.left_out] == [
        "of the first half year: provisional",
        "read at 40 % charge, the others about 95 %",
    ]
    assert found.reached is not None
    assert found.reached.limit.value == pytest.approx(1.26)
    assert said(found).startswith("the ohmic value rises")


def test_a_joint_is_compared_at_20_degrees():
    """The same joint of 50 µΩ at 20 °C, read warmer every year, by copper's 0.393 % a kelvin."""
    series = [
        Point(START + place * YEAR, 50.0 * (1 + 0.00393 * (warm - 20)), "µΩ", temperature=warm)
        for place, warm in enumerate([10.0, 15.0, 20.0, 25.0, 30.0])
    ]
    found = trend(series, step="link-resistance")
    assert [point.value for point in found.used] == pytest.approx([50.0] * 5)
    assert found.slope == pytest.approx(0.0, abs=1e-9)
    assert "IEC 60028" in found.corrected_for
    assert found.reached is not None
    assert found.reached.limit.value == pytest.approx(60.0)


def test_the_capacity_of_day_one_does_not_count():
    found = trend(points([103.0, 100.0, 97.0, 94.0, 91.0, 88.0]), step="capacity-test.time")
    assert len(found.used) == 5
    assert "day one" in found.left_out[0].why
    assert said(found).startswith("capacity falls 3 points a year (3 to 3, 95 % sure)")
    assert "end of life, is reached" in said(found)


@pytest.mark.parametrize(
    ("newest", "told"),
    [
        pytest.param({"value": 0.3, "side": "below"}, "< 0.3 MΩ", id="a bound"),
        pytest.param({"value": 3.0, "instrument": "m2"}, "3 MΩ", id="another meter"),
    ],
)
@pytest.mark.parametrize("before", [1, 2, 6])
def test_a_limit_that_the_newest_reading_passed_is_told_though_the_slope_leaves_it_out(newest, told, before):
    """From 120 MΩ to 3 MΩ and less the limit of 60 MΩ is passed, whatever line the earlier ones have."""
    series = points([120.0, 118.0, 121.0, 119.0, 120.0, 122.0][:before], "MΩ", instrument="m1")
    series.append(Point(START + 6 * YEAR, unit="MΩ", **({"instrument": "m1"} | newest)))
    found = trend(series, [Limit(60.0, "low", "half of the baseline")], step="array-insulation.positive")
    assert found.reached is not None
    assert found.reached.when == "reached"
    if newest.get("side") or before == 6:
        words = f"60 MΩ is passed already by the newest reading, {told} in May 2032"
        assert f"{words}, which the slope leaves out" in said(found)


@pytest.mark.parametrize(
    ("earlier", "passed"),
    [
        pytest.param([120.0, 118.0, 121.0, 119.0, 120.0, 122.0], False, id="one cold day"),
        pytest.param([120.0, 108.0, 96.0, 84.0, 72.0, 61.0], True, id="the line is there too"),
        pytest.param([120.0], False, id="two readings"),
    ],
)
def test_a_reading_that_its_visit_found_to_hold_passes_a_limit_only_with_the_line(earlier, passed):
    series = points(earlier, "MΩ")
    series.append(Point(START + len(earlier) * YEAR, 50.0, "MΩ", holds=True))
    found = trend(series, [Limit(60.0, "low", "half of the baseline")])
    assert found.reached is not None
    assert (found.reached.when == "reached") is passed


def test_a_number_after_bounds_only_is_held_against_the_limit():
    series = [Point(START + place * YEAR, 550.0, "MΩ", side="above") for place in range(5)]
    found = trend([*series, Point(START + 5 * YEAR, 3.0, "MΩ")], [Limit(275.0, "low", "half of > 550")])
    assert "275 MΩ is passed already: 3 MΩ in May 2031" in said(found)


@pytest.mark.parametrize(("value", "side"), [(90.0, "below"), (40.0, "above")])
def test_a_bound_that_allows_both_passes_no_limit(value, side):
    series = [*points([50.0] * 5, "µΩ"), Point(START + 5 * YEAR, value, "µΩ", side=side)]
    found = trend(series, [Limit(60.0, "high", "20 % over 50 µΩ"), Limit(30.0, "low", "an end")])
    assert found.reached is not None
    assert found.reached.when != "reached"


def test_a_limit_is_reckoned_from_the_baseline_whichever_meter_read_it():
    """1.5 × 4.1 = 6.15 mΩ, as the visits reckon it; 1.5 × 4.8 of the second meter's first would be 7.2."""
    values = [4.0, 4.1, 4.8, 5.0, 5.2, 5.4, 5.7, 5.9, 6.3]
    series = [
        Point(START + place * YEAR, value, "mΩ", instrument="m1" if place < 2 else "m2")
        for place, value in enumerate(values)
    ]
    found = trend(series, step="ohmic-value")
    assert len(found.used) == 7
    assert found.reached is not None
    assert found.reached.limit.value == pytest.approx(6.15)
    assert found.reached.when == "reached"


def test_a_first_reading_at_another_charge_moves_no_baseline():
    """Half a year runs from day one: 4.4 mΩ of the second year is the baseline, as at the visits."""
    values = [4.0, 4.4, 4.8, 5.0, 5.2, 5.4, 5.7, 5.9]
    series = [
        Point(START + place * YEAR, value, "mΩ", state_of_charge=0.95 if place else 0.7)
        for place, value in enumerate(values)
    ]
    found = trend(series, step="ohmic-value")
    assert found.used[0].value == 4.4
    assert found.reached is not None
    assert found.reached.limit.value == pytest.approx(6.6)


def test_a_slow_end_beyond_our_time_is_not_called_never():
    """All pairs of the interval fall, so the slow end comes there too: 18 points at 0.1 a year."""
    found = trend(points([101.0, 100.9, 100.8, 99.9, 98.9, 97.9]), [END_OF_LIFE])
    assert found.slope_high is not None
    assert found.slope_high < 0.0
    assert found.reached is not None
    assert found.reached.latest is None
    assert "perhaps only decades later" in said(found)


# from visits


def visit(
    place: float,
    value: float,
    *,
    judgement: Judgement | None = None,
    service: Service | None = None,
    more: Sequence[Reading] = (),
) -> Visit:
    at = START + place * YEAR
    readings = [
        reading("battery-temperature", ("bank",), 20.0 + place, "°C", at - timedelta(hours=1)),
        reading("state-of-charge", ("bank",), 90.0, "%", at - timedelta(hours=1)),
        *more,
        reading("link-resistance", ("string-a",), value, "µΩ", at, judgement=judgement),
    ]
    return Visit(
        id=f"v-{place}", site="nowhere", kind="service" if service else "commissioning", started_at=at,
        program="0", instruments=(Instrument(id="low-ohm", kind="low-ohm meter", serial="K-4"),),
        readings=tuple(readings), service=service,
    )  # fmt: skip


def reading(
    step: str,
    parts: tuple[str, ...],
    value: float,
    unit: str,
    at: datetime,
    judgement: Judgement | None = None,
) -> Reading:
    return Reading(
        step=step, parts=parts, kind="number", value=value, text=str(value), unit=unit, measured_at=at,
        entered_at=at, instrument="low-ohm", judgement=judgement,
    )  # fmt: skip


KEY = ReadingKey("link-resistance", ("string-a",))


def test_a_series_is_taken_from_visits_with_conditions_and_meter():
    found = series_of([visit(1, 52.0), visit(0, 50.0)], KEY)
    assert [(point.value, point.temperature, point.state_of_charge) for point in found] == [
        (50.0, 20.0, 0.9),
        (52.0, 21.0, 0.9),
    ]
    assert found[0].instrument == "low-ohm K-4"


def test_a_correction_stays_visible_and_does_not_count():
    wrong = reading("link-resistance", ("string-a",), 520.0, "µΩ", START + YEAR)
    rows = [visit(0, 50.0), visit(1, 52.0, more=[wrong])]
    right = rows[1].readings[-1].model_copy(update={"corrects": True})
    put_right = rows[1].model_copy(update={"readings": (*rows[1].readings[:-1], right)})
    for newest, why in (
        (put_right, "it was put right by a later entry"),
        (rows[1], "read again later at the same visit, which counts"),
    ):
        found = trend_of([rows[0], newest], KEY)
        assert len(found.used) == 2
        assert [one.why for one in found.left_out] == [why]


def earlier(place: float, value: float) -> EarlierReading:
    return EarlierReading(
        step="link-resistance", parts=("string-a",), visit=f"v-{place}", baseline=True, value=value,
        measured_at=START + place * YEAR,
    )  # fmt: skip


def test_a_changed_part_begins_a_new_baseline():
    begun = Service(previous_visit="v-1", previous_at=START, changed=("string-a",))
    later = Service(previous_visit="v-2", previous_at=START, earlier=(earlier(2, 40.0),))
    rows = [visit(0, 50.0), visit(1, 56.0), visit(2, 40.0, service=begun), visit(3, 41.0, service=later)]
    found = trend_of(rows, KEY)
    assert [one.why for one in found.left_out] == ["before the new baseline of 2028-05-03"] * 2
    assert found.reached is not None
    assert found.reached.limit.value == pytest.approx(1.2 * found.used[0].value)
    lost = trend_of([*rows[:2], rows[3]], KEY)
    assert [point.value for point in lost.used] == pytest.approx([41.0 / (1 + 0.00393 * 3)])
    kept = Service(previous_visit="v-2", previous_at=START, earlier=(earlier(1, 56.0),))
    assert len(trend_of([*rows[:2], visit(3, 57.0, service=kept)], KEY).used) == 3


def test_limits_are_those_of_the_drift_else_of_the_newest_band():
    drift = Drift(
        since="baseline", visit="v-0", measured_at=START, before=50.0, now=52.0, change=4.0, unit="%",
        high=20.0, verdict="holds", says="at most 20 % more",
    )  # fmt: skip
    judged = Judgement(verdict="pass", low=10.0, high=90.0, drifts=(drift,))
    found = limits_of([visit(0, 50.0), visit(1, 52.0, judgement=judged)], KEY)
    assert [(one.side, one.value) for one in found] == [("high", 60.0), ("low", 10.0), ("high", 90.0)]
    spread = Judgement(verdict="pass", low=-0.1, high=0.1, compared=0.02)
    assert limits_of([visit(1, 52.0, judgement=spread)], KEY) == ()


@pytest.mark.parametrize(
    ("step", "unit", "change", "ages"),
    [
        pytest.param("battery-temperature", "°C", False, False, id="of the day"),
        pytest.param("irradiance", "W/m²", False, False, id="light"),
        pytest.param("state-of-charge", "%", False, False, id="charge"),
        pytest.param("bulk-current", "A", False, False, id="current of the moment"),
        pytest.param("bank-voltage", "V", False, False, id="voltage as things stood"),
        pytest.param("idle-draw", "A", True, True, id="the checklist limits its change"),
        pytest.param("frame-bond", "Ω", False, True, id="a bond has one limit on every day"),
        pytest.param("insulation-dc", "MΩ", False, True, id="insulation"),
    ],
)
def test_a_date_is_told_only_of_what_age_brings_to_its_limit(step, unit, change, ages):
    """Rising by one a year to 15, beside a band that ends at 18: three years, if age moves it at all."""
    drift = Drift(
        since="baseline", visit="v-0", measured_at=START, before=10.0, now=15.0, change=5.0, unit=unit,
        high=50.0, verdict="holds",
    )  # fmt: skip
    judged = Judgement(verdict="pass", high=18.0, drifts=(drift,) if change else ())
    key = ReadingKey(step, KEY.parts)

    def rows(newest: float) -> list[Visit]:
        values = [10.0, 11.0, 12.0, 13.0, 14.0, newest]
        return [
            visit(place, 52.0, more=[reading(step, KEY.parts, value, unit, START + place * YEAR, judged)])
            for place, value in enumerate(values)
        ]

    found = trend_of(rows(15.0), key)
    assert all(limit.ages is ages for limit in limits_of(rows(15.0), key))
    assert (found.reached is not None) is ages
    assert ("reached" in said(found)) is ages
    over = trend_of(rows(18.5), key)
    assert over.reached is not None
    assert over.reached.when == "reached", "what is over its limit is told of all"
    assert ages or "is over its band, which ends at 18" in said(over)


def test_a_limit_of_change_outlasts_a_visit_that_could_not_compare_and_ends_with_its_part():
    """20 % over 10 A is 12 A for as long as that part is in; of a new part nothing is known yet but 14 A."""
    drift = Drift(
        since="baseline", visit="v-0", measured_at=START, before=10.0, now=10.5, change=5.0, unit="%",
        high=20.0, verdict="holds",
    )  # fmt: skip
    refused = drift.model_copy(update={"verdict": "not compared", "high": None, "says": "not compared: why"})
    key = ReadingKey("idle-draw", ("string-a",))
    new = Service(previous_visit="v-1", previous_at=START, changed=("string-a",))

    def row(
        place: int, value: float, *drifts: Drift, high: float | None = None, service: Service | None = None
    ) -> Visit:
        judged = Judgement(verdict="pass", high=high, drifts=drifts)
        row = reading(key.step, key.parts, value, "A", START + place * YEAR, judged)
        return visit(place, 52.0, service=service, more=[row])

    rows = [row(0, 10.0, high=14.0), row(1, 10.5, drift)]
    kept = limits_of([*rows, row(2, 10.6, refused)], key)
    assert [limit.value for limit in kept] == pytest.approx([12.0, 14.0])
    changed = [*rows, row(2, 13.0, service=new)]
    assert limits_of(changed, key) == ()
    assert trend_of(changed, key).reached is None
    (band,) = limits_of([*rows, row(2, 13.0, high=14.0, service=new)], key)
    assert band.value == 14.0


def test_the_limit_of_a_change_is_named_by_it_and_tells_its_baseline():
    drift = Drift(
        since="baseline", visit="v-0", measured_at=START, before=185.1, now=120.0, change=-35.2, unit="%",
        low=-50.0, verdict="holds", says="−35 ± 12% since the baseline of 2026-05-04; at most −50%",
    )  # fmt: skip
    key = ReadingKey("insulation-ac", KEY.parts)
    row = reading(key.step, KEY.parts, 120.0, "MΩ", START, Judgement(verdict="pass", drifts=(drift,)))
    (limit,) = limits_of([visit(0, 52.0, more=[row])], key)
    assert limit.value == pytest.approx(92.55)
    assert limit.name == "50 % under the baseline"
    assert limit.source == "the checklist; the baseline of 2026-05-04 is 185.1 MΩ"


def test_a_distance_from_the_middle_is_no_limit_of_the_voltage_itself():
    """A block 10 mV off the middle, at most 50 mV further: the voltage of 12.6 V has passed nothing.

    By hand: −0.01 + 0.05 = 0.04 V is a limit of the distance that the drift compared, not of 12.6 V. Where
    the record says that it was a distance, the trend is that of the distance.
    """
    drift = Drift(
        since="baseline", visit="v-0", measured_at=START, before=-0.01, now=0.0, change=0.01, unit="V",
        low=-0.05, high=0.05, verdict="holds",
    )  # fmt: skip
    named = drift.model_copy(update={"compared_as": "distance from the middle", "compared_unit": "V"})
    key = ReadingKey("block-voltage", KEY.parts)
    for one, values, limits in ((drift, [12.59, 12.6], []), (named, [-0.01, 0.0], [-0.06, 0.04])):
        rows = [
            visit(
                place,
                52.0,
                more=[reading(key.step, key.parts, volts, "V", START + place * YEAR, judgement=told)],
            )
            for place, volts, told in ((0, 12.59, None), (1, 12.6, Judgement(verdict="pass", drifts=(one,))))
        ]
        assert [limit.value for limit in limits_of(rows, key)] == pytest.approx(limits)
        found = trend_of(rows, key)
        assert [point.value for point in found.used] == pytest.approx(values)
        assert found.reached is None or found.reached.when == "not told"


# how often the intervals hold


def drawn(random: Random, count: int, slope: float, noise: float) -> list[Point]:
    """A plant that is serviced about once a year: errors of reading of some kinds, sometimes a gross one."""
    return [
        Point(
            START + (place + random.uniform(-0.1, 0.1)) * YEAR,
            100.0 + slope * place + noise * random.gauss(0, 1) * (5 if random.random() < 0.05 else 1),
            "V",
        )
        for place in range(count)
    ]


@pytest.mark.parametrize(("count", "confidence"), [(5, 0.95), (6, 0.9), (8, 0.95), (12, 0.95), (35, 0.95)])
def test_the_slope_lies_in_its_interval_as_often_as_is_said(count, confidence):
    """600 plants, fixed seed: fewer than the nominal share would happen once in a thousand by chance."""
    random = Random(count)
    rounds = 600 if count < 30 else 150
    held = 0
    for _ in range(rounds):
        slope = random.uniform(-4, 1)
        found = trend(drawn(random, count, slope, 1.5), confidence=confidence)
        assert found.slope_low is not None
        assert found.slope_high is not None
        held += found.slope_low <= slope <= found.slope_high
    assert held >= stats.binom.ppf(0.001, rounds, confidence)


@pytest.mark.parametrize("count", [5, 8, 12])
def test_the_date_of_the_limit_lies_between_earliest_and_latest_as_often_as_is_said(count):
    """Doubts of slope and of level together; 600 plants whose limit comes four years after the last visit."""
    random = Random(100 + count)
    held = told = 0
    for _ in range(600):
        slope = random.uniform(-4, -1)
        found = trend(drawn(random, count, slope, 1.0), [Limit(100 + slope * (count + 3), "low", "by hand")])
        reached = found.reached
        if reached is None or reached.when != "dated":
            continue
        told += 1
        true = START + (count + 3) * YEAR
        early = reached.earliest is None or reached.earliest <= true
        held += early and (reached.latest is None or true <= reached.latest)
    assert told > 500
    assert held >= stats.binom.ppf(0.001, told, 0.95), f"{held} of {told}"


# the chart


def marks(values: Sequence[float]) -> list[Mark]:
    return [Mark(START + place * YEAR, value, value < 80) for place, value in enumerate(values)]


@pytest.mark.parametrize("glyphs", ["ascii", "box", "braille"])
@pytest.mark.parametrize(("width", "height"), [(78, 16), (40, 8), (138, 30)])
def test_the_chart_keeps_within_its_size_and_cuts_no_date(glyphs, width, height):
    text = chart(marks([100, 95, 88, 79]), [(80.0, "end of life")], width=width, height=height, glyphs=glyphs)
    rows = text.split("\n")
    assert len(rows) == height
    assert max(map(len, rows)) <= width
    assert rows[-1].split() == ["2026-05-04", "2029-05-04"]
    assert text.count("X") == 1
    assert "end of life" in text
    assert glyphs != "ascii" or text.isascii()


def test_the_chart_puts_readings_where_they_belong():
    rows = chart(marks([100, 90, 79]), [(80.0, "limit")], width=41, height=12, glyphs="ascii").split("\n")
    where = {
        sign: [(line.index(sign, 11), row) for row, line in enumerate(rows) if sign in line[11:]]
        for sign in "oX"
    }
    (first, top), (middle, between) = where["o"]
    ((last, bottom),) = where["X"]
    assert top < between < bottom
    assert (first, last) == (11, 40)
    assert middle == pytest.approx((first + last) / 2, abs=1)


def test_what_does_not_count_has_its_own_sign_and_a_slip_is_not_drawn():
    """Of five readings of 50 µΩ one is another meter's, one only < 90, one > 20, one was typed as 520."""
    series = [
        *points([50.0] * 5, "µΩ", instrument="m1"),
        Point(START + 5 * YEAR, 52.0, "µΩ", instrument="m2"),
        Point(START + 6 * YEAR, 90.0, "µΩ", side="below", instrument="m1"),
        Point(START + 7 * YEAR, 20.0, "µΩ", side="above", instrument="m1"),
        Point(START + 8 * YEAR, 520.0, "µΩ", corrected=True, instrument="m1"),
    ]
    rows = shown(trend(series), (), glyphs="ascii").split("\n")
    body = "".join(row[11:] for row in rows[:-2])
    assert [body.count(sign) for sign in "o.v^X"] == [5, 1, 1, 1, 0]
    assert rows[-1].split()[-1] == f"{START + 7 * YEAR:%Y-%m-%d}"
    assert not any("520" in row for row in rows)


def test_a_meter_is_named_once_where_it_read_all():
    one = list(points_lines(trend(points(FALLS, instrument="ohmic-tester K01-08"))))
    assert one[0] == "points that count, all read with ohmic-tester K01-08"
    assert sum("K01-08" in line for line in one) == 1
    two = trend([*points(FALLS, instrument="m1 A"), Point(START + 5 * YEAR, 80.0, "%", instrument="m2 B")])
    lines = list(points_lines(two))
    assert sum("m1 A" in line for line in lines[:6]) == 5
    assert any(line.endswith("m2 B") for line in lines)


def test_what_ages_stands_before_what_is_read_more_often():
    """A capacity and a bond have limits of age; a capacity read once has no trend yet."""
    names = ["air-temperature@", "capacity-test.time@bank", "protective-conductor@inverter-1", "unknown@x"]
    rows = [{"name": name, "readings": 9 - place} for place, name in enumerate(names)]
    assert [row["name"] for row in ageing_first(rows)] == [names[1], names[2], names[0], names[3]]
    rows[1]["readings"] = 1
    assert [row["name"] for row in ageing_first(rows)] == [names[2], names[0], names[1], names[3]]


@pytest.mark.parametrize("values", [[5.0], [0.0, 0.0], [1e-9, 2e-9], [-5, 1e6]])
def test_the_chart_of_odd_series_is_drawn(values):
    text = chart(marks(values), glyphs="ascii", width=60, height=10)
    assert sum(text.count(sign) for sign in "oX") >= 1
    assert chart([]) == "no reading to draw"
