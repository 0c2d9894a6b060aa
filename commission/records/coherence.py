"""What a record cannot say of a visit as the program leads it: places that disagree, a sign-off too soon."""

from __future__ import annotations

import math
from collections.abc import Iterator
from datetime import timedelta
from typing import Final

from commission.checklist.types import Ask, Checklist, ReadingKey
from commission.errors import CommissionError
from commission.records.types import Record
from commission.records.write import DECISION_RULE
from commission.sheet.types import Sheet
from commission.units import UnitSystem
from commission.visit.dangers import dangers
from commission.visit.dispose import check_disposition, check_finding_disposition
from commission.visit.entry import Typed, read_entry
from commission.visit.missing import missing_for_sign_off
from commission.visit.recompute import Difference, same
from commission.visit.standing import Standing
from commission.visit.state import instrument_of
from commission.visit.types import Reading, SignOff, Visit

_CLOCKS_DIFFER: Final = timedelta(minutes=2)
_SHORT: Final = 19
"""Letters of a digest that are said: ``sha256:`` and twelve of it."""
_BEGAN: Final = "where it says which record its visit goes on from"
_MEANING: Final = SignOff.model_fields["meaning"].default


def incoherent(record: Record, sheet: Sheet, checklist: Checklist) -> Iterator[Difference]:
    """Yield where a record does not agree with itself.

    Parameters
    ----------
    sheet, checklist
        Those of the record's own plant, made anew.
    """
    yield from _header(record)
    yield from _before(record)
    yield from _readings(record.visit, checklist, record.plant.site.site.units)
    yield from _dispositions(record, sheet)
    if not record.visit.plant_changes:  # before them the walk was another one
        yield from _steps(record.visit, checklist)
    if record.visit.sign_off is not None:
        yield from _signed(record, sheet, checklist, record.visit.sign_off)


def _header(record: Record) -> Iterator[Difference]:
    header, visit = record.header, record.visit
    for field, told, found in (
        ("program", header.program, visit.program),
        ("kind", header.kind, visit.kind),
        ("signed", header.signed, visit.sign_off is not None),
        ("decision rule", header.decision_rule, DECISION_RULE),
    ):
        if told != found:
            excusable = field == "decision rule"  # another version may have had another
            texts = f"'{told}'", f"'{found}'"
            yield Difference("header", field, *texts, excusable=excusable, values=(told, found))


def _before(record: Record) -> Iterator[Difference]:
    """Yield that a service visit compares with another record than the one that it stands behind."""
    service, told = record.visit.service, record.header.previous
    if service is not None and service.previous_digest and service.previous_digest != told:
        began = service.previous_digest
        texts = told[:_SHORT] or "missing", f"{began[:_SHORT]}…"
        says = "names another record before it than its visit goes on from"
        yield Difference("header", "previous", *texts, _BEGAN, says=says)


def _readings(visit: Visit, checklist: Checklist, system: UnitSystem) -> Iterator[Difference]:
    """Yield readings whose value is not what was typed, or whose times cannot be."""
    newest = None
    known: set[ReadingKey] = set()
    for reading in visit.readings:
        place = f"reading {reading.key}"
        if reading.corrects and reading.key not in known:
            says = "is told as a correction, and nothing was read there before"
            texts = "yes", "no: there is no earlier one"
            yield Difference(place, "corrects", *texts, excusable=False, says=says)
        known.add(reading.key)
        found = checklist.asks.get(reading.key)
        if found is not None:
            yield from _typed(place, reading, found[1], visit, system)
        if reading.measured_at > reading.entered_at + _CLOCKS_DIFFER:
            yield _at_odds(place, "entered before it was measured")
        if newest is not None and reading.entered_at < newest:
            yield _at_odds(place, "entered before the reading above it")
        newest = reading.entered_at
    if visit.sign_off is not None and newest is not None and newest > visit.sign_off.at:
        yield _at_odds("sign-off", "before the last reading")


def _at_odds(place: str, when: str) -> Difference:
    """Return that a time in a record cannot be."""
    return Difference(place, "time", when, "otherwise", excusable=False, says=f"was {when}; that cannot be")


def _typed(place: str, reading: Reading, ask: Ask, visit: Visit, system: UnitSystem) -> Iterator[Difference]:
    """Yield what a reading holds otherwise than its text says; a file's numbers are in metric units."""
    told = Typed(reading.kind, reading.value, reading.text, reading.unit, reading.side)
    meter = instrument_of(visit, reading.instrument)
    wrong: dict[str, tuple[object, object]] = {}
    units: tuple[UnitSystem, ...] = (system, "metric")
    for one in units:
        try:
            found = read_entry(ask, reading.text, system=one, instrument=meter)
        except CommissionError as error:
            wrong = {"text": (reading.text, f"not understood: {error}")}
            continue
        wrong = dict(_unlike(told, found))
        if not wrong:
            return
    for field, (one_value, other) in wrong.items():
        by = f"by what was typed, '{reading.text}'"
        says = f"'{one_value}' was typed, {other}" if field == "text" else ""
        unit = told.unit if field == "value" else ""
        texts = f"'{one_value}'", f"'{other}'"
        yield Difference(place, field, *texts, by, says=says, values=(one_value, other), unit=unit)


def _unlike(told: Typed, found: Typed) -> Iterator[tuple[str, tuple[object, object]]]:
    for field in ("kind", "unit", "side"):
        if getattr(told, field) != getattr(found, field):
            yield field, (getattr(told, field), getattr(found, field))
    over_range = told.side != "exact" or (isinstance(told.value, float) and math.isinf(told.value))
    # what a meter shows over its range depends on what is told of its ranges, which may be put right later
    if not over_range and not same(told.value, found.value):
        yield "value", (told.value, found.value)


def _dispositions(record: Record, sheet: Sheet) -> Iterator[Difference]:
    """Yield what was done about something and could not have been taken."""
    changed = max((change.at for change in record.visit.plant_changes), default=None)
    findings = {finding.id: finding for finding in sheet.findings}
    for disposed in record.visit.dispositions:
        finding = findings.get(disposed.subject)
        try:
            check_disposition(disposed, disposed.at.date())
            if finding is not None and (changed is None or disposed.at > changed):
                check_finding_disposition(disposed, finding, record.plant, record.visit)
        except CommissionError as error:
            told = f"'{disposed.disposition}'"
            says = f"{told} could not be said of it: {error}"
            place = f"disposition of {disposed.subject}"
            yield Difference(place, "word", told, f"refused: {error}", says=says)


def _steps(visit: Visit, checklist: Checklist) -> Iterator[Difference]:
    service = visit.service
    rows = (
        *(("note", one.step, one.parts) for one in visit.notes),
        *(("attached file", one.step, one.parts) for one in visit.attachments),
        *(("step set aside", one.step, one.parts) for one in visit.not_applicable),
        *(("release", one.step, one.parts) for one in visit.releases),
        *(("added step", one.step, one.parts) for one in (service.added if service else ())),
        *(("step put off before", one.step, one.parts) for one in (service.put_off if service else ())),
    )
    for what, step, parts in rows:
        if (step, parts) not in checklist.by_key:
            where = "not in the walk of this plant"
            named = f"'{' '.join((step, *parts))}'"
            yield Difference(what, "step", named, where, says=f"belongs to {named}, a step {where}")


def _signed(record: Record, sheet: Sheet, checklist: Checklist, signed: SignOff) -> Iterator[Difference]:
    """Yield what would have kept the visit from being signed, and who could not have signed it."""
    visit = record.visit
    who = (signed.name, signed.role, signed.licence, signed.employer)
    if who not in {(one.name, one.role, one.licence, one.employer) for one in visit.people}:
        named, where = ", ".join(filter(None, who)), "not among the people of the visit"
        yield Difference("sign-off", "signer", f"'{', '.join(who)}'", where, says=f"{named} is {where}")
    if signed.role != "technician":
        values = signed.role, "technician"
        yield Difference("sign-off", "role", f"'{signed.role}'", "'technician'", values=values)
    if signed.meaning != _MEANING:
        values = signed.meaning, _MEANING
        yield Difference("sign-off", "meaning", f"'{signed.meaning}'", f"'{_MEANING}'", values=values)
    standing = Standing(checklist, visit, dangers(record.plant, sheet.findings))
    for missing in missing_for_sign_off(record.plant, sheet, standing, signed.signed_as):
        says = f"'{signed.signed_as}' could not be signed: {missing.says}"
        yield Difference("sign-off", "state", f"'{signed.signed_as}'", f"refused: {missing.says}", says=says)
