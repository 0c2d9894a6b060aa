"""Charging: current of each source and of all, voltage of each stage, the end of absorption."""

from __future__ import annotations

from typing import Final

from commission.checklist.bands import around, at, band, edge_high, edge_low, in_unit, part_of, stopped
from commission.checklist.charging_now import (
    NEAR_LIMIT,
    Held,
    bank_current_limit,
    current_limit,
    held_voltage,
    left,
    own_limit,
    step_of,
    stop_voltage,
    wanted_stage,
)
from commission.checklist.conditions import beside, condition
from commission.checklist.lookup import known_or, limit, source_of, whole
from commission.checklist.registry import expectation
from commission.checklist.situation import Situation
from commission.checklist.types import Expectation, NotJudged, Waits
from commission.figure import Figure, Quantity, greatest, least
from commission.formulas.bands import magnitude
from commission.formulas.charging import end_current
from commission.formulas.uncertainty import root_sum_of_squares
from commission.plant.plant import part_fact
from commission.plant.site import DirectCurrentSource
from commission.sheet.bank_state import capacity

STEADY: Final = 0.002
"""Share by which a steady voltage may move in the two minutes between its two readings: 0.1 % a minute."""
CHARGES: Final = 0.02
"""Share of its limit under which a source in bulk hardly charges; common practice."""
SHEET_CURRENT: Final = 0.02
"""Accuracy of a device's current where its sheet is silent, share; common practice."""
SAMPLED: Final = 0.2
"""Share within which the current is caught at the moment in which absorption ends; common practice."""
LATE: Final = 0.02
"""Share by which a device's own clock may be out; common practice."""
MINUTE: Final = 60.0


# currents


@expectation(
    "bulk current",
    says="in bulk some current, and not more than its limit as left and what the battery tells",
    source="settings as left; told limits; accuracy of the device, 2 % where its sheet is silent",
)
def _bulk(situation: Situation) -> Expectation:
    source = source_of(situation)
    most = current_limit(situation, source)
    if not isinstance(most, Figure):
        return most
    high = with_accuracy(situation, source, most)
    other = wanted_stage(situation, "bulk")
    if other is not None:
        return stopped_by_current(situation, high) or other
    low = part_of(most, limit(CHARGES, "1", "hardly charges"), "least current that is charging")
    return band(situation, low=low, high=high, says=_bound(most))


def stopped_by_current(situation: Situation, high: Quantity) -> Expectation | None:
    """Return a band of the upper limit alone where a reading is over it, whatever the stage; else None."""
    own = situation.reading
    if own is None or not isinstance(high, Figure) or own.figure.value <= high.value:
        return None
    return band(situation, high=high, says="over its limit in any stage")


def with_accuracy(situation: Situation, source: DirectCurrentSource, most: Figure) -> Quantity:
    """Return a current limit with what the device may be out by: its accuracy and half a step."""
    accuracy = known_or(situation.plant.rating(source, "current_accuracy"), SHEET_CURRENT)
    half_step = part_of(
        step_of(situation.plant, source, "charge_current_limit").in_unit("A"),
        limit(0.5, "1", "half"),
        "half a step",
    )
    half = root_sum_of_squares.of(
        "accuracy and half a step", parts=[part_of(most, accuracy, "accuracy of the device"), half_step]
    ).in_unit("A")
    return edge_high(most, half, "most that it may give")


def _bound(most: Figure) -> str:
    return f"limit {most.value:.4g} A: {most.binding().name}"


@expectation(
    "current of all sources together",
    says="not over the bank's limit of the moment; at what the main protection carries work stops",
    source="limit of the bank on the sheet; told limit; rating of the bank's protection",
)
def _sum(situation: Situation) -> Expectation:
    most = bank_current_limit(situation)
    if not isinstance(most, Figure):
        return most
    return band(situation, high=most, stop_above=main_rating(situation), says=_bound(most))


def main_rating(situation: Situation) -> Quantity | None:
    """Return the least rating of the bank's main protection; None where the site file has none."""
    plant = situation.plant
    ratings = [
        part_fact(guard, "rating")
        for guard in plant.site.protection
        if guard.protects == "bank" and guard.current == "dc" and guard.kind in {"breaker", "fuse"}
    ]
    known = [rating for rating in ratings if isinstance(rating, Figure)]
    return least("rating of the bank's main protection", *known) if known else None


@expectation(
    "told limit while charging",
    says="what flows into the bank is not more than the battery tells at the moment",
    source="limits that the battery tells; 2 % by common practice",
)
def _told(situation: Situation) -> Expectation:
    heard = condition(situation, "told-charge-limit")
    if not isinstance(heard, Figure):
        return heard
    more = part_of(heard, limit(SHEET_CURRENT, "1", "accuracy"), "2 % of it")
    return band(situation, high=edge_high(heard, more))


@expectation(
    "monitor shows this source",
    says="what the clamp reads, within the monitor's accuracy and its shunt's class",
    source="shunt class 0.5 (IEC 60051-8); data sheet of the monitor",
)
def _monitor(situation: Situation) -> Expectation:
    clamp = beside(situation, "clamp")
    if not isinstance(clamp, Figure):
        return clamp
    monitor = situation.plant.site.monitor
    if monitor is None:
        return NotJudged("the site file has no battery monitor")
    accuracy = known_or(situation.plant.rating(monitor, "current_accuracy"), 0.005)
    shunt = limit(0.005, "1", "class of the shunt", "IEC 60051-8")
    meter = limit(0.02, "1", "accuracy of an ordinary DC clamp")
    both = root_sum_of_squares.of("monitor, shunt and clamp", parts=[accuracy, shunt, meter]).in_unit("1")
    size = magnitude.of("what the clamp reads, without sign", value=clamp).in_unit("A")
    zero = limit(1.0, "A", "zero of a DC clamp")
    return around(situation, clamp, greatest("allowance", part_of(size, both, "their accuracy"), zero))


# voltages


@expectation(
    "voltage while it rises",
    says="not over what the source should hold in absorption; at a maximum of battery or bus work stops",
    source="settings as left, compensated; battery profile; greatest DC voltages of the devices",
)
def _rising(situation: Situation) -> Expectation:
    stop = stop_voltage(situation)
    danger = stopped(situation, None, stop)
    if danger is not None:
        return danger
    held = held_voltage(situation, "absorption_voltage")
    low = whole(situation.plant, situation.plant.cell("end_of_discharge_voltage"))
    if isinstance(held, NotJudged) and isinstance(stop, Figure):
        return band(situation, low=low, high=stop, stop_above=stop, says=f"only the limits: {held.why}")
    if not isinstance(held, Held):
        return held
    high = edge_high(held.nominal, held.half_width)
    return band(situation, low=low, high=high, stop_above=stop, says=held.says)


@expectation(
    "absorption at the posts",
    says="setting as left for the temperature that the charger reports, less the drop if it senses at itself",
    source="settings as left; device accuracy, half a step and 2 K of its sensor, root sum of squares",
)
def _absorption(situation: Situation) -> Expectation:
    return _held(situation, "absorption", "absorption_voltage")


@expectation(
    "float at the posts",
    says="setting as left for the temperature that the charger reports, less the drop if it senses at itself",
    source="settings as left; device accuracy, half a step and 2 K of its sensor, root sum of squares",
)
def _float(situation: Situation) -> Expectation:
    return _held(situation, "float", "float_voltage")


@expectation(
    "equalise at the posts",
    says="setting as left for the temperature that the charger reports, less the drop if it senses at itself",
    source="settings as left; device accuracy, half a step and 2 K of its sensor, root sum of squares",
)
def _equalise(situation: Situation) -> Expectation:
    return _held(situation, "equalise", "equalize_voltage")


def _held(situation: Situation, wanted: str, setting: str) -> Expectation:
    """Return the band of a stage's voltage; not judged while the source does not hold it."""
    stop = stop_voltage(situation)
    danger = stopped(situation, None, stop)
    if danger is not None:
        return danger
    refused = wanted_stage(situation, wanted) or _limited(situation, wanted) or _moves(situation)
    if refused is not None:
        return refused
    held = held_voltage(situation, setting)
    if not isinstance(held, Held):
        return held
    return around(situation, held.nominal, held.half_width, stop_above=stop, says=held.says)


def _limited(situation: Situation, wanted: str) -> Waits | NotJudged | None:
    """Return why a voltage is not judged because a current limit holds it; None where it does not."""
    source = source_of(situation)
    most, current = current_limit(situation, source), condition(situation, "source-current")
    if not isinstance(most, Figure):
        return most
    if not isinstance(current, Figure):
        return current
    own = left(situation, source, "equalize_current_limit") if wanted == "equalise" else None
    limit_now = min(most.value, own.value) if isinstance(own, Figure) else most.value
    if current.value >= NEAR_LIMIT * limit_now:
        return NotJudged(f"at its current limit of {limit_now:.4g} A: it does not hold its voltage yet")
    return None


def _moves(situation: Situation) -> Waits | NotJudged | None:
    """Return why a voltage is not judged because it still moves; None where it stands."""
    before, own = beside(situation, "before"), situation.reading
    if not isinstance(before, Figure):
        return before
    if own is None:
        return None
    change = abs(own.figure.value - before.value) / abs(before.value) if before.value else 1.0
    if change >= STEADY:
        return NotJudged(f"it moved by {change / 2.0:.2%} a minute; under 0.1 % a minute is steady")
    return None


@expectation(
    "all sources in absorption",
    says="what the highest of all sources should hold; the others idle below it",
    source="settings as left of every source, compensated; common practice",
)
def _together(situation: Situation) -> Expectation:
    stop = stop_voltage(situation)
    danger = stopped(situation, None, stop)
    if danger is not None:
        return danger
    found = [_alone(situation, source) for source in situation.plant.sources]
    read = [item for item in found if item is not None]
    if not read:
        return NotJudged("no source has been read alone in absorption")
    top = greatest("highest of the sources, each alone", *read)
    assert isinstance(top, Figure)  # noqa: S101 - all are known
    half = part_of(top, limit(0.005, "1", "accuracy of a device, common practice"), "0.5 % of it")
    return around(situation, top, half, stop_above=stop, says=f"highest: {top.binding().name}")


def _alone(situation: Situation, source: DirectCurrentSource) -> Figure | None:
    """Return what a source held alone in absorption; None where that was not read."""
    for step in situation.checklist.by_id.get("absorption-voltage", ()):
        if source.id in step.parts:
            for ask in step.asks:
                found = situation.look(ask.key) if ask.data.name is None else None
                if found is not None:
                    return found.figure.named(f"{source.label} alone")
    return None


# the end of absorption


def _ends_by_current(situation: Situation, source: DirectCurrentSource) -> Quantity | None:
    return left(situation, source, "absorption_end_current")


@expectation(
    "time in absorption",
    says="not longer than its time limit as left; where only the time ends it, not shorter either",
    source="settings as left; 2 % and one minute for its clock, common practice",
)
def _time(situation: Situation) -> Expectation:
    source = source_of(situation)
    longest = left(situation, source, "absorption_time")
    if longest is None:
        return NotJudged(f"{source.label} has no absorption time")
    if _ends_by_current(situation, source) is None:
        return band(situation, low=_shorter(longest), nominal=longest, high=_longer(longest))
    shortest = left(situation, source, "absorption_time_least")
    return band(situation, low=None if shortest is None else _shorter(shortest), high=_longer(longest))


def _longer(time: Quantity) -> Quantity:
    more = edge_high(time, part_of(time, limit(LATE, "1", "its clock"), "2 % of it"))
    return edge_high(more, limit(MINUTE, "s", "one minute"), f"longest {time.name}")


def _shorter(time: Quantity) -> Quantity:
    fewer = edge_low(time, part_of(time, limit(LATE, "1", "its clock"), "2 % of it"))
    return edge_low(fewer, limit(MINUTE, "s", "one minute"), f"shortest {time.name}")


@expectation(
    "current as absorption ends",
    says="its end current as left; where the time ended it, only not over its limit",
    source="settings as left; a fifth for the moment in which it is caught, common practice",
)
def _end(situation: Situation) -> Expectation:
    source = source_of(situation)
    minutes, end = beside(situation, "time"), _ends_by_current(situation, source)
    if not isinstance(minutes, Figure):
        return minutes
    longest = left(situation, source, "absorption_time")
    timed = (
        isinstance(longest, Figure) and in_unit(minutes, "s").value >= longest.value * (1.0 - LATE) - MINUTE
    )
    if end is None or timed:
        return band(situation, high=own_limit(situation, source), says="ended by its time, not by current")
    half = greatest(
        "allowance",
        part_of(end, limit(SAMPLED, "1", "a fifth"), "a fifth of it"),
        step_of(situation.plant, source, "absorption_end_current").in_unit("A"),
    )
    return around(situation, end, half)


@expectation(
    "current of a full bank",
    says="not over the current at which the chemistry counts as full; not under nothing",
    source="battery profile: end current, share of capacity",
)
def _full(situation: Situation) -> Expectation:
    plant, voltage = situation.plant, condition(situation, "bank-voltage")
    if not isinstance(voltage, Figure):
        return voltage
    held = whole(plant, plant.cell("hold_voltage"), "voltage at which a full bank is held")
    if isinstance(held, Figure) and voltage.value < held.value:
        return NotJudged(f"the bank stands at {voltage.value:.4g} V: nothing holds it full")
    share = plant.cell("end_current")
    most = end_current.of("current of a full bank", share=share, capacity=capacity(plant))
    return band(situation, low=limit(0.0, "A", "no discharge"), high=most, says=at(situation, voltage))


# what a bank must not become while it is charged


@expectation(
    "battery warm from charging",
    says="under the temperature at which charging stops; there work stops",
    source="battery profile: greatest charge temperature",
)
def _warm(situation: Situation) -> Expectation:
    most = situation.plant.cell("charge_temperature_high")
    return band(situation, high=most, stop_above=most)
