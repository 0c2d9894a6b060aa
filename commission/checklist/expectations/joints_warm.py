"""Joints and conductors that carry full load: voltage over them, and how warm they get."""

from __future__ import annotations

from dataclasses import replace
from typing import Final

from commission.checklist.bands import at, band, compared, in_unit, missing
from commission.checklist.conditions import column, condition
from commission.checklist.lookup import limit, run_of
from commission.checklist.registry import expectation
from commission.checklist.runs import JOINT
from commission.checklist.situation import Situation
from commission.checklist.types import Expectation, Expected, NotJudged, Waits
from commission.figure import Band, Figure, Quantity, Unknown, greatest, least
from commission.formulas.bands import share_of
from commission.formulas.charging import sum_of_currents
from commission.formulas.commissioning_tests import joint_voltage
from commission.formulas.joints import LEAST_LOAD_SHARE, least_joint_current, rise_at_full_load
from commission.formulas.overcurrent import inverter_direct_current
from commission.plant.plant import Plant, part_fact
from commission.plant.site import ChargeController, InverterCharger, Run
from commission.plant.values import UNKNOWN
from commission.sheet.bank_state import whole
from commission.sheet.cables import path_to_bank

METER: Final = 1e-4
"""What an ordinary voltmeter on its millivolt range is out by, V; common practice."""
OVER_LOWEST: Final = 1.5
"""Resistance of a joint over the lowest of its like from which it is looked into: 50 % over."""
LIKE: Final = 3.0
"""Rise over a like joint that is still possible in good order, K (ANSI/NETA MTS, table 100.18; memory)."""
MAJOR: Final = 15.0
"""Rise over a like joint from which it is a major deficiency, K (the same table)."""


@expectation(
    "voltage over a joint",
    says="current × what a good joint resists, and not 50 % over the lowest of its like",
    source="50 µΩ a joint by common practice; 50 % over the lowest: service guides for standby batteries",
)
def _voltage(situation: Situation) -> Expectation:
    current = condition(situation, "run-current")
    if not isinstance(current, Figure):
        return current
    size = replace(current, value=abs(current.value))
    one = _good_joint(run_of(situation))
    needed = least_joint_current.of(
        voltage_uncertainty=limit(METER, "V", "millivolt range"), resistance_limit=one
    )
    if isinstance(needed, Figure) and size.value < needed.value:
        return NotJudged(f"{size.value:.3g} A is too little; {needed.value:.3g} A at least for a joint")
    high = joint_voltage.of("most over a good joint", current=size, resistance=one)
    alone = band(situation, high=high, says=at(situation, size))
    if situation.reading is None or not isinstance(high, Figure):
        return alone
    over = situation.reading.figure.value > in_unit(high, situation.reading.figure.unit).value
    read, unread = column(situation)
    return alone if over or unread or not read else _beside_lowest(situation, [item.figure for item in read])


def _good_joint(run: Run) -> Quantity:
    """Return the greatest resistance of a joint that is not looked into: half as much again as a good one."""
    told = part_fact(run, "joint_resistance")
    one = told if isinstance(told, Figure) else limit(JOINT, "Ω", "resistance of a good joint")
    return share_of.of("greatest resistance of a joint", value=one, share=OVER_LOWEST).in_unit("Ω")


def _beside_lowest(situation: Situation, others: list[Figure]) -> Expectation:
    assert situation.reading is not None  # noqa: S101 - asked by the caller
    own = situation.reading.figure
    lowest = least("lowest of its like", own, *(in_unit(item, own.unit) for item in others))
    high = share_of.of("50 % over the lowest of its like", value=lowest, share=OVER_LOWEST).in_unit(own.unit)
    return band(situation, high=high, says=f"among {len(others) + 1}")


@expectation(
    "joint warmer than its like",
    says="at most 3 K over a like joint, scaled to full load; from 15 K work stops",
    source="ANSI/NETA MTS, table 100.18, from memory; scaled by the square of the current above 40 % load",
)
def _rise(situation: Situation) -> Expectation:
    current = condition(situation, "run-current")
    if not isinstance(current, Figure):
        return current
    full = full_current(situation.plant, run_of(situation))
    if isinstance(full, Unknown):
        return NotJudged(f"not known: {missing(full)}")
    size = replace(current, value=abs(current.value))
    if size.value < LEAST_LOAD_SHARE * full.value:
        return NotJudged(f"{size.value:.3g} A is under 40 % of {full.value:.3g} A: heat tells nothing yet")
    if situation.reading is None:
        return Waits((situation.ask.key,), "nothing is read yet")
    scaled = rise_at_full_load.of(
        "rise at full load", rise=situation.reading.figure, current=size, full_current=full
    )
    high = limit(LIKE, "K", "rise over a like joint", "ANSI/NETA MTS, table 100.18; from memory")
    made = compared(scaled, high=high, says=at(situation, size, full))
    return _stopping(made) if isinstance(made, Expected) else made


def _stopping(made: Expected) -> Expected:
    stop = limit(MAJOR, "K", "major deficiency", "ANSI/NETA MTS, table 100.18; from memory")
    held = made.band
    return replace(made, band=Band(held.low, held.nominal, held.high, held.unit, None, stop))


def full_current(plant: Plant, run: Run) -> Quantity:
    """Return the current of a DC run at the rating of what hangs on it, drawn or charged."""
    drawn, given_ = [], []
    for source in plant.sources:
        path = path_to_bank(plant, source.id) or ()
        if run.id not in {part.id for part in path}:
            continue
        if isinstance(source, InverterCharger):
            drawn.append(_drawn(plant, source))
            given_.append(plant.rating(source, "charger_current"))
        elif isinstance(source, ChargeController):
            given_.append(plant.rating(source, "output_current"))
    sums = [
        sum_of_currents.of(name, currents=found)
        for name, found in (("drawn", drawn), ("charged", given_))
        if found
    ]
    if not sums:
        return _by_protection(plant, run)
    return greatest(f"full current of {run.label}", *sums)


def _drawn(plant: Plant, unit: InverterCharger) -> Quantity:
    return inverter_direct_current.of(
        f"DC current of {unit.label} at its rating",
        power=plant.rating(unit, "continuous_power"),
        efficiency=plant.rating(unit, "inverter_efficiency"),
        voltage=whole(plant, "nominal_cell_voltage"),
    )


def _by_protection(plant: Plant, run: Run) -> Quantity:
    guard = plant.protection_of(run.protection)
    if guard is None:
        return Unknown((f"what {run.label} carries at full load",), "A", run.label)
    return part_fact(guard, "rating")


@expectation(
    "conductor at full load",
    says="under what insulation and terminals stand",
    source="site file: ratings of insulation and terminals",
)
def _conductor(situation: Situation) -> Expectation:
    run = run_of(situation)
    told = [
        part_fact(run, field)
        for field in ("insulation_temperature", "terminal_temperature")
        if getattr(run, field) != UNKNOWN
    ]
    if not told:
        return NotJudged(f"not known: rating of insulation and terminals of {run.label}")
    most = least("rating of insulation and terminals", *told)
    return band(situation, high=most, stop_above=most)
