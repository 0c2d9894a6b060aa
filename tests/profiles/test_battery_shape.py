"""What every battery profile must hold by its chemistry: orders, forbidden stages, curves."""

from __future__ import annotations

import pytest

from tests.profiles.shelf import BATTERIES, battery, data, number, on_curve

LEAD = [ident for ident in BATTERIES if battery(ident).family == "lead"]
LITHIUM = [ident for ident in BATTERIES if battery(ident).family == "lithium"]


@pytest.mark.parametrize("ident", BATTERIES)
def test_charging_voltages_stand_in_their_order(ident):
    cell = battery(ident)
    absorption, ceiling = number(cell, "absorption_voltage"), number(cell, "ceiling_voltage")
    assert number(cell, "end_of_discharge_voltage") < number(cell, "load_disconnect_voltage")
    assert number(cell, "load_disconnect_voltage") < number(cell, "load_reconnect_voltage")
    assert number(cell, "load_reconnect_voltage") < number(cell, "hold_voltage") <= absorption <= ceiling
    if cell.equalize_voltage.value != "none":
        assert number(cell, "hold_voltage") < number(cell, "equalize_voltage") <= ceiling


@pytest.mark.parametrize("ident", [it for it in BATTERIES if it != "nickel-cadmium"])
def test_equalise_lies_over_absorption_except_in_nickel_cadmium(ident):
    cell = battery(ident)
    if cell.equalize_voltage.value != "none":
        assert number(cell, "equalize_voltage") >= number(cell, "absorption_voltage")


@pytest.mark.parametrize("ident", BATTERIES)
def test_a_device_without_a_float_switch_holds_the_float_voltage_where_there_is_one(ident):
    cell = battery(ident)
    if cell.float_voltage.value != "none":
        assert cell.hold_voltage.value == cell.float_voltage.value


@pytest.mark.parametrize("ident", BATTERIES)
def test_a_stage_that_is_forbidden_has_no_range_and_no_times(ident):
    cell = battery(ident)
    for field, datum in data(cell).items():
        if datum.value == "none":
            assert (datum.low, datum.high) == (None, None), field
    forbidden = cell.equalize_voltage.value == "none"
    assert (cell.equalize_time.value == "none") is forbidden
    assert (cell.equalize_interval.value == "none") is forbidden


@pytest.mark.parametrize("ident", BATTERIES)
def test_rates_depths_and_times_stand_in_their_order(ident):
    cell = battery(ident)
    assert number(cell, "charge_rate_recommended") <= number(cell, "charge_rate_greatest")
    if cell.charge_rate_least.value != "none":
        assert number(cell, "charge_rate_least") < number(cell, "charge_rate_recommended")
    assert number(cell, "depth_usual") < number(cell, "depth_greatest") <= 1
    assert number(cell, "absorption_time") <= number(cell, "absorption_time_limit")
    assert number(cell, "energy_efficiency") < number(cell, "charge_efficiency") <= 1
    assert number(cell, "charge_temperature_low") < number(cell, "charge_temperature_high")
    assert number(cell, "temperature_clamp_low") < number(cell, "temperature_reference")
    assert number(cell, "temperature_reference") < number(cell, "temperature_clamp_high")
    assert number(cell, "capacity_end_of_life") < number(cell, "capacity_acceptance")


@pytest.mark.parametrize("ident", BATTERIES)
def test_one_restarted_absorption_fits_into_the_longest_day(ident):
    cell = battery(ident)
    assert 2 * number(cell, "absorption_time") <= number(cell, "absorption_time_limit")


@pytest.mark.parametrize("ident", BATTERIES)
def test_the_end_current_can_be_reached_over_the_floor_current(ident):
    cell = battery(ident)
    if cell.end_current.value != "none":
        assert number(cell, "end_current") >= 1.3 * number(cell, "floor_current")


@pytest.mark.parametrize("ident", BATTERIES)
def test_the_rest_curve_runs_from_empty_to_full_inside_the_chemistry(ident):
    cell = battery(ident)
    curve = cell.open_circuit_voltage
    assert (curve.states[0], curve.states[-1]) == (0.0, 1.0)
    assert curve.values[-1] <= number(cell, "ceiling_voltage")
    assert curve.values[0] <= number(cell, "nominal_cell_voltage") < curve.values[-1]
    assert curve.spread > 0


@pytest.mark.parametrize("ident", BATTERIES)
def test_loads_reconnect_above_the_rebound_of_an_empty_bank(ident):
    cell = battery(ident)
    rebound = on_curve(cell.open_circuit_voltage, 1 - number(cell, "depth_greatest"))
    assert number(cell, "load_reconnect_voltage") > rebound


@pytest.mark.parametrize(
    "ident", ["tubular-vented", "tubular-gel", "lead-carbon", "lto", "nickel-cadmium", "nickel-iron"]
)
def test_a_thin_curve_says_that_it_is_from_memory_and_is_wide(ident):
    cell = battery(ident)
    curve = cell.open_circuit_voltage
    assert "from memory" in curve.source
    assert curve.known == "recalled"
    assert curve.spread >= 0.03


@pytest.mark.parametrize("ident", LITHIUM)
def test_lithium_is_managed_not_compensated_not_equalised_and_gives_no_gas(ident):
    cell = battery(ident)
    assert cell.managed
    assert not cell.vented
    assert cell.temperature_slope.value == 0
    for field in (
        "equalize_voltage",
        "gassing_voltage",
        "gas_current_float",
        "gas_current_boost",
        "gravity_full",
    ):
        assert getattr(cell, field).value == "none", field
    assert cell.gravity is None


@pytest.mark.parametrize("ident", [it for it in BATTERIES if it not in LITHIUM])
def test_aqueous_cells_are_compensated_downwards_and_never_as_steep_as_to_be_an_error(ident):
    assert -6 <= number(battery(ident), "temperature_slope") <= -2


@pytest.mark.parametrize("ident", [it for it in LEAD if not battery(it).vented])
def test_sealed_lead_is_not_equalised_and_has_no_free_acid(ident):
    cell = battery(ident)
    assert cell.equalize_voltage.value == "none"
    assert cell.gravity_full.value == cell.gravity_spread.value == cell.gravity_slope.value == "none"


def test_only_the_phosphate_curve_is_flat():
    assert [ident for ident in BATTERIES if battery(ident).curve == "flat"] == ["lfp"]


def test_only_cells_with_acid_have_a_density_curve():
    with_acid = [ident for ident in BATTERIES if battery(ident).gravity is not None]
    assert with_acid == [ident for ident in LEAD if battery(ident).vented]
