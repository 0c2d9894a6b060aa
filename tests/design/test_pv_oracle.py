"""Straight lines of the coefficients against a one-diode model of every crystalline module of a database.

The oracle is pvlib with the CEC module database that it brings; modules are known by their column only.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from typing import Any

import numpy as np
import pytest
from pvlib import pvsystem

from commission.formulas.pv_limits import most_in_series
from commission.formulas.pv_ratings import open_circuit_voltage_by_diode
from commission.formulas.pv_strings import hot_maximum_power_voltage, open_circuit_voltage_at

FIELDS = (
    "V_oc_ref", "beta_oc", "V_mp_ref", "gamma_r", "alpha_sc", "a_ref", "I_L_ref", "I_o_ref", "R_sh_ref",
    "R_s", "Adjust",
)  # fmt: skip
CRYSTALLINE = ("Mono-c-Si", "Multi-c-Si")
Numbers = Any
"""An array of numpy."""


@cache
def database() -> dict[str, Numbers]:
    """Return the values of every crystalline module, in the order of the columns, and the columns."""
    table = pvsystem.retrieve_sam("CECMod")
    columns = np.flatnonzero(np.isin(table.loc["Technology"].to_numpy(), CRYSTALLINE))
    values = {name: table.loc[name].to_numpy(dtype=float)[columns] for name in FIELDS}
    return values | {"column": columns}


@cache
def diode(temperature: float, result: str) -> Numbers:
    """Return a voltage of every module at a cell temperature in full light, by the one-diode model."""
    of = database()
    names = ("alpha_sc", "a_ref", "I_L_ref", "I_o_ref", "R_sh_ref", "R_s", "Adjust")
    five = pvsystem.calcparams_cec(1000.0, temperature, *(of[name] for name in names))
    return np.asarray(pvsystem.singlediode(*five)[result])


def each(formula: Callable[[float, float], float], first: str, second: str) -> Numbers:
    """Return what a formula gives for two values of every module."""
    of = database()
    return np.array([formula(one, other) for one, other in zip(of[first], of[second], strict=True)])


def cold_by_line(temperature: float) -> Numbers:
    return each(
        lambda voltage, slope: open_circuit_voltage_at(
            voltage, 1, coefficient=100 * slope / voltage, temperature=temperature
        ),
        "V_oc_ref",
        "beta_oc",
    )


def over(ours: Numbers, theirs: Numbers) -> Numbers:
    """Return by how many per cent ours lies over theirs, where theirs exists."""
    share = 100.0 * (ours / theirs - 1.0)
    return share[np.isfinite(share)]


def place(column: int) -> int:
    return int(np.flatnonzero(database()["column"] == column)[0])


def test_the_database_is_the_one_that_the_figures_were_taken_from():
    assert len(database()["column"]) == 20946
    line = cold_by_line(-20.0) / database()["V_oc_ref"]
    assert np.median(line) == pytest.approx(1.1518, abs=0.0005)
    assert np.median(diode(-20.0, "v_oc") / database()["V_oc_ref"]) == pytest.approx(1.1651, abs=0.0005)


@pytest.mark.parametrize(
    ("temperature", "first", "median", "last"),
    [
        (-40.0, -2.45, 1.476, 4.705),
        (-20.0, -1.761, 1.14, 3.51),
        (-10.0, -1.399, 0.936, 2.832),
        (0.0, -1.02, 0.7, 2.1),
    ],
)
def test_a_module_in_the_cold_lies_over_its_straight_line(temperature, first, median, last):
    beyond = over(diode(temperature, "v_oc"), cold_by_line(temperature))
    assert len(beyond) == 20946
    assert np.percentile(beyond, [1, 50, 99]) == pytest.approx([first, median, last], abs=0.02)


def test_the_margin_of_three_per_cent_holds_nearly_all_modules_down_to_minus_20():
    beyond = over(diode(-20.0, "v_oc"), cold_by_line(-20.0))
    assert np.mean(beyond > 3.0) == pytest.approx(0.0245, abs=0.002)


@pytest.mark.parametrize("temperature", [-40.0, -20.0, -10.0, 0.0])
def test_the_one_diode_formula_follows_the_full_model(temperature):
    ours = each(
        lambda voltage, slope: open_circuit_voltage_by_diode(
            voltage, 1, thermal_slope=slope, temperature=temperature
        ),
        "V_oc_ref",
        "a_ref",
    )
    apart = over(ours, diode(temperature, "v_oc"))
    assert np.max(np.abs(apart)) < 0.55
    assert np.percentile(np.abs(apart), 99) < 0.25


@pytest.mark.parametrize(
    ("temperature", "first", "median", "last"),
    [
        (45.0, -0.857, 0.219, 1.713),
        (55.0, -1.381, 0.308, 2.662),
        (65.0, -1.993, 0.371, 3.682),
        (75.0, -2.697, 0.401, 4.773),
    ],
)
def test_hot_voltage_by_the_power_coefficient_is_nearly_right(temperature, first, median, last):
    ours = each(
        lambda voltage, slope: hot_maximum_power_voltage(
            voltage, 1, coefficient=slope, temperature=temperature
        ),
        "V_mp_ref",
        "gamma_r",
    )
    apart = over(ours, diode(temperature, "v_mp"))
    assert len(apart) == 20946
    assert np.percentile(apart, [1, 50, 99]) == pytest.approx([first, median, last], abs=0.02)
    assert np.mean(apart > 5.0) < 0.01  # within the allowance that the check takes off for age


def test_the_slope_of_the_open_circuit_voltage_would_flatter_the_hot_voltage():
    of = database()
    flattering = over(of["V_mp_ref"] + of["beta_oc"] * 45.0, diode(70.0, "v_mp"))
    ours = each(
        lambda voltage, slope: hot_maximum_power_voltage(voltage, 1, coefficient=slope, temperature=70.0),
        "V_mp_ref",
        "gamma_r",
    )
    assert np.median(flattering) > 5 * np.median(over(ours, diode(70.0, "v_mp")))


@pytest.mark.parametrize(
    ("column", "modules", "cell", "curved", "straight"),
    [
        (100, 10, -20.0, 437.7, 427.67),
        (2500, 6, -10.0, 260.93, 257.43),
        (12000, 3, -20.0, 154.28, 151.33),
        (15000, 10, -20.0, 555.82, 546.82),
        (18000, 11, -15.0, 603.12, 592.07),
    ],
)
def test_single_strings_of_the_database_in_the_cold(column, modules, cell, curved, straight):
    at = place(column)
    assert modules * diode(cell, "v_oc")[at] == pytest.approx(curved, abs=0.05)
    assert modules * cold_by_line(cell)[at] == pytest.approx(straight, abs=0.02)
    ours = open_circuit_voltage_by_diode(
        database()["V_oc_ref"][at], modules, thermal_slope=database()["a_ref"][at], temperature=cell
    )
    assert ours == pytest.approx(curved, rel=0.003)


@pytest.mark.parametrize(
    ("column", "by_diode", "by_line", "by_table"), [(100, 13, 14, 13), (15000, 10, 10, 11)]
)
def test_three_ways_of_counting_modules_under_600_volts_disagree(column, by_diode, by_line, by_table):
    # the straight line is not always the safe one, and the table of NEC 690.7(A) neither
    at, voltage = place(column), database()["V_oc_ref"][place(column)]
    assert most_in_series(600.0, float(diode(-20.0, "v_oc")[at])) == by_diode
    assert most_in_series(600.0, float(cold_by_line(-20.0)[at])) == by_line
    assert most_in_series(600.0, 1.18 * voltage) == by_table
