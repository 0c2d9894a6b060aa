"""Currents that devices and conductors are chosen for, and what a given device or conductor allows."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from commission.errors import FormulaError
from commission.formulas.ampacity import (
    aluminium_ampacity,
    ambient_factor,
    corrected_ampacity,
    table_current_needed,
)
from commission.formulas.overcurrent import (
    continuous_limit,
    device_for_load,
    inverter_direct_current,
    largest_backfed_breaker,
    next_standard_rating,
    ripple_heating_current,
)
from tests.formulas.worked import Row, assert_no_number_passes_as_one, row

NEC_RATINGS = [
    15, 20, 25, 30, 35, 40, 45, 50, 60, 70, 80, 90, 100, 110, 125, 150, 175, 200, 225, 250, 300, 350, 400,
]  # fmt: skip
"""NEC 240.6(A)."""
IEC_RATINGS = [6, 8, 10, 13, 16, 20, 25, 32, 40, 50, 63, 80, 100, 125, 160, 200, 250, 315, 400]
"""IEC 60059, from memory."""
TEACHING = "teaching example for inverter conductors"
TABLE = "NEC table 310.16 with 310.15"

ROWS = [
    row("2.5 kW at 85 % from 22 V", inverter_direct_current, 133.7, 0.5, TEACHING,
        power=2500, efficiency=0.85, voltage=22),
    row("134 A with a quarter more", device_for_load, 167.1, 0.5, TEACHING, current=2500 / (0.85 * 22),
        factor=1.25),
    row("2 kW at 88 % from 10.5 V", inverter_direct_current, 216.5, 0.1, TEACHING,
        power=2000, efficiency=0.88, voltage=10.5),
    row("216.5 A with a quarter more", device_for_load, 270.6, 0.1, TEACHING,
        current=2000 / (0.88 * 10.5), factor=1.25),
    row("next over 270.6 A", next_standard_rating, 300, 1e-9, "NEC 240.6(A)", current=270.6,
        ratings=NEC_RATINGS),
    row("3 kW at 91 % from 42 V", inverter_direct_current, 78.5, 0.1, TEACHING,
        power=3000, efficiency=0.91, voltage=42),
    row("78.5 A with a quarter more", device_for_load, 98.1, 0.1, TEACHING, current=3000 / (0.91 * 42),
        factor=1.25),
    row("next over 98.1 A", next_standard_rating, 100, 1e-9, "NEC 240.6(A)", current=98.1,
        ratings=NEC_RATINGS),
    row("1.5 kW at 87 % from 21 V", inverter_direct_current, 82.1, 0.1, TEACHING,
        power=1500, efficiency=0.87, voltage=21),
    row("82.1 A with a quarter more", device_for_load, 102.6, 0.1, TEACHING, current=1500 / (0.87 * 21),
        factor=1.25),
    row("next over 102.6 A", next_standard_rating, 110, 1e-9, "NEC 240.6(A)", current=102.6,
        ratings=NEC_RATINGS),
    row("breaker for 32 A of inverter output", next_standard_rating, 40, 1e-9,
        "published study notes on NEC 690",
        current=32 * 1.25, ratings=NEC_RATINGS),
    row("7.4 A with a quarter more", device_for_load, 9.25, 0.01, "published design example",
        current=7.4, factor=1.25),
    row("60 A controller", device_for_load, 75, 1e-9, "NEC 240.6(A)", current=60, factor=1.25),
    row("60 A controller, device for continuous duty", device_for_load, 60, 1e-9, "NEC 240.6(A)",
        current=60, factor=1.0),
    row("next over 75 A", next_standard_rating, 80, 1e-9, "NEC 240.6(A)", current=75, ratings=NEC_RATINGS),
    row("setting behind 100 A", continuous_limit, 80, 1e-9, "NEC 210.20(A) turned round, from memory",
        rating=100, factor=1.25),
    row("setting behind 175 A", continuous_limit, 140, 1e-9, "NEC 210.20(A) turned round, from memory",
        rating=175, factor=1.25),
    row("200 A bus bar behind 200 A", largest_backfed_breaker, 40, 1e-9, "published rule of NEC 705.12(B)",
        bus_bar=200, main=200, factor=1.2),
    row("IEC device for 92 A", next_standard_rating, 100, 1e-9, "IEC 60364-4-43, from memory",
        current=92, ratings=IEC_RATINGS),
    row("ripple without smoothing", ripple_heating_current, 122.47, 0.02, "own derivation, from memory",
        mean=100, ripple_share=1.0),
    row("ripple, part smoothed", ripple_heating_current, 124.71, 0.02, "own derivation, from memory",
        mean=120, ripple_share=0.4),
    row("surge of 10 kVA at 85 % from 21 V", inverter_direct_current, 560.2, 0.2, TEACHING,
        power=10000, efficiency=0.85, voltage=21),
    row("2/0 AWG, 75 °C, in 40 °C", corrected_ampacity, 154.0, 0.1, TABLE,
        table_current=175, ambient=0.88, grouping=1.0),
    row("4/0 AWG, 90 °C, in 45 °C", corrected_ampacity, 226.2, 0.1, TABLE,
        table_current=260, ambient=0.87, grouping=1.0),
    row("six 10 AWG, 90 °C, in 50 °C", corrected_ampacity, 26.24, 0.05, TABLE,
        table_current=40, ambient=0.82, grouping=0.80),
    row("4/0 AWG in free air, 90 °C, in 40 °C", corrected_ampacity, 368.6, 0.2,
        "NEC table 310.17 with 310.15",
        table_current=405, ambient=0.91, grouping=1.0),
    row("factor for 42 °C at 75 °C", ambient_factor, 0.8563, 0.0005, "NEC 310.15(B), equation",
        conductor_limit=75, ambient=42, reference=30),
    row("factor for 60 °C at 90 °C", ambient_factor, 0.7071, 0.0005, "NEC 310.15(B), equation",
        conductor_limit=90, ambient=60, reference=30),
    row("16 mm² PVC, method B1, in 35 °C", corrected_ampacity, 71.4, 0.1, "IEC 60364-5-52, tables B.52",
        table_current=76, ambient=0.94, grouping=1.0),
    row("10 mm² PVC, method B1, in 35 °C", corrected_ampacity, 53.6, 0.05, "IEC 60364-5-52, tables B.52",
        table_current=57, ambient=0.94, grouping=1.0),
    row("167 A derated by 0.71", table_current_needed, 235.2, 0.5, TEACHING, current=167, factor=0.71),
]  # fmt: skip


@pytest.mark.parametrize("row", ROWS)
def test_worked_example(row: Row) -> None:
    assert row.value() == pytest.approx(row.expected, abs=row.tolerance)


@pytest.mark.parametrize("row", ROWS)
def test_what_is_not_a_number_is_refused(row: Row) -> None:
    assert_no_number_passes_as_one(row)


@pytest.mark.parametrize(
    ("copper", "aluminium"),
    [
        pytest.param(65, 50, id="6 AWG"),
        pytest.param(85, 65, id="4 AWG"),
        pytest.param(115, 90, id="2 AWG"),
        pytest.param(150, 120, id="1/0 AWG"),
        pytest.param(175, 135, id="2/0 AWG"),
        pytest.param(230, 180, id="4/0 AWG"),
    ],
)
def test_three_quarters_of_copper_is_never_more_than_the_table_for_aluminium(
    copper: float, aluminium: float
) -> None:
    """NEC table 310.16, 75 °C columns; that for aluminium from memory."""
    assert 0.9 * aluminium < aluminium_ampacity(copper, 0.75) <= aluminium


@given(st.floats(0.1, 4000), st.sampled_from([1.0, 1.25]))
def test_a_device_chosen_for_a_load_allows_that_load(current: float, factor: float) -> None:
    assert continuous_limit(device_for_load(current, factor), factor) == pytest.approx(current)


@given(st.floats(0, 400))
def test_the_next_rating_is_a_standard_one_and_none_smaller_would_do(current: float) -> None:
    rating = next_standard_rating(current, NEC_RATINGS)
    assert rating in NEC_RATINGS
    assert rating >= current * (1 - 1e-9)
    assert all(smaller < current for smaller in NEC_RATINGS if smaller < rating)


@pytest.mark.parametrize("rating", NEC_RATINGS)
def test_a_product_that_is_a_standard_rating_is_not_pushed_to_the_next(rating: int) -> None:
    assert next_standard_rating(rating / 1.25 * 1.25 * (1 + 1e-15), NEC_RATINGS) == rating


@given(st.floats(1, 500), st.floats(0, 1))
def test_ripple_heats_as_the_mean_square_of_the_wave_says(mean: float, ripple: float) -> None:
    angle = np.linspace(0.0, 2.0 * np.pi, 4096, endpoint=False)
    wave = mean * (1.0 - ripple * np.cos(angle))
    assert ripple_heating_current(mean, ripple) == pytest.approx(float(np.sqrt(np.mean(wave**2))))


@given(st.floats(-10, 70), st.floats(-10, 70))
def test_hotter_air_never_lets_a_conductor_carry_more(one: float, other: float) -> None:
    cooler, hotter = sorted((one, other))
    assert ambient_factor(75, cooler, 30) >= ambient_factor(75, hotter, 30)
    assert ambient_factor(75, 30, 30) == 1.0


@pytest.mark.parametrize(
    ("formula", "inputs", "says"),
    [
        (continuous_limit, {"rating": 100, "factor": 0.8}, "factor"),
        (device_for_load, {"current": -1, "factor": 1.25}, "current"),
        (next_standard_rating, {"current": 500, "ratings": NEC_RATINGS}, "above the largest"),
        (inverter_direct_current, {"power": 1000, "efficiency": 0.0, "voltage": 48}, "efficiency"),
        (ripple_heating_current, {"mean": 100, "ripple_share": 1.5}, "ripple_share"),
        (ambient_factor, {"conductor_limit": 75, "ambient": 75, "reference": 30}, "ambient"),
        (table_current_needed, {"current": 10, "factor": 0}, "factor"),
    ],
)
def test_out_of_range_is_refused_with_what_came(formula, inputs, says):
    with pytest.raises(FormulaError, match=says):
        formula(**inputs)
