"""Strings side by side: a device in each near its posts, and what all together protect without a main one."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from commission.design.guards import strings_together
from commission.design.main_protection import check_main_protection
from commission.design.overcurrent import check_overcurrent
from commission.design.panels import check_panels
from commission.figure import Figure
from commission.plant.change import changed
from commission.plant.plant import Plant
from tests.design.run_plants import IEC, breaker, built, first, fuse, load, raised, run

MAIN_RUN = run("run-main", "bank", "dc-panel", 70.0, ambient=30.0, terminal_temperature=70.0)
PANEL = {"id": "dc-panel", "kind": "dc", "bus_bar": 400.0}


def strings(
    ratings: tuple[Any, ...], *, main: dict[str, Any] | None = None, panel: Any = 400.0, **more: Any
) -> Plant:
    """Return strings with a lead and a fuse each (None: no fuse), a main run and a panel."""
    leads = tuple(
        run(
            f"run-{n}",
            f"string-{n}",
            "bank",
            70.0,
            ambient=30.0,
            protection=None if rating is None else f"fuse-{n}",
        )
        for n, rating in enumerate(ratings, start=1)
    )
    fuses = [
        fuse(f"fuse-{n}", "string", f"string-{n}", rating)
        for n, rating in enumerate(ratings, start=1)
        if rating is not None
    ]
    return built(
        place=IEC,
        strings=len(ratings),
        loads=(load(),),
        runs=(*leads, more.pop("main_run", MAIN_RUN)),
        protection=(*fuses, *(() if main is None else (main,))),
        panels=(PANEL | {"bus_bar": panel},),
        **more,
    )


# without a main device


@pytest.mark.parametrize(
    ("ratings", "over"),
    [
        # 70 mm² at 70 °C carries 192 A (IEC 60364-5-52 table B.52.2, method B1); a fuse up to its tenth less,
        # 1.6 ÷ 1.45 of IEC 60269 in IEC 60364-4-43, 433.1: 172.8 A
        ((80.0, 80.0), False),
        ((100.0, 100.0), True),
        ((63.0, 63.0, 63.0), True),
        ((50.0, 50.0, 63.0), False),
    ],
)
def test_a_main_run_without_a_device_is_held_to_the_sum_of_the_strings_devices(
    ratings: tuple[float, ...], over: bool
) -> None:
    made = strings(ratings)
    assert ("conductor-protection:run-main+bank" in raised(check_overcurrent, made)) is over
    main = fuse("fuse-main", "bank", "bank", 160.0)
    assert "conductor-protection:run-main+bank" not in raised(check_overcurrent, strings(ratings, main=main))


def test_the_finding_tells_the_sum_and_a_thicker_run_or_a_main_fuse_mends_it() -> None:
    made = strings((100.0, 100.0))
    one = first(check_overcurrent, made, "conductor-protection:run-main+bank")
    assert isinstance(one.finding.value, Figure)
    assert one.finding.value.value == 200.0
    assert one.remedies
    for remedy in one.remedies[:2]:
        assert "conductor-protection:run-main+bank" not in raised(
            check_overcurrent, changed(made, remedy.change)
        )


def test_an_unknown_device_of_a_string_leaves_the_sum_open() -> None:
    assert "conductor-protection:run-main+bank" not in raised(check_overcurrent, strings((100.0, "unknown")))
    assert (
        raised(check_overcurrent, strings((100.0, "unknown")))["overcurrent-rating:fuse-2"] == "not checked"
    )


@pytest.mark.parametrize(("bar", "guarded"), [(200.0, True), (199.0, False)])
def test_bus_bars_without_a_main_device_are_held_to_the_sum_too(bar: float, guarded: bool) -> None:
    assert ("panel-main:dc-panel" not in raised(check_panels, strings((100.0, 100.0), panel=bar))) is guarded
    main = fuse("fuse-main", "bank", "bank", 160.0)
    assert "panel-main:dc-panel" not in raised(check_panels, strings((100.0, 100.0), panel=bar, main=main))


def test_the_devices_of_strings_count_together_only_where_each_has_one_and_nothing_else_stands_before() -> (
    None
):
    assert strings_together(strings((100.0, None))) is None
    assert strings_together(strings((100.0,))) is None
    assert strings_together(strings((100.0, 100.0), main=fuse("fuse-main", "bank", "bank", 160.0))) is None
    both = strings_together(strings((100.0, 80.0)))
    assert both is not None
    assert isinstance(both.rating, Figure)
    assert both.rating.value == 180.0


@given(rating=st.floats(20, 200), more=st.floats(0, 100))
@settings(max_examples=20, deadline=None)
def test_a_smaller_device_in_a_string_never_adds_a_finding(rating: float, more: float) -> None:
    ident = "conductor-protection:run-main+bank"
    if ident in raised(check_overcurrent, strings((rating, rating))):
        assert ident in raised(check_overcurrent, strings((rating + more, rating)))


# without a device in a string


def test_one_of_several_strings_without_a_device_stops_the_plant_for_good() -> None:
    made = strings((100.0, None), main=fuse("fuse-main", "bank", "bank", 160.0))
    one = first(check_overcurrent, made, "no-overcurrent-device:run-2")
    assert (one.finding.kind, one.finding.releasable) == ("stop", False)
    assert "string-2 itself feeds a fault on it ahead of fuse-main, and the other string" in one.finding.text
    assert "no-overcurrent-device:run-1" not in raised(check_overcurrent, made)
    mended = changed(made, one.remedies[0].change)
    assert "no-overcurrent-device:run-2" not in raised(check_overcurrent, mended)
    assert not any("distance" in ident for ident in raised(check_main_protection, mended))


def test_a_single_string_behind_the_main_device_at_its_post_needs_no_other() -> None:
    made = strings((None,), main=fuse("fuse-main", "bank", "bank", 160.0))
    assert "no-overcurrent-device:run-1" not in raised(check_overcurrent, made)


def test_the_main_device_named_for_a_lead_of_several_is_no_device_of_the_string() -> None:
    main = fuse("fuse-main", "bank", "bank", 160.0)
    made = strings((None, None), main=main)
    named = built(
        place=IEC,
        strings=2,
        loads=(load(),),
        runs=tuple(one.model_dump(by_alias=True) | {"protection": "fuse-main"} for one in made.site.runs),
        protection=(main,),
    )
    assert raised(check_overcurrent, named)["no-overcurrent-device:run-1"] == "stop"


def test_a_device_that_two_strings_share_protects_neither() -> None:
    shared = breaker("breaker-both", "string", "string-1", 100.0)
    leads = tuple(run(f"run-{n}", f"string-{n}", "bank", 70.0, protection="breaker-both") for n in (1, 2))
    made = built(place=IEC, strings=2, loads=(load(),), runs=(*leads, MAIN_RUN), protection=(shared,))
    assert raised(check_overcurrent, made)["no-overcurrent-device:run-2"] == "stop"


def test_strings_of_which_no_lead_is_told_are_asked_for_a_device_too() -> None:
    main = fuse("fuse-main", "bank", "bank", 160.0)
    bare = built(place=IEC, strings=2, loads=(load(),), runs=(MAIN_RUN,), protection=(main,))
    found = raised(check_overcurrent, bare)
    assert (found["no-overcurrent-device:string-1"], found["no-overcurrent-device:string-2"]) == (
        "stop",
        "stop",
    )
    alone = built(place=IEC, loads=(load(),), runs=(MAIN_RUN,), protection=(main,))
    assert not [
        ident for ident in raised(check_overcurrent, alone) if "no-overcurrent-device:string" in ident
    ]
    fuses = (fuse("fuse-1", "string", "string-1"), fuse("fuse-2", "string", "string-2"), main)
    fused = built(place=IEC, strings=2, loads=(load(),), runs=(MAIN_RUN,), protection=fuses)
    assert not [
        ident for ident in raised(check_overcurrent, fused) if "no-overcurrent-device:string" in ident
    ]


def test_a_new_fuse_carries_a_pack_s_share_with_one_pack_open() -> None:
    """Three packs of 60 A each with all: 90 A with two; common practice for packs that open by themselves."""
    pack = {"management": {"discharge_current": 200.0, "charge_current": 100.0, "data_link": True}}
    leads = tuple(run(f"run-{n}", f"string-{n}", "bank", 70.0, ambient=30.0) for n in (1, 2, 3))
    heavy = load(power=180.0 * 42.0)
    made = built(
        chemistry="lfp",
        cells_per_block=16,
        blocks=1,
        strings=3,
        bank=pack,
        place=IEC,
        loads=(heavy,),
        runs=leads,
    )
    one = first(check_overcurrent, made, "no-overcurrent-device:run-1")
    share = one.finding.value
    assert isinstance(share, Figure)
    passes = one.remedies[0].passes
    assert isinstance(passes, Figure)
    assert passes.value >= share.value * 3 / 2 - 1e-6


# where a string's device stands


@pytest.mark.parametrize("rules", ["north-america", "iec-230"])
@pytest.mark.parametrize(("distance", "far"), [(1.8, False), (1.9, True)])
def test_the_device_of_one_of_several_strings_is_as_near_its_post_as_a_main_one(
    rules: str, distance: float, far: bool
) -> None:
    """ABYC E-11: 1.8 m of sheathed cable (72 in), for every conductor at a battery's post."""
    guards = (
        fuse("fuse-1", "string", "string-1", distance=distance),
        fuse("fuse-2", "string", "string-2"),
        fuse("fuse-main", "bank", "bank", 160.0),
    )
    place = {"rules": rules}
    made = built(place=place, strings=2, loads=(load(),), runs=(MAIN_RUN,), protection=guards)
    assert ("main-protection-distance:fuse-1" in raised(check_main_protection, made)) is far


def test_the_device_of_the_only_string_may_stand_anywhere_behind_the_main_one() -> None:
    guards = (fuse("fuse-1", "string", "string-1", distance=9.0), fuse("fuse-main", "bank", "bank", 160.0))
    made = built(place=IEC, loads=(load(),), runs=(MAIN_RUN,), protection=guards)
    assert "main-protection-distance:fuse-1" not in raised(check_main_protection, made)
