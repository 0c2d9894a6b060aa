"""The low end and the monitor, by hand arithmetic and published counts."""

from __future__ import annotations

from typing import Any

import pytest

from commission.checklist.types import Expected
from commission.plant.plant import Plant
from commission.sheet.settle import make_sheet
from tests.builders import plant
from tests.checklist.bands import edges, is_inside, judged_value, nominal, refusal, stops, waited_for
from tests.checklist.power_sites import Lefts, left, managed_plant, pv_plant
from tests.checklist.walks import Site

# thresholds


def with_unit(profile: str, chemistry: str = "agm", lefts: Lefts | None = None, **more: Any) -> Site:
    made = plant(chemistry, inverters=({"id": "inverter-1", "profile": profile},), **more)
    return Site(made, make_sheet(made), lefts or {})


def test_a_threshold_acts_at_what_the_meter_shows() -> None:
    # 0.5 % of 47.02 V and one step of 0.2 V: √(0.2351² + 0.2²) = 0.30866 V
    site = with_unit("inverter-48v-120-3600").read("disconnect-acts.measured", "inverter-1", 47.02)
    outcome = site.judged("disconnect-acts.set", "inverter-1", 47.2)
    assert judged_value(outcome) == pytest.approx(0.18)
    assert edges(outcome) == pytest.approx((-0.30866, 0.30866), abs=1e-4)
    assert not is_inside(site.judged("disconnect-acts.set", "inverter-1", 47.6))


def test_a_threshold_per_12_volts_is_compared_so() -> None:
    # 47.0 V of the bank are 11.75 V per 12 V
    site = with_unit("inverter-48v-120-240-6000").read("warning-acts.measured", "inverter-1", 47.0)
    assert judged_value(site.judged("warning-acts.set", "inverter-1", 11.8)) == pytest.approx(0.05)


def test_a_threshold_waits_for_the_meter() -> None:
    site = with_unit("inverter-48v-120-3600")
    assert waited_for(site.judged("disconnect-acts.set", "inverter-1", 47.2)) == [
        "disconnect-acts.measured@inverter-1"
    ]


def test_a_moved_threshold_is_read_back() -> None:
    site = with_unit(
        "inverter-48v-120-3600", lefts={("inverter-1", "load_disconnect_voltage"): left(46.0, "V")}
    )
    assert edges(site.judged("disconnect-acts.back", "inverter-1", 46.0)) == pytest.approx((45.9, 46.1))
    assert not is_inside(site.judged("disconnect-acts.back", "inverter-1", 47.2), 47.2)


def test_the_delay_is_the_one_as_left() -> None:
    site = with_unit(
        "inverter-48v-120-3600", lefts={("inverter-1", "load_disconnect_delay"): left(60.0, "s")}
    )
    assert edges(site.judged("disconnect-delay.time", "inverter-1", 60.0)) == pytest.approx((49.0, 71.0))


def managed_unit(**management: Any) -> Site:
    told = {"data_link": True, "cut_off_state_of_charge": 0.05, **management}
    return with_unit(
        "inverter-48v-120-240-8000",
        "lfp",
        cells_per_block=16,
        blocks=1,
        capacity=300.0,
        bank={"management": told},
        authority={"state_of_charge": "battery"},
    )


def test_the_loads_go_before_the_battery_opens() -> None:
    outcome = managed_unit().judged("cut-off-distance", "inverter-1", 12.0)
    assert edges(outcome) == pytest.approx((10.0, None))
    assert not is_inside(outcome, 8.0)


def test_an_unknown_cut_off_is_named() -> None:
    site = managed_unit(cut_off_state_of_charge="unknown", cut_off_low="unknown")
    assert "cut off" in refusal(site.judged("cut-off-distance", "inverter-1", 12.0)).replace("-", " ")


def test_a_threshold_by_charge_acts_within_a_point() -> None:
    site = managed_unit().read("disconnect-by-charge.told", "inverter-1", 55.0)
    assert edges(site.judged("disconnect-by-charge.set", "inverter-1", 55.0)) == pytest.approx((54.0, 56.0))


def test_the_standing_draw_is_the_site_files() -> None:
    site = Site(pv_plant(bank={"standing_draw": 12.0})).read("standing-loads-out.voltage", "bank", 48.0)
    # 12 W ÷ 48 V, a fifth more
    assert edges(site.judged("standing-loads-out.current", "bank", 0.28)) == pytest.approx((None, 0.30))
    silent = Site(pv_plant()).read("standing-loads-out.voltage", "bank", 48.0)
    assert "standing draw" in refusal(silent.judged("standing-loads-out.current", "bank", 0.28))


def test_the_bus_comes_back_within_the_delays() -> None:
    units = ({"id": "inverter-1", "profile": "inverter-48v-230-5000", "inputs": {"generator": "set-1"}},)
    sets = [{"id": "set-1", "profile": "generator-petrol-single-230-5000"}]
    made = plant(inverters=units, generators=sets, place={"rules": "iec-230"})
    site = Site(made, lefts={("inverter-1", "ac_input_connect_delay"): left(40.0, "s")})
    # (40 + 60) s, a tenth and 5 s
    assert edges(site.judged("restart-from-low.time", (), 80.0)) == pytest.approx((None, 115.0))


# full


FULL_AT: Lefts = {
    ("monitor-1", "monitor_full_voltage"): left(56.0, "V"),
    ("monitor-1", "monitor_full_current"): left(16.0, "A"),
    ("monitor-1", "monitor_full_time"): left(180.0, "s"),
}
MONITOR = {"id": "monitor-1", "profile": "monitor-500a"}


def seen(voltage: float, current: float, minutes: float, lefts: Lefts | None = None) -> Site:
    site = Site(pv_plant(monitor=MONITOR), lefts=FULL_AT if lefts is None else lefts)
    for name, value in (("voltage", voltage), ("current", current), ("time", minutes)):
        site.read(f"monitor-full.{name}", "monitor-1", value, meter=None)
    return site


def test_full_is_shown_once_all_three_are_met() -> None:
    # 56.2 V over 56.0 V, 14 A under 16 A, 4 min over 3 min
    outcome = seen(56.2, 14.0, 4.0).judged("monitor-full.shown", "monitor-1", 100.0)
    assert edges(outcome) == pytest.approx((99.5, 100.5))
    assert not is_inside(outcome, 97.0)


@pytest.mark.parametrize(
    ("voltage", "current", "minutes", "missing"),
    [
        pytest.param(56.2, 14.0, 2.0, "time", id="two minutes of three"),
        pytest.param(56.2, -3.0, 30.0, "current", id="a discharge is no tail"),
        pytest.param(56.2, 18.0, 30.0, "current", id="still charging"),
        pytest.param(55.9, 14.0, 30.0, "voltage", id="not at its voltage"),
    ],
)
def test_full_is_not_judged_before(voltage: float, current: float, minutes: float, missing: str) -> None:
    outcome = seen(voltage, current, minutes).judged("monitor-full.shown", "monitor-1", 100.0)
    assert refusal(outcome).startswith(f"the {missing} that it waits for is not met")


def test_each_of_the_three_has_its_band() -> None:
    site = seen(56.2, 14.0, 4.0)
    assert edges(site.judged("monitor-full.voltage", "monitor-1", 56.2)) == (56.0, None)
    assert edges(site.judged("monitor-full.current", "monitor-1", 14.0)) == (0.0, 16.0)
    assert edges(site.judged("monitor-full.time", "monitor-1", 4.0)) == pytest.approx((3.0, None))


def test_a_monitor_that_was_not_set_is_named() -> None:
    site = seen(56.2, 14.0, 4.0, lefts={})
    assert "monitor full voltage" in refusal(site.judged("monitor-full.shown", "monitor-1", 100.0))


def test_the_battery_is_believed_and_the_monitor_is_a_witness() -> None:
    made = managed_plant()
    place = made.site.model_copy(update={"monitor": plant(monitor=MONITOR).site.monitor})
    equipment = {**made.equipment, "monitor-1": plant(monitor=MONITOR).equipment["monitor-1"]}
    site = Site(made.model_copy(update={"site": place, "equipment": equipment}))
    site.read("battery-count.battery", "monitor-1", 98.0, meter=None)
    outcome = site.judged("battery-count.shown", "monitor-1", 90.0)
    assert edges(outcome) == pytest.approx((93.0, 103.0))
    assert isinstance(outcome, Expected)
    assert outcome.decides is False


# a part discharge


def discharged(current: float, hours: float, made: Plant | None = None, **lefts: float) -> Site:
    units = {"monitor_capacity": "Ah", "monitor_capacity_rate": "h"}
    held: Lefts = {("monitor-1", name): left(value, units.get(name, "1")) for name, value in lefts.items()}
    site = Site(made or pv_plant(monitor=MONITOR), lefts=held)
    site.read("part-discharge.current", "bank", current)
    return site.read("part-discharge.duration", "bank", hours)


def test_the_monitor_counts_current_times_time() -> None:
    # 30 A for 6 h: 180 Ah ± 3 %
    outcome = discharged(-30.0, 6.0).judged("monitor-counted.charge", "monitor-1", 178.0)
    assert edges(outcome) == pytest.approx((174.6, 185.4))


@pytest.mark.parametrize(
    ("current", "hours", "exponent", "left_over"),
    [
        # 400 Ah, 30 A for 6 h without exponent: 0.55
        pytest.param(30.0, 6.0, 1.0, 55.0),
        # 80 A at 1.2 of 400 Ah in 20 h count as 105.561 A: 1 − 105.561 ÷ 400
        pytest.param(80.0, 1.0, 1.2, 73.610),
    ],
)
def test_the_monitor_shows_what_is_left(
    current: float, hours: float, exponent: float, left_over: float
) -> None:
    site = discharged(
        current,
        hours,
        monitor_capacity=400.0,
        monitor_capacity_rate=20.0,
        monitor_peukert_exponent=exponent,
    )
    outcome = site.judged("monitor-counted.state", "monitor-1", left_over)
    assert nominal(outcome) == pytest.approx(left_over, abs=1e-3)
    assert edges(outcome) == pytest.approx((left_over - 3.0, left_over + 3.0), abs=1e-3)


def test_a_short_discharge_tells_nothing() -> None:
    site = discharged(
        30.0, 0.5, monitor_capacity=400.0, monitor_capacity_rate=20.0, monitor_peukert_exponent=1.0
    )
    assert "too little to tell" in refusal(site.judged("monitor-counted.state", "monitor-1", 96.0))


def test_settings_that_are_not_left_are_named() -> None:
    assert "monitor capacity" in refusal(
        discharged(30.0, 6.0).judged("monitor-counted.state", "monitor-1", 60.0)
    )


def test_the_voltage_at_the_end_is_curve_less_sag() -> None:
    site = discharged(20.0, 5.0)
    site.read("load-rest", "bank", 51.2).read("load-rest.current", "bank", 0.0)
    site.read("load-half", "bank", 50.2).read("load-half.current", "bank", 100.0)
    battery = site.plant.battery
    exponent = battery.peukert_exponent.value
    assert isinstance(exponent, float)
    # 20 A of 200 Ah in 20 h count as 20 × 2^(k − 1) A; 10 mΩ drop 0.2 V
    state = 1.0 - 20.0 * 2.0 ** (exponent - 1.0) * 5.0 / 200.0
    curve = battery.open_circuit_voltage
    rest = 24.0 * _between(state, curve.states, curve.values)
    outcome = site.judged("part-discharge.voltage", "bank", rest - 0.2)
    assert nominal(outcome) == pytest.approx(rest - 0.2, abs=1e-3)
    assert stops(outcome)[0] is not None
    half = ((24.0 * curve.spread) ** 2 + 0.04**2) ** 0.5
    assert edges(outcome) == pytest.approx((rest - 0.2 - half, rest - 0.2 + half), abs=1e-3)


def _between(x: float, xs: tuple[float, ...], ys: tuple[float, ...]) -> float:
    for low, high, below, above in zip(xs, xs[1:], ys, ys[1:], strict=False):
        if low <= x <= high:
            return below + (above - below) * (x - low) / (high - low)
    raise AssertionError(x)


def test_a_flat_curve_is_kept_as_a_baseline() -> None:
    site = Site(managed_plant()).read("part-discharge.current", "bank", 60.0)
    outcome = site.judged("part-discharge.voltage", "bank", 52.0)
    assert edges(outcome) == (None, None)
    assert isinstance(outcome, Expected)
    assert "does not tell" in outcome.says
    assert not site.checklist.by_id.get("rest-after")


def test_rest_voltage_wants_rest() -> None:
    site = Site(pv_plant()).read("rest-time", "bank", 2.0).read("state-of-charge", "bank", 60.0)
    assert "has rested 2 h" in refusal(site.judged("rest-after", "bank", 50.0))
    site.read("rest-time", "bank", 8.0)
    curve = site.plant.battery.open_circuit_voltage
    low = 24.0 * (_between(0.57, curve.states, curve.values) - curve.spread)
    high = 24.0 * (_between(0.63, curve.states, curve.values) + curve.spread)
    assert edges(site.judged("rest-after", "bank", 50.0)) == pytest.approx((low, high), abs=1e-6)


def test_efficiency_of_the_recharge_informs() -> None:
    # 850 Ah out, 935 Ah in: 0.9091
    lefts: Lefts = {("monitor-1", "monitor_charge_efficiency"): left(0.9, "1")}
    site = Site(pv_plant(monitor=MONITOR), lefts=lefts).read("recharged.out", "monitor-1", 850.0, meter=None)
    outcome = site.judged("recharged.in", "monitor-1", 935.0)
    assert judged_value(outcome) == pytest.approx(0.9091, abs=1e-4)
    assert edges(outcome) == pytest.approx((0.85, 0.95))
    assert isinstance(outcome, Expected)
    assert outcome.decides is False


# capacity


@pytest.mark.parametrize(
    ("celsius", "hours", "percent"),
    [
        # IEEE 450, time-adjusted: factor 1.000 at 77 °F and 0.942 at 68 °F; 10 A of 200 Ah in 20 h last 20 h
        pytest.param(25.0, 18.0, 90.0),
        pytest.param(20.0, 18.84, 100.0),
    ],
)
def test_capacity_of_lead_is_adjusted_for_temperature(celsius: float, hours: float, percent: float) -> None:
    site = Site(pv_plant()).read("capacity-test.current", "bank", -10.0)
    site.read("battery-temperature", "bank", celsius)
    outcome = site.judged("capacity-test.time", "bank", hours)
    assert judged_value(outcome) == pytest.approx(percent, abs=1e-3)
    assert edges(outcome)[0] == pytest.approx(100.0 * _acceptance(site))


def test_capacity_of_lithium_is_what_it_gave() -> None:
    site = Site(managed_plant()).read("capacity-test.current", "bank", 60.0)
    site.read("battery-temperature", "bank", 10.0)
    # 60 A × 9.5 h of 600 Ah
    assert judged_value(site.judged("capacity-test.time", "bank", 9.5)) == pytest.approx(95.0)


def _acceptance(site: Site) -> float:
    value = site.plant.battery.capacity_acceptance.value
    assert isinstance(value, float)
    return value
