"""Battery profiles against what standards and published tables print, not against the files themselves."""

from __future__ import annotations

from math import exp, tanh

import pytest

from tests.profiles.shelf import battery, number, on_curve

HOUR = 3600.0
DAY = 24 * HOUR

# profile, field, value as printed, source
PRINTED = [
    ("flooded", "gas_current_float", 5.0, "EN 50272-2 / IEC 62485-2 Table 1, vented lead, float"),
    ("flooded", "gas_current_boost", 20.0, "EN 50272-2 / IEC 62485-2 Table 1, vented lead, boost"),
    ("tubular-vented", "gas_current_float", 5.0, "EN 50272-2 / IEC 62485-2 Table 1, vented lead, float"),
    ("tubular-vented", "gas_current_boost", 20.0, "EN 50272-2 / IEC 62485-2 Table 1, vented lead, boost"),
    ("agm", "gas_current_float", 1.0, "EN 50272-2 / IEC 62485-2 Table 1, valve-regulated lead, float"),
    ("agm", "gas_current_boost", 8.0, "EN 50272-2 / IEC 62485-2 Table 1, valve-regulated lead, boost"),
    ("gel", "gas_current_float", 1.0, "EN 50272-2 / IEC 62485-2 Table 1, valve-regulated lead, float"),
    ("gel", "gas_current_boost", 8.0, "EN 50272-2 / IEC 62485-2 Table 1, valve-regulated lead, boost"),
    (
        "tubular-gel",
        "gas_current_boost",
        8.0,
        "EN 50272-2 / IEC 62485-2 Table 1, valve-regulated lead, boost",
    ),
    (
        "lead-carbon",
        "gas_current_boost",
        8.0,
        "EN 50272-2 / IEC 62485-2 Table 1, valve-regulated lead, boost",
    ),
    ("nickel-cadmium", "gas_current_float", 5.0, "EN 50272-2 / IEC 62485-2 Table 1, nickel-cadmium, float"),
    ("nickel-cadmium", "gas_current_boost", 50.0, "EN 50272-2 / IEC 62485-2 Table 1, nickel-cadmium, boost"),
    ("nickel-iron", "gas_current_boost", 50.0, "taken as nickel-cadmium of EN 50272-2 Table 1"),
    ("tubular-vented", "float_voltage", 2.23, "EN 50272-2 Table 1, float basis of vented lead"),
    ("agm", "float_voltage", 2.27, "EN 50272-2 Table 1, float basis of valve-regulated lead"),
    ("nickel-cadmium", "absorption_voltage", 1.55, "EN 50272-2 Table 1, boost basis of nickel-cadmium"),
    ("nickel-cadmium", "equalize_voltage", 1.52, "US Bureau of Reclamation, FIST 3-6, nickel-cadmium"),
    ("nickel-cadmium", "end_of_discharge_voltage", 1.00, "US Bureau of Reclamation, FIST 3-6, capacity test"),
    ("nickel-cadmium", "charge_temperature_high", 46.0, "US Bureau of Reclamation, FIST 3-6 (115 °F)"),
    ("flooded", "end_of_discharge_voltage", 1.75, "US Navy training manual 14113, 10 h rate"),
    ("tubular-vented", "end_of_discharge_voltage", 1.80, "EN 60896-11, 10 h rate, from memory"),
    ("tubular-gel", "end_of_discharge_voltage", 1.80, "EN 60896-21, 10 h rate, from memory"),
    ("flooded", "charge_temperature_low", -20.0, "battery handbook, permitted charge temperature of lead"),
    ("flooded", "charge_temperature_high", 50.0, "battery handbook, permitted charge temperature of lead"),
    ("lfp", "charge_temperature_low", 0.0, "battery handbook, permitted charge temperature of lithium-ion"),
    ("lfp", "charge_temperature_high", 45.0, "battery handbook, permitted charge temperature of lithium-ion"),
    ("nmc", "charge_temperature_high", 45.0, "battery handbook, permitted charge temperature of lithium-ion"),
    ("lfp", "ceiling_voltage", 3.65, "battery handbook, charging of lithium iron phosphate"),
    ("nmc", "ceiling_voltage", 4.20, "battery handbook, charging of lithium-ion with a nickel cathode"),
    ("flooded", "capacity_end_of_life", 0.80, "IEEE 450: replace under 80 %"),
    ("agm", "capacity_end_of_life", 0.80, "IEEE 1188: replace under 80 %"),
    ("nickel-cadmium", "capacity_end_of_life", 0.80, "IEEE 1106, from memory"),
    ("flooded", "connection_rise", 0.20, "IEEE 450: a joint 20 % over its baseline"),
    ("agm", "temperature_spread", 3.0, "IEEE 1187 and IEEE 1188: 3 K between units, from memory"),
    ("flooded", "gravity_full", 1.265, "battery maintenance handbook, deep-cycle cells"),
    ("flooded", "nominal_cell_voltage", 2.0, "definition"),
    ("lfp", "nominal_cell_voltage", 3.2, "battery handbook: 16 cells make 51.2 V"),
    ("nickel-cadmium", "nominal_cell_voltage", 1.2, "IEC 60623"),
    ("nickel-cadmium", "capacity_rate", 5.0, "IEC 60623: capacity at the 5 h rate"),
    ("tubular-vented", "capacity_rate", 10.0, "EN 60896-11: capacity at the 10 h rate"),
    ("flooded", "absorption_time_limit", 8 * HOUR, "trade manuals: 2 to 4 h, 8 h at most"),
    ("tubular-gel", "absorption_time_limit", 24 * HOUR, "tubular gel sheet: at most 24 h at 2.35 V"),
    ("flooded", "equalize_interval", 90 * DAY, "between 60 days of EN 62509 and 6 months of charge tables"),
    ("flooded", "charge_rate_least", 0.05, "off-grid handbooks: below 5 % the acid stratifies"),
    ("nickel-iron", "equalize_time", 8 * HOUR, "nickel-iron note: 8 h"),
    ("flooded", "ceiling_voltage", 2.67, "charge tables: greatest equalise voltage"),
    ("agm", "ceiling_voltage", 2.50, "IEEE 1188 and IEEE 1189 practice, from memory"),
    ("gel", "ceiling_voltage", 2.40, "trade practice: gas blisters the gel above"),
    ("tubular-gel", "ceiling_voltage", 2.40, "trade practice: corrective charge at 2.40 V at most"),
    ("tubular-vented", "ceiling_voltage", 2.60, "ZVEI practice, from memory"),
    ("flooded", "floor_current", 0.010, "trade practice: 1.0 % of capacity at absorption"),
    ("agm", "floor_current", 0.008, "trade practice: 0.8 % of capacity at absorption"),
    ("lead-carbon", "floor_current", 0.008, "trade practice: 0.8 % of capacity at absorption"),
    ("tubular-vented", "floor_current", 0.006, "trade practice: 0.6 % of capacity at absorption"),
    ("gel", "floor_current", 0.005, "trade practice: 0.5 % of capacity at absorption"),
    ("tubular-gel", "floor_current", 0.004, "trade practice: 0.4 % of capacity at absorption"),
    ("lfp", "end_current", 0.05, "dealers' pages: stop at 0.05 C"),
    ("lto", "charge_temperature_low", -30.0, "dealer's sheet: −40 °C possible, ten degrees kept in hand"),
    ("nmc", "charge_temperature_low", 5.0, "battery handbook: full charge rate from 5 °C"),
]

# profile, field, least and greatest value as printed, source
BETWEEN = [
    ("flooded", "absorption_voltage", 2.37, 2.47, "charge tables from 2.37 V; FSEC-CR-1292-97 to 2.47 V"),
    ("flooded", "float_voltage", 2.15, 2.26, "UFGS 16265A, standby types"),
    ("flooded", "equalize_voltage", 2.50, 2.67, "EN 62509 2.50 V; charge tables 2.58 to 2.67 V"),
    ("flooded", "temperature_slope", -5.0, -4.0, "Universal Technical Standard for solar home systems, 1998"),
    ("agm", "absorption_voltage", 2.40, 2.45, "sheet of small sealed blocks, cycle use"),
    ("agm", "float_voltage", 2.25, 2.30, "sheet of small sealed blocks, stand-by use"),
    ("gel", "float_voltage", 2.23, 2.30, "electronics notes: 13.4 V per 12 V at 20 °C"),
    ("tubular-gel", "absorption_voltage", 2.33, 2.40, "tubular gel sheet, boost"),
    ("nickel-cadmium", "float_voltage", 1.40, 1.42, "US Bureau of Reclamation, FIST 3-6"),
    ("nickel-cadmium", "gassing_voltage", 1.45, 1.50, "US Bureau of Reclamation, FIST 3-6: about 1.47 V"),
    ("nickel-cadmium", "ceiling_voltage", 1.55, 1.71, "encyclopedia: no cell above 1.71 V or below 1.55 V"),
    ("nickel-cadmium", "charge_efficiency", 0.65, 0.85, "engineering encyclopedia"),
    ("lfp", "absorption_voltage", 3.45, 3.65, "users 3.45 to 3.50 V, sheets to 3.65 V"),
    ("nmc", "absorption_voltage", 4.05, 4.20, "battery handbook, charging lithium-ion"),
    ("nmc", "hold_voltage", 4.00, 4.05, "battery handbook: standby recharges at 4.00, stops at 4.05 V"),
    ("lto", "ceiling_voltage", 2.75, 2.85, "battery handbook: charging to 2.85 V"),
    ("flooded", "peukert_exponent", 1.20, 1.30, "utility knowledge base, flooded"),
    ("agm", "peukert_exponent", 1.05, 1.15, "utility knowledge base, AGM"),
    ("gel", "peukert_exponent", 1.10, 1.20, "utility knowledge base, gel"),
    ("lfp", "peukert_exponent", 1.00, 1.05, "utility knowledge base, lithium about 1.05"),
    ("flooded", "self_discharge", 0.04, 0.06, "engineering encyclopedia, new cells"),
    ("flooded", "charge_rate_greatest", 0.05, 0.20, "off-grid handbooks, 5 to 20 % of capacity"),
    ("flooded", "charge_efficiency", 0.85, 1.00, "IEC 61427-1: over 0.85 at 90 % charge, from memory"),
    ("flooded", "gravity_slope", 0.001 / 3 * 1.8, 0.004 / 10 * 1.8, "FIST 3-6, 3 °F; service manual, 10 °F"),
    ("flooded", "rest_time", 3 * HOUR, 24 * HOUR, "electronics notes 20 h, vehicle manual 6 h"),
]  # fmt: skip


@pytest.mark.parametrize(("ident", "field", "printed", "source"), PRINTED)
def test_a_value_is_the_one_that_its_source_prints(ident, field, printed, source):
    assert number(battery(ident), field) == pytest.approx(printed, rel=1e-9), source


@pytest.mark.parametrize(("ident", "field", "least", "greatest", "source"), BETWEEN)
def test_a_value_lies_in_the_range_that_its_source_prints(ident, field, least, greatest, source):
    assert least - 1e-9 <= number(battery(ident), field) <= greatest + 1e-9, source


@pytest.mark.parametrize(
    ("ident", "low", "value", "high", "source"),
    [
        ("flooded", 0.015, 0.030, 0.050, "charge tables 0.015, care guides 0.030, US Army manual 0.050"),
        ("tubular-vented", 0.010, 0.020, 0.050, "IEEE 450 0.010, ZVEI practice 0.020, US Army manual 0.050"),
    ],
)
def test_the_three_steps_of_the_density_spread(ident, low, value, high, source):
    spread = battery(ident).gravity_spread
    assert (spread.low, spread.value, spread.high) == (low, value, high), source


def test_the_three_steps_of_the_ohmic_value():
    """IEEE 1188 as quoted in service guides: 20 % watch, 30 % test that unit, 50 % replace."""
    rise = battery("agm").ohmic_rise
    assert (rise.low, rise.value, rise.high) == (0.20, 0.30, 0.50)


@pytest.mark.parametrize(
    ("ident", "over", "under"),
    [("flooded", 0.10, 0.05), ("tubular-vented", 0.10, 0.05), ("agm", 0.20, 0.10), ("gel", 0.20, 0.10)],
)
def test_the_spread_on_float_of_zvei_practice(ident, over, under):
    """Vented 2 V cells +0.10/−0.05 V, valve-regulated +0.20/−0.10 V (from memory)."""
    assert number(battery(ident), "float_spread_high") == over
    assert number(battery(ident), "float_spread_low") == under


@pytest.mark.parametrize("ident", ["flooded", "agm", "gel", "tubular-vented", "tubular-gel", "lead-carbon"])
def test_loads_return_at_least_130_millivolts_over_the_disconnect(ident):
    """Universal Technical Standard for solar home systems, 1998: 0.8 V in a 12 V block, 0.13 V in a cell."""
    cell = battery(ident)
    assert number(cell, "load_reconnect_voltage") - number(cell, "load_disconnect_voltage") >= 0.13


@pytest.mark.parametrize(("temperature", "printed"), [(0.0, 2.55), (25.0, 2.45), (40.0, 2.35)])
def test_flooded_absorption_follows_the_handbook_table_of_recharge_voltages(temperature, printed):
    """Stationary lead-acid, greatest recharge voltage: 2.55 V at 0 °C, 2.45 at 25, 2.35 at 40; to 0.05 V."""
    cell = battery("flooded")
    slope = number(cell, "temperature_slope")
    held = number(cell, "absorption_voltage") + slope * (temperature - 25.0) / 1000.0
    assert held == pytest.approx(printed, abs=0.025 + 1e-9)


def test_tubular_gel_float_is_the_sheet_value_restated_at_25_degrees():
    """A sheet asks for 2.25 V at 20 °C; at −3 mV/K that is 2.235 V at 25 °C, to the nearest 0.01 V."""
    cell = battery("tubular-gel")
    restated = 2.25 + 5 * number(cell, "temperature_slope") / 1000.0
    assert number(cell, "float_voltage") == pytest.approx(restated, abs=0.0051)


def test_tubular_density_is_the_norm_value_restated_at_25_degrees():
    """1.240 kg/L at 20 °C; a reading at 20 °C stands 0.0035 kg/L over the one at 25 °C."""
    assert number(battery("tubular-vented"), "gravity_full") + 5 * 0.0007 == pytest.approx(1.240, abs=0.0005)


@pytest.mark.parametrize("ident", ["flooded", "tubular-vented"])
def test_rest_voltage_is_density_plus_0_845(ident):
    """IEEE 450, annex: open-circuit voltage of a cell is its density + 0.84 to 0.85."""
    cell = battery(ident)
    assert cell.gravity is not None
    for state in (0.0, 0.25, 0.5, 0.75, 1.0):
        by_density = on_curve(cell.gravity, state) + 0.845
        assert on_curve(cell.open_circuit_voltage, state) == pytest.approx(by_density, abs=0.02)


@pytest.mark.parametrize(
    ("state", "low", "high"),
    [(1.0, 1.260, 1.280), (0.75, 1.230, 1.250), (0.5, 1.200, 1.220), (0.25, 1.170, 1.190)],
)
def test_flooded_density_against_a_second_table(state, low, high):
    """A motor magazine's bands for 100, 75, 50 and 25 %; densities there lie up to 0.015 higher."""
    gravity = battery("flooded").gravity
    assert gravity is not None
    assert low - 0.015 <= on_curve(gravity, state) <= high


@pytest.mark.parametrize(
    ("state", "block"), [(1.0, 12.65), (0.75, 12.45), (0.5, 12.24), (0.25, 12.06), (0.0, 11.89)]
)
def test_flooded_rest_voltage_is_the_published_table(state, block):
    """State-of-charge table of a 12 V block at 80 °F, printed to 0.01 V."""
    assert 6 * on_curve(battery("flooded").open_circuit_voltage, state) == pytest.approx(block, abs=0.005)


@pytest.mark.parametrize(("state", "block"), [(1.0, 12.8), (0.75, 12.6), (0.5, 12.3), (0.25, 12.0)])
def test_agm_rest_voltage_lies_by_the_vehicle_handbook(state, block):
    """Band edges 12.0, 12.3, 12.6, 12.8 V of a 12 V block; judged within the curve's own spread."""
    curve = battery("agm").open_circuit_voltage
    assert 6 * on_curve(curve, state) == pytest.approx(block, abs=6 * curve.spread)


# Rest voltages of a measured LFP cell (an open table in a storage simulation library, BSD-3).
MEASURED_LFP = {
    0.2: 3.2307,
    0.3: 3.2672,
    0.4: 3.2897,
    0.5: 3.2994,
    0.6: 3.3031,
    0.7: 3.3087,
    0.8: 3.3248,
    0.9: 3.3417,
}


@pytest.mark.parametrize("state", MEASURED_LFP)
def test_the_phosphate_plateau_against_a_measured_cell(state):
    curve = battery("lfp").open_circuit_voltage
    assert on_curve(curve, state) == pytest.approx(MEASURED_LFP[state], abs=curve.spread)


@pytest.mark.parametrize(("state", "one", "other"), [(0.05, 2.785, 3.0502), (0.10, 2.978, 3.1894)])
def test_the_phosphate_knee_lies_between_two_open_tables(state, one, other):
    """Below 15 % an open cell model and a measured cell differ by 0.2 V and more."""
    assert one <= on_curve(battery("lfp").open_circuit_voltage, state) <= other


def nickel_cathode(share: float) -> float:
    """Return the potential of the cathode by its lithium share (J. Electrochem. Soc. 167, 080534, 2020)."""
    return (
        4.4875
        - 0.8090 * share
        - 0.0428 * tanh(18.5138 * (share - 0.5542))
        - 17.7326 * tanh(15.7890 * (share - 0.3117))
        + 17.5842 * tanh(15.9308 * (share - 0.3120))
    )


def graphite(share: float) -> float:
    """Return the potential of the anode by its lithium share (same paper)."""
    return (
        0.2482
        + 1.9793 * exp(-39.3631 * share)
        - 0.0909 * tanh(29.8538 * (share - 0.1234))
        - 0.04478 * tanh(14.9159 * (share - 0.2769))
        - 0.0205 * tanh(30.4444 * (share - 0.6103))
    )


@pytest.mark.parametrize("state", [0.0, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 1.0])
def test_the_nmc_curve_is_the_difference_of_its_two_electrodes(state):
    """Half-cell functions of the 2020 paper between the lithium shares of 2.5 and 4.2 V, worked out anew."""
    cathode = nickel_cathode(0.85398 + (0.26386 - 0.85398) * state)
    anode = graphite(0.02635 + (0.91061 - 0.02635) * state)
    assert on_curve(battery("nmc").open_circuit_voltage, state) == pytest.approx(cathode - anode, abs=0.001)


@pytest.mark.parametrize(
    ("ident", "cells", "capacity", "least", "greatest", "source"),
    [
        ("agm", 6, 100.0, 4.0e-3, 6.0e-3, "sheets: a 12 V block of 100 Ah has 4 to 6 mΩ"),
        ("tubular-vented", 1, 1000.0, 0.20e-3, 0.35e-3, "EN 60896-11 sheets: a cell of 1000 Ah"),
        ("lfp", 1, 3.0, 41e-3, 53e-3, "open table of a 3 Ah cell at 25 °C, charge"),
    ],
)
def test_resistance_scales_to_published_blocks(ident, cells, capacity, least, greatest, source):
    resistance = cells * number(battery(ident), "resistance_capacity") / capacity
    assert least <= resistance <= greatest, source
