"""Breakers and fuses against published sizes: large enough, small enough, none missing, right voltage."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from commission.design.device_voltages import check_device_voltages
from commission.design.overcurrent import check_overcurrent
from commission.plant.change import changed
from commission.plant.plant import Plant
from tests.design.run_plants import (
    ARRAY,
    CONTROLLER,
    IEC,
    INVERTER,
    breaker,
    built,
    controller,
    first,
    fuse,
    inverter,
    load,
    raised,
    run,
    value,
    wire,
)

BANK_FUSE = fuse("fuse-main", "bank", "bank", 400.0)


def guarded(
    rating: Any,
    *,
    current: float = 60.0,
    area: float = 107.22,
    place: dict[str, Any] | None = None,
    kind: str = "breaker",
    **more: Any,
) -> Plant:
    """Return a controller behind one device on one run."""
    made = breaker("guard", "device", "controller-1", rating) | {"kind": kind} | more
    wire_ = run("run-controller-1", "bank", "controller-1", area, 1.0, ambient=30.0, protection="guard")
    return built(place=place, controllers=(controller(current),), runs=(wire_,), protection=(made,))


@pytest.mark.parametrize(
    ("current", "least"),
    [
        (60.0, 80.0),  # 75 A, next standard 80 A (NEC 215.3, 240.6(A))
        (216.5, 300.0),  # 2000 W at 10.5 V and 0.88: 270.6 A, next standard 300 A
        (78.5, 100.0),  # 3000 W at 42 V and 0.91: 98.1 A
        (82.1, 110.0),  # 1500 W at 21 V and 0.87: 102.6 A
        (140.0, 175.0),  # the rule turned round: 175 A carries 140 A for hours
        (80.0, 100.0),
    ],
)
def test_a_device_is_the_next_standard_rating_over_a_hundred_and_twenty_five_percent(
    current: float, least: float
) -> None:
    made = guarded(15.0, current=current)
    found = first(check_overcurrent, made, "overcurrent-rating:guard")
    assert found.finding.kind == "correct"
    assert value(found.remedies[0].passes) == least
    assert "overcurrent-rating:guard" not in raised(check_overcurrent, guarded(least, current=current))


def test_a_device_marked_for_its_whole_rating_needs_no_more_than_the_current() -> None:
    # a 60 A controller on a device listed for 100 % duty: 60 A
    assert raised(check_overcurrent, guarded(60.0, full_rated=True)) == {}
    assert set(raised(check_overcurrent, guarded(60.0))) == {"overcurrent-rating:guard"}


@pytest.mark.parametrize(("rating", "kinds"), [(80.0, {"overcurrent-rating:guard"}), (100.0, set())])
def test_iec_design_current_not_over_the_rating(rating: float, kinds: set[str]) -> None:
    # IEC 60364-4-43, 433.1: design current 92 A, device 100 A
    assert set(raised(check_overcurrent, guarded(rating, current=92.0, place=IEC))) == kinds


def test_a_breaker_loses_rating_in_warm_air_and_a_fuse_does_not() -> None:
    # 63 A calibrated at 30 °C, 0.5 % per kelvin at 50 °C: 56.7 A; common practice
    warm = guarded(63.0, current=60.0, place=IEC, ambient=50.0)
    found = first(check_overcurrent, warm, "overcurrent-rating:guard")
    assert value(found.finding.limit) == pytest.approx(56.7)
    assert "in air of 50 °C" in found.finding.text
    assert value(found.remedies[0].passes) == 80.0
    assert raised(check_overcurrent, guarded(63.0, current=60.0, place=IEC, ambient=50.0, kind="fuse")) == {}
    assert raised(check_overcurrent, guarded(63.0, current=56.0, place=IEC, ambient=50.0)) == {}


def test_the_rooms_air_counts_where_the_devices_is_not_told() -> None:
    warm = IEC | {"room_temperature": 50.0}
    assert "overcurrent-rating:guard" in raised(check_overcurrent, guarded(63.0, current=60.0, place=warm))


@pytest.mark.parametrize(("area", "raises"), [(67.44, True), (85.03, False)])
def test_a_device_over_what_its_conductors_bear_is_found(area: float, raises: bool) -> None:
    # NEC 240.4: 2/0 AWG bears 175 A, 3/0 AWG 200 A
    made = guarded(200.0, current=100.0, area=area)
    assert ("conductor-protection:run-controller-1+guard" in raised(check_overcurrent, made)) is raises


def test_the_remedy_of_too_large_a_device_is_a_smaller_one_that_still_carries() -> None:
    made = guarded(200.0, current=100.0, area=67.44)
    found = first(check_overcurrent, made, "conductor-protection:run-controller-1+guard")
    assert [one.text for one in found.remedies[:2]] == ["guard of 175 A", "guard of 150 A"]
    assert raised(check_overcurrent, changed(made, found.remedies[0].change)) == {}
    # 140 A for hours need 175 A, which 1/0 AWG (150 A) does not bear: only copper helps
    made = guarded(175.0, current=140.0, area=53.51)
    found = first(check_overcurrent, made, "conductor-protection:run-controller-1+guard")
    assert found.remedies[0].text == "run-controller-1 in 2/0 AWG"


def test_a_larger_device_that_needs_thicker_conductors_comes_with_them() -> None:
    made = guarded(60.0, current=100.0, area=21.15)
    found = first(check_overcurrent, made, "overcurrent-rating:guard")
    both = [one for one in found.remedies if len(one.change) == 2]
    assert both
    assert set(raised(check_overcurrent, changed(made, both[0].change))) == set()


def test_the_bank_s_fuse_is_held_against_all_that_flows() -> None:
    unit = inverter(continuous_power=4200.0, inverter_efficiency=1.0, low_cut_off=42.0)
    runs = (
        run("run-main", "bank", "dc-panel", 107.22, protection="fuse-main"),
        run("run-inverter-1", "dc-panel", "inverter-1", 107.22, protection="fuse-1"),
    )
    small = fuse("fuse-main", "bank", "bank", 110.0), fuse("fuse-1", "device", "inverter-1", 125.0)
    made = built(inverters=(unit,), runs=runs, protection=small)
    assert raised(check_overcurrent, made) == {"overcurrent-rating:fuse-main": "correct"}


def test_a_branch_breaker_without_a_run_is_held_against_its_load() -> None:
    one = {
        "id": "breaker-a",
        "kind": "breaker",
        "current": "ac",
        "rating": 15.0,
        "protects": "branch",
        "of": "load-a",
    }
    loads = ({"id": "load-a", "current": "ac", "power": 1800.0, "power_factor": 1.0},)
    # 1800 W at 120 V: 15 A, times 1.25 = 18.75 A, next standard 20 A
    made = built(protection=(one,), loads=loads)
    assert value(first(check_overcurrent, made, "overcurrent-rating:breaker-a").remedies[0].passes) == 20.0


def test_an_unknown_load_behind_a_breaker_is_asked_for() -> None:
    one = {
        "id": "breaker-a",
        "kind": "breaker",
        "current": "ac",
        "rating": 15.0,
        "protects": "branch",
        "of": "load-a",
    }
    made = built(protection=(one,), loads=({"id": "load-a", "current": "ac"},))
    finding = first(check_overcurrent, made, "overcurrent-rating:breaker-a").finding
    assert finding.kind == "not checked"
    assert "power of load-a" in finding.text


def test_an_unknown_rating_is_asked_for() -> None:
    finding = first(check_overcurrent, guarded("unknown"), "overcurrent-rating:guard").finding
    assert (finding.kind, finding.text) == (
        "not checked",
        "overcurrent rating not checked: rating of guard unknown",
    )
    assert finding.remedy == "state protection[guard].rating"


# missing


def bare(**more: Any) -> Plant:
    runs = (
        run("run-main", "bank", "dc-panel", 107.22, protection="fuse-main"),
        run("run-controller-1", "dc-panel", "controller-1", 26.66, 1.0, ambient=30.0, **more),
    )
    return built(
        controllers=(controller(60.0),), runs=runs, protection=(fuse("fuse-main", "bank", "bank", 200.0),)
    )


def test_a_run_that_the_bank_feeds_and_nothing_protects_is_a_stop_with_a_new_fuse() -> None:
    found = first(check_overcurrent, bare(), "no-overcurrent-device:run-controller-1")
    assert found.finding.kind == "stop"
    assert "the bank feeds a fault on it" in found.finding.text
    remedy = found.remedies[0]
    assert value(remedy.passes) == 80.0  # 60 A × 1.25, next standard; 3 AWG bears 100 A
    assert raised(check_overcurrent, changed(bare(), remedy.change)) == {}


def test_the_bank_s_fuse_protects_what_bears_it() -> None:
    made = bare(conductors=4)
    assert "no-overcurrent-device:run-controller-1" not in raised(check_overcurrent, made)


def test_a_device_that_the_part_names_protects_its_run() -> None:
    made = bare()
    unit = controller(60.0) | {"protection": "fuse-1"}
    guard = fuse("fuse-1", "device", "controller-1", 80.0)
    made = built(
        controllers=(unit,),
        runs=tuple(one.model_dump(by_alias=True, exclude_unset=True) for one in made.site.runs),
        protection=(BANK_FUSE | {"rating": 200.0}, guard),
    )
    assert raised(check_overcurrent, made) == {}


def test_a_switch_protects_nothing() -> None:
    made = bare(protection="switch-1")
    switch = fuse("switch-1", "device", "controller-1", 80.0) | {"kind": "switch"}
    site = built(protection=(BANK_FUSE | {"rating": 200.0}, switch)).site
    made = made.model_copy(update={"site": made.site.model_copy(update={"protection": site.protection})})
    assert "no-overcurrent-device:run-controller-1" in raised(check_overcurrent, made)


def test_pv_strings_and_the_bank_s_own_main_are_told_elsewhere() -> None:
    runs = (run("run-main", "bank", "dc-panel"), run("run-pv", "pv-1a", "controller-1", 16.0))
    made = built(controllers=(CONTROLLER | {"array": ARRAY, "run": None, "panel": "dc-panel"},), runs=runs)
    assert raised(check_overcurrent, made) == {}


def test_a_string_among_several_needs_a_device_of_its_own() -> None:
    runs = tuple(run(f"run-string-{n}", f"string-{n}", "dc-panel", 67.44) for n in (1, 2))
    made = built(
        strings=2, loads=(load(),), runs=(*runs, run("run-main", "bank", "dc-panel")), protection=(BANK_FUSE,)
    )
    found = raised(check_overcurrent, made)
    assert found["no-overcurrent-device:run-string-1"] == "stop"
    alone = built(loads=(load(),), runs=(runs[0],), protection=(BANK_FUSE,))
    assert "no-overcurrent-device:run-string-1" not in raised(check_overcurrent, alone)


def test_a_public_supply_s_breaker_protects_what_bears_it() -> None:
    utility = {"id": "utility", "ac_voltage": 120.0, "supply_breaker": 40.0}
    made = built(utility=utility, runs=(wire("run-utility", "utility", "ac-panel", 8.37),))
    assert "no-overcurrent-device:run-utility" not in raised(check_overcurrent, made)
    made = built(
        utility=utility | {"supply_breaker": 100.0}, runs=(wire("run-utility", "utility", "ac-panel", 8.37),)
    )
    assert raised(check_overcurrent, made)["no-overcurrent-device:run-utility"] == "correct"


# voltage


@pytest.mark.parametrize(("voltage", "raises"), [(60.0, True), (65.0, False)])
def test_a_dc_device_stands_what_the_bank_reaches(voltage: float, raises: bool) -> None:
    # 24 sealed cells at 2.50 V, 25 K colder than their reference: 60 V and 24 × 25 × 4 mV or so
    made = guarded(80.0, voltage=voltage)
    assert raised(check_device_voltages, made) == ({"device-voltage:guard": "stop"} if raises else {})


def test_the_remedy_is_a_voltage_that_is_sold() -> None:
    made = guarded(80.0, voltage=32.0)
    remedy = first(check_device_voltages, made, "device-voltage:guard").remedies[0]
    assert raised(check_device_voltages, changed(made, remedy.change)) == {}


@pytest.mark.parametrize(
    ("poles", "voltage", "raises"), [(3, 230.0, True), (3, 400.0, False), (1, 230.0, False)]
)
def test_a_device_with_a_pole_in_each_phase_stands_the_voltage_between_them(
    poles: int, voltage: float, raises: bool
) -> None:
    # IEC 60038: 230/400 V
    one = {
        "id": "breaker-a",
        "kind": "breaker",
        "current": "ac",
        "rating": 16.0,
        "voltage": voltage,
        "poles": poles,
        "protects": "branch",
        "of": "load-a",
    }
    motor = {"id": "load-a", "current": "ac", "power": 3000.0, "leg": "all"}
    made = built(place=IEC, protection=(one,), loads=(motor,))
    assert ("device-voltage:breaker-a" in raised(check_device_voltages, made)) is raises


def test_between_two_legs_there_is_twice_the_voltage() -> None:
    one = {
        "id": "breaker-a",
        "kind": "breaker",
        "current": "ac",
        "rating": 20.0,
        "voltage": 120.0,
        "poles": 2,
        "protects": "branch",
        "of": "load-a",
    }
    pump = {"id": "load-a", "current": "ac", "power": 1000.0, "leg": "both"}
    made = built(inverters=(INVERTER,), protection=(one,), loads=(pump,))
    assert raised(check_device_voltages, made) == {"device-voltage:breaker-a": "stop"}


def test_a_dc_device_in_an_ac_run_and_an_unknown_voltage() -> None:
    guard = breaker("guard", "device", "inverter-1", 40.0)
    made = built(
        inverters=(INVERTER,),
        runs=(wire("run-ac", "inverter-1", "ac", 8.37, protection="guard"),),
        protection=(guard,),
    )
    assert raised(check_device_voltages, made) == {"dc-device-on-ac:guard": "correct"}
    made = guarded(80.0, voltage="unknown")
    assert raised(check_device_voltages, made) == {"device-voltage:guard": "not checked"}


@settings(max_examples=20, deadline=None)
@given(
    ratings=st.lists(
        st.sampled_from([30.0, 60.0, 80.0, 100.0, 150.0, 200.0, 250.0]), min_size=2, max_size=2
    ).map(sorted),
    current=st.floats(5.0, 240.0),
    air=st.sampled_from([20.0, 40.0, 55.0]),
)
def test_a_larger_device_never_adds_that_it_is_too_small_and_a_smaller_never_that_it_is_too_large(
    ratings: list[float], current: float, air: float
) -> None:
    small, large = (
        raised(check_overcurrent, guarded(rating, current=current, ambient=air, area=67.44))
        for rating in ratings
    )
    assert ("overcurrent-rating:guard" in large) <= ("overcurrent-rating:guard" in small)
    ident = "conductor-protection:run-controller-1+guard"
    assert (ident in small) <= (ident in large)
