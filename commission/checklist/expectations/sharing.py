"""How parallel strings share the bank's current, and paralleled inverters the load."""

from __future__ import annotations

from dataclasses import replace
from typing import Final

from commission.checklist.bands import compared, in_percent, in_unit
from commission.checklist.charging_now import recorded
from commission.checklist.conditions import alike, condition
from commission.checklist.expectations.load_steps import derated
from commission.checklist.lookup import inverter_of, limit
from commission.checklist.registry import expectation
from commission.checklist.selectors import groups
from commission.checklist.situation import Situation
from commission.checklist.types import Expectation, Expected, NotJudged, Observation, Waits
from commission.figure import Figure, Quantity, Unknown
from commission.formulas.bank_wiring import parallel_resistance
from commission.formulas.charging import sum_of_currents
from commission.formulas.conductors import parallel_share, series_resistance
from commission.formulas.load_control import sum_of_powers
from commission.formulas.load_tests import share_error
from commission.formulas.low_end import bank_resistance
from commission.formulas.split_phase import share_deviation
from commission.plant.plant import Plant, fact
from commission.plant.site import InverterCharger, Run
from commission.plant.values import UNKNOWN
from commission.sheet.bank_state import cells
from commission.sheet.cables import cable_resistance

GOOD: Final = 0.10
"""Deviation from the nominal share that is good; common practice."""
ACT: Final = 0.20
"""Deviation beyond which something is wrong and is mended; common practice."""
LEAST_RATE: Final = 0.1
"""Current of the bank from which shares are judged, A per Ah; common practice."""
LEAST_TIME: Final = 1800.0
"""How long that current must have flowed, s; common practice."""
APART: Final = 300.0
"""Time within which the strings are read, s; common practice."""
HALF: Final = 0.5
"""Load of a group from which the shares of its units are judged, share of their ratings."""
AWAKE: Final = 0.05
"""Share of the mean under which a unit is taken for asleep; common practice."""


@expectation(
    "share of a string",
    says="its share by the lead network; within 10 % good, beyond 20 % wrong; steady 30 min at C/10",
    source="parallel resistances; 10 % and 20 %, and 20 to 80 % charge for lead, by common practice",
)
def _string(situation: Situation) -> Expectation:
    refused = _wrong_charge(situation) or _not_steady(situation)
    if refused is not None:
        return refused
    read = _all_read(situation)
    if not isinstance(read, list):
        return read
    assert situation.reading is not None  # noqa: S101 - waited for above
    own, others = situation.reading.figure, [item.figure for item in read]
    total = sum_of_currents.of("current of all strings", currents=[own, *others])
    if isinstance(total, Unknown) or abs(total.value) < _least_current(situation.plant):
        least = _least_current(situation.plant)
        return NotJudged(f"shares are judged from {least:.3g} A of the whole bank")
    share, says = nominal_share(situation.plant, situation.step.parts[0])
    found = share_error.of("deviation from its share", current=own, total=total, share=share)
    return weighed(found, f"{says}; {total.value:.4g} A in all")


def weighed(found: Quantity, says: str) -> Expectation:
    """Return the band of a share: ±10 % is good, from there to ±20 % it only informs, beyond it is wrong."""
    edge = {sign: limit(sign * GOOD, "1", "good share") for sign in (-1.0, 1.0)}
    made = compared(in_percent(found), low=in_percent(edge[-1.0]), high=in_percent(edge[1.0]), says=says)
    if isinstance(made, Expected) and isinstance(found, Figure):
        return replace(made, decides=abs(found.value) > ACT)
    return made


def _wrong_charge(situation: Situation) -> NotJudged | Waits | None:
    state = condition(situation, "state-of-charge")
    if not isinstance(state, Figure):
        return state
    battery = situation.plant.battery
    if battery.family == "lead" and not 0.2 <= state.value <= 0.8:
        return NotJudged(f"{state.value:.0%} charge: strings of lead share evenly only from 20 to 80 %")
    if battery.curve == "flat" and 0.1 < state.value < 0.95:
        return NotJudged("on the flat part of the curve: compare ampere-hours over a cycle, or near the end")
    return None


def _not_steady(situation: Situation) -> NotJudged | Waits | None:
    steady = condition(situation, "steady-time")
    if not isinstance(steady, Figure):
        return steady
    seconds = in_unit(steady, "s").value
    return (
        None if seconds >= LEAST_TIME else NotJudged(f"steady for {seconds / 60:.0f} min; 30 min are wanted")
    )


def _least_current(plant: Plant) -> float:
    bank = plant.bank
    return 0.0 if bank.capacity == UNKNOWN else LEAST_RATE * float(bank.capacity) * len(bank.strings)


def _all_read(situation: Situation) -> list[Observation] | NotJudged | Waits:
    """Return the readings at the other places of the step, all taken within minutes of this one."""
    read, unread = alike(situation)
    if situation.reading is None:
        unread = [situation.ask.key, *unread]
    if unread:
        return Waits(tuple(unread), "it is compared with its like, which are not all read")
    own = situation.reading
    assert own is not None  # noqa: S101 - waited for above
    old = [item for item in read if abs((own.measured_at - item.measured_at).total_seconds()) > APART]
    if old:
        return Waits(tuple(item.key for item in old), "its like were read too long before")
    return read


def nominal_share(plant: Plant, string: str) -> tuple[Quantity, str]:
    """Return the share of the bank's current that a string should carry, and what it was worked out from."""
    strings = [item.id for item in plant.bank.strings]
    leads = {ident: _leads_of(plant, ident) for ident in strings}
    equal = limit(1.0 / len(strings), "1", f"equal share of {len(strings)} strings")
    if not all(leads.values()) or _linked_to_each_other(leads, strings):
        return equal, "leads of the strings not told: equal shares"
    own = _string_resistance(plant)
    ways = {
        ident: series_resistance.of(
            f"{ident} with its leads", resistances=[own, *(cable_resistance(run) for run in runs)]
        )
        for ident, runs in leads.items()
    }
    share = parallel_share.of(f"share of {string}", resistance=ways[string], resistances=list(ways.values()))
    if isinstance(share, Unknown):
        return equal, f"not known: {', '.join(share.missing)}; equal shares"
    return share, f"its share is {share.value:.1%} by its leads"


def _leads_of(plant: Plant, string: str) -> list[Run]:
    return [run for run in plant.site.runs if run.kind == "dc" and string in {run.from_, run.to}]


def _linked_to_each_other(leads: dict[str, list[Run]], strings: list[str]) -> bool:
    ends = [{run.from_, run.to} for runs in leads.values() for run in runs]
    return any(len(pair & set(strings)) > 1 for pair in ends)


def _string_resistance(plant: Plant) -> Quantity:
    told = fact(plant.bank, "resistance", "bank", "one string")
    if isinstance(told, Figure):
        return parallel_resistance.of("resistance of one string", resistances=[told])
    return bank_resistance.of(
        "resistance of one string, as is usual for the chemistry",
        cells=cells(plant),
        resistance_capacity=plant.cell("resistance_capacity"),
        capacity=fact(plant.bank, "capacity", "bank"),
        strings=1.0,
    )


# paralleled inverters


@expectation(
    "share of an inverter",
    says="the mean of the units on its leg; within 10 % good, beyond 20 % wrong; from half load on",
    source="common practice: shares are judged only at half load and more, with every unit awake",
)
def _inverter(situation: Situation) -> Expectation:
    unit = inverter_of(situation)
    mates = _mates(situation.plant, unit)
    if len(mates) < 2:
        return recorded(situation, f"{unit.label} is alone on its leg: there is nothing to share with")
    read = _all_read(situation)
    if not isinstance(read, list):
        return read
    assert situation.reading is not None  # noqa: S101 - waited for above
    power = condition(situation, "ac-load")
    if not isinstance(power, Figure):
        return power
    group = groups(situation.plant).get(unit.group or "", mates)
    whole = sum_of_powers.of("ratings of the group", powers=[derated(situation.plant, one) for one in group])
    if isinstance(whole, Figure) and power.value < HALF * whole.value:
        return NotJudged(f"shares are judged from half load: {HALF * whole.value:.0f} W here")
    names = {one.id for one in mates}
    own = situation.reading.figure
    others = [item.figure for item in read if names & set(item.key.parts)]
    asleep = [item for item in (own, *others) if item.value < AWAKE * own.value]
    if asleep or own.value <= 0.0:
        return NotJudged("a unit of the group is asleep: wake all of them first")
    found = share_deviation.of("deviation from the mean", current=own, currents=[own, *others])
    return weighed(found, f"among {1 + len(others)} units")


def _mates(plant: Plant, unit: InverterCharger) -> list[InverterCharger]:
    """Return the units that share a leg with a unit, itself among them."""
    units = groups(plant).get(unit.group or "", [unit])
    return [
        one for one in units if one.group_leg == unit.group_leg or UNKNOWN in {one.group_leg, unit.group_leg}
    ]
