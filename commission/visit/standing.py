"""Where a visit stands in its walk: what is done, failed or waiting, what bars a step, how far it is."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from typing import Final, Literal, TypeAlias

from commission.checklist.types import Ask, Checklist, PlantState, ReadingKey, Step, StepKey
from commission.visit import events
from commission.visit.state import Readings, disposition_of
from commission.visit.types import Disposed, NotApplicable, Reading, Release, Verdict, Visit

Status: TypeAlias = Literal["open", "done", "failed", "waiting", "deferred", "not applicable", "barred"]
"""``waiting``: read, but it cannot be judged yet; ``barred``: open, and something must pass before it."""
CLOSED: Final[frozenset[Status]] = frozenset({"done", "deferred", "not applicable"})
_GOOD: Final[frozenset[Verdict]] = frozenset({"pass", "recorded"})
_LIVE: Final[frozenset[PlantState]] = frozenset(
    {"dc only", "island", "generator", "utility", "charging", "full", "loads out"}
)
"""What the plant is in when something is energised."""
_CONDITIONAL: Final[frozenset[Verdict]] = frozenset({"conditional pass", "conditional fail"})


@dataclass(frozen=True, slots=True)
class Bar:
    """What keeps a step barred."""

    by: StepKey | None
    """The step that has to pass first; None where it is a finding."""
    why: str
    finding: str = ""
    """Id of the finding of the design check that has to end first."""


@dataclass(frozen=True, slots=True)
class Danger:
    """A finding that stops: what must not be energised as long as nothing has ended it."""

    finding: str
    says: str
    own: frozenset[str]
    """Ids of the parts that it concerns."""
    everywhere: bool
    """Whether it bars every step that raises energy: it concerns the bank or what everything hangs on."""


@dataclass(frozen=True, slots=True)
class StageProgress:
    """How far a stage is."""

    number: int
    title: str
    done: int
    """Steps done, deferred or not applicable."""
    total: int
    """0 where this plant has nothing to do in it."""
    failed: int

    def __str__(self) -> str:
        if not self.total:
            return "nothing to do here"
        return f"{self.done} of {self.total}" + (f", {self.failed} failed" if self.failed else "")


def step_text(key: StepKey) -> str:
    """Return a step's key as a disposition names it; the same as that of its single reading."""
    return str(ReadingKey(*key))


class Standing:
    """What follows from the readings of a visit for its walk. Brought along event by event."""

    def __init__(self, checklist: Checklist, visit: Visit, dangers: tuple[Danger, ...] = ()) -> None:
        self.checklist = checklist
        self._dangers = dangers
        self.visit = visit
        self.readings = Readings(visit.readings, visit.plant_changes)
        self._aside: dict[StepKey, NotApplicable] = {}
        self._released: dict[StepKey, Release] = {}
        self._own: dict[StepKey, Status] = {}
        self._passed: dict[StepKey, bool] = {}
        self._stopping: dict[ReadingKey, None] = {}
        for reading in self.readings.all_current():
            self._mark_stop(reading.key)
        for entry in visit.not_applicable:
            self._aside[entry.step, entry.parts] = entry
        for release in visit.releases:
            self._released[release.step, release.parts] = release

    def follow(self, visit: Visit, event: events.Event) -> None:
        """Take in what an event has changed."""
        self.visit = visit
        if isinstance(event, events.Read):
            self.readings.add(event.reading)
            self._mark_stop(event.reading.key)
            found = self.checklist.asks.get(event.reading.key)
            if found is not None:
                self._forget(found[0].key)
        elif isinstance(event, events.SetAside):
            key = event.step.step, event.step.parts
            self._aside[key] = event.step
            self._forget(key)
        elif isinstance(event, events.Released):
            key = event.release.step, event.release.parts
            self._released[key] = event.release
            self._forget(key)
        elif isinstance(event, events.Settled):
            self._own.clear()
            self._passed.clear()

    def _forget(self, key: StepKey) -> None:
        self._own.pop(key, None)
        self._passed.pop(key, None)

    # readings

    def current(self, ask: Ask) -> Reading | None:
        """Return the reading that holds for an ask."""
        return self.readings.current(ask.key)

    def disposition(self, reading: Reading) -> Disposed | None:
        """Return what was done about a reading since it was entered."""
        return disposition_of(self.visit, str(reading.key), since=reading.entered_at)

    def settled(self, reading: Reading) -> bool:
        """Say whether nothing more has to be said about a reading before the visit may be signed."""
        verdict = reading.judgement.verdict if reading.judgement else "recorded"
        if verdict in _GOOD:
            return True
        disposed = self.disposition(reading)
        if disposed is None:
            return verdict in _CONDITIONAL and self.explained(reading)
        # mended is proven by a new reading, never by a word
        return verdict in _CONDITIONAL or disposed.disposition != "mended"

    def passes(self, reading: Reading) -> bool:
        """Say whether a reading may release a hold point: pass, or conditional pass with its reason."""
        verdict = reading.judgement.verdict if reading.judgement else "recorded"
        if verdict == "conditional pass":
            return self.explained(reading) or self.disposition(reading) is not None
        return verdict in _GOOD

    @staticmethod
    def explained(reading: Reading) -> bool:
        """Say whether a reading was entered with its reason; that of a correction explains the correction."""
        return bool(reading.reason) and not reading.corrects

    def decided(self) -> tuple[Disposed, ...]:
        """Return what was said of each subject last and still counts, in the order first told.

        A step that was put off and read later is put off no more, nor is a reading that was read again.
        """
        newest = {disposed.subject: disposed for disposed in self.visit.dispositions}
        taken = {str(key): reading for key in self.checklist.asks if (reading := self.readings.current(key))}
        steps = {step_text(step.key): step for step in self.checklist.steps}
        return tuple(
            disposed
            for subject, disposed in newest.items()
            if self._counts(disposed, taken.get(subject), steps.get(subject))
        )

    def _counts(self, disposed: Disposed, reading: Reading | None, step: Step | None) -> bool:
        if reading is not None:
            needless = reading.judgement is None or reading.judgement.verdict in _GOOD
            return self.disposition(reading) is not None and not needless
        return step is None or self._own_of(step) in {"open", "deferred"}

    # steps

    def set_aside(self, step: Step) -> NotApplicable | None:
        """Return why a step does not apply here, None where it does."""
        entry = self._aside.get(step.key)
        return None if entry is None or entry.withdrawn else entry

    def status(self, step: Step) -> Status:
        """Return where a step stands."""
        own = self._own_of(step)
        return "barred" if own == "open" and next(self.bars(step), None) is not None else own

    def _own_of(self, step: Step) -> Status:
        own = self._own.get(step.key)
        if own is None:
            own = self._own[step.key] = self._own_status(step)
        return own

    def _own_status(self, step: Step) -> Status:
        if self.set_aside(step) is not None:
            return "not applicable"
        pairs = [(ask, self.current(ask)) for ask in step.asks]
        found = [reading for _, reading in pairs if reading is not None]
        if any(self.fails(reading) for reading in found):
            return "failed"
        if any(reading is None and not ask.data.optional for ask, reading in pairs) or not found:
            return "deferred" if self._deferred(step) else "open"
        if any(self.unjudged(reading) for reading in found):
            return "waiting"
        return "deferred" if any(self._put_off(reading) for reading in found) else "done"

    def fails(self, reading: Reading) -> bool:
        """Say whether a reading is out of band and nothing has been done about it that ends it."""
        verdict = reading.judgement.verdict if reading.judgement else "recorded"
        if verdict == "stop work":
            return True
        return verdict in {"fail", "conditional fail"} and not self.settled(reading)

    def unjudged(self, reading: Reading) -> bool:
        """Say whether a reading waits for its verdict."""
        return (
            reading.judgement is not None
            and reading.judgement.verdict == "not judged"
            and not self.settled(reading)
        )

    def _deferred(self, step: Step) -> bool:
        entry = disposition_of(self.visit, step_text(step.key))
        return entry is not None and entry.disposition == "deferred"

    def _put_off(self, reading: Reading) -> bool:
        entry = self.disposition(reading)
        return entry is not None and entry.disposition == "deferred" and not self.passes(reading)

    def passed(self, step: Step) -> bool:
        """Say whether what stands on a step may go on: all readings pass, or it does not apply here."""
        known = self._passed.get(step.key)
        if known is None:
            known = self._passed[step.key] = self._may_go_on(step)
        return known

    def _may_go_on(self, step: Step) -> bool:
        if step.data.hold:
            return self.released(step)
        return self.set_aside(step) is not None or self.all_pass(step)

    def all_pass(self, step: Step) -> bool:
        """Say whether every reading that a step wants is there and passes."""
        pairs = [(ask, self.current(ask)) for ask in step.asks]
        wanted = all(reading is not None or ask.data.optional for ask, reading in pairs)
        found = [reading for _, reading in pairs if reading is not None]
        return wanted and bool(found) and all(self.passes(reading) for reading in found)

    # hold points and danger

    def released(self, step: Step) -> bool:
        """Say whether a hold point is open to pass: by its readings, or by the person whom its data name.

        A release holds for the readings that the person saw: one entered later that fails ends it.
        """
        release = self._released.get(step.key)
        if step.data.released_by == "readings":
            return self.all_pass(step)
        if release is None:
            return False
        later = (reading for ask in step.asks if (reading := self.current(ask)) is not None)
        return all(reading.entered_at <= release.at or self.passes(reading) for reading in later)

    def open_holds(self) -> tuple[Step, ...]:
        """Return the hold points that are not released yet, in walking order."""
        return tuple(step for step in self.checklist.steps if step.data.hold and not self.passed(step))

    def stops(self) -> tuple[Reading, ...]:
        """Return the readings that stop work and that nothing has ended: no new reading, not made safe."""
        found = (self.readings.current(key) for key in self._stopping)
        return tuple(reading for reading in found if reading is not None and not self.settled(reading))

    def _mark_stop(self, key: ReadingKey) -> None:
        reading = self.readings.current(key)
        judged = None if reading is None else reading.judgement
        if judged is not None and judged.verdict == "stop work":
            self._stopping[key] = None
        else:
            self._stopping.pop(key, None)

    def bars(self, step: Step) -> Iterator[Bar]:
        """Yield what must pass or be released before a step."""
        yield from self._endangered(step)
        for key in step.stands_on:
            below = self.checklist.by_key.get(key)
            if below is not None and not self.passed(below):
                yield Bar(key, f"stands on '{below.title}', which has not passed")
        for key in step.holds:
            hold = self.checklist.by_key.get(key)
            if hold is not None and key not in step.stands_on and not self.passed(hold):
                yield Bar(key, f"hold point '{hold.title}' is {self._how_released(hold)}")
        if step.data.raises_energy:
            yield from self._stopped(step)

    def _stopped(self, step: Step) -> Iterator[Bar]:
        for reading in self.stops():
            found = self.checklist.asks.get(reading.key)
            if found is not None and found[0].key != step.key:
                yield Bar(found[0].key, f"work is stopped by '{found[0].title}'")

    def _endangered(self, step: Step) -> Iterator[Bar]:
        """Yield the findings that stop a step and that no second person has released.

        They stop whatever needs its circuit live, not only what makes it so. What is isolated and locked
        stays barred, since it is not to be energised; only a changed plant or the second person ends that.
        """
        if not step.data.raises_energy and step.data.state not in _LIVE:
            return
        for danger in self.open_dangers():
            if danger.everywhere or danger.own & {*step.parts, *step.circuit}:
                yield Bar(None, f"the design check stops it: {danger.says}", danger.finding)

    def open_dangers(self, up_to: datetime | None = None) -> tuple[Danger, ...]:
        """Return the findings that stop and were not released, if wanted as of a moment."""
        return tuple(danger for danger in self._dangers if not self._ended(danger, up_to))

    def _ended(self, danger: Danger, up_to: datetime | None) -> bool:
        told = [
            item
            for item in self.visit.dispositions
            if item.subject == danger.finding and (up_to is None or item.at <= up_to)
        ]
        return bool(told) and told[-1].disposition == "accepted"

    @staticmethod
    def _how_released(hold: Step) -> str:
        who = hold.data.released_by
        return "open until its readings pass" if who == "readings" else f"open until the {who} releases it"

    # temporary changes

    def open_changes(self) -> tuple[Step, ...]:
        """Return the steps whose temporary change is made and not read back yet.

        A step that alters something ends with its read-back, so its last reading closes the change, whatever
        the test itself has shown.
        """
        return tuple(
            step
            for step in self.checklist.steps
            if step.data.alters and self._begun(step) and not self._read_back(step)
        )

    def _read_back(self, step: Step) -> bool:
        last = self.current(step.asks[-1])
        return (last is not None and self.passes(last)) or self.all_pass(step)

    def _begun(self, step: Step) -> bool:
        return any(self.current(ask) is not None for ask in step.asks)

    # the walk as a whole

    def progress(self) -> tuple[StageProgress, ...]:
        """Return how far each stage is, also of those in which there is nothing to do."""
        found = [
            self._stage(stage.data.number, stage.data.title, stage.steps) for stage in self.checklist.stages
        ]
        found += [self._stage(stage.number, stage.title, ()) for stage in self.checklist.without]
        return tuple(sorted(found, key=lambda stage: stage.number))

    def _stage(self, number: int, title: str, steps: tuple[Step, ...]) -> StageProgress:
        own = [self._own_of(step) for step in steps]
        done = sum(status in CLOSED for status in own)
        return StageProgress(number, title, done, len(steps), own.count("failed"))

    def next_when_set_aside(self, step: Step) -> Step | None:
        """Return where the walk goes on from a step that was set aside: the next one of its stage.

        At the end of the stage it is the first open step of the walk, not one of a later stage while an
        earlier one has not been begun.
        """
        found = self.next_step(step.key)
        if found is None or found.data.stage == step.data.stage:
            return found
        return next((one for one in self.checklist.steps if self.status(one) == "open"), found)

    def next_step(self, after: StepKey | None = None) -> Step | None:
        """Return the next step that is open or waiting and not barred, from a step on and round."""
        return next((step for step in self._around(after) if self._can_go_on_at(step, None)), None)

    def next_once_passed(self, step: Step) -> Step | None:
        """Return where the walk goes on from a step that is still to be read, if it passes.

        What this step alone bars comes next then, though it is barred as long as it is not read.
        """
        by = step.key if self._own_of(step) == "open" else None
        return next((one for one in self._around(step.key) if self._can_go_on_at(one, by)), None)

    def _around(self, after: StepKey | None) -> tuple[Step, ...]:
        """Return the steps from the one behind a step on and round to the beginning."""
        steps = self.checklist.steps
        place = next((at for at, step in enumerate(steps) if step.key == after), -1)
        return (*steps[place + 1 :], *steps[: place + 1])

    def _can_go_on_at(self, step: Step, passed: StepKey | None) -> bool:
        """Say whether something is to be done at a step that nothing bars but one taken as passed."""
        if self._own_of(step) not in {"open", "waiting"}:
            return False
        return all(passed is not None and bar.by == passed for bar in self.bars(step))
