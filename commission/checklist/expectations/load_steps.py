"""Load steps to full: what to put on, what the bank then measures as, sag, output, efficiency, starts."""

from __future__ import annotations

from dataclasses import replace
from typing import Final

from commission.checklist.bands import (
    around,
    at,
    band,
    compared,
    edge_low,
    in_unit,
    missing,
    part_of,
)
from commission.checklist.charging_now import recorded
from commission.checklist.conditions import beside, condition, earlier
from commission.checklist.expectations.ac_output import leg_voltage, resistance_range
from commission.checklist.lookup import inverter_of, limit, nominal_voltage, whole
from commission.checklist.registry import expectation
from commission.checklist.situation import Situation
from commission.checklist.types import Expectation, Expected, NotJudged, Waits
from commission.figure import Figure, Quantity, Unknown, given, greatest, least
from commission.formulas.bands import difference, share_of
from commission.formulas.commissioning_tests import no_load_power
from commission.formulas.conductors import voltage_drop
from commission.formulas.fault_current import two_point_resistance
from commission.formulas.generator import derating_between_rows
from commission.formulas.load_control import sum_of_powers
from commission.formulas.load_tests import efficiency_measured, loaded_by_measured_resistance
from commission.plant.plant import Plant, fact, part_fact
from commission.plant.site import InverterCharger
from commission.plant.values import UNKNOWN
from commission.sheet.discharge import bank_discharge_limit
from commission.sheet.draft import Draft

STEP: Final = 0.2
"""Share within which a part load is set; common practice."""
NEARLY: Final = 0.9
"""Share of full load that counts as full; common practice."""
MEASURED: Final = 0.1
"""Half-width of later steps, share of the sag that the measured resistance gives; common practice."""
STARTING: Final = 0.85
"""Share of the nominal voltage that is left while the greatest motor starts; common practice."""
BELOW_SHEET: Final = 0.02
"""Points of efficiency under the data sheet that are still right; common practice."""
LEAST_STEP: Final = 0.02
"""Current of the first step under which the bank's resistance is not measured, A per Ah; common practice."""


# what to put on


def derated(plant: Plant, unit: InverterCharger) -> Quantity:
    """Return what an inverter gives for long at the hottest air of its room and the site's altitude."""
    rated = plant.rating(unit, "continuous_power")
    found = plant.inverter_class(unit)
    air, height = fact(plant.site.site, "room_temperature", "site"), fact(plant.site.site, "altitude", "site")
    for rows, value, word in (
        (found.ambient_derating, air, "temperature"),
        (found.altitude_derating, height, "altitude"),
    ):
        if len(rows) < 2 or isinstance(value, Unknown):
            continue
        where = f"{found.id}.{word}_derating"
        factor = derating_between_rows.of(
            f"derating of {unit.label} by {word}",
            value=value,
            values=[given(row.at, value.unit, word, kind="profile", where=where) for row in rows],
            factors=[given(min(row.factor, 1.0), "1", "factor", kind="profile", where=where) for row in rows],
        )
        rated = share_of.of(f"{unit.label}, derated by {word}", value=rated, share=factor).in_unit("W")
    return rated.in_unit("W")


def full_load(plant: Plant) -> Quantity:
    """Return the load of a full test: what the inverters give for long, or less where the bank gives less."""
    units = plant.site.inverter_chargers
    if not units:
        direct = [part_fact(load, "power") for load in plant.site.loads if load.current == "dc"]
        return _summed("all DC loads together", direct) if direct else Unknown(("loads",), "W", "load")
    rated = _summed("inverters together, for long", [derated(plant, unit) for unit in units])
    from_bank = bank_power(plant)
    return rated if from_bank is None else least("load of a full test", rated, from_bank)


def bank_power(plant: Plant) -> Quantity | None:
    """Return the AC power that the bank's discharge limit allows; None where the limit is not known."""
    most = bank_discharge_limit(Draft(plant))
    if isinstance(most, Unknown):
        return None
    power = no_load_power.of(
        "DC power at the bank's discharge limit", voltage=nominal_voltage(plant), current=most
    )
    efficiencies = [plant.rating(unit, "inverter_efficiency") for unit in plant.site.inverter_chargers]
    known = [item for item in efficiencies if isinstance(item, Figure)]
    efficiency = least("least efficiency", *known) if known else limit(0.9, "1", "efficiency, not told")
    return share_of.of("what the bank's discharge limit allows", value=power, share=efficiency).in_unit("W")


def _summed(name: str, powers: list[Quantity]) -> Quantity:
    return powers[0] if len(powers) == 1 else sum_of_powers.of(name, powers=powers)


def _to_set(situation: Situation, share: float, word: str) -> Expectation:
    full = full_load(situation.plant)
    wanted = part_of(full, limit(share, "1", word), f"{word} load")
    says = f"full is {full.binding().name}" if isinstance(full, Figure) else ""
    return around(situation, wanted, part_of(wanted, limit(STEP, "1", "a fifth"), "a fifth"), says=says)


@expectation(
    "half load",
    says="half of what the inverters give for long at this site, or of what the bank may give",
    source="data sheets, derated; discharge limit of the bank; a fifth by common practice",
)
def _half(situation: Situation) -> Expectation:
    return _to_set(situation, 0.5, "half")


@expectation(
    "three-quarter load",
    says="three quarters of what the inverters give for long at this site, or of what the bank may give",
    source="data sheets, derated; discharge limit of the bank; a fifth by common practice",
)
def _three_quarters(situation: Situation) -> Expectation:
    return _to_set(situation, 0.75, "three-quarter")


@expectation(
    "full load",
    says="what the inverters give for long at this site, or what the bank may give if that is less",
    source="data sheets, derated; discharge limit of the bank; a tenth by common practice",
)
def _full(situation: Situation) -> Expectation:
    full = full_load(situation.plant)
    low = part_of(full, limit(NEARLY, "1", "nine tenths"), "least that counts as full load")
    over = part_of(full, limit(1.02, "1", "meter"), "most that may be put on")
    says = f"full is {full.binding().name}" if isinstance(full, Figure) else ""
    return band(situation, low=low, nominal=full, high=over, says=says)


# the bank measures itself


@expectation(
    "bank resistance",
    says="(rested − loaded) ÷ current after 60 s, within the range of the chemistry",
    source="Ohm's law; battery profile or maker; known only within a factor of two before it is measured",
)
def _resistance(situation: Situation) -> Expectation:
    found = _first_step(situation)
    if not isinstance(found, tuple):
        return found
    rested, before, current = found
    weak, strong = resistance_limits(situation.plant)
    if situation.reading is None:
        low = _loaded(rested, before, current, weak, "least")
        return band(situation, low=low, high=_loaded(rested, before, current, strong, "greatest"))
    measured = _measured(rested, before, situation.reading.figure, current)
    limits = [_in_milliohms(item) for item in (measured, strong, weak)]
    return compared(limits[0], low=limits[1], high=limits[2], says=at(situation, current))


def _in_milliohms(value: Quantity) -> Quantity:
    return in_unit(value, "mΩ") if isinstance(value, Figure) else value.in_unit("mΩ")


def resistance_limits(plant: Plant) -> tuple[Quantity, Quantity]:
    """Return greatest and least resistance of the bank before it is measured: a factor of two if so told."""
    told = fact(plant.bank, "resistance", "bank")
    weak, strong = resistance_range(plant)
    if isinstance(told, Unknown):
        return weak, strong
    return (
        share_of.of("greatest resistance believed", value=weak, share=2.0 / 1.2).in_unit("Ω"),
        share_of.of("least resistance believed", value=strong, share=0.5 / 0.8).in_unit("Ω"),
    )


def _first_step(situation: Situation) -> tuple[Figure, Figure, Figure] | Waits | NotJudged:
    """Return rested voltage, current before and current of the first load step, currents without sign."""
    rested, before = earlier(situation, "load-rest"), earlier(situation, "load-rest", "current")
    current = beside(situation, "current")
    for found in (rested, before, current):
        if not isinstance(found, Figure):
            return found
    assert isinstance(rested, Figure) and isinstance(before, Figure) and isinstance(current, Figure)  # noqa: S101, PT018
    step = abs(current.value) - abs(before.value)
    bank = situation.plant.bank
    needed = 0.0 if bank.capacity == UNKNOWN else LEAST_STEP * float(bank.capacity) * len(bank.strings)
    if step < needed or step <= 0.0:
        return NotJudged(f"a step of {step:.3g} A is too little to measure; {needed:.3g} A at least")
    return rested, _size(before), _size(current)


def _size(figure: Figure) -> Figure:
    return replace(figure, value=abs(figure.value))


def _measured(rested: Figure, before: Figure, loaded: Figure, current: Figure) -> Quantity:
    return two_point_resistance.of(
        "resistance that the first load step measures",
        first_voltage=rested,
        first_current=before,
        second_voltage=loaded,
        second_current=current,
    )


def _loaded(rested: Figure, before: Figure, current: Figure, resistance: Quantity, word: str) -> Quantity:
    return loaded_by_measured_resistance.of(
        f"{word} voltage at the posts",
        rested=rested,
        current_before=before,
        current=current,
        resistance=resistance,
    )


def measured_resistance(situation: Situation) -> Figure | Waits | NotJudged:
    """Return the resistance of the bank that the first load step of this visit measured."""
    asked = {
        "rested": earlier(situation, "load-rest"),
        "before": earlier(situation, "load-rest", "current"),
        "loaded": earlier(situation, "load-half"),
        "current": earlier(situation, "load-half", "current"),
    }
    figures: dict[str, Figure] = {}
    for name, found in asked.items():
        if not isinstance(found, Figure):
            return found
        figures[name] = found
    made = _measured(
        figures["rested"], _size(figures["before"]), figures["loaded"], _size(figures["current"])
    )
    return made if isinstance(made, Figure) else NotJudged(f"not known: {missing(made)}")


@expectation(
    "voltage by the measured resistance",
    says="rested voltage less the sag by the resistance that the first step measured, ± a tenth of the sag",
    source="Ohm's law; a tenth by common practice; end of discharge and cut-offs of battery and devices",
)
def _later(situation: Situation) -> Expectation:
    resistance, current = measured_resistance(situation), beside(situation, "current")
    rested, before = earlier(situation, "load-rest"), earlier(situation, "load-rest", "current")
    for found in (resistance, current, rested, before):
        if not isinstance(found, Figure):
            return found
    assert isinstance(resistance, Figure) and isinstance(current, Figure)  # noqa: S101, PT018 - asked above
    assert isinstance(rested, Figure) and isinstance(before, Figure)  # noqa: S101, PT018 - asked above
    nominal = _loaded(rested, _size(before), _size(current), resistance, "expected")
    step = difference.of("further current", first=_size(current), second=_size(before)).in_unit("A")
    sag = voltage_drop.of("sag of the bank", current=step, resistance=resistance)
    half = part_of(sag, limit(MEASURED, "1", "a tenth"), "a tenth of the sag")
    return around(
        situation, nominal, half, stop_below=least_voltage(situation), says=at(situation, current, resistance)
    )


def least_voltage(situation: Situation) -> Quantity:
    """Return the voltage of the bank at which a load test stops work."""
    plant = situation.plant
    lowest, _ = plant.cell_range("end_of_discharge_voltage")
    found: list[Quantity] = [
        whole(plant, lowest or plant.cell("end_of_discharge_voltage"), "end of discharge, whole bank")
    ]
    if plant.bank.management is not None:
        cut_off = fact(plant.bank.management, "cut_off_low", "bank.management", "the management system")
        if isinstance(cut_off, Figure):
            found.append(whole(plant, cut_off, "cut-off of the management system, whole bank"))
    return greatest("voltage at which the load comes off at once", *found)


# what the inverters then do


@expectation(
    "output voltage under load",
    says="voltage as set within the rule set's service range; far over it stops",
    source="rule set: ANSI C84.1, or EN 50160 and IEC 60038; data sheet of the inverter",
)
def _output(situation: Situation) -> Expectation:
    nominal, rule = leg_voltage(situation), situation.plant.rule
    low = part_of(nominal, rule("ac_voltage_low"), "least voltage under load")
    high = part_of(nominal, rule("ac_voltage_high"), "greatest voltage under load")
    stop = part_of(nominal, limit(1.2, "1", "far over"), "a lost neutral")
    return band(situation, low=low, nominal=nominal, high=high, stop_above=stop)


@expectation(
    "voltage while a motor starts",
    says="at least 85 % of the voltage as set",
    source="common practice",
)
def _start(situation: Situation) -> Expectation:
    nominal = leg_voltage(situation)
    return band(situation, low=part_of(nominal, limit(STARTING, "1", "85 %"), "least at a start"))


@expectation(
    "efficiency of an inverter",
    says="power given over power taken, not more than two points under the data sheet",
    source="data sheet of the inverter; two points by common practice; informs only",
)
def _efficiency(situation: Situation) -> Expectation:
    voltage, current = beside(situation, "dc-voltage"), beside(situation, "dc-current")
    if not isinstance(voltage, Figure):
        return voltage
    if not isinstance(current, Figure):
        return current
    sheet = situation.plant.rating(inverter_of(situation), "inverter_efficiency")
    low = edge_low(sheet, limit(BELOW_SHEET, "1", "two points"), "least efficiency")
    high = limit(1.0, "1", "nothing gives more than it takes")
    if situation.reading is None or isinstance(low, Unknown):
        return (
            NotJudged(f"not known: {missing(low)}")
            if isinstance(low, Unknown)
            else _as_power(situation, voltage, current, low)
        )
    found = efficiency_measured.of(
        "efficiency", output=situation.reading.figure, voltage=voltage, current=_size(current)
    )
    made = compared(found, low=low, high=high, says=at(situation, voltage, current))
    return replace(made, decides=False) if isinstance(made, Expected) else made


def _as_power(situation: Situation, voltage: Figure, current: Figure, low: Quantity) -> Expectation:
    taken = no_load_power.of("power taken", voltage=voltage, current=_size(current))
    least_given = share_of.of("least power given", value=taken, share=low).in_unit("W")
    return band(situation, low=least_given, high=taken)


@expectation(
    "voltage at a dc load",
    says="the bank's voltage of the moment less 5 % at most",
    source="common practice: 5 % between bank and the furthest load",
)
def _dc_load(situation: Situation) -> Expectation:
    bank = condition(situation, "bank-voltage")
    if not isinstance(bank, Figure):
        return bank
    low = part_of(bank, limit(0.95, "1", "95 %"), "least at a load")
    high = part_of(bank, limit(1.005, "1", "two readings"), "the bank itself")
    return band(situation, low=low, high=high, says=at(situation, bank))


@expectation(
    "current that the bank may give",
    says="not over the bank's discharge limit, nor over what the battery tells at the moment",
    source="discharge limit by cells, management and protection; limit that the battery tells",
)
def _given(situation: Situation) -> Expectation:
    plant = situation.plant
    own = bank_discharge_limit(Draft(plant))
    candidates = [own] if isinstance(own, Figure) else []
    management = plant.bank.management
    if management is not None and management.data_link is True:
        heard = condition(situation, "told-discharge-limit")
        if not isinstance(heard, Figure):
            return heard
        candidates.append(heard)
    if not candidates:
        return recorded(situation, f"limit not known: {missing(own)}")
    most = least("most that the bank may give now", *candidates)
    return band(
        situation, high=most, says=f"limit: {most.binding().name}" if isinstance(most, Figure) else ""
    )
