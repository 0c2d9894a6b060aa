# ruff: noqa: S608 - the texts are put together from our own names only; what is asked is always bound
"""DuckDB over the Parquet files of an export, on any store that fsspec reaches: questions to all rows."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING, Any, Final

from commission.desk.engines.named import Named
from commission.desk.export import MARK, ExportError, store_of
from commission.desk.table import create
from commission.desk.tables import SCHEMA, TABLES

if TYPE_CHECKING:
    import duckdb

_LOCAL: Final = ("file", "local")
_SPOILED: Final = "this export cannot be read, export it again"


class Fleet(Named):
    """The rows of an export; asked as the index is."""

    engine = "duckdb"

    def __init__(self, target: str) -> None:
        """Look into an export.

        Raises
        ------
        ExportError
            If a package is missing, or there is no export of this program's schema.
        """
        try:
            import duckdb
        except ImportError as error:
            told = f"the package {error.name} is missing: pip install 'commission[fleet]'"
            raise ExportError(told) from None
        store, root = store_of(target)
        _check(store, root)
        self._open: duckdb.DuckDBPyConnection = duckdb.connect()
        protocol = store.protocol if isinstance(store.protocol, str) else store.protocol[0]
        local = protocol in _LOCAL
        if not local:
            self._open.register_filesystem(store)
        for table in TABLES:
            files = [path for path in store.find(f"{root}/{table.name}") if path.endswith(".parquet")]
            if not files:
                self._open.execute(create(table, "duckdb"))
                continue
            named = ", ".join(
                _quoted(path if local else f"{protocol}://{path.lstrip('/')}") for path in files
            )
            columns = ", ".join(table.names)
            source = f"read_parquet([{named}], hive_partitioning = false)"
            try:
                self._open.execute(f"CREATE VIEW {table.name} AS SELECT {columns} FROM {source}")
            except duckdb.Error as error:
                self.close()
                raise ExportError(f"{root}/{table.name}: {_SPOILED}: {error}") from None

    def close(self) -> None:
        """Let go of the files."""
        self._open.close()

    def _answer(self, sql: str, given: Mapping[str, Any]) -> tuple[Sequence[str], Iterable[Sequence[Any]]]:
        import duckdb

        try:
            found = self._open.execute(sql, given)
            return [column[0] for column in found.description], found.fetchall()
        except duckdb.Error as error:
            raise ExportError(f"{_SPOILED}: {error}") from None


def _check(store: Any, root: str) -> None:
    try:
        with store.open(f"{root}/{MARK}", "rb") as file:
            told = json.loads(file.read())
    except (OSError, ValueError):
        raise ExportError(
            f"{root}: no export lies there; commission export FOLDER --format parquet --to PLACE makes one"
        ) from None
    if not isinstance(told, dict) or told.get("schema") != SCHEMA:
        raise ExportError(f"{root}: made by another version of the program; export it again")


def _quoted(text: str) -> str:
    return "'" + text.replace("'", "''") + "'"
