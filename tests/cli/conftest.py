"""The command line, called in this process and in a new one."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

from commission.cli import main

ROOT = Path(__file__).resolve().parents[2]


@dataclass(frozen=True)
class Outcome:
    """What a command said and how it ended."""

    code: int
    out: str
    err: str

    @property
    def data(self) -> Any:
        """The output, read as JSON."""
        return json.loads(self.out)


Command = Callable[..., Outcome]


@pytest.fixture
def commission(capsys: pytest.CaptureFixture[str]) -> Command:
    """Return a function that runs a command in this process."""

    def run(*arguments: object) -> Outcome:
        capsys.readouterr()
        try:
            code = main([str(argument) for argument in arguments])
        except SystemExit as left:  # argparse leaves so
            code = left.code if isinstance(left.code, int) else 1
        said = capsys.readouterr()
        return Outcome(code, said.out, said.err)

    return run


@pytest.fixture
def new_process(tmp_path: Path) -> Command:
    """Return a function that runs Python with arguments in a new process, away from the checkout."""

    def run(*arguments: object, **environment: str) -> Outcome:
        command = [sys.executable, *(str(argument) for argument in arguments)]
        told = os.environ | {"PYTHONPATH": str(ROOT), "PYTHONIOENCODING": "utf-8"} | environment
        done = subprocess.run(
            command, cwd=tmp_path, env=told, stdin=subprocess.DEVNULL, capture_output=True, timeout=120,
            encoding=told["PYTHONIOENCODING"].partition(":")[0], errors="strict", check=False,
        )  # fmt: skip
        return Outcome(done.returncode, done.stdout, done.stderr)

    return run


_SAID: dict[tuple[str, ...], Outcome] = {}


@pytest.fixture
def told(commission: Command) -> Command:
    """Return a function that runs commands that change nothing in this process, each once."""

    def run(*arguments: str) -> Outcome:
        if arguments not in _SAID:
            _SAID[arguments] = commission(*arguments)
        return _SAID[arguments]

    return run
