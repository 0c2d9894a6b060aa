"""People and instruments of a visit as lines, and the fields that each of them has."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date
from typing import Final, get_args

from textual.content import Content

from commission.checklist.types import InstrumentKind
from commission.screens.rows import Row, heading, plain_row
from commission.visit.accuracy import accuracy_text
from commission.visit.kit import NO_METER, TooCoarse, default_kit, due_date, label, overdue
from commission.visit.session import OpenVisit
from commission.visit.types import Instrument, Person, Visit

PERSON_FIELDS: Final = ("name", "role", "licence", "employer")
INSTRUMENT_FIELDS: Final = ("serial", "calibrated", "due", "accuracy", "name")
NEW_PERSON, WHOLE_KIT, NEW_INSTRUMENT = "person|", "kit|", "instrument|"
ROLES: Final[tuple[str, ...]] = get_args(Person.model_fields["role"].annotation)
ROOM_OF_ACCURACY: Final = 17
"""Cells that the accuracy has in a line of the narrow terminal."""
KINDS: Final[tuple[InstrumentKind, ...]] = tuple(
    kind for kind in get_args(InstrumentKind) if kind not in NO_METER
)


def offered(visit: Visit) -> tuple[Instrument, ...]:
    """Return the usual kit with what is told of it, then what else is in the visit's kit."""
    told = {instrument.id: instrument for instrument in visit.instruments}
    usual = [told.pop(instrument.id, instrument) for instrument in usual_kit(visit)]
    return (*usual, *told.values())


def usual_kit(visit: Visit) -> tuple[Instrument, ...]:
    """Return what is offered to be put in at once: the kit of the last visit, else the usual one."""
    return (visit.service.kit if visit.service is not None else ()) or default_kit()


def in_kit(visit: Visit, instrument: Instrument) -> bool:
    """Say whether an instrument is in the visit's kit, and not only offered."""
    return any(standing.id == instrument.id for standing in visit.instruments)


def another(visit: Visit, kind: InstrumentKind) -> Instrument:
    """Return one more instrument of a kind, with an id that is free and an ordinary accuracy."""
    taken = {instrument.id for instrument in offered(visit)}
    slug = kind.replace(" ", "-")
    count = next(number for number in range(1, 1000) if _numbered(slug, number) not in taken)
    name = kind if count == 1 else f"{kind} {count}"
    ranges = next((usual.ranges for usual in default_kit() if usual.kind == kind), ())
    return Instrument(id=_numbered(slug, count), kind=kind, name=name, ranges=ranges)


def _numbered(slug: str, number: int) -> str:
    return slug if number == 1 else f"{slug}-{number}"


# lines


def rows(visit: Visit, today: date) -> list[Row]:
    """Return all lines: people, then instruments."""
    return [
        heading("Who"),
        *(plain_row(_person(person), f"person|{person.name}") for person in visit.people),
        plain_row(_next_person(visit), NEW_PERSON),
        Row(Content("")),
        heading("With what"),
        plain_row(f"{_kit_name(visit)}: Enter puts it all in", WHOLE_KIT),
        *(_instrument(visit, instrument, today) for instrument in offered(visit)),
        plain_row("another instrument: Enter", NEW_INSTRUMENT),
    ]


def _kit_name(visit: Visit) -> str:
    again = visit.service is not None and bool(visit.service.kit)
    return "the kit of the last visit" if again else "the whole usual kit"


def _next_person(visit: Visit) -> str:
    named = any(person.role == "technician" for person in visit.people)
    return "somebody else: supervisor, witness, owner" if named else "the technician"


def _person(person: Person) -> str:
    licence = person.licence or ("licence missing" if person.role == "technician" else "")
    return f"{person.role:<11} {person.name:<22} {licence:<18} {person.employer}".rstrip()


def _instrument(visit: Visit, instrument: Instrument, today: date) -> Row:
    key = f"instrument|{instrument.id}"
    name = f"{label(instrument):<23}"
    if not in_kit(visit, instrument):
        return Row(Content.from_markup("[dim]$name not in the kit[/dim]", name=name), key)
    due, late = due_text(instrument, today), overdue(instrument, today)
    return Row(
        Content.from_markup(
            f"$name $serial [{'bold $text-warning' if late else 'not bold'}]$due[/] $accuracy",
            name=name,
            serial=f"{instrument.serial or 'no serial':<11}",
            due=f"{due:<20}",
            accuracy=accuracy_text(instrument.ranges),
        ),
        key,
    )


def due_text(instrument: Instrument, today: date) -> str:
    """Return when an instrument is due for calibration, in words."""
    due = due_date(instrument)
    if due is None:
        return "calibration not told"
    return f"overdue {due}" if overdue(instrument, today) else f"due {due}"


# fields


def person_hint(field: str, person: Person | None) -> str:
    """Return what a field of a person takes, or what Enter keeps."""
    standing = "" if person is None else str(getattr(person, field))
    if standing:
        words = f"{', '.join(ROLES)}; " if field == "role" else ""
        return f"{words}Enter keeps {standing}"
    return "'none held' where there is none" if field == "licence" else ""


def instrument_value(field: str, instrument: Instrument) -> str:
    """Return a field of an instrument as text."""
    return accuracy_text(instrument.ranges) if field == "accuracy" else str(getattr(instrument, field))


def instrument_hint(field: str, instrument: Instrument, *, known: bool) -> str:
    """Return what a field of an instrument takes, or what Enter keeps."""
    standing = instrument_value(field, instrument)
    if field == "serial" and not known:
        last = f"{standing} at the last visit; " if standing else ""
        return f"{last}Enter alone: not in the kit"
    if standing:
        return f"Enter keeps {standing}"
    if field == "due":
        due = due_date(instrument)
        return "year-month-day" if due is None else f"Enter alone: {due}"
    return "year-month-day, such as 2026-03-01" if field == "calibrated" else ""


# what the kit cannot decide


def too_coarse_lines(visit: OpenVisit, found: Sequence[TooCoarse]) -> Iterator[str]:
    """Yield what a kit cannot decide; like readings, as of the cells of a bank, stand together."""
    groups: dict[tuple[str, str], list[TooCoarse]] = {}
    for item in found:
        step = visit.checklist.asks[item.key][0]
        groups.setdefault((step.title, item.says), []).append(item)
    for (title, says), items in groups.items():
        which = items[0].label if len(items) == 1 else f"{len(items)} readings"
        yield f"{title}: {which}"
        yield f"    {says}"
