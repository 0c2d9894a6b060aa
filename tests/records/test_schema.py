"""JSON Schemas of the files: every sample keeps to its own, and nothing that is read is against it."""

from __future__ import annotations

import datetime as dt
import json
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from jsonschema import Draft202012Validator

from commission.cli import main
from commission.errors import SiteError
from commission.plant.places import data_folder
from commission.plant.site import Site
from commission.plant.toml import read_toml, validated
from commission.records.read import toml_of
from commission.records.schema import NAMES, schema_of
from tests.plant.sites import content
from tests.plant.test_never_crashes import ODD, PLACES, changed

_RECORDS = Path(__file__).with_name("samples")
_PROFILES, _SITES = data_folder("profiles"), data_folder("sample_sites")
SAMPLES = {
    "site": sorted(_SITES.glob("*.toml")),
    "profile-battery": sorted((_PROFILES / "batteries").glob("*.toml")),
    "profile-equipment": sorted((_PROFILES / "equipment").glob("*.toml")),
    "profile-rules": sorted((_PROFILES / "rules").glob("*.toml")),
    "checklist": sorted((_PROFILES / "checklists").glob("*.toml")),
    "readings": sorted((_SITES / "readings").glob("*.toml")),
    "record": sorted(_RECORDS.glob("format-2*.toml")),
    "keys": [_RECORDS / "known.toml"],
}


def as_json(value: Any) -> Any:
    """Return TOML as JSON would have it: dates as text."""
    if isinstance(value, dict):
        return {key: as_json(item) for key, item in value.items()}
    if isinstance(value, list):
        return [as_json(item) for item in value]
    return value.isoformat() if isinstance(value, dt.date | dt.time) else value


def judge(name: str) -> Draft202012Validator:
    schema = schema_of(name)
    Draft202012Validator.check_schema(schema)
    return Draft202012Validator(schema)


@pytest.mark.parametrize("name", NAMES)
def test_every_sample_keeps_to_its_schema(name: str) -> None:
    found = judge(name)
    assert SAMPLES[name]
    for path in SAMPLES[name]:
        data = toml_of(path.read_bytes()) if name == "record" else read_toml(path)
        assert [error.message for error in found.iter_errors(as_json(data))] == []


@pytest.mark.parametrize("name", NAMES)
def test_a_schema_is_not_content_with_anything(name: str) -> None:
    """Each table that has to be there is missed, and none may be a number."""
    found = judge(name)
    path = SAMPLES[name][0]
    data = as_json(toml_of(path.read_bytes()) if name == "record" else read_toml(path))
    needed = found.schema.get("required") or ["id"]
    for key in needed:
        assert not found.is_valid({other: value for other, value in data.items() if other != key})
    assert all(not found.is_valid(data | {key: -7.5}) for key in needed)


@pytest.mark.parametrize("name", NAMES)
def test_a_schema_has_a_title_and_says_what_each_table_is(name: str) -> None:
    schema = schema_of(name)
    assert schema["title"]
    assert schema["description"]
    assert schema["$schema"].startswith("https://json-schema.org/")
    for table in schema.get("$defs", {}).values():
        assert table.get("description") or table.get("enum") or table["title"]


@settings(max_examples=60)
@given(st.data())
def test_what_is_read_is_never_against_the_schema(data: st.DataObject) -> None:
    """Whatever is changed in a site file: where the model takes it, so does the schema."""
    name = data.draw(st.sampled_from(sorted(PLACES)))
    site = content(name)
    for _ in range(data.draw(st.integers(1, 3))):
        how = data.draw(st.sampled_from(["replace", "replace", "remove", "rename", "add", "double"]))
        changed(site, data.draw(st.sampled_from(PLACES[name])), how, data.draw(ODD))
    try:
        validated(Site, site, "site.toml")
    except SiteError:
        return
    assert [error.message for error in _OF_SITES.iter_errors(as_json(site))] == []


_OF_SITES = judge("site")


def test_the_command_prints_a_schema_with_and_without_json(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["schema", "site"]) == 0
    plain = capsys.readouterr().out
    assert json.loads(plain) == schema_of("site")
    assert main(["schema", "site", "--json"]) == 0
    assert capsys.readouterr().out == plain


def test_the_command_lists_the_schemas_that_there_are(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["schema"]) == 0
    told = capsys.readouterr().out
    assert [line.split()[0] for line in told.splitlines()] == list(NAMES)
    assert main(["schema", "--json"]) == 0
    assert json.loads(capsys.readouterr().out) == list(NAMES)


def test_a_schema_that_there_is_none_of_is_refused(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as ended:
        main(["schema", "reading"])
    assert ended.value.code == 2
    assert "readings" in capsys.readouterr().err
