"""Resistance of conductors, what they drop and how parallel paths share."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from commission.errors import FormulaError
from commission.formulas.conductors import (
    ALUMINIUM_COEFFICIENT_20,
    ALUMINIUM_RESISTIVITY_20,
    COPPER_COEFFICIENT_20,
    COPPER_RESISTIVITY_20,
    conductor_temperature,
    good_run_drop_high,
    good_run_drop_low,
    joints_resistance,
    loop_resistance,
    parallel_share,
    resistance_at_20,
    resistance_at_temperature,
    resistance_per_length,
    run_resistance,
    series_resistance,
    voltage_after_drop,
    voltage_drop,
)
from commission.units import awg_area, convert
from tests.formulas.worked import Row, assert_no_number_passes_as_one, row

KFT = 304.8
"""Metres in a thousand feet."""
FOOT = 0.3048
NEC = "NEC chapter 9, table 8"
IEC = "IEC 60228 with the coefficient of IEC 60028"
COPPER = COPPER_COEFFICIENT_20


def warm(resistance_20: float, temperature: float) -> float:
    """Return copper's resistance at a temperature, by the coefficient written out once more."""
    return resistance_20 * (1 + 0.00393 * (temperature - 20))


ROWS = [
    row("1 mm² of annealed copper", resistance_per_length, 0.017241, 5e-7, "IEC 60028",
        area=1.0, resistivity_20=COPPER_RESISTIVITY_20),
    row("1 mm² of aluminium", resistance_per_length, 0.028264, 5e-7, "IEC 60889, from memory",
        area=1.0, resistivity_20=ALUMINIUM_RESISTIVITY_20),
    row("4 AWG at 90 °C, Ω/kft", resistance_at_temperature, 0.3229, 0.0003, f"{NEC}, note 2",
        resistance_20=0.308 / (1 + 0.00393 * 55), coefficient=COPPER, temperature=90),
    row("70 mm² class 5 at 60 °C, Ω/km", resistance_at_temperature, 0.3148, 0.0005, IEC,
        resistance_20=0.272, coefficient=COPPER, temperature=60),
    row("2.5 mm² class 2 at 70 °C, Ω/km", resistance_at_temperature, 8.866, 0.005, IEC,
        resistance_20=7.41, coefficient=COPPER, temperature=70),
    row("1/0 AWG at 20 °C, Ω/km", resistance_at_20, 0.3292, 0.001, NEC,
        resistance=0.122 / 0.3048, coefficient=COPPER, temperature=75),
    row("factor to 20 °C at 5 °C with 0.004", resistance_at_20, 1.064, 0.0005,
        "IEC 60228, temperature factors",
        resistance=1.0, coefficient=0.004, temperature=5),
    row("factor to 20 °C at 5 °C with 0.00393", resistance_at_20, 1.0626, 0.0005, "IEC 60028",
        resistance=1.0, coefficient=COPPER, temperature=5),
    row("two 2/0 AWG in parallel over 12 ft", loop_resistance, 1.1604, 0.002, NEC, in_unit="mΩ",
        resistance_per_metre=0.0967 / KFT, length=12 * FOOT, parallel=2),
    row("6 mm² class 2, 20 m one way", run_resistance, 0.0616, 0.00005, "IEC 60228, from memory",
        resistance_per_metre=0.00308, length=20),
    row("six good joints", joints_resistance, 0.3, 1e-9, "common practice", in_unit="mΩ",
        count=6, each=50e-6),
    row("bank, cable and joints", series_resistance, 14.5, 1e-9, "by hand", in_unit="mΩ",
        resistances=[0.012, 0.0021, 0.0004]),
    row("16 AWG, 100 ft at 4 A", voltage_drop, 3.992, 0.01, f"worked example after {NEC}",
        current=4, resistance=2 * 100 * 4.99 / 1000),
    row("8 AWG, 50 ft at 30 A by K = 12.9 Ω·cmil/ft", voltage_drop, 2.344, 0.003,
        "trade constant, from memory",
        current=30,
        resistance=2 * 50 * FOOT * resistance_per_length(convert(16.51, "kcmil", "mm²"),
        12.9 * 5.06707e-4 / FOOT)),
    row("35 mm² class 5 at 70 °C, 2 m at 150 A", voltage_drop, 0.3977, 0.0005, IEC,
        current=150, resistance=2 * 2 * warm(0.000554, 70)),
    row("two 70 mm² class 5 at 30 °C, 2.2 m at 250 A", voltage_drop, 0.1555, 0.001, IEC,
        current=250, resistance=loop_resistance(warm(0.000272, 30), 2.2, parallel=2)),
    row("cut-off at the inverter for 22.0 V at the bank", voltage_after_drop, 21.791, 0.001,
        "Kirchhoff's law, from memory", voltage=22.0, current=110, resistance=0.0019),
    row("first of two paths of 8 and 12 mΩ", parallel_share, 0.6, 0.001, "inverse of resistance, from memory",
        resistance=0.008, resistances=[0.008, 0.012]),
    row("second of two paths of 8 and 12 mΩ", parallel_share, 0.4, 0.001,
        "inverse of resistance, from memory",
        resistance=0.012, resistances=[0.008, 0.012]),
    row("a quarter of the rise at half current", conductor_temperature, 40.0, 1e-9,
        "heat by the square of the current, by hand",
        ambient=30, rise_at_full=40, current=60, full_current=120),
    row("least drop of a good run", good_run_drop_low, 0.18, 1e-9, "common practice, by hand",
        current=100, cable_cold=0.002),
    row("greatest drop of a good run", good_run_drop_high, 0.275, 1e-9, "common practice, by hand",
        current=100, cable_hot=0.0022, joints=0.0003),
]  # fmt: skip


@pytest.mark.parametrize("row", ROWS)
def test_worked_example(row: Row) -> None:
    assert row.value() == pytest.approx(row.expected, abs=row.tolerance)


@pytest.mark.parametrize("row", ROWS)
def test_what_is_not_a_number_is_refused(row: Row) -> None:
    assert_no_number_passes_as_one(row)


@pytest.mark.parametrize(
    ("size", "area", "tolerance"),
    [
        pytest.param("10", 5.261, 0.005, id="10 AWG (ASTM B258, from memory)"),
        pytest.param("2", 33.63, 0.02, id="2 AWG (ASTM B258, from memory)"),
        pytest.param("4/0", 107.2, 0.1, id="4/0 AWG (ASTM B258, from memory)"),
    ],
)
def test_gauge_has_the_area_of_its_definition(size: str, area: float, tolerance: float) -> None:
    assert awg_area(size) == pytest.approx(area, abs=tolerance)


def test_circular_mils_of_2_0_awg_have_the_area_of_its_table() -> None:
    """133 100 circular mils are 67.44 mm² within 0.05 (definition of the circular mil)."""
    assert convert(133.1, "kcmil", "mm²") == pytest.approx(67.44, abs=0.05)


resistances = st.floats(1e-6, 1e3)
temperatures = st.floats(-60, 250)


@given(resistances, temperatures)
def test_coming_back_to_20_degrees_undoes_warming(resistance: float, temperature: float) -> None:
    hot = resistance_at_temperature(resistance, COPPER, temperature)
    assert resistance_at_20(hot, COPPER, temperature) == pytest.approx(resistance, rel=1e-12)


@given(resistances, temperatures, temperatures)
def test_a_warmer_conductor_never_has_less_resistance(resistance: float, one: float, other: float) -> None:
    cooler, warmer = sorted((one, other))
    assert resistance_at_temperature(resistance, COPPER, cooler) <= resistance_at_temperature(
        resistance, COPPER, warmer
    )


@given(resistances)
def test_at_20_degrees_nothing_is_corrected(resistance: float) -> None:
    assert resistance_at_temperature(resistance, ALUMINIUM_COEFFICIENT_20, 20.0) == resistance


def test_coefficient_about_75_degrees_agrees_with_the_one_about_20() -> None:
    """NEC chapter 9, table 8, note 2 has 0.00323 about 75 °C; IEC 60028 has 0.00393 about 20 °C."""
    at_75 = resistance_at_temperature(1.0, COPPER, 75.0)
    at_90 = resistance_at_temperature(1.0, COPPER, 90.0)
    assert at_90 / at_75 == pytest.approx(1 + 0.00323 * 15, abs=0.0001)


@given(st.lists(st.floats(1e-4, 1e-1), min_size=1, max_size=8))
def test_shares_sum_to_one_and_follow_the_inverse_of_resistance(paths: list[float]) -> None:
    shares = [parallel_share(path, paths) for path in paths]
    assert sum(shares) == pytest.approx(1.0)
    drops = [share * path for share, path in zip(shares, paths, strict=True)]
    assert drops == pytest.approx([drops[0]] * len(paths))


@given(st.floats(1e-5, 1e-2), st.floats(0, 100), st.integers(1, 6))
def test_loop_is_twice_the_run_shared_by_its_conductors(each: float, length: float, parallel: int) -> None:
    assert loop_resistance(each, length, parallel=parallel) * parallel == pytest.approx(
        2 * run_resistance(each, length)
    )


@given(st.floats(0, 500), st.floats(1e-5, 1e-2), st.floats(20, 90), st.floats(0, 1e-3))
def test_a_good_run_has_a_band_that_holds_its_own_drop(
    current: float, cold: float, temperature: float, joints: float
) -> None:
    hot = resistance_at_temperature(cold, COPPER, temperature)
    drop = voltage_drop(current, hot)
    assert good_run_drop_low(current, cold) <= drop <= good_run_drop_high(current, hot, joints)


@pytest.mark.parametrize(
    ("formula", "inputs", "says"),
    [
        (resistance_per_length, {"area": 0.0, "resistivity_20": 0.0172}, "area"),
        (resistance_at_temperature, {"resistance_20": 1.0, "coefficient": 0.00393, "temperature": 300},
            "250"),
        (resistance_at_20, {"resistance": 1.0, "coefficient": 0.393, "temperature": 75}, "coefficient"),
        (loop_resistance, {"resistance_per_metre": 0.001, "length": 1.0, "parallel": 0}, "parallel"),
        (parallel_share, {"resistance": 1.0, "resistances": [2.0, 3.0]}, "one of the paths"),
        (conductor_temperature, {"ambient": 20, "rise_at_full": 40, "current": 1, "full_current": 0},
            "full_current"),
        (voltage_drop, {"current": 10, "resistance": -1}, "resistance"),
    ],
)  # fmt: skip
def test_out_of_range_is_refused_with_what_came(formula, inputs, says):
    with pytest.raises(FormulaError, match=says):
        formula(**inputs)
