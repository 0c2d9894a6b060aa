"""PV under load: strings beside each other, the yield of a controller, AC-coupled PV as a charger."""

from __future__ import annotations

from typing import Final

from commission.checklist.bands import around, at, band, edge_high, part_of, together
from commission.checklist.charging_now import bank_current_limit, current_limit, wanted_stage
from commission.checklist.conditions import condition
from commission.checklist.expectations.arrays import array_fact, strings_alike
from commission.checklist.lookup import ac_pv_of, array_of, limit, nominal_voltage, source_of
from commission.checklist.registry import expectation
from commission.checklist.situation import Situation
from commission.checklist.types import Expectation, NotJudged, Waits
from commission.figure import Figure, Quantity, least
from commission.formulas.ac_coupling import backfed_charge_current
from commission.formulas.arrays import array_power
from commission.formulas.bands import difference
from commission.formulas.pv_limits import controller_output_current
from commission.formulas.pv_strings import array_power_at, expected_maximum_power_current
from commission.formulas.uncertainty import root_sum_of_squares
from commission.plant.equipment import ChargeControllerClass
from commission.plant.plant import Plant, part_fact
from commission.plant.site import AcPvInverter
from commission.sheet.bank_state import COMMON

LEAST_LIGHT: Final = 400.0
"""Irradiance under which current and power of PV are not judged, W/m² (IEC 62446-1:2016)."""
SENSOR: Final = 0.05
"""Class of an ordinary irradiance sensor, share; common practice."""
SOILING: Final = 0.03
"""Soiling that nobody sees, share; common practice."""
MAKER: Final = 0.03
"""Power tolerance of modules and what a tracker misses, share; common practice."""


def allowance() -> Quantity:
    """Return the half-width of what PV should give, as a share: sensor, soiling and tolerance together."""
    parts = [
        limit(SENSOR, "1", "class of the irradiance sensor"),
        limit(SOILING, "1", "soiling"),
        limit(MAKER, "1", "tolerance of modules and tracking"),
    ]
    return root_sum_of_squares.of("sensor, soiling and tolerance", parts=parts).in_unit("1")


def _light_and_warmth(situation: Situation) -> tuple[Figure, ...] | Waits | NotJudged:
    found = together(condition(situation, "irradiance"), condition(situation, "module-temperature"))
    if isinstance(found, tuple) and found[0].value < LEAST_LIGHT:
        return NotJudged(f"{found[0].value:g} W/m² is too little light; at least {LEAST_LIGHT:g} W/m²")
    return found


@expectation(
    "running strings alike",
    says="within 5 % of the mean of the array's strings, all read one after the other in steady light",
    source="IEC 62446-1:2016, 6.5: like strings within 5 % of each other, read while they work",
)
def _alike(situation: Situation) -> Expectation:
    refused = wanted_stage(situation, "bulk")
    return strings_alike(situation) if refused is None else refused


@expectation(
    "current of a running array",
    says="strings × Imp × G ÷ 1000, for today's module temperature, ± sensor, soiling and tolerance",
    source="IEC 60891 in short; 5 % sensor, 3 % soiling and 3 % tolerance by common practice",
)
def _running(situation: Situation) -> Expectation:
    refused = wanted_stage(situation, "bulk")
    if refused is not None:
        return refused
    found = _light_and_warmth(situation)
    if not isinstance(found, tuple):
        return found
    light, warmth = found
    _, array = array_of(situation)
    nominal = expected_maximum_power_current.of(
        "current of the array at its best power",
        current=array_fact(situation, "maximum_power_current"),
        coefficient=array_fact(situation, "current_coefficient"),
        temperature=warmth,
        irradiance=light,
        strings=float(len(array.strings)),
    )
    half = part_of(nominal, allowance(), "allowance")
    return around(situation, nominal, half, says=at(situation, light, warmth))


@expectation(
    "yield of a controller",
    says="what the array can give now × efficiency ÷ bank voltage, or the controller's limit if that is less",
    source="power by irradiance and temperature; data sheets; 5 % sensor, 3 % soiling, 3 % tolerance",
)
def _yield(situation: Situation) -> Expectation:
    refused = wanted_stage(situation, "bulk")
    if refused is not None:
        return refused
    found, voltage = _light_and_warmth(situation), condition(situation, "bank-voltage")
    if not isinstance(found, tuple):
        return found
    if not isinstance(voltage, Figure):
        return voltage
    light, warmth = found
    source = source_of(situation)
    most = current_limit(situation, source)
    if not isinstance(most, Figure):
        return most
    if _switches(situation):
        nominal = _switched(situation, light, warmth)
    else:
        nominal = controller_output_current.of(
            "what the array can put into the bank now",
            power=_array_now(situation, light, warmth),
            efficiency=situation.plant.rating(source, "efficiency"),
            bank_voltage=voltage,
        )
    expected = least("array or limit of the source", nominal, most)
    half = part_of(expected, allowance(), "allowance")
    return around(situation, expected, half, says=at(situation, light, warmth, voltage))


def _switches(situation: Situation) -> bool:
    found = situation.plant.equipment[source_of(situation).id]
    return isinstance(found, ChargeControllerClass) and found.topology == "switched"


def _switched(situation: Situation, light: Figure, warmth: Figure) -> Quantity:
    """Return the current of an array that is only switched onto the bank: near its short-circuit current."""
    _, array = array_of(situation)
    return expected_maximum_power_current.of(
        "current of the array, switched onto the bank",
        current=array_fact(situation, "maximum_power_current"),
        coefficient=array_fact(situation, "current_coefficient"),
        temperature=warmth,
        irradiance=light,
        strings=float(len(array.strings)),
    )


def _array_now(situation: Situation, light: Figure, warmth: Figure) -> Quantity:
    _, array = array_of(situation)
    rated = array_power.of(
        "array at standard test conditions",
        module_power=array_fact(situation, "module_power"),
        series=array_fact(situation, "series"),
        strings=float(len(array.strings)),
    )
    return array_power_at.of(
        "array at this light and temperature",
        power=rated,
        coefficient=array_fact(situation, "power_coefficient"),
        temperature=warmth,
        irradiance=light,
    )


# AC-coupled PV as a charger


@expectation(
    "charge current from ac-pv",
    says="not more than its rating makes of the bank's voltage, and not over the bank's limit of the moment",
    source="power balance over the inverter; limit of the bank on the sheet",
)
def _coupled(situation: Situation) -> Expectation:
    most = bank_current_limit(situation)
    if not isinstance(most, Figure):
        return most
    plant = situation.plant
    rated = backfed_charge_current.of(
        "charge current of its rating",
        power=rated_power(plant, ac_pv_of(situation)),
        efficiency=_efficiency(situation),
        bank_voltage=nominal_voltage(plant),
    )
    high = least("most that it may drive into the bank", edge_high(rated, _tenth(rated)), most)
    return band(situation, low=limit(0.0, "A", "it charges", COMMON), high=high)


@expectation(
    "power of ac-pv into the bank",
    says="its AC power, less the load, × efficiency ÷ bank voltage",
    source="power balance over the inverter; a tenth by common practice",
)
def _balance(situation: Situation) -> Expectation:
    found = together(condition(situation, "ac-pv-power"), condition(situation, "ac-load"))
    voltage = condition(situation, "bank-voltage")
    if not isinstance(found, tuple):
        return found
    if not isinstance(voltage, Figure):
        return voltage
    power, load = found
    if power.value <= load.value:
        return NotJudged("the load takes all of it: nothing is left for the bank")
    net = _less(power, load)
    nominal = backfed_charge_current.of(
        "what is left for the bank",
        power=net,
        efficiency=_efficiency(situation),
        bank_voltage=voltage,
    )
    return around(situation, nominal, _tenth(nominal), says=at(situation, power, load, voltage))


def _tenth(value: Quantity) -> Quantity:
    return part_of(value, limit(0.1, "1", "a tenth"), "a tenth of it")


def _less(power: Figure, load: Figure) -> Quantity:
    return difference.of("AC power less the load", first=power, second=load).in_unit("W")


def _efficiency(situation: Situation) -> Quantity:
    plant = situation.plant
    found = [plant.rating(one, "charger_efficiency") for one in plant.site.inverter_chargers]
    return least("efficiency from AC to DC", *found) if found else limit(1.0, "1", "no loss counted")


def rated_power(plant: Plant, unit: AcPvInverter) -> Quantity:
    """Return the greatest power of an AC-coupled PV inverter: its rating, or its array's if less."""
    rated, array = plant.rating(unit, "rated_power"), part_fact(unit, "array_power")
    return least(f"power of {unit.label}", rated, array) if isinstance(array, Figure) else rated
