"""Times and end currents against arithmetic by hand and the rules of the trade stated beside each."""

from __future__ import annotations

import pytest

from commission.figure import Figure
from commission.plant.plant import Plant
from commission.sheet.draft import Draft
from commission.sheet.setpoints import settle_setpoints
from commission.sheet.temperature import settle_temperature
from commission.sheet.times import settle_times
from commission.sheet.types import Finding
from tests.builders import plant

INVERTER = {"id": "inv-1", "profile": "inverter-48v-120-3600"}
CONTROLLER = {"id": "sun-1", "profile": "controller-48v-80-buck-200"}


def settled(of: Plant) -> Draft:
    draft = Draft(of)
    settle_setpoints(draft, settle_temperature(draft))
    settle_times(draft)
    return draft


def number(draft: Draft, device: str, setting: str) -> float:
    value = draft.value(device, setting)
    assert isinstance(value, Figure), value
    return value.value


def found(draft: Draft, check: str) -> Finding | None:
    return next((finding for finding in draft.findings if finding.check == check), None)


def test_one_source_alone_ends_absorption_by_the_bank_current() -> None:
    """AGM, 450 Ah: 2 % is 9.0 A; the device has whole amperes."""
    draft = settled(plant("agm", capacity=450.0, inverters=(INVERTER,)))
    assert number(draft, "inv-1", "absorption_end_current") == pytest.approx(9.0)


def test_a_device_that_measures_itself_beside_others_ends_by_time() -> None:
    draft = settled(plant("agm", inverters=(INVERTER,), controllers=(CONTROLLER,)))
    assert draft.recommended("inv-1", "absorption_end_current") == "off"


def test_a_dc_load_makes_the_own_output_useless_too() -> None:
    load = {"id": "radio", "current": "dc", "power": 100.0}
    draft = settled(plant("agm", inverters=(INVERTER,), loads=[load]))
    assert draft.recommended("inv-1", "absorption_end_current") == "off"


def test_a_device_that_measures_the_bank_keeps_the_whole_end_current_beside_others() -> None:
    """AGM, 450 Ah: 2 % of the bank is 9 A whatever the others deliver."""
    device = INVERTER | {"datasheet": {"end_current_reference": "bank"}}
    draft = settled(plant("agm", capacity=450.0, inverters=(device,), controllers=(CONTROLLER,)))
    assert number(draft, "inv-1", "absorption_end_current") == pytest.approx(9.0)


def test_an_end_current_that_cannot_be_off_is_shared_but_never_under_the_floor() -> None:
    """Flooded 450 Ah: 2 % ÷ 2 sources = 4.5 A; floor 1.0 % × 1.3 = 5.85 A, so 6 A and a finding."""
    ability = {"absorption_end_current": {"unit": "A", "low": 1, "high": 40, "step": 1, "off": False}}
    device = INVERTER | {"datasheet": {"settings": ability}}
    draft = settled(plant("flooded", capacity=450.0, inverters=(device,), controllers=(CONTROLLER,)))
    assert number(draft, "inv-1", "absorption_end_current") == pytest.approx(6.0)
    finding = found(draft, "end-current-under-floor")
    assert finding is not None
    assert finding.kind == "advise"


def test_nickel_iron_ends_by_time() -> None:
    draft = settled(
        plant(
            "nickel-iron",
            cells_per_block=1,
            blocks=20,
            inverters=({"id": "inv-1", "profile": "inverter-24v-230-3000"},),
        )
    )
    setting = draft.settings.get(("inv-1", "absorption_end_current", None))
    assert setting is None or "taper" in setting.note


def test_an_unknown_reference_is_said() -> None:
    device = INVERTER | {"datasheet": {"end_current_reference": "unknown"}}
    draft = settled(plant("agm", inverters=(device,)))
    finding = found(draft, "end-current-reference")
    assert finding is not None
    assert finding.kind == "not checked"


def test_absorption_time_goes_up_for_lead_and_down_for_lithium() -> None:
    """Steps of 6 min (360 s): AGM 3 h is on the grid; with steps of 50 min, 3 h goes to 3 h 20 and 2 h 30."""
    ability = {"absorption_time": {"unit": "s", "low": 0, "high": 86400, "step": 3000}}
    device = INVERTER | {"datasheet": {"settings": ability}}
    assert number(settled(plant("agm", inverters=(device,))), "inv-1", "absorption_time") == 12000
    lithium = plant("lfp", cells_per_block=16, blocks=1, inverters=(device,))
    assert number(settled(lithium), "inv-1", "absorption_time") == 0


def test_recharge_lies_under_float_by_fifty_millivolts_a_cell() -> None:
    """AGM: the hottest float of the site less 24 × 0.05 = 1.2 V bounds it."""
    draft = settled(plant("agm", inverters=(INVERTER,)))
    lowest = draft.numbers["float_hottest:inv-1"]
    assert isinstance(lowest, Figure)
    assert number(draft, "inv-1", "recharge_voltage") <= lowest.value - 1.2 + 1e-9


def test_a_sealed_bank_is_not_equalised_by_any_of_the_settings() -> None:
    draft = settled(plant("gel", inverters=(INVERTER,)))
    assert draft.recommended("inv-1", "equalize_voltage") == "off"
    assert draft.recommended("inv-1", "equalize_interval") == "off"
    assert number(draft, "inv-1", "equalize_time") == 0


def test_a_device_that_cannot_switch_equalise_off_gets_absorption_least_time_longest_interval() -> None:
    ability = {
        "equalize_voltage": {"unit": "V", "low": 48.0, "high": 64.0, "step": 0.2, "off": False},
        "equalize_time": {"unit": "s", "low": 900, "high": 86400, "step": 900, "off": False},
        "equalize_interval": {"unit": "s", "low": 86400, "high": 21600000, "step": 86400, "off": False},
    }
    device = INVERTER | {"datasheet": {"settings": ability}}
    draft = settled(plant("gel", inverters=(device,)))
    assert number(draft, "inv-1", "equalize_voltage") == number(draft, "inv-1", "absorption_voltage")
    assert number(draft, "inv-1", "equalize_time") == 900
    assert number(draft, "inv-1", "equalize_interval") == 21600000
    assert found(draft, "equalize-cannot-be-off") is not None


def test_a_longest_day_over_the_limit_is_said_with_the_time_that_passes() -> None:
    """AGM limit 8 h: 5 h of absorption and one restart make 10 h; 4 h pass."""
    of = plant("agm", inverters=(INVERTER,), battery={"absorption_time": {"value": 18000.0, "high": 18000.0}})
    finding = found(settled(of), "longest-day-in-absorption")
    assert finding is not None
    assert isinstance(finding.passes, Figure)
    assert finding.passes.value == pytest.approx(14400)
