"""The public supply: inside its window, lost without feeding it, taken back after its delay."""

from __future__ import annotations

from commission.checklist.bands import around, band, part_of, stopped
from commission.checklist.expectations.generators import accept_edges, input_named, nominal_here
from commission.checklist.lookup import inverter_of, limit
from commission.checklist.registry import expectation
from commission.checklist.situation import Situation
from commission.checklist.types import Expectation
from commission.figure import Figure, greatest, least
from commission.plant.plant import part_fact

FAR_OVER = 1.2
"""Share of the nominal voltage at which work stops: a lost neutral."""


@expectation(
    "voltage of the public supply",
    says="inside the chargers' accept window as left; far over it stops",
    source="accept windows as left; rule set",
)
def _supply_voltage(situation: Situation) -> Expectation:
    nominal, _, source = nominal_here(situation)
    rule = situation.plant.rule
    lows, highs = accept_edges(situation, source, "voltage", "connect")
    low = part_of(nominal, rule("utility_voltage_low"), "least by the rule set")
    high = part_of(nominal, rule("utility_voltage_high"), "greatest by the rule set")
    stop = part_of(nominal, limit(FAR_OVER, "1", "far over"), "a lost neutral")
    return band(
        situation,
        low=greatest("least voltage", low, *lows),
        nominal=nominal,
        high=least("greatest voltage", high, *highs),
        stop_above=stop,
    )


@expectation(
    "frequency of the public supply",
    says="inside the rule set's window",
    source="rule set",
)
def _supply_frequency(situation: Situation) -> Expectation:
    utility = situation.plant.site.utility
    own = None if utility is None else part_fact(utility, "ac_frequency")
    nominal = own if isinstance(own, Figure) else situation.plant.rule("ac_frequency")
    return around(situation, nominal, situation.plant.rule("utility_frequency"))


@expectation(
    "time to leave a lost supply",
    says="at most the rule set's time",
    source="IEC 62116; IEEE 1547-2018; rule set",
)
def _left(situation: Situation) -> Expectation:
    return band(situation, high=situation.plant.rule("island_time"))


@expectation(
    "nothing behind the open supply",
    says="under the rule set's voltage; over it the plant feeds the network, and work stops",
    source="IEC 61140; rule set",
)
def _no_backfeed(situation: Situation) -> Expectation:
    most = situation.plant.rule("dead_voltage_ac")
    return stopped(situation, None, most) or band(situation, high=most, stop_above=most)


@expectation(
    "time to come back to the supply",
    says="not before the rule set's delay, and about the connect delay as left where that is longer",
    source="rule set; setting as left",
)
def _back(situation: Situation) -> Expectation:
    unit = inverter_of(situation)
    least_delay = situation.plant.rule("utility_return_delay")
    held = situation.left(unit.id, "ac_input_connect_delay", input_named(situation, unit))
    low = part_of(least_delay, limit(0.9, "1", "hand on the watch"), "least delay")
    if not isinstance(held, Figure):
        return band(situation, low=low)
    longest = greatest("longer of the two", held, least_delay)
    more = part_of(longest, limit(1.5, "1", "half as much again"), "longest delay")
    return band(situation, low=low, nominal=held, high=more)
