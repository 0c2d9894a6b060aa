"""Short runs of the harnesses, and each of them finds out a bad writer: else it would prove nothing."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.harness import full, kill, power, torn, writers
from tests.harness.count import Count

pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(not hasattr(os, "fork"), reason="needs a system that forks"),
]

Run = Callable[[Path], Count]
GOOD: dict[str, Run] = {
    "at every 17th call": lambda folder: kill.every_call(folder, readings=1, stride=17),
    "while moving": lambda folder: kill.every_call_of_a_move(folder, stride=3),
    "at random": lambda folder: kill.at_random(folder, 18),
    "power": lambda folder: power.power_cut(folder, 8),
    "torn": lambda folder: torn.torn_tails(folder, stride=101),
    "small files": lambda folder: full.small_files(folder, 3),
    "full disk": lambda folder: full.full_disk(folder, 2),
    "broken disk": lambda folder: full.broken_disk(folder, 2),
    "pulled out": lambda folder: full.pulled_out(folder, 2),
    "two writers": lambda folder: writers.two_writers(folder, 25),
    "held": lambda folder: writers.held(folder, 2),
    "clock": lambda folder: writers.clock_going_back(folder, 40),
}
BAD: dict[str, Run] = {
    "journal in place": lambda folder: kill.every_call(folder, readings=0, bad="in place"),
    "told too early": lambda folder: kill.at_random(folder, 200, bad="too early"),
    "no flush": lambda folder: power.power_cut(folder, 80, bad="no flush"),
    "every line for whole": lambda folder: torn.torn_tails(folder, stride=300, bad=True),
    "no room for it": lambda folder: full.small_files(folder, 2, bad="in place"),
    "no lock": lambda folder: writers.held(folder, 1, bad="no lock"),
    "clock as it is": lambda folder: writers.clock_going_back(folder, 30, bad=True),
}


@pytest.mark.parametrize("name", GOOD)
def test_what_was_told_as_done_is_there_whatever_happens(name: str, tmp_path: Path) -> None:
    """And the visit goes on to a signed, countersigned record."""
    count = GOOD[name](tmp_path)
    if count.note:
        pytest.skip(count.note)
    assert count.rounds > 0
    assert not count.wrong, count.text()


@pytest.mark.parametrize("name", BAD)
def test_a_bad_writer_is_found_out(name: str, tmp_path: Path) -> None:
    """The same run with a writer, reader or clock that is known to be bad."""
    count = BAD[name](tmp_path)
    if count.note:
        pytest.skip(count.note)
    assert count.wrong
