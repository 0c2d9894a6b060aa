"""Formulas of wiring sizes against published values."""

from __future__ import annotations

import math

import pytest

from commission.errors import FormulaError
from commission.formulas.voltage_drops import alternating_drop, alternating_end_voltage
from commission.formulas.wiring_sizes import (
    apparent_power,
    derated_device,
    grown_area,
    impedance_drop,
    line_voltage,
    series_voltage,
    share_of_area,
)


def test_impedance_drop_agrees_with_annex_g_of_iec_60364_5_52() -> None:
    # 40 A, 40 m, 10 mm², power factor 0.8: 5.914 V
    resistance, reactance = 2 * 0.0225 / 10.0 * 40.0, 2 * 0.00008 * 40.0
    expected = alternating_drop(40.0, 40.0, area=10.0, power_factor=0.8, conductors=2)
    assert impedance_drop(40.0, resistance, reactance, 0.8) == pytest.approx(expected)
    assert expected == pytest.approx(5.914, abs=0.001)


def test_impedance_drop_agrees_with_a_load_flow() -> None:
    # 230 V, 3 kW at 0.8 over 40 m of 3.3 and 0.1 Ω/km: 226.409 V and 16.563 A (pandapower 3.5.6)
    end = alternating_end_voltage(230.0, 3000.0, power_factor=0.8, resistance=0.264, reactance=0.008)
    assert end == pytest.approx(226.4086, abs=0.005)
    assert impedance_drop(16.563, 0.264, 0.008, 0.8) == pytest.approx(230.0 - end, rel=0.01)


def test_at_unity_power_factor_only_the_resistance_counts() -> None:
    assert impedance_drop(10.0, 0.1, 5.0, 1.0) == 1.0
    assert impedance_drop(10.0, 0.1, 5.0, 0.0) == 50.0


def test_grown_area_of_the_nec_example() -> None:
    # NEC 250.122(B): 10 AWG beside 8 AWG, laid 6 AWG: 16 498 cmil
    assert grown_area(10380.0, 26240.0, 16510.0) == pytest.approx(16497.5, abs=1.0)
    assert grown_area(10380.0, 16510.0, 26240.0) == 10380.0


def test_derating_is_linear_and_never_over_the_rating() -> None:
    assert derated_device(63.0, 0.005, 50.0, 30.0) == pytest.approx(56.7)
    assert derated_device(63.0, 0.005, 10.0, 30.0) == 63.0
    with pytest.raises(FormulaError, match="nothing is left"):
        derated_device(63.0, 0.02, 90.0, 30.0)


def test_line_voltage_of_iec_60038() -> None:
    assert line_voltage(230.0) == pytest.approx(398.4, abs=0.1)
    assert line_voltage(1.0) == math.sqrt(3.0)


def test_apparent_power_and_series_voltage() -> None:
    assert apparent_power(3000.0, 0.8) == 3750.0
    assert series_voltage(31.2, 4.0) == pytest.approx(124.8)
    with pytest.raises(FormulaError):
        apparent_power(3000.0, 0.0)


def test_share_of_area_of_table_54_2() -> None:
    assert share_of_area(0.5, 70.0) == 35.0
    with pytest.raises(FormulaError):
        share_of_area(0.5, 0.0)
