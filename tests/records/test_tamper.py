"""What was tried against records, one thing at a time: none passes as intact, and the layer that says so."""

from __future__ import annotations

from collections import Counter
from pathlib import Path
from typing import Any

import pytest

from commission.plain_records import verified_text
from commission.records.chain import chain_told
from commission.records.keys import SigningKey
from commission.records.read import toml_of
from commission.records.seals import sealed
from commission.records.verify import verify, verify_bytes
from commission.records.write import record_bytes, write_record
from commission.visit.types import SignOff, Visit
from tests.records.sample import SHEET, signed
from tests.records.tamper import (
    LIMITS,
    NOBODY,
    People,
    by_content,
    by_seals,
    bytes_changed,
    countersigned,
    fields_changed,
    fields_of,
    keyed,
    kind_of,
    layer_of,
    limits_of,
    sealed_anew,
    served,
    walked,
    with_photo,
)
from tests.visit.walks import NOON, RUNA, after, begun, sheet, small_plant, step, walk


@pytest.fixture(scope="module")
def people(tmp_path_factory: pytest.TempPathFactory) -> People:
    return People(tmp_path_factory.mktemp("keys"))


@pytest.fixture(scope="module")
def record(tmp_path_factory: pytest.TempPathFactory, people: People) -> bytes:
    """Return a record that is signed and countersigned with keys."""
    return keyed(tmp_path_factory.mktemp("visits"), people)


def told(counted: Counter[str]) -> str:
    return "; ".join(f"{count} by {layer}" for layer, count in counted.most_common())


def missed(counted: Counter[str]) -> list[str]:
    return [layer for layer in counted if layer.startswith(NOBODY)]


def small(people: People) -> bytes:
    """Return a signed and countersigned record in which next to nothing was done, without its plant."""
    counts = "".join(
        f"{name} = 0\n" for name in ("readings", "settings", "findings", "instruments", "dispositions")
    )
    above = (
        f'format = 2\n[header]\nvisit = "v"\nsite = "s"\nprevious = "sha256:{"7" * 64}"\n'
        f"[header.counts]\nnotes = 1\nattachments = 0\n{counts}"
        '[[note]]\nstep = "a"\ntext = "é"\n[sign_off]\nname = "Runa Feld"\nrole = "technician"\n'
    ).encode()
    key = people.keys["Runa Feld"]
    first = sealed(above, toml_of(above), says="signed", name=key.name, role=key.role, at=NOON, key=key)
    return countersigned(first, people.keys["Elin Corse"])


@pytest.mark.slow
def test_every_byte_of_a_small_signed_and_countersigned_record_counts(people: People) -> None:
    content = small(people)
    assert by_seals(content, people.known) == ""
    counted = bytes_changed(content, people.known, range(len(content)))
    assert missed(counted) == [], told(counted)
    assert set(counted) >= {"digest", "signature", "no record any more"}, told(counted)


@pytest.mark.slow
def test_bytes_all_over_a_whole_record_count(record: bytes, people: People) -> None:
    """``python -m tests.records.tamper bytes`` changes every one."""
    assert by_seals(record, people.known) == ""
    counted = bytes_changed(record, people.known, range(13, len(record), 900))
    assert missed(counted) == [], told(counted)


def test_a_reader_that_does_not_look_is_found_out(record: bytes, people: People, monkeypatch: Any) -> None:
    """The counting itself notices where nothing is noticed."""
    good = verify_bytes(record, people.known)
    monkeypatch.setattr("tests.records.tamper.verify_bytes", lambda *_: good)
    counted = bytes_changed(record, people.known, range(30))
    assert len(missed(counted)) == 30


# fields, by somebody who has no key and makes all digests anew


@pytest.mark.slow
def test_fields_changed_with_all_digests_made_anew_are_noticed_by_what_follows_from_them(
    tmp_path: Path,
) -> None:
    """A sample; ``python -m tests.records.tamper fields`` changes one of every kind."""
    content = walked()
    limit = limits_of(content)
    assert by_content(sealed_anew(toml_of(content)), with_photo(tmp_path)) == ""
    wanted = [place for place in fields_of(content, 1, plant=0, seed=11) if not limit(place)]
    counted, lost = fields_changed(content, wanted[::24], tmp_path)
    assert [kind_of(place) for place in lost] == [], told(counted)
    assert counted["worked out anew"] > 2, told(counted)


@pytest.mark.slow
def test_what_can_be_changed_unseen_without_a_key_cannot_with_one(tmp_path: Path, people: People) -> None:
    """What people said and read is believed by itself; who stands for it is what a key is for."""
    content = walked()
    limit = limits_of(content)
    wanted = [place for place in fields_of(content, 1, plant=0) if limit(place)]
    _, lost = fields_changed(content, wanted[::24], tmp_path)
    assert lost
    signed_with_key = keyed(tmp_path, people)
    for change in (b"owner's wish", b"SN-1", b"Elin Corse", b"cracked"):
        assert change in signed_with_key
        data = toml_of(signed_with_key.replace(change, change.replace(b"S", b"T").replace(b"c", b"d")))
        assert by_seals(sealed_anew(data), people.known) == "list of known keys"


@pytest.mark.slow
def test_a_service_record_is_held_to_what_its_visit_goes_on_from(tmp_path: Path) -> None:
    """A sample; ``python -m tests.records.tamper fields --record service`` changes one of every kind."""
    content = served()
    limit = limits_of(content)
    assert by_content(sealed_anew(toml_of(content)), tmp_path) == ""
    drawn = [place for place in fields_of(content, 1, plant=0, seed=11) if not limit(place)]
    named = [
        ("header", "previous"),
        ("visit", "service", "previous_digest"),
        ("visit", "service", "due", 0),
        ("visit", "service", "added", 0),
        ("visit", "service", "earlier", compared_in(toml_of(content)), "value"),
    ]
    counted, lost = fields_changed(content, [*drawn[::48], *named], tmp_path)
    assert [kind_of(place) for place in lost] == [], told(counted)
    assert missed(bytes_changed(content, (), range(13, len(content), len(content) // 8))) == []


def compared_in(data: dict[str, Any]) -> int:
    """Return the place of an earlier reading that a reading of the visit was compared with."""
    drifted = {
        (row["step"], tuple(row.get("parts", ())), row.get("index", 0))
        for row in data["reading"]
        if any(one["verdict"] == "holds" for one in row.get("judgement", {}).get("drifts", ()))
    }
    rows = enumerate(data["visit"]["service"]["earlier"])
    return next(
        at for at, row in rows if (row["step"], tuple(row.get("parts", ())), row.get("index", 0)) in drifted
    )


@pytest.mark.slow
def test_every_limit_is_one_of_these_records() -> None:
    """So that the list of what is not noticed holds nothing that is no field any more."""
    kinds = {kind_of(place) for content in (walked(), served()) for place in fields_of(content, 1)}
    assert [kind for known in LIMITS.values() for kind in known if kind not in kinds] == []


# signatures, chain and attached files


def other(folder: Path, key: SigningKey | None) -> bytes:
    """Return another record of the same people."""
    visit = signed(folder).model_copy(update={"spares": "two fuses"})
    return record_bytes(visit, small_plant(), SHEET, key=key)


def line(content: bytes, name: bytes, last: bool = False) -> bytes:
    """Return the first or last line of a name."""
    rows = [row for row in content.split(b"\n") if row.startswith(name + b" = ")]
    return rows[-1 if last else 0]


@pytest.mark.parametrize(
    "lines", [(b"signature",), (b"signature", b"digest"), (b"signature", b"digest", b"data")]
)
def test_lines_of_a_seal_exchanged_between_records_are_false(
    record: bytes, people: People, tmp_path: Path, lines: tuple[bytes, ...]
) -> None:
    """Also where as much of the seal as one likes comes along."""
    foreign = countersigned(other(tmp_path, people.keys["Runa Feld"]), people.keys["Elin Corse"])
    for last in (False, True):
        mixed = record
        for name in lines:
            assert line(record, name, last) != line(foreign, name, last)
            mixed = mixed.replace(line(record, name, last), line(foreign, name, last))
        assert not verify_bytes(mixed, people.known).intact
        assert by_seals(mixed, people.known) in {"signature", "digest"}


def test_signatures_exchanged_within_a_record_are_false(record: bytes, people: People) -> None:
    first, second = line(record, b"signature"), line(record, b"signature", last=True)
    swapped = record.replace(first, b"@").replace(second, first).replace(b"@", second)
    assert by_seals(swapped, people.known) == "signature"


def test_a_signature_taken_off_and_sealed_anew_by_a_stranger_or_without_a_key_shows(
    record: bytes, people: People, tmp_path: Path
) -> None:
    """The list of known keys tells a stranger's key and a seal without one."""
    data = toml_of(record)
    for seal in data["seal"]:
        seal.pop("key")
        seal.pop("signature")
    forged = sealed_anew(data)
    assert by_seals(forged, people.known) == "list of known keys"
    assert [one.key for one in verify_bytes(forged, people.known).seals] == ["not used", "not used"]
    path = tmp_path / "a.toml"
    path.write_bytes(forged)
    assert "ALTHOUGH A KEY OF THIS PERSON IS KNOWN" in verified_text(path, verify(path, people.known))
    assert [one.key for one in verify(path).seals] == [None, None]
    stranger = people.keys["Ove Starn"]
    posing = SigningKey("Runa Feld", "technician", stranger.public, stranger._private)
    forged = other(tmp_path, posing)
    assert by_seals(forged, people.known) == "list of known keys"


def _visit(number: int) -> Visit:
    at = after(number)
    done = SignOff(name=RUNA.name, role=RUNA.role, signed_as="complete", at=at)
    return Visit(
        id=f"visit-{number}",
        site="test-site",
        kind="service",
        started_at=at,
        program="0",
        people=(RUNA,),
        sign_off=done,
    )


def chained(folder: Path, key: SigningKey | None) -> list[Path]:
    paths: list[Path] = []
    for number in range(1, 4):
        previous = verify(paths[-1]).digest if paths else ""
        paths.append(write_record(folder, _visit(number), small_plant(), sheet(), previous=previous, key=key))
    return paths


@pytest.mark.parametrize("name", ["Runa Feld", ""])
def test_a_link_taken_out_of_the_chain_shows(tmp_path: Path, people: People, name: str) -> None:
    """By its signature where it has one, else at the record itself or at the next one."""
    paths = chained(tmp_path, people.keys[name] if name else None)
    _, second, third = paths

    def odd() -> list[tuple[str, bool]]:
        return [(one.path.name, one.gap) for one in chain_told([(path, verify(path)) for path in paths])]

    assert odd() == []
    data = toml_of(second.read_bytes())
    del data["header"]["previous"]
    if name:
        second.write_bytes(
            second.read_bytes().replace(line(second.read_bytes(), b"previous"), b'previous = ""')
        )
        assert by_seals(second.read_bytes(), people.known) == "digest"
    second.write_bytes(sealed_anew(data))
    assert (third.name, True) in odd()
    assert (second.name, False) in odd()
    if name:
        assert by_seals(second.read_bytes(), people.known) == "list of known keys"


def test_attached_files_exchanged_between_records_show(tmp_path: Path) -> None:
    """Each under the other's name, or each record with the other's folder."""
    look = step("look")
    paths = []
    for seed, content in ((1, b"one photograph"), (2, b"two photograph")):
        (tmp_path / "lid.jpg").write_bytes(content)
        with begun(tmp_path / "visits", walk(look), SHEET, seed=seed) as visit:
            visit.attach(look.key, tmp_path / "lid.jpg", "", NOON)
            paths.append(
                write_record(
                    tmp_path / "records", visit.visit, small_plant(), SHEET, attached=visit.attached_files()
                )
            )
    one, two = (next(path.with_suffix("").iterdir()) for path in paths)
    first, second = one.read_bytes(), two.read_bytes()
    assert [layer_of(verify(path)) for path in paths] == ["", ""]
    one.write_bytes(second)
    two.write_bytes(first)
    assert [layer_of(verify(path)) for path in paths] == ["attached files"] * 2
    one.write_bytes(first)
    two.write_bytes(second)
    one.parent.rename(tmp_path / "between")
    two.parent.rename(one.parent)
    (tmp_path / "between").rename(two.parent)
    assert [verify(path).word for path in paths] == ["incomplete"] * 2
