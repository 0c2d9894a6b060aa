"""The command line of the desk: many records at once, in the app or without a screen.

Exit codes as everywhere: 0 nothing is open, 1 something is, 2 bad input; what open means stands with each.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from commission.cli_voice import BAD_INPUT, OK, OPEN, Commands, Voice

if TYPE_CHECKING:
    from commission.desk.index import Index, Progress
    from commission.desk.listing import Answers
    from commission.desk.watch import Caution

_OPEN_SCORE: Final = 4
"""Sites that score up to this have something open: up to what was accepted or put off."""


def add_commands(command: Commands) -> None:
    """Add the commands of the desk."""
    desk = command(
        "desk", _desk, "records of many sites: what is open, due, drifting; review and countersign", json=True
    )
    _folders(desk, engines=True)
    due = command("due", _due, "which service is due where; exit code 1 where one is overdue", json=True)
    _folders(due, engines=True)
    due.add_argument(
        "--by", type=_day, metavar="DATE", help="everything due until this day; without one, overdue"
    )
    trend = command(
        "trend",
        _trend,
        "how a reading of a site went over the years; exit code 1 where its limit is passed",
        json=True,
    )
    _folders(trend, beside=("site", "reading"))
    trend.add_argument("--ascii", action="store_true", help="draw the chart with plain letters only")
    outlook = command(
        "outlook",
        _outlook,
        "which batteries, joints and arrays come to a limit soon; exit code 1 where one does",
        json=True,
    )
    _folders(outlook)
    outlook.add_argument(
        "--years",
        type=_years,
        default=1.0,
        metavar="N",
        help="within how many years; 1 unless told otherwise",
    )
    outlook.add_argument(
        "--possible", action="store_true", help="also what comes to it only if it goes on as fast as it may"
    )
    compare = command(
        "compare",
        _compare,
        "what differs between two records, and nothing else; exit code 1 where something does",
        json=True,
    )
    compare.add_argument("first", type=Path, metavar="A", help="a record")
    compare.add_argument("second", type=Path, metavar="B", help="another record, as a rule the later one")
    export = command(
        "export", _export, "every row of the desk as CSV or Parquet, for other programs", json=True
    )
    _folders(export)
    export.add_argument(
        "--to",
        required=True,
        metavar="PLACE",
        help="folder, or one file with --table; of Parquet any store's address",
    )
    export.add_argument(
        "--format", choices=("csv", "parquet"), default="csv", help="csv unless told otherwise"
    )
    export.add_argument("--table", metavar="NAME", help="only this table, as a CSV file")
    recall = command(
        "recall",
        _recall,
        "all sites that have a battery profile, firmware, device, instrument or setting",
        json=True,
    )
    _folders(recall, engines=True)
    _recall_options(recall)


def _folders(parser: argparse.ArgumentParser, beside: tuple[str, ...] = (), *, engines: bool = False) -> None:
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


def _recall_options(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--profile", metavar="ID", help="battery profile, such as agm")
    parser.add_argument("--device", metavar="CLASS", help="class of device, such as inverter-48v-230-5000")
    parser.add_argument(
        "--firmware", metavar="[CLASS=]VERSION", help="firmware version, of any class or of one"
    )
    parser.add_argument("--instrument", metavar="SERIAL", help="serial number of a meter that was used there")
    parser.add_argument(
        "--setting",
        metavar="NAME=VALUE",
        help="a setting left so: absorption_voltage=57.6, =57.6..58.4, =off",
    )
    parser.add_argument(
        "--list", metavar="KIND", choices=tuple(_KINDS), help="what there is of a kind to recall"
    )


_KINDS: Final = {
    "profile": "battery profile",
    "device": "device",
    "firmware": "firmware",
    "instrument": "instrument",
    "setting": "setting",
}
"""Options of recall and the kinds of the index."""


def _day(text: str) -> int:
    """Return the end of a day that was typed, in seconds since 1970."""
    from datetime import UTC, datetime

    try:
        return int(datetime.strptime(text, "%Y-%m-%d").replace(tzinfo=UTC).timestamp()) + 86400
    except (ValueError, OverflowError):
        raise argparse.ArgumentTypeError(f"{text!r} is no date; write 2026-12-31") from None


def _years(text: str) -> float:
    """Return a number of years that was typed."""
    try:
        years = float(text.replace(",", "."))
    except ValueError:
        years = -1.0
    if not 0.0 <= years <= 100.0:
        raise argparse.ArgumentTypeError(f"{text!r} is no number of years; write one between 0 and 100")
    return years


# the index


def _opening(options: argparse.Namespace) -> Callable[[], Index]:
    import os

    from commission.desk.opening import index_named, index_of

    folders = [Path(folder) for folder in options.folders]
    if options.index is not None:
        path: Path = options.index
        return lambda: index_named(path, folders)
    return lambda: index_of(folders, environment=os.environ, platform=sys.platform, home=Path.home())


@contextmanager
def _asked(options: argparse.Namespace) -> Iterator[Index]:
    """Yield the index, up to date with its folders."""
    with _opening(options)() as index:
        with _progress() as build:
            if options.check_all:
                index.check_all(_now(), build)
            else:
                index.update(build)
        yield index


@contextmanager
def _answers(options: argparse.Namespace) -> Iterator[Answers]:
    """Yield what a command asks: the index of the folders, a database, or an export.

    Raises
    ------
    RecordError
        If nothing is named that could be asked, or more than one thing.
    """
    _check_one(options)
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
        with _asked(options) as index:
            yield index


def _check_one(options: argparse.Namespace) -> None:
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


def _now() -> Any:
    from datetime import datetime

    return datetime.now().astimezone()


def _moment() -> int:
    return int(_now().timestamp())


# the commands


def _desk(options: argparse.Namespace, voice: Voice) -> int:
    if not options.json:
        _check_one(options)
        if options.postgres is not None or options.parquet is not None:
            voice.complain("--postgres and --parquet are asked without a screen: use --json, due or recall")
            return BAD_INPUT
        if not voice.can_show(options, "without one use --json, or the commands due, trend, compare, recall"):
            return BAD_INPUT
        from commission.screens.desk_app import run_desk

        return run_desk(_opening(options), visits=options.visits, check_all=options.check_all)
    from commission.desk.told import desk_json

    with _answers(options) as index:
        told = desk_json(index, _now())
    voice.print_json(told)
    return OPEN if any(site["score"] <= _OPEN_SCORE for site in told["sites"]) else OK


def _due(options: argparse.Namespace, voice: Voice) -> int:
    from commission.desk.told import due_lines, due_told

    now = _moment()
    with _answers(options) as index:
        rows = due_told(index, now if options.by is None else options.by, now)
    if options.json:
        voice.print_json(rows)
    else:
        for line in due_lines(rows, now):
            voice.say(line)
    return OPEN if any(row["overdue"] for row in rows) else OK


def _trend(options: argparse.Namespace, voice: Voice) -> int:
    from commission.desk.told import trend_of_site
    from commission.desk.trend_text import drawn, points_lines, trend_json

    with _asked(options) as index:
        name, found, limits, passed_over = trend_of_site(index, options.site, options.reading)
    for text in passed_over:
        voice.complain(text)
    if options.json:
        voice.print_json(trend_json(name, found))
    else:
        voice.say(name)
        lines = list(points_lines(found))
        voice.say(lines[0])
        voice.say("")
        voice.say(drawn(found, limits, glyphs="ascii" if options.ascii else "box"))
        for line in lines[1:]:
            voice.say(line)
    return OPEN if found.reached is not None and found.reached.when == "reached" else OK


def _outlook(options: argparse.Namespace, voice: Voice) -> int:
    from datetime import timedelta

    from commission.desk.told import outlook_json, outlook_lines, outlook_of_sites

    caution: Caution = "possible" if options.possible else "likely"
    with _asked(options) as index:
        found = outlook_of_sites(index, _now(), timedelta(days=365.25 * options.years), caution)
    for text in found.passed_over:
        voice.complain(text)
    if options.json:
        voice.print_json(outlook_json(found))
    else:
        for line in outlook_lines(found):
            voice.say(line)
    return OPEN if found.soon else OK


def _compare(options: argparse.Namespace, voice: Voice) -> int:
    from commission.desk.compare import compare_files
    from commission.desk.compare_text import compared_json, compared_lines

    found = compare_files(options.first, options.second)
    if options.json:
        voice.print_json(compared_json(found))
    else:
        for line in compared_lines(found):
            voice.say(line)
    return OPEN if found.changes else OK


def _export(options: argparse.Namespace, voice: Voice) -> int:
    from commission.desk.export import export_csv, export_parquet
    from commission.desk.export_all import export_all_csv

    with _asked(options) as index:
        if options.format == "parquet":
            counts = export_parquet(index, options.to)
        elif options.table is not None:
            counts = {options.table: export_csv(index, options.table, Path(options.to))}
        else:
            counts = export_all_csv(index, Path(options.to))
    if options.json:
        voice.print_json({"to": options.to, "rows": counts})
    else:
        for name, count in counts.items():
            voice.say(f"{count:>10,}  {name}")
        voice.say(f"written: {options.to}")
    return OK


def _recall(options: argparse.Namespace, voice: Voice) -> int:
    from commission.desk.told import recall_lines, recalled, what_there_is

    with _answers(options) as index:
        if options.list is not None:
            rows = what_there_is(index, _KINDS[options.list])
            lines = [f"{row['name']} {row['value']}".strip() + f"  at {row['sites']:,} sites" for row in rows]
        else:
            named = {kind: getattr(options, option) for option, kind in _KINDS.items()}
            rows = recalled(index, {kind: told for kind, told in named.items() if told is not None})
            lines = list(recall_lines(rows))
    if options.json:
        voice.print_json(rows)
    else:
        for line in lines:
            voice.say(line)
    return OK
