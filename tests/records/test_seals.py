"""Seals with keys: what was tried against them, and which layer says so."""

from __future__ import annotations

import os
from collections.abc import Callable
from datetime import datetime, timedelta
from pathlib import Path

import pytest
import tomli_w

from commission.errors import RecordError
from commission.records.keys import KnownKey, SigningKey, known_keys, known_text, make_key, open_key, read_key
from commission.records.read import read_record, toml_of
from commission.records.seals import Comment, sealed
from commission.records.types import VerifyResult
from commission.records.verify import verify_bytes
from commission.records.write import record_bytes
from tests.records.sample import SHEET, signed
from tests.visit.walks import NOON, small_plant

PHRASE = "seven grey geese over the fell"
LATER = NOON + timedelta(days=1)


class People:
    """A technician, a supervisor and a stranger with their keys; the first two are known."""

    def __init__(self, folder: Path) -> None:
        self.keys: dict[str, SigningKey] = {}
        for name, role in (
            ("Runa Feld", "technician"),
            ("Elin Corse", "supervisor"),
            ("Ove Starn", "technician"),
        ):
            made = make_key(folder, name, role, PHRASE, now=NOON - timedelta(days=9), random=os.urandom)
            self.keys[name] = open_key(made.path, PHRASE)
            if name != "Ove Starn":
                with (folder / "known.toml").open("a", encoding="utf-8") as listed:
                    head = "" if listed.tell() else "format = 1\n"
                    listed.write(head + known_text((read_key(made.path),)))
        self.known: tuple[KnownKey, ...] = known_keys(folder / "known.toml")


@pytest.fixture(scope="module")
def people(tmp_path_factory: pytest.TempPathFactory) -> People:
    return People(tmp_path_factory.mktemp("keys"))


@pytest.fixture(scope="module")
def record(tmp_path_factory: pytest.TempPathFactory, people: People) -> bytes:
    """Return a record signed with the technician's key."""
    visit = signed(tmp_path_factory.mktemp("visits"))
    return record_bytes(visit, small_plant(), SHEET, key=people.keys["Runa Feld"])


def answered(record: bytes, key: SigningKey, says: str = "countersigned", at: datetime = LATER) -> bytes:
    comments = [Comment("read the first step again", "volts"), Comment('a "quoted" line\n[[seal]]')]
    return sealed(
        record, toml_of(record), says=says, name=key.name, role=key.role, at=at, comments=comments, key=key  # type: ignore[arg-type]
    )  # fmt: skip


def test_a_signed_and_countersigned_record_says_who_stands_for_it(record: bytes, people: People) -> None:
    whole = answered(record, people.keys["Elin Corse"])
    found = verify_bytes(whole, people.known)
    assert (found.state, found.reasons) == ("intact", ())
    assert [(one.says, one.name, one.signature, one.key) for one in found.seals] == [
        ("signed", "Runa Feld", "good", "known"),
        ("countersigned", "Elin Corse", "good", "known"),
    ]
    assert found.seals[1].comments[0] == Comment("read the first step again", "volts")
    assert whole.startswith(record)


def test_a_countersigned_record_is_still_read(record: bytes, people: People, tmp_path: Path) -> None:
    path = tmp_path / "a.toml"
    path.write_bytes(answered(record, people.keys["Elin Corse"]))
    assert read_record(path).visit.sign_off is not None


def rewritten(content: bytes) -> bytes:
    """Return a record as another TOML writer has it."""
    return tomli_w.dumps(toml_of(content)).encode()


def test_the_same_data_written_anew_are_told_from_changed_ones(record: bytes, people: People) -> None:
    whole = answered(record, people.keys["Elin Corse"])
    again = verify_bytes(rewritten(whole), people.known)
    assert again.state == "rewritten"
    assert [(one.signature, one.key) for one in again.seals] == [("good", "known")] * 2
    forged = verify_bytes(rewritten(whole.replace(b"54.40", b"54.41")), people.known)
    assert forged.state == "changed"


def by(found: VerifyResult) -> str:
    return "; ".join((found.state, *found.reasons, *(f"{one.signature} {one.key}" for one in found.seals)))


ATTACKS: dict[str, tuple[Callable[[bytes, People], bytes], str]] = {
    "digit": (
        lambda text, _: text.replace(b"54.40", b"54.41"),
        "changed; the content is not what was sealed",
    ),
    "technician's name": (lambda text, _: text.replace(b"Runa Feld", b"Runa Fell"), "is false"),
    "supervisor's comment": (lambda text, _: text.replace(b"read the first", b"skip the first"), "is false"),
    "time of a seal": (lambda text, _: text.replace(b"2026-11-25", b"2026-11-26"), "is false"),
    "answer": (lambda text, _: text.replace(b'"countersigned"', b'"returned"'), "is false"),
    "text between the seals": (
        lambda text, _: text.replace(b"\n[[seal]]", b"# fine\n[[seal]]"),
        "rewritten",
    ),
    "text below": (lambda text, _: text + b"# torque 5 is fine\n", "added or cut off"),
    "table below": (lambda text, _: text + b"[more]\na = 1\n", "changed"),
    "line ends": (lambda text, _: text.replace(b"\n", b"\r\n"), "rewritten"),
    "signature cut off": (lambda text, _: text[: text.rindex(b"signature")], "is false"),
    "digest worked out anew": (lambda text, _: _digests_anew(text.replace(b"54.40", b"54.41")), "is false"),
}


def _digests_anew(text: bytes) -> bytes:
    """Return a record whose first digest line fits what stands above it."""
    import hashlib

    place = text.index(b"\ndigest = ") + 1
    end = text.index(b"\n", place)
    return (
        text[:place] + f'digest = "sha256:{hashlib.sha256(text[:place]).hexdigest()}"'.encode() + text[end:]
    )


@pytest.mark.parametrize("name", ATTACKS)
def test_what_was_tried_against_the_seals_is_said(record: bytes, people: People, name: str) -> None:
    attack, says = ATTACKS[name]
    whole = answered(record, people.keys["Elin Corse"])
    tried = attack(whole, people)
    assert tried != whole
    found = verify_bytes(tried, people.known)
    assert not found.intact
    assert says in by(found)


def test_a_stranger_who_signs_is_not_known(record: bytes, people: People) -> None:
    found = verify_bytes(answered(record, people.keys["Ove Starn"]), people.known)
    assert (found.seals[1].signature, found.seals[1].key) == ("good", "not known")


def test_a_technician_cannot_sign_as_the_supervisor(record: bytes, people: People) -> None:
    """His key counts for him in his role alone."""
    key = people.keys["Runa Feld"]
    posing = SigningKey("Elin Corse", "supervisor", key.public, key._private)
    found = verify_bytes(answered(record, posing), people.known)
    assert (found.seals[1].signature, found.seals[1].key) == ("good", "not known")


def test_a_seal_moved_to_another_record_is_false(record: bytes, people: People, tmp_path: Path) -> None:
    whole = answered(record, people.keys["Elin Corse"])
    answer = whole[whole.rindex(b"\n[[seal]]") :]
    other = record_bytes(
        signed(tmp_path).model_copy(update={"spares": "none"}),
        small_plant(),
        SHEET,
        key=people.keys["Runa Feld"],
    )
    assert verify_bytes(other + answer, people.known).state == "changed"


def test_a_seal_cut_off_leaves_a_record_that_says_less(record: bytes, people: People) -> None:
    """That cannot be seen in the file alone; the desk and the chain see it."""
    found = verify_bytes(record, people.known)
    assert (found.state, len(found.seals)) == ("intact", 1)


def test_only_the_signer_s_own_key_signs(tmp_path: Path, people: People) -> None:
    with pytest.raises(RecordError, match="Ove Starn"):
        record_bytes(signed(tmp_path), small_plant(), SHEET, key=people.keys["Ove Starn"])


def test_signing_without_a_key_is_shown_as_such(tmp_path: Path, people: People) -> None:
    """And that a key of the signer is known, where one is: somebody else may have taken it off."""
    record = record_bytes(signed(tmp_path), small_plant(), SHEET)
    assert [(one.signature, one.key) for one in verify_bytes(record).seals] == [("none", None)]
    found = verify_bytes(record, people.known)
    assert found.intact
    assert [(one.signature, one.key) for one in found.seals] == [("none", "not used")]
