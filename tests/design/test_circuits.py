"""What flows through runs, against published currents and by what stands at their ends."""

from __future__ import annotations

import numpy as np
import pytest

from commission.design.circuits import circuit_of, circuits
from commission.figure import Figure, Unknown
from tests.design.run_plants import (
    ARRAY,
    CONTROLLER,
    IEC,
    INVERTER,
    built,
    controller,
    flow,
    inverter,
    load,
    run,
    seen,
    value,
    wire,
)

PANEL = {"id": "dc-panel", "kind": "dc"}
MAIN = run("run-main", "bank", "dc-panel", 120.0)
TO_INVERTER = run("run-inverter-1", "dc-panel", "inverter-1", 70.0)


@pytest.mark.parametrize(
    ("power", "efficiency", "cut_off", "blocks", "current"),
    [
        # teaching example of wire sizing between inverter and battery: 2500 W, 0.85, 22 V give 134 A
        (2500.0, 0.85, 22.0, 2, 133.7),
        # the same relation worked for other systems: P ÷ (efficiency × lowest voltage)
        (2000.0, 0.88, 10.5, 1, 216.5),
        (3000.0, 0.91, 42.0, 4, 78.5),
        (1500.0, 0.87, 21.0, 2, 82.1),
    ],
)
def test_an_inverter_draws_its_rated_power_at_its_lowest_voltage(
    power: float, efficiency: float, cut_off: float, blocks: int, current: float
) -> None:
    unit = inverter(
        continuous_power=power, inverter_efficiency=efficiency, low_cut_off=cut_off, charger_current=1.0
    )
    made = built(blocks=blocks, inverters=(unit,), runs=(MAIN, TO_INVERTER), panels=(PANEL,))
    found = flow(made, "run-inverter-1")
    assert found.role == "inverter"
    assert value(found.greatest) == pytest.approx(current, abs=0.1)
    assert value(flow(made, "run-main").greatest) == pytest.approx(current, abs=0.1)


def test_a_cut_off_under_the_end_of_discharge_counts_as_that_end() -> None:
    unit = inverter(continuous_power=3000.0, inverter_efficiency=1.0, low_cut_off=30.0)
    made = built(inverters=(unit,), runs=(MAIN, TO_INVERTER))
    # 24 cells of 1.75 V (common end of discharge of lead) are 42 V
    assert value(flow(made, "run-inverter-1").greatest) == pytest.approx(3000.0 / 42.0)


def test_a_charger_counts_where_there_is_a_source_to_charge_from() -> None:
    unit = inverter(continuous_power=1000.0, charger_current=90.0) | {"inputs": {"utility": "utility"}}
    utility = {"id": "utility", "ac_voltage": 120.0, "supply_breaker": 60.0}
    runs = (MAIN, TO_INVERTER)
    assert (
        value(flow(built(inverters=(unit,), runs=runs, utility=utility), "run-inverter-1").greatest) == 90.0
    )
    alone = unit | {"inputs": {}}
    assert value(flow(built(inverters=(alone,), runs=runs), "run-inverter-1").greatest) < 40.0


def test_the_main_carries_the_greater_of_discharge_and_charge() -> None:
    runs = (MAIN, TO_INVERTER, run("run-controller-1", "dc-panel", "controller-1", 25.0))
    small = inverter(continuous_power=420.0, inverter_efficiency=1.0, low_cut_off=42.0)
    made = built(inverters=(small,), controllers=(controller(60.0),), runs=runs)
    assert flow(made, "run-main").role == "main"
    assert value(flow(made, "run-main").greatest) == 60.0
    large = inverter(continuous_power=4200.0, inverter_efficiency=1.0, low_cut_off=42.0)
    made = built(inverters=(large,), controllers=(controller(60.0),), runs=runs)
    assert value(flow(made, "run-main").greatest) == pytest.approx(100.0)


def test_strings_share_the_current_of_the_main() -> None:
    runs = (MAIN, TO_INVERTER, *(run(f"run-string-{n}", f"string-{n}", "dc-panel", 50.0) for n in (1, 2, 3)))
    unit = inverter(continuous_power=4200.0, inverter_efficiency=1.0, low_cut_off=42.0)
    made = built(strings=3, inverters=(unit,), runs=runs)
    for number in (1, 2, 3):
        found = flow(made, f"run-string-{number}")
        assert (found.role, found.part) == ("string", f"string-{number}")
        assert value(found.greatest) == pytest.approx(100.0 / 3)
    assert value(flow(made, "run-main").greatest) == pytest.approx(100.0)


def test_strings_that_lead_straight_to_the_panel_leave_inverters_behind_it() -> None:
    runs = (
        run("run-string-1", "string-1", "dc-panel"),
        run("run-string-2", "string-2", "dc-panel"),
        TO_INVERTER,
    )
    made = built(strings=2, inverters=(INVERTER,), runs=runs)
    assert flow(made, "run-inverter-1").role == "inverter"
    assert flow(made, "run-string-2").role == "string"


def test_a_controller_gives_its_rated_output_and_its_array_what_the_code_asks() -> None:
    runs = (
        MAIN,
        run("run-controller-1", "dc-panel", "controller-1", 25.0),
        run("run-pv-1", "pv-1a", "controller-1", 16.0),
    )
    made = built(controllers=(CONTROLLER | {"array": ARRAY},), runs=runs)
    assert value(flow(made, "run-controller-1").greatest) == 80.0
    found = flow(made, "run-pv-1")
    assert found.role == "array"
    # NEC 690.8(A)(1): 1.25 × short-circuit current of all parallel strings; (B): times 1.25 again
    assert value(found.greatest) == pytest.approx(1.25 * 2 * 13.9)
    assert value(found.greatest) * found.factor.value == pytest.approx(1.5625 * 2 * 13.9)
    assert value(found.voltage) == pytest.approx(4 * 31.2)
    assert value(found.working) == pytest.approx(2 * 13.15)


def test_strings_with_runs_of_their_own_to_a_combiner_carry_their_own_current() -> None:
    runs = (
        MAIN,
        run("run-controller-1", "dc-panel", "controller-1", 25.0),
        run("run-a", "pv-1a", "combiner", 6.0),
        run("run-b", "pv-1b", "combiner", 6.0),
        run("run-both", "combiner", "controller-1", 16.0),
    )
    made = built(controllers=(CONTROLLER | {"array": ARRAY},), runs=runs)
    assert value(flow(made, "run-a").greatest) == pytest.approx(1.25 * 13.9)
    assert value(flow(made, "run-both").greatest) == pytest.approx(1.25 * 2 * 13.9)
    assert flow(made, "run-b").part == "pv-1b"


def test_a_direct_load_draws_its_power_at_the_end_of_discharge() -> None:
    made = built(loads=(load("load-a", 420.0),), runs=(MAIN, run("run-load", "dc-panel", "load-a", 10.0)))
    found = flow(made, "run-load")
    assert found.role == "direct load"
    assert value(found.greatest) == pytest.approx(10.0)  # 420 W at 42 V
    assert value(found.working) == pytest.approx(420.0 / 48.0)


def test_runs_side_by_side_share_by_their_resistance_like_a_solved_network() -> None:
    one, other = run("run-a", "bank", "dc-panel", 70.0, 2.0), run("run-b", "bank", "dc-panel", 35.0, 3.0)
    unit = inverter(continuous_power=4200.0, inverter_efficiency=1.0, low_cut_off=42.0)
    made = built(inverters=(unit,), runs=(one, other, TO_INVERTER))
    # oracle: nodal solve of two conductances between the same nodes
    conductance = np.array([70.0 / 2.0, 35.0 / 3.0])
    volts = np.linalg.solve(np.array([[conductance.sum()]]), np.array([100.0]))
    shares = conductance * volts
    assert value(flow(made, "run-a").greatest) == pytest.approx(shares[0], rel=1e-9)
    assert value(flow(made, "run-b").greatest) == pytest.approx(shares[1], rel=1e-9)


def test_like_runs_side_by_side_share_evenly_though_their_length_is_not_told() -> None:
    runs = tuple(run(f"run-{name}", "bank", "dc-panel", 70.0, "unknown") for name in "ab")
    unit = inverter(continuous_power=4200.0, inverter_efficiency=1.0, low_cut_off=42.0)
    made = built(inverters=(unit,), runs=(*runs, TO_INVERTER))
    assert value(flow(made, "run-a").greatest) == pytest.approx(50.0)


def test_an_output_carries_rated_power_over_its_legs() -> None:
    one = built(
        inverters=(inverter(continuous_power=3600.0),), runs=(wire("run-ac", "inverter-1", "ac", 8.37),)
    )
    assert value(flow(one, "run-ac").greatest) == pytest.approx(30.0)
    # published: 7600 W at 240 V are 32 A rated output, breaker 40 A (study notes on NEC 690)
    two = {
        "id": "inverter-1",
        "profile": "inverter-48v-120-240-8000",
        "datasheet": {"continuous_power": 7600.0},
    }
    found = flow(built(inverters=(two,), runs=(wire("run-ac", "inverter-1", "ac", 8.37),)), "run-ac")
    assert (found.role, found.legs) == ("ac output", 2)
    assert value(found.greatest) == pytest.approx(31.67, abs=0.01)
    assert value(found.voltage) == 240.0


def test_an_input_carries_the_limit_that_the_sheet_sets_and_never_more_than_the_relay() -> None:
    unit = INVERTER | {"inputs": {"utility": "utility"}, "datasheet": {"transfer_current": 25.0}}
    utility = {"id": "utility", "ac_voltage": 120.0, "supply_breaker": 100.0}
    made = built(inverters=(unit,), utility=utility, runs=(wire("run-in", "utility", "inverter-1", 8.37),))
    found = flow(made, "run-in")
    assert found.role == "ac input"
    assert value(found.greatest) == 25.0


def test_a_supply_gives_its_rating_on_each_leg() -> None:
    generator = {"id": "generator-1", "profile": "generator-diesel-split-12000"}
    made = built(generators=(generator,), runs=(wire("run-generator", "generator-1", "ac-panel", 21.15),))
    found = flow(made, "run-generator")
    assert (found.role, found.legs, found.factor.value) == ("supply", 2, 1.0)
    assert value(found.greatest) == pytest.approx(50.0)  # 12 kVA over 240 V


def test_loads_behind_a_panel_add_up_leg_by_leg() -> None:
    panels = (
        {"id": "near", "kind": "ac"},
        {
            "id": "far",
            "kind": "ac",
            "positions": [
                {"position": "1", "holds": "breaker-a"},
                {"position": "2", "holds": "breaker-b"},
                {"position": "3", "holds": "breaker-c"},
            ],
        },
    )
    protection = tuple(
        {
            "id": f"breaker-{name}",
            "kind": "breaker",
            "current": "ac",
            "rating": 20.0,
            "protects": "branch",
            "of": f"load-{name}",
        }
        for name in "abc"
    )
    loads = (
        {"id": "load-a", "current": "ac", "power": 1200.0, "leg": "1"},
        {"id": "load-b", "current": "ac", "power": 600.0, "leg": "2"},
        {"id": "load-c", "current": "ac", "power": 2400.0, "leg": "both"},
    )
    runs = (wire("run-ac", "inverter-1", "near", 21.15), wire("run-far", "near", "far", 13.3))
    made = built(inverters=(INVERTER,), runs=runs, panels=panels, protection=protection, loads=loads)
    found = flow(made, "run-far")
    assert found.role == "ac panel"
    assert value(found.greatest) == pytest.approx(10.0 + 10.0)


def test_a_three_phase_load_takes_a_third_of_its_power_from_each_phase() -> None:
    motor = {"id": "load-a", "current": "ac", "power": 5520.0, "power_factor": 0.8, "leg": "all"}
    made = built(place=IEC, loads=(motor,), runs=(wire("run-a", "ac-panel", "load-a", 4.0),))
    assert value(flow(made, "run-a").greatest) == pytest.approx(10.0)  # 6900 VA ÷ 3 ÷ 230 V
    assert flow(made, "run-a").legs == 3


def test_what_a_run_serves_is_asked_for_where_nothing_stands_at_its_end() -> None:
    made = built(runs=(MAIN,))
    found = flow(made, "run-main")
    assert found.role == "unclear"
    assert isinstance(found.greatest, Unknown)
    assert found.greatest.missing == ("what run-main serves",)


def test_what_is_not_known_of_a_part_is_not_known_of_its_run() -> None:
    made = built(loads=({"id": "load-a", "current": "dc"},), runs=(run("run-load", "bank", "load-a"),))
    found = flow(made, "run-load").greatest
    assert isinstance(found, Unknown)
    assert found.missing == ("power of load-a",)


def test_every_run_has_a_circuit_and_they_are_made_once() -> None:
    scene = seen(built(inverters=(INVERTER,), runs=(MAIN, TO_INVERTER)))
    assert [one.run.id for one in circuits(scene)] == ["run-main", "run-inverter-1"]
    assert circuits(scene) is circuits(scene)
    assert circuit_of(scene, scene.plant.site.runs[1]).part == "inverter-1"
    assert isinstance(circuits(scene)[0].greatest, Figure)
