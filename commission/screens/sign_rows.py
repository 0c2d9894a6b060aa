"""What the sign-off page lists: what is missing, what is left for others, plates, what was decided."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Final, get_args

from textual.content import Content

from commission import plain
from commission.checklist.service import agreed_intervals
from commission.revisit.summary import drift_lines, next_lines, returned_lines, why_text
from commission.screens.plates import part_name
from commission.screens.rows import Row, heading, plain_row
from commission.sheet.types import Setting
from commission.visit.limits import outside_text, setting_named
from commission.visit.missing import Missing
from commission.visit.service import service_now
from commission.visit.session import OpenVisit
from commission.visit.standing import step_text
from commission.visit.state import identity_of, setting_of
from commission.visit.types import DeviceIdentity, Disposed, Disposition, SignedAs

STATES: Final[tuple[SignedAs, ...]] = get_args(SignedAs)
STATE_TEXT: Final[dict[SignedAs, str]] = {
    "complete": "all is read and settled, nothing is put off",
    "in service with deferred steps": "the plant runs; what is put off has its date",
    "made safe, not in service": "danger has ended and the plant stays off",
}
DISPOSITION_TEXT: Final[dict[Disposition, str]] = {
    "mended": "set right; a new reading proves it",
    "isolated and locked": "switched off, locked and labelled",
    "accepted": "may stay as it is",
    "deferred": "put off to a date; what stays off is named",
}
LEFT: Final[dict[str, str]] = {
    "next_technician": "note to the next technician",
    "spares": "spare fuses and parts left",
    "codes_kept": "where access codes are kept",
}
"""What is left for those who come after, by the visit's fields."""
GOES: Final[dict[str, str]] = {
    "step": "Enter: the step in the walk",
    "finding": "Enter: say what was done about it",
    "setting": "Enter: the setting on the sheet",
    "acceptance": "Enter: who accepts it; F5 to set it otherwise",
    "device": "Enter: type what stands on the plate",
    "person": "Enter: people and instruments",
    "instrument": "Enter: people and instruments",
    "record": "",
}
_STATE, _SIGN, _RECORD = "state|", "sign|", "record|"


def rows(visit: OpenVisit, signed_as: SignedAs, missing: Sequence[Missing]) -> list[Row]:
    """Return all lines of a visit that is not signed yet."""
    count = len(missing)
    return [
        plain_row(f"to be signed as   {signed_as}: {STATE_TEXT[signed_as]}", _STATE),
        plain_row(f"sign              {f'{count} missing' if count else 'nothing is missing: Enter'}", _SIGN),
        *_missing(visit, missing),
        *service_rows(visit, signed_as),
        *_blank("For those who come after"),
        *(plain_row(_left(visit, field), f"left|{field}") for field in LEFT),
        *_blank("Serial numbers"),
        *(plain_row(_plate(visit, part), f"plate|{part}") for part in parts(visit)),
        *_decided(visit),
    ]


def _missing(visit: OpenVisit, missing: Sequence[Missing]) -> Iterator[Row]:
    """Yield what is missing; the open steps of a stage stand together, since there may be hundreds."""
    if missing:
        yield from _blank("Missing")
    groups: dict[object, list[int]] = {}
    for at, item in enumerate(missing):
        groups.setdefault(_group_of(visit, item) or at, []).append(at)
    for group, places in groups.items():
        text = f"{len(places)} steps {group}" if len(places) > 1 else missing[places[0]].says
        yield plain_row(text, f"missing|{places[0]}")


def _group_of(visit: OpenVisit, item: Missing) -> str:
    """Return with which others a whole step that is missing stands together, empty where it stands alone."""
    step = None if item.reading else visit.checklist.by_key.get((item.key[0], item.key[1:]))
    if item.place != "step" or step is None:
        return ""
    stage = next(one.data.title for one in visit.checklist.stages if one.data.number == step.data.stage)
    return f"put off: {stage}" if visit.standing.status(step) == "deferred" else f"open: {stage}"


def service_rows(visit: OpenVisit, signed_as: SignedAs) -> Iterator[Row]:
    """Yield what came of a service visit: why, what drifted, what was returned, when the next is due."""
    service = service_now(visit.visit)
    if service is None:
        return
    whole = visit.checklist
    agreed = agreed_intervals(whole, visit.plant.site.service)
    groups = (
        ("Service visit", iter((why_text(service),))),
        ("What the supervisor wants", returned_lines(service)),
        ("Drifted since the visits before", drift_lines(visit.visit, whole, visit.sheet, visit.plant)),
        ("Due next", next_lines(visit.visit, agreed, signed_as)),
    )
    for head, lines in groups:
        told = list(lines)
        if told:
            yield from _blank(head)
            yield from (plain_row(line, f"told|{line}") for line in told)


def _blank(text: str) -> tuple[Row, Row]:
    return Row(Content("")), heading(text)


def parts(visit: OpenVisit) -> tuple[str, ...]:
    """Return the ids of what has a plate: devices, and the strings of a battery."""
    plant = visit.plant
    return (*(device.id for device in plant.devices), *(string.id for string in plant.bank.strings))


def _left(visit: OpenVisit, field: str) -> str:
    told = str(getattr(visit.visit, field)).replace("\n", " / ")
    return f"{LEFT[field]:<30} {told or 'nothing yet'}"


def _plate(visit: OpenVisit, part: str) -> str:
    return f"{part_name(visit.plant, part):<30} {_plate_text(identity_of(visit.visit, part))}"


def _plate_text(known: DeviceIdentity | None) -> str:
    if known is None:
        return "nothing yet"
    told = (
        ("serial", known.serial),
        ("firmware", known.firmware),
        ("date code", known.date_code),
    )
    return ", ".join(f"{name} {text}" for name, text in told if text) or "nothing yet"


def _decided(visit: OpenVisit) -> Iterator[Row]:
    decided = visit.standing.decided()
    if decided:
        yield from _blank("Decided")
    for disposed in decided:
        yield plain_row(disposed_text(visit, disposed), f"decided|{disposed.subject}")


def disposed_text(visit: OpenVisit, disposed: Disposed) -> str:
    """Return what was decided about something, as a person would say it."""
    until = f" until {disposed.until}" if disposed.until else ""
    off = f", {disposed.stays_off} stays off" if disposed.stays_off else ""
    subject = subject_text(visit, disposed.subject)
    return f"{disposed.disposition}{until}: {subject}; {disposed.reason}{off} ({disposed.by})"


def subject_text(visit: OpenVisit, subject: str) -> str:
    """Return what a disposition is about, in words."""
    finding = next((one for one in visit.sheet.findings if one.id == subject), None)
    if finding is not None:
        return finding.text
    setting = setting_named(visit.sheet, subject)
    if setting is not None:
        return _setting_text(visit, setting)
    found = next((pair for key, pair in visit.checklist.asks.items() if str(key) == subject), None)
    if found is not None:
        return f"{found[0].title}, {found[1].label}"
    steps = (step.title for step in visit.checklist.steps if step_text(step.key) == subject)
    return next(steps, subject)


def _setting_text(visit: OpenVisit, setting: Setting) -> str:
    entry, system = setting_of(visit.visit, *setting.key), visit.plant.site.site.units
    name = f"{plain.setting_name(setting)} of {setting.device}"
    if entry is None or entry.left is None:
        return name
    beyond = outside_text(setting, entry.left, system)
    return ", ".join(part for part in (f"{name} left at {entry.left_text}", beyond) if part)


def signed_rows(visit: OpenVisit, record: Sequence[str]) -> list[Row]:
    """Return the lines of a signed visit: who signed it, and where its record is."""
    sign_off = visit.visit.sign_off
    assert sign_off is not None  # noqa: S101 - asked before
    told = record or ("the record is not written from here yet: Enter writes it",)
    return [
        plain_row(f"signed by {sign_off.name} as {sign_off.signed_as}, {sign_off.at:%Y-%m-%d %H:%M}", _SIGN),
        Row(Content("")),
        heading("Record"),
        *(plain_row(text, f"{_RECORD}{at}") for at, text in enumerate(told)),
        *service_rows(visit, sign_off.signed_as),
        *_decided(visit),
    ]
