"""Run the harnesses for long: ``python -m tests.harness kill --rounds 2000``, in the folder of the checkout.

``calls`` kills at every single call that writes, ``kill`` at random moments, ``power`` pulls the plug,
``torn`` cuts journals off, ``full`` fills disks and pulls sticks out, ``writers`` lets two programs at one
visit and sets the clock back; without a word all of them. ``--bad`` has each find out its bad writers
instead. What needs root or Linux says so and is left out. The suite runs each for a short time
(``test_harness.py``).
"""

from __future__ import annotations

import argparse
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from tempfile import TemporaryDirectory

from tests.harness import full, kill, power, torn, writers
from tests.harness.count import Count

Run = Callable[[], Count]


def harnesses(folder: Path, rounds: int) -> dict[str, list[Run]]:
    """Return what each word runs."""
    return {
        "calls": [lambda: kill.every_call(folder), lambda: kill.every_call_of_a_move(folder)],
        "kill": [lambda: kill.at_random(folder, rounds)],
        "power": [lambda: power.power_cut(folder, rounds)],
        "torn": [lambda: torn.torn_tails(folder)],
        "full": [
            lambda: full.small_files(folder, rounds),
            lambda: full.full_disk(folder, rounds),
            lambda: full.broken_disk(folder, rounds),
            lambda: full.pulled_out(folder, rounds),
        ],
        "writers": [
            lambda: writers.two_writers(folder, rounds),
            lambda: writers.held(folder, max(1, rounds // 10)),
            lambda: writers.clock_going_back(folder, rounds),
        ],
    }


def seeded(folder: Path) -> dict[str, list[tuple[str, Run]]]:
    """Return the bad writers that each word has to find out."""
    return {
        "calls": [
            ("rewrites the journal in place", lambda: kill.every_call(folder, bad="in place")),
            (
                "rewrites the record in place",
                lambda: kill.every_call(folder, readings=0, bad="record in place"),
            ),
        ],
        "kill": [
            ("rewrites the journal in place", lambda: kill.at_random(folder, 300, bad="in place")),
            ("tells too early", lambda: kill.at_random(folder, 300, bad="too early")),
        ],
        "power": [
            ("does not flush", lambda: power.power_cut(folder, 100, bad="no flush")),
            ("does not flush folders", lambda: power.power_cut(folder, 300, bad="no folder flush")),
        ],
        "torn": [("takes every line for whole", lambda: torn.torn_tails(folder, stride=40, bad=True))],
        "full": [("rewrites the journal in place", lambda: full.small_files(folder, 6, bad="in place"))],
        "writers": [
            ("does not lock", lambda: writers.two_writers(folder, 60, bad="no lock")),
            ("does not lock", lambda: writers.held(folder, 2, bad="no lock")),
            ("believes the clock", lambda: writers.clock_going_back(folder, 40, bad=True)),
        ],
    }


def main() -> int:
    """Run what is asked for; returns 1 where something was wrong."""
    parser = argparse.ArgumentParser(prog="python -m tests.harness", description=__doc__)
    parser.add_argument("word", nargs="*", help="calls, kill, power, torn, full, writers")
    parser.add_argument("--rounds", type=int, default=300)
    parser.add_argument("--bad", action="store_true", help="run the bad writers: each has to be found out")
    parser.add_argument("--folder", type=Path, help="where to write; a disk, not memory")
    options = parser.parse_args()
    good = True
    with TemporaryDirectory(dir=options.folder) as name:
        for says, right in _lines(Path(name), options):
            print(says, flush=True)
            good = good and right
    return 0 if good else 1


def _lines(folder: Path, options: argparse.Namespace) -> Iterator[tuple[str, bool]]:
    for word, runs in seeded(folder).items() if options.bad else ():
        for says, run in runs if not options.word or word in options.word else ():
            count, took = _timed(run, folder)
            yield f"{says}: {count.text()} [{took:.0f} s]", bool(count.wrong or count.note)
    for word, rest in harnesses(folder, options.rounds).items() if not options.bad else ():
        for run in rest if not options.word or word in options.word else ():
            count, took = _timed(run, folder)
            yield f"{count.text()} [{took:.0f} s]", not count.wrong


def _timed(run: Run, folder: Path) -> tuple[Count, float]:
    begun = time.monotonic()
    for left in folder.iterdir():  # what an earlier one has left
        _removed(left)
    count = run()
    return count, time.monotonic() - begun


def _removed(path: Path) -> None:
    import shutil

    shutil.rmtree(path, ignore_errors=True)


if __name__ == "__main__":
    sys.exit(main())
