"""The rule set of Australia and New Zealand against its standards, and against arithmetic of its own."""

from __future__ import annotations

from math import sqrt

import pytest

from commission.formulas.ventilation import stand_alone_air_flow, stand_alone_opening_area
from tests.profiles.shelf import conductor, data, number, rules

HERE = "australia-new-zealand"

# field, value as printed, source
PRINTED = [
    ("ac_voltage", 230.0, "AS 60038"),
    ("ac_frequency", 50.0, "AS 60038"),
    ("ac_voltage_low", 0.94, "AS 60038: −6 %, from memory"),
    ("ac_voltage_high", 1.10, "AS 60038: +10 %, from memory"),
    ("utility_return_delay", 60.0, "AS/NZS 4777.2:2020, quoted by a public simulation"),
    ("island_time", 2.0, "AS/NZS 4777.2, from memory"),
    ("continuous_factor", 1.0, "AS/NZS 3000 2.5.3, from memory"),
    ("fuse_ampacity_share", 0.9, "AS/NZS 3000 2.5.3, fuses, from memory"),
    ("protection_rounding", 0.0, "AS/NZS 3000 2.5.3, from memory"),
    ("pv_current_factor", 1.25, "AS/NZS 5033, from memory"),
    ("string_fuse_least", 1.5, "AS/NZS 5033, from memory"),
    ("string_fuse_most", 2.4, "AS/NZS 5033, from memory"),
    ("residual_time", 0.3, "AS/NZS 61008.1, general type at rated residual current"),
    ("residual_current", 0.03, "AS/NZS 3000 2.6.3, from memory"),
    ("drop_alternating", 0.05, "AS/NZS 3000 3.6.2, from memory"),
    ("drop_array", 0.03, "AS/NZS 5033, from memory"),
    ("drop_direct_load", 0.05, "AS/NZS 4509.2, stand-alone plants, from memory"),
    ("disconnection_time", 0.4, "AS/NZS 3000 1.5.5.3, from memory"),
    ("touch_voltage", 50.0, "AS/NZS 3000 1.5.5.3, from memory"),
    ("fault_voltage", 1.05, "IEC 61660-1, taken over"),
    ("fault_resistance_share", 0.9, "IEC 61660-1, taken over"),
    ("bus_bar_factor", 1.0, "AS/NZS 61439.1, from memory"),
    ("vent_sealed_current", 5.0, "AS/NZS 4509.2: 0.5 A for each 100 Ah, from memory"),
]


@pytest.mark.parametrize(("field", "printed", "source"), PRINTED)
def test_a_rule_is_the_one_that_its_source_prints(field, printed, source):
    assert number(rules(HERE), field) == pytest.approx(printed, rel=1e-9), source


def test_service_voltages_in_volts():
    """AS 60038: 216 to 253 V (−6 %, +10 %), from memory."""
    table = rules(HERE)
    low, high = (number(table, f"ac_voltage_{end}") * number(table, "ac_voltage") for end in ("low", "high"))
    assert [low, high] == pytest.approx([216.2, 253.0], abs=0.1)


@pytest.mark.parametrize(
    ("field", "printed"),
    [
        ("start", 50.25),
        ("zero", 52.0),
        ("fast_trip", 52.0),
        ("fast_trip_time", 0.2),
        ("return_high", 50.15),
        ("return_delay", 60.0),
        ("return_ramp", 360.0),
    ],
)
def test_the_answer_to_a_raised_frequency(field, printed):
    """AS/NZS 4777.2:2020, Australia A: 50.25 to 52.0 Hz, hysteresis 0.1 Hz, 60 s and 6 min; from memory."""
    assert getattr(rules(HERE).response, field) == printed


def test_power_at_51_hertz_on_the_line():
    """AS/NZS 4777.2:2020 4.5: (52.0 − 51.0) ÷ 1.75 = 0.571 of the power at the start."""
    answer = rules(HERE).response
    assert isinstance(answer.zero, float)
    assert isinstance(answer.start, float)
    assert (answer.zero - 51.0) / (answer.zero - answer.start) == pytest.approx(0.571429, abs=1e-6)
    assert answer.base == "momentary"


@pytest.mark.parametrize(
    ("line", "least"),
    [
        (2.5, 2.5), (4, 2.5), (6, 2.5), (10, 4), (16, 6), (25, 6), (35, 10), (50, 16), (70, 25), (95, 25),
        (120, 35), (150, 50), (185, 70), (240, 95), (300, 120),
    ],
)  # fmt: skip
def test_protective_conductors_of_the_wiring_rules(line, least):
    """AS/NZS 3000 table 5.1, copper; from memory."""
    row = next(row for row in rules(HERE).earth_conductors if line <= row.up_to)
    assert (row.area, row.share) == (least, None)


def test_a_protective_conductor_is_never_asked_to_be_thicker_than_its_line():
    for line in (row.area for row in rules(HERE).conductors):
        row = next(row for row in rules(HERE).earth_conductors if line <= row.up_to)
        assert (row.area or line * (row.share or 1.0)) <= line


def test_air_is_that_of_the_stand_alone_standard():
    """AS/NZS 4509.2: 0.006 L/s for each ampere and cell; 24 cells at 60 A want 8.64 L/s and 864 cm²."""
    table = rules(HERE)
    flow = number(table, "vent_air_factor") * 24 * 60
    assert table.vent_method == "charge current"
    assert flow / 3.6 == pytest.approx(8.64, abs=0.005)
    assert flow == pytest.approx(stand_alone_air_flow(24, 60), rel=1e-9)
    area = number(table, "vent_area_factor") * flow
    assert area == pytest.approx(864, abs=1)
    assert area == pytest.approx(stand_alone_opening_area(flow), rel=1e-3)


@pytest.mark.parametrize("row", rules(HERE).conductors, ids=lambda row: row.size)
def test_conductors_carry_what_the_international_table_gives_in_air_of_40_degrees(row):
    """IEC 60364-5-52 method B1 at 30 °C × √ of the temperature rises, 75 °C with its greater resistance."""
    base = conductor("iec-230", row.size)
    assert base.ampacity_70 is not None
    assert base.ampacity_90 is not None
    hotter = sqrt((1 + 0.00393 * 50) / (1 + 0.00393 * 55))
    wanted = {
        70: base.ampacity_70 * sqrt(30 / 40),
        75: base.ampacity_70 * sqrt(35 / 40) * hotter,
        90: base.ampacity_90 * sqrt(50 / 60),
    }
    for degrees, exact in wanted.items():
        told = getattr(row, f"ampacity_{degrees}")
        assert exact - 1 <= told <= exact, (row.size, degrees)
    assert (row.area, row.resistance) == (base.area, base.resistance)


@pytest.mark.parametrize(
    ("size", "printed"), [("2.5 mm²", 23), ("4 mm²", 31), ("6 mm²", 40), ("16 mm²", 72), ("25 mm²", 97)]
)
def test_small_conductors_lie_near_and_not_over_the_printed_table(size, printed):
    """AS/NZS 3008.1.1, 75 °C, two loaded, enclosed in conduit in air of 40 °C; from memory."""
    assert 0.9 * printed <= conductor(HERE, size).ampacity_75 <= printed


def test_factors_for_air_follow_their_equation_on_40_degrees():
    """√((Tc − Ta) ÷ (Tc − 40)), the equation behind AS/NZS 3008.1.1 table 27, to 0.01."""
    checked = 0
    for row in rules(HERE).ambient_factors:
        for limit in (70, 75, 90):
            told = getattr(row, f"factor_{limit}")
            if told is not None:
                assert told == pytest.approx(sqrt((limit - row.up_to) / (limit - 40)), abs=0.0055)
                checked += 1
    assert checked == 11 + 12 + 14


def test_grouping_by_the_cable_standard():
    """AS/NZS 3008.1.1 table 22, one to nine circuits bunched, from memory."""
    table = [row.factor for row in rules(HERE).grouping_factors if row.up_to <= 9]
    assert table == [1.00, 0.80, 0.70, 0.65, 0.60, 0.57, 0.54, 0.52, 0.50]


@pytest.mark.parametrize(
    ("circuit", "test_voltage", "least"), [(48.0, 250, 0.5e6), (230.0, 500, 1e6), (600.0, 1000, 1e6)]
)
def test_insulation_by_the_wiring_rules(circuit, test_voltage, least):
    """AS/NZS 3000 8.3.6: 500 V and 1 MΩ; AS/NZS 5033 as IEC 62446-1; from memory."""
    row = next(row for row in rules(HERE).insulation if circuit <= row.up_to)
    assert (row.test_voltage, row.least) == (test_voltage, least)


def test_what_is_from_memory_says_so():
    """The standards themselves were not at hand: only what a public source quotes counts as seen."""
    seen = {field for field, datum in data(rules(HERE)).items() if datum.known == "seen"}
    own = {field for field in seen if "AS" in getattr(rules(HERE), field).source}
    assert own == {"utility_return_delay"}
