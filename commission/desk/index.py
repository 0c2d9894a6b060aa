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

import gc
import os
import sqlite3
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import closing, contextmanager, suppress
from dataclasses import dataclass, replace
from datetime import datetime
from hashlib import sha256
from pathlib import Path
from typing import Any, Final, TypeAlias

from filelock import FileLock, Timeout

from commission.desk.checking import Seen, all_checked, checked, seen_again
from commission.desk.due_rows import StepIntervals
from commission.desk.engines import sqlite as store
from commission.desk.filling import fill, remove_parts
from commission.desk.queries import BY_NAME as QUERIES
from commission.desk.rows import NO_RECORD, UNREADABLE, FileSeen
from commission.desk.scan import Changes, changes, files_in, listed, roots_of
from commission.desk.tables import SCHEMA
from commission.desk.work import all_rows, processors
from commission.errors import Problem, RecordError
from commission.visit.user_folders import user_folder

_MANY: Final = 100_000
"""Objects after which garbage is looked for while rows are made."""
_NEVER: Final = 0
"""As the interpreter has it; for the second that files are compared."""
Progress: TypeAlias = Callable[[int, int], None]
"""Is told how many files are done, of how many."""


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
    return Path(named) if named else user_folder("cache", environment, platform, home) / "desk"


def index_path(folder: Path, roots: Sequence[Path]) -> Path:
    """Return the file of the index of some folders, in the folder where indexes are kept."""
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

    def __init__(
        self, path: Path, folders: Iterable[Path], steps: Callable[[], StepIntervals] = dict
    ) -> None:
        """Name the index; nothing is opened yet.

        Parameters
        ----------
        path
            Its file; ``index_path`` names it.
        folders
            Of the records.
        steps
            Returns the intervals at which a service visit repeats the usual steps, by their ids.
        """
        self.path, self.roots = path.absolute(), roots_of(folders)
        self._steps = steps
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

    def stream(self, sql: str, asked: Mapping[str, Any] | None = None) -> Iterator[tuple[Any, ...]]:
        """Yield the rows that answer a text of SQL, one by one."""
        yield from self._must().execute(sql, asked or {})

    def file_of(self, row: Mapping[str, Any]) -> Path:
        """Return the file of a row that has ``root`` and ``path``."""
        root: Path = self.roots[row["root"]]
        return root / str(row["path"])

    # bringing up to date

    def changes(self) -> Changes:
        """Return what changed in the folders since the index was made; everything where there is none."""
        found = self._connected() if self.usable else None
        known = () if found is None else found.execute("SELECT record, root, path, size, mtime FROM record")
        with _garbage_looked_for_after(_NEVER):
            return changes(known, listed(self.roots))

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
        RecordError
            If the index cannot be written where it is kept.
        """
        many = processors() if processes is None else processes
        try:
            with self._alone(wait=wait):
                try:
                    return self._update(progress, many)
                except sqlite3.OperationalError:  # held, full, read only: nothing is wrong with what is there
                    raise
                except sqlite3.DatabaseError:  # spoiled: it is made anew from the records
                    self._discard()
                    return self._update(progress, many)
        except Timeout:
            return Updated(0, 0, 0, elsewhere=True)

    def rebuild(self, progress: Progress = no_progress, *, processes: int | None = None) -> Updated:
        """Make the index anew, whatever is there.

        Raises
        ------
        RecordError
            If the index cannot be written where it is kept.
        """
        with self._alone():
            self._discard()
            return self._update(progress, processors() if processes is None else processes)

    @contextmanager
    def _alone(self, *, wait: bool = True) -> Iterator[None]:
        """Let no other desk write to this index meanwhile, and say what keeps it from being written."""
        try:
            self.path.parent.mkdir(parents=True, exist_ok=True)
            lock = self._beside(".lock")
            lock.touch()  # the lock would wait for ever where no file can be made
            with FileLock(lock).acquire(timeout=-1 if wait else 0):
                yield
        except Timeout:
            raise
        except (OSError, sqlite3.OperationalError) as error:
            wrong = f"cannot be written: {getattr(error, 'strerror', None) or error}"
            right = "make room, or name another folder on this machine with COMMISSION_INDEX"
            raise RecordError([Problem(str(self.path), "index", "", wrong, right)]) from None

    def _update(self, progress: Progress, processes: int) -> Updated:
        remove_parts(self._beside(".part"))  # a worker may outlive whoever started it by a moment
        if not self.usable:
            return self._first(progress, processes)
        found = self.changes()
        opened = self._must()
        if found.any:
            store.remove(opened, found.gone)
            self._read(opened, found.new, progress, processes)
        if found.any or store.wanting(opened):
            store.summarise(opened)
        return Updated(len(found.new), len(found.gone), found.unchanged)

    def _first(self, progress: Progress, processes: int) -> Updated:
        """Make the index beside its name, and put it there when it is whole."""
        self.close()
        beside = self._beside(".part")
        store.unlink(beside)
        try:
            many = self._whole(beside, progress, processes)
        except BaseException:
            with suppress(OSError):
                store.unlink(beside)  # there may be no room left
            raise
        self._discard()
        beside.replace(self.path)
        return Updated(many, 0, 0)

    def _whole(self, beside: Path, progress: Progress, processes: int) -> int:
        """Make an index of all files in a file of its own; return how many they are."""
        jobs = list(enumerate(sorted(files_in(self.roots)), start=1))
        with closing(store.made(beside)) as made:
            steps = self._steps() if jobs else {}
            filled = fill(made, beside, self._folders(), jobs, steps, processes)
            with _garbage_looked_for_after(_MANY), closing(filled):
                for done in filled:
                    progress(done, len(jobs))
            store.finish(made, {"schema": str(SCHEMA), "roots": self._named()})
        return len(jobs)

    def _beside(self, ending: str) -> Path:
        return self.path.with_name(f"{self.path.name}{ending}")

    def _named(self) -> str:
        """Return the folders as they are kept: a name that is no text is spelled out."""
        return "\n".join(self._folders()).encode("utf-8", "backslashreplace").decode()

    def _folders(self) -> list[str]:
        return [os.fspath(root) for root in self.roots]

    def _read(
        self, opened: sqlite3.Connection, files: Sequence[FileSeen], progress: Progress, processes: int
    ) -> None:
        (last,) = opened.execute("SELECT coalesce(max(record), 0) FROM record").fetchone()
        jobs = [(last + place, file) for place, file in enumerate(files, start=1)]
        done = 0
        with _garbage_looked_for_after(_MANY):
            for count, rows in all_rows(self._folders(), jobs, self._steps() if jobs else {}, processes):
                store.put(opened, rows)
                done += count
                progress(done, len(files))

    # what the strict reader says

    def check_all(
        self, now: datetime, progress: Progress = no_progress, *, processes: int | None = None
    ) -> Updated:
        """Read every byte of every file again, and let the strict reader say how each record stands.

        A file that was replaced by another of the same size and time is found by its digest.

        Raises
        ------
        RecordError
            If the index cannot be written where it is kept.
        """
        many = processors() if processes is None else processes
        updated = self.update(processes=many)
        with self._alone():
            opened = self._must()
            known = opened.execute("SELECT record, root, path, size, mtime, digest FROM record").fetchall()
            jobs = [(row[0], FileSeen(*row[1:5]), row[5]) for row in known]
            other: list[tuple[int, FileSeen]] = []
            states: dict[tuple[int, str], Seen] = {}
            done = 0
            for found in all_checked(self._folders(), jobs, many):
                for seen in found:
                    states[seen.file.root, seen.file.path] = seen
                    if seen.other:
                        other.append((seen.record, seen.file))
                done += len(found)
                progress(done, len(jobs))
            if other:
                store.remove(opened, [record for record, _ in other])
                self._read(opened, [file for _, file in other], no_progress, many)
            self._note(opened, states.values(), now)
        return replace(updated, added=updated.added + len(other))

    def check(self, root: int, path: str, now: datetime) -> str:
        """Let the strict reader say how one record stands, as on opening it; returns the state.

        Where the index cannot be written it is said all the same.
        """
        row = self.ask("record at", root=root, path=path)[0]
        file = FileSeen(root, path, row["size"], row["mtime"])
        seen = checked(self._folders(), (row["record"], file, row["digest"]))
        with suppress(RecordError), self._alone():
            opened = self._must()
            if seen.other:
                store.remove(opened, [row["record"]])
                self._read(opened, [seen_again(self._folders(), file)], no_progress, 1)
            self._note(opened, [seen], now)
        return seen.state

    def _note(self, opened: sqlite3.Connection, seen: Iterable[Seen], now: datetime) -> None:
        """Keep what the strict reader said; of a file that may be no record it says nothing."""
        at = int(now.timestamp())
        with store.transaction(opened):
            store.mark(opened)
            for one in seen:
                place = (one.file.root, one.file.path)
                before = opened.execute(
                    "SELECT state, site FROM record WHERE root = ? AND path = ?", place
                ).fetchone()
                if before is None or before[0] in {NO_RECORD, UNREADABLE}:
                    continue
                opened.execute(
                    "UPDATE record SET state = ?, says = ?, checked_at = ? WHERE root = ? AND path = ?",
                    (one.state, one.says, at, *place),
                )
                if before[0] != one.state:
                    store.touch(opened, [before[1]])
        store.summarise(opened)

    # the file

    def _connected(self) -> sqlite3.Connection | None:
        """Return the open index, None where there is none of these folders and this schema."""
        if self._open is None and self.path.is_file():
            opened = store.opened_index(self.path)
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
            store.unlink(Path(f"{self.path}{ending}"))


@contextmanager
def _garbage_looked_for_after(objects: int) -> Iterator[None]:
    """Look for rings of objects less often: rows are many objects and hold none."""
    before = gc.get_threshold()
    gc.set_threshold(objects, *before[1:])
    try:
        yield
    finally:
        gc.set_threshold(*before)
