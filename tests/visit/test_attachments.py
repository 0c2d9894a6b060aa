"""Files attached to a step: copied whole and durably, and nothing but ordinary files of a sensible size."""

from __future__ import annotations

import hashlib
import os
from pathlib import Path
from typing import Any

import pytest

from commission.errors import HeldError, NotKeptError, VisitError
from commission.visit import attachments
from commission.visit.attachments import FOLDER, ending_of, name_of
from commission.visit.session import OpenVisit
from tests.visit.walks import HOLDER, NOON, after, begun, reading, resumed, sheet, step, walk

LOOK = step("look", reading(kind="yes or no"), parts=("string-1",))
WALK = walk(LOOK, step("volts"))
PHOTO = b"\xff\xd8\xff not really a photograph \x00\r\n\x1a"


@pytest.fixture
def visit(tmp_path: Path) -> Any:
    with begun(tmp_path / "visits", WALK) as begun_visit:
        yield begun_visit


@pytest.fixture
def photo(tmp_path: Path) -> Path:
    path = tmp_path / "IMG 4711.JPG"
    path.write_bytes(PHOTO)
    return path


def kept(visit: OpenVisit) -> list[str]:
    assert visit.folder is not None
    folder = visit.folder / FOLDER
    return sorted(path.name for path in folder.iterdir()) if folder.exists() else []


def test_a_photograph_is_kept_whole_under_its_digest_and_told_again(
    tmp_path: Path, visit: OpenVisit, photo: Path
) -> None:
    """Its own name is text only; the file may be gone after."""
    made = visit.attach(LOOK.key, photo, "  the  lid ", after(1))
    photo.unlink()
    digest = hashlib.sha256(PHOTO).hexdigest()
    assert (made.digest, made.size, made.ending) == (f"sha256:{digest}", len(PHOTO), ".jpg")
    assert (made.name, made.caption, made.key, made.at) == ("IMG 4711.JPG", "the lid", LOOK.key, after(1))
    assert kept(visit) == [f"{digest}.jpg"]
    assert visit.attached_files()[made.file].read_bytes() == PHOTO
    visit.close()
    again = resumed(tmp_path / "visits", visit.visit.id, WALK)
    assert again.attached_to(LOOK.key) == (made,)
    assert again.attached_to(("volts", ())) == ()
    assert again.newest == after(1)
    again.close()


def test_the_same_file_again_changes_only_its_caption(visit: OpenVisit, photo: Path) -> None:
    """At another step it is attached there too, and kept once."""
    visit.attach(LOOK.key, photo, "lid", after(1))
    visit.attach(LOOK.key, photo, "the cracked lid", after(2))
    visit.attach(("volts", ()), photo, "", after(3))
    assert [(one.step, one.caption) for one in visit.visit.attachments] == [
        ("look", "the cracked lid"),
        ("volts", ""),
    ]
    assert len(kept(visit)) == 1


def test_what_was_attached_by_mistake_is_taken_off_with_a_reason(visit: OpenVisit, photo: Path) -> None:
    made = visit.attach(LOOK.key, photo, "", after(1))
    with pytest.raises(VisitError, match="reason is wanted"):
        visit.take_off(made, " ", after(2))
    visit.take_off(made, "another plant", after(2))
    assert visit.attached_to(LOOK.key) == ()
    assert visit.visit.attachments[0].withdrawn == "another plant"
    with pytest.raises(VisitError, match="is not attached"):
        visit.take_off(made, "twice", after(3))
    visit.attach(LOOK.key, photo, "it was this one after all", after(4))
    assert len(visit.attached_to(LOOK.key)) == 1


def test_a_lost_or_changed_copy_is_told(visit: OpenVisit, photo: Path) -> None:
    """And is there again when the same file is attached again."""
    made = visit.attach(LOOK.key, photo, "", after(1))
    copy = visit.attached_files()[made.file]
    assert visit.attached_amiss() == ()
    copy.write_bytes(PHOTO[:-1] + b"!")
    assert "its digest is another one" in visit.attached_amiss()[0]
    copy.write_bytes(PHOTO[:-1])
    assert f"{len(PHOTO) - 1} bytes, {len(PHOTO)} were attached" in visit.attached_amiss()[0]
    copy.unlink()
    assert "IMG 4711.JPG at look string-1: the copy is missing" in visit.attached_amiss()[0]
    visit.attach(LOOK.key, photo, "", after(2))
    assert visit.attached_amiss() == ()


def test_a_lost_copy_is_put_back_to_a_signed_visit_and_nothing_else(
    visit: OpenVisit, photo: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Or its record could never be written."""
    made = visit.attach(LOOK.key, photo, "", after(1))
    monkeypatch.setattr(type(visit), "missing", lambda *_: ())
    signed = visit.sign_off("Runa Feld", "complete", after(2))
    copy = visit.attached_files()[made.file]
    copy.unlink()
    assert visit.attach(LOOK.key, photo, "another caption", after(3)) == made
    assert (copy.read_bytes(), visit.visit) == (PHOTO, signed)
    photo.write_bytes(b"another")
    with pytest.raises(VisitError, match="is signed"):
        visit.attach(LOOK.key, photo, "", after(3))
    assert kept(visit) == [copy.name]


def refused(visit: OpenVisit, path: Path, says: str) -> None:
    before = visit.visit
    with pytest.raises(VisitError, match=says):
        visit.attach(LOOK.key, path, "", after(1))
    assert (visit.visit, kept(visit)) == (before, [])


def test_only_an_ordinary_file_is_read(visit: OpenVisit, tmp_path: Path, photo: Path) -> None:
    """A pipe would never end, and a link would bring along what nobody chose."""
    refused(visit, tmp_path, "is a folder")
    refused(visit, tmp_path / "none.jpg", "no such file")
    refused(visit, tmp_path / "a\0b.jpg", "no file can have this name")
    refused(visit, Path(), "is a folder")
    (tmp_path / "empty.jpg").write_bytes(b"")
    refused(visit, tmp_path / "empty.jpg", "is empty")
    link = tmp_path / "link.jpg"
    try:
        link.symlink_to(photo)
    except OSError:
        pytest.skip("no links here")
    refused(visit, link, "is a link")
    if hasattr(os, "mkfifo"):
        os.mkfifo(tmp_path / "pipe.jpg")
        refused(visit, tmp_path / "pipe.jpg", "no ordinary file")


def test_a_file_that_is_too_large_is_refused_with_the_size_that_is_taken(
    visit: OpenVisit, photo: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """By what the disk says, and by what really comes where it grows meanwhile."""
    monkeypatch.setattr(attachments, "LARGEST", len(PHOTO) - 1)
    refused(visit, photo, r"MB are taken at most; attach a smaller copy")
    monkeypatch.setattr(attachments, "_no_file", lambda _: "")
    refused(visit, photo, "attach a smaller copy")


def test_no_more_than_so_many_files_are_attached(
    visit: OpenVisit, photo: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("commission.visit.attaching.MOST", 0)
    refused(visit, photo, "which is the most")


def test_a_disk_that_does_not_take_the_copy_leaves_nothing_behind(
    visit: OpenVisit, photo: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(path: Path, parts: Any) -> None:
        path.write_bytes(next(iter(parts)))
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(attachments, "write_whole", full)
    with pytest.raises(NotKeptError, match="the disk is full"):
        visit.attach(LOOK.key, photo, "", after(1))
    assert kept(visit) == []
    monkeypatch.undo()
    visit.attach(LOOK.key, photo, "", after(1))


def test_nothing_is_attached_to_a_visit_that_is_only_looked_at_or_to_no_step(
    tmp_path: Path, visit: OpenVisit, photo: Path
) -> None:
    looked = OpenVisit.look(tmp_path / "visits", visit.visit.id, lambda *_: (sheet(), WALK))
    with pytest.raises(HeldError, match=HOLDER.user):
        looked.attach(LOOK.key, photo, "", after(1))
    with pytest.raises(VisitError, match="no step"):
        visit.attach(("none", ()), photo, "", after(1))
    assert kept(visit) == []


def test_attached_files_go_along_to_another_folder(tmp_path: Path, visit: OpenVisit, photo: Path) -> None:
    made = visit.attach(LOOK.key, photo, "", after(1))
    visit.move_to_folder(tmp_path / "stick")
    assert visit.attached_files()[made.file].is_relative_to(tmp_path / "stick")
    assert visit.attached_amiss() == ()


@pytest.mark.parametrize(
    ("name", "ending"),
    [
        ("a.JPG", ".jpg"),
        ("a.b.pdf", ".pdf"),
        ("a.exe", ".bin"),
        ("a.html", ".bin"),
        ("a.toml", ".bin"),
        ("a", ".bin"),
        (".jpg", ".bin"),
        ("a.jpg ", ".bin"),
    ],
)
def test_only_endings_that_are_looked_at_are_kept(name: str, ending: str) -> None:
    """A program would be started by a double click, and a TOML file taken for a record."""
    assert ending_of(name) == ending


def test_a_name_becomes_text_that_no_terminal_stumbles_over() -> None:
    assert name_of(Path("a\x1b[31mb\u202egpj.exe")) == "a\ufffd[31mb\ufffdgpj.exe"
    assert name_of(Path(os.fsdecode(b"caf\xe9.jpg"))) in {"caf\ufffd.jpg", "café.jpg"}
    assert len(name_of(Path("x" * 300 + ".jpg"))) == 120
    assert NOON.tzinfo is not None
