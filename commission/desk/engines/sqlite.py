# ruff: noqa: S608 - the texts are put together from our own names only; what is asked is always bound
"""SQLite, which keeps the embedded index: opening, filling, removing, what is made of many records."""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager, suppress
from itertools import chain
from pathlib import Path
from typing import Final

from commission.desk import summaries
from commission.desk.rows import Rows
from commission.desk.table import Row, create, create_indexes, insert
from commission.desk.tables import OF_A_RECORD, TABLES
from commission.desk.tables_of_all import LINK
from commission.desk.tables_of_record import POINT

_META: Final = "CREATE TABLE meta (name TEXT PRIMARY KEY, value TEXT)"
_TOUCHED: Final = "CREATE TABLE touched (site TEXT PRIMARY KEY) WITHOUT ROWID"
_INSERTS: Final = {table.name: insert(table) for table in OF_A_RECORD} | {
    POINT.name: insert(POINT).replace("INSERT", "INSERT OR IGNORE", 1)
}
_VALUES: Final = 900
"""Values that one statement brings; every SQLite takes 999."""
_BUSY: Final = 30.0
"""Seconds that one desk waits for another one's batch."""


def made(path: Path) -> sqlite3.Connection:
    """Return a new, empty index without its indexes; nothing of it is safe until it is whole."""
    opened = sqlite3.connect(path, isolation_level=None)
    for setting in ("page_size = 8192", "journal_mode = OFF"):
        opened.execute(f"PRAGMA {setting}")
    _settings(opened)
    opened.execute("PRAGMA synchronous = OFF")
    for table in TABLES:
        opened.execute(create(table, "sqlite"))
    opened.execute(_META)
    opened.execute(_TOUCHED)
    return opened


def finish(opened: sqlite3.Connection, told: dict[str, str]) -> None:
    """Make the indexes and summaries of a new index, and say of what it is."""
    for table in TABLES:
        for statement in create_indexes(table, "sqlite"):
            opened.execute(statement)
    summarise(opened)
    opened.executemany("INSERT INTO meta VALUES (?, ?)", told.items())
    opened.execute("PRAGMA synchronous = FULL")
    opened.execute("PRAGMA journal_mode = WAL")


def put(opened: sqlite3.Connection, rows: Rows) -> None:
    """Add the rows of a batch of files, all or none."""
    with transaction(opened):
        mark(opened)
        for name, found in rows.items():
            _insert(opened, name, found)
        touch(opened, {row[1] for row in rows["search"]})


def pour(opened: sqlite3.Connection, parts: Sequence[Path]) -> None:
    """Add all rows of other indexes that were filled beside this one, all or none."""
    names = [f"part_{place}" for place, _ in enumerate(parts)]
    for name, part in zip(names, parts, strict=True):
        # as bytes, since a name of a file need not be text
        opened.execute(f"ATTACH CAST(? AS TEXT) AS {name}", (os.fsencode(part),))
    with transaction(opened):
        mark(opened)
        for table in (*OF_A_RECORD, POINT):
            into, _, _ = _INSERTS[table.name].partition(" VALUES")
            found = [f"SELECT * FROM {name}.{table.name}" for name in names]
            # a table without a key is copied page by page; one with a key is filled in its order
            by_key = [f"{' UNION ALL '.join(found)} ORDER BY {', '.join(table.key)}"]
            for rows in found if table.many else by_key:
                opened.execute(f"{into} {rows}")
        for name in names:
            opened.execute(f"INSERT OR IGNORE INTO touched SELECT site FROM {name}.touched")
    for name in names:
        opened.execute(f"DETACH {name}")


def _insert(opened: sqlite3.Connection, name: str, rows: Sequence[Row]) -> None:
    """Insert rows, several with each statement, which takes a quarter less."""
    one = _INSERTS[name]
    together = _VALUES // len(rows[0]) if rows else 1
    whole = len(rows) - len(rows) % together
    if whole:
        several = f"{one}{one[one.rindex(' (') :].replace(' (', ', (') * (together - 1)}"
        groups = range(0, whole, together)
        opened.executemany(several, (list(chain(*rows[at : at + together])) for at in groups))
    opened.executemany(one, rows[whole:])


def remove(opened: sqlite3.Connection, records: Sequence[int]) -> None:
    """Remove the rows of files, all or none."""
    with transaction(opened):
        mark(opened)
        opened.execute("CREATE TEMP TABLE IF NOT EXISTS gone (record INTEGER PRIMARY KEY)")
        opened.execute("DELETE FROM temp.gone")
        opened.executemany("INSERT INTO temp.gone VALUES (?)", ((record,) for record in records))
        opened.execute(
            "INSERT OR IGNORE INTO touched SELECT site FROM record "
            "WHERE record IN (SELECT record FROM temp.gone)"
        )
        for table in OF_A_RECORD:
            opened.execute(f"DELETE FROM {table.name} WHERE record IN (SELECT record FROM temp.gone)")


def summarise(opened: sqlite3.Connection) -> None:
    """Make anew what is made of many records, for the sites that were touched."""
    with transaction(opened):
        for statement in summaries.BEFORE_CHAINS:
            opened.execute(statement)
        opened.execute("DELETE FROM link WHERE site IN (SELECT site FROM touched)")
        from commission.desk import links  # loads all that verifies records, which opening does not need

        rows = links.link_rows(opened.execute(links.MEMBERS), opened.execute(links.SEALS))
        opened.executemany(insert(LINK), rows)
        for statement in summaries.AFTER_CHAINS:
            opened.execute(statement)
        opened.execute("DELETE FROM touched")
        opened.execute("DELETE FROM meta WHERE name = 'wanting'")


def touch(opened: sqlite3.Connection, sites: Iterable[str]) -> None:
    """Say of which sites the summaries are to be made anew."""
    opened.executemany("INSERT OR IGNORE INTO touched VALUES (?)", ((site,) for site in sites))


def mark(opened: sqlite3.Connection) -> None:
    """Say that what is made of many records has to be made anew."""
    opened.execute("INSERT OR REPLACE INTO meta VALUES ('wanting', 'yes')")


def wanting(opened: sqlite3.Connection) -> bool:
    """Return whether what is made of many records has to be made anew: somebody ended in the midst."""
    return opened.execute("SELECT 1 FROM meta WHERE name = 'wanting'").fetchone() is not None


def opened_index(path: Path) -> sqlite3.Connection:
    """Open an index; one that cannot be written, on a disk that takes nothing, is read all the same."""
    opened = sqlite3.connect(path, timeout=_BUSY, isolation_level=None, check_same_thread=False)
    try:
        opened.execute("SELECT count(*) FROM sqlite_master").fetchone()
    except sqlite3.OperationalError:
        opened.close()
        uri = f"{path.resolve().as_uri()}?mode=ro&immutable=1"
        opened = sqlite3.connect(uri, uri=True, isolation_level=None, check_same_thread=False)
    _settings(opened)
    return opened


def _settings(opened: sqlite3.Connection) -> None:
    for setting in ("secure_delete = OFF", "cache_size = -32768"):
        opened.execute(f"PRAGMA {setting}")
    with suppress(sqlite3.Error):
        opened.execute("PRAGMA synchronous = NORMAL")


@contextmanager
def transaction(opened: sqlite3.Connection) -> Iterator[None]:
    """Do all of what is within, or nothing."""
    opened.execute("BEGIN IMMEDIATE")
    try:
        yield
    except BaseException:
        with suppress(sqlite3.Error):
            opened.execute("ROLLBACK")
        raise
    opened.execute("COMMIT")


def unlink(path: Path) -> None:
    """Remove a file that may be there."""
    with suppress(FileNotFoundError):
        path.unlink()
