"""A service visit that could be made, in words and as JSON, for command line and screens alike."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from typing import Any, Final

from commission.checklist.intervals import Due, covered
from commission.checklist.types import Checklist, StepKey
from commission.plant.explain import printable
from commission.revisit.offer import Offer, Wanted
from commission.revisit.summary import day, drift_lines, drifted
from commission.visit.service import left_out_text, why_repeated
from commission.visit.standing import step_text
from commission.visit.types import Comment, Disposed, Returned

_LEFT: Final = ("deferred", "accepted", "isolated and locked")
_LONGEST: Final = 400
"""Letters of what a record says that are told in one line."""


def last_text(offer: Offer) -> str:
    """Return when the plant was visited last, by whom and how it was left."""
    last = offer.last
    signed = last.sign_off
    by = "" if signed is None else f" by {signed.name}, {signed.signed_as}"
    return _line(f"{last.kind} of {day(last.started_at.date())}{by}")


def due_text(row: Due) -> str:
    """Return when an interval is due: ``due since 12 May 2026, 12 days ago``."""
    if row.last is None:
        return "never done yet"
    if row.state == "overdue":
        return f"due since {day(row.on)}, {_days(-row.days)} ago"
    when = "today" if row.days == 0 else f"in {_days(row.days)}"
    near = ", near enough" if row.state == "due" and row.days else ""
    return f"due {day(row.on)}, {when}{near}"


def _days(count: int) -> str:
    if count >= 61:
        return f"{round(count / 30.44)} months"
    return f"{count} day" if count == 1 else f"{count} days"


def summary(offer: Offer) -> str:
    """Return one line: the site, when it was visited last, what is due or was returned."""
    if offer.returned is not None:
        count = len(offer.returned.comments)
        comments = f"{count} comment{'s' if count > 1 else ''} by {offer.returned.by}"
        return _line(f"{offer.plant.site.site.name}, {last_text(offer)}: returned, {comments}")
    told = [f"{row.interval} {due_text(row)}" for row in offer.due if row.state != "coming"]
    if not told:
        coming = min(offer.due, key=lambda row: row.on, default=None)
        told = [f"next {coming.interval} {day(coming.on)}"] if coming else []
    site = offer.plant.site.site.name
    return _line(f"{site}, last visited {day(offer.last.started_at.date())}; {', '.join(told)}".rstrip("; "))


def note_lines(offer: Offer) -> Iterator[str]:
    """Yield what the last technician left word of; the note to the next one first of all."""
    yield from (_line(line) for line in offer.left("next_technician").splitlines() if line.strip())
    for words, told in (
        ("spares left", offer.left("spares")),
        ("access codes are kept", offer.left("codes_kept")),
    ):
        if told:
            yield _line(f"{words}: {told}")


def returned_lines(returned: Returned, whole: Checklist) -> Iterator[str]:
    """Yield what a supervisor said who returned the record, each with its step and what was read there."""
    titles = {step.data.id: step.title for step in whole.steps}
    for one in returned.comments:
        steps = [step.title for step in whole.steps if _is_at(one, step.key)]
        where = steps[0] if steps else titles.get(one.step.partition(".")[0], one.step)
        was = f"  (read then: {one.was})" if one.was else ""
        yield _line(f"{where}: {one.text}{was}" if where else f"to the whole: {one.text}")


def _is_at(comment: Comment, key: StepKey) -> bool:
    return comment.step.partition(".")[0] == key[0] and set(comment.parts) <= set(key[1])


def returned_head(returned: Returned) -> str:
    """Return who returned a record, and when."""
    at = "" if returned.at is None else f", {day(returned.at.date())}"
    return _line(f"Returned by {returned.by} ({returned.role}){at}")


def changed_lines(offer: Offer) -> Iterator[str]:
    """Yield the parts that the site file tells otherwise than the last record."""
    old = offer.records.newest.record.plant
    for part in offer.changed:
        if part == "site":
            yield "the site itself (climate, earthing, coordination…) is told otherwise"
        elif part not in _parts(offer):
            yield f"{part} is gone"
        elif part not in old.parts and part not in {one.id for one in old.bank.strings} | {old.bank.id}:
            yield f"{part} is new or told otherwise: its readings begin anew"
        else:
            yield f"{part} is told otherwise: its readings begin anew, the old ones stay in their records"


def _parts(offer: Offer) -> set[str]:
    plant = offer.plant
    arrays = (one.array for one in plant.site.charge_controllers if one.array is not None)
    strings = {string.id for array in arrays for string in array.strings}
    return {*plant.parts, plant.bank.id, *(string.id for string in plant.bank.strings), *strings}


def drifted_lines(offer: Offer) -> Iterator[str]:
    """Yield what the last visit found drifted, where it was a service visit too."""
    yield from map(_line, drift_lines(offer.last, offer.whole, offer.sheet, offer.plant))


def open_lines(offer: Offer) -> Iterator[str]:
    """Yield what the last visit deferred, accepted or locked, and until when."""
    told = [one for one in offer.dispositions if one.disposition in _LEFT]
    groups: dict[tuple[str, str, str], list[str]] = {}
    for one in sorted(told, key=lambda item: (_LEFT.index(item.disposition), item.until)):
        title, more = _subject(offer, one)
        groups.setdefault((f"{one.disposition}{_until(one, offer.today)}", title, one.reason), []).append(
            more
        )
    for (how, title, reason), readings in groups.items():
        more = f"{len(readings)} readings" if len(readings) > 1 else readings[0]
        yield _line(f"{how}: {', '.join(part for part in (title, more) if part)}; {reason}")


def _until(one: Disposed, today: date) -> str:
    if not one.until:
        return ""
    past = ", WHICH IS PAST" if one.until < today.isoformat() else ""
    return f" until {one.until}{past}"


def _subject(offer: Offer, one: Disposed) -> tuple[str, str]:
    """Return what a disposition is about, in words, and which of its readings."""
    finding = next((row for row in offer.records.newest.record.findings if row.id == one.subject), None)
    if finding is not None:
        return finding.text, ""
    found = next((pair for key, pair in offer.whole.asks.items() if str(key) == one.subject), None)
    if found is None:
        steps = (step.title for step in offer.whole.steps if step_text(step.key) == one.subject)
        return next(steps, one.subject), ""
    step, ask = found
    return step.title, "" if len(step.asks) == 1 else ask.label


def record_lines(offer: Offer) -> Iterator[str]:
    """Yield from which records is built, and what was passed over among them."""
    count = len(offer.records.records)
    yield f"{count} record{'s' if count > 1 else ''} in {offer.folder}"
    if offer.file is None:
        yield "the plant is that of the last record; name the site file instead where it was changed since"
    else:
        yield _line(f"the plant is as {offer.file.name} tells it")
    yield from (_line(text) for text in offer.records.said)


def uncovered_lines(offer: Offer, wanted: Wanted) -> Iterator[str]:
    """Yield what the visit would leave out, and what no visit before has settled."""
    walk = offer.walk(wanted)
    if walk.aside:
        done = f"this visit does {len(walk.steps)} of {len(offer.whole.steps)} steps"
        yield f"{done}; {left_out_text(len(walk.aside), returned=wanted.returned)}"
    for row in offer.due:
        left = wanted.returned or row.interval not in covered(wanted.due)
        if left and row.state != "coming":
            yield f"{row.interval} is {due_text(row)}, and is left out"
    unjudged = sum(
        one.judgement is not None and one.judgement.verdict == "not judged"
        for one in {reading.key: reading for reading in offer.last.readings}.values()
    )
    if unjudged:
        yield f"{unjudged} reading{'s' if unjudged > 1 else ''} of the last visit could not be judged"


def _line(text: str) -> str:
    return printable(" ".join(text.split()), _LONGEST)


# as text and JSON


def offer_lines(offer: Offer, wanted: Wanted) -> Iterator[str]:
    """Yield a service visit that could be made as text."""
    yield f"{offer.plant.site.site.name}: service visit"
    yield f"last visit: {last_text(offer)}"
    if offer.returned is not None:
        yield from _under(returned_head(offer.returned), returned_lines(offer.returned, offer.whole))
    yield from _under("note to the next technician", note_lines(offer))
    yield from _under("due", (f"{row.interval:<12}{due_text(row)}" for row in offer.due))
    yield from _under("changed since", changed_lines(offer))
    yield from _under("drifted at the last visit", drifted_lines(offer))
    yield from _under("left open by the last visit", open_lines(offer))
    yield from _under("records", record_lines(offer))
    walk = offer.walk(wanted)
    yield ""
    yield f"this visit would do: {wanted_text(wanted)}"
    service = offer.service(wanted)
    for stage in walk.stages:
        yield f"  {stage.data.number}  {stage.data.title}"
        for step in stage.steps:
            yield f"      {step.title}  ({why_repeated(step, offer.plant, service)})"
    yield from _under("not covered", uncovered_lines(offer, wanted))


def wanted_text(wanted: Wanted) -> str:
    """Return what a person wants of a visit, in words."""
    if wanted.returned:
        return "the steps of the supervisor's comments, and what keeps them safe"
    told = [", ".join(wanted.due)] if wanted.due else []
    told += [f"after {wanted.event}" if wanted.event else "after an event"] if wanted.parts else []
    told += ["what was put off"] if wanted.put_off else []
    told += [f"replaced: {', '.join(wanted.replaced)}"] if wanted.replaced else []
    return "; ".join(told) or "only what is done at every visit"


def _under(head: str, lines: Iterator[str]) -> Iterator[str]:
    told = list(lines)
    if told:
        yield ""
        yield f"{head}:"
        yield from (f"  {line}" for line in told)


def offer_json(offer: Offer, wanted: Wanted) -> dict[str, Any]:
    """Return a service visit that could be made with the stable keys of ``service --json``."""
    last, walk, service = offer.last, offer.walk(wanted), offer.service(wanted)
    return {
        "site": offer.plant.site.site.id,
        "name": offer.plant.site.site.name,
        "last": {
            "visit": last.id,
            "kind": last.kind,
            "started_at": last.started_at.isoformat(),
            "signed_as": None if last.sign_off is None else last.sign_off.signed_as,
            "record": str(offer.records.newest.path),
        },
        "note": offer.left("next_technician") or None,
        "due": [_due_json(row) for row in offer.due],
        "changed": list(service.changed),
        "drifted": [
            {"reading": str(reading.key)} | drift.model_dump(mode="json") for reading, drift in drifted(last)
        ],
        "open": [
            one.model_dump(mode="json", include={"subject", "disposition", "reason", "by", "until"})
            for one in offer.dispositions
            if one.disposition in _LEFT
        ],
        "records": [str(held.path) for held in offer.records.records],
        "passed_over": list(offer.records.said),
        "returned": None if offer.returned is None else offer.returned.model_dump(mode="json"),
        "wanted": {
            "returned": wanted.returned,
            "put_off": wanted.put_off,
            "intervals": list(wanted.due),
            "event": wanted.event or None,
            "parts": list(wanted.parts),
            "replaced": list(wanted.replaced),
        },
        "steps": [
            {
                "stage": step.data.stage,
                "step": step.data.id,
                "parts": list(step.parts),
                "title": step.title,
                "because": why_repeated(step, offer.plant, service),
            }
            for step in walk.steps
        ],
        "left_out": len(walk.aside),
    }


def _due_json(row: Due) -> dict[str, Any]:
    return {
        "interval": row.interval,
        "last": None if row.last is None else row.last.isoformat(),
        "on": row.on.isoformat(),
        "days": row.days,
        "state": row.state,
    }
