"""Predicates: what ``when`` of a step may say; all must hold. ``not`` before one asks the contrary.

Where the site file says ``unknown`` the answer is None, and the step stays whichever way it was asked: what
may be there is looked for.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

from commission.checklist.registry import PREDICATES, At, Place, predicate
from commission.checklist.selectors import groups, is_managed
from commission.plant.equipment import DirectCurrentDevice
from commission.plant.plant import Plant
from commission.plant.site import DirectCurrentSource, InverterCharger
from commission.plant.values import UNKNOWN
from commission.sheet.types import Sheet

NOT: Final = "not "
ANY: Final = ""
HAS_SETTING: Final = "has setting "
"""With the name of a setting behind it: this device (or any) has the setting, and it is not off."""


def is_known(word: str) -> bool:
    """Return whether ``when`` may say a word."""
    asked = word.removeprefix(NOT)
    return PREDICATES.get(asked) is not None or asked.startswith(HAS_SETTING)


def holds(word: str, at: At) -> bool:
    """Return whether a step stays under one word of its ``when``."""
    asked = word.removeprefix(NOT)
    if asked.startswith(HAS_SETTING):
        answer: bool | None = _has_setting(at, asked.removeprefix(HAS_SETTING))
    else:
        answer = PREDICATES.entries[asked].call(at)
    return answer is not True if word.startswith(NOT) else answer is not False


def _has_setting(at: At, name: str) -> bool:
    return any((part, name) in at.settings for part in at.place.parts or (ANY,))


def settings_of(sheet: Sheet) -> frozenset[tuple[str, str]]:
    """Return device and name of every setting that is not off, and each name once more for any device."""
    kept = [setting for setting in sheet.settings if setting.recommended != "off"]
    return frozenset((device, setting.setting) for setting in kept for device in (setting.device, ANY))


def _told(value: object) -> bool | None:
    return None if value == UNKNOWN or value is None else bool(value)


# the battery


@predicate("vented", "the battery has free electrolyte")
def _vented(at: At) -> bool:
    return at.plant.battery.vented


@predicate("sealed", "the battery is lead or nickel without free electrolyte")
def _sealed(at: At) -> bool:
    return not at.plant.battery.vented and at.plant.battery.family != "lithium"


@predicate("lead", "the battery is lead-acid")
def _lead(at: At) -> bool:
    return at.plant.battery.family == "lead"


@predicate("nickel", "the battery is of a nickel chemistry")
def _nickel(at: At) -> bool:
    return at.plant.battery.family == "nickel"


@predicate("lithium", "the battery is of a lithium chemistry")
def _lithium(at: At) -> bool:
    return at.plant.battery.family == "lithium"


@predicate("managed", "the battery has a management system")
def _managed(at: At) -> bool:
    return is_managed(at.plant)


@predicate("data link", "the management system tells its limits over a data link")
def _data_link(at: At) -> bool | None:
    management = at.plant.bank.management
    if management is None:
        return None if is_managed(at.plant) else False
    return _told(management.data_link)


@predicate("charge permit contact", "a wired contact of the management system stops sources")
def _permit(at: At) -> bool | None:
    management = at.plant.bank.management
    if management is None:
        return None if is_managed(at.plant) else False
    return _told(management.charge_permit_contact)


@predicate("flat curve", "the battery's voltage does not tell its charge")
def _flat(at: At) -> bool:
    return at.plant.battery.curve == "flat"


@predicate("float", "the chemistry has a float stage")
def _float(at: At) -> bool:
    return at.plant.has_stage("float_voltage")


@predicate("equalise", "the chemistry is equalised")
def _equalise(at: At) -> bool:
    return at.plant.has_stage("equalize_voltage")


@predicate("gravity", "the density of the electrolyte tells the charge")
def _gravity(at: At) -> bool:
    return at.plant.battery.vented and at.plant.has_stage("gravity_full")


@predicate("several strings", "the bank has strings in parallel")
def _several_strings(at: At) -> bool:
    return len(at.plant.bank.strings) > 1


@predicate("several blocks", "a string has blocks in series")
def _several_blocks(at: At) -> bool:
    return at.plant.bank.blocks_in_series > 1


# sources and devices


@predicate("has inverter", "there is an inverter/charger")
def _has_inverter(at: At) -> bool:
    return bool(at.plant.site.inverter_chargers)


@predicate("has array", "there is a PV array on a charge controller")
def _has_array(at: At) -> bool:
    return any(unit.array is not None for unit in at.plant.site.charge_controllers)


@predicate("has ac-pv", "there is AC-coupled PV")
def _has_ac_pv(at: At) -> bool:
    return bool(at.plant.site.ac_pv_inverters)


@predicate("has generator", "there is a generator")
def _has_generator(at: At) -> bool:
    return bool(at.plant.site.generators)


@predicate("has utility", "there is a utility supply")
def _has_utility(at: At) -> bool:
    return at.plant.site.utility is not None


@predicate("has ac source", "there is a generator or a utility supply")
def _has_ac_source(at: At) -> bool:
    return bool(at.plant.site.generators) or at.plant.site.utility is not None


@predicate("has monitor", "there is a battery monitor")
def _has_monitor(at: At) -> bool:
    return at.plant.site.monitor is not None


@predicate("has dc load", "there is a DC load")
def _has_dc_load(at: At) -> bool:
    return any(load.current == "dc" for load in at.plant.site.loads)


@predicate("has interlock", "there is an interlock between sources")
def _has_interlock(at: At) -> bool:
    return bool(at.plant.site.interlocks)


@predicate("several sources", "more than one source can charge, AC-coupled PV included")
def _several_sources(at: At) -> bool:
    return len(at.plant.sources) + len(at.plant.site.ac_pv_inverters) > 1


@predicate("several dc sources", "more than one source charges over the DC bus")
def _several_dc_sources(at: At) -> bool:
    return len(at.plant.sources) > 1


@predicate("several inverters", "there is more than one inverter/charger")
def _several_inverters(at: At) -> bool:
    return len(at.plant.site.inverter_chargers) > 1


@predicate("several array strings", "the array of this controller (or of any) has strings in parallel")
def _several_array_strings(at: At) -> bool:
    units = [
        unit for unit in at.plant.site.charge_controllers if not at.place.parts or unit.id in at.place.parts
    ]
    return any(unit.array is not None and len(unit.array.strings) > 1 for unit in units)


@predicate("string fuses", "the strings of this array (or of any) are fused")
def _string_fuses(at: At) -> bool:
    units = [
        unit for unit in at.plant.site.charge_controllers if not at.place.parts or unit.id in at.place.parts
    ]
    return any(unit.array is not None and unit.array.string_fuse is not None for unit in units)


@predicate("coordinated", "a controller coordinates the sources")
def _coordinated(at: At) -> bool:
    return at.plant.site.coordination.kind != "none"


@predicate("automatic start", "a device starts this generator (or any)")
def _automatic_start(at: At) -> bool:
    sets = [unit for unit in at.plant.site.generators if not at.place.parts or unit.id in at.place.parts]
    return any(unit.started_by for unit in sets) or any(
        unit.starts_generator for unit in at.plant.site.inverter_chargers
    )


@predicate("on battery link", "this source hears the managed battery's limits")
def _on_link(at: At) -> bool | None:
    heard = [source.on_battery_link for source in _sources(at.plant, at.place)]
    return any(heard) or (None if None in heard else False)


@predicate("temperature sensor", "the battery temperature sensor of this source is fitted")
def _sensor(at: At) -> bool | None:
    fitted = [_told(source.sensor_fitted) for source in _sources(at.plant, at.place)]
    return any(fitted) or (None if None in fitted else False)


@predicate("senses at the bank", "this source measures the bank's voltage by leads of their own")
def _senses_remote(at: At) -> bool | None:
    answers = [
        _class_told(at.plant, source, "senses_voltage", "remote") for source in _sources(at.plant, at.place)
    ]
    return any(answers) or (None if None in answers else False)


@predicate("built-in pre-charge", "this source charges its own DC capacitors when it is connected")
def _precharge(at: At) -> bool | None:
    values = [at.plant.source_class(source).precharge_resistance for source in _sources(at.plant, at.place)]
    return any(value != UNKNOWN for value in values) or None


def _sources(plant: Plant, place: Place) -> list[DirectCurrentSource]:
    return [source for source in plant.sources if not place.parts or source.id in place.parts]


def _class_told(plant: Plant, source: DirectCurrentSource, field: str, wanted: str) -> bool | None:
    found: DirectCurrentDevice = plant.source_class(source)
    value = getattr(found, field)
    return None if value == UNKNOWN else bool(value == wanted)


# AC output


@predicate("grouped", "this inverter/charger (or any) shares its supply with others")
def _grouped(at: At) -> bool:
    shared = [units for units in groups(at.plant).values() if len(units) > 1]
    return any(not at.place.parts or unit.id in at.place.parts for units in shared for unit in units)


@predicate("several legs", "this inverter or group (or any) makes more than one leg or phase")
def _several_legs(at: At) -> bool:
    return any(len(legs(at.plant, units)) > 1 for units in supplies(at.plant, at.place))


@predicate("split phase", "this inverter or group (or any) makes two legs in opposition")
def _split(at: At) -> bool:
    made = [legs(at.plant, units) for units in supplies(at.plant, at.place)]
    return at.plant.rules.split_phase and any(found == ("1", "2") for found in made)


@predicate("three phase", "this group (or any) makes three phases")
def _three(at: At) -> bool:
    return any("3" in legs(at.plant, units) for units in supplies(at.plant, at.place))


def supplies(plant: Plant, place: Place) -> list[list[InverterCharger]]:
    """Return the inverter/chargers of each AC supply that a place concerns: a unit alone, or a group."""
    shared = groups(plant)
    if place.parts and place.parts[0] in shared:
        return [shared[place.parts[0]]]
    if place.parts:
        return [[unit] for unit in plant.site.inverter_chargers if unit.id in place.parts]
    alone = [[unit] for unit in plant.site.inverter_chargers if not unit.group]
    return [*alone, *shared.values()]


def legs(plant: Plant, units: list[InverterCharger]) -> tuple[str, ...]:
    """Return the legs or phases that units make together, in order."""
    found: set[str] = set()
    for unit in units:
        both = unit.group_leg == "both" or plant.inverter_class(unit).ac_legs == 2
        found |= {"1", "2"} if both else {str(unit.group_leg)}
    return tuple(sorted(found))


# earthing


def _earthed(pole: str) -> Callable[[At], bool | None]:
    def answer(at: At) -> bool | None:
        told = at.plant.site.earthing.dc
        return None if told == UNKNOWN else told == pole

    return answer


for _pole, _words in {
    "negative": "negative earthed",
    "positive": "positive earthed",
    "floating": "floating",
    "mid-point": "mid-point earthed",
}.items():
    predicate(_words, f"the DC system is {_words}")(_earthed(_pole))


@predicate("earthing plan", "the site file names its modes of operation with their earthing")
def _earthing_plan(at: At) -> bool:
    return bool(at.plant.site.earthing.modes)


@predicate("insulation monitored", "a mode of operation has no neutral bond but an insulation monitor (IT)")
def _insulation_monitored(at: At) -> bool:
    modes = at.plant.site.earthing.modes
    return any(
        point.earthing == "IT" for point in modes if not at.place.parts or point.mode in at.place.parts
    )
