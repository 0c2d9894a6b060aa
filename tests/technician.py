"""A technician who always measures what should be there: reads the band and types its middle."""

from __future__ import annotations

import math
from collections.abc import Callable
from datetime import datetime, timedelta
from pathlib import Path
from random import Random
from typing import Final

from commission import __version__
from commission.checklist.types import Ask, Expected, Step, StepKey, Waits
from commission.plant.plant import Plant
from commission.prepare import prepare_visit
from commission.visit.kit import default_kit
from commission.visit.session import OpenVisit
from commission.visit.shelf import Holder
from commission.visit.standing import step_text
from commission.visit.types import Instrument, Judgement, Person, Visit

START: Final = datetime.fromisoformat("2026-11-24T08:00:00+00:00")
TECHNICIAN: Final = "Ada Fennimore"
SUPERVISOR: Final = "Oswin Harl"
_PUT_OFF_FOR: Final = timedelta(days=52)
CONDITIONS: Final = {
    "battery-temperature": "21 °C",
    "air-temperature": "19 °C",
    "rest-time": "9 h",
    "irradiance": "820",
    "module-temperature": "38 °C",
    "state-of-charge": "70 %",
    "steady-time": "45 min",
    "source-current": "40 A",
    "run-current": "60 A",
    "charger-temperature": "21 °C",
    "told-charge-limit": "300 A",
    "told-discharge-limit": "300 A",
    "ac-load": "2400 W",
    "ac-pv-power": "1800 W",
}
"""What the day is like where nothing is expected of a reading that others depend on."""


class Clock:
    """A clock that moves on by some seconds at every look."""

    def __init__(self, start: datetime = START, step: float = 1.0) -> None:
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
        program=__version__,
        now=clock(),
        holder=Holder(1, "bench", "tester"),
        random=Random(7),
    )
    visit.add_person(
        Person(name=TECHNICIAN, role="technician", licence="E-1042", employer="Fennimore"), clock()
    )
    visit.add_person(Person(name=SUPERVISOR, role="supervisor", licence="S-77"), clock())
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


# one reading


def typed(visit: OpenVisit, ask: Ask, now: datetime) -> str:
    """Return what the technician types for a reading, the middle of its band where it has one."""
    kind = ask.data.kind
    if kind == "yes or no":
        return ask.data.wants
    if kind == "choice":
        return _choice(visit, ask)
    if kind == "text":
        return "as it should be"
    named = CONDITIONS.get(ask.data.condition or "") or _beside(visit, ask)
    if named is not None:
        return named
    expectation = visit.expectation_for(ask, now)
    if isinstance(expectation, Expected):
        return f"{number(_middle(expectation))} {ask.data.unit}".removesuffix(" 1").strip()
    return _guess(visit.plant, ask)


def _beside(visit: OpenVisit, ask: Ask) -> str | None:
    """Return what a healthy battery shows: cells close together, the meter beside the pack's own reading."""
    step, plant = ask.key.step, visit.plant
    curve = plant.battery.open_circuit_voltage
    if step in {"cell-extremes.least", "cell-extremes.greatest"}:
        return f"{number(curve.values[len(curve.values) * 2 // 3])} V"
    if step.startswith("cells-near-full"):
        hold = plant.battery.absorption_voltage.value
        return f"{number(float(hold) - 0.02)} V" if isinstance(hold, float | int) else None
    return _guess(plant, ask) if step.startswith("pack-voltage") else None


def _guess(plant: Plant, ask: Ask) -> str:
    """Return a sensible number where nothing tells what it should be."""
    unit = ask.data.unit
    if unit == "V":
        curve = plant.battery.open_circuit_voltage
        cell = curve.values[len(curve.values) * 2 // 3]
        cells = 1 if "cell" in ask.key.step else plant.bank.cells
        return f"{number(cell * cells)} V"
    if unit == "A":
        capacity = plant.bank.capacity
        rate = 0.12 * len(plant.bank.strings)
        return f"{number(rate * capacity if isinstance(capacity, float | int) else 10.0)} A"
    return f"1 {unit}".removesuffix(" 1").strip()


def _choice(visit: OpenVisit, ask: Ask) -> str:
    """Return the state that a charger is in at the step in work, or the first choice."""
    if ask.data.condition != "charger-state":
        return ask.data.choices[0]
    step = visit.visit.at_step
    if "float" in step:
        return "float"
    if "equali" in step:
        return "equalise"
    return "absorption" if "absorption" in step or "end-current" in step else "bulk"


def number(value: float) -> str:
    """Return a number with five significant digits and no exponent."""
    if value == 0:
        return "0"
    decimals = max(0, 4 - math.floor(math.log10(abs(value))))
    return f"{value:.{min(decimals, 9)}f}"


def _middle(expected: Expected) -> float:
    band = expected.band
    low, high = (
        None if ends[0] is None and ends[1] is None else next(end for end in ends if end is not None).value
        for ends in ((band.low, band.stop_below), (band.high, band.stop_above))
    )
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
            if found is not None and next(visit.standing.bars(found[0]), None) is None:
                return found[1]
    return ask


# the walk


def walk(visit: OpenVisit, clock: Callable[[], datetime]) -> list[str]:
    """Take every reading that is open, in walking order, each step once; return what did not pass."""
    odd: list[str] = []
    done: set[StepKey] = set()
    step = visit.standing.next_step()
    while step is not None and step.key not in done:
        done.add(step.key)
        visit.move_to(step.key, clock())
        odd += _do(visit, step, clock)
        step = visit.standing.next_step(step.key)
    return odd


def _do(visit: OpenVisit, step: Step, clock: Callable[[], datetime]) -> list[str]:
    odd = []
    for ask in step.asks:
        for _ in range(8):
            first = asked(visit, ask, clock())
            if first.key == ask.key:
                break
            _take(visit, first, clock)
        judged = _take(visit, ask, clock)
        if judged.verdict.startswith("conditional"):
            visit.dispose(
                str(ask.key), "accepted", reason="seen, a matter of the meter", by=TECHNICIAN, now=clock()
            )
        if judged.verdict not in {"pass", "recorded"} and not judged.waits:
            odd.append(f"{ask.key}: {judged.verdict}: {judged.says}")
    if step.data.hold and step.data.released_by != "readings":
        name = TECHNICIAN if step.data.released_by == "technician" else SUPERVISOR
        visit.release(step.key, by=name, role=step.data.released_by, now=clock())
    return odd


def _take(visit: OpenVisit, ask: Ask, clock: Callable[[], datetime]) -> Judgement:
    now = clock()
    meter = visit.instrument_for(ask)
    ident = None if meter is None else meter.id
    return visit.take(ask, typed(visit, ask, now), measured_at=now, now=now, instrument=ident)


# the end


def settle(visit: OpenVisit, clock: Callable[[], datetime]) -> None:
    """Read back every setting, write down every plate, and say what was done about all that is open."""
    for device in visit.plant.devices:
        visit.left_as_recommended(device.id, clock())
        visit.identify(device.id, clock(), serial=f"S-{device.id}", firmware="2.4")
    if visit.plant.bank.management is not None:
        for string in visit.plant.bank.strings:
            visit.identify(string.id, clock(), serial=f"S-{string.id}", firmware="1.9")
    for finding in visit.sheet.findings:
        if finding.kind in {"correct", "not checked"}:
            visit.dispose(finding.id, "accepted", reason="agreed with the owner", by=SUPERVISOR, now=clock())
    for step in visit.checklist.steps:
        _settle_step(visit, step, clock)


def _settle_step(visit: OpenVisit, step: Step, clock: Callable[[], datetime]) -> None:
    for ask in step.asks:
        reading = visit.current(ask.key)
        verdict = None if reading is None or reading.judgement is None else reading.judgement.verdict
        if reading is None or verdict in {None, "pass", "recorded"} or visit.standing.settled(reading):
            continue
        _put_off(visit, str(ask.key), clock)
    if visit.standing.status(step) in {"open", "barred"}:
        _put_off(visit, step_text(step.key), clock)


def _put_off(visit: OpenVisit, subject: str, clock: Callable[[], datetime]) -> None:
    now = clock()
    visit.dispose(
        subject,
        "deferred",
        reason="not on this day",
        by=TECHNICIAN,
        until=f"{now + _PUT_OFF_FOR:%Y-%m-%d}",
        stays_off="what it concerns",
        now=now,
    )


def sign(visit: OpenVisit, clock: Callable[[], datetime]) -> Visit:
    """Sign the visit in the fullest state that it allows."""
    complete = not visit.missing("complete")
    return visit.sign_off(TECHNICIAN, "complete" if complete else "in service with deferred steps", clock())
