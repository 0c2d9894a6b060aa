"""The same site gives the same bytes in every run: nothing hangs on the order of a set or a hash."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]


def printed(command: str, seed: str) -> str:
    done = subprocess.run(
        [sys.executable, "-m", "commission", command, "skarnow-lodge", "--json"],
        cwd=ROOT,
        env=os.environ | {"PYTHONHASHSEED": seed},
        capture_output=True,
        encoding="utf-8",
        check=False,
    )
    assert done.stdout.startswith("["), done.stderr
    return done.stdout


@pytest.mark.slow
@pytest.mark.parametrize("command", ["sheet", "check", "checklist"])
def test_the_order_of_hashes_changes_nothing(command: str) -> None:
    assert printed(command, "1") == printed(command, "4711")
