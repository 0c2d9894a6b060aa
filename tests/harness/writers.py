"""Two programs on one visit, and a clock that goes back."""

from __future__ import annotations

import signal
import time
from collections.abc import Callable
from contextlib import AbstractContextManager, suppress
from datetime import datetime, timedelta
from functools import partial
from pathlib import Path
from random import Random

from commission.errors import HeldError
from commission.screens.app import CommissionApp
from commission.visit.replay import replay
from commission.visit.session import OpenVisit
from tests.harness.child import Child, forked
from tests.harness.count import Count
from tests.harness.spoiled import writer
from tests.harness.story import IDENT, Site, acts, prepare, registered
from tests.visit.walks import HOLDER, NOON, after

_PATIENCE = 120.0
"""Seconds after which a writer gives up: something else is wrong then."""


def two_writers(folder: Path, readings: int, *, bad: str = "") -> Count:
    """Let two processes enter notes into one visit in turn; none that was told as kept may be missing."""
    count = Count("two writers")
    with registered():
        site = _begun(folder)
        children = [_writing(site, who, readings, partial(writer, bad)) for who in (1, 2)]
        codes = [child.ended() for child in children]
        found = replay(site.journal.read_bytes())
        kept = [event.note.text for event in found.events if event.event == "note"]
        for who, child in enumerate(children, start=1):
            for number in child.told:
                text = f"{who}-{number}"
                count.add(text, "" if kept.count(text) == 1 else f"kept {kept.count(text)} times")
        count.add("the end", "" if codes == [0, 0] and not found.damage else f"{codes}, {found.damage}")
    return count


def _begun(folder: Path) -> Site:
    site = Site(folder / "two", acts(0))
    site.open()
    assert site.visit is not None
    for at, act in enumerate(site.acts[:3], start=1):
        act.do(site, site.visit, at)
    site.close()
    return site


def _writing(site: Site, who: int, count: int, around: Callable[[], AbstractContextManager[None]]) -> Child:
    def work(tell: Callable[[int], None]) -> None:
        end = time.monotonic() + _PATIENCE
        with around():
            for number in range(count):
                _note(site, f"{who}-{number}", end)
                tell(number)

    return forked(work)


def _note(site: Site, text: str, end: float) -> None:
    """Take the visit up, or wait until the other one has let it go; keep a note."""
    while time.monotonic() < end:
        with suppress(HeldError), OpenVisit.resume(site.visits, IDENT, prepare, holder=HOLDER) as visit:
            visit.note(("warm", ()), text, after(50))
            return
    raise TimeoutError(text)


def held(folder: Path, rounds: int, *, bad: str = "") -> Count:
    """While one holds a visit another is told who and may look; once it is killed the visit is free."""
    count = Count("held and looked at")
    with registered():
        site = _begun(folder)
        for turn in range(rounds):
            child = forked(lambda tell: _holding(site, tell))
            child.first()
            with writer(bad):
                count.add(f"round {turn}", _second(site))
            child.send(signal.SIGKILL)
            child.ended()
            OpenVisit.resume(site.visits, IDENT, prepare, holder=HOLDER).close()
    return count


def _holding(site: Site, tell: Callable[[int], None]) -> None:
    site.open()
    tell(0)
    time.sleep(_PATIENCE)


def _second(site: Site) -> str:
    before = site.journal.read_bytes()
    try:
        OpenVisit.resume(site.visits, IDENT, prepare, holder=HOLDER).close()
    except HeldError as error:
        if str(HOLDER) not in str(error):
            return f"does not say by whom: {error}"
    else:
        return "a second one got in"
    seen = OpenVisit.look(site.visits, IDENT, prepare)
    try:
        seen.note(("warm", ()), "by who looks", after(60))
    except HeldError as error:
        said = str(HOLDER) in str(error)
        return "" if said and site.journal.read_bytes() == before else f"looking changed something: {error}"
    return "who only looks has entered something"


def clock_going_back(folder: Path, rounds: int, *, seed: int = 4, bad: bool = False) -> Count:
    """Set the clock back and forth between entries: they stay in order, and the newest reading holds.

    Parameters
    ----------
    bad
        Enter with the clock as it is: the harness must find it out.
    """
    count = Count("clock going back")
    random = Random(seed)
    with registered():
        site = _begun(folder)
        visit = OpenVisit.resume(site.visits, IDENT, prepare, holder=HOLDER)
        clock = [NOON + timedelta(hours=1)]
        app = CommissionApp(root=site.visits, clock=lambda: clock[0])
        for turn in range(rounds):
            clock[0] += timedelta(seconds=random.choice((1, 60, 7200, -1, -60, -86400)))
            app.open_visit = visit
            count.add(f"entry {turn}", _entered(visit, clock[0] if bad else app.now(), turn))
            if turn % 9 == 0:  # what is newest is known after a start, too
                visit.close()
                visit = OpenVisit.resume(site.visits, IDENT, prepare, holder=HOLDER)
        visit.close()
    return count


def _entered(visit: OpenVisit, now: datetime, turn: int) -> str:
    typed = f"5{turn % 10}.{turn % 100:02}"
    ask = visit.checklist.steps[1].asks[0]
    newest = visit.newest
    visit.take(ask, typed, measured_at=now, now=now, instrument="meter-1")
    current = visit.current(ask.key)
    if now < newest:
        return f"entered at {now}, before {newest}"
    return "" if current is not None and current.text == typed else f"{typed} does not hold"
