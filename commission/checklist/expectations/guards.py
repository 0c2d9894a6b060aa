"""Guards tried at low current: what must stop every source, how soon, and what is left."""

from __future__ import annotations

from typing import Final

from commission.checklist.bands import around, band, edge_high, edge_low, part_of
from commission.checklist.charging_now import own_limit, recorded
from commission.checklist.conditions import beside
from commission.checklist.lookup import known_or, limit, source_of
from commission.checklist.registry import expectation
from commission.checklist.situation import Situation
from commission.checklist.types import Expectation
from commission.figure import Figure, Quantity, Unknown, least
from commission.formulas.charging import charge_current_limit
from commission.formulas.lithium import limit_without_packs
from commission.plant.plant import fact
from commission.plant.site import DirectCurrentSource
from commission.plant.values import UNKNOWN
from commission.sheet.bank_state import capacity

LOW_RATE: Final = 0.05
"""Charge current of the whole bank under which a guard may be tried, A per Ah; common practice."""
SEEN: Final = 1.0
"""Current that a clamp tells from nothing, A; common practice: zero and remanence of a DC clamp."""
LATE: Final = 0.1
"""Share by which a time may be longer than it is set; common practice."""
BY_HAND: Final = 5.0
"""What a hand with a stop-watch adds to a time, s; common practice."""
NOT_TOLD: Final = 60.0
"""Silence after which a source should act where its time is not told, s; common practice."""
TOLD_LIMIT: Final = 0.02
"""Share within which a told limit is rounded; common practice."""
SHOWN: Final = 1.0
"""Step of a shown temperature, K; common practice."""


@expectation(
    "low enough to try a guard",
    says="so much that its end is seen, and not more than the bank takes without harm if the guard fails",
    source="common practice: C/20 and the recommended limit of the bank; 1 A is what a clamp sees",
)
def _low(situation: Situation) -> Expectation:
    slow = charge_current_limit.of(
        "a twentieth of the bank's capacity",
        rate=limit(LOW_RATE, "1", "low charge rate"),
        capacity=capacity(situation.plant),
        strings=1.0,
    )
    candidates = [slow, situation.sheet.recommended_limit]
    known = [item for item in candidates if isinstance(item, Figure)]
    high: Quantity = least("greatest current to try a guard with", *known) if known else slow
    return band(situation, low=limit(SEEN, "A", "current that a clamp sees"), high=high)


@expectation(
    "no charge current",
    says="nothing flows into the bank that a clamp can tell from zero",
    source="common practice: zero and remanence of a DC clamp",
)
def _none(situation: Situation) -> Expectation:
    return band(situation, high=limit(SEEN, "A", "what a clamp shows of nothing"))


# a link or a coordinator that falls silent


def _silence_time(situation: Situation, source: DirectCurrentSource) -> Quantity:
    held = situation.left(source.id, "battery_link_silence_time", None)
    if held is not None:
        return held
    return fact(source.silence, "after", f"{source.where}.silence", f"silence of {source.label}")


@expectation(
    "time to act on silence",
    says="at most the time after which it takes its partner for silent, a tenth and 5 s longer by hand",
    source="setting as left; site file; a tenth by common practice",
)
def _silence(situation: Situation) -> Expectation:
    source = source_of(situation)
    stated = known_or(_silence_time(situation, source), NOT_TOLD)
    return band(situation, high=late(stated), says=stated.note)


def late(stated: Quantity) -> Quantity:
    """Return the longest that a stated time may take when a hand stops the watch."""
    more = edge_high(stated, part_of(stated, limit(LATE, "1", "a tenth"), "a tenth of it"))
    return edge_high(more, limit(BY_HAND, "s", "hand on the stop-watch"), f"longest {stated.name}")


def early(stated: Quantity) -> Quantity:
    """Return the shortest that a stated time may take when a hand stops the watch."""
    fewer = edge_low(stated, part_of(stated, limit(LATE, "1", "a tenth"), "a tenth of it"))
    return edge_low(fewer, limit(BY_HAND, "s", "hand on the stop-watch"), f"shortest {stated.name}")


def timed(situation: Situation, stated: Quantity, says: str = "") -> Expectation:
    """Return the band of a time that is set on a device and stopped by hand."""
    return band(situation, low=early(stated), nominal=stated, high=late(stated), says=says)


def carries_on(situation: Situation, source: DirectCurrentSource) -> bool:
    """Return whether a source carries on alone when it hears nothing; one that is not told of stops."""
    if source.silence.does != UNKNOWN:
        return source.silence.does == "carries on alone"
    setting = situation.sheet.setting(source.id, "battery_link_silence_action")
    return setting is not None and setting.recommended == "carries on alone"


@expectation(
    "current after silence",
    says="nothing where it stops; where it carries on alone not more than its own limit as left",
    source="site file: what the device does when it hears nothing; stops where that is not told",
)
def _after(situation: Situation) -> Expectation:
    source = source_of(situation)
    if not carries_on(situation, source):
        told = source.silence.does != UNKNOWN
        says = "it stops" if told else "what it does is not told: it should stop"
        return band(situation, high=limit(SEEN, "A", "what a clamp shows of nothing"), says=says)
    return band(situation, high=own_limit(situation, source), says="it carries on alone, at its own limit")


# the battery's own limits


@expectation(
    "told limit without one pack",
    says="the limit that was told before × (n − 1) ÷ n",
    source="site file: packs in parallel; 2 % for its rounding by common practice",
)
def _without(situation: Situation) -> Expectation:
    before = beside(situation, "before")
    if not isinstance(before, Figure):
        return before
    packs = float(len(situation.plant.bank.strings))
    rest = limit_without_packs.of("limit of the packs that are left", limit=before, packs=packs, out=1.0)
    return around(situation, rest, part_of(rest, limit(TOLD_LIMIT, "1", "its rounding"), "rounding"))


# sensors and the emergency stop


@expectation(
    "temperature without its sensor",
    says="what the device takes for the battery's temperature when its sensor is off",
    source="data sheet of the device",
)
def _unplugged(situation: Situation) -> Expectation:
    assumed = situation.plant.rating(source_of(situation), "unplugged_temperature")
    if isinstance(assumed, Unknown):
        return recorded(situation, "its data sheet does not say: what it shows is kept")
    return around(situation, assumed, limit(SHOWN, "K", "step of the display").in_unit("°C"))


@expectation(
    "dead behind the emergency stop",
    says="under the rule set's voltage",
    source="IEC 61140; rule set",
)
def _dead(situation: Situation) -> Expectation:
    return band(situation, high=situation.plant.rule("dead_voltage_ac"))


@expectation(
    "runs down after the stop",
    says="not above the bank's own voltage: nothing feeds the bus any more",
    source="Kirchhoff's voltage law; 0.5 % between two readings by common practice",
)
def _bus(situation: Situation) -> Expectation:
    bank = beside(situation, "bank")
    if not isinstance(bank, Figure):
        return bank
    half = part_of(bank, limit(0.005, "1", "what two readings may differ by"), "0.5 % of it")
    return band(situation, high=edge_high(bank, half))
