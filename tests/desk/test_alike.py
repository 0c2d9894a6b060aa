"""Trends of what service visits compare: drops as resistances, insulation at 20 °C, with their limits."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from commission.checklist.baseline import FIRM_AFTER, WORN_BEFORE
from commission.checklist.types import ReadingKey
from commission.desk.history import limits_of, series_of, trend_of
from commission.desk.outlook import outlook_of
from commission.desk.series import Point
from commission.desk.subjects import subject_of
from commission.desk.trend import YEAR, trend
from commission.desk.watch import comes_to_limit, watched
from commission.prepare import usual
from commission.visit.types import Drift, Judgement, Reading, Service, Visit

START = datetime(2020, 4, 2, 9, 0, tzinfo=UTC)
RUN = ReadingKey("run-drop.positive", ("run-a",))
ARRAY = ReadingKey("array-insulation.positive", ("pv-1a",))


def compared(now: float, before: float, named: str, unit: str, limit: float, **told: Any) -> Drift:
    """Return what a service visit holds of one comparison with the commissioning."""
    fields: dict[str, Any] = {
        "since": "baseline", "visit": "v-0", "measured_at": START, "now": now, "before": before,
        "compared_as": named, "compared_unit": unit, "change": 100 * (now / before - 1), "unit": "%",
        "verdict": "holds", "low": None, "high": None, "says": "at most so much",
    }  # fmt: skip
    fields["low" if limit < 0 else "high"] = limit
    return Drift(**(fields | told))


def visit(place: int, key: ReadingKey, value: float, unit: str, *drifts: Drift, side: Any = "exact") -> Visit:
    at = START + place * YEAR
    judged = Judgement(verdict="pass", low=0.0, high=1e6, unit=unit, drifts=drifts)
    row = Reading(
        step=key.step, parts=key.parts, kind="number", value=value, text=f"{value:g}", unit=unit, side=side,
        measured_at=at, entered_at=at, judgement=judged,
    )  # fmt: skip
    before = None if place == 0 else Service(previous_visit="v-0", previous_at=START)
    return Visit(
        id=f"v-{place}", site="nowhere", kind="service" if before else "commissioning", started_at=at,
        program="0", readings=(row,), service=before,
    )  # fmt: skip


def runs(amperes: Sequence[float], ohms: Sequence[float]) -> list[Visit]:
    """Return visits that read the drop of one run, each at another current."""
    drops = [1000.0 * current * ohm for current, ohm in zip(amperes, ohms, strict=True)]
    first = visit(0, RUN, drops[0], "mV")
    return [first] + [
        visit(place, RUN, drops[place],
              "mV", compared(ohms[place], ohms[0], "resistance of the run", "Ω", 20.0))
        for place in range(1, len(ohms))
    ]  # fmt: skip


def test_a_drop_is_trended_as_the_resistance_that_was_compared_and_has_a_date():
    """Currents go up and down; the joint rises by 0.02 mΩ a year from 0.70: 0.84 mΩ, 20 % more, in year 7."""
    rows = runs([60, 35, 80, 52, 44, 70], [0.0007 + 0.00002 * year for year in range(6)])
    found = trend_of(rows, RUN)
    assert found.unit == "Ω"
    assert [point.value for point in found.used] == pytest.approx([0.0007 + 0.00002 * y for y in range(6)])
    assert found.slope == pytest.approx(0.00002)
    assert found.reached is not None
    assert found.reached.limit.value == pytest.approx(0.00084)
    assert found.reached.middle is not None
    assert (found.reached.middle - START) / YEAR == pytest.approx(7.0, abs=0.01)
    said = outlook_of(found, START)
    assert said.startswith("resistance of the run rises 20 µΩ a year (20 to 20, 95 % sure)")
    assert "0.84 mΩ, 20 % over the baseline, is reached in April 2027" in said
    assert found.corrected_for == "told as resistance of the run"
    (limit,) = limits_of(rows, RUN)
    assert limit.side == "high", "the band of the drop itself is none of the resistance"


def test_a_drop_that_only_follows_its_current_is_not_approaching_anything():
    found = trend_of(runs([20, 30, 40, 50, 60, 70], [0.0007] * 6), RUN)
    assert found.slope == pytest.approx(0.0, abs=1e-12)
    assert found.reached is not None
    assert found.reached.when == "never"


def test_what_no_visit_could_compare_is_left_out_with_its_reason():
    rows = runs([60, 60, 60, 60], [0.0007, 0.00071, 0.00072, 0.00073])
    refused = Drift(
        since="baseline", visit="v-0", measured_at=START, before=42.0, now=43.0, change=0.0,
        verdict="not compared", says="not compared: the current in the run is wanted",
    )  # fmt: skip
    rows[2] = visit(2, RUN, 43.0, "mV", refused)
    found = trend_of([*rows, visit(4, RUN, 44.0, "mV")], RUN)
    assert [one.why for one in found.left_out] == [
        "not compared: the current in the run is wanted",
        "not known as resistance of the run: no service visit compared it",
    ]
    assert len(found.used) == 3


def test_the_insulation_of_a_bound_has_a_limit_that_is_sure():
    """Beside > 550 MΩ the half of it is at least 275: what is under that has fallen by half in any case."""
    named = "insulation at 20 °C"
    values = [500.0, 450.0, 400.0, 350.0, 300.0]
    rows = [visit(0, ARRAY, 550.0, "MΩ", side="above")] + [
        visit(place, ARRAY, value, "MΩ", compared(value, 550.0, named, "MΩ", -50.0, before_side="above"))
        for place, value in enumerate(values, start=1)
    ]
    found = trend_of(rows, ARRAY)
    assert [one.why for one in found.left_out] == ["only known to be above 550 MΩ"]
    assert found.reached is not None
    assert found.reached.limit.value == pytest.approx(275.0)
    assert found.reached.middle is not None
    assert (found.reached.middle - START) / YEAR == pytest.approx(5.5, abs=0.01)
    (one,) = watched(rows)
    assert comes_to_limit(one.trend, START + 6 * YEAR)
    rise = compared(600.0, 550.0, named, "MΩ", 20.0, before_side="above")
    assert limits_of([rows[0], visit(1, ARRAY, 600.0, "MΩ", rise)], ARRAY) == (), "of a bound no rise is sure"


def test_numbers_of_records_that_do_not_say_what_they_compared_are_the_readings_themselves():
    older = compared(0.00071, 0.0007, "x", "Ω", 20.0, compared_as=None, compared_unit=None)
    rows = [visit(0, RUN, 42.0, "mV"), visit(1, RUN, 43.0, "mV", older)]
    assert [(point.value, point.unit) for point in series_of(rows, RUN)] == [(42.0, "mV"), (43.0, "mV")]


# one definition of the baseline, here and at the service visit


def ohmic(*rows: tuple[float, float]) -> list[Point]:
    return [Point(START + timedelta(days=days), value, "mΩ") for days, value in rows]


def test_an_ohmic_value_that_rose_before_half_a_year_keeps_day_one_as_its_baseline():
    """Else 1.55 mΩ would count as healthy, and 50 % more be 2.3."""
    settled = FIRM_AFTER.days
    found = trend(ohmic((0, 1.0), (settled, 1.55), (settled + 365, 1.6)), step="ohmic-value")
    assert found.left_out == ()
    assert found.reached is not None
    assert found.reached.limit.value == pytest.approx(1.5)
    assert found.reached.when == "reached"


@pytest.mark.parametrize(
    ("days", "value", "kept"),
    [
        pytest.param(FIRM_AFTER.days - 1, 1.1, 1, id="a day too early: the next one is firm"),
        pytest.param(FIRM_AFTER.days, 1.1, 2, id="half a year"),
        pytest.param(FIRM_AFTER.days, 1.0 + WORN_BEFORE, 2, id="risen no more than is watched"),
        pytest.param(FIRM_AFTER.days, 1.01 + WORN_BEFORE, 3, id="risen more: day one stays"),
    ],
)
def test_the_trend_begins_where_the_service_visit_has_its_baseline(days, value, kept):
    found = trend(ohmic((0, 1.0), (days, value), (days + 400, 1.15)), step="ohmic-value")
    assert len(found.used) == kept


def test_what_the_desk_knows_of_a_reading_is_what_the_checklists_say():
    told = {
        f"{one.id}.{asked.name}" if asked.name else one.id: asked
        for checklist in usual()
        for one in checklist.steps
        for asked in one.readings
        if asked.provisional
    }
    assert {"ohmic-value", "ohmic-float", "capacity-test.time"} <= told.keys()
    for step, data in told.items():
        subject = subject_of(step)
        assert (subject.provisional, subject.like_charge) == (data.provisional, data.like_charge), step
