"""The contents of an index, told without the numbers that files happen to have in it."""

from __future__ import annotations

from typing import Any

from commission.desk.index import Index
from commission.desk.tables import TABLES


def contents(index: Index) -> dict[str, list[str]]:
    """Return every row of every table; files by their paths, not by their numbers."""
    paths = {row["record"]: f"{row['root']}/{row['path']}" for row in index.rows("SELECT * FROM record")}
    kept = {row["point"] for row in index.rows("SELECT DISTINCT point FROM reading")}
    found = {}
    for table in TABLES:
        rows = index.rows(f"SELECT * FROM {table.name}")
        if table.name == "point":  # a name that no record has any more may stay
            rows = [row for row in rows if row["point"] in kept]
        found[table.name] = sorted(str(_without(row, paths)) for row in rows)
    return found


def _without(row: dict[str, Any], paths: dict[int, str]) -> list[tuple[str, Any]]:
    named = dict(row)
    if "record" in named:
        named["record"] = paths.get(named["record"], "none")
    return [(name, round(value, 9) if isinstance(value, float) else value) for name, value in named.items()]
