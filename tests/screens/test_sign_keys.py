"""Journeys of signing with a key: the passphrase is typed unseen, and nothing is lost where it is wrong."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from commission.records.keys import KeyFile, make_key
from commission.records.types import VerifyResult
from commission.records.verify import verify
from commission.screens.sign_form import own_keys
from commission.visit.session import OpenVisit
from commission.visit.types import Person, VisitKind
from tests.screens.pages import TERMINALS, Hands, hands_on
from tests.visit.walks import NOON, RUNA, begun, reading, resumed, setting, sheet, step, walk

WALK, WHOLE = walk(step("look", reading(kind="yes or no"))), sheet(setting())
PHRASE = " seven grey geese "


def done(root: Path, kind: VisitKind = "commissioning", seed: int = 1) -> OpenVisit:
    """Return a visit that can be signed."""
    visit = begun(root / "visits", WALK, WHOLE, kind=kind, seed=seed)
    visit.take(WALK.steps[0].asks[0], "yes", measured_at=NOON, now=NOON)
    visit.set_left("inverter-1", "absorption_voltage", "57.6", NOON)
    visit.identify("inverter-1", NOON, serial="S-1", firmware="4.1")
    return visit


def key_of(root: Path, name: str, role: str = "technician") -> KeyFile:
    return make_key(root / "keys", name, role, PHRASE, now=NOON, random=os.urandom)


async def begin(hands: Hands, folder: Path) -> None:
    """Go to signing, past the choice of the key that stands first, to the passphrase."""
    await hands.press("home", "down", "enter")
    assert "Sign with which key?" in hands.sees
    await hands.press("enter", "ctrl+u", *str(folder), "enter")


def record(folder: Path) -> VerifyResult:
    (path,) = folder.glob("*.toml")
    return verify(path)


@pytest.mark.screen
@pytest.mark.parametrize(("size", "colour"), TERMINALS)
async def test_a_wrong_passphrase_leaves_all_as_it_was_and_the_right_one_signs(
    tmp_path: Path, size: tuple[int, int], colour: bool
) -> None:
    visit, key, folder = done(tmp_path), key_of(tmp_path, "Runa Feld"), tmp_path / "records"
    async with hands_on(visit, "sign", tmp_path / "visits", size, colour) as hands:
        await begin(hands, folder)
        await hands.type("seven grey geese")
        assert "geese" not in hands.sees
        await hands.type("Runa Feld")
        assert "does not open" in hands.reads
        assert visit.visit.sign_off is None
        assert list(folder.iterdir()) == []
        assert hands.typed == "Runa Feld"
        await hands.press("up", "ctrl+u", *PHRASE, "enter", "enter")
        assert f"signed with the key {key.fingerprint}" in hands.reads
        assert "geese" not in hands.sees
    found = record(folder)
    assert (found.state, found.seals[0].signature, found.seals[0].public) == ("intact", "good", key.public)
    assert visit.folder is not None
    told = b"".join(path.read_bytes() for path in visit.folder.rglob("*") if path.is_file())
    assert b"geese" not in told


@pytest.mark.screen
async def test_somebody_else_s_key_does_not_sign(tmp_path: Path) -> None:
    """Nor does another name than that of the key."""
    visit = done(tmp_path)
    visit.add_person(Person(name="Ove Starn", role="technician", licence="E-9"), NOON)
    key_of(tmp_path, "Runa Feld")
    key_of(tmp_path, "Ada Nobody")
    async with hands_on(visit, "sign", tmp_path / "visits") as hands:
        await hands.press("down", "enter")
        await hands.press(*"nobody", "enter", "enter", *PHRASE, "enter")
        await hands.type("Runa Feld")
        assert "the key is that of Ada Nobody, technician; technicians of this visit" in hands.reads
        await hands.press("escape")
        await begin(hands, tmp_path / "records")
        await hands.type(PHRASE)
        await hands.type("Ove Starn")
        assert "the key is that of Runa Feld: that name confirms" in hands.reads
    assert visit.visit.sign_off is None


@pytest.mark.screen
async def test_without_a_key_is_a_choice_that_is_shown_as_such(tmp_path: Path) -> None:
    visit, folder = done(tmp_path), tmp_path / "records"
    key_of(tmp_path, "Runa Feld")
    async with hands_on(visit, "sign", tmp_path / "visits") as hands:
        await hands.press("down", "enter", *"without", "enter")
        await hands.press("ctrl+u", *str(folder), "enter")
        assert "passphrase" not in hands.sees
        await hands.type("Runa Feld")
        assert "signed without a key" in hands.sees
    assert record(folder).seals[0].signature == "none"


@pytest.mark.screen
async def test_the_record_of_a_signed_visit_is_written_with_the_key_too(tmp_path: Path) -> None:
    """As after a disk that was full; only the signer's own key does it."""
    visit, key, folder = done(tmp_path), key_of(tmp_path, "Runa Feld"), tmp_path / "records"
    key_of(tmp_path, "Ove Starn")
    visit.sign_off(RUNA.name, "complete", NOON)
    async with hands_on(visit, "sign", tmp_path / "visits") as hands:
        await hands.press("enter", *"starn", "enter", "ctrl+u", *str(folder), "enter")
        await hands.type(PHRASE)
        assert "is that of Ove Starn, technician; the visit is signed by Runa Feld" in hands.reads
        await hands.press("escape", "enter", "enter", "ctrl+u", *str(folder), "enter")
        await hands.type("wrong")
        assert "does not open" in hands.reads
        await hands.press("ctrl+u")
        await hands.type(PHRASE)
        assert f"signed with the key {key.fingerprint}" in hands.reads
    assert record(folder).seals[0].signature == "good"


@pytest.mark.screen
async def test_the_record_names_the_one_before_and_lies_beside_its_files(tmp_path: Path) -> None:
    folder, photo = tmp_path / "records", tmp_path / "lid.jpg"
    photo.write_bytes(b"\xff\xd8")
    first = done(tmp_path)
    async with hands_on(first, "sign", tmp_path / "visits") as hands:
        await hands.press("down", "enter", "ctrl+u", *str(folder), "enter")
        await hands.type("Runa Feld")
        assert "the first record of this site in that folder" in hands.reads
    (before,) = folder.glob("*.toml")
    second = done(tmp_path, "service", seed=2)
    second.attach(WALK.steps[0].key, photo, "", NOON)
    async with hands_on(second, "sign", tmp_path / "visits") as hands:
        await hands.press("down", "enter", "ctrl+u", *str(folder), "enter")
        assert "record before this one" in hands.sees
        await hands.type(str(tmp_path / "none.toml"))
        await hands.type("Runa Feld")
        assert "there is no such file" in hands.reads
        assert second.visit.sign_off is None
        await hands.press("up", "ctrl+u", "enter", "enter")
        assert "follows test-site_2026-11-24_commissioning_" in hands.sees
        assert "1 attached file in the folder of its name beside it" in hands.reads
    later = next(path for path in folder.glob("*.toml") if path != before)
    assert verify(later).previous == verify(before).digest
    assert verify(later).intact


@pytest.mark.screen
async def test_a_lost_copy_is_told_before_the_visit_is_signed(tmp_path: Path) -> None:
    photo = tmp_path / "lid.jpg"
    photo.write_bytes(b"\xff\xd8")
    visit = done(tmp_path)
    made = visit.attach(WALK.steps[0].key, photo, "", NOON)
    visit.attached_files()[made.file].unlink()
    async with hands_on(visit, "sign", tmp_path / "visits") as hands:
        await hands.press("down", "enter", "ctrl+u", *str(tmp_path / "records"), "enter")
        await hands.type("Runa Feld")
        assert "lid.jpg at look: the copy is missing" in hands.reads
    again = resumed(tmp_path / "visits", visit.visit.id, WALK, WHOLE)
    again.close()
    assert again.visit.sign_off is None


def test_keys_of_technicians_are_offered_first_those_of_the_visit(tmp_path: Path) -> None:
    for name, role in (
        ("Ada Nobody", "technician"),
        ("Runa Feld", "technician"),
        ("Elin Corse", "supervisor"),
    ):
        key_of(tmp_path, name, role)
    visit = done(tmp_path)
    visit.close()
    assert [key.name for key in own_keys(tmp_path / "keys", visit.visit)] == ["Runa Feld", "Ada Nobody"]
    assert own_keys(tmp_path / "none", visit.visit) == ()
