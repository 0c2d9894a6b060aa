"""What a service visit of a plant could be: what is due, what has changed, what the last visit left."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date
from functools import cached_property
from pathlib import Path
from typing import Literal

from commission.checklist.build import build_checklist
from commission.checklist.intervals import Due, at_hand, due
from commission.checklist.service import agreed_intervals
from commission.checklist.types import Checklist, ChecklistData, StepKey
from commission.design.check import checked_sheet
from commission.plant.compare import changed_parts
from commission.plant.files import load_plant
from commission.plant.places import site_path
from commission.plant.plant import Plant
from commission.plant.values import Interval
from commission.prepare import own_checklists, usual
from commission.records.earlier import (
    SiteRecords,
    begun_anew,
    put_right,
    service_of,
    site_records,
    visits_done,
)
from commission.records.read import is_record
from commission.revisit.places import record_folders, records_in
from commission.revisit.returned import returned_of
from commission.sheet.types import Sheet
from commission.visit.service import walk_of_service
from commission.visit.standing import Standing, step_text
from commission.visit.types import Disposed, Returned, Service, StepNamed, Visit, VisitKind


@dataclass(frozen=True)
class Wanted:
    """What a person wants of a service visit."""

    due: tuple[Interval, ...] = ()
    event: str = ""
    parts: tuple[str, ...] = ()
    replaced: tuple[str, ...] = ()
    """Parts that are new although the site file tells the same of them."""
    put_off: bool = False
    """Also the steps that were put off."""
    returned: bool = False
    """Only the steps at which a supervisor returned the last record."""


@dataclass(frozen=True)
class Offer:
    """A plant with the records of the visits before, ready to be visited again."""

    plant: Plant
    sheet: Sheet
    whole: Checklist
    """The walk of the plant as it is now, that service visits are made of."""
    own: tuple[ChecklistData, ...]
    records: SiteRecords
    today: date
    file: Path | None
    """Site file that tells the plant; None where it is the plant of the last record."""
    warnings: tuple[str, ...] = ()

    @property
    def last(self) -> Visit:
        """The last visit."""
        return self.records.newest.record.visit

    @property
    def folder(self) -> Path:
        """Folder of the last record, where the next one belongs too."""
        return self.records.newest.path.parent

    @property
    def due(self) -> tuple[Due, ...]:
        """When each interval that holds here is due, shortest first."""
        agreed = agreed_intervals(self.whole, self.plant.site.service)
        return due(agreed, visits_done(self.records), self.today)

    @cached_property
    def returned(self) -> Returned | None:
        """What the supervisor said who returned the last record; None where it was not returned."""
        return returned_of(self.records.newest)

    @cached_property
    def dispositions(self) -> tuple[Disposed, ...]:
        """What holds of that which the last visit said was done about faults and steps.

        Where it puts a returned one right, what that one said too; and what any earlier visit put off, for
        as long as nobody has read it.
        """
        last = {visit.id for visit in put_right(self.records)}
        walked = {step_text(step.key) for step in self.whole.steps} | {str(key) for key in self.whole.asks}
        newest: dict[str, Disposed] = {}
        for visit in (held.record.visit for held in self.records.records):
            for again in _read_in(visit):
                newest.pop(again, None)
            newest |= {
                one.subject: one
                for one in Standing(self.whole, visit).decided()
                if visit.id in last or (one.disposition == "deferred" and one.subject in walked)
            }
        return tuple(newest.values())

    def left(self, field: Literal["next_technician", "spares", "codes_kept"]) -> str:
        """Return what was left for those who come after; what a correction does not tell stands as it was."""
        told = (str(getattr(visit, field)) for visit in put_right(self.records))
        return next((text for text in told if text), "")

    @cached_property
    def put_off(self) -> tuple[StepKey, ...]:
        """Steps that were put off and not read since, in walking order."""
        deferred = {one.subject for one in self.dispositions if one.disposition == "deferred"}
        return tuple(
            step.key
            for step in self.whole.steps
            if step_text(step.key) in deferred or any(str(ask.key) in deferred for ask in step.asks)
        )

    @property
    def at_hand(self) -> Wanted:
        """What a visit of today should do: what was returned, else what is due or nearly so."""
        return Wanted(returned=True) if self.returned is not None else self.at_hand_but_returned

    @property
    def at_hand_but_returned(self) -> Wanted:
        """What a service visit of today should do, whether the last record was returned or not."""
        return Wanted(at_hand(self.due), put_off=bool(self.put_off))

    @property
    def changed(self) -> tuple[str, ...]:
        """Parts that are told otherwise than in the last record."""
        return changed_parts(self.records.newest.record.plant, self.plant)

    def walk(self, wanted: Wanted) -> Checklist:
        """Return the walk that a visit would have."""
        return walk_of_service(self.whole, self.plant, self._asked(wanted))

    def _asked(self, wanted: Wanted) -> Service:
        """Return what decides on the walk; nothing of what was read before."""
        return Service(
            due=wanted.due,
            parts=wanted.parts,
            changed=begun_anew(self.plant, (*self.changed, *wanted.replaced)),
            previous_visit=self.last.id,
            previous_at=self.last.started_at,
            put_off=tuple(StepNamed(step=step, parts=parts) for step, parts in self._put_off(wanted)),
            returned=self.returned if wanted.returned else None,
        )

    def _put_off(self, wanted: Wanted) -> tuple[StepKey, ...]:
        return self.put_off if wanted.put_off else ()

    def service(self, wanted: Wanted) -> Service:
        """Return what a visit begins with.

        Raises
        ------
        RecordError
            If a part that is named is not on this site.
        """
        return service_of(
            self.records,
            self.plant,
            self.whole,
            due=wanted.due,
            event=wanted.event,
            parts=wanted.parts,
            replaced=wanted.replaced,
            put_off=self._put_off(wanted),
            returned=self.returned if wanted.returned else None,
        )

    def prepare(
        self, plant: Plant, kind: VisitKind, own: tuple[ChecklistData, ...], service: Service | None
    ) -> tuple[Sheet, Checklist]:
        """Return sheet and walk of the visit that begins, without working the sheet out a second time."""
        if service is None or plant is not self.plant:
            raise ValueError(f"this prepares the {kind} of one plant only")
        return self.sheet, walk_of_service(self.whole, plant, service)

    def at(self, today: date) -> Offer:
        """Return the same as of another day."""
        return replace(self, today=today)


def _read_in(visit: Visit) -> Iterator[str]:
    """Yield how dispositions name the readings and steps of a visit."""
    for reading in visit.readings:
        yield str(reading.key)
        yield step_text((reading.step.partition(".")[0], reading.parts))


def offer_of(
    named: Path, *, today: date, records: Path | None = None, usual_folder: Path | None = None
) -> tuple[Offer | None, tuple[str, ...]]:
    """Return what a service visit could be of a site file or a record that was named.

    None where no record of the site is found that can be built on; the texts beside it say what is wrong
    with those that are there.

    Parameters
    ----------
    records
        Folder of the site's records, or one of them.
    usual_folder
        Where records are written unless told otherwise.

    Raises
    ------
    CommissionError
        If the file or the record that is named cannot be used.
    """
    path = site_path(named)
    if is_record(path):
        return _of_record(path, today), ()
    loaded = load_plant(path)
    site = loaded.plant.site.site.id
    warnings = tuple(str(warning) for warning in loaded.warnings)
    if records is not None:
        found: SiteRecords | None = site_records(records, site)
        said: tuple[str, ...] = ()
    else:
        found, said = records_in(record_folders(path, None, usual_folder or Path.cwd()), site)
    if found is None:
        return None, said
    own = own_checklists(loaded.plant, path.parent)
    return _offer(loaded.plant, own, found, today, path, warnings), said


def _of_record(path: Path, today: date) -> Offer:
    """Return the offer of a record; where the site file is beside it, the plant is as that tells it now."""
    found = site_records(path)
    record = found.newest.record
    beside = path.parent / f"{found.site}.toml"
    if beside.is_file():
        loaded = load_plant(beside)
        if loaded.plant.site.site.id == found.site:
            own = own_checklists(loaded.plant, beside.parent)
            warnings = tuple(str(warning) for warning in loaded.warnings)
            return _offer(loaded.plant, own, found, today, beside, warnings)
    return _offer(record.plant, record.visit.checklists, found, today, None)


def _offer(
    plant: Plant,
    own: Sequence[ChecklistData],
    found: SiteRecords,
    today: date,
    file: Path | None,
    warnings: tuple[str, ...] = (),
) -> Offer:
    sheet = checked_sheet(plant)
    whole = build_checklist(plant, sheet, (*usual(), *own)).of_service
    return Offer(plant, sheet, whole, tuple(own), found, today, file, warnings)
