"""Keys that the program does not know are carried along: site file, journal, record, and back."""

from __future__ import annotations

import datetime as dt
import math
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from commission.errors import SiteError
from commission.plant.files import plant_of
from commission.plant.plant import Plant
from commission.plant.toml import parsed, validated
from commission.records.read import read_record, toml_of
from commission.records.tables import toml_text
from commission.records.verify import verify
from commission.records.write import record_bytes
from commission.visit import events
from commission.visit.digest import plant_digest
from commission.visit.framing import framed
from commission.visit.replay import event_of, line_of, replay
from commission.visit.types import Reading, Visit
from tests.plant.sites import NOWHERE, content
from tests.records.sample import SHEET, signed
from tests.visit.walks import NOON, begun, resumed, small_plant, walk

_NAMES = st.text(st.characters(blacklist_categories=["Cs"]), min_size=1, max_size=8).map(
    lambda text: f"x {text}"
)
_SCALARS = st.one_of(
    st.booleans(),
    st.integers(-(10**18), 10**18),
    st.floats(allow_nan=False, allow_infinity=False),
    st.text(st.characters(blacklist_categories=["Cs"]), max_size=12),
    st.dates(),
    st.times(),
    st.datetimes(),
    st.datetimes(timezones=st.just(dt.timezone(dt.timedelta(hours=-7)))),
)
_VALUES = st.recursive(
    _SCALARS,
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(_NAMES, inner, max_size=3),
    max_leaves=6,
)
UNKNOWN = st.dictionaries(_NAMES, _VALUES, min_size=1, max_size=3)


def as_text(value: Any) -> Any:
    """Return a value with dates as text, which is how they are kept."""
    if isinstance(value, dict):
        return {key: as_text(item) for key, item in value.items()}
    if isinstance(value, list):
        return [as_text(item) for item in value]
    return value.isoformat() if isinstance(value, dt.date | dt.time) else value


def plant_with(unknown: dict[str, Any]) -> Plant:
    """Return a plant with unknown keys at several depths, an own profile of its battery among them."""
    site = content()
    for table in (site, site["site"], site["bank"], site["bank"]["strings"][0], site["runs"][0]):
        table.update(unknown)
    return plant_of(site, NOWHERE).plant


def extras_of(plant: Plant) -> list[Any]:
    site = plant.site
    return [
        model.model_extra for model in (site, site.site, site.bank, site.bank.strings[0], site.runs[0])
    ]  # fmt: skip


@settings(max_examples=12)
@given(unknown=UNKNOWN)
def test_unknown_keys_of_a_site_survive_journal_and_record(
    tmp_path_factory: pytest.TempPathFactory, unknown: dict[str, Any]
) -> None:
    """With the digest of the plant, whichever way it went."""
    root = tmp_path_factory.mktemp("visits")
    plant = plant_with(unknown)
    assert extras_of(plant) == [as_text(unknown)] * 5
    with begun(root, walk(), plant=plant) as visit:
        ident = visit.visit.id
    with resumed(root, ident, walk()) as visit:
        assert extras_of(visit.plant) == extras_of(plant)
        assert plant_digest(visit.plant) == plant_digest(plant)
        written = record_bytes(visit.visit, visit.plant, SHEET)
    assert written == record_bytes(visit.visit, plant, SHEET)
    path = root / "record.toml"
    path.write_bytes(written)
    record = read_record(path)
    assert extras_of(record.plant) == extras_of(plant)
    assert record.plant_digest == record.header.plant_digest == f"sha256:{plant_digest(plant)}"
    assert verify(path).intact


@settings(max_examples=12)
@given(unknown=UNKNOWN)
def test_unknown_keys_of_a_visit_survive_a_rewrite(
    tmp_path_factory: pytest.TempPathFactory, unknown: dict[str, Any]
) -> None:
    """In the visit, its readings and their judgements, people, meters, settings, notes, the signature."""
    folder = tmp_path_factory.mktemp("records")
    data = signed(folder / "visits").model_dump(mode="python", exclude_none=True)
    data |= unknown
    for name in ("people", "instruments", "readings", "settings", "devices", "notes", "dispositions"):
        for row in data[name]:
            row.update(unknown)
    data["readings"][0]["judgement"].update(unknown)
    data["sign_off"].update(unknown)
    visit = Visit.model_validate(data)
    path = folder / "record.toml"
    path.write_bytes(record_bytes(visit, small_plant(), SHEET))
    read = read_record(path)
    assert read.visit == visit
    assert record_bytes(read.visit, read.plant, SHEET) == path.read_bytes()


@settings(max_examples=50)
@given(unknown=UNKNOWN)
def test_unknown_keys_of_an_event_survive_the_journal(unknown: dict[str, Any]) -> None:
    told = {"at": NOON, "event": "moved", "step": "volts", **unknown}
    event = events.EVENT.validate_python(told)
    again = event_of(line_of(event).rstrip(b"\n"))
    assert again is not None
    assert again == event
    assert again.model_extra == as_text(unknown)
    assert replay(line_of(event)).events == (event,)


@pytest.mark.parametrize(
    ("value", "says"),
    [
        (math.nan, "finite number"),
        (math.inf, "finite number"),
        ([1.0, {"deep": -math.inf}], "finite number"),
        (10**400, "18 digits"),
        (-(10**19), "18 digits"),
    ],
)
@pytest.mark.parametrize("where", ["site", "bank", "changes", "datasheet"])
def test_a_number_that_no_file_carries_is_refused_at_once(where: str, value: Any, says: str) -> None:
    """With its key, before a visit is begun with it."""
    site = content()
    if where == "changes":
        site["planned"] = [{"name": "more", "changes": {"site.x": value}}]
    elif where == "datasheet":
        site["bank"]["datasheet"] = {"x": value}
    else:
        site[where]["x"] = value
    with pytest.raises(SiteError) as caught:
        plant_of(site, NOWHERE)
    assert any(says in problem.wrong and "x" in problem.key for problem in caught.value.problems)


def test_a_line_of_a_journal_with_such_a_number_is_no_entry() -> None:
    """It was never written so; it counts as damaged and is told."""
    told = '{"at":"2026-11-24T12:00:00+01:00","event":"moved","step":"a","x":?}'
    for number in ("NaN", "Infinity", "1e999", "1" + "0" * 400):
        assert event_of(framed(told.replace("?", number))[:-1]) is None
    assert event_of(framed(told.replace("?", "1"))[:-1]) is not None


def test_rows_that_stand_in_the_table_of_the_visit_are_refused(tmp_path: Path) -> None:
    """Else a record could hold a signature that its seal knows nothing of."""
    content = record_bytes(signed(tmp_path / "visits"), small_plant(), SHEET)
    for name in ("readings", "notes", "sign_off"):
        path = tmp_path / "record.toml"
        path.write_bytes(content.replace(b"[visit]\n", f"[visit]\n{name} = []\n".encode()))
        with pytest.raises(Exception, match=rf"visit\.{name}: stands in \[visit\]"):
            read_record(path)


def test_a_reading_keeps_the_keys_of_a_later_program() -> None:
    told = {"kind": "number", "value": 1.0, "text": "1", "step": "a", "measured_at": NOON, "entered_at": NOON}
    reading = validated(Reading, told | {"meter_range": "20 V"}, "record.toml")
    assert reading.model_dump()["meter_range"] == "20 V"


def test_a_site_that_nests_as_deep_as_is_allowed_can_be_recorded(tmp_path: Path) -> None:
    """What is read of a site file stands deeper in a record, and is still read there."""
    deep: Any = 1
    for _ in range(19):
        deep = [deep]
    site = content()
    site["bank"]["strings"][0]["x"] = deep
    assert parsed(toml_text(site).encode(), "site.toml")
    plant = plant_of(site, NOWHERE).plant
    visit = Visit(id="v", site=plant.site.site.id, kind="service", started_at=NOON, program="0")
    path = tmp_path / "record.toml"
    path.write_bytes(record_bytes(visit, plant, SHEET))
    assert read_record(path).plant == plant
    assert toml_of(path.read_bytes())
