"""Data cables: length against maker and standard, termination, and links without a listed cable."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from commission.design.data_cables import check_data_cables
from commission.design.types import Found, Scene
from commission.figure import Figure, why
from commission.plant.change import Change, changed
from commission.plant.files import load_plant
from commission.plant.places import data_folder
from commission.plant.plant import Plant
from commission.sheet.settle import make_sheet
from tests.builders import plant

_SHEET = make_sheet(load_plant(data_folder("sample_sites") / "tarnwold-cabin.toml").plant)
"""Cables are checked from the plant alone; any sheet does."""

GROUP = tuple(
    {"id": f"inverter-{leg}", "profile": "inverter-48v-120-3600", "group": "house", "group_leg": leg}
    for leg in ("1", "2")
)


def sample(site: str, **changes: Any) -> Plant:
    made = load_plant(data_folder("sample_sites") / f"{site}.toml").plant
    return changed(made, [Change(key, value) for key, value in changes.items()])


def found(made: Plant) -> dict[str, Found]:
    return {one.finding.id: one for one in check_data_cables(Scene(made, _SHEET))}


def with_cable(**fields: Any) -> Plant:
    cable = {"id": "cable-1", "from": "inverter-1", "to": "inverter-2", "terminated": True, **fields}
    return plant(inverters=GROUP, data_cables=[cable])


LONGEST = [
    ("CAN", 1_000_000, 40.0, "ISO 11898-2"),
    ("CAN", 500_000, 100.0, "common practice by ISO 11898-2 bit timing"),
    ("CAN", 250_000, 250.0, "common practice by ISO 11898-2 bit timing"),
    ("CAN", 125_000, 500.0, "common practice by ISO 11898-2 bit timing"),
    ("CAN", 50_000, 1000.0, "common practice by ISO 11898-2 bit timing"),
    ("CAN", 100_000, 500.0, "a rate between two counts as the faster one"),
    ("RS-485", 9_600, 1200.0, "TIA-485-A application notes: 1200 m up to 100 kbit/s"),
    ("RS-485", 1_000_000, 100.0, "TIA-485-A application notes: 10⁸ bit·m/s"),
    ("RS-232", 9_600, 15.0, "TIA-232, earlier editions: 50 ft"),
    ("Ethernet", 100_000_000, 100.0, "ISO/IEC 11801, IEEE 802.3"),
]


@pytest.mark.parametrize(("kind", "rate", "most", "source"), LONGEST, ids=str)
def test_the_longest_bus_of_a_standard(kind: str, rate: float, most: float, source: str) -> None:
    just = with_cable(kind=kind, bit_rate=rate, length=most)
    assert found(just) == {}
    over = found(with_cable(kind=kind, bit_rate=rate, length=most + 1))["data-cable-length:cable-1"]
    assert over.finding.kind == "correct"
    assert isinstance(over.finding.limit, Figure)
    assert over.finding.limit.value == most
    assert any(line.source for line in why(over.finding.limit))


def test_the_makers_own_limit_replaces_the_standards() -> None:
    # longer or shorter than the standard's 100 m: the maker knows his transceivers
    assert found(with_cable(kind="CAN", bit_rate=500_000, length=120, length_max=150)) == {}
    assert "data-cable-length:cable-1" in found(
        with_cable(kind="CAN", bit_rate=500_000, length=30, length_max=20)
    )


@pytest.mark.parametrize(
    ("kind", "length", "asked"), [("CAN", 40, False), ("CAN", 41, True), ("RS-485", 12, False)]
)
def test_the_bit_rate_is_asked_for_only_where_it_decides(kind: str, length: float, asked: bool) -> None:
    one = found(with_cable(kind=kind, length=length)).get("data-cable-length:cable-1")
    assert (one is not None) is asked
    if one is not None:
        assert (one.finding.kind, "bit rate of cable-1" in one.finding.text) == ("not checked", True)


def test_a_cable_of_another_kind_goes_by_its_maker_alone() -> None:
    one = found(with_cable(kind="other", length=5))["data-cable-length:cable-1"].finding
    assert (one.kind, "length max of cable-1" in one.text) == ("not checked", True)
    assert found(with_cable(kind="other", length=5, length_max=10)) == {}


def test_an_unknown_length_is_asked_for() -> None:
    one = found(with_cable(kind="Ethernet"))["data-cable-length:cable-1"].finding
    assert (one.kind, "length of cable-1" in one.text) == ("not checked", True)


def test_every_remedy_of_a_long_bus_passes() -> None:
    made = with_cable(kind="CAN", bit_rate=500_000, length=180)
    remedies = found(made)["data-cable-length:cable-1"].remedies
    assert [remedy.change[0].value for remedy in remedies] == [100.0, 250_000.0]
    for remedy in remedies:
        assert found(changed(made, remedy.change)) == {}


@settings(max_examples=30, deadline=None)
@given(
    st.sampled_from(["CAN", "RS-485", "RS-232", "Ethernet"]),
    st.sampled_from([20_000, 50_000, 125_000, 250_000, 1_000_000]),
    st.floats(1, 1500),
)
def test_a_shorter_or_slower_bus_never_adds_a_finding(kind: str, rate: float, length: float) -> None:
    before = set(found(with_cable(kind=kind, bit_rate=rate, length=length)))
    assert set(found(with_cable(kind=kind, bit_rate=rate, length=length * 0.7))) <= before
    assert set(found(with_cable(kind=kind, bit_rate=rate * 0.5, length=length))) <= before


# termination


@pytest.mark.parametrize(
    ("kind", "needed"), [("CAN", True), ("RS-485", True), ("Ethernet", False), ("RS-232", False)]
)
def test_a_bus_wants_its_resistors_at_both_ends(kind: str, needed: bool) -> None:
    # ISO 11898-2 and TIA-485-A: a resistor of the line's impedance at each end
    made = with_cable(kind=kind, bit_rate=9600, length=5, terminated=False)
    one = found(made).get("data-cable-termination:cable-1")
    assert (one is not None) is needed
    if one is not None:
        assert one.finding.kind == "correct"
        assert found(changed(made, one.remedies[0].change)) == {}


def test_unknown_termination_is_asked_for_where_a_group_or_the_battery_lives_on_it() -> None:
    one = found(with_cable(kind="CAN", bit_rate=500_000, length=5, terminated="unknown"))
    assert one["data-cable-termination:cable-1"].finding.kind == "not checked"
    battery = found(sample("skarnow-lodge", **{"data_cables[cable-battery].terminated": "unknown"}))
    assert battery["data-cable-termination:cable-battery"].finding.kind == "not checked"


def test_unknown_termination_of_a_cable_that_nothing_depends_on_is_not_asked_for() -> None:
    cable = {"id": "cable-1", "kind": "RS-485", "from": "controller-1", "to": "controller-1", "length": 2}
    controller = {"id": "controller-1", "profile": "controller-48v-60-buck-150"}
    assert found(plant(controllers=(controller,), data_cables=[cable])) == {}


# links without a cable


def test_a_managed_battery_and_a_group_without_a_listed_cable_are_asked_for() -> None:
    none = {"data_cables[cable-battery]": None, "data_cables[cable-group]": None}
    one = found(sample("aldermere-clinic", **none))["data-cable:bank"].finding
    assert one.kind == "not checked"
    assert "data cable between bank" in one.text
    assert "inverter-1, inverter-2" in one.text


def test_a_group_alone_without_a_listed_cable_is_asked_for() -> None:
    one = found(plant(inverters=GROUP))["data-cable:site"].finding
    assert (one.kind, "inverter-1, inverter-2" in one.text) == ("not checked", True)


def test_a_plant_without_a_link_is_not_asked_for_cables() -> None:
    assert found(sample("tarnwold-cabin")) == {}
    assert found(sample("brackling-forge")) == {}
