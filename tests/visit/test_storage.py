"""Disks that refuse, visits that move to another folder, visits that are only looked at."""

from __future__ import annotations

import errno
import os
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from commission.errors import HeldError, NotKeptError, VisitError
from commission.visit import disk
from commission.visit.framing import NAME
from commission.visit.moving import copied
from commission.visit.replay import line_of, replay
from commission.visit.session import OpenVisit
from commission.visit.shelf import LOCK, MOVED, followed, list_visits, open_by
from tests.harness.story import Site, acts, registered
from tests.visit.test_journal import lines, noted, read
from tests.visit.walks import HOLDER, after, begun, reading, resumed, sheet, step, walk

STEPS = walk(step("volts"), step("seen", reading(kind="yes or no")))
on_posix = pytest.mark.skipif(os.name == "nt", reason="an open file cannot be renamed there")


def looked_at(root: Path, ident: str) -> OpenVisit:
    return OpenVisit.look(root, ident, lambda *_: (sheet(), STEPS))


def failing(number: int) -> Callable[..., Any]:
    def fails(*_: object, **__: object) -> None:
        raise OSError(number, os.strerror(number))

    return fails


# the calls of each system


def test_macos_flushes_through_the_drive(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """F_FULLFSYNC, for files and folders; a file system without it gets a plain fsync."""
    calls: list[object] = []
    monkeypatch.setattr(disk, "_FULL", 51)
    monkeypatch.setattr(disk, "fcntl", type("F", (), {"fcntl": staticmethod(lambda *a: calls.append(a[1]))}))
    monkeypatch.setattr(os, "fsync", lambda _: calls.append("fsync"))
    disk.flush(1)
    disk.flush_folder(tmp_path)
    assert calls == [51, 51]
    monkeypatch.setattr(disk, "fcntl", type("F", (), {"fcntl": staticmethod(failing(errno.ENOTSUP))}))
    disk.flush(1)
    assert calls == [51, 51, "fsync"]


def test_windows_flushes_the_file_and_opens_no_folder(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """There ``os.fsync`` is FlushFileBuffers, and opening a folder is not permitted."""
    calls: list[object] = []
    monkeypatch.setattr(disk, "_FULL", None)
    monkeypatch.delattr(os, "fdatasync", raising=False)
    monkeypatch.setattr(os, "fsync", calls.append)
    disk.flush(7)
    monkeypatch.setattr(os, "open", failing(errno.EACCES))
    disk.flush_folder(tmp_path)
    assert calls == [7]


def test_an_error_of_the_disk_under_a_folder_is_not_passed_over(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """That a file system has no such flush is."""
    monkeypatch.setattr(os, "fsync", failing(errno.EINVAL))
    disk.flush_folder(tmp_path)
    monkeypatch.setattr(os, "fsync", failing(errno.EIO))
    with pytest.raises(OSError, match="Input/output"):
        disk.flush_folder(tmp_path)


def test_a_folder_is_made_with_those_above_it_and_each_is_known_to_the_disk(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    flushed: list[Path] = []
    monkeypatch.setattr(disk, "flush_folder", flushed.append)
    disk.make_folder(tmp_path / "a" / "b" / "c")
    assert flushed == [tmp_path, tmp_path / "a", tmp_path / "a" / "b"]
    (tmp_path / "file").write_text("")
    with pytest.raises(FileExistsError):
        disk.make_folder(tmp_path / "file")


def test_a_write_that_takes_less_than_it_is_given_is_gone_on_with(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """That is no error to the system."""
    visit = begun(tmp_path, STEPS)
    whole = os.write
    monkeypatch.setattr(os, "write", lambda handle, data: whole(handle, bytes(data)[:7]))
    read(visit, "54.1", 1)
    monkeypatch.undo()
    visit.close()
    with resumed(tmp_path, visit.visit.id, STEPS) as again:
        assert (again.messages, again.visit) == ((), visit.visit)


# faults under an open visit


@pytest.mark.parametrize("call", ["write", "fdatasync", "ftruncate", "stat"])
@pytest.mark.parametrize(
    ("number", "says"),
    [
        (errno.ENOSPC, "the disk is full"),
        (errno.EROFS, "may not be written to"),
        (errno.EIO, "does not answer or was taken out"),
    ],
)
def test_whatever_the_disk_refuses_is_said_and_the_same_entry_is_taken_once_it_does_not(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, call: str, number: int, says: str
) -> None:
    visit = begun(tmp_path, STEPS)
    path = tmp_path / visit.visit.id / NAME
    with monkeypatch.context() as patched:
        if call == "ftruncate":  # what failed cannot be taken away either
            patched.setattr(os, "fdatasync", failing(number), raising=False)
            patched.setattr(os, "fsync", failing(number))
        if call == "stat":
            patched.setattr(Path, "stat", failing(number))
        else:
            patched.setattr(os, call, failing(number), raising=False)
        for _ in range(2):
            with pytest.raises(NotKeptError, match=rf"not kept: .*{says}.*another folder"):
                read(visit, "54.1", 1)
        assert visit.visit.readings == ()
    read(visit, "54.1", 1)
    visit.close()
    found = replay(path.read_bytes())
    assert (found.damage, [event.event for event in found.events].count("reading")) == ((), 1)


def test_an_entry_that_is_kept_is_not_told_as_refused_when_what_follows_from_it_is(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """It would be entered twice; what follows is judged before the next entry."""
    with registered():
        site = Site(tmp_path, acts(2))
        site.open()
        visit = site.visit
        assert visit is not None
        for at in range(1, 6):
            site.acts[at - 1].do(site, visit, at)
        write, count = os.write, [0]

        def second_fails(handle: int, data: bytes) -> int:
            count[0] += 1
            if count[0] > 1:
                raise OSError(errno.ENOSPC, "No space left on device")
            return write(handle, data)

        ask = visit.checklist.steps[0].asks[0]
        before = len(visit.visit.readings)
        with monkeypatch.context() as patched:
            patched.setattr(os, "write", second_fails)
            visit.correct(ask, "19", reason="mistyped", now=after(60))
        assert (count[0], len(visit.visit.readings)) == (2, before + 1)
        visit.correct(ask, "18", reason="mistyped", now=after(61))
        standing = visit.standing.readings
        for one in standing.all_current():
            assert one.judgement is None or all(map(standing.holds, one.judgement.used))
        site.close()


@on_posix
def test_a_journal_whose_folder_was_moved_away_is_written_where_it_should_be(tmp_path: Path) -> None:
    visit = begun(tmp_path, STEPS)
    folder = tmp_path / visit.visit.id
    folder.rename(tmp_path / "elsewhere")
    read(visit, "54.1", 1)
    visit.close()
    with resumed(tmp_path, visit.visit.id, STEPS) as again:
        assert again.visit == visit.visit


@on_posix
def test_a_root_that_is_gone_is_not_made_anew(tmp_path: Path) -> None:
    """A stick that was pulled out: what is made there now would vanish under it when it is put back."""
    root = tmp_path / "stick"
    visit = begun(root, STEPS)
    root.rename(tmp_path / "pulled out")
    with pytest.raises(NotKeptError, match="does not answer or was taken out"):
        read(visit, "54.1", 1)
    assert not root.exists()
    (tmp_path / "pulled out").rename(root)
    read(visit, "54.1", 1)
    visit.close()
    with resumed(root, visit.visit.id, STEPS) as again:
        assert again.visit == visit.visit


@on_posix
def test_a_journal_in_which_somebody_else_has_entered_something_is_not_cut(tmp_path: Path) -> None:
    """As on a file system without locks."""
    visit = begun(tmp_path, STEPS)
    path = tmp_path / visit.visit.id / NAME
    theirs = path.read_bytes() + line_of(noted(9))
    path.with_name("theirs").write_bytes(theirs)
    path.with_name("theirs").replace(path)
    with pytest.raises(NotKeptError, match="replaced by another program"):
        read(visit, "54.1", 1)
    visit.close()
    assert path.read_bytes() == theirs


# another folder


def test_a_visit_goes_on_in_another_folder_with_all_that_was_kept(tmp_path: Path) -> None:
    """The old folder is left as it is, with a note; the new one is held."""
    visit = begun(tmp_path / "old", STEPS)
    ident = visit.visit.id
    read(visit, "54.1", 1)
    (tmp_path / "old" / ident / "attachments").mkdir()
    (tmp_path / "old" / ident / "attachments" / "photo").write_bytes(b"seen")
    before = (tmp_path / "old" / ident / NAME).read_bytes()
    assert visit.move_to_folder(tmp_path / "new" / "visits") == ()
    with pytest.raises(HeldError):
        resumed(tmp_path / "new" / "visits", ident, STEPS)
    read(visit, "54.2", 2)
    visit.close()
    assert (tmp_path / "old" / ident / NAME).read_bytes() == before
    assert (tmp_path / "new" / "visits" / ident / "attachments" / "photo").read_bytes() == b"seen"
    assert list_visits(tmp_path / "old")[0].moved_to == str(tmp_path / "new" / "visits" / ident)
    assert followed(tmp_path / "old", ident) == (tmp_path / "new" / "visits", ident)
    with resumed(tmp_path / "new" / "visits", ident, STEPS) as again:
        assert (again.messages, again.visit) == ((), visit.visit)


@on_posix
def test_a_visit_moves_from_a_disk_that_is_gone(tmp_path: Path) -> None:
    """From memory; that no note could be left is said, with how to find it next time."""
    root = tmp_path / "stick"
    visit = begun(root, STEPS)
    read(visit, "54.1", 1)
    root.rename(tmp_path / "pulled out")
    said = " ".join(visit.move_to_folder(tmp_path / "new"))
    assert "no note could be left" in said
    assert f'commission --visits "{tmp_path / "new"}"' in said
    read(visit, "54.2", 2)
    visit.close()
    with resumed(tmp_path / "new", visit.visit.id, STEPS) as again:
        assert [item.text for item in again.visit.readings] == ["54.1", "54.2"]


def test_a_visit_that_cannot_move_stays_where_it_is(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Nothing is left of the attempt, and it can be tried again; the same folder is no other one."""
    visit = begun(tmp_path / "old", STEPS)
    with monkeypatch.context() as patched:
        patched.setattr(os, "write", failing(errno.ENOSPC))
        with pytest.raises(NotKeptError, match="cannot be made: the disk is full"):
            visit.move_to_folder(tmp_path / "new")
    assert list((tmp_path / "new").iterdir()) == []
    with pytest.raises(VisitError, match="is in already"):
        visit.move_to_folder(tmp_path / "old")
    (tmp_path / "file").write_text("")
    with pytest.raises(NotKeptError, match="cannot be made"):
        visit.move_to_folder(tmp_path / "file" / "below")
    read(visit, "54.1", 1)
    visit.move_to_folder(tmp_path / "new")
    visit.close()


def test_a_visit_that_moves_back_keeps_what_it_had_left_there(tmp_path: Path) -> None:
    """Under a name of its own, and both folders lead to where it is now."""
    visit = begun(tmp_path / "a", STEPS)
    ident = visit.visit.id
    visit.move_to_folder(tmp_path / "b")
    read(visit, "54.1", 1)
    visit.move_to_folder(tmp_path / "a")
    read(visit, "54.2", 2)
    visit.close()
    for root in ("a", "b"):
        where, name = followed(tmp_path / root, ident)
        with resumed(where, name, STEPS) as again:
            assert again.visit == visit.visit


def test_a_visit_taken_up_where_it_was_left_says_what_is_missing(tmp_path: Path) -> None:
    """The stick with what came after is not there."""
    visit = begun(tmp_path / "a", STEPS)
    visit.move_to_folder(tmp_path / "b")
    read(visit, "54.1", 1)
    visit.close()
    shutil.rmtree(tmp_path / "b")
    assert followed(tmp_path / "a", visit.visit.id) == (tmp_path / "a", visit.visit.id)
    with resumed(tmp_path / "a", visit.visit.id, STEPS) as again:
        assert "went on in" in again.messages[0]
        assert "missing here" in again.messages[0]
        assert again.visit.readings == ()
    assert not (tmp_path / "a" / visit.visit.id / MOVED).exists()
    with resumed(tmp_path / "a", visit.visit.id, STEPS) as last:
        assert last.messages == ()


def test_a_visit_in_a_folder_that_takes_nothing_is_copied_and_taken_up(tmp_path: Path) -> None:
    visit = begun(tmp_path / "a", STEPS)
    read(visit, "54.1", 1)
    with pytest.raises(HeldError, match="runa on bench"):
        copied(tmp_path / "a", visit.visit.id, tmp_path / "b", HOLDER)
    visit.close()
    folder, said = copied(tmp_path / "a", visit.visit.id, tmp_path / "b", HOLDER)
    assert said == ()
    with resumed(folder.parent, folder.name, STEPS) as again:
        assert again.visit == visit.visit


# looking


def test_a_visit_that_somebody_holds_can_be_looked_at_and_not_changed(tmp_path: Path) -> None:
    """Nothing is written into its folder; every refusal says who has it open."""
    visit = begun(tmp_path, STEPS)
    read(visit, "54.1", 1)
    folder = tmp_path / visit.visit.id
    before = {path.name: path.read_bytes() for path in folder.iterdir()}
    seen = looked_at(tmp_path, visit.visit.id)
    assert (seen.read_only, seen.visit) == (True, visit.visit)
    with pytest.raises(HeldError, match=r"only looked at; it is open by runa on bench \(process 4711\)"):
        read(seen, "54.2", 2)
    assert seen.visit == visit.visit
    with pytest.raises(VisitError, match="held in a folder"):
        seen.move_to_folder(tmp_path / "other")
    seen.move_to(STEPS.steps[1].key, after(3))  # going through the walk keeps nothing
    assert seen.at_step() == STEPS.steps[1]
    seen.close()
    assert {path.name: path.read_bytes() for path in folder.iterdir()} == before
    read(visit, "54.2", 2)
    visit.close()
    with pytest.raises(HeldError, match="nobody has it open now"):
        read(seen, "54.3", 3)


def test_an_entry_that_is_just_being_written_is_not_told_to_who_looks(tmp_path: Path) -> None:
    visit = begun(tmp_path, STEPS)
    path = tmp_path / visit.visit.id / NAME
    with path.open("ab") as file:
        file.write(line_of(noted(1))[:20])
    assert looked_at(tmp_path, visit.visit.id).messages == ()
    visit.close()


def test_asking_who_holds_a_visit_writes_nothing_and_lets_nobody_think_it_held(tmp_path: Path) -> None:
    visit = begun(tmp_path, STEPS)
    folder = tmp_path / visit.visit.id
    assert open_by(folder).startswith("runa on bench")
    visit.close()
    (folder / LOCK).unlink(missing_ok=True)
    assert open_by(folder) == ""
    assert not (folder / LOCK).exists()


# names


@pytest.mark.parametrize("ident", ["x" * 300, "../b", "..", ".", "", "a\0b", "/etc", "a/b", "a\\b"])
def test_a_name_that_no_visit_can_have_is_answered_in_words(tmp_path: Path, ident: str) -> None:
    """And leads nowhere outside the folder of visits."""
    visit = begun(tmp_path / "b", STEPS)
    visit.close()
    (tmp_path / "b" / NAME).write_bytes(b"")
    with pytest.raises(VisitError, match=r"there is no visit .*known:"):
        resumed(tmp_path / "b", ident, STEPS)
    with pytest.raises(VisitError, match=r"there is no visit .*known:"):
        looked_at(tmp_path / "b", ident)


def test_a_folder_of_visits_that_cannot_be_read_is_told(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(Path, "iterdir", failing(errno.EIO))
    with pytest.raises(VisitError, match="cannot be read: Input/output error"):
        list_visits(tmp_path)


# line ends


@pytest.mark.parametrize("end", [b"", b"\x0b", b"\x8a", b"\0\0\0"])
def test_an_entry_whose_line_end_alone_is_damaged_is_kept_and_told(tmp_path: Path, end: bytes) -> None:
    """Its check says that it is whole; torn it is not."""
    found = replay(lines(3)[:-1] + end)
    assert (found.events, found.after_damage, found.torn) == ((noted(0), noted(1)), (noted(2),), False)
    assert "the line end of the last entry is damaged; the entry itself is whole" in found.damage[0]


def test_two_entries_that_run_together_are_both_read() -> None:
    parts = lines(4).splitlines(keepends=True)
    found = replay(parts[0] + parts[1][:-1] + b"\x0b" + parts[2] + parts[3])
    assert found.events == (noted(0),)
    assert found.after_damage == (noted(1), noted(2), noted(3))
    assert found.damage == ("the line end of line 2 of the journal is damaged; its entries are whole",)


def test_a_visit_whose_first_line_end_is_damaged_is_taken_up(tmp_path: Path) -> None:
    """The damaged journal is set aside, and nothing is lost."""
    visit = begun(tmp_path, STEPS)
    read(visit, "54.1", 1)
    visit.close()
    path = tmp_path / visit.visit.id / NAME
    path.write_bytes(path.read_bytes().replace(b"\n", b"\x0b", 1))
    assert list_visits(tmp_path)[0].site == "test-site"
    with resumed(tmp_path, visit.visit.id, STEPS) as again:
        assert again.visit == visit.visit
        assert "line end of line 1" in again.messages[0]


def test_the_newest_entry_of_any_kind_is_known_after_a_start(tmp_path: Path) -> None:
    """Else a clock that was put back would put what follows before a note."""
    visit = begun(tmp_path, STEPS)
    visit.note(STEPS.steps[0].key, "lid cracked", after(40))
    visit.close()
    with resumed(tmp_path, visit.visit.id, STEPS) as again:
        assert again.newest == after(40)
