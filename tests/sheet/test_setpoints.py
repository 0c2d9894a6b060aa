"""Charging setpoints against arithmetic by hand; every case shows its own."""

from __future__ import annotations

from typing import Any

import pytest

from commission.figure import Figure, Unknown
from commission.plant.plant import Plant
from commission.sheet.draft import Draft
from commission.sheet.setpoint_findings import tell_no_sensor
from commission.sheet.setpoints import settle_setpoints
from commission.sheet.temperature import settle_temperature
from commission.sheet.types import Finding
from tests.builders import plant

INVERTER = {"id": "inv-1", "profile": "inverter-48v-120-3600"}
CONTROLLER = {"id": "sun-1", "profile": "controller-48v-80-buck-200"}
BARE: dict[str, Any] = {"id": "sun-2", "profile": "controller-48v-60-buck-150", "sensor_fitted": False}


def settled(of: Plant) -> Draft:
    draft = Draft(of)
    settle_setpoints(draft, settle_temperature(draft))
    return draft


def volts(draft: Draft, device: str, setting: str) -> float:
    value = draft.value(device, setting)
    assert isinstance(value, Figure), value
    return value.value


def found(draft: Draft, check: str) -> Finding | None:
    return next((finding for finding in draft.findings if finding.check == check), None)


def test_all_sources_hold_one_value_on_the_coarsest_grid() -> None:
    """24 × 2.40 = 57.6 V; grids 0.2 V and 0.05 V per 12 V (0.2 V whole bank): 57.6 lies on both."""
    draft = settled(plant("agm", inverters=(INVERTER,), controllers=(CONTROLLER,)))
    assert volts(draft, "inv-1", "absorption_voltage") == pytest.approx(57.6, abs=1e-9)
    assert volts(draft, "sun-1", "absorption_voltage") == pytest.approx(57.6, abs=1e-9)


def test_a_value_between_steps_goes_down() -> None:
    """24 × 2.27 = 54.48 V float of AGM, steps of 0.2 V from 48.0: 54.4."""
    draft = settled(plant("agm", inverters=(INVERTER,)))
    assert volts(draft, "inv-1", "float_voltage") == pytest.approx(54.4, abs=1e-9)


def test_the_device_shows_its_own_basis() -> None:
    """57.6 V on 48 V is 14.4 V per 12 V (definition)."""
    draft = settled(plant("agm", controllers=(CONTROLLER,)))
    setting = draft.settings[("sun-1", "absorption_voltage", None)]
    assert setting.unit == "V per 12 V"
    assert isinstance(setting.recommended, Figure)
    assert setting.recommended.value == pytest.approx(14.4, abs=1e-9)


def test_a_sealed_bank_without_sensor_gets_the_value_of_the_hottest_month() -> None:
    """AGM at 35 °C: 2.40 − 0.004 × 10 = 2.36 V a cell, 24 cells 56.64 V; the step of 0.1 V makes 56.6.

    For 5 °C it would be 59.5 V, which in summer drives the bank into thermal runaway.
    """
    place = {"hottest_battery": 36.0, "hottest_month_battery": 35.0}
    draft = settled(plant("agm", controllers=(BARE,), place=place))
    assert volts(draft, "sun-2", "absorption_voltage") == pytest.approx(56.6, abs=0.2 + 1e-9)
    assert volts(draft, "sun-2", "absorption_voltage") <= 56.64 + 1e-9
    finding = found(draft, "no-battery-sensor")
    assert finding is not None
    assert "sensor" in finding.remedy
    assert "122 mV a cell too low in the coldest month and 2 mV a cell too low in the hottest" in finding.text


def test_an_error_is_said_as_a_person_says_it() -> None:
    made = plant("agm", controllers=(BARE,))
    draft = Draft(made)
    tell_no_sensor(draft, made.site.charge_controllers[0], (-104.2, 0.3))
    assert (
        "absorption is 104 mV a cell too low in the coldest month and right in the" in draft.findings[0].text
    )


def test_a_vented_bank_without_sensor_follows_the_year_within_thirty_millivolts_of_the_heat() -> None:
    """Flooded −5 mV/K: year 15 °C 2.50 V, hottest month 35 °C 2.40 V; 2.40 + 0.03 = 2.43 binds: 58.32 V."""
    place = {"mean_battery": 15.0, "hottest_month_battery": 35.0, "hottest_battery": 36.0}
    draft = settled(plant("flooded", controllers=(BARE,), place=place))
    assert 58.32 - 0.4 < volts(draft, "sun-2", "absorption_voltage") <= 58.32 + 1e-9


def test_sensed_and_sensorless_sources_form_values_of_their_own() -> None:
    draft = settled(plant("agm", controllers=(CONTROLLER, BARE)))
    assert volts(draft, "sun-1", "absorption_voltage") == pytest.approx(57.6, abs=1e-9)
    assert volts(draft, "sun-2", "absorption_voltage") < 57.6


def test_a_datasheet_at_twenty_degrees_is_restated_at_the_device_reference() -> None:
    """2.25 V at 20 °C with −3 mV/K is 2.235 V at 25 °C: 24 cells 53.64 V (ZVEI practice), down to 53.6."""
    of = plant(
        "tubular-gel",
        cells_per_block=1,
        blocks=24,
        inverters=(INVERTER,),
        battery={"float_voltage": {"value": 2.25}},
        bank={"datasheet": {"float_voltage": 2.25}, "voltages_at": 20.0},
    )
    assert volts(settled(of), "inv-1", "float_voltage") == pytest.approx(53.6, abs=1e-9)


def test_lithium_is_never_compensated_and_has_no_equalise() -> None:
    """16 × 3.50 = 56.0 V at any temperature; the ceiling is 3.65 − 0.05 = 3.60 V a cell."""
    draft = settled(plant("lfp", cells_per_block=16, blocks=1, inverters=(INVERTER,)))
    assert volts(draft, "inv-1", "absorption_voltage") == pytest.approx(56.0, abs=1e-9)
    assert draft.recommended("inv-1", "equalize_voltage") == "off"
    slope = draft.recommended("inv-1", "temperature_coefficient")
    assert slope == "off" or (isinstance(slope, Figure) and slope.value == 0)
    for word in ("coldest", "hottest"):
        reached = draft.numbers[f"absorption_{word}:inv-1"]
        assert isinstance(reached, Figure)
        assert reached.value == pytest.approx(56.0, abs=1e-9)


def test_a_told_cut_off_lowers_absorption() -> None:
    """A pack that opens at 3.50 V a cell: 3.50 − 0.05 = 3.45, 16 cells 55.2 V."""
    management = {"management": {"data_link": False, "cut_off_high": 3.50}}
    draft = settled(plant("lfp", cells_per_block=16, blocks=1, inverters=(INVERTER,), bank=management))
    assert volts(draft, "inv-1", "absorption_voltage") == pytest.approx(55.2, abs=1e-9)


def test_the_ceiling_holds_the_coldest_value_under_the_device_maximum() -> None:
    """Flooded 24 cells at 0 °C: 58.8 + 24 × 0.005 × 25 = 61.8 V; equalise 61.92 + 3.0 = 64.92 V is clamped.

    The controller's least maximum is what the profile says, less two steps of 0.2 V.
    """
    draft = settled(plant("flooded", controllers=(CONTROLLER,)))
    reached = draft.numbers["equalize_coldest:sun-1"]
    maximum, step = draft.numbers["bus_maximum"], draft.numbers["coarsest_step"]
    assert isinstance(reached, Figure)
    assert isinstance(maximum, Figure)
    assert isinstance(step, Figure)
    assert reached.value <= maximum.value - 2 * step.value + 1e-9
    absorption = draft.numbers["absorption_coldest:sun-1"]
    assert isinstance(absorption, Figure)
    assert absorption.value == pytest.approx(61.8, abs=1e-9)


def test_a_device_without_ceiling_comes_down_and_the_finding_tells_the_loss() -> None:
    """Least maximum 62 V less two steps of 0.2 V: 61.6 V; 58.8 V would reach 61.8 V: lowered by 0.2 V."""
    device = INVERTER | {"datasheet": {"dc_voltage_max": 62.0}}
    draft = settled(plant("flooded", inverters=(device,)))
    assert volts(draft, "inv-1", "absorption_voltage") == pytest.approx(58.6, abs=1e-9)
    finding = next(item for item in draft.findings if item.setting == "absorption_voltage")
    assert finding.check == "clamped-in-the-cold"
    assert "8 mV a cell" in finding.text  # 0.2 V ÷ 24 cells


def test_a_slope_of_the_wrong_sign_stops() -> None:
    slope = {"settings": {"temperature_coefficient": {"unit": "mV/K", "fixed": 3.0, "basis": "per cell"}}}
    draft = settled(plant("agm", inverters=(INVERTER | {"datasheet": slope},)))
    finding = found(draft, "slope-of-wrong-sign")
    assert finding is not None
    assert finding.kind == "stop"


def test_a_slope_too_flat_overcharges_in_summer_and_is_lowered() -> None:
    """Flooded −5 mV/K, device fixed −2: at 45 °C, held at 40, the error is (−2 + 5) × 15 = 45 mV: tolerated.

    At a device clamp of 50 °C and a hottest month of 45 °C it is 60 mV: lowered by 24 × 0.060 = 1.44 V,
    58.8 − 1.44 = 57.36, down to 57.2 on steps of 0.2 V.
    """
    slope = {"temperature_coefficient": {"unit": "mV/K", "fixed": -2.0, "basis": "per cell"}}
    place = {"hottest_month_battery": 45.0, "hottest_battery": 48.0}
    tolerated = settled(
        plant("flooded", inverters=(INVERTER | {"datasheet": {"settings": slope}},), place=place)
    )
    assert found(tolerated, "slope-overcharges") is None
    wide = slope | {"temperature_high_limit": {"unit": "°C", "fixed": 50.0}}
    draft = settled(plant("flooded", inverters=(INVERTER | {"datasheet": {"settings": wide}},), place=place))
    finding = found(draft, "slope-overcharges")
    assert finding is not None
    assert finding.kind == "correct"
    assert isinstance(finding.value, Figure)
    assert finding.value.value == pytest.approx(60.0, abs=1e-6)
    assert volts(draft, "inv-1", "absorption_voltage") == pytest.approx(57.2, abs=1e-9)


def test_an_offset_on_purpose_is_kept_and_asks_for_its_reason() -> None:
    lower = CONTROLLER | {"id": "sun-3", "offset": 0.4}
    draft = settled(plant("agm", controllers=(CONTROLLER, lower)))
    assert volts(draft, "sun-3", "absorption_voltage") == pytest.approx(57.2, abs=1e-9)
    assert found(draft, "offset-without-reason") is not None
    meant = lower | {"offset_reason": "the array of sun-1 shall go first"}
    draft = settled(plant("agm", controllers=(CONTROLLER, meant)))
    assert found(draft, "offset-without-reason") is None
    assert found(draft, "sources-disagree") is None


def test_a_device_that_cannot_go_low_enough_has_no_value_and_stops() -> None:
    ability = {"settings": {"absorption_voltage": {"unit": "V", "low": 62.0, "high": 66.0, "step": 0.2}}}
    draft = settled(plant("agm", inverters=(INVERTER | {"datasheet": ability},)))
    assert isinstance(draft.recommended("inv-1", "absorption_voltage"), Unknown)
    finding = found(draft, "device-over-chemistry")
    assert finding is not None
    assert finding.kind == "stop"


def test_a_device_that_cannot_go_high_enough_takes_its_greatest_and_says_so() -> None:
    ability = {"settings": {"absorption_voltage": {"unit": "V", "low": 48.0, "high": 56.0, "step": 0.2}}}
    draft = settled(plant("agm", inverters=(INVERTER | {"datasheet": ability},)))
    assert volts(draft, "inv-1", "absorption_voltage") == pytest.approx(56.0, abs=1e-9)
    finding = found(draft, "outside-device-range")
    assert finding is not None
    assert finding.kind == "correct"
    assert isinstance(finding.passes, Figure)
    assert finding.passes.value == pytest.approx(57.6, abs=1e-9)


def test_unknown_cold_is_said_and_not_passed() -> None:
    place = {"coldest_battery": "unknown", "coldest_month_battery": "unknown"}
    draft = settled(plant("flooded", inverters=(INVERTER,), place=place))
    kinds = {finding.kind for finding in draft.findings}
    assert "not checked" in kinds
    assert any("coldest battery" in finding.text for finding in draft.findings)


def test_an_unknown_sensor_is_said() -> None:
    draft = settled(plant("agm", inverters=(INVERTER | {"sensor_fitted": "unknown"},)))
    finding = found(draft, "sensor-fitted")
    assert finding is not None
    assert finding.kind == "not checked"


def test_dc_loads_that_do_not_stand_equalise_are_named() -> None:
    load = {"id": "radio", "current": "dc", "voltage_max": 60.0}
    draft = settled(plant("flooded", controllers=(CONTROLLER,), loads=[load]))
    finding = found(draft, "isolate-during-equalise")
    assert finding is not None
    assert finding.parts == ("radio",)


@pytest.mark.parametrize("chemistry", ["nmc"])
def test_a_chemistry_without_float_is_switched_off_or_held(chemistry: str) -> None:
    """NMC has no float: off where the device can, else its hold voltage of 4.05 V: 56.7 V, down to 56.6."""
    draft = settled(plant(chemistry, cells_per_block=14, blocks=1, inverters=(INVERTER,)))
    recommended = draft.recommended("inv-1", "float_voltage")
    if isinstance(recommended, str):
        assert recommended == "off"
    else:
        assert volts(draft, "inv-1", "float_voltage") == pytest.approx(56.6, abs=1e-9)
        assert found(draft, "float-cannot-be-off") is not None


@pytest.mark.parametrize("with_inverter", [False, True])
def test_a_value_lowered_for_a_load_is_never_told_to_go_up_to_the_others(with_inverter: bool) -> None:
    """A load that stands 57 V: a controller that comes down for it in the cold is not sent up again."""
    load = {"id": "radio", "current": "dc", "power": 20.0, "voltage_max": 57.0}
    inverters = (INVERTER,) if with_inverter else ()
    draft = settled(plant("agm", inverters=inverters, controllers=(CONTROLLER,), loads=(load,)))
    lowered = {key for key in draft.numbers if key.startswith("absorption_lowered:")}
    told = [one for one in draft.findings if one.check == "sources-disagree"]
    assert found(draft, "clamped-in-the-cold") is not None
    for one in told:
        assert f"absorption_lowered:{one.parts[0]}" not in lowered or "57.20 V on all" not in one.remedy
        assert isinstance(one.passes, Figure)
        assert one.passes.value <= volts(draft, one.parts[0], "absorption_voltage") + 1e-9
    if not with_inverter:
        assert not told
