"""A whole visit as a row of acts, each told as done once the program has said so: what the harnesses spoil.

Every act has a minute of its own, so that the journal tells which acts are in it. The first run, which nobody
disturbs, is the measure: what a disturbed one has written must be a beginning of it, byte for byte, and hold
every act that was told as done.
"""

from __future__ import annotations

import shutil
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from random import Random
from typing import Final

from commission import __version__
from commission.checklist.registry import EXPECTATIONS, Named, load_words
from commission.checklist.situation import Situation
from commission.checklist.types import Checklist, ConditionData, Expectation, Expected, ReadingKey, Waits
from commission.errors import NotKeptError, VisitError
from commission.figure import Band, given
from commission.records.answer import answer_record
from commission.records.verify import verify
from commission.records.write import record_name, write_record
from commission.sheet.types import Sheet
from commission.visit.framing import NAME
from commission.visit.replay import replay
from commission.visit.session import OpenVisit
from commission.visit.standing import step_text
from tests.visit.walks import (
    HOLDER,
    NOON,
    RUNA,
    after,
    reading,
    setting,
    sheet,
    small_plant,
    step,
    voltmeter,
    walk,
)

_WORD: Final = "by the temperature of the harness"
_WARM: Final = ReadingKey("warm")
_LETTERS: Final = "abcdefghijklmnop"
IDENT: Final = "test-site-2026-11-24-commissioning-ieqh"


@contextmanager
def registered() -> Iterator[None]:
    """Know the expectation of the story for a while."""
    load_words()
    EXPECTATIONS.entries[_WORD] = Named(_WORD, "for the harness", _by_temperature, "common practice")
    try:
        yield
    finally:
        del EXPECTATIONS.entries[_WORD]


def _by_temperature(situation: Situation) -> Expectation:
    found = situation.latest(_WARM)
    if found is None:
        return Waits((_WARM,), "the battery temperature is wanted")
    situation.look(_WARM)
    middle = 54.0 - 0.1 * (found.figure.value - 20.0)
    return Expected(Band(given(middle - 0.5, "V", "low"), None, given(middle + 0.5, "V", "high"), "V"), "")


def the_walk() -> Checklist:
    """Return steps that are judged by the temperature of the first."""
    warm = reading(unit="°C", instrument="display", condition="battery-temperature")
    return walk(
        step("warm", warm),
        *(step(f"volts-{letter}", reading(expect=_WORD)) for letter in _LETTERS),
        conditions=(
            ConditionData(
                id="battery-temperature",
                name="battery temperature",
                unit="°C",
                life=1e6,
                step="warm",
                source="common practice",
            ),
        ),
    )


def prepare(*_: object) -> tuple[Sheet, Checklist]:
    """Return sheet and walk of the story's plant."""
    return sheet(setting(), setting("equalize_voltage", 57.8)), the_walk()


Do = Callable[["Site", OpenVisit, int], object]


@dataclass(frozen=True)
class Act:
    """One thing that a person does."""

    name: str
    do: Do
    again: bool = False
    """Consists of several entries, so that half of it is done again."""


@dataclass
class Site:
    """A folder in which the story is played, and how far it is."""

    root: Path
    acts: tuple[Act, ...]
    visit: OpenVisit | None = None
    told: list[int] = field(default_factory=list)

    @property
    def visits(self) -> Path:
        return self.root / "visits"

    @property
    def records(self) -> Path:
        return self.root / "records"

    @property
    def journal(self) -> Path:
        return self.visits / IDENT / NAME

    def open(self) -> None:
        """Begin the visit, or take it up."""
        if not self.journal.is_file():  # begun and cut off before anything was told: another id is drawn
            shutil.rmtree(self.journal.parent, ignore_errors=True)
        else:
            self.visit = OpenVisit.resume(self.visits, IDENT, prepare, holder=HOLDER)
            return
        self.visit = OpenVisit.start(
            self.visits,
            small_plant(),
            prepare,
            kind="commissioning",
            program=__version__,
            now=NOON,
            holder=HOLDER,
            random=Random(1),
        )

    def play(self, tell: Callable[[int], object] = lambda _: None) -> None:
        """Do what is still to be done, from the first act that is not wholly in the journal."""
        self.open()
        assert self.visit is not None
        tell(0)
        for at in range(1, len(self.acts) + 1):
            if not self._done(at):
                self.acts[at - 1].do(self, self.visit, at)
            tell(at)
        self.close()

    def _done(self, at: int) -> bool:
        act = self.acts[at - 1]
        if act.name in {"export", "answer"}:
            return False  # they look for themselves
        there = count_at(self.journal.read_bytes(), at)
        if self.visit is not None and self.visit.visit.sign_off is not None:
            return True
        return there > 0 and not act.again

    def close(self) -> None:
        if self.visit is not None:
            self.visit.close()
            self.visit = None


def count_at(content: bytes, at: int) -> int:
    """Return how many entries of a journal were made in an act."""
    moment = after(at).isoformat()
    return sum(f'"at":"{moment}"'.encode() in line for line in content.split(b"\n"))


def acts(readings: int, seed: int = 0) -> tuple[Act, ...]:
    """Return a story of so many readings, with corrections, notes and settings between them."""
    random = Random(seed)
    made = [
        Act("person", lambda _, visit, at: visit.add_person(RUNA, after(at))),
        Act("meter", lambda _, visit, at: visit.add_instrument(voltmeter(), after(at))),
        Act("warm", lambda _, visit, at: _take(visit, 0, "30", at)),
    ]
    for count in range(readings):
        made.append(_reading_act(1 + count % len(_LETTERS), f"5{random.randrange(2, 5)}.{count % 100:02}"))
        drawn = random.random()
        if drawn < 0.2:
            made.append(_correction(f"{random.randrange(18, 34)}"))
        elif drawn < 0.3:
            made.append(Act("note", lambda _, visit, at: visit.note(("warm", ()), f"seen {at}", after(at))))
        elif drawn < 0.4:
            made.append(Act("found", lambda _, visit, at: _found(visit, at)))
    return (*made, *_END)


def _reading_act(place: int, typed: str) -> Act:
    return Act("reading", lambda _, visit, at: _take(visit, place, typed, at))


def _correction(typed: str) -> Act:
    return Act("correction", lambda _, visit, at: _correct(visit, typed, at))


def _take(visit: OpenVisit, place: int, typed: str, at: int) -> None:
    ask = visit.checklist.steps[place].asks[0]
    meter = "meter-1" if place else None
    visit.take(ask, typed, measured_at=after(at), now=after(at), instrument=meter)


def _correct(visit: OpenVisit, typed: str, at: int) -> None:
    visit.correct(visit.checklist.steps[0].asks[0], typed, reason=f"mistyped {at}", now=after(at))


def _found(visit: OpenVisit, at: int) -> None:
    visit.set_found("inverter-1", "absorption_voltage", f"58.{at % 10}", after(at), why=f"misread {at}")


def _settle(_: Site, visit: OpenVisit, at: int) -> None:
    """Say what was done about everything that did not pass, and put off what was not read."""
    for one in visit.missing("in service with deferred steps"):
        subject = str(one.reading) if one.reading is not None else step_text((one.key[0], one.key[1:]))
        deferred = {"reason": "night", "by": RUNA.name, "until": "2026-12-01", "stays_off": "inverter 1"}
        visit.dispose(subject, "deferred", now=after(at), **deferred)


def _sign(site: Site, visit: OpenVisit, at: int) -> None:
    try:
        visit.sign_off(RUNA.name, "in service with deferred steps", after(at))
    except NotKeptError:
        raise
    except VisitError:  # what was cut off behind a correction is judged first, and may fail
        _settle(site, visit, at)
        visit.sign_off(RUNA.name, "in service with deferred steps", after(at))


def _export(site: Site, visit: OpenVisit, _: int) -> None:
    if not (site.records / record_name(visit.visit)).exists():
        write_record(site.records, visit.visit, visit.plant, visit.sheet)


def _answer(site: Site, visit: OpenVisit, at: int) -> None:
    _export(site, visit, at)  # the visit may have gone on in another folder since
    path = site.records / record_name(visit.visit)
    if _said(path) != "countersigned":
        answer_record(path, "countersigned", name="Elin Corse", role="supervisor", now=after(at))


def _said(path: Path) -> str:
    """Return what the last seal of a record says; whether it holds is asked elsewhere."""
    last = path.read_text("utf-8").rpartition("[[seal]]")[2]
    return "countersigned" if 'says = "countersigned"' in last else ""


_END: Final = (
    _correction("23"),  # what follows from it is to be judged before anything is signed
    Act("as left", lambda _, visit, at: visit.left_as_recommended("inverter-1", after(at)), again=True),
    Act("plate", lambda _, visit, at: visit.identify("inverter-1", after(at), serial="S-1", firmware="2.1")),
    Act("settled", _settle, again=True),
    Act("signed", _sign, again=True),
    Act("export", _export),
    Act("answer", _answer),
)


@dataclass(frozen=True)
class Measure:
    """What the story leaves when nobody disturbs it."""

    acts: tuple[Act, ...]
    journal: bytes
    ends: tuple[int, ...]
    """Bytes of the journal once an act was told as done, by its place."""

    def lost(self, content: bytes, told: int) -> str:
        """Return what is wrong with the journal of a run that was cut off, empty where nothing is.

        Parameters
        ----------
        told
            Place of the last act that was told as done; −1 where none was.
        """
        whole = content[: replay(content).size]
        if not self.journal.startswith(whole):
            return "the journal holds what was never entered"
        if told >= 0 and len(whole) < self.ends[told]:
            return f"act {told} ({self.name(told)}) was told as done and is not in the journal"
        allowed = self.ends[min(told + 1, len(self.ends) - 1)]
        if len(whole) > allowed:
            return f"more than one act is in the journal that was not told as done after act {told}"
        return ""

    def lost_often(self, content: bytes, before: bytes, told: int) -> str:
        """Return what is wrong with the journal of a run that was cut off more than once.

        What follows from a correction may then stand further back than in the measure.

        Parameters
        ----------
        before
            Whole lines of the journal when it was cut off last.
        """
        whole = content[: replay(content).size]
        if not whole.startswith(before):
            return "what was in the journal before is not any more"
        for at in range(told + 1):
            if count_at(self.journal, at) and not count_at(whole, at):
                return f"act {at} ({self.name(at)}) was told as done and is not in the journal"
        if any(count_at(whole, at) for at in range(told + 2, len(self.acts) + 1)):
            return f"more than one act is in the journal that was not told as done after act {told}"
        return ""

    def name(self, at: int) -> str:
        return "open" if at == 0 else self.acts[at - 1].name


def measured(folder: Path, story: tuple[Act, ...]) -> Measure:
    """Play a story undisturbed."""
    site = Site(folder, story)
    ends: list[int] = []
    site.play(lambda _: ends.append(site.journal.stat().st_size))
    return Measure(story, site.journal.read_bytes(), tuple(ends))


def finished(site: Site, told: int) -> str:
    """Play a story that was cut off to its end; return what is wrong with what it leaves, or nothing."""
    if told >= 0 and not site.journal.is_file():
        return "the visit is gone"
    wrong = _records_wrong(site)
    if wrong:
        return wrong
    site.play()
    seen = OpenVisit.look(site.visits, IDENT, prepare)
    if seen.messages:
        return f"told at the end: {seen.messages}"
    stale = [
        str(one.key)
        for one in seen.standing.readings.all_current()
        if one.judgement is not None and not all(map(seen.standing.readings.holds, one.judgement.used))
    ]
    if stale:
        return f"judged by what was corrected: {', '.join(stale)}"
    if seen.visit.sign_off is None:
        return "not signed at the end"
    return _records_wrong(site, whole=True)


def _records_wrong(site: Site, *, whole: bool = False) -> str:
    """Return what is wrong with the records that can be seen; a hidden file is none."""
    found = [path for path in site.records.glob("*.toml") if not path.name.startswith(".")]
    for path in found:
        result = verify(path)
        if not result.intact:
            return f"{path.name} is {result.state}: {result.reasons}"
        if whole and _said(path) != "countersigned":
            return f"{path.name} is not countersigned at the end"
    return "" if found or not whole else "no record at the end"
