"""Charging: what each source should hold and give, when that cannot be told, and where work stops."""

from __future__ import annotations

import pytest

from commission.checklist.types import Expected
from commission.figure import Unknown
from commission.sheet.settle import make_sheet
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
from tests.checklist.power_sites import Lefts, charging, left, managed_plant, pv_plant, sheet, told
from tests.checklist.walks import Site

# 24 sealed cells, 57.6 V at 25 °C, −4 mV/K a cell: −96 mV/K of the bank
LEFTS: Lefts = {
    ("mppt-1", "absorption_voltage"): left(57.6, "V"),
    ("mppt-1", "float_voltage"): left(54.0, "V"),
    ("mppt-1", "temperature_coefficient"): left(-96.0, "mV/K"),
    ("mppt-1", "temperature_reference"): left(25.0, "°C"),
    ("mppt-1", "charge_current_limit"): left(60.0, "A"),
}


def in_absorption(temperature: float = 25.0, current: float = 12.0, before: float = 57.6) -> Site:
    site = Site(pv_plant(), sheet(bus=66.0), LEFTS)
    charging(site, "absorption", temperature=temperature, current=current)
    return site.read("absorption-voltage.before", "mppt-1", before)


# the voltage of a stage


@pytest.mark.parametrize(
    ("temperature", "volts"),
    [
        pytest.param(25.0, 57.6, id="at the reference"),
        pytest.param(35.0, 56.64, id="hot: 57.6 − 0.096 × 10; a value for the cold would be 59.5 V here"),
        pytest.param(5.0, 59.52, id="cold: 57.6 + 0.096 × 20"),
        pytest.param(55.0, 56.16, id="over 40 °C compensation ends: 57.6 − 0.096 × 15"),
        pytest.param(-20.0, 60.0, id="under 0 °C too: 57.6 + 0.096 × 25"),
    ],
)
def test_absorption_follows_the_temperature_that_the_charger_shows(temperature: float, volts: float) -> None:
    outcome = in_absorption(temperature).judged("absorption-voltage", "mppt-1", 57.6)
    assert nominal(outcome) == pytest.approx(volts)


def test_absorption_is_held_within_device_step_and_sensor() -> None:
    # 0.4 % of 57.6 V, half of 0.05 V per 12 V on four, 4 mV/K × 24 × 2 K: √(0.2304² + 0.1² + 0.192²) = 0.316
    low, high = edges(in_absorption().judged("absorption-voltage", "mppt-1", 57.6))
    assert (low, high) == pytest.approx((57.6 - 0.31614, 57.6 + 0.31614), abs=1e-4)


def test_the_devices_own_ceiling_ends_compensation() -> None:
    site = in_absorption(0.0, before=58.8)
    site.lefts = {**LEFTS, ("mppt-1", "charge_voltage_ceiling"): left(58.8, "V")}
    assert nominal(site.judged("absorption-voltage", "mppt-1", 58.8)) == pytest.approx(58.8)


def test_a_charger_that_measures_at_itself_is_read_lower_at_the_posts() -> None:
    run = {
        "id": "run-1",
        "kind": "dc",
        "from": "mppt-1",
        "to": "bank",
        "area": 17.241,
        "length": 2.0,
        "joint_resistance": 0.0,
    }
    made = pv_plant(datasheet={"senses_voltage": "own terminals"}, controller={"run": "run-1"}, runs=[run])
    site = Site(made, sheet(bus=66.0), LEFTS)
    charging(site, "absorption", temperature=25.0, current=30.0).read(
        "absorption-voltage.before", "mppt-1", 57.5
    )
    # 2 m out and back of 1 mΩ/m are 4 mΩ; 30 A drop 0.12 V
    assert nominal(site.judged("absorption-voltage", "mppt-1", 57.5)) == pytest.approx(57.48)


def test_a_charger_without_sensor_is_not_compensated() -> None:
    site = Site(pv_plant(datasheet={"temperature_sensor": "none"}), sheet(bus=66.0), LEFTS)
    charging(site, "absorption", current=5.0).read("absorption-voltage.before", "mppt-1", 57.6)
    assert nominal(site.judged("absorption-voltage", "mppt-1", 57.6)) == pytest.approx(57.6)


def test_a_sensor_that_is_not_fitted_leaves_what_the_device_assumes() -> None:
    made = pv_plant(datasheet={"unplugged_temperature": 20.0}, controller={"sensor_fitted": False})
    site = Site(made, sheet(bus=66.0), LEFTS)
    charging(site, "absorption", current=5.0).read("absorption-voltage.before", "mppt-1", 58.0)
    assert nominal(site.judged("absorption-voltage", "mppt-1", 58.0)) == pytest.approx(57.6 + 0.48)


@pytest.mark.parametrize(
    ("state", "why"),
    [
        ("bulk", "charger in bulk, not in absorption"),
        ("float", "charger in float, not in absorption"),
        ("current limit", "charger in current limit, not in absorption"),
        ("fault", "charger in fault, not in absorption"),
    ],
)
def test_only_a_charger_in_absorption_is_judged_by_it(state: str, why: str) -> None:
    site = charging(in_absorption(), state)
    assert refusal(site.judged("absorption-voltage", "mppt-1", 57.6)) == why


def test_a_voltage_behind_a_current_limit_is_not_judged() -> None:
    assert "at its current limit of 60 A" in refusal(
        in_absorption(current=59.5).judged("absorption-voltage", "mppt-1", 57.0)
    )
    assert is_inside(in_absorption(current=50.0).judged("absorption-voltage", "mppt-1", 57.6), 57.6)


def test_equalise_behind_its_own_current_limit_is_not_judged() -> None:
    made = pv_plant("flooded")
    lefts: Lefts = {
        **LEFTS,
        ("mppt-1", "equalize_voltage"): left(61.9, "V"),
        ("mppt-1", "equalize_current_limit"): left(10.0, "A"),
    }
    site = charging(Site(made, make_sheet(made), lefts), "equalise", temperature=25.0, current=9.9)
    site.read("equalise-voltage.before", "mppt-1", 61.0)
    assert "at its current limit of 10 A" in refusal(site.judged("equalise-voltage", "mppt-1", 61.0))
    site.read("source-current", "mppt-1", 6.0)
    assert nominal(site.judged("equalise-voltage", "mppt-1", 61.0)) == pytest.approx(61.9)


@pytest.mark.parametrize(
    ("before", "steady"),
    [
        pytest.param(57.55, True, id="0.04 % a minute"),
        pytest.param(57.49, True, id="0.096 % a minute"),
        pytest.param(57.45, False, id="0.13 % a minute"),
        pytest.param(57.75, False, id="falling"),
    ],
)
def test_a_voltage_that_moves_is_not_judged(before: float, steady: bool) -> None:
    outcome = in_absorption(before=before).judged("absorption-voltage", "mppt-1", 57.6)
    assert isinstance(outcome, Expected) is steady
    if not steady:
        assert "a minute" in refusal(outcome)


@pytest.mark.parametrize(
    ("name", "ago", "wanted"),
    [
        ("charger-state", 2.0, "charger-state@mppt-1"),
        ("source-current", 2.0, "source-current@mppt-1"),
        ("charger-temperature", 31.0, "charger-temperature@mppt-1"),
    ],
)
def test_a_stale_condition_is_asked_for_again(name: str, ago: float, wanted: str) -> None:
    site = in_absorption()
    value = {"charger-state": 3.0, "source-current": 12.0, "charger-temperature": 25.0}[name]
    site.read(name, "mppt-1", value, ago=ago)
    assert waited_for(site.judged("absorption-voltage", "mppt-1", 57.6)) == [wanted]


def test_where_the_device_measures_must_be_known() -> None:
    site = Site(pv_plant(datasheet={"senses_voltage": "unknown"}), sheet(bus=66.0), LEFTS)
    charging(site, "absorption", temperature=25.0, current=5.0).read(
        "absorption-voltage.before", "mppt-1", 57.6
    )
    assert "where mppt-1 measures" in refusal(site.judged("absorption-voltage", "mppt-1", 57.6))


def test_an_absorption_that_is_not_left_at_a_number_is_not_judged() -> None:
    site = in_absorption()
    gap = Unknown(("absorption of the battery",), "V", "absorption")
    site.lefts = {**LEFTS, ("mppt-1", "absorption_voltage"): gap}
    assert "absorption of the battery" in refusal(site.judged("absorption-voltage", "mppt-1", 57.6))


def test_a_bank_at_a_maximum_stops_work_whatever_the_charger_says() -> None:
    # ceiling 2.50 V of 24 cells, with nothing read of the day's temperature: 60 V; bus 66 V
    site = charging(in_absorption(), "bulk")
    assert is_stopped(site.judged("absorption-voltage", "mppt-1", 60.0), 60.0)
    assert stops(in_absorption().judged("absorption-voltage", "mppt-1", 57.6)) == pytest.approx((None, 60.0))
    low_bus = Site(pv_plant(), sheet(bus=59.0), LEFTS)
    charging(low_bus, "absorption", temperature=25.0, current=5.0).read(
        "absorption-voltage.before", "mppt-1", 57.6
    )
    assert stops(low_bus.judged("absorption-voltage", "mppt-1", 57.6)) == pytest.approx((None, 59.0))


def test_the_ceiling_of_lead_moves_with_the_battery() -> None:
    # 24 × (2.50 − 0.004 × (35 − 25)) = 59.04 V
    site = in_absorption(35.0, before=56.6).read("battery-temperature", "bank", 35.0)
    assert stops(site.judged("absorption-voltage", "mppt-1", 56.6)) == pytest.approx((None, 59.04))


def test_float_is_judged_on_float() -> None:
    made = pv_plant()
    site = Site(made, make_sheet(made), LEFTS)
    charging(site, "float", temperature=15.0, current=0.4).read("float-voltage.before", "mppt-1", 55.0)
    # 54.0 V + 0.096 × 10
    assert nominal(site.judged("float-voltage", "mppt-1", 55.0)) == pytest.approx(54.96)


def test_together_the_highest_holds_the_bus() -> None:
    second = {"id": "mppt-2", "profile": "controller-48v-80-buck-200"}
    first = {"id": "mppt-1", "profile": "controller-48v-80-buck-200"}
    site = Site(plant(controllers=(first, second)), sheet(bus=66.0), LEFTS)
    assert "no source has been read alone" in refusal(site.judged("absorption-together", "bank", 57.6))
    site.read("absorption-voltage", "mppt-1", 57.52).read("absorption-voltage", "mppt-2", 57.71)
    outcome = site.judged("absorption-together", "bank", 57.7)
    assert nominal(outcome) == pytest.approx(57.71)
    assert not is_inside(outcome, 58.2)


# a managed battery tells its limits


def linked(link: bool | None = True) -> Site:
    lefts: Lefts = {
        ("mppt-1", "absorption_voltage"): left(56.0, "V"),
        ("mppt-1", "charge_current_limit"): left(60.0, "A"),
    }
    return Site(managed_plant(link=link), sheet(180.0, 66.0), lefts)


def test_the_told_voltage_caps_the_setting() -> None:
    site = told(linked(), 55.2, 90.0)
    charging(site, "absorption", current=10.0).read("absorption-voltage.before", "mppt-1", 55.2)
    assert nominal(site.judged("absorption-voltage", "mppt-1", 55.2)) == pytest.approx(55.2)
    higher = told(linked(), 57.6, 90.0)
    charging(higher, "absorption", current=10.0).read("absorption-voltage.before", "mppt-1", 56.0)
    assert nominal(higher.judged("absorption-voltage", "mppt-1", 56.0)) == pytest.approx(56.0)


def test_a_source_off_the_link_keeps_its_own_values() -> None:
    site = told(linked(link=False), 54.0, 20.0)
    charging(site, "absorption", current=10.0).read("absorption-voltage.before", "mppt-1", 56.0)
    assert nominal(site.judged("absorption-voltage", "mppt-1", 56.0)) == pytest.approx(56.0)
    charging(site, "bulk")
    assert edges(site.judged("bulk-current", "mppt-1", 55.0))[1] == pytest.approx(61.0296, abs=1e-3)


def test_whether_a_source_hears_the_battery_must_be_known() -> None:
    site = told(linked(link=None), 55.2, 90.0)
    charging(site, "bulk")
    assert "whether mppt-1 hears" in refusal(site.judged("bulk-current", "mppt-1", 50.0))


def test_told_limits_live_for_a_minute() -> None:
    site = told(linked(), 55.2, 45.0, ago=2.0)
    charging(site, "bulk")
    assert waited_for(site.judged("bulk-current", "mppt-1", 44.0)) == ["battery-told.charge@bank"]


def test_the_bus_limit_of_lithium_is_absolute() -> None:
    # 16 cells × 3.65 V
    site = told(linked(), 55.2, 90.0).read("battery-temperature", "bank", 2.0)
    charging(site, "bulk")
    assert is_stopped(site.judged("first-charge.voltage", "mppt-1", 58.4), 58.4)
    assert not is_stopped(site.judged("first-charge.voltage", "mppt-1", 55.0), 55.0)


# currents


def test_bulk_is_held_to_the_least_of_limit_and_told_value() -> None:
    site = charging(told(linked(), 55.2, 45.0), "bulk")
    # 45 A, 1.5 % of it and half a step of 1 A: 45 + √(0.675² + 0.5²)
    low, high = edges(site.judged("bulk-current", "mppt-1", 44.0))
    assert low == pytest.approx(0.9)
    assert high == pytest.approx(45.840, abs=1e-3)


def test_a_source_at_its_limit_counts_as_in_bulk() -> None:
    site = charging(Site(pv_plant(), sheet(), LEFTS), "current limit")
    assert is_inside(site.judged("bulk-current", "mppt-1", 59.8), 59.8)


def test_throttled_pv_is_not_judged_but_too_much_is() -> None:
    site = charging(Site(pv_plant(), sheet(), LEFTS), "absorption")
    assert refusal(site.judged("bulk-current", "mppt-1", 20.0)) == "charger in absorption, not in bulk"
    outcome = site.judged("bulk-current", "mppt-1", 75.0)
    assert not is_inside(outcome, 75.0)


def test_a_source_in_bulk_that_gives_nothing_fails() -> None:
    site = charging(Site(pv_plant(), sheet(), LEFTS), "bulk")
    assert not is_inside(site.judged("bulk-current", "mppt-1", 0.0), 0.0)


def test_all_sources_stay_under_the_bank_and_the_told_limit() -> None:
    guard = {
        "id": "fuse-main",
        "kind": "fuse",
        "current": "dc",
        "rating": 150.0,
        "protects": "bank",
        "of": "bank",
    }
    first = {"id": "mppt-1", "profile": "controller-48v-80-buck-200"}
    second = {"id": "mppt-2", "profile": "controller-48v-80-buck-200"}
    site = Site(plant(controllers=(first, second), protection=[guard]), sheet(100.0))
    outcome = site.judged("all-sources-together", "bank", 98.0)
    assert edges(outcome) == (None, 100.0)
    assert stops(outcome) == (None, 150.0)
    unlimited = Site(plant(controllers=(first, second)))
    assert "not asked in this test" in refusal(unlimited.judged("all-sources-together", "bank", 98.0))


def test_the_bank_gets_no_more_than_it_tells() -> None:
    site = told(linked(), 55.2, 40.0)
    assert edges(site.judged("told-while-charging", "bank", 40.5)) == pytest.approx((None, 40.8))


def test_the_monitor_shows_what_the_clamp_reads() -> None:
    monitor = {"id": "monitor-1", "profile": "monitor-500a"}
    site = Site(pv_plant(monitor=monitor), sheet(), LEFTS).read("monitor-sees-source.clamp", "mppt-1", 60.0)
    # monitor 0.4 %, shunt 0.5 %, clamp 2 % together 2.1 % of 60 A
    assert edges(site.judged("monitor-sees-source.shown", "mppt-1", 59.0)) == pytest.approx(
        (60.0 - 1.2600, 60.0 + 1.2600), abs=1e-3
    )
    assert not is_inside(site.judged("monitor-sees-source.shown", "mppt-1", -60.0), -60.0)
    assert not is_inside(site.judged("monitor-sees-source.shown", "mppt-1", 0.0), 0.0)


# the end of absorption


def ended(minutes: float, end: float | None = 8.0) -> Site:
    lefts: Lefts = {**LEFTS, ("mppt-1", "absorption_time"): left(7200.0, "s")}
    if end is not None:
        lefts["mppt-1", "absorption_end_current"] = left(end, "A")
    return Site(pv_plant(), sheet(), lefts).read("absorption-end.time", "mppt-1", minutes)


def test_absorption_that_ends_by_current_ends_at_its_end_current() -> None:
    outcome = ended(75.0).judged("absorption-end.current", "mppt-1", 8.9)
    assert edges(outcome) == pytest.approx((6.4, 9.6))
    assert edges(ended(75.0).judged("absorption-end.time", "mppt-1", 75.0)) == pytest.approx((None, 123.4))


def test_absorption_that_ends_by_time_is_not_judged_by_current() -> None:
    low, high = edges(ended(120.0).judged("absorption-end.current", "mppt-1", 14.0))
    assert (low, high) == (None, 60.0)


def test_where_only_time_ends_it_it_must_not_be_short() -> None:
    outcome = ended(100.0, end=None).judged("absorption-end.time", "mppt-1", 100.0)
    assert edges(outcome) == pytest.approx((116.6, 123.4))
    assert not is_inside(outcome, 100.0)


@pytest.mark.parametrize(("amperes", "inside"), [(3.9, True), (4.1, False), (-0.5, False)])
def test_a_full_bank_takes_little(amperes: float, inside: bool) -> None:
    # sealed cells: 2 % of 200 Ah
    site = Site(pv_plant()).read("bank-voltage", "bank", 57.5)
    assert is_inside(site.judged("full-current", "bank", amperes), amperes) is inside


def test_a_bank_that_nothing_holds_is_not_full() -> None:
    site = Site(pv_plant()).read("bank-voltage", "bank", 51.5)
    assert "nothing holds it full" in refusal(site.judged("full-current", "bank", 1.0))


# cells


def test_blocks_on_float_lie_near_the_middle_by_the_root_of_their_cells() -> None:
    # ZVEI leaflet practice: 12 V valve-regulated blocks −0.24 and +0.49 V: 0.1 × √6 and 0.2 × √6
    site = Site(pv_plant()).read("blocks-on-float.held", "string-1", 1.0, meter=None)
    site.read("blocks-on-float.block", "string-1", 13.50, 13.52, 13.48, 13.20)
    outcome = site.judged("blocks-on-float.block", "string-1", 13.20, 3)
    assert edges(outcome) == pytest.approx((-0.2449, 0.4899), abs=1e-4)
    assert judged_value(outcome) == pytest.approx(13.20 - 13.49)
    assert not is_inside(outcome)


def test_cells_are_not_judged_while_the_bank_gasses() -> None:
    site = Site(pv_plant()).read("blocks-on-float.held", "string-1", 0.0, meter=None)
    assert "not held on float" in refusal(site.judged("blocks-on-float.block", "string-1", 14.2))


@pytest.mark.parametrize(
    ("celsius", "reading", "restated"),
    [
        # 0.0007 kg/L per K: 1.275 at 10 °C is 1.2645 at 25 °C
        (10.0, 1.275, 1.2645),
        (25.0, 1.250, 1.250),
    ],
)
def test_density_of_a_full_cell_is_restated_at_its_temperature(
    celsius: float, reading: float, restated: float
) -> None:
    site = Site(pv_plant("flooded")).read("battery-temperature", "bank", celsius)
    outcome = site.judged("density-full", "string-1", reading)
    assert judged_value(outcome) == pytest.approx(restated, abs=1e-4)
    assert edges(outcome) == pytest.approx((1.255, 1.275))
    assert is_inside(outcome) is (restated > 1.255)


def test_cells_of_lithium_are_judged_in_the_last_twentieth() -> None:
    site = Site(managed_plant()).read("cells-near-full.highest", "string-1", 3.48)
    site.read("state-of-charge", "bank", 80.0)
    assert "last 5 %" in refusal(site.judged("cells-near-full.lowest", "string-1", 3.31))
    site.read("state-of-charge", "bank", 97.0)
    outcome = site.judged("cells-near-full.lowest", "string-1", 3.41)
    assert judged_value(outcome) == pytest.approx(0.07)
    assert edges(outcome) == pytest.approx((None, 0.1))
    assert not is_inside(site.judged("cells-near-full.lowest", "string-1", 3.30))


def test_a_cell_at_its_limit_stops_work() -> None:
    outcome = Site(managed_plant()).judged("cells-near-full.highest", "string-1", 3.65)
    assert is_stopped(outcome, 3.65)
    assert not is_stopped(outcome, 3.55)


@pytest.mark.parametrize(("celsius", "stopped"), [(44.0, False), (50.0, True), (52.0, True)])
def test_a_hot_bank_stops_charging(celsius: float, stopped: bool) -> None:
    outcome = Site(pv_plant("flooded")).judged("bank-warm", "bank", celsius)
    assert is_stopped(outcome, celsius) is stopped
