# ruff: noqa: S608 - the texts are put together from our own names only; what is asked is always bound
"""The embedded index: what many records say, in SQLite, so that any question is answered at once.

The records are the truth and the index is made from them at any time. It knows a file by path, size and
time of writing; ``check_all`` reads every byte again. It lies in the user's own cache folder, so that
records on a shared or read-only folder can be looked at by many, each with an index of his own; two
desks of one user share theirs: one brings it up to date at a time (a lock file), the other reads on
(write-ahead log). A first index is made beside its name and put there when it is whole; later changes go
in batch by batch, each with all rows of its files, and what is made of many records is marked as wanting
until it is made. So a process that ends at any moment leaves an index that is used or brought up to
date, never one that is believed wrongly.
"""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final, TypeAlias

from filelock import FileLock, Timeout

from commission.desk import links, summaries
from commission.desk.due_rows import StepIntervals
from commission.desk.queries import BY_NAME as QUERIES
from commission.desk.rows import FileSeen, Rows
from commission.desk.scan import Changes, changes, files_in, roots_of
from commission.desk.tables import LINK, OF_A_RECORD, POINT, SCHEMA, TABLES, create, create_indexes, insert
from commission.desk.work import all_rows, processors

Progress: TypeAlias = Callable[[int, int], None]
"""Is told how many files are done, of how many."""
_META: Final = "CREATE TABLE meta (name TEXT PRIMARY KEY, value TEXT)"
_TOUCHED: Final = "CREATE TABLE touched (site TEXT PRIMARY KEY) WITHOUT ROWID"
_INSERTS: Final = {table.name: insert(table) for table in OF_A_RECORD} | {
    POINT.name: insert(POINT).replace("INSERT", "INSERT OR IGNORE", 1)
}
_BUSY: Final = 30.0
"""Seconds that one desk waits for another one's batch."""


def no_progress(_done: int, _of: int) -> None:
    """Tell nobody."""


def cache_folder(environment: Mapping[str, str], platform: str, home: Path) -> Path:
    """Return where indexes are kept: the user's cache folder of the system.

    Parameters
    ----------
    environment
        Environment variables; ``COMMISSION_INDEX`` names another folder.
    platform
        ``sys.platform``.
    home
        The user's home folder.
    """
    named = environment.get("COMMISSION_INDEX")
    if named:
        return Path(named)
    if platform == "win32":
        return Path(environment.get("LOCALAPPDATA") or home / "AppData" / "Local") / "commission" / "desk"
    if platform == "darwin":
        return home / "Library" / "Caches" / "commission" / "desk"
    told = environment.get("XDG_CACHE_HOME", "")
    caches = Path(told) if told.startswith("/") else home / ".cache"
    return caches / "commission" / "desk"


def index_path(folder: Path, roots: Sequence[Path]) -> Path:
    """Return the file of the index of some folders, in the folder where indexes are kept."""
    from hashlib import sha256

    named = "\n".join(os.path.normcase(root) for root in roots)
    return folder / f"{sha256(named.encode('utf-8', 'surrogatepass')).hexdigest()[:24]}.sqlite"


@dataclass(frozen=True, slots=True)
class Updated:
    """What an update did."""

    added: int
    """Files that were read."""
    removed: int
    """Rows of files that were changed or are gone."""
    unchanged: int
    elsewhere: bool = False
    """Another desk brings the index up to date just now; this one reads what is there."""


class Index:
    """The index of some folders; made or brought up to date with :meth:`update`, asked with :meth:`ask`."""

    def __init__(self, path: Path, folders: Iterable[Path], steps: StepIntervals | None = None) -> None:
        """Name the index; nothing is opened yet.

        Parameters
        ----------
        path
            Its file; ``index_path`` names it.
        folders
            Of the records.
        steps
            Intervals at which a service visit repeats the usual steps, by their ids.
        """
        self.path, self.roots = path, roots_of(folders)
        self._steps: StepIntervals = steps or {}
        self._open: sqlite3.Connection | None = None

    def __enter__(self) -> Index:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def close(self) -> None:
        """Let go of the file."""
        if self._open is not None:
            self._open.close()
            self._open = None

    # asking

    @property
    def usable(self) -> bool:
        """Whether there is an index of these folders that can be asked now."""
        try:
            return self._connected() is not None
        except sqlite3.Error:
            return False

    def ask(self, name: str, /, **asked: Any) -> list[dict[str, Any]]:
        """Return the rows that answer a query by its name.

        Raises
        ------
        KeyError
            If there is no such query, or it asks for something else.
        """
        query = QUERIES[name]
        return self.rows(query.text("sqlite"), query.values(asked))

    def rows(self, sql: str, asked: Mapping[str, Any] | None = None) -> list[dict[str, Any]]:
        """Return the rows that answer a text of SQL."""
        cursor = self._must().execute(sql, asked or {})
        names = [column[0] for column in cursor.description]
        return [dict(zip(names, row, strict=True)) for row in cursor]

    def file_of(self, row: Mapping[str, Any]) -> Path:
        """Return the file of a row that has ``root`` and ``path``."""
        root: Path = self.roots[row["root"]]
        return root / str(row["path"])

    # bringing up to date

    def changes(self) -> Changes:
        """Return what changed in the folders since the index was made; everything where there is none."""
        found = self._connected() if self.usable else None
        known = () if found is None else found.execute("SELECT record, root, path, size, mtime FROM record")
        return changes(known, files_in(self.roots))

    def update(
        self, progress: Progress = no_progress, *, processes: int | None = None, wait: bool = True
    ) -> Updated:
        """Bring the index up to date with the folders, or make it.

        Parameters
        ----------
        processes
            That read; None for as many as there are processors.
        wait
            For another desk that does the same just now.

        Raises
        ------
        OSError
            If the index cannot be written where it is kept.
        """
        self.path.parent.mkdir(parents=True, exist_ok=True)
        lock = FileLock(self.path.with_suffix(".lock"))
        try:
            lock.acquire(timeout=-1 if wait else 0)
        except Timeout:
            return Updated(0, 0, 0, elsewhere=True)
        try:
            return self._update(progress, processors() if processes is None else processes)
        except sqlite3.DatabaseError:  # spoiled: it is made anew from the records
            self._discard()
            return self._update(progress, processors() if processes is None else processes)
        finally:
            lock.release()

    def rebuild(self, progress: Progress = no_progress, *, processes: int | None = None) -> Updated:
        """Make the index anew, whatever is there."""
        self._discard()
        return self.update(progress, processes=processes)

    def _update(self, progress: Progress, processes: int) -> Updated:
        if not self.usable:
            return self._first(progress, processes)
        found = self.changes()
        opened = self._must()
        if found.any:
            self._remove(opened, found.gone)
            self._read(opened, found.new, progress, processes)
        if found.any or _wanting(opened):
            self._summarise(opened)
        return Updated(len(found.new), len(found.gone), found.unchanged)

    def _first(self, progress: Progress, processes: int) -> Updated:
        """Make the index beside its name, and put it there when it is whole."""
        self.close()
        beside = self.path.with_suffix(".part")
        _unlink(beside)
        files = sorted(files_in(self.roots), key=lambda file: (file.root, file.path))
        made = sqlite3.connect(beside, isolation_level=None)
        try:
            made.executescript("PRAGMA journal_mode = OFF; PRAGMA synchronous = OFF; PRAGMA page_size = 8192")
            _settings(made)
            for table in TABLES:
                made.execute(create(table, "sqlite"))
            made.execute(_META)
            made.execute(_TOUCHED)
            self._read(made, files, progress, processes, indexed=False)
            for table in TABLES:
                for statement in create_indexes(table):
                    made.execute(statement)
            self._summarise(made)
            made.execute("INSERT INTO meta VALUES ('schema', ?)", (str(SCHEMA),))
            made.execute("INSERT INTO meta VALUES ('roots', ?)", (self._named(),))
            made.execute("PRAGMA journal_mode = WAL")
        finally:
            made.close()
        for ending in ("-wal", "-shm"):
            _unlink(Path(f"{self.path}{ending}"))
        beside.replace(self.path)
        return Updated(len(files), 0, 0)

    def _named(self) -> str:
        return "\n".join(os.fspath(root) for root in self.roots)

    def _read(
        self,
        opened: sqlite3.Connection,
        files: Sequence[FileSeen],
        progress: Progress,
        processes: int,
        *,
        indexed: bool = True,
    ) -> None:
        (last,) = opened.execute("SELECT coalesce(max(record), 0) FROM record").fetchone()
        jobs = [(last + place, file) for place, file in enumerate(files, start=1)]
        done = 0
        for count, rows in all_rows([os.fspath(root) for root in self.roots], jobs, self._steps, processes):
            with _transaction(opened):
                _mark(opened)
                _put(opened, rows)
                sites = {(row[1],) for row in rows["search"]}
                opened.executemany("INSERT OR IGNORE INTO touched VALUES (?)", sites)
            done += count
            progress(done, len(files))

    def _remove(self, opened: sqlite3.Connection, records: Sequence[int]) -> None:
        with _transaction(opened):
            _mark(opened)
            opened.execute("CREATE TEMP TABLE IF NOT EXISTS gone (record INTEGER PRIMARY KEY)")
            opened.execute("DELETE FROM temp.gone")
            opened.executemany("INSERT INTO temp.gone VALUES (?)", ((record,) for record in records))
            opened.execute(
                "INSERT OR IGNORE INTO touched SELECT site FROM record "
                "WHERE record IN (SELECT record FROM temp.gone)"
            )
            for table in OF_A_RECORD:
                opened.execute(f"DELETE FROM {table.name} WHERE record IN (SELECT record FROM temp.gone)")

    def _summarise(self, opened: sqlite3.Connection) -> None:
        """Make anew what is made of many records, for the sites that were touched."""
        with _transaction(opened):
            for statement in summaries.BEFORE_CHAINS:
                opened.execute(statement)
            opened.execute("DELETE FROM link WHERE site IN (SELECT site FROM touched)")
            rows = links.link_rows(opened.execute(links.MEMBERS), opened.execute(links.SEALS))
            opened.executemany(insert(LINK), rows)
            for statement in summaries.AFTER_CHAINS:
                opened.execute(statement)
            opened.execute("DELETE FROM touched")
            opened.execute("DELETE FROM meta WHERE name = 'wanting'")

    # the file

    def _connected(self) -> sqlite3.Connection | None:
        """Return the open index, None where there is none of these folders and this schema."""
        if self._open is None and self.path.is_file():
            opened = _opened(self.path)
            try:
                told = dict(opened.execute("SELECT name, value FROM meta").fetchall())
                fits = told.get("schema") == str(SCHEMA) and told.get("roots") == self._named()
            except sqlite3.Error:
                fits = False
            if not fits:
                opened.close()
                return None
            self._open = opened
        return self._open

    def _must(self) -> sqlite3.Connection:
        found = self._connected()
        if found is None:
            raise LookupError(f"there is no index at {self.path}: make it with update()")
        return found

    def _discard(self) -> None:
        self.close()
        for ending in ("", "-wal", "-shm"):
            _unlink(Path(f"{self.path}{ending}"))


def _opened(path: Path) -> sqlite3.Connection:
    """Open an index; one that cannot be written, on a disk that takes nothing, is read all the same."""
    opened = sqlite3.connect(path, timeout=_BUSY, isolation_level=None, check_same_thread=False)
    try:
        opened.execute("PRAGMA journal_mode").fetchone()
        opened.execute("SELECT count(*) FROM sqlite_master").fetchone()
    except sqlite3.OperationalError:
        opened.close()
        uri = f"{path.resolve().as_uri()}?mode=ro&immutable=1"
        opened = sqlite3.connect(uri, uri=True, isolation_level=None, check_same_thread=False)
    _settings(opened)
    return opened


def _settings(opened: sqlite3.Connection) -> None:
    for setting in ("secure_delete = OFF", "cache_size = -65536", "temp_store = MEMORY", "mmap_size = 0"):
        opened.execute(f"PRAGMA {setting}")
    with suppress(sqlite3.Error):
        opened.execute("PRAGMA synchronous = NORMAL")


@contextmanager
def _transaction(opened: sqlite3.Connection) -> Iterator[None]:
    opened.execute("BEGIN IMMEDIATE")
    try:
        yield
    except BaseException:
        with suppress(sqlite3.Error):
            opened.execute("ROLLBACK")
        raise
    opened.execute("COMMIT")


def _put(opened: sqlite3.Connection, rows: Rows) -> None:
    for name, found in rows.items():
        opened.executemany(_INSERTS[name], found)


def _mark(opened: sqlite3.Connection) -> None:
    """Say that what is made of many records has to be made anew."""
    opened.execute("INSERT OR REPLACE INTO meta VALUES ('wanting', 'yes')")


def _wanting(opened: sqlite3.Connection) -> bool:
    return opened.execute("SELECT 1 FROM meta WHERE name = 'wanting'").fetchone() is not None


def _unlink(path: Path) -> None:
    with suppress(FileNotFoundError):
        path.unlink()
