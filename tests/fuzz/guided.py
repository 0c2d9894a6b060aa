"""A reader under a fuzzer that sees which lines an input reaches, where the package atheris is there."""

from __future__ import annotations

import sys
from pathlib import Path
from random import Random
from typing import Any

from tests.fuzz.watch import Outcomes, once


def guided(name: str, folder: Path, executions: int, seed: int) -> None:
    """Fuzz one reader; the process ends with it, and a bad outcome is told as an exception.

    The program must not have been imported before: its modules are marked as they are.
    """
    try:
        import atheris  # type: ignore[import-untyped,import-not-found,unused-ignore]
    except ImportError:
        raise SystemExit("the package atheris is not there; run without --guided") from None
    with atheris.instrument_imports(include=["commission"]):
        from tests.fuzz.mutate import spoiled_bytes
        from tests.fuzz.readers import READERS
    reader = READERS[name](folder)
    if not reader.raw:
        raise SystemExit(f"{name}: its inputs are no bytes; run it without --guided")
    random = Random(seed)
    samples = [reader.inputs(random) for _ in range(50)]
    found = Outcomes(reader.name)

    def one_input(content: bytes) -> None:
        once(found, reader.read, content)
        if found.bad:
            raise RuntimeError(found.bad[0])

    def changed(content: bytes, most: int, place: int) -> bytes:
        own = Random(place)
        made: bytes = spoiled_bytes(content, samples, own) if len(content) > 8 else reader.inputs(own)
        return made[:most]

    arguments: list[Any] = [sys.argv[0], f"-runs={executions}", f"-seed={seed}", "-max_len=200000"]
    atheris.Setup(arguments, one_input, custom_mutator=changed)
    atheris.Fuzz()
