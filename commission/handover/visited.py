"""What a handover tells of the visit itself: why, who, what was found, done, put off, and what comes next."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from commission.handover.blocks import Block, Column, Fact, Facts, Part, Row, Table
from commission.handover.matter import Matter, earlier_text, short, typed
from commission.records.types import SettingRow
from commission.revisit.summary import day, why_text
from commission.revisit.told import returned_lines
from commission.visit.service import apart, comments_at
from commission.visit.types import Comment, Disposed, EarlierReading, Reading, Visit

_GOOD: Final = frozenset({"pass", "recorded"})
_LISTED: Final = 6
"""Readings at a comment that are told; of a column of twenty-four cells the first do."""


def this_visit(matter: Matter) -> Part:
    """Return what this visit was: why, who came, how the plant is left, what was before it."""
    return Part("This visit", (Facts(tuple(_this_visit(matter))),))


def _this_visit(matter: Matter) -> Iterator[Fact]:
    visit, service, signed = matter.visit, matter.service, matter.visit.sign_off
    if service is not None:
        event = service.event if service.event and not service.parts else ""
        yield Fact("why", ("; ".join(told for told in (why_text(service), event) if told),))
    if signed is not None:
        yield Fact("signed as", (signed.signed_as,))
    yield Fact("came", tuple(_people(matter)))
    if signed is not None:
        yield Fact("signed", (f"{signed.name}, {signed.role}, {day(signed.at.date())}", *_answers(matter)))
    yield Fact("this record", (f"visit {visit.id}, digest {short(matter.held.digest)}",))
    if service is not None:
        then = day(service.previous_at.date())
        told = f"{_kind_before(matter)} of {then}, visit {service.previous_visit}"
        yield Fact("before it", (f"{told}, digest {short(service.previous_digest)}",))


def _people(matter: Matter) -> Iterator[str]:
    for one in matter.visit.people:
        licence = f"licence {one.licence}" if one.licence else ""
        yield ", ".join(told for told in (one.name, one.role, licence, one.employer) if told)


def _answers(matter: Matter) -> Iterator[str]:
    """Yield who countersigned or returned the record."""
    for seal in matter.held.seals:
        if seal.says in {"countersigned", "returned"}:
            at = "" if seal.at is None else f", {day(seal.at.date())}"
            yield f"{seal.says} by {seal.name}, {seal.role}{at}"


def _kind_before(matter: Matter) -> str:
    service = matter.service
    held = [one.record.visit for one in matter.before.records]
    found = next((one for one in held if service and one.id == service.previous_visit), None)
    return "visit" if found is None else kind_of(found)


def kind_of(visit: Visit) -> str:
    """Return what a visit is called."""
    return "service visit" if visit.kind == "service" else visit.kind


# what it puts right


def put_right(matter: Matter) -> Part | None:
    """Return what a supervisor said who returned the record before, and what was read there now."""
    service = matter.service
    if service is None or service.returned is None:
        return None
    returned = service.returned
    at = "" if returned.at is None else f", {day(returned.at.date())}"
    head = f"Record {short(service.previous_digest)} was returned by {returned.by}, {returned.role}{at}."
    told = [Fact("returned", (head.replace(", ,", ","),))]
    for comment, line in zip(returned.comments, returned_lines(returned, matter.whole), strict=True):
        told.append(Fact("comment", (line, *_read_now(matter, comment))))
    return Part("What it puts right", (Facts(tuple(told)),))


def _read_now(matter: Matter, comment: Comment) -> Iterator[str]:
    found = [
        one
        for one in matter.readings
        if comment in comments_at((one.step.partition(".")[0], one.parts), matter.service)
    ]
    told = [f"{typed(one)}, {verdict_of(one)}" for one in found[:_LISTED]]
    more = [f"and {len(found) - _LISTED} more"] if len(found) > _LISTED else []
    if told:
        yield f"now: {'; '.join((*told, *more))}"
    elif comment.step:
        yield "now: not read again"


def verdict_of(reading: Reading) -> str:
    """Return the verdict of a reading; one that nothing is expected of is recorded."""
    return "recorded" if reading.judgement is None else reading.judgement.verdict


# what was found, and what was done


_SETTINGS: Final = (
    Column("setting", 35), Column("left before", 14, number=True), Column("found", 14, number=True),
    Column("left now", 14, number=True),
)  # fmt: skip
_DIFFERING: Final = (
    Column("setting", 50), Column("recommended", 14, number=True), Column("left", 14, number=True),
)  # fmt: skip


def found_otherwise(matter: Matter) -> Part | None:
    """Return the settings that were found otherwise than the visit before left them."""
    read = any(row.found is not None for row in matter.record.settings)
    if matter.service is None or (matter.service.returned is not None and not read):
        return None
    rows = [_moved(matter, row) for row in matter.record.settings if row.drifted]
    told = tuple(_how_many_read(matter))
    blocks: tuple[Block, ...] = (Table(_SETTINGS, tuple(rows)),) if rows else ()
    blocks += (Facts((Fact("", told),)),) if told else ()
    return Part("Settings found otherwise than the visit before left them", blocks)


def _moved(matter: Matter, row: SettingRow) -> Row:
    values = ((row.before, row.before_text), (row.found, row.found_text), (row.left, row.left_text))
    cells = tuple(matter.setting_value(row, value, text) for value, text in values)
    return Row((matter.setting(row), *cells), (f"why: {row.reason}",) if row.reason else ())


def _how_many_read(matter: Matter) -> Iterator[str]:
    """Yield how many settings stood as they were left, and how many nobody read: silence is no 'as left'."""
    known = [row for row in matter.record.settings if row.before is not None]
    read = [row for row in known if row.found is not None]
    same = sum(not row.drifted for row in read)
    if read:
        yield f"{same} of {len(known)} settings were found as the visit before left them."
    if known and not read:
        yield f"None of {len(known)} settings was read as found at this visit."
    elif len(read) < len(known):
        yield f"{len(known) - len(read)} of {len(known)} settings were not read as found at this visit."
    if not known:
        yield "How the visit before left them is not known."


def left_otherwise(matter: Matter) -> Part | None:
    """Return the settings that a commissioning left otherwise than recommended, each with its reason."""
    rows = tuple(
        Row(
            (matter.setting(row), matter.setting_value(row, row.recommended), _left(matter, row)),
            (f"why: {row.reason}",) if row.reason else (),
        )
        for row in matter.record.settings
        if row.differs
    )
    if matter.service is not None or not rows:
        return None
    return Part("Settings left otherwise than recommended", (Table(_DIFFERING, rows),))


def _left(matter: Matter, row: SettingRow) -> str:
    return matter.setting_value(row, row.left, row.left_text)


def done(matter: Matter) -> Part | None:
    """Return what was done: settings put right, what did not pass and what came of it, the plant changed."""
    told = (*_set(matter), *_plant(matter), *_not_passed(matter), *_decided(matter))
    return Part("What did not pass, what was decided and done", (Facts(told),)) if told else None


def _set(matter: Matter) -> Iterator[Fact]:
    for row in matter.record.settings:
        if row.found is None or row.left is None or (row.drifted and matter.service is not None):
            continue
        setting = matter.sheet.setting(row.device, row.setting, row.input)
        if apart(setting, row.found, row.left):
            found = matter.setting_value(row, row.found, row.found_text)
            why = f"; {row.reason}" if row.reason else ""
            yield Fact("set", (f"{matter.setting(row)} from {found} to {_left(matter, row)}{why}",))


def _plant(matter: Matter) -> Iterator[Fact]:
    for change in matter.visit.plant_changes:
        parts = f" ({', '.join(change.parts)})" if change.parts else ""
        yield Fact("plant changed", (f"{change.reason}{parts}; {change.by}",))


def _not_passed(matter: Matter) -> Iterator[Fact]:
    """Yield the readings that did not pass, those together of which the same was decided."""
    decided = {one.subject: one for one in _own(matter)}
    groups: dict[tuple[str, str], list[str]] = {}
    for reading in matter.readings:
        verdict, named = verdict_of(reading), str(reading.key)
        if verdict not in _GOOD:
            told = f"{matter.reading(reading.key)}: {typed(reading)}"
            groups.setdefault((verdict, _came_of(reading, decided.get(named))), []).append(told)
    for (verdict, came), readings in groups.items():
        yield Fact(verdict, (*readings, came) if came else tuple(readings))


def _came_of(reading: Reading, one: Disposed | None) -> str:
    """Return what was decided about a reading, else what its verdict says."""
    if one is not None:
        return _how(one)
    if _explained(reading):
        return f"accepted: {reading.reason}"
    return "" if reading.judgement is None else reading.judgement.says


def _explained(reading: Reading) -> bool:
    return bool(reading.reason) and not reading.corrects


def _decided(matter: Matter) -> Iterator[Fact]:
    """Yield what else was decided: about findings of the design check and about settings."""
    read = {str(reading.key) for reading in matter.readings}
    groups: dict[tuple[str, str], list[str]] = {}
    for one in _own(matter):
        if one.subject not in read and one.disposition != "deferred":
            groups.setdefault((one.disposition, _how(one)), []).append(_joined(*matter.subject(one.subject)))
    for (word, how), subjects in groups.items():
        yield Fact(word, (*subjects, how))


def _own(matter: Matter) -> list[Disposed]:
    """Return what this visit decided and what still holds of it."""
    return [one for one in matter.offer.dispositions if one in matter.visit.dispositions]


def _how(one: Disposed) -> str:
    until = f" until {one.until}" if one.until else ""
    off = f"; stays off: {one.stays_off}" if one.stays_off else ""
    return f"{one.disposition}{until} by {one.by}: {one.reason}{off}"


def _joined(*told: str) -> str:
    return ", ".join(one for one in told if one)


# put off and added


def _put_off(matter: Matter) -> list[Disposed]:
    return [one for one in matter.offer.dispositions if one.disposition == "deferred"]


def put_off(matter: Matter) -> Part | None:
    """Return the steps that were put off, by this visit and earlier ones, the earliest date first."""
    groups: dict[tuple[str, str], dict[str, list[str]]] = {}
    for one in sorted(_put_off(matter), key=lambda item: item.until or "9999"):
        title, more = matter.subject(one.subject)
        until = f"until {one.until}" if one.until else "no date told"
        steps = groups.setdefault((until, _by_whom(matter, one)), {})
        steps.setdefault(title, []).append(more)
    told = [
        Fact(until, (*(_joined(title, _several(more)) for title, more in steps.items()), by))
        for (until, by), steps in groups.items()
    ]
    return Part("Put off, to be done", (Facts(tuple(told)),)) if told else None


def _several(more: list[str]) -> str:
    return f"{len(more)} readings" if len(more) > 1 else more[0]


def _by_whom(matter: Matter, one: Disposed) -> str:
    """Return who put a step off, at which visit, and whether its date had passed by this one."""
    visit = next(
        (held.record.visit for held in matter.before.records if one in held.record.visit.dispositions), None
    )
    past = "; THE DATE IS PAST" if one.until and one.until < f"{matter.visit.started_at:%Y-%m-%d}" else ""
    when = f"at this visit, {day(one.at.date())}" if one in matter.visit.dispositions else ""
    when = when or (f"at the {kind_of(visit)} of {day(visit.started_at.date())}" if visit else "before")
    off = f"; stays off: {one.stays_off}" if one.stays_off else ""
    return f"by {one.by} {when}: {one.reason}{off}{past}"


def added(matter: Matter) -> Part | None:
    """Return the steps that were not due and were done all the same."""
    service = matter.service
    if service is None or not service.added:
        return None
    told = tuple(
        Fact("added", (matter.step(one.key), f"by {one.by}, {day(one.at.date())}{_because(one.reason)}"))
        for one in service.added
    )
    return Part("Done although not due", (Facts(told),))


def _because(reason: str) -> str:
    return f": {reason}" if reason else ""


# new baselines


_ANEW: Final = (
    Column("reading", 39), Column("baseline kept", 13, number=True), Column("of", 12),
    Column("new baseline", 13, number=True),
)  # fmt: skip


def new_baselines(matter: Matter) -> Part | None:
    """Return which readings began anew with a changed plant, or all where it was commissioned."""
    new = matter.begun
    if matter.service is None:
        words = f"{len(new)} readings of this visit are what later visits compare with."
        return Part("Baselines", (Facts((Fact("", (words, *_provisional(new))),)),))
    if not matter.service.changed:
        return None
    parts = ", ".join(matter.service.changed)
    kept = sum(row.key in matter.kept for row in new)
    words = (
        f"Begun anew with {parts}: {len(new)} readings. {_old(matter, kept)}" if new
        else f"Told otherwise than before: {parts}; none of its readings was taken at this visit."
    )  # fmt: skip
    return Part("New baselines", (Facts((Fact("", (words, *_provisional(new))),)),))


def _old(matter: Matter, kept: int) -> str:
    if not matter.before.records:
        return "The old baselines stay in their records, which are not beside this one."
    return f"{kept} of them had one before; it stays in its record, and is told behind." if kept else (
        "None of them had one before."
    )  # fmt: skip


def _provisional(rows: tuple[EarlierReading, ...]) -> Iterator[str]:
    many = sum(row.provisional for row in rows)
    if many:
        yield f"{many} of them {'is' if many == 1 else 'are'} provisional, until a later visit makes it firm."


def old_and_new(matter: Matter) -> Part | None:
    """Return each new baseline beside the one that it follows."""
    if matter.service is None or not matter.begun or not matter.kept:
        return None
    return Part("New baselines, and those that they follow",
                (Table(_ANEW, tuple(_pairs(matter))),), behind=True)  # fmt: skip


def _pairs(matter: Matter) -> Iterator[Row]:
    for row in matter.begun:
        old = matter.kept.get(row.key)
        before = ("none", "") if old is None else (earlier_text(old), day(old.measured_at.date()))
        mark = " *" if row.provisional else ""
        yield Row((matter.reading(row.key) + mark, *before, earlier_text(row)))


# what comes next


def due_next(matter: Matter) -> Part:
    """Return when each interval is due again, as the next visit will reckon it."""
    agreed = matter.plant.site.service
    told: list[tuple[str, str]] = []
    if agreed is not None and agreed.next_due:
        told.append(("agreed", f"{agreed.next_due}, told to the owner"))
    for row in matter.offer.due:
        never = "never done in the records that are here" if matter.gap else "never done yet"
        late = "; OVERDUE at this visit" if row.state == "overdue" else ""
        last = never if row.last is None else f"{day(row.on)}, last done {day(row.last)}{late}"
        told.append((row.interval, last))
    signed = matter.visit.sign_off
    if signed is not None and signed.signed_as == "made safe, not in service":
        told.append(("", "The plant stays off, so this visit counts as none of them."))
    if matter.gap:
        told.append(("", "The record before is missing here; dates are told by those that are here."))
    return Part("Due next", (Facts(tuple(Fact(word, (text,)) for word, text in told)),))


def for_the_next(matter: Matter) -> Part | None:
    """Return what was left for whoever comes next, and what the document was made from."""
    offer, told = matter.offer, []
    note = tuple(line for line in offer.left("next_technician").splitlines() if line.strip())
    if note:
        told.append(Fact("note", note))
    for word, text in (("spares", offer.left("spares")), ("access codes", offer.left("codes_kept"))):
        if text:
            told.append(Fact(word, (text,)))
    many = len(offer.records.records)
    from_these = f"this record and {many - 1} before it" if many > 1 else "this record alone"
    told.append(Fact("made from", (from_these, *offer.records.said)))
    return Part("For the next technician", (Facts(tuple(told)),))
