"""Run all measurements and print them: ``python -m tests.bench``, in the folder of the checkout.

``python -m tests.bench work`` or ``screens`` runs one half. The screens need a POSIX system with
pseudo-terminals. ``python -m tests.bench desk 10000 200`` measures the desk on so many small records and
so many real ones (``tests/bench/desk.py``). Times are those of this machine; what holds everywhere is
the ratio to the bare app, which is run in turn with ours. A busy machine spreads the rounds: look at the
least of a range too.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from pathlib import Path
from tempfile import TemporaryDirectory


def main() -> None:
    """Measure and print line by line."""
    wanted = set(sys.argv[1:]) or {"work", "screens"}
    with TemporaryDirectory() as folder:
        for line in _desk(Path(folder)) if "desk" in wanted else ():
            print(line, flush=True)
        for half, lines in (("work", _work), ("screens", _screens)):
            for line in lines(Path(folder)) if half in wanted else ():
                print(line, flush=True)


def _work(folder: Path) -> Iterator[str]:
    from tests.bench import work

    yield work.command_help().text()
    yield work.sheet_and_walk().text()
    for measured in work.one_reading(folder / "walked"):
        yield measured.text()


def _desk(folder: Path) -> Iterator[str]:
    from tests.bench import desk

    counts = [int(told) for told in sys.argv[1:] if told.isdigit()]
    small, real = (*counts, 10_000, 200)[:2] if len(counts) != 1 else (counts[0], 200)
    yield from desk.measure(folder, small, real)


def _screens(folder: Path) -> Iterator[str]:
    from tests.bench import screens

    yield screens.start(folder / "none").text()
    yield screens.taken_up(folder / "taken-up").text()
    yield screens.next_reading(folder / "answered").text()
    for pair in screens.verdict_and_memory(folder / "typed"):
        yield pair.text()


if __name__ == "__main__":
    main()
