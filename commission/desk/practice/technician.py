"""A technician of a practice fleet: does every step of a walk and types what the plant shows.

What ages is shown as old as it is, every other reading as it should be; both with the errors of reading, and
of the meter where it is a bad one.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from random import Random
from typing import Final

from commission.checklist.types import Ask, Expected, InstrumentKind, Step, StepKey, Waits
from commission.desk.practice.ageing import Ageing
from commission.errors import VisitError
from commission.visit.kit import default_kit
from commission.visit.session import OpenVisit
from commission.visit.settings import recommended_value
from commission.visit.standing import step_text
from commission.visit.types import Accuracy, Instrument, Judgement, SignedAs

CONDITIONS: Final = {
    "battery-temperature": "°C",
    "rest-time": "9 h",
    "irradiance": "820",
    "module-temperature": "38 °C",
    "state-of-charge": "90 %",
    "steady-time": "45 min",
    "source-current": "8 A",
    "run-current": "10 A",
    "told-charge-limit": "100 A",
    "told-discharge-limit": "100 A",
}
"""What the day is like where nothing is expected of a reading that others depend on."""
_OFF: Final = 0.12
"""Spread of a good reading about the middle of its band, in half-widths of the band."""


@dataclass
class Clock:
    """A clock that moves on at every look, by some seconds about a mean."""

    now: datetime
    mean: float
    random: Random

    def __call__(self) -> datetime:
        """Return the time, a little later than the last one."""
        self.now += timedelta(seconds=round(self.random.uniform(0.6, 1.4) * self.mean))
        return self.now


@dataclass(frozen=True)
class Day:
    """What is true on the day of a visit."""

    ageing: Ageing
    battery_years: float
    plant_years: float
    temperature: float
    random: Random = field(repr=False)
    meters: dict[InstrumentKind, float] = field(default_factory=dict)
    """By how much a kind of meter of this kit shows too much, as a share."""


_JOINTS: Final = Accuracy(unit="µΩ", up_to=2000.0, percent=0.25, digits=3, resolution=0.1)
"""A four-wire tester for joints; an ordinary low-ohm meter cannot tell them apart."""
_PUT_OFF: Final = 0.004
"""How often a step that could not be done is put off."""


def kit_of(prefix: str, at: datetime) -> tuple[Instrument, ...]:
    """Return the kit of a technician, calibrated some weeks before the day."""
    calibrated = at - timedelta(days=50)
    due = calibrated + timedelta(days=365)
    dates = {"calibrated": f"{calibrated:%Y-%m-%d}", "due": f"{due:%Y-%m-%d}"}
    return tuple(
        instrument.model_copy(
            update={
                "serial": f"{prefix}-{place:02}",
                **dates,
                **({"ranges": (_JOINTS, *instrument.ranges)} if instrument.kind == "low-ohm meter" else {}),
            }
        )
        for place, instrument in enumerate(default_kit(), start=1)
    )


def number(value: float, digits: int = 5) -> str:
    """Return a number with some significant digits and no exponent."""
    if value == 0 or not math.isfinite(value):
        return "0"
    decimals = max(0, digits - 1 - math.floor(math.log10(abs(value))))
    return f"{value:.{min(decimals, 9)}f}"


class Technician:
    """Walks one visit."""

    def __init__(
        self, visit: OpenVisit, day: Day, clock: Callable[[], datetime], *, name: str, second: str
    ) -> None:
        self._visit = visit
        self._day = day
        self._clock = clock
        self._name = name
        self._second = second
        self._random = day.random

    def walk(self) -> None:
        """Take every reading that is open, in walking order, each step once."""
        done: set[StepKey] = set()
        step = self._visit.standing.next_step()
        while step is not None and step.key not in done:
            done.add(step.key)
            self._visit.move_to(step.key, self._clock())
            self._do(step)
            step = self._visit.standing.next_step(step.key)

    def _do(self, step: Step) -> None:
        for ask in step.asks:
            for _ in range(8):
                first = self._asked(ask)
                if first.key == ask.key:
                    break
                self._take(first)
            judged = self._take(ask)
            if judged.verdict.startswith("conditional"):
                self._accept(ask)
        if step.data.hold and step.data.released_by != "readings":
            by = self._name if step.data.released_by == "technician" else self._second
            self._visit.release(step.key, by=by, role=step.data.released_by, now=self._clock())

    def _asked(self, ask: Ask) -> Ask:
        """Return the reading that has to be taken first: a condition that this one waits for, else itself."""
        expectation = self._visit.expectation_for(ask, self._clock())
        if isinstance(expectation, Waits):
            for key in expectation.keys:
                found = self._visit.checklist.asks.get(key)
                if found is not None and next(self._visit.standing.bars(found[0]), None) is None:
                    return found[1]
        return ask

    def _take(self, ask: Ask) -> Judgement:
        now = self._clock()
        meter = self._visit.instrument_for(ask)
        typed = self._typed(ask, now)
        ident = None if meter is None else meter.id
        return self._visit.take(ask, typed, measured_at=now, now=now, instrument=ident)

    def _accept(self, ask: Ask) -> None:
        why = "seen; a matter of age and of the meter, watched at the next visit"
        self._visit.dispose(str(ask.key), "accepted", reason=why, by=self._name, now=self._clock())

    # what is typed

    def _typed(self, ask: Ask, now: datetime) -> str:
        data = ask.data
        if data.kind == "yes or no":
            return data.wants
        if data.kind == "choice":
            return self._choice(ask)
        if data.kind == "text":
            return "as it should be"
        if data.condition == "battery-temperature" or "temperature" in ask.key.step:
            return f"{number(self._day.temperature + self._random.gauss(0, 0.2), 3)} °C"
        if data.condition in CONDITIONS:
            return CONDITIONS[data.condition]
        value = self._aged(ask, now)
        if value is None:
            value = self._beside(ask)
        if value is None:
            value = self._usual(ask, now)
        shown = value * (1.0 + self._day.meters.get(data.instrument, 0.0))
        return f"{number(shown)} {data.unit}".removesuffix(" 1").strip()

    def _choice(self, ask: Ask) -> str:
        """Return the state that a charger is in at the step in work, or the first choice."""
        if ask.data.condition != "charger-state":
            return ask.data.choices[0]
        step = self._visit.visit.at_step
        state = "float" if "float" in step else "absorption" if "absorption" in step else "bulk"
        return state if state in ask.data.choices else ask.data.choices[0]

    def _aged(self, ask: Ask, now: datetime) -> float | None:
        """Return what an aged part shows, with the error of reading; None where the reading does not age."""
        day, ageing = self._day, self._day.ageing
        step = ask.key.step
        if step in {"ohmic-value", "ohmic-float"}:  # what lies beside a block on float ages as it does
            return ageing.ohmic_at(day.battery_years) * self._about(0.012)
        if step == "link-resistance":
            warm = 1.0 + 0.00393 * (day.temperature - 20.0)
            return ageing.joint_at(day.battery_years) * warm * self._about(0.012)
        if step in {"array-insulation.positive", "array-insulation.negative"}:
            return ageing.insulation_at(day.plant_years) * self._about(0.05)
        if step == "capacity-test.time":
            wanted = ageing.capacity_at(day.battery_years) + self._random.gauss(0, 0.6)
            trial = self._visit.weigh(ask, "10 h", measured_at=now).compared
            return 10.0 * wanted / trial if trial else None
        if step in {"running-array", "running-strings"}:
            middle = self._middle(ask, now)
            return None if middle is None else middle * ageing.array_at(day.plant_years) * self._about(0.01)
        return None

    def _beside(self, ask: Ask) -> float | None:
        """Return what a healthy battery shows: cells close together, the meter beside the pack's own."""
        step, battery = ask.key.step, self._visit.plant.battery
        if step.startswith("cells-near-full"):
            hold = battery.absorption_voltage.value
            return float(hold) - 0.02 if isinstance(hold, float | int) else None
        if step in {"cell-extremes.least", "cell-extremes.greatest"} or step.startswith("pack-voltage"):
            return self._guess(ask)
        return None

    def _about(self, spread: float) -> float:
        return 1.0 + self._random.gauss(0, spread)

    def _usual(self, ask: Ask, now: datetime) -> float:
        middle = self._middle(ask, now)
        return self._guess(ask) if middle is None else middle

    def _middle(self, ask: Ask, now: datetime) -> float | None:
        expectation = self._visit.expectation_for(ask, now)
        if not isinstance(expectation, Expected):
            return None
        band = expectation.band
        ends = (band.low, band.stop_below), (band.high, band.stop_above)
        low, high = (next((end.value for end in pair if end is not None), None) for pair in ends)
        if low is not None and high is not None:
            return (low + high) / 2.0 + _OFF * (high - low) / 2.0 * self._random.uniform(-1, 1)
        if high is not None:
            return high * 0.4 if high > 0 else high * 1.6 - 1e-3
        if low is not None:
            return low * 2.0 if low > 0 else low * 0.4 + 1e-3
        return 1.0

    def _guess(self, ask: Ask) -> float:
        """Return a sensible number where nothing tells what it should be."""
        plant, unit = self._visit.plant, ask.data.unit
        if unit == "V":
            curve = plant.battery.open_circuit_voltage
            cell = curve.values[len(curve.values) * 2 // 3]
            return cell * (1 if "cell" in ask.key.step else plant.bank.cells)
        if unit == "A":
            capacity = plant.bank.capacity
            return 0.12 * len(plant.bank.strings) * (capacity if isinstance(capacity, float | int) else 100.0)
        return 1.0

    # the end

    def settle(self, firmware: str, *, wrong: tuple[str, float] | None = None) -> None:
        """Read back every setting, write down every plate, and say what was done about all that is open.

        Parameters
        ----------
        firmware
            Of every device.
        wrong
            A setting that this firmware does not take as it should be, and by how much it is off.
        """
        visit = self._visit
        for device in visit.plant.devices:
            if wrong is not None:
                self._leave_wrong(device.id, *wrong)
            visit.left_as_recommended(device.id, self._clock())
            visit.identify(device.id, self._clock(), serial=f"S-{device.id}", firmware=firmware)
        if visit.plant.bank.management is not None:
            for string in visit.plant.bank.strings:
                visit.identify(string.id, self._clock(), serial=f"S-{string.id}", firmware="1.9")
        for finding in visit.sheet.findings:
            if finding.kind in {"correct", "not checked"}:
                why = "agreed with the owner"
                visit.dispose(finding.id, "accepted", reason=why, by=self._second, now=self._clock())
        self.settle_steps()

    def settle_steps(self) -> None:
        """Say what was done about all that is open in the steps; to put a returned visit right, no more."""
        for step in self._visit.checklist.steps:
            self._settle_step(step)

    def _leave_wrong(self, device: str, setting: str, off: float) -> None:
        known = self._visit.sheet.setting(device, setting)
        wanted = None if known is None else recommended_value(known)
        if isinstance(wanted, float | int):
            why = "this firmware falls back to it by itself; an update is asked for"
            value = number(wanted + off, 4)
            self._visit.set_left(device, setting, value, self._clock(), reason=why)

    def _settle_step(self, step: Step) -> None:
        visit = self._visit
        for ask in step.asks:
            reading = visit.current(ask.key)
            verdict = None if reading is None or reading.judgement is None else reading.judgement.verdict
            if reading is None or verdict in {None, "pass", "recorded"} or visit.standing.settled(reading):
                continue
            if verdict in {"conditional pass", "conditional fail"}:
                self._accept(ask)
            elif verdict == "fail" and self._random.random() < 0.4:
                why = "old, still in use until the new one comes"
                visit.dispose(str(ask.key), "accepted", reason=why, by=self._second, now=self._clock())
            elif verdict != "not judged" or not self._left_out(step):
                self._put_off(str(ask.key))
        if visit.standing.status(step) in {"open", "barred"} and not self._left_out(step):
            self._put_off(step_text(step.key))

    def _left_out(self, step: Step) -> bool:
        """Say that a step is no part of the practice; a hold point cannot be, and now and then none is."""
        if self._random.random() < _PUT_OFF:
            return False
        try:
            self._visit.not_applicable(step.key, "no part of this practice", self._clock())
        except VisitError:
            return False
        return True

    def _put_off(self, subject: str) -> None:
        now = self._clock()
        self._visit.dispose(
            subject,
            "deferred",
            reason="not on this day",
            by=self._name,
            until=f"{now + timedelta(days=60):%Y-%m-%d}",
            stays_off="what it concerns",
            now=now,
        )

    def sign(self) -> None:
        """Sign in the fullest state that the visit allows."""
        signed_as: SignedAs = (
            "in service with deferred steps" if self._visit.missing("complete") else "complete"
        )
        self._visit.sign_off(self._name, signed_as, self._clock())
