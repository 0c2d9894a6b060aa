"""What every profile file must be, whatever it says: complete, sourced, and in the trade's words."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any

import pytest
from pydantic import BaseModel

from commission.plant.battery import BatteryProfile
from commission.plant.values import Model
from tests.profiles.shelf import BATTERIES, EQUIPMENT, FILES, RULES, battery, data, profile, raw, rules


def texts(value: Any) -> Iterator[str]:
    """Yield every text of a file."""
    if isinstance(value, str):
        yield value
    elif isinstance(value, dict):
        for key, inner in value.items():
            yield key
            yield from texts(inner)
    elif isinstance(value, list):
        for inner in value:
            yield from texts(inner)


def models(value: Any) -> Iterator[BaseModel]:
    """Yield a model and all models inside it."""
    if isinstance(value, BaseModel):
        yield value
        for name in type(value).model_fields:
            yield from models(getattr(value, name))
    elif isinstance(value, dict):
        for inner in value.values():
            yield from models(inner)
    elif isinstance(value, tuple):
        for inner in value:
            yield from models(inner)


def test_every_kind_of_plant_in_view_has_its_profiles():
    assert len(BATTERIES) >= 11
    assert len(EQUIPMENT) >= 28
    assert {"north-america", "iec-230"} <= set(RULES)


@pytest.mark.parametrize("file", FILES)
def test_a_file_is_named_by_its_id(file):
    assert profile(file).id == file.rpartition("/")[2]


@pytest.mark.parametrize("file", FILES)
def test_a_file_has_no_key_that_its_model_does_not_know(file):
    for model in models(profile(file)):
        assert isinstance(model, Model)
        assert not model.model_extra, f"{type(model).__name__} knows no {list(model.model_extra or ())}"


@pytest.mark.parametrize("file", FILES)
def test_a_file_speaks_to_people_and_names_no_address_or_row(file):
    for text in texts(raw(file)):
        assert not re.search(r"https?:|www\.|\.(com|org|net|pdf)\b", text), text
        assert not re.search(r"\b[BSW]\d{2,3}\b|\bSX\b", text), text
        assert not re.search(r"TODO|FIXME|\?\?", text), text


@pytest.mark.parametrize(
    "owner",
    [*(battery(ident) for ident in BATTERIES), *(rules(ident) for ident in RULES)],
    ids=lambda it: it.id,
)
def test_every_value_states_a_source_in_words(owner):
    for field, datum in data(owner).items():
        assert len(datum.source.split()) >= 2 or re.search(r"[A-Z]{3} \d+", datum.source), field
        assert datum.source == datum.source.strip(), field


@pytest.mark.parametrize("ident", BATTERIES)
def test_a_value_taken_from_memory_is_not_called_seen(ident):
    for field, datum in data(battery(ident)).items():
        assert not (datum.known == "seen" and datum.source.endswith("from memory")), field


@pytest.mark.parametrize("ident", BATTERIES)
def test_every_value_has_a_unit(ident):
    profile_of = battery(ident)
    for field in data(profile_of):
        extra = BatteryProfile.model_fields[field].json_schema_extra
        assert isinstance(extra, dict)
        assert extra["unit"], field
