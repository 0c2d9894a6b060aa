"""Rule sets against what codes and standards print, written from these and not from the files."""

from __future__ import annotations

from math import pi, sqrt

import pytest

from tests.profiles.shelf import conductor, number, rules

FEET_IN_A_THOUSAND = 304.8
"""m in 1000 ft."""
IACS = 0.017241
"""Ω·mm²/m of annealed copper at 20 °C (IEC 60028)."""

# region, field, value as printed, source
PRINTED = [
    ("north-america", "ac_voltage", 120.0, "ANSI C84.1, 120/240 V three wires"),
    ("north-america", "ac_frequency", 60.0, "ANSI C84.1"),
    ("north-america", "continuous_factor", 1.25, "NEC 210.20(A), 215.3"),
    ("north-america", "pv_current_factor", 1.25, "NEC 690.8(A)(1)"),
    ("north-america", "utility_return_delay", 300.0, "IEEE 1547-2018 Table 4"),
    ("north-america", "island_time", 2.0, "IEEE 1547-2018 8.1"),
    ("north-america", "fault_voltage", 2.0, "IEEE 946, from memory"),
    ("north-america", "earth_resistance", 25.0, "NEC 250.53(A)(2)"),
    ("north-america", "conductor_temperature", 75.0, "NEC chapter 9 table 8"),
    ("north-america", "residual_current", 0.006, "UL 943 class A, from memory"),
    ("north-america", "dead_voltage_ac", 50.0, "NFPA 70E, from memory"),
    ("iec-230", "ac_voltage", 230.0, "IEC 60038"),
    ("iec-230", "ac_frequency", 50.0, "IEC 60038"),
    ("iec-230", "ac_voltage_low", 0.90, "IEC 60038: −10 %"),
    ("iec-230", "ac_voltage_high", 1.10, "IEC 60038: +10 %"),
    ("iec-230", "utility_return_delay", 60.0, "EN 50549-1 4.10, from memory"),
    ("iec-230", "island_time", 2.0, "IEC 62116"),
    ("iec-230", "continuous_factor", 1.0, "IEC 60364-4-43, 433.1: Ib ≤ In"),
    ("iec-230", "pv_current_factor", 1.25, "IEC 62548"),
    ("iec-230", "fault_voltage", 1.05, "IEC 61660-1, from memory"),
    ("iec-230", "residual_time", 0.3, "IEC 61008-1, general type at rated residual current"),
    ("iec-230", "residual_current", 0.03, "IEC 60364-4-41, socket outlets, from memory"),
    ("iec-230", "conductor_temperature", 20.0, "IEC 60228"),
    ("iec-230", "dead_voltage_ac", 50.0, "IEC 61140, from memory"),
    ("iec-230", "dead_voltage_dc", 60.0, "IEC 61140, from memory"),
]


@pytest.mark.parametrize(("region", "field", "printed", "source"), PRINTED)
def test_a_rule_is_the_one_that_its_source_prints(region, field, printed, source):
    assert number(rules(region), field) == pytest.approx(printed, rel=1e-9), source


@pytest.mark.parametrize(
    ("region", "field", "volts", "source"),
    [
        ("north-america", "ac_voltage_low", 114.0, "ANSI C84.1 range A, service"),
        ("north-america", "ac_voltage_high", 126.0, "ANSI C84.1 range A, service"),
        ("iec-230", "ac_voltage_low", 207.0, "EN 50160, 95 % of the week"),
        ("iec-230", "ac_voltage_high", 253.0, "EN 50160"),
    ],
)
def test_service_voltages_in_volts(region, field, volts, source):
    nominal = number(rules(region), "ac_voltage")
    assert number(rules(region), field) * nominal == pytest.approx(volts, abs=0.05), source


@pytest.mark.parametrize(
    ("region", "field", "end", "volts", "source"),
    [
        ("north-america", "ac_voltage_low", "low", 110.0, "ANSI C84.1 range B, service, from memory"),
        ("north-america", "ac_voltage_high", "high", 127.0, "ANSI C84.1 range B, service, from memory"),
        ("iec-230", "ac_voltage_low", "low", 195.5, "EN 50160, always"),
    ],
)
def test_the_wider_service_range_in_volts(region, field, end, volts, source):
    share = getattr(getattr(rules(region), field), end)
    assert share * number(rules(region), "ac_voltage") == pytest.approx(volts, abs=0.1), source


# size, Ω in 1000 ft at 75 °C (NEC chapter 9 table 8, stranded, uncoated), A at 60, 75, 90 °C (table 310.16)
NEC = [
    ("16 AWG", 4.99, None, None, 18), ("14 AWG", 3.14, 15, 20, 25), ("12 AWG", 1.98, 20, 25, 30),
    ("10 AWG", 1.24, 30, 35, 40), ("8 AWG", 0.778, 40, 50, 55), ("6 AWG", 0.491, 55, 65, 75),
    ("4 AWG", 0.308, 70, 85, 95), ("2 AWG", 0.194, 95, 115, 130), ("1/0 AWG", 0.122, 125, 150, 170),
    ("2/0 AWG", 0.0967, 145, 175, 195), ("3/0 AWG", 0.0766, 165, 200, 225),
    ("4/0 AWG", 0.0608, 195, 230, 260), ("250 kcmil", 0.0515, 215, 255, 290),
    ("350 kcmil", 0.0367, 260, 310, 350), ("500 kcmil", 0.0258, 320, 380, 430),
]  # fmt: skip


@pytest.mark.parametrize(("size", "printed", "at_60", "at_75", "at_90"), NEC)
def test_conductors_of_the_nec(size, printed, at_60, at_75, at_90):
    row = conductor("north-america", size)
    assert row.resistance * FEET_IN_A_THOUSAND == pytest.approx(printed, rel=2e-4)
    assert (row.ampacity_60, row.ampacity_75, row.ampacity_90) == (at_60, at_75, at_90)


def test_the_lower_ampacity_is_taken_where_editions_of_the_nec_differ():
    """Table 310.16 at 90 °C: 3 AWG 110 A before 2014 and 115 A since; 1 AWG 150 A before and 145 A since."""
    assert conductor("north-america", "3 AWG").ampacity_90 == 110
    assert conductor("north-america", "1 AWG").ampacity_90 == 145


@pytest.mark.parametrize(
    ("size", "greatest"), [("14 AWG", 15), ("12 AWG", 20), ("10 AWG", 30), ("8 AWG", None)]
)
def test_small_conductors_have_their_own_limit_on_protection(size, greatest):
    """NEC 240.4(D)."""
    assert conductor("north-america", size).protection_max == greatest


# size, Ω/km at 20 °C (IEC 60228 table 3, class 5), A with PVC and XLPE (IEC 60364-5-52, B1, two loaded)
IEC = [
    ("1.5 mm²", 13.3, 17.5, 23), ("2.5 mm²", 7.98, 24, 31), ("4 mm²", 4.95, 32, 42), ("6 mm²", 3.30, 41, 54),
    ("10 mm²", 1.91, 57, 75), ("16 mm²", 1.21, 76, 100), ("25 mm²", 0.780, 101, 133),
    ("35 mm²", 0.554, 125, 164), ("50 mm²", 0.386, 151, 198),
    ("70 mm²", 0.272, 192, 253), ("95 mm²", 0.206, 232, 306), ("120 mm²", 0.161, 269, 354),
    ("150 mm²", 0.129, 300, 393), ("240 mm²", 0.0801, 400, 528),
]  # fmt: skip


@pytest.mark.parametrize(("size", "printed", "pvc", "xlpe"), IEC)
def test_conductors_of_the_iec(size, printed, pvc, xlpe):
    row = conductor("iec-230", size)
    assert row.resistance * 1000 == pytest.approx(printed, rel=1e-6)
    assert (row.ampacity_70, row.ampacity_90) == (pvc, xlpe)
    assert row.area == float(size.split()[0])


@pytest.mark.parametrize("row", rules("north-america").conductors, ids=lambda row: row.size)
def test_areas_of_us_sizes_follow_their_definition(row):
    """ASTM B258: d = 0.127 mm × 92^((36 − n) ÷ 39), 1/0 is n = 0; 1 kcmil is 0.50671 mm².

    The circular mils printed in the NEC lie up to 0.07 % beside that.
    """
    number_of, kind = row.size.split()
    if kind == "kcmil":
        area = 0.506707 * float(number_of)
    else:
        gauge = 1 - int(number_of[0]) if "/" in number_of else int(number_of)
        area = pi / 4 * (0.127 * 92 ** ((36 - gauge) / 39)) ** 2
    assert row.area == pytest.approx(area, rel=1e-3)


@pytest.mark.parametrize(("region", "most"), [("north-america", 1.05), ("iec-230", 1.16)])
def test_resistance_is_that_of_copper_with_a_little_for_stranding(region, most):
    """Annealed copper by IEC 60028; stranding adds some per cent, thin flexible wires up to 16 %."""
    table = rules(region)
    copper = IACS * (1 + 0.00393 * (number(table, "conductor_temperature") - 20))
    for row in table.conductors:
        assert 1.0 <= row.resistance * row.area / copper <= most, row.size


def test_the_resistance_of_1_0_awg_at_20_degrees():
    """NEC chapter 9 table 8, note 2: R2 = R1 (1 + 0.00323 (T2 − 75)); 0.3292 Ω/km."""
    hot = conductor("north-america", "1/0 AWG").resistance
    assert 1000 * hot * (1 + 0.00323 * (20 - 75)) == pytest.approx(0.3292, abs=0.0001)


def test_ambient_factors_follow_their_equation_at_the_hot_end_of_each_step():
    """Factor √((Tc − Ta) ÷ (Tc − 30)), printed to 0.01 (NEC 310.15(B); IEC 60364-5-52, annex)."""
    checked = 0
    for region, limits in (("north-america", (60, 75, 90)), ("iec-230", (70, 90))):
        for row in rules(region).ambient_factors:
            for limit in limits:
                printed = getattr(row, f"factor_{limit}")
                if printed is not None:
                    exact = sqrt((limit - row.up_to) / (limit - 30))
                    assert printed == pytest.approx(exact, abs=0.0055), (region, row.up_to, limit)
                    checked += 1
    assert checked == 10 + 13 + 16 + 11 + 15


@pytest.mark.parametrize(
    ("region", "temperature", "limit", "printed"),
    [
        ("north-america", 40, 75, 0.88),
        ("north-america", 45, 90, 0.87),
        ("north-america", 50, 90, 0.82),
        ("north-america", 75, 90, 0.50),
        ("iec-230", 35, 70, 0.94),
        ("iec-230", 45, 90, 0.87),
        ("iec-230", 60, 70, 0.50),
    ],
)
def test_ambient_factors_as_printed(region, temperature, limit, printed):
    """NEC 310.15(B)(1) and IEC 60364-5-52 B.52.14."""
    row = next(row for row in rules(region).ambient_factors if row.up_to == temperature)
    assert getattr(row, f"factor_{limit}") == printed


@pytest.mark.parametrize(
    ("conductors", "printed"),
    [
        (2, 1.0),
        (4, 0.80),
        (6, 0.80),
        (8, 0.70),
        (10, 0.50),
        (20, 0.50),
        (22, 0.45),
        (30, 0.45),
        (32, 0.40),
        (40, 0.40),
        (42, 0.35),
    ],
)
def test_grouping_by_the_nec(conductors, printed):
    """NEC 310.15(C)(1) by loaded conductors; the table here counts circuits of two."""
    circuits = conductors // 2
    row = next(row for row in rules("north-america").grouping_factors if circuits <= row.up_to)
    assert row.factor == printed


def test_grouping_by_the_iec():
    """IEC 60364-5-52 B.52.17 row 1, one to nine circuits bunched, from memory."""
    table = [row.factor for row in rules("iec-230").grouping_factors if row.up_to <= 9]
    assert table == [1.00, 0.80, 0.70, 0.65, 0.60, 0.57, 0.54, 0.52, 0.50]


@pytest.mark.parametrize("region", ["north-america", "iec-230"])
@pytest.mark.parametrize(
    ("circuit", "test_voltage", "least"),
    [
        (48.0, 250, 0.5e6),
        (119.0, 250, 0.5e6),
        (120.0, 500, 1e6),
        (230.0, 500, 1e6),
        (600.0, 1000, 1e6),
        (1200.0, 1500, 1e6),
    ],
)
def test_insulation_by_iec_62446_1(region, circuit, test_voltage, least):
    """Under 120 V 250 V and 0.5 MΩ; to 500 V 500 V; to 1000 V 1000 V; above 1500 V; 1 MΩ (table 1)."""
    row = next(row for row in rules(region).insulation if circuit <= row.up_to)
    assert (row.test_voltage, row.least) == (test_voltage, least)


@pytest.mark.parametrize(
    ("region", "wanted", "next_size"),
    [
        ("north-america", 98.1, 100),
        ("north-america", 102.6, 110),
        ("north-america", 230.0, 250),
        ("north-america", 270.6, 300),
        ("iec-230", 92.0, 100),
        ("iec-230", 126.0, 160),
        ("iec-230", 51.0, 63),
    ],
)
def test_the_next_standard_device(region, wanted, next_size):
    """NEC 240.6(A) and IEC 60059, worked examples of both lists."""
    assert min(size for size in rules(region).breaker_sizes if size >= wanted) == next_size


def test_a_residual_device_of_30_milliamperes_fits_the_earth_electrode():
    """IEC 60364-4-41, 411.5.3: resistance × residual current ≤ 50 V."""
    table = rules("iec-230")
    assert number(table, "earth_resistance") * number(table, "residual_current") <= 50
    assert table.earth_resistance.high == pytest.approx(50 / 0.03, abs=1)


def test_a_ground_fault_interrupter_trips_in_the_time_of_its_standard():
    """UL 943: time ≤ (20 ÷ mA)^1.43 s; 5.59 s at 6 mA (from memory)."""
    table = rules("north-america")
    allowed = (20 / (1000 * number(table, "residual_current"))) ** 1.43
    assert number(table, "residual_time") == pytest.approx(allowed, abs=0.05)


@pytest.mark.parametrize(
    ("thread", "pound_feet"),
    [
        ("1/4 in, copper pad", 6),
        ("5/16 in, copper pad", 11),
        ("3/8 in, copper pad", 19),
        ("1/2 in, copper pad", 40),
        ("5/8 in, copper pad", 55),
    ],
)
def test_bolted_pads_of_the_connector_standard(thread, pound_feet):
    """UL 486A-B bolt table; 1 lb·ft is 12 lb·in of 0.112985 N·m."""
    row = next(row for row in rules("north-america").torques if row.thread == thread)
    assert row.torque == pytest.approx(pound_feet * 12 * 0.112985, abs=0.05)


@pytest.mark.parametrize("region", ["north-america", "iec-230"])
@pytest.mark.parametrize(
    ("thread", "least", "greatest"),
    [("M6, lead post", 4, 6), ("M8, lead post", 8, 12), ("M10, lead post", 14, 20)],
)
def test_lead_posts_are_never_given_the_torque_of_a_steel_bolt(region, thread, least, greatest):
    """Trade practice for lead posts; a dry 8.8 bolt would take 10, 25 and 49 N·m."""
    row = next(row for row in rules(region).torques if row.thread == thread)
    assert least <= row.torque <= greatest
