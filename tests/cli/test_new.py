"""``commission new``: a first site file."""

from __future__ import annotations

import tomllib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

Command = Callable[..., Any]


def test_a_new_site_file_is_named_after_its_file_and_loads(commission: Command, tmp_path: Path) -> None:
    """Its id is the file's name, and the design check reads it at once."""
    path = tmp_path / "raven-hut.toml"
    said = commission("new", path)
    assert said.code == 0
    assert str(path) in said.out
    site = tomllib.loads(path.read_text(encoding="utf-8"))["site"]
    assert (site["id"], site["name"]) == ("raven-hut", "Raven hut")
    assert commission("check", path).code == 1
    assert commission("check", path).err == ""


def test_the_ending_may_be_left_out(commission: Command, tmp_path: Path) -> None:
    """``commission new raven-hut`` writes raven-hut.toml."""
    assert commission("new", tmp_path / "raven-hut").code == 0
    assert (tmp_path / "raven-hut.toml").is_file()


def test_a_file_that_is_there_is_left_as_it_is(commission: Command, tmp_path: Path) -> None:
    """Nobody's site file is ever written over."""
    path = tmp_path / "raven-hut.toml"
    path.write_text("mine", encoding="utf-8")
    said = commission("new", path)
    assert said.code == 2
    assert "raven-hut.toml" in said.err
    assert path.read_text(encoding="utf-8") == "mine"


@pytest.mark.parametrize(
    "name",
    [
        pytest.param("Raven Hut.toml", id="capitals and a space"),
        pytest.param("räven.toml", id="letters that an id may not have"),
        pytest.param("-.toml", id="a hyphen alone"),
        pytest.param("nowhere/raven-hut.toml", id="a folder that is not there"),
    ],
)
def test_a_name_that_cannot_be_an_id_is_refused_and_nothing_written(
    commission: Command, tmp_path: Path, name: str
) -> None:
    """The message says which letters an id may have, or which folder is missing."""
    said = commission("new", tmp_path / name)
    assert said.code == 2
    assert said.err.strip()
    assert not list(tmp_path.rglob("*.toml"))
