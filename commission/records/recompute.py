"""A record worked out anew: settings, findings and verdicts from the plant and the readings inside it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any, Final

from commission.checklist.types import Checklist
from commission.records.coherence import incoherent
from commission.records.migrate import RECORDS
from commission.records.profiles import carried
from commission.records.rows import finding_rows, setting_rows
from commission.records.types import FindingRow, Record, SettingRow
from commission.sheet.types import Sheet
from commission.visit.digest import walk_digest
from commission.visit.recompute import Difference, Recomputed, differences_of, recomputed

_SETTING: Final = ("device", "setting", "input")


def explained(record: Record, checklist: Checklist, program: str) -> tuple[str, ...]:
    """Return what explains that a record says otherwise than this program: another version, another format.

    It explains no more than that; whoever changes a record can change the version in it, too.
    """
    reasons = []
    if record.format != RECORDS.newest:
        reasons.append(f"it was written in format {record.format}, and is read as format {RECORDS.newest}")
    if record.header.program != program and record.header.program == record.visit.program:
        reasons.append(f"it was made by version {record.header.program}, this is version {program}")
    if reasons and record.visit.walk and record.visit.walk != walk_digest(checklist):
        reasons.append("the checklists of this program are other ones than it was made with")
    return tuple(reasons)


def recompute(record: Record, sheet: Sheet, checklist: Checklist) -> Recomputed:
    """Return how far a record says what the program says of the same plant and readings.

    Parameters
    ----------
    sheet, checklist
        Those of the record's own plant, made anew.
    """
    verdicts = recomputed(record.plant, sheet, checklist, record.visit)
    profiles = carried(record)
    others = [*_header(record), *_walk(record, checklist), *profiles.differences]
    others += [*_settings(record, sheet), *_findings(record, sheet)]
    others += incoherent(record, sheet, checklist)
    counted = verdicts.count + len(record.settings) + len(record.findings)
    return Recomputed(
        counted, (*others, *verdicts.differences), verdicts.left_out, profiles.own, profiles.in_the_way
    )


def _header(record: Record) -> Iterator[Difference]:
    told, found = record.header.plant_digest, record.plant_digest
    if told != found:
        says = "the plant in the record is another than was written: its digest differs"
        yield Difference("header", "plant digest", told, found, excusable=False, says=says)
    held, wanted = record.plant.rules.id, record.plant.site.site.rules
    if record.header.rules != held:
        rules = record.header.rules, held
        yield Difference("header", "rules", *rules, excusable=False, values=rules)
    if held != wanted:
        rules, where = (held, wanted), "in its site"
        yield Difference("plant", "rule set", *rules, where=where, excusable=False, values=rules)


def _walk(record: Record, checklist: Checklist) -> Iterator[Difference]:
    """Yield that the record was made with another walk than follows from its plant and checklists."""
    told, found = record.visit.walk, walk_digest(checklist)
    if told != found:
        says = "its steps are other ones than follow from its plant and checklists"
        yield Difference("visit", "digest of its walk", told[:12] or "missing", found[:12], says=says)


def _settings(record: Record, sheet: Sheet) -> Iterator[Difference]:
    wanted = setting_rows(sheet, record.visit)
    yield from _rows("setting", _by(record.settings, _SETTING), _by(wanted, _SETTING))


def _findings(record: Record, sheet: Sheet) -> Iterator[Difference]:
    wanted = finding_rows(sheet, record.visit)
    yield from _rows("finding", _by(record.findings, ("id",)), _by(wanted, ("id",)))


def _by(rows: Sequence[SettingRow | FindingRow], names: tuple[str, ...]) -> dict[str, dict[str, Any]]:
    made = {}
    for row in rows:
        data = row.model_dump(exclude_none=True)
        made[" ".join(str(data[name]) for name in names if data.get(name))] = data
    return made


def _rows(
    kind: str, told: Mapping[str, dict[str, Any]], found: Mapping[str, dict[str, Any]]
) -> Iterator[Difference]:
    for name in dict.fromkeys((*told, *found)):
        place = f"{kind} {name}"
        if name not in found:
            says = "is in the record, and is none of this plant"
            yield Difference(place, "row", "there", "not one of this plant", says=says)
        elif name not in told:
            says = "is missing in the record"
            yield Difference(place, "row", "missing", "one of this plant", says=says)
        else:
            yield from differences_of(place, told[name], found[name])
