"""Others at the folder of a visit, and a folder that cannot be written: nothing is lost unnoticed."""

from __future__ import annotations

import errno
import os
import shutil
from pathlib import Path

import pytest

from commission.errors import VisitError
from commission.visit.framing import NAME
from commission.visit.journal import Journal
from commission.visit.replay import replay
from commission.visit.session import OpenVisit
from commission.visit.shelf import HOLDER, LOCK, list_visits
from tests.visit.walks import after, begun, reading, resumed, step, walk

STEPS = walk(step("volts"), step("seen", reading(kind="yes or no")))
on_posix = pytest.mark.skipif(os.name == "nt", reason="an open file cannot be deleted there")


def read(visit: OpenVisit, typed: str, minute: float) -> None:
    ask = visit.checklist.steps[0].asks[0]
    visit.take(ask, typed, measured_at=after(minute), now=after(minute), instrument="meter-1")


def test_a_visit_is_listed_by_its_folder_so_that_a_copy_is_not_taken_for_it(tmp_path: Path) -> None:
    """And a renamed folder can be taken up."""
    visit = begun(tmp_path, STEPS)
    visit.close()
    shutil.copytree(tmp_path / visit.visit.id, tmp_path / "a copy")
    assert {found.id for found in list_visits(tmp_path)} == {visit.visit.id, "a copy"}
    with resumed(tmp_path, "a copy", STEPS) as copied:
        read(copied, "54.1", 1)
    with resumed(tmp_path, visit.visit.id, STEPS) as first:
        assert first.visit.readings == ()


@on_posix
@pytest.mark.parametrize("gone", ["journal", "folder"])
def test_a_journal_deleted_while_it_is_open_is_put_back_whole(tmp_path: Path, gone: str) -> None:
    """By hand or by a program that tidies up; what was entered before and after is there."""
    visit = begun(tmp_path, STEPS)
    read(visit, "54.1", 1)
    folder = tmp_path / visit.visit.id
    shutil.rmtree(folder) if gone == "folder" else (folder / NAME).unlink()
    read(visit, "54.2", 2)
    read(visit, "54.3", 3)
    visit.close()
    with resumed(tmp_path, visit.visit.id, STEPS) as again:
        assert (again.messages, again.visit) == ((), visit.visit)


@on_posix
def test_a_journal_replaced_while_it_is_open_takes_nothing_and_what_was_entered_is_kept(
    tmp_path: Path,
) -> None:
    """As a program does that keeps folders the same on two machines."""
    visit = begun(tmp_path, STEPS)
    path = tmp_path / visit.visit.id / NAME
    old = path.read_bytes()
    read(visit, "54.1", 1)
    whole = path.read_bytes()
    other = path.with_name("other")
    other.write_bytes(old)
    other.replace(path)
    for says in ("not kept: .*replaced by another program.*journal-replaced-1", "no more: .*replaced"):
        with pytest.raises(VisitError, match=says):
            read(visit, "54.2", 2)
    visit.close()
    assert (path.with_name("journal-replaced-1").read_bytes(), path.read_bytes()) == (whole, old)
    assert [item.text for item in visit.visit.readings] == ["54.1"]


@on_posix
def test_a_deleted_lock_does_not_let_a_second_writer_in(tmp_path: Path) -> None:
    """The journal itself is held too, and is not cut by who may not have it."""
    visit = begun(tmp_path, STEPS)
    (tmp_path / visit.visit.id / LOCK).unlink()
    for _ in range(2):
        with pytest.raises(VisitError, match="written by another process"):
            resumed(tmp_path, visit.visit.id, STEPS)
    read(visit, "54.1", 1)
    visit.close()
    with resumed(tmp_path, visit.visit.id, STEPS) as again:
        assert again.visit == visit.visit


def test_a_kill_while_a_damaged_journal_is_mended_loses_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Ended before the mended one has its place, and opened again: the damage is found and told again."""
    visit = begun(tmp_path, STEPS)
    for minute in (1, 2, 3):
        read(visit, f"54.{minute}", minute)
    visit.close()
    path = tmp_path / visit.visit.id / NAME
    path.write_bytes(path.read_bytes().replace(b'"text":"54.2"', b'"text":"54.9"'))

    def killed(*_: object) -> None:
        raise KeyboardInterrupt

    for kind, call in ((Path, "replace"), (Journal, "__init__")):
        with monkeypatch.context() as patched:
            patched.setattr(kind, call, killed)
            with pytest.raises(KeyboardInterrupt):
                resumed(tmp_path, visit.visit.id, STEPS)
        found = replay(path.read_bytes())
        assert len(found.events) + len(found.after_damage) == 5
    with resumed(tmp_path, visit.visit.id, STEPS) as again:
        assert [item.text for item in again.visit.readings] == ["54.1", "54.3"]


@pytest.mark.parametrize("name", [LOCK, HOLDER])
def test_a_folder_that_cannot_be_written_is_told_in_words(tmp_path: Path, name: str) -> None:
    """No lock, no visit; who holds it need not be told to anybody."""
    visit = begun(tmp_path, STEPS)
    visit.close()
    spoiled = tmp_path / visit.visit.id / name
    spoiled.unlink(missing_ok=True)
    spoiled.mkdir()
    if name == LOCK:
        with pytest.raises(VisitError, match="cannot be written"):
            resumed(tmp_path, visit.visit.id, STEPS)
    else:
        resumed(tmp_path, visit.visit.id, STEPS).close()


def test_a_visit_that_finds_no_room_leaves_no_folder_behind(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """It would be listed for ever as one that cannot be read."""

    def full(*_: object) -> int:
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(os, "write", full)
    with pytest.raises(VisitError, match="cannot be made: the disk is full: No space left"):
        begun(tmp_path, STEPS)
    assert list(tmp_path.iterdir()) == []


def test_a_journal_larger_than_any_visit_is_not_read_whole(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """It is listed with the reason, and refused when it is opened."""
    monkeypatch.setattr("commission.visit.shelf.LARGEST", 1000)
    folder = tmp_path / "v-1"
    folder.mkdir()
    (folder / NAME).write_bytes(b"x" * 1001)
    (found,) = list_visits(tmp_path)
    assert "larger than 1,000 bytes" in found.damage
    with pytest.raises(VisitError, match=r"larger than 1,000 bytes"):
        resumed(tmp_path, "v-1", walk())
    (folder / NAME).write_bytes(b"x" * 999 + b"\n")
    (found,) = list_visits(tmp_path)
    assert "larger" not in found.damage
