"""The fast reading of records, by which the desk knows many."""

from __future__ import annotations

from collections.abc import Callable
from random import Random

from commission.desk.rows import FileSeen, record_rows
from commission.desk.tables import BY_NAME
from commission.records.fast import fast_tables


def rows_reader(
    inputs: Callable[[Random], bytes],
) -> tuple[Callable[[bytes], None], Callable[[Random], bytes]]:
    """Return how spoiled records become rows, and the inputs; rows never refuse, and hold no command."""

    def read(content: bytes) -> None:
        try:
            data = fast_tables(content, in_worker=True)
        except ValueError:
            return
        rows = record_rows(1, FileSeen(0, "a_b_c.toml", len(content), 1), "", data, {})
        for name, found in rows.items():
            for row in found:
                assert len(row) == len(BY_NAME[name].columns)
                for value in row:
                    assert not isinstance(value, str) or value.replace("\n", "").isprintable(), value

    return read, inputs
