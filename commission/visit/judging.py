"""Taking readings: judged and kept at once, judged later when they had to wait, judged anew when corrected.

A reading is judged once, under the conditions of its moment; what is measured later changes nothing about it.
It is judged anew only where something that it was built on was wrong: a condition reading was corrected, or
what was told of its meter. The earlier verdict stays in the visit.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Final

from commission.checklist.types import Ask, Checklist, ReadingKey
from commission.errors import NotKeptError, VisitError
from commission.plant.plant import Plant
from commission.plant.values import UNKNOWN
from commission.sheet.types import Sheet
from commission.units import UnitSystem
from commission.visit import events
from commission.visit.book import Book, made
from commission.visit.drift import judge_with_change
from commission.visit.entry import Typed, read_column, read_entry
from commission.visit.journal import Keeps
from commission.visit.kit import label
from commission.visit.state import instrument_of
from commission.visit.types import Instrument, Judgement, Reading, Visit

_CLOCKS_DIFFER: Final = timedelta(minutes=2)


@dataclass(frozen=True, slots=True)
class ColumnTaken:
    """A column of like readings after it was entered."""

    judgements: tuple[Judgement | None, ...]
    """One a row; None where it was skipped or not understood."""
    wrong: dict[int, str]
    """What is wrong with a row, by its place; what was typed there was not taken."""
    warning: str = ""


class Judging(Book):
    """The readings of a visit."""

    def __init__(self, plant: Plant, sheet: Sheet, checklist: Checklist, visit: Visit, keeps: Keeps) -> None:
        super().__init__(plant, sheet, checklist, visit, keeps)
        self._waiters: dict[ReadingKey, None] = {
            reading.key: None
            for reading in self.standing.readings.all_current()
            if reading.judgement is not None and reading.judgement.waits
        }
        self._caught_up = False

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
        self._left_over(now)
        self._allow(ask)
        entry = self._understood(ask, typed, instrument)
        reading = self._reading(
            ask, entry, measured_at, now, instrument=instrument, read_by=read_by, reason=reason
        )
        self._keep_readings([reading], now)
        self._follow_up(lambda: self._judge_waiting({ask.key}, now))
        assert reading.judgement is not None  # noqa: S101 - just made
        return reading.judgement

    def weigh(
        self, ask: Ask, typed: str, *, measured_at: datetime, instrument: str | None = None
    ) -> Judgement:
        """Return the verdict that a reading would get, without keeping anything.

        Raises
        ------
        EntryError
            If what was typed cannot be understood.
        """
        entry = self._understood(ask, typed, instrument)
        reading = self._reading(ask, entry, measured_at, measured_at, instrument=instrument)
        assert reading.judgement is not None  # noqa: S101 - just made
        return reading.judgement

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
        self._left_over(now)
        for ask in asks[:1]:
            self._allow(ask)
        meter = self._meter(instrument)
        column = read_column(asks, typed, system=self._system(), instrument=meter)
        wrong = dict(column.wrong)
        taken: set[ReadingKey] = set()
        for place, (ask, row) in enumerate(zip(asks, column.rows, strict=True)):
            if row is None:
                continue
            reading = self._reading(ask, row, measured_at, now, instrument=instrument, read_by=read_by)
            try:
                self._keep_readings([reading], now)
            except NotKeptError as error:
                if not taken:
                    raise
                wrong[place] = str(error)
                continue
            taken.add(ask.key)
        self._follow_up(lambda: self._judge_waiting(taken, now))
        found = (self.standing.current(ask) if ask.key in taken else None for ask in asks)
        judgements = tuple(None if reading is None else reading.judgement for reading in found)
        return ColumnTaken(judgements, wrong, column.warning)

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
        self._left_over(now)
        old = self.standing.current(ask)
        if old is None:
            raise VisitError(f"nothing was read for {ask.key} yet; there is nothing to correct")
        if not reason.strip():
            raise VisitError("why is it corrected? a reason such as 'typed 12.8 for 12.3' is wanted")
        meter = instrument or old.instrument
        entry = self._understood(ask, typed, meter)
        reading = self._reading(
            ask,
            entry,
            measured_at or old.measured_at,
            now,
            instrument=meter,
            read_by=read_by or old.read_by,
            reason=reason,
            corrects=True,
        )
        self._keep_readings([reading], now)
        self._follow_up(
            lambda: self._judge_anew(self._built_on(old), f"{ask.label} was corrected", now),
            lambda: self._judge_waiting({ask.key}, now),
        )
        assert reading.judgement is not None  # noqa: S101 - just made
        return reading.judgement

    def _judge_anew_by(self, instrument: Instrument, now: datetime) -> None:
        """Judge anew what was read with an instrument, since what was told of it has changed."""
        found = [
            reading for reading in self.standing.readings.all_current() if reading.instrument == instrument.id
        ]
        reason = f"what is known of {label(instrument)} was corrected"
        self._follow_up(lambda: self._judge_anew(found, reason, now))

    # one reading

    def _allow(self, ask: Ask) -> None:
        found = self.checklist.asks.get(ask.key)
        if found is None:
            raise VisitError(f"this plant's walk does not ask for {ask.key}")
        bars = [bar.why for bar in self.standing.bars(found[0])]
        if bars:
            raise VisitError(f"'{found[0].title}' is barred: {'; '.join(bars)}")

    def _meter(self, ident: str | None) -> Instrument | None:
        if ident is None:
            return None
        meter = instrument_of(self.visit, ident)
        if meter is None:
            known = ", ".join(item.id for item in self.visit.instruments) or "none yet"
            raise VisitError(f"there is no instrument {ident} in the kit; known: {known}")
        return meter

    def _understood(self, ask: Ask, typed: str, instrument: str | None) -> Typed:
        meter = self._meter(instrument)
        return read_entry(ask, typed, system=self._system(), instrument=meter, before=self._above(ask.key))

    def _system(self) -> UnitSystem:
        """Return the unit system in which a bare number is typed."""
        return self.plant.site.site.units

    def _above(self, key: ReadingKey) -> str:
        """Return what was typed for the row above in a column."""
        above = ReadingKey(key.step, key.parts, key.index - 1)
        standing = self.standing.readings.current(above) if key.index else None
        return "" if standing is None else standing.text

    def _reading(
        self,
        ask: Ask,
        entry: Typed,
        measured_at: datetime,
        now: datetime,
        *,
        instrument: str | None = None,
        read_by: str = "",
        reason: str = "",
        corrects: bool = False,
    ) -> Reading:
        if measured_at > now + _CLOCKS_DIFFER:
            raise VisitError(f"measured at {measured_at:%Y-%m-%d %H:%M}, which is still to come")
        reading = made(
            Reading,
            step=ask.key.step,
            parts=ask.key.parts,
            index=ask.key.index,
            kind=entry.kind,
            value=entry.value,
            text=entry.text,
            unit=entry.unit,
            side=entry.side,
            measured_at=measured_at,
            entered_at=now,
            instrument=instrument,
            read_by=read_by,
            reason=reason,
            corrects=corrects,
        )
        return reading.model_copy(update={"judgement": self._verdict(reading, measured_at)})

    def _verdict(self, reading: Reading, moment: datetime) -> Judgement:
        """Return the verdict on a reading with what was known at a moment."""
        found = self.checklist.asks.get(reading.key)
        if found is None:
            raise VisitError(f"this plant's walk does not ask for {reading.key}")
        entry = Typed(reading.kind, reading.value, reading.text, reading.unit, reading.side)
        situations = self._situations
        observed = situations.observed(found[1], entry, reading.measured_at, reading.instrument)
        situation = situations.at(found[1], moment, observed)
        return judge_with_change(situation, entry, situations.kit(), situations.earlier)

    def _keep_readings(self, readings: Sequence[Reading], now: datetime) -> None:
        self._keep(*(events.Read(at=now, reading=reading) for reading in readings))
        for reading in readings:
            if reading.judgement is not None and reading.judgement.waits:
                self._waiters[reading.key] = None
            else:
                self._waiters.pop(reading.key, None)

    # readings judged later

    def _judge_waiting(self, arrived: set[ReadingKey], now: datetime) -> None:
        """Give a verdict to what has waited for these readings and for nothing else any more."""
        found = []
        for key in tuple(self._waiters):
            reading = self.standing.readings.current(key)
            if reading is None or reading.judgement is None:
                continue
            wanted = {item.key for item in reading.judgement.waits}
            moment = self._moment_of_all(reading, wanted) if wanted & arrived else None
            if moment is not None:
                found.append((reading, moment))
        self._judge_again(found, "judged once what it waited for was read", now)

    def _follow_up(self, *judged: Callable[[], None]) -> None:
        """Judge what follows from an entry that is kept; where the disk refuses, before the next entry.

        The entry must not be told as refused then: it would be entered twice.
        """
        try:
            for judge_some in judged:
                judge_some()
        except NotKeptError:
            self._caught_up = False

    def _left_over(self, now: datetime) -> None:
        """Finish what was cut off when the machine died between a correction and what follows from it."""
        if self._caught_up:
            return
        readings = self.standing.readings
        current = readings.all_current()
        torn = [
            reading
            for reading in current
            if reading.judgement is not None and not all(map(readings.holds, reading.judgement.used))
        ]
        self._judge_anew(torn, "what it was judged by was corrected", now)
        self._judge_waiting({reading.key for reading in current}, now)
        self._caught_up = True

    def _moment_of_all(self, reading: Reading, wanted: Iterable[ReadingKey]) -> datetime | None:
        """Return the moment at which a reading and all that it waited for can be looked at together.

        None while one is missing, or where a condition was read so late that it tells nothing about the
        moment of the reading.
        """
        moment = reading.measured_at
        for key in wanted:
            found = self.standing.readings.current(key)
            if found is None or found.side != "exact":
                return None
            gap = (found.measured_at - reading.measured_at).total_seconds()
            if gap > self._life(key):
                return None
            moment = max(moment, found.measured_at)
        return moment

    def _life(self, key: ReadingKey) -> float:
        found = self.checklist.asks.get(key)
        name = None if found is None else found[1].data.condition
        data = None if name is None else self.checklist.conditions_by_id.get(name)
        if data is None:
            return float("inf")
        return 0.0 if data.life == UNKNOWN else float(data.life)

    def _built_on(self, old: Reading) -> list[Reading]:
        return [
            reading
            for reading in self.standing.readings.all_current()
            if reading.key != old.key
            and reading.judgement is not None
            and any(
                used.key == old.key and used.measured_at == old.measured_at for used in reading.judgement.used
            )
        ]

    def _judge_anew(self, readings: Iterable[Reading], reason: str, now: datetime) -> None:
        found = []
        for reading in readings:
            used = () if reading.judgement is None else reading.judgement.used
            found.append((reading, max([reading.measured_at, *(item.measured_at for item in used)])))
        self._judge_again(found, reason, now)

    def _judge_again(self, found: Iterable[tuple[Reading, datetime]], reason: str, now: datetime) -> None:
        """Judge readings as of their moments, and keep those whose verdict is another now."""
        again = []
        for reading, moment in found:
            verdict = self._verdict(reading, moment)
            if verdict != reading.judgement:
                update = {"judgement": verdict, "corrects": True, "reason": reason, "entered_at": now}
                again.append(reading.model_copy(update=update))
        if again:
            self._keep_readings(again, now)
