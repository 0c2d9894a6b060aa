"""What all tests share: one way of drawing examples, and nothing of the user's own machine."""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings

settings.register_profile(
    "here",
    deadline=None,  # a busy machine is no fault of the program
    derandomize="CI" in os.environ,  # a check of a change draws the same examples every time
    suppress_health_check=[HealthCheck.too_slow],
)
settings.load_profile("here")

_OF_THE_TERMINAL = ("NO_COLOR", "FORCE_COLOR", "COLORTERM", "COLUMNS", "LINES", "PYTHONIOENCODING")


@pytest.fixture(autouse=True)
def _machine_of_its_own(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """Keep the user's visits, and what the user's terminal is like, out of every test."""
    monkeypatch.setenv("COMMISSION_VISITS", str(tmp_path / "visits"))
    for name in _OF_THE_TERMINAL:
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setenv("TERM", "xterm-256color")
