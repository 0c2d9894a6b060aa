"""Bus bars against what feeds and guards them, breaker positions, and the directory."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from commission.design.panels import check_panels
from commission.design.positions import directory
from commission.design.types import Found, Scene
from commission.figure import Figure, why
from commission.plant.change import Change, changed
from commission.plant.files import load_plant
from commission.plant.places import data_folder
from commission.plant.plant import Plant
from commission.sheet.settle import make_sheet
from tests.builders import plant

_SHEET = make_sheet(load_plant(data_folder("sample_sites") / "tarnwold-cabin.toml").plant)
"""Panels are checked from the plant alone; any sheet does."""


def sample(site: str, **changes: Any) -> Plant:
    made = load_plant(data_folder("sample_sites") / f"{site}.toml").plant
    return changed(made, [Change(key, value) for key, value in changes.items()])


def found(made: Plant) -> dict[str, Found]:
    return {one.finding.id: one for one in check_panels(Scene(made, _SHEET))}


def number(quantity: object) -> float:
    assert isinstance(quantity, Figure)
    return quantity.value


def coupled(
    *, bus_bar: Any = 200, main: float = 200, pv: Any = 40, far: bool = True, **sections: Any
) -> Plant:
    """Return a split-phase inverter and PV on its AC side, on one panel of the NEC's published example."""
    guards = [
        {"id": "breaker-inverter", "kind": "breaker", "current": "ac", "rating": main, "of": "inverter-1"},
        {"id": "breaker-pv", "kind": "breaker", "current": "ac", "rating": pv, "of": "ac-pv-1"},
    ]
    positions = [
        {"position": "1", "holds": "breaker-inverter", "circuit": "inverter"},
        {"position": "12", "holds": "breaker-pv", "circuit": "roof", "far_end": far},
        {"position": "13", "circuit": "spare"},
    ]
    inverter = {
        "id": "inverter-1", "profile": "inverter-48v-120-240-8000", "group_leg": "both",
        "ac_breaker": "breaker-inverter",
    }  # fmt: skip
    pv_inverter = {
        "id": "ac-pv-1", "profile": "ac-pv-240-5000-droop", "leg": "both", "panel_breaker": "breaker-pv",
    }  # fmt: skip
    panel = {"id": "ac-panel", "kind": "ac", "bus_bar": bus_bar, "positions": positions}
    return plant(
        inverters=(inverter,), ac_pv_inverters=[pv_inverter], protection=guards, panels=[panel], **sections
    )


# bus bars of AC panels


@pytest.mark.parametrize(
    ("pv", "far", "limit"),
    [
        (40, True, None),  # NEC 2020, 705.12(B)(3)(2): 200 A bus bar, 200 A main, 40 A at the opposite end
        (45, True, 240.0),
        (40, False, 200.0),  # beside the main: the sum not over the bus bar, 705.12(B)(3)(1)
        (50, True, 240.0),
    ],
)
def test_the_published_example_of_the_bus_bar_rule(pv: float, far: bool, limit: float | None) -> None:
    one = found(coupled(pv=pv, far=far)).get("bus-bar:ac-panel")
    assert (one is None) is (limit is None)
    if one is not None and limit is not None:
        assert one.finding.kind == "correct"
        assert number(one.finding.value) == 200.0 + pv
        assert number(one.finding.limit) == pytest.approx(limit)


def test_the_far_end_is_offered_first_and_the_other_remedies_have_numbers_that_pass() -> None:
    one = found(coupled(far=False))["bus-bar:ac-panel"]
    first = one.remedies[0]
    assert first.change == (Change("panels[ac-panel].positions[12].far_end", True),)
    assert number(first.passes) == pytest.approx(240.0)
    assert one.remedies[1].change == (Change("panels[ac-panel].bus_bar", 250.0),)  # NEC 240.6(A)
    made = coupled(far=False)
    for remedy in one.remedies:
        assert "bus-bar:ac-panel" not in found(changed(made, remedy.change)), remedy.text


def test_a_breaker_too_large_for_the_far_end_may_shrink_to_what_the_rule_leaves() -> None:
    one = found(coupled(pv=50))["bus-bar:ac-panel"]
    smaller = [r for r in one.remedies if r.change[0].key == "protection[breaker-pv].rating"]
    assert [r.change[0].value for r in smaller] == [40.0]  # published with NEC 705.12(B)


def test_a_finding_says_why() -> None:
    one = found(coupled(pv=50))["bus-bar:ac-panel"].finding
    assert isinstance(one.limit, Figure)
    assert any("705.12" in line.source for line in why(one.limit))
    assert "breaker-inverter, breaker-pv" in one.text


def test_where_the_region_allows_no_more_the_far_end_brings_nothing() -> None:
    # IEC 61439-1: the rated current of the bus bar, at either end
    one = found(coupled(pv=20, main=200, bus_bar=200, place={"rules": "iec-230"}))["bus-bar:ac-panel"]
    assert number(one.finding.limit) == pytest.approx(200.0)
    assert all(remedy.change[0].key != "panels[ac-panel].positions[12].far_end" for remedy in one.remedies)


def test_four_inverters_and_two_roofs_fit_only_from_both_ends() -> None:
    # own arithmetic: 4 × 50 A + 2 × 30 A = 260 A on each leg; 225 A × 1.2 = 270 A
    assert "bus-bar:ac-panel" not in found(sample("skarnow-lodge"))
    ends = {f"panels[ac-panel].positions[P{row}].far_end": False for row in (1, 2)}
    one = found(sample("skarnow-lodge", **ends))["bus-bar:ac-panel"].finding
    assert (number(one.value), number(one.limit)) == (260.0, 225.0)


def test_what_an_interlock_keeps_apart_is_not_added() -> None:
    # 63 A of the public supply or 50 A of the set, never both, on 100 A
    key = {"panels[changeover-panel].bus_bar": 100}
    assert "bus-bar:changeover-panel" not in found(sample("aldermere-clinic", **key))
    both = found(sample("aldermere-clinic", **key, **{"interlocks[changeover]": None}))
    assert number(both["bus-bar:changeover-panel"].finding.value) == 113.0


def test_the_bus_bar_before_the_inverters_is_not_the_one_behind_them() -> None:
    # 2 × 25 A of the inverters on 63 A; the set's 50 A stand on the other side of them
    assert "bus-bar:ac-panel" not in found(sample("harrowick-relay"))


def test_legs_are_added_apart() -> None:
    # two inverters of 40 A, one on each leg: 40 A on each bus bar
    assert "bus-bar:ac-panel" not in found(sample("fennick-homestead", **{"panels[ac-panel].bus_bar": 40}))
    same = {"panels[ac-panel].bus_bar": 40, "inverter_chargers[inverter-2].group_leg": "1"}
    assert number(found(sample("fennick-homestead", **same))["bus-bar:ac-panel"].finding.value) == 80.0


def test_a_leg_that_is_not_told_is_asked_for_only_where_it_decides() -> None:
    leg = {"inverter_chargers[inverter-2].group_leg": "unknown"}
    assert "bus-bar:ac-panel" not in found(sample("fennick-homestead", **leg))
    close = found(sample("fennick-homestead", **leg, **{"panels[ac-panel].bus_bar": 60}))
    assert close["bus-bar:ac-panel"].finding.kind == "not checked"
    assert "leg that breaker-ac-leg-2 feeds" in close["bus-bar:ac-panel"].finding.text


def test_a_main_device_beside_the_positions_feeds_the_panel_too() -> None:
    made = coupled(bus_bar=200, main=100, pv=40)
    guard = {"kind": "breaker", "current": "ac", "rating": 200, "protects": "branch"}
    more = changed(
        made, (Change("protection[breaker-main]", guard), Change("panels[ac-panel].main", "breaker-main"))
    )
    assert number(found(more)["bus-bar:ac-panel"].finding.value) == 340.0


@pytest.mark.parametrize(
    ("change", "missing"),
    [
        ({"panels[ac-panel].bus_bar": "unknown"}, "bus bar of House panel"),
        ({"protection[breaker-ac-leg-1].rating": "unknown"}, "rating of breaker-ac-leg-1"),
    ],
)
def test_what_is_not_known_is_named(change: dict[str, Any], missing: str) -> None:
    one = found(sample("fennick-homestead", **change))["bus-bar:ac-panel"].finding
    assert (one.kind, missing in one.text) == ("not checked", True)


@settings(max_examples=25, deadline=None)
@given(st.sampled_from([100, 150, 200, 225, 400]), st.sampled_from([15, 40, 60, 100]), st.booleans())
def test_a_larger_bus_bar_or_a_smaller_feed_never_adds_a_finding(bar: float, pv: float, far: bool) -> None:
    before = set(found(coupled(bus_bar=bar, pv=pv, far=far)))
    assert set(found(coupled(bus_bar=bar * 1.25, pv=pv, far=far))) <= before
    assert set(found(coupled(bus_bar=bar, pv=pv * 0.5, far=far))) <= before
    assert set(found(coupled(bus_bar=bar, pv=pv, far=True))) <= before


# bus bars of DC panels


def test_the_bus_bar_of_a_direct_panel_carries_the_sum_of_all_sources() -> None:
    # ratings of the profiles: charger 70 A, controllers 60 A and 100 A, on 200 A
    one = found(sample("crookhollow-yard"))["bus-bar:dc-panel"]
    assert number(one.finding.value) == pytest.approx(230.0)
    assert number(one.finding.limit) == pytest.approx(200.0)
    assert one.remedies[0].change == (Change("panels[dc-panel].bus_bar", 250.0),)  # IEC 60059
    assert "bus-bar:dc-panel" not in found(sample("crookhollow-yard", **{"panels[dc-panel].bus_bar": 230}))


def test_the_bus_bar_of_a_direct_panel_carries_what_the_inverters_draw() -> None:
    # own arithmetic: 2 kW ÷ (efficiency × 10.5 V) of the cabin's inverter is over its controller's 30 A
    made = sample("tarnwold-cabin", **{"panels[dc-panel].bus_bar": 150, "protection[fuse-main].rating": 150})
    one = found(made)["bus-bar:dc-panel"].finding
    assert number(one.value) > 2000.0 / 10.5
    assert "draw" in one.text


def test_a_direct_bus_bar_of_unknown_rating_is_asked_for() -> None:
    one = found(sample("quillon-farm", **{"panels[dc-panel].bus_bar": "unknown"}))["bus-bar:dc-panel"].finding
    assert (one.kind, "bus bar of DC panel" in one.text) == ("not checked", True)


# the main device


def test_a_main_device_over_the_bus_bar_does_not_guard_it() -> None:
    assert "panel-main:dc-panel" not in found(sample("harrowick-relay", **{"panels[dc-panel].bus_bar": 315}))
    one = found(sample("harrowick-relay", **{"panels[dc-panel].bus_bar": 300}))["panel-main:dc-panel"]
    assert (one.finding.kind, number(one.finding.value), number(one.finding.limit)) == ("correct", 315, 300)
    assert [remedy.change[0].value for remedy in one.remedies] == [250.0, 315.0]  # IEC 60059


def test_a_panel_on_the_bank_is_guarded_by_the_main_fuse_without_being_told() -> None:
    made = sample("harrowick-relay", **{"panels[dc-panel].bus_bar": 300, "panels[dc-panel].main": None})
    assert "panel-main:dc-panel" in found(made)


def test_a_main_device_of_unknown_rating_is_asked_for() -> None:
    one = found(sample("harrowick-relay", **{"protection[fuse-main].rating": "unknown"}))
    assert one["panel-main:dc-panel"].finding.kind == "not checked"


# positions


def test_a_device_on_two_positions_is_told_with_both() -> None:
    made = sample("fennick-homestead", **{"panels[ac-panel].positions[8].holds": "breaker-well"})
    one = found(made)["position-twice:breaker-well"]
    assert "position 1+3 of House panel and position 8 of House panel" in one.finding.text
    assert "position-twice:breaker-well" not in found(changed(made, one.remedies[0].change))


def test_a_device_for_direct_current_on_an_ac_panel_is_told() -> None:
    made = sample("tarnwold-cabin", **{"panels[ac-panel].positions[3].holds": "breaker-lights"})
    one = found(made)["position-current:ac-panel+breaker-lights"].finding
    assert (one.kind, "position 3 of House panel" in one.text) == ("correct", True)


def test_an_ac_device_on_a_dc_panel_is_left_to_the_check_of_dc_devices() -> None:
    made = sample("tarnwold-cabin", **{"panels[dc-panel].positions[4].holds": "breaker-ac-1"})
    assert not any(ident.startswith("position-current") for ident in found(made))


def test_a_device_that_names_its_panel_and_is_on_no_position_is_told() -> None:
    made = sample("quillon-farm", **{"panels[dc-panel].positions[4].holds": None})
    one = found(made)["position-missing:breaker-controller-1"]
    assert one.finding.kind == "advise"
    put_back = changed(made, one.remedies[0].change)
    assert "position-missing:breaker-controller-1" not in found(put_back)


def test_a_silent_position_is_told_and_a_word_for_it_offered() -> None:
    made = sample("fennick-homestead", **{"panels[ac-panel].positions[2].circuit": ""})
    one = found(made)["circuit-directory:ac-panel"]
    assert "position 2" in one.finding.text
    assert one.remedies[0].change == (Change("panels[ac-panel].positions[2].circuit", "Kitchen"),)


def test_a_panel_without_positions_has_no_directory() -> None:
    one = found(sample("fennick-homestead", **{"panels[ac-panel].positions": []}))
    assert one["circuit-directory:ac-panel"].finding.kind == "advise"


def test_no_spare_position_is_told_once_for_a_panel() -> None:
    made = sample("fennick-homestead", **{"panels[ac-panel].positions[8]": None})
    assert found(made)["spare-position:ac-panel"].finding.kind == "advise"
    assert "spare-position:ac-panel" not in found(sample("fennick-homestead"))


def test_the_directory_lists_every_position_of_every_panel() -> None:
    made = sample("fennick-homestead", **{"panels[ac-panel].positions[2].circuit": ""})
    lines = {(line.panel, line.position): line for line in directory(made)}
    assert len(lines) == sum(len(panel.positions) for panel in made.site.panels)
    kitchen = lines["ac-panel", "2"]
    assert (kitchen.device, kitchen.size, kitchen.circuit) == ("breaker-kitchen", "breaker 20 A", "Kitchen")
    assert (lines["ac-panel", "8"].size, lines["ac-panel", "8"].circuit) == ("", "spare")
