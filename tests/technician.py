"""A technician who always measures what should be there: reads the band and types its middle."""

from __future__ import annotations

import math
from collections.abc import Callable
from datetime import datetime, timedelta
from pathlib import Path
from random import Random

from commission.checklist.types import Ask, Expected, Step, Waits
from commission.plant.plant import Plant
from commission.prepare import prepare_visit
from commission.visit.folder import Holder
from commission.visit.kit import default_kit
from commission.visit.session import OpenVisit
from commission.visit.types import Instrument, Person

START = datetime.fromisoformat("2026-11-24T08:00:00+00:00")
CONDITIONS = {
    "battery-temperature": "21",
    "irradiance": "820",
    "module-temperature": "38",
    "state-of-charge": "0.8",
}
"""What the day is like where nothing is expected of a reading that others depend on."""


class Clock:
    """A clock that moves on by some seconds at every look."""

    def __init__(self, start: datetime = START, step: float = 5.0) -> None:
        self._now = start
        self._step = timedelta(seconds=step)

    def __call__(self) -> datetime:
        self._now += self._step
        return self._now


def begin(root: Path, plant: Plant, clock: Callable[[], datetime]) -> OpenVisit:
    """Begin a visit with a technician and a kit that is in calibration."""
    visit = OpenVisit.start(
        root,
        plant,
        prepare_visit,
        kind="commissioning",
        program="0.1.0",
        now=clock(),
        holder=Holder(1, "bench", "tester"),
        random=Random(7),
    )
    visit.add_person(
        Person(name="Ada Fennimore", role="technician", licence="E-1042", employer="Fennimore"), clock()
    )
    visit.add_person(Person(name="Oswin Harl", role="supervisor", licence="S-77"), clock())
    for instrument in fresh_kit():
        visit.add_instrument(instrument, clock())
    return visit


def fresh_kit() -> tuple[Instrument, ...]:
    """Return the usual kit with serial numbers and calibration dates that hold on the day."""
    return tuple(
        instrument.model_copy(
            update={"serial": f"K-{place}", "calibrated": "2026-05-04", "due": "2027-05-04"}
        )
        for place, instrument in enumerate(default_kit(), start=1)
    )


def typed(visit: OpenVisit, ask: Ask, now: datetime) -> str:
    """Return what the technician types for a reading, the middle of its band where it has one."""
    kind = ask.data.kind
    if kind == "yes or no":
        return ask.data.wants
    if kind == "choice":
        return ask.data.choices[0]
    if kind == "text":
        return "as it should be"
    expectation = visit.expectation_for(ask, now)
    if isinstance(expectation, Expected):
        return f"{number(_middle(expectation))} {ask.data.unit}".removesuffix(" 1").strip()
    return CONDITIONS.get(ask.data.condition or "", "1")


def number(value: float) -> str:
    """Return a number with five significant digits and no exponent."""
    if value == 0:
        return "0"
    decimals = max(0, 4 - math.floor(math.log10(abs(value))))
    return f"{value:.{min(decimals, 9)}f}"


def _middle(expected: Expected) -> float:
    band = expected.band
    low, high = (None if end is None else end.value for end in (band.low, band.high))
    if low is None and high is None:
        low, high = (None if end is None else end.value for end in (band.stop_below, band.stop_above))
    if low is None and high is None:
        return 1.0
    if low is not None and high is not None:
        return (low + high) / 2
    if high is not None:
        return high * 0.4 if high > 0 else high * 1.6 - 1e-3
    assert low is not None
    return low * 2 if low > 0 else low * 0.4 + 1e-3


def asked(visit: OpenVisit, ask: Ask, now: datetime) -> Ask:
    """Return the reading that has to be taken first: a condition that this one waits for, else itself."""
    expectation = visit.expectation_for(ask, now)
    if isinstance(expectation, Waits):
        for key in expectation.keys:
            found = visit.checklist.asks.get(key)
            if found is not None and found[1].key != ask.key:
                return found[1]
    return ask


def walk(visit: OpenVisit, clock: Callable[[], datetime], most: int = 5000) -> list[str]:
    """Take every reading that is open, in walking order; return what could not be passed."""
    odd: list[str] = []
    step = visit.standing.next_step()
    for _ in range(most):
        if step is None:
            break
        visit.move_to(step.key, clock())
        odd += _do(visit, step, clock)
        step = visit.standing.next_step(step.key)
        if step is not None and step.key == (visit.visit.at_step, visit.visit.at_parts):
            break
    return odd


def _do(visit: OpenVisit, step: Step, clock: Callable[[], datetime]) -> list[str]:
    odd = []
    for ask in step.asks:
        for _ in range(6):
            now = clock()
            first = asked(visit, ask, now)
            if first.key == ask.key:
                break
            visit.take(
                first, typed(visit, first, now), measured_at=now, now=now, instrument=_meter(visit, first)
            )
        now = clock()
        judged = visit.take(
            ask, typed(visit, ask, now), measured_at=now, now=now, instrument=_meter(visit, ask)
        )
        if judged.verdict not in {"pass", "recorded"}:
            odd.append(f"{ask.key}: {judged.verdict}: {judged.says}")
    if step.data.hold and step.data.released_by != "readings":
        name = "Ada Fennimore" if step.data.released_by == "technician" else "Oswin Harl"
        visit.release(step.key, by=name, role=step.data.released_by, now=clock())
    return odd


def _meter(visit: OpenVisit, ask: Ask) -> str | None:
    found = visit.instrument_for(ask)
    return None if found is None else found.id
