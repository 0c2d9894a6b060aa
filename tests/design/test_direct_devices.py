"""Direction, poles and kind of current of DC devices, and what protects the bank itself."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from commission.design.direct_devices import check_direct_devices
from commission.design.main_protection import check_main_protection, greatest_bank_voltage
from commission.figure import Figure
from commission.plant.change import changed
from commission.plant.plant import Plant
from tests.design.direct_plants import breaker, direct_plant, found, fuse, load, offered, run

INVERTER = {"id": "inverter-1", "profile": "inverter-48v-230-5000"}
CONTROLLER = {
    "id": "controller-1",
    "profile": "controller-48v-60-buck-150",
    "array": {"series": 3, "strings": [{"id": "pv-1a"}, {"id": "pv-1b"}], "short_circuit_current": 10.0},
}
RUNS = [
    run("run-main", "bank", "panel", protection="main"),
    run("run-inverter", "panel", "inverter-1", protection="guard-inverter"),
    run("run-controller", "panel", "controller-1", protection="guard-controller"),
    run("run-pv", "pv-1a", "controller-1", protection="guard-pv"),
    run("run-load", "panel", "load-a", protection="guard-load"),
    run("run-sub", "panel", "sub-panel", protection="guard-sub"),
    run("run-sub-load", "sub-panel", "load-b", protection="guard-load-b"),
]
GUARDS = {
    "main": ("bank", "bank"),
    "guard-string": ("string", "string-1"),
    "guard-inverter": ("device", "inverter-1"),
    "guard-controller": ("device", "controller-1"),
    "guard-pv": ("array", "controller-1"),
    "guard-pv-one": ("array", "pv-1b"),
    "guard-load": ("branch", "load-a"),
    "guard-sub": ("branch", "sub-panel"),
    "guard-load-b": ("branch", "load-b"),
}


def whole(changes: dict[str, dict[str, Any]] | None = None, **more: Any) -> Plant:
    """Return a plant with a breaker in every DC circuit; ``changes`` lays fields over some of them."""
    protection = [
        breaker(ident, *protects, **(changes or {}).get(ident, {})) for ident, protects in GUARDS.items()
    ]
    more.setdefault("loads", (load(), load("load-b")))
    return direct_plant(protection, RUNS, inverters=(INVERTER,), controllers=(CONTROLLER,), **more)


# direction

TWO_WAY = ("main", "guard-string", "guard-inverter", "guard-controller", "guard-pv-one")
ONE_WAY = ("guard-pv", "guard-load", "guard-sub", "guard-load-b")


@pytest.mark.parametrize("ident", TWO_WAY)
def test_a_polarised_breaker_is_refused_where_current_flows_both_ways(ident: str) -> None:
    made = whole({ident: {"polarised": True}})
    raised = found(check_direct_devices, made)
    assert {ident: one.kind for ident, one in raised.items()} == {f"polarised-breaker:{ident}": "stop"}
    remedy = offered(check_direct_devices, made, f"polarised-breaker:{ident}").remedies[0]
    assert not found(check_direct_devices, changed(made, remedy.change))


@pytest.mark.parametrize("ident", ONE_WAY)
def test_a_polarised_breaker_may_stand_where_current_flows_one_way(ident: str) -> None:
    assert not found(check_direct_devices, whole({ident: {"polarised": True}}))


@pytest.mark.parametrize("ident", TWO_WAY)
def test_an_unknown_direction_is_asked_for_where_it_matters(ident: str) -> None:
    raised = found(check_direct_devices, whole({ident: {"polarised": "unknown"}}))
    assert {ident: one.kind for ident, one in raised.items()} == {f"polarised-breaker:{ident}": "not checked"}


def test_a_fuse_has_no_direction_and_a_one_way_breaker_is_not_asked() -> None:
    other = {ident: {"kind": "fuse", "polarised": "unknown"} for ident in TWO_WAY}
    one_way = {ident: {"polarised": "unknown"} for ident in ONE_WAY}
    assert not found(check_direct_devices, whole(other | one_way))


def test_a_feeder_of_a_panel_with_a_source_flows_both_ways() -> None:
    runs = [
        run("run-main", "bank", "panel"),
        run("run-sub", "panel", "sub-panel", protection="feeder"),
        run("run-controller", "sub-panel", "controller-1"),
    ]
    guards = [fuse("main", "bank", "bank"), breaker("feeder", "branch", "sub-panel", polarised=True)]
    assert "polarised-breaker:feeder" in found(
        check_direct_devices, direct_plant(guards, runs, controllers=(CONTROLLER,))
    )


# poles


@pytest.mark.parametrize(
    ("earthed", "poles", "kind"),
    [
        pytest.param("negative", 1, None, id="NEC 480.7: ungrounded conductors; one pole left"),
        pytest.param("positive", 1, None, id="one pole left"),
        pytest.param("floating", 1, "correct", id="IEC 62485-2: both poles where none is earthed"),
        pytest.param("floating", 2, None, id="both opened"),
        pytest.param("mid-point", 1, "correct", id="both outer poles"),
        pytest.param("mid-point", 2, None, id="both outer poles opened"),
        pytest.param("unknown", 2, None, id="enough whatever is earthed"),
    ],
)
@pytest.mark.parametrize("device", ["main", "guard-pv"])
def test_devices_open_every_pole_that_is_not_earthed(
    earthed: str, poles: int, kind: str | None, device: str
) -> None:
    others = {ident: {"poles": 2} for ident in GUARDS}
    made = whole(others | {device: {"poles": poles}}, earthing={"dc": earthed})
    raised = found(check_direct_devices, made)
    assert {ident: one.kind for ident, one in raised.items()} == (
        {f"dc-poles:{device}": kind} if kind else {}
    )
    for one in raised:
        remedy = offered(check_direct_devices, made, one).remedies[0]
        assert not found(check_direct_devices, changed(made, remedy.change))


def test_an_isolator_counts_and_a_surge_device_does_not() -> None:
    switch = fuse("isolator", "array", "controller-1", poles=1) | {"kind": "switch"}
    surge = fuse("surge", "array", "controller-1", poles=1) | {"kind": "surge"}
    guards = [fuse("main", "bank", "bank", poles=2), switch, surge]
    made = direct_plant(guards, controllers=(CONTROLLER,), earthing={"dc": "floating"})
    assert set(found(check_direct_devices, made)) == {"dc-poles:isolator"}


def test_an_unknown_earth_is_asked_for_once() -> None:
    raised = found(check_direct_devices, whole(earthing={"dc": "unknown"}))
    assert {ident: one.kind for ident, one in raised.items()} == {"dc-poles:site": "not checked"}


@given(poles=st.integers(1, 4), more=st.integers(0, 4), earthed=st.sampled_from(["floating", "negative"]))
@settings(max_examples=20)
def test_more_poles_never_add_a_finding(poles: int, more: int, earthed: str) -> None:
    def raised(count: int) -> set[str]:
        made = direct_plant([fuse("main", "bank", "bank", poles=count)], earthing={"dc": earthed})
        return set(found(check_direct_devices, made))

    assert raised(poles + more) <= raised(poles)


# poles of an array


@pytest.mark.parametrize(
    ("rules", "kind"),
    [
        pytest.param("iec-230", "correct", id="IEC 62548, 7.4: all live conductors; from memory"),
        pytest.param("australia-new-zealand", "correct", id="AS/NZS 5033, 4.4: all poles; from memory"),
        pytest.param("north-america", None, id="NEC 690.15: those that are not solidly grounded"),
    ],
)
@pytest.mark.parametrize("device", ["breaker", "switch", "fuse"])
def test_what_isolates_an_array_opens_the_poles_that_the_region_asks_for(
    rules: str, kind: str | None, device: str
) -> None:
    others = {ident: {"poles": 2} for ident in GUARDS}
    made = whole(others | {"guard-pv": {"poles": 1, "kind": device}}, place={"rules": rules})
    raised = found(check_direct_devices, made)
    wanted = {} if kind is None or device == "fuse" else {"array-poles:guard-pv": kind}
    assert {ident: one.kind for ident, one in raised.items()} == wanted
    if wanted:
        remedy = offered(check_direct_devices, made, "array-poles:guard-pv").remedies[0]
        assert not found(check_direct_devices, changed(made, remedy.change))


def test_one_pole_is_told_once_where_no_pole_is_earthed() -> None:
    others = {ident: {"poles": 2} for ident in GUARDS}
    made = whole(others | {"guard-pv": {"poles": 1}}, place={"rules": "iec-230"}, earthing={"dc": "floating"})
    assert set(found(check_direct_devices, made)) == {"dc-poles:guard-pv"}


# made for alternating current


def test_a_breaker_for_alternating_current_has_no_place_in_a_dc_run() -> None:
    made = whole({"guard-load": {"current": "ac"}})
    finding = found(check_direct_devices, made)["ac-device-on-dc:guard-load"]
    assert (finding.kind, finding.releasable) == ("stop", True)
    remedy = offered(check_direct_devices, made, "ac-device-on-dc:guard-load").remedies[0]
    after = changed(made, remedy.change)
    assert not found(check_direct_devices, after)
    guard = next(one for one in after.site.protection if one.id == "guard-load")
    assert (guard.current, guard.polarised) == ("dc", False)


def test_an_ac_device_at_the_bank_is_no_main_protection() -> None:
    made = whole({"main": {"current": "ac"}, "guard-string": {"current": "ac"}})
    assert not found(check_direct_devices, made)["ac-device-on-dc:main"].releasable
    assert found(check_main_protection, made)["main-protection:bank"].kind == "stop"


def test_an_ac_breaker_in_an_ac_circuit_is_left_alone() -> None:
    guards = [fuse("main", "bank", "bank"), breaker("guard-ac", "branch", "load-ac", current="ac")]
    ac_load = {"id": "load-ac", "current": "ac", "power": 100.0}
    ac_run = run("run-ac", "inverter-1", "load-ac", protection="guard-ac") | {"kind": "ac"}
    made = direct_plant(guards, [ac_run], inverters=(INVERTER,), loads=(ac_load,))
    assert not found(check_direct_devices, made)


# at the bank


@pytest.mark.parametrize("kind", ["switch", "residual", "surge"])
def test_what_opens_no_short_circuit_by_itself_protects_nothing(kind: str) -> None:
    """NEC 240.21(H), IEC 62485-2, from memory: an overcurrent device as near the bank as practicable."""
    made = direct_plant([fuse("main", "bank", "bank") | {"kind": kind}])
    finding = found(check_main_protection, made)["main-protection:bank"]
    assert (finding.kind, finding.releasable) == ("stop", False)


def test_every_string_s_own_device_protects_the_bank_and_one_of_two_does_not() -> None:
    own = [fuse(f"fuse-{n}", "string", f"string-{n}") for n in (1, 2)]
    assert not found(check_main_protection, direct_plant(own, strings=2))
    assert "main-protection:bank" in found(check_main_protection, direct_plant(own[:1], strings=2))


def test_a_new_main_fuse_is_offered_that_passes() -> None:
    main = run("run-main", "bank", "panel", area=70.0, ambient=30.0)
    made = direct_plant(runs=[main, run("run-a", "panel", "load-a")], bank={"resistance": 0.012})
    remedies = offered(check_main_protection, made, "main-protection:bank").remedies
    assert remedies
    for remedy in remedies:
        after = changed(made, remedy.change)
        assert not found(check_main_protection, after)
        assert next(one for one in after.site.runs if one.id == "run-main").protection == "fuse-main"
        new = next(one for one in after.site.protection if one.id == "fuse-main")
        assert isinstance(new.interrupting, float)
        assert new.interrupting >= 4000


@pytest.mark.parametrize(
    ("more", "expected"),
    [
        pytest.param(
            {"chemistry": "lfp", "cells_per_block": 16, "blocks": 1},
            58.4,
            id="16 × 3.65 V: data sheets of LFP cells",
        ),
        pytest.param(
            {
                "place": {"coldest_battery": 0.0},
                "bank": {"datasheet": {"ceiling_voltage": 2.45, "temperature_slope": -4.0}},
            },
            24 * (2.45 + 0.1),
            id="24 × 2.45 V and 4 mV/K over 25 K of cold: own arithmetic",
        ),
    ],
)
def test_the_greatest_voltage_of_the_bank(more: dict[str, Any], expected: float) -> None:
    bank = more.pop("bank", {})
    voltage = greatest_bank_voltage(direct_plant(battery=_battery(bank), **more))
    assert isinstance(voltage, Figure)
    assert voltage.value == pytest.approx(expected)


def _battery(bank: dict[str, Any]) -> dict[str, Any]:
    return {
        field: {"value": value, "known": "seen", "source": "test"}
        for field, value in bank.get("datasheet", {}).items()
    }


@pytest.mark.parametrize(
    ("rated", "kind"), [(58.0, "stop"), (58.4, None), (125.0, None), ("unknown", "not checked")]
)
@pytest.mark.parametrize("protects", ["bank", "string"])
def test_a_device_at_the_bank_stands_the_bank_s_voltage(rated: Any, kind: str | None, protects: str) -> None:
    """Common practice: bolt-down fuses of 58 V are not for lithium banks of 48 V."""
    of = "bank" if protects == "bank" else "string-1"
    guards = [fuse("guard", protects, of, voltage=rated)]
    made = direct_plant(guards, chemistry="lfp", cells_per_block=16, blocks=1)
    raised = found(check_main_protection, made)
    assert {ident: one.kind for ident, one in raised.items()} == (
        {"device-voltage:guard": kind} if kind else {}
    )
    if kind == "stop":
        assert not raised["device-voltage:guard"].releasable
        for remedy in offered(check_main_protection, made, "device-voltage:guard").remedies:
            assert not found(check_main_protection, changed(made, remedy.change))


@given(rated=st.floats(10.0, 300.0), more=st.floats(0.0, 300.0))
@settings(max_examples=30)
def test_a_higher_voltage_never_adds_a_finding(rated: float, more: float) -> None:
    def raised(voltage: float) -> set[str]:
        return set(
            found(check_main_protection, direct_plant([fuse("guard", "bank", "bank", voltage=voltage)]))
        )

    assert raised(rated + more) <= raised(rated)
