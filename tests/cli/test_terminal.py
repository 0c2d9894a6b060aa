"""Nothing that a file, its name or an argument holds is a command to the terminal."""

from __future__ import annotations

import json
import os
import re
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from commission.errors import escaped, harmless
from commission.plain import json_text
from commission.plant.places import data_folder
from tests.records.test_formats import SAMPLES

Command = Callable[..., Any]
COMMANDS = ("\x1b[2J", "\x9b31m", "\x07", "\x7f", "\u202e", "\u2066", "\u2028", "\x85", "\r")
UNSAFE = re.compile("[\x00-\x09\x0b-\x1f\x7f-\x9f\u2028\u2029\u202a-\u202e\u2066-\u2069]")
CABIN = data_folder("sample_sites") / "tarnwold-cabin.toml"
READINGS = data_folder("sample_sites") / "readings" / "tarnwold-cabin.toml"


def safe(outcome: Any) -> bool:
    return not UNSAFE.search(outcome.out) and not UNSAFE.search(outcome.err)


def named(folder: Path, sample: Path, sign: str) -> Path:
    """Return a copy of a file under a name that holds a command to the terminal."""
    path = folder / f"a{sign}b.toml"
    try:
        shutil.copy(sample, path)
    except OSError:
        pytest.skip("no file of this name here")
    return path


@pytest.mark.parametrize("sign", COMMANDS)
def test_a_text_is_harmless_and_keeps_its_lines(sign: str) -> None:
    found = harmless(f"a{sign}b\nc")
    assert not UNSAFE.search(found)
    assert (found[0], found[-3:]) == ("a", "b\nc")


@pytest.mark.parametrize("sign", [*COMMANDS, "\ud800", "Ω é 😂", "\\u001b"])
def test_json_with_commands_to_a_terminal_means_the_same(sign: str) -> None:
    value = {f"k{sign}": [f"a{sign}", 1.5, None], "lines": "a\nb"}
    text = json_text(value)
    assert not UNSAFE.search(text)
    assert json.loads(text) == value
    assert json.loads(json_text(value, ascii_only=True)) == value
    assert json.loads(escaped(json.dumps(sign, ensure_ascii=False))) == sign


@pytest.mark.parametrize("sign", COMMANDS)
def test_the_name_of_a_file_is_no_command(commission: Command, tmp_path: Path, sign: str) -> None:
    site = named(tmp_path, CABIN, sign)
    outcomes = [
        commission("check", site),
        commission("checklist", site, "--json"),
        commission("new", tmp_path / f"n{sign}.toml"),
        commission("sheet", tmp_path / f"none{sign}.toml"),
    ]
    assert all(safe(one) for one in outcomes)
    assert outcomes[-1].code == 2


@pytest.mark.parametrize("sign", COMMANDS)
def test_the_name_of_a_record_is_no_command(commission: Command, tmp_path: Path, sign: str) -> None:
    record = named(tmp_path, SAMPLES / "format-2-countersigned.toml", sign)
    plain = commission("verify", "--seals-only", record)
    told = commission("verify", "--seals-only", "--json", record)
    assert safe(plain)
    assert safe(told)
    assert told.data[0]["record"] == str(record)
    assert safe(commission("judge", CABIN, READINGS, "--record", tmp_path / f"f{sign}"))


@pytest.mark.parametrize("sign", COMMANDS)
def test_what_a_forged_record_says_is_no_command(commission: Command, tmp_path: Path, sign: str) -> None:
    """In the visit, the signer, what a seal says, its comment, its time."""
    written = "".join(f"\\u{ord(one):04x}" for one in sign)
    content = (SAMPLES / "format-2-countersigned.toml").read_text(encoding="utf-8")
    for old in (
        '"Runa Feld"',
        '"countersigned"',
        "read the lid again",
        '"supervisor"',
        'unit = "V"',
        '"fuse',
    ):
        forged = content.replace(old, old[:-1] + written + old[-1])
        path = tmp_path / "forged.toml"
        path.write_text(forged, encoding="utf-8", newline="\n")
        for options in ((), ("--json",)):
            assert safe(commission("verify", *options, path)), old


@pytest.mark.parametrize("sign", COMMANDS)
def test_an_argument_is_no_command(commission: Command, sign: str) -> None:
    for arguments in (
        (f"x{sign}",),
        ("check", f"a{sign}.toml"),
        ("formulas", f"volt{sign}"),
        ("formulas", "compensated_voltage", f"cells={sign}24"),
        ("formulas", "compensated_voltage", f"ce{sign}lls=24"),
        ("schema", f"site{sign}"),
        ("check", "tarnwold-cabin", f"--{sign}"),
    ):
        found = commission(*arguments)
        assert found.code == 2
        assert safe(found), arguments


@pytest.mark.parametrize("text", ['"a\\u001b[2Jb"', '"a\\u009bb"', '"a\\u202eb"', '"a\\nb"', '"a\\u2028b"'])
@pytest.mark.parametrize("key", ["name", "id", "x"])
def test_a_name_in_a_site_file_is_no_command(
    commission: Command, tmp_path: Path, key: str, text: str
) -> None:
    """It is refused where it is a name, and carried where it means nothing."""
    site = tmp_path / "site.toml"
    content = CABIN.read_text(encoding="utf-8")
    before, table, after = content.partition("[bank]\n")
    before = re.sub(rf"(?m)^{key} = .*$", lambda _: f"{key} = {text}", before, count=1)
    if key == "x":
        before += f"x = {text}\n"
    site.write_text(before + table + after, encoding="utf-8")
    found = commission("check", site)
    assert safe(found)
    assert (found.code == 2) == (key != "x")


@pytest.mark.parametrize("text", ["bad\udcff", "turned\u202e", "cleared\x1b[2J", "rung\x07"])
@pytest.mark.parametrize("option", ["--name", "--role", "--comment"])
def test_an_answer_in_signs_that_are_no_text_is_refused(
    commission: Command, tmp_path: Path, option: str, text: str
) -> None:
    """A byte of the command line that is no text could not be written; the rest would be read by others."""
    path = tmp_path / "record.toml"
    shutil.copy(SAMPLES / "format-2-signed.toml", path)
    before = path.read_bytes()
    told = {"--name": "Elin Corse", "--role": "supervisor", "--comment": "read it again"} | {option: text}
    found = commission("return", path, *(word for pair in told.items() for word in pair))
    assert (found.code, path.read_bytes()) == (2, before)
    assert "characters that it may not have" in found.err
    assert safe(found)


def test_a_passphrase_that_is_no_text_is_refused(new_process: Command, tmp_path: Path) -> None:
    """And no key is made."""
    code = "import io, sys; sys.stdin = io.TextIOWrapper(io.BytesIO(b'seven\\xffgeese'), 'utf-8'); "
    code += "from commission.cli import main; sys.exit(main(sys.argv[1:]))"
    found = new_process("-c", code, "keys", "--folder", tmp_path / "keys", "--new", "Runa Feld")
    assert found.code == 2
    assert "no text" in found.err
    assert "Traceback" not in found.err
    assert not (tmp_path / "keys").exists()


@pytest.mark.parametrize("name", ["/", ".", ""])
def test_a_new_site_needs_a_name(commission: Command, name: str) -> None:
    found = commission("new", name)
    assert (found.code, found.out) == (2, "")
    assert "no name of a file" in found.err


def test_a_new_site_keeps_a_name_with_a_point(commission: Command, tmp_path: Path) -> None:
    """Nothing is written under another name than the one given."""
    assert commission("new", tmp_path / "a.b").code == 2
    assert not list(tmp_path.glob("*.toml"))
    assert commission("new", tmp_path / "a").code == 0
    assert (tmp_path / "a.toml").is_file()


@pytest.mark.skipif(os.name == "nt", reason="names of files are always text there")
def test_a_name_that_is_no_text_is_still_told(new_process: Command, tmp_path: Path) -> None:
    """Bytes that are not UTF-8 in a name of a file end in no traceback, also in JSON."""
    path = os.fsencode(tmp_path) + b"/a\xff.toml"
    try:
        shutil.copy(os.fsencode(SAMPLES / "format-2-countersigned.toml"), path)
    except OSError:
        pytest.skip("no file of this name here")
    for options in ((), ("--json",)):
        found = new_process("-m", "commission", "verify", "--seals-only", *options, os.fsdecode(path))
        assert (found.code, found.err) == (0, "")
        assert "a" in found.out
