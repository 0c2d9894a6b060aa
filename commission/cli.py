"""The command line: what the app can do, without a screen."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence
from contextlib import suppress
from io import TextIOWrapper
from pathlib import Path
from typing import Any, Final, NoReturn, TextIO

from commission import __version__
from commission.cli_desk import add_commands as add_desk
from commission.cli_formulas import add_command as add_formulas
from commission.cli_practice import add_options as add_practice_options
from commission.cli_records import add_commands as add_records
from commission.cli_service import NOTHING_ASKED
from commission.cli_service import add_options as add_service_options
from commission.cli_site import add_commands as add_site
from commission.cli_voice import BAD_INPUT, CAUTION, OK, Commands, Run, Voice
from commission.errors import CommissionError, harmless


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command and return its exit code: 2 bad input, 1 something is open, 0 otherwise."""
    _print_what_the_terminal_can()
    options = _parser().parse_args(arguments)
    run: Run = options.run
    try:
        code = run(options, _VOICE)
        sys.stdout.flush()
    except CommissionError as error:
        _complain(str(error))
        return BAD_INPUT
    except BrokenPipeError:
        # the reader of a pipe has seen enough; nothing more can be said to it
        _drop_output()
        unread: int = options.unread
        return unread
    except OSError as error:
        _drop_output()
        _complain(f"cannot go on: {error.filename or 'the output'}: {error.strerror or error}")
        return BAD_INPUT
    except KeyboardInterrupt:
        return BAD_INPUT
    return code


def _print_what_the_terminal_can() -> None:
    """Let a sign that the terminal's encoding does not have become a question mark, not an end."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, TextIOWrapper) and not _has_every_sign(stream):
            stream.reconfigure(errors="replace")


def _has_every_sign(stream: TextIO) -> bool:
    return (stream.encoding or "").lower().replace("-", "").startswith("utf")


def _drop_output() -> None:
    """Send what is still to be written nowhere, or the interpreter would stumble over it at its end."""
    import os

    with suppress(OSError, ValueError):
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


class _Parser(argparse.ArgumentParser):
    """Says what was typed wrong without handing it to the terminal as it came."""

    def error(self, message: str) -> NoReturn:
        super().error(harmless(message))


def _parser() -> argparse.ArgumentParser:
    parser = _Parser(
        prog="commission",
        description="Commission a battery-based power plant: from the site file to the signed record.",
        epilog=CAUTION,
    )
    parser.add_argument("--version", action="version", version=f"commission {__version__}")
    parser.set_defaults(run=_app, unread=OK, site=None, records=None, visits=None, no_colour=False)
    parser.add_argument("--no-colour", action="store_true", help="use bold and reverse only")
    parser.add_argument("--visits", type=Path, metavar="FOLDER", help="where visits in work are kept")
    command = _adding_to(parser.add_subparsers(metavar="COMMAND", title="commands"))
    _add_app(command)
    add_site(command)
    add_records(command)
    add_desk(command)
    _add_schema(command)
    practice = "invented sites with years of records, to try things on"
    add_practice_options(command("practice-fleet", _practice, practice, json=True))
    add_formulas(command)
    return parser


def _adding_to(commands: Any) -> Commands:
    def command(
        name: str, run: Run, text: str, *, site: str = "", json: bool = False, why: bool = False
    ) -> argparse.ArgumentParser:
        parser: argparse.ArgumentParser = commands.add_parser(
            name, help=text, description=text, epilog=CAUTION
        )
        parser.set_defaults(run=run)
        if site:
            count = "?" if site == "?" else None
            parser.add_argument(
                "site", nargs=count, type=Path, help="site file, or the name of a sample site"
            )
        if json:
            parser.add_argument("--json", action="store_true", help="machine-readable, with stable keys")
        if why:
            parser.add_argument("--why", action="store_true", help="show the lineage of every number")
        return parser

    return command


def _add_app(command: Commands) -> None:
    opened = command("open", _app, "open a site or resume its visit in the app", site="?")
    opened.add_argument(
        "--records", type=Path, metavar="FOLDER", help="records of the site; else beside its file, or here"
    )
    opened.set_defaults(**NOTHING_ASKED)
    service = "a service visit: what is due, or its walk in the app"
    add_service_options(command("service", _service, service, json=True))


def _add_schema(command: Commands) -> None:
    schema = command("schema", _schema, "print the JSON Schema of a kind of file", json=True)
    schema.add_argument(
        "name",
        nargs="?",
        choices=("site", "profile-battery", "profile-equipment", "profile-rules", "checklist", "readings",
                 "record", "keys"),
        help="the kind of file; without one, the kinds are listed",
    )  # fmt: skip


def _complain(text: str) -> None:
    print(harmless(text), file=sys.stderr)


def _say(text: str) -> None:
    print(harmless(text))


def _print_json(value: Any) -> None:
    from commission.plain import json_text

    print(json_text(value, ascii_only=not _has_every_sign(sys.stdout)))


def _can_show(options: argparse.Namespace, instead: str) -> bool:
    """Say whether there is a terminal for the app, and complain where there is none."""
    import os

    if not (sys.stdin.isatty() and sys.stderr.isatty()) or os.environ.get("TERM") == "dumb":
        _complain(f"the app needs a terminal; {instead}")
        return False
    if options.no_colour:
        os.environ["NO_COLOR"] = "1"
    return True


_VOICE: Final = Voice(_say, _complain, _print_json, _can_show)


def _app(options: argparse.Namespace, voice: Voice) -> int:
    if not voice.can_show(options, "without one use the commands, see commission --help"):
        return BAD_INPUT
    if options.site is not None and options.site.is_file():
        from commission.records.read import is_record

        if is_record(options.site):  # of a site that is visited again, or that a supervisor returned
            return _service(options, voice)
    from commission.screens.app import run

    return run(site=options.site, records=options.records, visits=options.visits)


def _practice(options: argparse.Namespace, voice: Voice) -> int:
    import os
    from dataclasses import asdict
    from datetime import UTC, datetime

    from commission.cli_practice import made_by, told

    def progress(done: int, whole: int) -> None:
        if sys.stderr.isatty():
            print(
                f"\r{done} of {whole} sites", end="\n" if done == whole else "", file=sys.stderr, flush=True
            )

    fleet = made_by(options, datetime.now(UTC).astimezone().date(), os.cpu_count() or 1, progress)
    if options.json:
        voice.print_json({**asdict(fleet), "folder": str(fleet.folder)})
    else:
        voice.say(told(fleet))
    return OK


def _service(options: argparse.Namespace, voice: Voice) -> int:
    from datetime import datetime

    from commission.cli_service import offer_for, wanted_by

    if not (options.json or options.list) and not voice.can_show(options, "without one use --list or --json"):
        return BAD_INPUT
    offer = offer_for(options, datetime.now().astimezone().date())
    wanted = wanted_by(options, offer)
    offer.service(wanted)  # a part that is not there is told before anything is shown
    for warning in offer.warnings:
        voice.complain(f"warning: {warning}")
    if options.json or options.list:
        from commission.revisit.told import offer_json, offer_lines

        if options.json:
            voice.print_json(offer_json(offer, wanted))
            return OK
        for line in (*offer_lines(offer, wanted), "", CAUTION):
            voice.say(line)
        return OK
    from commission.screens.app import run

    return run(site=options.site, records=options.records, visits=options.visits, offer=(offer, wanted))


def _schema(options: argparse.Namespace, voice: Voice) -> int:
    from commission.records.schema import NAMES, schema_of

    if options.name is not None:
        voice.print_json(schema_of(options.name))
    elif options.json:
        voice.print_json(list(NAMES))
    else:
        for name in NAMES:
            voice.say(f"{name:<20} {schema_of(name)['description']}")
    return OK


if __name__ == "__main__":
    sys.exit(main())
