"""What every class of equipment must be: settings of the trade, on whole grids, that fit the usual banks."""

from __future__ import annotations

import re
from itertools import pairwise
from typing import Any

import pytest

from commission.plant.equipment import Ability, AcPvInverterClass, InverterChargerClass
from tests.each import each
from tests.profiles.shelf import EQUIPMENT, battery, equipment, number, source_classes

# The identifiers of settings, written out from the list of the trade's settings that the project keeps.
NAMES = """
    absorption_voltage absorption_time absorption_time_least absorption_end_current float_voltage
    equalize_voltage equalize_time equalize_interval equalize_current_limit recharge_voltage recharge_delay
    recharge_state_of_charge charge_current_limit temperature_coefficient temperature_reference
    temperature_low_limit temperature_high_limit charge_voltage_ceiling charge_low_temperature
    charge_high_temperature charge_disconnect_voltage charge_reconnect_voltage
    low_voltage_warning load_disconnect_voltage load_disconnect_delay load_disconnect_state_of_charge
    load_reconnect_voltage load_reconnect_state_of_charge load_high_disconnect_voltage
    load_high_reconnect_voltage discharge_current_limit
    ac_output_voltage ac_output_frequency group_role group_leg neutral_bond
    ac_input_current_limit ac_input_connect_delay charge_ramp_time
    ac_input_voltage_low_disconnect ac_input_voltage_low_connect
    ac_input_voltage_high_disconnect ac_input_voltage_high_connect
    ac_input_frequency_low_disconnect ac_input_frequency_low_connect
    ac_input_frequency_high_disconnect ac_input_frequency_high_connect
    generator_start generator_start_state_of_charge generator_start_load generator_stop_voltage
    generator_stop_state_of_charge generator_stop_end_current generator_stop_load generator_stop_delay
    generator_emergency_voltage generator_least_run_time generator_max_run_time generator_warm_up_time
    generator_cool_down_time generator_no_start_from generator_no_start_until generator_exercise_interval
    generator_exercise_time
    frequency_shift_start frequency_shift_end frequency_shift_voltage
    battery_link_silence_time battery_link_silence_action
    monitor_capacity monitor_capacity_rate monitor_peukert_exponent monitor_charge_efficiency
    monitor_full_voltage monitor_full_current monitor_full_time monitor_shunt_current monitor_shunt_voltage
    monitor_zero_threshold monitor_temperature_coefficient
    clock_zone
"""
SETTINGS = set(NAMES.split())
PER_INPUT = {name for name in SETTINGS if name.startswith("ac_input_")} | {"charge_ramp_time"}
ABILITIES = [
    pytest.param(name, ability, id=f"{ident}-{name}")
    for ident in EQUIPMENT
    for name, ability in equipment(ident).settings.items()
]
RANGES = [
    pytest.param(ability, id=f"{ident}-{name}")
    for ident in EQUIPMENT
    for name, ability in equipment(ident).settings.items()
    if ability.fixed is None and not ability.choices
]


@each(("name", "ability"), ABILITIES)
def test_a_setting_is_one_of_the_trades(name, ability):
    assert name in SETTINGS
    assert ability.per_input is (name in PER_INPUT)


@each("ability", RANGES)
def test_a_range_is_a_whole_number_of_steps(ability):
    steps = (ability.high - ability.low) / ability.step
    assert steps == pytest.approx(round(steps), abs=1e-6)
    assert steps >= 1


def unit_wanted(name: str) -> set[str]:
    """Return the units that a setting of this name can have."""
    for pattern, units in (
        (r"_role$|_leg$|_bond$|_action$|_zone$", {""}),
        (r"^frequency_shift_voltage$", {"V"}),
        (r"frequency", {"Hz"}),
        (r"_state_of_charge$|^generator_st(art|op)_load$|_exponent$|_efficiency$", {"1"}),
        (r"^temperature_coefficient$", {"mV/K"}),
        (r"^monitor_temperature_coefficient$", {"%/K"}),
        (r"^monitor_capacity$", {"Ah"}),
        (r"^monitor_capacity_rate$", {"h"}),
        (r"_time$|_delay$|_interval$|_no_start_|_time_least$", {"s"}),
        (r"temperature", {"°C"}),
        (r"_current(_limit)?$|_threshold$", {"A"}),
        (r"voltage|^generator_start$", {"V"}),
    ):
        if re.search(pattern, name):
            return units
    raise AssertionError(f"{name} has no unit here")


@each(("name", "ability"), ABILITIES)
def test_a_setting_has_the_unit_of_its_kind(name, ability):
    assert ability.unit in unit_wanted(name)


@each(("name", "ability"), ABILITIES)
def test_only_bank_voltages_and_the_coefficient_have_a_basis_of_their_own(name, ability):
    if ability.basis != "bank":
        assert name == "temperature_coefficient" or ability.unit == "V"
    if name == "temperature_coefficient":
        assert ability.basis == "per cell"


@pytest.mark.parametrize("ident", EQUIPMENT)
def test_a_list_of_starts_has_its_delays(ident):
    ability = equipment(ident).settings.get("generator_start")
    if ability is not None:
        assert ability.entries == 3
        assert ability.delay_low is not None
        assert ability.delay_high is not None
        assert ability.delay_low < ability.delay_high


@pytest.mark.parametrize(("ident", "device"), source_classes())
def test_a_coefficient_belongs_to_a_sensor(ident, device):
    coefficient = device.settings.get("temperature_coefficient")
    if device.temperature_sensor == "none":
        assert coefficient is None
        assert "temperature_reference" not in device.settings
    elif device.temperature_sensor == "fixed slope":
        assert coefficient is not None
        assert coefficient.fixed is not None
        assert coefficient.fixed < 0
    else:
        assert coefficient is not None
        assert coefficient.fixed is None
        assert coefficient.high == 0


@pytest.mark.parametrize(("ident", "device"), source_classes())
def test_ratings_are_those_of_the_voltage_class(ident, device):
    least, most = {12.0: (16, 17), 24.0: (32, 34), 48.0: (64, 68)}[device.nominal_voltage]
    assert least <= device.dc_voltage_max <= most
    ability = device.settings.get("charge_current_limit")
    rating = device.charger_current if isinstance(device, InverterChargerClass) else device.output_current
    if ability is not None:
        assert ability.high == rating


def in_bank_volts(ability: Ability, device: Any, value: float) -> float:
    """Return a device's own voltage as volts of the whole bank."""
    return value * device.nominal_voltage / 12.0 if ability.basis == "per 12 V" else value


def held(ability: Ability, device: Any, bank_voltage: float) -> bool:
    """Return whether a device can be set at or within one step under a voltage of the whole bank."""
    if ability.fixed is not None:
        return False
    assert ability.low is not None
    assert ability.high is not None
    low = in_bank_volts(ability, device, ability.low)
    return low <= bank_voltage <= in_bank_volts(ability, device, ability.high) + 1e-9


CELLS_FOR_12_VOLTS = {
    "flooded": 6, "agm": 6, "gel": 6, "tubular-vented": 6, "tubular-gel": 6, "lead-carbon": 6,
    "lfp": 4, "nickel-cadmium": 10,
}  # fmt: skip


@pytest.mark.parametrize("chemistry", CELLS_FOR_12_VOLTS)
@pytest.mark.parametrize(("ident", "device"), source_classes())
def test_a_source_can_hold_the_voltages_of_the_usual_banks(ident, device, chemistry):
    cells = CELLS_FOR_12_VOLTS[chemistry] * device.nominal_voltage / 12.0
    for setting in ("absorption_voltage", "float_voltage"):
        wanted = number(battery(chemistry), setting) * cells
        assert held(device.settings[setting], device, wanted), f"{setting} {wanted:.1f} V"
    equalize = device.settings.get("equalize_voltage")
    if equalize is not None and chemistry == "flooded":
        assert held(equalize, device, number(battery(chemistry), "equalize_voltage") * cells)


@pytest.mark.parametrize("chemistry", CELLS_FOR_12_VOLTS)
@pytest.mark.parametrize(
    ("ident", "device"), [row for row in source_classes() if isinstance(row[1], InverterChargerClass)]
)
def test_an_inverter_can_hold_the_low_end_of_the_usual_banks(ident, device, chemistry):
    cells = CELLS_FOR_12_VOLTS[chemistry] * device.nominal_voltage / 12.0
    for setting in ("load_disconnect_voltage", "load_reconnect_voltage"):
        assert held(device.settings[setting], device, number(battery(chemistry), setting) * cells), setting
    assert (
        in_bank_volts(
            device.settings["load_disconnect_voltage"],
            device,
            device.settings["load_disconnect_voltage"].low or 0,
        )
        >= device.low_cut_off
    )


@pytest.mark.parametrize(("ident", "device"), source_classes())
def test_no_charging_setting_reaches_the_device_maximum(ident, device):
    for setting in ("absorption_voltage", "float_voltage", "equalize_voltage", "charge_voltage_ceiling"):
        ability = device.settings.get(setting)
        if ability is not None and ability.high is not None:
            assert in_bank_volts(ability, device, ability.high) < device.dc_voltage_max, setting


def test_classes_differ_in_what_makes_a_bus_hard_to_agree_on():
    devices = [device for _, device in source_classes()]
    absorptions = [device.settings["absorption_voltage"] for device in devices]
    assert {ability.basis for ability in absorptions} >= {"bank", "per 12 V"}
    assert len({ability.step for ability in absorptions}) >= 4
    assert {device.temperature_sensor for device in devices} >= {"none", "fixed slope", "adjustable slope"}
    assert len({device.settings["float_voltage"].off for device in devices}) == 2
    ends = [ability for device in devices if (ability := device.settings.get("absorption_end_current"))]
    assert len({ability.off for ability in ends}) == 2
    assert {device.coordinable for device in devices} >= {True, False}


@pytest.mark.parametrize("ident", [it for it in EQUIPMENT if isinstance(equipment(it), AcPvInverterClass)])
def test_a_response_falls_before_it_trips_and_the_idle_frequency_lets_it_return(ident):
    device = equipment(ident)
    assert isinstance(device, AcPvInverterClass)
    answer = device.response
    assert isinstance(answer.fast_trip, float)
    assert isinstance(answer.slow_trip, float)
    assert isinstance(answer.return_low, float)
    assert isinstance(answer.return_high, float)
    assert isinstance(device.ac_frequency, float)
    assert device.ac_frequency < answer.slow_trip <= answer.fast_trip
    assert answer.return_low < device.ac_frequency < answer.return_high <= answer.slow_trip
    if answer.kind == "droop":
        assert isinstance(answer.start, float)
        assert isinstance(answer.zero, float)
        assert device.ac_frequency < answer.start < answer.slow_trip < answer.zero
    else:
        assert answer.start == answer.zero == answer.base == "unknown"


@pytest.mark.parametrize("ident", EQUIPMENT)
def test_deratings_never_rise(ident):
    device = equipment(ident)
    for table in (device.ambient_derating, device.altitude_derating):
        for earlier, later in pairwise(table):
            assert earlier.at < later.at
            assert earlier.factor >= later.factor
