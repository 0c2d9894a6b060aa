"""Every reader of what comes from outside, with the inputs that are spoiled for it."""

from __future__ import annotations

import functools
import json
import os
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from random import Random
from typing import Any, Final

from pydantic import TypeAdapter

from commission import __version__
from commission.calculator import typed_arguments, worked_out
from commission.checklist.types import Ask, ChecklistData
from commission.errors import CommissionError, EntryError
from commission.formulas import registry
from commission.plain import json_text
from commission.plain_records import comment_of, verified_json, verified_text
from commission.plant.battery import BatteryProfile
from commission.plant.equipment import EquipmentClass
from commission.plant.files import load_plant, plant_of
from commission.plant.places import data_folder
from commission.plant.rules import RuleSet
from commission.plant.toml import guarded, parsed, unknown_keys, validated
from commission.prepare import prepare
from commission.records.keys import known_keys, make_key, read_key
from commission.records.read import read_record, toml_of
from commission.records.readings import judge_readings, read_readings
from commission.records.seals import sealed
from commission.records.verify import verify_bytes
from commission.units import read_number
from commission.visit.entry import read_column, read_entry
from commission.visit.framing import NAME, framed, text_of
from commission.visit.replay import replay
from commission.visit.settings import read_setting
from commission.visit.shelf import HOLDER, MOVED, holder_of, list_visits, moved_to
from commission.visit.state import replayed
from tests.fuzz.many import rows_reader
from tests.fuzz.mutate import as_toml, odd_text, spoiled_bytes, spoiled_data
from tests.technician import Clock, begin, walk

RECORDS: Final = Path(__file__).parents[1] / "records" / "samples"
NOW: Final = datetime.fromisoformat("2026-11-24T12:00:00+01:00")
SITE: Final = "tarnwold-cabin"


@dataclass(frozen=True)
class Reader:
    """A reader and how its inputs are made."""

    name: str
    read: Callable[[Any], object]
    inputs: Callable[[Random], Any]
    raw: bool = False
    """Its inputs are bytes, so that a guided fuzzer can make them too."""


def _spoiled(samples: Sequence[bytes], parse: Callable[[bytes], Any], random: Random) -> bytes:
    """Return a sample spoiled in its bytes, or in what it means."""
    content = random.choice(samples)
    if random.random() < 0.5:
        made = as_toml(spoiled_data(parse(content), random))
        if made is not None:
            return made
    return spoiled_bytes(content, samples, random)


def _all(folder: Path, pattern: str = "*.toml") -> tuple[bytes, ...]:
    return tuple(path.read_bytes() for path in sorted(folder.glob(pattern)))


def _to_file(folder: Path, content: bytes, name: str = "given.toml") -> Path:
    path = folder / name
    path.write_bytes(content)
    return path


# files written by hand


def site(folder: Path) -> Reader:
    """Site files, with everything that they refer to."""
    samples = _all(data_folder("sample_sites"))

    def read(content: bytes) -> None:
        loaded = plant_of(parsed(content, "site.toml"), folder / "site.toml")
        assert all(str(warning).isprintable() for warning in loaded.warnings)
        json_text(loaded.plant.model_dump(mode="json"))

    return Reader("site", read, lambda random: _spoiled(samples, guarded, random), raw=True)


def profiles(_: Path) -> Reader:
    """Profiles of every kind and checklists."""
    kinds: tuple[tuple[str, Any], ...] = (
        ("batteries", BatteryProfile),
        ("equipment", TypeAdapter(EquipmentClass)),
        ("rules", RuleSet),
        ("checklists", ChecklistData),
    )
    samples = {kind: _all(data_folder("profiles") / kind) for kind, _ in kinds}

    def inputs(random: Random) -> Any:
        kind, model = random.choice(kinds)
        return model, _spoiled(samples[kind], guarded, random)

    def read(given: Any) -> None:
        model, content = given
        found = validated(model, parsed(content, "profile.toml"), "profile.toml")
        assert all(str(warning).isprintable() for warning in unknown_keys(found, "profile.toml"))

    return Reader("profiles", read, inputs)


def readings(folder: Path) -> Reader:
    """Files of readings, judged."""
    samples = _all(data_folder("sample_sites") / "readings")
    plant, sheet, checklist = _prepared()

    def read(content: bytes) -> None:
        found = read_readings(_to_file(folder, content))
        judge_readings(
            plant, sheet, checklist, found, file="given.toml", ident="v-1", program=__version__, now=NOW
        )

    return Reader("readings", read, lambda random: _spoiled(samples, guarded, random), raw=True)


@functools.cache
def _prepared() -> Any:
    plant = load_plant(data_folder("sample_sites") / f"{SITE}.toml").plant
    return plant, *prepare(plant)


# records and keys


def record(folder: Path) -> Reader:
    """Records, read; some that were spoiled are sealed anew, as a forger would."""
    samples = _all(RECORDS, "format-*.toml")

    def inputs(random: Random) -> bytes:
        if random.random() < 0.5:
            return _spoiled(samples, toml_of, random)
        data = spoiled_data(toml_of(random.choice(samples)), random)
        seals = data.pop("seal", None)
        made = as_toml(data)
        if made is None or seals is None:
            return spoiled_bytes(random.choice(samples), samples, random)
        try:
            return sealed(made, toml_of(made), says="judged")
        except ValueError:
            return made

    def read(content: bytes) -> None:
        read_record(_to_file(folder, content))

    return Reader("record", read, inputs, raw=True)


def verifying(_: Path) -> Reader:
    """Records, verified and shown."""
    samples = _all(RECORDS, "format-*.toml")
    known = known_keys(RECORDS / "known.toml")

    def read(content: bytes) -> None:
        found = verify_bytes(content, known)
        assert verified_text(Path("given.toml"), found).replace("\n", "").isprintable()
        json_text(verified_json(Path("given.toml"), found))
        assert found.state != "intact" or content in samples or b"[[seal]]" in content

    return Reader("verify", read, record(_).inputs, raw=True)


def rows(folder: Path) -> Reader:
    """Records, as the desk reads many."""
    read, inputs = rows_reader(record(folder).inputs)
    return Reader("rows", read, inputs, raw=True)


def keys(folder: Path) -> Reader:
    """Key files, told without their passphrase; none is opened, since that is slow on purpose."""
    made = make_key(
        folder / "own", "Runa Feld", "technician", "seven grey geese", now=NOW, random=_not_random
    )
    samples = (made.path.read_bytes(),)

    def read(content: bytes) -> None:
        assert len(read_key(_to_file(folder, content, "given.key.toml")).fingerprint) == 39

    return Reader("key", read, lambda random: _spoiled(samples, guarded, random), raw=True)


def _not_random(count: int) -> bytes:
    return bytes(range(count))


def known(folder: Path) -> Reader:
    """Lists of known keys."""
    samples = _all(RECORDS, "known.toml")

    def read(content: bytes) -> None:
        known_keys(_to_file(folder, content))

    return Reader("known", read, lambda random: _spoiled(samples, guarded, random), raw=True)


# a visit in work


def journal(folder: Path) -> Reader:
    """Journals: bytes spoiled, and lines whose meaning was spoiled and that are framed anew."""
    sample = _journal(folder)
    lines = sample.split(b"\n")[:-1]
    root = folder / "visits"
    visit = root / "v-1"
    visit.mkdir(parents=True)

    def inputs(random: Random) -> bytes:
        if random.random() < 0.4:
            return spoiled_bytes(sample, (sample,), random)
        found = [*lines]
        for _ in range(random.choice((1, 1, 3))):
            at = random.randrange(1, len(found)) if random.random() < 0.8 else 0
            found[at] = framed(_json(spoiled_data(json.loads(text_of(found[at])), random))).rstrip(b"\n")
        if random.random() < 0.3:
            found.insert(random.randrange(len(found)), random.choice(found))
        return b"\n".join(found) + random.choice((b"\n", b"\n", b"", b"\x00" * 40))

    def read(content: bytes) -> None:
        (visit / NAME).write_bytes(content)
        (summary,) = list_visits(root)
        assert summary.damage.isprintable()
        found = replay(content)
        assert all(said.isprintable() for said in found.damage)
        replayed((*found.events, *found.after_damage))

    return Reader("journal", read, inputs, raw=True)


def _json(data: Any) -> str:
    return json.dumps(data, ensure_ascii=False, default=str)


def _journal(folder: Path) -> bytes:
    plant = _prepared()[0]
    clock = Clock()
    with begin(folder / "walked", plant, clock) as visit:
        walk(visit, clock)
        assert visit.folder is not None
        return (visit.folder / NAME).read_bytes()


def beside(folder: Path) -> Reader:
    """The small files beside a journal: who holds the visit, where it went on."""
    sample = (b'{"pid":4711,"host":"bench","user":"runa"}', b'{"folder":"/visits/v-1"}')

    def read(content: bytes) -> None:
        for name in (HOLDER, MOVED):
            _to_file(folder, content, name)
        assert holder_of(folder).isprintable()
        moved_to(folder)

    return Reader(
        "beside", read, lambda random: spoiled_bytes(random.choice(sample), sample, random), raw=True
    )


# what is typed


def calculator(_: Path) -> Reader:
    """Arguments of every formula."""
    formulas = registry()
    names = sorted(formulas)

    def inputs(random: Random) -> Any:
        formula = formulas[random.choice(names)]
        pairs = [f"{key}={_number(random)}" for key in formula.parameters]
        if random.random() < 0.1:
            pairs.append(odd_text(random, pairs))
        return formula, pairs

    def read(given: Any) -> None:
        formula, pairs = given
        typed_arguments(formula, pairs)
        worked_out(formula, pairs)

    return Reader("calculator", lambda given: _telling(read, given), inputs)


def _number(random: Random) -> str:
    """Return what may be given for an input: mostly a number that it could be."""
    drawn = random.random()
    if drawn < 0.5:
        return random.choice(_NUMBERS)
    return f"{random.uniform(0, 60):.4g}" if drawn < 0.9 else odd_text(random, _NUMBERS)


def _telling(read: Callable[[Any], None], given: Any) -> None:
    """Read, with an error told as the command line tells it."""
    from commission.errors import harmless

    try:
        read(given)
    except CommissionError as error:
        raise EntryError(harmless(str(error))) from None


_NUMBERS: Final = (
    "1", "0", "-1", "24", "0.5", "2.27", "1e3", "1e-9", "1e308", "-3", "1,2,3", "0,0", "100", "7",
    "lead", "yes", "a,b",
)  # fmt: skip
_ENTRIES: Final = (
    "13.2", "13,2", "13.2V", "1320 mV", "77F", "25 °C", "OL", ">999", "<0.1", "yes", "no", "1/0 AWG",
    "5 ft 6 in", "1.5 kW", "",
    "47.2 15 min; 46 30 s", "off", "0.5 h", "90 %", "2 d", "1 000", "1,200.5 W",
)  # fmt: skip


def typed(_: Path) -> Reader:
    """Entries of readings, columns and settings, and numbers with every unit."""
    _plant, sheet, checklist = _prepared()
    asks: list[Ask] = [ask for step in checklist.steps for ask in step.asks]
    kinds = list({(ask.data.kind, ask.data.unit): ask for ask in asks}.values())
    settings = list(sheet.settings)
    units = sorted({ask.data.unit or "1" for ask in asks})

    def inputs(random: Random) -> Any:
        text, above = odd_text(random, _ENTRIES), odd_text(random, _ENTRIES)
        how = random.choice(("entry", "column", "setting", "number", "comment"))
        system = random.choice(("metric", "us"))
        subject = random.choice(settings) if how == "setting" else random.choice(kinds)
        return how, subject, text, above, system, random.choice(units)

    def read(given: Any) -> None:
        how, subject, text, above, system, unit = given
        if how == "entry":
            read_entry(subject, text, system=system, before=above)
        elif how == "column":
            read_column([subject] * 3, [text, above, text], system=system)
        elif how == "setting":
            read_setting(subject, text)
        elif how == "number":
            read_number(text, unit)
        else:
            comment_of(text, {above})

    return Reader("typed", lambda given: _telling(read, given), inputs)


def arguments(folder: Path) -> Reader:
    """Words of the command line, given to the program itself."""
    own = folder / "record.toml"
    words = (
        "check", "sheet", "verify", "keys", "schema", "formulas", "countersign", "return", "--json",
        "--known", "--role",
        "--comment", "--seals-only", "--name", "--line", "--key", "known.toml", "record.toml",
        "cells=24", "site",
    )  # fmt: skip
    whole = (
        ("return", "record.toml", "--name", "?", "--comment", "?"),
        ("countersign", "record.toml", "--name", "?"),
        ("countersign", "record.toml", "--name", "Elin Corse", "--role", "?", "--comment", "?"),
        ("verify", "?"),
        ("verify", "--seals-only", "record.toml", "--known", "?"), ("keys", "--folder", "?"),
        ("check", "?"),
        ("keys", "--line", "?"), ("keys", "--known", "known.toml", "--json"), ("schema", "?"),
        ("new", "?"),
        ("formulas", "?", "?"), ("formulas", "compensated_voltage", "?", "?"),
        ("countersign", "?", "--key", "?"),
    )  # fmt: skip

    def inputs(random: Random) -> list[str]:
        if random.random() < 0.7:
            return [odd_text(random, _SAID) if word == "?" else word for word in random.choice(whole)]
        some = [random.choice(words) for _ in range(random.randrange(1, 6))]
        return [odd_text(random, [word]) if random.random() < 0.3 else word for word in some]

    def read(given: list[str]) -> None:
        own.write_bytes((RECORDS / "format-2-signed.toml").read_bytes())
        (folder / "known.toml").write_bytes((RECORDS / "known.toml").read_bytes())
        _command(folder, given)

    return Reader("arguments", read, inputs)


_SAID: Final = (
    "Elin Corse", "volts: read it again", "the whole: twice", "record.toml", "known.toml",
    "compensated_voltage",
    "cells=24", "reference=2.27", "site", "none.toml", ".", "a/b", "C:\\x", "-", "--", "\udcff",
    "\x1b]0;x\x07",
)  # fmt: skip


def _command(folder: Path, words: list[str]) -> None:
    """Run a command, which may end in 0, 1, 2 or the usage, and say nothing that is a command itself."""
    import io
    from contextlib import chdir, redirect_stderr, redirect_stdout

    from commission.cli import main

    out, err = io.StringIO(), io.StringIO()
    os.environ["COMMISSION_VISITS"] = str(folder / "none")
    with chdir(folder), redirect_stdout(out), redirect_stderr(err):
        code: object = 0
        try:
            code = main(words)
        except SystemExit as left:  # argparse leaves so
            code = left.code
    assert code in {0, 1, 2}, code
    for said in (out.getvalue(), err.getvalue()):
        assert not any(sign != "\n" and ord(sign) < 160 and not sign.isprintable() for sign in said), said


READERS: Final[dict[str, Callable[[Path], Reader]]] = {
    "site": site, "profiles": profiles, "readings": readings, "record": record, "verify": verifying,
    "rows": rows, "key": keys, "known": known,
    "journal": journal, "beside": beside, "calculator": calculator, "typed": typed,
    "arguments": arguments,
}  # fmt: skip
