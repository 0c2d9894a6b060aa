"""What the visits before left at a site, from its records: where a service visit begins.

Only records that are intact and signed count; what is passed over is told. A baseline is the first reading
under its key since the part was new; the older ones stay in their records.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path
from typing import Any

from commission.checklist.baseline import baseline_of
from commission.checklist.intervals import Done
from commission.checklist.restate import RESTATEMENTS
from commission.checklist.types import Ask, Checklist, ReadingKey, StepKey
from commission.errors import CommissionError, Problem, RecordError
from commission.plant.compare import changed_parts
from commission.plant.plant import Plant
from commission.plant.values import Interval
from commission.records.chain import chain_told
from commission.records.moments import Moments
from commission.records.read import record_in
from commission.records.seals import SealState
from commission.records.types import Record, VerifyResult
from commission.records.verify import content_of, verify_parsed
from commission.visit.service import covers_of, service_now, walk_of_service
from commission.visit.types import (
    DeviceIdentity,
    EarlierReading,
    Reading,
    Returned,
    Service,
    SettingEntry,
    StepNamed,
    Visit,
)


@dataclass(frozen=True)
class Held:
    """An intact, signed record of a site."""

    path: Path
    record: Record
    digest: str
    """Of its last seal."""
    seals: tuple[SealState, ...] = ()
    """What was found of each seal, in order."""


@dataclass(frozen=True)
class SiteRecords:
    """The records of one site that can be built on, oldest first."""

    site: str
    records: tuple[Held, ...]
    said: tuple[str, ...] = ()
    """What a person should know: records passed over, gaps in the chain."""

    @property
    def newest(self) -> Held:
        """The record of the last visit."""
        return self.records[-1]


def site_records(where: Path, site: str = "") -> SiteRecords:
    """Return the records of a site that can be built on.

    Parameters
    ----------
    where
        The record of the last visit, beside which the earlier ones are; or the folder of them all.
    site
        Id of the site; of a single record it may be left out.

    Raises
    ------
    RecordError
        If the record named is not intact, not signed or of another site; if a folder has no intact, signed
        record of the site.
    """
    named = None if where.is_dir() else _named(where, site)
    folder = where if named is None else where.parent
    wanted = site or ("" if named is None else named.result.site)
    if not wanted:
        raise _refused(folder, "several sites may have records here", "the id of the site, or one record")
    said: list[str] = []
    paths = sorted(folder.glob(f"{wanted}_*.toml"))
    known = {} if named is None else {where: named}
    found = [one for path in paths if (one := known.get(path) or _looked_at(path, wanted, said)) is not None]
    others = [one for one in found if named is None or one.result.visit != named.result.visit]
    held = [_held(one) for one in _one_a_visit(others)]
    if named is not None:
        last = _held(named)
        held = [*(one for one in held if _begun(one) < _begun(last)), last]
    if not held:
        right = "the record of the commissioning, as it was written"
        raise _refused(folder, f"no intact, signed record of {wanted} is here", right, *said)
    said += [told.text for told in chain_told([(one.path, one.result) for one in found]) if told.gap]
    return SiteRecords(wanted, tuple(sorted(held, key=_begun)), tuple(said))


def _begun(held: Held) -> tuple[datetime, str]:
    return held.record.visit.started_at, held.record.visit.id


def _named(path: Path, site: str) -> _Looked:
    result, data = verify_parsed(content_of(path))
    if result.state != "intact":
        wrong = f"is {result.state}: {'; '.join(result.reasons)}"
        raise _refused(path, wrong, "an intact record; a later visit cannot be built on this one")
    if not result.signed_by:
        raise _refused(path, "is not signed: readings that were judged, no visit", "a signed record")
    if site and result.site != site:
        raise _refused(path, f"is a record of {result.site}", f"one of {site}")
    return _Looked(path, result, data)


@dataclass(frozen=True, slots=True)
class _Looked:
    """A record that can be built on: what was found of it, and its tables, so that it is parsed once."""

    path: Path
    result: VerifyResult
    data: dict[str, Any]


def _held(one: _Looked) -> Held:
    return Held(one.path, record_in(one.data, one.path.name), one.result.digest, one.result.seals)


def _looked_at(path: Path, site: str, said: list[str]) -> _Looked | None:
    """Return a record that is worth something; None, and said, where nothing can be built on it."""
    try:
        result, data = verify_parsed(content_of(path))
    except CommissionError as error:
        said.append(str(error))
        return None
    if result.state != "intact":
        said.append(f"{path.name} is {result.state} and was passed over")
    elif result.site == site and not result.signed_by:
        said.append(f"{path.name} is not signed and was passed over")
    elif result.site == site:
        return _Looked(path, result, data)
    return None


def _one_a_visit(found: Iterable[_Looked]) -> list[_Looked]:
    """Return one record of each visit, the one with the most seals: it may have been countersigned."""
    best: dict[str, _Looked] = {}
    for one in found:
        other = best.get(one.result.visit)
        if other is None or len(one.result.seals) > len(other.result.seals):
            best[one.result.visit] = one
    return list(best.values())


def _refused(path: Path, wrong: str, right: str, *more: str) -> RecordError:
    told = "; ".join((wrong, *more))
    return RecordError([Problem(str(path), "record before", "", told, right)])


# when visits were made


def visits_done(found: SiteRecords) -> tuple[Done, ...]:
    """Return the visits of a site with the intervals that each covered, for the dates of the next."""
    return tuple(
        Done(held.record.visit.started_at.date(), covers)
        for held in found.records
        if (covers := covers_of(held.record.visit))
    )


def put_right(found: SiteRecords) -> tuple[Visit, ...]:
    """Return the last visit, and where it only puts a returned one right, that one too; newest first."""
    visits: list[Visit] = []
    for held in reversed(found.records):
        visits.append(held.record.visit)
        if visits[-1].service is None or visits[-1].service.returned is None:
            break
    return tuple(visits)


# what a service visit begins with


def service_of(  # noqa: PLR0913 - a visit begins once, with everything named
    found: SiteRecords,
    plant: Plant,
    whole: Checklist,
    *,
    due: Sequence[Interval],
    event: str = "",
    parts: Sequence[str] = (),
    replaced: Sequence[str] = (),
    put_off: Sequence[StepKey] = (),
    returned: Returned | None = None,
) -> Service:
    """Return what a service visit of a site begins with.

    Parameters
    ----------
    plant
        As the site file tells it now.
    whole
        The whole walk of that plant.
    due
        Intervals whose steps are repeated.
    event, parts
        What happened and what it concerns, where the visit follows an event.
    replaced
        Parts that are new although the site file tells the same of them.
    put_off
        Steps that the visit before put off, to be done now.
    returned
        What the supervisor said who returned the last record; only the steps that are named are done then,
        and nothing is compared with what is doubted.

    Raises
    ------
    RecordError
        If the records are those of another site, or a part is not on this site.
    """
    _check_site(found, plant)
    _check_parts(found, plant, (*parts, *replaced))
    changed = begun_anew(plant, (*changed_parts(found.newest.record.plant, plant), *replaced))
    wanted = Service(
        due=tuple(due),
        event=event,
        parts=tuple(parts),
        changed=changed,
        put_off=tuple(StepNamed(step=step, parts=named) for step, named in put_off),
        returned=returned,
        **_left_by(found, changed),
    )
    return wanted.model_copy(update={"earlier": _read_before(found, plant, whole, wanted)})


def _left_by(found: SiteRecords, changed: Collection[str]) -> dict[str, Any]:
    """Return what the last visit left: which it was, settings, plates, its kit."""
    last = found.newest.record.visit
    return {
        "previous_visit": last.id,
        "previous_digest": found.newest.digest,
        "previous_at": last.started_at,
        "left": settings_left(found, changed),
        "plates": tuple(plate for plate in _plates(found) if plate.part not in changed),
        "kit": last.instruments,
    }


def _read_before(
    found: SiteRecords, plant: Plant, whole: Checklist, service: Service
) -> tuple[EarlierReading, ...]:
    """Return baseline and last value of every reading that the walk asks for; nothing that is doubted."""
    walk = walk_of_service(whole, plant, service)
    asks = {ask.key: ask for step in walk.steps for ask in step.asks}
    undoubted = found if service.returned is None else replace(found, records=found.records[:-1])
    return tuple(earlier_readings(undoubted, whole, asks, service.changed))


def _check_site(found: SiteRecords, plant: Plant) -> None:
    if plant.site.site.id != found.site:
        raise _refused(found.newest.path, f"is a record of {found.site}", f"one of {plant.site.site.id}")


def _plates(found: SiteRecords) -> tuple[DeviceIdentity, ...]:
    """Return every plate as the last visit read it; one that puts a record right reads none again."""
    plates = {plate.part: plate for visit in reversed(put_right(found)) for plate in visit.devices}
    return tuple(plates.values())


def _check_parts(found: SiteRecords, plant: Plant, named: Iterable[str]) -> None:
    known = {*_all_parts(plant), *_all_parts(found.newest.record.plant)}
    for ident in named:
        if ident not in known:
            raise RecordError(
                [Problem("the event", "part", ident, "there is no such part", ", ".join(sorted(known)))]
            )


def _all_parts(plant: Plant) -> Iterator[str]:
    yield from plant.parts
    yield plant.bank.id
    yield from (string.id for string in plant.bank.strings)
    for controller in plant.site.charge_controllers:
        if controller.array is not None:
            yield from (string.id for string in controller.array.strings)


def begun_anew(plant: Plant, changed: Iterable[str]) -> tuple[str, ...]:
    """Return the parts whose readings begin anew: with a bank its strings, with a string its bank."""
    told = tuple(dict.fromkeys(changed))
    strings = tuple(string.id for string in plant.bank.strings)
    more: tuple[str, ...] = ()
    if plant.bank.id in told:
        more = strings
    elif any(part in strings for part in told):
        more = (plant.bank.id,)
    return tuple(dict.fromkeys((*told, *more)))


def settings_left(found: SiteRecords, changed: Collection[str] = ()) -> tuple[SettingEntry, ...]:
    """Return every setting as it was left last, apart from those of devices that were changed."""
    left: dict[tuple[str, str, str | None], SettingEntry] = {}
    for held in found.records:
        for entry in held.record.visit.settings:
            if entry.left is not None:
                bare = entry.model_copy(update={"found": None, "found_text": "", "found_before": ()})
                left[entry.device, entry.setting, entry.input] = bare
    return tuple(entry for entry in left.values() if entry.device not in changed)


def earlier_readings(
    found: SiteRecords, whole: Checklist, asks: dict[ReadingKey, Ask], changed: Collection[str] = ()
) -> Iterator[EarlierReading]:
    """Yield the baseline of each reading and, where that is another one, the newest.

    Parameters
    ----------
    asks
        The readings that are wanted.
    changed
        Parts whose readings begin anew.
    """
    history = _history(found, whole, asks)
    for key, ask in asks.items():
        rows = history.get(key, [])
        if not rows or not set(changed).isdisjoint(key.parts):
            continue
        place, firm = baseline_of(rows, ask.data.provisional)
        yield rows[place].model_copy(update={"baseline": True, "provisional": not firm})
        if place != len(rows) - 1:
            yield rows[-1]


def _history(
    found: SiteRecords, whole: Checklist, asks: dict[ReadingKey, Ask]
) -> dict[ReadingKey, list[EarlierReading]]:
    """Return every reading since its part was new, oldest first."""
    history: dict[ReadingKey, list[EarlierReading]] = {}
    for held in found.records:
        visit = held.record.visit
        service = service_now(visit)
        new = frozenset(() if service is None else service.changed)
        for key in [key for key in history if service is None or not new.isdisjoint(key.parts)]:
            del history[key]
        beside = Moments(whole, visit)
        for reading in beside.living:
            ask = asks.get(reading.key)
            if ask is not None and _comparable(reading, ask):
                rows = history.setdefault(reading.key, [])
                if service is not None and service.returned is not None:
                    # it was doubted, so it was read again
                    rows[:] = [row for row in rows if row.visit != service.previous_visit]
                rows.append(beside.earlier(reading, ask))
    return history


def _comparable(reading: Reading, ask: Ask) -> bool:
    """Say whether later readings can be compared with one: a bound, too, where the reading itself is."""
    if reading.kind != "number" or isinstance(reading.value, bool | str) or reading.unit != ask.data.unit:
        return False
    way = RESTATEMENTS.get(ask.data.restated)
    if way is not None and way.if_judged and _not_judged(reading):
        return False
    if reading.side == "exact":
        return math.isfinite(reading.value)
    return ask.data.compares == "reading"


def _not_judged(reading: Reading) -> bool:
    return reading.judgement is not None and reading.judgement.verdict == "not judged"
