"""AC output in island mode: voltages, legs, frequency, contacts, bonds, protective devices, first load."""

from __future__ import annotations

from typing import Final

from commission.checklist.bands import around, at, band, compared, edge_high, edge_low, part_of, together
from commission.checklist.conditions import beside, condition
from commission.checklist.lookup import guard_of, inverter_of, known_or, limit, rested_bank
from commission.checklist.predicates import legs, supplies
from commission.checklist.registry import Place, expectation
from commission.checklist.situation import Situation
from commission.checklist.types import Expectation, NotJudged
from commission.figure import Figure, Quantity, given
from commission.formulas.bands import share_of
from commission.formulas.bank_wiring import parallel_resistance
from commission.formulas.commissioning_tests import no_load_power
from commission.formulas.generator import leg_rated_current
from commission.formulas.low_end import bank_resistance, sagged_voltage
from commission.formulas.overcurrent import inverter_direct_current
from commission.formulas.split_phase import line_to_line_voltage
from commission.plant.plant import Plant, fact, part_fact
from commission.sheet.bank_state import cells

OVER_VOLTAGE: Final = 1.2
"""Share of the nominal voltage at which work stops: the next system's voltage, or a lost neutral."""
WRONG_LEGS: Final = 0.6
"""Share of the voltage between legs under which they are in phase, or one is turned round."""
NO_LOAD: Final = 0.02
"""Half-width of an inverter's voltage without load where its data sheet is silent, share; common practice."""
FREQUENCY: Final = 0.1
"""Half-width of an inverter's frequency where its data sheet is silent, Hz; common practice."""
CONTACT: Final = 5.0
"""Voltage across an open paralleling contact under which it may be closed, V; common practice."""
CIRCULATING: Final = 0.05
"""Circulating current of paralleled units without load, share of rated current; common practice: 2 to 5 %."""
IDLE_SPREAD: Final = 0.2
"""Share by which a draw without load may differ from the data sheet; common practice."""


def leg_voltage(situation: Situation) -> Quantity:
    """Return the output voltage of a leg: as left on the device, else of its class."""
    unit = inverter_of(situation)
    left = situation.left(unit.id, "ac_output_voltage", None)
    return left if isinstance(left, Figure) else situation.plant.rating(unit, "ac_voltage")


@expectation(
    "output voltage of a leg",
    says="voltage as set, ± the data sheet's tolerance; far over it (240 V where 120 V is due) stops",
    source="data sheet of the inverter; 2 % where it is silent, common practice",
)
def _voltage(situation: Situation) -> Expectation:
    nominal = leg_voltage(situation)
    tolerance = known_or(situation.plant.rating(inverter_of(situation), "output_voltage_tolerance"), NO_LOAD)
    above = part_of(nominal, limit(OVER_VOLTAGE, "1", "far over"), "a wrong leg or a lost neutral")
    return around(situation, nominal, part_of(nominal, tolerance, "tolerance"), stop_above=above)


def angle_between(plant: Plant, situation: Situation) -> float:
    """Return the angle between two legs: opposed in a split phase, a third of a turn in three phases."""
    found = supplies(plant, Place(situation.step.parts)) or supplies(plant, Place())
    made = legs(plant, [unit for units in found for unit in units])
    return 180.0 if made == ("1", "2") and plant.rules.split_phase else 120.0


@expectation(
    "voltage between legs",
    says="by phasors, ± the tolerance of a leg; legs in phase or one turned round stops",
    source="phasors; data sheet of the inverter",
)
def _between(situation: Situation) -> Expectation:
    leg, turn = leg_voltage(situation), angle_between(situation.plant, situation)
    angle = limit(turn, "°", "angle between the legs", "split phase 180°, three phases 120°")
    nominal = line_to_line_voltage.of(first=leg, second=leg, angle=angle)
    tolerance = known_or(situation.plant.rating(inverter_of(situation), "output_voltage_tolerance"), NO_LOAD)
    below = part_of(nominal, limit(WRONG_LEGS, "1", "far under"), "legs in phase, or one turned round")
    above = part_of(nominal, limit(OVER_VOLTAGE, "1", "far over"), "a wrong leg")
    half = part_of(nominal, tolerance, "tolerance")
    return around(situation, nominal, half, stop_below=below, stop_above=above)


@expectation(
    "output frequency",
    says="frequency as set, ± the data sheet's tolerance",
    source="data sheet of the inverter; 0.1 Hz where it is silent, common practice",
)
def _frequency(situation: Situation) -> Expectation:
    unit = inverter_of(situation)
    left = situation.left(unit.id, "ac_output_frequency", None)
    nominal = left if isinstance(left, Figure) else situation.plant.rating(unit, "ac_frequency")
    tolerance = known_or(situation.plant.rating(unit, "output_frequency_tolerance"), FREQUENCY)
    return around(situation, nominal, tolerance.in_unit("Hz"))


@expectation(
    "open paralleling contact",
    says="at most 5 V across it; a whole leg's voltage is a wrong leg or phase and stops",
    source="phasors: 2 V sin(angle ÷ 2); 5 V by common practice",
)
def _contact(situation: Situation) -> Expectation:
    most = limit(CONTACT, "V", "voltage across an open contact")
    wrong = leg_voltage(situation).named("a leg's whole voltage: 60° apart or a wrong leg")
    return band(situation, high=most, stop_above=wrong)


@expectation(
    "circulating current",
    says="at most 5 % of a unit's rated current without load",
    source="common practice: 2 to 5 % of rated current",
)
def _circulating(situation: Situation) -> Expectation:
    plant, unit = situation.plant, inverter_of(situation)
    count = float(plant.inverter_class(unit).ac_legs)
    across = share_of.of("voltage over all its legs", value=plant.rating(unit, "ac_voltage"), share=count)
    rated = leg_rated_current.of(
        "rated current of a leg", rating=plant.rating(unit, "continuous_power"), line_voltage=across
    )
    most = part_of(rated, limit(CIRCULATING, "1", "a twentieth"), "5 % of rated current")
    return band(situation, high=most)


@expectation(
    "neutral to earth",
    says="at most what the rule set allows between neutral and earth",
    source="rule set; a low-impedance meter",
)
def _neutral(situation: Situation) -> Expectation:
    return band(situation, high=situation.plant.rule("neutral_earth_voltage"))


@expectation(
    "draw without load",
    says="power drawn from the bank within 20 % of the data sheet",
    source="data sheet of the inverter; a fifth by common practice",
)
def _idle(situation: Situation) -> Expectation:
    voltage = beside(situation, "voltage")
    if not isinstance(voltage, Figure):
        return voltage
    idle = situation.plant.rating(inverter_of(situation), "idle_power")
    if situation.reading is None:
        return band(situation, low=_current(idle, voltage, 0.8), high=_current(idle, voltage, 1.2))
    power = no_load_power.of("power drawn", voltage=voltage, current=situation.reading.figure)
    half = part_of(idle, limit(IDLE_SPREAD, "1", "a fifth"), "a fifth of the data sheet's draw")
    return compared(power, low=edge_low(idle, half), high=edge_high(idle, half), says="as power")


def _current(power: Quantity, voltage: Figure, share: float) -> Quantity:
    part = share_of.of(f"{share:g} of the data sheet's draw", value=power, share=share).in_unit("W")
    return inverter_direct_current.of(
        "current of the draw without load", power=part, efficiency=1.0, voltage=voltage
    )


@expectation(
    "service voltage",
    says="the rule set's range of supply voltage for one leg or phase",
    source="rule set: ANSI C84.1, or EN 50160 and IEC 60038",
)
def _service(situation: Situation) -> Expectation:
    rule = situation.plant.rule
    nominal = rule("ac_voltage")
    low = part_of(nominal, rule("ac_voltage_low"), "least service voltage")
    high = part_of(nominal, rule("ac_voltage_high"), "greatest service voltage")
    above = part_of(nominal, limit(OVER_VOLTAGE, "1", "far over"), "a wrong leg or a lost neutral")
    return band(situation, low=low, nominal=nominal, high=high, stop_above=above)


# residual-current devices


@expectation(
    "residual-current time",
    says="at most the rule set's time at rated residual current",
    source="IEC 61008-1; rule set",
)
def _trip_time(situation: Situation) -> Expectation:
    return band(situation, high=situation.plant.rule("residual_time"))


@expectation(
    "residual current",
    says="trips between half and the whole of its rated residual current",
    source="IEC 60364-6; IEC 61008-1",
)
def _trip_current(situation: Situation) -> Expectation:
    rated = part_fact(guard_of(situation), "residual_current")
    half = part_of(rated, limit(0.5, "1", "half", "IEC 61008-1"), "no trip up to half of it")
    return band(situation, low=half, high=rated)


# the first load


@expectation(
    "dc voltage under load",
    says="rested voltage at the state of charge less the sag of the load; the bank's resistance is a range",
    source="constant power behind a resistance; resistance is known within a factor of two until measured",
)
def _under_load(situation: Situation) -> Expectation:
    found = together(condition(situation, "state-of-charge"), beside(situation, "power"))
    if not isinstance(found, tuple):
        return found
    state, power = found
    if power.value <= 0:
        return NotJudged("no load is on")
    plant = situation.plant
    curve = plant.battery.open_circuit_voltage
    spread = given(
        curve.spread * plant.bank.cells,
        "V",
        "spread of the rested voltage, whole bank",
        kind="profile",
        where=f"{plant.battery.id}.open_circuit_voltage.spread",
        source=curve.source,
    )
    rest = rested_bank(plant, state)
    weak, strong = resistance_range(plant)
    low = _sagged(situation, edge_low(rest, spread), weak, power)
    high = _sagged(situation, edge_high(rest, spread), strong, power)
    return band(situation, low=low, high=high, says=at(situation, power, also=(f"{state.value:.0%} charge",)))


def resistance_range(plant: Plant) -> tuple[Quantity, Quantity]:
    """Return the greatest and least resistance that the bank may have before it has been measured."""
    told = fact(plant.bank, "resistance", "bank")
    strings = len(plant.bank.strings)
    if isinstance(told, Figure):
        whole = parallel_resistance.of("resistance of the bank", resistances=[told] * strings)
        return (
            share_of.of("a fifth more", value=whole, share=1.2).in_unit("Ω"),
            share_of.of("a fifth less", value=whole, share=0.8).in_unit("Ω"),
        )
    least_, most = plant.cell_range("resistance_capacity")
    usual = plant.cell("resistance_capacity")
    return _bank(plant, most or usual, "greatest"), _bank(plant, least_ or usual, "least")


def _bank(plant: Plant, per_cell: Quantity, word: str) -> Quantity:
    return bank_resistance.of(
        f"{word} resistance of the bank",
        cells=cells(plant),
        resistance_capacity=per_cell,
        capacity=fact(plant.bank, "capacity", "bank"),
        strings=float(len(plant.bank.strings)),
    )


def _sagged(situation: Situation, rest: Quantity, resistance: Quantity, power: Figure) -> Quantity:
    efficiency = situation.plant.rating(inverter_of(situation), "inverter_efficiency")
    return sagged_voltage.of(
        "bank under this load", rest_voltage=rest, resistance=resistance, power=power, efficiency=efficiency
    )
