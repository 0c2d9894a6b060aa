"""The first screen comes before plants and visits are loaded; they are loaded while it is looked at."""

from __future__ import annotations

import subprocess
import sys

import pytest

from commission.errors import Problem, SiteError
from commission.screens.ahead import LoadingAhead


def _in_a_fresh_process(script: str) -> str:
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True)
    return done.stdout.strip()


def test_the_first_screen_does_without_what_a_visit_needs() -> None:
    """Loading it takes longer than all the rest of the start."""
    told = _in_a_fresh_process(
        "import sys, commission.screens.app, commission.screens.home\n"
        "print(*sorted({'pydantic', 'tomllib', 'filelock', 'commission.figure'} & set(sys.modules)))"
    )
    assert told == ""


def test_what_a_visit_needs_is_there_once_loading_is_finished() -> None:
    told = _in_a_fresh_process(
        "import sys\n"
        "from commission.screens.ahead import LoadingAhead\n"
        "ahead = LoadingAhead()\n"
        "ahead.begin()\n"
        "ahead.finish()\n"
        "print('commission.visit.session' in sys.modules, 'commission.prepare' in sys.modules)\n"
        "from commission.checklist.registry import EXPECTATIONS\n"
        "print(len(EXPECTATIONS.entries) > 0)"
    )
    assert told.split() == ["True", "True", "True"]


def test_nothing_is_waited_for_where_nothing_was_begun() -> None:
    LoadingAhead().finish()


def test_a_file_that_is_wrong_is_no_matter_of_the_thread(
    monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
) -> None:
    """It is told when the file is asked for, and nothing is written over the screen."""

    def spoiled() -> None:
        raise SiteError([Problem("charging.toml", "steps", "", "is spoiled", "mend it")])

    monkeypatch.setattr("commission.prepare.usual", spoiled)
    ahead = LoadingAhead()
    ahead.begin()
    ahead.finish()
    assert capfd.readouterr() == ("", "")
