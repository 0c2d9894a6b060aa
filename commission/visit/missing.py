"""What still has to be said before a visit may be signed, each as a sentence and where to go for it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final, Literal, TypeAlias

from commission.checklist.types import Checklist, ReadingKey, Step
from commission.plant.plant import Plant
from commission.plant.site import Generator
from commission.plant.values import in_words
from commission.sheet.types import Finding, Setting, Sheet
from commission.units import UnitSystem
from commission.visit.kit import NO_METER, due_date, label
from commission.visit.limits import outside_text, subject_of, unaccepted, unexplained
from commission.visit.settings import device_number, not_told, recommended_value
from commission.visit.standing import Standing
from commission.visit.state import finding_disposition, identity_of
from commission.visit.types import Reading, SettingEntry, SignedAs, Visit

Place: TypeAlias = Literal[
    "step", "finding", "setting", "acceptance", "device", "person", "instrument", "record"
]

ISOLATION: Final = 2
"""Stage in which every source is isolated and proven dead."""
_PUT_OFF: Final = frozenset({"deferred", "isolated and locked"})


@dataclass(frozen=True, slots=True)
class Missing:
    """One thing that keeps a visit from being signed."""

    says: str
    place: Place
    """Kind of place to jump to."""
    key: tuple[str, ...] = ()
    """What to jump to: step id and parts, finding id, device (setting, input), person or instrument with the
    field that is missing, or what is accepted."""
    reading: ReadingKey | None = None


def missing_for_sign_off(
    plant: Plant, sheet: Sheet, standing: Standing, signed_as: SignedAs
) -> tuple[Missing, ...]:
    """Return everything that keeps a visit from being signed in a state; empty where nothing does.

    ``made safe, not in service`` asks that danger has ended, every source is isolated and proven dead (or a
    word is said why not), no failed reading is left without a word, and persons and meters are named;
    ``in service with deferred steps`` lets steps be put off to a date; ``complete`` lets nothing be put off.
    """
    visit = standing.visit
    found = [*_persons(visit), *_dangers(standing), *_findings(sheet, visit, signed_as)]
    if signed_as == "made safe, not in service":
        found += _unsafe(standing)
    else:
        found += _changes(standing)
        found += _steps(standing, signed_as)
        if visit.service is None or visit.service.returned is None:  # else the returned record holds them
            found += _settings(plant, sheet, visit)
            found += _devices(plant, visit)
    return (*found, *_instruments(visit))


def _persons(visit: Visit) -> Iterator[Missing]:
    found = [person for person in visit.people if person.role == "technician"]
    if not found:
        yield Missing("the technician's name is missing", "person")
    for person in found:
        if not person.licence.strip():
            says = f"the licence of {person.name} is missing; 'none held' where there is none"
            yield Missing(says, "person", (person.name, "licence"))


def _dangers(standing: Standing) -> Iterator[Missing]:
    for reading in standing.stops():
        says = (
            f"work is stopped by {_what(standing, reading)}: mend it and read again, or isolate and lock it"
        )
        yield Missing(says, "step", _step_key(standing, reading), reading.key)


def _findings(sheet: Sheet, visit: Visit, signed_as: SignedAs) -> Iterator[Missing]:
    for finding in sheet.findings:
        disposed = finding_disposition(visit, finding.id, stops=finding.kind == "stop")
        if disposed is None and _blocks(finding, signed_as):
            says = f"{finding.kind}: {finding.text}; nothing is said about it yet"
            yield Missing(says, "finding", (finding.id,))
        elif disposed is not None and disposed.disposition in _PUT_OFF and signed_as == "complete":
            says = f"{finding.text}: {disposed.disposition}, so the visit is not complete"
            yield Missing(says, "finding", (finding.id,))


def _blocks(finding: Finding, signed_as: SignedAs) -> bool:
    """Say whether a finding needs a word: what was not checked counts as much as what it might hide."""
    if finding.kind == "stop" or (finding.kind == "not checked" and not finding.releasable):
        return True
    return finding.kind == "correct" and signed_as != "made safe, not in service"


def _unsafe(standing: Standing) -> Iterator[Missing]:
    """Yield what keeps a plant from being called safe: no isolation, failed readings without a word."""
    yield from _not_isolated(standing.checklist)
    for step in standing.checklist.steps:
        status = standing.status(step)
        if step.data.stage == ISOLATION and status in {"open", "barred"}:
            yield _of_step(step, "is not done, so the plant is not known to be safe")
        elif status == "failed":
            yield from _readings(standing, step, "made safe, not in service")


def _not_isolated(checklist: Checklist) -> Iterator[Missing]:
    """Yield that a service visit left the plant running, so that nothing in it was isolated."""
    if any(step.data.stage == ISOLATION for step in checklist.steps):
        return
    first = next((step for step in checklist.aside if step.data.stage == ISOLATION), None)
    if first is not None:
        says = "does not isolate the plant, so it is not known to be safe: add the isolation"
        yield Missing(f"this visit {says}", "step", (first.data.id, *first.parts))


def _changes(standing: Standing) -> Iterator[Missing]:
    for step in standing.open_changes():
        says = f"temporary change not read back: {step.data.alters} ({step.title})"
        yield Missing(says, "step", (step.data.id, *step.parts))


def _steps(standing: Standing, signed_as: SignedAs) -> Iterator[Missing]:
    for step in standing.checklist.steps:
        status = standing.status(step)
        if status == "deferred" and signed_as == "complete":
            yield _of_step(step, "is deferred, so the visit is not complete")
        elif status in {"open", "barred"}:
            yield _of_step(step, "has no verdict and no reason")
        elif status in {"failed", "waiting", "done"}:
            yield from _readings(standing, step, signed_as)


def _readings(standing: Standing, step: Step, signed_as: SignedAs) -> Iterator[Missing]:
    for ask in step.asks:
        reading = standing.current(ask)
        if reading is None or reading.judgement is None:
            continue
        verdict = reading.judgement.verdict
        if verdict == "stop work" and standing.settled(reading) and signed_as == "complete":
            yield _of_step(step, "is isolated and locked, so the visit is not complete")
        if verdict == "stop work" or standing.settled(reading):  # open danger is named first of all
            continue
        wanted = "why may it stay?" if verdict.startswith("conditional") else "what is done about it?"
        says = f"'{ask.label}' of '{step.title}' is '{verdict}'; {wanted}"
        yield Missing(says, "step", (step.data.id, *step.parts), reading.key)


def _of_step(step: Step, says: str) -> Missing:
    return Missing(f"'{step.title}' {says}", "step", (step.data.id, *step.parts))


def _settings(plant: Plant, sheet: Sheet, visit: Visit) -> Iterator[Missing]:
    system = plant.site.site.units
    for device, settings in not_told(sheet, visit).items():
        count = len(settings)
        first = in_words(settings[0].setting)
        says = f"{device}: {count} setting{'s' if count > 1 else ''} not read as left, {first} first"
        yield Missing(says, "setting", _place(settings[0]))
    for setting, entry in unexplained(sheet, visit):
        wanted = recommended_value(setting)
        text = device_number(wanted, setting, system) if isinstance(wanted, float | int) else wanted
        told = "nothing is recommended" if text is None else f"{text} is recommended"
        yield Missing(f"{_left(setting, entry, system)}; {told}; why?", "setting", _place(setting))
    for setting, entry in unaccepted(sheet, visit):
        says = f"{_left(setting, entry, system)}: set it right, or a second person accepts it"
        yield Missing(says, "acceptance", (subject_of(setting),))


def _left(setting: Setting, entry: SettingEntry, system: UnitSystem) -> str:
    beyond = outside_text(setting, entry.left, system)
    where = f"{setting.input} " if setting.input else ""
    text = f"{setting.device}: {where}{in_words(setting.setting)} left at {entry.left_text}"
    return f"{text}, {beyond}" if beyond else text


def _place(setting: Setting) -> tuple[str, str, str]:
    return setting.device, setting.setting, setting.input or ""


def _devices(plant: Plant, visit: Visit) -> Iterator[Missing]:
    wanted = [(device.id, device.label, not isinstance(device, Generator)) for device in plant.devices]
    if plant.bank.management is not None:
        wanted += [(string.id, f"battery string {string.id}", True) for string in plant.bank.strings]
    for ident, name, programmed in wanted:
        known = identity_of(visit, ident)
        gaps = [] if known is not None and known.serial.strip() else ["serial number"]
        if programmed and (known is None or not known.firmware.strip()):
            gaps.append("firmware version")
        if gaps:
            yield Missing(f"{name}: {' and '.join(gaps)} missing", "device", (ident,))


def _instruments(visit: Visit) -> Iterator[Missing]:
    used = {reading.instrument for reading in visit.readings}
    for instrument in visit.instruments:
        if instrument.id not in used or instrument.kind in NO_METER:
            continue
        gaps = {} if instrument.serial.strip() else {"serial": "serial number"}
        if due_date(instrument) is None:
            gaps["calibrated"] = "date of calibration"
        if gaps:
            says = f"{label(instrument)}: {' and '.join(gaps.values())} missing; readings were taken with it"
            yield Missing(says, "instrument", (instrument.id, next(iter(gaps))))


def _what(standing: Standing, reading: Reading) -> str:
    found = standing.checklist.asks.get(reading.key)
    return f"'{found[0].title}'" if found else str(reading.key)


def _step_key(standing: Standing, reading: Reading) -> tuple[str, ...]:
    found = standing.checklist.asks.get(reading.key)
    return (found[0].data.id, *found[0].parts) if found else (reading.step, *reading.parts)
