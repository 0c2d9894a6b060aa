"""What mends a PV string: another number of modules in series, and devices and controllers that stand it."""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from typing import Final

from commission.design.pv_array import PvArray, cold_voltage
from commission.design.pv_heat import heat, hot_voltage, least_count
from commission.design.standard import device_voltages_from
from commission.design.types import Remedy
from commission.design.words import shown
from commission.figure import Figure, Quantity, given
from commission.formulas.pv_limits import most_in_series
from commission.plant.change import Change
from commission.plant.site import Protection, PvString, Run

CONTROLLER_VOLTAGES: Final = (60.0, 75.0, 100.0, 150.0, 200.0, 250.0, 300.0, 450.0, 600.0, 1000.0)
"""Greatest PV voltages in V for which controllers are commonly made; common practice."""
_CHARGES_TO: Final = 0.92
"""Share of that voltage up to which such a controller commonly charges; common practice."""
CABLE_VOLTAGES: Final = (300.0, 600.0, 1000.0, 1500.0)
"""Usual rated voltages of PV cable in V dc; EN 50618 and common practice."""
MODULE_VOLTAGES: Final = (600.0, 1000.0, 1500.0)
"""V for which PV modules are usually built; IEC 61730-1 and common practice."""
_OFFERED: Final = 3


def most_count(pv: PvArray, string: PvString, limit: Quantity) -> int | None:
    """Return the most modules in series whose cold voltage a limit stands, None where that is not known."""
    most = most_in_series.of(limit=limit, module_voltage=cold_voltage(pv, string, modules=1))
    return int(most.value) if isinstance(most, Figure) else None


# fewer modules in series


def fewer_in_series(pv: PvArray, limit: Quantity) -> tuple[tuple[Remedy, ...], str]:
    """Return shorter strings that stand the cold and still charge the bank, and a note where none does."""
    if not pv.alike:
        return _each_shorter(pv, limit)
    string = pv.array.strings[0]
    most, least, count = most_count(pv, string, limit), least_count(pv, string), pv.count(string)
    if most is None or count is None:
        return (), ""
    if most < least:
        return (), _none_passes(most, least)
    wanted = list(range(min(most, count - 1), least - 1, -1))
    kept = list(itertools.islice(_all_kept(pv, wanted), _OFFERED))
    return (*kept, *(_same_strings(pv, number, most) for number in wanted[:_OFFERED])), ""


def _none_passes(most: int, least: int) -> str:
    return f"no number in series passes: at most {most} for the cold, at least {least} for the heat"


def _all_kept(pv: PvArray, counts: list[int]) -> Iterator[Remedy]:
    """Yield ways to lay all modules that are there into more or fewer strings of another length."""
    strings, series = len(pv.array.strings), pv.count(pv.array.strings[0]) or 0
    total = strings * series
    for number in counts:
        if number < 1 or total % number:
            continue
        wanted = total // number
        text = (
            f"{_strings(wanted)} of {number} in series instead of {strings} of {series}: "
            f"all {total} modules stay in use"
        )
        change = (Change(f"{pv.controller.where}.array.series", number), *_strings_for(pv, wanted))
        yield Remedy(text, passes=_cold(pv, number), change=change)


def _strings(count: int) -> str:
    return "1 string" if count == 1 else f"{count} strings"


def _strings_for(pv: PvArray, wanted: int) -> Iterator[Change]:
    """Yield the changes that leave the array with another number of strings."""
    where, standing = f"{pv.controller.where}.array.strings", pv.array.strings
    for string in standing[wanted:]:
        yield Change(f"{where}[{string.id}]", None)
    taken = {string.id for string in standing} | set(pv.plant.parts)
    free = (name for number in itertools.count(1) if (name := f"{pv.id}-string-{number}") not in taken)
    for name in itertools.islice(free, max(0, wanted - len(standing))):
        yield Change(f"{where}[{name}]", {})


def _cold(pv: PvArray, number: int) -> Quantity:
    name = f"open-circuit voltage of {number} in series at the record low"
    return cold_voltage(pv, pv.array.strings[0], modules=number).named(name)


def _same_strings(pv: PvArray, number: int, most: int) -> Remedy:
    strings, series = len(pv.array.strings), pv.count(pv.array.strings[0]) or 0
    cold, spare = _cold(pv, number), strings * (series - number)
    gives = f" ({shown(pv.scene, cold)})" if isinstance(cold, Figure) else ""
    word = "at most " if number == most else ""
    text = f"{word}{number} in series{gives}; {spare} of {strings * series} modules are then left over"
    return Remedy(text, passes=cold, change=(Change(f"{pv.controller.where}.array.series", number),))


def _each_shorter(pv: PvArray, limit: Quantity) -> tuple[tuple[Remedy, ...], str]:
    """Return the strings that are too long each cut to what it may have, all at once."""
    changes: list[Change] = []
    words: list[str] = []
    shortened: list[Quantity] = []
    for string in pv.array.strings:
        most, count = most_count(pv, string, limit), pv.count(string)
        if most is None or count is None or count <= most:
            continue
        if most < max(1, least_count(pv, string)):
            return (), f"{_none_passes(most, least_count(pv, string))} in string {string.id}"
        changes.append(Change(f"{pv.controller.where}.array.strings[{string.id}].series", most))
        words.append(f"{most} in string {string.id}")
        shortened.append(cold_voltage(pv, string, modules=most))
    if not changes:
        return (), ""
    text = f"at most {', '.join(words)}"
    return (Remedy(text, passes=shortened[0], change=tuple(changes)),), ""


# more modules in series


def more_in_series(pv: PvArray, limit: Quantity) -> tuple[tuple[Remedy, ...], str]:
    """Return longer strings that charge the bank and stand the cold, and a note where none does."""
    if not pv.alike:
        return _each_longer(pv, limit)
    string = pv.array.strings[0]
    most, least, count = most_count(pv, string, limit), least_count(pv, string), pv.count(string)
    if most is None or count is None:
        return (), ""
    if most < least:
        return (), _none_passes(most, least)
    wanted = list(range(max(least, count + 1), most + 1))
    kept = list(itertools.islice(_all_kept(pv, wanted), _OFFERED))
    return (*kept, *(_longer(pv, number, least) for number in wanted[:_OFFERED])), ""


def _longer(pv: PvArray, number: int, least: int) -> Remedy:
    string, strings = pv.array.strings[0], len(pv.array.strings)
    hot = hot_voltage(pv, string, heat(pv).cell, modules=number)
    more = strings * (number - (pv.count(string) or 0))
    gives = f" ({shown(pv.scene, hot)} in the heat)" if isinstance(hot, Figure) else ""
    word = "at least " if number == least else ""
    text = f"{word}{number} in series{gives}, {more} more {'module' if more == 1 else 'modules'}"
    return Remedy(text, passes=hot, change=(Change(f"{pv.controller.where}.array.series", number),))


def _each_longer(pv: PvArray, limit: Quantity) -> tuple[tuple[Remedy, ...], str]:
    changes: list[Change] = []
    words: list[str] = []
    lengthened: list[Quantity] = []
    for string in pv.array.strings:
        least, count = least_count(pv, string), pv.count(string)
        most = most_count(pv, string, limit)
        if count is None or count >= least:
            continue
        if most is not None and most < least:
            return (), f"{_none_passes(most, least)} in string {string.id}"
        changes.append(Change(f"{pv.controller.where}.array.strings[{string.id}].series", least))
        words.append(f"{least} in string {string.id}")
        lengthened.append(hot_voltage(pv, string, heat(pv).cell, modules=least))
    if not changes:
        return (), ""
    text = f"at least {', '.join(words)}"
    return (Remedy(text, passes=lengthened[0], change=tuple(changes)),), ""


# other devices


def controllers_for(pv: PvArray, voltage: Figure, series: int | None = None) -> Iterator[Remedy]:
    """Yield controllers of larger classes that stand and use a PV voltage, smallest first."""
    sheet = f"{pv.controller.where}.datasheet"
    stands = pv.plant.rating(pv.controller, "pv_voltage_absolute")
    fitting = [
        one
        for one in CONTROLLER_VOLTAGES
        if _CHARGES_TO * one >= voltage.value and not (isinstance(stands, Figure) and one <= stands.value)
    ]
    length = "" if series is None else f", with {series} modules in series"
    longer = () if series is None else (Change(f"{pv.controller.where}.array.series", series),)
    for absolute in fitting[:2]:
        charging = round(_CHARGES_TO * absolute)
        change = (
            *longer,
            Change(f"{sheet}.pv_voltage_absolute", absolute),
            Change(f"{sheet}.pv_voltage_operating", float(charging)),
            Change(f"{sheet}.pv_over_bank", "none"),
        )
        yield Remedy(
            f"a controller for {absolute:g} V of PV that charges up to {charging} V{length}",
            passes=given(
                absolute, "V", "PV voltage that a controller of this class stands", source="common practice"
            ),
            change=change,
        )


def module_voltages(pv: PvArray, voltage: Figure) -> Iterator[Remedy]:
    """Yield modules built for the next usual system voltage."""
    for built in [one for one in MODULE_VOLTAGES if one >= voltage.value][:1]:
        passes = given(
            built, "V", "usual system voltage of PV modules", source="IEC 61730-1; common practice"
        )
        text = f"modules that are built for {built:g} V, as long as these have their current and voltage"
        change = (Change(f"{pv.controller.where}.array.module_voltage_max", built),)
        yield Remedy(text, passes=passes, change=change)


def device_voltages(pv: PvArray, device: Protection, voltage: Figure) -> Iterator[Remedy]:
    """Yield devices of the next usual voltages, least first."""
    for rated in itertools.islice(device_voltages_from(pv.plant, voltage.value), _OFFERED):
        text = f"{device.label} for {shown(pv.scene, rated)} dc"
        yield Remedy(text, passes=rated, change=(Change(f"{device.where}.voltage", rated.value),))


def cable_voltages(pv: PvArray, run: Run, voltage: Figure) -> Iterator[Remedy]:
    """Yield cables of the next usual voltages, least first."""
    for rated in [one for one in CABLE_VOLTAGES if one >= voltage.value][:1]:
        passes = given(rated, "V", "usual rated voltage of PV cable", source="EN 50618; common practice")
        text = f"{run.label} as PV cable for {rated:g} V dc"
        yield Remedy(text, passes=passes, change=(Change(f"{run.where}.voltage", rated),))
