"""A short run over every reader; and readers that are bad on purpose are found out."""

from __future__ import annotations

import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path
from random import Random
from typing import Any

import pytest

from commission.errors import EntryError
from tests.fuzz import watch
from tests.fuzz.__main__ import NAMES, main
from tests.fuzz.mutate import as_toml, spoiled_bytes, spoiled_data
from tests.fuzz.readers import READERS

ROOT = Path(__file__).parents[2]
_SHORT = {"record": 25, "verify": 25, "journal": 40, "site": 40, "arguments": 60, "rows": 60}


@pytest.mark.parametrize("name", READERS)
def test_whatever_is_spoiled_is_read_or_refused_in_words(tmp_path: Path, name: str) -> None:
    """With no traceback, in a second, in some memory; ``python -m tests.fuzz`` does it for long."""
    reader, random = READERS[name](tmp_path), Random(f"suite {name}")
    found = watch.watched(name, reader.read, lambda: reader.inputs(random), _SHORT.get(name, 150))
    assert found.bad == []
    assert found.count == _SHORT.get(name, 150)
    assert found.read or found.refused


def _sums(given: bytes) -> None:
    raise KeyError(given)


def _slow(_: bytes) -> None:
    end = time.process_time() + 0.2
    while time.process_time() < end:
        pass


def _hoards(_: bytes) -> None:
    bytearray(64 * 2**20)[::4096] = b"x" * (64 * 2**20 // 4096)


def _commands(_: bytes) -> None:
    raise EntryError("\x1b[2J is no number")


def _wordless(_: bytes) -> None:
    raise EntryError(" ")


@pytest.mark.parametrize(
    ("read", "says"),
    [
        (_sums, "KeyError in test_fuzz.py"),
        (_slow, "took 0.2 s"),
        (_commands, "holds a command"),
        (_wordless, "without a word"),
        (_hoards, "grew by"),
    ],
)
def test_a_bad_reader_is_found_out(
    monkeypatch: pytest.MonkeyPatch, read: Callable[[Any], object], says: str
) -> None:
    monkeypatch.setattr(watch, "SLOWEST", 0.1)
    monkeypatch.setattr(watch, "MOST", 32 * 2**20)
    if read is _hoards and not Path("/proc/self/clear_refs").exists():
        pytest.skip("the system does not tell the most memory of a while")
    found = watch.watched("bad", read, lambda: b"given", 3)
    assert any(says in one for one in found.bad), found.bad


def test_a_good_reader_is_not_found_out() -> None:
    found = watch.watched("good", len, lambda: b"given", 50)
    assert (found.bad, found.read, found.count) == ([], 50, 50)


def test_a_reader_that_never_ends_is_told_and_ended() -> None:
    code = (
        "from tests.fuzz import watch\n"
        "def endless(_):\n"
        "    while True: pass\n"
        "watch.HANGS = 1\n"
        "watch.watched('endless', endless, bytes, 1)\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, timeout=60, check=False
    )
    assert done.returncode != 0
    assert "endless" in done.stderr


def test_a_seed_makes_the_same_inputs_again() -> None:
    sample = b"[a]\nb = 1\nc = [1, 2]\n"
    rows = [[spoiled_bytes(sample, [sample], Random(7)) for _ in range(20)] for _ in range(2)]
    assert rows[0] == rows[1]
    data = {"a": [{"b": 1}, {"b": 2}], "c": "x"}
    assert repr([spoiled_data(data, Random(n)) for n in range(20)]) == repr(
        [spoiled_data(data, Random(n)) for n in range(20)]
    )
    assert data == {"a": [{"b": 1}, {"b": 2}], "c": "x"}
    assert as_toml({"a": object()}) is None


def test_the_command_names_every_reader() -> None:
    assert tuple(READERS) == NAMES


def test_the_command_counts_and_tells(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["typed", "known", "--executions", "5"]) == 0
    told = capsys.readouterr().out.splitlines()
    assert [line.split()[0] for line in told] == ["typed", "known", "10"]
    with pytest.raises(SystemExit):
        main(["nobody"])
