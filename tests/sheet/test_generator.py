"""Automatic start and stop of a generator against arithmetic by hand."""

from __future__ import annotations

from typing import Any

import pytest

from commission.figure import Figure, given
from commission.plant.plant import Plant
from commission.sheet.draft import Draft
from commission.sheet.generator import settle_generator
from commission.sheet.low_end import settle_low_end
from commission.sheet.types import Pair
from tests.sheet.low_end_cases import (
    INVERTER,
    MANAGED,
    MONITOR,
    drafted,
    flooded,
    found,
    lithium,
    missing,
    number,
    passes,
)

SET: dict[str, Any] = {
    "id": "gen-1",
    "profile": "generator-diesel-single-230-10000",
    "started_by": "inv-1",
}
FED = INVERTER | {"inputs": {"generator": "gen-1"}}


def fed(**changed: Any) -> Plant:
    return flooded(**({"inverters": (FED,), "generators": [SET]} | changed))


def settled(of: Plant) -> Draft:
    return drafted(of, settle_low_end, settle_generator)


def pairs(draft: Draft, device: str = "inv-1") -> list[tuple[float, float]]:
    made = draft.recommended(device, "generator_start")
    assert isinstance(made, tuple), made
    assert all(isinstance(pair, Pair) for pair in made)
    return [(round(pair.voltage.value, 6), pair.delay.value) for pair in made]


# start by voltage


def test_deeper_starts_come_sooner_and_lie_between_start_and_disconnect():
    """Start at 50 % under load 47.4870 V; floor 46.7 + 24 × 0.01 = 46.94 V; a third of 0.547 V apart.

    47.4870, 47.3047, 47.1223; up to steps of 0.1 V: 47.5, 47.4, 47.2. The reserve of 135 Ah at 46.8 A lasts
    10385 s, over twice the delays: 15 min, 5 min and 1 min stand.
    """
    assert pairs(settled(fed())) == [(47.5, 900.0), (47.4, 300.0), (47.2, 60.0)]


def test_a_device_with_one_threshold_gets_the_first():
    one = {"settings": {"generator_start": {"entries": 1}}}
    inverter = FED | {"datasheet": FED["datasheet"] | one}
    assert pairs(settled(fed(inverters=(inverter,)))) == [(47.5, 900.0)]


def test_thresholds_that_fall_together_on_the_grid_count_once():
    """Steps of 0.5 V from 42.0: 47.4870 and 47.3047 both go to 47.5, 47.1223 as well."""
    coarse = {"settings": {"generator_start": {"step": 0.5}}}
    inverter = FED | {"datasheet": FED["datasheet"] | coarse}
    assert pairs(settled(fed(inverters=(inverter,)))) == [(47.5, 900.0)]


def test_delays_shrink_with_a_short_reserve():
    """50 Ah × 0.30 = 15 Ah at 46.8 A: 1153.9 s; factor 1153.9 ÷ (2 × 1260) = 0.4579.

    412.1, 137.4 and 27.5 s on steps of 60 s from 60: 360, 120 and 60 s.
    """
    assert [delay for _, delay in pairs(settled(fed(capacity=50.0)))] == [360.0, 120.0, 60.0]


def test_the_highest_disconnect_of_all_devices_bounds_the_start():
    """A second inverter that drops its loads at 48.0 V: every start lies over 48.0 + 0.24: 48.3 V."""
    other = INVERTER | {"id": "inv-2", "datasheet": {"inverter_efficiency": 0.9, "low_cut_off": 48.0}}
    draft = settled(fed(inverters=(FED, other)))
    assert min(voltage for voltage, _ in pairs(draft)) >= 48.3


def test_the_start_is_open_where_the_load_is_not_known():
    draft = settled(fed(expected={}))
    assert "load of the plant" in missing(draft, "inv-1", "generator_start")
    finding = found(draft, "setting-open", "generator_start")
    assert finding is not None
    assert finding.kind == "not checked"


def test_flat_curve_starts_by_state_of_charge_and_keeps_voltages_as_fallback():
    """Disconnect 0.192857, start 5 points over it: 0.242857, up to 0.25; stop at 85 %."""
    of = lithium(inverters=(FED | {"on_battery_link": True},), generators=[SET])
    draft = settled(of)
    assert number(draft, "inv-1", "generator_start_state_of_charge") == pytest.approx(0.25)
    assert number(draft, "inv-1", "generator_stop_state_of_charge") == pytest.approx(0.85)
    assert "fallback" in draft.settings[("inv-1", "generator_start", None)].note


def test_states_of_charge_are_off_where_nothing_counts_them():
    draft = settled(fed())
    assert draft.recommended("inv-1", "generator_start_state_of_charge") == "off"
    assert draft.recommended("inv-1", "generator_stop_state_of_charge") == "off"


def test_emergency_lies_half_way_between_disconnect_and_start():
    """46.7 + (47.4870 − 46.7) ÷ 2 = 47.0935 V; up: 47.1 V."""
    assert number(settled(fed()), "inv-1", "generator_emergency_voltage") == pytest.approx(47.1, abs=1e-9)


# stop


def test_stop_is_the_absorption_of_the_hottest_battery():
    """24 × 2.45 = 58.8 V; at 35 °C − 24 × 0.005 × 10 = 1.2: 57.6 V."""
    assert number(settled(fed()), "inv-1", "generator_stop_voltage") == pytest.approx(57.6, abs=1e-9)


def test_stop_current_of_lead_is_two_per_cent_rounded_down():
    """0.02 × 455 Ah = 9.1 A; down: 9 A, over the floor of 1.3 × 0.01 × 455 = 5.9 A."""
    assert number(settled(fed(capacity=455.0)), "inv-1", "generator_stop_end_current") == pytest.approx(9.0)


def test_stop_current_is_never_under_the_floor():
    """End current 1 % of 450 Ah = 4.5 A is under 1.3 × 1 % = 5.85 A: 6 A."""
    of = fed(battery={"end_current": {"value": 0.01}})
    assert number(settled(of), "inv-1", "generator_stop_end_current") == pytest.approx(6.0)


def test_a_current_that_does_not_taper_stops_nothing():
    of = fed(chemistry="nickel-iron", cells_per_block=1, blocks=38)
    assert settled(of).recommended("inv-1", "generator_stop_end_current") == "off"


def test_load_starts_at_80_and_stops_under_60_per_cent():
    draft = settled(fed())
    assert number(draft, "inv-1", "generator_start_load") == pytest.approx(0.8)
    assert number(draft, "inv-1", "generator_stop_load") == pytest.approx(0.6)


def test_load_in_watts_counts_the_group():
    """Two of 5000 VA in one group: 0.8 × 10000 = 8000."""
    watts = {"settings": {"generator_start_load": {"unit": "W", "low": 0.0, "high": 20000.0, "step": 100.0}}}
    one = FED | {"group": "g", "datasheet": FED["datasheet"] | watts}
    draft = settled(fed(inverters=(one, INVERTER | {"id": "inv-2", "group": "g"})))
    assert number(draft, "inv-1", "generator_start_load") == pytest.approx(8000.0)


# run times


def run_case(**changed: Any) -> Draft:
    """Return the case of 800 Ah from 40 to 85 % at 120 A and 0.92."""
    charger = {"charger_current": 200.0, "settings": {"charge_current_limit": {"high": 200.0}}}
    fields: dict[str, Any] = {
        "capacity": 800.0,
        "battery": {"depth_usual": {"value": 0.6, "high": 0.6}, "charge_efficiency": {"value": 0.92}},
        "inverters": (FED | {"datasheet": FED["datasheet"] | charger},),
    }
    draft = drafted(fed(**(fields | changed)), settle_low_end)
    draft.numbers["ac_feed:inv-1:gen-1"] = given(120.0, "A", "feed of the test")
    settle_generator(draft)
    return draft


def test_run_limit_is_half_over_the_expected_run():
    """800 × 0.45 ÷ (120 × 0.92) = 3.261 h (common practice, no taper); × 1.5 = 17609 s; up: 18000 s."""
    assert number(run_case(), "inv-1", "generator_max_run_time") == pytest.approx(18000.0)


def test_run_limit_is_never_under_4_nor_over_12_hours():
    """400 Ah: 1.63 h × 1.5 = 2.4 h: 4 h stand. 2400 Ah: 9.78 h × 1.5 = 14.7 h: 12 h stand."""
    assert number(run_case(capacity=400.0), "inv-1", "generator_max_run_time") == pytest.approx(14400.0)
    long = run_case(capacity=2400.0)
    assert number(long, "inv-1", "generator_max_run_time") == pytest.approx(43200.0)


def test_a_charge_too_weak_for_any_limit_is_found_with_the_current_that_passes():
    """2400 × 0.45 ÷ (120 × 0.92) = 9.783 h; 8 h want 120 × 9.783 ÷ 8 = 146.7 A."""
    finding = found(run_case(capacity=2400.0), "generator-run")
    assert finding is not None
    assert passes(finding) == pytest.approx(146.74, abs=0.01)
    assert found(run_case(), "generator-run") is None


def test_warm_up_is_longer_in_frost():
    """−15 °C: 180 s; 5 °C: 60 s; not known: as in frost."""
    assert number(settled(fed()), "inv-1", "generator_warm_up_time") == pytest.approx(180.0)
    mild = settled(fed(place={"coldest_ambient": 5.0}))
    assert number(mild, "inv-1", "generator_warm_up_time") == pytest.approx(60.0)
    dark = settled(fed(place={"coldest_ambient": "unknown"}))
    assert number(dark, "inv-1", "generator_warm_up_time") == pytest.approx(180.0)
    assert "not known" in dark.settings[("inv-1", "generator_warm_up_time", None)].note


def test_cool_down_and_exercise_follow_the_standard():
    """5 min without load (NFPA 110, 6.2); 30 min each month (NFPA 110, 8.4.2)."""
    draft = settled(fed())
    assert number(draft, "inv-1", "generator_cool_down_time") == pytest.approx(300.0)
    assert number(draft, "inv-1", "generator_exercise_interval") == pytest.approx(30 * 86400.0)
    assert number(draft, "inv-1", "generator_exercise_time") == pytest.approx(1800.0)


def test_no_start_hours_are_seconds_after_midnight():
    """21:30 is 77400 s, 06:30 is 23400 s after midnight."""
    quiet = SET | {"quiet_from": "21:30", "quiet_until": "06:30"}
    draft = settled(fed(generators=[quiet]))
    assert number(draft, "inv-1", "generator_no_start_from") == pytest.approx(77400.0)
    assert number(draft, "inv-1", "generator_no_start_until") == pytest.approx(23400.0)
    assert "after midnight" in draft.settings[("inv-1", "generator_no_start_from", None)].note


def test_no_quiet_hours_are_off_and_half_told_ones_stay_open():
    draft = settled(fed())
    assert draft.recommended("inv-1", "generator_no_start_from") == "off"
    half = settled(fed(generators=[SET | {"quiet_from": "21:30"}]))
    assert "quiet until of gen-1" in missing(half, "inv-1", "generator_no_start_until")


# devices that start none


def test_on_a_device_that_starts_none_every_start_is_off_or_never_comes():
    """The least voltage of 42.0 V with the longest delay of 86400 s; the rest is off or at its idle end."""
    draft = settled(fed(generators=[SET | {"started_by": None}]))
    assert pairs(draft) == [(42.0, 86400.0)]
    for setting in ("generator_start_state_of_charge", "generator_start_load", "generator_emergency_voltage"):
        assert draft.recommended("inv-1", setting) == "off"
    assert "starts no generator" in draft.settings[("inv-1", "generator_start", None)].note


def test_a_start_load_that_cannot_be_off_is_put_where_it_never_comes():
    stuck = {"settings": {"generator_start_load": {"off": False}}}
    inverter = FED | {"datasheet": FED["datasheet"] | stuck}
    draft = settled(fed(inverters=(inverter,), generators=[]))
    assert number(draft, "inv-1", "generator_start_load") == pytest.approx(1.0)


# who starts what


@pytest.mark.parametrize(
    ("changed", "check", "kind"),
    [
        pytest.param({"started_by": "unknown"}, "generator-starter", "not checked", id="starter"),
        pytest.param(
            {"datasheet": {"start_kind": "by hand"}}, "generator-started-by-hand", "correct", id="hand"
        ),
        pytest.param(
            {"datasheet": {"start_kind": "unknown"}}, "generator-start-kind", "not checked", id="kind"
        ),
        pytest.param({"started_by": "mon-1"}, "starter-without-start", "correct", id="monitor"),
    ],
)
def test_a_start_that_cannot_work_is_found(changed: dict[str, Any], check: str, kind: str) -> None:
    draft = settled(fed(generators=[SET | changed], monitor=MONITOR))
    finding = found(draft, check)
    assert finding is not None
    assert finding.kind == kind
    assert found(settled(fed(monitor=MONITOR)), check) is None


def test_a_set_that_feeds_no_charger_is_found_and_its_stop_stays_open():
    draft = settled(fed(inverters=(INVERTER,)))
    assert found(draft, "generator-feeds-no-charger") is not None
    assert "a charger that gen-1 feeds" in missing(draft, "inv-1", "generator_stop_voltage")


def test_a_device_said_to_start_a_set_that_none_names_is_found():
    starter = FED | {"starts_generator": True}
    draft = settled(fed(inverters=(starter,), generators=[SET | {"started_by": None}]))
    assert found(draft, "starter-of-no-generator") is not None
    assert found(settled(fed(inverters=(starter,))), "starter-of-no-generator") is None


def test_managed_bank_without_link_starts_by_voltage_alone():
    managed = MANAGED | {"data_link": False}
    of = lithium(
        inverters=(FED,),
        generators=[SET],
        bank={"resistance": 0.009, "management": managed, "standing_draw": 0.0},
        authority={"state_of_charge": "none"},
    )
    draft = settled(of)
    assert draft.recommended("inv-1", "generator_start_state_of_charge") == "off"
    assert isinstance(draft.recommended("inv-1", "generator_start"), tuple)
    assert isinstance(draft.value("inv-1", "generator_stop_voltage"), Figure)
