"""Keys and answers on the command line, as an office uses them."""

from __future__ import annotations

import io
import json
from pathlib import Path

import pytest

from commission.cli import main
from commission.records.write import write_record
from tests.records.sample import SHEET, signed
from tests.visit.walks import small_plant

PHRASE = "seven grey geese over the fell\n"


@pytest.fixture
def typed(monkeypatch: pytest.MonkeyPatch) -> None:
    """Give the passphrase as a script gives it."""
    monkeypatch.setattr("sys.stdin", io.StringIO(PHRASE * 9))


@pytest.fixture
def record(tmp_path: Path) -> Path:
    """Return a record signed by name."""
    return write_record(tmp_path / "records", signed(tmp_path / "visits"), small_plant(), SHEET)


def key_of(folder: Path, name: str, role: str) -> Path:
    assert main(["keys", "--folder", str(folder), "--new", name, "--role", role]) == 0
    return next(folder.glob(f"{name.split(maxsplit=1)[0].lower()}-*.key.toml"))


def lines(capsys: pytest.CaptureFixture[str]) -> str:
    return capsys.readouterr().out


@pytest.mark.usefixtures("typed")
def test_a_record_is_countersigned_with_a_key_that_is_known(
    tmp_path: Path, record: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    key = key_of(tmp_path / "keys", "Elin Corse", "supervisor")
    lines(capsys)
    assert main(["keys", "--line", str(key)]) == 0
    known = tmp_path / "known.toml"
    known.write_text("format = 1\n" + lines(capsys), encoding="utf-8")
    before = record.read_bytes()
    answer = ["countersign", str(record), "--key", str(key), "--comment", "volts: read again in spring"]
    assert main(answer) == 0
    assert record.read_bytes().startswith(before)
    assert main(["verify", str(record), "--known", str(known)]) != 0  # its technician has no key
    told = lines(capsys)
    assert "countersigned by Elin Corse (supervisor)" in told
    assert "key known\n" in told
    assert "volts: read again in spring" in told
    main(["verify", str(record), "--known", str(known), "--json"])
    (found,) = json.loads(lines(capsys))
    assert [seal["says"] for seal in found["seals"]] == ["signed", "countersigned"]
    assert found["seals"][1]["comments"] == [{"step": "volts", "parts": [], "text": "read again in spring"}]


def test_a_record_is_returned_only_with_a_word_and_never_by_its_technician(
    record: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    before = record.read_bytes()
    for arguments, says in (
        (["return", str(record), "--name", "Elin Corse"], "without a word"),
        (["countersign", str(record), "--name", "runa feld"], "somebody else answers"),
        (["countersign", str(record)], "nobody is named"),
        (
            ["return", str(record), "--name", "E", "--comment", "no-such-step: look"],
            "nothing was read at step",
        ),
    ):
        assert main(arguments) == 2
        assert says in capsys.readouterr().err
    assert record.read_bytes() == before
    assert main(["return", str(record), "--name", "Elin Corse", "--comment", "seen: which seal?"]) == 0
    assert "returned by Elin Corse" in lines(capsys)


def test_a_changed_record_is_not_answered(record: Path, capsys: pytest.CaptureFixture[str]) -> None:
    changed = record.read_bytes().replace(b"54.40", b"54.41")
    record.write_bytes(changed)
    assert main(["countersign", str(record), "--name", "Elin Corse"]) == 2
    assert "only an intact record is answered" in capsys.readouterr().err
    assert record.read_bytes() == changed


@pytest.mark.usefixtures("typed")
def test_keys_are_listed_with_their_fingerprints(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    folder = tmp_path / "keys"
    key_of(folder, "Runa Feld", "technician")
    lines(capsys)
    assert main(["keys", "--folder", str(folder), "--json"]) == 0
    (own,) = json.loads(lines(capsys))["own"]
    assert (own["name"], own["role"]) == ("Runa Feld", "technician")
    assert [len(group) for group in own["fingerprint"].split()] == [4] * 8
    assert main(["keys", "--folder", str(folder)]) == 0
    assert any(line.strip() == own["fingerprint"] for line in lines(capsys).splitlines())


class Terminal(io.StringIO):
    """An input at which somebody sits."""

    def isatty(self) -> bool:
        return True


def sitting_there(monkeypatch: pytest.MonkeyPatch, *typed: str) -> list[str]:
    """Let somebody type passphrases unseen; returns what is left of them."""
    left = list(typed)
    monkeypatch.setattr("sys.stdin", Terminal())
    monkeypatch.setattr("getpass.getpass", lambda _: left.pop(0))
    return left


def test_a_new_passphrase_that_was_mistyped_is_asked_for_again(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    good = PHRASE.strip()
    left = sitting_there(monkeypatch, good, "seven gray geese", good, "", good, good)
    key_of(tmp_path, "Elin Corse", "supervisor")
    assert left == []
    assert capsys.readouterr().err.count("the two passphrases differ; once more") == 2


def test_after_three_times_that_differ_nothing_is_made(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    left = sitting_there(monkeypatch, *"abcdefgh")
    assert main(["keys", "--folder", str(tmp_path), "--new", "Elin Corse"]) == 2
    assert left == ["g", "h"]
    assert "nothing was made, after 3 times" in capsys.readouterr().err
    assert list(tmp_path.glob("*.key.toml")) == []


def test_what_is_refused_is_refused_before_a_passphrase_is_typed(
    tmp_path: Path, record: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """A key that is not there, and the technician's own."""
    good = PHRASE.strip()
    sitting_there(monkeypatch, good, good)
    own = key_of(tmp_path / "keys", "Runa Feld", "technician")
    left = sitting_there(monkeypatch)
    for file, says in ((tmp_path / "gone.key.toml", "gone.key.toml"), (own, "somebody else answers")):
        assert main(["countersign", str(record), "--key", str(file)]) == 2
        assert says in capsys.readouterr().err
    assert left == []


@pytest.mark.usefixtures("typed")
def test_nobody_countersigns_twice(tmp_path: Path, record: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Neither by name nor by key; what was returned may be countersigned after."""
    key = key_of(tmp_path / "keys", "Elin Corse", "supervisor")
    by_key = ["countersign", str(record), "--key", str(key)]
    assert main(["return", *by_key[1:], "--comment", "which seal?"]) == 0
    assert main(by_key) == 0
    before = record.read_bytes()
    lines(capsys)
    for again in (by_key, ["countersign", str(record), "--name", "elin  corse"]):
        assert main(again) == 2
        assert "has countersigned it already" in capsys.readouterr().err
    assert record.read_bytes() == before
    assert main(["countersign", str(record), "--name", "Ove Starn"]) == 0
