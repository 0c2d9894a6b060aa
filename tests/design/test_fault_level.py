"""What the bank drives into a short circuit, by named sources, and whether every device can break it."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from commission.design.bank_fault import Level, fault_voltage, level_at, level_of_string
from commission.design.check import checked_sheet
from commission.design.fault_level import check_fault_level
from commission.design.fault_paths import FaultPaths
from commission.figure import Figure, why
from commission.plant.change import changed
from commission.plant.site import Protection
from tests.design.direct_plants import IEC, breaker, direct_plant, found, fuse, offered, run

NEC_LEAD = "IEEE 946: 2.0 V per lead cell, resistance as it is; from memory"
IEC_LEAD = "IEC 61660-1 clause 2.4: 1.05 times nominal, 0.9 times the resistance; from memory"
RANGE = "data sheets in general: 0.10 to 0.20 Ω·Ah dc for lithium iron phosphate; own arithmetic"
RUN_50 = {"area": 50.0, "length": 1.45}
"""Copper of 1/58 Ω·mm²/m: 1.000 mΩ out and back."""


def ends(level: Level) -> tuple[float, float]:
    """Return both ends of a level as numbers."""
    assert isinstance(level.low, Figure)
    assert isinstance(level.high, Figure)
    return level.low.value, level.high.value


def posts(**more: Any) -> tuple[float, float]:
    """Return the level of a bank at its posts."""
    return ends(level_at(FaultPaths(direct_plant(**more)), "bank"))


@pytest.mark.parametrize(
    ("what", "expected", "tolerance"),
    [
        pytest.param(
            {"blocks": 1, "bank": {"resistance": 0.005}},
            2400,
            1,
            id="12 V behind 5 mΩ: calculation page on batteries",
        ),
        pytest.param(
            {"blocks": 1, "bank": {"resistance": 0.020}},
            600,
            1,
            id="12 V behind 20 mΩ: telecommunication pages",
        ),
        pytest.param(
            {"strings": 2, "bank": {"resistance": 24 * 0.00025 + 0.001}},
            13714,
            10,
            id=f"two strings of 24 cells, 0.25 mΩ and 1 mΩ of links: own derivation, {NEC_LEAD}",
        ),
        pytest.param(
            {"strings": 3, "bank": {"short_circuit_current": 5200.0}},
            15600,
            1,
            id="parallel strings add: Kirchhoff",
        ),
        pytest.param(
            {"bank": {"short_circuit_current": 4500.0}},
            4500,
            1,
            id="one-minute rule, 10 × 450 A: IEEE 946, from memory",
        ),
        pytest.param(
            {"bank": {"short_circuit_current": 10000.0}},
            10000,
            1,
            id="two points 1.98 V at 100 A, 1.90 V at 500 A: IEC 60896-21, from memory",
        ),
        pytest.param(
            {"bank": {"resistance": 0.0072, "short_circuit_current": 5200.0}},
            5200,
            1,
            id="the maker's current goes before his resistance: IEC 60896-21 tells the current",
        ),
        pytest.param(
            {"place": IEC, "bank": {"resistance": 0.0072}},
            1.05 * 48 / (0.9 * 0.0072),
            1,
            id=f"48 V behind 7.2 mΩ at the posts: {IEC_LEAD}",
        ),
        pytest.param(
            {
                "chemistry": "nickel-cadmium",
                "cells_per_block": 1,
                "blocks": 10,
                "bank": {"resistance": 0.006},
                "battery": {"open_circuit_voltage": {"states": [0.0, 1.0], "values": [1.2, 1.27]}},
            },
            2117,
            2,
            id="12.7 V falls to 12.1 V at 100 A: textbook of electricity, source resistance by a load step",
        ),
    ],
)
def test_a_told_bank_drives_one_current_at_its_posts(
    what: dict[str, Any], expected: float, tolerance: float
) -> None:
    low, high = posts(**what)
    assert low == pytest.approx(high)
    assert high == pytest.approx(expected, abs=tolerance)


@pytest.mark.parametrize(
    ("what", "low", "high"),
    [
        pytest.param(
            {"chemistry": "lfp", "cells_per_block": 16, "blocks": 1, "capacity": 100.0},
            1700,
            3400,
            id=f"16 cells of 100 Ah, 3.40 V full: {RANGE}",
        ),
        pytest.param(
            {"chemistry": "lfp", "cells_per_block": 16, "blocks": 1, "capacity": 280.0, "strings": 4},
            19040,
            38080,
            id=f"four packs of 280 Ah: {RANGE}",
        ),
        pytest.param(
            {"chemistry": "agm", "capacity": 100.0, "place": IEC},
            1944.4,
            4666.7,
            id=f"AGM 0.05 to 0.12 Ω·Ah, 100 Ah, 24 cells: {IEC_LEAD}; own arithmetic",
        ),
        pytest.param(
            {"chemistry": "flooded", "capacity": 225.0, "cells_per_block": 3, "blocks": 4},
            1500,
            3750,
            id=f"flooded 0.12 to 0.30 Ω·Ah, 225 Ah, 12 cells: {NEC_LEAD}; own arithmetic",
        ),
    ],
)
def test_an_estimated_resistance_gives_a_range(what: dict[str, Any], low: float, high: float) -> None:
    assert posts(**what) == pytest.approx((low, high), rel=1e-4)


def test_the_iec_maximum_behind_a_path_of_one_milliohm() -> None:
    """IEC 61660-1 clause 2.4, from memory: 48 V, 7.2 mΩ, 1.0 mΩ of joints and cables: 6738 A."""
    made = direct_plant(
        place=IEC, bank={"resistance": 0.0072}, runs=[run("run-main", "bank", "panel", **RUN_50)]
    )
    assert ends(level_at(FaultPaths(made), "panel"))[1] == pytest.approx(6738, abs=10)


def test_the_basic_form_with_joints_and_cable() -> None:
    """Basic formula, from memory: 24 cells of 2.06 V and 0.28 mΩ, joints 0.03 mΩ, 6 m of 0.193 mΩ/m."""
    area = 1.0 / 58.0 / 0.000193
    made = direct_plant(
        chemistry="nickel-cadmium",
        cells_per_block=1,
        blocks=24,
        bank={"resistance": 24 * (0.00028 + 0.00003)},
        battery={"open_circuit_voltage": {"states": [0.0, 1.0], "values": [1.2, 2.06]}},
        runs=[run("run-main", "bank", "panel", area=area, length=3.0)],
    )
    assert ends(level_at(FaultPaths(made), "panel"))[1] == pytest.approx(5750, abs=15)


def test_runs_side_by_side_halve_the_cable() -> None:
    """Kirchhoff's current law: two runs of 1 mΩ are one of 0.5 mΩ; 48 V behind 7 and 0.5 mΩ."""
    mains = [run(f"run-{letter}", "bank", "panel", **RUN_50) for letter in "ab"]
    made = direct_plant(bank={"resistance": 0.007}, runs=mains)
    assert ends(level_at(FaultPaths(made), "panel"))[1] == pytest.approx(48 / 0.0075)


@pytest.mark.parametrize(
    ("chemistry", "cells", "rules", "expected"),
    [
        pytest.param("agm", 24, "north-america", 48.0, id="2.0 V per lead cell: IEEE 946, from memory"),
        pytest.param("gel", 24, "iec-230", 50.4, id="1.05 times nominal: IEC 61660-1, from memory"),
        pytest.param("lfp", 16, "iec-230", 54.4, id="full rested cell 3.40 V: the profile's table"),
        pytest.param("nmc", 14, "north-america", 58.8, id="full rested cell 4.20 V: open data for NMC"),
        pytest.param("nickel-iron", 19, "iec-230", 26.22, id="full rested cell 1.38 V: the profile's table"),
    ],
)
def test_the_voltage_behind_a_fault_goes_by_rule_set_and_chemistry(
    chemistry: str, cells: int, rules: str, expected: float
) -> None:
    made = direct_plant(chemistry=chemistry, cells_per_block=cells, blocks=1, place={"rules": rules})
    voltage = fault_voltage(made)
    assert isinstance(voltage, Figure)
    assert voltage.value == pytest.approx(expected)


def test_a_string_of_its_own_capacity_counts_with_its_own_resistance() -> None:
    """Own arithmetic: 100 and 200 Ah at 0.10 Ω·Ah are 3400 and 6800 A."""
    made = direct_plant(
        chemistry="lfp",
        cells_per_block=16,
        blocks=1,
        capacity=100.0,
        bank={"strings": [{"id": "string-1"}, {"id": "string-2", "capacity": 200.0}]},
    )
    assert ends(level_at(FaultPaths(made), "bank"))[1] == pytest.approx(10200)


# the fuse of a string


@given(
    count=st.integers(2, 6),
    inside=st.floats(0.002, 0.05),
    length=st.floats(0.5, 6.0),
    area=st.sampled_from([25.0, 50.0, 70.0, 120.0]),
)
@settings(max_examples=25)
def test_the_fuse_of_a_string_sees_what_the_nodes_of_the_network_say(
    count: int, inside: float, length: float, area: float
) -> None:
    """Oracle: nodal analysis, solved by numpy, of like strings on a bus with one of them shorted."""
    at_post = Protection.model_validate(fuse("fuse-1", "string", "string-1", distance=0.0))
    leads = [run(f"lead-{n}", f"string-{n}", "bank", area=area, length=length) for n in range(1, count + 1)]
    made = direct_plant(strings=count, bank={"resistance": inside}, runs=leads)
    lead = 2 * length / 58.0 / area
    # nodes: the bus, and the post of the shorted string, which is held at 0 V beyond its lead
    admittance = np.array([[(count - 1) / (inside + lead) + 1 / lead]])
    bus = np.linalg.solve(admittance, np.array([(count - 1) * 48.0 / (inside + lead)]))[0]
    others = bus / lead
    high = ends(level_of_string(FaultPaths(made), "string-1", at_post))[1]
    assert high == pytest.approx(max(others, 48.0 / inside), rel=1e-9)


@pytest.mark.parametrize("distance", [0.0, 0.5, 1.0, 2.0, 3.0])
def test_a_fuse_further_along_the_lead_sees_more_of_the_other_strings(distance: float) -> None:
    """Oracle: Ohm's law; two others of 5 mΩ behind leads of 2 m, and what of its own lead lies beyond it."""
    guard = Protection.model_validate(fuse("fuse-1", "string", "string-1", distance=distance))
    leads = [run(f"lead-{n}", f"string-{n}", "bank", area=50.0, length=2.0) for n in (1, 2, 3)]
    made = direct_plant(strings=3, bank={"resistance": 0.005}, runs=leads)
    lead = 2 * 2.0 / 58.0 / 50.0
    beyond = lead * max(0.0, 2.0 - distance) / 2.0
    wanted = max(48.0 / 0.005, 48.0 / ((0.005 + lead) / 2 + beyond))
    assert ends(level_of_string(FaultPaths(made), "string-1", guard))[1] == pytest.approx(wanted, rel=1e-9)


def test_a_lone_string_is_seen_by_its_own_fuse() -> None:
    made = direct_plant(bank={"resistance": 0.012})
    guard = Protection.model_validate(fuse("fuse-1", "string", "string-1"))
    assert ends(level_of_string(FaultPaths(made), "string-1", guard))[1] == pytest.approx(4000)


# devices


def lithium(interrupting: Any, **more: Any) -> dict[str, Any]:
    """Return a lithium bank of 1700 to 3400 A at its posts and its main fuse."""
    guard = fuse("fuse-main", "bank", "bank", interrupting=interrupting)
    pack = {"chemistry": "lfp", "cells_per_block": 16, "blocks": 1, "capacity": 100.0}
    return {**pack, "protection": [guard], **more}


@pytest.mark.parametrize(
    ("interrupting", "kind"),
    [
        (1699.0, "stop"),
        (1700.0, "correct"),
        (3399.0, "correct"),
        (3400.0, None),
        ("unknown", "not checked"),
    ],
)
def test_a_rating_is_judged_against_both_ends_of_the_range(interrupting: Any, kind: str | None) -> None:
    """NEC 110.9, from memory: not under the current available; exactly on it counts as inside."""
    made = found(check_fault_level, direct_plant(**lithium(interrupting)))
    if kind is None:
        assert not made
        return
    finding = made["interrupting-rating:fuse-main"]
    assert finding.kind == kind
    if kind == "stop":
        assert not finding.releasable
    if kind == "not checked":
        assert "interrupting rating of fuse-main" in finding.text


def test_the_maker_s_figure_ends_the_doubt() -> None:
    told = direct_plant(**lithium(2500.0, bank={"short_circuit_current": 2400.0}))
    assert not found(check_fault_level, told)
    worse = direct_plant(**lithium(2500.0, bank={"short_circuit_current": 2600.0}))
    assert found(check_fault_level, worse)["interrupting-rating:fuse-main"].kind == "stop"


def test_the_remedy_is_the_next_class_that_covers_the_high_end() -> None:
    doubt = direct_plant(**lithium(2500.0))
    first = offered(check_fault_level, doubt, "interrupting-rating:fuse-main").remedies[0]
    assert [change.value for change in first.change] == [5000.0]
    assert "maker's short-circuit current" in first.text
    assert not found(check_fault_level, changed(doubt, first.change))


def test_a_device_further_out_is_released_by_a_second_person_only() -> None:
    made = direct_plant(
        [fuse("fuse-main", "bank", "bank"), breaker("breaker-a", "branch", "load-a", interrupting=1000.0)],
        [run("run-main", "bank", "panel"), run("run-a", "panel", "load-a", protection="breaker-a")],
        bank={"resistance": 0.012},
    )
    finding = found(check_fault_level, made)["interrupting-rating:breaker-a"]
    assert (finding.kind, finding.releasable) == ("stop", True)


def test_a_device_at_the_panel_sees_the_main_run_and_one_at_the_posts_does_not() -> None:
    protection = [
        fuse("fuse-main", "bank", "bank", interrupting=6800.0),
        breaker("breaker-a", "branch", "load-a", interrupting=6100.0),
    ]
    runs = [
        run("run-main", "bank", "panel", **RUN_50),
        run("run-a", "panel", "load-a", protection="breaker-a"),
    ]
    made = direct_plant(protection, runs, bank={"resistance": 0.007})
    assert set(found(check_fault_level, made)) == {
        "interrupting-rating:fuse-main"
    }  # 6857 A; 48 V ÷ 8 mΩ = 6000


@pytest.mark.parametrize(
    ("interrupting", "kind"), [(7000.0, None), (6500.0, "not checked")], ids=["enough anyway", "depends"]
)
def test_an_unknown_cable_is_asked_for_only_where_it_matters(interrupting: float, kind: str | None) -> None:
    protection = [
        fuse("fuse-main", "bank", "bank"),
        breaker("breaker-a", "branch", "load-a", interrupting=interrupting),
    ]
    runs = [
        run("run-main", "bank", "panel", length="unknown"),
        run("run-a", "panel", "load-a", protection="breaker-a"),
    ]
    made = found(check_fault_level, direct_plant(protection, runs, bank={"resistance": 0.007}))
    if kind is None:
        assert not made
    else:
        finding = made["interrupting-rating:breaker-a"]
        assert finding.kind == kind
        assert "length of run-main" in finding.text


def test_a_device_of_an_unknown_place_is_taken_at_the_posts() -> None:
    loose = breaker("breaker-a", "branch", "load-a", interrupting=6500.0)
    made = direct_plant([fuse("fuse-main", "bank", "bank"), loose], bank={"resistance": 0.007})
    finding = found(check_fault_level, made)["interrupting-rating:breaker-a"]
    assert finding.kind == "not checked"
    assert "between the bank and breaker-a" in finding.text
    enough = direct_plant(
        [fuse("fuse-main", "bank", "bank"), loose | {"interrupting": 6900.0}], bank={"resistance": 0.007}
    )
    assert not found(check_fault_level, enough)


def test_an_array_s_breaker_sees_the_array() -> None:
    """NEC 690.8(A)(1): 125 % of short-circuit current; one string of 11.2 A drives 14.0 A."""
    array = {"series": 3, "strings": [{"id": "pv-1a"}], "short_circuit_current": 11.2}
    controller = {"id": "controller-1", "profile": "controller-48v-60-buck-150", "array": array}
    for interrupting, raised in ((13.9, True), (14.0, False)):
        guard = breaker("breaker-pv", "array", "controller-1", interrupting=interrupting)
        made = direct_plant([fuse("fuse-main", "bank", "bank"), guard], controllers=(controller,))
        assert ("interrupting-rating:breaker-pv" in found(check_fault_level, made)) is raised


def test_the_number_can_say_why() -> None:
    finding = found(check_fault_level, direct_plant(**lithium(1000.0)))["interrupting-rating:fuse-main"]
    assert finding.value is not None
    sources = " ".join(line.source for line in why(finding.value))
    assert "lfp.resistance_capacity" in sources
    assert "bank.capacity" in sources


# trading


def test_more_copper_takes_along_the_device_that_it_overstrains() -> None:
    """A long thin feeder: its fuse opens late; a thicker one drives more than the far breaker can break."""
    protection = [
        fuse("fuse-main", "bank", "bank", 400.0),
        fuse("fuse-sub", "branch", "sub-panel", 200.0, instant_trip=1500.0),
        breaker("breaker-a", "branch", "load-a", 20.0, interrupting=2000.0),
    ]
    runs = [
        run("run-main", "bank", "panel", area=120.0, length=1.0, protection="fuse-main"),
        run("run-sub", "panel", "sub-panel", area=35.0, length=20.0, protection="fuse-sub"),
        run("run-a", "sub-panel", "load-a", area=10.0, length=1.0, protection="breaker-a"),
    ]
    made = direct_plant(protection, runs, bank={"resistance": 0.007}, place=IEC)
    finding = next(one for one in checked_sheet(made).findings if one.id == "fault-clearing:run-sub")
    assert finding.remedy.startswith("run-sub in 50 mm²; and with it breaker-a of a kind that breaks 6000 A")
    before = {one.id for one in checked_sheet(made, ()).findings if one.kind != "advise"}
    thicker = checked_sheet(changed(made, finding.change[:1]), ())
    assert {one.id for one in thicker.findings if one.kind != "advise"} - before  # by itself it is no remedy
    both = checked_sheet(changed(made, finding.change), ())
    assert {one.id for one in both.findings if one.kind != "advise"} < before


# properties

_RANK = {None: 0, "correct": 1, "stop": 2}


@given(lower=st.floats(100.0, 60000.0), more=st.floats(0.0, 60000.0), strings=st.integers(1, 6))
@settings(max_examples=40)
def test_a_larger_interrupting_rating_never_adds_or_worsens_a_finding(
    lower: float, more: float, strings: int
) -> None:
    def kinds(interrupting: float) -> dict[str, str]:
        protection = [
            fuse("fuse-main", "bank", "bank", interrupting=interrupting),
            *(
                fuse(f"fuse-{n}", "string", f"string-{n}", interrupting=interrupting)
                for n in range(1, strings + 1)
            ),
        ]
        made = direct_plant(
            protection,
            [run("run-main", "bank", "panel")],
            chemistry="lfp",
            cells_per_block=16,
            blocks=1,
            strings=strings,
        )
        return {ident: one.kind for ident, one in found(check_fault_level, made).items()}

    small, large = kinds(lower), kinds(lower + more)
    assert set(large) <= set(small)
    assert all(_RANK[large[ident]] <= _RANK[small[ident]] for ident in large)


@given(length=st.floats(0.1, 30.0), more=st.floats(0.0, 30.0), area=st.sampled_from([16.0, 50.0, 120.0]))
@settings(max_examples=40)
def test_a_longer_cable_never_drives_more(length: float, more: float, area: float) -> None:
    def high(metres: float) -> float:
        made = direct_plant(runs=[run("run-main", "bank", "panel", area=area, length=metres)])
        return ends(level_at(FaultPaths(made), "panel"))[1]

    assert high(length + more) <= high(length) + 1e-9
