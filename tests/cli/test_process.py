"""The command as the shell runs it: what it imports, how it ends, what it does without a terminal."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from tests.desk.made import record, write

Command = Callable[..., Any]
ROOT = Path(__file__).resolve().parents[2]
NOT_THE_SCREENS = """
import importlib, pkgutil, sys

class NoTerminal:
    def find_spec(self, name, path=None, target=None):
        if name.partition(".")[0] in {"textual", "rich"}:
            raise ImportError(f"{name} is imported outside the screens")

sys.meta_path.insert(0, NoTerminal())
import commission
names = [found.name for found in pkgutil.walk_packages(commission.__path__, "commission.", onerror=print)]
names = [name for name in names if not name.startswith(("commission.screens", "commission.__main__"))]
for name in names:
    importlib.import_module(name)
print(len(names))
"""
LOADED = """
import sys
from commission.cli import main
try:
    code = main(sys.argv[1:])
except SystemExit as left:
    code = left.code
heavy = {"textual", "rich", "pydantic", "pydantic_core", "tomli_w", "asyncio"} & set(sys.modules)
print(code, sorted(heavy), file=sys.stderr)
"""


@pytest.mark.parametrize("option", ["--help", "--version"])
def test_help_comes_at_once(new_process: Command, option: str) -> None:
    """Neither the screens' library nor the models are loaded for it."""
    said = new_process("-c", LOADED, option)
    assert said.err.strip() == "0 []"
    assert said.out.startswith(("usage: commission", "commission "))


def test_the_formulas_need_neither_models_nor_screens(new_process: Command) -> None:
    """Working one out by hand starts as fast as the help."""
    said = new_process("-c", LOADED, "formulas", "compensated_voltage")
    assert said.err.strip() == "0 []"


def test_a_sheet_needs_no_screen(new_process: Command) -> None:
    """An office's server may have no terminal library that works."""
    said = new_process("-c", LOADED, "check", "tarnwold-cabin")
    assert said.err.startswith("0 ")
    assert "textual" not in said.err
    assert "rich" not in said.err


def test_every_room_but_the_screens_is_imported_without_the_terminal(new_process: Command) -> None:
    """With the library out of reach, so that an import anywhere in them would fail."""
    said = new_process("-c", NOT_THE_SCREENS)
    assert said.code == 0, said.err
    assert int(said.out) > 150


@pytest.mark.parametrize("arguments", [(), ("open", "tarnwold-cabin")], ids=["bare", "open"])
def test_without_a_terminal_the_app_does_not_start(new_process: Command, arguments: tuple[str, ...]) -> None:
    """It says what to use instead, and writes no control codes into a file."""
    said = new_process("-m", "commission", *arguments)
    assert said.code == 2
    assert said.out == ""
    assert "terminal" in said.err
    assert "\x1b" not in said.err


def test_the_module_is_the_command(new_process: Command) -> None:
    """``python -m commission`` for machines whose scripts are on no path."""
    said = new_process("-m", "commission", "check", "tarnwold-cabin", "--json")
    assert said.code == 0
    assert isinstance(json.loads(said.out), list)
    assert said.err == ""


def test_a_terminal_with_few_letters_gets_question_marks(new_process: Command) -> None:
    """Ω, ÷ and ⌊ are not to be had everywhere; the numbers are, and JSON stays whole."""
    sheet = ("-m", "commission", "sheet", "tarnwold-cabin")
    wide = new_process(*sheet, "--json")
    for encoding in ("ascii", "cp1252", "cp437"):
        text = new_process(*sheet, "--why", PYTHONIOENCODING=f"{encoding}:strict")
        assert text.code == 0, (encoding, text.err)
        narrow = new_process(*sheet, "--json", PYTHONIOENCODING=encoding)
        assert json.loads(narrow.out) == json.loads(wide.out), encoding


@pytest.mark.skipif(sys.platform == "win32", reason="pipes end otherwise there")
def test_a_verification_of_which_nobody_reads_the_end_confirms_nothing() -> None:
    """As in ``commission verify FOLDER | head -1`` of a script that asks for the exit code of both."""
    command = [sys.executable, "-m", "commission", "verify", "--seals-only", "tests/records/samples"]
    told = {**os.environ, "PYTHONUNBUFFERED": "1"}
    with subprocess.Popen(
        command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, env=told, cwd=ROOT
    ) as running:
        assert running.stdout is not None
        assert running.stderr is not None
        running.stdout.close()
        assert running.wait(timeout=60) == 1
        assert running.stderr.read() == b""


@pytest.mark.skipif(sys.platform == "win32", reason="pipes end otherwise there")
def test_a_reader_who_has_seen_enough_ends_the_command_quietly() -> None:
    """``commission sheet … --why | head``: code 0, not a word on stderr."""
    command = [sys.executable, "-m", "commission", "sheet", "skarnow-lodge", "--why"]
    told = os.environ | {"PYTHONPATH": str(ROOT), "PYTHONIOENCODING": "utf-8"}
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, env=told) as running:
        assert running.stdout is not None
        assert running.stderr is not None
        running.stdout.read(1)
        running.stdout.close()
        said = running.stderr.read()
    assert running.returncode == 0
    assert said == b""


@pytest.mark.skipif(sys.platform == "win32", reason="pipes end otherwise there")
@pytest.mark.parametrize(
    ("command", "code"),
    [
        (["due", "FOLDER"], 1),
        (["due", "FOLDER", "--json"], 1),
        (["due", "FOLDER", "--by", "2001-01-01"], 0),
        (["desk", "FOLDER", "--json"], 1),
        (["compare", "format-1.toml", "format-2.toml"], 1),
        (["recall", "FOLDER", "--list", "profile"], 0),
    ],
    ids=lambda given: " ".join(given[:1] + given[2:]) if isinstance(given, list) else str(given),
)
def test_a_command_of_the_desk_of_which_nobody_reads_the_end_tells_by_its_code_what_it_found(
    command: list[str], code: int, tmp_path: Path
) -> None:
    """``commission due FOLDER | head -1``: one where something is open, whether its line was read or not."""
    samples = ROOT / "tests" / "records" / "samples"
    # its next service was due on 2026-03-01, and it was returned
    folder = write(tmp_path / "records", record("tor", answer="returned")).parent
    named = [str(folder) if word == "FOLDER" else word for word in command]
    told = os.environ | {"PYTHONPATH": str(ROOT), "COMMISSION_INDEX": str(tmp_path / "index")}
    with subprocess.Popen(
        [sys.executable, "-m", "commission", *named], stdout=subprocess.PIPE, stderr=subprocess.PIPE,
        env=told, cwd=samples,
    ) as running:  # fmt: skip
        assert running.stdout is not None
        assert running.stderr is not None
        running.stdout.close()
        assert running.wait(timeout=60) == code
        assert running.stderr.read() == b""


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no full device here")
def test_a_full_disk_is_said_in_a_sentence() -> None:
    """Code 2, since the output is not whole."""
    with Path("/dev/full").open("wb") as full:
        done = subprocess.run(
            [sys.executable, "-m", "commission", "sites"], stdout=full, stderr=subprocess.PIPE, check=False,
            env=os.environ | {"PYTHONPATH": str(ROOT)},
        )  # fmt: skip
    assert done.returncode == 2
    assert b"Traceback" not in done.stderr
    assert len(done.stderr.splitlines()) == 1
