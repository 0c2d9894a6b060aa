"""What the commands of the desk ask: the index of folders of records, a database, or an export."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from datetime import datetime

    from commission.desk.index import Index, Progress
    from commission.desk.listing import Answers


def add_folders(
    parser: argparse.ArgumentParser, beside: tuple[str, ...] = (), *, engines: bool = False
) -> None:
    """Add the folders that a command looks through, and where else it may ask."""
    many = "*" if engines else "+"
    parser.add_argument("folders", nargs=many, metavar="FOLDER", help="folders of records, those below too")
    for name in beside:
        text = {"site": "id of the site", "reading": "key of the reading: step@part, or words of it"}[name]
        parser.add_argument(name, metavar=name.upper(), help=text)
    parser.add_argument(
        "--index", type=Path, metavar="FILE", help="where the index is kept; else in your cache folder"
    )
    parser.add_argument("--check-all", action="store_true", help="check every record with the strict reader")
    if engines:
        parser.add_argument(
            "--postgres",
            metavar="URL",
            help="ask this PostgreSQL database; folders that are named are first brought up to date in it",
        )
        parser.add_argument(
            "--parquet", metavar="PLACE", help="ask what export wrote as Parquet, with DuckDB"
        )


def opening(options: argparse.Namespace) -> Callable[[], Index]:
    """Return what opens the index of the folders that were named."""
    import os

    from commission.desk.opening import index_named, index_of

    folders = [Path(folder) for folder in options.folders]
    if options.index is not None:
        path: Path = options.index
        return lambda: index_named(path, folders)
    return lambda: index_of(folders, environment=os.environ, platform=sys.platform, home=Path.home())


@contextmanager
def asked(options: argparse.Namespace) -> Iterator[Index]:
    """Yield the index, up to date with its folders."""
    with opening(options)() as index:
        with _progress() as build:
            if options.check_all:
                index.check_all(now(), build)
            else:
                index.update(build)
        yield index


@contextmanager
def answers(options: argparse.Namespace) -> Iterator[Answers]:
    """Yield what a command asks: the index of the folders, a database, or an export.

    Raises
    ------
    RecordError
        If nothing is named that could be asked, or more than one thing.
    """
    check_one(options)
    if options.parquet is not None:
        from commission.desk.engines.duckdb import Fleet

        with Fleet(options.parquet) as fleet:
            yield fleet
    elif options.postgres is not None:
        from commission.desk.engines.postgres import Shared
        from commission.desk.opening import usual_steps

        with Shared(options.postgres, usual_steps) as shared:
            if options.folders:
                with _progress() as build:
                    shared.update([Path(folder) for folder in options.folders], build)
            yield shared
    else:
        with asked(options) as index:
            yield index


def check_one(options: argparse.Namespace) -> None:
    """Refuse what could not be asked, or more than one thing.

    Raises
    ------
    RecordError
        If nothing is named, or what does not go together.
    """
    from commission.errors import Problem, RecordError

    told = [name for name in ("postgres", "parquet") if getattr(options, name) is not None]
    given = ", ".join(f"--{name}" for name in told)
    beside = [name for name in ("index", "check_all") if getattr(options, name)]
    if not told and not options.folders:
        raise RecordError([Problem("desk", "FOLDER", "", "is missing", "a folder of records")])
    if len(told) == 2 or (told and beside) or ("parquet" in told and options.folders):
        right = "one of: folders, --postgres URL with or without folders, --parquet PLACE"
        raise RecordError([Problem("desk", given, "", "does not go with what else is named", right)])


@contextmanager
def _progress() -> Iterator[Progress]:
    """Yield what tells on a terminal how far reading has come, and leave nothing of it behind."""
    from commission.desk.progress import Build

    told = [False]

    def say(text: str) -> None:
        told[0] = True
        print_over(text)

    try:
        yield Build(say if sys.stderr.isatty() else lambda _: None)
    finally:
        if told[0]:
            print_over("")


def print_over(text: str) -> None:
    """Write a line over the last one on the terminal, so that progress leaves nothing behind."""
    sys.stderr.write(f"\r\x1b[K{text[:100]}")
    sys.stderr.flush()


def now() -> datetime:
    """Return the time here, with its offset."""
    from datetime import datetime

    return datetime.now().astimezone()


def moment() -> int:
    """Return the time in seconds since 1970."""
    return int(now().timestamp())
