"""A managed battery on a data link: silence, static sources, a bank that opens, a bus that must come back."""

from __future__ import annotations

from typing import Any

import pytest

from commission.figure import Figure, given
from commission.plant.plant import Plant
from commission.sheet.draft import Draft
from commission.sheet.hearing import linked_sources
from commission.sheet.link import settle_link
from commission.sheet.low_end import settle_low_end
from tests.sheet.low_end_cases import INVERTER, MANAGED, RUN, drafted, flooded, found, lithium, number, passes

SUN: dict[str, Any] = {"id": "sun-1", "profile": "controller-48v-100-buck-250", "run": "run-1"}
DEAF: dict[str, Any] = {"id": "sun-2", "profile": "controller-48v-80-buck-600", "run": "run-1"}


def managed(**told: Any) -> dict[str, Any]:
    return {"resistance": 0.009, "management": MANAGED | told, "standing_draw": 0.0}


def settled(of: Plant) -> Draft:
    return drafted(of, settle_low_end, settle_link)


# who hears it


def test_a_source_hears_the_battery_by_itself_or_through_its_controller():
    group = {"kind": "own outputs", "controller": "inv-1", "members": ["sun-1"], "hears_battery": True}
    of = lithium(
        inverters=(INVERTER,),
        controllers=(SUN, DEAF | {"on_battery_link": False}),
        coordination=group,
    )
    assert [source.id for source in linked_sources(of)] == ["inv-1", "sun-1"]


def test_nobody_hears_a_battery_without_a_link():
    assert linked_sources(lithium(bank=managed(data_link=False))) == ()


# silence


def test_linked_devices_stop_when_the_link_is_silent():
    draft = settled(lithium(controllers=(SUN | {"on_battery_link": True},)))
    for device in ("inv-1", "sun-1"):
        assert number(draft, device, "battery_link_silence_time") == pytest.approx(10.0)
        assert draft.recommended(device, "battery_link_silence_action") == "stops"


def test_settings_of_linked_devices_are_caps_and_fallback():
    draft = settled(lithium())
    assert "fallback" in draft.settings[("inv-1", "absorption_voltage", None)].note
    assert "fallback" in draft.settings[("inv-1", "charge_disconnect_voltage", None)].note


def test_a_device_that_can_only_carry_on_is_told_with_its_current():
    only = {"settings": {"battery_link_silence_action": {"choices": ("carries on alone",)}}}
    inverter = INVERTER | {"on_battery_link": True, "datasheet": INVERTER["datasheet"] | only}
    draft = drafted(lithium(inverters=(inverter,)), settle_low_end)
    draft.shares["inv-1"] = given(60.0, "A", "share of the test")
    settle_link(draft)
    finding = found(draft, "carries-on-in-silence")
    assert finding is not None
    assert "60 A" in finding.text


@pytest.mark.parametrize(
    ("silence", "checks"),
    [
        pytest.param({}, {"link-silence", "link-silence-time"}, id="not told"),
        pytest.param({"after": 5.0, "does": "stops"}, set(), id="stops"),
        pytest.param({"after": 5.0, "does": "carries on alone"}, {"carries-on-in-silence"}, id="carries on"),
    ],
)
def test_silence_of_a_device_without_a_setting_is_a_fact_of_the_site(
    silence: dict[str, Any], checks: set[str]
) -> None:
    deaf = DEAF | {"on_battery_link": True, "silence": silence}
    draft = settled(lithium(controllers=(deaf,)))
    found_here = {one.check for one in draft.findings if one.parts == ("sun-2",) and "silence" in one.check}
    assert found_here == checks


def test_without_a_battery_on_a_link_the_silence_settings_are_idle():
    draft = settled(flooded())
    assert "no data link" in draft.settings[("inv-1", "battery_link_silence_time", None)].note


def test_an_unknown_link_is_not_checked():
    finding = found(settled(lithium(bank=managed(data_link="unknown"))), "data-link")
    assert finding is not None
    assert finding.kind == "not checked"


# sources off the link


def test_a_source_off_the_link_stays_under_the_cut_off_less_its_margin():
    """Cut-off 3.55 less 0.05: 56.0 V. A slope of −4 mV/K that cannot be set to nothing lowers the value.

    By 16 × 0.004 × 20 = 1.28 V for the coldest month, to 54.72, on the grid 54.6 V; at 0 °C it still reaches
    54.6 + 16 × 0.004 × 25 = 56.2 V.
    """
    fixed = {"temperature_coefficient": {"unit": "mV/K", "fixed": -4.0, "basis": "per cell"}}
    slope = {"unplugged_temperature": 20.0, "settings": fixed}
    of = lithium(bank=managed(cut_off_high=3.55), controllers=(DEAF | {"datasheet": slope},))
    finding = found(settled(of), "static-voltage", "absorption_voltage")
    assert finding is not None
    assert finding.kind == "correct"
    assert isinstance(finding.value, Figure)
    assert finding.value.value == pytest.approx(56.2)
    assert passes(finding) == pytest.approx(56.0)


def test_a_device_that_no_value_suits_is_not_told_twice():
    fixed = {"settings": {"absorption_voltage": {"unit": "V", "fixed": 56.0}}}
    of = lithium(bank=managed(cut_off_high=3.50), controllers=(DEAF | {"datasheet": fixed},))
    draft = settled(of)
    assert found(draft, "device-over-chemistry", "absorption_voltage") is not None
    assert found(draft, "static-voltage", "absorption_voltage") is None


def test_static_values_of_the_common_grid_pass():
    """Absorption 16 × 3.50 = 56.0 V; 16 × (3.65 − 0.05) = 57.6 V is the limit."""
    draft = settled(lithium(controllers=(DEAF,)))
    assert found(draft, "static-voltage") is None
    assert "static" in draft.settings[("sun-2", "absorption_voltage", None)].note


@pytest.mark.parametrize(
    ("contact", "kind"),
    [
        pytest.param(True, None, id="wired"),
        pytest.param(False, "correct", id="none"),
        pytest.param("unknown", "not checked", id="unknown"),
    ],
)
def test_sources_off_the_link_want_a_charge_permit_contact(contact: Any, kind: str | None) -> None:
    draft = settled(lithium(bank=managed(charge_permit_contact=contact), controllers=(DEAF,)))
    finding = found(draft, "charge-permit-contact")
    assert (None if finding is None else finding.kind) == kind
    assert finding is None or finding.parts == ("sun-2",)


def test_where_every_source_hears_the_battery_no_contact_is_asked_for():
    assert found(settled(lithium(bank=managed(charge_permit_contact=False))), "charge-permit-contact") is None


# a bank that opens


def weak(survives: Any = False, **changed: Any) -> Plant:
    inverter = INVERTER | {
        "on_battery_link": True,
        "datasheet": INVERTER["datasheet"] | {"survives_battery_loss": survives},
    }
    return lithium(**({"inverters": (inverter,)} | changed))


def test_a_limit_of_zero_told_before_the_cut_off_saves_what_hears_it():
    assert found(settled(weak()), "bank-lost-under-charge") is None


def test_a_bank_that_opens_without_a_word_is_found_with_current_and_absorption_that_pass():
    """60 A may flow; absorption at 16 × (3.65 − 0.05) = 57.6 V or less stays clear of the cut-off."""
    draft = drafted(weak(bank=managed(tells_zero_before_opening=False)), settle_low_end)
    draft.shares["inv-1"] = given(60.0, "A", "share of the test")
    settle_link(draft)
    finding = found(draft, "bank-lost-under-charge")
    assert finding is not None
    assert finding.kind == "correct"
    assert isinstance(finding.value, Figure)
    assert finding.value.value == pytest.approx(60.0)
    assert passes(finding) == pytest.approx(57.6)


def test_a_source_that_does_not_hear_the_told_limit_is_no_safer():
    draft = settled(weak(controllers=(DEAF | {"datasheet": {"survives_battery_loss": False}},)))
    finding = found(draft, "bank-lost-under-charge")
    assert finding is not None
    assert set(finding.parts) == {"inv-1", "sun-2"}


@pytest.mark.parametrize(
    ("survives", "told"),
    [
        pytest.param("unknown", False, id="device not known"),
        pytest.param(False, "unknown", id="told limit not known"),
    ],
)
def test_what_is_not_known_of_the_loss_is_not_checked(survives: Any, told: Any) -> None:
    finding = found(
        settled(weak(survives, bank=managed(tells_zero_before_opening=told))), "bank-lost-under-charge"
    )
    assert finding is not None
    assert finding.kind == "not checked"


def test_devices_that_survive_need_nothing():
    of = weak(True, bank=managed(tells_zero_before_opening=False))
    assert found(settled(of), "bank-lost-under-charge") is None


# a bus that must come back


def controller(needs: Any) -> dict[str, Any]:
    return SUN | {"on_battery_link": True, "datasheet": {"needs_battery_first": needs}}


def test_a_controller_that_starts_without_a_battery_brings_the_bus_back():
    assert found(settled(lithium(controllers=(controller(False),))), "bus-restart") is None


def test_nothing_that_brings_the_bus_back_is_found():
    finding = found(settled(lithium(controllers=(controller(True),))), "bus-restart")
    assert finding is not None
    assert finding.kind == "correct"


def test_a_charger_on_a_generator_may_bring_it_back_but_nobody_says_so():
    fed = INVERTER | {"on_battery_link": True, "inputs": {"generator": "gen-1"}}
    generator = {"id": "gen-1", "profile": "generator-diesel-single-230-10000"}
    finding = found(settled(lithium(inverters=(fed,), generators=[generator])), "bus-restart")
    assert finding is not None
    assert finding.kind == "not checked"
    assert "inv-1 starts from its AC input" in finding.text


def test_how_a_sleeping_pack_is_woken_is_asked_for():
    finding = found(settled(lithium(bank=managed(wakes_by=""))), "wake-up")
    assert finding is not None
    assert finding.kind == "not checked"
    assert found(settled(lithium()), "wake-up") is None


def test_a_lead_bank_raises_none_of_this():
    checks = {one.check for one in settled(flooded(runs=[RUN])).findings}
    assert not checks & {"bus-restart", "wake-up", "charge-permit-contact", "bank-lost-under-charge"}
