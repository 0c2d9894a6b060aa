"""What a generator set gives where it stands and what of it may charge the bank."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from commission.errors import FormulaError
from commission.formulas.generator import (
    charge_current_from_budget,
    charger_draw,
    combined_derating,
    derating_between_rows,
    derating_by_altitude,
    derating_by_temperature,
    input_budget,
    input_current_limit,
    leg_rated_current,
    phase_rated_current,
    run_time,
)
from tests.formulas.worked import Row, assert_no_number_passes_as_one, row

NOTES = "rating notes of an alternator"
TABLE = "derating table of a larger diesel"
PRACTICE = "common practice"
ALTITUDES = [1000, 2000, 2500, 3000, 3500]
FACTORS = [1.0, 0.95, 0.90, 0.85, 0.65]
"""At 30 °C, as printed for a turbocharged set."""

ROWS = [
    row("3 % for each 500 m above 1000 m, at 2500 m", derating_by_altitude, 0.91, 0.001, NOTES,
        altitude=2500, start=1000, loss=0.03, step=500),
    row("3 % for each 5 K above 40 °C, at 50 °C", derating_by_temperature, 0.94, 0.001, NOTES,
        temperature=50, start=40, loss=0.03, step=5),
    row("3 % for each 5 K above 40 °C, at 55 °C", derating_by_temperature, 0.91, 0.001, NOTES,
        temperature=55, start=40, loss=0.03, step=5),
    row("2000 m and 45 °C multiply", combined_derating, 0.9118, 0.001, NOTES,
        by_altitude=derating_by_altitude(2000, 1000, loss=0.03, step=500),
        by_temperature=derating_by_temperature(45, 40, loss=0.03, step=5)),
    row("800 m and 30 °C lose nothing", combined_derating, 1.0, 0.001, NOTES,
        by_altitude=derating_by_altitude(800, 1000, loss=0.03, step=500),
        by_temperature=derating_by_temperature(30, 40, loss=0.03, step=5)),
    row("petrol set, 3.5 % for each 300 m above 1500 m, at 2100 m", derating_by_altitude, 0.93, 1e-9,
        "rating notes of a petrol set", altitude=2100, start=1500, loss=0.035, step=300),
    row("table at 2000 m", derating_between_rows, 0.95, 1e-9, TABLE, value=2000, values=ALTITUDES,
        factors=FACTORS),
    row("table at 2500 m", derating_between_rows, 0.90, 1e-9, TABLE, value=2500, values=ALTITUDES,
        factors=FACTORS),
    row("table at 3500 m", derating_between_rows, 0.65, 1e-9, TABLE, value=3500, values=ALTITUDES,
        factors=FACTORS),
    row("table between 3000 and 3500 m", derating_between_rows, 0.75, 1e-9, f"{TABLE}, straight line by hand",
        value=3250, values=ALTITUDES, factors=FACTORS),
    row("table below its first row", derating_between_rows, 1.0, 1e-9, TABLE,
        value=200, values=ALTITUDES, factors=FACTORS),
    row("charger with corrected power factor", charger_draw, 6746.4, 1, PRACTICE,
        voltage=56.4, current=100, efficiency=0.88, power_factor=0.95),
    row("charger without", charger_draw, 3648.9, 1, PRACTICE,
        voltage=28.8, current=70, efficiency=0.85, power_factor=0.65),
    row("8 kVA at 0.9, loaded to 0.8", input_budget, 5760, 1e-9, f"{PRACTICE}, by hand",
        rating=8000, derating=0.9, loading=0.8),
    row("its current at 230 V", input_current_limit, 25.043, 0.05, PRACTICE, budget=8000 * 0.9 * 0.8,
        voltage=230),
    row("what 1500 VA of loads leave", charge_current_from_budget, 67.45, 0.1, PRACTICE,
        budget=5760, load=1500, power_factor=0.95, efficiency=0.9, bank_voltage=54.0),
    row("leg of a 10 kVA split-phase set", leg_rated_current, 41.667, 0.02, "from memory",
        rating=10000, line_voltage=240),
    row("phase of a 10 kVA three-phase set", phase_rated_current, 14.493, 0.02, "from memory",
        rating=10000, phase_voltage=230),
    row("from 40 to 85 % of 800 Ah", run_time, 3.261, 0.02, PRACTICE, in_unit="h",
        capacity=800, start=0.4, stop=0.85, current=120, charge_efficiency=0.92),
]  # fmt: skip


@pytest.mark.parametrize("row", ROWS)
def test_worked_example(row: Row) -> None:
    assert row.value() == pytest.approx(row.expected, abs=row.tolerance)


@pytest.mark.parametrize("row", ROWS)
def test_what_is_not_a_number_is_refused(row: Row) -> None:
    assert_no_number_passes_as_one(row)


@given(st.floats(0, 5000), st.floats(0, 5000))
def test_higher_never_gives_more(one: float, other: float) -> None:
    lower, higher = sorted((one, other))
    assert derating_by_altitude(lower, 1000, loss=0.03, step=500) >= (
        derating_by_altitude(higher, 1000, loss=0.03, step=500)
    )


@given(st.floats(-500, 3500), st.floats(-500, 3500))
def test_a_falling_table_never_rises_between_its_rows(one: float, other: float) -> None:
    lower, higher = sorted((one, other))
    factor = derating_between_rows(lower, ALTITUDES, FACTORS)
    assert factor >= derating_between_rows(higher, ALTITUDES, FACTORS)
    assert 0.65 <= factor <= 1.0


@given(st.floats(40, 60), st.floats(1, 150), st.floats(0.8, 0.95), st.floats(0.6, 1.0), st.floats(0, 5000))
def test_a_budget_that_holds_a_charger_and_the_loads_gives_its_current_back(
    voltage: float, current: float, efficiency: float, factor: float, load: float
) -> None:
    budget = load + charger_draw(voltage, current, efficiency=efficiency, power_factor=factor)
    assert charge_current_from_budget(
        budget, load, power_factor=factor, efficiency=efficiency, bank_voltage=voltage
    ) == pytest.approx(current)


@given(st.floats(0, 5000), st.floats(0, 5000))
def test_loads_beyond_the_budget_leave_nothing_and_never_less(budget: float, load: float) -> None:
    left = charge_current_from_budget(budget, load, power_factor=0.95, efficiency=0.9, bank_voltage=54.0)
    assert left >= 0.0
    assert (left == 0.0) == (load >= budget)


@given(st.floats(0, 20000), st.floats(0.5, 1.0), st.floats(0.5, 1.0), st.floats(100, 250))
def test_the_current_limit_draws_the_budget_and_no_more(
    rating: float, derating: float, loading: float, voltage: float
) -> None:
    budget = input_budget(rating, derating, loading)
    assert budget <= rating
    assert input_current_limit(budget, voltage) * voltage == pytest.approx(budget)


@pytest.mark.parametrize(
    ("formula", "inputs", "says"),
    [
        (derating_by_altitude, {"altitude": 20000, "start": 1000, "loss": 0.03, "step": 500},
            "nothing is left"),
        (derating_by_temperature, {"temperature": 50, "start": 40, "loss": 3, "step": 5}, "loss"),
        (derating_between_rows, {"value": 4000, "values": ALTITUDES, "factors": FACTORS},
            "outside the table"),
        (derating_between_rows, {"value": 1500, "values": [1000, 2000], "factors": [1.0, 95]}, "share"),
        (combined_derating, {"by_altitude": 1.2, "by_temperature": 1.0}, "by_altitude"),
        (charger_draw, {"voltage": 56, "current": 100, "efficiency": 88, "power_factor": 0.95}, "efficiency"),
        (input_current_limit, {"budget": 1000, "voltage": 0}, "voltage"),
        (run_time, {"capacity": 800, "start": 0.9, "stop": 0.4, "current": 100, "charge_efficiency": 0.9},
            "below"),
    ],
)  # fmt: skip
def test_out_of_range_is_refused_with_what_came(formula, inputs, says):
    with pytest.raises(FormulaError, match=says):
        formula(**inputs)
