"""AC from the inverters alone: legs, contacts, bonds, residual-current devices, the first load."""

from __future__ import annotations

from typing import Any

import pytest

from commission.figure import given
from tests.builders import plant
from tests.checklist.bands import edges, is_inside, is_stopped, judged_value, nominal, refusal, waited_for
from tests.checklist.walks import Site

ONE_LEG = {"profile": "inverter-48v-120-3600"}
IEC = {"rules": "iec-230", "units": "metric"}


def split() -> Site:
    units = tuple(
        {"id": f"inverter-{number}", **ONE_LEG, "group": "house", "group_leg": leg}
        for number, leg in ((1, "1"), (2, "2"), (3, "1"))
    )
    return Site(plant(inverters=units))


def three_phase() -> Site:
    units = tuple(
        {"id": f"inverter-{leg}", "profile": "inverter-48v-230-5000", "group": "farm", "group_leg": leg}
        for leg in ("1", "2", "3")
    )
    return Site(plant(inverters=units, place=IEC))


# voltages by phasors: 240 V of two legs, 398 V of three phases


def test_a_leg_lies_within_two_per_cent_of_what_was_set() -> None:
    assert edges(split().judged("output-voltage", "inverter-1")) == pytest.approx((117.6, 122.4))
    site = split()
    site.lefts = {("inverter-1", "ac_output_voltage"): given(115.0, "V", "as left", kind="setting")}
    assert edges(site.judged("output-voltage", "inverter-1")) == pytest.approx((112.7, 117.3))


@pytest.mark.parametrize(("volts", "stopped"), [(120.0, False), (130.0, False), (208.0, True), (240.0, True)])
def test_240_volts_where_120_are_due_stops_work(volts: float, stopped: bool) -> None:
    assert is_stopped(split().judged("output-voltage", "inverter-1", volts), volts) is stopped


@pytest.mark.parametrize(
    ("site", "group", "due", "wrong"),
    [
        pytest.param(split(), "house", 240.0, 0.0, id="split phase; both units on one phase give 0 V"),
        pytest.param(three_phase(), "farm", 398.372, 230.0, id="three phases; one turned round gives 230 V"),
    ],
)
def test_legs_stand_at_their_angle(site: Site, group: str, due: float, wrong: float) -> None:
    outcome = site.judged("group-between-legs", group)
    assert nominal(outcome) == pytest.approx(due, abs=0.1)
    assert is_inside(outcome, due)
    assert is_stopped(outcome, wrong)
    assert not is_stopped(outcome, due * 0.95)


def test_a_unit_that_makes_both_legs_is_measured_between_them() -> None:
    site = Site(plant(inverters=({"id": "inverter-1", "profile": "inverter-48v-120-240-6000"},)))
    assert nominal(site.judged("output-between-legs", "inverter-1")) == pytest.approx(240.0)
    step, _ = site.find("output-voltage", "inverter-1")
    assert [ask.label for ask in step.asks] == ["leg 1 to neutral", "leg 2 to neutral"]


def test_three_legs_make_three_pairs() -> None:
    step, _ = three_phase().find("group-between-legs", "farm")
    assert [ask.label for ask in step.asks] == ["leg 1 to leg 2", "leg 1 to leg 3", "leg 2 to leg 3"]


def test_frequency_lies_within_a_tenth_of_a_hertz() -> None:
    assert edges(split().judged("output-frequency", "inverter-1")) == pytest.approx((59.9, 60.1))
    assert edges(three_phase().judged("output-frequency", "inverter-1")) == pytest.approx((49.9, 50.1))


# paralleling: 120 V at 10° apart leave 20.917 V across the contact


@pytest.mark.parametrize(
    ("volts", "inside", "stopped"),
    [
        pytest.param(0.8, True, False, id="locked on"),
        pytest.param(20.917, False, False, id="10° apart"),
        pytest.param(120.0, False, True, id="60° apart"),
        pytest.param(240.0, False, True, id="on the other leg"),
    ],
)
def test_a_contact_is_closed_under_five_volts(volts: float, inside: bool, stopped: bool) -> None:
    pair = ("inverter-3", "inverter-1")
    outcome = split().judged("paralleling-contact", pair, volts)
    assert is_inside(outcome, volts) is inside
    assert is_stopped(outcome, volts) is stopped


def test_only_units_on_one_leg_have_a_contact_between_them() -> None:
    pairs = [step.parts for step in split().checklist.steps if step.data.id == "paralleling-contact"]
    assert pairs == [("inverter-3", "inverter-1")]
    assert not any(step.data.id == "paralleling-contact" for step in three_phase().checklist.steps)


def test_paralleled_units_circulate_at_most_a_twentieth_of_their_rating() -> None:
    # 3600 VA at 120 V are 30 A
    assert edges(split().judged("join-inverters", "inverter-1")) == pytest.approx((None, 1.5))


# bonds and panels


def test_neutral_and_earth_are_joined_in_island_mode() -> None:
    point = {"mode": "island", "earthing": "TN", "bonds": ["main panel"]}
    site = Site(plant(inverters=({"id": "inverter-1", **ONE_LEG},), earthing={"modes": [point]}))
    assert edges(site.judged("island-bond.voltage", "island")) == (None, 2.0)
    assert edges(site.judged("island-bond.current", "island")) == (None, 0.5)


@pytest.mark.parametrize(
    ("rules", "profile", "band", "lost_neutral"),
    [
        # ANSI C84.1 range A: 114 to 126 V; IEC 60038: 207 to 253 V; a lost neutral of 10 and 30 Ω gives 180 V
        pytest.param("north-america", "inverter-48v-120-3600", (114.0, 126.0), 180.0),
        pytest.param("iec-230", "inverter-48v-230-5000", (207.0, 253.0), 345.0),
    ],
)
def test_a_panel_sees_the_service_voltage(
    rules: str, profile: str, band: tuple[float, float], lost_neutral: float
) -> None:
    site = Site(
        plant(
            inverters=({"id": "inverter-1", "profile": profile},),
            panels=[{"id": "panel-1", "kind": "ac"}],
            place={"rules": rules},
        )
    )
    outcome = site.judged("panel-live.voltage", "panel-1")
    assert edges(outcome) == pytest.approx(band)
    assert is_stopped(outcome, lost_neutral)


# residual-current devices (IEC 61008-1): 300 ms at rated current, between half and the whole of it


def test_a_residual_current_device_trips_in_time_and_between_half_and_rated() -> None:
    guard = {"id": "rcd-1", "kind": "residual", "current": "ac", "residual_current": 0.03}
    site = Site(plant(inverters=({"id": "inverter-1", **ONE_LEG},), protection=[guard], place=IEC))
    assert edges(site.judged("residual-device.time", "rcd-1")) == pytest.approx((None, 300.0))
    assert edges(site.judged("residual-device.current", "rcd-1")) == pytest.approx((15.0, 30.0))


# the draw without load: 51.8 V × 0.62 A are 32.12 W, beside 28 W ± a fifth


def test_the_draw_without_load_is_judged_as_power() -> None:
    site = split().read("idle-draw.voltage", "inverter-1", 51.8)
    outcome = site.judged("idle-draw.current", "inverter-1", 0.62)
    assert judged_value(outcome) == pytest.approx(32.12, abs=0.05)
    assert edges(outcome) == pytest.approx((22.4, 33.6))
    assert edges(site.judged("idle-draw.current", "inverter-1")) == pytest.approx((22.4 / 51.8, 33.6 / 51.8))


def test_the_draw_waits_for_its_voltage() -> None:
    assert waited_for(split().judged("idle-draw.current", "inverter-1", 0.62)) == [
        "idle-draw.voltage@inverter-1"
    ]


# the first load: 51.2 V behind 15 mΩ, 4000 W at 93 % leave 49.907 V


def loaded(battery: dict[str, Any], power: float) -> Site:
    sure = {"open_circuit_voltage": {"states": (0.0, 1.0), "values": (3.1, 3.2), "spread": 0.0}}
    unit = {"id": "inverter-1", **ONE_LEG, "datasheet": {"inverter_efficiency": 0.93}}
    site = Site(
        plant("lfp", cells_per_block=16, blocks=1, capacity=160.0, inverters=(unit,), battery=sure | battery)
    )
    return site.read("state-of-charge", "bank", 100.0).read("quarter-load.power", "inverter-1", power)


def test_the_bank_sags_under_load_as_its_resistance_says() -> None:
    one = {"resistance_capacity": {"value": 0.15, "low": 0.15, "high": 0.15}}
    low, high = edges(loaded(one, 4000.0).judged("quarter-load.bank", "inverter-1"))
    assert low == pytest.approx(49.907, abs=0.01)
    assert high == pytest.approx(49.907, abs=0.01)


def test_a_resistance_known_within_a_range_makes_a_range_of_voltage() -> None:
    low, high = edges(loaded({}, 4000.0).judged("quarter-load.bank", "inverter-1"))
    assert low is not None
    assert high is not None
    assert low < 49.907 < high < 51.2


def test_a_makers_resistance_narrows_it_to_a_fifth_either_way() -> None:
    sure = {"open_circuit_voltage": {"states": (0.0, 1.0), "values": (3.1, 3.2), "spread": 0.0}}
    unit = {"id": "inverter-1", **ONE_LEG, "datasheet": {"inverter_efficiency": 1.0}}
    site = Site(
        plant(
            "lfp", cells_per_block=16, blocks=1, inverters=(unit,), battery=sure, bank={"resistance": 0.015}
        )
    ).read("state-of-charge", "bank", 100.0)
    site.read("quarter-load.power", "inverter-1", 5000.0)
    low, high = edges(site.judged("quarter-load.bank", "inverter-1"))
    # V = (E + √(E² − 4 P R)) ÷ 2 with 18 and 12 mΩ
    assert low == pytest.approx((51.2 + (51.2**2 - 4 * 5000 * 0.018) ** 0.5) / 2)
    assert high == pytest.approx((51.2 + (51.2**2 - 4 * 5000 * 0.012) ** 0.5) / 2)


def test_without_a_load_nothing_sags() -> None:
    assert refusal(loaded({}, 0.0).judged("quarter-load.bank", "inverter-1")) == "no load is on"
