"""A visit in work, as screens and command line use it: every change is on the disk when its call returns."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from pathlib import Path
from random import Random
from types import TracebackType

from commission.checklist.expect import find
from commission.checklist.types import (
    Ask,
    Checklist,
    ChecklistData,
    Expectation,
    Expected,
    ReadingKey,
    Step,
    StepKey,
)
from commission.errors import HeldError, NotKeptError, VisitError
from commission.plant.compare import changed_parts
from commission.plant.plant import Plant
from commission.sheet.types import Sheet
from commission.visit import events
from commission.visit.adding import Addition, Prepare, addition, step_added
from commission.visit.attaching import Attaching
from commission.visit.book import made
from commission.visit.compared import Earlier
from commission.visit.digest import plant_digest, walk_digest
from commission.visit.ending import Ending
from commission.visit.folder import HeldVisit, LookedAt, create, look_at, new_visit_id, take_up
from commission.visit.journal import Keeps
from commission.visit.judge import expected_now
from commission.visit.kit import NO_METER, TooCoarse, too_coarse
from commission.visit.moving import moved
from commission.visit.replay import Replay
from commission.visit.service import service_now
from commission.visit.shelf import Holder
from commission.visit.state import instrument_of, opened, replayed
from commission.visit.types import (
    EarlierReading,
    Instrument,
    PlantChange,
    Reading,
    Service,
    Visit,
    VisitKind,
)


def _line_of(folder: Path | None) -> str:
    """Return a folder as the journal keeps it; nothing of one with a name that no line holds."""
    told = "" if folder is None else str(folder.resolve())
    return told if told.isprintable() and len(told) <= 400 else ""


def _folder_of(begun: events.Event) -> Path | None:
    """Return the folder of the records before a visit, if it is there on this machine."""
    told = Path(begun.records) if isinstance(begun, events.Opened) and begun.records else None
    return told if told is not None and told.is_dir() else None


class OpenVisit(Ending, Attaching):
    """One visit in work. Use it in a ``with`` block, or call ``close``.

    Readings: ``take``, ``take_column``, ``correct``. Everything else said and done: ``note``, ``dispose``,
    ``release``, ``set_found``, ``set_left``… Each is on the disk when it returns, or raises and changes
    nothing.
    """

    def __init__(
        self,
        plant: Plant,
        sheet: Sheet,
        checklist: Checklist,
        visit: Visit,
        keeps: Keeps,
        *,
        messages: tuple[str, ...] = (),
    ) -> None:
        super().__init__(plant, sheet, checklist, visit, keeps)
        self._stands_at: StepKey | None = None
        """Step that the walk is on, where that could not be kept."""
        self.messages = messages
        """What a person should know about the journal: entries cut short or damaged."""
        self.records_before: Path | None = None
        """Folder of the records of the visits before, where it was told and is there."""

    @classmethod
    def start(  # noqa: PLR0913 - a visit begins once, with everything named
        cls,
        root: Path,
        plant: Plant,
        prepare: Prepare,
        *,
        kind: VisitKind,
        program: str,
        now: datetime,
        holder: Holder,
        random: Random,
        checklists: tuple[ChecklistData, ...] = (),
        service: Service | None = None,
        records: Path | None = None,
    ) -> OpenVisit:
        """Begin a visit in a folder of its own.

        Parameters
        ----------
        root
            Folder of all visits in work.
        prepare
            Makes sheet and walk; called before anything is written.
        program
            Version of the program.
        random
            Draws the last letters of the visit's id.
        checklists
            The site's own, kept with the visit.
        service
            Of a service visit: why the plant is visited again, and what the visits before left. Without it
            the walk is the whole one.
        records
            Folder of the records of those visits, to which this one's belongs.

        Raises
        ------
        VisitError
            If the folder cannot be made or written.
        """
        sheet, checklist = prepare(plant, kind, checklists, service)
        site = plant.site.site.id
        event = made(
            events.Opened,
            at=now,
            id=new_visit_id(root, site, now, kind, random),
            site=site,
            kind=kind,
            program=program,
            plant=plant,
            checklists=checklists,
            walk=walk_digest(checklist),
            service=service,
            records=_line_of(records),
        )
        held = create(root, event, holder)
        begun = cls(plant, sheet, checklist, opened(event), held)
        begun.records_before = _folder_of(event)
        return begun

    @classmethod
    def resume(cls, root: Path, ident: str, prepare: Prepare, *, holder: Holder) -> OpenVisit:
        """Take up a visit in work where it was left, with the plant that it has.

        Raises
        ------
        VisitError
            If there is no such visit, somebody else holds it, or its beginning cannot be read.
        """
        held = take_up(root, ident, holder)
        try:
            return cls._of(held, held.replay, prepare)
        except BaseException:
            held.close()
            raise

    @classmethod
    def look(cls, root: Path, ident: str, prepare: Prepare) -> OpenVisit:
        """Look at a visit without holding it, as it stands now; every change is refused with who has it open.

        Raises
        ------
        VisitError
            If there is no such visit, or its beginning cannot be read.
        """
        seen = look_at(root, ident)
        return cls._of(seen, seen.replay, prepare)

    @classmethod
    def _of(cls, keeps: Keeps, found: Replay, prepare: Prepare) -> OpenVisit:
        line = (*found.events, *found.after_damage)
        visit = replayed(line)
        last = [event for event in line if isinstance(event, events.Opened | events.Replanned)][-1]
        sheet, checklist = prepare(last.plant, visit.kind, last.checklists, service_now(visit))
        made_of = cls(last.plant, sheet, checklist, visit, keeps, messages=found.damage)
        made_of.newest = max(event.at for event in line)
        made_of.records_before = _folder_of(line[0])
        return made_of

    @property
    def read_only(self) -> bool:
        """Whether the visit is only looked at."""
        return isinstance(self._keeps, LookedAt)

    @property
    def folder(self) -> Path | None:
        """Folder that the visit is kept in; None where it is kept in memory."""
        return self._keeps.folder if isinstance(self._keeps, HeldVisit | LookedAt) else None

    def move_to_folder(self, root: Path) -> tuple[str, ...]:
        """Go on in another folder of visits, since the disk of this one does not take what is entered.

        Everything that was kept is written there whole, and held there; the old folder is left as it is.
        Returns what a person should know: what could not be copied from the old folder.

        Raises
        ------
        NotKeptError
            If the other folder cannot be written either; the visit stays where it is then.
        VisitError
            If the visit is only looked at, or is in that folder already.
        """
        if not isinstance(self._keeps, HeldVisit):
            raise VisitError("only a visit that is held in a folder can go on in another one")
        self._keeps, said = moved(self._keeps, root)
        return said

    def __enter__(self) -> OpenVisit:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def go_on_with(
        self,
        plant: Plant,
        prepare: Prepare,
        *,
        by: str,
        reason: str,
        worked_on: bool,
        now: datetime,
        checklists: tuple[ChecklistData, ...] = (),
    ) -> OpenVisit:
        """Go on with a changed plant, since something was mended or the site file told too little.

        Returns the visit as it now stands; this one must not be used any more.

        Parameters
        ----------
        worked_on
            The changed parts were worked on: what was read of them before counts no more. False where the
            file only tells more or better what stood there all along.

        Raises
        ------
        VisitError
            If it is another site's plant, the same plant, or the disk does not take it.
        """
        if plant.site.site.id != self.plant.site.site.id:
            raise VisitError(f"the visit is one of {self.visit.site}, not of {plant.site.site.id}")
        before, after = plant_digest(self.plant), plant_digest(plant)
        if before == after:
            raise VisitError("the site file tells the same plant; nothing has changed")
        if not reason.strip() or not by.strip():
            raise VisitError("what was changed, and who says so? a few words and a name are wanted")
        parts = changed_parts(self.plant, plant) if worked_on else ()
        change = made(PlantChange, before=before, after=after, parts=parts, reason=reason, by=by, at=now)
        service = service_now(self.visit, change)
        sheet, checklist = prepare(plant, self.visit.kind, checklists, service)
        walk = walk_digest(checklist)
        self._keep(events.Replanned(at=now, change=change, plant=plant, checklists=checklists, walk=walk))
        return OpenVisit(plant, sheet, checklist, self.visit, self._keeps, messages=self.messages)

    def with_step(self, key: StepKey, prepare: Prepare) -> Addition:
        """Return what the walk would be with a step that was not due; nothing changes yet.

        Raises
        ------
        VisitError
            If it is no service visit, or the step is none of those that it leaves out.
        """
        return addition(self.visit, self.plant, self.checklist, key, prepare)

    def add(
        self,
        more: Addition,
        *,
        by: str,
        now: datetime,
        reason: str = "",
        earlier: Sequence[EarlierReading] = (),
    ) -> OpenVisit:
        """Take a step into the walk with what it needs.

        Returns the visit as it now stands; this one must not be used any more.

        Parameters
        ----------
        earlier
            What the visits before read of what comes into the walk.

        Raises
        ------
        VisitError
            If nobody is named, or the disk does not take it.
        """
        added, walk = step_added(more, by, reason, now), walk_digest(more.checklist)
        self._keep(made(events.Added, at=now, step=added, earlier=tuple(earlier), walk=walk))
        return OpenVisit(
            self.plant, more.sheet, more.checklist, self.visit, self._keeps, messages=self.messages
        )

    # where the walk stands

    def at_step(self) -> Step | None:
        """Return the step that the walk stands on: where it was left, else the first open one."""
        left = self.checklist.by_key.get(self._stands_at or (self.visit.at_step, self.visit.at_parts))
        return left or self.standing.next_step() or next(iter(self.checklist.steps), None)

    def move_to(self, step: StepKey, now: datetime) -> None:
        """Move the walk to a step; the next start is there.

        Where the disk does not take that, or the visit is only looked at, the walk moves all the same: only
        the next start is elsewhere.
        """
        self._step(step)
        self._stands_at = None
        if (self.visit.at_step, self.visit.at_parts) != step:
            try:
                self._keep(made(events.Moved, at=now, step=step[0], parts=step[1]))
            except (NotKeptError, HeldError):
                self._stands_at = step

    # readings before they are taken, and after

    def expectation_for(self, ask: Ask, now: datetime) -> Expectation | None:
        """Return what a reading should be at a moment, before it is read; None where nothing is expected."""
        expect = find(ask.data.expect) if ask.data.expect else None
        return None if expect is None else expected_now(self._situations.at(ask, now), expect)

    def instrument_for(self, ask: Ask) -> Instrument | None:
        """Return the meter to offer: its group's, the one used last, or the first of the kind.

        None where no meter is wanted or the kit has none.
        """
        kind = ask.data.instrument
        if kind in NO_METER:
            return None
        fitting = [instrument for instrument in self.visit.instruments if instrument.kind == kind]
        known = {instrument.id for instrument in fitting}
        used = [reading for reading in reversed(self.visit.readings) if reading.instrument in known]
        group = [reading for reading in used if self._group(reading.key) == ask.data.group]
        last = next(iter(group if ask.data.group and group else used), None)
        if last is not None:
            return instrument_of(self.visit, last.instrument)
        return fitting[0] if fitting else None

    def _group(self, key: ReadingKey) -> str | None:
        found = self.checklist.asks.get(key)
        return None if found is None else found[1].data.group

    @property
    def earlier(self) -> Earlier:
        """What the visits before read, by key: baseline and newest of each."""
        return self._situations.earlier

    def current(self, key: ReadingKey) -> Reading | None:
        """Return the reading that holds for a key."""
        return self.standing.readings.current(key)

    def history(self, key: ReadingKey) -> tuple[Reading, ...]:
        """Return everything ever entered for a key, superseded ones too."""
        return self.standing.readings.history(key)

    def too_coarse(self, now: datetime) -> tuple[TooCoarse, ...]:
        """Return the readings that the kit cannot decide, as far as bands can be told already."""
        bands = (
            (ask, found)
            for ask in (ask for step in self.checklist.steps for ask in step.asks)
            if ask.data.kind == "number" and isinstance(found := self.expectation_for(ask, now), Expected)
        )
        return too_coarse(bands, self.visit.instruments)
