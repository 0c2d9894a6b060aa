"""Everything that can be tried against a record, one thing at a time, and which layer says so.

``python -m tests.records.tamper bytes`` changes every byte of a signed and countersigned record, ``fields`` a
field of every kind of a walked visit's record with all digests made anew by somebody without a key;
``--record service`` takes the record of a service visit. What no layer catches is printed by its name;
``LIMITS`` says which those may be and why. The suite tries a sample of all (``test_tamper.py``).
"""

from __future__ import annotations

import argparse
import hashlib
import os
import sys
import time
from collections import Counter
from collections.abc import Callable, Iterable, Iterator
from copy import deepcopy
from datetime import date, datetime, timedelta
from functools import cache
from pathlib import Path
from random import Random
from tempfile import TemporaryDirectory
from typing import Any, Final

from commission.errors import CommissionError
from commission.plant.files import load_plant
from commission.plant.places import data_folder
from commission.prepare import prepare_visit
from commission.records.canonical import DIGEST
from commission.records.keys import KnownKey, SigningKey, known_keys, known_text, make_key, open_key, read_key
from commission.records.read import read_record, toml_of
from commission.records.recompute import recompute
from commission.records.seals import Comment, sealed
from commission.records.tables import toml_text
from commission.records.types import Record, VerifyResult
from commission.records.verify import verify, verify_bytes
from commission.records.write import record_bytes
from commission.revisit.added import earlier_of
from commission.revisit.offer import Wanted, offer_of
from commission.visit.digest import canonical_json, plant_digest
from commission.visit.service import service_now
from commission.visit.state import Readings
from commission.visit.types import Visit
from tests.records.sample import SHEET, signed
from tests.revisit.sites import begun_service, commissioned
from tests.technician import TECHNICIAN, Clock, begin, settle, sign, walk
from tests.visit.walks import NOON, small_plant

SITE: Final = "tarnwold-cabin"
SERVED: Final = datetime.fromisoformat("2026-06-01T08:00:00+00:00")
ADDED: Final = ("run-drop", ("run-main",))
"""Step that is added to the service visit, although it is not due."""
PHOTO: Final = b"\xff\xd8\xff not really a photograph"
PHRASE: Final = "seven grey geese over the fell"
NOBODY: Final = "not caught"
LIMITS: Final[dict[str, tuple[str, ...]]] = {
    "what is said of a step, of a decision, of what is left": (
        "note[]", "note[].at", "note[].text", "reading[].read_by", "reading[].reason", "visit.spares",
        "visit.codes_kept", "visit.next_technician", "visit.dispositions[].at", "visit.dispositions[].by",
        "visit.dispositions[].reason", "visit.dispositions[].stays_off", "visit.dispositions[].until",
        "visit.dispositions[].words", "visit.attachments[].at", "visit.attachments[].caption",
        "visit.attachments[].name", "visit.attachments[].withdrawn",
    ),
    "what stands on a plate, a licence or a certificate": (
        "visit.devices[].at", "visit.devices[].date_code", "visit.devices[].firmware",
        "visit.devices[].serial", "visit.instruments[].calibrated", "visit.instruments[].due",
        "visit.instruments[].name",
        "visit.instruments[].serial", "visit.people[].employer", "visit.people[].licence",
        "visit.people[].name",
    ),
    "a range of a meter on which nothing was read": (
        "visit.instruments[].ranges[]", "visit.instruments[].ranges[].digits",
        "visit.instruments[].ranges[].percent", "visit.instruments[].ranges[].resolution",
        "visit.instruments[].ranges[].unit", "visit.instruments[].ranges[].up_to",
    ),
    "a time, within what those around it leave": (
        "reading[].measured_at", "reading[].entered_at", "visit.started_at", "sign_off.at",
    ),
    "whether a later reading of a key corrects or only follows the earlier one": ("reading[].corrects",),
    "where the walk stood": ("visit.at_step",),
    "who added a step, and why": (
        "visit.service.added[].at", "visit.service.added[].by", "visit.service.added[].reason",
    ),
    "why a step is walked that is in the walk for another reason too": ("visit.service.put_off[]",),
    "which record comes before: the folder of records knows": ("header.previous",),
}  # fmt: skip
"""Kinds of fields that can be changed in a record without a key so that nothing in it tells, by the reason.
A key does, and the site's next record, which names the seal of this one."""
OF_PLANT: Final = "what is told of the site is believed; what follows from it is worked out anew"
"""Not so its profiles and its rule set: those of the program's names are held against the program's own."""
OF_BEFORE: Final = "what the visits before read and left: their own records hold it"
"""What follows from it, drift by drift, is worked out anew."""
_BEFORE: Final = {"earlier", "left", "plates", "kit", "event", "previous_visit", "previous_at"}
UNUSED: Final = "an instrument with which nothing was read"
NO_MORE: Final = "a reading that counts no more, since a later one stands for it"


class People:
    """A technician and a supervisor with keys that are known, and a stranger with one that is not."""

    def __init__(self, folder: Path) -> None:
        self.keys: dict[str, SigningKey] = {}
        rows = []
        for name, role in (
            ("Runa Feld", "technician"),
            ("Elin Corse", "supervisor"),
            ("Ove Starn", "technician"),
        ):
            made = make_key(folder, name, role, PHRASE, now=NOON - timedelta(days=9), random=os.urandom)
            self.keys[name] = open_key(made.path, PHRASE)
            if name != "Ove Starn":
                rows.append(known_text((read_key(made.path),)))
        (folder / "known.toml").write_text("\n".join(("format = 1", *rows)), encoding="utf-8")
        self.known: tuple[KnownKey, ...] = known_keys(folder / "known.toml")


def keyed(folder: Path, people: People) -> bytes:
    """Return a small record, signed and countersigned with keys."""
    record = record_bytes(signed(folder), small_plant(), SHEET, key=people.keys["Runa Feld"])
    return countersigned(record, people.keys["Elin Corse"])


def countersigned(record: bytes, key: SigningKey) -> bytes:
    return sealed(
        record, toml_of(record), says="countersigned", name=key.name, role=key.role,
        at=NOON + timedelta(days=1), comments=[Comment("good work", "volts")], key=key,
    )  # fmt: skip


# which layer


def by_seals(content: bytes, known: tuple[KnownKey, ...] = ()) -> str:
    """Return the layer of the seals that notices, empty where none does."""
    return layer_of(verify_bytes(content, known), known)


def layer_of(found: VerifyResult, known: tuple[KnownKey, ...] = ()) -> str:
    """Return the layer that made a result one that is not intact, empty where it is."""
    said = {
        "no record any more": found.state == "malformed",
        "signature": any(one.signature == "bad" for one in found.seals),
        "digest": not all(one.bytes_hold for one in found.seals),
        "counts and order of the seals": found.state != "intact",
        "attached files": not found.complete,
        "list of known keys": bool(known) and any(one.key != "known" for one in found.seals),
    }
    return next((layer for layer, holds in said.items() if holds), "")


# every byte


def bytes_changed(
    content: bytes, known: tuple[KnownKey, ...], at: Iterable[int], seed: int = 7
) -> Counter[str]:
    """Change one byte after the other, each to another drawn by lot; count who noticed."""
    lot = Random(seed)
    counted: Counter[str] = Counter()
    for place in at:
        changed = bytearray(content)
        changed[place] ^= lot.randrange(1, 256)
        layer = by_seals(bytes(changed), known)
        counted[layer or f"{NOBODY}: byte {place}"] += 1
    return counted


# every field


@cache
def walked() -> bytes:
    """Return the record of a sample's visit, walked to its end and signed, without a key."""
    with TemporaryDirectory() as folder:
        plant = load_plant(data_folder("sample_sites") / f"{SITE}.toml").plant
        clock = Clock()
        photo = Path(folder) / "lid.jpg"
        photo.write_bytes(PHOTO)
        with begin(Path(folder) / "visits", plant, clock) as visit:
            walk(visit, clock)
            settle(visit, clock)
            step = visit.checklist.steps[0]
            visit.note(step.key, "seen", clock())
            visit.attach(step.key, photo, "the lid", clock())
            visit.leave(clock(), next_technician="look at run 2", spares="two fuses", codes_kept="office")
            sign(visit, clock)
            return record_bytes(visit.visit, plant, visit.sheet, previous=f"{DIGEST}{'7' * 64}")


@cache
def served() -> bytes:
    """Return the record of a service visit of a sample, with a step that was added, without a key."""
    with TemporaryDirectory() as name:
        folder = Path(name)
        site, _ = commissioned(folder)
        offer, _ = offer_of(site, today=SERVED.date())
        assert offer is not None
        clock = Clock(SERVED)
        wanted = Wanted(("monthly",), "fault call", ("monitor-1",), put_off=True)
        with begun_service(folder, offer, wanted, clock) as begun:
            visit = begun
            more = visit.with_step(ADDED, prepare_visit)
            earlier = earlier_of(more, visit.visit, [folder])
            visit = visit.add(more, by=TECHNICIAN, reason="it got warm", now=clock(), earlier=earlier)
            for device in visit.plant.devices:
                visit.found_as_left(device.id, clock())
            walk(visit, clock)
            settle(visit, clock)
            sign(visit, clock)
            return record_bytes(visit.visit, visit.plant, visit.sheet)


Place = tuple[str | int, ...]


def places(data: Any, at: Place = ()) -> Iterator[Place]:
    """Yield every place of a value in nested data, and every row of a list."""
    if isinstance(data, dict):
        for key, value in data.items():
            yield from places(value, (*at, key))
    elif isinstance(data, list):
        for index, value in enumerate(data):
            if isinstance(value, dict):
                yield (*at, index)
            yield from places(value, (*at, index))
    else:
        yield at


def kind_of(place: Place) -> str:
    """Return a place as the kind of field that it is: without ids and places in a list."""
    named = ["[]" if isinstance(step, int) else step for step in place]
    if named[:2] == ["plant", "equipment"]:
        named[2] = "*"
    return ".".join(named).replace(".[]", "[]")


def changed(value: Any) -> Any:
    """Return another value of the same kind, near enough to be one that a person would put there."""
    ways: dict[type, Callable[[Any], Any]] = {
        bool: lambda one: not one,
        int: lambda one: one + 1,
        float: lambda one: one * 1.001 or 0.001,
        datetime: lambda one: one + timedelta(minutes=1),
        date: lambda one: one + timedelta(days=1),
        str: _other_text,
    }
    return ways[type(value)](value)


def _other_text(text: str) -> str:
    """Return another text of the same form: a digit or a letter in its midst is the next one."""
    for place in sorted(range(len(text)), key=lambda at: abs(at - len(text) // 2)):
        sign = text[place]
        if sign.isascii() and sign.isdigit():
            return f"{text[:place]}{(int(sign) + 1) % 10}{text[place + 1 :]}"
        if sign.isascii() and sign.islower():
            return f"{text[:place]}{chr((ord(sign) - 96) % 26 + 97)}{text[place + 1 :]}"
    return f"{text}x"


@cache
def _parsed(content: bytes) -> dict[str, Any]:
    return toml_of(content)


def with_change(content: bytes, place: Place) -> dict[str, Any]:
    """Return a record's data with a field changed or a row taken away, counts and digests put right."""
    data = deepcopy(_parsed(content))
    holder: Any = data
    for step in place[:-1]:
        holder = holder[step]
    if isinstance(holder[place[-1]], dict):
        del holder[place[-1]]
        _count_anew(data)
    else:
        holder[place[-1]] = changed(holder[place[-1]])
    if place[0] == "plant":
        data["header"]["plant_digest"] = DIGEST + hashlib.sha256(canonical_json(data["plant"])).hexdigest()
    return data


def _count_anew(data: dict[str, Any]) -> None:
    rows = {"readings": "reading", "settings": "setting", "findings": "finding", "notes": "note"}
    counts = data["header"]["counts"]
    for name in counts:
        counts[name] = len(data.get(rows[name], []) if name in rows else data["visit"].get(name, []))


def sealed_anew(data: dict[str, Any]) -> bytes:
    """Return a record with every seal made anew, by somebody who has no key."""
    seals = data.pop("seal")
    content = toml_text(data).encode()
    for seal in seals:
        comments = [Comment(row["text"], row.get("step", "")) for row in seal.get("comments", [])]
        who = {"name": seal.get("name", ""), "role": seal.get("role", ""), "at": seal.get("at")}
        content = sealed(content, toml_of(content), says=seal["says"], comments=comments, **who)
    return content


def by_content(content: bytes, folder: Path) -> str:
    """Return the layer that notices a record whose digests are all right, empty where none does."""
    path = folder / "forged.toml"
    path.write_bytes(content)
    found = verify(path)
    layer = layer_of(found) or ("attached files" if found.unlisted else "")
    if layer:
        return layer
    try:
        record = read_record(path)
        again = recompute(record, *prepared(record))
    except CommissionError:
        return "reader"
    return "worked out anew" if again.differences else ""


def with_photo(folder: Path) -> Path:
    """Put the attached file of the walked visit beside where its forged records are written."""
    beside = folder / "forged"
    beside.mkdir(exist_ok=True)
    (beside / f"{hashlib.sha256(PHOTO).hexdigest()}.jpg").write_bytes(PHOTO)
    return folder


_SHEETS: dict[str, Any] = {}
OF_WALK: Final = {"due", "parts", "changed", "put_off", "added", "returned"}
"""What of a service visit decides on its walk."""


def prepared(record: Record) -> Any:
    """Return sheet and walk of a record's plant, made once for each plant."""
    service = service_now(record.visit)
    of_service = "" if service is None else service.model_dump_json(include=OF_WALK)
    key = plant_digest(record.plant) + str(record.visit.checklists) + of_service
    if key not in _SHEETS:
        if len(_SHEETS) > 4:
            _SHEETS.clear()
        _SHEETS[key] = prepare_visit(record.plant, record.visit.kind, record.visit.checklists, service)
    return _SHEETS[key]


def fields_of(content: bytes, each: int, *, plant: int | None = None, seed: int = 3) -> list[Place]:
    """Return places of a record's fields: of each kind of field so many, drawn by lot; seals left out.

    Parameters
    ----------
    plant
        So many of the plant's, for each of which a whole sheet has to be made; None takes all.
    """
    lot = Random(seed)
    kinds: dict[str, list[Place]] = {}
    for place in places({key: value for key, value in toml_of(content).items() if key != "seal"}):
        kinds.setdefault(kind_of(place), []).append(place)
    drawn = [place for found in kinds.values() for place in lot.sample(found, min(each, len(found)))]
    of_plant = [place for place in drawn if place[0] == "plant"]
    few = of_plant if plant is None else lot.sample(of_plant, min(plant, len(of_plant)))
    return [*(place for place in drawn if place[0] != "plant"), *few]


def fields_changed(content: bytes, wanted: list[Place], folder: Path) -> tuple[Counter[str], list[Place]]:
    """Change one field after the other with all digests made anew; count who noticed, and what nobody did."""
    counted: Counter[str] = Counter()
    missed: list[Place] = []
    if _parsed(content)["visit"].get("attachments"):
        with_photo(folder)
    for place in wanted:
        forged = sealed_anew(with_change(content, place))
        layer = by_content(forged, folder)
        counted[layer or NOBODY] += 1
        if not layer:
            missed.append(place)
    return counted, missed


def limits_of(content: bytes) -> Callable[[Place], str]:
    """Return what says why a field of a record may be changed unseen; empty where it may not."""
    readings = Visit.model_validate(_visit(toml_of(content))).readings
    living = {id(reading) for reading in Readings(readings).all_current()}
    no_more = {at for at, reading in enumerate(readings) if id(reading) not in living}
    used = {reading.instrument for reading in readings}
    kit = enumerate(_parsed(content)["visit"]["instruments"])
    unused = {("visit", "instruments", at) for at, one in kit if one["id"] not in used}

    def limit(place: Place) -> str:
        if place[0] == "plant":
            return OF_PLANT if place[1] == "site" else ""
        if place[0] == "reading" and place[1] in no_more:
            return NO_MORE
        if place[:2] == ("visit", "service") and place[2] in _BEFORE:
            return OF_BEFORE
        if place[:3] in unused:
            return UNUSED
        kind = kind_of(place)
        return next((why for why, kinds in LIMITS.items() if kind in kinds), "")

    return limit


def _visit(data: dict[str, Any]) -> dict[str, Any]:
    visit: dict[str, Any] = data["visit"]
    return visit | {"readings": data["reading"]}


# by hand

RECORDS: Final = {"commissioning": walked, "service": served}


def main() -> int:
    """Run what was asked for and print the counts; returns 1 where something was missed."""
    parser = argparse.ArgumentParser(prog="python -m tests.records.tamper", description=__doc__)
    parser.add_argument("what", choices=("bytes", "fields"))
    parser.add_argument("--stride", type=int, default=1, help="of the bytes every so many")
    parser.add_argument("--each", type=int, default=1, help="of each kind of field so many")
    parser.add_argument("--record", choices=tuple(RECORDS), default="commissioning")
    parser.add_argument("--plant", type=int, help="of the plant's fields so many, all where it is left out")
    options = parser.parse_args()
    begun = time.monotonic()
    with TemporaryDirectory() as name:
        run = _bytes if options.what == "bytes" else _fields
        counted, told, bad = run(Path(name), options)
    for line in (*told, *(f"{count:>7}  {layer}" for layer, count in counted.most_common())):
        sys.stdout.write(f"{line}\n")
    sys.stdout.write(f"{time.monotonic() - begun:.0f} s; {bad} that should have been caught\n")
    return 1 if bad else 0


def _bytes(folder: Path, options: argparse.Namespace) -> tuple[Counter[str], list[str], int]:
    people = People(folder)
    of_service = options.record == "service"
    record, known = (served(), ()) if of_service else (keyed(folder, people), people.known)
    counted = bytes_changed(record, known, range(0, len(record), options.stride))
    bad = sum(layer.startswith(NOBODY) for layer in counted)
    return counted, [f"{len(record)} bytes, every {options.stride}. changed"], bad


def _fields(folder: Path, options: argparse.Namespace) -> tuple[Counter[str], list[str], int]:
    content = RECORDS[options.record]()
    wanted = fields_of(content, options.each, plant=options.plant)
    counted, missed = fields_changed(content, wanted, folder)
    told = [f"{len(wanted)} fields of {len({kind_of(place) for place in wanted})} kinds changed"]
    limit = limits_of(content)
    told += [f"    {kind_of(place)}: {limit(place) or 'SHOULD BE CAUGHT'}" for place in missed]
    return counted, told, sum(not limit(place) for place in missed)


if __name__ == "__main__":
    sys.exit(main())
