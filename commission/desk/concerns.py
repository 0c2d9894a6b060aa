"""What a supervisor looks at first in one record, worst first.

What is said does not name its subject, which stands beside it as a key: ``names`` has the words for both.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from typing import Any, Final

from commission.desk import returns, values
from commission.desk.reading_rows import FAILED, LATE, PASSED, Entered, Readings, key_text
from commission.desk.setting_values import values_shown
from commission.desk.table import Row
from commission.desk.tables import RANK
from commission.desk.tables_of_record import CONCERN
from commission.desk.values import day, day_start, joined, moment, plain, table, text

Concern = dict[str, Any]
_SHORT: Final = 400
"""Letters of a text that are kept; the record has the whole."""
_SERIOUS: Final = frozenset({"stop", "correct"})


def is_open(finding: dict[str, Any]) -> bool:
    """Say whether a finding stops or has to be mended, and is neither mended nor accepted."""
    done = text(table(finding, "disposition"), "disposition")
    return text(finding, "kind") in _SERIOUS and done not in {"mended", "accepted"}


def setting_subject(row: dict[str, Any]) -> str:
    """Return what a disposition names a setting by."""
    return ".".join(part for name in ("device", "input", "setting") if (part := text(row, name)))


def of(number: int, site: str, data: dict[str, Any], readings: Readings) -> tuple[list[Row], dict[str, Any]]:
    """Return the rows of what has to be looked at in a record, and how many there are of each sort."""
    found = [*_readings(readings, data), *_findings(data), *_deferred_steps(data, readings)]
    found += [*_settings(data), *_people(data), *_meters(data)]
    if (returned := returns.returned(data)) is not None:
        found.append(returned)
    found.sort(key=lambda one: (RANK[one["kind"]], one.get("rank", 0)))
    rows = [
        CONCERN.row({"alive": 1} | one | {"record": number, "place": place, "site": site,
                                          "rank": RANK[one["kind"]], "says": one["says"][:_SHORT]})
        for place, one in enumerate(found)
    ]  # fmt: skip
    return rows, _counts(found, data)


def _counts(found: list[Concern], data: dict[str, Any]) -> dict[str, Any]:
    kinds = Counter(one["kind"] for one in found)
    dates = [one["until_at"] for one in found if one["kind"] == "put off" and one.get("until_at")]
    findings = values.rows(data, "finding")
    return {
        "deferred": kinds["put off"],
        "deferred_until": min(dates, default=None),
        "open_findings": sum(1 for one in findings if is_open(one)),
        "stop_findings": sum(1 for one in findings if is_open(one) and one.get("kind") == "stop"),
        "unchecked_findings": sum(1 for one in findings if one.get("kind") == "not checked"),
        "differing": kinds["setting differs"],
        "released": kinds["hold point"],
        "late": kinds["corrected late"],
        "overturned": kinds["overturned"],
        "drifts_act": sum(1 for one in found if one["kind"] == "drift" and one.get("rank") == 0),
        "drifts_advise": sum(1 for one in found if one["kind"] == "drift" and one.get("rank") == 1),
        "not_applicable": kinds["not applicable"],
    }


# readings


def _readings(readings: Readings, data: dict[str, Any]) -> Iterator[Concern]:
    disposed = _newest(data)
    for one in readings.entered:
        if one.before is not None:
            yield from _corrected(one, one.before)
        if not one.superseded:
            if one.verdict in FAILED:
                yield from _failed(one, disposed.get(one.name, {}))
            yield from _drifts(one)
    fast = [one for one in readings.entered if one.fast]
    if fast:
        first = fast[0]
        told = f"{len(fast)} reading{'s' if len(fast) > 1 else ''} typed within 2 s of the one before"
        yield _of_reading("typed fast", first, told)


def _newest(data: dict[str, Any]) -> dict[str, dict[str, Any]]:
    return {text(one, "subject"): one for one in values.rows(table(data, "visit"), "dispositions")}


def _of_reading(kind: str, one: Entered, says: str) -> Concern:
    return {"kind": kind, "subject": one.name, "point": one.point, "says": says, "at_time": one.entered}


def _failed(one: Entered, done: dict[str, Any]) -> Iterator[Concern]:
    """Yield what failed; where it was put off too, that as well, since both are true."""
    disposition = text(done, "disposition")
    kind = "reading failed"
    if one.verdict == "stop work" and disposition not in {"mended", "isolated and locked"}:
        kind = "stops work"
    elif disposition == "accepted":
        kind = "reading accepted"
    yield _of_reading(
        kind, one, f"{_shown(one)} is {one.verdict}{_band(one)}{_by_change(one)}{_done(done)}"
    ) | _by(done)
    if disposition == "deferred":
        yield _of_reading("put off", one, f"{_shown(one)} is {one.verdict}{_done(done)}") | _by(done)


def _by(done: dict[str, Any]) -> Concern:
    until = day(done.get("until"))
    return {
        "disposition": text(done, "disposition"),
        "decided_by": text(done, "by"),
        "until_at": day_start(until),
        "until_text": text(done, "until") or ("" if until is None else until.isoformat()),
    }


def _shown(one: Entered) -> str:
    unit = text(one.data, "unit")
    typed = text(one.data, "text") or plain(one.data.get("value"))
    beside = "" if not unit or unit == "1" or unit in typed or _worded(one) else f" {unit}"
    return f"{typed}{beside}"


def _worded(one: Entered) -> bool:
    """Say whether what was typed is no bare number: it has its own unit, or is a word."""
    return any(letter.isalpha() for letter in text(one.data, "text"))


def _band(one: Entered) -> str:
    judged = one.judged
    low, high = values.number(judged.get("low")), values.number(judged.get("high"))
    unit = text(judged, "unit")
    shown = f" {unit}" if unit and unit != "1" else ""
    beside = _compared(judged, shown)
    if low is not None and high is not None:
        return f"{beside}, band {low:.5g} to {high:.5g}{shown}"
    if low is not None:
        return f"{beside}, at least {low:.5g}{shown}"
    if high is not None:
        return f"{beside}, at most {high:.5g}{shown}"
    says = text(judged, "says")
    return beside or (f", {says}" if says else "")


def _compared(judged: dict[str, Any], unit: str) -> str:
    """Return what was judged where it is not the reading itself, for the band is one of that."""
    compared = values.number(judged.get("compared"))
    if compared is None:
        return ""
    says = text(judged, "says")
    return f", {compared:.5g}{unit}{' ' if says else ''}{says}"


_DONE: Final = {"deferred": "put off"}


def _done(done: dict[str, Any]) -> str:
    if not done:
        return "; nothing was done about it"
    by = f" by {text(done, 'by')}" if text(done, "by") else ""
    until = _by(done)["until_text"]
    date = f" until {until}" if until else ""
    off = f", stays off: {text(done, 'stays_off')}" if text(done, "stays_off") else ""
    reason = f": {text(done, 'reason')}" if text(done, "reason") else ""
    return f"; {_DONE.get(what := text(done, 'disposition'), what)}{date}{by}{reason}{off}"


def _corrected(one: Entered, before: Entered) -> Iterator[Concern]:
    was, now = text(before.data, "text"), text(one.data, "text")
    reason = text(one.data, "reason") or "no reason told"
    if before.verdict in FAILED and one.verdict in PASSED:
        yield _of_reading("overturned", one, f"{was} was {before.verdict}, corrected to {now}: {reason}")
    late = one.entered is not None and before.entered is not None and one.entered - before.entered >= LATE
    if late and one.entered is not None and before.entered is not None:
        hours = (one.entered - before.entered) // 3600
        yield _of_reading("corrected late", one, f"{was} corrected to {now} {hours} h later: {reason}")


def _drifts(one: Entered) -> Iterator[Concern]:
    if "drifts" not in one.judged:
        return
    for drift in values.rows(one.judged, "drifts"):
        verdict = drift.get("verdict")
        if verdict not in {"act", "advise"}:
            continue
        yield _of_reading("drift", one, _went(one, drift)) | {"rank": 0 if verdict == "act" else 1}


def _went(one: Entered, drift: dict[str, Any]) -> str:
    before, now = (values.number(drift.get(name)) for name in ("before", "now"))
    unit = text(one.data, "unit")
    told = f" from {before:.5g} to {now:.5g} {unit}" if before is not None and now is not None else ""
    says = text(drift, "says")
    since = "" if " since " in says else f" since {text(drift, 'since') or 'an earlier visit'}"
    return f"went{told.rstrip()}{since}{': ' if says else ''}{says}"


def _by_change(one: Entered) -> str:
    """Return how a reading changed, where that is what it failed by."""
    asked = (drift for drift in values.rows(one.judged, "drifts") if drift.get("verdict") == "act")
    found = next(asked, None)
    return "" if found is None or one.verdict != "conditional fail" else f", {_went(one, found)}"


# findings, settings, and what people decided


def _findings(data: dict[str, Any]) -> Iterator[Concern]:
    for one in values.rows(data, "finding"):
        if text(one, "kind") not in _SERIOUS:
            continue
        done = table(one, "disposition")
        disposition = text(done, "disposition")
        about = {"subject": text(one, "id"), "rank": int(one.get("kind") != "stop")} | _by(done)
        says = f"{one.get('kind')}: {text(one, 'text')}{_done(done)}"
        if disposition == "deferred":
            yield {"kind": "put off", "says": says} | about
        elif is_open(one):
            yield {"kind": "finding open", "says": says} | about
        elif disposition == "accepted":
            yield {"kind": "finding accepted", "says": says} | about


def _deferred_steps(data: dict[str, Any], readings: Readings) -> Iterator[Concern]:
    """Yield the steps that were put off and not read before the end, and readings that did not fail."""
    decided = _newest(data)
    if not decided:
        return
    findings = {text(one, "id") for one in values.rows(data, "finding")}
    failed = {one.name for one in readings.entered if not one.superseded and one.verdict in FAILED}
    points = {row[1]: row[0] for row in readings.points}
    for subject, done in decided.items():
        off = text(done, "disposition") == "deferred" and subject not in findings and subject not in failed
        if off and not _read_after(data, subject, moment(done.get("at"))):
            yield {
                "kind": "put off",
                "subject": subject,
                "point": points.get(subject),
                "says": _done(done).removeprefix("; "),
                "at_time": moment(done.get("at")),
            } | _by(done)


def _read_after(data: dict[str, Any], subject: str, at: int | None) -> bool:
    """Say whether a reading, or one of a step, was entered after something was said about it."""
    if at is None:
        return False
    return any(
        (entered := moment(row.get("entered_at"))) is not None and entered > at
        for row in values.rows(data, "reading")
        if subject in {key_text(row), f"{text(row, 'step').partition('.')[0]}@{joined(row.get('parts'))}"}
    )


def _settings(data: dict[str, Any]) -> Iterator[Concern]:
    for one in values.rows(data, "setting"):
        subject = setting_subject(one)
        if one.get("differs") is True:
            left, wanted = values_shown(one, "left", "recommended")
            reason = text(one, "reason") or "no reason told"
            says = f"left at {left}, recommended {wanted or 'no value known'}: {reason}"
            yield {"kind": "setting differs", "subject": subject, "says": says}
        if one.get("drifted") is True:
            before, found = values_shown(one, "before", "found")
            says = f"left at {before} the visit before, found at {found}"
            yield {"kind": "setting moved", "subject": subject, "says": says}


def _people(data: dict[str, Any]) -> Iterator[Concern]:
    visit = table(data, "visit")
    for one in values.rows(visit, "releases"):
        step = f"{text(one, 'step')}@{joined(one.get('parts'))}"
        reason = text(one, "reason") or "no reason told"
        yield {"kind": "hold point", "subject": step, "decided_by": text(one, "by"),
               "at_time": moment(one.get("at")),
               "says": f"released by {text(one, 'by')}: {reason}"}  # fmt: skip
    for one in values.rows(visit, "not_applicable"):
        if one.get("withdrawn") is not True:
            step = f"{text(one, 'step')}@{joined(one.get('parts'))}"
            yield {"kind": "not applicable", "subject": step, "at_time": moment(one.get("at")),
                   "says": f"does not apply: {text(one, 'reason')}"}  # fmt: skip
    for one in values.rows(visit, "plant_changes"):
        yield {"kind": "plant changed", "subject": joined(one.get("parts")), "decided_by": text(one, "by"),
               "at_time": moment(one.get("at")),
               "says": f"plant changed in the visit by {text(one, 'by')}: {text(one, 'reason')}"}  # fmt: skip


def _meters(data: dict[str, Any]) -> Iterator[Concern]:
    visit = table(data, "visit")
    started = day(visit.get("started_at"))
    for one in values.rows(visit, "instruments"):
        due = day(one.get("due"))
        if started is not None and due is not None and due < started:
            named = text(one, "name") or text(one, "id")
            says = f"{named}, serial number {text(one, 'serial') or 'not told'}: calibration was due {due}"
            yield {"kind": "meter expired", "subject": text(one, "id"), "says": says}
