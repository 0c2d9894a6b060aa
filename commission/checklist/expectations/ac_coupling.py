"""AC-coupled PV on an island: idle frequency, a full bank, load rejection, return, interlock."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from commission.checklist.bands import (
    at,
    band,
    edge_high,
    edge_low,
    missing,
    part_of,
    stopped,
    together,
)
from commission.checklist.charging_now import stop_voltage
from commission.checklist.conditions import beside, condition
from commission.checklist.expectations.guards import timed
from commission.checklist.expectations.pv_yield import rated_power
from commission.checklist.lookup import ac_pv_of, limit, whole
from commission.checklist.registry import expectation
from commission.checklist.situation import Situation
from commission.checklist.types import Expectation, NotJudged, Waits
from commission.figure import Figure, Quantity, Unknown, greatest, least
from commission.formulas.bands import difference
from commission.formulas.charging import clamped_temperature, compensated_voltage, per_cell
from commission.formulas.commissioning_tests import no_load_power
from commission.formulas.frequency_shift import held_frequency
from commission.formulas.lithium import charge_margin_voltage
from commission.formulas.load_control import sum_of_powers
from commission.formulas.load_tests import load_fraction
from commission.formulas.uncertainty import root_sum_of_squares
from commission.plant.plant import Plant, fact
from commission.plant.site import AcPvInverter
from commission.sheet.bank_state import cells
from commission.sheet.responses import response_fact

OVER_ABSORPTION: Final = 0.02
"""Share over absorption that a full bank may be lifted while frequency throttles; common practice."""
POWER: Final = 0.05
"""Accuracy of a PV inverter's power, share of its rating (IEEE 1547-2018, table 3)."""
STEADY: Final = 0.1
"""What an island's frequency may be out by, Hz; common practice."""
AFTER_A_SECOND: Final = 1.10
PEAK: Final = 1.20
"""Shares of the nominal voltage after a load is thrown off: after 1 s, and at any time."""
MARGIN: Final = 0.050
"""Distance of one cell to the battery's cut-off where its maker gives none, V; common practice."""


@expectation(
    "frequency without throttling",
    says="inside the window in which the PV inverter returns; outside it PV stays away for good",
    source="return window of the PV inverter: data sheet, site file or rule set",
)
def _idle(situation: Situation) -> Expectation:
    plant, unit = situation.plant, ac_pv_of(situation)
    return band(
        situation,
        low=response_fact(plant, unit, "return_low"),
        high=response_fact(plant, unit, "return_high"),
    )


@expectation(
    "time before pv returns",
    says="the delay of the PV inverter, a tenth and 5 s either way for the hand on the watch",
    source="data sheet, site file or rule set; a tenth and 5 s by common practice",
)
def _delay(situation: Situation) -> Expectation:
    return timed(situation, response_fact(situation.plant, ac_pv_of(situation), "return_delay"))


@expectation(
    "time of the ramp",
    says="the ramp of the PV inverter, a tenth and 5 s either way; not judged where the sun holds it back",
    source="data sheet, site file or rule set; a tenth and 5 s by common practice",
)
def _ramp(situation: Situation) -> Expectation:
    reached = beside(situation, "full")
    if isinstance(reached, Figure) and reached.value != 1.0:
        return NotJudged("it did not come to the power that it had before: sun or load changed")
    return timed(situation, response_fact(situation.plant, ac_pv_of(situation), "return_ramp"))


# a full bank


def _units(situation: Situation) -> tuple[AcPvInverter, ...]:
    return situation.plant.site.ac_pv_inverters


def common_response(plant: Plant, units: Sequence[AcPvInverter], field: str) -> Quantity:
    """Return a number that the responses of all PV inverters share; not known where they differ."""
    found = [response_fact(plant, unit, field) for unit in units]
    gaps = missing(*found)
    if gaps:
        return Unknown((gaps,), "Hz", field)
    known = [item for item in found if isinstance(item, Figure)]
    if len({item.value for item in known}) > 1:
        gap = f"one {field.replace('_', ' ')}: the PV inverters answer differently"
        return Unknown((gap,), known[0].unit, field)
    return known[0]


def _base(plant: Plant, units: Sequence[AcPvInverter]) -> str:
    own = {plant.ac_pv_class(unit).response.kind: plant.ac_pv_class(unit).response.base for unit in units}
    if "unknown" in own:
        return plant.rules.response.base
    return next(iter(own.values()), "unknown")


@expectation(
    "frequency of a full bank",
    says="where the line of the PV inverters holds just the load, under their slow trip; held for 6 min",
    source="inverse of the droop; IEEE 1547-2018 or EN 50549-1; 5 % of rating and 0.1 Hz as allowance",
)
def _held(situation: Situation) -> Expectation:
    plant, units = situation.plant, _units(situation)
    if any(plant.ac_pv_class(unit).response.kind == "none" for unit in units):
        return NotJudged("a PV inverter only trips: its frequency is not held but passed")
    found = together(beside(situation, "before"), condition(situation, "ac-load"))
    if not isinstance(found, tuple):
        return found
    before, load = found
    if load.value > before.value:
        return NotJudged("the load takes more than PV gave before: nothing is throttled")
    start, zero = (common_response(plant, units, field) for field in ("start", "zero"))
    slow = common_response(plant, units, "slow_trip")
    nominal = _line(plant, units, before, load, start, zero)
    if isinstance(nominal, Unknown):
        return NotJudged(f"not known: {missing(nominal)}")
    if isinstance(slow, Figure) and nominal.value >= slow.value:
        return NotJudged(
            f"{nominal.value:.2f} Hz would hold {load.value:.0f} W, over the slow trip at "
            f"{slow.value:.2f} Hz: PV will come and go, not throttle"
        )
    half = _allowance(start, zero)
    high = edge_high(nominal, half)
    top = least("line or slow trip", high, slow) if isinstance(slow, Figure) else high
    return band(
        situation, low=edge_low(nominal, half), nominal=nominal, high=top, says=at(situation, before, load)
    )


def _line(
    plant: Plant, units: Sequence[AcPvInverter], before: Figure, load: Figure, start: Quantity, zero: Quantity
) -> Quantity:
    base = _base(plant, units)
    if base == "unknown":
        return Unknown(("whether the droop of the PV inverters refers to rating or to the moment",), "Hz")
    whole_rating = sum_of_powers.of(
        "PV inverters together", powers=[rated_power(plant, one) for one in units]
    )
    refers = whole_rating if base == "rating" else before
    held = load_fraction.of("power to be held", output=load, rating=refers)
    one = limit(1.0, "1", "power as the line begins")
    given_before = load_fraction.of("power before", output=before, rating=refers) if base == "rating" else one
    return held_frequency.of(
        "frequency that holds the load",
        power=held,
        power_before=least("power before, at most the rating", given_before, one),
        start=start,
        zero=zero,
    )


def _allowance(start: Quantity, zero: Quantity) -> Quantity:
    width = difference.of("width of the line", first=zero, second=start).in_unit("Hz")
    parts = [
        part_of(
            width, limit(POWER, "1", "accuracy of power", "IEEE 1547-2018, table 3"), "accuracy of power"
        ),
        limit(STEADY, "Hz", "accuracy of the island's frequency"),
    ]
    return root_sum_of_squares.of("allowance", parts=parts).in_unit("Hz")


@expectation(
    "pv power on a full bank",
    says="the load and what the bank still takes, 5 % of the rating more",
    source="power balance; accuracy of a PV inverter by IEEE 1547-2018, table 3",
)
def _power(situation: Situation) -> Expectation:
    asked = ("ac-load", "bank-current", "bank-voltage")
    found = together(*(condition(situation, ident) for ident in asked))
    if not isinstance(found, tuple):
        return found
    load, current, voltage = found
    plant = situation.plant
    rated = sum_of_powers.of(
        "PV inverters together", powers=[rated_power(plant, one) for one in _units(situation)]
    )
    slack = part_of(rated, limit(POWER, "1", "accuracy of power", "IEEE 1547-2018, table 3"), "accuracy")
    parts: list[Quantity] = [load, slack]
    if current.value > 0.0:
        parts.append(no_load_power.of("what the bank takes", voltage=voltage, current=current))
    high = sum_of_powers.of("load, bank and allowance", powers=parts)
    return band(situation, high=high, says=at(situation, load, current))


def absorption_now(situation: Situation) -> Quantity | Waits | NotJudged:
    """Return the highest absorption as left of any source at the battery's temperature of the moment."""
    plant = situation.plant
    temperature = condition(situation, "battery-temperature")
    if not isinstance(temperature, Figure):
        return temperature
    held = [situation.left(source.id, "absorption_voltage", None) for source in plant.sources]
    known = [value for value in held if isinstance(value, Figure)]
    wanted = whole(plant, plant.cell("absorption_voltage"), "absorption of the chemistry, whole bank")
    setpoint = greatest("highest absorption as left", *known) if known else wanted
    clamped = clamped_temperature.of(
        temperature=temperature,
        low=plant.cell("temperature_clamp_low"),
        high=plant.cell("temperature_clamp_high"),
    )
    return compensated_voltage.of(
        "absorption at this temperature",
        cells=cells(plant),
        reference=per_cell.of("absorption of one cell", bank_voltage=setpoint, cells=cells(plant)),
        slope=plant.cell("temperature_slope"),
        temperature=clamped,
        temperature_reference=plant.cell("temperature_reference"),
    )


@expectation(
    "dc voltage of a full bank",
    says="not over absorption + 2 %, the battery's limits and the least device maximum; there work stops",
    source="settings as left; battery profile; greatest DC voltages; 2 % by common practice",
)
def _voltage(situation: Situation) -> Expectation:
    stop = stop_voltage(situation)
    danger = stopped(situation, None, stop)
    if danger is not None:
        return danger
    absorption = absorption_now(situation)
    if isinstance(absorption, Waits | NotJudged):
        return absorption
    lifted = edge_high(
        absorption, part_of(absorption, limit(OVER_ABSORPTION, "1", "2 %"), "2 % of it"), "absorption + 2 %"
    )
    candidates = [lifted, *(item for item in (stop, _cut_off(situation.plant)) if isinstance(item, Figure))]
    return band(situation, high=least("most that a full bank may stand at", *candidates), stop_above=stop)


def _cut_off(plant: Plant) -> Quantity | None:
    """Return the voltage a margin under the management system's cut-off; None where there is none."""
    management = plant.bank.management
    if management is None:
        return None
    told = fact(management, "cut_off_high", "bank.management", "the management system")
    own = fact(management, "margin", "bank.management", "the management system")
    margin = own if isinstance(own, Figure) else limit(MARGIN, "V", "margin of one cell under the cut-off")
    return charge_margin_voltage.of(
        "cut-off less its margin", cells=cells(plant), cell_limit=told, margin=margin
    )


# PV leaves


@expectation(
    "highest frequency as pv leaves",
    says="past the fast trip it is gone; never over the end of the shift as left",
    source="settings as left; fast trip of the PV inverter",
)
def _leaves(situation: Situation) -> Expectation:
    ends = [
        situation.left(unit.id, "frequency_shift_end", None)
        for unit in situation.plant.site.inverter_chargers
    ]
    known = [end for end in ends if isinstance(end, Figure)]
    if not known:
        return NotJudged("no inverter shifts its frequency: the end of the shift is not left at a number")
    high = greatest("end of the shift as left", *known)
    return band(situation, high=edge_high(high, limit(STEADY, "Hz", "accuracy of the island's frequency")))


@expectation(
    "dc voltage as the load goes",
    says="under the charge disconnect of every source as left; at the bus maximum work stops",
    source="settings as left; greatest DC voltages of the devices",
)
def _rejected(situation: Situation) -> Expectation:
    plant = situation.plant
    held = [situation.left(source.id, "charge_disconnect_voltage", None) for source in plant.sources]
    held += [situation.left(unit.id, "load_high_disconnect_voltage", None) for unit in plant.sources]
    known = [value for value in held if isinstance(value, Figure)]
    stop = stop_voltage(situation)
    candidates = [*known, *([stop] if isinstance(stop, Figure) else [])]
    if not candidates:
        return NotJudged(f"not known: {missing(stop)}")
    return band(situation, high=least("first disconnect, or the bus maximum", *candidates), stop_above=stop)


@expectation(
    "ac voltage a second after the load went",
    says="not over 1.10 of nominal",
    source="IEEE 1547-2018, table 13, OV1; common practice on islands",
)
def _second(situation: Situation) -> Expectation:
    nominal = situation.plant.rule("ac_voltage")
    return band(situation, high=part_of(nominal, limit(AFTER_A_SECOND, "1", "1.10"), "1.10 of nominal"))


@expectation(
    "highest ac voltage as the load goes",
    says="never over 1.20 of nominal; there work stops",
    source="IEEE 1547-2018, table 13, OV2",
)
def _peak(situation: Situation) -> Expectation:
    most = part_of(situation.plant.rule("ac_voltage"), limit(PEAK, "1", "1.20"), "1.20 of nominal")
    return band(situation, high=most, stop_above=most)


@expectation(
    "lowest power of the generator",
    says="never under nothing: a set cannot take power back; there work stops",
    source="common practice; IEEE C37.102 on reverse power",
)
def _reverse(situation: Situation) -> Expectation:
    nothing = limit(0.0, "W", "no power")
    back = part_of(
        sum_of_powers.of("rating of the set", powers=_set_ratings(situation)), limit(0.05, "1", "5 %"), "5 %"
    )
    return band(situation, low=nothing, stop_below=edge_low(nothing, back, "back-feed"))


def _set_ratings(situation: Situation) -> list[Quantity]:
    sets = situation.plant.site.generators
    found = [situation.plant.rating(unit, "rated_power") for unit in sets]
    return found or [limit(0.0, "W", "no set")]
