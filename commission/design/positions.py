"""Breaker positions of panels: what sits where, what is missing, and the directory for the panel's door."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from commission.design.types import Found, Later, Remedy, Scene
from commission.plant.change import Change
from commission.plant.plant import Plant
from commission.plant.site import Panel, Position, Protection
from commission.plant.values import UNKNOWN
from commission.sheet.types import Finding
from commission.units import plain


@dataclass(frozen=True, slots=True)
class DirectoryLine:
    """One line of a circuit directory, as it is fixed to the panel and printed in the handover."""

    panel: str
    position: str
    device: str
    """Id of the device on it; empty where the position is spare."""
    size: str
    """``breaker 20 A``; empty where the position is spare."""
    circuit: str


def directory(plant: Plant) -> tuple[DirectoryLine, ...]:
    """Return the circuit directory of every panel, in the order of the site file."""
    return tuple(_line(plant, panel, position) for panel in plant.site.panels for position in panel.positions)


def _line(plant: Plant, panel: Panel, position: Position) -> DirectoryLine:
    guard = plant.protection_of(position.holds)
    if guard is None:
        return DirectoryLine(panel.id, position.position, "", "", position.circuit or "spare")
    rating = "" if guard.rating == UNKNOWN else f" {plain(float(guard.rating))} A"
    circuit = position.circuit or _serves(plant, guard)
    return DirectoryLine(panel.id, position.position, guard.id, f"{guard.kind}{rating}", circuit)


def _serves(plant: Plant, guard: Protection) -> str:
    """Return what a device serves, in the words of the site file."""
    part = None if guard.of is None else plant.parts.get(guard.of)
    return part.label if part is not None else guard.of or guard.label


def check_positions(scene: Scene) -> Iterator[Found]:
    """Find devices on two positions or of the wrong current, devices without one, and gaps of directories."""
    for panel in scene.plant.site.panels:
        yield from _currents(scene, panel)
        yield from _directory(scene, panel)
        yield from _spare(panel)
    yield from _twice(scene)
    yield from _missing(scene)


def _currents(scene: Scene, panel: Panel) -> Iterator[Found]:
    """Find DC devices on an AC panel; an AC device in a DC circuit is found among the DC devices."""
    for position in panel.positions if panel.kind == "ac" else ():
        guard = scene.plant.protection_of(position.holds)
        if guard is None or guard.current == "ac":
            continue
        text = (
            f"{guard.label} on position {position.position} of {panel.label} is a device for direct current, "
            "the panel carries alternating current"
        )
        remedy = "a device rated for alternating current on that position, or a DC panel for this one"
        yield Found(Finding("correct", "position-current", (panel.id, guard.id), text, remedy))


def _directory(scene: Scene, panel: Panel) -> Iterator[Found]:
    if not panel.positions:
        text = f"{panel.label} has no circuit directory: nobody can tell what its devices switch"
        remedy = "list its positions in the site file, and fix the directory to the panel"
        yield Found(Finding("advise", "circuit-directory", (panel.id,), text, remedy))
        return
    silent = [one for one in panel.positions if one.holds is not None and not one.circuit.strip()]
    if not silent:
        return
    names = ", ".join(one.position for one in silent)
    finding = Finding(
        "advise",
        "circuit-directory",
        (panel.id,),
        f"{panel.label}: the directory does not say what position {names} feeds",
    )
    words = [_line(scene.plant, panel, one).circuit for one in silent]
    told = ", ".join(f"{one.position}: {word}" for one, word in zip(silent, words, strict=True))
    change = tuple(
        Change(f"{panel.where}.positions[{one.position}].circuit", word)
        for one, word in zip(silent, words, strict=True)
    )
    yield Found(finding, (Remedy(f"a word for each circuit, such as {told}", change=change),))


def _spare(panel: Panel) -> Iterator[Found]:
    if not panel.positions or any(one.holds is None for one in panel.positions):
        return
    text = f"{panel.label}: all {len(panel.positions)} positions are taken, none is spare"
    remedy = "a panel with room for one more circuit, before a circuit is added"
    yield Found(Finding("advise", "spare-position", (panel.id,), text, remedy))


def _twice(scene: Scene) -> Iterator[Found]:
    seen: dict[str, list[tuple[Panel, Position]]] = {}
    for panel in scene.plant.site.panels:
        for position in panel.positions:
            if position.holds is not None:
                seen.setdefault(position.holds, []).append((panel, position))
    for ident, places in seen.items():
        if len(places) < 2:
            continue
        guard = scene.plant.protection_of(ident)
        label = ident if guard is None else guard.label
        where = " and ".join(f"position {one.position} of {panel.label}" for panel, one in places)
        panel, last = places[-1]
        remedy = Remedy(
            f"position {last.position} of {panel.label} without it, or the device that is really there",
            change=(Change(f"{panel.where}.positions[{last.position}].holds", None),),
        )
        text = f"{label} is listed on {where}: one device switches one place, the directory is wrong"
        yield Found(Finding("correct", "position-twice", (ident,), text), (remedy,))


def _missing(scene: Scene) -> Iterator[Found]:
    """Find devices that say on which panel they sit while no position of it holds their protection."""
    plant = scene.plant
    held = {one.holds for panel in plant.site.panels for one in panel.positions}
    for part, panel_id, guards in _seats(plant):
        panel = next((one for one in plant.site.panels if one.id == panel_id), None)
        if panel is None or not panel.positions or not guards:
            continue
        if any(guard.id in held for guard in guards):
            continue
        guard = guards[0]
        text = (
            f"{guard.label} of {plant.parts[part].label} should sit on {panel.label}, "
            "and none of its positions holds it"
        )
        finding = Finding("advise", "position-missing", (guard.id,), text, "list the position that it is on")
        yield Found(finding, Later(_on_spare(plant, panel, guard)))


def _on_spare(plant: Plant, panel: Panel, guard: Protection) -> Iterator[Remedy]:
    spare = next((one for one in panel.positions if one.holds is None), None)
    if spare is None:
        return
    where = f"{panel.where}.positions[{spare.position}]"
    yield Remedy(
        f"the directory with {guard.label} on its own position, such as the spare {spare.position}",
        change=(Change(f"{where}.holds", guard.id), Change(f"{where}.circuit", _serves(plant, guard))),
    )


def _seats(plant: Plant) -> Iterator[tuple[str, str | None, list[Protection]]]:
    """Yield each device with the panel that it names and its protection of that panel's current."""
    site = plant.site
    kinds = {panel.id: panel.kind for panel in site.panels}
    for source in plant.sources:
        if kinds.get(source.panel or "") == "dc":
            yield source.id, source.panel, _known(plant, source.protection)
    for inverter in site.ac_pv_inverters:
        if kinds.get(inverter.panel or "") == "ac":
            yield inverter.id, inverter.panel, _known(plant, inverter.panel_breaker)
    for generator in site.generators:
        if kinds.get(generator.panel or "") == "ac":
            own = [one for one in site.protection if one.of == generator.id and one.kind in _BREAKS]
            yield generator.id, generator.panel, own


_BREAKS = frozenset({"breaker", "fuse"})


def _known(plant: Plant, ident: str | None) -> list[Protection]:
    found = plant.protection_of(ident)
    return [] if found is None else [found]
