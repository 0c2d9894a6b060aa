"""The command line of the desk: many records at once, in the app or without a screen.

Exit codes as everywhere: 0 nothing is open, 1 something is, 2 bad input; what open means stands with each.
"""

from __future__ import annotations

import argparse
from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from commission.cli_index import add_folders, answers, asked, check_one, moment, now, opening
from commission.cli_voice import BAD_INPUT, OK, OPEN, Commands, Voice

if TYPE_CHECKING:
    from commission.desk.watch import Caution

_OPEN_SCORE: Final = 4
"""Sites that score up to this have something open: up to what was accepted or put off."""


def add_commands(command: Commands) -> None:
    """Add the commands of the desk."""
    for add in (
        _add_desk, _add_list, _add_due, _add_trend, _add_outlook, _add_meters, _add_compare, _add_recall,
        _add_export,
    ):  # fmt: skip
        add(command)


def _tell(options: argparse.Namespace, voice: Voice, code: int, found: Any, lines: Iterable[str]) -> int:
    """Say what was found; the exit code is the same for whoever stops reading after the first line."""
    options.unread = code
    if options.json:
        voice.print_json(found)
    else:
        for line in lines:
            voice.say(line)
    return code


# desk


def _add_desk(command: Commands) -> None:
    text = "records of many sites: what is open, due, drifting; review and countersign"
    add_folders(command("desk", _desk, text, json=True), engines=True)


def _desk(options: argparse.Namespace, voice: Voice) -> int:
    if not options.json:
        return _desk_shown(options, voice)
    from commission.desk.told import desk_json

    with answers(options) as index:
        told = desk_json(index, now())
    code = OPEN if any(site["score"] <= _OPEN_SCORE for site in told["sites"]) else OK
    return _tell(options, voice, code, told, ())


def _desk_shown(options: argparse.Namespace, voice: Voice) -> int:
    check_one(options)
    if options.postgres is not None or options.parquet is not None:
        voice.complain(
            "--postgres and --parquet are asked without a screen: use --json, list, due, meters or recall"
        )
        return BAD_INPUT
    if not voice.can_show(
        options, "without one use --json, or the commands list, due, trend, compare, recall"
    ):
        return BAD_INPUT
    from commission.screens.desk_app import run_desk

    return run_desk(opening(options), visits=options.visits, check_all=options.check_all)


# list


def _add_list(command: Commands) -> None:
    text = "records that wait, are odd or hold something of a kind; exit code 1 where there are any"
    listed = command("list", _list, text, json=True)
    add_folders(listed, engines=True)
    listed.add_argument("--of", metavar="LIST", help="which list; without one, what there is and how many")
    listed.add_argument("--technician", metavar="NAME", help="the records of this technician instead")
    words = "only records with these words: site, place, people, serial numbers, notes"
    listed.add_argument("--words", default="", metavar="WORDS", help=words)


def _list(options: argparse.Namespace, voice: Voice) -> int:
    from commission.desk import worklists

    if options.of is None and options.technician is None:
        with answers(options) as index:
            many = worklists.counts(index)
        return _tell(options, voice, OPEN if any(many.values()) else OK, many, worklists.count_lines(many))
    wanted = worklists.named(options.of, options.technician)
    with answers(options) as index:
        rows = worklists.listed(index, wanted, options.words)
    lines = worklists.worklist_lines(rows, moment())
    return _tell(options, voice, OPEN if rows else OK, worklists.worklist_json(rows), lines)


# due


def _add_due(command: Commands) -> None:
    due = command("due", _due, "which service is due where; exit code 1 where one is overdue", json=True)
    add_folders(due, engines=True)
    due.add_argument(
        "--by", type=_day, metavar="DATE", help="everything due until this day; without one, overdue"
    )


def _due(options: argparse.Namespace, voice: Voice) -> int:
    from commission.desk.told import due_lines, due_told

    at = moment()
    with answers(options) as index:
        rows = due_told(index, at if options.by is None else options.by, at)
    code = OPEN if any(row["overdue"] for row in rows) else OK
    return _tell(options, voice, code, rows, due_lines(rows, at))


def _day(text: str) -> int:
    """Return the end of a day that was typed, in seconds since 1970."""
    from datetime import UTC, datetime

    try:
        return int(datetime.strptime(text, "%Y-%m-%d").replace(tzinfo=UTC).timestamp()) + 86400
    except (ValueError, OverflowError):
        raise argparse.ArgumentTypeError(f"{text!r} is no date; write 2026-12-31") from None


# trend


def _add_trend(command: Commands) -> None:
    text = "how a reading of a site went over the years; exit code 1 where its limit is passed"
    trend = command("trend", _trend, text, json=True)
    add_folders(trend, beside=("site", "reading"))
    trend.add_argument("--ascii", action="store_true", help="draw the chart with plain letters only")


def _trend(options: argparse.Namespace, voice: Voice) -> int:
    from commission.desk.told import reading_words, trend_of_site
    from commission.desk.trend_text import (
        CHART_SIGNS,
        drawn,
        folded,
        points_lines,
        said_lines,
        trend_json,
    )  # fmt: skip

    with asked(options) as index:
        name, found, limits, passed_over = trend_of_site(index, options.site, options.reading)
    for text in passed_over:
        voice.complain(text)
    at = now()
    lines = [
        *folded([reading_words(name), *said_lines(found, at)]),
        "",
        drawn(found, limits, glyphs="ascii" if options.ascii else "box"),
        CHART_SIGNS,
        "",
        *folded(points_lines(found)),
    ]
    code = OPEN if found.reached is not None and found.reached.when == "reached" else OK
    return _tell(options, voice, code, trend_json(name, found, at), lines)


# outlook


def _add_outlook(command: Commands) -> None:
    text = "which batteries, joints and arrays come to a limit soon; exit code 1 where one does"
    outlook = command("outlook", _outlook, text, json=True)
    add_folders(outlook)
    within = "within how many years; 1 unless told otherwise"
    outlook.add_argument("--years", type=_years, default=1.0, metavar="N", help=within)
    possible = "also what comes to it only if it goes on as fast as it may"
    outlook.add_argument("--possible", action="store_true", help=possible)


def _outlook(options: argparse.Namespace, voice: Voice) -> int:
    from datetime import timedelta

    from commission.desk.told import outlook_json, outlook_lines, outlook_of_sites

    caution: Caution = "possible" if options.possible else "likely"
    with asked(options) as index:
        at = now()
        found = outlook_of_sites(index, at, timedelta(days=365.25 * options.years), caution)
    for text in found.passed_over:
        voice.complain(text)
    code = OPEN if found.soon else OK
    return _tell(options, voice, code, outlook_json(found, at), outlook_lines(found, at))


def _years(text: str) -> float:
    """Return a number of years that was typed."""
    try:
        years = float(text.replace(",", "."))
    except ValueError:
        years = -1.0
    if not 0.0 <= years <= 100.0:
        raise argparse.ArgumentTypeError(f"{text!r} is no number of years; write one between 0 and 100")
    return years


# meters


def _add_meters(command: Commands) -> None:
    text = "instruments that read otherwise than others, over all sites; exit code 1 where one does"
    add_folders(command("meters", _meters, text, json=True), engines=True)


def _meters(options: argparse.Namespace, voice: Voice) -> int:
    from commission.desk.meters import meter_lines, meters_json, meters_told

    with answers(options) as index:
        told = meters_told(index)
    odd = any(one.found is not None and one.found.odd for one in told)
    return _tell(options, voice, OPEN if odd else OK, meters_json(told), meter_lines(told))


# compare


def _add_compare(command: Commands) -> None:
    text = "what differs between two records, and nothing else; exit code 1 where something does"
    compare = command("compare", _compare, text, json=True)
    compare.add_argument("first", type=Path, metavar="A", help="a record")
    compare.add_argument("second", type=Path, metavar="B", help="another record, as a rule the later one")


def _compare(options: argparse.Namespace, voice: Voice) -> int:
    from commission.desk.compare import compare_files
    from commission.desk.compare_text import compared_json, compared_lines

    found = compare_files(options.first, options.second)
    return _tell(options, voice, OPEN if found.changes else OK, compared_json(found), compared_lines(found))


# recall


def _add_recall(command: Commands) -> None:
    text = "all sites that have a battery profile, firmware, device, instrument or setting"
    recall = command("recall", _recall, text, json=True)
    add_folders(recall, engines=True)
    _recall_options(recall)


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


def _recall(options: argparse.Namespace, voice: Voice) -> int:
    from commission.desk.told import held_lines, recall_lines, recalled, what_there_is

    with answers(options) as index:
        if options.list is not None:
            rows = what_there_is(index, _KINDS[options.list])
            lines = list(held_lines(rows))
        else:
            named = {kind: getattr(options, option) for option, kind in _KINDS.items()}
            rows = recalled(index, {kind: told for kind, told in named.items() if told is not None})
            lines = list(recall_lines(rows))
    return _tell(options, voice, OK, rows, lines)


# export


def _add_export(command: Commands) -> None:
    text = "every row of the desk as CSV or Parquet, for other programs"
    export = command("export", _export, text, json=True)
    add_folders(export)
    place = "folder, or one file with --table; of Parquet any store's address"
    export.add_argument("--to", required=True, metavar="PLACE", help=place)
    export.add_argument(
        "--format", choices=("csv", "parquet"), default="csv", help="csv unless told otherwise"
    )
    export.add_argument("--table", metavar="NAME", help="only this table, as a CSV file")


def _export(options: argparse.Namespace, voice: Voice) -> int:
    from commission.desk.export import export_csv, export_parquet
    from commission.desk.export_all import export_all_csv

    with asked(options) as index:
        if options.format == "parquet":
            counts = export_parquet(index, options.to)
        elif options.table is not None:
            counts = {options.table: export_csv(index, options.table, Path(options.to))}
        else:
            counts = export_all_csv(index, Path(options.to))
    lines = [*(f"{count:>10,}  {name}" for name, count in counts.items()), f"written: {options.to}"]
    return _tell(options, voice, OK, {"to": options.to, "rows": counts}, lines)
