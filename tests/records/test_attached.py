"""Attached files of a record: beside it, listed in it, and looked for by whoever verifies."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from commission.cli import main
from commission.errors import RecordError
from commission.records.read import read_record, toml_of
from commission.records.seals import sealed
from commission.records.tables import toml_text
from commission.records.verify import verify, verify_bytes
from commission.records.write import record_bytes, record_name, write_record
from commission.visit.session import OpenVisit
from tests.records.sample import SHEET
from tests.visit.walks import NOON, after, begun, known, reading, small_plant, step, walk

LOOK = step("look", reading(kind="yes or no"))
WALK = walk(LOOK)
PHOTO, LOG = b"\xff\xd8\xff photograph", b"14:05 57.62 V\n" * 40


@pytest.fixture
def visit(tmp_path: Path) -> Any:
    """Return a signed visit with two attached files, and a third that was taken off."""
    for name, content in (("lid.jpg", PHOTO), ("monitor.csv", LOG), ("wrong.jpg", b"private")):
        (tmp_path / name).write_bytes(content)
    with begun(tmp_path / "visits", WALK, SHEET) as visit:
        visit.attach(LOOK.key, tmp_path / "lid.jpg", "the lid is cracked", after(1))
        visit.attach(LOOK.key, tmp_path / "monitor.csv", "", after(1))
        wrong = visit.attach(LOOK.key, tmp_path / "wrong.jpg", "", after(1))
        visit.take_off(wrong, "another plant", after(2))
        yield visit


def written(visit: OpenVisit, folder: Path) -> Path:
    return write_record(folder, visit.visit, small_plant(), SHEET, attached=visit.attached_files())


def test_attached_files_stand_beside_the_record_and_are_listed_in_it(
    tmp_path: Path, visit: OpenVisit
) -> None:
    path = written(visit, tmp_path / "records")
    folder = path.with_suffix("")
    assert sorted(one.read_bytes() for one in folder.iterdir()) == sorted([PHOTO, LOG])
    found = verify(path)
    assert (found.state, found.word, found.intact, found.reasons) == ("intact", "intact", True, ())
    assert [one.state for one in found.attachments] == ["there", "there", "taken off"]
    assert [(one.name, one.caption) for one in read_record(path).visit.attachments] == [
        ("lid.jpg", "the lid is cracked"),
        ("monitor.csv", ""),
        ("wrong.jpg", ""),
    ]
    assert toml_of(path.read_bytes())["header"]["counts"]["attachments"] == 3
    assert written(visit, tmp_path / "records") == path


def change(content: bytes) -> Callable[[Path], object]:
    return lambda path: path.write_bytes(content)


def link(path: Path) -> None:
    path.rename(path.with_name("elsewhere"))
    path.symlink_to(path.with_name("elsewhere"))


SPOILED = {
    "gone": (Path.unlink, "is missing", "missing"),
    "a byte changed": (change(PHOTO[:-1] + b"!"), "its digest is another one", "changed"),
    "cut short": (change(PHOTO[:-1]), f"it has {len(PHOTO) - 1} bytes", "changed"),
    "empty": (change(b""), "it has 0 bytes", "changed"),
    "a link": (link, "is a link", "changed"),
}


@pytest.mark.parametrize("name", SPOILED)
def test_a_lost_or_changed_file_makes_an_intact_record_incomplete(
    tmp_path: Path, visit: OpenVisit, capsys: pytest.CaptureFixture[str], name: str
) -> None:
    spoil, says, state = SPOILED[name]
    path = written(visit, tmp_path / "records")
    (photo,) = path.with_suffix("").glob("*.jpg")
    spoil(photo)
    found = verify(path)
    assert (found.state, found.word, found.intact, found.complete) == ("intact", "incomplete", False, False)
    assert found.attachments[0].state == state
    assert "lid.jpg" in found.reasons[0]
    assert says in found.reasons[0]
    assert main(["verify", str(path), "--seals-only"]) == 1
    said = capsys.readouterr().out
    assert said.startswith("incomplete ")
    assert "1 of 2 attached files are there" in said


def test_two_files_exchanged_are_both_noticed(tmp_path: Path, visit: OpenVisit) -> None:
    path = written(visit, tmp_path / "records")
    one, other = sorted(path.with_suffix("").iterdir())
    first, second = one.read_bytes(), other.read_bytes()
    one.write_bytes(second)
    other.write_bytes(first)
    assert [row.state for row in verify(path).attachments] == ["changed", "changed", "taken off"]


def test_a_file_that_the_record_does_not_list_is_told_and_is_nobody_s(
    tmp_path: Path, visit: OpenVisit, capsys: pytest.CaptureFixture[str]
) -> None:
    path = written(visit, tmp_path / "records")
    (path.with_suffix("") / "more\x1b[2J.jpg").write_bytes(b"x")
    assert verify(path).intact
    main(["verify", str(path), "--seals-only"])
    said = capsys.readouterr().out
    assert "nobody's: more" in said
    assert "\x1b" not in said


def test_a_record_gets_its_name_only_after_its_files(tmp_path: Path, visit: OpenVisit) -> None:
    """A lost copy leaves no record that would lack it; attached again, it is written."""
    copy = visit.attached_files()[visit.visit.attachments[1].file]
    copy.unlink()
    with pytest.raises(RecordError, match=r"attachment monitor\.csv: its copy is missing"):
        written(visit, tmp_path / "records")
    assert not list((tmp_path / "records").glob("*.toml"))
    visit.attach(LOOK.key, tmp_path / "monitor.csv", "", after(3))
    assert verify(written(visit, tmp_path / "records")).intact


def test_a_folder_that_cannot_be_written_leaves_no_record(tmp_path: Path, visit: OpenVisit) -> None:
    folder = tmp_path / "records"
    folder.mkdir()
    folder.joinpath(record_name(visit.visit)).with_suffix("").write_text("a file has the name")
    with pytest.raises(RecordError, match=r"attachment lid\.jpg"):
        written(visit, folder)
    assert [path.name for path in folder.iterdir()] == [record_name(visit.visit).removesuffix(".toml")]


def _changed(visit: OpenVisit, change: Callable[[dict[str, Any]], object]) -> bytes:
    """Return the record with its data changed and its digests worked out anew."""
    data = toml_of(record_bytes(visit.visit, small_plant(), SHEET))
    del data["seal"]
    change(data)
    above = toml_text(data).encode()
    return sealed(above, toml_of(above), says="judged")


@pytest.mark.parametrize(
    "fields",
    [
        {"digest": "sha256:../../etc/passwd"},
        {"ending": "/../../x"},
        {"ending": ".TOML"},
        {"size": -1},
        {"size": "large"},
        {"name": "a\x1b[2J"},
    ],
)
def test_no_name_in_a_record_becomes_a_path(
    tmp_path: Path, visit: OpenVisit, fields: dict[str, Any], monkeypatch: pytest.MonkeyPatch
) -> None:
    """A row that cannot be one makes the record a changed one; nothing is looked for."""
    path = tmp_path / "a.toml"
    path.write_bytes(_changed(visit, lambda data: data["visit"]["attachments"][0].update(fields)))
    looked: list[str] = []

    def look(at: Path) -> os.stat_result:
        looked.append(str(at))
        return Path(at).stat()

    monkeypatch.setattr(os, "lstat", look)
    found = verify(path)
    assert found.state == "changed"
    assert "attached file 1 is listed as nothing can be" in found.reasons
    assert all(".." not in at and "passwd" not in at for at in looked)
    with pytest.raises(RecordError):
        read_record(path)


def test_an_endless_list_is_refused_and_one_file_listed_often_is_read_once(
    tmp_path: Path, visit: OpenVisit, monkeypatch: pytest.MonkeyPatch
) -> None:
    def often(count: int) -> Callable[[dict[str, Any]], object]:
        return lambda data: data["visit"].update(attachments=data["visit"]["attachments"][:1] * count)

    assert "none of up to 500" in " ".join(verify_bytes(_changed(visit, often(501))).reasons)
    read: list[object] = []

    def look(*of: object) -> str:
        read.append(of)
        return ""

    monkeypatch.setattr("commission.records.attached.amiss", look)
    path = tmp_path / "a.toml"
    path.write_bytes(_changed(visit, often(400)))
    assert len(verify(path).attachments) == 400
    assert len(read) == 1


def test_a_record_from_before_attachments_were_counted_is_as_good(visit: OpenVisit) -> None:
    def without(data: dict[str, Any]) -> None:
        del data["visit"]["attachments"], data["header"]["counts"]["attachments"]

    found = verify_bytes(_changed(visit, without))
    assert "attachments" not in " ".join(found.reasons)
    assert known(found.started_at) == NOON
