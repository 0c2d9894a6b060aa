"""Instruments: half-widths, ranges, calibration, and what a kit cannot decide."""

from __future__ import annotations

import math
from datetime import date
from typing import Any

import pytest

from commission.checklist.types import Expected
from commission.errors import EntryError
from commission.figure import Band, given
from commission.visit.kit import (
    Statement,
    checked,
    default_kit,
    due_date,
    overdue,
    range_end,
    statement_at,
    too_coarse,
)
from commission.visit.types import Accuracy, Instrument
from tests.visit.walks import known, reading, step, voltmeter


@pytest.mark.parametrize(
    ("value", "percent", "digits", "resolution", "half_width"),
    [
        pytest.param(0.09, 2.5, 3, 0.01, 0.03225, id="digits-dominate-near-zero, a meter handbook"),
        pytest.param(120.0, 0.7, 2, 0.1, 1.04, id="published interval 118.96 to 121.04"),
        pytest.param(2.0, 0.08, 2, 0.001, 0.0036, id="a good handheld at 2 V"),
    ],
)
def test_a_statement_gives_its_half_width(
    value: Any, percent: Any, digits: Any, resolution: Any, half_width: Any
) -> None:
    """Percent of reading plus digits of the range in use."""
    statement = Statement(percent, digits, resolution, 1000.0)
    assert statement.half_width(value) == pytest.approx(half_width, abs=1e-4)


def test_a_rectangle_of_035_v_expands_to_0404_v() -> None:
    """GUM 4.3.7 and 6.2.1: 2 × 0.35 ÷ √3 = 0.404145."""
    statement = Statement(0.0, 1, 0.35, 100.0)
    assert statement.uncertainty(10.0) == pytest.approx(0.404145, abs=1e-6)


def test_the_lowest_range_that_holds_the_value_is_used() -> None:
    """A meter's digits count in the range in use, not in its best range."""
    meter = Instrument(
        id="m",
        kind="dc voltmeter",
        ranges=(
            Accuracy(unit="V", up_to=600.0, percent=0.1, digits=2, resolution=0.1),
            Accuracy(unit="V", up_to=6.0, percent=0.1, digits=2, resolution=0.001),
            Accuracy(unit="V", up_to=60.0, percent=0.1, digits=2, resolution=0.01),
        ),
    )
    assert [
        known(statement_at(meter, value, "V")).resolution for value in (0.1, -6.0, 6.001, 60.0, 61.0)
    ] == [
        0.001,
        0.001,
        0.01,
        0.01,
        0.1,
    ]
    assert statement_at(meter, 601.0, "V") is None
    assert known(statement_at(meter, math.inf, "V")).up_to == 600.0
    assert range_end(meter, "V") == 600.0


def test_a_range_in_another_unit_of_the_kind_serves_a_reading() -> None:
    """0.01 MΩ is 10,000 Ω; a difference of 1.8 °F is 1 K whatever the zero."""
    tester = Instrument(
        id="t",
        kind="insulation tester",
        ranges=(Accuracy(unit="MΩ", up_to=10.0, percent=5.0, digits=3, resolution=0.01),),
    )
    found = known(statement_at(tester, 1e6, "Ω"))
    assert found.up_to == pytest.approx(1e7)
    assert found.resolution == pytest.approx(1e4)
    assert found.half_width(1e6) == pytest.approx(80_000.0)
    warm = Instrument(
        id="w",
        kind="thermometer",
        ranges=(Accuracy(unit="°F", up_to=212.0, digits=18, resolution=0.1),),
    )
    assert known(statement_at(warm, 20.0, "°C")).half_width(20.0) == pytest.approx(1.0)
    assert statement_at(warm, 20.0, "V") is None


@pytest.mark.parametrize(
    ("calibrated", "due", "on", "late"),
    [
        pytest.param("2025-03-01", "", date(2026, 3, 15), True, id="12 months after 2025-03-01"),
        pytest.param("2025-03-01", "", date(2026, 3, 1), False, id="on the day itself"),
        pytest.param("2025-03-01", "2026-06-01", date(2026, 3, 15), False, id="told otherwise"),
        pytest.param("2024-02-29", "", date(2025, 3, 1), False, id="leap day"),
        pytest.param("2024-02-29", "", date(2025, 3, 2), True, id="day after leap day"),
        pytest.param("", "", date(2026, 3, 15), None, id="not known"),
    ],
)
def test_an_instrument_is_overdue_after_its_date(calibrated: Any, due: Any, on: Any, late: Any) -> None:
    """Common practice: 12 months for electrical meters."""
    assert overdue(voltmeter(calibrated=calibrated, due=due), on) is late


def test_a_hydrometer_has_two_years() -> None:
    """Common practice: 24 months in the field."""
    hydrometer = Instrument(id="h", kind="hydrometer", calibrated="2025-03-01")
    assert due_date(hydrometer) == date(2027, 3, 1)


def test_a_date_that_is_none_is_refused() -> None:
    """The text names the field and gives an example."""
    with pytest.raises(EntryError, match=r"due = 1\.3\.2027.*2026-03-01"):
        checked(voltmeter(due="1.3.2027"))


def test_every_instrument_offered_at_the_start_reads_something_and_names_no_maker() -> None:
    """Ids and kinds are generic, serial numbers empty."""
    kit = default_kit()
    assert len({instrument.id for instrument in kit}) == len(kit)
    for instrument in kit:
        assert instrument.ranges, instrument.id
        assert not instrument.serial
        assert instrument.name == instrument.kind


def test_a_kit_too_coarse_for_a_step_is_told_with_the_class_that_would_do() -> None:
    """Band 54.2 to 54.6 V: half of it is 0.2 V, and 0.5 % of 54.4 V and 2 digits give U = 0.34 V."""
    ask = step("float").asks[0]
    band = Band(given(54.2, "V", "low"), None, given(54.6, "V", "high"), "V")
    found = too_coarse([(ask, Expected(band))], [_half_percent()])
    assert [item.key for item in found] == [ask.key]
    assert found[0].uncertainty == pytest.approx(2 * (0.005 * 54.4 + 0.02) / math.sqrt(3.0))
    assert found[0].half_band == pytest.approx(0.2)
    # a quarter of the band is 0.1 V; 0.1 % of 54.4 V gives 0.063 V and leaves room for digits
    assert "0.1 % of reading" in found[0].says
    assert too_coarse([(ask, Expected(band))], [_half_percent(), voltmeter()]) == ()


def test_a_kit_without_the_meter_is_told() -> None:
    """No low-ohm meter is as bad as a coarse one; what is read off a display needs none."""
    band = Band(None, None, given(1.0, "Ω", "high"), "Ω")
    ask = step("bond", reading(unit="Ω", instrument="low-ohm meter")).asks[0]
    found = too_coarse([(ask, Expected(band))], [voltmeter()])
    assert found[0].uncertainty is None
    assert "no low-ohm meter in the kit" in found[0].says
    shown = step("shown", reading(unit="Ω", instrument="display")).asks[0]
    assert too_coarse([(shown, Expected(band))], []) == ()


def _half_percent() -> Instrument:
    return voltmeter(
        id="coarse", ranges=(Accuracy(unit="V", up_to=60.0, percent=0.5, digits=2, resolution=0.01),)
    )
