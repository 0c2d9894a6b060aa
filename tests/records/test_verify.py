"""Every changed byte of a record is noticed, and said in words."""

from __future__ import annotations

import hashlib
import os
import random
from pathlib import Path
from time import perf_counter
from typing import Any

import pytest

from commission.errors import RecordError
from commission.records.read import toml_of
from commission.records.seals import sealed
from commission.records.verify import verify, verify_bytes
from commission.records.write import record_bytes
from commission.visit.types import Note, Visit
from tests.records.sample import SHEET, signed
from tests.visit.walks import NOON, sheet, small_plant


@pytest.fixture(scope="module")
def record(tmp_path_factory: pytest.TempPathFactory) -> bytes:
    """Return a signed record."""
    return record_bytes(signed(tmp_path_factory.mktemp("visits")), small_plant(), SHEET)


def test_a_record_as_written_is_intact(record: bytes) -> None:
    """And tells its visit, its signer and its digest."""
    found = verify_bytes(record)
    assert (found.state, found.reasons, found.signed_by) == ("intact", (), "Runa Feld")
    assert found.visit.startswith("test-site-2026-11-24-commissioning-")
    above = record[: record.rindex(b"digest = ")]
    assert found.digest == f"sha256:{hashlib.sha256(above).hexdigest()}"
    assert record.endswith(f'digest = "{found.digest}"\n'.encode())


def test_flipped_bytes_at_the_ends_and_between_are_noticed(record: bytes) -> None:
    """The last 150 bytes with the seal, the first 50, and 100 places drawn by lot."""
    lot = random.Random(7)
    places = {*range(50), *range(len(record) - 150, len(record)), *lot.sample(range(len(record)), 100)}
    for place in sorted(places):
        changed = bytearray(record)
        changed[place] ^= lot.randrange(1, 256)
        assert not verify_bytes(bytes(changed)).intact, place


def test_every_byte_of_a_small_record_counts() -> None:
    """Each byte changed, dropped, or doubled; the plant is left out to keep it small."""
    small = _small()
    assert verify_bytes(small).intact
    for place in range(len(small)):
        for flip in (0x01, 0x20, 0x80, 0xFF):
            changed = bytearray(small)
            changed[place] ^= flip
            assert not verify_bytes(bytes(changed)).intact, place
        assert not verify_bytes(small[:place] + small[place + 1 :]).intact, place
        assert not verify_bytes(small[:place] + small[place : place + 1] + small[place:]).intact, place


def _small() -> bytes:
    """Return a record of a visit in which next to nothing was done, without its plant."""
    counts = "readings = 0\nsettings = 0\nfindings = 0\nnotes = 1\ninstruments = 0\ndispositions = 0\n"
    note = '[[note]]\nstep = "a"\ntext = "é"\n'
    above = f'format = 1\n[header]\nvisit = "v"\n[header.counts]\n{counts}{note}'.encode()
    return sealed(above, toml_of(above), says="judged")


def test_no_cut_record_is_intact(record: bytes) -> None:
    """A hundred lengths, and every one within the seal."""
    for length in (*range(0, len(record), len(record) // 100), *range(len(record) - 100, len(record))):
        assert not verify_bytes(record[:length]).intact


@pytest.mark.parametrize(
    ("attack", "state", "says"),
    [
        pytest.param(lambda text: text.replace(b"54.40", b"54.41"), "changed", "one byte", id="digit"),
        pytest.param(lambda text: text.replace(b"Runa Feld", b"Runa Fell"), "changed", "byte", id="name"),
        pytest.param(lambda text: b"# torque 5 is fine\n" + text, "rewritten", "comments", id="comment"),
        pytest.param(lambda text: text.replace(b"\n", b"\r\n"), "rewritten", "line ends", id="line ends"),
        pytest.param(lambda text: text + b"\n", "rewritten", "added or cut off", id="line added"),
        pytest.param(lambda text: text + b"[more]\na = 1\n", "changed", "added", id="table added"),
        pytest.param(lambda text: text[:-1], "rewritten", "cut off", id="last line end gone"),
        pytest.param(lambda text: text[: text.rindex(b"[[seal]]")], "malformed", "missing", id="no seal"),
        pytest.param(lambda text: b"\xef\xbb\xbf" + text, "rewritten", "anew", id="byte-order mark"),
        pytest.param(lambda text: b"a = " + b"1" * 5000 + b"\n" + text, "malformed", "TOML",
                     id="endless number"),
        pytest.param(lambda text: text.replace(b"sha256:", b"sha512:"), "changed", "digest", id="sum"),
        pytest.param(lambda text: text.replace(b'kind = "digest"', b'kind = "other"'), "malformed", "seal",
                     id="other seal"),
        pytest.param(lambda text: text + text[text.rindex(b"[[seal]]") :], "changed", "answers nothing",
                     id="seal doubled"),
    ],
)  # fmt: skip
def test_what_was_tried_is_said(record: bytes, attack: Any, state: Any, says: Any) -> None:
    """As a person would say it."""
    changed = attack(record)
    assert changed != record
    found = verify_bytes(changed)
    assert found.state == state
    assert says in " ".join(found.reasons)


def test_a_reading_taken_out_and_sealed_anew_shows_in_the_counts(record: bytes) -> None:
    """A new digest alone does not make up for a lost row."""
    start = record.rindex(b"[[reading]]")
    end = record.index(b"[[note]]")
    above = (record[:start] + record[end:])[: -len(record[record.rindex(b"digest = ") :])]
    forged = above + f'digest = "sha256:{hashlib.sha256(above).hexdigest()}"\n'.encode()
    found = verify_bytes(forged)
    assert found.state == "changed"
    assert "1 readings stand in the record, its header counts 2" in found.reasons


def test_the_seal_of_one_record_does_not_fit_another(record: bytes) -> None:
    """Cut off here, put on there."""
    visit = Visit(id="v", site="test-site", kind="service", started_at=NOON, program="0")
    other = record_bytes(visit, small_plant(), sheet())
    moved = other[: other.rindex(b"[[seal]]")] + record[record.rindex(b"[[seal]]") :]
    assert verify_bytes(moved).state == "changed"


def test_a_seal_hidden_in_a_text_does_not_count_as_one(tmp_path: Path) -> None:
    """Texts are written on one line, so that no line of a text begins a seal."""
    note = Note(step="a", text='x\n[[seal]]\nkind = "digest"\n', at=NOON)
    visit = Visit(id="v", site="test-site", kind="service", started_at=NOON, program="0", notes=(note,))
    assert verify_bytes(record_bytes(visit, small_plant(), sheet())).intact


def test_a_file_that_is_not_there_is_no_malformed_record(tmp_path: Path) -> None:
    """It is an error of the caller."""
    with pytest.raises(RecordError, match="no such file"):
        verify(tmp_path / "none.toml")


@pytest.mark.parametrize("key", ["x." + ".".join("a" * 20_000), "[" + ".".join(['"a"'] * 20_000) + "]"])
def test_a_key_that_nests_endlessly_is_malformed_at_once(record: bytes, key: str) -> None:
    """And takes no second."""
    begun = perf_counter()
    found = verify_bytes(f"{key}{'' if key[0] == '[' else ' = 1'}\n".encode() + record)
    assert (found.state, perf_counter() - begun < 1) == ("malformed", True)


def test_a_text_with_many_points_is_no_such_key(tmp_path: Path) -> None:
    """Whatever quotes and backslashes stand in it."""
    text = "a." * 60 + '"\\"' + "b." * 60 + "'" + "c." * 60
    visit = signed(tmp_path)
    noted = visit.model_copy(update={"notes": (Note(step="volts", at=NOON, text=text),)})
    content = record_bytes(noted, small_plant(), SHEET)
    assert verify_bytes(content).intact


def test_what_is_no_ordinary_file_is_not_waited_for(tmp_path: Path) -> None:
    """A pipe would never end."""
    if not hasattr(os, "mkfifo"):
        pytest.skip("no named pipes here")
    os.mkfifo(tmp_path / "pipe.toml")
    with pytest.raises(RecordError, match="no ordinary file"):
        verify(tmp_path / "pipe.toml")
