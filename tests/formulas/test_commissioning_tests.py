"""Pre-charge, joining strings, insulation, arcs, joints: what the readings of the tests should be."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from commission.errors import FormulaError
from commission.formulas.commissioning_tests import (
    CAPACITOR_HAZARD,
    arc_incident_energy,
    capacitor_energy,
    charger_voltage_half_width,
    decay_time,
    equalising_current,
    joint_voltage,
    no_load_power,
    parallel_insulation,
    precharge_residual,
    precharge_residual_under_draw,
    string_voltage_with_reversed,
)
from commission.formulas.insulation import (
    greatest_electrode_resistance,
    insulation_system_voltage,
    insulation_test_voltage,
    least_insulation_resistance,
)
from commission.formulas.joints import (
    infrared_class,
    least_joint_current,
    rise_at_full_load,
    torque_from_pound_inches,
    torque_high,
    torque_in_pound_inches,
    torque_low,
)
from tests.formulas.worked import Row, assert_no_number_passes_as_one, row

RC = "capacitor and resistor, from memory"
ARC = "NFPA 70E D.5.1, from memory"
ARRAY = "insulation test of IEC 62446-1"
TT = "IEC 60364-4-41, from memory"

ROWS = [
    row("missing after five time constants", precharge_residual, 0.3908, 0.005, RC,
        voltage=58.0, resistance=25.0, capacitance=0.030, time=3.75),
    row("missing after 3 s, not ready to close", precharge_residual, 2.5889, 0.005, RC,
        voltage=52.0, resistance=50.0, capacitance=0.020, time=3.0),
    row("missing while 50 mA are drawn", precharge_residual_under_draw, 1.64, 1e-9, "Ohm's law, by hand",
        residual=0.39, standing_current=0.05, resistance=25.0),
    row("30 mF at 58 V", capacitor_energy, 50.46, 0.05, RC, voltage=58.0, capacitance=0.030),
    row("2 mF from 400 V to 60 V", decay_time, 178.33, 0.5, RC,
        voltage=400.0, safe_voltage=60.0, resistance=47000.0, capacitance=0.002),
    row("0.9 V over 26 mΩ", equalising_current, 34.615, 0.05, "Ohm's law, from memory",
        difference=0.9, resistance=0.026),
    row("20, 50 and 4 MΩ together", parallel_insulation, 3.125, 0.001, "parallel sum, from memory",
        in_unit="MΩ",
        resistances=[20e6, 50e6, 4e6]),
    row("51.8 V and 0.62 A", no_load_power, 32.12, 0.05, "power, from memory", voltage=51.8, current=0.62),
    row("100 A over 50 µΩ", joint_voltage, 5.0, 0.01, "Ohm's law, from memory", in_unit="mV",
        current=100, resistance=50e-6),
    row("24 cells of 2.12 V", string_voltage_with_reversed, 50.88, 0.01, "sum of cells, from memory",
        cells=24, reversed_cells=0, cell_voltage=2.12),
    row("24 cells, one block of six reversed", string_voltage_with_reversed, 25.44, 0.01,
        "(n − 2r)·V, by hand",
        cells=24, reversed_cells=6, cell_voltage=2.12),
    row("54 V and 6 kA for 2 s", arc_incident_energy, 1.5514, 0.005, ARC,
        voltage=54, bolted_current=6000, time=2.0, distance=0.457),
    row("125 V and 8 kA for 2 s", arc_incident_energy, 4.7881, 0.005, ARC,
        voltage=125, bolted_current=8000, time=2.0, distance=0.457),
    row("57.6 V with a sensor", charger_voltage_half_width,
        math.sqrt(0.288**2 + 0.05**2 + 0.192**2), 1e-12, "root sum of squares, by hand",
        voltage=57.6, accuracy=0.005, step=0.1, slope=-4.0, cells=24),
    row("57.6 V without compensation", charger_voltage_half_width, math.sqrt(0.288**2 + 0.05**2), 1e-12,
        "root sum of squares, by hand", voltage=57.6, accuracy=0.005, step=0.1, slope=0.0, cells=16),
    row("least of 12 N·m", torque_low, 11.52, 0.005, "ISO 6789, from memory", torque=12.0, tolerance=0.04),
    row("greatest of 12 N·m", torque_high, 12.48, 0.005, "ISO 6789, from memory", torque=12.0,
        tolerance=0.04),
    row("12 N·m in lb·in", torque_in_pound_inches, 106.209, 0.05, "1 N·m = 8.8507 lb·in, from memory",
        torque=12.0),
    row("25 N·m in lb·in", torque_in_pound_inches, 221.3, 0.3, "M8 of class 8.8, dry, from memory",
        torque=25.0),
    row("150 lb·in in N·m", torque_from_pound_inches, 16.9, 0.05, "NEC annex I", torque=150),
    row("19 lb·ft in N·m", torque_from_pound_inches, 25.8, 0.05, "connector standard value, from memory",
        torque=19 * 12),
    row("4 K at half load", rise_at_full_load, 16.0, 1e-9, "square of the current, by hand",
        rise=4.0, current=50, full_current=100),
    row("0.1 mV against 50 µΩ", least_joint_current, 20.0, 1e-9, "common practice, by hand",
        voltage_uncertainty=0.0001, resistance_limit=50e-6),
    row("system voltage of 91.8 V", insulation_system_voltage, 114.8, 0.1, ARRAY, open_circuit_voltage=91.8),
    row("system voltage of 137.7 V", insulation_system_voltage, 172.1, 0.1, ARRAY,
        open_circuit_voltage=137.7),
    row("system voltage of 595.2 V", insulation_system_voltage, 744.0, 0.1, ARRAY,
        open_circuit_voltage=595.2),
    row("system voltage of 90.0 V", insulation_system_voltage, 112.5, 0.1, ARRAY, open_circuit_voltage=90.0),
    row("test of 114.8 V", insulation_test_voltage, 250, 1e-9, ARRAY, system_voltage=114.75),
    row("test of 172.1 V", insulation_test_voltage, 500, 1e-9, ARRAY, system_voltage=172.1),
    row("test of 744 V", insulation_test_voltage, 1000, 1e-9, ARRAY, system_voltage=744),
    row("test of 112.5 V", insulation_test_voltage, 250, 1e-9, ARRAY, system_voltage=112.5),
    row("test above 1000 V", insulation_test_voltage, 1500, 1e-9, f"{ARRAY}, amendment 1, from memory",
        system_voltage=1200),
    row("least at 114.8 V", least_insulation_resistance, 0.5, 1e-9, f"{ARRAY}, from memory", in_unit="MΩ",
        system_voltage=114.75),
    row("least at 172.1 V", least_insulation_resistance, 1.0, 1e-9, f"{ARRAY}, from memory", in_unit="MΩ",
        system_voltage=172.1),
    row("least at 744 V", least_insulation_resistance, 1.0, 1e-9, f"{ARRAY}, from memory", in_unit="MΩ",
        system_voltage=744),
    row("electrode for 30 mA", greatest_electrode_resistance, 1667, 1, TT, touch_voltage=50,
        residual_current=0.03),
    row("electrode for 300 mA", greatest_electrode_resistance, 166.7, 0.1, TT,
        touch_voltage=50, residual_current=0.3),
]  # fmt: skip


@pytest.mark.parametrize("row", ROWS)
def test_worked_example(row: Row) -> None:
    assert row.value() == pytest.approx(row.expected, abs=row.tolerance)


@pytest.mark.parametrize("row", ROWS)
def test_what_is_not_a_number_is_refused(row: Row) -> None:
    assert_no_number_passes_as_one(row)


def test_the_capacitors_of_a_48_v_bus_are_a_hazard() -> None:
    """50.46 J is above the 20 J of IEC 62109-1 (from memory)."""
    assert CAPACITOR_HAZARD == 20.0
    assert capacitor_energy(58.0, 0.030) > CAPACITOR_HAZARD


@pytest.mark.parametrize(
    ("rise", "against", "expected"),
    [
        pytest.param(18, "similar joint", "major deficiency", id="18 K over a like joint (NETA MTS 100.18)"),
        pytest.param(0.5, "similar joint", "no deficiency seen", id="half a kelvin"),
        pytest.param(1, "similar joint", "possible deficiency", id="1 K (NETA MTS 100.18)"),
        pytest.param(3, "similar joint", "possible deficiency", id="3 K (NETA MTS 100.18)"),
        pytest.param(3.5, "similar joint", "probable deficiency", id="between two printed steps the worse"),
        pytest.param(15, "similar joint", "probable deficiency", id="15 K (NETA MTS 100.18)"),
        pytest.param(10, "ambient", "possible deficiency", id="10 K over the air (NETA MTS 100.18)"),
        pytest.param(20, "ambient", "probable deficiency", id="20 K over the air (NETA MTS 100.18)"),
        pytest.param(
            40, "ambient", "deficiency to be watched until mended", id="40 K over the air (NETA MTS 100.18)"
        ),
        pytest.param(41, "ambient", "major deficiency", id="41 K over the air (NETA MTS 100.18)"),
    ],
)
def test_infrared_class(rise, against, expected):
    """Classes of the table, from memory."""
    assert infrared_class(rise, against) == expected


@given(st.floats(-5, 100), st.floats(-5, 100))
def test_a_warmer_joint_is_never_in_a_better_class(one: float, other: float) -> None:
    words = ["no deficiency seen", "possible deficiency", "probable deficiency", "major deficiency"]
    cooler, warmer = sorted((one, other))
    assert words.index(infrared_class(cooler, "similar joint")) <= words.index(
        infrared_class(warmer, "similar joint")
    )


@pytest.mark.parametrize("time", [0.1, 0.75, 2.0, 4.0])
def test_precharge_follows_the_circuit_solved_step_by_step(time: float) -> None:
    """30 mF behind 25 Ω on 58 V, the charging integrated numerically."""
    solved = solve_ivp(
        lambda _, charged: (58.0 - charged) / (25.0 * 0.030), (0.0, time), [0.0], rtol=1e-9, atol=1e-9
    )
    missing = 58.0 - float(solved.y[0][-1])
    assert precharge_residual(58.0, 25.0, capacitance=0.030, time=time) == pytest.approx(missing, abs=1e-6)


@given(st.floats(12, 60), st.floats(5, 100), st.floats(0.005, 0.05), st.floats(0, 5), st.floats(0, 5))
def test_waiting_twice_is_waiting_for_the_sum(
    voltage: float, resistance: float, capacitance: float, first: float, second: float
) -> None:
    def left(voltage: float, time: float) -> float:
        return precharge_residual(voltage, resistance, capacitance=capacitance, time=time)

    assert left(left(voltage, first), second) == pytest.approx(left(voltage, first + second), abs=1e-9)


@given(st.floats(61, 600), st.floats(100, 1e5), st.floats(1e-4, 0.05))
def test_after_the_decay_time_the_voltage_is_the_safe_one(
    voltage: float, resistance: float, capacitance: float
) -> None:
    time = decay_time(voltage, 60.0, resistance=resistance, capacitance=capacitance)
    left = precharge_residual(voltage, resistance, capacitance=capacitance, time=time)
    assert left == pytest.approx(60.0)


@given(st.floats(1, 60))
def test_what_is_safe_already_needs_no_time(voltage: float) -> None:
    assert decay_time(voltage, 60.0, resistance=47000.0, capacitance=0.002) == 0.0


@given(st.lists(st.floats(1e3, 1e9), min_size=1, max_size=6), st.floats(1e3, 1e9))
def test_another_circuit_never_raises_the_insulation_of_all(circuits: list[float], another: float) -> None:
    together = parallel_insulation(circuits)
    assert together <= min(circuits) * (1 + 1e-12)
    assert parallel_insulation([*circuits, another]) <= together * (1 + 1e-12)


def test_circuits_over_range_leave_the_others_to_decide() -> None:
    assert parallel_insulation([math.inf, 4e6]) == 4e6
    assert parallel_insulation([math.inf, math.inf]) == math.inf


@given(st.floats(0, 500))
def test_torque_there_and_back(torque: float) -> None:
    assert torque_from_pound_inches(torque_in_pound_inches(torque)) == pytest.approx(torque)


@given(st.floats(0, 100), st.floats(40, 100))
def test_a_rise_scaled_to_full_load_never_falls(rise: float, load: float) -> None:
    assert rise_at_full_load(rise, load, 100.0) >= rise


@given(st.floats(0, 100), st.floats(0, 0.02), st.floats(0, 1), st.floats(-6, 0), st.integers(1, 30))
def test_a_half_width_is_at_least_its_greatest_part_and_at_most_their_sum(
    voltage: float, accuracy: float, step: float, slope: float, cells: int
) -> None:
    parts = [accuracy * voltage, step / 2, abs(slope) / 1000 * cells * 2]
    width = charger_voltage_half_width(voltage, accuracy, step=step, slope=slope, cells=cells)
    assert max(parts) <= width * (1 + 1e-12) + 1e-12
    assert width <= sum(parts) * (1 + 1e-12) + 1e-12


@given(st.floats(0, 3000), st.floats(0, 3000))
def test_a_higher_system_voltage_is_never_tested_with_less(one: float, other: float) -> None:
    lower, higher = sorted((one, other))
    assert insulation_test_voltage(lower) <= insulation_test_voltage(higher)
    assert least_insulation_resistance(lower) <= least_insulation_resistance(higher)


@pytest.mark.parametrize(
    ("voltage", "expected"),
    [(119.9, 250), (120, 500), (500, 500), (500.1, 1000), (1000, 1000), (1000.1, 1500)],
)
def test_bands_of_the_insulation_test_end_where_the_table_says(voltage: float, expected: float) -> None:
    assert insulation_test_voltage(voltage) == expected


@pytest.mark.parametrize(
    ("formula", "inputs", "says"),
    [
        (precharge_residual, {"voltage": 50, "resistance": 0, "capacitance": 0.02, "time": 1}, "resistance"),
        (equalising_current, {"difference": 1, "resistance": 0}, "resistance"),
        (parallel_insulation, {"resistances": []}, "at least one"),
        (parallel_insulation, {"resistances": [0.0]}, "greater than zero"),
        (string_voltage_with_reversed, {"cells": 6, "reversed_cells": 7, "cell_voltage": 2}, "only 6"),
        (arc_incident_energy, {"voltage": 1500, "bolted_current": 5000, "time": 1, "distance": 0.5},
            "1000 V"),
        (charger_voltage_half_width,
            {"voltage": 54, "accuracy": 0.005, "step": 0.1, "slope": -4, "cells": 0}, "cells"),
        (rise_at_full_load, {"rise": 4, "current": 30, "full_current": 100}, "at least 40 A"),
        (torque_low, {"torque": 12, "tolerance": 4}, "tolerance"),
        (infrared_class, {"rise": math.nan, "against": "ambient"}, "rise"),
        (least_insulation_resistance, {"system_voltage": -1}, "system_voltage"),
    ],
)  # fmt: skip
def test_out_of_range_is_refused_with_what_came(formula, inputs, says):
    with pytest.raises(FormulaError, match=says):
        formula(**inputs)
