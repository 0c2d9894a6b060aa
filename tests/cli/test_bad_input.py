"""Whatever is wrong with what a command is given: exit code 2, a sentence on stderr, never a traceback."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from commission.plant.places import sample_sites

Command = Callable[..., Any]
OF_A_SITE = [("sheet",), ("sheet", "--json"), ("check",), ("check", "--why"), ("checklist",)]
WHOLE = next(path for path in sample_sites() if path.stem == "tarnwold-cabin").read_text(encoding="utf-8")


def _changed(old: str, new: str) -> bytes:
    assert old in WHOLE
    return WHOLE.replace(old, new, 1).encode()


FILES = {
    "empty": (b"", "empty file"),
    "no text": (b"\xff\xfe\x00\x01", "UTF-8"),
    "no TOML": (b"[site\nid = 1\n", "site.toml"),
    "a list of nothing": (b"site = []\n", "site"),
    "another format": (_changed("format = 1", "format = 7"), "format"),
    "no bank": (b'format = 1\n[site]\nid = "x"\n', "bank"),
    "a word for a number": (_changed("capacity = 225", 'capacity = "plenty"'), "capacity"),
    "a number that cannot be": (_changed("capacity = 225", "capacity = -225"), "capacity"),
    "no finite number": (_changed("capacity = 225", "capacity = nan"), "capacity"),
    "a profile that is none": (_changed('profile = "flooded"', 'profile = "floded"'), "flooded"),
    "a profile by a path": (_changed('profile = "flooded"', 'profile = "../batteries/agm"'), "profile"),
    "a rule set that is none": (_changed('"north-america"', '"north-amerika"'), "north-america"),
    "an id given twice": (_changed('id = "string-b"', 'id = "string-a"'), "string-a"),
    "a reference to nothing": (
        _changed('run = "run-inverter-1"', 'run = "run-inverter-9"'),
        "run-inverter-9",
    ),
}


@pytest.mark.parametrize("command", OF_A_SITE, ids=" ".join)
@pytest.mark.parametrize(("content", "named"), FILES.values(), ids=FILES)
def test_a_bad_site_file_is_explained(
    commission: Command, tmp_path: Path, command: tuple[str, ...], content: bytes, named: str
) -> None:
    """The message names the file and the key, the word or what would be right."""
    path = tmp_path / "site.toml"
    path.write_bytes(content)
    name, *options = command
    said = commission(name, path, *options)
    assert said.code == 2
    assert said.out == ""
    assert "site.toml" in said.err
    assert named in said.err
    assert "Traceback" not in said.err


@pytest.mark.parametrize("command", OF_A_SITE, ids=" ".join)
def test_a_site_that_is_not_there_is_named(
    commission: Command, tmp_path: Path, command: tuple[str, ...]
) -> None:
    """So is a folder in place of a file, and a name that no file can have."""
    name, *options = command
    for missing in (tmp_path / "nowhere.toml", tmp_path, tmp_path / "a\0b.toml"):
        said = commission(name, missing, *options)
        assert said.code == 2
        assert said.out == ""
        assert said.err.strip()


def test_every_problem_is_told_at_once(commission: Command, tmp_path: Path) -> None:
    """Nobody wants to mend a file one error at a time."""
    path = tmp_path / "site.toml"
    text = WHOLE.replace("capacity = 225", 'capacity = "plenty"').replace(
        "series_fuse = 15", "series_fuse = -15"
    )
    path.write_text(text, encoding="utf-8")
    lines = commission("sheet", path).err.splitlines()
    assert any("bank.capacity" in line for line in lines)
    assert any("series_fuse" in line for line in lines)


@pytest.mark.parametrize(
    "arguments",
    [
        pytest.param(("sheat", "tarnwold-cabin"), id="a command that is none"),
        pytest.param(("sheet",), id="no site"),
        pytest.param(("sheet", "tarnwold-cabin", "--jason"), id="an option that is none"),
        pytest.param(("judge", "tarnwold-cabin"), id="no readings"),
        pytest.param(("verify",), id="no record"),
    ],
)
def test_a_mistyped_command_ends_with_the_usage(commission: Command, arguments: tuple[str, ...]) -> None:
    """Exit code 2, as for any other bad input."""
    said = commission(*arguments)
    assert said.code == 2
    assert said.err.startswith("usage: commission")
    assert said.out == ""


def test_a_sample_that_is_mistyped_is_suggested(commission: Command) -> None:
    said = commission("check", "tarnwold-cabn")
    assert (said.code, said.out) == (2, "")
    assert "did you mean tarnwold-cabin?" in said.err
