"""What AC-coupled PV does to the bank in the seconds before it is throttled, and while charging is barred."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from commission.design.ac_coupled import contactors, not_parted
from commission.design.coupled_units import efficiency, limited, power_of_all
from commission.design.settled import settled
from commission.design.types import Found, Later, Remedy, Scene
from commission.design.words import gap, shown
from commission.figure import Figure, Quantity, given, greatest
from commission.formulas.ac_coupling import (
    backfed_charge_current,
    current_for_overshoot,
    dc_voltage_overshoot,
    largest_coupled_power,
)
from commission.formulas.bank import bank_voltage
from commission.plant.change import Change
from commission.plant.plant import Plant, fact
from commission.sheet.bank_state import cells, resistance_of_bank, resistance_up_to, whole
from commission.sheet.charge_guard import high_temperature, low_temperature
from commission.sheet.hearing import hears_battery
from commission.sheet.reached import all_reached
from commission.sheet.types import Finding

_NO_LOAD: Final = given(0.0, "W", "no credit for loads", source="they have just gone off")


def check_coupled_bank(scene: Scene) -> Iterator[Found]:
    """Find PV that lifts the bank too high when loads go off, or feeds a bank that may not be charged."""
    plant = scene.plant
    if not plant.site.ac_pv_inverters or not plant.site.inverter_chargers:
        return
    yield from _too_much(scene)
    yield from _overshoot(scene)
    if plant.battery.family == "lithium":
        yield from _blocked(scene)


# too much for the bank: found with the settings


def _too_much(scene: Scene) -> Iterator[Found]:
    """Give the finding of all that can flow into the bank its remedies: less PV, or PV parted from a set."""
    plant = scene.plant
    for finding in scene.sheet.findings:
        if finding.check != "coupled-power" or finding.kind != "correct":
            continue
        remedies = [
            contactors(generator, free)
            for generator in plant.site.generators
            if any(generator.id in unit.inputs.values() for unit in plant.site.inverter_chargers)
            and (free := not_parted(plant, generator))
        ]
        now = power_of_all(plant)
        if isinstance(finding.passes, Figure) and isinstance(now, Figure):
            less = limited(plant, plant.site.ac_pv_inverters, finding.passes, now)
            remedies += [] if less is None else [less]
        yield Found(finding, (*remedies, Remedy(finding.remedy)))


# loads that go off, and PV that comes back at once


def _overshoot(scene: Scene) -> Iterator[Found]:
    """Find a full bank that PV lifts over a cut-off or a device's maximum before it is throttled.

    From the moment in which the loads go off, or PV comes back without a ramp, until the shift has acted, 0.1
    to 2 s, all of it flows into the bank.
    """
    plant = scene.plant
    parts = tuple(pv.id for pv in plant.site.ac_pv_inverters)
    before = _absorption(scene)
    current = _current(plant, before)
    devices = [_resistance(plant)] if plant.site.inverter_chargers else []
    cases: list[tuple[str, str, Quantity, Quantity]] = []
    if plant.battery.family == "lithium":
        cases.append(
            (
                "overshoot-over-cut-off",
                "the cut-off of its management",
                resistance_of_bank(plant),
                _cut_off(plant),
            )
        )
    cases += [
        ("overshoot-over-devices", "what the devices on the bus stand", one, scene.sheet.bus_maximum)
        for one in devices
    ]
    for check, what, resistance, limit in cases:
        peak = dc_voltage_overshoot.of(
            "voltage until PV is throttled", voltage=before, current=current, resistance=resistance
        )
        missing = gap(check, parts, peak, limit)
        if missing is not None:
            yield missing
        if isinstance(peak, Figure) and isinstance(limit, Figure) and peak.value > limit.value + 1e-6:
            yield _too_high(scene, (check, what), (peak, limit), (before, current, resistance))


def _absorption(scene: Scene) -> Quantity:
    """Return the highest absorption of the year, whole bank."""
    draft = settled(scene)
    found = [*all_reached(draft, "absorption", "coldest"), *all_reached(draft, "absorption", "hottest")]
    return (
        greatest("highest absorption of the year", *found)
        if found
        else whole(scene.plant, "absorption_voltage")
    )


def _current(plant: Plant, voltage: Quantity) -> Quantity:
    return backfed_charge_current.of(
        "all AC-coupled PV into the bank",
        power=power_of_all(plant),
        efficiency=efficiency(plant),
        bank_voltage=voltage,
    )


def _resistance(plant: Plant) -> Quantity:
    found = [resistance_up_to(plant, unit) for unit in plant.site.inverter_chargers]
    return greatest("resistance up to the inverters", *found)


def _cut_off(plant: Plant) -> Quantity:
    """Return where the management opens, whole bank; the ceiling of the cells where it is not told."""
    management = plant.bank.management
    told = None if management is None else fact(management, "cut_off_high", "bank.management")
    if not isinstance(told, Figure):
        return whole(plant, "ceiling_voltage")
    return bank_voltage.of("cut-off of the management, whole bank", cells=cells(plant), cell_voltage=told)


def _too_high(
    scene: Scene,
    check: tuple[str, str],
    found: tuple[Figure, Figure],
    inputs: tuple[Quantity, Quantity, Quantity],
) -> Found:
    plant = scene.plant
    units = plant.site.ac_pv_inverters
    (peak, limit), (before, current, resistance) = found, inputs
    amps = shown(scene, current, 0) if isinstance(current, Figure) else "its current"
    text = (
        f"when the loads go off at full sun, AC-coupled PV drives {amps} into the full bank for up to 2 s: "
        f"{shown(scene, peak, beside=limit)}, over {check[1]}, {shown(scene, limit, beside=peak)}"
    )
    finding = Finding(
        "correct",
        check[0],
        tuple(pv.id for pv in units),
        text,
        "less AC-coupled PV, a lower absorption, or a bank of less resistance",
        value=peak,
        limit=limit,
    )
    allowed = largest_coupled_power.of(
        "AC-coupled PV that passes",
        current=current_for_overshoot.of(limit=limit, voltage=before, resistance=resistance),
        bank_voltage=before,
        efficiency=efficiency(plant),
        load=_NO_LOAD,
    )
    now = power_of_all(plant)
    remedy = None
    if isinstance(allowed, Figure) and isinstance(now, Figure):
        remedy = limited(plant, units, allowed, now)
    return Found(finding, () if remedy is None else (remedy,))


# a lithium bank that may not be charged


def _blocked(scene: Scene) -> Iterator[Found]:
    """Find PV that nothing stops once the battery is too cold or too hot to be charged.

    The frequency shift goes by voltage, and a bank that is blocked half charged has not got that voltage.
    """
    plant = scene.plant
    beyond = _beyond(plant)
    if beyond is None:
        return
    extreme, limit, word = beyond
    deaf = [one for one in plant.site.inverter_chargers if not hears_battery(plant, one)]
    parts = tuple(pv.id for pv in plant.site.ac_pv_inverters)
    names = ", ".join(pv.label for pv in plant.site.ac_pv_inverters)
    what = (
        f"charging is blocked {word} {shown(scene, limit, beside=extreme)} and the bank gets "
        f"{shown(scene, extreme, beside=limit)}"
    )
    if deaf:
        current = _current(plant, whole(plant, "nominal_cell_voltage"))
        amps = f"up to {shown(scene, current, 0)}" if isinstance(current, Figure) else "its current"
        told = ", ".join(one.label for one in deaf)
        contact = plant.bank.management is not None and plant.bank.management.charge_permit_contact is True
        finding = Finding(
            "advise" if contact else "correct",
            "pv-while-blocked",
            parts,
            f"{what}; {told} {'does' if len(deaf) == 1 else 'do'} not hear the battery, so no frequency "
            f"shift stops {names} then: {amps} flow until the management opens"
            f"{', unless its contact opens the feed of the PV' if contact else ''}",
            "a contact of the battery's charge permission in the feed of the PV",
            value=extreme,
            limit=limit,
        )
        yield Found(finding, Later(_heard(scene, limit, word)))
        return
    trips = [pv.label for pv in plant.site.ac_pv_inverters if plant.ac_pv_class(pv).response.kind == "none"]
    if trips:
        text = (
            f"{what}; {', '.join(trips)} can only be switched off then: no PV for the loads either, and the "
            "bank is drawn down while it may not be charged"
        )
        remedy = "a PV inverter with a frequency response, or a bank that is kept within its limits"
        yield Found(
            Finding("advise", "pv-off-while-blocked", parts, text, remedy, value=extreme, limit=limit)
        )


def _beyond(plant: Plant) -> tuple[Figure, Figure, str] | None:
    """Return the battery temperature beyond which charging is blocked, the limit, and on which side."""
    place = plant.site.site
    coldest, hottest = (fact(place, field, "site") for field in ("coldest_battery", "hottest_battery"))
    low, high = low_temperature(plant), high_temperature(plant)
    if isinstance(coldest, Figure) and isinstance(low, Figure) and coldest.value < low.value - 1e-9:
        return coldest, low, "under"
    if isinstance(hottest, Figure) and isinstance(high, Figure) and hottest.value > high.value + 1e-9:
        return hottest, high, "over"
    return None


def _heard(scene: Scene, limit: Figure, word: str) -> Iterator[Remedy]:
    plant = scene.plant
    management = plant.bank.management
    if management is not None and management.data_link is True:
        changes = tuple(Change(f"{one.where}.on_battery_link", True) for one in plant.site.inverter_chargers)
        yield Remedy(
            "every inverter on the battery's data link, with zero told before the cut-off", change=changes
        )
    field = "coldest_battery" if word == "under" else "hottest_battery"
    side = "over" if word == "under" else "under"
    yield Remedy(
        f"the bank kept {side} {shown(scene, limit)}",
        passes=limit,
        change=(Change(f"site.{field}", limit.value),),
    )
