"""The rows of one record: from its data as they stand in the file, whatever they are, never an exception.

What is missing is null or empty; a file that is no record becomes a row that says so. Nothing here says that
a record is valid: its state is ``not checked yet`` until the strict reader has seen it.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import PurePosixPath
from typing import Any, Final, NamedTuple, TypeAlias

from commission.desk import concerns, reading_rows, returns, values
from commission.desk.due_rows import StepIntervals, due_rows
from commission.desk.reading_rows import Readings
from commission.desk.setting_values import bare_number
from commission.desk.table import Row
from commission.desk.tables import BY_NAME, NOT_CHECKED, OF_A_RECORD
from commission.desk.tables_of_record import POINT
from commission.desk.values import day, day_start, local, moment, name_key, number, plain, table, text

Rows: TypeAlias = dict[str, list[Row]]
"""Rows by the name of their table."""
NO_RECORD: Final = "no record"
"""State of a file that is TOML and has neither header nor visit: a site file, a list of keys."""
MALFORMED: Final = "malformed"
UNREADABLE: Final = "unreadable"
"""State of a file that cannot be read, where neither its name nor a header tells that it was a record."""
_HEADER: Final = re.compile(rb'^\[header\]\s(?:.*\n)*?site = "([a-z0-9-]+)"', re.MULTILINE)
_BEGINNING: Final = 4000
"""Bytes within which a record has its header."""
_LONGEST: Final = 4000
"""Letters of what is searched of one record."""
_DEVICES: Final = ("inverter_chargers", "charge_controllers", "ac_pv_inverters", "generators")


class FileSeen(NamedTuple):
    """A file as it was found: what an index tells it by."""

    root: int
    path: str
    """Below its root, with /."""
    size: int
    mtime: int


@dataclass
class _Record:
    """What is gathered while the rows of one record are made."""

    number: int
    data: dict[str, Any]
    visit: dict[str, Any]
    plant: dict[str, Any]
    made: Rows = field(default_factory=dict)
    facts: dict[str, Any] = field(default_factory=dict)
    """Columns of the row of the record."""

    def add(self, kind: str, /, **columns: Any) -> None:
        """Add a row to a table."""
        row = BY_NAME[kind].row({"record": self.number} | columns)
        self.made[kind].append(row)


def empty_rows() -> Rows:
    """Return no rows, of every table that a record fills."""
    return {made.name: [] for made in (*OF_A_RECORD, POINT)}


def error_rows(
    number_: int, file: FileSeen, digest: str, says: str, *, state: str = "", content: bytes = b""
) -> Rows:
    """Return the rows of a file that could not be read, or is no record.

    Parameters
    ----------
    state
        Where it is known; else its name, or a header in what was read of it, tells a record and its site.
    content
        What was read of it.
    """
    made = empty_rows()
    header = _HEADER.search(content[:_BEGINNING])
    site = "" if state == NO_RECORD else _site_of(file.path) or ("" if header is None else header[1].decode())
    state = state or (MALFORMED if site else UNREADABLE)
    columns = _of_file(number_, file, digest) | {"state": state, "says": values.plain(says), "site": site}
    columns |= {"signed": 0, "latest": 0}
    made["record"].append(BY_NAME["record"].row(columns))
    made["search"].append((number_, site, f"{site} {PurePosixPath(file.path).name}".casefold()))
    return made


def record_rows(
    number_: int, file: FileSeen, digest: str, data: Mapping[str, Any], steps: StepIntervals
) -> Rows:
    """Return the rows of one record.

    Parameters
    ----------
    number_
        Number of the file in the index.
    digest
        SHA-256 of the file.
    data
        Its tables.
    steps
        Intervals at which a service visit repeats the usual steps, by their ids.
    """
    whole = dict(data)
    if not isinstance(whole.get("header"), dict) and not isinstance(whole.get("visit"), dict):
        says = "has neither a header nor a visit: this is no record"
        return error_rows(number_, file, digest, says, state=NO_RECORD)
    record = _Record(number_, whole, table(whole, "visit"), table(whole, "plant"), empty_rows())
    _site(record, file)
    _visit(record)
    _people(record)
    _devices(record)
    _seals(record)
    _findings(record)
    _settings(record)
    disposed = _dispositions(record)
    readings = reading_rows.read(number_, whole, disposed)
    record.made["reading"], record.made["point"] = readings.rows, readings.points
    record.facts |= readings.counts
    _instruments(record, readings)
    record.made["due"] = due_rows(
        number_, whole, steps, {step.partition(".")[0] for step in {point[2] for point in readings.points}}
    )
    record.made["concern"], counts = concerns.of(number_, record.facts["site"], whole, readings)
    record.facts |= counts
    _words(record)
    record.made["record"].append(
        BY_NAME["record"].row(_of_file(number_, file, digest) | {"state": NOT_CHECKED} | record.facts)
    )
    return record.made


def _of_file(number_: int, file: FileSeen, digest: str) -> dict[str, Any]:
    return {
        "record": number_, "root": file.root, "path": file.path, "size": file.size, "mtime": file.mtime,
        "digest": digest,
    }  # fmt: skip


def _site_of(path: str) -> str:
    """Return the site that the name of a record begins with, empty where it is named otherwise."""
    first, *rest = PurePosixPath(path).stem.split("_")
    return first if len(rest) >= 2 and first.replace("-", "").isalnum() else ""


def _site(record: _Record, file: FileSeen) -> None:
    header, site = table(record.data, "header"), table(record.plant, "site")
    place, bank = table(site, "site"), table(site, "bank")
    ident = text(header, "site") or text(record.visit, "site") or text(place, "id")
    strings = values.rows(bank, "strings")
    capacity = number(bank.get("capacity"))
    record.facts |= {
        "format": _whole(record.data.get("format")),
        "visit": text(header, "visit") or text(record.visit, "id"),
        "site": ident or _site_of(file.path),
        "site_name": text(place, "name"),
        "place": text(place, "place"),
        "kind": text(header, "kind") or text(record.visit, "kind"),
        "program": text(header, "program"),
        "rules": text(header, "rules"),
        "previous": text(header, "previous"),
        "supervisor": text(table(site, "people"), "supervisor"),
        "chemistry": text(table(record.plant, "battery"), "family"),
        "profile": text(bank, "profile"),
        "capacity": None if capacity is None else capacity * max(len(strings), 1),
        "says": "" if ident else "tells no site",
        "latest": 0,
    }


def _whole(found: Any) -> int | None:
    return found if isinstance(found, int) and not isinstance(found, bool) and 0 < found < 10**9 else None


def _visit(record: _Record) -> None:
    started, signed = record.visit.get("started_at"), table(record.data, "sign_off")
    technicians = [text(one, "name") for one in values.rows(record.visit, "people")
                   if one.get("role") == "technician"]  # fmt: skip
    technician = text(signed, "name") or next(iter(technicians), "")
    record.facts |= {
        "event": text(table(record.visit, "service"), "event"),
        "signed": int(bool(signed)),
        "signed_as": text(signed, "signed_as"),
        "signed_by": text(signed, "name"),
        "signed_at": moment(signed.get("at")),
        "signed_text": local(signed.get("at")),
        "started_at": moment(started),
        "started_text": local(started),
        "technician": technician,
        "technician_key": name_key(technician),
    }


def _people(record: _Record) -> None:
    people = [
        (text(one, "name"), text(one, "role"), text(one, "licence"), text(one, "employer"))
        for one in values.rows(record.visit, "people")
    ]
    known = {name_key(name) for name, *_ in people}
    for seal in values.rows(record.data, "seal"):
        name = text(seal, "name")
        if name and name_key(name) not in known:
            known.add(name_key(name))
            people.append((name, text(seal, "role"), "", ""))
    for place, (name, role, licence, employer) in enumerate(people):
        record.add(
            "person", place=place, name=name, name_key=name_key(name), role=role, licence=licence,
            employer=employer,
        )  # fmt: skip


def _devices(record: _Record) -> None:
    site = table(record.plant, "site")
    found: dict[str, dict[str, str]] = {}
    sections = [(name, one) for name in _DEVICES for one in values.rows(site, name)]
    sections += [("monitor", table(site, "monitor"))] if isinstance(site.get("monitor"), dict) else []
    for section, one in sections:
        part = text(one, "id") or section
        own = {"section": section, "class": text(one, "profile"), "firmware": text(one, "firmware")}
        found.setdefault(part, own)
    for one in values.rows(record.visit, "devices"):
        known = found.setdefault(text(one, "part"), {"section": "other"})
        known |= {name: told for name in ("serial", "firmware", "date_code") if (told := text(one, name))}
    for part, columns in found.items():
        record.add("device", part=part, **columns)


def _seals(record: _Record) -> None:
    seals = values.rows(record.data, "seal")
    for place, seal in enumerate(seals):
        record.add(
            "seal", place=place, says=text(seal, "says"), name=text(seal, "name"), role=text(seal, "role"),
            at_time=moment(seal.get("at")), at_text=local(seal.get("at")), digest=text(seal, "digest"),
            keyed=int("signature" in seal),
        )  # fmt: skip
        for at, comment in enumerate(values.rows(seal, "comments")):
            record.add(
                "comment", seal=place, place=at, step=text(comment, "step"),
                parts=values.joined(comment.get("parts")), says=(says := text(comment, "text")),
                settles=returns.settled_by(says) if seal.get("says") == "countersigned" else "",
            )  # fmt: skip
    last = seals[-1] if seals else {}
    answered = last if len(seals) > 1 else {}
    record.facts |= {
        "first_digest": text(seals[0], "digest") if seals else "",
        "last_digest": text(last, "digest"),
        "answer": text(answered, "says"),
        "answered_by": text(answered, "name"),
        "answered_at": moment(answered.get("at")),
        "answered_text": local(answered.get("at")),
    } | returns.put_right(record.visit)


def _findings(record: _Record) -> None:
    for place, one in enumerate(values.rows(record.data, "finding")):
        record.add(
            "finding", place=place, finding=text(one, "id"), kind=text(one, "kind"),
            check_name=text(one, "check"), parts=values.joined(one.get("parts")), says=text(one, "text"),
            remedy=text(one, "remedy"), disposition=text(table(one, "disposition"), "disposition"),
            open=int(concerns.is_open(one)),
        )  # fmt: skip


def _settings(record: _Record) -> None:
    told = 0
    for place, one in enumerate(values.rows(record.data, "setting")):
        carried = one.get("left") is None and one.get("before") is not None
        left, shown = (one.get("before"), "before_text") if carried else (one.get("left"), "left_text")
        recommended, found = one.get("recommended"), one.get("found")
        told += left is not None
        record.add(
            "setting", place=place, device=text(one, "device"), setting=text(one, "setting"),
            input=text(one, "input"), recommended=number(recommended),
            recommended_text=recommended if isinstance(recommended, str) else "", unit=text(one, "unit"),
            as_found=number(found), as_found_text=_value(found, text(one, "found_text")),
            as_left=number(left), as_left_text=_value(left, text(one, shown)), carried=int(carried),
            differs=int(one.get("differs") is True), drifted=int(one.get("drifted") is True),
            reason=text(one, "reason"),
        )  # fmt: skip
    record.facts["left_settings"] = told


def _value(value: Any, typed: str) -> str:
    """Return a value of a setting as text, a number always in the same way."""
    told = number(value)
    return typed or plain(value) if told is None else bare_number(told)


def _dispositions(record: _Record) -> dict[str, str]:
    """Add the dispositions; return the newest by its subject."""
    told = values.rows(record.visit, "dispositions")
    if not told:
        return {}
    findings = {text(one, "id") for one in values.rows(record.data, "finding")}
    settings = {concerns.setting_subject(one) for one in values.rows(record.data, "setting")}
    steps = {reading_rows.key_text(one) for one in values.rows(record.data, "reading")}
    newest: dict[str, str] = {}
    for place, one in enumerate(told):
        subject = text(one, "subject")
        about = "finding" if subject in findings else "setting" if subject in settings else (
            "reading" if subject in steps else "step"
        )  # fmt: skip
        newest[subject] = text(one, "disposition")
        until = day(one.get("until"))
        record.add(
            "disposition", place=place, subject=subject, about=about, disposition=newest[subject],
            reason=text(one, "reason"), decided_by=text(one, "by"), until_at=day_start(until),
            until_text=text(one, "until") or ("" if until is None else until.isoformat()),
            stays_off=text(one, "stays_off"), at_time=moment(one.get("at")), at_text=local(one.get("at")),
        )  # fmt: skip
    return newest


def _instruments(record: _Record, readings: Readings) -> None:
    started, seen = day(record.visit.get("started_at")), set[str]()
    expired_count = 0
    for one in values.rows(record.visit, "instruments"):
        ident, serial, due = text(one, "id"), text(one, "serial"), day(one.get("due"))
        if ident in seen:
            continue
        seen.add(ident)
        expired = started is not None and due is not None and due < started
        expired_count += expired
        use = readings.use.get(ident, reading_rows.NOT_USED)
        record.add(
            "instrument", instrument=ident, meter=serial or f"{record.facts['site']}/{ident}",
            kind=text(one, "kind"), name=text(one, "name"), serial=serial, calibrated=text(one, "calibrated"),
            due=text(one, "due"), expired=int(expired), readings=use.readings, judged=use.judged,
            failed=use.failed, placed=use.placed, deviation=use.deviation,
            deviation_squares=use.deviation_squares,
        )  # fmt: skip
    record.facts["uncalibrated"] = expired_count


def _words(record: _Record) -> None:
    facts = record.facts
    told = [facts[name] for name in ("site", "site_name", "place", "supervisor", "event", "profile")]
    told += [row[2] for row in record.made["person"]]
    serial, firmware = (BY_NAME["device"].names.index(name) for name in ("serial", "firmware"))
    told += [row[place] for row in record.made["device"] for place in (serial, firmware)]
    told += [text(one, "serial") for one in values.rows(record.visit, "instruments")]
    told += [text(one, "text") for one in values.rows(record.data, "note")]
    said = BY_NAME["comment"].names.index("says")
    told += [row[said] for row in record.made["comment"]]
    told += [text(record.visit, "next_technician"), text(record.visit, "spares")]
    unique = dict.fromkeys(" ".join(told).casefold().split())
    record.add("search", site=facts["site"], words=" ".join(unique)[:_LONGEST])
