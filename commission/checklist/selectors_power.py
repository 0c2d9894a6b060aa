"""Selectors, predicates and series of the charging and operating stages; each registers by being imported."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Final

from commission.checklist.predicates import legs
from commission.checklist.registry import At, Place, predicate, selector, series
from commission.checklist.selectors import groups, is_array_run
from commission.figure import Figure
from commission.plant.plant import Plant
from commission.plant.site import Device, DirectCurrentSource, Generator, Interlock, InverterCharger
from commission.plant.values import UNKNOWN
from commission.sheet.generator_aside import starts_of

SAME_VOLTAGE: Final = 1e-6
"""Difference under which two settings are the same, V."""

# who charges from what


def charging_sources(plant: Plant) -> list[DirectCurrentSource]:
    """Return what can charge the bank over the DC bus on this site: an inverter/charger only if it is fed."""
    return [*fed_inverters(plant), *plant.site.charge_controllers]


def fed_inverters(plant: Plant) -> list[InverterCharger]:
    """Return the inverter/chargers that have an AC source on an input."""
    return [unit for unit in plant.site.inverter_chargers if unit.inputs]


@selector("charging source", "each charge controller, and each inverter/charger that has an AC source")
def _charging(plant: Plant) -> Iterable[Place]:
    return (Place((source.id,), (source.label,)) for source in charging_sources(plant))


@selector("fed inverter", "each inverter/charger that has an AC source on one of its inputs")
def _fed(plant: Plant) -> Iterable[Place]:
    return (Place((unit.id,), (unit.label,)) for unit in fed_inverters(plant))


@selector("coordinated source", "each source that follows the controller of its group")
def _coordinated(plant: Plant) -> Iterable[Place]:
    coordination = plant.site.coordination
    for source in plant.sources:
        if source.id in coordination.members and source.id != coordination.controller:
            yield Place((source.id,), (source.label,))


@selector("supply", "each AC supply that inverters make: a unit alone, or a group of units")
def _supplies(plant: Plant) -> Iterable[Place]:
    for unit in plant.site.inverter_chargers:
        if not unit.group:
            yield Place((unit.id,), (unit.label,))
    for group, units in groups(plant).items():
        yield Place((group,), (f"group {group}" if len(units) > 1 else units[0].label,))


@selector("charger and generator", "each inverter/charger with each generator on one of its inputs")
def _chargers_generators(plant: Plant) -> Iterable[Place]:
    labels = {generator.id: generator.label for generator in plant.site.generators}
    return _chargers_on(plant, labels)


@selector("charger and utility", "each inverter/charger with the public supply on one of its inputs")
def _chargers_utility(plant: Plant) -> Iterable[Place]:
    utility = plant.site.utility
    labels = {} if utility is None else {utility.id: utility.name or "the utility supply"}
    return _chargers_on(plant, labels)


def _chargers_on(plant: Plant, labels: dict[str, str]) -> Iterator[Place]:
    for unit in plant.site.inverter_chargers:
        for supply in unit.inputs.values():
            if supply in labels:
                yield Place((unit.id, supply), (unit.label, labels[supply]))


# generators


def starters(plant: Plant) -> Iterator[tuple[Generator, Device]]:
    """Yield every generator with each device that starts it by itself."""
    for generator in plant.site.generators:
        for device in plant.devices:
            if any(found.id == generator.id for found in starts_of(plant, device)):
                yield generator, device


@selector("automatic start", "each generator with each device that starts it by itself")
def _starts(plant: Plant) -> Iterable[Place]:
    for generator, device in starters(plant):
        yield Place((generator.id, device.id), (generator.label, device.label))


@predicate("three-phase source", "this generator or public supply gives three phases")
def _three(at: At) -> bool | None:
    return _connection(at, "three")


@predicate("split-phase source", "this generator or public supply gives two legs in opposition")
def _split(at: At) -> bool | None:
    return _connection(at, "split")


def _connection(at: At, wanted: str) -> bool | None:
    kinds = _connections(at.plant, at.place.parts)
    if wanted in kinds:
        return True
    return None if UNKNOWN in kinds else False


def _connections(plant: Plant, parts: tuple[str, ...]) -> list[str]:
    found: list[str] = [
        plant.generator_class(generator).connection
        for generator in plant.site.generators
        if not parts or generator.id in parts
    ]
    utility = plant.site.utility
    if utility is not None and (not parts or utility.id in parts):
        found.append(utility.connection)
    return found


_LEGS: Final = {"single": ("",), "split": ("1", "2"), "three": ("1", "2", "3")}


@series("legs of the source", "every leg or phase of a generator or public supply, to neutral")
def _source_legs(plant: Plant, place: Place) -> Iterable[str]:
    kinds = _connections(plant, place.parts) or _connections(plant, ())
    widest = max((_LEGS.get(kind, ("",)) for kind in kinds), key=len, default=("",))
    return (f"leg {leg} to neutral" if leg else "line to neutral" for leg in widest)


# interlocks


def with_ac_pv(plant: Plant, interlock: Interlock) -> bool:
    """Return whether an interlock keeps AC-coupled PV from running beside another source."""
    return any(unit.id in interlock.one_of for unit in plant.site.ac_pv_inverters)


@selector("source interlock", "each interlock between sources other than AC-coupled PV")
def _interlocks(plant: Plant) -> Iterable[Place]:
    return (_place(lock) for lock in plant.site.interlocks if not with_ac_pv(plant, lock))


@selector("ac-pv interlock", "each interlock between AC-coupled PV and another source")
def _pv_interlocks(plant: Plant) -> Iterable[Place]:
    return (_place(lock) for lock in plant.site.interlocks if with_ac_pv(plant, lock))


def _place(interlock: Interlock) -> Place:
    return Place((interlock.id,), (interlock.label,))


@predicate("ac-pv beside another ac source", "AC-coupled PV and a generator or public supply are both there")
def _beside(at: At) -> bool:
    site = at.plant.site
    return bool(site.ac_pv_inverters) and (bool(site.generators) or site.utility is not None)


# behaviour that decides which step there is


@predicate("throttles", "this AC-coupled PV inverter (or any) lowers its power with frequency, or may")
def _throttles(at: At) -> bool | None:
    kinds = [
        at.plant.ac_pv_class(unit).response.kind
        for unit in at.plant.site.ac_pv_inverters
        if not at.place.parts or unit.id in at.place.parts
    ]
    if "droop" in kinds:
        return True
    return None if UNKNOWN in kinds else False


@predicate("dc pv yields first", "the frequency rises above the absorption of the charge controllers")
def _dc_first(at: At) -> bool | None:
    return _over_absorption(at, 1.0)


@predicate("ac pv yields first", "the frequency rises below the absorption of the charge controllers")
def _ac_first(at: At) -> bool | None:
    return _over_absorption(at, -1.0)


def _over_absorption(at: At, sign: float) -> bool | None:
    """Return whether the shift begins over (or with a negative sign under) the controllers' absorption."""
    if not at.plant.site.charge_controllers:
        return False
    shift = _highest(at, "frequency_shift_voltage")
    absorption = _highest(at, "absorption_voltage")
    if shift is None or absorption is None:
        return None
    return sign * (shift - absorption) > SAME_VOLTAGE


def _highest(at: At, name: str) -> float | None:
    """Return the greatest recommended value of a setting, in whole-bank volts; None where it is not known."""
    units = (
        at.plant.site.inverter_chargers
        if name == "frequency_shift_voltage"
        else at.plant.site.charge_controllers
    )
    found = [at.sheet.value(unit.id, name) for unit in units]
    known = [value.value for value in found if isinstance(value, Figure)]
    return max(known) if known else None


@predicate("starting load", "a load takes more at its start than while it runs")
def _starting(at: At) -> bool:
    return any(load.starting_power != UNKNOWN for load in at.plant.site.loads if load.current == "ac")


@predicate("one leg only", "the supply is a single leg where two in opposition are usual")
def _one_leg(at: At) -> bool:
    units = list(at.plant.site.inverter_chargers)
    return at.plant.rules.split_phase and bool(units) and len(legs(at.plant, units)) == 1


@predicate("several units in the group", "this group has more than one inverter/charger")
def _several(at: At) -> bool:
    shared = groups(at.plant)
    named = [units for group, units in shared.items() if not at.place.parts or group in at.place.parts]
    return any(len(units) > 1 for units in named)


@predicate("bank told over a link", "the bank has a management system with a data link, or may")
def _told(at: At) -> bool | None:
    management = at.plant.bank.management
    if management is None:
        return None if at.plant.battery.managed else False
    return None if management.data_link == UNKNOWN else bool(management.data_link)


# joints


@series("joints", "every bolted joint along one conductor of a run")
def _joints(plant: Plant, place: Place) -> Iterable[str]:
    run = next((run for run in plant.site.runs if run.id in place.parts), None)
    if run is None:
        return ()
    count = 2 if run.joints == UNKNOWN else int(run.joints)
    return (f"joint {number} of {count}" for number in range(1, count + 1))


# runs under load


@selector("controller run", "each DC run between the bank and a charge controller, with the controller")
def _controller_runs(plant: Plant) -> Iterable[Place]:
    for unit in plant.site.charge_controllers:
        run = plant.run_of(unit)
        if run is not None:
            yield Place((run.id, unit.id), (run.label, unit.label))


@selector("load run", "each DC run on the bank's side that carries the load's current")
def _load_runs(plant: Plant) -> Iterable[Place]:
    charging = {unit.run for unit in plant.site.charge_controllers}
    for run in plant.site.runs:
        if run.kind == "dc" and run.id not in charging and not is_array_run(plant, run):
            yield Place((run.id,), (run.label,))
