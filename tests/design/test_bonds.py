"""Bonds of neutral and earth: one at any moment in TN and TT, none in IT.

Sources: IEC 60364-1 312.2 and IEC 60364-5-55 551; NEC 250.20(B), 250.24(A)(5), 250.30(A)(1); sets with a
bonded frame behind an unswitched neutral are no separately derived system, NEC 250.30 note (from memory).
"""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from commission.design.bond_places import ISLAND, bonds_of, ways
from commission.design.bonds import check_bonds
from commission.plant.plant import Plant
from commission.plant.site import Panel
from tests.builders import plant
from tests.design.alternating_plants import found, generator, inverter, kinds, mode, supplied

BEHIND: dict[str, Any] = {"inputs": {"generator": "generator-1"}}
TWO_MODES = (mode("island", "inverter-1"), mode("generator-1", "generator-1"))


def one_set(unit: dict[str, Any] | None = None, source: dict[str, Any] | None = None, **more: Any) -> Plant:
    """Return an inverter with a set behind it."""
    more.setdefault("modes", TWO_MODES)
    return supplied(inverter(**BEHIND, **(unit or {})), generator(**(source or {})), **more)


def places(made: Plant) -> dict[str, tuple[str, ...]]:
    """Return where the bonds of each way of feeding are."""
    return {way.mode: bonds_of(made, way).places for way in ways(made)}


# sound plants


def test_an_automatic_bond_gives_way_to_the_bonded_frame_of_a_set_with_its_neutral_switched() -> None:
    made = one_set()
    assert places(made) == {"island": ("inverter-1",), "generator-1": ("generator-1",)}
    assert not found(check_bonds, made)


def test_a_bond_at_the_panel_serves_every_mode_of_a_solidly_connected_neutral() -> None:
    # NEC 250.30 note: a set whose neutral is not switched takes the bond of the service
    made = one_set(
        {"neutral_bond": "none"},
        {"neutral_bond": "none", "neutral_switched": False},
        panel={"neutral_bar_bonded": True},
        modes=(mode("island", "ac-panel"), mode("generator-1", "ac-panel")),
    )
    assert not found(check_bonds, made)


def test_units_of_one_group_need_one_bond_and_units_alone_one_each() -> None:
    modes = [mode("island", "inverter-1", "inverter-2")]
    group = {"group": "house"}
    follower = inverter("inverter-2", group_role="follower", **group)
    joined = supplied(inverter(group_role="reference", **group), follower, modes=modes)
    assert kinds(check_bonds, joined) == {("stop", "neutral-bond:island+inverter-1+inverter-2")}
    alone = supplied(inverter(), inverter("inverter-2"), modes=modes)
    assert not found(check_bonds, alone)


def test_an_it_system_has_no_bond_and_a_monitor() -> None:
    it = [mode("island", earthing="IT")]
    made = supplied(inverter(neutral_bond="none"), modes=it, safety={"insulation_monitor": True})
    assert not found(check_bonds, made)


def test_a_plant_without_alternating_current_has_nothing_to_bond() -> None:
    assert not found(check_bonds, plant())


# missing, double


@pytest.mark.parametrize(
    ("unit", "source", "raised"),
    [
        ({"neutral_bond": "none"}, {}, {"neutral-bond:island+inverter-1"}),
        ({"neutral_bond": "fixed"}, {}, {"neutral-bond:generator-1"}),
        ({}, {"neutral_bond": "none"}, {"neutral-bond:generator-1"}),
        ({}, {"neutral_switched": False}, {"neutral-bond:island+inverter-1"}),
        ({"neutral_bond": "fixed"}, {"neutral_bond": "none"}, set()),
        ({}, {"neutral_bond": "switched", "neutral_switched": False}, set()),
    ],
)
def test_a_missing_or_double_bond_stops_and_nobody_releases_it(
    unit: dict[str, Any], source: dict[str, Any], raised: set[str]
) -> None:
    fixed = unit.get("neutral_bond") == "fixed" and source.get("neutral_bond") == "none"
    modes = (mode("island", "inverter-1"), mode("generator-1", "inverter-1")) if fixed else TWO_MODES
    findings = found(check_bonds, one_set(unit, source, modes=modes))
    assert set(findings) == raised
    assert all(one.kind == "stop" and not one.releasable for one in findings.values())


def test_a_plugged_set_with_a_bonded_frame_on_an_unswitched_neutral_is_found() -> None:
    # IEC 60364-5-55 551.4 and NEC 250.34: the frame's bond goes and comes with the plug
    plugged = {"neutral_switched": False, "by_plug": True}
    double = found(check_bonds, one_set(source=plugged))["neutral-bond:island+inverter-1"]
    assert "while its plug is in" in double.text
    bare = one_set(
        {"neutral_bond": "none"}, plugged, modes=(mode("island"), mode("generator-1", "generator-1"))
    )
    missing = found(check_bonds, bare)["neutral-bond:island+inverter-1"]
    assert "unplugged" in missing.text


def test_a_wired_set_may_carry_the_only_bond() -> None:
    wired = one_set(
        {"neutral_bond": "none"},
        {"neutral_switched": False},
        modes=(mode("island", "generator-1"), mode("generator-1", "generator-1")),
    )
    assert not found(check_bonds, wired)


def test_a_bonded_service_panel_is_the_public_supply_s_own_bond() -> None:
    # NEC 250.24(A): the bond stands at the service, whatever the transformer has
    utility = {"connection": "single", "neutral_switched": True}
    service = {
        "id": "service",
        "kind": "ac",
        "neutral_bar_bonded": True,
    }
    runs = [{"id": "run-utility", "kind": "ac", "from": "utility", "to": "service"}]
    made = supplied(
        inverter(inputs={"utility": "utility"}),
        utility=utility,
        runs=runs,
        modes=(mode("island", "inverter-1"), mode("utility", "utility")),
    )
    site = made.site.model_copy(update={"panels": (*made.site.panels, *_panels(service))})
    assert not found(check_bonds, made.model_copy(update={"site": site}))


def _panels(*rows: dict[str, Any]) -> tuple[Panel, ...]:
    return tuple(Panel.model_validate(row) for row in rows)


def test_an_unswitched_public_neutral_keeps_its_bond_in_the_island() -> None:
    utility = {"connection": "single", "neutral_switched": False}
    modes = (mode("island", "inverter-1"), mode("utility", "utility"))
    made = supplied(inverter(inputs={"utility": "utility"}), utility=utility, modes=modes)
    assert kinds(check_bonds, made) == {("stop", "neutral-bond:island+inverter-1")}


def test_a_bond_in_an_it_system_stops() -> None:
    made = supplied(
        inverter(), modes=[mode("island", "inverter-1", earthing="IT")], safety={"insulation_monitor": True}
    )
    finding = found(check_bonds, made)["neutral-bond:island+inverter-1"]
    assert finding.kind == "stop"
    assert "IT" in finding.text


# monitor, plan, gaps


@pytest.mark.parametrize(("told", "kind"), [(False, "correct"), ("unknown", "not checked")])
def test_an_it_system_without_a_monitor_is_found(told: object, kind: str) -> None:
    # IEC 60364-4-41, 411.6.3.1
    made = supplied(
        inverter(neutral_bond="none"),
        modes=[mode("island", earthing="IT")],
        safety={"insulation_monitor": told},
    )
    assert kinds(check_bonds, made) == {(kind, "insulation-monitor:island")}


def test_a_plan_that_places_the_bond_elsewhere_is_found() -> None:
    made = one_set(modes=(mode("island", "generator-1"), mode("generator-1", "generator-1")))
    assert kinds(check_bonds, made) == {("correct", "bond-plan:island+inverter-1")}


def test_a_mode_that_the_plan_does_not_name_is_asked_for() -> None:
    made = one_set(modes=(mode("island", "inverter-1"),))
    assert kinds(check_bonds, made) == {("not checked", "earthing-mode:generator-1")}


def test_one_unknown_is_asked_for_once_over_all_modes() -> None:
    made = one_set({"neutral_bond": "unknown"}, modes=(mode("island"), mode("generator-1", "generator-1")))
    findings = found(check_bonds, made)
    assert set(findings) == {"neutral-bond:island+generator-1"}
    assert findings["neutral-bond:island+generator-1"].kind == "not checked"
    assert "neutral bond of inverter-1" in findings["neutral-bond:island+generator-1"].text


def test_an_unknown_cannot_hide_a_double_bond() -> None:
    made = one_set({"neutral_bond": "fixed"}, {"neutral_switched": "unknown"})
    assert ("stop", "neutral-bond:generator-1") in kinds(check_bonds, made)


def test_the_plan_stands_in_for_a_device_whose_bond_is_not_told() -> None:
    made = supplied(inverter(neutral_bond="unknown"), modes=[mode("island", "inverter-1")])
    assert not found(check_bonds, made)


@settings(max_examples=25)
@given(
    bonds=st.lists(st.sampled_from(["automatic", "fixed", "none"]), min_size=1, max_size=4),
    earthing=st.sampled_from(["TN", "TT"]),
)
def test_an_island_is_sound_exactly_when_one_unit_of_the_group_is_bonded(
    bonds: list[str], earthing: str
) -> None:
    units = [
        inverter(f"inverter-{number}", neutral_bond=bond, group="house")
        for number, bond in enumerate(bonds, start=1)
    ]
    bonded = [unit["id"] for unit in units if unit["neutral_bond"] != "none"]
    made = supplied(*units, modes=[mode("island", *bonded, earthing=earthing)])
    (way,) = [way for way in ways(made) if way.mode == ISLAND]
    assert bonds_of(made, way).places == tuple(bonded)
    assert bool(found(check_bonds, made)) == (len(bonded) != 1)
