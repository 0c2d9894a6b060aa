"""Safety gear: detection, shutdown, isolators, surge protection and what the emergency stop reaches.

Sources: NEC 690.11 (arc faults from 80 V dc on or in a building), 690.12 (rapid shutdown), 690.41(B) (earth
faults), 690.15 (means to part equipment); IEC 62548 6.4 and IEC 60364-7-712 for detection and switches.
"""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from commission.design.emergency_stop import check_emergency_stop, sources
from commission.design.safety import check_safety
from commission.design.types import Scene
from commission.figure import Figure
from commission.plant.plant import Plant
from commission.sheet.settle import make_sheet
from tests.builders import plant
from tests.design.alternating_plants import found, generator, inverter, kinds, supplied

WHOLE = {
    "array_on_building": True,
    "earth_fault_detection": True,
    "arc_fault_detection": True,
    "rapid_shutdown": True,
}
SWITCH = {"id": "switch-pv", "kind": "switch", "current": "dc", "protects": "array", "of": "controller-1"}
SURGE = {"id": "surge-pv", "kind": "surge", "current": "dc", "protects": "array", "of": "pv-1"}


def with_array(
    *,
    series: int = 3,
    rules: str = "north-america",
    safety: dict[str, Any] | None = None,
    guards: tuple[dict[str, Any], ...] = (SWITCH, SURGE),
    array: dict[str, Any] | None = None,
    **sections: Any,
) -> Plant:
    """Return a plant with one array of modules of 40 V; record low −15 °C."""
    modules = {
        "series": series,
        "strings": [{"id": "pv-1"}],
        "open_circuit_voltage": 40.0,
        "short_circuit_current": 10.0,
        "voltage_coefficient": -0.25,
    }
    controller = {
        "id": "controller-1",
        "profile": "controller-48v-60-buck-150",
        "array": modules | (array or {}),
    }
    return plant(
        controllers=(controller,),
        place={"rules": rules, "units": "metric"},
        protection=list(guards),
        safety=WHOLE | (safety or {}),
        **sections,
    )


def test_a_plant_with_everything_has_no_finding() -> None:
    assert not found(check_safety, with_array())


@pytest.mark.parametrize("field", ["earth_fault_detection", "arc_fault_detection", "rapid_shutdown"])
@pytest.mark.parametrize(("told", "kind"), [(False, "correct"), ("unknown", "not checked")])
def test_what_is_missing_is_mended_and_what_is_unknown_is_asked(field: str, told: object, kind: str) -> None:
    check = field.replace("_", "-")
    assert kinds(check_safety, with_array(safety={field: told})) == {(kind, f"{check}:site")}


@pytest.mark.parametrize(
    ("series", "raised"),
    [
        (1, set()),  # 40 V × (1 + 0.25 % × 40 K) = 44 V
        (2, {("correct", "arc-fault-detection:site")}),  # 88 V, from 80 V on by NEC 690.11
    ],
)
def test_arc_faults_count_from_the_code_s_voltage_in_the_cold(
    series: int, raised: set[tuple[str, str]]
) -> None:
    made = with_array(series=series, safety={"arc_fault_detection": False})
    assert kinds(check_safety, made) == raised


def test_the_arc_fault_finding_has_the_cold_voltage_and_the_limit() -> None:
    finding = found(check_safety, with_array(series=2, safety={"arc_fault_detection": False}))[
        "arc-fault-detection:site"
    ]
    assert isinstance(finding.value, Figure)
    assert isinstance(finding.limit, Figure)
    assert finding.value.value == pytest.approx(88.0)
    assert finding.limit.value == pytest.approx(80.0)


def test_off_buildings_neither_arc_detection_nor_rapid_shutdown_is_wanted() -> None:
    off = {"array_on_building": False, "arc_fault_detection": False, "rapid_shutdown": False}
    assert not found(check_safety, with_array(safety=off))


def test_where_it_is_not_known_whether_on_a_building_it_is_asked() -> None:
    unknown = {"array_on_building": "unknown", "arc_fault_detection": False, "rapid_shutdown": False}
    assert kinds(check_safety, with_array(safety=unknown)) == {
        ("not checked", "arc-fault-detection:site"),
        ("not checked", "rapid-shutdown:site"),
    }


def test_a_region_that_asks_for_neither_does_not_ask() -> None:
    unknown = dict.fromkeys(("array_on_building", "arc_fault_detection", "rapid_shutdown"), "unknown")
    assert not found(check_safety, with_array(rules="iec-230", safety=unknown))


def test_an_array_whose_voltage_is_unknown_cannot_pass() -> None:
    made = with_array(array={"open_circuit_voltage": "unknown"}, safety={"arc_fault_detection": False})
    assert kinds(check_safety, made) == {("not checked", "arc-fault-detection:site")}


# isolator, surge


@pytest.mark.parametrize(
    ("guards", "raised"),
    [
        ((SURGE,), {("correct", "array-isolator:controller-1")}),
        ((SURGE, SWITCH | {"kind": "fuse"}), {("correct", "array-isolator:controller-1")}),
        ((SURGE, SWITCH | {"kind": "breaker", "of": "pv-1"}), set()),
        ((SWITCH,), {("advise", "surge-protection:controller-1")}),
    ],
)
def test_an_array_is_parted_under_load_and_guarded_from_surges(
    guards: tuple[dict[str, Any], ...], raised: set[tuple[str, str]]
) -> None:
    assert kinds(check_safety, with_array(guards=guards)) == raised


def test_the_isolator_offered_carries_the_array_in_the_cold_and_the_sun() -> None:
    # NEC 690.8: 10 A × 1.25 × 1.25 = 15.6 A, next 20 A; 3 × 44 V = 132 V in the cold
    made = with_array(guards=(SURGE,))
    (bare,) = check_safety(Scene(made, make_sheet(made)))
    (change,) = bare.remedies[0].change
    assert change.value["rating"] == 20.0
    assert change.value["voltage"] >= 132.0
    assert change.value["poles"] == 2


def test_a_public_supply_wants_surge_protection_where_it_enters() -> None:
    utility = {"connection": "single"}
    bare = with_array(utility=utility)
    assert kinds(check_safety, bare) == {("advise", "surge-protection:utility")}
    surge = {"id": "surge-utility", "kind": "surge", "current": "ac", "of": "utility"}
    assert not found(check_safety, with_array(utility=utility, guards=(SWITCH, SURGE, surge)))


# emergency stop


def with_stop(reached: object) -> Plant:
    """Return an inverter with a set that it starts, and what the emergency stop reaches."""
    return supplied(
        inverter(inputs={"generator": "generator-1"}),
        generator(started_by="inverter-1"),
        safety={"emergency_stop": reached},
    )


EVERY = ["inverter-1", "generator-1", "bank"]


@pytest.mark.parametrize(
    ("reached", "raised"),
    [
        (EVERY, set()),
        ([], {("correct", "emergency-stop:site")}),
        ("unknown", {("not checked", "emergency-stop:site")}),
        (["inverter-1", "bank"], {("correct", "emergency-stop:generator-1")}),
        (["generator-1"], {("correct", "emergency-stop:inverter-1"), ("correct", "emergency-stop:bank")}),
    ],
)
def test_the_emergency_stop_reaches_every_source(reached: object, raised: set[tuple[str, str]]) -> None:
    assert kinds(check_emergency_stop, with_stop(reached)) == raised


def test_a_set_that_starts_by_itself_is_named_as_such() -> None:
    finding = found(check_emergency_stop, with_stop(["inverter-1", "bank"]))["emergency-stop:generator-1"]
    assert "start by itself" in finding.text


def test_a_direct_current_plant_without_a_stop_is_advised() -> None:
    made = with_array(safety={"emergency_stop": []})
    assert kinds(check_emergency_stop, made) == {("advise", "emergency-stop:site")}


@settings(max_examples=25)
@given(reached=st.sets(st.sampled_from(EVERY), min_size=1), more=st.sampled_from(EVERY))
def test_reaching_more_never_adds_a_finding(reached: set[str], more: str) -> None:
    assert set(sources(with_stop([]))) == set(EVERY)
    assert kinds(check_emergency_stop, with_stop([*reached, more])) <= kinds(
        check_emergency_stop, with_stop([*reached])
    )
