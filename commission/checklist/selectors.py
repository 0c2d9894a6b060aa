"""Selectors: what ``each`` of a step may say. A step is repeated for every place that its selector yields."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from itertools import combinations

from commission.checklist.registry import Place, selector
from commission.plant.plant import Plant
from commission.plant.site import InverterCharger, Run
from commission.plant.values import Part


def _of(parts: Iterable[Part]) -> Iterator[Place]:
    for part in parts:
        yield Place((part.id,), (part.label,))


@selector("site", "the whole site, once")
def _site(plant: Plant) -> Iterable[Place]:
    return (Place((), ()),)


@selector("bank", "the battery bank")
def _bank(plant: Plant) -> Iterable[Place]:
    return (Place((plant.bank.id,), ("the bank",)),)


@selector("string", "each string of the bank")
def _strings(plant: Plant) -> Iterable[Place]:
    several = len(plant.bank.strings) > 1
    for string in plant.bank.strings:
        yield Place((string.id,), (called("string", string.id) if several else "the string",))


def called(word: str, ident: str) -> str:
    """Return what people call a part that has an id but no name: 'string b', 'pack-2'."""
    return ident if ident.startswith(("string", "pack", word)) else f"{word} {ident}"


@selector("string to join", "each string of the bank but the first, with the first")
def _strings_to_join(plant: Plant) -> Iterable[Place]:
    first, *others = plant.bank.strings
    for string in others:
        yield Place((string.id, first.id), (called("string", string.id), called("string", first.id)))


@selector("managed pack", "each string of packs with a management system")
def _packs(plant: Plant) -> Iterable[Place]:
    if is_managed(plant):
        for string in plant.bank.strings:
            yield Place((string.id,), (called("pack", string.id),))


def is_managed(plant: Plant) -> bool:
    """Return whether the bank has a management system: told by the site, else usual for the chemistry."""
    return plant.bank.management is not None or plant.battery.managed


# devices


@selector("inverter", "each inverter/charger")
def _inverters(plant: Plant) -> Iterable[Place]:
    return _of(plant.site.inverter_chargers)


@selector("grouped inverter", "each inverter/charger that shares its supply with others")
def _grouped_inverters(plant: Plant) -> Iterable[Place]:
    shared = groups(plant)
    return _of(unit for unit in plant.site.inverter_chargers if len(shared.get(unit.group or "", ())) > 1)


@selector("inverter group", "each group of inverter/chargers that make one supply")
def _groups(plant: Plant) -> Iterable[Place]:
    for group, units in groups(plant).items():
        if len(units) > 1:
            yield Place((group,), (f"the group '{group}'",))


@selector("inverter pair", "inverter/chargers of one group on one leg, each with the first of its leg")
def _pairs(plant: Plant) -> Iterable[Place]:
    for units in groups(plant).values():
        for leg in sorted({str(unit.group_leg) for unit in units}):
            first, *others = [unit for unit in units if str(unit.group_leg) == leg]
            for unit in others:
                yield Place((unit.id, first.id), (unit.label, first.label))


def groups(plant: Plant) -> dict[str, list[InverterCharger]]:
    """Return the inverter/chargers of each group by the group's id, in the order of the site file."""
    made: dict[str, list[InverterCharger]] = {}
    for unit in plant.site.inverter_chargers:
        if unit.group:
            made.setdefault(unit.group, []).append(unit)
    return made


@selector("controller", "each charge controller")
def _controllers(plant: Plant) -> Iterable[Place]:
    return _of(plant.site.charge_controllers)


@selector("controller with array", "each charge controller whose array the site file describes")
def _controllers_with_array(plant: Plant) -> Iterable[Place]:
    return _of(unit for unit in plant.site.charge_controllers if unit.array is not None)


@selector("array string", "each string of each PV array, with its charge controller")
def _array_strings(plant: Plant) -> Iterable[Place]:
    for controller in plant.site.charge_controllers:
        if controller.array is not None:
            for string in controller.array.strings:
                yield Place((string.id,), (called("string", string.id), controller.label))


@selector("dc source", "each inverter/charger and charge controller: what charges over the DC bus")
def _dc_sources(plant: Plant) -> Iterable[Place]:
    return _of(plant.sources)


@selector("source", "each inverter/charger, charge controller and AC-coupled PV inverter: what can charge")
def _sources(plant: Plant) -> Iterable[Place]:
    return _of((*plant.sources, *plant.site.ac_pv_inverters))


@selector("source pair", "each two of what can charge over the DC bus")
def _source_pairs(plant: Plant) -> Iterable[Place]:
    for first, second in combinations(plant.sources, 2):
        yield Place((first.id, second.id), (first.label, second.label))


@selector("energy source", "everything beside the bank that can make the plant live: PV, generator, utility")
def _energy_sources(plant: Plant) -> Iterable[Place]:
    site = plant.site
    arrays = [unit for unit in site.charge_controllers if unit.array is not None]
    for controller in arrays:
        yield Place((controller.id,), (f"the array of {controller.label}",))
    yield from _of((*site.ac_pv_inverters, *site.generators))
    if site.utility is not None:
        yield Place((site.utility.id,), (site.utility.name or "the utility supply",))


@selector("charger and supply", "each inverter/charger with each AC source on one of its inputs")
def _chargers_and_supplies(plant: Plant) -> Iterable[Place]:
    parts = {part.id: part for part in plant.site.generators}
    for unit in plant.site.inverter_chargers:
        for supply in unit.inputs.values():
            label = parts[supply].label if supply in parts else "the utility supply"
            yield Place((unit.id, supply), (unit.label, label))


@selector("ac-pv", "each AC-coupled PV inverter")
def _ac_pv(plant: Plant) -> Iterable[Place]:
    return _of(plant.site.ac_pv_inverters)


@selector("generator", "each generator")
def _generators(plant: Plant) -> Iterable[Place]:
    return _of(plant.site.generators)


@selector("utility", "the utility supply, where there is one")
def _utility(plant: Plant) -> Iterable[Place]:
    utility = plant.site.utility
    return () if utility is None else (Place((utility.id,), (utility.name or "the utility supply",)),)


@selector("ac source", "each generator, and the utility supply")
def _ac_sources(plant: Plant) -> Iterable[Place]:
    return (*_generators(plant), *_utility(plant))


@selector("monitor", "the battery monitor, where there is one")
def _monitor(plant: Plant) -> Iterable[Place]:
    monitor = plant.site.monitor
    return () if monitor is None else (Place((monitor.id,), (monitor.name or "the battery monitor",)),)


@selector("device", "each device with a profile")
def _devices(plant: Plant) -> Iterable[Place]:
    return _of(plant.devices)


@selector("device with settings", "each device that has a setting")
def _devices_with_settings(plant: Plant) -> Iterable[Place]:
    return _of(device for device in plant.devices if plant.equipment[device.id].settings)


@selector("device with clock", "each device that has a clock")
def _devices_with_clock(plant: Plant) -> Iterable[Place]:
    return _of(device for device in plant.devices if "clock_zone" in plant.equipment[device.id].settings)


@selector("temperature sensor", "each DC source whose battery temperature sensor is fitted, or may be")
def _sensors(plant: Plant) -> Iterable[Place]:
    for source in plant.sources:
        fitted = source.sensor_fitted is not False
        if fitted and plant.source_class(source).temperature_sensor != "none":
            yield Place((source.id,), (source.label,))


# wiring


@selector("run", "each conductor run")
def _runs(plant: Plant) -> Iterable[Place]:
    return _of(plant.site.runs)


@selector("dc run", "each DC conductor run")
def _dc_runs(plant: Plant) -> Iterable[Place]:
    return _of(run for run in plant.site.runs if run.kind == "dc")


@selector("bank run", "each DC conductor run on the bank's side")
def _bank_runs(plant: Plant) -> Iterable[Place]:
    return _of(run for run in plant.site.runs if run.kind == "dc" and not is_array_run(plant, run))


@selector("array run", "each DC conductor run between a PV array and its charge controller")
def _array_runs(plant: Plant) -> Iterable[Place]:
    return _of(run for run in plant.site.runs if is_array_run(plant, run))


def is_array_run(plant: Plant, run: Run) -> bool:
    """Return whether a run lies on the PV side: at an array's string, or guarded by an array's device."""
    controllers = plant.site.charge_controllers
    strings = {string.id for unit in controllers if unit.array for string in unit.array.strings}
    ends = {run.from_, run.to}
    if run.kind != "dc" or not strings.isdisjoint(ends):
        return run.kind == "dc"
    guarded = plant.protection_of(run.protection)
    return guarded is not None and guarded.protects == "array"


@selector("ac run", "each AC conductor run")
def _ac_runs(plant: Plant) -> Iterable[Place]:
    return _of(run for run in plant.site.runs if run.kind == "ac")


@selector("inverter run", "each DC run between the bank and an inverter/charger, with the inverter/charger")
def _inverter_runs(plant: Plant) -> Iterable[Place]:
    for unit in plant.site.inverter_chargers:
        run = plant.run_of(unit)
        if run is not None:
            yield Place((run.id, unit.id), (run.label, unit.label))


@selector("protection", "each breaker, fuse, switch, residual-current and surge device")
def _protection(plant: Plant) -> Iterable[Place]:
    return _of(plant.site.protection)


@selector("overcurrent device", "each breaker and fuse")
def _overcurrent(plant: Plant) -> Iterable[Place]:
    return _of(guard for guard in plant.site.protection if guard.kind in {"breaker", "fuse"})


@selector("polarised breaker", "each DC breaker that breaks one way only, or may")
def _polarised(plant: Plant) -> Iterable[Place]:
    for guard in plant.site.protection:
        if guard.kind == "breaker" and guard.current == "dc" and guard.polarised is not False:
            yield Place((guard.id,), (guard.label,))


@selector("residual-current device", "each device that trips on residual current")
def _residual(plant: Plant) -> Iterable[Place]:
    for guard in plant.site.protection:
        if guard.kind == "residual" or (guard.current == "ac" and guard.residual_current is not None):
            yield Place((guard.id,), (guard.label,))


@selector("panel", "each panel")
def _panels(plant: Plant) -> Iterable[Place]:
    return _of(plant.site.panels)


@selector("ac panel", "each AC panel")
def _ac_panels(plant: Plant) -> Iterable[Place]:
    return _of(panel for panel in plant.site.panels if panel.kind == "ac")


@selector("dc panel", "each DC panel")
def _dc_panels(plant: Plant) -> Iterable[Place]:
    return _of(panel for panel in plant.site.panels if panel.kind == "dc")


@selector("interlock", "each interlock")
def _interlocks(plant: Plant) -> Iterable[Place]:
    return _of(plant.site.interlocks)


@selector("dc load", "each DC load")
def _dc_loads(plant: Plant) -> Iterable[Place]:
    return _of(load for load in plant.site.loads if load.current == "dc")


@selector("ac load", "each AC load")
def _ac_loads(plant: Plant) -> Iterable[Place]:
    return _of(load for load in plant.site.loads if load.current == "ac")


# neutral and earth, by mode of operation


@selector(
    "bond mode", "each mode of operation that the earthing plan names: island, generator, utility, bypass"
)
def _modes(plant: Plant) -> Iterable[Place]:
    labels = {part.id: part.label for part in plant.site.generators}
    for point in plant.site.earthing.modes:
        yield Place((point.mode,), (labels.get(point.mode, point.mode),))


@selector("island mode", "the island mode of the earthing plan, where it is named")
def _island_mode(plant: Plant) -> Iterable[Place]:
    return (place for place in _modes(plant) if place.parts == ("island",))


@selector("supply mode", "each mode of the earthing plan in which another source than the inverters feeds")
def _supply_modes(plant: Plant) -> Iterable[Place]:
    return (place for place in _modes(plant) if place.parts != ("island",))
