"""The frequency shift for AC-coupled PV against published windows and arithmetic by hand."""

from __future__ import annotations

from typing import Any

import pytest

from commission.figure import Figure, given
from commission.plant.plant import Plant
from commission.sheet.coupling import settle_coupling
from commission.sheet.draft import Draft
from tests.sheet.low_end_cases import INVERTER, drafted, flooded, found, missing, number, passes

IEC = {"rules": "iec-230", "units": "metric"}
DROOP: dict[str, Any] = {"id": "pv-1", "profile": "ac-pv-230-5000-droop", "leg": "1"}
TRIPS: dict[str, Any] = {"id": "pv-2", "profile": "ac-pv-230-3000-trip-only", "leg": "1"}
AMERICAN: dict[str, Any] = {"id": "pv-1", "profile": "ac-pv-240-5000-droop", "leg": "both"}
SUN = {"id": "sun-1", "profile": "controller-48v-100-buck-250", "run": "run-1"}


def coupled(*units: dict[str, Any], **changed: Any) -> Plant:
    fields: dict[str, Any] = {"chemistry": "agm", "place": IEC, "ac_pv_inverters": list(units or (DROOP,))}
    return flooded(**(fields | changed))


def settled(of: Plant, **numbers: Figure) -> Draft:
    draft = drafted(of)
    draft.numbers.update(numbers)
    settle_coupling(draft)
    return draft


# the window


def test_shift_begins_where_pv_throttles_and_ends_past_its_trip():
    """EN 50549-1: from 50.2 Hz, back up to 50.2 Hz; VDE-AR-N 4105: off over 51.5 Hz; + 0.3 = 51.8 Hz."""
    draft = settled(coupled())
    assert number(draft, "inv-1", "frequency_shift_start") == pytest.approx(50.2)
    assert number(draft, "inv-1", "frequency_shift_end") == pytest.approx(51.8)


def test_on_60_hertz_the_response_begins_before_two_tenths():
    """IEEE 1547-2018 tables 18 and 24: 60.036 Hz, down to 60.0 on steps of 0.1; OF2 62.0 + 0.3 = 62.3 Hz."""
    inverter = INVERTER | {"profile": "inverter-48v-120-3600"}
    draft = settled(coupled(AMERICAN, place={}, inverters=(inverter,)))
    assert number(draft, "inv-1", "frequency_shift_start") == pytest.approx(60.0)
    assert number(draft, "inv-1", "frequency_shift_end") == pytest.approx(62.3)


def test_the_highest_trip_and_the_lowest_start_of_several_count():
    """IEC 61727: off over 51 Hz; beside a unit that trips at 51.5 Hz the end stays 51.8 Hz."""
    draft = settled(coupled(DROOP, TRIPS))
    assert number(draft, "inv-1", "frequency_shift_start") == pytest.approx(50.2)
    assert number(draft, "inv-1", "frequency_shift_end") == pytest.approx(51.8)


def test_a_site_value_of_the_response_goes_before_the_class():
    """Fast trip stated as 51.2 Hz: 51.5 Hz."""
    draft = settled(coupled(DROOP | {"datasheet": {"response": {"fast_trip": 51.2}}}))
    assert number(draft, "inv-1", "frequency_shift_end") == pytest.approx(51.5)


def test_an_unknown_trip_leaves_the_end_open():
    unit = DROOP | {"datasheet": {"response": {"fast_trip": "unknown"}}}
    assert "fast trip of pv-1" in missing(settled(coupled(unit)), "inv-1", "frequency_shift_end")


def test_a_unit_of_unknown_kind_is_not_checked_and_takes_the_rule_sets_numbers():
    """EN 50549-1 and VDE-AR-N 4105 stand in the rule set: off over 51.5 Hz; end 51.8 Hz."""
    unknown = {"kind": "unknown", "fast_trip": "unknown", "start": "unknown", "return_high": "unknown"}
    draft = settled(coupled(DROOP | {"datasheet": {"response": unknown}}))
    finding = found(draft, "response-kind")
    assert finding is not None
    assert finding.kind == "not checked"
    assert number(draft, "inv-1", "frequency_shift_end") == pytest.approx(51.8)


# findings on the window


def test_a_unit_that_only_trips_is_told():
    finding = found(settled(coupled(TRIPS)), "pv-only-trips")
    assert finding is not None
    assert "51.00 Hz" in finding.text
    assert found(settled(coupled(DROOP)), "pv-only-trips") is None


def test_a_shift_that_cannot_pass_the_trip_is_found_with_both_numbers():
    """The device ends at 51.0 Hz at most; 51.8 are needed, else trips of at most 51.0 − 0.3 = 50.7 Hz."""
    short = {"settings": {"frequency_shift_end": {"high": 51.0}}}
    inverter = INVERTER | {"datasheet": INVERTER["datasheet"] | short}
    finding = found(settled(coupled(inverters=(inverter,))), "shift-end-under-trip")
    assert finding is not None
    assert finding.kind == "correct"
    assert passes(finding) == pytest.approx(51.8)
    assert "50.70 Hz" in finding.remedy


def test_a_load_that_does_not_stand_the_end_wants_lower_trips():
    """The load stands 51.0 Hz: trips of at most 50.7 Hz; one that stands 52 Hz is not named."""
    loads = [
        {"id": "clock", "current": "ac", "frequency_max": 51.0},
        {"id": "pump", "current": "ac", "frequency_max": 52.0},
    ]
    draft = settled(coupled(loads=loads))
    over = [one for one in draft.findings if one.check == "shift-end-over-load"]
    assert [one.parts for one in over] == [("inv-1", "clock")]
    assert passes(over[0]) == pytest.approx(50.7)


def test_an_idle_frequency_outside_the_return_window_is_found():
    """Returns up to 49.9 Hz only: 50 Hz is outside, 49.9 Hz would be inside."""
    unit = DROOP | {"datasheet": {"response": {"return_high": 49.9}}}
    finding = found(settled(coupled(unit)), "idle-in-return-window")
    assert finding is not None
    assert finding.kind == "correct"
    assert passes(finding) == pytest.approx(49.9)


def test_an_idle_frequency_nearer_the_edge_than_it_is_exact_is_told():
    """The inverter keeps 0.1 Hz; a window up to 50.05 Hz leaves 0.05 Hz. Up to 50.2 Hz leaves enough."""
    unit = DROOP | {"datasheet": {"response": {"return_high": 50.05}}}
    finding = found(settled(coupled(unit)), "idle-in-return-window")
    assert finding is not None
    assert finding.kind == "advise"
    assert passes(finding) == pytest.approx(0.05)
    assert found(settled(coupled()), "idle-in-return-window") is None


def test_pv_that_no_inverter_throttles_is_found():
    plain = INVERTER | {"profile": "inverter-48v-230-3000-plain"}
    finding = found(settled(coupled(inverters=(plain,))), "no-frequency-shift")
    assert finding is not None
    assert finding.kind == "correct"


def test_without_coupled_pv_the_shift_is_put_where_it_never_begins():
    """The highest voltage of the device, 64.0 V."""
    draft = settled(flooded())
    assert number(draft, "inv-1", "frequency_shift_voltage") == pytest.approx(64.0)
    assert "no AC-coupled PV" in draft.settings[("inv-1", "frequency_shift_voltage", None)].note


# its voltage


def test_the_shift_begins_at_the_absorption_of_the_hottest_battery():
    """57.6 − 24 × 0.004 × 10 = 56.64 V; down to steps of 0.1: 56.6 V."""
    draft = settled(coupled())
    assert number(draft, "inv-1", "frequency_shift_voltage") == pytest.approx(56.6, abs=1e-9)
    assert found(draft, "shift-over-absorption") is None


def test_a_shift_that_can_only_begin_over_absorption_is_found():
    """58.0 V at least on the device; 56.64 V is the most that passes."""
    high = {"settings": {"frequency_shift_voltage": {"low": 58.0}}}
    inverter = INVERTER | {"datasheet": INVERTER["datasheet"] | high}
    finding = found(settled(coupled(inverters=(inverter,))), "shift-over-absorption")
    assert finding is not None
    assert passes(finding) == pytest.approx(56.64)


def test_with_pv_on_both_sides_it_is_told_which_yields_first():
    """AC-coupled first from 56.6 V; DC-coupled first from the next step over 56.64 V, 56.7 V."""
    draft = settled(coupled(controllers=(SUN,)))
    finding = found(draft, "which-pv-yields")
    assert finding is not None
    assert finding.text.startswith("AC-coupled PV yields first")
    assert "56.70 V" in finding.remedy
    assert found(settled(coupled()), "which-pv-yields") is None


# what it drives into the bank


def test_pv_and_the_dc_sources_beside_it_stay_within_the_bank():
    """5000 W × 0.93 ÷ 48 V = 96.875 A, + 50 A of a controller, over 100 A.

    (100 − 50) × 48 ÷ 0.93 = 2580.6 W pass.
    """
    draft = drafted(coupled(controllers=(SUN,)))
    draft.numbers["bank_limit"] = given(100.0, "A", "limit of the test")
    draft.shares["sun-1"] = given(50.0, "A", "share of the test")
    settle_coupling(draft)
    finding = found(draft, "coupled-power")
    assert finding is not None
    assert isinstance(finding.value, Figure)
    assert finding.value.value == pytest.approx(146.875)
    assert passes(finding) == pytest.approx(2580.6, abs=0.1)


def test_a_smaller_array_counts_with_its_own_power():
    """3000 W of modules: 3000 × 0.93 ÷ 48 = 58.125 A, within 100 A."""
    limit = given(100.0, "A", "limit of the test")
    assert found(settled(coupled(DROOP | {"array_power": 3000.0}), bank_limit=limit), "coupled-power") is None


def test_a_charger_that_an_interlock_parts_from_the_pv_is_not_added():
    """96.875 A of PV; 40 A of a charger on the set count only where nothing parts them; limit 100 A."""
    fed = INVERTER | {"inputs": {"generator": "gen-1"}}
    generator = {"id": "gen-1", "profile": "generator-diesel-single-230-10000"}
    apart = {"id": "lock", "one_of": ["gen-1", "pv-1"], "by": "contactor"}
    for interlocks, expected in (([], True), ([apart], False)):
        draft = drafted(coupled(inverters=(fed,), generators=[generator], interlocks=interlocks))
        draft.numbers["bank_limit"] = given(100.0, "A", "limit of the test")
        draft.shares["inv-1"] = given(40.0, "A", "share of the test")
        settle_coupling(draft)
        assert (found(draft, "coupled-power") is not None) is expected


def test_an_unknown_efficiency_is_not_checked():
    inverter = INVERTER | {"datasheet": INVERTER["datasheet"] | {"charger_efficiency": "unknown"}}
    limit = given(100.0, "A", "limit of the test")
    finding = found(settled(coupled(inverters=(inverter,)), bank_limit=limit), "coupled-power")
    assert finding is not None
    assert finding.kind == "not checked"
    assert "charger efficiency of inv-1" in finding.text
