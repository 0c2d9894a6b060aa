"""Least short-circuit currents of DC runs against what opens for them, and devices in series."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from commission.design.bank_fault import least_current
from commission.design.direct_clearing import check_direct_clearing, clears_at
from commission.design.fault_paths import FaultPaths
from commission.design.selectivity import check_selectivity
from commission.figure import Figure
from commission.plant.change import changed
from commission.plant.plant import Plant
from tests.design.direct_plants import IEC, breaker, direct_plant, found, fuse, offered, run

HOT = 1 + 0.00393 * (75 - 20)
"""Copper at the 75 °C of its terminals: IEC 60028."""


def branch(
    rating: float = 32.0,
    length: Any = 6.0,
    area: Any = 10.0,
    guard: dict[str, Any] | None = None,
    **more: Any,
) -> Plant:
    """Return a bank of 7.2 mΩ with a main run and one branch to a load."""
    own = guard or breaker("breaker-a", "branch", "load-a", rating)
    runs = [
        run("run-main", "bank", "panel", area=95.0, length=1.0, protection="fuse-main"),
        run("run-a", "panel", "load-a", area=area, length=length, protection=own["id"]),
    ]
    more.setdefault("bank", {"resistance": 0.0072})
    return direct_plant([fuse("fuse-main", "bank", "bank", 250.0), own], runs, **more)


def least(made: Plant, ident: str = "run-a") -> float:
    """Return the least current at the far end of a run."""
    paths = FaultPaths(made)
    current = least_current(paths, next(one for one in made.site.runs if one.id == ident))
    assert isinstance(current, Figure)
    return current.value


# the current


def test_the_least_current_is_of_an_empty_bank_and_hot_cables() -> None:
    """IEC 60228 class 5: 95 mm² 0.206 and 10 mm² 1.91 mΩ/m at 20 °C; 24 × 1.95 V, 7.2 mΩ, own arithmetic."""
    loop = 0.0072 + HOT * 2 * (1 * 0.000206 + 6 * 0.00191)
    assert least(branch(place=IEC)) == pytest.approx(24 * 1.95 / loop, rel=1e-9)


def test_copper_at_its_working_temperature_by_the_american_table() -> None:
    """NEC chapter 9 table 8: 12 AWG stranded, 1.98 Ω per 1000 ft at 75 °C; 20 ft out and back, 12 mΩ."""
    lights = run("run-a", "bank", "load-a", area=3.31, length=20 * 0.3048, protection="breaker-a")
    made = direct_plant([breaker("breaker-a", "branch", "load-a")], [lights], bank={"resistance": 0.012})
    assert least(made) == pytest.approx(24 * 1.95 / (0.012 + 2 * 20 * 1.98 / 1000), rel=1e-3)


def test_the_resistance_is_the_high_end_where_it_is_estimated() -> None:
    """Data sheets in general: AGM up to 0.12 Ω·Ah; 24 cells of 200 Ah: 14.4 mΩ; no share of it taken."""
    made = direct_plant(
        [fuse("fuse-main", "bank", "bank")],
        [run("run-main", "bank", "panel", area=95.0, length=1.0, protection="fuse-main")],
        place=IEC,
    )
    loop = 0.0144 + HOT * 2 * 0.000206
    assert least(made, "run-main") == pytest.approx(24 * 1.95 / loop, rel=1e-9)


def test_a_string_s_lead_is_fed_by_its_own_string() -> None:
    """IEC 60228 class 5: 50 mm² 0.386 mΩ/m at 20 °C; own arithmetic."""
    made = direct_plant(
        [fuse(f"fuse-{n}", "string", f"string-{n}") for n in (1, 2)],
        [
            run(f"lead-{n}", f"string-{n}", "bank", area=50.0, length=2.0, protection=f"fuse-{n}")
            for n in (1, 2)
        ],
        strings=2,
        bank={"resistance": 0.02},
        place=IEC,
    )
    loop = 0.02 + HOT * 2 * 2 * 0.000386
    assert least(made, "lead-1") == pytest.approx(24 * 1.95 / loop, rel=1e-9)


# what opens


@pytest.mark.parametrize(
    ("guard", "needed"),
    [
        pytest.param({"curve": "B"}, 80.0, id="curve B at 5 times: IEC 60898-1 table 7, from memory"),
        pytest.param({"curve": "C"}, 160.0, id="curve C at 10 times: IEC 60898-1 table 7, from memory"),
        pytest.param({"curve": "D"}, 320.0, id="curve D at 20 times: IEC 60898-1 table 7, from memory"),
        pytest.param({}, 160.0, id="no curve told, 10 times: common practice"),
        pytest.param({"kind": "fuse"}, 128.0, id="gG fuse at 8 times: IEC 60269-1 gates, from memory"),
        pytest.param({"instant_trip": 96.0}, 96.0, id="as the maker states it"),
    ],
)
def test_the_current_that_opens_a_device(guard: dict[str, Any], needed: float) -> None:
    made = branch(guard=breaker("breaker-a", "branch", "load-a", 16.0, **guard), place=IEC)
    current = clears_at(made, next(one for one in made.site.protection if one.id == "breaker-a"))
    assert isinstance(current, Figure)
    assert current.value == pytest.approx(needed)


def test_exactly_enough_current_clears_and_less_does_not() -> None:
    current = least(branch())
    for trip, raised in ((current, False), (current + 1.0, True)):
        guard = breaker("breaker-a", "branch", "load-a", 32.0, instant_trip=trip)
        assert ("fault-clearing:run-a" in found(check_direct_clearing, branch(guard=guard))) is raised


def test_a_run_without_a_device_of_its_own_is_cleared_by_the_one_before() -> None:
    runs = [
        run("run-main", "bank", "panel", area=95.0, length=1.0, protection="fuse-main"),
        run("run-a", "panel", "load-a", area=4.0, length=20.0),
    ]
    made = direct_plant([fuse("fuse-main", "bank", "bank", 250.0)], runs, bank={"resistance": 0.0072})
    finding = found(check_direct_clearing, made)["fault-clearing:run-a"]
    assert finding.kind == "correct"
    assert "fuse-main" in finding.text


def test_strings_devices_alone_see_their_part_of_the_current() -> None:
    """Own arithmetic: two strings of 20 mΩ give 4680 A; two fuses of 250 A need 4000 A, of 315 A 5040 A."""
    for rating, raised in ((250.0, False), (315.0, True)):
        made = direct_plant(
            [fuse(f"fuse-{n}", "string", f"string-{n}", rating) for n in (1, 2)],
            [run("run-main", "bank", "panel", area=240.0, length=0.1)],
            strings=2,
            bank={"resistance": 0.02},
        )
        assert ("fault-clearing:run-main" in found(check_direct_clearing, made)) is raised


def test_an_unknown_length_is_asked_for() -> None:
    finding = found(check_direct_clearing, branch(length="unknown"))["fault-clearing:run-a"]
    assert (finding.kind, "length of run-a" in finding.text) == ("not checked", True)


def test_remedies_are_a_quicker_curve_a_smaller_device_and_more_copper() -> None:
    guard = breaker("breaker-a", "branch", "load-a", 63.0, curve="C")
    made = branch(guard=guard, area=6.0, length=15.0, place=IEC)
    remedies = offered(check_direct_clearing, made, "fault-clearing:run-a").remedies
    keys = [remedy.change[0].key.rsplit(".", 1)[-1] for remedy in remedies]
    assert keys[0] == "curve"
    assert {"rating", "area"} <= set(keys)
    for remedy in remedies:
        assert "fault-clearing:run-a" not in found(check_direct_clearing, changed(made, remedy.change)), (
            remedy.text
        )


@given(length=st.floats(0.5, 60.0), shorter=st.floats(0.1, 1.0))
@settings(max_examples=30)
def test_a_shorter_run_never_adds_a_finding(length: float, shorter: float) -> None:
    long = set(found(check_direct_clearing, branch(length=length)))
    assert set(found(check_direct_clearing, branch(length=length * shorter))) <= long


@given(rating=st.sampled_from([6.0, 16.0, 32.0, 63.0, 100.0, 200.0]), part=st.floats(0.1, 1.0))
@settings(max_examples=30)
def test_a_smaller_device_never_adds_a_finding(rating: float, part: float) -> None:
    large = set(found(check_direct_clearing, branch(rating=rating, length=20.0)))
    assert set(found(check_direct_clearing, branch(rating=rating * part, length=20.0))) <= large


# management


@pytest.mark.parametrize(
    ("discharge", "kind"), [(100.0, "advise"), (5000.0, None), ("unknown", "not checked")]
)
def test_packs_that_open_before_the_fuse_are_told(discharge: Any, kind: str | None) -> None:
    """Common practice: rate the fuse for the cells, and know that the management may open first."""
    made = branch(
        chemistry="lfp",
        cells_per_block=16,
        blocks=1,
        bank={"resistance": 0.0072, "management": {"discharge_current": discharge}},
    )
    finding = found(check_direct_clearing, made).get("management-opens-first:bank")
    assert (finding and finding.kind) == kind


def test_a_bank_without_management_is_not_asked_for_its_limit() -> None:
    assert not found(check_direct_clearing, branch())


# devices in series


def pair(rating: float, main: float, rules: str = "iec-230") -> dict[str, Any]:
    """Return what selectivity finds of a branch behind a main fuse."""
    runs = [
        run("run-main", "bank", "panel", protection="fuse-main"),
        run("run-a", "panel", "load-a", protection="fuse-a"),
    ]
    protection = [fuse("fuse-main", "bank", "bank", main), fuse("fuse-a", "branch", "load-a", rating)]
    made = direct_plant(protection, runs, place={"rules": rules})
    return {one.id: one.kind for one in found(check_selectivity, made).values()}


@pytest.mark.parametrize(
    ("rating", "main", "rules", "kind"),
    [
        pytest.param(
            100.0, 160.0, "iec-230", None, id="160 behind 100 is 1.6 to 1: IEC 60269-2, from memory"
        ),
        pytest.param(100.0, 125.0, "iec-230", "advise", id="125 before 100 is under 1.6 to 1: IEC 60269-2"),
        pytest.param(100.0, 160.0, "north-america", "advise", id="under 2 to 1: common practice"),
        pytest.param(100.0, 200.0, "north-america", None, id="2 to 1: common practice"),
        pytest.param(100.0, 100.0, "iec-230", "advise", id="alike: both open"),
        pytest.param(125.0, 100.0, "iec-230", "correct", id="larger than the one before it"),
    ],
)
def test_a_branch_opens_before_the_main(rating: float, main: float, rules: str, kind: str | None) -> None:
    assert pair(rating, main, rules).get("selectivity:fuse-a+fuse-main") == kind


def test_the_next_device_upstream_counts_and_not_the_main() -> None:
    runs = [
        run("run-main", "bank", "panel", protection="fuse-main"),
        run("run-sub", "panel", "sub-panel", protection="fuse-sub"),
        run("run-a", "sub-panel", "load-a", protection="fuse-a"),
    ]
    protection = [
        fuse("fuse-main", "bank", "bank", 400.0),
        fuse("fuse-sub", "branch", "sub-panel", 63.0),
        fuse("fuse-a", "branch", "load-a", 80.0),
    ]
    made = direct_plant(protection, runs, place=IEC)
    assert set(found(check_selectivity, made)) == {"selectivity:fuse-a+fuse-sub"}
    for remedy in offered(check_selectivity, made, "selectivity:fuse-a+fuse-sub").remedies:
        after = found(check_selectivity, changed(made, remedy.change))
        assert all(one.kind == "advise" for one in after.values()), remedy.text


@pytest.mark.parametrize(("rating", "raised"), [(150.0, True), (160.0, False)])
def test_strings_devices_together_outlast_the_main(rating: float, raised: bool) -> None:
    """IEC 60269-2, from memory: 1.6 to 1; two strings of 160 A before a main of 200 A."""
    protection = [
        fuse("fuse-main", "bank", "bank", 200.0),
        *(fuse(f"fuse-{n}", "string", f"string-{n}", rating) for n in (1, 2)),
    ]
    made = found(check_selectivity, direct_plant(protection, strings=2, place=IEC))
    assert ("string-selectivity:fuse-main" in made) is raised
