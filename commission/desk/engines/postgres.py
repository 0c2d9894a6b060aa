# ruff: noqa: S608 - the texts are put together from our own names only; what is asked is always bound
"""PostgreSQL, where many people bring in records of many folders: the same rows, summaries and queries.

Everything lies in one schema of the database. Who brings folders up to date holds a lock until all of it is
in, in one transaction: others ask what was there before, and nobody sees half of it.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from commission.desk import links, summaries
from commission.desk.due_rows import StepIntervals
from commission.desk.engines.named import Named
from commission.desk.export import ExportError
from commission.desk.index import Progress, Updated, no_progress
from commission.desk.rows import FileSeen
from commission.desk.scan import changes, files_in, roots_of
from commission.desk.table import Row, Table, create, create_indexes
from commission.desk.tables import OF_A_RECORD, SCHEMA, TABLES
from commission.desk.tables_of_all import LINK
from commission.desk.tables_of_record import POINT
from commission.desk.work import all_rows, processors

if TYPE_CHECKING:
    import psycopg

_NAME: Final = "commission_desk"
_LOCK: Final = 0x636F6D6D
"""Number of the lock that an update holds."""


class Shared(Named):
    """The rows in a database; asked as the index is."""

    engine = "postgres"

    def __init__(self, connection: str, steps: Callable[[], StepIntervals] = dict) -> None:
        """Connect, and make the tables where they are missing.

        Parameters
        ----------
        connection
            As PostgreSQL takes it: ``postgresql://user@host/database``.
        steps
            Returns the intervals at which a service visit repeats the usual steps, by their ids.

        Raises
        ------
        ExportError
            If the package is missing, nothing answers, or the tables are of another version of the program.
        """
        try:
            import psycopg
        except ImportError as error:
            told = f"the package {error.name} is missing: pip install 'commission[postgres]'"
            raise ExportError(told) from None
        self._steps = steps
        try:
            # what is asked is put into the text by the client, so that the server need not guess its type
            self._open: psycopg.Connection[Any] = psycopg.connect(
                connection, autocommit=True, cursor_factory=psycopg.ClientCursor
            )
        except psycopg.Error as error:
            told = f"the database does not answer: {str(error).strip().splitlines()[0]}"
            raise ExportError(told) from None
        self._prepare()

    def close(self) -> None:
        """Let go of the database."""
        self._open.close()

    def _answer(self, sql: str, given: Mapping[str, Any]) -> tuple[Sequence[str], Iterable[Sequence[Any]]]:
        cursor = self._run(sql, given)
        return [column.name for column in cursor.description or ()], cursor.fetchall()

    def update(
        self,
        folders: Iterable[Path],
        progress: Progress = no_progress,
        *,
        processes: int | None = None,
    ) -> Updated:
        """Bring folders of records up to date in the database; folders of others stay as they are.

        A folder is known by its whole path: everybody who brings it in has to reach it under the same one.

        Raises
        ------
        RecordError
            If one is no folder.
        """
        roots = roots_of(folders)
        with self._open.transaction():
            self._run("SELECT pg_advisory_xact_lock(%(lock)s)", {"lock": _LOCK})
            numbers = {self._root(os.fspath(root)): os.fspath(root) for root in roots}
            places = list(numbers)
            files = (
                FileSeen(places[file.root], file.path, file.size, file.mtime) for file in files_in(roots)
            )
            found = changes(self._known(places), files)
            if found.any:
                self._remove(found.gone)
                self._read(numbers, found.new, progress, processors() if processes is None else processes)
                self._summarise()
        if found.any:
            self._run("ANALYZE")
        return Updated(len(found.new), len(found.gone), found.unchanged)

    def _prepare(self) -> None:
        with self._open.transaction():
            self._run("SELECT pg_advisory_xact_lock(%(lock)s)", {"lock": _LOCK})
            self._run(f"CREATE SCHEMA IF NOT EXISTS {_NAME}")
            self._run(f"SET search_path TO {_NAME}")
            self._run("CREATE TABLE IF NOT EXISTS meta (name TEXT PRIMARY KEY, value TEXT)")
            told = self._run("SELECT value FROM meta WHERE name = 'schema'").fetchone()
            if told is None:
                for table in TABLES:
                    for statement in (create(table, "postgres"), *create_indexes(table, "postgres")):
                        self._run(statement)
                self._run("CREATE TABLE root (root BIGINT PRIMARY KEY, path TEXT UNIQUE)")
                self._run("INSERT INTO meta VALUES ('schema', %(schema)s)", {"schema": str(SCHEMA)})
            elif told[0] != str(SCHEMA):
                drop = f"drop the schema {_NAME}; it is made anew from the records"
                raise ExportError(f"the tables are of another version of the program: {drop}")
        self._run(f"SET search_path TO {_NAME}")
        self._run('CREATE TEMP TABLE touched (site TEXT COLLATE "C" PRIMARY KEY)')
        self._run("CREATE TEMP TABLE gone (record BIGINT PRIMARY KEY)")

    def _run(self, sql: str, given: Mapping[str, Any] | None = None) -> psycopg.Cursor[Any]:
        return self._open.execute(_sql(sql), given)

    def _root(self, path: str) -> int:
        """Return the number of a folder, a new one where it was not known."""
        self._run(
            "INSERT INTO root SELECT coalesce(max(root), -1) + 1, %(path)s FROM root ON CONFLICT DO NOTHING",
            {"path": path},
        )
        found = self._run("SELECT root FROM root WHERE path = %(path)s", {"path": path}).fetchone()
        return int(found[0]) if found else 0

    def _known(self, roots: Sequence[int]) -> list[Any]:
        sql = "SELECT record, root, path, size, mtime FROM record WHERE root = ANY(%(roots)s)"
        return self._run(sql, {"roots": list(roots)}).fetchall()

    def _remove(self, records: Sequence[int]) -> None:
        self._run("DELETE FROM gone")
        self._copy("gone", ("record",), [(record,) for record in records])
        self._run(
            "INSERT INTO touched SELECT DISTINCT site FROM record WHERE record IN (SELECT record FROM gone) "
            "ON CONFLICT DO NOTHING"
        )
        for table in OF_A_RECORD:
            self._run(f"DELETE FROM {table.name} WHERE record IN (SELECT record FROM gone)")

    def _read(
        self, roots: Mapping[int, str], files: Sequence[FileSeen], progress: Progress, processes: int
    ) -> None:
        told = self._run("SELECT coalesce(max(record), 0) FROM record").fetchone()
        last = int(told[0]) if told else 0
        jobs = [(last + place, file) for place, file in enumerate(files, start=1)]
        done = 0
        for count, rows in all_rows(roots, jobs, self._steps() if jobs else {}, processes):
            for table in OF_A_RECORD:
                self._copy(table.name, table.names, rows[table.name])
            self._new(POINT, "point", rows["point"])
            self._new(None, "touched", sorted({(row[1],) for row in rows["search"]}))
            done += count
            progress(done, len(files))

    def _new(self, table: Table | None, name: str, rows: Sequence[Row]) -> None:
        """Add rows of which some may be there."""
        names = ("site",) if table is None else table.names
        marks = ", ".join(["%s"] * len(names))
        with self._open.cursor() as cursor:
            cursor.executemany(_sql(f"INSERT INTO {name} VALUES ({marks}) ON CONFLICT DO NOTHING"), rows)

    def _copy(self, name: str, columns: Sequence[str], rows: Iterable[Row]) -> None:
        with (
            self._open.cursor() as cursor,
            cursor.copy(_sql(f"COPY {name} ({', '.join(columns)}) FROM STDIN")) as copy,
        ):
            for row in rows:
                copy.write_row(row)

    def _summarise(self) -> None:
        """Make anew what is made of many records, for the sites that were touched."""
        for statement in summaries.BEFORE_CHAINS:
            self._run(statement)
        self._run("DELETE FROM link WHERE site IN (SELECT site FROM touched)")
        members, seals = self._run(links.MEMBERS).fetchall(), self._run(links.SEALS).fetchall()
        self._copy("link", LINK.names, links.link_rows(members, seals))
        for statement in summaries.AFTER_CHAINS:
            self._run(statement)
        self._run("DELETE FROM touched")


def _sql(text: str) -> Any:
    """Return a text as the client takes it; it asks for literal ones, which ours are put together from."""
    return text
