"""Keys: made once, opened by their passphrase alone, known by a list, told over a telephone."""

from __future__ import annotations

import os
import stat
from datetime import UTC, datetime
from pathlib import Path

import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from commission.errors import KeyFileError
from commission.records.keys import (
    KnownKey,
    SigningKey,
    fingerprint,
    from_text,
    keys_in,
    known_keys,
    known_text,
    make_key,
    open_key,
    read_key,
    signature_holds,
    standing_of,
)

NOON = datetime(2026, 11, 24, 12, tzinfo=UTC)
PHRASE = "seven grey geese over the fell"
RFC_8032 = [
    (
        "9d61b19deffd5a60ba844af492ec2cc44449c5697b326919703bac031cae7f60",
        "d75a980182b10ab7d54bfed3c964073a0ee172f3daa62325af021a68f707511a",
        "",
        (
            "e5564300c360ac729086e2cc806e828a84877f1eb8e5d974d873e065224901555fb8821590a33bacc61e39701cf9b46bd2"
            "5bf5f0595bbe24655141438e7a100b"
        ),
    ),
    (
        "4ccd089b28ff96da9db6c346ec114e0f5b8a319f35aba624da8cf6ed4fb8a6fb",
        "3d4017c3e843895a92b70aa74d1b7ebc9c982ccf2ec4968cc0cd55f12af4660c",
        "72",
        (
            "92a009a9f0d4cab8720e820b5f642540a2b27b5416503f8fb3762223ebdb69da085ac1e43e15996e458f3613d0f11d8c38"
            "7b2eaeb4302aeeb00d291612bb0c00"
        ),
    ),
    (
        "c5aa8df43f9f837bedb7442f31dcb7b166d38535076f094b85ce3a2e0b4458f7",
        "fc51cd8e6218a1a38da47ed00230f0580816ed13ba3303ac5deb911548908025",
        "af82",
        (
            "6291d657deec24024827e69c3abe01a30ce548a284743a445e3680d7db5ac3ac18ff9b538d16f290ae67f760984dc6594a"
            "7c15e9716ed28dc027beceea1ec40a"
        ),
    ),
]
"""Secret key, public key, message and signature of RFC 8032, section 7.1, tests 1 to 3."""


def made(folder: Path, name: str = "Runa Feld", role: str = "technician") -> Path:
    return make_key(folder, name, role, PHRASE, now=NOON, random=os.urandom).path


@pytest.mark.parametrize(("secret", "public", "message", "signature"), RFC_8032)
def test_signatures_are_those_of_rfc_8032(secret: str, public: str, message: str, signature: str) -> None:
    private = Ed25519PrivateKey.from_private_bytes(bytes.fromhex(secret))
    key = SigningKey("n", "r", private.public_key().public_bytes_raw(), private)
    assert key.public == bytes.fromhex(public)
    assert key.sign(bytes.fromhex(message)) == bytes.fromhex(signature)
    assert signature_holds(key.public, bytes.fromhex(signature), bytes.fromhex(message))
    assert not signature_holds(key.public, bytes.fromhex(signature), bytes.fromhex(message) + b"x")


def test_a_key_is_stretched_as_long_as_is_wise_today(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """OWASP's password storage cheat sheet names N = 2^17, r = 8, p = 1 first for scrypt."""
    monkeypatch.undo()  # what all tests stretch by
    path = made(tmp_path)
    text = path.read_text(encoding="utf-8")
    assert all(line in text for line in ("cost = 131072\n", "block = 8\n", "parallel = 1\n"))
    assert open_key(path, PHRASE).name == "Runa Feld"


def test_a_key_opens_with_its_passphrase_alone(tmp_path: Path) -> None:
    path = made(tmp_path)
    key = open_key(path, PHRASE)
    assert (key.name, key.role) == ("Runa Feld", "technician")
    assert signature_holds(read_key(path).public, key.sign(b"a"), b"a")
    with pytest.raises(KeyFileError, match="does not open"):
        open_key(path, PHRASE + " ")
    with pytest.raises(KeyFileError, match="does not open"):
        open_key(path, "")


def test_only_its_owner_can_read_it_and_nothing_is_written_over(tmp_path: Path) -> None:
    if os.name == "nt":
        pytest.skip("permissions are of another kind there")
    path = made(tmp_path)
    assert stat.S_IMODE(path.stat().st_mode) == 0o600
    assert PHRASE not in path.read_text(encoding="utf-8")
    fixed = b"x" * 32
    make_key(tmp_path, "A", "witness", PHRASE, now=NOON, random=lambda count: fixed[:count])
    with pytest.raises(KeyFileError, match="there already"):
        make_key(tmp_path, "A", "witness", PHRASE, now=NOON, random=lambda count: fixed[:count])


def test_a_short_passphrase_and_a_key_of_nobody_are_refused(tmp_path: Path) -> None:
    for name, role, phrase in (("A", "owner", "short"), (" ", "owner", PHRASE), ("A", "", PHRASE)):
        with pytest.raises(KeyFileError):
            make_key(tmp_path, name, role, phrase, now=NOON, random=os.urandom)
    assert not list(tmp_path.iterdir())


def test_a_name_is_no_way_out_of_the_folder(tmp_path: Path) -> None:
    path = made(tmp_path / "keys", name="../../étc/passwd")
    assert path.parent == tmp_path / "keys"


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("cost = 16384", "cost = 1073741824"),
        ("cost = 16384", "cost = 2"),
        ("format = 1", "format = 2"),
        ('public = "', 'public = "A'),
        ("BEGIN", "BEGAN"),
        ('salt = "', 'salt = "A'),
    ],
)
def test_a_damaged_key_is_refused_in_words(tmp_path: Path, old: str, new: str) -> None:
    path = made(tmp_path)
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new), encoding="utf-8")
    with pytest.raises(KeyFileError):
        open_key(path, PHRASE)


def test_two_halves_of_two_keys_are_no_key(tmp_path: Path) -> None:
    one, other = made(tmp_path), made(tmp_path, "Elin Corse")
    text = one.read_text(encoding="utf-8")
    public = next(line for line in text.splitlines() if line.startswith("public"))
    others = next(
        line for line in other.read_text(encoding="utf-8").splitlines() if line.startswith("public")
    )
    one.write_text(text.replace(public, others), encoding="utf-8")
    with pytest.raises(KeyFileError, match="do not belong together"):
        open_key(one, PHRASE)


def test_a_fingerprint_is_eight_groups_of_four_digits() -> None:
    told = fingerprint(bytes(32))
    assert [len(group) for group in told.split()] == [4] * 8
    assert told.replace(" ", "").isdigit()
    assert told != fingerprint(bytes(31) + b"\x01")


def test_base64_has_one_text_for_each_key() -> None:
    """Another text for the same bytes would be a place to hide something."""
    assert from_text("AA==", 1) == b"\0"
    for text in ("AB==", "AA", "AA==\n", "é===", "AAA="):
        assert from_text(text, 1) is None


def test_the_list_of_known_keys_says_from_when_to_when(tmp_path: Path) -> None:
    made(tmp_path)
    found = keys_in(tmp_path)
    listed = tmp_path / "known.toml"
    listed.write_text(f"format = 1\n\n{known_text(found)}until = 2027\n", encoding="utf-8")
    known = known_keys(listed)
    public = found[0].public

    def standing(moment: str, name: str = "Runa Feld", role: str = "technician") -> str:
        return standing_of(public, name, role, datetime.fromisoformat(moment), known)

    assert standing("2026-11-24T13:00:00+00:00") == "known"
    assert standing("2027-12-31T13:00:00+00:00") == "known"
    assert standing("2026-11-23T13:00:00+00:00") == "not valid then"
    assert standing("2028-01-01T13:00:00+00:00") == "not valid then"
    assert standing("2026-11-24T13:00:00+00:00", role="supervisor") == "not known"
    assert standing("2026-11-24T13:00:00+00:00", name="Elin Corse") == "not known"
    revoked = tuple(KnownKey(**(key.model_dump() | {"revoked": "2026-12"})) for key in known)
    moment = datetime.fromisoformat("2026-12-01T00:00:00+00:00")
    assert standing_of(public, "Runa Feld", "technician", moment, revoked) == "revoked"


@pytest.mark.parametrize(
    "text",
    [
        "format = 2\n",
        "format = 1\n[[key]]\nname = 'a'\nrole = 'b'\npublic = 'short'\n",
        "format = 1\nkey = 4\n",
        "\x00",
        "format = 1\n[[key]]\nname = 'a'\nrole = 'b'\npublic = 'AA'\nsince = '2026-13'\n",
    ],
)
def test_a_list_that_is_none_is_refused_in_words(tmp_path: Path, text: str) -> None:
    path = tmp_path / "known.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(KeyFileError):
        known_keys(path)
