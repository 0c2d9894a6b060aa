"""The verdict on a reading: four zones, danger, doubt, and everything that keeps it from being judged."""

from __future__ import annotations

import math
from datetime import timedelta
from typing import Any

import pytest
from hypothesis import given as example
from hypothesis import settings
from hypothesis import strategies as st

from commission.checklist.situation import Situation
from commission.checklist.types import Ask, Expected, NotJudged, Observation, ReadingKey, Waits
from commission.errors import FormulaError
from commission.figure import Band, Figure, given
from commission.visit.entry import Typed, read_entry
from commission.visit.judge import judge
from commission.visit.types import Accuracy, Instrument, Judgement
from tests.visit.walks import NOON, reading, sheet, small_plant, step, voltmeter, walk


def limit(value: float | None, name: str = "limit", unit: str = "V") -> Figure | None:
    return None if value is None else given(value, unit, name, source="common practice")


def band(low: float | None = None, high: float | None = None, unit: str = "V", **stops: float) -> Band:
    """Return a band; ``stop_below`` and ``stop_above`` as numbers."""
    ends = {name: limit(value, name, unit) for name, value in stops.items()}
    return Band(limit(low, "low", unit), None, limit(high, "high", unit), unit, **ends)


def judged(
    typed: str,
    expected: Any,
    *,
    kit: tuple[Instrument, ...] = (voltmeter(),),
    by: str | None = "meter-1",
    others: tuple[Observation, ...] = (),
    days: float = 0.0,
    **fields: Any,
) -> Judgement:
    """Judge what was typed against an expectation, or one that does not depend on anything."""
    step_fields = {name: fields.pop(name) for name in ("stops_work",) if name in fields}
    made = step("volts", reading(**fields), **step_fields)
    ask = made.asks[0]
    moment = NOON + timedelta(days=days)
    known = {instrument.id: instrument for instrument in kit}
    entry = read_entry(ask, typed, instrument=known.get(by or ""))
    situation = Situation(
        small_plant(),
        sheet(),
        walk(made),
        made,
        ask,
        moment,
        lambda key: next((item for item in others if item.key == key), None),
        lambda *_: None,
        _observed(ask, entry, moment, by),
    )
    expect = expected if callable(expected) else (lambda _: expected)
    return judge(situation, entry, known, expect)


def _observed(ask: Ask, entry: Typed, moment: Any, instrument: str | None) -> Observation:
    value = entry.value if isinstance(entry.value, float) else 0.0
    return Observation(
        ask.key, given(value, entry.unit, "reading", kind="reading", where="volts"), moment, instrument
    )


def other(name: str, value: float, instrument: str | None = "meter-1") -> Observation:
    """Return another reading of now."""
    return Observation(ReadingKey(name), given(value, "V", name, kind="reading"), NOON, instrument)


SETPOINT = Expected(band(54.2, 54.6), "one source at a time")


@pytest.mark.parametrize(
    ("typed", "verdict"),
    [
        pytest.param("54.45", "pass", id="inside TL - U"),
        pytest.param("54.58", "conditional pass", id="between TL - U and TL"),
        pytest.param("54.62", "conditional fail", id="between TL and TL + U"),
        pytest.param("54.7", "fail", id="beyond TL + U"),
        pytest.param("54.1", "fail", id="beyond the lower limit"),
    ],
)
def test_the_four_verdicts_of_a_setpoint(typed: Any, verdict: Any) -> None:
    """ILAC-G8:09/2019, 4.2.3: 54.2 to 54.6 V with 0.05 % + 2 digits of 0.01 V, U = 0.0545 V."""
    found = judged(typed, SETPOINT)
    assert found.verdict == verdict
    assert found.uncertainty == pytest.approx(0.0545, abs=2e-4)


def test_a_small_deviation_close_to_its_limit_is_a_conditional_pass() -> None:
    """ILAC-G8, 4.2.3, with published numbers: deviation 0.0025, U = 0.001, limit 0.003."""
    digit = 0.001 * math.sqrt(3.0) / 2.0
    exact = voltmeter(ranges=(Accuracy(unit="V", up_to=1.0, digits=1, resolution=digit),))
    found = judged("0.0025", Expected(band(None, 0.003)), kit=(exact,))
    assert found.verdict == "conditional pass"
    assert found.uncertainty == pytest.approx(0.001)


def test_a_coarse_meter_gives_no_clear_pass_and_says_so() -> None:
    """0.5 % + 2 digits at 54.4 V: U is more than half of the 0.4 V band; the band is not widened."""
    coarse = voltmeter(ranges=(Accuracy(unit="V", up_to=60.0, percent=0.5, digits=2, resolution=0.01),))
    found = judged("54.4", SETPOINT, kit=(coarse,))
    assert found.verdict == "conditional pass"
    assert "meter too coarse for this band" in found.says
    assert judged("54.65", SETPOINT, kit=(coarse,)).verdict == "conditional fail"


@pytest.mark.parametrize(("typed", "high"), [("54.6", 54.6), ("0.3", 0.1 + 0.2), ("57.6", 24 * 2.4)])
def test_exactly_on_a_limit_counts_as_inside(typed: Any, high: Any) -> None:
    """Rounding of the machine included: 0.1 + 0.2 is not 0.3 for it."""
    for limits in (band(None, high), band(high, None)):
        assert judged(typed, Expected(limits), kit=(), by=None, instrument="display").verdict == "pass"


def test_a_reading_of_a_display_or_by_eye_is_taken_as_shown() -> None:
    """The device's own error is part of its band; four packs are four packs."""
    four = Expected(band(4.0, 4.0, "1"))
    found = judged("4", four, kit=(), by=None, instrument="eye", unit="1")
    assert (found.verdict, found.uncertainty) == ("pass", 0.0)
    assert judged("3", four, kit=(), by=None, instrument="eye", unit="1").verdict == "fail"


# doubt


def test_without_a_meter_there_is_no_clear_pass() -> None:
    """Doubt never helps: inside is conditional at best, outside is a fail and not a conditional one."""
    inside = judged("54.4", SETPOINT, kit=(), by=None)
    assert (inside.verdict, inside.uncertainty) == ("conditional pass", None)
    assert "no meter named" in inside.says
    assert judged("54.61", SETPOINT, kit=(), by=None).verdict == "fail"


def test_a_meter_of_unknown_accuracy_or_beyond_its_range_gives_no_clear_pass() -> None:
    """The reason is told."""
    untold = judged("54.4", SETPOINT, kit=(voltmeter(ranges=()),))
    assert untold.verdict == "conditional pass"
    assert "accuracy of meter 1 is not told" in untold.says
    beyond = judged("61", Expected(band(50.0, 70.0)))
    assert beyond.verdict == "conditional pass"
    assert "reads to 60 V at most" in beyond.says


def test_a_meter_past_its_calibration_gives_no_clear_pass_and_a_fail_stays_a_fail() -> None:
    """ISO/IEC 17025, 7.10 in spirit: the reading stands but cannot support a clear pass."""
    old = voltmeter(calibrated="2025-03-01")
    found = judged("54.4", SETPOINT, kit=(old,))
    assert found.verdict == "conditional pass"
    assert "meter 1 is past its calibration" in found.says
    assert judged("54.9", SETPOINT, kit=(old,)).verdict == "fail"
    assert judged("54.4", SETPOINT, kit=(voltmeter(),), days=100.0).verdict == "conditional pass"


# one-sided values


@pytest.mark.parametrize(
    ("typed", "low", "high", "verdict"),
    [
        pytest.param("OL", 1.0, None, "pass", id="insulation over range"),
        pytest.param(">58", 1.0, None, "pass", id="more than enough"),
        pytest.param(">0.5", 1.0, None, "not judged", id="more than less than enough"),
        pytest.param("OL", None, 1.0, "fail", id="over range where little is wanted"),
        pytest.param(">0.5", None, 1.0, "not judged", id="may be either side"),
        pytest.param("<0.1", None, 1.0, "pass", id="less than the limit"),
        pytest.param("<2", None, 1.0, "not judged", id="less than more than the limit"),
        pytest.param("<0.5", 1.0, None, "fail", id="less than the least"),
        pytest.param(">55", 54.2, 54.6, "fail", id="beyond a band"),
        pytest.param(">54", 54.2, 54.6, "not judged", id="somewhere above the lower part"),
    ],
)
def test_a_one_sided_value_is_judged_where_it_cannot_lie_on_both_sides(
    typed: Any, low: Any, high: Any, verdict: Any
) -> None:
    """OL, > and < hold a side, not a number."""
    assert judged(typed, Expected(band(low, high))).verdict == verdict


def test_over_range_without_a_meter_is_more_than_anything() -> None:
    """It fails an upper limit, and passes a lower one on condition that the meter is told."""
    assert judged("OL", Expected(band(None, 60.0)), kit=(), by=None).verdict == "fail"
    found = judged("OL", Expected(band(1.0, None)), kit=(), by=None)
    assert (found.verdict, found.margin) == ("conditional pass", None)


def test_a_one_sided_value_is_not_compared_with_others() -> None:
    """A spread of 'more than' is no number."""
    expected = Expected(band(None, 1.0), compared=given(0.1, "V", "spread"))
    found = judged(">2", expected)
    assert found.verdict == "not judged"
    assert "'>2'" in found.says


# danger


@pytest.mark.parametrize(
    ("typed", "verdict"),
    [("59.9", "fail"), ("59.96", "stop work"), ("60.0", "stop work"), ("60.5", "stop work")],
)
def test_work_stops_when_the_reading_may_have_reached_the_limit(typed: Any, verdict: Any) -> None:
    """U = 0.0577 V at 60 V: 59.9 + U stays under the ceiling of 60 V, 59.96 + U does not."""
    expected = Expected(band(50.0, 58.0, stop_above=60.0))
    wide = voltmeter(ranges=(Accuracy(unit="V", up_to=100.0, percent=0.05, digits=2, resolution=0.01),))
    assert judged(typed, expected, kit=(wide,)).verdict == verdict


def test_work_stops_at_the_low_end_likewise() -> None:
    """A lithium cell under its limit."""
    expected = Expected(band(2.8, 3.6, stop_below=2.5))
    assert judged("2.52", expected).verdict == "stop work"
    assert judged("2.7", expected).verdict == "fail"


def test_where_no_meter_is_named_an_ordinary_one_is_assumed_to_guard_against_danger() -> None:
    """0.5 % + 2 digits at 59.8 V is U = 0.37 V: the ceiling may be reached."""
    expected = Expected(band(50.0, 59.9, stop_above=60.0))
    assert judged("59.8", expected, kit=(), by=None).verdict == "stop work"
    assert judged("59.5", expected, kit=(), by=None).verdict == "conditional pass"


def test_more_than_something_may_always_have_reached_a_ceiling() -> None:
    """A one-sided value toward danger stops work."""
    expected = Expected(band(50.0, 58.0, stop_above=60.0))
    assert judged(">40", expected).verdict == "stop work"
    assert judged("<40", Expected(band(50.0, None, stop_below=45.0))).verdict == "stop work"
    assert judged("OL", Expected(band(50.0, None, stop_below=45.0)), kit=(), by=None).verdict != ("stop work")


def test_a_stop_limit_alone_lets_other_readings_be_recorded() -> None:
    """Nothing else is expected of them."""
    assert judged("40", Expected(band(stop_above=60.0))).verdict == "recorded"


def test_a_step_that_stops_work_turns_a_fail_into_stop_work() -> None:
    """A circuit that is not dead."""
    assert judged("61", Expected(band(None, 50.0)), stops_work=True).verdict == "stop work"
    assert judged("50.01", Expected(band(None, 50.0)), stops_work=True).verdict == "conditional fail"


# yes and no, words, what informs only


@pytest.mark.parametrize(
    ("typed", "wants", "stops", "verdict"),
    [
        ("yes", "yes", False, "pass"),
        ("no", "yes", False, "fail"),
        ("no", "no", False, "pass"),
        ("yes", "no", True, "stop work"),
    ],
)
def test_an_answer_is_right_or_wrong(typed: Any, wants: Any, stops: Any, verdict: Any) -> None:
    """The answer that passes is part of the step."""
    found = judged(typed, None, kind="yes or no", wants=wants, stops_work=stops, kit=(), by=None)
    assert found.verdict == verdict


def test_a_text_or_a_number_of_which_nothing_is_expected_is_recorded() -> None:
    """With the meter's uncertainty, so that a later visit can compare."""
    assert judged("three spares", None, kind="text", kit=(), by=None).verdict == "recorded"
    found = judged("54.4", None)
    assert found.verdict == "recorded"
    assert found.uncertainty == pytest.approx(0.0545, abs=2e-4)


def test_what_only_informs_is_at_worst_a_conditional_fail() -> None:
    """An ohmic value of day one."""
    assert judged("60", Expected(band(None, 50.0), decides=False)).verdict == "conditional fail"


# not judged


def test_what_waits_names_the_readings_it_waits_for() -> None:
    """So that a screen can go there."""
    key = ReadingKey("bank-temperature", (), 0)
    found = judged("54.4", Waits((key,), "the battery temperature is wanted"))
    assert (found.verdict, found.says) == ("not judged", "the battery temperature is wanted")
    assert [item.key for item in found.waits] == [key]


def test_a_formula_that_refuses_is_a_reason_not_to_judge() -> None:
    """Never a traceback, never a pass."""

    def refuses(_: Situation) -> Expected:
        raise FormulaError("current = 0: must be greater than zero")

    found = judged("54.4", refuses)
    assert (found.verdict, found.says) == ("not judged", "current = 0: must be greater than zero")
    throttled = judged("54.4", NotJudged("charger in absorption"))
    assert (throttled.verdict, throttled.says) == ("not judged", "charger in absorption")


def test_a_band_that_nothing_fits_is_told() -> None:
    """Low above high."""
    found = judged("54.4", Expected(band(55.0, 54.0)))
    assert found.verdict == "not judged"
    assert "at least 55 and at most 54 V" in found.says


def test_a_band_in_another_unit_of_the_kind_is_converted_and_else_refused() -> None:
    """78 mV against 0.059 to 0.087 V."""
    kit = (voltmeter(ranges=(Accuracy(unit="mV", up_to=600.0, percent=0.5, digits=2, resolution=0.1),)),)
    found = judged("78", Expected(band(0.059, 0.087)), kit=kit, unit="mV")
    assert (found.verdict, found.low, found.unit) == ("pass", 0.059, "V")
    # 0.5 % of 78 mV and two tenths: a = 0.59 mV, U = 2 × 0.59 ÷ √3 = 0.681 mV
    assert found.uncertainty == pytest.approx(0.000681, abs=1e-6)
    assert judged("78", Expected(band(1.0, 2.0, "A"))).verdict == "not judged"


# what is kept beside the verdict


def test_conditions_limits_and_lineage_are_kept_with_the_verdict() -> None:
    """Every reading that was looked at; where it did not pass, how the nearer limit came about."""
    temperature = Observation(
        ReadingKey("warm"), given(31.0, "°C", "battery temperature", kind="reading"), NOON, None
    )

    def expect(situation: Situation) -> Expected:
        assert situation.look(ReadingKey("warm")) == temperature
        return Expected(band(54.2, 54.6), "at 31 °C")

    found = judged("54.45", expect, others=(temperature,))
    assert (found.low, found.high, found.unit, found.says) == (54.2, 54.6, "V", "at 31 °C")
    assert found.margin == pytest.approx(0.15)
    assert [(item.key, item.value, item.unit) for item in found.used] == [(ReadingKey("warm"), 31.0, "°C")]
    assert judged("55.0", expect, others=(temperature,)).margin == pytest.approx(-0.4)
    near_high, near_low = (judged(typed, expect, others=(temperature,)) for typed in ("54.58", "54.1"))
    assert near_high.why[0].startswith("54.6 V")
    assert "common practice" in near_high.why[0]
    assert near_low.why[0].startswith("54.2 V")
    assert found.why == ()


# what is made of several readings


def test_a_difference_is_judged_with_the_uncertainty_of_a_difference() -> None:
    """12.71 − 12.68 V, 0.5 % + 2 digits of 0.01 V: U = 2 × √2 × 0.02 ÷ √3 + 0.5 % × 0.03 = 0.0328 V."""
    kit = (voltmeter(ranges=(Accuracy(unit="V", up_to=60.0, percent=0.5, digits=2, resolution=0.01),)),)
    expected = Expected(band(-0.1, 0.1), compared=given(0.03, "V", "difference"), against=12.68)
    found = judged("12.71", expected, kit=kit)
    assert (found.verdict, found.compared) == ("pass", 0.03)
    assert found.uncertainty == pytest.approx(0.0328, abs=5e-5)


def test_a_difference_of_two_meters_carries_both_errors() -> None:
    """√(U1² + U2²), each with its own half-width of 0.5 % + 2 digits at 12.7 V."""
    ranges = (Accuracy(unit="V", up_to=60.0, percent=0.5, digits=2, resolution=0.01),)
    kit = (voltmeter(ranges=ranges), voltmeter(id="meter-2", ranges=ranges))

    def expect(situation: Situation) -> Expected:
        found = situation.look(ReadingKey("second"))
        assert found is not None
        return Expected(band(-0.3, 0.3), compared=given(0.03, "V", "difference"), against=12.68)

    found = judged("12.71", expect, kit=kit, others=(other("second", 12.68, "meter-2"),))
    each = [2.0 * (0.005 * value + 0.02) / math.sqrt(3.0) for value in (12.71, 12.68)]
    assert found.uncertainty == pytest.approx(math.hypot(*each), rel=1e-9)


def _difference(situation: Situation) -> Expected:
    second = situation.look(ReadingKey("second"))
    assert second is not None
    assert situation.reading is not None
    difference = situation.reading.figure.value - second.figure.value
    return Expected(band(-0.3, 0.3), compared=given(difference, "V", "difference"))


def test_moving_the_readings_by_their_meters_gives_the_uncertainty_of_a_difference_again() -> None:
    """Two ways to one number: the formula for one meter on one range, and the expectation asked anew."""
    kit = (voltmeter(ranges=(Accuracy(unit="V", up_to=60.0, percent=0.5, digits=2, resolution=0.01),)),)
    found = judged("12.91", _difference, kit=kit, others=(other("second", 12.68),))
    # the small step of the digits moves the difference by exactly that step
    by_hand = 2.0 * math.sqrt(2.0) * 0.02 / math.sqrt(3.0) + 0.005 * 0.23
    assert found.uncertainty == pytest.approx(by_hand, rel=1e-6)


def test_a_product_carries_relative_uncertainties() -> None:
    """GUM 5.1.6: 52.0 V by 0.5 % + 2 digits of 0.01 V times 90.0 A by 2 % + 5 of 0.1 A is 3.016 %."""
    clamp = Instrument(
        id="clamp",
        kind="dc clamp",
        ranges=(Accuracy(unit="A", up_to=600.0, percent=2.0, digits=5, resolution=0.1),),
    )
    meter = voltmeter(ranges=(Accuracy(unit="V", up_to=60.0, percent=0.5, digits=2, resolution=0.01),))
    current = Observation(ReadingKey("amps"), given(90.0, "A", "current", kind="reading"), NOON, "clamp")

    def power(situation: Situation) -> Expected:
        amps = situation.look(ReadingKey("amps"))
        assert amps is not None
        assert situation.reading is not None
        watts = situation.reading.figure.value * amps.figure.value
        return Expected(band(4000.0, 5000.0, "W"), compared=given(watts, "W", "power"))

    found = judged("52.0", power, kit=(meter, clamp), others=(current,))
    assert found.uncertainty == pytest.approx(0.03016 * 52.0 * 90.0, rel=1e-3)
    assert (found.verdict, found.unit) == ("pass", "W")
    assert found.compared == pytest.approx(4680.0)


def test_a_long_column_is_doubted_rather_too_much_than_too_little() -> None:
    """Of many readings the others are moved at once: never less than moving each for itself."""
    others = tuple(other(f"cell-{number}", 2.10 + 0.001 * number) for number in range(20))

    def deviation(situation: Situation) -> Expected:
        rest = [situation.look(ReadingKey(f"cell-{number}")) for number in range(20)]
        assert situation.reading is not None
        values = [situation.reading.figure.value, *(item.figure.value for item in rest if item)]
        off = situation.reading.figure.value - sum(values) / len(values)
        return Expected(band(-0.1, 0.1), compared=given(off, "V", "from the mean"))

    found = judged("2.11", deviation, others=others)
    digits = 0.02 / math.sqrt(3.0)
    own, each = digits * 20 / 21, digits / 21
    one_by_one = 2.0 * math.sqrt(own**2 + 20 * each**2)
    assert found.uncertainty is not None
    assert one_by_one < found.uncertainty < 2.0 * one_by_one


# properties

_VALUES = st.floats(min_value=-100.0, max_value=100.0).map(lambda value: round(value, 2))


@example(_VALUES, _VALUES, st.floats(min_value=0.0, max_value=5.0))
@settings(max_examples=200, deadline=None)
def test_verdicts_follow_from_intervals(value: Any, low: Any, width: Any) -> None:
    """A second way: compare the interval of what may be true with the band."""
    high = low + width
    found = judged(f"{value:.2f}", Expected(band(low, high)), kit=(_wide(),))
    doubt = 2.0 * (0.0005 * abs(value) + 0.02) / math.sqrt(3.0)
    edge = 1e-6
    surely_inside = value - doubt >= low + edge and value + doubt <= high - edge
    surely_outside = value + doubt < low - edge or value - doubt > high + edge
    inside = low + edge <= value <= high - edge
    if surely_inside:
        assert found.verdict == "pass"
    elif surely_outside:
        assert found.verdict == "fail"
    elif inside and not low + doubt - edge <= value <= high - doubt + edge:
        assert found.verdict == "conditional pass"
    elif value < low - edge or value > high + edge:
        assert found.verdict in {"conditional fail", "fail"}


def _wide() -> Instrument:
    return voltmeter(ranges=(Accuracy(unit="V", up_to=200.0, percent=0.05, digits=2, resolution=0.01),))
