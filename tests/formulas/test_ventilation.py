"""Gas and air of a battery room."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from commission.errors import FormulaError
from commission.formulas.ventilation import (
    GREATEST_GAS_CURRENT,
    air_flow,
    air_flow_for_current,
    air_through_openings,
    current_for_air,
    dilution_flow,
    gas_current_above_boost,
    hydrogen_flow,
    hydrogen_time,
    opening_area,
    safety_distance,
    source_gas_current,
    stand_alone_air_flow,
    stand_alone_opening_area,
    table_gas_current,
)
from tests.formulas.worked import Row, assert_no_number_passes_as_one, row

NICKEL = "IEC 62485-2 note sheet for nickel-cadmium"
TABLE = "EN 50272-2, table 1"
ROOM = "EN 50272-2, air flow and openings, from memory"

ROWS = [
    row("95 nickel-cadmium cells on float", air_flow, 34.71, 0.05, NICKEL,
        cells=95, gas_current=5, capacity=1450, factor=0.0504),
    row("95 nickel-cadmium cells on float, rounded factor", air_flow, 34.44, 0.05, NICKEL,
        cells=95, gas_current=5, capacity=1450),
    row("95 nickel-cadmium cells in boost", air_flow, 347.13, 0.5, NICKEL,
        cells=95, gas_current=50, capacity=1450, factor=0.0504),
    row("95 nickel-cadmium cells, first charge", air_flow, 1388.52, 2.0, NICKEL,
        cells=95, gas_current=200, capacity=1450, factor=0.0504),
    row("40 % of an unregulated charger of 100 A", air_flow_for_current, 48.4, 0.1, "EN 50272-3, example",
        cells=24, current=40, factor=0.0504),
    row("openings of that room", opening_area, 1355, 5, "EN 50272-3, example", flow=48.4),
    row("air through those openings", air_through_openings, 48.4, 0.2, "EN 50272-3, example, turned round",
        area=1355),
    row("openings of 100 cm² for each L/s", opening_area, 864, 1, "AS/NZS 4509.2, from memory",
        flow=8.64 * 3.6, factor=100 / 3.6),
    row("40 A of gas in that flow", current_for_air, 40, 0.1, "EN 50272-3, example, turned round",
        flow=48.4, cells=24, factor=0.0504),
    row("closed room of 10 m³, 24 cells, 5 A", hydrogen_time, 7.29, 0.01,
        "UFC 3-520-01, 1.27e-7 m³/s per A and cell; to 4 %, by hand", in_unit="h",
        volume=10, limit=0.04, hydrogen=24 * 5 * 1.27e-7 * 3600),
    row("24 vented lead cells on float", air_flow, 3.0, 0.03, ROOM, cells=24, gas_current=5, capacity=500),
    row("openings for float", opening_area, 84, 1, ROOM, flow=air_flow(24, 5, 500)),
    row("24 vented lead cells in boost", air_flow, 12.0, 0.1, ROOM, cells=24, gas_current=20, capacity=500),
    row("openings for boost", opening_area, 336, 3, ROOM, flow=air_flow(24, 20, 500)),
    row("24 sealed cells on float", air_flow, 0.24, 0.003, ROOM, cells=24, gas_current=1, capacity=200),
    row("openings for sealed cells", opening_area, 6.72, 0.07, ROOM, flow=air_flow(24, 1, 200)),
    row("800 Ah of vented lead", safety_distance, 457.0, 2, "EN 50272-2 clause 8, from memory", in_unit="mm",
        gas_current=5, capacity=800, cells=1),
    row("monobloc of six such cells under one vent", safety_distance, 830.4, 2,
        "IEC 62485-2, note on monoblocs: the cube root of the cells, from memory", in_unit="mm",
        gas_current=5, capacity=800, cells=6),
    row("24 cells and 60 A, stand-alone rule", stand_alone_air_flow, 8.64 * 3.6, 0.05 * 3.6,
        "AS/NZS 4509.2, from memory", cells=24, current=60),
    row("openings by the stand-alone rule", stand_alone_opening_area, 864, 5, "AS/NZS 4509.2, from memory",
        flow=stand_alone_air_flow(24, 60)),
    row("vented lead on float", table_gas_current, 5, 0, TABLE, current=1, emission=1, safety=5),
    row("sealed lead on float", table_gas_current, 1, 1e-12, TABLE, current=1, emission=0.2, safety=5),
    row("vented lead in boost", table_gas_current, 20, 0, TABLE, current=4, emission=1, safety=5),
    row("sealed lead in boost", table_gas_current, 8, 1e-12, TABLE, current=8, emission=0.2, safety=5),
    row("nickel in boost", table_gas_current, 50, 0, TABLE, current=10, emission=1, safety=5),
    row("hydrogen at 0 °C", hydrogen_flow, 0.42e-3, 0.005e-3, "EN 50272-2 and a ventilation calculator",
        cells=1, current=1, temperature=0),
    row("hydrogen at 25 °C", hydrogen_flow, 1.27e-7 * 3600, 0.005e-7 * 3600,
        "UFC 3-520-01, clause 14-1.3.2.2",
        cells=1, current=1, temperature=25),
    row("air to 1 % hydrogen", dilution_flow, 5.04, 1e-9, "IEEE 1635 digest, by hand",
        hydrogen=0.42e-3 * 24 * 5, limit=0.01),
    row("25 A of equalise on 500 Ah", source_gas_current, 50, 0, "by hand", current=25, capacity=500),
    row("gas 0.17 V over the table's voltage", gas_current_above_boost, 0.12977 / 0.02, 0.006,
        "gassing current at 2.40 and 2.23 V in an open model of Schiffer 2007", table=1.0, voltage=2.57),
    row("at the table's own voltage", gas_current_above_boost, 20, 0, "rule, by hand", table=20,
        voltage=2.40),
    row("under the table's own voltage", gas_current_above_boost, 20, 0, "rule, by hand", table=20,
        voltage=2.30),
]  # fmt: skip

gas = st.floats(0.1, 200.0)
capacities = st.floats(10.0, 3000.0)


@pytest.mark.parametrize("row", ROWS)
def test_worked_example(row: Row) -> None:
    assert row.value() == pytest.approx(row.expected, abs=row.tolerance)


@pytest.mark.parametrize("row", ROWS)
def test_what_is_not_a_number_is_refused(row: Row) -> None:
    assert_no_number_passes_as_one(row)


@pytest.mark.parametrize(
    ("call", "says"),
    [
        pytest.param(lambda: air_flow(0, 5, 500), "cells = 0", id="no cells"),
        pytest.param(lambda: air_flow(24, -5, 500), "gas_current = -5", id="negative gas"),
        pytest.param(lambda: air_flow(24, 5, 500, 0), "factor = 0", id="no air"),
        pytest.param(lambda: opening_area(-1), "flow = -1", id="negative flow"),
        pytest.param(lambda: air_through_openings(100, 0), "factor = 0", id="no openings"),
        pytest.param(lambda: current_for_air(-1, 24), "flow = -1", id="air the wrong way"),
        pytest.param(lambda: hydrogen_time(10, 4, 0.1), "limit = 4", id="limit of a room in per cent"),
        pytest.param(lambda: safety_distance(5, 0, 1), "capacity = 0", id="no capacity"),
        pytest.param(lambda: safety_distance(5, 800, 0), "cells = 0", id="no cell"),
        pytest.param(lambda: hydrogen_flow(24, 5, -300), "absolute zero", id="too cold to be"),
        pytest.param(lambda: dilution_flow(0.05, 4), "such as 0.01", id="limit in per cent"),
        pytest.param(lambda: dilution_flow(0.05, 0), "such as 0.01", id="no hydrogen at all"),
        pytest.param(lambda: gas_current_above_boost(20, 57.6), "voltage of one cell",
                     id="voltage of the bank"),
        pytest.param(lambda: source_gas_current(25, 0), "capacity = 0", id="gas of no bank"),
        pytest.param(lambda: table_gas_current(1, 5, 5), "emission = 5", id="factors swapped"),
        pytest.param(lambda: stand_alone_air_flow(24, -1), "current = -1", id="discharge"),
        pytest.param(lambda: stand_alone_opening_area(-1), "flow = -1", id="negative flow of a shed"),
        pytest.param(lambda: air_flow_for_current(24, -1), "current = -1", id="discharge in a room"),
    ],
)  # fmt: skip
def test_out_of_range_is_refused_with_what_came(call, says):
    with pytest.raises(FormulaError, match=says):
        call()


def test_the_ceiling_on_gas_lies_above_every_row_of_the_table():
    assert table_gas_current(10, 1, 5) <= GREATEST_GAS_CURRENT


@given(first=gas, second=gas, capacity=capacities)
def test_more_gas_never_needs_less_air_or_less_distance(first, second, capacity):
    low, high = sorted((first, second))
    assert air_flow(24, low, capacity) <= air_flow(24, high, capacity)
    assert safety_distance(low, capacity, 6) <= safety_distance(high, capacity, 6)
    assert safety_distance(low, capacity, 1) <= safety_distance(low, capacity, 6)


@given(first=st.floats(2.0, 2.7), second=st.floats(2.0, 2.7), table=gas)
def test_a_higher_stage_never_makes_less_gas_than_a_lower_one_or_than_the_table(first, second, table):
    low, high = sorted((first, second))
    assert table <= gas_current_above_boost(table, low) <= gas_current_above_boost(table, high)


@given(current=st.floats(0.1, 100.0), capacity=capacities)
def test_gas_by_current_and_gas_by_capacity_ask_for_the_same_air(current, capacity):
    by_capacity = air_flow(24, source_gas_current(current, capacity), capacity)
    assert by_capacity == pytest.approx(air_flow_for_current(24, current))


@given(current=st.floats(0.1, 100.0))
def test_the_rounded_factor_is_five_times_the_dilution_to_four_per_cent_hydrogen(current):
    # 24 × 0.42 L/Ah × 5: hydrogen burns from 4 % on, so 24 parts of air go with one of gas
    needed = 5.0 * 24.0 * hydrogen_flow(24, current, 0.0)
    assert air_flow_for_current(24, current) == pytest.approx(needed, rel=0.01)


@given(flow=st.floats(0.0, 100.0))
def test_both_rules_of_openings_agree_within_one_per_cent(flow):
    assert stand_alone_opening_area(flow) == pytest.approx(opening_area(flow), rel=0.01)
