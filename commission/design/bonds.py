"""Bonds of neutral and earth: as many as the declared earthing asks for, in every way of feeding."""

from __future__ import annotations

from collections.abc import Iterator

from commission.design.bond_places import ISLAND, Bonds, Way, bonds_of, point_of, ways
from commission.design.bond_remedies import bond_remedies, plan_remedy
from commission.design.types import Found, Later, Remedy, Scene
from commission.design.words import gap
from commission.figure import Figure, Gap, Unknown, given
from commission.plant.change import Change
from commission.plant.plant import Plant
from commission.plant.site import BondPoint
from commission.plant.values import UNKNOWN
from commission.sheet.known import not_checked
from commission.sheet.types import Finding


def check_bonds(scene: Scene) -> Iterator[Found]:
    """Find missing and double bonds of neutral and earth, and modes whose earthing is not told."""
    gaps: dict[str, tuple[str, ...]] = {}
    for way in ways(scene.plant):
        point, bonds = point_of(scene.plant, way.mode), bonds_of(scene.plant, way)
        if point is None or point.earthing == UNKNOWN:
            yield _earthing_unknown(way)
        found = _counted(scene, way, point, bonds)
        if found is not None:
            yield found
        elif bonds.missing:
            gaps[way.mode] = bonds.missing
        elif point is not None:
            yield from _against_plan(scene, way, point, bonds)
    if gaps:
        missing = [one for names in gaps.values() for one in names]
        yield Found(not_checked("neutral-bond", tuple(gaps), missing))
    yield from _insulation_monitor(scene)


def mode_in_words(plant: Plant, mode: str) -> str:
    """Return what people call a mode of operation."""
    if mode == ISLAND:
        return "when the inverters feed alone"
    part = plant.parts.get(mode)
    return f"when {part.label} feeds" if part is not None else "in bypass"


def _earthing_unknown(way: Way) -> Found:
    name = f"earthing (TN, TT or IT) and bonds of the mode {way.mode}"
    found = gap(
        "earthing-mode", (way.mode,), Unknown((Gap(name, f"earthing.modes[{way.mode}].earthing"),), "1", name)
    )
    assert found is not None  # noqa: S101 - the gap was just made
    return found


def wanted_bonds(point: BondPoint) -> Figure:
    """Return how many bonds the declared earthing asks for: one in TN and TT, none in IT."""
    return given(
        0.0 if point.earthing == "IT" else 1.0,
        "1",
        f"neutral-earth bonds in a {point.earthing} system",
        source="IEC 60364-1, 312.2; NEC 250.20(B), 250.24(A), 250.30(A): one at any moment, none in IT",
    )


def _standing(way: Way, count: int) -> Figure:
    where = f"earthing.modes[{way.mode}] and the devices' own bonds"
    return given(float(count), "1", f"neutral-earth bonds in the mode {way.mode}", kind="site", where=where)


def _counted(scene: Scene, way: Way, point: BondPoint | None, bonds: Bonds) -> Found | None:
    """Return what is wrong with the number of bonds; a gap can hide one that is missing, never a double."""
    few, many = bonds.counts
    known = point is not None and point.earthing != UNKNOWN
    wanted = wanted_bonds(point) if known and point is not None else None
    most = 1.0 if wanted is None else wanted.value
    if many > most:
        text = _too_many(scene.plant, way, bonds, most)
        count = _standing(way, many)
    elif wanted is not None and few < wanted.value and not bonds.missing:
        text = _missing(scene.plant, way, bonds)
        count = _standing(way, few)
    else:
        return None
    finding = Finding(
        "stop",
        "neutral-bond",
        way.parts,
        text,
        "one bond in this mode, as the earthing plan and the device's instructions have it"
        if most
        else "no bond in this mode, and an insulation monitor",
        value=count,
        limit=wanted,
        releasable=False,
    )
    remedies = Later(lambda: bond_remedies(scene.plant, way, bonds, too_many=many > most))
    return Found(finding, remedies)


def _too_many(plant: Plant, way: Way, bonds: Bonds, most: float) -> str:
    at = " and at ".join(_called(plant, place) for place in (*bonds.places, *bonds.plugged))
    mode = mode_in_words(plant, way.mode)
    if not most:
        return (
            f"neutral is joined to earth at {at} {mode}, and the earthing plan says IT: the first fault "
            "already draws its full current"
        )
    plugged = ", the last while its plug is in" if bonds.plugged else ""
    return (
        f"neutral and earth are joined more than once {mode}: at {at}{plugged}; load current takes the earth "
        "conductors, and residual-current devices neither hold nor trip as they should"
    )


def _missing(plant: Plant, way: Way, bonds: Bonds) -> str:
    mode = mode_in_words(plant, way.mode)
    plugged = f" once {_called(plant, bonds.plugged[0])} is unplugged" if bonds.plugged else ""
    return (
        f"neutral is not joined to earth {mode}{plugged}: a fault to earth trips no breaker and no "
        "residual-current device"
    )


def _called(plant: Plant, place: str) -> str:
    part = plant.parts.get(place)
    return place if part is None else part.label


def _against_plan(scene: Scene, way: Way, point: BondPoint, bonds: Bonds) -> Iterator[Found]:
    """Find an earthing plan that places the bond elsewhere than the devices do."""
    plant = scene.plant
    stand = set(bonds.places)
    own = {place for place in point.bonds if place in stand or place not in _units_of_others(plant, way)}
    if own == stand:
        return
    at = ", ".join(_called(plant, place) for place in bonds.places) or "nowhere"
    told = ", ".join(_called(plant, place) for place in point.bonds) or "nowhere"
    finding = Finding(
        "correct" if point.bonds else "advise",
        "bond-plan",
        way.parts,
        f"{mode_in_words(plant, way.mode)} the earthing plan joins neutral and earth at {told}, the devices "
        f"do at {at}: tests and labels follow the plan",
    )
    yield Found(finding, (plan_remedy(plant, way, bonds),))


def _units_of_others(plant: Plant, way: Way) -> set[str]:
    """Return the inverters of other groups: of several islands each has its own bond in the same mode."""
    if way.mode != ISLAND:
        return set()
    return {unit.id for unit in plant.site.inverter_chargers} - {unit.id for unit in way.units}


def _insulation_monitor(scene: Scene) -> Iterator[Found]:
    plant = scene.plant
    present = {way.mode for way in ways(plant)}
    modes = tuple(
        point.mode for point in plant.site.earthing.modes if point.earthing == "IT" and point.mode in present
    )
    if not modes or plant.site.safety.insulation_monitor is True:
        return
    if plant.site.safety.insulation_monitor == UNKNOWN:
        yield Found(
            not_checked(
                "insulation-monitor",
                modes,
                [Gap("insulation monitor of the IT system", "safety.insulation_monitor")],
            )
        )
        return
    finding = Finding(
        "correct",
        "insulation-monitor",
        modes,
        "nothing watches the insulation of an IT system: a first fault stays unseen, a second one is a short "
        "circuit over people and metal",
    )
    one = given(1.0, "1", "insulation monitors of an IT system", source="IEC 60364-4-41, 411.6.3.1")
    remedy = Remedy("an insulation monitor", passes=one, change=(_MONITOR,))
    yield Found(finding, (remedy,))


_MONITOR = Change("safety.insulation_monitor", True)
