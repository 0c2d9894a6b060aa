"""Proof of dead, conductors, bonds, electrode, insulation, torque, what is fitted beside what is drawn."""

from __future__ import annotations

from typing import Any

import pytest

from tests.builders import plant
from tests.checklist.bands import edges, is_inside, is_stopped, refusal, stops, waited_for
from tests.checklist.walks import Site

INVERTER = {"profile": "inverter-48v-230-5000"}


def iec(**sections: Any) -> Site:
    place = {"rules": "iec-230", "units": "metric"}
    inverter = {"id": "inverter-1", **INVERTER, "run": "run-1"} | sections.pop("inverter", {})
    return Site(plant(inverters=(inverter,), place=place, **sections))


# dead


def test_a_bus_that_shows_the_banks_voltage_is_not_dead_though_it_may_be_touched() -> None:
    # 60 V dc count as dead in the rule set, but 48 V on this bus are the bank itself
    outcome = iec().judged("prove-dead-dc.poles", "inverter-1")
    assert edges(outcome) == pytest.approx((-4.8, 4.8))
    assert not is_inside(outcome, 50.4)


def test_the_pv_side_is_dead_under_the_rule_sets_voltage_or_a_tenth_of_the_string() -> None:
    def pv(voltage: float) -> Site:
        module = {"series": 3, "strings": [{"id": "pv-a"}], "open_circuit_voltage": voltage}
        controller = {"id": "c", "profile": "controller-48v-80-buck-600", "array": module}
        return Site(plant(controllers=(controller,), place={"rules": "iec-230"}))

    assert edges(pv(40.0).judged("prove-dead-pv", "c")) == pytest.approx((-12.0, 12.0))
    assert edges(pv(250.0).judged("prove-dead-pv", "c")) == pytest.approx((-60.0, 60.0))


def test_ac_is_dead_under_the_rule_sets_voltage() -> None:
    assert edges(iec().judged("prove-dead-ac.output", "inverter-1")) == (None, 50.0)


def test_capacitors_get_five_minutes() -> None:
    assert edges(iec().judged("wait-discharge")) == (300.0, None)


# bonds


def modes(bonds: list[str], earthing: str = "TN", neutral_bond: str = "none") -> Site:
    point = {"mode": "island", "earthing": earthing, "bonds": bonds}
    return iec(inverter={"neutral_bond": neutral_bond}, earthing={"modes": [point]})


@pytest.mark.parametrize(
    ("site", "count"),
    [
        pytest.param(modes(["main panel"]), 1.0, id="TN with a strap in the panel"),
        pytest.param(modes(["main panel"], "TT"), 1.0, id="TT likewise"),
        pytest.param(modes(["inverter-1"], neutral_bond="fixed"), 1.0, id="fixed inside the inverter"),
        pytest.param(modes(["inverter-1"], neutral_bond="automatic"), 0.0, id="a relay, open when dead"),
        pytest.param(modes([], "IT"), 0.0, id="IT with an insulation monitor"),
    ],
)
def test_fixed_bonds_are_counted_by_the_earthing_plan(site: Site, count: float) -> None:
    outcome = site.judged("fixed-bonds", "island")
    assert edges(outcome) == (count, count)
    assert is_stopped(outcome, count + 1)
    assert not is_stopped(outcome, count)


def test_a_missing_bond_stops_work_only_where_one_is_due() -> None:
    assert stops(modes(["main panel"]).judged("fixed-bonds", "island")) == (0.0, 2.0)
    assert stops(modes([], "IT").judged("fixed-bonds", "island")) == (None, 1.0)


def test_an_unknown_earthing_is_not_judged() -> None:
    site = modes(["main panel"], "unknown")
    assert refusal(site.judged("fixed-bonds", "island")) == "not known: earthing system in the mode island"
    relay = modes(["inverter-1"], neutral_bond="unknown")
    assert refusal(relay.judged("fixed-bonds", "island")) == "not known: neutral bond of inverter-1"


def test_a_lifted_bond_reads_open_and_a_fitted_one_closed() -> None:
    assert edges(iec().judged("main-bond.lifted")) == (100.0, None)
    assert edges(iec().judged("main-bond.fitted")) == (None, 0.5)


# electrode: 50 V ÷ 0.03 A is 1667 Ω, 50 V ÷ 0.3 A is 167 Ω; the rule set says 200 Ω


@pytest.mark.parametrize(
    ("earthing", "residual", "limit"),
    [
        pytest.param("TN", 0.3, 200.0, id="TN: the rule set alone"),
        pytest.param("TT", 0.03, 200.0, id="TT with 30 mA: the rule set is stricter"),
        pytest.param("TT", 0.3, 166.67, id="TT with 300 mA"),
    ],
)
def test_the_electrode_of_a_tt_system_must_suit_its_residual_current_devices(
    earthing: str, residual: float, limit: float
) -> None:
    guard = {"id": "rcd-1", "kind": "residual", "current": "ac", "residual_current": residual}
    point = {"mode": "island", "earthing": earthing, "bonds": ["main panel"]}
    site = iec(protection=[guard], earthing={"modes": [point]})
    assert edges(site.judged("earth-electrode.resistance")) == pytest.approx((None, limit), abs=0.01)


def test_a_tt_system_without_a_residual_current_device_is_not_judged() -> None:
    site = modes(["main panel"], "TT")
    assert "TT system without a residual-current device" in refusal(site.judged("earth-electrode.resistance"))


# insulation and continuity


def test_insulation_limits_come_from_the_rule_set_in_megohms() -> None:
    panel = {"id": "panel-1", "kind": "ac"}
    run = {"id": "run-1", "kind": "dc", "from": "bank", "to": "inverter-1"}
    site = iec(panels=[panel], runs=[run])
    assert edges(site.judged("insulation-ac.resistance", "panel-1")) == (1.0, None)
    assert edges(site.judged("insulation-dc.positive", "run-1")) == (0.5, None)


AC_RUN = {"id": "run-ac", "kind": "ac", "from": "inverter-1", "to": "panel-1", "area": 10.0, "length": 30.0}
PANEL = {"id": "panel-1", "kind": "ac"}


def test_a_neutral_may_have_its_conductor_its_joints_and_the_contacts() -> None:
    # IEC 60228: 10 mm² flexible 1.91 mΩ/m at 20 °C; 30 m; two joints of 50 µΩ; 1.1 × that and 0.05 Ω
    site = iec(runs=[AC_RUN], panels=[PANEL]).read("air-temperature", (), 20.0)
    expected = 1.1 * (0.00191 * 30.0 + 2 * 50e-6) + 0.05
    assert edges(site.judged("neutral-continuity", "run-ac")) == pytest.approx((None, expected))


def test_a_run_of_unknown_length_is_not_judged() -> None:
    site = iec(runs=[AC_RUN | {"length": "unknown"}], panels=[PANEL])
    assert waited_for(site.judged("neutral-continuity", "run-ac")) == ["air-temperature@"]
    site.read("air-temperature", (), 20.0)
    assert refusal(site.judged("neutral-continuity", "run-ac")) == "not known: length of run-ac"


# torque: the joint may be a tenth off; the tool's own error is the meter's, not the band's


def test_a_joint_may_be_a_tenth_off_its_torque() -> None:
    run = {"id": "run-1", "kind": "dc", "from": "bank", "to": "inverter-1", "torque": 12.0}
    outcome = iec(runs=[run]).judged("run-torque.torque", "run-1")
    assert edges(outcome) == pytest.approx((10.8, 13.2))


def test_a_torque_that_nobody_told_is_asked_for() -> None:
    untold = iec().judged("post-torque.torque", "string-1")
    assert refusal(untold) == "not known: terminal torque of the bank's posts"
    site = iec(bank={"terminal_torque": 12.0})
    assert edges(site.judged("post-torque.torque", "string-1")) == pytest.approx((10.8, 13.2))


# fitted beside drawn


def test_cables_and_devices_are_compared_with_the_site_file() -> None:
    ends = {"id": "run-1", "kind": "dc", "from": "bank", "to": "inverter-1"}
    run = ends | {"area": "2/0 AWG", "conductors": 2, "length": 3.0}
    guard = {"id": "fuse-1", "kind": "fuse", "current": "dc", "rating": 250.0, "voltage": 80.0,
             "interrupting": 20000.0}  # fmt: skip
    site = iec(runs=[run], protection=[guard])
    # 2/0 AWG is 67.4 mm²: 70 mm² is another cable
    assert is_inside(site.judged("cable-as-drawn.size", "run-1"), 67.43)
    assert not is_inside(site.judged("cable-as-drawn.size", "run-1"), 70.0)
    assert edges(site.judged("cable-as-drawn.parallel", "run-1")) == (2.0, 2.0)
    assert edges(site.judged("cable-as-drawn.length", "run-1")) == pytest.approx((2.7, 3.3))
    assert edges(site.judged("guard-as-drawn.rating", "fuse-1")) == (250.0, 250.0)
    assert edges(site.judged("guard-as-drawn.voltage", "fuse-1")) == (80.0, None)
    assert edges(site.judged("guard-as-drawn.breaking", "fuse-1")) == pytest.approx((20.0, None))
