"""Where neutral and earth are joined in each mode of operation, by what the devices do."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from commission.figure import Gap
from commission.plant.plant import Plant
from commission.plant.site import BondPoint, Generator, InverterCharger, Panel, Utility
from commission.plant.values import UNKNOWN

ISLAND: Final = "island"
BYPASS: Final = "bypass"


@dataclass(frozen=True)
class Way:
    """One way in which the AC system can be fed."""

    mode: str
    """As the earthing plan names it: island, the id of a generator or of the public supply, bypass."""
    units: tuple[InverterCharger, ...]
    """The inverters whose neutral is in it: of an island one group."""
    parts: tuple[str, ...]
    """What a finding about it concerns: the mode, and of an island its inverters."""


@dataclass(frozen=True)
class Bonds:
    """The bonds of one way of feeding."""

    places: tuple[str, ...]
    """Ids of the parts, or words of the earthing plan, at which neutral and earth are joined."""
    plugged: tuple[str, ...] = ()
    """Those that stand only while a plug is in."""
    missing: tuple[str, ...] = ()
    """What is not known, as a person would name it."""

    @property
    def counts(self) -> tuple[int, int]:
        """Return the least and the greatest number of bonds that stand, of what is known."""
        return len(self.places), len(self.places) + len(self.plugged)


def ways(plant: Plant) -> tuple[Way, ...]:
    """Return every way in which the AC system of a plant can be fed."""
    site = plant.site
    islands = [
        Way(ISLAND, units, (ISLAND, *(unit.id for unit in units))) for units in groups(site.inverter_chargers)
    ]
    every = site.inverter_chargers
    supplies: list[Generator | Utility] = [*site.generators, *([site.utility] if site.utility else [])]
    named = [point.mode for point in site.earthing.modes]
    bypass = [Way(BYPASS, every, (BYPASS,))] if BYPASS in named else []
    return (*islands, *(Way(one.id, every, (one.id,)) for one in supplies), *bypass)


def groups(units: tuple[InverterCharger, ...]) -> tuple[tuple[InverterCharger, ...], ...]:
    """Return inverters by group; one that stands alone is a group of its own."""
    found: dict[str, list[InverterCharger]] = {}
    for unit in units:
        found.setdefault(unit.group or f"alone:{unit.id}", []).append(unit)
    return tuple(tuple(group) for group in found.values())


def point_of(plant: Plant, mode: str) -> BondPoint | None:
    """Return what the earthing plan says of a mode, None where it does not name it."""
    return next((point for point in plant.site.earthing.modes if point.mode == mode), None)


def bonds_of(plant: Plant, way: Way) -> Bonds:
    """Return the bonds that stand when the AC system is fed in one way.

    The devices' own fields count; the earthing plan adds what no device tells, and stands in for a device
    whose field is unknown.
    """
    point = point_of(plant, way.mode)
    planned = () if point is None else point.bonds
    found = [
        *_of_units(plant, way, planned),
        *_of_generators(plant, way, planned),
        *_of_utility(plant, way),
        *_of_panels(plant, way),
    ]
    found += [_Bond(place) for place in planned if not _governed(plant, place)]
    return Bonds(
        places=_once(bond.place for bond in found if not bond.missing and not bond.plugged),
        plugged=_once(bond.place for bond in found if not bond.missing and bond.plugged),
        missing=_once(bond.missing for bond in found if bond.missing),
    )


@dataclass(frozen=True)
class _Bond:
    place: str
    plugged: bool = False
    missing: str = ""


def _once(names: Iterator[str]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(names))


def _governed(plant: Plant, place: str) -> bool:
    """Whether a place of the earthing plan is a part whose own fields say what it does."""
    part = plant.parts.get(place)
    return isinstance(part, InverterCharger | Generator | Utility | Panel)


def _of_units(plant: Plant, way: Way, planned: tuple[str, ...]) -> Iterator[_Bond]:
    supply = _feeding(plant, way)
    for unit in way.units:
        apart = supply is not None and supply.id not in unit.inputs.values()
        if apart and supply is not None and supply.neutral_switched is True:
            continue
        if unit.neutral_bond == "fixed" or (unit.neutral_bond == "automatic" and way.mode == ISLAND):
            yield _Bond(unit.id)
        elif unit.neutral_bond == UNKNOWN:
            known = unit.id in planned
            yield _Bond(
                unit.id,
                missing="" if known else Gap(f"neutral bond of {unit.label}", f"{unit.where}.neutral_bond"),
            )


def _of_generators(plant: Plant, way: Way, planned: tuple[str, ...]) -> Iterator[_Bond]:
    feeding = _feeding(plant, way)
    for one in plant.site.generators:
        if feeding is not None and one.id == feeding.id:
            if one.neutral_bond == UNKNOWN:
                known = one.id in planned
                yield _Bond(
                    one.id,
                    missing="" if known else Gap(f"neutral bond of {one.label}", f"{one.where}.neutral_bond"),
                )
            elif one.neutral_bond != "none":
                yield _Bond(one.id)
        elif one.neutral_switched is not True:
            yield from _of_idle(one)


def _of_idle(one: Generator) -> Iterator[_Bond]:
    """Yield the bond of a set that does not feed but whose neutral may still be joined to the plant's."""
    if one.neutral_bond in {"none", "switched"}:
        return
    if one.neutral_bond == UNKNOWN:
        yield _Bond(one.id, missing=Gap(f"neutral bond of {one.label}", f"{one.where}.neutral_bond"))
    if one.neutral_switched == UNKNOWN:
        yield _Bond(
            one.id,
            missing=Gap(
                f"whether the changeover switches the neutral of {one.label}", f"{one.where}.neutral_switched"
            ),
        )
    if one.neutral_bond == "bonded frame" and one.neutral_switched is False:
        yield _Bond(one.id, plugged=one.by_plug)


def _of_utility(plant: Plant, way: Way) -> Iterator[_Bond]:
    utility = plant.site.utility
    if utility is None:
        return
    point = point_of(plant, utility.id)
    if point is not None and point.earthing == "IT":
        return
    feeding = _feeding(plant, way)
    if (feeding is not None and feeding.id == utility.id) or utility.neutral_switched is False:
        yield _Bond(utility.id)
    elif utility.neutral_switched == UNKNOWN:
        yield _Bond(
            utility.id,
            missing=Gap(
                f"whether the neutral of {utility.label} is parted", f"{utility.where}.neutral_switched"
            ),
        )


def _of_panels(plant: Plant, way: Way) -> Iterator[_Bond]:
    named = {place for point in plant.site.earthing.modes for place in point.bonds}
    feeding = _feeding(plant, way)
    for panel in plant.site.panels:
        if panel.kind != "ac" or not (panel.neutral_bar_bonded or panel.id in named):
            continue
        supplies, beyond = _feeders(plant, panel)
        own = feeding is not None and feeding in supplies
        if own and isinstance(feeding, Utility):
            continue  # the bond of a service panel is the public supply's own
        if own or beyond or not supplies:
            yield _Bond(panel.id)
        elif all(isinstance(one, Utility) for one in supplies):
            continue  # joined or parted with the public supply, where it is counted
        elif any(one.neutral_switched is False for one in supplies):
            yield _Bond(panel.id)
        elif any(one.neutral_switched == UNKNOWN for one in supplies):
            for one in supplies:
                if one.neutral_switched == UNKNOWN:
                    name = f"whether the changeover switches the neutral of {one.label}"
                    yield _Bond(panel.id, missing=Gap(name, f"{one.where}.neutral_switched"))


def _feeders(plant: Plant, panel: Panel) -> tuple[tuple[Generator | Utility, ...], bool]:
    """Return the AC sources that feed a panel, and whether inverters' outputs or loads hang on it too."""
    held = {position.holds for position in panel.positions} | {panel.main}
    runs = [run for run in plant.site.runs if run.kind == "ac" and _touches(panel, held, run.from_, run.to)]
    ends = {end for run in runs for end in (run.from_, run.to)}
    guarded = {guard.of for guard in plant.site.protection if guard.id in held}
    site = plant.site
    known: list[Generator | Utility] = [*site.generators, *([site.utility] if site.utility else [])]
    supplies = tuple(one for one in known if one.id in ends or one.id in guarded)
    outputs = {unit.ac_breaker for unit in site.inverter_chargers} & held - {None}
    incoming = {run.protection for run in runs} & {
        breaker for unit in site.inverter_chargers for breaker in unit.input_breakers.values()
    }
    units = {unit.id for unit in site.inverter_chargers}
    fed = any(run.from_ in units and run.protection not in incoming for run in runs)
    loads = any(load.id in guarded or load.id in ends for load in site.loads)
    return supplies, bool(outputs) or fed or loads


def _touches(panel: Panel, held: set[str | None], *ends: str) -> bool:
    return any(end == panel.id or end in held for end in ends)


def _feeding(plant: Plant, way: Way) -> Generator | Utility | None:
    """Return the AC source that feeds in a mode, None in an island."""
    site = plant.site
    supplies: list[Generator | Utility] = [*([site.utility] if site.utility else []), *site.generators]
    if way.mode != BYPASS:
        return next((one for one in supplies if one.id == way.mode), None)
    point = point_of(plant, BYPASS)
    told = () if point is None else point.bonds
    return next((one for one in supplies if one.id in told), supplies[0] if supplies else None)
