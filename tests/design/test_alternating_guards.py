"""Poles, insulation and devices of the AC side, and what trips at the output of an inverter."""

from __future__ import annotations

from typing import Any

import pytest

from commission.design.alternating_guards import check_alternating_guards
from commission.design.alternating_insulation import check_alternating_insulation
from commission.design.output_trips import check_output_trips
from commission.design.poles import check_poles
from commission.plant.change import Change, changed
from commission.plant.files import load_plant
from commission.plant.places import data_folder
from commission.plant.plant import Plant
from tests.design.alternating_plants import breaker, found, inverter, kinds, mode, supplied


def sample(site: str, **changes: Any) -> Plant:
    made = load_plant(data_folder("sample_sites") / f"{site}.toml").plant
    return changed(made, [Change(key, value) for key, value in changes.items()])


@pytest.mark.parametrize(
    ("site", "guard", "poles", "raised"),
    [  # NEC 240.15(B): a device opens every line of its circuit
        ("quillon-farm", "breaker-generator", 2, True),
        ("quillon-farm", "breaker-generator", 3, False),
        ("quillon-farm", "breaker-milking", 2, True),
        ("quillon-farm", "breaker-milking", 3, False),
        ("quillon-farm", "breaker-ac-pv-1", 1, False),
        ("fennick-homestead", "breaker-well", 1, True),
        ("fennick-homestead", "breaker-kitchen", 1, False),
        ("skarnow-lodge", "breaker-ac-pv-1", 1, True),
        ("skarnow-lodge", "breaker-input-2", 1, True),
        ("skarnow-lodge", "breaker-generator", 1, True),
    ],
)
def test_a_pole_for_every_line(site: str, guard: str, poles: int, raised: bool) -> None:
    made = sample(site, **{f"protection[{guard}].poles": poles})
    assert kinds(check_poles, made) == ({("correct", f"breaker-poles:{guard}")} if raised else set())


def test_with_an_electrode_of_its_own_the_neutral_opens_too_where_the_region_asks() -> None:
    # IEC 60364-4-43, 431.2.1, from memory
    guard = breaker("breaker-load", "load-1", poles=1)
    point = mode("island", "inverter-1", earthing="TT")
    made = supplied(inverter(), guards=[guard], modes=[point])
    assert ("correct", "breaker-poles:breaker-load") in kinds(check_poles, made)
    near = supplied(inverter(), guards=[guard], modes=[mode("island", "inverter-1")])
    assert not kinds(check_poles, near)


@pytest.mark.parametrize(
    ("run", "volts", "raised"),
    [
        ("run-ac-1", 229.0, False),  # within half a percent of 230 V
        ("run-ac-1", 228.0, True),
        ("run-generator", 399.0, False),  # between phases: 230 V times the root of three
        ("run-generator", 300.0, True),
    ],
)
def test_the_insulation_of_a_run(run: str, volts: float, raised: bool) -> None:
    made = sample("quillon-farm", **{f"runs[{run}].voltage": volts})
    expected = {("correct", f"insulation-voltage:{run}")} if raised else set()
    assert kinds(check_alternating_insulation, made) == expected


def test_an_untold_insulation_is_asked_for() -> None:
    made = sample("quillon-farm", **{"runs[run-ac-1].voltage": "unknown"})
    assert kinds(check_alternating_insulation, made) == {("not checked", "insulation-voltage:run-ac-1")}


# loads


def test_a_load_needs_a_device_of_its_own() -> None:
    gone = {"protection[breaker-cooling]": None, "panels[ac-panel].positions[Q6].holds": None}
    bare = sample("harrowick-relay", **gone)
    assert kinds(check_alternating_guards, bare) == {("correct", "load-without-breaker:load-cooling")}
    assert not kinds(check_alternating_guards, sample("harrowick-relay"))


def test_the_only_load_stands_behind_the_breaker_of_the_output() -> None:
    assert not kinds(check_alternating_guards, supplied(inverter()))
    two = [{"id": f"load-{one}", "current": "ac", "power": 100.0} for one in (1, 2)]
    raised = kinds(check_alternating_guards, supplied(inverter(), loads=two))
    assert raised == {("correct", f"load-without-breaker:load-{one}") for one in (1, 2)}


@pytest.mark.parametrize(
    ("amps", "kind"),
    [(0.03, None), (0.01, None), (0.1, "correct"), (0.3, "correct"), ("unknown", "not checked")],
)
def test_socket_outlets_need_thirty_milliamperes(amps: Any, kind: str | None) -> None:
    # IEC 60364-4-41, 411.3.3
    made = sample("harrowick-relay", **{"protection[residual-sockets].residual_current": amps})
    raised = kinds(check_alternating_guards, made)
    assert raised == (set() if kind is None else {(kind, "socket-protection:load-sockets")})


def test_what_is_not_told_to_be_sockets_needs_none() -> None:
    coarse = {"protection[residual-sockets].residual_current": 0.3, "loads[load-sockets].sockets": False}
    assert not kinds(check_alternating_guards, sample("harrowick-relay", **coarse))


# sets and relays


@pytest.mark.parametrize(("rating", "raised"), [(40.0, False), (50.0, False), (63.0, True)])
def test_the_breaker_of_a_set(rating: float, raised: bool) -> None:
    # 10 kVA at 230 V: 43.5 A; 115 % are 50 A (NEC 445.13)
    made = sample("harrowick-relay", **{"protection[breaker-generator].rating": rating})
    ident = "generator-overload:breaker-generator+generator-1"
    assert kinds(check_alternating_guards, made) == ({("correct", ident)} if raised else set())


@pytest.mark.parametrize(("rating", "raised"), [(50.0, False), (63.0, True)])
def test_the_device_before_a_transfer_relay(rating: float, raised: bool) -> None:
    made = sample("aldermere-clinic", **{"protection[breaker-input-1].rating": rating})
    ident = "transfer-relay:breaker-input-1+inverter-1"
    assert kinds(check_alternating_guards, made) == ({("correct", ident)} if raised else set())


# outputs


def test_an_output_breaker_that_inverters_alone_never_trip_is_told() -> None:
    ident = "output-never-trips:inverter-1+inverter-2"
    coarse = sample("harrowick-relay", **{"protection[breaker-ac-1].curve": "D"})
    raised = found(check_output_trips, coarse)
    assert [one.kind for one in raised.values()] == ["advise"]
    assert "breaker-ac-1 opens at once from 500 A" in raised[ident].text  # 20 × 25 A, IEC 60898-1
    strong = {f"inverter_chargers[inverter-{one}].datasheet.short_circuit_current": 250.0 for one in (1, 2)}
    assert not found(check_output_trips, sample("harrowick-relay", **strong))


@pytest.mark.parametrize(("amps", "raised"), [(260.0, False), (240.0, True)])
def test_an_output_breaker_on_a_weak_public_supply(amps: float, raised: bool) -> None:
    # curve C, 25 A: at once from 250 A (IEC 60898-1)
    made = sample("aldermere-clinic", **{"utility.fault_current_least": amps})
    told = {ident for kind, ident in kinds(check_output_trips, made) if kind == "correct"}
    assert told == ({f"output-disconnection:breaker-ac-{one}" for one in (1, 2)} if raised else set())
