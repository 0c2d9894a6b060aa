"""Generators and public supplies: voltage, frequency, acceptance, charging, bonds, loss and return."""

from __future__ import annotations

from typing import Final

from commission.checklist.bands import around, at, band, edge_high, edge_low, part_of, together
from commission.checklist.charging_now import current_limit, recorded, step_of
from commission.checklist.conditions import beside, condition, earlier
from commission.checklist.expectations.charging_stage import with_accuracy
from commission.checklist.expectations.guards import timed
from commission.checklist.lookup import generator_of, inverter_of, known_or, limit
from commission.checklist.registry import expectation
from commission.checklist.situation import Situation
from commission.checklist.types import Expectation, NotJudged
from commission.figure import Figure, Quantity, greatest, least
from commission.formulas.bands import difference, share_of
from commission.formulas.governing import frequency_at_load, frequency_limit, voltage_limit
from commission.formulas.load_tests import active_power, charge_current_from_power, load_fraction
from commission.formulas.split_phase import line_to_line_voltage
from commission.plant.equipment import Input
from commission.plant.plant import Plant, part_fact
from commission.plant.site import InverterCharger
from commission.sheet.supplies import Supply, drawn_legs, supply_of

STEADY_VOLTAGE: Final = {"loose": 0.10, "close": 0.05}
"""Share by which a set's steady voltage may be off: twice the class's regulation, as small sets are built."""
STEADY_FREQUENCY: Final = {"loose": 0.025, "close": 0.015}
"""Steady frequency band, share of nominal (ISO 8528-5:2018, G1 and G2; from memory)."""
DROOP: Final = {"loose": 0.08, "close": 0.05}
"""Greatest droop, share of nominal (ISO 8528-5:2018, G1 and G2; from memory)."""
DIP_FREQUENCY: Final = {"loose": -0.15, "close": -0.10}
"""Frequency while load comes on, deviation from nominal (ISO 8528-5:2018, G1 and G2; from memory)."""
DIP_VOLTAGE: Final = {"loose": -0.25, "close": -0.20}
"""Voltage while load comes on, deviation from nominal (ISO 8528-5:2018, G1 and G2; from memory)."""
RISE_FREQUENCY: Final = {"loose": 0.18, "close": 0.12}
"""Frequency while load goes off, deviation from nominal (ISO 8528-5:2018, G1 and G2; from memory)."""
RISE_VOLTAGE: Final = {"loose": 0.35, "close": 0.25}
"""Voltage while load goes off, deviation from nominal (ISO 8528-5:2018, G1 and G2; from memory)."""
CLASSES: Final = "ISO 8528-5:2018, class G1 for loose sets, G2 for governed ones; from memory"
IN_PHASE: Final = 0.6
"""Share of twice a leg under which the legs are in phase, or one is turned round."""
FAR_OVER: Final = 1.2
"""Share of the nominal voltage at which work stops: a lost neutral or the wrong voltage."""
OVER_CUT_OFF: Final = 1.03
"""Distance that the voltage at the input keeps over the low edge of the accept window; common practice."""
PARALLEL_PATH: Final = 0.3
"""Current in the protective conductor under load over which there is a second bond, A; common practice."""
EXPECTED_CHARGE: Final = 0.1
"""Share by which a charge current worked out from the AC side may be off; common practice."""


def governed(situation: Situation) -> str:
    """Return how tightly a set is governed; one that is not told of counts as loose."""
    found = situation.plant.generator_class(generator_of(situation)).governed
    return found if found in STEADY_VOLTAGE else "loose"


def _share(table: dict[str, float], situation: Situation, name: str) -> Figure:
    return limit(table[governed(situation)], "1", name, CLASSES)


def fed_by(plant: Plant, source: str) -> list[tuple[InverterCharger, Input]]:
    """Return the inverter/chargers that have an AC source on an input, with that input."""
    return [
        (unit, kind)
        for unit in plant.site.inverter_chargers
        for kind, supply in unit.inputs.items()
        if supply == source
    ]


def accept_edges(
    situation: Situation, source: str, quantity: str, use: str
) -> tuple[list[Quantity], list[Quantity]]:
    """Return the low and high edges of the windows, as left, of the chargers that a source feeds.

    Parameters
    ----------
    quantity
        ``voltage`` or ``frequency``.
    use
        ``connect`` or ``disconnect``.
    """
    found: dict[str, list[Quantity]] = {"low": [], "high": []}
    for unit, kind in fed_by(situation.plant, source):
        for end, edges in found.items():
            edge = situation.left(unit.id, f"ac_input_{quantity}_{end}_{use}", kind)
            if isinstance(edge, Figure):
                edges.append(edge if quantity == "frequency" else _as_supplied(situation, unit, source, edge))
    return found["low"], found["high"]


def _as_supplied(situation: Situation, unit: InverterCharger, source: str, edge: Figure) -> Quantity:
    """Return an edge for one leg of a unit as the voltage that the source is read at.

    A single-phase set of 240 V feeds both 120 V legs of a unit: read at the set, its edges are twice as high.
    """
    own, supplied = situation.plant.rating(unit, "ac_voltage"), _voltage_of(situation.plant, source)
    if not isinstance(own, Figure) or not isinstance(supplied, Figure) or own.value <= 0.0:
        return edge
    lines = round(supplied.value / own.value)
    if lines <= 1:
        return edge
    return share_of.of(f"{edge.name}, over {lines} legs", value=edge, share=float(lines)).in_unit("V")


def _voltage_of(plant: Plant, source: str) -> Quantity:
    for generator in plant.site.generators:
        if generator.id == source:
            return plant.rating(generator, "ac_voltage")
    return plant.rule("ac_voltage")


# the set by itself


@expectation(
    "voltage of the set without load",
    says="nominal as its class of governing allows, inside the chargers' accept window; far over it stops",
    source="data sheet of the set; accept windows as left; 5 and 10 % by common practice",
)
def _no_load_voltage(situation: Situation) -> Expectation:
    generator = generator_of(situation)
    nominal = situation.plant.rating(generator, "ac_voltage")
    half = part_of(nominal, _share(STEADY_VOLTAGE, situation, "steady voltage"), "steady voltage")
    lows, highs = accept_edges(situation, generator.id, "voltage", "connect")
    low = greatest("least voltage without load", edge_low(nominal, half), *lows)
    high = least("greatest voltage without load", edge_high(nominal, half), *highs)
    stop = part_of(nominal, limit(FAR_OVER, "1", "far over"), "a lost neutral or the wrong set")
    return band(situation, low=low, nominal=nominal, high=high, stop_above=stop)


@expectation(
    "frequency of the set without load",
    says="its data sheet's, else nominal to nominal and the droop of its class; inside the accept window",
    source=f"data sheet of the set; {CLASSES}",
)
def _no_load_frequency(situation: Situation) -> Expectation:
    generator = generator_of(situation)
    plant = situation.plant
    nominal = plant.rating(generator, "ac_frequency")
    told = plant.rating(generator, "no_load_frequency")
    width = part_of(nominal, _share(STEADY_FREQUENCY, situation, "steady frequency"), "steady frequency")
    top = frequency_limit.of(
        "nominal and the droop of its class", nominal=nominal, deviation=_share(DROOP, situation, "droop")
    )
    known = isinstance(told, Figure)
    low = edge_low(told if known else nominal, width)
    high = edge_high(told if known else top, width)
    lows, highs = accept_edges(situation, generator.id, "frequency", "connect")
    return band(
        situation,
        low=greatest("least frequency without load", low, *lows),
        nominal=told if known else None,
        high=least("greatest frequency without load", high, *highs),
    )


@expectation(
    "between the legs of the source",
    says="twice one leg, by phasors; legs in phase give nothing, and work stops",
    source="phasors; steady voltage by the class of the set",
)
def _between(situation: Situation) -> Expectation:
    nominal, half, _ = nominal_here(situation)
    both = line_to_line_voltage.of(
        first=nominal, second=nominal, angle=limit(180.0, "°", "legs in opposition", "split phase")
    )
    twice = part_of(half, limit(2.0, "1", "both legs"), "allowance of both legs")
    below = part_of(both, limit(IN_PHASE, "1", "far under"), "legs in phase, or one turned round")
    return around(situation, both, twice, stop_below=below)


@expectation(
    "frequency of the set at this load",
    says="on the line from no load, as measured, down by its droop; inside the accept window",
    source=f"linear governor; data sheet of the set; {CLASSES}",
)
def _loaded_frequency(situation: Situation) -> Expectation:
    generator = generator_of(situation)
    plant = situation.plant
    nominal = plant.rating(generator, "ac_frequency")
    start, power = earlier(situation, "generator-no-load", "frequency"), beside(situation, "power")
    found = together(start, power)
    if not isinstance(found, tuple):
        return found
    no_load, taken = found
    told = known_or(plant.rating(generator, "frequency_droop"), DROOP[governed(situation)], CLASSES)
    full = difference.of(
        "frequency at full load", first=no_load, second=share_of.of("droop", value=nominal, share=told)
    ).in_unit("Hz")
    part = load_fraction.of("load of the set", output=taken, rating=plant.rating(generator, "rated_power"))
    line = frequency_at_load.of("frequency at this load", no_load=no_load, full_load=full, load_share=part)
    width = part_of(nominal, _share(STEADY_FREQUENCY, situation, "steady frequency"), "steady frequency")
    lows, highs = accept_edges(situation, generator.id, "frequency", "disconnect")
    return band(
        situation,
        low=greatest("least frequency", edge_low(line, width), *lows),
        nominal=line,
        high=least("greatest frequency", edge_high(line, width), *highs),
        says=at(situation, taken),
    )


@expectation(
    "voltage of the source under load",
    says="3 % and more over the low edge of the accept window, not over nominal by its class; far over stops",
    source="accept windows as left; data sheet of the set; 3 % by common practice",
)
def _loaded_voltage(situation: Situation) -> Expectation:
    nominal, half, source = nominal_here(situation)
    lows, highs = accept_edges(situation, source, "voltage", "disconnect")
    kept = [part_of(edge, limit(OVER_CUT_OFF, "1", "3 % over"), f"3 % over the {edge.name}") for edge in lows]
    low = greatest("least voltage under load", edge_low(nominal, half), *kept)
    high = least("greatest voltage under load", edge_high(nominal, half), *highs)
    stop = part_of(nominal, limit(FAR_OVER, "1", "far over"), "a lost neutral")
    return band(situation, low=low, nominal=nominal, high=high, stop_above=stop)


def nominal_here(situation: Situation) -> tuple[Quantity, Quantity, str]:
    """Return voltage, allowance and id of the AC source that a step concerns."""
    plant, utility = situation.plant, situation.plant.site.utility
    if utility is not None and utility.id in situation.step.parts:
        own = part_fact(utility, "ac_voltage")
        supplied = own if isinstance(own, Figure) else plant.rule("ac_voltage")
        over = difference.of(
            "allowance", first=plant.rule("utility_voltage_high"), second=limit(1.0, "1", "nominal")
        ).in_unit("1")
        return supplied, part_of(supplied, over, "allowance"), utility.id
    generator = generator_of(situation)
    nominal = plant.rating(generator, "ac_voltage")
    share = _share(STEADY_VOLTAGE, situation, "steady voltage")
    return nominal, part_of(nominal, share, "steady voltage"), generator.id


# load comes on and goes off


@expectation("frequency as load comes on", says="not under the dip of its class", source=CLASSES)
def _dip_frequency(situation: Situation) -> Expectation:
    nominal = situation.plant.rating(generator_of(situation), "ac_frequency")
    low = frequency_limit.of("least", nominal=nominal, deviation=_share(DIP_FREQUENCY, situation, "dip"))
    return band(situation, low=low)


@expectation("voltage as load comes on", says="not under the dip of its class", source=CLASSES)
def _dip_voltage(situation: Situation) -> Expectation:
    nominal = situation.plant.rating(generator_of(situation), "ac_voltage")
    low = voltage_limit.of("least", nominal=nominal, deviation=_share(DIP_VOLTAGE, situation, "dip"))
    return band(situation, low=low)


@expectation("frequency as load goes off", says="not over the rise of its class", source=CLASSES)
def _rise_frequency(situation: Situation) -> Expectation:
    nominal = situation.plant.rating(generator_of(situation), "ac_frequency")
    high = frequency_limit.of(
        "greatest", nominal=nominal, deviation=_share(RISE_FREQUENCY, situation, "rise")
    )
    return band(situation, high=high)


@expectation("voltage as load goes off", says="not over the rise of its class", source=CLASSES)
def _rise_voltage(situation: Situation) -> Expectation:
    nominal = situation.plant.rating(generator_of(situation), "ac_voltage")
    high = voltage_limit.of("greatest", nominal=nominal, deviation=_share(RISE_VOLTAGE, situation, "rise"))
    return band(situation, high=high, stop_above=high)


# acceptance


def input_named(situation: Situation, unit: InverterCharger) -> Input | None:
    """Return the AC input of a unit that a step is about."""
    return next((kind for kind, supply in unit.inputs.items() if supply in situation.step.parts), None)


@expectation(
    "time to be accepted",
    says="the connect delay as left, a tenth and 5 s either way for the hand on the watch",
    source="setting as left; a tenth and 5 s by common practice",
)
def _accepted(situation: Situation) -> Expectation:
    unit = inverter_of(situation)
    delay = situation.left(unit.id, "ac_input_connect_delay", input_named(situation, unit))
    if not isinstance(delay, Figure):
        return band(
            situation,
            low=limit(5.0, "s", "shortest delay of the trade"),
            high=limit(300.0, "s", "longest delay of the trade"),
            says=f"the delay of {unit.label} is not known: 5 s to 5 min are usual",
        )
    return timed(situation, delay)


@expectation(
    "current taken from the AC source",
    says="not over the input limit as left, half a step and the device's accuracy more",
    source="setting as left; data sheet of the device",
)
def _taken(situation: Situation) -> Expectation:
    unit = inverter_of(situation)
    most = situation.left(unit.id, "ac_input_current_limit", input_named(situation, unit))
    if most is None:
        return NotJudged(f"{unit.label} has no limit of the current that it takes")
    if situation.plant.inverter_class(unit).ac_limit_counts == "charger only":
        return NotJudged("the limit counts the charger only: judge by the charge current")
    accuracy = known_or(situation.plant.rating(unit, "current_accuracy"), 0.03)
    more = edge_high(most, part_of(most, accuracy, "accuracy of the device"))
    step = step_of(situation.plant, unit, "ac_input_current_limit").in_unit("A")
    return band(
        situation, nominal=most, high=edge_high(more, part_of(step, limit(0.5, "1", "half"), "half a step"))
    )


@expectation(
    "charge current from the AC source",
    says="what the power taken makes of the bank's voltage, or the charger's limit where that is less",
    source="power balance; data sheet of the charger; a tenth by common practice",
)
def _charge(situation: Situation) -> Expectation:
    unit = inverter_of(situation)
    most = current_limit(situation, unit)
    if not isinstance(most, Figure):
        return most
    high = with_accuracy(situation, unit, most)
    asked = (beside(situation, "input"), beside(situation, "voltage"), beside(situation, "load"))
    found = together(*asked, condition(situation, "bank-voltage"))
    if not isinstance(found, tuple):
        return found
    current, voltage, load, bank = found
    kind = input_named(situation, unit)
    supply = None if kind is None else supply_of(situation.plant, unit, kind)
    if supply is None:
        return NotJudged(f"no AC source is named on an input of {unit.label}")
    legs = _legs(situation.plant, unit, supply)
    taken = active_power.of(
        "power taken",
        voltage=voltage,
        current=current,
        power_factor=situation.plant.rating(unit, "charger_power_factor"),
        legs=legs,
    )
    nominal = charge_current_from_power.of(
        "charge current of that power",
        power=taken,
        load=load,
        efficiency=situation.plant.rating(unit, "charger_efficiency"),
        bank_voltage=bank,
    )
    half = part_of(nominal, limit(EXPECTED_CHARGE, "1", "a tenth"), "a tenth")
    top = least("most charge current", edge_high(nominal, half), high)
    return band(
        situation, low=edge_low(nominal, half), nominal=nominal, high=top, says=at(situation, current, bank)
    )


def _legs(plant: Plant, unit: InverterCharger, supply: Supply) -> float:
    legs = drawn_legs(plant, unit, supply)
    return float(len(legs)) if isinstance(legs, tuple) else 1.0


# bonds


@expectation(
    "protective conductor under load",
    says="next to nothing: current there means a second bond of neutral and earth",
    source="IEC 60364-5-54; 0.3 A for filters and leakage by common practice",
)
def _protective(situation: Situation) -> Expectation:
    return band(situation, high=limit(PARALLEL_PATH, "A", "leakage of filters"))


@expectation(
    "neutral to earth on this source",
    says="at most what the rule set allows; not judged where the mode has no bond",
    source="rule set; earthing plan of the site",
)
def _neutral(situation: Situation) -> Expectation:
    for point in situation.plant.site.earthing.modes:
        if point.mode in situation.step.parts and point.earthing == "IT":
            return recorded(situation, "this mode has no bond: the insulation monitor watches it")
    return band(situation, high=situation.plant.rule("neutral_earth_voltage"))
