"""What a table is, and the statements that make and fill it in each engine."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final, Literal, TypeAlias

Kind: TypeAlias = Literal["text", "integer", "real"]
Row: TypeAlias = tuple[Any, ...]


@dataclass(frozen=True, slots=True)
class Column:
    """One column."""

    name: str
    kind: Kind
    meaning: str


@dataclass(frozen=True, slots=True)
class Table:
    """One table."""

    name: str
    meaning: str
    columns: tuple[Column, ...]
    key: tuple[str, ...] = ()
    indexes: tuple[tuple[str, ...], ...] = ()
    many: bool = False
    """So many rows that SQLite had better append them and sort their keys once."""
    made: Literal["of a record", "of a point", "of all"] = "of a record"
    """From one record; a name that records share; from the rows of many records (``summaries``)."""

    @property
    def names(self) -> tuple[str, ...]:
        """Return the names of the columns."""
        return tuple(column.name for column in self.columns)

    def row(self, values: dict[str, Any]) -> Row:
        """Return a row in the order of the columns; what is not given is null or empty.

        Raises
        ------
        KeyError
            If a value is of no column.
        """
        blank = _blank(self)
        made = blank | values
        if len(made) != len(blank):
            raise KeyError(f"{self.name} has no {', '.join(sorted(values.keys() - blank.keys()))}")
        return tuple(made.values())


_BLANKS: Final[dict[str, dict[str, Any]]] = {}
"""What a row of a table is without values; many rows are made."""


def _blank(table: Table) -> dict[str, Any]:
    found = _BLANKS.get(table.name)
    if found is None:
        found = {column.name: "" if column.kind == "text" else None for column in table.columns}
        _BLANKS[table.name] = found
    return found


def columns(text: str) -> tuple[Column, ...]:
    """Read columns written as ``name kind meaning``, one a line."""
    kinds: dict[str, Kind] = {"T": "text", "I": "integer", "R": "real"}
    rows = (line.split(None, 2) for line in text.strip().splitlines())
    return tuple(Column(name, kinds[kind], meaning) for name, kind, meaning in rows)


# the same tables in each engine

Engine: TypeAlias = Literal["sqlite", "duckdb", "postgres"]
_TYPES: Final[dict[Engine, dict[Kind, str]]] = {
    "sqlite": {"text": "TEXT", "integer": "INTEGER", "real": "REAL"},
    "duckdb": {"text": "VARCHAR", "integer": "BIGINT", "real": "DOUBLE"},
    "postgres": {"text": 'TEXT COLLATE "C"', "integer": "BIGINT", "real": "DOUBLE PRECISION"},
}


def create(table: Table, engine: Engine) -> str:
    """Return the statement that makes a table."""
    types = _TYPES[engine]
    lines = [f"{column.name} {types[column.kind]}" for column in table.columns]
    if table.key and not (table.many and engine == "sqlite"):
        lines.append(f"PRIMARY KEY ({', '.join(table.key)})")
    rowid = " WITHOUT ROWID" if engine == "sqlite" and len(table.key) > 1 and not table.many else ""
    return f"CREATE TABLE {table.name} ({', '.join(lines)}){rowid}"


def create_indexes(table: Table, engine: Engine) -> tuple[str, ...]:
    """Return the statements that make the indexes of a table beside its key."""
    if table.many and engine == "sqlite":
        return (f"CREATE INDEX {table.name}_by_{table.key[0]} ON {table.name} ({table.key[0]})",)
    return tuple(
        f"CREATE INDEX {table.name}_by_{'_'.join(columns)} ON {table.name} ({', '.join(columns)})"
        for columns in table.indexes
    )


def insert(table: Table) -> str:
    """Return the statement that puts a row into a table of SQLite or DuckDB."""
    return f"INSERT INTO {table.name} VALUES ({', '.join('?' * len(table.columns))})"  # noqa: S608 - our own names
