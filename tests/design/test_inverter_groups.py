"""Inverters that make one supply: classes, roles, legs, counts, and the nominal voltage of the bank."""

from __future__ import annotations

from typing import Any

import pytest

from commission.design.composition import check_composition
from commission.design.group_units import check_nominal_voltage
from commission.plant.change import changed
from commission.plant.plant import Plant
from tests.design.inverter_plants import findings, found, number, site, split_pair, unit
from tests.profiles import shelf

PHASE = "inverter-48v-230-5000"
LEG = "inverter-48v-120-3600"
BOTH = "inverter-48v-120-240-6000"
PLAIN = "inverter-48v-230-3000-plain"


def group(*legs: str, profile: str = PHASE, **own: Any) -> tuple[dict[str, Any], ...]:
    """Return a group with a unit on each of some legs, the first its reference."""
    return tuple(
        unit(
            number,
            profile,
            group="one",
            group_role="reference" if number == 1 else "follower",
            group_leg=leg,
            **own,
        )
        for number, leg in enumerate(legs, start=1)
    )


def raised(of: Plant) -> dict[str, Any]:
    return findings(check_composition, of)


@pytest.mark.parametrize(
    ("profile", "legs"),
    [
        *((PHASE, legs) for legs in ("1", "11", "111", "123", "112233")),
        *((LEG, legs) for legs in ("11", "12", "1122")),
        (PLAIN, "1"),
    ],
)
def test_what_a_class_is_made_for_passes(profile: str, legs: str) -> None:
    assert raised(site(*group(*legs, profile=profile))) == {}


def test_two_leg_units_in_parallel_pass() -> None:
    assert raised(site(*group("both", "both", profile=BOTH))) == {}


@pytest.mark.parametrize(
    ("profile", "legs", "words"),
    [
        (PLAIN, "11", "in parallel"),
        (PLAIN, "12", "two legs"),
        (PHASE, "12", "two legs"),
        (LEG, "123", "three phases"),
    ],
)
def test_what_a_class_is_not_made_for_is_stopped(profile: str, legs: str, words: str) -> None:
    one = raised(site(*group(*legs, profile=profile)))["group-joining"]
    assert one.kind == "stop"
    assert words in one.text


def test_a_way_of_joining_that_is_not_known_is_asked_for() -> None:
    own = {"sheet": {"combines": "unknown"}}
    units = [
        unit(n, PHASE, group="one", group_role=role, **own) for n, role in ((1, "reference"), (2, "follower"))
    ]
    one = raised(site(*units))["group-joining"]
    assert one.kind == "not checked"
    assert raised(site(unit(sheet={"combines": "unknown"}))) == {}


@pytest.mark.parametrize(
    ("roles", "kind"),
    [
        (("reference", "reference"), "stop"),
        (("follower", "follower"), "correct"),
        (("alone", "alone"), "stop"),
        (("reference", "alone"), "stop"),
        (("reference", "follower"), None),
    ],
)
def test_one_reference_and_no_unit_alone(roles: tuple[str, str], kind: str | None) -> None:
    """One unit sets voltage, frequency and phase for its group; trade practice of paralleled inverters."""
    units = [unit(n, group="one", group_role=role) for n, role in enumerate(roles, start=1)]
    of = site(*units)
    told = raised(of)
    assert (told["group-role"].kind if "group-role" in told else None) == kind
    for one in found(check_composition, of):
        for remedy in one.remedies:
            assert "group-role" not in raised(changed(of, remedy.change))


def test_a_follower_by_itself_waits_for_nobody() -> None:
    assert raised(site(unit(group_role="follower")))["group-role"].kind == "correct"
    assert raised(site(unit(group_role="alone"))) == {}


def test_mixed_ratings_are_mended_and_mixed_voltages_stopped() -> None:
    first, second = group("1", "1")
    mixed = {**second, "datasheet": {**second["datasheet"], "continuous_power": 4000.0}}
    assert raised(site(first, mixed))["group-class"].kind == "correct"
    volts = {**second, "datasheet": {**second["datasheet"], "ac_voltage": 120.0}}
    told = raised(site(first, volts))
    assert told["group-output"].kind == "stop"
    assert (number(told["group-output"].limit), number(told["group-output"].value)) == (120.0, 230.0)
    assert "group-class" not in told


def test_mixed_classes_are_told_by_name() -> None:
    first, second = group("1", "1")
    other = {**second, "profile": "inverter-24v-230-3000"}
    assert "inverter-24v-230-3000" in raised(site(first, other))["group-class"].text


def test_a_frequency_that_cannot_be_set_alike_is_stopped() -> None:
    first, second = group("1", "1")
    fixed = {
        **second,
        "datasheet": {
            **second["datasheet"],
            "ac_frequency": 60.0,
            "settings": {"ac_output_frequency": {"unit": "Hz", "fixed": 60.0}},
        },
    }
    told = raised(site(first, fixed, place={"rules": "iec-230", "units": "metric"}))
    assert told["group-output"].kind == "stop"
    assert "Hz" in told["group-output"].text


def test_one_version_of_firmware_in_a_group() -> None:
    """Same firmware, model and settings on all units of a group: trade practice."""
    first, second = group("1", "1")
    newer = {**second, "firmware": "1.10"}
    of = site({**first, "firmware": "1.9"}, newer)
    assert raised(of)["group-firmware"].kind == "correct"
    (one,) = found(check_composition, of)
    assert {change.value for change in one.remedies[0].change} == {"1.10"}
    assert raised(site(first, {**second, "firmware": ""}))["group-firmware"].kind == "not checked"


def test_no_more_units_than_the_class_allows() -> None:
    """Own arithmetic: 12 of 12 pass, 13 do not."""
    assert raised(site(*group(*"1" * 12))) == {}
    over = raised(site(*group(*"1" * 13)))["group-size"]
    assert (over.kind, number(over.value), number(over.limit)) == ("correct", 13.0, 12.0)
    asked = raised(site(*group("1", "1", sheet={"units_max": "unknown"})))["group-size"]
    assert asked.kind == "not checked"


@pytest.mark.parametrize("legs", ["13", "23", "22", "33"])
def test_a_leg_between_is_missing(legs: str) -> None:
    assert raised(site(*group(*legs)))["legs-missing"].kind == "correct"


def test_a_third_phase_is_missing_behind_a_three_phase_set() -> None:
    inputs = {"generator": "generator-1"}
    generator = {"id": "generator-1", "profile": "generator-diesel-three-230-20000"}
    two = site(*group("1", "2", inputs=inputs), generators=[generator])
    assert "3" in raised(two)["legs-missing"].text
    three = site(*group("1", "2", "3", inputs=inputs), generators=[generator])
    assert raised(three) == {}


def test_unequal_legs_are_told() -> None:
    """Two units of 5 kVA on leg 1, one each on the others."""
    told = raised(site(*group("1", "1", "2", "3")))["legs-unequal"]
    assert (told.kind, number(told.value), number(told.limit)) == ("advise", 5000.0, 10000.0)


@pytest.mark.parametrize(
    ("field", "checks"),
    [("continuous_power", {"group-class", "legs-unequal"}), ("ac_voltage", {"group-output"})],
)
def test_what_units_of_a_group_are_rated_is_asked_for(field: str, checks: set[str]) -> None:
    """A unit of unknown rating is no unit of 0 VA, and one of unknown voltage is not alike."""
    first, *others = group("1", "1", "2", "3")
    unknown = {**first, "datasheet": {**first["datasheet"], field: "unknown"}}
    told = raised(site(unknown, *others))
    asked = {check for check, one in told.items() if one.kind == "not checked"}
    assert checks <= asked
    for check in checks:
        (gap,) = told[check].missing
        assert gap.key == f"inverter_chargers[{first['id']}].datasheet.{field}"


def test_what_is_known_to_be_unlike_is_stopped_whatever_is_unknown() -> None:
    first, second, third = group("1", "1", "1")
    odd = {**second, "datasheet": {**second["datasheet"], "ac_voltage": 120.0}}
    unknown = {**third, "datasheet": {**third["datasheet"], "ac_voltage": "unknown"}}
    assert raised(site(first, odd, unknown))["group-output"].kind == "stop"


def test_two_opposed_legs_never_run_with_three_phases() -> None:
    """180° between two legs, 120° between three phases: phasors."""
    units = group("both", "1", profile=BOTH)
    third = {**units[1], "profile": LEG, "group_leg": "3"}
    assert raised(site(units[0], third))["two-legs-in-three-phase"].kind == "stop"


def test_a_group_of_a_class_that_needs_a_controller() -> None:
    own = {"group_by_controller": True}
    units = [unit(n, group="one", group_role="follower", sheet=own) for n in (1, 2)]
    told = raised(site(*units))
    assert told["group-controller"].kind == "correct"
    assert "group-role" not in told
    box = {"id": "monitor-1", "profile": "monitor-500a"}
    coordination = {"kind": "own outputs", "controller": "monitor-1", "members": ["inverter-1", "inverter-2"]}
    assert raised(site(*units, monitor=box, coordination=coordination)) == {}


def test_two_units_of_their_own_on_one_panel_are_stopped() -> None:
    panel = {"id": "panel", "kind": "ac"}
    runs = [{"id": f"run-{n}", "kind": "ac", "from": f"inverter-{n}", "to": "panel"} for n in (1, 2)]
    of = site(unit(1), unit(2), panels=[panel], runs=runs)
    assert raised(of)["outputs-joined"].kind == "stop"
    (one,) = found(check_composition, of)
    assert raised(changed(of, one.remedies[0].change)) == {}
    switch = {"id": "switch", "one_of": ["inverter-1", "inverter-2"], "by": "changeover switch"}
    assert raised(site(unit(1), unit(2), panels=[panel], runs=runs, interlocks=[switch])) == {}
    assert raised(site(unit(1), unit(2), panels=[panel], runs=runs[:1])) == {}


@pytest.mark.parametrize(
    ("profile", "blocks", "kind"),
    [
        ("inverter-48v-230-5000", 4, None),
        ("inverter-24v-230-3000", 4, "stop"),
        ("inverter-48v-230-5000", 2, "correct"),
        ("inverter-24v-230-3000", 2, None),
    ],
)
def test_an_inverter_is_made_for_its_bank(profile: str, blocks: int, kind: str | None) -> None:
    """24 cells of 2 V are 48 V."""
    told = findings(check_nominal_voltage, site(unit(profile=profile), blocks=blocks))
    assert (told["nominal-voltage"].kind if told else None) == kind


def test_a_controller_for_two_voltages_fits_the_lower_one() -> None:
    lower = site(blocks=1, controllers=({"id": "controller-1", "profile": "controller-12-24v-30-switched"},))
    assert findings(check_nominal_voltage, lower) == {}
    over = site(blocks=2, controllers=({"id": "controller-1", "profile": "controller-12v-20-plain"},))
    assert findings(check_nominal_voltage, over)["nominal-voltage"].kind == "stop"


@pytest.mark.parametrize(
    ("chemistry", "cells", "profile"),
    [("nickel-iron", 19, "inverter-24v-230-3000"), ("lto", 22, PHASE), ("nmc", 14, PHASE), ("lfp", 16, PHASE),
     ("lfp", 15, PHASE), ("nickel-cadmium", 40, PHASE)],
)  # fmt: skip
def test_the_usual_cell_counts_fit_their_nominal_voltage(chemistry: str, cells: int, profile: str) -> None:
    """Cell counts of common practice for 24 V and 48 V systems."""
    of = site(unit(profile=profile), chemistry=chemistry, cells_per_block=cells, blocks=1)
    assert findings(check_nominal_voltage, of) == {}


def test_a_split_pair_passes_with_every_remedy_left_alone() -> None:
    assert raised(site(*split_pair())) == {}


@pytest.mark.parametrize("ident", [name for name in shelf.EQUIPMENT if name.startswith("inverter-")])
def test_every_class_says_how_it_is_joined(ident: str) -> None:
    """A class that runs alone has one unit and no role to set; one that joins has both."""
    device = shelf.equipment(ident)
    combines, most = device.combines, device.units_max  # type: ignore[union-attr]
    assert isinstance(combines, tuple)
    assert (most == 1) == (combines == ())
    assert ("group_role" in device.settings) == bool(combines)
    legs = device.settings.get("group_leg")
    if "three" in combines:
        assert legs is not None
        assert "3" in legs.choices
    if "split" in combines:
        assert legs is not None
        assert {"1", "2"} <= set(legs.choices)
        assert device.ac_legs == 1  # type: ignore[union-attr]
