"""Records of one site make a chain: each names the seal of the one before, so that a missing one shows."""

from __future__ import annotations

import json
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from commission.cli import main
from commission.errors import RecordError
from commission.records.answer import answer_record
from commission.records.chain import Before, chain_told, named_before, record_before
from commission.records.verify import verify
from commission.records.write import write_record
from commission.visit.types import SignOff, Visit
from tests.visit.walks import NOON, RUNA, sheet, small_plant

SITE = "test-site"


def visit(number: int, at: datetime | None = None, *, signed: bool = True) -> Visit:
    """Return a visit of the site in which nothing was done."""
    begun = at or NOON + timedelta(days=number)
    done = SignOff(name=RUNA.name, role=RUNA.role, signed_as="complete", at=begun)
    return Visit(
        id=f"visit-{number}",
        site=SITE,
        kind="service",
        started_at=begun,
        program="0",
        people=(RUNA,),
        sign_off=done if signed else None,
    )


def write(folder: Path, number: int, *, previous: str | None = None, **fields: Any) -> Path:
    """Write the record of a visit, by itself behind what stands in the folder already."""
    made = visit(number, **fields)
    before = record_before(folder, SITE, made.id).digest if previous is None else previous
    return write_record(folder, made, small_plant(), sheet(), previous=before)


def told(*paths: Path) -> list[tuple[str, str, bool]]:
    found = chain_told([(path, verify(path)) for path in paths])
    return [(one.path.name.split("_")[-1], one.text, one.gap) for one in found]


def test_each_record_names_the_newest_before_it(tmp_path: Path) -> None:
    paths = [write(tmp_path, number) for number in range(1, 5)]
    results = [verify(path) for path in paths]
    assert [one.previous for one in results] == ["", *(one.digest for one in results[:-1])]
    assert told(*paths) == []


def test_the_newest_is_that_whose_visit_began_last(tmp_path: Path) -> None:
    """Whatever the file's name or time says; unsigned, changed and foreign records are passed over."""
    newest = write(tmp_path, 7, previous="")
    write(tmp_path, 3, previous="")
    write(tmp_path, 8, signed=False, previous="")
    spoiled = write(tmp_path, 9, previous="")
    spoiled.write_bytes(spoiled.read_bytes().replace(b"Runa Feld", b"Runa Fell"))
    (tmp_path / f"{SITE}_rubbish.toml").write_bytes(b"\xff")
    found = record_before(tmp_path, SITE, "visit-10")
    assert (found.digest, found.name) == (verify(newest).digest, newest.name)
    assert len(found.passed_over) == 2
    assert record_before(tmp_path, "other-site", "visit-10") == Before()
    assert record_before(tmp_path / "none", SITE, "visit-10") == Before()


def test_writing_a_record_again_keeps_the_one_that_it_names(tmp_path: Path) -> None:
    """Although a later one has come meanwhile; so the same bytes come out, and nothing is refused."""
    write(tmp_path, 1)
    second = write(tmp_path, 2)
    write(tmp_path, 3)
    assert write(tmp_path, 2) == second
    first = next(path for path in tmp_path.glob("*_1.toml"))
    assert write(tmp_path, 1) == first


def test_a_missing_record_shows_at_the_next(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    first, second, third = (write(tmp_path, number) for number in (1, 2, 3))
    digest = verify(second).digest
    second.unlink()
    text = f"a record of this site is missing before it: {digest[:19]}… is not here"
    assert told(first, third) == [("3.toml", text, True)]
    assert main(["verify", str(tmp_path), "--seals-only"]) == 1
    assert f"gap        {third.name}: a record of this site is missing before it" in capsys.readouterr().out
    assert main(["verify", str(tmp_path), "--seals-only", "--json"]) == 1
    assert [row["chain"] for row in json.loads(capsys.readouterr().out)] == [[], [text]]
    assert main(["verify", str(third), "--seals-only"]) == 0


def test_a_changed_record_does_not_bear_the_next(tmp_path: Path) -> None:
    first, second = write(tmp_path, 1), write(tmp_path, 2)
    first.write_bytes(first.read_bytes().replace(b"Runa Feld", b"Runa Fell"))
    assert told(first, second) == [("2.toml", f"the record before it, {first.name}, is changed", True)]


def test_two_that_follow_the_same_record_are_told(tmp_path: Path) -> None:
    first, second = write(tmp_path, 1), write(tmp_path, 2)
    beside = write(tmp_path, 3, previous=verify(first).digest)
    text = f"{second.name} follows the same record: one of the two stands beside the chain"
    assert told(first, second, beside) == [("3.toml", text, True)]


def test_two_that_follow_the_same_missing_record_are_told_too(tmp_path: Path) -> None:
    gone = f"sha256:{'7' * 64}"
    one, other = write(tmp_path, 1, previous=gone), write(tmp_path, 2, previous=gone)
    assert [row[0] for row in told(one, other)] == ["1.toml", "2.toml", "2.toml"]


def test_a_record_countersigned_later_still_bears_the_next(tmp_path: Path) -> None:
    """A seal cut off after the next record was written does not: that one names it."""
    first, second = write(tmp_path, 1), write(tmp_path, 2)
    before = second.read_bytes()
    for path in (first, second):
        answer_record(path, "countersigned", name="Elin Corse", role="supervisor", now=NOON)
    third = write(tmp_path, 3)
    assert told(first, second, third) == []
    second.write_bytes(before)
    assert [row[0] for row in told(first, second, third)] == ["3.toml"]


def test_one_that_names_none_although_another_is_earlier_is_a_remark(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """It may have been signed where the earlier one was not at hand."""
    first, second = write(tmp_path, 1), write(tmp_path, 2, previous="")
    assert told(first, second) == [
        ("2.toml", "it names no record before it, although one of this site is earlier", False)
    ]
    assert main(["verify", str(tmp_path), "--seals-only"]) == 0
    assert "remark     " in capsys.readouterr().out


def test_a_copy_is_no_fork_and_another_record_of_the_same_visit_is_told(tmp_path: Path) -> None:
    first, second = write(tmp_path, 1), write(tmp_path, 2)
    copy = tmp_path / "copy.toml"
    copy.write_bytes(second.read_bytes())
    assert told(first, second, copy) == []
    other = write_record(
        tmp_path / "other", visit(2).model_copy(update={"spares": "none"}), small_plant(), sheet(),
        previous=verify(first).digest,
    )  # fmt: skip
    assert [row[1] for row in told(first, second, other)] == [
        f"{second.name} is another record of the same visit, visit-2"
    ]


def test_a_named_record_must_be_an_intact_one_of_the_site(tmp_path: Path) -> None:
    path = write(tmp_path, 1)
    assert named_before(path, SITE) == Before(verify(path).digest, path.name, "visit-1")
    with pytest.raises(RecordError, match="of another site"):
        named_before(path, "other-site")
    path.write_bytes(path.read_bytes() + b"\n")
    with pytest.raises(RecordError, match="is rewritten"):
        named_before(path, SITE)
    with pytest.raises(RecordError, match="no such file"):
        named_before(tmp_path / "none.toml", SITE)
