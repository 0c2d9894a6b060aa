# ruff: noqa: S608 - the texts are put together from our own names only
"""The rows of an index for other programs: CSV for a spreadsheet, Parquet for an engine on any store."""

from __future__ import annotations

import csv
import json
from collections.abc import Iterable, Iterator, Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, Final

from commission.desk.index import Index
from commission.desk.table import Table
from commission.desk.tables import BY_NAME, SCHEMA, TABLES
from commission.errors import CommissionError, Problem, RecordError

MARK: Final = "commission-desk.json"
"""Lies in an exported folder and says what it is: only such a one is written over."""
_BATCH: Final = 50_000
_FORMULA: Final = ("=", "+", "-", "@", "\t", "\r")
"""What a spreadsheet would take as a formula."""


class ExportError(CommissionError):
    """An export that cannot be made; the text says what would help."""


# CSV


def export_csv(index: Index, table: str, path: Path) -> int:
    """Write a table, or the rows that answer a query, as CSV; returns how many rows.

    A text that a spreadsheet would take as a formula gets an apostrophe before it.

    Raises
    ------
    RecordError
        If it cannot be written, or there is no such table or query.
    """
    if table in BY_NAME:
        names: Sequence[str] = BY_NAME[table].names
        order = ", ".join(BY_NAME[table].key or ("1", "2", "3"))
        rows: Iterable[Sequence[Any]] = index.stream(
            f"SELECT {', '.join(names)} FROM {table} ORDER BY {order}"
        )
    else:
        raise _refused(table, "there is no such table", f"one of {', '.join(sorted(BY_NAME))}")
    return write_csv(path, names, rows)


def write_csv(path: Path, names: Sequence[str], rows: Iterable[Sequence[Any]]) -> int:
    """Write rows as CSV in UTF-8; returns how many.

    Raises
    ------
    RecordError
        If it cannot be written.
    """
    count = 0
    try:
        with path.open("w", encoding="utf-8", newline="") as file:
            writer = csv.writer(file)
            writer.writerow(names)
            for row in rows:
                writer.writerow([_cell(value) for value in row])
                count += 1
    except OSError as error:
        raise _refused(str(path), f"cannot be written: {error.strerror or error}", "") from None
    return count


def _cell(value: Any) -> Any:
    if isinstance(value, str) and value.startswith(_FORMULA):
        return f"'{value}"
    return value


# Parquet


def export_parquet(index: Index, target: str) -> dict[str, int]:
    """Write every table as Parquet; returns how many rows each has.

    Rows of a record lie in a folder of the year in which its visit began (``reading/year=2026/``), sorted by
    site, so that a question about one site or one year reads little. The extra ``fleet`` is needed.

    Parameters
    ----------
    target
        Folder, or a place on any store that fsspec reaches: ``s3://bucket/desk``, ``memory://desk``.

    Raises
    ------
    ExportError
        If a package is missing, or something else lies in that place.
    """
    pq = _packages()
    store, root = store_of(target)
    _check_place(store, root)
    counts = {}
    for table in TABLES:
        if store.exists(f"{root}/{table.name}"):
            store.rm(f"{root}/{table.name}", recursive=True)
        counts[table.name] = sum(
            _write(pq, store, f"{root}/{place}", table, index.stream(sql, given))
            for place, sql, given in _parts(index, table)
        )
    store.makedirs(root, exist_ok=True)
    with store.open(f"{root}/{MARK}", "wb") as file:
        file.write(json.dumps({"schema": SCHEMA, "rows": counts}).encode())
    return counts


def store_of(target: str) -> tuple[Any, str]:
    """Return the store of a place, and the path in it.

    Raises
    ------
    ExportError
        If a package is missing, or there is no store of that kind.
    """
    try:
        import fsspec.core
    except ImportError as error:
        told = f"the package {error.name} is missing: pip install 'commission[fleet]'"
        raise ExportError(told) from None
    try:
        store, root = fsspec.core.url_to_fs(target)
    except (ImportError, ValueError, OSError) as error:
        right = "a folder, or a place on a store that is set up on this machine, such as s3://bucket/desk"
        raise ExportError(f"{target}: cannot be reached: {error}; {right}") from None
    return store, str(root)


def _packages() -> Any:
    try:
        import fsspec.core  # noqa: F401 - so that what is missing is told at once
        import pyarrow.parquet
    except ImportError as error:
        told = f"the package {error.name} is missing: pip install 'commission[fleet]'"
        raise ExportError(told) from None
    return pyarrow.parquet


def _check_place(store: Any, root: str) -> None:
    if store.exists(root) and not store.exists(f"{root}/{MARK}") and store.ls(root):
        told = f"{root}: something else lies there; name a new folder, or one of an earlier export"
        raise ExportError(told)


def _parts(index: Index, table: Table) -> Iterator[tuple[str, str, dict[str, Any]]]:
    """Yield the files of a table: where each lies, and what is in it."""
    columns = ", ".join(f"t.{name}" for name in table.names)
    if table.made != "of a record":
        order = ", ".join(f"t.{name}" for name in (table.key or table.names[:4]))
        yield f"{table.name}/rows.parquet", f"SELECT {columns} FROM {table.name} t ORDER BY {order}", {}
        return
    key = ", ".join(f"t.{name}" for name in table.key[1:]) or "t.record"
    for year in _years(index):
        low, high = _span(year)
        yield (
            f"{table.name}/year={year}/rows.parquet",
            f"""SELECT {columns} FROM {table.name} t JOIN record r ON r.record = t.record
            WHERE coalesce(r.started_at, 0) >= :low AND coalesce(r.started_at, 0) < :high
            ORDER BY r.site, r.started_at, t.record, {key}""",
            {"low": low, "high": high},
        )


def _years(index: Index) -> list[int]:
    """Return the years in which visits began; 1970 for what tells no time."""
    found = index.rows("SELECT DISTINCT coalesce(started_at, 0) / 86400 AS day FROM record")
    return sorted({datetime.fromtimestamp(row["day"] * 86400, UTC).year for row in found})


def _span(year: int) -> tuple[int, int]:
    low, high = (int(datetime(one, 1, 1, tzinfo=UTC).timestamp()) for one in (year, year + 1))
    return low, high


def _write(pq: Any, store: Any, path: str, table: Table, rows: Iterator[Sequence[Any]]) -> int:
    """Write one file in groups of rows; returns how many."""
    import pyarrow as pa

    types = {"text": pa.string(), "integer": pa.int64(), "real": pa.float64()}
    schema = pa.schema([(column.name, types[column.kind]) for column in table.columns])
    store.makedirs(path.rpartition("/")[0], exist_ok=True)
    count = 0
    with store.open(path, "wb") as file, pq.ParquetWriter(file, schema, compression="zstd") as writer:
        for batch in _batches(rows):
            columns = [
                pa.array(column, type=field.type)
                for column, field in zip(zip(*batch, strict=True), schema, strict=True)
            ]
            writer.write_table(pa.Table.from_arrays(columns, schema=schema))
            count += len(batch)
    return count


def _batches(rows: Iterator[Sequence[Any]]) -> Iterator[list[Sequence[Any]]]:
    batch: list[Sequence[Any]] = []
    for row in rows:
        batch.append(row)
        if len(batch) == _BATCH:
            yield batch
            batch = []
    if batch:
        yield batch


def _refused(what: str, wrong: str, right: str) -> RecordError:
    return RecordError([Problem("export", what, "", wrong, right)])
