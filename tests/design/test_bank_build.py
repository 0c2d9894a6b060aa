"""Strings of one bank against each other: voltage, kind, capacity, number and age."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from commission.design.bank_age import check_bank_age
from commission.design.bank_build import check_bank_build
from commission.plant.change import grown
from commission.plant.files import load_battery
from commission.plant.plant import Plant
from commission.plant.site import Planned
from tests.design.battery_plants import found, kinds, mended, number, one, room

MANY = "strings-in-parallel:bank"
AGE = "strings-of-unlike-age:bank"


def strings(*own: dict[str, Any], chemistry: str = "flooded", **more: Any) -> Plant:
    """Return a bank of strings, with the profiles of those that have one of their own."""
    listed = [{"id": f"string-{number}"} | each for number, each in enumerate(own, start=1)]
    bank = more.pop("bank", {}) | {"strings": listed}
    made = room(chemistry, battery=more.pop("battery", {}), bank=bank, **more)
    others = {each["profile"]: load_battery(each["profile"]) for each in own if "profile" in each}
    return made.model_copy(update={"batteries": others or None})


# voltage, kind and capacity


def test_like_strings_are_no_finding() -> None:
    assert not found(check_bank_build, strings({}, {}))


def test_a_string_that_repeats_the_banks_own_values_is_like_the_others() -> None:
    made = strings({}, {"profile": "flooded", "blocks_in_series": 4, "capacity": 500.0})
    assert not found(check_bank_build, made)


def test_a_string_of_fewer_blocks_must_not_be_joined() -> None:
    # Kirchhoff: 3 × 6 × 2 V beside 4 × 6 × 2 V
    made = strings({}, {"blocks_in_series": 3})
    raised = one(check_bank_build, made, "string-voltage:string-2")
    assert raised is not None
    assert (raised.kind, number(raised.value), number(raised.limit)) == ("stop", 36.0, 48.0)
    assert mended(check_bank_build, made, "string-voltage:string-2")


def test_fifteen_and_sixteen_iron_phosphate_cells_must_not_be_joined() -> None:
    # 15 × 3.2 = 48.0 V beside 16 × 3.2 = 51.2 V
    made = strings(
        {}, {"blocks_in_series": 15}, chemistry="lfp", cells_per_block=1, blocks=16,
        bank={"datasheet": {"strings_max": 4}},
    )  # fmt: skip
    raised = one(check_bank_build, made, "string-voltage:string-2")
    assert raised is not None
    assert number(raised.value) == pytest.approx(48.0)
    assert number(raised.limit) == pytest.approx(51.2)


def test_a_string_of_another_kind_and_the_same_voltage_is_to_be_mended() -> None:
    made = strings({}, {"profile": "agm"})
    assert kinds(check_bank_build, made) == {"string-kind:string-2": "correct"}
    assert mended(check_bank_build, made, "string-kind:string-2")


def test_a_string_of_another_chemistry_has_another_voltage() -> None:
    # 24 × 1.2 V beside 24 × 2.0 V
    made = strings({}, {"profile": "nickel-cadmium"})
    assert kinds(check_bank_build, made) == {"string-voltage:string-2": "stop"}


def test_a_string_whose_profile_was_not_loaded_is_not_checked() -> None:
    made = strings({}, {"profile": "agm"}).model_copy(update={"batteries": None})
    assert kinds(check_bank_build, made) == {"string-voltage:string-2": "not checked"}


def test_a_string_of_another_capacity_is_to_be_mended() -> None:
    made = strings({}, {"capacity": 400.0})
    assert kinds(check_bank_build, made) == {"string-capacity:string-2": "correct"}
    assert mended(check_bank_build, made, "string-capacity:string-2")


def test_a_capacity_that_is_not_known_is_asked_for() -> None:
    raised = one(check_bank_build, strings({}, {"capacity": "unknown"}), "string-capacity:string-2")
    assert raised is not None
    assert raised.kind == "not checked"


# how many: 3 to 4 for lead by common practice, second-hand 3 under IEEE 1187


@pytest.mark.parametrize(("count", "kind"), [(1, None), (3, None), (4, "advise"), (5, "correct")])
def test_strings_in_parallel(count: int, kind: str | None) -> None:
    made = strings(*[{}] * count)
    assert kinds(check_bank_build, made) == ({} if kind is None else {MANY: kind})


def test_five_strings_are_mended_by_four_of_the_same_capacity_together() -> None:
    made = strings(*[{}] * 5)
    remedy = found(check_bank_build, made)[MANY].remedies[0]
    assert {change.key: change.value for change in remedy.change} == {
        "bank.strings[string-5]": None,
        "bank.capacity": 625.0,
    }


def test_a_string_that_a_panel_still_names_is_not_taken_away_by_itself() -> None:
    guard = {"id": "fuse-5", "kind": "fuse", "current": "dc", "protects": "string", "of": "string-5"}
    panel = {"id": "panel-1", "kind": "dc", "positions": [{"position": "1", "holds": "fuse-5"}]}
    held = strings(*[{}] * 5, protection=[guard], panels=[panel])
    assert not found(check_bank_build, held)[MANY].remedies[0].change
    loose = strings(*[{}] * 5, protection=[guard])
    keys = [change.key for change in found(check_bank_build, loose)[MANY].remedies[0].change]
    assert "protection[fuse-5]" in keys


def test_how_many_packs_stand_beside_each_other_is_their_makers_word() -> None:
    packs: dict[str, Any] = {"chemistry": "lfp", "cells_per_block": 16, "blocks": 1}
    assert kinds(check_bank_build, strings({}, {}, **packs)) == {MANY: "not checked"}
    assert not found(check_bank_build, strings({}, **packs))
    told = {"strings_max": {"value": 2, "low": None, "high": None}}
    assert not found(check_bank_build, strings({}, {}, battery=told, **packs))
    assert kinds(check_bank_build, strings({}, {}, {}, battery=told, **packs)) == {MANY: "correct"}


# age: 12 months by common practice, 2 years at most


@pytest.mark.parametrize(
    ("first", "second", "kind"),
    [
        ("2024-05-14", "2025-05-13", None),
        ("2024-05-14", "2025-05-20", "advise"),
        ("2024-05-14", "2026-05-20", "correct"),
        ("2026-05-20", "2024-05-14", "correct"),
        # a month counts with the day that brings it nearest: 31 May 2024 to 1 June 2025 are 366 days
        ("2024-05", "2025-06", "advise"),
        ("2024-05", "2025-05", None),
        ("2022", "2023", None),
        ("2022", "2024-12", "advise"),
    ],
)
def test_strings_of_unlike_age(first: str, second: str, kind: str | None) -> None:
    made = strings({"installed": first}, {"installed": second})
    assert kinds(check_bank_age, made) == ({} if kind is None else {AGE: kind})


def test_an_age_that_is_not_told_is_asked_for() -> None:
    made = strings({"installed": "2020"}, {"installed": "2024"}, {"installed": "unknown"}, {})
    assert kinds(check_bank_age, made) == {"age-of-strings:bank": "not checked", AGE: "correct"}
    asked = one(check_bank_age, made, "age-of-strings:bank")
    assert asked is not None
    assert "string-3" in asked.text
    assert "string-4" in asked.text


def test_a_planned_string_is_as_young_as_its_plan() -> None:
    made = strings({"installed": "2022-03"})
    planned = Planned.model_validate(
        {"name": "second string", "when": "2027", "strings": [{"id": "string-2"}]}
    )
    assert kinds(check_bank_age, grown(made, planned)) == {AGE: "correct"}


def test_packs_with_a_management_of_their_own_may_differ_in_age() -> None:
    made = strings(
        {"installed": "2020"}, {"installed": "2026"}, chemistry="lfp", cells_per_block=16, blocks=1
    )
    assert not found(check_bank_age, made)


@settings(max_examples=15, deadline=None)
@given(st.integers(1, 8), st.integers(1, 8))
def test_fewer_strings_never_add_a_finding(first: int, second: int) -> None:
    few, many = sorted((first, second))
    assert set(kinds(check_bank_build, strings(*[{}] * few))) <= set(
        kinds(check_bank_build, strings(*[{}] * many))
    )
