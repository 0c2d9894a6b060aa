"""``commission judge`` and ``commission verify``: readings in, a sealed record out."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from commission.plant.places import data_folder

Command = Callable[..., Any]
SITE = "tarnwold-cabin"
SAMPLE = data_folder("sample_sites") / "readings" / f"{SITE}.toml"
HEAD = 'format = 1\n[visit]\ntechnician = "Runa Feld"\nstarted_at = 2026-05-12T08:30:00-07:00\n'
VERDICTS = {"pass", "conditional pass", "conditional fail", "fail", "stop work", "not judged"}


def _row(step: str, value: str, *parts: str, more: str = "") -> str:
    listed = ", ".join(f'"{part}"' for part in parts)
    return f'[[reading]]\nstep = "{step}"\nparts = [{listed}]\nvalue = {value}\n{more}\n'


@pytest.fixture
def judge(commission: Command, tmp_path: Path) -> Command:
    """Return a function that judges readings of the sample cabin and writes the record beside them."""

    def run(body: str, *options: str, head: str = HEAD) -> Any:
        path = tmp_path / "readings.toml"
        path.write_text(head + body, encoding="utf-8")
        return commission("judge", SITE, path, "--record", tmp_path / "records", *options)

    return run


def test_readings_go_in_and_an_unsigned_intact_record_comes_out(
    commission: Command, judge: Command, tmp_path: Path
) -> None:
    """Two blocks in series are what the site file says; nothing is open, so the code is 0."""
    said = judge(_row("blocks-counted.count", "2", "string-a"))
    assert said.code == 0
    assert said.out.startswith("pass")
    (record,) = (tmp_path / "records").iterdir()
    assert str(record) in said.out
    assert record.name.startswith(f"{SITE}_2026-05-12_commissioning_")
    verified = commission("verify", record, "--json")
    assert verified.code == 0
    (row,) = verified.data
    assert (row["state"], row["intact"], row["signed_by"]) == ("intact", True, None)
    assert re.fullmatch(r"sha256:[0-9a-f]{64}", row["digest"])


def test_the_digest_can_be_checked_without_the_program(judge: Command, tmp_path: Path) -> None:
    """SHA-256 over every line but the last, as a shell does it with head and sha256sum."""
    judge(_row("blocks-counted.count", "2", "string-a"))
    (record,) = (tmp_path / "records").iterdir()
    lines = record.read_bytes().splitlines(keepends=True)
    assert lines[-1] == f'digest = "sha256:{hashlib.sha256(b"".join(lines[:-1])).hexdigest()}"\n'.encode()


@pytest.mark.parametrize("place", [0.0, 0.1, 0.35, 0.6, 0.85, 0.999])
def test_one_changed_byte_is_noticed(
    commission: Command, judge: Command, tmp_path: Path, place: float
) -> None:
    """Wherever in the file it is."""
    judge(_row("blocks-counted.count", "2", "string-a"))
    (record,) = (tmp_path / "records").iterdir()
    content = bytearray(record.read_bytes())
    content[int(place * len(content))] ^= 1
    record.write_bytes(content)
    said = commission("verify", record, "--json")
    assert said.code == 1
    assert said.data[0]["intact"] is False
    assert said.data[0]["reasons"]


def test_a_folder_of_records_is_verified_whole(commission: Command, judge: Command, tmp_path: Path) -> None:
    """One bad record among good ones makes the code 1, and each has its line."""
    for _ in range(2):
        judge(_row("blocks-counted.count", "2", "string-a"))
    folder = tmp_path / "records"
    assert commission("verify", folder).code == 0
    first, second = sorted(folder.iterdir())
    first.write_bytes(first.read_bytes() + b"#\n")
    said = commission("verify", folder)
    assert said.code == 1
    assert str(first) in said.out
    assert str(second) in said.out
    assert {row["record"]: row["intact"] for row in commission("verify", folder, "--json").data} == {
        str(first): False,
        str(second): True,
    }


@pytest.mark.parametrize(
    ("value", "verdict", "code"),
    [
        pytest.param("2", "pass", 0, id="as the site file says"),
        pytest.param("3", "fail", 1, id="one too many"),
        pytest.param('"2"', "pass", 0, id="as text"),
        pytest.param("2.0", "pass", 0, id="with a decimal"),
    ],
)
def test_the_code_says_whether_a_reading_is_open(judge: Command, value: str, verdict: str, code: int) -> None:
    """0 where all passed, 1 where one failed or could not be judged."""
    said = judge(_row("blocks-counted.count", value, "string-a"), "--json")
    (reading,) = said.data["readings"]
    assert reading["judgement"]["verdict"] == verdict
    assert said.code == code


def test_a_reading_that_waits_for_another_is_not_judged(judge: Command) -> None:
    """A voltage at rest needs to know how long the bank has rested; without, it is no pass."""
    said = judge(_row("string-voltage", '"12.65"', "string-a"), "--json")
    (reading,) = said.data["readings"]
    assert reading["judgement"]["verdict"] == "not judged"
    assert said.code == 1


def test_json_of_judge_has_stable_keys(judge: Command) -> None:
    """Record, readings with key and verdict, remarks."""
    said = judge(_row("blocks-counted.count", "2", "string-a"), "--json")
    assert set(said.data) == {"record", "readings", "remarks"}
    (reading,) = said.data["readings"]
    assert {"step", "parts", "index", "kind", "value", "text", "unit", "measured_at", "judgement"} <= set(
        reading
    )
    assert {"verdict", "low", "high", "unit"} <= set(reading["judgement"])
    assert Path(said.data["record"]).is_file()
    assert any("isolated" in remark for remark in said.data["remarks"])


def test_a_corrected_reading_counts_for_the_code(judge: Command) -> None:
    """Of two readings of the same thing the later one stands."""
    first = _row("blocks-counted.count", "3", "string-a", more="measured_at = 2026-05-12T09:00:00-07:00")
    second = _row("blocks-counted.count", "2", "string-a", more="measured_at = 2026-05-12T09:05:00-07:00")
    assert judge(second + first).code == 0


@pytest.mark.parametrize(
    ("body", "named"),
    [
        pytest.param("", "reading", id="no reading"),
        pytest.param(
            _row("block-counted.count", "2", "string-a"), "blocks-counted.count", id="step mistyped"
        ),
        pytest.param(_row("blocks-counted.count", "2", "string-c"), "string-a", id="part that is none"),
        pytest.param(_row("blocks-counted.count", '"two"', "string-a"), "two", id="no number"),
        pytest.param(
            _row("blocks-counted.count", "2", "string-a", more='verdict = "pass"'),
            "verdict",
            id="verdict given",
        ),
        pytest.param(
            _row("blocks-counted.count", "2", "string-a", more="index = 7"), "index", id="no such place"
        ),
        pytest.param(
            _row("string-voltage", "12.6", "string-a", more='instrument = "meter-9"'),
            "meter-9",
            id="no such meter",
        ),
        pytest.param("[[reading]\n", "readings.toml", id="no TOML"),
    ],
)
def test_a_bad_file_of_readings_is_explained_and_no_record_written(
    judge: Command, tmp_path: Path, body: str, named: str
) -> None:
    """A reading that was not taken must not look taken."""
    said = judge(body)
    assert said.code == 2
    assert said.out == ""
    assert "readings.toml" in said.err
    assert named in said.err
    assert not (tmp_path / "records").exists()


def test_a_record_that_is_none_is_told(commission: Command, tmp_path: Path) -> None:
    """A site file is no record; a file that is not there is bad input."""
    malformed = commission("verify", SAMPLE, "--json")
    assert malformed.code == 1
    assert malformed.data[0]["state"] == "malformed"
    assert commission("verify", tmp_path / "nowhere.toml").code == 2
    empty = tmp_path / "empty"
    empty.mkdir()
    assert commission("verify", empty).code == 2


def test_the_readings_that_come_with_the_program(commission: Command, tmp_path: Path) -> None:
    """Its comment says that one reading is out of band: the cable of the lights, 14 AWG in place of 12."""
    said = commission("judge", SITE, SAMPLE, "--record", tmp_path, "--json")
    assert said.code == 1
    verdicts = {
        (row["step"], *row["parts"], row["index"]): row["judgement"]["verdict"]
        for row in said.data["readings"]
    }
    assert set(verdicts.values()) <= VERDICTS
    failed = [key for key, verdict in verdicts.items() if verdict != "pass"]
    assert failed == [("cable-as-drawn.size", "run-lights", 0)]
    bands = {row["step"]: row["judgement"] for row in said.data["readings"] if row["parts"] == ["run-main"]}
    # 180 lb·in are 20.34 N·m; ten percent to either side
    assert bands["run-torque.torque"]["low"] == pytest.approx(18.30, abs=0.005)
    assert bands["run-torque.torque"]["high"] == pytest.approx(22.37, abs=0.005)
    assert commission("verify", tmp_path).code == 0


def test_nothing_of_a_record_commands_the_terminal(commission: Command, tmp_path: Path) -> None:
    """Nor of its name; anybody may have written both."""
    path = tmp_path / "a\x1b[31mb.toml"
    text = '[sign_off]\nname = "\\u001b]0;x\\u0007"\n[header]\nvisit = "\\u001b[2J"\n'
    path.write_text(text, encoding="utf-8")
    said = commission("verify", path)
    assert (said.code, "\x1b" in said.out, "\x07" in said.out) == (1, False, False)
    assert "\x1b" not in commission("verify", tmp_path / "\x1b[2J.toml").err
