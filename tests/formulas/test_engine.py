"""Engines and governors: air, power, fuel, droop and the classes of response."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from commission.errors import FormulaError
from commission.formulas.engine import (
    ENGINE_EXPONENTS,
    fuel_in_litres,
    fuel_rate,
    greatest_mean_load,
    indicated_power_ratio,
    power_adjustment,
    specific_consumption,
    standard_pressure,
)
from commission.formulas.governing import (
    GOVERNING_CLASSES,
    LOAD_STEPS_G2,
    frequency_at_load,
    frequency_droop,
    frequency_limit,
    load_step,
    voltage_limit,
)
from tests.formulas.worked import Row, assert_no_number_passes_as_one, row

ISO = "ISO 3046-1, from memory"
ATMOSPHERE = "ISO 2533, from memory"
FUEL_LINE = "Skarstein and Uhlen 1989, from memory"
G2 = "class G2 of ISO 8528-5 as quoted in a tender"
ABSOLUTE = 273.15

ROWS = [
    row("air at 1500 m", standard_pressure, 84.556, 0.02, ATMOSPHERE, altitude=1500),
    row("air at 3000 m", standard_pressure, 70.109, 0.02, ATMOSPHERE, altitude=3000),
    row("air at the sea", standard_pressure, 101.325, 1e-9, ATMOSPHERE, altitude=0),
    row("indicated power at about 3000 m", indicated_power_ratio, 0.701, 1e-9, f"{ISO}, by hand",
        pressure=70.1, temperature=298.0 - ABSOLUTE, reference_pressure=100.0,
        reference_temperature=298.0 - ABSOLUTE, pressure_exponent=1.0, temperature_exponent=0.75),
    row("power at about 3000 m", power_adjustment, 0.6487, 0.001, ISO, ratio=0.701,
        mechanical_efficiency=0.8),
    row("20 kW set at 5 kW", fuel_rate, 2.859, 0.01, FUEL_LINE, rating=20000, power=5000, idle=0.08145,
        slope=0.246),
    row("20 kW set at 10 kW", fuel_rate, 4.089, 0.01, FUEL_LINE,
        rating=20000, power=10000, idle=0.08145, slope=0.246),
    row("20 kW set at a quarter load", specific_consumption, 0.46, 0.005, "published fuel chart",
        fuel=2.3, power=20000 * 0.25),
    row("1.60 US gal/h of the chart", fuel_in_litres, 6.057, 0.01, "published fuel chart", gallons=1.6),
    row("16 kW prime over a day", greatest_mean_load, 11.2, 0.01, "ISO 8528-1, prime power", in_unit="kW",
        rating=16000, share=0.7),
    row("52.3 to 50.1 Hz", frequency_droop, 4.4, 0.01, "ISO 8528-5, from memory", in_unit="%",
        no_load=52.3, rated=50.1, nominal=50.0),
    row("loose governor at 40 %", frequency_at_load, 61.5, 0.05, "straight governor line, common practice",
        no_load=62.5, full_load=60.0, load_share=0.4),
    row("lowest at sudden load, 60 Hz", frequency_limit, 54.0, 0.05, G2, nominal=60, deviation=-0.1),
    row("highest when load is thrown off, 230 V", voltage_limit, 287.5, 0.1, G2, nominal=230, deviation=0.25),
    row("first step of 20 kVA", load_step, 10.0, 0.01, G2, in_unit="kVA", rating=20000, before=0.0,
        after=0.5),
    row("second step of 20 kVA", load_step, 6.0, 0.01, G2, in_unit="kVA", rating=20000, before=0.5,
        after=0.8),
    row("third step of 20 kVA", load_step, 4.0, 0.01, G2, in_unit="kVA", rating=20000, before=0.8, after=1.0),
]  # fmt: skip


@pytest.mark.parametrize("row", ROWS)
def test_worked_example(row: Row) -> None:
    assert row.value() == pytest.approx(row.expected, abs=row.tolerance)


@pytest.mark.parametrize("row", ROWS)
def test_what_is_not_a_number_is_refused(row: Row) -> None:
    assert_no_number_passes_as_one(row)


def test_the_steps_kept_for_class_g2_are_those_of_the_tender() -> None:
    """0 to 50 %, 50 to 80 %, 80 to 100 % (ISO 8528-5 as quoted in a tender)."""
    assert [load_step(20000, *shares) for shares in LOAD_STEPS_G2] == pytest.approx([10000, 6000, 4000])


@pytest.mark.parametrize(
    ("name", "droop", "band", "voltage", "dip", "rise"),
    [
        pytest.param("G1", 0.08, 0.025, 0.05, 0.15, 0.35, id="G1 (ISO 8528-5, from memory)"),
        pytest.param("G2", 0.05, 0.015, 0.025, 0.10, 0.25, id="G2 (ISO 8528-5 as quoted in a tender)"),
        pytest.param("G3", 0.03, 0.005, 0.01, 0.07, 0.20, id="G3 (ISO 8528-5, from memory)"),
    ],
)
def test_classes_carry_the_figures_of_the_standard(
    name: str, droop: float, band: float, voltage: float, dip: float, rise: float
) -> None:
    kept = GOVERNING_CLASSES[name]
    assert (kept.droop, kept.frequency_band, kept.voltage_band) == (droop, band, voltage)
    assert (kept.frequency_dip, kept.voltage_rise) == (dip, rise)


def test_a_higher_class_is_nowhere_looser() -> None:
    one, two, three = (GOVERNING_CLASSES[name] for name in ("G1", "G2", "G3"))
    for name in one.__slots__:
        assert getattr(one, name) >= getattr(two, name) >= getattr(three, name)


@given(st.floats(-500, 11000), st.floats(-500, 11000))
def test_air_thins_with_height(one: float, other: float) -> None:
    lower, higher = sorted((one, other))
    assert standard_pressure(lower) >= standard_pressure(higher)


@given(st.sampled_from(sorted(ENGINE_EXPONENTS)), st.floats(0, 2500), st.floats(25, 45))
def test_height_and_heat_only_take_power_away(kind: str, altitude: float, temperature: float) -> None:
    """At and above the reference heat and below the reference pressure no engine gains."""
    pressure_exponent, temperature_exponent = ENGINE_EXPONENTS[kind]
    ratio = indicated_power_ratio(
        min(100.0, standard_pressure(altitude)), temperature, reference_pressure=100.0,
        reference_temperature=25.0, pressure_exponent=pressure_exponent,
        temperature_exponent=temperature_exponent,
    )  # fmt: skip
    factor = power_adjustment(ratio, 0.8)
    assert factor <= ratio + 1e-12
    assert ratio <= 1.0 + 1e-12


@given(st.floats(0.6, 1.0))
def test_the_reference_air_leaves_the_rating_whole(efficiency: float) -> None:
    assert power_adjustment(1.0, efficiency) == 1.0


@given(st.floats(1000, 50000), st.floats(0.05, 1.0), st.floats(0.05, 1.0))
def test_each_kilowatt_hour_is_dearer_at_low_load(rating: float, one: float, other: float) -> None:
    low, high = sorted((one, other))

    def each(load: float) -> float:
        return specific_consumption(
            fuel_rate(rating, load * rating, idle=0.08145, slope=0.246), load * rating
        )

    assert each(low) >= each(high) - 1e-12


@given(st.floats(50, 55), st.floats(48, 50), st.floats(0, 1))
def test_the_governor_line_ends_at_both_of_its_frequencies(no_load: float, full: float, share: float) -> None:
    assert frequency_at_load(no_load, full, 0.0) == no_load
    assert frequency_at_load(no_load, full, 1.0) == pytest.approx(full)
    assert full - 1e-9 <= frequency_at_load(no_load, full, share) <= no_load


@pytest.mark.parametrize(
    ("formula", "inputs", "says"),
    [
        (standard_pressure, {"altitude": 12000}, "11000"),
        (power_adjustment, {"ratio": 0.1, "mechanical_efficiency": 0.8}, "no power"),
        (indicated_power_ratio,
         {"pressure": 90, "temperature": 298, "reference_pressure": 100, "reference_temperature": 25,
          "pressure_exponent": 1, "temperature_exponent": 0.75}, "temperature = 298"),
        (fuel_rate, {"rating": 5000, "power": 8000, "idle": 0.08, "slope": 0.25}, "above the set's rating"),
        (specific_consumption, {"fuel": 1, "power": 0}, "power"),
        (frequency_limit, {"nominal": 50, "deviation": -10}, "share between"),
        (load_step, {"rating": 1000, "before": 0.8, "after": 0.5}, "below"),
    ],
)  # fmt: skip
def test_out_of_range_is_refused_with_what_came(formula, inputs, says):
    with pytest.raises(FormulaError, match=says):
        formula(**inputs)
