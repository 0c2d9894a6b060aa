"""What all tests share: one way of drawing examples, and nothing of the user's own machine."""

from __future__ import annotations

import gc
import os
from itertools import count
from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings

from commission.records import keys

settings.register_profile(
    "here",
    max_examples=int(os.environ.get("EXAMPLES", "40")),  # more by hand: EXAMPLES=1000
    deadline=None,  # a busy machine is no fault of the program
    derandomize="CI" in os.environ,  # a check of a change draws the same examples every time
    suppress_health_check=[HealthCheck.too_slow],
)
settings.load_profile("here")

# else thousands of collected tests are looked through for garbage again and again, a sixth of all the time
gc.set_threshold(50_000, 20, 20)

_LONG = frozenset({"test_whole_visit.py", "test_practice.py", "test_tamper.py", "test_process.py"})
_NUMBERS = count()
_OF_THE_TERMINAL = ("NO_COLOR", "FORCE_COLOR", "COLORTERM", "COLUMNS", "LINES", "PYTHONIOENCODING")


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Begin with what takes longest, so that no core waits for one long test at the end."""
    items.sort(key=lambda item: item.path.name not in _LONG)


def pytest_collection_finish() -> None:
    """Take what has been collected out of the search for garbage: it stays to the end."""
    gc.freeze()


@pytest.fixture(autouse=True)
def _machine_of_its_own(
    monkeypatch: pytest.MonkeyPatch, request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory
) -> None:
    """Keep the user's visits, and what the user's terminal is like, out of every test.

    A folder is made only for a test that asks for one: most do not, and thousands of them take minutes.
    """
    if "tmp_path" in request.fixturenames:
        root: Path = request.getfixturevalue("tmp_path")
    else:
        root = tmp_path_factory.getbasetemp() / f"none-{next(_NUMBERS)}"
    monkeypatch.setenv("COMMISSION_VISITS", str(root / "visits"))
    for name in _OF_THE_TERMINAL:
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setenv("TERM", "xterm-256color")


@pytest.fixture(autouse=True)
def _keys_made_quickly(monkeypatch: pytest.MonkeyPatch) -> None:
    """Stretch the passphrases of new keys by the least that a key file may ask for.

    ``tests/records/test_keys.py`` holds what the program makes by itself.
    """
    monkeypatch.setattr(keys, "_COST", keys._COSTS[0])
