"""Inverters that make one supply together: classes, roles and legs that fit, and as many as may be."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

from commission.design.group_legs import (
    check_missing_legs,
    check_three_phase,
    check_unequal_legs,
    on_three_phases,
)
from commission.design.group_units import check_units
from commission.design.inverter_supplies import Supply, panels_of, supplies_of, unit_legs
from commission.design.types import Found, Later, Remedy, Scene
from commission.design.words import gap
from commission.figure import Figure, Quantity, Unknown, given
from commission.plant.change import Change
from commission.plant.equipment import Joining
from commission.plant.plant import Plant, datasheet_gap
from commission.plant.site import InverterCharger
from commission.plant.values import UNKNOWN
from commission.sheet.types import Finding, Kind

_JOINING: dict[Joining, str] = {
    "parallel": "in parallel on one leg",
    "split": "as the two legs of a split phase",
    "three": "as three phases",
}


def check_composition(scene: Scene) -> Iterator[Found]:
    """Find supplies of several inverters that do not work together, or that nothing keeps in step."""
    supplies = supplies_of(scene.plant)
    yield from _side_by_side(scene, supplies)
    for supply in supplies:
        if len(supply.units) > 1:
            yield from check_units(scene, supply)
            yield from _roles(scene, supply)
            yield from _count(scene, supply)
            yield from _joined(scene, supply)
            yield from check_three_phase(scene, supply)
            yield from check_unequal_legs(scene, supply)
        else:
            yield from _left_alone(scene, supply)
        yield from check_missing_legs(scene, supply)


def _made(kind: Kind, check: str, supply: Supply, text: str, remedy: str = "") -> Finding:
    return Finding(kind, check, supply.ids, text, remedy)


# side by side without a group


def _side_by_side(scene: Scene, supplies: tuple[Supply, ...]) -> Iterator[Found]:
    """Find supplies of their own whose outputs lead to one panel: nothing keeps them in step."""
    told: set[frozenset[str]] = set()
    for at, first in enumerate(supplies):
        for second in supplies[at + 1 :]:
            shared = panels_of(scene.plant, first) & panels_of(scene.plant, second)
            units = frozenset({*first.ids, *second.ids})
            if not shared or units in told or _kept_apart(scene.plant, first, second):
                continue
            told.add(units)
            names = ", ".join(scene.plant.parts[ident].label for ident in sorted(shared))
            finding = Finding(
                "stop",
                "outputs-joined",
                (*first.ids, *second.ids),
                f"{first.names} and {second.names} feed {names} and are no group: nothing keeps their "
                "outputs in step, and each drives the other",
                "one group of units that are made for it, or a panel of its own for each, or a changeover "
                "that lets only one feed it",
            )
            yield Found(finding, Later(_one_group(first, second)))


def _kept_apart(plant: Plant, first: Supply, second: Supply) -> bool:
    """Whether an interlock lets only one of two supplies run."""
    for interlock in plant.site.interlocks:
        named = set(interlock.one_of)
        if named & set(first.ids) and named & set(second.ids):
            return True
    return False


def _one_group(first: Supply, second: Supply) -> Iterator[Remedy]:
    units = (*first.units, *second.units)
    name = first.group or second.group or "inverters"
    roles = [
        Change(f"{unit.where}.group_role", "reference" if place == 0 else "follower")
        for place, unit in enumerate(units)
    ]
    changes = (*(Change(f"{unit.where}.group", name) for unit in units), *roles)
    yield Remedy(
        f"{first.names} and {second.names} as one group, {units[0].label} its reference", change=changes
    )


# roles


def _roles(scene: Scene, supply: Supply) -> Iterator[Found]:
    units = supply.units
    if any(unit.group_role == UNKNOWN for unit in units):  # the settings ask for it where a unit has it
        return
    alone = [unit for unit in units if unit.group_role == "alone"]
    references = [unit for unit in units if unit.group_role == "reference"]
    if alone:
        names = ", ".join(unit.label for unit in alone)
        text = (
            f"{names} {'makes its' if len(alone) == 1 else 'make their'} own voltage in a group of "
            f"{len(units)}: joined outputs drive each other"
        )
        yield Found(_made("stop", "group-role", supply, text), (_one_reference(units, references),))
    elif len(references) > 1:
        names = ", ".join(unit.label for unit in references)
        text = f"{names} all are reference of one group: each sets a voltage and phase of its own"
        yield Found(_made("stop", "group-role", supply, text), (_one_reference(units, references),))
    elif not references and not _by_controller(scene.plant, supply):
        text = f"no unit of {supply.names} is the reference: nothing sets voltage, frequency and phase"
        yield Found(_made("correct", "group-role", supply, text), (_one_reference(units, references),))
    if _by_controller(scene.plant, supply):
        yield from _controller(scene, supply)
    else:
        yield from _controller_not_told(scene.plant, supply)


def _one_reference(units: tuple[InverterCharger, ...], references: list[InverterCharger]) -> Remedy:
    chosen = (references or list(units))[0]
    changes = tuple(
        Change(f"{unit.where}.group_role", "reference" if unit is chosen else "follower") for unit in units
    )
    return Remedy(f"{chosen.label} the one reference, all others followers", change=changes)


def _left_alone(scene: Scene, supply: Supply) -> Iterator[Found]:
    (unit,) = supply.units
    if unit.group_role != "follower":
        return
    text = f"{unit.label} follows a reference that is not there: it makes no output by itself"
    remedy = Remedy(f"{unit.label} alone, or in the group of its reference", change=(_alone(unit),))
    yield Found(_made("correct", "group-role", supply, text), (remedy,))


def _alone(unit: InverterCharger) -> Change:
    return Change(f"{unit.where}.group_role", "alone")


def _by_controller(plant: Plant, supply: Supply) -> bool:
    return any(plant.inverter_class(unit).group_by_controller is True for unit in supply.units)


def _controller_not_told(plant: Plant, supply: Supply) -> Iterator[Found]:
    gaps = [
        Unknown(
            (
                datasheet_gap(
                    unit, "group_by_controller", f"whether a group of {unit.label} needs a controller"
                ),
            )
        )
        for unit in supply.units
        if plant.inverter_class(unit).group_by_controller == UNKNOWN
    ]
    missing = gap("group-controller", supply.ids, *gaps)
    if missing is not None:
        yield missing


def _controller(scene: Scene, supply: Supply) -> Iterator[Found]:
    plant = scene.plant
    controller = plant.site.coordination.controller
    apart = controller is not None and controller not in supply.ids
    if plant.site.coordination.kind != "none" and apart:
        return
    text = f"{supply.names} are joined by a controller of the group, and the site has none"
    remedy = "the controller that the maker wants for this group, named in the coordination"
    yield Found(_made("correct", "group-controller", supply, text, remedy))


# how many, and how they are joined


def _count(scene: Scene, supply: Supply) -> Iterator[Found]:
    limits = [scene.plant.rating(unit, "units_max") for unit in supply.units]
    missing = gap("group-size", supply.ids, *limits)
    if missing is not None:
        yield missing
        return
    most = min((limit for limit in limits if isinstance(limit, Figure)), key=lambda limit: limit.value)
    count = len(supply.units)
    if count <= most.value + 1e-9:
        return
    value = given(
        float(count), "1", f"units of the group of {supply.names}", kind="site", where="inverter_chargers"
    )
    text = f"{count} units make one group, at most {most.value:.0f} of this class may"
    finding = Finding("correct", "group-size", supply.ids, text, value=value, limit=most)
    changes = tuple(Change(f"{unit.where}.datasheet.units_max", float(count)) for unit in supply.units)
    words = f"a class of which {count} may make one group, or at most {most.value:.0f} units"
    yield Found(finding, (Remedy(words, value.named("units of one group that pass"), changes),))


def _joined(scene: Scene, supply: Supply) -> Iterator[Found]:
    """Find ways of joining units that their class does not have."""
    plant = scene.plant
    unknown: list[Quantity] = []
    lacking: dict[Joining, list[InverterCharger]] = {}
    for unit in supply.units:
        can = plant.inverter_class(unit).combines
        if can == UNKNOWN:
            unknown.append(
                Unknown((datasheet_gap(unit, "combines", f"how {unit.label} can be joined with others"),))
            )
            continue
        for joining in _wanted(plant, supply, unit):
            if joining not in can:
                lacking.setdefault(joining, []).append(unit)
    missing = gap("group-joining", supply.ids, *unknown)
    if missing is not None:
        yield missing
    for joining, units in lacking.items():
        yield _cannot_join(plant, supply, joining, units)
        return  # one thing at a time: the remedy of the first may be the remedy of all


def _wanted(plant: Plant, supply: Supply, unit: InverterCharger) -> Iterator[Joining]:
    """Yield the ways in which a unit is joined with the others of its group."""
    counts = Counter(leg for one in supply.units for leg in unit_legs(plant, one))
    own = unit_legs(plant, unit)
    if any(counts[leg] > 1 for leg in own):
        yield "parallel"
    others = [leg for leg in counts if leg not in own]
    if own and others and len(own) == 1:
        yield "three" if "3" in counts or on_three_phases(plant, supply) else "split"


def _cannot_join(plant: Plant, supply: Supply, joining: Joining, units: list[InverterCharger]) -> Found:
    names = ", ".join(unit.label for unit in units)
    can = plant.inverter_class(units[0]).combines
    has = "alone only" if not can else "only " + " or ".join(_JOINING[one] for one in can if one in _JOINING)
    text = f"{names} {'is' if len(units) == 1 else 'are'} joined {_JOINING[joining]}; the class runs {has}"
    finding = _made("stop", "group-joining", supply, text)
    return Found(finding, (*_spread(plant, supply, joining), _made_for_it(plant, supply, joining)))


def _spread(plant: Plant, supply: Supply, joining: Joining) -> Iterator[Remedy]:
    """Yield the units on legs of their own, where the class makes legs and two or three units are there."""
    units = supply.units
    legs = {2: ("split", ("1", "2")), 3: ("three", ("1", "2", "3"))}.get(len(units))
    if joining != "parallel" or legs is None or any(len(unit_legs(plant, unit)) != 1 for unit in units):
        return
    wanted, names = legs
    if any(wanted not in plant.inverter_class(unit).combines for unit in units):
        return
    pairs = list(zip(units, names, strict=True))
    changes = tuple(Change(f"{unit.where}.group_leg", leg) for unit, leg in pairs)
    told = ", ".join(f"{unit.label} on leg {leg}" for unit, leg in pairs)
    yield Remedy(told, change=changes)


def _made_for_it(plant: Plant, supply: Supply, joining: Joining) -> Remedy:
    changes = []
    for unit in supply.units:
        can = plant.inverter_class(unit).combines
        known = [] if can == UNKNOWN else [str(one) for one in can]
        ways = list(dict.fromkeys([*known, joining]))
        changes.append(Change(f"{unit.where}.datasheet.combines", ways))
    return Remedy(f"units of a class that is made to run {_JOINING[joining]}", change=tuple(changes))
