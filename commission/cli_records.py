"""The command line of records and keys: verify, answer, print, and who is known."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from commission import __version__
from commission.cli_voice import CAUTION, OK, OPEN, UNCONFIRMED, UNKNOWN_KEY, Commands, Voice
from commission.errors import CommissionError

if TYPE_CHECKING:
    from commission.plain_records import Anew
    from commission.records.seals import Asked
    from commission.records.types import VerifyResult


def add_commands(command: Commands) -> None:
    """Add the commands of records and keys."""
    _add_verify(command)
    _add_keys(command)
    _add_answers(command)
    _add_handover(command)


def _add_verify(command: Commands) -> None:
    verify = command(
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
    verify.set_defaults(unread=OPEN)  # what was not read is not confirmed


def _add_keys(command: Commands) -> None:
    keys = command("keys", _keys, "your keys and those that you know, with their fingerprints", json=True)
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


def _add_answers(command: Commands) -> None:
    for says, text in (("countersign", "countersign a record"), ("return", "return a record with comments")):
        answer = command(says, _answer, text)
        answer.add_argument("record", type=Path, help="a signed record")
        answer.add_argument("--key", type=Path, help="your key file; without one, --name and --role")
        answer.add_argument("--name", default="", help="who answers, without a key")
        answer.add_argument("--role", default="supervisor", help="in which role, without a key")
        answer.add_argument(
            "--comment", action="append", default=[], metavar="[STEP:] TEXT", help="to a step or to the whole"
        )
        answer.set_defaults(says="countersigned" if says == "countersign" else "returned")


def _add_handover(command: Commands) -> None:
    text = "the document of a visit for owner, supervisor and next technician, to be printed"
    handover = command("handover", _handover, text, json=True)
    handover.add_argument("record", type=Path, help="a signed record; those before it lie beside it")
    handover.add_argument(
        "--to", type=Path, metavar="FILE", help="a new file: .txt in pages of 80 by 60, .html for any browser"
    )


def _named(text: str) -> Path:
    """Return a path that was named; an empty name would be the folder where one stands."""
    if not text:
        raise argparse.ArgumentTypeError("an empty name; name a record or a folder of records")
    return Path(text)


def _verify(options: argparse.Namespace, voice: Voice) -> int:
    from commission import plain_records
    from commission.desk.names import words_of
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
            rows.append(plain_records.verified_json(path, result) | told | plain_records.anew_json(again))
        else:
            lines = plain_records.anew_lines(again, result, words_of)
            voice.say("\n".join((plain_records.verified_text(path, result), *lines)))
    if options.json:
        voice.print_json(rows)
    else:
        for line in plain_records.chain_lines(chains):
            voice.say(line)
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
    from commission.plain_records import Anew
    from commission.prepare import worked_out_anew
    from commission.records.read import read_record
    from commission.visit.recompute import Difference, Recomputed

    try:
        return Anew(*worked_out_anew(read_record(path), __version__))
    except CommissionError as error:
        says = f"cannot be worked out anew: {error}"
        texts = "there", f"refused: {error}"
        unread = Difference("record", "content", *texts, excusable=False, says=says)
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


def _keys(options: argparse.Namespace, voice: Voice) -> int:
    from commission import plain_records
    from commission.records.keys import keys_in, known_text, read_key

    folder = options.folder or _keys_folder(options)
    if options.line is not None:
        voice.say(known_text((read_key(options.line),)).rstrip("\n"))
        return OK
    if options.new is not None:
        _make_key(folder, options, voice)
    own, known = keys_in(folder), _known(options)
    if options.json:
        voice.print_json(plain_records.keys_json(own, known))
    else:
        for line in plain_records.key_lines(own, known, folder):
            voice.say(line)
    return OK


def _make_key(folder: Path, options: argparse.Namespace, voice: Voice) -> None:
    import os
    from datetime import datetime

    from commission.records.keys import make_key

    phrase = _new_passphrase(voice)
    make_key(folder, options.new, options.role, phrase, now=datetime.now().astimezone(), random=os.urandom)


_TRIES = 3
"""How often a new passphrase is asked for, where the second time it was typed otherwise."""


def _new_passphrase(voice: Voice) -> str:
    """Return a new passphrase, typed twice where somebody sits at a terminal."""
    for left in reversed(range(_TRIES)):
        first = _passphrase("passphrase for the new key: ")
        if not sys.stdin.isatty() or _passphrase("the same again: ") == first:
            return first
        if left:
            voice.complain("the two passphrases differ; once more from the beginning")
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


def _answer(options: argparse.Namespace, voice: Voice) -> int:
    from datetime import datetime

    from commission import plain_records
    from commission.records.answer import answer_record, check_answer
    from commission.records.keys import open_key, read_key
    from commission.records.read import read_record
    from commission.records.verify import verify

    steps = {reading.step for reading in read_record(options.record).visit.readings}
    comments = [plain_records.comment_of(text, steps) for text in options.comment]
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
    voice.say(plain_records.verified_text(options.record, verify(options.record, _known(options))))
    return OK


def _handover(options: argparse.Namespace, voice: Voice) -> int:
    from commission.handover.blocks import document_json
    from commission.handover.document import handover_of
    from commission.handover.file import form_of, write_document
    from commission.handover.text import text_lines

    to: Path | None = options.to
    form = None if to is None else form_of(to)  # a name that is wrong is told before anything is read
    document = handover_of(options.record, CAUTION)
    if to is not None and form is not None:
        write_document(document, to, form)
    if options.json:
        voice.print_json(document_json(document))
        return OK
    for line in text_lines(document) if to is None else (f"written: {to}",):
        voice.say(line)
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
