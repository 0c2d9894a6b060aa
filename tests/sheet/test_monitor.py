"""The battery monitor against arithmetic by hand."""

from __future__ import annotations

from typing import Any

import pytest

from commission.figure import Figure, given
from commission.plant.plant import Plant
from commission.sheet.draft import Draft
from commission.sheet.monitor import settle_monitor
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


def watched(**changed: Any) -> Plant:
    """Return 24 AGM cells of 200 Ah, one inverter on 1.47783 mΩ of cable, and a monitor."""
    fields = {
        "chemistry": "agm",
        "capacity": 200.0,
        "monitor": MONITOR,
        "authority": {"state_of_charge": "mon-1"},
    }
    return flooded(**(fields | changed))


def settled(of: Plant) -> Draft:
    return drafted(of, settle_monitor)


# counting


def test_capacity_is_that_of_all_strings_at_the_banks_own_rate():
    """2 × 225 Ah (C20) = 450 Ah; exponent of AGM 1.10, efficiency 0.95."""
    draft = settled(watched(strings=2, capacity=225.0, bank={"resistance": 0.03, "capacity_rate": 20.0}))
    assert number(draft, "mon-1", "monitor_capacity") == pytest.approx(450.0)
    assert number(draft, "mon-1", "monitor_capacity_rate") == pytest.approx(20.0)
    assert number(draft, "mon-1", "monitor_peukert_exponent") == pytest.approx(1.10)
    assert number(draft, "mon-1", "monitor_charge_efficiency") == pytest.approx(0.95)


def test_a_monitor_that_knows_another_rate_only_gets_the_capacity_at_that_rate():
    """500 Ah at 100 h; 20 h is the most: 500 × (20 ÷ 100)^(1 − 1 ÷ 1.10) = 431.9 Ah; steps of 5: 430 Ah."""
    draft = settled(watched(capacity=500.0, bank={"resistance": 0.03, "capacity_rate": 100.0}))
    assert number(draft, "mon-1", "monitor_capacity_rate") == pytest.approx(20.0)
    assert number(draft, "mon-1", "monitor_capacity") == pytest.approx(430.0)


def test_capacity_of_lithium_is_not_converted():
    of = lithium(monitor=MONITOR, bank={"management": MANAGED, "capacity_rate": 100.0, "standing_draw": 0.0})
    assert number(settled(of), "mon-1", "monitor_capacity") == pytest.approx(840.0)


def test_the_shunt_is_set_as_it_is_fitted_and_its_zero_is_a_thousandth():
    draft = settled(watched())
    assert number(draft, "mon-1", "monitor_shunt_current") == pytest.approx(500.0)
    assert number(draft, "mon-1", "monitor_shunt_voltage") == pytest.approx(0.05)
    assert number(draft, "mon-1", "monitor_zero_threshold") == pytest.approx(0.5)


def test_a_shunt_that_is_not_known_stays_open():
    draft = settled(watched(monitor=MONITOR | {"shunt_current": "unknown"}))
    assert "shunt current of mon-1" in missing(draft, "mon-1", "monitor_shunt_current")
    assert "shunt current of mon-1" in missing(draft, "mon-1", "monitor_full_current")


def test_a_monitor_made_for_one_shunt_is_found_where_another_is_fitted():
    """Fixed 500 A and 50 mV; 500 A and 75 mV fitted."""
    plain = {"profile": "monitor-plain", "shunt_voltage": 0.075}
    finding = found(
        settled(watched(monitor=MONITOR | plain)), "fixed-outside-limits", "monitor_shunt_voltage"
    )
    assert finding is not None
    assert passes(finding) == pytest.approx(0.075)


def test_twelve_volt_blocks_are_counted_by_the_system():
    """Full voltage of 56.2 V on 48 V is 14.05 V per 12 V; steps of 0.1 down: 14.0, which is 56.0 V."""
    draft = settled(watched(monitor=MONITOR | {"profile": "monitor-plain"}))
    setting = draft.settings[("mon-1", "monitor_full_voltage", None)]
    assert isinstance(setting.recommended, Figure)
    assert setting.recommended.value == pytest.approx(14.0)
    assert number(draft, "mon-1", "monitor_full_voltage") == pytest.approx(56.0)


@pytest.mark.parametrize(
    ("sensor", "expected"),
    [pytest.param(True, 0.6, id="lead: 0.006 per K"), pytest.param(False, 0.0, id="no sensor")],
)
def test_capacity_follows_temperature_only_with_a_sensor(sensor: bool, expected: float) -> None:
    draft = settled(watched(monitor=MONITOR | {"temperature_sensor": sensor}))
    assert number(draft, "mon-1", "monitor_temperature_coefficient") == pytest.approx(expected)


# full


def test_full_current_lies_half_a_per_cent_over_the_end_current():
    """Alone, the inverter ends at 2 % of 200 Ah = 4 A; + greater of 1 A and the zero of 0.5 A: 5 A."""
    assert number(settled(watched()), "mon-1", "monitor_full_current") == pytest.approx(5.0)


def test_full_voltage_is_the_lowest_absorption_less_run_drop_and_a_tenth_per_12_volts():
    """57.6 V; 35 °C: − 0.96 = 56.64 V; 5 A × 1.47783 mΩ = 0.0074 V; − 0.4 V: 56.2326 V; down: 56.2 V."""
    assert number(settled(watched()), "mon-1", "monitor_full_voltage") == pytest.approx(56.2, abs=1e-9)


def test_the_lowest_absorption_of_all_sources_counts():
    """A controller that senses at the posts, 1.2 V lower: 57.6 − 1.2 − 0.96 = 55.44; − 0.4: 55.04: 55.0 V."""
    sun = {"id": "sun-1", "profile": "controller-48v-100-buck-250", "run": "run-1"}
    plain = settled(watched(controllers=(sun,)))
    lower = settled(watched(controllers=(sun | {"offset": 1.2, "offset_reason": "yields to the set"},)))
    assert number(plain, "mon-1", "monitor_full_voltage") == pytest.approx(56.2, abs=1e-9)
    assert number(lower, "mon-1", "monitor_full_voltage") == pytest.approx(55.0, abs=1e-9)


def test_no_gap_between_float_in_the_cold_and_absorption_in_the_heat_is_found():
    """Float 54.48 V; 0 °C: + 24 × 0.004 × 25 = 2.4: 56.88 V, over 56.2 V.

    A gap is left from 25 + 1000 × (56.2 ÷ 24 − 2.27) ÷ −4 = 7.08 °C.
    """
    finding = found(settled(watched()), "full-voltage-gap")
    assert finding is not None
    assert passes(finding) == pytest.approx(7.083, abs=0.001)


def test_a_battery_room_that_stays_warm_leaves_a_gap():
    """10 °C: 54.48 + 24 × 0.004 × 15 = 55.92 V, under 56.2 V."""
    warm = {"coldest_battery": 10.0, "coldest_month_battery": 12.0}
    assert found(settled(watched(place=warm)), "full-voltage-gap") is None


def test_the_gap_is_not_checked_where_the_coldest_battery_is_not_known():
    finding = found(settled(watched(place={"coldest_battery": "unknown"})), "full-voltage-gap")
    assert finding is not None
    assert finding.kind == "not checked"
    assert "coldest battery" in finding.text


def test_full_time_is_shorter_than_the_charger_stays_at_low_current():
    """Floor 0.8 % of 200 Ah = 1.6 A; 3600 × ln((5 − 1.6) ÷ (4 − 1.6)) = 1254 s: 180 s stand."""
    draft = settled(watched())
    assert number(draft, "mon-1", "monitor_full_time") == pytest.approx(180.0)
    high = draft.settings[("mon-1", "monitor_full_time", None)].high
    assert isinstance(high, Figure)
    assert high.value == pytest.approx(1253.9, abs=0.5)


def test_a_time_that_the_charger_never_stays_is_found():
    """Iron phosphate: 3600 × 0.15 × 0.1 ÷ 0.07 = 771.4 s; 42 A ends, 46.2 A counts: × ln(1.1) = 73.5 s.

    A monitor that takes 120 s and more never counts full.
    """
    slow = {"settings": {"monitor_full_time": {"unit": "s", "low": 120, "high": 3600, "step": 60}}}
    managed = MANAGED | {"data_link": False}
    of = lithium(
        monitor=MONITOR | {"datasheet": slow},
        bank={"management": managed, "standing_draw": 0.0},
        authority={"state_of_charge": "mon-1"},
    )
    finding = found(settled(of), "full-time")
    assert finding is not None
    assert finding.kind == "correct"
    assert passes(finding) == pytest.approx(73.5, abs=0.1)


def test_a_current_that_does_not_taper_leaves_full_to_voltage_and_time():
    """Nickel-iron at 0.15 × 200 = 30 A to the end; + 1 A: 31 A."""
    of = watched(chemistry="nickel-iron", cells_per_block=1, blocks=38)
    assert number(settled(of), "mon-1", "monitor_full_current") == pytest.approx(31.0)


# what it sees


def test_a_part_between_shunt_and_bank_is_found():
    finding = found(settled(watched(monitor=MONITOR | {"on_battery_side": ["inv-1"]})), "current-past-shunt")
    assert finding is not None
    assert finding.parts == ("mon-1", "inv-1")


def test_a_shunt_too_small_for_what_flows_for_long_is_found():
    """60 A at 0.66 want 90.9 A."""
    draft = drafted(watched(monitor=MONITOR | {"shunt_current": 75.0}))
    draft.shares["inv-1"] = given(60.0, "A", "share of the test")
    settle_monitor(draft)
    finding = found(draft, "shunt-rating")
    assert finding is not None
    assert passes(finding) == pytest.approx(90.91, abs=0.01)


def test_the_count_of_a_managed_bank_is_the_authority():
    linked = lithium(monitor=MONITOR, authority={"state_of_charge": "mon-1"})
    assert found(settled(linked), "count-of-managed-bank") is not None
    assert found(settled(lithium(monitor=MONITOR)), "count-of-managed-bank") is None


def test_a_count_that_nothing_goes_by_is_told():
    assert found(settled(watched(authority={})), "count-not-used") is not None
    assert found(settled(watched()), "count-not-used") is None


def test_a_site_without_a_monitor_has_nothing_to_settle():
    draft = settled(flooded(inverters=(INVERTER,)))
    assert not [key for key in draft.settings if key[1].startswith("monitor_")]
