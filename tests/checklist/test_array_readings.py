"""PV strings by themselves: voltage by the light and warmth of the day, polarity, each other, insulation."""

from __future__ import annotations

from typing import Any

import pytest

from tests.builders import plant
from tests.checklist.bands import (
    edges,
    is_inside,
    is_stopped,
    judged_value,
    nominal,
    refusal,
    stops,
    waited_for,
)
from tests.checklist.walks import NOON, Site

WHERE = ("array-string-voltage", "pv-a")


def site_with(*strings: str, **array: Any) -> Site:
    module = {
        "series": 3,
        "strings": [{"id": string} for string in strings or ("pv-a",)],
        "open_circuit_voltage": 45.53,
        "voltage_coefficient": -0.3099,
    }
    controller = {"id": "controller-1", "profile": "controller-48v-80-buck-200", "array": module | array}
    return Site(plant(controllers=(controller,)))


def lit(light: float, warmth: float, **array: Any) -> Site:
    site = site_with(**array)
    return site.read("irradiance", "controller-1", light).read("module-temperature", "controller-1", warmth)


# a crystalline module of the CEC database by its single-diode model, from pvlib 0.16.1: 42.256 V at 400 W/m²
# and 35 °C, 42.587 V at 200 W/m² and 25 °C; temperature alone would say 44.119 and 45.53 V


@pytest.mark.parametrize(
    ("light", "warmth", "model", "temperature_only"),
    [
        pytest.param(400.0, 35.0, 42.256, 44.119, id="thin cloud"),
        pytest.param(200.0, 25.0, 42.587, 45.53, id="thick cloud"),
    ],
)
def test_voltage_follows_the_single_diode_model_in_weak_light(
    light: float, warmth: float, model: float, temperature_only: float
) -> None:
    outcome = lit(light, warmth).judged(*WHERE)
    assert nominal(outcome) / 3 == pytest.approx(model, rel=0.005)
    # a sound string is far inside; by temperature alone it would be near the edge or beyond it
    assert is_inside(outcome, 3 * model)
    assert abs(3 * model / nominal(outcome) - 1) < 0.005 < abs(model / temperature_only - 1)


def test_the_band_is_five_per_cent_either_way() -> None:
    outcome = lit(1000.0, 25.0).judged(*WHERE)
    assert edges(outcome) == pytest.approx((0.95 * 3 * 45.53, 1.05 * 3 * 45.53))


def test_warm_modules_have_less_voltage() -> None:
    # 30 K over 25 °C at −0.3099 %/K
    expected = 3 * 45.53 * (1 - 0.003099 * 30)
    assert nominal(lit(1000.0, 55.0).judged(*WHERE)) == pytest.approx(expected)


def test_a_datasheets_own_thermal_slope_is_used() -> None:
    # ln 0.5 = −0.6931 at 25 °C, slope 2 V a module
    outcome = lit(500.0, 25.0, thermal_slope=2.0).judged(*WHERE)
    assert nominal(outcome) == pytest.approx(3 * (45.53 - 2.0 * 0.693147), abs=0.001)


def test_a_missing_module_is_seen() -> None:
    assert not is_inside(lit(800.0, 40.0).judged(*WHERE), 2 * 43.0)


def test_too_little_light_is_not_judged() -> None:
    assert "too little light" in refusal(lit(199.0, 20.0).judged(*WHERE, 120.0))
    assert edges(lit(200.0, 20.0).judged(*WHERE))[0] is not None


def test_without_light_and_temperature_the_reading_waits() -> None:
    assert waited_for(site_with().judged(*WHERE, 120.0)) == [
        "irradiance@controller-1",
        "module-temperature@controller-1",
    ]


# what stops work, with or without a sensor


def test_polarity_is_told_by_day_without_any_sensor() -> None:
    # three quarters of 136.59 V; 1 − 0.003099 × (−15 − 25) = 1.12396 on the coldest day of the site
    outcome = site_with().judged("array-string-polarity", "pv-a")
    assert edges(outcome) == pytest.approx((0.75 * 136.59, 136.59 * 1.12396), abs=0.01)
    assert stops(outcome) == pytest.approx((-0.05 * 136.59, 200.0))
    # a sound string in thick cloud, and with hot modules, is inside; one module of three missing is not
    assert is_inside(outcome, 3 * 42.587)
    assert is_inside(outcome, 136.59 * (1 - 0.003099 * 45))
    assert not is_inside(outcome, 2 * 45.53)


def test_the_cold_voltage_never_hides_the_absolute_maximum() -> None:
    site = site_with(series=5)  # 5 × 45.53 × 1.124 V are 255.9 V, over the controller's 200 V
    assert edges(site.judged("array-string-polarity", "pv-a"))[1] == pytest.approx(200.0)


@pytest.mark.parametrize(
    ("volts", "stopped"),
    [
        pytest.param(-130.0, True, id="reversed"),
        pytest.param(200.0, True, id="at the controller's absolute maximum"),
        pytest.param(240.0, True, id="over it"),
        pytest.param(130.0, False, id="sound"),
        pytest.param(0.3, False, id="night"),
        pytest.param(-0.3, False, id="night, the other way"),
    ],
)
def test_reversed_or_over_the_absolute_maximum_stops_work(volts: float, stopped: bool) -> None:
    assert is_stopped(lit(1000.0, 25.0).judged(*WHERE, volts), volts) is stopped
    assert is_stopped(site_with().judged("array-string-polarity", "pv-a", volts), volts) is stopped
    if stopped:
        assert is_stopped(site_with().judged(*WHERE, volts), volts)


def test_the_stop_does_not_need_the_modules_datasheet() -> None:
    bare = site_with(open_circuit_voltage="unknown", series="unknown")
    assert is_stopped(bare.judged(*WHERE, 230.0), 230.0)
    assert is_stopped(bare.judged(*WHERE, -90.0), -90.0)


def test_what_the_site_file_does_not_say_is_named() -> None:
    site = lit(800.0, 40.0, voltage_coefficient="unknown")
    assert (
        refusal(site.judged(*WHERE, 120.0)) == "not known: voltage coefficient of the array of controller-1"
    )


def test_where_work_stops_is_told_with_the_band() -> None:
    assert stops(lit(800.0, 40.0).judged(*WHERE)) == pytest.approx((-0.05 * 3 * 45.53, 200.0))


# strings beside each other: rows of the comparison in IEC 62446-1, own arithmetic


@pytest.mark.parametrize(
    ("volts", "index", "percent", "good"),
    [
        pytest.param((412.0, 409.0, 388.0), 2, -3.72, True, id="mean 403.0"),
        pytest.param((412.0, 409.0, 365.0), 2, -7.67, False, id="mean 395.33"),
        pytest.param((118.2, 117.6, 119.0, 111.9), 3, -4.09, True, id="mean 116.68"),
    ],
)
def test_strings_lie_within_five_per_cent_of_their_mean(
    volts: tuple[float, ...], index: int, percent: float, good: bool
) -> None:
    names = [f"pv-{letter}" for letter in "abcd"[: len(volts)]]
    site = site_with(*names).read("array-strings-compared", "controller-1", *volts)
    outcome = site.judged("array-strings-compared", "controller-1", volts[index], index)
    assert 100 * judged_value(outcome) == pytest.approx(percent, abs=0.02)
    assert is_inside(outcome) is good


def test_strings_read_too_far_apart_in_time_are_not_compared() -> None:
    site = site_with("pv-a", "pv-b")
    site.read("array-strings-compared", "controller-1", 130.0, 131.0, ago=1.5)
    outcome = site.judged("array-strings-compared", "controller-1", 130.0, 0, NOON)
    assert refusal(outcome) == "the strings were read over 2 min: the light may have changed"


def test_a_single_string_has_nothing_to_be_compared_with() -> None:
    assert not any(step.data.id == "array-strings-compared" for step in site_with().checklist.steps)


# insulation, chosen by 1.25 × Voc of the string (IEC 62446-1)


@pytest.mark.parametrize("region", ["north-america", "iec-230"])
@pytest.mark.parametrize(
    ("string", "least", "test"),
    [
        pytest.param(91.8, 0.5, "250 V", id="114.8 V"),
        pytest.param(90.0, 0.5, "250 V", id="112.5 V"),
        pytest.param(137.7, 1.0, "500 V", id="172.1 V"),
        pytest.param(595.2, 1.0, "1000 V", id="744.0 V"),
    ],
)
def test_insulation_by_the_strings_voltage(region: str, string: float, least: float, test: str) -> None:
    module = {"series": 3, "strings": [{"id": "pv-a"}], "open_circuit_voltage": string / 3}
    controller = {"id": "controller-1", "profile": "controller-48v-80-buck-200", "array": module}
    site = Site(plant(controllers=(controller,), place={"rules": region}))
    outcome = site.judged("array-insulation.positive", "pv-a")
    assert edges(outcome) == pytest.approx((least, None))
    assert getattr(outcome, "says", "").startswith(f"at {test} dc")


def test_modules_and_fuses_are_compared_with_the_site_file() -> None:
    site = site_with(string_fuse=15.0)
    assert edges(site.judged("array-counted.series", "controller-1")) == (3.0, 3.0)
    assert edges(site.judged("string-fuses", "controller-1")) == (15.0, 15.0)
    assert not any(step.data.id == "string-fuses" for step in site_with().checklist.steps)
