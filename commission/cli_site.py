"""The command line of one site: its file, settings, findings, walk, and readings from a file."""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from commission import __version__
from commission.cli_voice import BAD_INPUT, CAUTION, OK, OPEN, Commands, Voice

if TYPE_CHECKING:
    from commission.plant.files import LoadedPlant


def add_commands(command: Commands) -> None:
    """Add the commands of one site."""
    command("new", _new, "write a new site file with comments", site="path")
    command("sites", _sites, "list the sample sites that come with the program", json=True)
    command(
        "sheet",
        _sheet,
        "settings of every device, with range and lineage",
        site="one",
        json=True,
        why=True,
    )
    check = command(
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
    command("checklist", _checklist, "stages, steps and readings of a site", site="one", json=True)
    judge = command(
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


def _load(path: Path, voice: Voice) -> LoadedPlant:
    from commission.plant.files import load_plant
    from commission.plant.places import site_path

    loaded = load_plant(site_path(path))
    for warning in loaded.warnings:
        voice.complain(f"warning: {warning}")
    return loaded


def _new(options: argparse.Namespace, voice: Voice) -> int:
    from commission.plant.template import new_site

    path: Path = options.site
    if not path.name:
        voice.complain(f"new: '{path}' is no name of a file; give one such as my-site.toml")
        return BAD_INPUT
    written = path if path.suffix == ".toml" else path.with_name(f"{path.name}.toml")
    new_site(written, written.stem, written.stem.replace("-", " ").capitalize())
    voice.say(f"written: {written}")
    voice.say(f"Fill it in, then: commission check {written}")
    return OK


def _sites(options: argparse.Namespace, voice: Voice) -> int:
    from commission.plant.files import load_plant
    from commission.plant.places import sample_sites

    rows = [
        {"id": path.stem, "name": load_plant(path).plant.site.site.name, "file": str(path)}
        for path in sample_sites()
    ]
    if options.json:
        voice.print_json(rows)
    else:
        for row in rows:
            voice.say(f"{row['id']:<28} {row['name']}")
    return OK


def _sheet(options: argparse.Namespace, voice: Voice) -> int:
    from commission import plain
    from commission.design.check import checked_sheet

    plant = _load(options.site, voice).plant
    sheet = checked_sheet(plant)
    if options.json:
        voice.print_json([plain.setting_json(setting) for setting in sheet.settings])
    else:
        voice.say(f"{plant.site.site.name}: settings")
        for line in plain.sheet_lines(plant, sheet, lineage=options.why):
            voice.say(line)
        voice.say("")
        voice.say(f"findings: {plain.summary(sheet.findings)}  (commission check {options.site})")
        voice.say(CAUTION)
    return _code(sheet.findings)


def _check(options: argparse.Namespace, voice: Voice) -> int:
    from commission import plain
    from commission.design.check import checked_sheet

    plant = _load(options.site, voice).plant
    sheet = checked_sheet(plant)
    if options.json:
        voice.print_json([plain.finding_json(finding) for finding in sheet.findings])
    else:
        for line in plain.finding_lines(sheet.findings, lineage=options.why):
            voice.say(line)
        voice.say(f"{plant.site.site.name}: {plain.summary(sheet.findings)}")
        voice.say(plain.SCOPE)
        if options.words:
            for line in plain.words_lines(plant, sheet.findings):
                voice.say(line)
    return _code(sheet.findings)


def _code(findings: Sequence[Any]) -> int:
    return OPEN if any(finding.kind in {"stop", "correct", "not checked"} for finding in findings) else OK


def _checklist(options: argparse.Namespace, voice: Voice) -> int:
    from commission import plain
    from commission.prepare import prepare

    loaded = _load(options.site, voice)
    plant = loaded.plant
    sheet, checklist = prepare(plant, loaded.path.parent)
    if options.json:
        voice.print_json([plain.step_json(step) for step in checklist.steps])
    else:
        voice.say(f"{plant.site.site.name}: {len(checklist.steps)} steps")
        for line in plain.checklist_lines(checklist):
            voice.say(line)
        voice.say("")
        voice.say(CAUTION)
    return _code(sheet.findings)


def _judge(options: argparse.Namespace, voice: Voice) -> int:
    from datetime import datetime
    from random import SystemRandom

    from commission import plain_records
    from commission.prepare import own_checklists, prepare
    from commission.records.chain import Before, named_before
    from commission.records.readings import judge_readings, read_readings
    from commission.records.write import write_record
    from commission.visit.folder import new_visit_id

    loaded = _load(options.site, voice)
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
        rows = [plain_records.reading_json(reading) for reading in judged.visit.readings]
        voice.print_json({"record": str(path), "readings": rows, "remarks": list(judged.remarks)})
    else:
        for line in plain_records.reading_lines(judged.visit.readings):
            voice.say(line)
        for remark in judged.remarks:
            voice.say(f"remark: {remark}")
        voice.say(f"unsigned record: {path}")
    return max(_code(sheet.findings), OPEN if plain_records.any_open(judged.visit.readings) else OK)
