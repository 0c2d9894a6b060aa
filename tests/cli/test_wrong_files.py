"""A file named in the place of another kind: it is told what it is and which command takes it."""

from __future__ import annotations

from pathlib import Path

import pytest

from commission.plant.places import data_folder, sample_sites
from tests.cli.conftest import Command

SITE = next(path for path in sample_sites() if path.stem == "tarnwold-cabin")
CONTENT = {
    "record": 'format = 2\n[header]\nvisit = "x"\n[visit]\nid = "x"\n',
    "site file": SITE.read_text(encoding="utf-8"),
    "file of readings": 'format = 1\n[[reading]]\nstep = "rest-time"\nvalue = "9 h"\n',
    "list of known keys": 'format = 1\n[[key]]\nname = "Runa Feld"\n',
    "key": 'format = 1\nname = "Runa Feld"\npublic = "a"\nprivate = "b"\n',
    "profile": (data_folder("profiles") / "batteries" / "agm.toml").read_text(encoding="utf-8"),
    "empty file": "",
}
TAKES = {
    "record": "commission verify {}",
    "site file": "commission check {}",
    "file of readings": "commission judge SITE {}",
    "list of known keys": "commission verify --known {}",
    "key": "--key {}",
    "profile": "by its id",
    "empty file": "",
}
"""What is said of each: the command that takes it."""
WANTED: dict[str, list[tuple[object, ...]]] = {
    "site file": [("sheet", "{}"), ("check", "{}"), ("checklist", "{}"), ("judge", "{}", "r.toml")],
    "record": [
        ("countersign", "{}", "--name", "Elin"),
        ("return", "{}", "--name", "Elin"),
        ("compare", "{}", "{}"),
    ],
    "file of readings": [("judge", SITE, "{}")],
    "list of known keys": [("verify", "r.toml", "--known", "{}")],
    "key": [("keys", "--line", "{}")],
}
CASES = [
    pytest.param(wanted, command, kind, id=f"{' '.join(map(str, command[:1]))} for {wanted}: {kind}")
    for wanted, commands in WANTED.items()
    for command in commands
    for kind in CONTENT
    if kind != wanted
]


@pytest.mark.parametrize(("wanted", "command", "kind"), CASES)
def test_another_kind_of_file_is_told_as_what_it_is(
    commission: Command, tmp_path: Path, wanted: str, command: tuple[object, ...], kind: str
) -> None:
    file = tmp_path / "this.toml"
    file.write_text(CONTENT[kind], encoding="utf-8")
    said = commission(*(str(word).replace("{}", str(file)) for word in command))
    assert said.code == 2
    assert f"this is a {kind}, and a {wanted} is wanted" in said.err.replace("an empty", "a empty")
    assert TAKES[kind].format("this.toml") in said.err
    assert "format" not in said.err, "a later format is not what is wrong"


@pytest.mark.parametrize("kind", [kind for kind in CONTENT if kind != "record"])
def test_what_is_no_record_is_malformed_and_told_as_what_it_is(
    commission: Command, tmp_path: Path, kind: str
) -> None:
    file = tmp_path / "this.toml"
    file.write_text(CONTENT[kind], encoding="utf-8")
    said = commission("verify", file)
    assert said.code == 1
    assert f"this is a {kind}, and a record is wanted" in said.out.replace("an empty", "a empty")


@pytest.mark.parametrize("command", ["sheet", "check", "checklist", "countersign"])
def test_a_folder_is_told_as_one(commission: Command, tmp_path: Path, command: str) -> None:
    said = commission(command, tmp_path)
    assert said.code == 2
    assert "this is a folder; name the file in it" in said.err


@pytest.mark.parametrize("command", ["due", "recall"])
def test_a_file_where_the_desk_wants_a_folder_is_told_as_one(
    commission: Command, tmp_path: Path, command: str
) -> None:
    file = tmp_path / "this.toml"
    file.write_text(CONTENT["record"], encoding="utf-8")
    said = commission(command, file)
    assert said.code == 2
    assert "this is a file; name the folder that it is in" in said.err
