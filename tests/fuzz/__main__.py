"""Spoil real input of every reader: ``python -m tests.fuzz --executions 10000``, in the checkout.

So many executions go to each reader; ``site record`` and so on names some of them. Every input follows from
``--seed``. A reader may read what it is given, or refuse it with an error of ours: a traceback, a second of
the processor, 200 MiB of memory or a command to the terminal in an error is told, and the exit code is 1.

``--guided READER`` lets a fuzzer that watches which lines are reached make the bytes instead; it needs the
package atheris, which the tests do not.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections.abc import Sequence
from pathlib import Path
from random import Random
from tempfile import TemporaryDirectory

NAMES = (
    "site", "profiles", "readings", "record", "verify", "rows", "key", "known", "journal", "beside",
    "calculator", "typed", "arguments",
)  # fmt: skip


def main(words: Sequence[str] | None = None) -> int:
    """Fuzz and print a line for each reader; returns 1 where something bad came up."""
    parser = argparse.ArgumentParser(prog="python -m tests.fuzz", description=__doc__)
    parser.add_argument("readers", nargs="*", help=f"of: {', '.join(NAMES)}")
    parser.add_argument("--executions", type=int, default=2000)
    parser.add_argument("--seconds", type=float, default=1e9, help="for each reader, at most")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--guided", choices=NAMES)
    options = parser.parse_args(words)
    unknown = [name for name in options.readers if name not in NAMES]
    if unknown:
        parser.error(f"no such reader: {', '.join(unknown)}")
    with TemporaryDirectory() as folder:
        if options.guided:
            from tests.fuzz.guided import guided

            guided(options.guided, Path(folder), options.executions, options.seed)
        return _each(options.readers or NAMES, Path(folder), options)


def _each(names: Sequence[str], folder: Path, options: argparse.Namespace) -> int:
    from tests.fuzz.readers import READERS
    from tests.fuzz.watch import watched

    total = bad = 0
    for name in names:
        own = folder / name
        own.mkdir()
        reader, random = READERS[name](own), Random(f"{options.seed} {name}")
        begun = time.monotonic()
        found = watched(
            name, reader.read, lambda: reader.inputs(random), options.executions, seconds=options.seconds  # noqa: B023 - called at once
        )  # fmt: skip
        print(f"{found.line()}; {time.monotonic() - begun:.0f} s", flush=True)
        for one in found.bad:
            print(f"    {one}", flush=True)
        total, bad = total + found.count, bad + len(found.bad)
    print(f"{total} executions, {bad} bad")
    return int(bad > 0)


if __name__ == "__main__":
    sys.exit(main())
