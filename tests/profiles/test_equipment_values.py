"""Equipment classes and regional responses against what standards and published tables print."""

from __future__ import annotations

from itertools import pairwise

import pytest

from commission.plant.equipment import AcPvInverterClass, DeratingRow, GeneratorClass, Response
from tests.profiles.shelf import EQUIPMENT, equipment, rules


def response(ident: str) -> Response:
    """Return how a class of AC-coupled PV inverter, or one of a region, answers a raised frequency."""
    if ident in EQUIPMENT:
        device = equipment(ident)
        assert isinstance(device, AcPvInverterClass)
        return device.response
    return rules(ident).response


def generator(ident: str) -> GeneratorClass:
    """Return a class of generator."""
    device = equipment(ident)
    assert isinstance(device, GeneratorClass)
    return device


# class or region, field, value as printed, source
PRINTED = [
    ("ac-pv-240-5000-droop", "slow_trip", 61.2, "IEEE 1547-2018 Table 18, OF1"),
    ("ac-pv-240-5000-droop", "slow_trip_time", 300.0, "IEEE 1547-2018 Table 18, OF1"),
    ("ac-pv-240-5000-droop", "fast_trip", 62.0, "IEEE 1547-2018 Table 18, OF2"),
    ("ac-pv-240-5000-droop", "fast_trip_time", 0.16, "IEEE 1547-2018 Table 18, OF2"),
    ("ac-pv-240-5000-droop", "return_low", 59.5, "IEEE 1547-2018 Table 4, enter service"),
    ("ac-pv-240-5000-droop", "return_high", 60.1, "IEEE 1547-2018 Table 4, enter service"),
    ("ac-pv-240-5000-droop", "return_delay", 300.0, "IEEE 1547-2018 Table 4, enter service"),
    ("ac-pv-240-5000-droop", "return_ramp", 300.0, "IEEE 1547-2018 4.10.3, enter service"),
    ("ac-pv-240-5000-droop", "base", "rating", "IEEE 1547-2018 6.5.2.7: power in per unit of the rating"),
    ("north-america", "fast_trip", 62.0, "IEEE 1547-2018 Table 18, OF2"),
    ("north-america", "slow_trip", 61.2, "IEEE 1547-2018 Table 18, OF1"),
    ("ac-pv-240-3800-trip-only", "fast_trip", 60.5, "IEEE 1547-2003 Table 2, from memory"),
    ("ac-pv-240-3800-trip-only", "fast_trip_time", 0.16, "IEEE 1547-2003 Table 2, from memory"),
    ("ac-pv-240-3800-trip-only", "return_delay", 300.0, "IEEE 1547-2003: 5 min after the supply is back"),
    ("ac-pv-230-5000-droop", "start", 50.2, "EN 50549-1 4.6.1"),
    ("ac-pv-230-5000-droop", "fast_trip", 51.5, "VDE-AR-N 4105: off above 51.5 Hz"),
    ("ac-pv-230-5000-droop", "return_low", 49.5, "EN 50549-1 4.10, from memory"),
    ("ac-pv-230-5000-droop", "return_high", 50.2, "EN 50549-1 4.10, from memory"),
    ("ac-pv-230-5000-droop", "return_delay", 60.0, "EN 50549-1 4.10, from memory"),
    ("ac-pv-230-5000-droop", "return_ramp", 600.0, "EN 50549-1 4.10: 10 % a minute, from memory"),
    ("ac-pv-230-5000-droop", "base", "momentary", "EN 50549-1 4.6.1: power when 50.2 Hz is passed"),
    ("iec-230", "start", 50.2, "EN 50549-1 4.6.1"),
    ("ac-pv-230-3000-trip-only", "fast_trip", 51.0, "IEC 61727 5.2.2, from memory"),
    ("ac-pv-230-3000-trip-only", "fast_trip_time", 0.2, "IEC 61727 5.2.2, from memory"),
    ("ac-pv-230-3000-trip-only", "return_low", 49.0, "IEC 61727 5.2.2, from memory"),
]


@pytest.mark.parametrize(("ident", "field", "printed", "source"), PRINTED)
def test_a_response_is_the_one_that_its_standard_prints(ident, field, printed, source):
    assert getattr(response(ident), field) == printed, source


# class or region, Hz, share of power that is left, source
HELD = [
    ("ac-pv-240-5000-droop", 61.0, 0.678667, "IEEE 1547-2018 6.5.2.7: 1 − (61 − 60.036) ÷ (60 × 0.05)"),
    ("ac-pv-240-5000-droop", 61.2, 0.612, "IEEE 1547-2018 6.5.2.7"),
    ("ac-pv-240-5000-droop", 62.0, 0.345333, "IEEE 1547-2018 6.5.2.7"),
    ("north-america", 61.2, 0.612, "IEEE 1547-2018 6.5.2.7"),
    ("ac-pv-230-5000-droop", 50.7, 0.80, "EN 50549-1 4.6.1: 40 % for each Hz"),
    ("ac-pv-230-5000-droop", 51.0, 0.68, "EN 50549-1 4.6.1"),
    ("ac-pv-230-5000-droop", 51.5, 0.48, "EN 50549-1 4.6.1"),
    ("iec-230", 51.5, 0.48, "EN 50549-1 4.6.1"),
]


@pytest.mark.parametrize(("ident", "frequency", "share", "source"), HELD)
def test_start_and_end_of_the_slope_give_the_power_of_the_standard(ident, frequency, share, source):
    answer = response(ident)
    assert isinstance(answer.start, float)
    assert isinstance(answer.zero, float)
    left = (answer.zero - frequency) / (answer.zero - answer.start)
    assert left == pytest.approx(share, abs=0.0005), source


def between(rows: tuple[DeratingRow, ...], at: float) -> float:
    """Return the factor on the straight line between two rows."""
    for low, high in pairwise(rows):
        if low.at <= at <= high.at:
            return low.factor + (high.factor - low.factor) * (at - low.at) / (high.at - low.at)
    raise AssertionError(f"{at} lies outside the table")


DIESELS = [
    "generator-diesel-split-12000",
    "generator-diesel-single-230-10000",
    "generator-diesel-three-230-20000",
]
PETROLS = ["generator-petrol-split-6500", "generator-petrol-single-230-5000"]


@pytest.mark.parametrize("ident", DIESELS)
@pytest.mark.parametrize(
    ("altitude", "ambient", "printed"),
    [(2500, 40, 0.91), (1000, 50, 0.94), (1000, 55, 0.91), (2000, 45, 0.9118), (800, 30, 1.0)],
)
def test_diesel_derating_by_the_published_table(ident, altitude, ambient, printed):
    """3 % for each 500 m above 1000 m and 3 % for each 5 °C above 40 °C; factors multiply."""
    device = generator(ident)
    factor = between(device.altitude_derating, altitude) * between(device.ambient_derating, ambient)
    assert factor == pytest.approx(printed, abs=0.0005)


@pytest.mark.parametrize("ident", PETROLS)
@pytest.mark.parametrize(
    ("altitude", "ambient", "left"), [(300, 25, 0.965), (1500, 25, 0.825), (0, 36, 0.98)]
)
def test_petrol_derating_by_the_trade_rule(ident, altitude, ambient, left):
    """Carburettor sets: 3.5 % for each 300 m from sea level, 1 % for each 5.5 °C above 25 °C."""
    device = generator(ident)
    factor = between(device.altitude_derating, altitude) * between(device.ambient_derating, ambient)
    assert factor == pytest.approx(left, abs=0.0005)


@pytest.mark.parametrize("ident", DIESELS)
def test_diesel_fuel_line_and_least_load(ident):
    """F = 0.08145 rated + 0.246 power in L/h and kW; 30 % least load (NFPA 110)."""
    device = generator(ident)
    assert device.fuel_idle == 0.08145
    assert device.fuel_slope == 0.246
    assert device.least_load == 0.30


@pytest.mark.parametrize("ident", PETROLS)
def test_petrol_fuel_by_the_trade_rule(ident):
    """0.35 to 0.6 L/kWh at full load, over 1 L/kWh at a quarter."""
    device = generator(ident)
    assert isinstance(device.fuel_idle, float)
    assert isinstance(device.fuel_slope, float)
    assert 0.35 <= device.fuel_idle + device.fuel_slope <= 0.6
    assert device.fuel_idle / 0.25 + device.fuel_slope > 1.0


@pytest.mark.parametrize(("idents", "droop"), [(DIESELS, 0.05), (PETROLS, 0.08)])
def test_governors_by_their_class(idents, droop):
    """ISO 8528-5: droop 5 % in class G2, 8 % in G1; full load leaves the set within 3 % of nominal."""
    for ident in idents:
        device = generator(ident)
        assert device.frequency_droop == droop
        assert isinstance(device.no_load_frequency, float)
        assert isinstance(device.ac_frequency, float)
        full_load = device.no_load_frequency - droop * device.ac_frequency
        assert full_load == pytest.approx(device.ac_frequency, rel=0.03)


@pytest.mark.parametrize("ident", [*DIESELS, *PETROLS])
def test_a_set_keeps_its_power_triangle_and_its_breaker(ident):
    """Rated power = apparent power × power factor; breaker the next standard size over a leg's current."""
    device = generator(ident)
    assert isinstance(device.rated_apparent_power, float)
    assert isinstance(device.power_factor, float)
    assert isinstance(device.ac_voltage, float)
    assert isinstance(device.breaker, float)
    assert device.rated_power == pytest.approx(device.rated_apparent_power * device.power_factor)
    legs = {"single": 1, "split": 2, "three": 3}[device.connection]
    current = device.rated_apparent_power / legs / device.ac_voltage
    region = "north-america" if device.ac_frequency == 60 else "iec-230"
    assert device.breaker == min(size for size in rules(region).breaker_sizes if size >= current)
