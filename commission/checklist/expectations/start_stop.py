"""Automatic start and stop of a generator: delays, warm-up, cool-down, longest run."""

from __future__ import annotations

from typing import Final

from commission.checklist.bands import band, edge_high, in_unit
from commission.checklist.conditions import beside
from commission.checklist.expectations.guards import late, timed
from commission.checklist.expectations.read_back import device_with
from commission.checklist.lookup import limit
from commission.checklist.registry import Judge, expectation
from commission.checklist.situation import Situation
from commission.checklist.types import Expectation, NotJudged
from commission.figure import Figure, Quantity
from commission.formulas.generator_control import sum_of_times
from commission.plant.values import in_words

CRANKING: Final = 45.0
"""Longest from the call to the running set: three cranks and their rests, s; common practice."""
TIMES: Final = {
    "warm-up": "generator_warm_up_time",
    "cool-down": "generator_cool_down_time",
}
"""Times of a set that are stopped by a watch, and the settings that they come from."""


def _held(situation: Situation, setting: str) -> Quantity | None:
    return situation.left(device_with(situation, setting).id, setting, None)


def _timed(setting: str) -> Judge:
    def judge(situation: Situation) -> Expectation:
        held = _held(situation, setting)
        if held is None:
            return NotJudged(f"{in_words(setting)} is not left at a number here")
        return timed(situation, held)

    return judge


for _word, _setting in TIMES.items():
    expectation(
        f"{_word} of the set",
        says="the time as left, a tenth and 5 s either way for the hand on the watch",
        source="setting as left; a tenth and 5 s by common practice",
    )(_timed(_setting))


@expectation(
    "time from the condition to the call",
    says="the delay that was set for the test, a tenth and 5 s either way",
    source="delay that was entered for the test; a tenth and 5 s by common practice",
)
def _call(situation: Situation) -> Expectation:
    delay = beside(situation, "delay")
    return timed(situation, delay) if isinstance(delay, Figure) else delay


@expectation(
    "time from the call to the load",
    says="cranking, warm-up and connect delay as left, not longer",
    source="settings as left; 45 s for three cranks by common practice",
)
def _load(situation: Situation) -> Expectation:
    plant = situation.plant
    parts: list[Quantity] = [limit(CRANKING, "s", "cranking, three attempts")]
    for unit in plant.devices:
        for setting, kind in (("generator_warm_up_time", None), ("ac_input_connect_delay", "generator")):
            concerned = unit.id in situation.step.parts or kind is not None
            held = situation.left(unit.id, setting, "generator" if kind else None) if concerned else None
            if isinstance(held, Figure):
                parts.append(held)
    whole = sum_of_times.of("cranking, warm-up and acceptance", times=_one_of_each(parts))
    return band(situation, high=late(whole))


def _one_of_each(parts: list[Quantity]) -> list[Quantity]:
    """Return the times with equal ones of several units counted once: they run side by side."""
    kept: dict[tuple[str, float], Quantity] = {}
    for part in parts:
        if isinstance(part, Figure):
            word = part.name.split(" of ")[0]
            kept[word, part.value] = part
    return list(kept.values())


@expectation(
    "longest run of the set",
    says="the longest run that was set for the test, a tenth and 5 s either way",
    source="time that was entered for the test; a tenth and 5 s by common practice",
)
def _longest(situation: Situation) -> Expectation:
    entered = beside(situation, "entered")
    if not isinstance(entered, Figure):
        return entered
    return timed(situation, in_unit(entered, "s"))


@expectation(
    "alarm after failing to start",
    says="within the cranks that the device makes, a tenth and 5 s more",
    source="common practice: three attempts, then the alarm",
)
def _failed(situation: Situation) -> Expectation:
    attempts = limit(CRANKING, "s", "three cranks and their rests")
    warm = _held(situation, "generator_warm_up_time")
    high = attempts if warm is None else edge_high(attempts, warm)
    return band(situation, high=late(edge_high(high, limit(60.0, "s", "time that a controller waits"))))
