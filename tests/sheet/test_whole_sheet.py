"""Properties of the whole sheet over random plants of every chemistry, voltage, size and climate."""

from __future__ import annotations

import json
import math

from hypothesis import HealthCheck, given, settings

from commission import plain
from commission.figure import Figure
from commission.plant.plant import Plant
from commission.sheet.settle import make_sheet
from commission.sheet.types import Setting, Sheet
from tests.strategies import plants

_SLOW = settings(
    max_examples=60,
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large, HealthCheck.filter_too_much],
)
_SLOWER = settings(_SLOW, max_examples=8)
"""Where the whole lineage of every number is written out."""
_CHARGING = frozenset({"absorption_voltage", "float_voltage", "equalize_voltage"})


def _volts(setting: Setting) -> float | None:
    posts = setting.at_posts
    return posts.value if isinstance(posts, Figure) else None


def _ceiling(plant: Plant) -> float:
    """Whole-bank volts that no setpoint may pass: for lithium absolute, else at the reference temperature."""
    value = plant.battery.ceiling_voltage.value
    assert isinstance(value, float | int)
    return plant.bank.cells * float(value)


def _steepest(plant: Plant) -> float:
    """V of the bank by which a value without a sensor may stand over the reference, for the coldest clamp."""
    slope = plant.battery.temperature_slope.value
    low = plant.battery.temperature_clamp_low.value
    reference = plant.battery.temperature_reference.value
    assert all(isinstance(number, float | int) for number in (slope, low, reference))
    return plant.bank.cells * abs(float(slope)) / 1000 * (float(reference) - float(low))


@_SLOW
@given(plants(inverters=12, controllers=12))
def test_no_setpoint_leaves_the_chemistry_envelope(plant: Plant) -> None:
    ceiling = _ceiling(plant)
    for setting in make_sheet(plant).settings:
        volts = _volts(setting)
        if setting.setting not in _CHARGING or volts is None:
            continue
        room = 0.0 if plant.battery.family == "lithium" else _steepest(plant)
        assert volts <= ceiling + room + 1e-6, (setting.key, volts, ceiling)


@_SLOW
@given(plants(inverters=12, controllers=12))
def test_no_number_leaves_the_device_range_or_its_grid(plant: Plant) -> None:
    for setting in make_sheet(plant).settings:
        ability, value = setting.ability, setting.recommended
        if not isinstance(value, Figure) or ability.fixed is not None or ability.low is None:
            continue
        assert ability.high is not None
        assert ability.step is not None
        assert ability.low - 1e-6 <= value.value <= ability.high + 1e-6, (setting.key, value.value)
        if value.value not in {ability.low, ability.high}:
            steps = (value.value - ability.low) / ability.step
            assert math.isclose(steps, round(steps), abs_tol=1e-4), (setting.key, value.value)


@_SLOWER
@given(plants(inverters=12, controllers=12))
def test_the_same_plant_gives_the_same_bytes(plant: Plant) -> None:
    def told(sheet: Sheet) -> str:
        settings_ = [plain.setting_json(setting) for setting in sheet.settings]
        return json.dumps([settings_, [plain.finding_json(finding) for finding in sheet.findings]])

    again = Plant.model_validate_json(plant.model_dump_json(by_alias=True), strict=False)
    assert told(make_sheet(plant)) == told(make_sheet(plant)) == told(make_sheet(again))


@_SLOW
@given(plants(inverters=12, controllers=12))
def test_every_setting_of_every_device_stands_on_the_sheet(plant: Plant) -> None:
    sheet = make_sheet(plant)
    for device in plant.devices:
        for name, ability in plant.equipment[device.id].settings.items():
            if ability.per_input:
                continue
            assert sheet.setting(device.id, name) is not None, (device.id, name)


@_SLOWER
@given(plants(inverters=12, controllers=12))
def test_every_open_number_says_what_is_missing_and_every_stop_has_a_remedy(plant: Plant) -> None:
    sheet = make_sheet(plant)
    for setting in sheet.settings:
        text = plain.setting_json(setting)
        if text["recommended"] is None:
            assert text["why"], setting.key
    for finding in sheet.findings:
        assert finding.text
        if finding.kind in {"stop", "correct"}:
            assert finding.remedy, finding.id
