"""AC-coupled PV on the bus that the inverters make: what fits it, what it may push back, what parts it."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import Final

from commission.design.compared import over
from commission.design.coupled_units import power_of, pv_legs, units_beside
from commission.design.inverter_supplies import unit_legs
from commission.design.source_fit import SINKS, STANDS
from commission.design.types import Found, Remedy, Scene
from commission.design.words import gap, shown
from commission.figure import Figure, Quantity, given, greatest
from commission.formulas.bands import difference
from commission.formulas.load_control import sum_of_powers
from commission.formulas.windows import window_voltage
from commission.plant.change import Change
from commission.plant.plant import Plant, fact, part_fact
from commission.plant.site import AcPvInverter, Generator
from commission.sheet.coupling import idle_frequency
from commission.sheet.responses import response_fact
from commission.sheet.types import Finding, Kind

_BREAKS: Final = given(1.2, "1", "voltage over nominal at which it breaks", source="IEEE 1547-2018, table 13")
_BOTH_LEGS: Final = given(2.0, "1", "two legs in opposition over one", source="definition of split phase")
_PHASES: Final = given(
    math.sqrt(3.0), "1", "between two phases over one", source="definition of three phases"
)
_COMPARED: Final = ("start", "zero", "slow_trip", "fast_trip", "return_high", "return_delay")


def check_ac_coupled(scene: Scene) -> Iterator[Found]:
    """Find AC-coupled PV that does not fit its bus, is too much for it, or meets another source on it."""
    plant = scene.plant
    if not plant.site.ac_pv_inverters or not plant.site.inverter_chargers:
        return
    for pv in plant.site.ac_pv_inverters:
        yield from _voltage(scene, pv)
        yield from _frequency(scene, pv)
        yield from _placed(plant, pv)
    for generator in plant.site.generators:
        yield from _generator(scene, generator)
    yield from _utility(scene)
    yield from _restart(plant)


# what fits the bus


def _voltage(scene: Scene, pv: AcPvInverter) -> Iterator[Found]:
    """Find a PV inverter of another voltage than the bus has between the conductors that it sits on."""
    plant = scene.plant
    own = plant.rating(pv, "ac_voltage")
    leg = greatest(
        "voltage of one leg", *(plant.rating(unit, "ac_voltage") for unit in units_beside(plant, pv))
    )
    missing = gap("pv-voltage", (pv.id,), own, leg)
    if missing is not None:
        yield missing
    if not isinstance(own, Figure) or not isinstance(leg, Figure):
        return
    bus = min(_between(plant, pv, leg), key=lambda volts: abs(volts.value - own.value))
    stands = window_voltage.of("voltage that it stands", nominal=own, share=STANDS)
    sinks = window_voltage.of("voltage at which it works", nominal=own, share=SINKS)
    breaks = window_voltage.of("voltage at which it breaks", nominal=own, share=_BREAKS)
    if not (isinstance(stands, Figure) and isinstance(sinks, Figure) and isinstance(breaks, Figure)):
        return
    if sinks.value - 1e-9 <= bus.value <= stands.value + 1e-9:
        return
    high = bus.value > stands.value
    what = "it may be destroyed" if bus.value > breaks.value else "it never connects"
    kind: Kind = "stop" if bus.value > breaks.value else "correct"
    finding = Finding(
        kind,
        "pv-voltage",
        (pv.id,),
        f"{pv.label} is made for {shown(scene, own)}, its bus has {shown(scene, bus)}: {what}",
        value=bus,
        limit=stands if high else sinks,
    )
    change = (Change(f"{pv.where}.datasheet.ac_voltage", bus.value),)
    yield Found(finding, (Remedy(f"a PV inverter for {shown(scene, bus)}", passes=bus, change=change),))


def _between(plant: Plant, pv: AcPvInverter, leg: Figure) -> list[Figure]:
    """Return the voltages that the bus may have between the conductors of a PV inverter."""
    line = window_voltage.of("voltage between two phases", nominal=leg, share=_PHASES)
    both = window_voltage.of("voltage across both legs", nominal=leg, share=_BOTH_LEGS)
    legs = len(pv_legs(plant, pv))
    found = {0: (leg, both, line), 1: (leg,), 2: (both,), 3: (leg, line)}[legs]
    return [volts for volts in found if isinstance(volts, Figure)]


def _frequency(scene: Scene, pv: AcPvInverter) -> Iterator[Found]:
    """Find a PV inverter of another frequency, where its return window does not already say so."""
    plant = scene.plant
    told = any(one.check == "idle-in-return-window" and pv.id in one.parts for one in scene.sheet.findings)
    if told:
        return
    own = plant.rating(pv, "ac_frequency")
    for unit in units_beside(plant, pv):
        idle = idle_frequency(plant, unit)
        off = difference.of("off its frequency", first=idle, second=own)
        if isinstance(off, Figure) and abs(off.value) > 0.5 and isinstance(idle, Figure):
            text = f"{pv.label} is made for another frequency than the {shown(scene, idle)} of {unit.label}"
            remedy = f"a PV inverter for {shown(scene, idle)}"
            yield Found(Finding("correct", "pv-frequency", (pv.id,), text, remedy, value=own, limit=idle))
            return
    missing = gap(
        "pv-frequency", (pv.id,), own, *(idle_frequency(plant, unit) for unit in units_beside(plant, pv))
    )
    if missing is not None:
        yield missing


def _placed(plant: Plant, pv: AcPvInverter) -> Iterator[Found]:
    """Find a PV inverter whose leg in the file is not one that its class can feed."""
    across = plant.ac_pv_class(pv).across_legs
    two = len({leg for unit in units_beside(plant, pv) for leg in unit_legs(plant, unit)}) == 2
    if across and two and pv.leg in {"1", "2"}:
        text = f"{pv.label} is made to sit across both legs, the file says leg {pv.leg}"
        wanted: tuple[str, ...] = ("both",)
    elif not across and pv.leg == "both":
        text = f"{pv.label} feeds one leg, the file says both"
        wanted = ("1", "2")
    else:
        return
    remedies = tuple(
        Remedy(f"leg = {leg!r} in the site file, once seen on site", change=(Change(f"{pv.where}.leg", leg),))
        for leg in wanted
    )
    yield Found(Finding("correct", "pv-leg", (pv.id,), text), remedies)


# other sources on the bus


def _generator(scene: Scene, generator: Generator) -> Iterator[Found]:
    """Find PV that stays on the bus while a generator feeds it: its frequency is the generator's then."""
    plant = scene.plant
    if not any(generator.id in unit.inputs.values() for unit in plant.site.inverter_chargers):
        return
    free = not_parted(plant, generator)
    if not free:
        return
    names = ", ".join(pv.label for pv in free)
    power, load = _against_load(plant, generator, free)
    backwards = over(power, load)
    much = ""
    if backwards and isinstance(power, Figure) and isinstance(load, Figure):
        least = f"{shown(scene, load)} of load" if load.value > 0 else "no least load told"
        much = f": {shown(scene, power)} in full sun against {least}"
    finding = Finding(
        "stop" if backwards else "correct",
        "pv-beside-generator",
        (generator.id, *(pv.id for pv in free)),
        f"nothing parts {names} from {generator.label}: with it on the bus no frequency shift throttles PV, "
        f"and what the loads leave drives the set backwards{much}",
        value=power if backwards else None,
        limit=load if backwards else None,
    )
    yield Found(finding, (contactors(generator, free),))


def _against_load(
    plant: Plant, generator: Generator, free: Sequence[AcPvInverter]
) -> tuple[Quantity, Quantity]:
    """Return what PV gives in full sun, and the least load beside it, in W.

    A full bank takes nothing. The plant's least load counts before that of the set, which is told in VA and
    is at most so many watts; none where neither is told.
    """
    power = sum_of_powers.of(
        "AC-coupled PV beside the set in full sun", powers=[power_of(plant, pv) for pv in free]
    )
    told = [
        fact(plant.site.expected, "least_load", "expected", "the plant"),
        part_fact(generator, "least_load_while_charging").in_unit("W"),
    ]
    none = given(0.0, "W", "least load, not told", source="cautious: none is counted")
    return power, next((one for one in told if isinstance(one, Figure)), none)


def contactors(generator: Generator, free: Sequence[AcPvInverter]) -> Remedy:
    """Return the contactors that open PV while a generator has voltage."""
    by = "contactor in the PV feed that the generator's own voltage opens"
    changes = tuple(
        Change(f"interlocks[interlock-{generator.id}-{pv.id}]", {"one_of": [generator.id, pv.id], "by": by})
        for pv in free
    )
    names = ", ".join(pv.label for pv in free)
    return Remedy(f"a {by}, for {names}", change=changes)


def not_parted(plant: Plant, generator: Generator) -> list[AcPvInverter]:
    """Return the PV inverters that no interlock parts from a generator."""
    return [pv for pv in plant.site.ac_pv_inverters if not _parted(plant, generator.id, pv.id)]


def _parted(plant: Plant, one: str, other: str) -> bool:
    return any({one, other} <= set(lock.one_of) for lock in plant.site.interlocks)


def _utility(scene: Scene) -> Iterator[Found]:
    """Tell of PV that runs beside the public supply with a response that the region does not have."""
    plant = scene.plant
    supply = plant.site.utility
    if supply is None or not any(supply.id in one.inputs.values() for one in plant.site.inverter_chargers):
        return
    for pv in plant.site.ac_pv_inverters:
        if _parted(plant, supply.id, pv.id):
            continue
        odd = _unlike_region(plant, pv)
        if odd:
            text = (
                f"{pv.label} runs beside {supply.label} with a response of its own ({'; '.join(odd)}), "
                f"unlike what holds in {plant.rules.name}"
            )
            remedy = "check with the network operator, or part it from the public supply by an interlock"
            yield Found(Finding("advise", "pv-beside-utility", (pv.id, supply.id), text, remedy))


def _unlike_region(plant: Plant, pv: AcPvInverter) -> list[str]:
    found = []
    own, region = plant.ac_pv_class(pv).response, plant.rules.response
    if own.kind == "none" != region.kind:
        found.append("it only trips")
    for field in _COMPARED:
        value, wanted = response_fact(plant, pv, field), getattr(region, field)
        if isinstance(value, Figure) and isinstance(wanted, float | int) and abs(value.value - wanted) > 1e-9:
            unit = value.unit
            found.append(f"{field.replace('_', ' ')} {value.value:g} {unit}, there {wanted:g} {unit}")
    return found


def _restart(plant: Plant) -> Iterator[Found]:
    """Find a plant whose only charge is AC-coupled: after a load disconnect there is no bus to return to."""
    site = plant.site
    direct = any(one.array is not None for one in site.charge_controllers)
    fed = any(one.inputs for one in site.inverter_chargers)
    if direct or fed or plant.bank.management is not None:
        return  # a managed bank is judged with its wake-up
    names = ", ".join(pv.label for pv in site.ac_pv_inverters)
    finding = Finding(
        "correct",
        "no-start-from-empty",
        tuple(pv.id for pv in site.ac_pv_inverters),
        f"once the inverters are cut off for low voltage there is no AC bus, so {names} stays off and "
        "nothing charges the bank again",
        "some PV on a charge controller, a generator, or a charger that can be plugged in by hand",
    )
    yield Found(finding)
