"""What the design check takes from a rule set, against what codes and standards print."""

from __future__ import annotations

import pytest

from tests.profiles.shelf import number, rules

# region, field, value as printed, source
PRINTED = [
    (
        "north-america",
        "pv_continuous_factor",
        1.25,
        "NEC 690.8(B): 1.25 × 1.25 is 1.56 of short-circuit current",
    ),
    ("north-america", "pv_reverse_factor", 1.25, "NEC 690.9(A) with 690.8(A)(1)"),
    ("north-america", "string_fuse_least", 1.5625, "NEC 690.8 and 690.9"),
    ("north-america", "pv_voltage_greatest", 600.0, "NEC 690.7: dwellings"),
    ("north-america", "protection_rounding", 800.0, "NEC 240.4(B)"),
    ("north-america", "bus_bar_factor", 1.2, "NEC 705.12(B)(3)(2)"),
    ("north-america", "arc_fault_voltage", 80.0, "NEC 690.11, from memory"),
    ("north-america", "drop_alternating", 0.03, "NEC 210.19 note: 3 % on the branch"),
    ("north-america", "fault_resistance_share", 1.0, "IEEE 946, from memory"),
    ("north-america", "main_protection_distance", 1.8, "ABYC E-11: 72 in where sheathed, from memory"),
    ("iec-230", "pv_reverse_factor", 1.0, "IEC 62548: (strings − 1) × short-circuit current"),
    ("iec-230", "string_fuse_least", 1.5, "IEC 62548"),
    ("iec-230", "string_fuse_most", 2.4, "IEC 62548"),
    ("iec-230", "protection_rounding", 0.0, "IEC 60364-4-43, 433.1"),
    ("iec-230", "disconnection_time", 0.4, "IEC 60364-4-41 table 41.1, TN, from memory"),
    ("iec-230", "disconnection_time_apart", 0.2, "IEC 60364-4-41 table 41.1, TT, from memory"),
    ("iec-230", "touch_voltage", 50.0, "IEC 60364-4-41, 411.5.3"),
    ("iec-230", "fault_resistance_share", 0.9, "IEC 61660-1, from memory"),
    ("iec-230", "vent_air_factor", 0.05, "EN 50272-2 and IEC 62485-2"),
    ("iec-230", "vent_area_factor", 28.0, "EN 50272-2 and IEC 62485-2, 0.1 m/s"),
    ("iec-230", "main_protection_distance", 1.8, "ABYC E-11: 72 in where sheathed, from memory"),
]


@pytest.mark.parametrize(("region", "field", "printed", "source"), PRINTED)
def test_a_rule_of_the_design_is_the_one_that_its_source_prints(
    region: str, field: str, printed: float, source: str
) -> None:
    assert number(rules(region), field) == pytest.approx(printed, rel=1e-9), source


@pytest.mark.parametrize("region", ["north-america", "iec-230", "australia-new-zealand"])
@pytest.mark.parametrize(
    ("coldest", "factor"),
    [
        (24, 1.02), (20, 1.02), (18, 1.04), (10, 1.06), (5, 1.08), (0, 1.10), (-1, 1.12), (-5, 1.12),
        (-10, 1.14), (-15, 1.16), (-20, 1.18), (-25, 1.20), (-26, 1.21), (-35, 1.23), (-40, 1.25),
    ],
)  # fmt: skip
def test_open_circuit_voltage_in_the_cold(region: str, coldest: float, factor: float) -> None:
    """NEC table 690.7(A), crystalline silicon; the row that reaches down to the coldest air."""
    row = next(row for row in rules(region).cold_factors if coldest >= row.down_to)
    assert row.factor == factor


def test_a_fuse_is_held_to_what_its_conventional_current_allows() -> None:
    """IEC 60364-4-43, 433.1: 1.45 × ampacity over the 1.6 × rating at which a gG fuse operates."""
    assert number(rules("iec-230"), "fuse_ampacity_share") == pytest.approx(1.45 / 1.6, abs=0.01)


@pytest.mark.parametrize(
    ("device", "area"),
    [
        (15, 2.08), (20, 3.31), (60, 5.26), (100, 8.37), (200, 13.3), (300, 21.15), (400, 26.66),
        (500, 33.63), (600, 42.41), (800, 53.51), (1000, 67.44), (1200, 85.03),
    ],
)  # fmt: skip
def test_equipment_grounding_conductors(device: float, area: float) -> None:
    """NEC table 250.122, copper: 14, 12, 10, 8, 6, 4, 3, 2, 1, 1/0, 2/0, 3/0 AWG."""
    row = next(row for row in rules("north-america").earth_conductors if device <= row.up_to)
    assert row.area == area
    between = next(row for row in rules("north-america").earth_conductors if device - 1 <= row.up_to)
    assert (between.area or 0) <= area


@pytest.mark.parametrize(
    ("line", "least"), [(2.5, 2.5), (16, 16), (25, 16), (35, 16), (50, 25), (95, 47.5), (240, 120)]
)
def test_protective_conductors_by_the_line(line: float, least: float) -> None:
    """IEC 60364-5-54 table 54.2: up to 16 mm² the same, up to 35 mm² 16, above a half."""
    row = next(row for row in rules("iec-230").earth_conductors if line <= row.up_to)
    assert (row.area or line * (row.share or 1.0)) == pytest.approx(least)


def test_the_conductor_of_an_earthed_direct_pole() -> None:
    """NEC 250.166: not under 8 AWG, never needed over 3/0 AWG; from memory."""
    datum = rules("north-america").dc_earth_conductor
    assert (datum.value, datum.high) == (8.37, 85.03)
    assert rules("north-america").dc_earth_conductor_enough.value == 85.03


def test_letters_of_breakers_trip_at_once_at_the_upper_ends_of_their_standard() -> None:
    """IEC 60898-1: B 3 to 5, C 5 to 10, D 10 to 20 times the rating."""
    for region in ("iec-230", "australia-new-zealand"):
        assert {row.curve: row.multiple for row in rules(region).trip_curves} == {"B": 5, "C": 10, "D": 20}
    assert rules("north-america").trip_curves == ()
