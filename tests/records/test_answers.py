"""Answers and keys that are written while something goes wrong: two at once, a link, a disk that is full."""

from __future__ import annotations

import os
import sys
import threading
from datetime import timedelta
from pathlib import Path

import pytest

from commission.cli import main
from commission.errors import CommissionError, KeyFileError, RecordError
from commission.records.answer import answer_record
from commission.records.keys import keys_in, make_key
from commission.records.verify import verify
from commission.records.write import write_record
from tests.records.sample import SHEET, signed
from tests.visit.walks import NOON, small_plant

LATER = NOON + timedelta(days=1)
NAMES = ("Elin Corse", "Petra Aldane", "Hanne Dovrey", "Joss Wend")


@pytest.fixture
def record(tmp_path: Path) -> Path:
    return write_record(tmp_path / "records", signed(tmp_path / "visits"), small_plant(), SHEET)


def test_of_several_who_countersign_at_once_none_is_lost(record: Path) -> None:
    """Each one that was told it is done has its seal in the record."""
    together = threading.Barrier(len(NAMES))
    refused: list[str] = []

    def countersign(name: str) -> None:
        together.wait()
        try:
            answer_record(record, "countersigned", name=name, role="supervisor", now=LATER)
        except RecordError as error:
            refused.append(str(error))

    threads = [threading.Thread(target=countersign, args=(name,)) for name in NAMES]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    found = verify(record)
    assert (refused, found.state) == ([], "intact")
    assert sorted(seal.name for seal in found.seals[1:]) == sorted(NAMES)


@pytest.mark.skipif(sys.platform == "win32", reason="links need a privilege there")
def test_a_link_to_a_record_stays_one_and_what_it_leads_to_is_answered(record: Path, tmp_path: Path) -> None:
    link = tmp_path / "in-tray.toml"
    link.symlink_to(record)
    answer_record(link, "countersigned", name="Elin Corse", role="supervisor", now=LATER)
    assert link.is_symlink()
    assert [seal.says for seal in verify(record).seals] == ["signed", "countersigned"]


def limited(most: int) -> int:
    """Let no file grow beyond so many bytes; returns what the limit was."""
    import resource
    import signal

    signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
    before, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (most, hard))
    return before


@pytest.mark.skipif(sys.platform == "win32", reason="has no such limit")
def test_a_full_disk_leaves_no_half_key_and_the_record_as_it_was(record: Path, tmp_path: Path) -> None:
    before, keys = record.read_bytes(), tmp_path / "keys"
    told: list[CommissionError] = []
    usual = limited(200)
    try:
        try:
            make_key(keys, "Runa Feld", "technician", "seven grey geese", now=NOON, random=os.urandom)
        except KeyFileError as error:
            told.append(error)
        try:
            answer_record(record, "countersigned", name="Elin Corse", role="supervisor", now=LATER)
        except RecordError as error:
            told.append(error)
    finally:
        limited(usual)
    assert ["the disk is full" in str(error) for error in told] == [True, True]
    assert list(keys.iterdir()) == []
    assert record.read_bytes() == before
    assert [path.suffix for path in record.parent.iterdir() if path.name.endswith(".part")] == []
    make_key(keys, "Runa Feld", "technician", "seven grey geese", now=NOON, random=os.urandom)
    assert [key.name for key in keys_in(keys)] == ["Runa Feld"]


def test_what_cannot_be_read_in_a_folder_hides_no_record(
    record: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (record.parent / "a-folder.toml").mkdir()
    with (record.parent / "large.toml").open("wb") as large:
        large.truncate(30_000_000)
    if sys.platform != "win32":
        os.mkfifo(record.parent / "pipe.toml")
        (record.parent / "astray.toml").symlink_to("nowhere.toml")
    assert main(["verify", str(record.parent), "--seals-only"]) == 1
    told = capsys.readouterr().out.splitlines()
    assert any(line.startswith("intact") and record.name in line for line in told)
    assert any(line.startswith("malformed") and "large.toml" in line for line in told)
    assert not any("a-folder" in line for line in told)


def test_verify_does_not_take_an_empty_name_for_the_folder_where_one_stands(
    capsys: pytest.CaptureFixture[str],
) -> None:
    """As a script gives it whose variable is not set."""
    with pytest.raises(SystemExit) as ended:
        main(["verify", ""])
    assert ended.value.code == 2
    assert "an empty name" in capsys.readouterr().err


@pytest.mark.skipif(sys.platform == "win32", reason="has no such limit")
def test_a_new_site_file_that_finds_no_room_is_not_in_the_way_of_the_next(tmp_path: Path) -> None:
    site = tmp_path / "raven-hut.toml"
    usual = limited(500)
    try:
        assert main(["new", str(site)]) == 2
    finally:
        limited(usual)
    assert not site.exists()
    assert main(["new", str(site)]) == 0
