"""Voltage lost in runs against published drops, load flow results and a solved network."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from commission.design.drop_ways import drop_of, ways
from commission.design.drops import check_drops
from commission.design.hot_cables import hot_resistance
from commission.plant.change import Change, changed
from commission.plant.plant import Plant
from tests.design.networks import node_voltages
from tests.design.run_plants import (
    ARRAY,
    CONTROLLER,
    IEC,
    INVERTER,
    built,
    controller,
    first,
    inverter,
    load,
    raised,
    run,
    seen,
    value,
    wire,
)

FOOT = 0.3048


def one_run(
    area: float, length: float, temperature: float, *, place: dict[str, str] | None = None, **more: Any
) -> Plant:
    """Return a plant with a run that is as hot under load as a test wants."""
    heat = {"insulation_temperature": temperature, "terminal_temperature": temperature}
    return built(
        place=place, loads=(load(),), runs=(run("run-a", "bank", "load-a", area, length, **heat, **more),)
    )


@pytest.mark.parametrize(
    ("area", "temperature", "per_km", "tolerance"),
    [
        # IEC 60228 class 5 (20 °C) at other temperatures, coefficient 0.00393: own arithmetic
        (70.0, 60.0, 0.3148, 0.0005),
        (35.0, 70.0, 0.6629, 0.0005),
        # 70 mm² as a load flow was given it, 40 °C
        (70.0, 30.0, 0.2827, 0.0005),
    ],
)
def test_hot_resistance_of_metric_sizes(
    area: float, temperature: float, per_km: float, tolerance: float
) -> None:
    made = one_run(area, 1000.0, temperature, place=IEC)
    assert value(hot_resistance(made, made.site.runs[0], 1.0)) == pytest.approx(per_km, abs=tolerance)


@pytest.mark.parametrize(
    ("area", "temperature", "ohms_per_kft", "tolerance"),
    [
        (21.15, 90.0, 0.3229, 0.0003),  # NEC chapter 9 table 8, note 2: 4 AWG, 0.308 at 75 °C
        (67.44, 75.0, 0.0967, 0.0002),  # 2/0 AWG as the table has it
        (107.22, 75.0, 0.0608, 0.0002),
    ],
)
def test_hot_resistance_of_us_sizes(
    area: float, temperature: float, ohms_per_kft: float, tolerance: float
) -> None:
    made = one_run(area, 1000.0 * FOOT, temperature)
    assert value(hot_resistance(made, made.site.runs[0], 1.0)) == pytest.approx(ohms_per_kft, abs=tolerance)


def test_two_conductors_in_parallel_have_half_the_loop() -> None:
    # 2 × 2/0 AWG, 12 ft one way, 75 °C, NEC chapter 9 table 8: 1.1604 mΩ out and back
    made = one_run(67.44, 12.0 * FOOT, 75.0, conductors=2)
    assert value(hot_resistance(made, made.site.runs[0])) * 1000 == pytest.approx(1.1604, abs=0.002)


def test_aluminium_resists_more_than_copper_of_its_size() -> None:
    # IEC 60889: 0.028264 Ω·mm²/m at 20 °C
    made = one_run(70.0, 1000.0, 20.0, place=IEC, material="aluminium")
    assert value(hot_resistance(made, made.site.runs[0], 1.0)) == pytest.approx(0.028264 / 70.0 * 1000.0)


def drop(made: Plant, part: str, *, usual: bool = False) -> float:
    """Return the share of the voltage that is lost on the way of a part."""
    scene = seen(made)
    return value(drop_of(scene, next(way for way in ways(scene) if part in way.parts), usual=usual))


@pytest.mark.parametrize(
    ("area", "temperature", "length", "current", "volts"),
    [
        (35.0, 70.0, 2.0, 150.0, 0.3977),  # IEC 60228 class 5, two wires: own arithmetic
        (35.0, 50.0, 3.0, 120.0, 0.4459),
        (35.0, 40.0, 4.0, 80.0, 0.3824),
    ],
)
def test_published_drops_of_single_runs(
    area: float, temperature: float, length: float, current: float, volts: float
) -> None:
    heat = {"insulation_temperature": temperature, "terminal_temperature": temperature}
    wires = (run("run-controller-1", "bank", "controller-1", area, length, **heat),)
    made = built(place=IEC, controllers=(controller(current),), runs=wires)
    assert drop(made, "controller-1") * 48.0 == pytest.approx(volts, abs=0.001)


@pytest.mark.parametrize(("feet", "raises"), [(78.8, False), (79.0, True)])
def test_the_longest_run_of_4_0_for_two_percent(feet: float, raises: bool) -> None:
    # 48 V, 100 A, 0.0608 Ω per 1000 ft, 2 %: 78.9 ft one way
    unit = inverter(continuous_power=4800.0, inverter_efficiency=1.0)
    wires = (run("run-inverter-1", "bank", "inverter-1", 107.22, feet * FOOT),)
    found = raised(check_drops, built(inverters=(unit,), runs=wires))
    assert found == ({"drop-inverter:inverter-1": "advise"} if raises else {})


@pytest.mark.parametrize(
    ("cells_per_block", "power", "ohms_per_km", "length", "end"),
    [
        # load flow of a two-wire run with constant power; the end voltage is the library's (pandapower 3.5.6)
        (24, 3000.0, 0.23546, 3.0, 47.91154),
        (12, 2000.0, 0.314758, 2.5, 23.86813),
        (6, 1000.0, 0.619317, 1.5, 11.84312),
    ],
)
def test_drop_at_nominal_voltage_is_the_load_flow_s_less_what_constant_power_adds(
    cells_per_block: int, power: float, ohms_per_km: float, length: float, end: float
) -> None:
    nominal = 2.0 * cells_per_block
    unit = inverter(continuous_power=power, inverter_efficiency=1.0)
    # a cross-section that has the load flow's resistance: by its resistivity at 20 °C
    area = 1000.0 / 58.0 / ohms_per_km
    wires = (
        run(
            "run-inverter-1",
            "bank",
            "inverter-1",
            area,
            length,
            insulation_temperature=20.0,
            terminal_temperature=20.0,
        ),
    )
    made = built(place=IEC, blocks=1, cells_per_block=cells_per_block, inverters=(unit,), runs=wires)
    lost = drop(made, "inverter-1")
    exact = (nominal - end) / nominal
    # constant power draws more as the voltage falls: current, and with it the drop, grow by nominal ÷ end
    assert lost / (1.0 - exact) == pytest.approx(exact, rel=2e-4)


def test_a_main_and_two_inverters_like_a_solved_network() -> None:
    unit = {"continuous_power": 3600.0, "inverter_efficiency": 0.9}
    units = tuple(
        INVERTER | {"id": f"inverter-{n}", "run": f"run-inverter-{n}", "datasheet": unit} for n in (1, 2)
    )
    wires = (
        run("run-main", "bank", "dc-panel", 107.22, 2.0),
        run("run-inverter-1", "dc-panel", "inverter-1", 67.44, 1.5),
        run("run-inverter-2", "dc-panel", "inverter-2", 67.44, 6.0),
    )
    made = built(inverters=units, runs=wires)
    ohms = {one.id: value(hot_resistance(made, one)) for one in made.site.runs}
    current = 3600.0 / 0.9 / 48.0
    volts = node_voltages(
        [
            ("bank", "dc-panel", ohms["run-main"]),
            ("dc-panel", "inverter-1", ohms["run-inverter-1"]),
            ("dc-panel", "inverter-2", ohms["run-inverter-2"]),
        ],
        {"inverter-1": current, "inverter-2": current},
    )
    for number in (1, 2):
        assert drop(made, f"inverter-{number}") * 48.0 == pytest.approx(
            -volts[f"inverter-{number}"], rel=1e-9
        )


def test_mains_side_by_side_like_a_solved_network() -> None:
    unit = inverter(continuous_power=4320.0, inverter_efficiency=0.9)
    wires = (
        run("run-a", "bank", "dc-panel", 67.44, 2.0),
        run("run-b", "bank", "dc-panel", 67.44, 3.0),
        run("run-inverter-1", "dc-panel", "inverter-1", 67.44, 1.5),
    )
    made = built(inverters=(unit,), runs=wires)
    ohms = {one.id: value(hot_resistance(made, one)) for one in made.site.runs}
    volts = node_voltages(
        [
            ("bank", "dc-panel", ohms["run-a"]),
            ("bank", "dc-panel", ohms["run-b"]),
            ("dc-panel", "inverter-1", ohms["run-inverter-1"]),
        ],
        {"inverter-1": 100.0},
    )
    assert drop(made, "inverter-1") * 48.0 == pytest.approx(-volts["inverter-1"], rel=1e-6)


def test_an_array_loses_its_share_of_the_voltage_at_maximum_power() -> None:
    # pvlib dc_ohms_from_percent(38, 9, 3, modules_per_string=5, strings=2): loop of 0.31667 Ω
    own = ARRAY | {"series": 5, "maximum_power_voltage": 38.0, "maximum_power_current": 9.0}
    area, length = 2.0 / 58.0 / 0.31667 * 10.0, 10.0
    heat = {"insulation_temperature": 20.0, "terminal_temperature": 20.0}
    wires = (run("run-pv", "pv-1a", "controller-1", area, length, **heat),)
    made = built(controllers=(CONTROLLER | {"array": own},), runs=wires)
    assert drop(made, "run-pv") == pytest.approx(0.03, rel=0.001)
    assert raised(check_drops, made) == {"drop-array:run-pv": "advise"}


def test_an_ac_run_counts_its_power_factor_and_a_three_phase_one_a_single_conductor() -> None:
    # IEC 60364-5-52 annex G with the table's cable at 70 °C (1.91 mΩ/m × 1.1965 = 2.2853 mΩ/m):
    # 2 × 40 A × 40 m × (2.2853 × 0.8 + 0.08 × 0.6) mΩ/m
    motor = {"id": "load-a", "current": "ac", "power": 7360.0, "power_factor": 0.8}
    heat = {"insulation_temperature": 70.0}
    made = built(place=IEC, loads=(motor,), runs=(wire("run-a", "ac-panel", "load-a", 10.0, 40.0, **heat),))
    assert drop(made, "run-a") * 230.0 == pytest.approx(3.2 * (2.2853 * 0.8 + 0.08 * 0.6), rel=1e-3)
    three = motor | {"leg": "all"}
    made = built(place=IEC, loads=(three,), runs=(wire("run-a", "ac-panel", "load-a", 10.0, 40.0, **heat),))
    assert drop(made, "run-a") * 230.0 == pytest.approx(3.2 * (2.2853 * 0.8 + 0.08 * 0.6) / 6.0, rel=1e-3)


def test_a_direct_load_of_its_own_and_the_rest_of_the_plant_in_the_main() -> None:
    wires = (
        run("run-main", "bank", "dc-panel", 33.63, 2.0),
        run("run-load", "dc-panel", "load-a", 3.31, 10.0),
    )
    made = built(loads=(load("load-a", 480.0),), runs=wires)
    ohms = {one.id: value(hot_resistance(made, one)) for one in made.site.runs}
    assert drop(made, "load-a") * 48.0 == pytest.approx(10.0 * (ohms["run-main"] + ohms["run-load"]))


def test_what_is_lost_at_the_expected_load_is_told_beside() -> None:
    unit = inverter(continuous_power=4800.0, inverter_efficiency=1.0)
    wires = (run("run-inverter-1", "bank", "inverter-1", 33.63, 10.0),)
    made = built(inverters=(unit,), runs=wires, expected={"load": 480.0})
    text = first(check_drops, made, "drop-inverter:inverter-1").finding.text
    assert "at rated power" in text
    assert drop(made, "inverter-1", usual=True) == pytest.approx(drop(made, "inverter-1") / 10.0)
    assert "2.65 % of the voltage is lost between bank and inverter-1" in text
    assert "0.265 % at the load that is expected; 2 % is good practice" in text


def test_the_remedy_of_a_drop_passes() -> None:
    unit = inverter(continuous_power=4800.0, inverter_efficiency=1.0)
    wires = (
        run("run-main", "bank", "dc-panel", 33.63, 8.0),
        run("run-inverter-1", "dc-panel", "inverter-1", 33.63, 4.0),
    )
    made = built(inverters=(unit,), runs=wires)
    for remedy in first(check_drops, made, "drop-inverter:inverter-1").remedies:
        assert raised(check_drops, changed(made, remedy.change)) == {}


def test_lengths_are_asked_for_once() -> None:
    units = tuple(INVERTER | {"id": f"inverter-{n}", "run": f"run-inverter-{n}"} for n in (1, 2))
    wires = (
        run("run-main", "bank", "dc-panel", 67.44, "unknown"),
        *(run(f"run-inverter-{n}", "dc-panel", f"inverter-{n}", 67.44, 1.0) for n in (1, 2)),
    )
    found = raised(check_drops, built(inverters=units, runs=wires))
    assert found == {"drop-inverter:inverter-1": "not checked"}
    told = changed(built(inverters=units, runs=wires), (Change("runs[run-main].length", 1.0),))
    assert raised(check_drops, told) == {}


@settings(max_examples=20, deadline=None)
@given(
    sizes=st.lists(st.floats(4.0, 250.0), min_size=2, max_size=2).map(sorted),
    power=st.floats(500.0, 8000.0),
    length=st.floats(0.5, 30.0),
)
def test_a_thicker_conductor_never_adds_a_drop(sizes: list[float], power: float, length: float) -> None:
    unit = inverter(continuous_power=power, inverter_efficiency=0.9)
    found = []
    for area in sizes:
        wires = (run("run-inverter-1", "bank", "inverter-1", area, length),)
        found.append(raised(check_drops, built(inverters=(unit,), runs=wires)))
    assert set(found[1]) <= set(found[0])


@pytest.mark.parametrize(("metres", "kind"), [(1.5, None), (60.0, "advise"), (1500.0, "correct")])
def test_a_length_with_which_no_current_flows_is_asked_about(metres: float, kind: str | None) -> None:
    """1.5 m typed as 1500: 100 A through twice 1500 m of 70 mm² (0.27 Ω/km) lose 80 V of 48 V."""
    unit = inverter(continuous_power=4800.0, inverter_efficiency=1.0)
    wires = (run("run-inverter-1", "bank", "inverter-1", 70.0, metres),)
    made = built(place=IEC, inverters=(unit,), runs=wires)
    assert raised(check_drops, made) == ({} if kind is None else {"drop-inverter:inverter-1": kind})
    if kind == "correct":
        finding = first(check_drops, made, "drop-inverter:inverter-1").finding
        assert "%" not in finding.text
        assert "1.5 m if millimetres were meant" in finding.remedy
