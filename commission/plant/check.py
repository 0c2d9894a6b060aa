"""Checks between the parts of a site: ids given twice, references to nothing, profiles of the wrong kind."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from difflib import get_close_matches
from typing import Any, Final

from commission.errors import Problem
from commission.plant.explain import problem
from commission.plant.site import Generator, Panel, Planned, Site
from commission.plant.values import UNKNOWN

_KIND_OF_SECTION: Final = {
    "inverter_chargers": "inverter_charger",
    "charge_controllers": "charge_controller",
    "ac_pv_inverters": "ac_pv_inverter",
    "generators": "generator",
}
_WORDS: Final = frozenset({UNKNOWN, "none", "battery", "island", "bypass"})
"""Words that have a meaning where an id may stand."""
_CELLS: Final = 10_000
"""Cells of a bank; the walk has a reading for each."""
_CLOCK: Final = re.compile(r"^([01]\d|2[0-3]):[0-5]\d$")


def problems_between_parts(site: Site, equipment: Mapping[str, Any], file: str) -> list[Problem]:
    """Return what is wrong between the parts of a site, in the order of the file."""
    problems = [*_given_twice(site, file), *_wrong_kinds(site, equipment, file), *_too_large(site, file)]
    known = _ids(site)
    for key, ident, allowed in _references(site, known):
        if ident not in allowed and ident != UNKNOWN:
            problems.append(_dangling(file, key, ident, allowed, ident in known))
    for generator in site.generators:
        problems += _quiet_hours(generator, file)
    for panel in site.panels:
        problems += _positions(panel, file)
    return problems


def _too_large(site: Site, file: str) -> Iterator[Problem]:
    """Yield that a bank has more cells than could be measured one by one."""
    bank = site.bank
    cells = len(bank.strings) * bank.blocks_in_series * bank.cells_per_block
    if cells > _CELLS:
        blocks = f"{bank.blocks_in_series} blocks of {bank.cells_per_block} cells"
        made = f"{len(bank.strings)} strings of {blocks}"
        yield problem(file, bank.where, made, f"make {cells:,} cells", f"at most {_CELLS:,} in one bank")


def problems_between_plans(site: Site, file: str) -> list[Problem]:
    """Return names and ids that several planned additions give: findings tell them apart by both."""
    problems = []
    for name, count in Counter(planned.name for planned in site.planned).items():
        if count > 1:
            wrong = f"given to {count} planned additions"
            problems.append(problem(file, "planned.name", f"'{name}'", wrong, "a name of its own for each"))
    for ident, count in Counter(ident for planned in site.planned for ident in _planned_ids(planned)).items():
        if count > 1:
            wrong = f"given to {count} planned parts"
            problems.append(
                problem(file, "planned.id", f"'{ident}'", wrong, "every part needs an id of its own")
            )
    return problems


def _planned_ids(planned: Planned) -> Iterator[str]:
    tables = (*_KIND_OF_SECTION, "runs", "protection", "panels", "data_cables", "loads", "strings")
    for table in tables:
        yield from (part.id for part in getattr(planned, table))
    for controller in planned.charge_controllers:
        yield from (string.id for string in (controller.array.strings if controller.array else ()))


def _ids(site: Site) -> list[str]:
    found = [part.id for section in _sections(site).values() for part in section]
    found += [string.id for string in site.bank.strings]
    found += [
        string.id
        for controller in site.charge_controllers
        if controller.array
        for string in controller.array.strings
    ]
    found.append(site.bank.id)
    return found


def _sections(site: Site) -> dict[str, tuple[Any, ...]]:
    return {
        "inverter_chargers": site.inverter_chargers,
        "charge_controllers": site.charge_controllers,
        "ac_pv_inverters": site.ac_pv_inverters,
        "generators": site.generators,
        "utility": () if site.utility is None else (site.utility,),
        "monitor": () if site.monitor is None else (site.monitor,),
        "runs": site.runs,
        "protection": site.protection,
        "panels": site.panels,
        "interlocks": site.interlocks,
        "loads": site.loads,
        "data_cables": site.data_cables,
    }


def _given_twice(site: Site, file: str) -> Iterator[Problem]:
    for ident, count in Counter(_ids(site)).items():
        if count > 1:
            yield problem(
                file, "id", f"'{ident}'", f"given to {count} parts", "every part needs an id of its own"
            )
        if ident in _WORDS:
            yield problem(file, "id", f"'{ident}'", "is a word with a meaning of its own", "another id")


def _wrong_kinds(site: Site, equipment: Mapping[str, Any], file: str) -> Iterator[Problem]:
    for section, kind in _KIND_OF_SECTION.items():
        for device in getattr(site, section):
            yield from _wrong_kind(
                equipment.get(device.id), kind, f"{section}[{device.id}]", device.profile, file
            )
    if site.monitor is not None:
        monitor = site.monitor
        yield from _wrong_kind(equipment.get(monitor.id), "battery_monitor", "monitor", monitor.profile, file)


def _wrong_kind(found: Any, kind: str, key: str, profile: str, file: str) -> Iterator[Problem]:
    if found is not None and found.kind != kind:
        wrong = f"is the profile of a {found.kind.replace('_', ' ')}"
        yield problem(
            file, f"{key}.profile", f"'{profile}'", wrong, f"one of a {kind.replace('_', ' ')} is wanted"
        )


def _references(site: Site, known: list[str]) -> Iterator[tuple[str, str, list[str]]]:
    """Yield key, id and the ids that may stand there, for every reference of the file."""
    runs = [run.id for run in site.runs]
    protection = [device.id for device in site.protection]
    for device in (*site.inverter_chargers, *site.charge_controllers):
        yield from _when(f"{device.where}.run", device.run, runs)
        yield from _when(f"{device.where}.protection", device.protection, protection)
    yield from _inverter_references(site, protection)
    for inverter in site.ac_pv_inverters:
        yield from _when(f"{inverter.where}.panel_breaker", inverter.panel_breaker, protection)
    yield from _group_references(site, known)
    yield from _earthing_references(site)
    for run in site.runs:
        yield f"{run.where}.from", run.from_, known
        yield f"{run.where}.to", run.to, known
        yield from _when(f"{run.where}.protection", run.protection, protection)
    for guard in site.protection:
        yield from _when(f"{guard.where}.of", guard.of, known)
    yield from _panel_references(site, protection)
    yield from _safety_references(site, known)


def _safety_references(site: Site, known: list[str]) -> Iterator[tuple[str, str, list[str]]]:
    for cable in site.data_cables:
        yield f"{cable.where}.from", cable.from_, known
        yield f"{cable.where}.to", cable.to, known
    sources = [
        part.id
        for part in (
            *site.inverter_chargers,
            *site.charge_controllers,
            *site.ac_pv_inverters,
            *site.generators,
            *(() if site.utility is None else (site.utility,)),
        )
    ]
    reached = site.safety.emergency_stop
    for ident in () if isinstance(reached, str) else reached:
        yield "safety.emergency_stop", ident, [*sources, site.bank.id]


def _panel_references(site: Site, protection: list[str]) -> Iterator[tuple[str, str, list[str]]]:
    panels = [panel.id for panel in site.panels]
    sources = (*site.inverter_chargers, *site.charge_controllers, *site.ac_pv_inverters, *site.generators)
    monitor = () if site.monitor is None else (site.monitor,)
    for device in (*sources, *monitor):
        yield from _when(f"{device.where}.panel", device.panel, panels)
    for panel in site.panels:
        yield from _when(f"{panel.where}.main", panel.main, protection)
        for position in panel.positions:
            key = f"{panel.where}.positions[{position.position}].holds"
            yield from _when(key, position.holds, protection)


def _earthing_references(site: Site) -> Iterator[tuple[str, str, list[str]]]:
    supplies = [
        *(generator.id for generator in site.generators),
        *([site.utility.id] if site.utility else []),
    ]
    for index, point in enumerate(site.earthing.modes, start=1):
        yield f"earthing.modes[number {index}].mode", point.mode, ["island", "bypass", *supplies]


def _inverter_references(site: Site, protection: list[str]) -> Iterator[tuple[str, str, list[str]]]:
    supplies = {
        "generator": [generator.id for generator in site.generators],
        "utility": [site.utility.id] if site.utility else [],
    }
    for inverter in site.inverter_chargers:
        for kind, supply in inverter.inputs.items():
            yield f"{inverter.where}.inputs.{kind}", supply, supplies[kind]
        yield from _when(f"{inverter.where}.ac_breaker", inverter.ac_breaker, protection)
        for kind, breaker in inverter.input_breakers.items():
            yield f"{inverter.where}.input_breakers.{kind}", breaker, protection


def _group_references(site: Site, known: list[str]) -> Iterator[tuple[str, str, list[str]]]:
    members = [
        device.id for device in (*site.inverter_chargers, *site.charge_controllers, *site.ac_pv_inverters)
    ]
    starters = [device.id for device in site.inverter_chargers]
    if site.monitor is not None:
        starters.append(site.monitor.id)
    for ident in site.coordination.members:
        yield "coordination.members", ident, members
    yield from _when("coordination.controller", site.coordination.controller, [*members, *starters])
    running = [*members, *(generator.id for generator in site.generators)]
    running += [site.utility.id] if site.utility else []
    for interlock in site.interlocks:
        for ident in interlock.one_of:
            yield f"{interlock.where}.one_of", ident, running
    for generator in site.generators:
        yield from _when(f"{generator.where}.started_by", generator.started_by, starters)
    if site.monitor is not None:
        for ident in site.monitor.on_battery_side:
            yield "monitor.on_battery_side", ident, known
    if site.authority.state_of_charge not in {"battery", "none"}:
        yield "authority.state_of_charge", site.authority.state_of_charge, starters


def _when(key: str, ident: str | None, allowed: list[str]) -> Iterator[tuple[str, str, list[str]]]:
    if ident is not None:
        yield key, ident, allowed


def _dangling(file: str, key: str, ident: str, allowed: Iterable[str], elsewhere: bool) -> Problem:
    names = sorted(set(allowed))
    wrong = "is an id of another kind of part" if elsewhere else "no part has this id"
    near = get_close_matches(ident, names, n=1, cutoff=0.5)
    listed = ", ".join(names) if names else "the file has no part of that kind"
    return problem(
        file, key, f"'{ident}'", wrong, f"did you mean '{near[0]}'?" if near else f"allowed here: {listed}"
    )


def _quiet_hours(generator: Generator, file: str) -> Iterator[Problem]:
    hours = {"quiet_from": generator.quiet_from, "quiet_until": generator.quiet_until}
    for field, value in hours.items():
        key = f"{generator.where}.{field}"
        if value and value != UNKNOWN and not _CLOCK.match(value):
            yield problem(file, key, f"'{value}'", "is not a time of day", 'HH:MM, such as "21:00"')
        elif not value and any(hours.values()):
            yield problem(file, key, "", "is missing", "no-start hours have a begin and an end")


def _positions(panel: Panel, file: str) -> Iterator[Problem]:
    for position, count in Counter(item.position for item in panel.positions).items():
        if count > 1:
            key = f"{panel.where}.positions[{position}]"
            yield problem(file, key, "", f"is given {count} times", "each position of a panel once")
