"""The command line: what the app can do, without a screen."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable, Iterator, Sequence
from contextlib import suppress
from io import TextIOWrapper
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, NoReturn, TextIO

from commission import __version__
from commission.cli_desk import Voice
from commission.cli_desk import add_commands as add_desk_commands
from commission.cli_practice import add_options as add_practice_options
from commission.cli_service import NOTHING_ASKED
from commission.cli_service import add_options as add_service_options
from commission.errors import CommissionError, harmless

if TYPE_CHECKING:
    from commission.figure import Formula
    from commission.plain import Anew
    from commission.plant.files import LoadedPlant
    from commission.records.seals import Asked
    from commission.records.types import VerifyResult

OK: Final = 0
OPEN: Final = 1
"""A stop, correct or not checked finding; a reading that failed, stopped work or was not judged."""
BAD_INPUT: Final = 2
UNCONFIRMED: Final = 3
"""A record is intact, but what it says cannot be worked out anew as it stands: another version, own files."""
UNKNOWN_KEY: Final = 4
"""A record is intact, but sealed by a key that the list of known keys does not have, or does not count."""

CAUTION: Final = (
    "The program advises. The maker's instructions, the local code and licensed people prevail. "
    "Never work live where dead is possible."
)


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command and return its exit code: 2 bad input, 1 something is open, 0 otherwise."""
    _print_what_the_terminal_can()
    options = _parser().parse_args(arguments)
    command: Callable[[argparse.Namespace], int] = options.command
    try:
        code = command(options)
        sys.stdout.flush()
    except CommissionError as error:
        _complain(str(error))
        return BAD_INPUT
    except BrokenPipeError:
        # the reader of a pipe has seen enough; nothing more can be said to it
        _drop_output()
        return OPEN if command is _verify else OK  # what was not read is not confirmed
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
    parser.set_defaults(command=_app, site=None, records=None, visits=None, no_colour=False)
    parser.add_argument("--no-colour", action="store_true", help="use bold and reverse only")
    parser.add_argument("--visits", type=Path, metavar="FOLDER", help="where visits in work are kept")
    commands = parser.add_subparsers(metavar="COMMAND", title="commands")
    opened = _add(commands, "open", _app, "open a site or resume its visit in the app", site="?")
    opened.add_argument(
        "--records", type=Path, metavar="FOLDER", help="records of the site; else beside its file, or here"
    )
    opened.set_defaults(**NOTHING_ASKED)
    add_service_options(
        _add(commands, "service", _service, "a service visit: what is due, or its walk in the app", json=True)
    )
    _add(commands, "new", _new, "write a new site file with comments", site="path")
    _add(commands, "sites", _sites, "list the sample sites that come with the program", json=True)
    _add(
        commands,
        "sheet",
        _sheet,
        "settings of every device, with range and lineage",
        site="one",
        json=True,
        why=True,
    )
    check = _add(
        commands,
        "check",
        _check,
        "findings of the design check, worst first",
        site="one",
        json=True,
        why=True,
    )
    check.add_argument(
        "--words",
        action="store_true",
        help="the words by which a second person releases a stop, where one may be released",
    )
    _add(commands, "checklist", _checklist, "stages, steps and readings of a site", site="one", json=True)
    judge = _add(
        commands,
        "judge",
        _judge,
        "judge a file of readings and write an unsigned record",
        site="one",
        json=True,
    )
    judge.add_argument("readings", type=Path, help="TOML file of readings")
    judge.add_argument(
        "--record", type=Path, metavar="FOLDER", default=Path(), help="where the record is written"
    )
    judge.add_argument(
        "--after", type=Path, metavar="RECORD", help="the site's record before, which the new one then names"
    )
    verify = _add(
        commands,
        "verify",
        _verify,
        "check a record: seals, counts, and every number worked out anew",
        json=True,
    )
    verify.add_argument("records", type=_named, nargs="+", help="records, or folders of records")
    verify.add_argument(
        "--seals-only", action="store_true", help="do not work settings, findings and verdicts out anew"
    )
    verify.add_argument(
        "--known", type=Path, metavar="FILE", help="list of known keys; the usual one where none"
    )
    _add_keys(commands)
    for says, text in (("countersign", "countersign a record"), ("return", "return a record with comments")):
        answer = _add(commands, says, _answer, text)
        answer.add_argument("record", type=Path, help="a signed record")
        answer.add_argument("--key", type=Path, help="your key file; without one, --name and --role")
        answer.add_argument("--name", default="", help="who answers, without a key")
        answer.add_argument("--role", default="supervisor", help="in which role, without a key")
        answer.add_argument(
            "--comment", action="append", default=[], metavar="[STEP:] TEXT", help="to a step or to the whole"
        )
        answer.set_defaults(says="countersigned" if says == "countersign" else "returned")
    add_desk_commands(commands, _add, Voice(_say, _complain, _print_json, _can_show))
    schema = _add(commands, "schema", _schema, "print the JSON Schema of a kind of file", json=True)
    schema.add_argument(
        "name",
        nargs="?",
        choices=("site", "profile-battery", "profile-equipment", "profile-rules", "checklist", "readings",
                 "record", "keys"),
        help="the kind of file; without one, the kinds are listed",
    )  # fmt: skip
    add_practice_options(
        _add(
            commands,
            "practice-fleet",
            _practice,
            "invented sites with years of records, to try things on",
            json=True,
        )
    )
    formulas = _add(commands, "formulas", _formulas, "list the formulas, or work one out by hand", json=True)
    formulas.add_argument("name", nargs="?", help="the formula's name")
    formulas.add_argument("values", nargs="*", metavar="key=value", help="its inputs, in the units it names")
    return parser


def _named(text: str) -> Path:
    """Return a path that was named; an empty name would be the folder where one stands."""
    if not text:
        raise argparse.ArgumentTypeError("an empty name; name a record or a folder of records")
    return Path(text)


def _add_keys(commands: Any) -> None:
    keys = _add(
        commands, "keys", _keys, "your keys and those that you know, with their fingerprints", json=True
    )
    keys.add_argument("--new", metavar="NAME", help="make a key of this name; asks for a passphrase twice")
    keys.add_argument("--role", default="technician", help="role of the new key: technician, supervisor")
    keys.add_argument(
        "--folder", type=Path, help="where keys are kept; beside the visits where none is named"
    )
    keys.add_argument(
        "--known", type=Path, metavar="FILE", help="list of known keys; the usual one where none"
    )
    keys.add_argument(
        "--line", type=Path, metavar="KEY", help="print the line of a key for a list of known keys"
    )


def _add(
    commands: Any,
    name: str,
    command: Callable[[argparse.Namespace], int],
    text: str,
    *,
    site: str = "",
    json: bool = False,
    why: bool = False,
) -> argparse.ArgumentParser:
    parser: argparse.ArgumentParser = commands.add_parser(name, help=text, description=text, epilog=CAUTION)
    parser.set_defaults(command=command)
    if site:
        count = "?" if site == "?" else None
        parser.add_argument("site", nargs=count, type=Path, help="site file, or the name of a sample site")
    if json:
        parser.add_argument("--json", action="store_true", help="machine-readable, with stable keys")
    if why:
        parser.add_argument("--why", action="store_true", help="show the lineage of every number")
    return parser


def _complain(text: str) -> None:
    print(harmless(text), file=sys.stderr)


def _say(text: str) -> None:
    print(harmless(text))


def _print_json(value: Any) -> None:
    from commission.plain import json_text

    print(json_text(value, ascii_only=not _has_every_sign(sys.stdout)))


def _load(path: Path) -> LoadedPlant:
    from commission.plant.files import load_plant
    from commission.plant.places import site_path

    loaded = load_plant(site_path(path))
    for warning in loaded.warnings:
        _complain(f"warning: {warning}")
    return loaded


# the app


def _app(options: argparse.Namespace) -> int:
    if not _can_show(options, "without one use the commands, see commission --help"):
        return BAD_INPUT
    if options.site is not None and options.site.is_file():
        from commission.records.read import is_record

        if is_record(options.site):  # of a site that is visited again, or that a supervisor returned
            return _service(options)
    from commission.screens.app import run

    return run(site=options.site, records=options.records, visits=options.visits)


def _can_show(options: argparse.Namespace, instead: str) -> bool:
    """Say whether there is a terminal for the app, and complain where there is none."""
    import os

    if not (sys.stdin.isatty() and sys.stderr.isatty()) or os.environ.get("TERM") == "dumb":
        _complain(f"the app needs a terminal; {instead}")
        return False
    if options.no_colour:
        os.environ["NO_COLOR"] = "1"
    return True


def _practice(options: argparse.Namespace) -> int:
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
        _print_json({**asdict(fleet), "folder": str(fleet.folder)})
    else:
        _say(told(fleet))
    return OK


def _service(options: argparse.Namespace) -> int:
    from datetime import datetime

    from commission.cli_service import offer_for, wanted_by

    if not (options.json or options.list) and not _can_show(options, "without one use --list or --json"):
        return BAD_INPUT
    offer = offer_for(options, datetime.now().astimezone().date())
    wanted = wanted_by(options, offer)
    offer.service(wanted)  # a part that is not there is told before anything is shown
    for warning in offer.warnings:
        _complain(f"warning: {warning}")
    if options.json or options.list:
        from commission.revisit.told import offer_json, offer_lines

        if options.json:
            _print_json(offer_json(offer, wanted))
            return OK
        for line in (*offer_lines(offer, wanted), "", CAUTION):
            _say(line)
        return OK
    from commission.screens.app import run

    return run(site=options.site, records=options.records, visits=options.visits, offer=(offer, wanted))


# without a screen


def _new(options: argparse.Namespace) -> int:
    from commission.plant.template import new_site

    path: Path = options.site
    if not path.name:
        _complain(f"new: '{path}' is no name of a file; give one such as my-site.toml")
        return BAD_INPUT
    written = path if path.suffix == ".toml" else path.with_name(f"{path.name}.toml")
    new_site(written, written.stem, written.stem.replace("-", " ").capitalize())
    _say(f"written: {written}")
    _say(f"Fill it in, then: commission check {written}")
    return OK


def _sites(options: argparse.Namespace) -> int:
    from commission.plant.files import load_plant
    from commission.plant.places import sample_sites

    rows = [
        {"id": path.stem, "name": load_plant(path).plant.site.site.name, "file": str(path)}
        for path in sample_sites()
    ]
    if options.json:
        _print_json(rows)
    else:
        for row in rows:
            _say(f"{row['id']:<28} {row['name']}")
    return OK


def _sheet(options: argparse.Namespace) -> int:
    from commission import plain
    from commission.design.check import checked_sheet

    plant = _load(options.site).plant
    sheet = checked_sheet(plant)
    if options.json:
        _print_json([plain.setting_json(setting) for setting in sheet.settings])
    else:
        _say(f"{plant.site.site.name}: settings")
        for line in plain.sheet_lines(plant, sheet, lineage=options.why):
            _say(line)
        _say("")
        _say(f"findings: {plain.summary(sheet.findings)}  (commission check {options.site})")
        _say(CAUTION)
    return _code(sheet.findings)


def _check(options: argparse.Namespace) -> int:
    from commission import plain
    from commission.design.check import checked_sheet

    plant = _load(options.site).plant
    sheet = checked_sheet(plant)
    if options.json:
        _print_json([plain.finding_json(finding) for finding in sheet.findings])
    else:
        for line in plain.finding_lines(sheet.findings, lineage=options.why):
            _say(line)
        _say(f"{plant.site.site.name}: {plain.summary(sheet.findings)}")
        _say(plain.SCOPE)
        if options.words:
            for line in plain.words_lines(plant, sheet.findings):
                _say(line)
    return _code(sheet.findings)


def _code(findings: Sequence[Any]) -> int:
    return OPEN if any(finding.kind in {"stop", "correct", "not checked"} for finding in findings) else OK


def _checklist(options: argparse.Namespace) -> int:
    from commission import plain
    from commission.prepare import prepare

    loaded = _load(options.site)
    plant = loaded.plant
    sheet, checklist = prepare(plant, loaded.path.parent)
    if options.json:
        _print_json([plain.step_json(step) for step in checklist.steps])
    else:
        _say(f"{plant.site.site.name}: {len(checklist.steps)} steps")
        for line in plain.checklist_lines(checklist):
            _say(line)
        _say("")
        _say(CAUTION)
    return _code(sheet.findings)


def _judge(options: argparse.Namespace) -> int:
    from datetime import datetime
    from random import SystemRandom

    from commission import plain
    from commission.prepare import own_checklists, prepare
    from commission.records.chain import Before, named_before
    from commission.records.readings import judge_readings, read_readings
    from commission.records.write import write_record
    from commission.visit.folder import new_visit_id

    loaded = _load(options.site)
    sheet, checklist = prepare(loaded.plant, loaded.path.parent)
    readings = read_readings(options.readings)
    now = datetime.now().astimezone().replace(microsecond=0)
    started = readings.visit.started_at or now
    ident = new_visit_id(
        options.record, loaded.plant.site.site.id, started, readings.visit.kind, SystemRandom()
    )
    judged = judge_readings(
        loaded.plant,
        sheet,
        checklist,
        readings,
        file=options.readings.name,
        ident=ident,
        program=__version__,
        now=now,
        folder=options.readings.parent,
        own=own_checklists(loaded.plant, loaded.path.parent),
    )
    before = named_before(options.after, judged.visit.site) if options.after else Before()
    path = write_record(
        options.record,
        judged.visit,
        loaded.plant,
        sheet,
        previous=before.digest,
        attached=judged.open_visit.attached_files(),
    )
    if options.json:
        rows = [plain.reading_json(reading) for reading in judged.visit.readings]
        _print_json({"record": str(path), "readings": rows, "remarks": list(judged.remarks)})
    else:
        for line in plain.reading_lines(judged.visit.readings):
            _say(line)
        for remark in judged.remarks:
            _say(f"remark: {remark}")
        _say(f"unsigned record: {path}")
    return max(_code(sheet.findings), OPEN if plain.any_open(judged.visit.readings) else OK)


def _verify(options: argparse.Namespace) -> int:
    from commission import plain
    from commission.records.chain import chain_told

    known = _known(options)
    asked: Asked = "usual list" if known else "no list"
    if options.known is not None:
        asked = "named list"
    results = [found for named in options.records for found in _verified(named, known)]
    chains = chain_told(results) if any(named.is_dir() for named in options.records) else ()
    rows, codes = [], [OPEN for told in chains if told.gap]
    for path, result in results:
        again = None if options.seals_only or result.state == "malformed" else _worked_out_anew(path)
        codes.append(_code_of(result, again, asked))
        if options.json:
            told = {"chain": [one.text for one in chains if one.path == path]}
            rows.append(plain.verified_json(path, result) | told | plain.anew_json(again))
        else:
            _say("\n".join((plain.verified_text(path, result), *plain.anew_lines(again, result))))
    if options.json:
        _print_json(rows)
    else:
        for line in plain.chain_lines(chains):
            _say(line)
    return min(codes, key=_WORST.index, default=OK)


def _verified(named: Path, known: Sequence[Any]) -> Iterator[tuple[Path, VerifyResult]]:
    """Yield what was found of a record, or of each in a folder: one that cannot be read hides no other."""
    from commission.records.types import VerifyResult
    from commission.records.verify import verify

    for path in _records_in(named):
        try:
            yield path, verify(path, known)
        except CommissionError as error:
            if path == named:
                raise
            yield path, VerifyResult("malformed", (str(error).removeprefix(f"{path}: "),))


def _code_of(result: VerifyResult, again: Anew | None, asked: Asked) -> int:
    """Return the exit code for one record."""
    if not result.intact or (again is not None and again.false):
        return OPEN
    if any(not seal.counts(asked) for seal in result.seals):
        return UNKNOWN_KEY
    return UNCONFIRMED if again is not None and again.doubts else OK


_WORST: Final = (OPEN, UNKNOWN_KEY, UNCONFIRMED, OK)
"""The exit codes of several records, the one that stands for all of them first."""


def _worked_out_anew(path: Path) -> Anew:
    """Return what came of working a record out anew; a record that cannot be read is a difference too."""
    from commission.plain import Anew
    from commission.prepare import worked_out_anew
    from commission.records.read import read_record
    from commission.visit.recompute import Difference, Recomputed

    try:
        return Anew(*worked_out_anew(read_record(path), __version__))
    except CommissionError as error:
        unread = Difference("record", "content", "there", f"refused: {error}", excusable=False)
        return Anew(Recomputed(0, (unread,), 0))


def _keys_folder(options: argparse.Namespace) -> Path:
    import os

    from commission.visit.shelf import keys_root, visits_root

    root = options.visits or visits_root(os.environ, sys.platform, Path.home())
    return keys_root(root)


def _known(options: argparse.Namespace) -> Sequence[Any]:
    """Return the known keys of the list that was named, else of the usual one, if there is one."""
    from commission.records.keys import known_keys

    usual = _keys_folder(options) / "known.toml"
    if options.known is None and not usual.is_file():
        return ()
    return known_keys(options.known or usual)


def _keys(options: argparse.Namespace) -> int:
    from commission import plain
    from commission.records.keys import keys_in, known_text, read_key

    folder = options.folder or _keys_folder(options)
    if options.line is not None:
        _say(known_text((read_key(options.line),)).rstrip("\n"))
        return OK
    if options.new is not None:
        _make_key(folder, options)
    own, known = keys_in(folder), _known(options)
    if options.json:
        _print_json(plain.keys_json(own, known))
    else:
        for line in plain.key_lines(own, known, folder):
            _say(line)
    return OK


def _make_key(folder: Path, options: argparse.Namespace) -> None:
    import os
    from datetime import datetime

    from commission.records.keys import make_key

    phrase = _new_passphrase()
    make_key(folder, options.new, options.role, phrase, now=datetime.now().astimezone(), random=os.urandom)


_TRIES = 3
"""How often a new passphrase is asked for, where the second time it was typed otherwise."""


def _new_passphrase() -> str:
    """Return a new passphrase, typed twice where somebody sits at a terminal."""
    for left in reversed(range(_TRIES)):
        first = _passphrase("passphrase for the new key: ")
        if not sys.stdin.isatty() or _passphrase("the same again: ") == first:
            return first
        if left:
            _complain("the two passphrases differ; once more from the beginning")
    raise _refused("the two passphrases differ", f"nothing was made, after {_TRIES} times")


def _passphrase(ask: str) -> str:
    """Return a passphrase that is typed unseen, or read from the input where nobody sits at a terminal."""
    import getpass

    try:
        typed = getpass.getpass(ask) if sys.stdin.isatty() else sys.stdin.readline().rstrip("\r\n")
        typed.encode()
    except UnicodeError:
        raise _refused("the passphrase has bytes that are no text", "letters, digits and signs") from None
    return typed


def _refused(wrong: str, right: str) -> Exception:
    from commission.errors import KeyFileError, Problem

    return KeyFileError([Problem("keys", "passphrase", "", wrong, right)])


def _answer(options: argparse.Namespace) -> int:
    from datetime import datetime

    from commission import plain
    from commission.records.answer import answer_record, check_answer
    from commission.records.keys import open_key, read_key
    from commission.records.read import read_record
    from commission.records.verify import verify

    steps = {reading.step for reading in read_record(options.record).visit.readings}
    comments = [plain.comment_of(text, steps) for text in options.comment]
    file = None if options.key is None else read_key(options.key)
    name, role = (options.name, options.role) if file is None else (file.name, file.role)
    public = b"" if file is None else file.public
    # all that can be refused is refused before anybody types a passphrase
    check_answer(options.record, options.says, name=name, role=role, comments=comments, public=public)
    key = None if options.key is None else open_key(options.key, _passphrase("passphrase: "))
    answer_record(
        options.record,
        options.says,
        name=name,
        role=role,
        now=datetime.now().astimezone(),
        comments=comments,
        key=key,
    )
    options.known = None
    _say(plain.verified_text(options.record, verify(options.record, _known(options))))
    return OK


def _records_in(named: Path) -> list[Path]:
    from commission.errors import Problem, RecordError

    if not named.is_dir():
        return [named]
    from commission.records.read import is_site_file

    found = sorted(path for path in named.rglob("*.toml") if not path.is_dir() and not is_site_file(path))
    if not found:
        raise RecordError(
            [Problem(str(named), "folder", "", "holds no records", "a folder with .toml records")]
        )
    return found


def _schema(options: argparse.Namespace) -> int:
    from commission.records.schema import NAMES, schema_of

    if options.name is not None:
        _print_json(schema_of(options.name))
    elif options.json:
        _print_json(list(NAMES))
    else:
        for name in NAMES:
            _say(f"{name:<20} {schema_of(name)['description']}")
    return OK


def _formulas(options: argparse.Namespace) -> int:
    from commission.calculator import no_such_formula
    from commission.formulas import registry

    known = registry()
    if options.name is None:
        return _list_formulas(known, as_json=options.json)
    formula = known.get(options.name)
    if formula is None:
        _complain(no_such_formula(options.name, known))
        return BAD_INPUT
    if not options.values:
        return _describe(formula, as_json=options.json)
    return _work_out(formula, options.values, as_json=options.json)


def _list_formulas(known: dict[str, Formula[...]], *, as_json: bool) -> int:
    if as_json:
        _print_json([_formula_json(formula) for formula in known.values()])
        return OK
    for name, formula in known.items():
        _say(f"{name:<40} {formula.title}")
    return OK


def _formula_json(formula: Formula[...]) -> dict[str, Any]:
    return {
        "name": formula.name,
        "title": formula.title,
        "expression": formula.expression,
        "unit": formula.unit,
        "parameters": list(formula.parameters),
        "source": formula.source,
    }


def _describe(formula: Formula[...], *, as_json: bool) -> int:
    import inspect

    if as_json:
        _print_json(_formula_json(formula))
        return OK
    _say(f"{formula.name}({', '.join(formula.parameters)})")
    _say(f"= {formula.expression}    ({formula.unit or 'unit of its input'})")
    _say(f"source: {formula.source}")
    _say("")
    _say(inspect.getdoc(formula.function) or "")
    return OK


def _work_out(formula: Formula[...], pairs: Sequence[str], *, as_json: bool) -> int:
    from commission.calculator import worked_out
    from commission.figure import line_text, why

    result = worked_out(formula, pairs)
    if as_json:
        inputs = dict(pair.split("=", 1) for pair in pairs)
        _print_json(_formula_json(formula) | {"inputs": inputs, "value": result.value})
        return OK
    for line in why(result):
        _say(line_text(line))
    return OK


if __name__ == "__main__":
    sys.exit(main())
