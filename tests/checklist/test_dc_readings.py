"""DC from the bank alone: polarity, pre-charge, standing currents, drops, monitor, sensors."""

from __future__ import annotations

from typing import Any

import pytest

from commission.checklist.types import Expected
from commission.figure import why
from tests.builders import plant
from tests.checklist.bands import edges, is_inside, is_stopped, judged_value, nominal, refusal, waited_for
from tests.checklist.walks import Site

INVERTER = {"id": "inverter-1", "profile": "inverter-48v-120-3600", "run": "run-1"}


def site_with(volts: float = 50.4, inverter: dict[str, Any] | None = None, **sections: Any) -> Site:
    site = Site(plant(inverters=(INVERTER | (inverter or {}),), **sections))
    return site.read("bank-voltage", "bank", volts)


# polarity


@pytest.mark.parametrize(
    ("volts", "inside", "stopped"),
    [
        pytest.param(50.4, True, False, id="as at the posts"),
        pytest.param(50.6, True, False, id="within half a per cent"),
        pytest.param(49.9, False, False, id="a drop without current"),
        pytest.param(0.0, False, False, id="nothing there"),
        pytest.param(-50.4, False, True, id="reversed"),
    ],
)
def test_the_voltage_at_an_open_breaker_is_the_banks_the_right_way_round(
    volts: float, inside: bool, stopped: bool
) -> None:
    outcome = site_with().judged("source-polarity", "inverter-1", volts)
    assert isinstance(outcome, Expected)
    assert is_stopped(outcome, volts) is stopped
    assert is_inside(outcome, None if outcome.compared else volts) is inside


def test_two_readings_of_one_meter_are_judged_by_their_difference() -> None:
    # half a per cent of 50.4 V either way
    outcome = site_with().judged("main-polarity", "bank", 50.3)
    assert isinstance(outcome, Expected)
    assert judged_value(outcome) == pytest.approx(-0.1)
    assert edges(outcome) == pytest.approx((-0.252, 0.252))
    assert outcome.against == 50.4
    assert edges(site_with().judged("main-polarity", "bank")) == pytest.approx((50.148, 50.652))


def test_reversed_polarity_stops_work_before_the_posts_were_read() -> None:
    bare = Site(plant(inverters=(INVERTER,)))
    assert is_stopped(bare.judged("main-polarity", "bank", -50.0), -50.0)
    assert waited_for(bare.judged("main-polarity", "bank", 50.0)) == ["bank-voltage@bank"]


# pre-charge: V e^(−t/RC)


def resistor(ohms: float, farads: float, idle: float = 0.0) -> dict[str, Any]:
    return {"datasheet": {"precharge_resistance": ohms, "capacitance": farads, "idle_power": idle}}


@pytest.mark.parametrize(
    ("volts", "ohms", "farads", "seconds", "left"),
    [
        pytest.param(58.0, 25.0, 0.030, 3.75, 0.3908, id="five time constants"),
        pytest.param(52.0, 50.0, 0.020, 3.0, 2.5889, id="three time constants"),
    ],
)
def test_what_is_left_across_the_breaker_by_now(
    volts: float, ohms: float, farads: float, seconds: float, left: float
) -> None:
    site = site_with(volts, resistor(ohms, farads)).read("pre-charge.time", "inverter-1", seconds)
    outcome = site.judged("pre-charge.left", "inverter-1")
    assert nominal(outcome) == pytest.approx(left, abs=0.005)
    assert edges(outcome)[1] == pytest.approx(left + 0.02 * volts, abs=0.005)


def test_a_standing_current_holds_the_voltage_up() -> None:
    # 10.08 W at 50.4 V is 0.2 A; over 10 Ω it leaves 2 V
    site = site_with(50.4, resistor(10.0, 0.010, idle=10.08)).read("pre-charge.time", "inverter-1", 60.0)
    assert nominal(site.judged("pre-charge.left", "inverter-1")) == pytest.approx(2.0, abs=1e-3)


def test_a_breaker_is_never_closed_on_more_than_a_tenth_of_the_bank() -> None:
    # after a tenth of a second nearly all of it is left, as computed; a tenth is the limit all the same
    site = site_with(50.0, resistor(50.0, 0.020)).read("pre-charge.time", "inverter-1", 0.1)
    outcome = site.judged("pre-charge.left", "inverter-1")
    assert nominal(outcome) > 40
    assert edges(outcome)[1] == pytest.approx(5.0)


def test_with_unknown_parts_a_tenth_of_the_banks_voltage_may_be_left() -> None:
    site = site_with(50.0, {"datasheet": {"precharge_resistance": "unknown"}})
    outcome = site.judged("pre-charge.left", "inverter-1")
    assert edges(outcome) == pytest.approx((-0.5, 5.0))


# standing currents: 28 W at 50.4 V, a fifth more

OFF, BULK = 0.0, 2.0


def test_a_device_draws_at_most_a_fifth_more_than_its_sheet_says_and_charges_nothing() -> None:
    site = site_with().read("charger-state", "inverter-1", OFF)
    outcome = site.judged("source-standing-current", "inverter-1")
    assert edges(outcome) == pytest.approx((-1.2 * 28.0 / 50.4, 0.0))
    assert not is_inside(outcome, 0.3)


def test_a_charger_that_works_has_no_standing_current() -> None:
    site = site_with().read("charger-state", "inverter-1", BULK)
    assert "the charger is in bulk" in refusal(site.judged("source-standing-current", "inverter-1", 12.0))


def test_the_bank_feeds_all_idle_draws_together() -> None:
    controller = {"id": "controller-1", "profile": "controller-48v-80-buck-200"}
    outcome = site_with(controllers=(controller,)).judged("bank-standing-current", "bank")
    assert edges(outcome) == pytest.approx((-1.2 * (28.0 + 3.0) / 50.4, 0.0))


def test_an_idle_draw_that_nobody_told_is_named() -> None:
    site = site_with(inverter={"datasheet": {"idle_power": "unknown"}}).read(
        "charger-state", "inverter-1", OFF
    )
    assert (
        refusal(site.judged("source-standing-current", "inverter-1")) == "not known: idle power of inverter-1"
    )


# poles to earth


@pytest.mark.parametrize(
    ("earthing", "positive", "negative"),
    [
        pytest.param("negative", 50.0, 0.0),
        pytest.param("positive", 0.0, -50.0),
        pytest.param("mid-point", 25.0, -25.0),
    ],
)
def test_the_poles_stand_where_the_earthing_puts_them(
    earthing: str, positive: float, negative: float
) -> None:
    site = site_with(50.0, earthing={"dc": earthing})
    assert nominal(site.judged("poles-to-earth.positive", "bank")) == pytest.approx(positive)
    low, high = edges(site.judged("poles-to-earth.negative", "bank"))
    assert (low, high) == pytest.approx((negative - 1.0, negative + 1.0))


def test_a_floating_side_has_no_fixed_voltage_to_earth() -> None:
    floating = site_with(earthing={"dc": "floating"}).judged("poles-to-earth.positive", "bank")
    assert "floats" in refusal(floating)
    assert refusal(site_with().judged("poles-to-earth.positive", "bank")) == (
        "not known: earthing of the DC side"
    )


# drops: 70 mm² flexible copper, 0.272 mΩ/m at 20 °C, 253 A at 90 °C in air of 30 °C (IEC 60228, 60364-5-52)

RUN = {"id": "run-1", "kind": "dc", "from": "bank", "to": "inverter-1", "area": 70.0, "length": 2.4,
       "insulation_temperature": 90.0}  # fmt: skip
IEC = {"rules": "iec-230", "units": "metric"}


def carrying(amps: float, air: float = 31.0, **run: Any) -> Site:
    site = site_with(runs=[RUN | run], place=IEC)
    return site.read("air-temperature", (), air).read("run-drop.current", "run-1", amps)


def test_a_good_run_drops_between_its_cold_copper_and_its_warm_copper_with_joints() -> None:
    at_20 = 0.000272 * 2.4
    cold = at_20 * (1 + 0.00393 * (31 - 20))
    warm = at_20 * (1 + 0.00393 * (31 + 60 * (96.4 / 253) ** 2 - 20))
    outcome = carrying(96.4).judged("run-drop.positive", "run-1")
    low, high = edges(outcome)
    assert low == pytest.approx(1000 * 0.9 * 96.4 * cold, rel=1e-6)
    assert high == pytest.approx(1000 * 1.1 * 96.4 * (warm + 2 * 50e-6), rel=1e-6)
    assert is_inside(outcome, 78.0)
    assert not is_inside(outcome, 131.0)
    assert getattr(outcome, "says", "") == "at 96.4 A, 31 °C, 2.4 m of 70 mm²"


def test_two_conductors_in_parallel_drop_half_as_much() -> None:
    one, two = (carrying(60.0, conductors=count, joint_resistance=0.0) for count in (1, 2))
    low_one, _ = edges(one.judged("run-drop.positive", "run-1"))
    low_two, _ = edges(two.judged("run-drop.positive", "run-1"))
    assert low_one is not None
    assert low_two == pytest.approx(low_one / 2)


def test_the_sign_of_the_current_does_not_matter() -> None:
    assert edges(carrying(-80.0).judged("run-drop.negative", "run-1")) == pytest.approx(
        edges(carrying(80.0).judged("run-drop.negative", "run-1"))
    )


def test_joints_count_as_the_site_file_says() -> None:
    _, plain = edges(carrying(100.0, joints=0).judged("run-drop.positive", "run-1"))
    _, poor = edges(carrying(100.0, joints=4, joint_resistance=200e-6).judged("run-drop.positive", "run-1"))
    assert plain is not None
    assert poor == pytest.approx(plain + 1000 * 1.1 * 100 * 4 * 200e-6)


def test_a_current_that_is_too_small_decides_nothing() -> None:
    assert "too little" in refusal(carrying(4.9).judged("run-drop.positive", "run-1"))


def test_the_drop_waits_for_current_and_air() -> None:
    site = site_with(runs=[RUN], place=IEC)
    assert waited_for(site.judged("run-drop.positive", "run-1")) == [
        "run-drop.current@run-1",
        "air-temperature@",
    ]


@pytest.mark.parametrize("field", ["length", "area", "material"])
def test_what_is_not_known_of_the_run_is_named(field: str) -> None:
    site = carrying(96.4, 31.0, **{field: "unknown"})
    assert f"{field} of run-1" in refusal(site.judged("run-drop.positive", "run-1"))


def test_the_limit_tells_where_it_comes_from() -> None:
    outcome = carrying(96.4).judged("run-drop.positive", "run-1")
    limit = getattr(outcome, "band").high  # noqa: B009 - edges() has no need of the figure
    text = "\n".join(f"{line.text} {line.source}" for line in why(limit))
    assert "current in the run" in text
    assert "IEC 60228" in text
    assert "run-drop.current@run-1" in text


def test_the_drop_to_an_inverter_uses_the_current_of_its_run() -> None:
    site = carrying(96.4)
    assert edges(site.judged("inverter-run-drop.positive", ("run-1", "inverter-1"))) == pytest.approx(
        edges(site.judged("run-drop.positive", "run-1"))
    )


# monitor

MONITOR = {"id": "monitor-1", "profile": "monitor-500a", "shunt_current": 500.0, "shunt_voltage": 0.05}


def test_the_zero_of_a_monitor_is_a_thousandth_of_its_shunt() -> None:
    site = site_with(monitor=MONITOR)
    assert edges(site.judged("monitor-zero", "monitor-1")) == pytest.approx((-0.5, 0.5))
    small = site_with(monitor=MONITOR | {"shunt_current": 50.0})
    assert edges(small.judged("monitor-zero", "monitor-1")) == pytest.approx((-0.1, 0.1))


def test_clamp_and_monitor_agree_within_shunt_and_monitor_with_the_same_sign() -> None:
    # shunt class 0.5 %, monitor 0.4 %: together 0.640 %
    site = site_with(monitor=MONITOR).read("monitor-ratio.shown", "monitor-1", -60.0)
    outcome = site.judged("monitor-ratio.clamp", "monitor-1")
    assert edges(outcome) == pytest.approx((-60.384, -59.616), abs=0.001)
    assert not is_inside(outcome, 60.0)


def test_a_small_current_does_not_prove_a_shunt() -> None:
    site = site_with(monitor=MONITOR).read("monitor-ratio.shown", "monitor-1", 3.0)
    assert "too little" in refusal(site.judged("monitor-ratio.clamp", "monitor-1", 3.0))


# sensors and displays


def test_a_sensor_reads_within_two_kelvin_of_the_thermometer() -> None:
    site = site_with().read("battery-temperature", "bank", 18.0)
    assert edges(site.judged("sensor-reading", "inverter-1")) == pytest.approx((16.0, 20.0))


def test_a_display_is_judged_by_its_own_accuracy() -> None:
    site = site_with().read("display-voltage.shown", "inverter-1", 50.0)
    assert edges(site.judged("display-voltage.meter", "inverter-1")) == pytest.approx((49.75, 50.25))
    silent = site_with(inverter={"datasheet": {"voltage_accuracy": "unknown"}})
    silent.read("display-voltage.shown", "inverter-1", 50.0)
    assert edges(silent.judged("display-voltage.meter", "inverter-1")) == pytest.approx((49.75, 50.25))


def test_a_monitors_voltage_is_judged_by_its_own_accuracy() -> None:
    site = site_with(monitor=MONITOR).read("monitor-voltage.shown", "monitor-1", 50.0)
    assert edges(site.judged("monitor-voltage.meter", "monitor-1")) == pytest.approx((49.85, 50.15))
