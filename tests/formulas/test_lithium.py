"""Managed lithium: limits that are told, margins under the cut-off, drain and spread."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from commission.errors import FormulaError
from commission.formulas.lithium import (
    charge_margin_voltage,
    effective_limit,
    limit_without_packs,
    pack_current_limit,
    spread,
    standing_drain_share,
    voltage_below_cut_off,
)
from tests.formulas.worked import Row, assert_no_number_passes_as_one, row

ROWS = [
    row("three packs, management binds", pack_current_limit, 300.0, 0.1,
        "lower of C rate and management limit, from memory", rate=0.5, capacity=280, pack_limit=100, packs=3),
    row("two of them", pack_current_limit, 200.0, 0.1,
        "lower of C rate and management limit, from memory", rate=0.5, capacity=280, pack_limit=100, packs=2),
    row("three packs, C rate binds", pack_current_limit, 252.0, 0.0, "by hand",
        rate=0.3, capacity=280, pack_limit=100, packs=3),
    row("one pack out of three", limit_without_packs, 200.0, 0.1, "(n − 1)/n, common practice",
        limit=300, packs=3, out=1),
    row("50 mV under a cell's 3.65 V", charge_margin_voltage, 57.6, 1e-9, "common practice",
        cells=16, cell_limit=3.65, margin=0.05),
    row("50 mV a cell under a cut-off of 58.4 V", voltage_below_cut_off, 57.6, 1e-9, "common practice",
        cut_off=58.4, cells=16, margin=0.05),
    row("battery tells less", effective_limit, 85.0, 0.0, "by hand", own=120, told=85),
    row("own setting is less", effective_limit, 60.0, 0.0, "by hand", own=60, told=85),
    row("ten days of half an ampere", standing_drain_share, 120 / 280, 1e-9, "by hand",
        draw=0.5, time=864000, capacity=280),
    row("cells near full", spread, 0.016, 1e-9, "by hand", voltages=[3.462, 3.455, 3.471]),
]  # fmt: skip

limits = st.floats(0.0, 600.0)


@pytest.mark.parametrize("row", ROWS)
def test_worked_example(row: Row) -> None:
    assert row.value() == pytest.approx(row.expected, abs=row.tolerance)


@pytest.mark.parametrize("row", ROWS)
def test_what_is_not_a_number_is_refused(row: Row) -> None:
    assert_no_number_passes_as_one(row)


@pytest.mark.parametrize(
    ("call", "says"),
    [
        pytest.param(lambda: charge_margin_voltage(0, 3.65, 0.05), "cells = 0", id="no cells"),
        pytest.param(lambda: charge_margin_voltage(16, 3.65, 50), "margin = 50", id="margin in millivolts"),
        pytest.param(lambda: charge_margin_voltage(16, 3.65, -0.05), "margin = -0.05", id="over the limit"),
        pytest.param(lambda: voltage_below_cut_off(58.4, 16, 3.65), "margin = 3.65", id="nothing left"),
        pytest.param(lambda: effective_limit(-1, 85), "own = -1", id="negative setting"),
        pytest.param(lambda: spread([3.4]), "at least two", id="spread of one cell"),
        pytest.param(lambda: standing_drain_share(0.5, 10, 0), "capacity = 0", id="no capacity"),
        pytest.param(lambda: pack_current_limit(0.5, 0, 100, 3), "capacity = 0", id="pack without capacity"),
        pytest.param(lambda: limit_without_packs(300, 3, 4), "out = 4", id="more out than there are"),
        pytest.param(lambda: limit_without_packs(300, 0, 0), "packs = 0", id="no packs"),
    ],
)
def test_out_of_range_is_refused_with_what_came(call, says):
    with pytest.raises(FormulaError, match=says):
        call()


@given(own=limits, told=limits)
def test_neither_limit_is_ever_passed(own, told):
    assert effective_limit(own, told) <= min(own, told)
    assert effective_limit(own, told) in {own, told}


@given(cells=st.integers(4, 24), limit=st.floats(2.5, 4.3), margin=st.floats(0.0, 0.2))
def test_margin_by_cell_and_by_pack_agree(cells, limit, margin):
    by_pack = voltage_below_cut_off(cells * limit, cells, margin)
    assert by_pack == pytest.approx(charge_margin_voltage(cells, limit, margin))
    assert by_pack <= cells * limit


@given(voltages=st.lists(st.floats(2.0, 4.3), min_size=2, max_size=24), shift=st.floats(-0.5, 0.5))
def test_spread_is_never_negative_and_does_not_see_a_common_shift(voltages, shift):
    assert spread(voltages) >= 0.0
    assert spread([one + shift for one in voltages]) == pytest.approx(spread(voltages), abs=1e-9)
    assert spread([max(voltages), min(voltages)]) == spread(voltages)


@given(limit=limits, packs=st.integers(1, 16))
def test_the_limit_falls_pack_by_pack_to_nothing(limit, packs):
    steps = [limit_without_packs(limit, packs, out) for out in range(packs + 1)]
    assert steps == sorted(steps, reverse=True)
    assert steps[0] == pytest.approx(limit)
    assert steps[-1] == 0.0
