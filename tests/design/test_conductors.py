"""Ampacity of runs against published tables and worked examples, and what a run too thin is told."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from commission.design.conductors import check_conductors
from commission.design.guards import greatest_rating
from commission.figure import Unknown
from commission.plant.change import Change, changed
from commission.plant.plant import Plant
from commission.sheet.run_limits import ampacity_parts, run_ampacity
from tests.design.run_plants import (
    CONTROLLER,
    IEC,
    INVERTER,
    built,
    controller,
    first,
    fuse,
    inverter,
    raised,
    run,
    seen,
    value,
)

AWG = {
    "14": 2.08,
    "12": 3.31,
    "10": 5.26,
    "8": 8.37,
    "6": 13.3,
    "4": 21.15,
    "3": 26.66,
    "2": 33.63,
    "1/0": 53.51,
    "2/0": 67.44,
    "4/0": 107.22,
}


def laid(area: float, *, place: dict[str, str] | None = None, **more: Any) -> Plant:
    """Return a controller of 80 A on one run of a size."""
    wire = run("run-controller-1", "bank", "controller-1", area, 1.0, **{"ambient": 30.0, **more})
    return built(place=place, controllers=(CONTROLLER,), runs=(wire,))


@pytest.mark.parametrize(
    ("size", "insulation", "terminal", "ambient", "grouped", "in_place", "at_terminals"),
    [
        # NEC tables 310.16 and 310.15(B)(1), 310.15(C)(1) as reprinted; products are own arithmetic
        ("2/0", 75, 75, 40, 1, 154.0, 175.0),
        ("4/0", 90, 75, 45, 1, 226.2, 230.0),
        ("10", 90, 75, 50, 3, 26.24, 35.0),
        ("12", 75, 75, 30, 1, 25.0, 25.0),
        # 10 AWG at 38 °C with 33 K added close above a roof: NEC 310.15(B)(2)
        ("10", 90, 75, 71, 1, 20.0, 35.0),
        ("4/0", 90, 75, 40, 1, 236.6, 230.0),
    ],
)
def test_ampacity_by_the_table_where_a_run_lies_and_at_its_terminals(
    size: str,
    insulation: float,
    terminal: float,
    ambient: float,
    grouped: int,
    in_place: float,
    at_terminals: float,
) -> None:
    made = laid(
        AWG[size],
        insulation_temperature=float(insulation),
        terminal_temperature=float(terminal),
        ambient=float(ambient),
        grouped=grouped,
    )
    lying, ends = ampacity_parts(made, made.site.runs[0])
    assert value(lying) == pytest.approx(in_place, abs=0.05)
    assert value(ends) == pytest.approx(at_terminals, abs=0.05)


@pytest.mark.parametrize(("area", "ampacity"), [(10.0, 53.6), (16.0, 71.4)])
def test_ampacity_by_the_iec_table(area: float, ampacity: float) -> None:
    # IEC 60364-5-52 tables B.52.2 and B.52.14, method B1, PVC, 35 °C: 57 × 0.94 and 76 × 0.94
    made = laid(area, place=IEC, insulation_temperature=70.0, terminal_temperature=70.0, ambient=35.0)
    assert value(run_ampacity(made, made.site.runs[0])) == pytest.approx(ampacity, abs=0.1)


@pytest.mark.parametrize(("size", "kinds"), [("4", {"ampacity:run-controller-1": "correct"}), ("3", {})])
def test_eighty_amperes_for_hours_need_a_conductor_of_a_hundred(size: str, kinds: dict[str, str]) -> None:
    # 125 % rule with NEC table 310.16 at 75 °C: 100 A, smallest 3 AWG
    guard = fuse("fuse-1", "device", "controller-1", 80.0)
    made = changed(laid(AWG[size], protection="fuse-1"), ())
    made = made.model_copy(
        update={
            "site": made.site.model_copy(update={"protection": built(protection=(guard,)).site.protection})
        }
    )
    assert raised(check_conductors, made) == kinds


@pytest.mark.parametrize(("size", "passes"), [("1/0", False), ("2/0", True)])
def test_the_published_inverter_of_167_amperes_needs_2_0(size: str, passes: bool) -> None:
    # 2500 W, efficiency 0.85, 22 V: 134 A, times 1.25 = 167 A; NEC table 310.16 at 75 °C: 2/0 AWG has 175 A
    unit = inverter(continuous_power=2500.0, inverter_efficiency=0.85, low_cut_off=22.0)
    wire = run("run-inverter-1", "bank", "inverter-1", AWG[size], 1.0, ambient=30.0)
    made = built(blocks=2, inverters=(unit,), runs=(wire,))
    assert ("ampacity:run-inverter-1" not in raised(check_conductors, made)) is passes


@pytest.mark.parametrize(("current", "kind"), [(59.0, "correct"), (60.0, "correct"), (60.1, "stop")])
def test_a_fifth_over_the_ampacity_with_nothing_that_holds_it_is_a_stop(current: float, kind: str) -> None:
    wire = run("run-controller-1", "bank", "controller-1", AWG["8"], 1.0, ambient=30.0)  # 50 A
    made = built(controllers=(controller(current),), runs=(wire,))
    assert raised(check_conductors, made) == {"ampacity:run-controller-1": kind}


def test_a_conductor_far_under_its_bare_current_that_nothing_holds_is_a_stop() -> None:
    made = laid(AWG["8"])  # 50 A against 80 A
    assert raised(check_conductors, made) == {"ampacity:run-controller-1": "stop"}
    finding = first(check_conductors, made, "ampacity:run-controller-1").finding
    assert "nothing opens before it overheats" in finding.text
    assert finding.releasable


def test_a_fuse_that_opens_first_makes_it_correct() -> None:
    wire = run("run-controller-1", "bank", "controller-1", AWG["8"], 1.0, ambient=30.0, protection="fuse-1")
    made = built(
        controllers=(CONTROLLER,), runs=(wire,), protection=(fuse("fuse-1", "device", "controller-1", 50.0),)
    )
    assert raised(check_conductors, made) == {"ampacity:run-controller-1": "correct"}


def test_the_terminals_are_named_where_they_bind_and_the_air_where_it_does() -> None:
    text = first(check_conductors, laid(AWG["4"]), "ampacity:run-controller-1").finding.text
    assert "at terminals of 75 °C" in text
    assert "80 A (rated output current of controller-1), times 1.25 for hours of it" in text
    hot = laid(AWG["3"], ambient=60.0)
    text = first(check_conductors, hot, "ampacity:run-controller-1").finding.text
    assert "in air of 140 °F" in text


def test_value_and_limit_carry_their_lineage() -> None:
    finding = first(check_conductors, laid(AWG["4"]), "ampacity:run-controller-1").finding
    assert value(finding.value) == pytest.approx(100.0)
    assert value(finding.limit) == pytest.approx(85.0)


def test_the_remedy_is_the_next_size_that_carries_it() -> None:
    found = first(check_conductors, laid(AWG["6"]), "ampacity:run-controller-1")
    assert found.remedies[0].text == "run-controller-1 in 3 AWG"
    assert raised(check_conductors, changed(laid(AWG["6"]), found.remedies[0].change)) == {}


def test_a_remedy_keeps_inverters_of_one_group_alike() -> None:
    units = tuple(
        INVERTER | {"id": f"inverter-{n}", "run": f"run-inverter-{n}", "group": "house", "group_leg": str(n)}
        for n in (1, 2)
    )
    runs = tuple(run(f"run-inverter-{n}", "bank", f"inverter-{n}", 21.15, 1.0, ambient=30.0) for n in (1, 2))
    made = built(inverters=units, runs=runs)
    remedy = first(check_conductors, made, "ampacity:run-inverter-1").remedies[0]
    assert {one.key for one in remedy.change} == {"runs[run-inverter-1].area", "runs[run-inverter-2].area"}
    assert raised(check_conductors, changed(made, remedy.change)) == {}


def test_the_protective_conductor_grows_with_a_remedy() -> None:
    wire = run("run-controller-1", "bank", "controller-1", 16.0, 1.0, ambient=30.0, earth_area=16.0)
    made = built(place=IEC, controllers=(controller(100.0),), runs=(wire,))
    remedy = first(check_conductors, made, "ampacity:run-controller-1").remedies[-1]
    changes = {one.key: one.value for one in remedy.change}
    assert changes.get("runs[run-controller-1].area") == 50.0
    assert changes["runs[run-controller-1].earth_area"] == 25.0  # IEC 60364-5-54 table 54.2: half of it


def test_conductors_in_parallel_are_1_0_or_thicker_in_the_nec() -> None:
    # NEC 310.10(G): conductors in parallel 1/0 AWG and larger
    assert "parallel-conductors:run-controller-1" in raised(check_conductors, laid(AWG["2"], conductors=2))
    assert "parallel-conductors:run-controller-1" not in raised(
        check_conductors, laid(AWG["1/0"], conductors=2)
    )
    iec = laid(35.0, place=IEC, conductors=2)
    assert "parallel-conductors:run-controller-1" not in raised(check_conductors, iec)


@pytest.mark.parametrize(
    ("field", "named"),
    [
        ("area", "area of run-controller-1"),
        ("insulation_temperature", "insulation temperature of run-controller-1"),
        ("terminal_temperature", "terminal temperature of run-controller-1"),
    ],
)
def test_what_is_not_known_is_asked_for_by_name(field: str, named: str) -> None:
    made = laid(AWG["3"])
    made = changed(made, (Change(f"runs[run-controller-1].{field}", "unknown"),))
    found = first(check_conductors, made, "ampacity:run-controller-1").finding
    assert found.kind == "not checked"
    assert named in found.text


def test_a_run_that_serves_nothing_is_asked_about_once() -> None:
    made = built(runs=(run("run-a", "bank", "somewhere"),))
    assert raised(check_conductors, made) == {"circuit:run-a": "not checked"}


@pytest.mark.parametrize(
    ("size", "kind", "greatest"),
    [
        # NEC 240.4(B) with 240.6(A): the next standard rating over 230 A; 240.4(D): 20 A on 12 AWG
        ("4/0", "breaker", 250.0),
        ("12", "breaker", 20.0),
        ("14", "fuse", 15.0),
        ("10", "breaker", 30.0),
        # exactly a standard rating: 175 A on 2/0 AWG
        ("2/0", "fuse", 175.0),
    ],
)
def test_the_greatest_device_on_a_conductor(size: str, kind: str, greatest: float) -> None:
    made = laid(AWG[size])
    assert value(greatest_rating(made, made.site.runs[0], kind)) == pytest.approx(greatest)


@pytest.mark.parametrize(("kind", "greatest"), [("breaker", 192.0), ("fuse", 172.8)])
def test_a_gg_fuse_protects_less_than_its_rating_in_the_iec(kind: str, greatest: float) -> None:
    # IEC 60364-4-43, 433.1: a gG fuse opens at 1.6 × rating, a conductor bears 1.45 × ampacity: about 0.9
    made = laid(70.0, place=IEC, terminal_temperature=70.0)
    assert value(greatest_rating(made, made.site.runs[0], kind)) == pytest.approx(greatest)


def test_the_smallest_size_for_a_device_of_63_amperes_in_the_iec() -> None:
    # worked from IEC 60364-5-52 and -4-43: 63 A, PVC, B1, 35 °C need 16 mm²
    for area, enough in ((10.0, False), (16.0, True)):
        made = laid(area, place=IEC, insulation_temperature=70.0, terminal_temperature=70.0, ambient=35.0)
        assert (value(greatest_rating(made, made.site.runs[0], "breaker")) >= 63.0) is enough


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    sizes=st.lists(st.sampled_from(sorted(AWG.values())), min_size=2, max_size=2).map(sorted),
    current=st.floats(5.0, 300.0),
    ambient=st.sampled_from([20.0, 30.0, 45.0, 60.0]),
    grouped=st.integers(1, 6),
)
def test_a_thicker_conductor_never_adds_a_finding(
    sizes: list[float], current: float, ambient: float, grouped: int
) -> None:
    found = []
    for area in sizes:
        wire = run("run-controller-1", "bank", "controller-1", area, 1.0, ambient=ambient, grouped=grouped)
        made = built(controllers=(controller(current),), runs=(wire,))
        found.append(raised(check_conductors, made))
    assert set(found[1]) <= set(found[0])
    assert all(found[1][one] == found[0][one] or found[1][one] == "correct" for one in found[1])


# terminals in hot air


@pytest.mark.parametrize(
    ("rules", "air", "share"),
    [
        # IEC 60364-5-52 table B.52.14, 70 °C: 0.87 at 40 °C, 0.61 at 55 °C; beyond its end √((70 − 65) ÷ 40)
        ("iec-230", 25.0, 1.0),
        ("iec-230", 30.0, 1.0),
        ("iec-230", 40.0, 0.87),
        ("iec-230", 55.0, 0.61),
        ("iec-230", 65.0, 0.3536),
        # AS/NZS 3008.1.1 table 27, 75 °C about 40 °C air
        ("australia-new-zealand", 40.0, 1.0),
        ("australia-new-zealand", 55.0, 0.71),
        # NEC 110.14(C): the terminals' column as the table has it
        ("north-america", 55.0, 1.0),
    ],
)
def test_hot_air_lowers_what_terminals_carry_where_the_region_says_so(
    rules: str, air: float, share: float
) -> None:
    def ends(ambient: float) -> float:
        made = laid(
            70.0,
            place={"rules": rules},
            insulation_temperature=90.0,
            terminal_temperature=70.0 if rules != "north-america" else 75.0,
            ambient=ambient,
        )
        return value(ampacity_parts(made, made.site.runs[0])[1])

    assert ends(air) == pytest.approx(ends(20.0) * share, rel=2e-3)


def test_air_hotter_than_the_terminals_is_said_and_not_passed() -> None:
    made = laid(70.0, place=IEC, insulation_temperature=90.0, terminal_temperature=70.0, ambient=72.0)
    ends = ampacity_parts(made, made.site.runs[0])[1]
    assert isinstance(ends, Unknown)
    assert "terminals of 70 °C carry in air of 72 °C" in ends.missing[0]


def test_the_air_at_the_terminals_is_told_where_it_binds() -> None:
    made = laid(16.0, place=IEC, insulation_temperature=90.0, terminal_temperature=70.0, ambient=60.0)
    assert (
        "at terminals of 70 °C in air of 60 °C"
        in first(check_conductors, made, "ampacity:run-controller-1").finding.text
    )


def test_a_run_that_is_thick_enough_is_neither_named_nor_thinned_by_a_remedy_of_its_twin() -> None:
    wires = (
        run("run-1", "bank", "inverter-1", 16.0, 2.0, ambient=30.0),
        run("run-2", "bank", "inverter-1", 70.0, 2.0, ambient=30.0),
    )
    made = built(place=IEC, inverters=(inverter(continuous_power=9000.0),), runs=wires)
    for one in check_conductors(seen(made)):
        for remedy in one.remedies:
            areas = {change.key: change.value for change in remedy.change if change.key.endswith("area")}
            assert "runs[run-2].area" not in areas or float(str(areas["runs[run-2].area"])) > 70.0
            assert ("run-2" in remedy.text) is any("run-2" in change.key for change in remedy.change)
