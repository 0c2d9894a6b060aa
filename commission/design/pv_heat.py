"""PV strings when their cells are hot: what they hold at maximum power, and what the bank asks of them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from commission.design.direct import operating_voltage
from commission.design.pv_array import PvArray, array_fact, array_name, string_fact
from commission.design.pv_carriers import array_circuits
from commission.figure import Figure, Gap, Quantity, Unknown, given, greatest
from commission.formulas.cell_temperature import (
    EXPONENTIAL_MOUNTINGS,
    back_temperature,
    cell_temperature_nominal,
    cell_temperature_over_back,
)
from commission.formulas.charging import sum_of_currents
from commission.formulas.conductors import voltage_drop
from commission.formulas.load_control import share_of_current
from commission.formulas.pv_limits import least_in_series
from commission.formulas.pv_ratings import aged_voltage, needed_string_voltage
from commission.formulas.pv_strings import hot_maximum_power_voltage
from commission.plant.once import once
from commission.plant.plant import fact
from commission.plant.site import PvString
from commission.plant.values import UNKNOWN
from commission.sheet.cables import cable_resistance
from commission.sheet.draft import Draft
from commission.sheet.reached import End, reached
from commission.sheet.temperature import climate

COMMON: Final = "common practice"
AGE: Final = given(0.05, "1", "allowance for age of modules", source=COMMON)
_LIGHT: Final = given(1000.0, "W/m²", "full light", source="IEC 60904-3, standard test conditions")
_WIND: Final = given(1.0, "m/s", "light wind", source="IEC 61215, definition of NOCT")
_HOT: Final = given(70.0, "°C", "hot cell: 70 °C taken, the hottest air is not told", source=COMMON)
_USUAL: Final = given(
    47.0,
    "°C",
    "NOCT: 47 °C taken, not told",
    source=f"{COMMON}; median of a public database of modules 46.3 °C, 99 of 100 under 51.4 °C",
)
_MOUNTINGS: Final = {
    "open rack": "open rack, glass and polymer",
    "close to roof": "close roof mount, glass and glass",
    "insulated back": "insulated back, glass and polymer",
}
_SAPM: Final = "SAND2004-3535, table 1"


@dataclass(frozen=True)
class Season:
    """One time of the year: how warm the cells are then, and what the bank is charged to."""

    words: str
    cell: Quantity
    charge: Quantity


# cells


def cell_temperature(pv: PvArray, air: Quantity) -> Quantity:
    """Return the temperature of the array's cells in full light, in °C.

    By the module's NOCT, which holds for an open rack; where the way of mounting is told, the warmer of the
    two models; by a usual NOCT where neither is told.
    """
    name = f"cells of {array_name(pv.controller)}"
    told = array_fact(pv.controller, "nominal_cell_temperature")
    mounting = pv.array.mounting
    nominal = told if isinstance(told, Figure) or mounting != UNKNOWN else _USUAL
    found = []
    if isinstance(nominal, Figure):
        found.append(
            cell_temperature_nominal.of(name, air=air, irradiance=_LIGHT, nominal_cell_temperature=nominal)
        )
    if mounting != UNKNOWN and (mounting != "open rack" or not found):
        found.append(_by_mounting(name, air, mounting))
    return found[0] if len(found) == 1 else greatest(name, *found)


def _by_mounting(name: str, air: Quantity, mounting: str) -> Quantity:
    offset, slope, difference = EXPONENTIAL_MOUNTINGS[_MOUNTINGS[mounting]]
    back = back_temperature.of(
        f"back of the modules, {mounting}",
        air=air,
        irradiance=_LIGHT,
        wind=_WIND,
        offset=given(offset, "1", f"offset of {mounting}", source=_SAPM),
        slope=given(slope, "s/m", f"slope with wind of {mounting}", source=_SAPM),
    )
    over = given(difference, "K", f"cell over back, {mounting}", source=_SAPM)
    return cell_temperature_over_back.of(name, back=back, irradiance=_LIGHT, difference=over)


def hottest_cell(pv: PvArray) -> Quantity:
    """Return the hottest that the array's cells get, in °C: 70 °C where the hottest air is not told."""
    air = fact(pv.plant.site.site, "hottest_ambient", "site")
    return _HOT if isinstance(air, Unknown) else cell_temperature(pv, air)


def winter_cell(pv: PvArray) -> Quantity:
    """Return the array's cells at a bright midday of the coldest month, in °C.

    The air of that midday is not told: the bank's mean of that month stands for it, which errs to the warm
    side, where the string's voltage is lower.
    """
    air = climate(pv.plant).coldest_month
    return cell_temperature(pv, air.named("air at midday of the coldest month, taken as the bank's mean"))


# voltages


def hot_voltage(pv: PvArray, string: PvString, cell: Quantity, modules: int | None = None) -> Quantity:
    """Return what an aged string holds at maximum power with its cells at a temperature, in V."""
    count: Quantity | float = string_fact(pv.controller, string, "series") if modules is None else modules
    new = hot_maximum_power_voltage.of(
        "maximum-power voltage of a string with hot cells",
        module_voltage=string_fact(pv.controller, string, "maximum_power_voltage"),
        modules=count,
        coefficient=array_fact(pv.controller, "power_coefficient"),
        temperature=cell,
    )
    return aged_voltage.of("maximum-power voltage of an aged string", voltage=new, allowance=AGE)


def charged_to(pv: PvArray, end: End, *, equalize: bool = False) -> Quantity:
    """Return the highest voltage that the controller charges to at a battery temperature, in V."""
    draft = Draft(pv.plant, settings={one.key: one for one in pv.scene.sheet.settings})
    absorption = reached(draft, pv.controller, "absorption", end)
    raised = reached(draft, pv.controller, "equalize", end) if equalize else None
    if absorption is None:
        gap = f"absorption voltage of {pv.controller.label}"
        return Unknown((Gap(gap, helps="a controller whose absorption voltage is known"),), "V", gap)
    return absorption if raised is None else greatest(f"highest charge, {raised.name}", absorption, raised)


@once
def heat(pv: PvArray) -> Season:
    """Return the hottest time of the year: the hottest cells, and the bank in its hottest month."""
    return Season("in the heat", hottest_cell(pv), charged_to(pv, "hottest_month"))


@once
def winter(pv: PvArray) -> Season:
    """Return the coldest month: its cells at midday, and the bank at its coldest."""
    cell = winter_cell(pv)
    return Season("in the coldest month", cell, charged_to(pv, "coldest", equalize=True))


def between(pv: PvArray) -> Season:
    """Return what the seasons keep apart: the hottest cells while the bank is still at its coldest."""
    return Season(
        "with hot cells and a cold bank", hottest_cell(pv), charged_to(pv, "coldest", equalize=True)
    )


def needed_voltage(pv: PvArray, string: PvString, charge: Quantity) -> Quantity:
    """Return what a string must hold for the controller to bring the bank to a voltage, in V."""
    return needed_string_voltage.of(
        f"what {pv.controller.label} needs of a string",
        charge_voltage=charge,
        headroom=_headroom(pv),
        drop=_drop(pv, string),
    )


def _headroom(pv: PvArray) -> Quantity:
    """Return what the controller needs over its battery: nothing where it only closes a switch."""
    if pv.topology == "switched":
        return given(0.0, "V", f"headroom of {pv.controller.label}: it only switches", source=COMMON)
    return pv.plant.rating(pv.controller, "pv_start_over_bank")


def _drop(pv: PvArray, string: PvString) -> Quantity:
    """Return what the conductors from a string take: by their runs, else the rule set's greatest share."""
    name = f"drop between {array_name(pv.controller)} and {pv.controller.label}"
    ways = {
        frozenset({one.run.from_, one.run.to}): one  # of runs side by side one
        for one in array_circuits(pv)
        if one.part in {pv.id, string.id}
    }
    drops = [
        voltage_drop.of(f"drop of {one.run.label}", current=one.working, resistance=cable_resistance(one.run))
        for one in ways.values()
    ]
    if drops and all(isinstance(drop, Figure) for drop in drops):
        return sum_of_currents.of(name, currents=drops).in_unit("V")
    voltage = operating_voltage(pv.controller, string)
    share = pv.plant.rule("drop_array")
    return share_of_current.of(f"{name}, the greatest allowed", share=share, current=voltage).in_unit("V")


def least_count(pv: PvArray, string: PvString) -> int:
    """Return the fewest modules in series that charge the bank all the year; 1 where that is not known."""
    if pv.topology == "boost":
        return 1
    counts = [
        least_in_series.of(
            charge_voltage=needed_voltage(pv, string, season.charge),
            headroom=0.0,
            module_voltage=hot_voltage(pv, string, season.cell, modules=1),
        )
        for season in (heat(pv), winter(pv))
    ]
    return int(max([1.0, *(count.value for count in counts if isinstance(count, Figure))]))
