"""A visit in work, as screens and command line use it: every change is on the disk when its call returns."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import datetime
from pathlib import Path
from random import Random
from types import TracebackType
from typing import Final, Literal, TypeAlias

from commission.checklist.expect import find
from commission.checklist.types import Ask, Checklist, Expectation, Expected, ReadingKey, Step, StepKey
from commission.errors import EntryError, VisitError
from commission.plant.equipment import Input
from commission.plant.plant import Plant
from commission.sheet.types import Sheet
from commission.visit import events
from commission.visit.book import Book, made
from commission.visit.folder import Holder, create, new_visit_id, take_up
from commission.visit.journal import Keeps
from commission.visit.judge import expected_now
from commission.visit.judging import ColumnTaken, Judging
from commission.visit.kit import NO_METER, TooCoarse, checked, too_coarse
from commission.visit.missing import Missing, missing_for_sign_off
from commission.visit.settling import Settling
from commission.visit.standing import Standing
from commission.visit.state import instrument_of, opened, replayed
from commission.visit.types import (
    Disposition,
    Instrument,
    Judgement,
    Person,
    Reading,
    SettingEntry,
    SignedAs,
    SignOff,
    Visit,
    VisitKind,
)

Prepare: TypeAlias = Callable[[Plant, VisitKind], tuple[Sheet, Checklist]]
"""Makes the sheet and the walk of a plant for a kind of visit."""
LISTED: Final = 5
"""Reasons that a refusal to sign names; the whole list is :meth:`OpenVisit.missing`."""


class OpenVisit:
    """One visit in work. Use it in a ``with`` block, or call :meth:`close`."""

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
        self._book = Book(plant, sheet, checklist, visit, keeps)
        self._judging = Judging(self._book)
        self._settling = Settling(self._book)
        self.messages = messages
        """What a person should know about the journal: entries cut short or damaged."""

    @classmethod
    def start(
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

        Raises
        ------
        VisitError
            If the folder cannot be made or written.
        """
        sheet, checklist = prepare(plant, kind)
        site = plant.site.site.id
        event = made(
            events.Opened,
            at=now,
            id=new_visit_id(root, site, now, kind, random),
            site=site,
            kind=kind,
            program=program,
            plant=plant,
        )
        held = create(root, event, holder)
        return cls(plant, sheet, checklist, opened(event), held)

    @classmethod
    def resume(cls, root: Path, ident: str, prepare: Prepare, *, holder: Holder) -> OpenVisit:
        """Take up a visit in work where it was left, with the plant that it was begun with.

        Raises
        ------
        VisitError
            If there is no such visit, somebody else holds it, or its beginning cannot be read.
        """
        held = take_up(root, ident, holder)
        first = held.replay.events[0]
        try:
            visit = replayed((*held.replay.events, *held.replay.after_damage))
            assert isinstance(first, events.Opened)  # noqa: S101 - the replay begins with it
            sheet, checklist = prepare(first.plant, visit.kind)
        except BaseException:
            held.close()
            raise
        return cls(first.plant, sheet, checklist, visit, held, messages=held.replay.damage)

    def close(self) -> None:
        """Let go of the visit; everything is on the disk already."""
        self._book.close()

    def __enter__(self) -> OpenVisit:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    # what it is

    @property
    def plant(self) -> Plant:
        """The plant, as it was when the visit began."""
        return self._book.plant

    @property
    def sheet(self) -> Sheet:
        """Settings and findings of the plant."""
        return self._book.sheet

    @property
    def checklist(self) -> Checklist:
        """The walk."""
        return self._book.checklist

    @property
    def visit(self) -> Visit:
        """The visit as it stands."""
        return self._book.visit

    @property
    def standing(self) -> Standing:
        """Status of steps, hold points, progress; current readings and their history."""
        return self._book.standing

    # where the walk stands

    def at_step(self) -> Step | None:
        """Return the step that the walk stands on: where it was left, else the first open one."""
        left = self.checklist.by_key.get((self.visit.at_step, self.visit.at_parts))
        return left or self.standing.next_step() or next(iter(self.checklist.steps), None)

    def move_to(self, step: StepKey, now: datetime) -> None:
        """Move the walk to a step; the next start is there."""
        self._step(step)
        if (self.visit.at_step, self.visit.at_parts) != step:
            self._book.keep(made(events.Moved, at=now, step=step[0], parts=step[1]))

    def _step(self, key: StepKey) -> Step:
        found = self.checklist.by_key.get(key)
        if found is None:
            raise VisitError(f"this plant's walk has no step {key[0]} {' '.join(key[1])}".rstrip())
        return found

    # readings

    def expectation_for(self, ask: Ask, now: datetime) -> Expectation | None:
        """Return what a reading should be at a moment, before it is read; None where nothing is expected."""
        expect = find(ask.data.expect) if ask.data.expect else None
        return None if expect is None else expected_now(self._book.situations.at(ask, now), expect)

    def instrument_for(self, ask: Ask) -> Instrument | None:
        """Return the meter to offer: the one used in its group, used last for the kind, or the first that fits.

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

    def take(
        self,
        ask: Ask,
        typed: str,
        *,
        measured_at: datetime,
        now: datetime,
        instrument: str | None = None,
        read_by: str = "",
        reason: str = "",
    ) -> Judgement:
        """Take a reading as it was typed; it is judged and on the disk when this returns.

        Parameters
        ----------
        measured_at
            When it was measured; of a reading copied from paper earlier than ``now``.
        instrument
            Id of the meter, of the visit's kit; None where none is named.
        reason
            Why it may stay, where the verdict is a conditional one.

        Raises
        ------
        EntryError
            If what was typed cannot be understood; nothing is kept.
        VisitError
            If the step is barred, the meter not in the kit, or the disk does not take it; nothing is kept.
        """
        return self._judging.take(
            ask,
            typed,
            measured_at=measured_at,
            now=now,
            instrument=instrument,
            read_by=read_by,
            reason=reason,
        )

    def take_column(
        self,
        asks: Sequence[Ask],
        typed: Sequence[str],
        *,
        measured_at: datetime,
        now: datetime,
        instrument: str | None = None,
        read_by: str = "",
    ) -> ColumnTaken:
        """Take a column of like readings at once; an empty row is skipped, a wrong one told and not taken."""
        return self._judging.take_column(
            asks, typed, measured_at=measured_at, now=now, instrument=instrument, read_by=read_by
        )

    def correct(
        self,
        ask: Ask,
        typed: str,
        *,
        reason: str,
        now: datetime,
        measured_at: datetime | None = None,
        instrument: str | None = None,
        read_by: str = "",
    ) -> Judgement:
        """Put a mistyped reading right; what was judged by it is judged anew, the old verdicts stay visible.

        What is None is taken over from the reading that is corrected. A new measurement is no correction:
        :meth:`take` it.
        """
        return self._judging.correct(
            ask,
            typed,
            reason=reason,
            now=now,
            measured_at=measured_at,
            instrument=instrument,
            read_by=read_by,
        )

    def current(self, key: ReadingKey) -> Reading | None:
        """Return the reading that holds for a key."""
        return self.standing.readings.current(key)

    def history(self, key: ReadingKey) -> tuple[Reading, ...]:
        """Return everything ever entered for a key, superseded ones too."""
        return self.standing.readings.history(key)

    # people and instruments

    def add_person(self, person: Person, now: datetime, *, instead_of: str = "") -> None:
        """Add a person, or put what is told of one right; ``instead_of`` is the name that was mistyped."""
        if not person.name.strip():
            raise VisitError("a name is wanted")
        self._book.keep(made(events.Joined, at=now, person=person, instead_of=instead_of))

    def add_instrument(self, instrument: Instrument, now: datetime) -> None:
        """Put an instrument into the kit, or put what is told of one right.

        Readings taken with it are judged anew where its accuracy or its calibration was told otherwise.
        """
        before = instrument_of(self.visit, instrument.id)
        try:
            event = made(events.Equipped, at=now, instrument=checked(instrument))
        except EntryError as error:
            raise VisitError(str(error)) from None
        self._book.keep(event)
        if before is not None and before != instrument:
            self._judging.judge_anew_by(instrument, now)

    def too_coarse(self, now: datetime) -> tuple[TooCoarse, ...]:
        """Return the readings that the kit cannot decide, as far as bands can be told already."""
        bands = (
            (ask, found)
            for ask in (ask for step in self.checklist.steps for ask in step.asks)
            if ask.data.kind == "number" and isinstance(found := self.expectation_for(ask, now), Expected)
        )
        return too_coarse(bands, self.visit.instruments)

    # steps, settings, findings

    def note(self, step: StepKey, text: str, now: datetime) -> None:
        """Keep a remark to a step."""
        self._settling.note(self._step(step), text, now)

    def not_applicable(self, step: StepKey, reason: str, now: datetime) -> None:
        """Say that a step does not apply here, and why. A hold point cannot be passed by so."""
        self._settling.not_applicable(self._step(step), reason, now)

    def applies_again(self, step: StepKey, now: datetime) -> None:
        """Take a step up again that was said not to apply."""
        self._settling.applies_again(self._step(step), now)

    def release(
        self,
        step: StepKey,
        *,
        by: str,
        role: Literal["technician", "supervisor"],
        now: datetime,
        reason: str = "",
    ) -> None:
        """Release a hold point as the person whom its data name."""
        self._settling.release(self._step(step), by=by, role=role, reason=reason, now=now)

    def dispose(
        self,
        subject: str,
        disposition: Disposition,
        *,
        reason: str,
        by: str,
        now: datetime,
        until: str = "",
        stays_off: str = "",
        words: str = "",
    ) -> None:
        """Say what was done about a finding (its id), a reading (its key as text) or a step put off.

        Raises
        ------
        VisitError
            If that is not allowed for it, or a reason, date or second person is wanted.
        """
        self._settling.dispose(
            subject,
            disposition,
            reason=reason,
            by=by,
            now=now,
            until=until,
            stays_off=stays_off,
            words=words,
        )

    def set_found(
        self, device: str, setting: str, typed: str, now: datetime, *, input_: Input | None = None
    ) -> SettingEntry:
        """Keep a setting as it was found."""
        return self._settling.set_found(device, setting, typed, now, input_=input_)

    def set_left(
        self,
        device: str,
        setting: str,
        typed: str,
        now: datetime,
        *,
        input_: Input | None = None,
        reason: str | None = None,
    ) -> SettingEntry:
        """Keep a setting as it was left, with the reason where it differs from the recommendation."""
        return self._settling.set_left(device, setting, typed, now, input_=input_, reason=reason)

    def give_reason(
        self, device: str, setting: str, reason: str, now: datetime, *, input_: Input | None = None
    ) -> SettingEntry:
        """Say why a setting was left otherwise than recommended."""
        return self._settling.give_reason(device, setting, reason, now, input_=input_)

    def left_as_recommended(self, device: str, now: datetime) -> int:
        """Keep that every setting of a device not told yet was read back as recommended; return how many."""
        return self._settling.left_as_recommended(device, now)

    def identify(
        self,
        part: str,
        now: datetime,
        *,
        serial: str | None = None,
        firmware: str | None = None,
        date_code: str | None = None,
    ) -> None:
        """Keep what stands on a device's plate; what is None stays as it was."""
        self._settling.identify(part, now, serial=serial, firmware=firmware, date_code=date_code)

    def leave(
        self,
        now: datetime,
        *,
        next_technician: str | None = None,
        spares: str | None = None,
        codes_kept: str | None = None,
    ) -> None:
        """Keep what is left for those who come after; what is None stays as it was."""
        event = made(
            events.Left, at=now, next_technician=next_technician, spares=spares, codes_kept=codes_kept
        )
        self._book.keep(event)

    # the end

    def missing(self, signed_as: SignedAs = "complete") -> tuple[Missing, ...]:
        """Return what keeps the visit from being signed in a state, each with where to go for it."""
        return missing_for_sign_off(self.plant, self.sheet, self.standing, signed_as)

    def sign_off(self, name: str, signed_as: SignedAs, now: datetime) -> Visit:
        """Sign the visit as its technician; nothing can be added after.

        Raises
        ------
        VisitError
            If something is missing, or the name is not that of a technician of this visit.
        """
        missing = self.missing(signed_as)
        if missing:
            told = "; ".join(item.says for item in missing[:LISTED])
            more = f"; and {len(missing) - LISTED} more" if len(missing) > LISTED else ""
            raise VisitError(f"cannot be signed as '{signed_as}': {told}{more}")
        signer = next(
            (one for one in self.visit.people if one.role == "technician" and one.name == name), None
        )
        if signer is None:
            raise VisitError(f"{name} is not a technician of this visit, and only a technician signs it")
        sign_off = made(
            SignOff,
            name=signer.name,
            role=signer.role,
            licence=signer.licence,
            employer=signer.employer,
            signed_as=signed_as,
            at=now,
        )
        self._book.keep(events.Signed(at=now, sign_off=sign_off))
        return self.visit
