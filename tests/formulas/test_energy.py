"""The balance of a day: loads, sun, cold banks, generator and fuel."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from commission.errors import FormulaError
from commission.formulas.energy import (
    array_energy,
    array_to_load_ratio,
    capacity_for_autonomy,
    daily_depth,
    daily_energy_of_bank,
    energy_of_a_day,
    fuel_of_run,
    in_proportion,
    mean_current,
    missing_energy,
    share_from_table,
    share_in_cold,
    shortfall_share,
    sizing_factor,
    time_between_charges,
    time_of_store,
    time_until,
)
from commission.formulas.generator_load import (
    load_during_start,
    negative_sequence_share,
    rating_for_share,
    step_share,
)
from commission.formulas.sizing import autonomy_time, required_capacity
from tests.formulas.worked import Row, assert_no_number_passes_as_one, hours, row

TABLE = "IEEE 485, table 1, as printed in °F"

ROWS = [
    row("load of a day", daily_energy_of_bank, 2341.2, 0.1, "own arithmetic",
        direct=[240.0], alternating=[600.0, 800.0], efficiency=0.87, standing=[20.0, 0.5]),
    row("DC loads alone", daily_energy_of_bank, 15640.0, 1e-6, "own arithmetic",
        direct=[15600.0, 40.0], alternating=[], efficiency=1.0, standing=[]),
    row("day and night", energy_of_a_day, 14400.0, 0, "own arithmetic", power=600.0),
    row("mean current of 5 kWh behind 90 %", mean_current, 4.8225, 1e-3, "own arithmetic",
        energy=5000 / 0.9, voltage=48.0),
    row("25 °C", sizing_factor, 1.00, 1e-9, TABLE, temperature=25.0),
    row("60 °F", sizing_factor, 1.11, 1e-6, TABLE, temperature=(60 - 32) / 1.8),
    row("50 °F", sizing_factor, 1.19, 1e-9, TABLE, temperature=10.0),
    row("40 °F", sizing_factor, 1.30, 1e-6, TABLE, temperature=(40 - 32) / 1.8),
    row("30 °F", sizing_factor, 1.43, 1e-6, f"{TABLE}; from memory", temperature=(30 - 32) / 1.8),
    row("25 °F", sizing_factor, 1.52, 1e-6, f"{TABLE}; from memory", temperature=(25 - 32) / 1.8),
    row("warmth earns no credit", sizing_factor, 1.00, 0, "ruling: no credit", temperature=38.0),
    row("share at 50 °F", share_in_cold, 0.8403, 1e-4, TABLE, factor=1.19),
    row("share between two rows", share_from_table, 0.91, 1e-9, "own arithmetic",
        temperature=10.0, temperatures=[-20.0, 0.0, 25.0], shares=[0.6, 0.85, 1.0]),
    row("share above the last row", share_from_table, 1.0, 0, "own arithmetic",
        temperature=35.0, temperatures=[-20.0, 0.0, 25.0], shares=[0.6, 0.85, 1.0]),
    row("three days of 5 kWh", capacity_for_autonomy, 482.3, 0.1, "IEEE 1013, from memory",
        time=hours(72), current=5000 / 0.9 / 48 / 24, depth=0.8, temperature_share=0.9, rate=20.0,
        exponent=1.25),
    row("array of 3960 W", array_energy, 18245.7, 0.1, "own arithmetic",
        power=3960.0, sun_hours=5.0, efficiency=0.97, charge_efficiency=0.95),
    row("array-to-load ratio", array_to_load_ratio, 1.1, 1e-9, "IEEE 1562, ordinary loads; from memory",
        available=5500.0, taken=5000.0),
    row("energy lacking for critical loads", missing_energy, 1500.0, 1e-9, "own arithmetic, IEEE 1562's 1.3",
        available=5000.0, taken=5000.0, ratio=1.3),
    row("nothing lacks", missing_energy, 0.0, 0, "own arithmetic", available=6000.0, taken=5000.0, ratio=1.1),
    row("share of the generator", shortfall_share, 0.25, 1e-9, "own arithmetic",
        available=15000.0, taken=20000.0),
    row("sun in plenty", shortfall_share, 0.0, 0, "own arithmetic", available=21000.0, taken=20000.0),
    row("depth without sun", daily_depth, 0.5430556, 1e-6, "IEEE 1013: load of a day over the capacity",
        passing=40.0, lasting=15600.0, sun_hours=0.0, voltage=48.0, capacity=600.0),
    row("depth with five hours of sun", daily_depth, 0.43021, 1e-5, "own arithmetic",
        passing=40.0, lasting=15600.0, sun_hours=5.0, voltage=48.0, capacity=600.0),
    row("rule of three", in_proportion, 200.0, 1e-9, "own arithmetic",
        value=150.0, wanted=800.0, given=600.0),
    row("between two charges", time_between_charges, 3.6, 1e-9, "own arithmetic", in_unit="d",
        depth=0.5, voltage=24.0, capacity=600.0, missing=2000.0),
    row("four hours at half of 20 kW", fuel_of_run, 13.6, 1e-9, "published fuel chart, 3.4 L/h at half",
        rate=3.4, time=hours(4)),
    row("a store without sun", time_of_store, 2.25, 1e-9, "own arithmetic", in_unit="d",
        store=20.0, rate=2.0, power=2000.0, charge_efficiency=0.9, energy=8000.0),
    row("over midnight", time_until, 9.0, 1e-9, "own arithmetic", in_unit="h", begin=hours(21.5),
        until=hours(6.5)),
    row("within one day", time_until, 2.0, 1e-9, "own arithmetic", in_unit="h", begin=hours(12),
        until=hours(14)),
    row("start beside others", load_during_start, 4800.0, 0, "own arithmetic",
        others=1000.0, starting=3800.0),
    row("first step of class G2 on 20 kVA", step_share, 0.5, 1e-9, "ISO 8528-5 class G2, as tenders quote it",
        power=10000.0, rating=20000.0),
    row("30 % of the nameplate", rating_for_share, 10000.0, 1e-6, "NFPA 110: 30 % of the nameplate kW",
        power=3000.0, share=0.3),
    row("one phase alone", negative_sequence_share, 1 / 3, 1e-9, "symmetrical components, own arithmetic",
        first=1.0, second=0.0, third=0.0, rated=1.0),
    row("two phases alike, the third empty", negative_sequence_share, 1 / 3, 1e-9,
        "symmetrical components, own arithmetic", first=1.0, second=1.0, third=0.0, rated=1.0),
    row("balanced", negative_sequence_share, 0.0, 1e-9, "symmetrical components",
        first=3000.0, second=3000.0, third=3000.0, rated=6667.0),
]  # fmt: skip


@pytest.mark.parametrize("row", ROWS)
def test_worked_example(row: Row) -> None:
    assert row.value() == pytest.approx(row.expected, abs=max(row.tolerance, 1e-12))


@pytest.mark.parametrize("row", ROWS)
def test_what_is_not_a_number_is_refused(row: Row) -> None:
    assert_no_number_passes_as_one(row)


@pytest.mark.parametrize(
    ("call", "says"),
    [
        pytest.param(lambda: daily_energy_of_bank([-1.0], [], 1.0, []), "direct = -1", id="negative load"),
        pytest.param(lambda: sizing_factor(-5.0), "ends at", id="colder than the table"),
        pytest.param(lambda: share_from_table(-25.0, [-20.0, 25.0], [0.6, 1.0]), "outside", id="too cold"),
        pytest.param(lambda: share_in_cold(0.9), "factor = 0.9", id="credit for warmth"),
        pytest.param(lambda: array_to_load_ratio(1.0, 0.0), "taken = 0", id="no load"),
        pytest.param(
            lambda: daily_depth(1.0, 1.0, 25.0, voltage=48.0, capacity=100.0), "24", id="25 h of sun"
        ),
        pytest.param(lambda: time_until(90000.0, 0.0), "one day", id="no time of day"),
        pytest.param(lambda: rating_for_share(1.0, 0.0), "share = 0", id="no share"),
    ],
)
def test_out_of_range_is_refused_with_what_came(call, says):
    with pytest.raises(FormulaError, match=says):
        call()


@given(days=st.floats(0.5, 7.0), share=st.floats(0.5, 1.0), depth=st.floats(0.3, 1.0))
def test_capacity_by_time_is_the_capacity_by_days(days, share, depth):
    """Without the exponent it is the path of IEEE 1013 that is already there."""
    by_days = required_capacity(5000, 0.9, 48, days, depth, share)
    by_time = capacity_for_autonomy(86400 * days, 5000 / 0.9 / 48 / 24, depth, share, 1.0, 1.0)
    assert by_time == pytest.approx(by_days)


@given(
    time=st.floats(1800.0, 600000.0),
    current=st.floats(0.5, 400.0),
    depth=st.floats(0.2, 1.0),
    share=st.floats(0.4, 1.0),
    rate=st.sampled_from([5.0, 10.0, 20.0]),
    exponent=st.floats(1.0, 1.4),
)
def test_the_capacity_that_is_wanted_lasts_just_as_long(time, current, depth, share, rate, exponent):
    """One formula turned round by hand against the other."""
    capacity = capacity_for_autonomy(time, current, depth, share, rate, exponent)
    lasts = autonomy_time(capacity, rate, exponent, depth, share, current)
    assert lasts == pytest.approx(time)


@given(colder=st.floats(-3.8, 30.0), by=st.floats(0.0, 20.0))
def test_a_colder_lead_cell_never_needs_to_be_smaller(colder, by):
    assert sizing_factor(colder) >= sizing_factor(colder + by) - 1e-12


@given(loads=st.tuples(st.floats(0, 9000), st.floats(0, 9000), st.floats(0, 9000)), more=st.floats(0, 5000))
def test_a_load_on_all_phases_alike_adds_no_imbalance(loads, more):
    first, second, third = loads
    before = negative_sequence_share(first, second, third, 6667.0)
    after = negative_sequence_share(first + more, second + more, third + more, 6667.0)
    assert after == pytest.approx(before, abs=1e-6)
