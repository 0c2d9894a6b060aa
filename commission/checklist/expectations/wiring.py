"""What is fitted beside what the site file says: cables, torques, protective devices; drops along runs."""

from __future__ import annotations

from typing import Final

from commission.checklist.bands import around, at, band, part_of, together
from commission.checklist.conditions import condition
from commission.checklist.lookup import guard_of, limit, run_of
from commission.checklist.registry import expectation
from commission.checklist.runs import cold_resistance, hot_resistance, joints_of
from commission.checklist.situation import Situation
from commission.checklist.types import Expectation, NotJudged
from commission.figure import Quantity
from commission.formulas.bands import magnitude
from commission.formulas.conductors import good_run_drop_high, good_run_drop_low
from commission.formulas.joints import torque_high, torque_low
from commission.plant.plant import fact, part_fact
from commission.units import show

TORQUE: Final = 0.10
"""Share by which a torque may differ; common practice. The tool's own 4 % (ISO 6789) is the meter's."""
LEAST_CURRENT: Final = 5.0
"""Current under which a drop is not judged, A; common practice: the clamp's own error would decide."""


@expectation("size of the cable", says="the cross-section that the site file states", source="site file")
def _area(situation: Situation) -> Expectation:
    area = part_fact(run_of(situation), "area")
    return around(situation, area, part_of(area, limit(0.02, "1", "same size"), "what two names differ by"))


@expectation(
    "length of the run", says="the length that the site file states, within a tenth", source="common practice"
)
def _length(situation: Situation) -> Expectation:
    length = part_fact(run_of(situation), "length")
    return around(
        situation, length, part_of(length, limit(0.1, "1", "how well a run is measured"), "a tenth")
    )


@expectation("cables in parallel", says="as many per pole as the site file says", source="site file")
def _parallel(situation: Situation) -> Expectation:
    count = part_fact(run_of(situation), "conductors")
    return band(situation, low=count, nominal=count, high=count)


@expectation("torque of a run", says="the torque of the site file within 10 %", source="common practice")
def _run_torque(situation: Situation) -> Expectation:
    return _torque(situation, part_fact(run_of(situation), "torque"))


@expectation("torque of the posts", says="the torque of the site file within 10 %", source="common practice")
def _post_torque(situation: Situation) -> Expectation:
    return _torque(situation, fact(situation.plant.bank, "terminal_torque", "bank", "the bank's posts"))


def _torque(situation: Situation, torque: Quantity) -> Expectation:
    share = limit(TORQUE, "1", "what a torque may differ by", "common practice")
    low = torque_low.of(torque=torque, tolerance=share)
    return band(situation, low=low, nominal=torque, high=torque_high.of(torque=torque, tolerance=share))


@expectation("rating of a device", says="the rating that the site file states", source="site file")
def _rating(situation: Situation) -> Expectation:
    rating = part_fact(guard_of(situation), "rating")
    return band(situation, low=rating, nominal=rating, high=rating)


@expectation(
    "voltage of a device", says="at least the rated voltage that the site file states", source="site file"
)
def _voltage(situation: Situation) -> Expectation:
    return band(situation, low=part_fact(guard_of(situation), "voltage"))


@expectation(
    "breaking capacity", says="at least the breaking capacity that the site file states", source="site file"
)
def _interrupting(situation: Situation) -> Expectation:
    return band(situation, low=part_fact(guard_of(situation), "interrupting"))


@expectation(
    "drop along a run",
    says="0.9 × bare cable in the day's air to 1.1 × warm cable and joints, at the current of the moment",
    source="Ohm's law; conductor table of the rule set; 50 µΩ a joint and both tenths by common practice",
)
def _drop(situation: Situation) -> Expectation:
    found = together(condition(situation, "run-current"), condition(situation, "air-temperature"))
    if not isinstance(found, tuple):
        return found
    signed, air = found
    if abs(signed.value) < LEAST_CURRENT:
        return NotJudged(f"{abs(signed.value):g} A is too little; draw {LEAST_CURRENT:g} A and more")
    plant, run = situation.plant, run_of(situation)
    current = magnitude.of("current in the run", value=signed).in_unit("A")
    cold = cold_resistance(plant, run, air)
    hot = hot_resistance(plant, run, air, signed)
    return band(
        situation,
        low=good_run_drop_low.of(current=current, cable_cold=cold),
        high=good_run_drop_high.of(current=current, cable_hot=hot, joints=joints_of(run)),
        says=at(situation, signed, air, also=_cable(situation)),
    )


def _cable(situation: Situation) -> tuple[str, ...]:
    run, system = run_of(situation), situation.plant.site.site.units
    told = [
        show(value, unit, system)
        for value, unit in ((run.length, "m"), (run.area, "mm²"))
        if not isinstance(value, str)
    ]
    return (" of ".join(told),) if told else ()
