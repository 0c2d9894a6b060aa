"""Ending the program by SIGKILL: at every single call that writes, and at random moments."""

from __future__ import annotations

import signal
import time
from collections.abc import Callable
from functools import partial
from pathlib import Path
from random import Random
from tempfile import TemporaryDirectory

from commission.visit.replay import replay
from commission.visit.session import OpenVisit
from commission.visit.shelf import followed
from tests.harness.child import forked, playing
from tests.harness.count import Count
from tests.harness.spoiled import killed_at, writer
from tests.harness.story import IDENT, Measure, Site, acts, finished, measured, prepare, registered
from tests.visit.walks import HOLDER, after


def every_call(folder: Path, *, readings: int = 3, stride: int = 1, bad: str = "") -> Count:
    """Kill before every call that writes, and in the midst of every write; go on to the end each time."""
    count = Count("killed at every call that writes")
    with registered():
        measure = measured(folder / "measure", acts(readings))
        for half in (False, True):
            place = 1
            while _killed_once(folder, measure, place, half=half, bad=bad, count=count):
                place += stride
                if bad and count.wrong:  # one is enough to know it
                    return count
    return count


def _killed_once(folder: Path, measure: Measure, place: int, *, half: bool, bad: str, count: Count) -> bool:
    """Play, die at a call, look, go on; returns False once the story ends before that call."""
    with TemporaryDirectory(dir=folder) as name:
        site = Site(Path(name), measure.acts)
        child = playing(site, partial(writer, bad), partial(killed_at, place, half=half))
        code = child.ended()
        told = child.told[-1] if child.told else -1
        if code == 0:
            return False
        where = (
            f"call {place}{', half done' if half else ''}, after act {told} ({measure.name(max(told, 0))})"
        )
        count.add(
            f"{where}", _checked(site, measure, told) if code == -signal.SIGKILL else f"ended with {code}"
        )
    return True


def every_call_of_a_move(folder: Path, *, stride: int = 1) -> Count:
    """Kill at every call while an open visit moves to another folder: it is whole where it is found then."""
    count = Count("killed while moving to another folder")
    with registered():
        story = acts(2)
        measure = measured(folder / "measure", story)
        for half in (False, True):
            place = 1
            while _moved_once(folder, measure, place, half=half, count=count):
                place += stride
    return count


def _moved_once(folder: Path, measure: Measure, place: int, *, half: bool, count: Count) -> bool:
    with TemporaryDirectory(dir=folder) as name:
        site = Site(Path(name), measure.acts[:5])
        site.play()
        child = forked(lambda tell: _moving(site, place, tell, half=half))
        code = child.ended()
        if code == 0:
            return False
        told = child.told[-1] if child.told else 0
        root, ident = followed(site.visits, IDENT)
        with OpenVisit.resume(root, ident, prepare, holder=HOLDER) as visit:
            kept = len(visit.visit.readings), len(visit.visit.notes)
            wrong = f"{kept} kept in {root.name}" if kept < (3, told // 2) else ""
            if told and root == site.visits:
                wrong = "told as moved and found where it was"
            count.add(
                f"call {place}, told {told}",
                wrong or "; ".join(one for one in visit.messages if "cut short" not in one),
            )
    return True


def _moving(site: Site, place: int, tell: Callable[[int], None], *, half: bool) -> None:
    site.open()
    visit = site.visit
    assert visit is not None
    with killed_at(place, half=half):
        visit.move_to_folder(site.root / "other")
        tell(1)
        visit.note(("warm", ()), "after the move", after(90))
        tell(2)


def at_random(folder: Path, rounds: int, *, seed: int = 1, bad: str = "") -> Count:
    """Kill at random moments, six times a folder, so that taking up what was cut off is killed too."""
    count = Count("killed at random moments")
    random = Random(seed)
    with registered():
        measures = [
            measured(folder / f"measure-{readings}", acts(readings, seed)) for readings in (1, 6, 15, 40)
        ]
        while count.rounds < rounds and not (bad and count.wrong):
            measure = random.choice(measures)
            with TemporaryDirectory(dir=folder) as name:
                _killed_often(Site(Path(name), measure.acts), measure, random, bad, count)
    return count


def _killed_often(site: Site, measure: Measure, random: Random, bad: str, count: Count) -> None:
    told, before = -1, b""
    for turn in range(6):
        child = playing(site, partial(writer, bad))
        child.first()
        time.sleep(random.uniform(0.0, 0.02))
        child.send(signal.SIGKILL)
        if child.ended() == 0:
            count.ran_out += 1
        told = max([told, *child.told])
        there = site.journal.read_bytes() if site.journal.is_file() else b""
        wrong = measure.lost_often(there, before, told)
        before = there[: replay(there).size]
        count.add(f"turn {turn}, after act {told}", wrong)
        if wrong or told >= len(measure.acts):
            return
    if wrong := _went_on(site, told):
        count.add(f"going on after act {told}", wrong)


def _checked(site: Site, measure: Measure, told: int) -> str:
    return _kept(site, measure, told) or _went_on(site, told)


def _kept(site: Site, measure: Measure, told: int) -> str:
    if not site.journal.is_file():
        return "the visit is gone" if told >= 0 else ""
    content = site.journal.read_bytes()
    return measure.lost(content, told)


def _went_on(site: Site, told: int) -> str:
    try:
        return finished(site, told)
    except Exception as error:
        return f"cannot be taken up: {type(error).__name__}: {error}"
