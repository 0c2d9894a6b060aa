"""Ids that a remedy gives to new parts: what stands under an id must never be replaced by it."""

from __future__ import annotations

from itertools import islice

import pytest

from commission.design.check import Look, checked_sheet
from commission.design.fresh import fresh_id, fresh_ids
from commission.plant.change import Change, changed
from commission.plant.files import load_plant
from commission.plant.places import data_folder
from commission.plant.plant import Plant


def sample(name: str) -> Plant:
    return load_plant(data_folder("sample_sites") / f"{name}.toml").plant


def test_a_free_id_stays_as_it_is_wanted() -> None:
    plant = sample("tarnwold-cabin")
    assert fresh_id(plant, "surge-new") == "surge-new"
    assert fresh_id(plant, "fuse-main") == "fuse-main-2"


def test_an_id_made_of_a_string_that_is_gone_is_taken_too() -> None:
    """A fuse ``fuse-1-string-more-1`` was left when its string went: the run of a new one would meet it."""
    plant = sample("tarnwold-cabin")
    left = plant.site.protection[0].model_dump(exclude_unset=True)
    left.pop("id")
    again = changed(plant, (Change("protection[fuse-1-string-more-1]", left),))
    assert list(islice(fresh_ids(again, "string-more"), 2)) == ["string-more-2", "string-more-3"]


def test_numbers_go_on_where_they_are_told_to() -> None:
    assert next(fresh_ids(sample("tarnwold-cabin"), "string-added", 3)) == "string-added-3"


def ids(plant: Plant) -> list[str]:
    arrays = [one.array for one in plant.site.charge_controllers if one.array is not None]
    strings = [string.id for array in arrays for string in array.strings]
    return [*plant.parts, *(one.id for one in plant.bank.strings), *strings]


@pytest.mark.parametrize(
    ("name", "more"),
    [
        ("quillon-farm", {"expected.autonomy": "3 d"}),
        ("skarnow-lodge", {"expected.sun_hours": 0.6}),
    ],
)
def test_remedies_taken_one_after_the_other_keep_every_part(name: str, more: dict[str, float | str]) -> None:
    """A bank or an array that grows three times: no string that stands is lost on the way."""
    plant = changed(sample(name), tuple(Change(key, value) for key, value in more.items()))
    grew = 0
    for _ in range(3):
        found = Look.at(plant).after.values()
        adds = [
            remedy.change
            for one in found
            for remedy in one.remedies
            if any("strings[" in change.key and isinstance(change.value, dict) for change in remedy.change)
        ]
        if not adds:
            break
        new = changed(plant, adds[0])
        added = sum(isinstance(change.value, dict) for change in adds[0])
        assert set(ids(plant)) < set(ids(new))
        assert len(ids(new)) == len(ids(plant)) + added
        plant, grew = new, grew + 1
    assert grew
    assert checked_sheet(plant, ()).findings
