"""Cells, voltage, capacity and energy of banks as they are built."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from commission.errors import FormulaError
from commission.formulas.bank import bank_capacity, bank_energy, bank_voltage, cells_in_series, slope_per_cell
from commission.formulas.charging import per_cell
from tests.formulas.worked import Row, assert_no_number_passes_as_one, row

ROWS = [
    row("eight blocks of 6 V make 24 cells", cells_in_series, 24, 0.05, "definition, from memory",
        blocks=8, block_voltage=6, cell_voltage=2),
    row("eight blocks of 6 V make 48 V", bank_voltage, 48, 0.05, "definition, from memory",
        cells=24, cell_voltage=2),
    row("two strings of 225 Ah", bank_capacity, 450, 0.05, "definition, from memory", capacity=225,
        strings=2),
    row("energy of 48 V and 450 Ah", bank_energy, 21.6, 0.05, "definition, from memory", in_unit="kWh",
        voltage=48, capacity=450),
    row("sixteen LFP cells", bank_voltage, 51.2, 0.01, "definition, from memory", cells=16, cell_voltage=3.2),
    row("three LFP strings of 280 Ah", bank_capacity, 840, 0.01, "definition, from memory",
        capacity=280, strings=3),
    row("energy of 51.2 V and 840 Ah", bank_energy, 43.008, 0.01, "definition, from memory", in_unit="kWh",
        voltage=51.2, capacity=840),
    row("14.4 V of a 12 V block on 48 V", bank_voltage, 57.6, 0.005, "definition, from memory",
        cells=24, cell_voltage=2.4),
    row("loads off at 1.90 V per cell", bank_voltage, 45.6, 0.01, "flooded profile, from memory",
        cells=24, cell_voltage=1.9),
    row("loads on again at 2.10 V per cell", bank_voltage, 50.4, 0.01, "flooded profile, from memory",
        cells=24, cell_voltage=2.1),
    row("−22 mV/K of a 12 V block", slope_per_cell, -3.667, 0.01,
        "a published coefficient, divided by 6 cells",
        block_slope=-22, cells=6),
]  # fmt: skip


@pytest.mark.parametrize("row", ROWS)
def test_worked_example(row: Row) -> None:
    assert row.value() == pytest.approx(row.expected, abs=row.tolerance)


@pytest.mark.parametrize("row", ROWS)
def test_what_is_not_a_number_is_refused(row: Row) -> None:
    assert_no_number_passes_as_one(row)


@pytest.mark.parametrize(
    "call",
    [
        pytest.param(lambda: cells_in_series(0, 6, 2), id="no blocks"),
        pytest.param(lambda: cells_in_series(8, 6, 0), id="cell without voltage"),
        pytest.param(lambda: bank_voltage(0, 2), id="no cells"),
        pytest.param(lambda: bank_capacity(225, 0), id="no strings"),
        pytest.param(lambda: bank_capacity(-225, 1), id="negative capacity"),
        pytest.param(lambda: bank_energy(0, 225), id="no voltage"),
        pytest.param(lambda: slope_per_cell(-22, 0), id="block without cells"),
    ],
)
def test_what_no_bank_can_be_is_refused(call):
    with pytest.raises(FormulaError, match="must be"):
        call()


@given(blocks=st.integers(1, 24), cells=st.sampled_from([1, 2, 3, 4, 6]), voltage=st.floats(1.0, 4.0))
def test_a_string_of_blocks_has_the_cells_of_its_blocks(blocks, cells, voltage):
    counted = cells_in_series(blocks, cells * voltage, voltage)
    assert counted == pytest.approx(blocks * cells)
    assert per_cell(bank_voltage(counted, voltage), counted) == pytest.approx(voltage)
