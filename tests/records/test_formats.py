"""Records of every format are read for ever; one of a later format is refused with what to do."""

from __future__ import annotations

import hashlib
import json
from pathlib import Path
from typing import Any

import pytest

from commission import __version__
from commission.cli import main
from commission.errors import RecordError, SiteError
from commission.plant.files import load_plant
from commission.plant.formats import Formats, brought_up
from commission.plant.places import data_folder
from commission.plant.toml import read_toml
from commission.prepare import worked_out_anew
from commission.records.keys import known_keys
from commission.records.migrate import RECORDS
from commission.records.read import read_record, toml_of
from commission.records.readings import read_readings
from commission.records.verify import verify, verify_bytes

SAMPLES = Path(__file__).with_name("samples")
BY_FORMAT = {
    1: ("format-1.toml",),
    2: ("format-2.toml", "format-2-signed.toml", "format-2-countersigned.toml"),
}
EVERY = [name for names in BY_FORMAT.values() for name in names]


def test_every_format_has_a_sample() -> None:
    """And every format before the newest a step to the next."""
    assert sorted(BY_FORMAT) == list(range(1, RECORDS.newest + 1))
    assert sorted(RECORDS.steps) == list(range(1, RECORDS.newest))
    for format_, names in BY_FORMAT.items():
        assert {toml_of((SAMPLES / name).read_bytes())["format"] for name in names} == {format_}


@pytest.mark.parametrize("name", EVERY)
def test_a_sample_is_read_and_is_intact(name: str) -> None:
    """Where this fails a model has changed: give its new field a default, or raise the format of records."""
    record, found = read_record(SAMPLES / name), verify(SAMPLES / name)
    assert (found.state, found.reasons) == ("intact", ())
    assert found.format == record.format == int(name.removeprefix("format-")[0])
    assert record.visit.readings
    assert record.header.counts.readings == len(record.visit.readings)


@pytest.mark.parametrize("name", EVERY)
def test_the_plant_of_a_sample_is_the_one_that_it_was_made_of(name: str) -> None:
    """By the digest of the plant as it was written."""
    record = read_record(SAMPLES / name)
    assert record.plant_digest == record.header.plant_digest


def test_the_digest_of_format_1_covers_every_byte() -> None:
    """Its seal has the digest of the bytes alone: 24 places spread over the file are each noticed."""
    content = (SAMPLES / "format-1.toml").read_bytes()
    assert set(toml_of(content)["seal"][0]) == {"kind", "digest"}
    for place in range(0, len(content), len(content) // 24):
        changed = bytearray(content)
        changed[place] ^= 0x01
        assert not verify_bytes(bytes(changed)).intact, place
    assert verify_bytes(content.replace(b"\n", b"\r\n")).state == "changed"


def test_the_seals_of_format_2_hold_with_their_keys() -> None:
    found = verify(SAMPLES / "format-2-countersigned.toml", known_keys(SAMPLES / "known.toml"))
    assert [(one.says, one.name, one.signature, one.key) for one in found.seals] == [
        ("signed", "Runa Feld", "good", "known"),
        ("countersigned", "Elin Corse", "good", "known"),
    ]


def test_what_format_1_did_not_hold_is_said_to_be_unknown_or_taken_from_its_time() -> None:
    """And what it held is untouched."""
    told = toml_of((SAMPLES / "format-1.toml").read_bytes())["plant"]
    plant = read_record(SAMPLES / "format-1.toml").plant
    assert plant.battery.strings_max.value == "unknown"
    assert "strings_max" not in told["battery"]
    assert plant.rules.drop_inverter.value == 0.02
    assert plant.rules.ac_voltage.value == told["rules"]["ac_voltage"]["value"]


def test_numbers_of_the_past_are_never_changed() -> None:
    """They say what held when a format began, whatever the rule sets say today."""
    past = Path(read_record.__code__.co_filename).with_name("past") / "format-2.toml"
    found = hashlib.sha256(past.read_bytes().replace(b"\r\n", b"\n")).hexdigest()
    assert found == "a64d883fda13563177a0c0882abf259257839b3ff351fe576786a8526bd96f8f"


def test_an_own_rule_set_of_format_1_gets_the_numbers_of_the_nearest(tmp_path: Path) -> None:
    for text, drop in ((b"split_phase = true", 0.02), (b"split_phase = false", 0.02)):
        content = (SAMPLES / "format-1.toml").read_bytes().replace(b"split_phase = true", text)
        content = content.replace(b'id = "north-america"', b'id = "of-our-own"')
        path = tmp_path / "own.toml"
        path.write_bytes(content.replace(b'rules = "north-america"', b'rules = "of-our-own"'))
        rules = read_record(path).plant.rules
        assert (rules.id, rules.earth_conductors_by) == (
            "of-our-own", "device" if b"true" in text else "line"
        )  # fmt: skip
        assert rules.drop_inverter.value == drop


def test_that_another_format_explains_what_is_worked_out_otherwise_is_said() -> None:
    found, explained = worked_out_anew(read_record(SAMPLES / "format-1.toml"), __version__)
    assert found.differences
    assert explained[0] == f"it was written in format 1, and is read as format {RECORDS.newest}"
    assert not any(one.place == "header" for one in found.differences)


def test_verify_says_of_an_earlier_record_in_which_format_it_was_written(
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert main(["verify", str(SAMPLES / "format-1.toml")]) == 3  # it holds less, so it is not confirmed
    assert f"written in format 1, read here as format {RECORDS.newest}" in capsys.readouterr().out
    main(["verify", "--json", str(SAMPLES / "format-1.toml")])
    (row,) = json.loads(capsys.readouterr().out)
    assert (row["format"], row["intact"]) == (1, True)
    assert main(["verify", str(SAMPLES / "format-2.toml")]) == 3  # of an earlier version: not false
    assert "written in format" not in capsys.readouterr().out


# formats that are later, or none


def of_format(told: str, tmp_path: Path, name: str = "format-2.toml") -> Path:
    path = tmp_path / "later.toml"
    path.write_bytes((SAMPLES / name).read_bytes().replace(b"format = 2", f"format = {told}".encode(), 1))
    return path


def test_a_later_record_is_refused_with_what_to_do(tmp_path: Path) -> None:
    path = of_format("3", tmp_path)
    with pytest.raises(RecordError) as caught:
        read_record(path)
    (problem,) = caught.value.problems
    assert (problem.key, problem.value) == ("format", "3")
    assert "newer version" in problem.right
    found = verify(path)
    assert (found.state, found.format) == ("malformed", 3)
    assert "newer version" in found.reasons[0]


@pytest.mark.parametrize("told", ["0", "-1", "true", '"2"', "2.0", "[]"])
def test_what_is_no_format_is_refused(told: str, tmp_path: Path) -> None:
    with pytest.raises(RecordError, match=f"begins with format = {RECORDS.newest}"):
        read_record(of_format(told, tmp_path))


def test_a_format_of_thousands_of_digits_is_refused(tmp_path: Path) -> None:
    with pytest.raises(RecordError, match="later format"):
        read_record(of_format("0x" + "f" * 9000, tmp_path))


@pytest.mark.parametrize("kind", ["site", "readings", "profile", "known"])
def test_a_later_file_of_every_kind_is_refused_with_what_to_do(kind: str, tmp_path: Path) -> None:
    """Whatever else is in it: what it means is not known here."""
    path = tmp_path / "later.toml"
    path.write_text("format = 2\nsomething = 'new'\n")
    readers: dict[str, Any] = {
        "site": load_plant, "readings": read_readings, "profile": read_toml, "known": known_keys,
    }  # fmt: skip
    with pytest.raises(Exception, match="newer version") as caught:
        readers[kind](path)
    (problem,) = caught.value.problems  # type: ignore[attr-defined]
    assert (problem.file, problem.key, problem.value) == ("later.toml", "format", "2")


def test_an_earlier_file_goes_through_every_step() -> None:
    """From its own format on, and a key that no step knows stays."""
    steps = {
        1: lambda data: {**data, "b": data["a"] + 1},
        2: lambda data: {**data, "c": data["b"] + 1},
    }
    formats = Formats(newest=3, steps=steps)
    assert brought_up({"format": 1, "a": 1, "x": 9}, formats, "f") == {
        "format": 3, "a": 1, "b": 2, "c": 3, "x": 9,
    }  # fmt: skip
    assert brought_up({"format": 2, "b": 5}, formats, "f") == {"format": 3, "b": 5, "c": 6}
    assert brought_up({"format": 3}, formats, "f") == {"format": 3}
    with pytest.raises(SiteError, match="newer version"):
        brought_up({"format": 4}, formats, "f")


def test_the_program_writes_the_newest_format(tmp_path: Path) -> None:
    readings = data_folder("sample_sites") / "readings" / "tarnwold-cabin.toml"
    main(["judge", "tarnwold-cabin", str(readings), "--record", str(tmp_path)])
    (path,) = tmp_path.glob("*.toml")
    assert toml_of(path.read_bytes())["format"] == RECORDS.newest
