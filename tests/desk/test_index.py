"""The index equals a full scan, whatever was added, changed or removed and whenever somebody ended."""

from __future__ import annotations

import os
import shutil
import sqlite3
import subprocess
import sys
import time
from collections.abc import Iterator, Sequence
from concurrent.futures.process import BrokenProcessPool
from contextlib import closing, suppress
from multiprocessing import active_children
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from commission.desk import filling, work
from commission.desk.index import Index, cache_folder, index_path
from commission.desk.opening import index_named, index_of, usual_steps
from commission.desk.scan import files_in, roots_of
from commission.desk.tables import NOT_CHECKED
from commission.errors import RecordError
from tests.desk.made import METERS, NOW, SAMPLES, TECHNICIANS, reading, record, replaced_unseen, write
from tests.desk.scans import contents


def index(folder: Path, name: str = "index") -> Index:
    return Index(folder.parent / f"{name}.sqlite", [folder])


def volts(made: Index) -> list[dict[str, Any]]:
    """Return the voltages of the sealed samples, as the index has them."""
    return made.rows(
        "SELECT q.value FROM record r JOIN reading q ON q.record = r.record "
        "JOIN point p ON p.point = q.point "
        "WHERE r.site = 'test-site' AND p.name = 'volts@' ORDER BY r.record, q.place"
    )


def scanned(folder: Path) -> dict[str, list[str]]:
    """Return what an index that is made anew holds."""
    with index(folder, "anew") as made:
        made.rebuild(processes=1)
        return contents(made)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Return a folder of nine records of four sites, in folders of their own."""
    made = tmp_path / "records"
    for site, visits in (("fell-hut", 3), ("mill", 2), ("quay", 3), ("tor", 1)):
        for visit in range(visits):
            write(made / site, record(site, visit, answer="countersigned" if visit == 0 else ""))
    return made


def test_an_index_is_made_and_then_follows_the_files(folder: Path) -> None:
    with index(folder) as made:
        with pytest.raises(LookupError):
            made.ask("sites")
        assert made.update().added == 9
        assert made.usable
        again = made.update()
        assert (again.added, again.removed, again.unchanged) == (0, 0, 9)
        path = next((folder / "tor").glob("*.toml"))
        path.write_bytes(path.read_bytes() + b"# longer\n")
        next((folder / "mill").glob("*_v1.toml")).unlink()
        write(folder / "new", record("new"))
        changed = made.update()
        assert (changed.added, changed.removed, changed.unchanged) == (2, 2, 7)
        assert contents(made) == scanned(folder)


def test_another_desk_finds_what_the_first_made(folder: Path) -> None:
    with index(folder) as first:
        first.update()
    with index(folder) as second:
        assert second.usable
        assert second.update().unchanged == 9


# after random changes

SITES = ("fell-hut", "mill", "quay")
RECORDS = st.fixed_dictionaries(
    {
        "site": st.sampled_from(SITES),
        "visit": st.integers(0, 2),
        "technician": st.sampled_from(TECHNICIANS),
        "meter": st.sampled_from(METERS),
        "signed": st.booleans(),
        "answer": st.sampled_from(["", "countersigned", "returned"]),
        "left": st.sampled_from([57.6, 58.0]),
        "value": st.sampled_from([54.4, 53.0]),
        "accepted": st.booleans(),
        "previous": st.booleans(),
    }
)
SPOILED = st.sampled_from([b"", b"format = ", b"format = 2\n[header]\n", b"a = 1", b"\xff"])
STEPS = st.lists(
    st.one_of(
        st.tuples(st.just("write"), RECORDS),
        st.tuples(st.just("remove"), st.integers(0, 8)),
        st.tuples(st.just("spoil"), st.tuples(st.integers(0, 8), SPOILED)),
        st.tuples(st.just("copy"), st.integers(0, 8)),
        st.tuples(st.just("update"), st.none()),
        st.tuples(st.just("kill"), st.none()),
    ),
    max_size=14,
)


def made_of(drawn: dict[str, Any]) -> dict[str, Any]:
    verdict = "pass" if drawn["value"] > 54.2 else "fail"
    disposed = {"subject": "volts@string-a", "disposition": "accepted", "reason": "seen", "by": "Elin Corse"}
    made = record(
        drawn["site"], drawn["visit"], technician=drawn["technician"], meter=drawn["meter"],
        signed=drawn["signed"], answer=drawn["answer"] if drawn["signed"] else "", left=drawn["left"],
        readings=[reading(value=drawn["value"], verdict=verdict)],
        dispositions=[disposed] if drawn["accepted"] and verdict == "fail" else [],
    )  # fmt: skip
    if not drawn["previous"]:
        made["header"]["previous"] = ""
    return made


class _EndedError(Exception):
    """Stands for the end of the process."""


def _end(_done: int, _of: int) -> None:
    raise _EndedError


@given(STEPS)
@settings(max_examples=40)
def test_the_index_equals_a_full_scan_after_random_changes(
    tmp_path_factory: pytest.TempPathFactory, steps: list[tuple[str, Any]]
) -> None:
    """Added, written over, removed, spoiled, copied, and ended after the first batch that went in."""
    root = tmp_path_factory.mktemp("random")
    folder = root / "records"
    folder.mkdir()
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr(work, "_AT_ONCE", 1)
        for what, given_ in steps:
            _step(folder, what, given_)
        with index(folder) as made:
            made.update()
            assert contents(made) == scanned(folder)
    shutil.rmtree(root)


def _step(folder: Path, what: str, given_: Any) -> None:
    files = sorted(folder.glob("*.toml"))
    if what == "write":
        write(folder, made_of(given_))
    elif what == "update":
        with index(folder) as made:
            made.update()
    elif what == "kill":
        with index(folder) as made, suppress(_EndedError):
            made.update(_end)
    elif files:
        place = given_[0] if what == "spoil" else given_
        path = files[place % len(files)]
        if what == "remove":
            path.unlink()
        elif what == "spoil":
            path.write_bytes(given_[1])
        else:
            shutil.copy(path, path.with_name(f"copy-of-{path.name}"))


# ended in the midst

_KILLED = """
import os, sys
from pathlib import Path
from commission.desk import work
from commission.desk.index import Index
work._AT_ONCE, work._FEW = 2, 1
def end(done, of):
    if done >= 4:
        os._exit(9)
def main():
    with Index(Path(sys.argv[1]), [Path(sys.argv[2])]) as index:
        index.update(end, processes=int(sys.argv[3]))
if __name__ == "__main__":
    main()
"""


def killed(folder: Path, processes: int = 1) -> None:
    script = folder.parent / "killed.py"
    script.write_text(_KILLED)
    arguments = [str(folder.parent / "index.sqlite"), str(folder), str(processes)]
    # what is written is captured only so that this waits for the workers to end, too
    ended = subprocess.run([sys.executable, str(script), *arguments], check=False, capture_output=True)
    assert ended.returncode == 9


@pytest.mark.parametrize("processes", [1, 2])
def test_a_process_that_ends_while_it_makes_the_index_leaves_none(folder: Path, processes: int) -> None:
    """Nor what its workers made beside it, once the next one is done."""
    killed(folder, processes)
    with index(folder) as made:
        assert not made.usable
        made.update()
        assert contents(made) == scanned(folder)
    assert not list(folder.parent.glob("*.part*"))


def test_a_process_that_ends_while_it_updates_leaves_one_that_is_brought_up_to_date(folder: Path) -> None:
    """What went in before stays; summaries that it had not made yet are made by the next one."""
    with index(folder) as made:
        made.update()
    for site in ("a", "b", "c", "d", "e", "f"):
        write(folder / site, record(site))
    killed(folder)
    with index(folder) as made:
        assert made.usable
        assert made.changes().new
        made.update()
        assert contents(made) == scanned(folder)


def test_summaries_that_are_wanting_are_made_though_no_file_changed(folder: Path) -> None:
    with index(folder) as made:
        made.update()
    write(folder / "last", record("last"))
    with index(folder) as made:
        with pytest.raises(_EndedError):
            made.update(_end)
        assert not made.changes().any
        made.update()
        assert contents(made) == scanned(folder)


def test_two_processes_that_update_at_once_make_one_index(folder: Path) -> None:
    for number in range(30):
        write(folder / "more", record(f"more-{number}"))
    code = (
        "import sys\nfrom pathlib import Path\nfrom commission.desk.index import Index\n"
        "with Index(Path(sys.argv[1]), [Path(sys.argv[2])]) as index:\n    index.update(processes=1)\n"
    )
    arguments = [sys.executable, "-c", code, str(folder.parent / "index.sqlite"), str(folder)]
    both = [subprocess.Popen(arguments) for _ in range(2)]
    assert [one.wait(60) for one in both] == [0, 0]
    with index(folder) as made:
        assert made.update().unchanged == 39
        assert contents(made) == scanned(folder)


def test_who_does_not_wait_reads_what_is_there(folder: Path) -> None:
    with index(folder) as made:
        made.update()
        with index(folder) as other, other._alone():
            write(folder, record("new"))
            assert made.update(wait=False).elsewhere
            assert len(made.ask("sites")) == 4


@pytest.mark.parametrize("spoiled", [b"", b"no index", b"SQLite format 3\0" + b"\xff" * 4000])
def test_a_spoiled_index_is_made_anew(folder: Path, spoiled: bytes) -> None:
    with index(folder) as made:
        made.update()
    (folder.parent / "index.sqlite").write_bytes(spoiled)
    with index(folder) as made:
        made.update()
        assert contents(made) == scanned(folder)


def test_an_index_that_cannot_be_written_is_said_and_what_was_there_is_asked(folder: Path) -> None:
    """No room, or a folder that is none: the error names the file and what to do."""
    with Index(folder.parent / "file" / "index.sqlite", [folder]) as made:
        (folder.parent / "file").write_bytes(b"")
        with pytest.raises(RecordError, match="COMMISSION_INDEX"):
            made.update()
    with index(folder) as made:
        made.update()
        made._must().execute("PRAGMA query_only = ON")
        write(folder, record("new"))
        with pytest.raises(RecordError, match="cannot be written"):
            made.update()
        assert len(made.ask("sites")) == 4


def test_an_index_of_another_schema_is_made_anew(folder: Path) -> None:
    with index(folder) as made:
        made.update()
    with sqlite3.connect(folder.parent / "index.sqlite") as opened:
        opened.execute("UPDATE meta SET value = '0' WHERE name = 'schema'")
    opened.close()
    with index(folder) as made:
        assert not made.usable
        assert made.update().added == 9


def test_workers_make_the_same_rows(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(work, "_FEW", 1)
    monkeypatch.setattr(work, "_AT_ONCE", 2)
    told: list[tuple[int, int]] = []
    with index(folder) as made:
        made.update(lambda done, of: told.append((done, of)), processes=2)
        assert contents(made) == scanned(folder)
        assert told[-1] == (9, 9)
        assert [done for done, _ in told] == sorted(done for done, _ in told)
        for site in ("a", "b", "c"):
            write(folder / site, record(site))
        made.update(processes=2)
        assert contents(made) == scanned(folder)
    assert not list(folder.parent.glob("*.part*"))


@pytest.mark.parametrize("why", [BrokenProcessPool("ended"), OSError("no room for another process")])
def test_where_workers_end_one_process_makes_the_same_rows(
    folder: Path, monkeypatch: pytest.MonkeyPatch, why: Exception
) -> None:
    def broken(*given_: Any) -> Iterator[Any]:
        with closing(work.side_by_side(*given_)) as made_there:
            yield next(made_there)
        raise why

    monkeypatch.setattr(work, "_FEW", 1)
    monkeypatch.setattr(work, "_AT_ONCE", 2)
    monkeypatch.setattr(filling, "side_by_side", broken)
    told: list[int] = []
    with index(folder) as made:
        made.update(lambda done, _of: told.append(done), processes=2)
        assert contents(made) == scanned(folder)
    assert told == [2, 2, 4, 6, 8, 9]
    assert not active_children()
    assert not list(folder.parent.glob("*.part*"))


def _slept(seconds: Sequence[float]) -> None:
    time.sleep(seconds[0])


def test_whoever_stops_workers_waits_until_they_have_ended() -> None:
    """Else one that writes on would put its database beside an index that is done."""
    slow = work.side_by_side(_slept, [[0.0], [0.3], [0.3]], 2)
    next(slow)
    slow.close()
    assert not active_children()


def test_what_a_worker_left_is_removed_by_the_next_update(folder: Path) -> None:
    left = folder.parent / "index.sqlite.part-123"
    with index(folder) as made:
        made.update()
        left.write_bytes(b"")
        made.update()
    assert not left.exists()


def test_an_index_that_could_not_be_made_leaves_nothing_beside(folder: Path) -> None:
    """It may have been for want of room."""
    with index(folder) as made:
        with pytest.raises(_EndedError):
            made.update(_end)
        assert {path.name for path in folder.parent.iterdir()} == {"records", "index.sqlite.lock"}


@pytest.mark.parametrize(
    ("name", "processes"), [("[i]*?.sqlite", 2), ("i\udcff.sqlite", 2), ("index.part", 1), ("index.lock", 1)]
)
def test_an_index_may_have_any_name(
    folder: Path, monkeypatch: pytest.MonkeyPatch, name: str, processes: int
) -> None:
    """Also one that is no text or a pattern; files of others that are named alike stay."""
    monkeypatch.setattr(work, "_FEW", 1)
    path = folder.parent / "kept" / name
    path.parent.mkdir()
    other, old = (path.with_name(f"{name}.part-{ending}") for ending in ("1.rar", "123"))
    try:
        other.write_bytes(b"of somebody")
    except (OSError, UnicodeError):
        pytest.skip("no such name on this system")
    old.write_bytes(b"of a worker that was ended")
    with Index(path, [folder]) as made:
        made.update(processes=processes)
        assert contents(made) == scanned(folder)
    assert set(path.parent.iterdir()) == {path, other, path.with_name(f"{name}.lock")}


def test_an_index_is_a_file_wherever_it_is_named(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """And no address of SQLite's; a folder is refused."""
    monkeypatch.chdir(folder.parent)
    for name in (":memory:", "file:index"):
        with Index(Path(name), [folder]) as made:
            made.update()
            assert len(made.ask("sites")) == 4
    with pytest.raises(RecordError, match="is a folder"):
        index_named(Path(), [folder])


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="this system has no such files")
def test_an_index_never_takes_the_place_of_a_device(folder: Path) -> None:
    os.mkfifo(device := folder.parent / "device")
    with pytest.raises(RecordError, match="is no index of the desk"):
        index_named(device, [folder])
    assert device.is_fifo()


# what stands in the folders


def test_a_file_that_could_not_be_read_is_tried_again(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Though its size and time are the same: it was held, or the network was away."""
    whole = Path.read_bytes

    def held(path: Path) -> bytes:
        if path.parent.name == "mill":
            raise PermissionError(13, "Permission denied")
        return whole(path)

    with index(folder) as made:
        monkeypatch.setattr(Path, "read_bytes", held)
        made.update()
        assert {row["says"] for row in made.ask("broken")} == {"cannot be read: Permission denied"}
        monkeypatch.undo()
        assert (made.update().added, made.update().added) == (2, 0)
        assert contents(made) == scanned(folder)


def test_records_stay_known_while_their_folder_is_away(folder: Path) -> None:
    with index(folder) as made:
        made.update()
        away = folder.rename(folder.with_name("away"))
        with pytest.raises(RecordError, match="cannot be looked into"):
            made.update()
        assert len(made.ask("sites")) == 4
        away.rename(folder)
        assert made.update().unchanged == 9


def test_records_are_never_written_to(folder: Path) -> None:
    """So that a folder which may only be read will do."""
    before = {path: path.read_bytes() for path in folder.rglob("*") if path.is_file()}
    with index(folder) as made:
        made.update()
        made.check_all(NOW, processes=1)
    assert {path: path.read_bytes() for path in folder.rglob("*") if path.is_file()} == before


def test_hidden_files_and_other_kinds_are_passed_over(tmp_path: Path) -> None:
    write(tmp_path, record("fell-hut"))
    (tmp_path / ".fell-hut.toml.part").write_bytes(b"half")
    (tmp_path / ".hidden").mkdir()
    write(tmp_path / ".hidden", record("mill"))
    (tmp_path / "photograph.jpg").write_bytes(b"")
    assert [file.path for file in files_in([tmp_path])] == ["fell-hut_2025-03-01_commissioning_v0.toml"]


def test_folders_within_one_another_are_read_once(folder: Path) -> None:
    assert roots_of([folder, folder / "mill", folder]) == (folder.resolve(),)
    with pytest.raises(RecordError, match="no such folder"):
        roots_of([folder / "nowhere"])
    with pytest.raises(RecordError, match="no folder is named"):
        roots_of([])


def test_several_folders_are_one_desk(folder: Path) -> None:
    with Index(folder.parent / "two.sqlite", [folder / "mill", folder / "tor"]) as made:
        made.update()
        assert {row["site"] for row in made.ask("sites")} == {"mill", "tor"}
        for row in made.ask("records of site", site="tor"):
            assert made.file_of(row).is_file()


def test_a_file_that_cannot_be_read_is_a_row(folder: Path) -> None:
    broken = folder / "mill" / "mill_2025-05-01_service_zz.toml"
    broken.write_bytes(b"format = 2\n[header")
    with index(folder) as made:
        made.update()
        (row,) = made.ask("broken")
        assert (row["site"], row["path"], row["state"]) == (
            "mill",
            "mill/mill_2025-05-01_service_zz.toml",
            "malformed",
        )
        assert "not TOML" in row["says"]
        assert made.ask("sites")[0]["site"] == "mill"


def test_indexes_lie_in_the_cache_of_the_system(tmp_path: Path) -> None:
    home = tmp_path / "home"
    assert cache_folder({"COMMISSION_INDEX": "/fast"}, "linux", home) == Path("/fast")
    assert cache_folder({"XDG_CACHE_HOME": "/c"}, "linux", home) == Path("/c/commission/desk")
    assert cache_folder({}, "linux", home) == home / ".cache" / "commission" / "desk"
    assert cache_folder({}, "darwin", home) == home / "Library" / "Caches" / "commission" / "desk"
    assert cache_folder({"LOCALAPPDATA": "/l"}, "win32", home) == Path("/l/commission/desk")
    one, other = (index_path(tmp_path, [Path(name)]) for name in ("/a", "/b"))
    assert one != other
    made = index_of([tmp_path], environment={"COMMISSION_INDEX": "/fast"}, platform="linux", home=home)
    assert made.path.parent == Path("/fast")


def test_the_usual_steps_have_intervals() -> None:
    steps = usual_steps()
    assert steps
    assert {"yearly"} <= set().union(*steps.values())


# what the strict reader says


@pytest.fixture
def sealed(tmp_path: Path) -> Iterator[tuple[Path, Index]]:
    """Return a folder with records whose seals hold, and its index."""
    made = tmp_path / "records"
    made.mkdir()
    for name in ("format-2-signed.toml", "format-1.toml", "known.toml"):
        shutil.copy(SAMPLES / name, made / name)
    with index(made) as opened:
        opened.update()
        yield made, opened


def states(opened: Index) -> dict[str, str]:
    return {row["path"]: row["state"] for row in opened.rows("SELECT path, state FROM record")}


def test_a_record_is_valid_once_the_strict_reader_has_opened_it(sealed: tuple[Path, Index]) -> None:
    _, opened = sealed
    assert states(opened)["format-1.toml"] == NOT_CHECKED
    assert opened.check(0, "format-1.toml", NOW) == "intact"
    assert states(opened) == {
        "format-1.toml": "intact", "format-2-signed.toml": NOT_CHECKED, "known.toml": "no record",
    }  # fmt: skip


def test_check_all_says_how_every_record_stands(sealed: tuple[Path, Index]) -> None:
    folder, opened = sealed
    path = folder / "format-1.toml"
    path.write_bytes(path.read_bytes().replace(b"14.7", b"14.8", 1))
    told: list[int] = []
    opened.check_all(NOW, lambda done, _of: told.append(done), processes=1)
    assert states(opened) == {
        "format-1.toml": "changed", "format-2-signed.toml": "intact", "known.toml": "no record",
    }  # fmt: skip
    assert told == [3]
    (row,) = opened.ask("broken")
    assert "at least one byte was changed" in row["says"]
    assert opened.ask("site", site="tarnwold-cabin")[0]["score"] == 0
    path.write_bytes((SAMPLES / "format-1.toml").read_bytes())
    opened.update()
    assert states(opened)["format-1.toml"] == NOT_CHECKED


def test_check_all_finds_a_file_replaced_by_one_of_the_same_size_and_time(
    sealed: tuple[Path, Index],
) -> None:
    """By its digest; its rows are made anew, and the strict reader says that it was changed."""
    folder, opened = sealed
    path = folder / "format-2-signed.toml"
    replaced_unseen(path, b"value = 54.4\n", b"value = 54.5\n")
    assert not opened.update().added
    opened.check_all(NOW, processes=1)
    assert states(opened)["format-2-signed.toml"] == "changed"
    rows = volts(opened)
    assert [row["value"] for row in rows] == [54.5]


def test_opening_a_record_that_was_replaced_unseen_makes_its_rows_anew(sealed: tuple[Path, Index]) -> None:
    folder, opened = sealed
    replaced_unseen(folder / "format-2-signed.toml", b"value = 54.4\n", b"value = 54.5\n")
    assert opened.check(0, "format-2-signed.toml", NOW) == "changed"
    assert [row["value"] for row in volts(opened)] == [54.5]
    assert states(opened)["format-2-signed.toml"] == "changed"
