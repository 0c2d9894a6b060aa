"""Voltage drop in design: shares, lengths, sizes, constant power and AC runs."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import brentq, fsolve

from commission.errors import FormulaError
from commission.formulas.voltage_drops import (
    allowed_loop_resistance,
    alternating_drop,
    alternating_end_voltage,
    conductor_loss,
    drop_by_table,
    drop_share,
    loaded_voltage,
    longest_run,
    power_at_voltage,
    smallest_area_for_drop,
    table_figure_needed,
)
from tests.formulas.worked import Row, assert_no_number_passes_as_one, row

FOOT = 0.3048
FLOW = "iterated load flow of the two-wire run"
CLASS_5 = {
    10: 1.91, 16: 1.21, 25: 0.78, 35: 0.554, 50: 0.386, 70: 0.272, 95: 0.206, 120: 0.161,
}  # fmt: skip
"""Ω/km at 20 °C (IEC 60228, table 3)."""


def class_5(temperature: float) -> list[float]:
    """Return the resistances of class 5 in Ω/m at a temperature."""
    return [ohms / 1000 * (1 + 0.00393 * (temperature - 20)) for ohms in CLASS_5.values()]


ROWS = [
    row("16 AWG on 24 V", drop_share, 16.63, 0.1, "worked example after NEC chapter 9, table 8", in_unit="%",
        drop=3.992, voltage=24),
    row("8 AWG on 48 V", drop_share, 4.88, 0.01, "trade constant, from memory", in_unit="%",
        drop=2.344, voltage=48),
    row("35 mm² over 150 m at 100 A", drop_by_table, 16.5, 0.01, "published worked example after BS 7671",
        millivolts=1.1, current=100, length=150),
    row("figure needed for 10.5 V", table_figure_needed, 0.7, 0.001, "published worked example after BS 7671",
        drop=10.5, current=100, length=150),
    row("35 mm² at 90 °C over 12 m at 125 A", drop_by_table, 2.025, 0.005, "BS 7671, table 4E1B",
        millivolts=1.35, current=125, length=12),
    row("2.025 V on 48 V", drop_share, 4.22, 0.02, "BS 7671, table 4E1B", in_unit="%", drop=2.025,
        voltage=48),
    row("4/0 AWG, 2 % of 48 V at 100 A", longest_run, 78.9, 0.1, "NEC chapter 9, table 8", in_unit="ft",
        drop=0.96, current=100, resistance_per_metre=0.0608 / 304.8),
    row("1 % of 48 V, 120 A, 3 m, 50 °C", smallest_area_for_drop, 35, 1e-9, "IEC 60228, class 5",
        drop=0.48, current=120, length=3, areas=list(CLASS_5), resistances=class_5(50)),
    row("2 % of 24 V, 80 A, 4 m, 40 °C", smallest_area_for_drop, 35, 1e-9, "IEC 60228, class 5",
        drop=0.48, current=80, length=4, areas=list(CLASS_5), resistances=class_5(40)),
    row("1 % of 48 V, 118 A, 1.8 m, 45 °C", smallest_area_for_drop, 25, 1e-9, "IEC 60228, class 5",
        drop=0.48, current=118, length=1.8, areas=list(CLASS_5), resistances=class_5(45)),
    row("3 % of two strings of five modules", allowed_loop_resistance, 0.31667, 0.0001,
        "pvlib, dc_ohms_from_percent", voltage=190, current=18, loss_share=0.03),
    row("1.9 mΩ at 88 A", conductor_loss, 14.71, 0.02, "Joule's law, from memory", current=88,
        resistance=0.0019),
    row("10 mm², 40 m, 40 A at cos φ 0.8", alternating_drop, 5.914, 0.01,
        "IEC 60364-5-52 annex G, from memory",
        current=40, length=40, area=10, power_factor=0.8, conductors=2),
    row("5.914 V on 230 V", drop_share, 2.57, 0.01, "IEC 60364-5-52 annex G, from memory", in_unit="%",
        drop=5.914, voltage=230),
    row("3 kW at cos φ 0.8 over 40 m", alternating_end_voltage, 226.4086, 0.005, FLOW,
        source_voltage=230, power=3000, power_factor=0.8, resistance=2 * 3.3 * 0.040,
        reactance=2 * 0.1 * 0.040),
    row("4 kW at 93 % on 51.2 V through 15 mΩ", loaded_voltage, 49.907, 0.01,
        "upper root of the constant-power equation, from memory",
        rest_voltage=51.2, power=4000 / 0.93, resistance=0.015),
    row("2 kW at 90 % on 25.4 V through 12 mΩ", loaded_voltage, 24.303, 0.01,
        "upper root of the constant-power equation, from memory",
        rest_voltage=25.4, power=2000 / 0.9, resistance=0.012),
    row("surge of 9 kVA at 88 % on 50.4 V", loaded_voltage, 48.19, 0.02, "constant-power sag, from memory",
        rest_voltage=50.4, power=9000 / 0.88, resistance=0.0104),
    row("most before 21 V from 24.8 V behind 15 mΩ", power_at_voltage, 5320, 2,
        "Kirchhoff's law, from memory",
        rest_voltage=24.8, least_voltage=21.0, resistance=0.015),
]  # fmt: skip

CONSTANT_POWER = [
    pytest.param(48, 3000, 0.23546, 3.0, 47.91154, 62.6154, 5.539, id="3 kW on 48 V, 3 m"),
    pytest.param(24, 2000, 0.314758, 2.5, 23.86813, 83.7938, 11.0502, id="2 kW on 24 V, 2.5 m"),
    pytest.param(12, 1000, 0.619317, 1.5, 11.84312, 84.4372, 13.2465, id="1 kW on 12 V, 1.5 m"),
    pytest.param(230, 3680, 8.866065, 25.0, 222.67379, 16.5264, 121.0761, id="3.68 kW on 230 V, 25 m"),
    pytest.param(150, 3000, 3.81876, 30.0, 145.26822, 20.6515, 97.7181, id="3 kW on 150 V, 30 m"),
]
"""Source V, W, Ω/km and m one way; then end V, A and W lost by an iterated load flow of the two-wire run,
to 0.001 V, 0.002 A and 0.002 W."""


@pytest.mark.parametrize("row", ROWS)
def test_worked_example(row: Row) -> None:
    assert row.value() == pytest.approx(row.expected, abs=row.tolerance)


@pytest.mark.parametrize("row", ROWS)
def test_what_is_not_a_number_is_refused(row: Row) -> None:
    assert_no_number_passes_as_one(row)


@pytest.mark.parametrize(("source", "power", "ohms", "length", "end", "current", "loss"), CONSTANT_POWER)
def test_constant_power_agrees_with_an_iterated_load_flow(
    source: float, power: float, ohms: float, length: float, end: float, current: float, loss: float
) -> None:
    loop = 2 * ohms / 1000 * length
    voltage = loaded_voltage(source, power, loop)
    assert voltage == pytest.approx(end, abs=0.001)
    assert power / voltage == pytest.approx(current, abs=0.002)
    assert conductor_loss(power / voltage, loop) == pytest.approx(loss, abs=0.002)


def test_current_and_loss_of_the_lagging_load_agree_with_a_load_flow() -> None:
    """16.563 A within 0.002 and 72.424 W within 0.01, by an iterated load flow of the two-wire run."""
    end = alternating_end_voltage(230.0, 3000.0, power_factor=0.8, resistance=0.264, reactance=0.008)
    current = 3000.0 / 0.8 / end
    assert current == pytest.approx(16.563, abs=0.002)
    assert conductor_loss(current, 0.264) == pytest.approx(72.424, abs=0.01)


@given(st.floats(10, 60), st.floats(1, 2000), st.floats(1e-4, 0.02))
def test_loaded_voltage_is_the_upper_root_that_a_solver_finds(rest: float, power: float, ohms: float) -> None:
    if rest**2 < 4.2 * power * ohms:
        return
    found = brentq(lambda voltage: voltage**2 - rest * voltage + power * ohms, rest / 2, rest)
    assert loaded_voltage(rest, power, ohms) == pytest.approx(found, rel=1e-6)


@given(st.floats(20, 60), st.floats(0.55, 0.999), st.floats(1e-4, 0.05))
def test_power_at_a_voltage_brings_the_load_to_that_voltage(rest: float, part: float, ohms: float) -> None:
    power = power_at_voltage(rest, part * rest, ohms)
    assert loaded_voltage(rest, power, ohms) == pytest.approx(part * rest, rel=1e-6)


@given(
    st.floats(100, 400), st.floats(100, 4000), st.floats(0.3, 1.0), st.floats(0.01, 1.0), st.floats(0.0, 0.5)
)
def test_alternating_end_voltage_solves_the_phasor_equation(
    source: float, power: float, factor: float, ohms: float, reactance: float
) -> None:
    """The source is the end voltage plus the drop of its current, as phasors."""
    angle = math.acos(factor)
    try:
        end = alternating_end_voltage(
            source, power, power_factor=factor, resistance=ohms, reactance=reactance
        )
    except FormulaError:
        return
    current = power / (factor * end)
    phasor = end + current * complex(math.cos(angle), -math.sin(angle)) * complex(ohms, reactance)
    assert abs(phasor) == pytest.approx(source, rel=1e-9)


def test_alternating_end_voltage_takes_the_upper_root() -> None:
    """A solver started at the source's voltage lands on the same root."""

    def mismatch(end: list[float]) -> float:
        current = 3000.0 / (0.8 * end[0])
        drop = current * complex(0.8, -0.6) * complex(0.9, 0.1)
        return abs(end[0] + drop) - 230.0

    found = float(fsolve(mismatch, [230.0])[0])
    ours = alternating_end_voltage(230.0, 3000.0, power_factor=0.8, resistance=0.9, reactance=0.1)
    assert ours == pytest.approx(found, rel=1e-9)


@given(st.floats(0.1, 5), st.floats(1, 300), st.floats(1e-5, 1e-2))
def test_the_longest_run_drops_just_what_is_allowed(drop: float, current: float, each: float) -> None:
    assert 2 * longest_run(drop, current, each) * current * each == pytest.approx(drop)


@given(st.floats(0.2, 3), st.floats(5, 250), st.floats(0.5, 10))
def test_the_smallest_area_keeps_the_drop_and_the_next_smaller_does_not(
    drop: float, current: float, length: float
) -> None:
    areas, resistances = list(CLASS_5), class_5(50)
    drops = dict(zip(areas, (2 * length * current * each for each in resistances), strict=True))
    try:
        area = smallest_area_for_drop(drop, current, length=length, areas=areas, resistances=resistances)
    except FormulaError:
        assert min(drops.values()) > drop
        return
    assert drops[int(area)] <= drop * (1 + 1e-9)
    assert all(more > drop for smaller, more in drops.items() if smaller < area)


@given(st.floats(1, 100), st.floats(1, 100), st.floats(1, 200))
def test_a_table_figure_needed_gives_the_drop_back(drop: float, current: float, length: float) -> None:
    assert drop_by_table(table_figure_needed(drop, current, length), current, length) == pytest.approx(drop)


@pytest.mark.parametrize(
    ("formula", "inputs", "says"),
    [
        (loaded_voltage, {"rest_voltage": 12, "power": 5000, "resistance": 0.1}, "collapses; at most 360 W"),
        (power_at_voltage, {"rest_voltage": 24, "least_voltage": 10, "resistance": 0.1}, "between half"),
        (smallest_area_for_drop,
         {"drop": 0.01, "current": 100, "length": 10, "areas": [35], "resistances": [0.0005]}, "no size"),
        (smallest_area_for_drop,
         {"drop": 0.5, "current": 100, "length": 1, "areas": [35, 50], "resistances": [0.0005]},
         "2 sizes but 1"),
        (alternating_end_voltage,
         {"source_voltage": 230, "power": 60000, "power_factor": 0.8, "resistance": 1, "reactance": 0.1},
         "collapses"),
        (drop_share, {"drop": 1, "voltage": 0}, "voltage"),
    ],
)  # fmt: skip
def test_out_of_range_is_refused_with_what_came(formula, inputs, says):
    with pytest.raises(FormulaError, match=says):
        formula(**inputs)
