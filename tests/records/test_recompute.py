"""Verification that trusts nothing: what a record says follows from the plant and readings inside it."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import pytest

from commission import __version__
from commission.cli import main
from commission.plant.files import load_plant
from commission.plant.places import data_folder
from commission.prepare import worked_out_anew
from commission.records.differing import difference_lines
from commission.records.read import read_record, toml_of
from commission.records.recompute import explained, recompute
from commission.records.seals import sealed
from commission.records.tables import toml_text
from commission.records.write import write_record
from commission.visit.recompute import Recomputed, same
from commission.visit.session import OpenVisit
from commission.visit.state import Readings
from tests.records.tamper import changed, prepared
from tests.technician import Clock, begin, walk

SITE = "tarnwold-cabin"


def walked(root: Path) -> OpenVisit:
    """Return a visit whose steps were done as a technician does them."""
    plant = load_plant(data_folder("sample_sites") / f"{SITE}.toml").plant
    clock = Clock()
    visit = begin(root, plant, clock)
    walk(visit, clock)
    return visit


@pytest.fixture(scope="module")
def record(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("visits")
    visit = walked(folder)
    path = write_record(folder / "records", visit.visit, visit.plant, visit.sheet)
    visit.close()
    return path


def forged(record: Path, folder: Path, change: Any) -> Path:
    """Return a record whose data were changed and whose digests were worked out anew."""
    data = toml_of(record.read_bytes())
    del data["seal"]
    change(data)
    above = toml_text(data).encode()
    path = folder / "forged.toml"
    path.write_bytes(sealed(above, toml_of(above), says="judged"))
    return path


def test_a_record_as_written_agrees_with_itself(record: Path) -> None:
    found, explained = worked_out_anew(read_record(record), __version__)
    assert found.differences == ()
    assert found.count > 150
    assert explained == ()


def _reading(data: dict[str, Any]) -> dict[str, Any]:
    """Return a reading that passed by its band."""
    return next(
        row
        for row in data["reading"]
        if row["judgement"]["verdict"] == "pass" and "low" in row["judgement"] and row["kind"] == "number"
    )


def set_(path: str, value: Any) -> Any:
    """Return a change of a field of a reading that passed."""
    *outer, last = path.split(".")

    def change(data: dict[str, Any]) -> None:
        row = _reading(data)
        for name in outer:
            row = row[name]
        assert row[last] != value
        row[last] = value

    return change


def of_setting(field: str) -> Any:
    def change(data: dict[str, Any]) -> None:
        row = next(one for one in data["setting"] if isinstance(one.get(field), float))
        row[field] *= 1.001

    return change


def without(table: str) -> Any:
    """Return a change that takes a row away and counts one less."""

    def change(data: dict[str, Any]) -> None:
        del data[table][0]
        data["header"]["counts"][f"{table}s"] -= 1

    return change


FORGERIES = {
    "a value that passes no more": set_("value", 0.5),
    "a verdict": set_("judgement.verdict", "fail"),
    "a lower limit": set_("judgement.low", 0.0),
    "an uncertainty": set_("judgement.uncertainty", 1e-6),
    "a margin": set_("judgement.margin", 9.0),
    "a unit": set_("unit", "mV"),
    "a recommended setting": of_setting("recommended"),
    "the range of a setting": of_setting("high"),
    "a finding left out": without("finding"),
    "a finding's remedy": lambda data: data["finding"][0].update(remedy="nothing"),
    "the plant": lambda data: data["plant"]["site"]["bank"].update(capacity=500.0),
    "the plant's digest": lambda data: data["header"].update(plant_digest="sha256:00"),
}


def again(path: Path) -> tuple[Recomputed, tuple[str, ...]]:
    """Return what ``worked_out_anew`` does; the sheet of one plant is made once for all."""
    record = read_record(path)
    sheet, checklist = prepared(record)
    return recompute(record, sheet, checklist), explained(record, checklist, __version__)


@pytest.mark.parametrize("name", FORGERIES)
def test_a_forged_number_under_a_right_digest_is_named(record: Path, tmp_path: Path, name: str) -> None:
    found, excuses = again(forged(record, tmp_path, FORGERIES[name]))
    assert found.differences
    assert excuses == ()


def test_a_forged_number_is_told_by_the_exit_code(record: Path, tmp_path: Path) -> None:
    assert main(["verify", str(forged(record, tmp_path, FORGERIES["a verdict"]))]) == 1


def test_every_number_of_a_judgement_counts(record: Path, tmp_path: Path) -> None:
    """Each number of every verdict that counts changed in its fifth digit, all at once: none is missed."""
    made: set[tuple[str, str]] = set()

    def change(data: dict[str, Any]) -> None:
        for row, reading in zip(data["reading"], readings, strict=True):
            for name, value in row["judgement"].items():
                if isinstance(value, float) and value and id(reading) in living:
                    row["judgement"][name] *= 1.0001
                    made.add((f"reading {reading.key}", name.replace("_", " ")))

    readings = read_record(record).visit.readings
    living = {id(reading) for reading in Readings(readings).all_current()}
    found, _ = again(forged(record, tmp_path, change))
    assert len(made) > 200
    assert made - {(one.place, one.field) for one in found.differences} == set()


def test_whatever_differs_is_told_in_words(record: Path, tmp_path: Path) -> None:
    """Each kind of field of verdicts, settings and findings changed at once: nothing in Python's words."""

    def change(data: dict[str, Any]) -> None:
        judged = [row["judgement"] for row in data["reading"]]
        kinds: set[str] = set()
        for table, rows in (("reading", judged), ("setting", data["setting"]), ("finding", data["finding"])):
            for row in rows:
                for name, value in row.items():
                    kind = f"{table} {name}"
                    if kind not in kinds and name not in {"device", "setting", "id", "input", "kind"}:
                        kinds.add(kind)
                        row[name] = [] if isinstance(value, list) else _other(name, value)
        data["header"]["signed"] = True

    found, _ = again(forged(record, tmp_path, change))
    lines = list(difference_lines(found.differences))
    assert len(lines) > 25
    for line, raw in zip(lines, sorted(found.differences, key=lambda one: one.excusable), strict=True):
        assert not re.search(r"None|True|False|[{}]|\(\)|\('|datetime|\d\.\d{9}|_", line), line
        assert "\n" not in line
        assert str(raw).startswith(f"{raw.place}: {raw.field} is {raw.told} in the record")


def _other(name: str, value: Any) -> Any:
    return "conditional fail" if name == "verdict" else value if isinstance(value, dict) else changed(value)


def test_another_version_explains_a_difference_and_does_not_hide_it(
    record: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    def change(data: dict[str, Any]) -> None:
        of_setting("high")(data)
        data["header"]["program"] = data["visit"]["program"] = "0.0.1"

    path = forged(record, tmp_path, change)
    assert main(["verify", str(path), "--json"]) == 3
    (told,) = json.loads(capsys.readouterr().out)
    assert told["verdict"] == "not confirmed"
    assert told["recomputed"]["differences"]
    assert told["recomputed"]["explained_by"] == [
        f"it was made by version 0.0.1, this is version {__version__}"
    ]
    assert main(["verify", str(path), "--seals-only"]) == 0
    assert "worked out anew" not in capsys.readouterr().out


def test_a_setting_changed_later_does_not_change_what_was_judged_before(tmp_path: Path) -> None:
    """The settings of the moment count."""
    visit = walked(tmp_path)
    clock = Clock(visit.newest)
    for setting in visit.sheet.settings:
        if setting.setting in {"absorption_voltage", "float_voltage"} and setting.changeable:
            visit.set_left(setting.device, setting.setting, "13.1", clock(), reason="later")
    path = write_record(tmp_path / "records", visit.visit, visit.plant, visit.sheet)
    visit.close()
    found, _ = worked_out_anew(read_record(path), __version__)
    assert found.differences == ()


@pytest.mark.parametrize(
    ("one", "other", "equal"),
    [
        (0.1 + 0.2, 0.3, True),
        (1.000000001, 1.0, True),
        (1.00000001, 1.0, False),
        (1e-15, 0.0, True),
        (float("inf"), float("inf"), True),
        (float("inf"), 1e308, False),
        (True, 1, False),
        ("1", 1, False),
        ((1.0, "a"), [1.0, "a"], True),
    ],
)
def test_numbers_are_compared_at_nine_digits(one: Any, other: Any, equal: bool) -> None:
    assert same(one, other) is equal
