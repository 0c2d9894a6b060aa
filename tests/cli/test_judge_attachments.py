"""A file of readings may name files, which are read from beneath its own folder only."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

Command = Callable[..., Any]
SITE = "tarnwold-cabin"
HEAD = 'format = 1\n[visit]\ntechnician = "Runa Feld"\nstarted_at = 2026-05-12T08:30:00-07:00\n'
ROW = '[[reading]]\nstep = "blocks-counted.count"\nparts = ["string-a"]\nvalue = 2\n'
PHOTO = b"\xff\xd8\xff photograph"


@pytest.fixture
def judge(commission: Command, tmp_path: Path) -> Command:
    """Return a function that judges readings in a folder with a photograph, beside which a secret lies."""
    folder = tmp_path / "paper"
    (folder / "photographs").mkdir(parents=True)
    (folder / "photographs" / "lid.jpg").write_bytes(PHOTO)
    (folder / "monitor.csv").write_bytes(b"57.6\n")
    (tmp_path / "secret.txt").write_text("secret")

    def run(body: str, *options: object) -> Any:
        (folder / "readings.toml").write_text(HEAD + ROW + body, encoding="utf-8")
        return commission("judge", SITE, folder / "readings.toml", "--record", tmp_path / "records", *options)

    return run


def test_files_of_readings_and_steps_lie_beside_the_record(
    commission: Command, judge: Command, tmp_path: Path
) -> None:
    said = judge(
        'attachments = ["photographs/lid.jpg", "monitor.csv"]\n'
        '[[attachment]]\nstep = "blocks-counted"\nparts = ["string-a"]\nfile = "photographs/lid.jpg"\n'
        'caption = "the lid is cracked"\n'
    )
    assert said.err == ""
    (record,) = (tmp_path / "records").glob("*.toml")
    assert sorted(path.suffix for path in record.with_suffix("").iterdir()) == [".csv", ".jpg"]
    (row,) = commission("verify", record, "--seals-only", "--json").data
    assert (row["intact"], row["complete"]) == (True, True)
    assert [(one["name"], one["caption"], one["state"]) for one in row["attachments"]] == [
        ("lid.jpg", "the lid is cracked", "there"),
        ("monitor.csv", "", "there"),
    ]
    (photo,) = record.with_suffix("").glob("*.jpg")
    photo.write_bytes(PHOTO[:-1] + b"!")
    again = commission("verify", record, "--seals-only", "--json")
    assert (again.code, again.data[0]["state"], again.data[0]["intact"]) == (1, "intact", False)
    assert "lid.jpg" in again.data[0]["reasons"][0]


@pytest.mark.parametrize(
    "name",
    [
        "../secret.txt",
        "photographs/../../secret.txt",
        "/etc/hostname",
        "C:/Windows/win.ini",
        "C:secret.txt",
        "..\\\\secret.txt",
        "//server/share/a.txt",
        "./monitor.csv",
        "photographs//lid.jpg",
        "",
        ".",
    ],
)
def test_no_name_leads_out_of_the_folder(judge: Command, tmp_path: Path, name: str) -> None:
    said = judge(f'attachments = ["{name}"]\n')
    assert said.code == 2
    assert "readings.toml: reading[number 1].attachments" in said.err
    assert "leads out of the folder of the file of readings" in said.err
    assert "Traceback" not in said.err
    assert not (tmp_path / "records").exists()


def test_no_link_leads_out_of_the_folder_either(judge: Command, tmp_path: Path) -> None:
    try:
        (tmp_path / "paper" / "link").symlink_to(tmp_path)
        (tmp_path / "paper" / "link.txt").symlink_to(tmp_path / "secret.txt")
    except OSError:
        pytest.skip("no links here")
    said = judge('attachments = ["link/secret.txt", "link.txt"]\n')
    assert said.code == 2
    assert said.err.count("leads out of the folder") == 2


def test_a_name_that_no_file_can_have_is_told_with_its_key(judge: Command) -> None:
    """File systems end names at 255 bytes; a name in a file of readings may have 400 letters."""
    said = judge(f'attachments = ["{"a" * 300}.jpg"]\n')
    assert said.code == 2
    assert "attachments" in said.err
    assert "Traceback" not in said.err


def test_what_is_wrong_with_a_file_is_told_with_its_key(judge: Command) -> None:
    said = judge(
        'attachments = ["none.jpg", "photographs"]\n'
        '[[attachment]]\nstep = "blocks-counted"\nparts = ["string-z"]\nfile = "monitor.csv"\n'
        '[[attachment]]\nstep = "blocks-counted"\nparts = ["string-a"]\nfiles = "monitor.csv"\n'
    )
    assert said.code == 2
    assert "attachment[number 2].file: is missing" in said.err
    said = judge(
        'attachments = ["none.jpg", "photographs"]\n'
        '[[attachment]]\nstep = "blocks-counted"\nparts = ["string-z"]\nfile = "monitor.csv"\n'
    )
    assert "reading[number 1].attachments = none.jpg: there is no such file" in said.err
    assert "reading[number 1].attachments = photographs: is a folder" in said.err
    assert (
        "attachment[number 1].step = blocks-counted string-z: this plant's walk has no such step" in said.err
    )


def test_a_judged_record_names_the_one_before_where_it_is_told(
    commission: Command, judge: Command, tmp_path: Path
) -> None:
    judge("")
    (first,) = (tmp_path / "records").glob("*.toml")
    said = judge("", "--after", first, "--json")
    second = Path(said.data["record"])
    rows = {
        row["record"]: row
        for row in commission("verify", tmp_path / "records", "--seals-only", "--json").data
    }
    assert rows[str(second)]["previous"] == rows[str(first)]["digest"]
    assert rows[str(second)]["chain"] == []
    first.unlink()
    gone = commission("verify", tmp_path / "records", "--seals-only")
    assert gone.code == 1
    assert "a record of this site is missing before it" in gone.out
    assert judge("", "--after", first).code == 2
