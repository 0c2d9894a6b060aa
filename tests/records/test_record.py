"""A record: what is written is read back exactly, by name, whole or not at all."""

from __future__ import annotations

import errno
import os
import tomllib
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings

from commission import __version__
from commission.errors import RecordError
from commission.plant.files import load_plant
from commission.plant.places import sample_sites
from commission.plant.toml import Limits
from commission.records.read import read_record
from commission.records.verify import verify, verify_bytes
from commission.records.write import record_bytes, record_name, write_record
from commission.sheet.types import Sheet
from commission.visit.digest import plant_digest
from commission.visit.events import Opened, Read
from commission.visit.replay import line_of, replay
from commission.visit.types import Visit
from tests.records.sample import SHEET, signed
from tests.records.visits import READINGS, TIMES, VISITS
from tests.visit.walks import NOON, after, begun, sheet, small_plant, step, walk


def test_a_record_holds_everything_under_names_that_a_person_finds(tmp_path: Path) -> None:
    """Header, settings with recommendation and both values, findings with what was done, readings, seal."""
    data = tomllib.loads(record_bytes(signed(tmp_path), small_plant(), SHEET).decode())
    assert list(data) == [
        "format", "header", "visit", "plant", "setting", "finding", "reading", "note", "sign_off", "seal",
    ]  # fmt: skip
    assert data["header"]["counts"] == {
        "readings": 2, "settings": 2, "findings": 1, "notes": 1, "instruments": 1, "dispositions": 1,
        "attachments": 0,
    }  # fmt: skip
    assert data["header"]["plant_digest"] == f"sha256:{plant_digest(small_plant())}"
    absorption, floating = data["setting"]
    assert (absorption["recommended"], absorption["found"], absorption["left"]) == (57.6, 58.4, 57.6)
    assert (absorption["low"], absorption["high"], absorption["unit"]) == (57.0, 58.2, "V")
    assert (absorption["differs"], floating["differs"], floating["reason"]) == (False, True, "owner's wish")
    finding = data["finding"][0]
    assert (finding["passes"], finding["disposition"]["by"]) == (125.0, "Elin Corse")
    assert finding["why"][0].startswith("125 A")
    first = data["reading"][0]
    assert (first["text"], first["value"], first["judgement"]["verdict"]) == ("54.40", 54.4, "pass")
    assert (first["judgement"]["low"], first["judgement"]["high"]) == (54.2, 54.6)
    assert data["sign_off"]["name"] == "Runa Feld"
    assert list(data["seal"][-1])[-1] == "digest"


def test_a_record_is_read_back_as_the_very_visit_and_plant(tmp_path: Path) -> None:
    """And verifies, and gives the same bytes again."""
    visit = signed(tmp_path / "visits")
    path = write_record(tmp_path / "records", visit, small_plant(), SHEET)
    drawn = visit.id[-4:]
    assert path.name == f"test-site_2026-11-24_commissioning_{drawn}.toml" == record_name(visit)
    found = read_record(path)
    assert (found.visit, found.plant) == (visit, small_plant())
    assert verify(path).intact
    assert record_bytes(found.visit, found.plant, SHEET) == path.read_bytes()
    assert found.settings[0].left == 57.6
    assert found.findings[0].disposition == visit.dispositions[0]
    assert found.header.signed


@pytest.mark.parametrize("path", sample_sites(), ids=lambda path: path.stem)
def test_the_plant_of_every_sample_site_survives_record_and_journal(path: Path, tmp_path: Path) -> None:
    """Every kind of device, unknowns and datasheet values."""
    plant = load_plant(path).plant
    site = plant.site.site.id
    visit = Visit(id=f"{site[:40]}-x", site=site, kind="service", started_at=NOON, program=__version__)
    written = write_record(tmp_path, visit, plant, sheet())
    assert read_record(written).plant == plant
    opened = Opened(at=NOON, id=visit.id, site=site, kind="service", program=__version__, plant=plant)
    (again,) = replay(line_of(opened)).events
    assert isinstance(again, Opened)
    assert again == opened
    assert plant_digest(again.plant) == plant_digest(plant)


@given(VISITS)
@settings(max_examples=60, deadline=None, suppress_health_check=list(HealthCheck))
def test_any_visit_survives_its_record(visit: Visit) -> None:
    """Odd texts, odd numbers, odd times: what is read is what was written, and the seal holds."""
    content = record_bytes(visit, small_plant(), Sheet((), (), *SHEET_NUMBERS))
    found = _read(content)
    assert found == visit
    assert verify_bytes(content).intact


SHEET_NUMBERS = (SHEET.bank_limit, SHEET.recommended_limit, SHEET.bus_maximum, SHEET.shares)


def _read(content: bytes) -> Visit:
    import tempfile

    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "record.toml"
        path.write_bytes(content)
        return read_record(path).visit


@given(READINGS, TIMES)
@settings(max_examples=200, deadline=None)
def test_any_reading_survives_the_journal(drawn: Any, at: Any) -> None:
    """Infinite values and every letter included."""
    (found,) = replay(line_of(Read(at=at, reading=drawn))).events
    assert isinstance(found, Read)
    assert found.reading == drawn
    assert found.reading.measured_at.utcoffset() == drawn.measured_at.utcoffset()


@pytest.mark.parametrize("letter", ["\ud800", "a\udfff"])
def test_half_a_letter_is_refused_before_it_could_spoil_a_file(letter: str, tmp_path: Path) -> None:
    """A lone surrogate cannot be written as UTF-8."""
    from commission.errors import VisitError

    with begun(tmp_path, walk(step("volts"))) as visit:
        with pytest.raises(VisitError):
            visit.note(("volts", ()), letter, after(1))
        assert visit.visit.notes == ()


# writing


def test_a_record_is_never_written_over(tmp_path: Path) -> None:
    """The very same one is left as it is; another one under the name is refused."""
    visit = signed(tmp_path / "visits")
    folder = tmp_path / "records"
    path = write_record(folder, visit, small_plant(), SHEET)
    assert write_record(folder, visit, small_plant(), SHEET) == path
    other = visit.model_copy(update={"spares": "none"})
    with pytest.raises(RecordError, match="another record has this name"):
        write_record(folder, other, small_plant(), SHEET)
    assert [item.name for item in folder.iterdir()] == [path.name]
    assert read_record(path).visit == visit


def test_a_file_system_without_links_still_never_writes_over(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """As on a memory stick."""

    def refuses(*_: object) -> None:
        raise OSError(errno.EPERM, "Operation not permitted")

    monkeypatch.setattr(os, "link", refuses)
    visit = signed(tmp_path / "visits")
    path = write_record(tmp_path, visit, small_plant(), SHEET)
    assert verify(path).intact
    with pytest.raises(RecordError, match="another record"):
        write_record(tmp_path, visit.model_copy(update={"spares": "none"}), small_plant(), SHEET)


def test_a_full_disk_leaves_no_half_record(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Nothing has the record's name, nothing is left beside it."""
    visit = signed(tmp_path / "visits")
    folder = tmp_path / "records"

    def refuses(*_: object) -> int:
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(os, "write", refuses)
    with pytest.raises(RecordError, match="No space left"):
        write_record(folder, visit, small_plant(), SHEET)
    monkeypatch.undo()
    assert list(folder.iterdir()) == []
    (folder / f".{record_name(visit)}.part").write_bytes(b"left by a crash")
    assert verify(write_record(folder, visit, small_plant(), SHEET)).intact


def test_the_digest_of_the_record_before_is_carried(tmp_path: Path) -> None:
    """So that a record withheld shows as a gap."""
    visit = signed(tmp_path / "visits")
    first = verify(write_record(tmp_path, visit, small_plant(), SHEET))
    later = visit.model_copy(update={"id": "test-site-later", "kind": "service"})
    path = write_record(tmp_path, later, small_plant(), SHEET, previous=first.digest)
    assert read_record(path).header.previous == first.digest


# reading


@pytest.mark.parametrize(
    ("change", "key", "says"),
    [
        pytest.param((b"format = 2\n", b"format = 9\n"), "format", "newer version", id="later format"),
        pytest.param((b"format = 2\n", b""), "format", "begins with format = 2", id="no format"),
        pytest.param((b"[sign_off]", b"[sign_of]"), None, None, id="a table that is not known is ignored"),
        pytest.param(
            (b'verdict = "pass"', b'verdict = "good"'),
            "visit.readings[number 1].judgement.verdict",
            "pass",
            id="unknown verdict",
        ),
        pytest.param(
            (b'site = "test-site"', b'site = "other"'),
            "header.site",
            "the visit in the record says",
            id="two sites",
        ),
        pytest.param(
            (b"[plant.site.bank]", b"[plant.site.bunk]"),
            "plant.site.bank.profile",
            "is missing",
            id="no bank",
        ),
        pytest.param(
            (b"value = 54.4", b'value = ["a"]'), "visit.readings[number 1].value", "wrong kind", id="list"
        ),
    ],
)
def test_what_is_wrong_in_a_record_is_told_by_key(change: Any, key: Any, says: Any, tmp_path: Path) -> None:
    """File, key, value and what would be right."""
    path = tmp_path / "record.toml"
    content = record_bytes(signed(tmp_path), small_plant(), SHEET)
    assert change[0] in content
    path.write_bytes(content.replace(change[0], change[1], 1))
    if key is None:
        assert read_record(path).visit.sign_off is None
        return
    with pytest.raises(RecordError) as caught:
        read_record(path)
    assert key in {problem.key for problem in caught.value.problems}
    assert says in str(caught.value)


def test_a_file_that_is_no_record_is_refused_with_words(tmp_path: Path) -> None:
    """Missing, binary, no TOML, a number of more digits than Python reads."""
    for content, says in (
        (None, "no such file"),
        (b"\xff\xfe", "not UTF-8"),
        (b"a = ", "not TOML"),
        (b"a = " + b"1" * 5000, "thousands of digits"),
    ):
        path = tmp_path / "x.toml"
        if content is not None:
            path.write_bytes(content)
        with pytest.raises(RecordError, match=says):
            read_record(path)


def test_of_two_visits_of_one_day_both_records_have_a_name(tmp_path: Path) -> None:
    """The four letters that are drawn for a visit tell them apart; where they do not, nothing is lost."""
    first = signed(tmp_path / "visits")
    other = first.model_copy(update={"id": first.id[:-4] + "zzzz"})
    paths = {write_record(tmp_path, visit, small_plant(), SHEET) for visit in (first, other)}
    assert len(paths) == 2
    same_letters = first.model_copy(update={"id": f"elsewhere-{first.id[-4:]}"})
    before = {path: path.read_bytes() for path in paths}
    with pytest.raises(RecordError, match="another record has this name"):
        write_record(tmp_path, same_letters, small_plant(), SHEET)
    assert {path: path.read_bytes() for path in paths} == before


def test_a_record_verifies_under_any_name(tmp_path: Path) -> None:
    path = write_record(tmp_path, signed(tmp_path / "visits"), small_plant(), SHEET)
    renamed = path.rename(tmp_path / "sent by post.toml")
    assert verify(renamed).intact
    assert read_record(renamed).visit.id == verify(renamed).visit


def test_a_visit_that_is_too_large_for_a_record_is_told_and_kept(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A record that nobody could read again is not written."""
    visit = signed(tmp_path / "visits")
    small = Limits(largest=20_000, usual="a record of one visit")
    monkeypatch.setattr("commission.records.read.LIMITS", small)
    with pytest.raises(RecordError, match=r"larger than 20,000 bytes; a second visit"):
        write_record(tmp_path / "records", visit, small_plant(), SHEET)
    assert not list((tmp_path / "records").glob("*"))
