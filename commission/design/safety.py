"""What guards people and the building beside fuses and breakers, on the PV side and at the supply."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from commission.design.pv_array import PvArray, cold_voltage, pv_arrays
from commission.design.pv_carriers import array_devices
from commission.design.safety_parts import array_surge, entry_surge, isolator
from commission.design.types import Found, Remedy, Scene
from commission.design.words import gap, shown
from commission.figure import Figure, Gap, Quantity, greatest
from commission.plant.change import Change
from commission.plant.site import YesNo
from commission.plant.values import UNKNOWN
from commission.sheet.known import not_checked
from commission.sheet.types import Finding

_SITE: Final = ("site",)
_PARTING: Final = frozenset({"breaker", "switch"})
"""Kinds of device that part an array under load; a fuse does not."""


def check_safety(scene: Scene) -> Iterator[Found]:
    """Find PV arrays without the detection, shutdown, isolator and surge protection that they need."""
    arrays = pv_arrays(scene)
    if arrays:
        yield from _earth_fault(scene)
        yield from _arc_fault(scene, arrays)
    if arrays or scene.plant.site.ac_pv_inverters:
        yield from _rapid_shutdown(scene)
    for pv in arrays:
        yield from _isolator(pv)
        yield from _surge(pv)
    yield from _surge_at_entry(scene)


def _told(check: str, told: YesNo, what: str) -> Found | None:
    """Return the finding that a thing is not known, None where it is told."""
    return Found(not_checked(check, _SITE, [what])) if told == UNKNOWN else None


def _with(field: str, text: str) -> tuple[Remedy, ...]:
    return (Remedy(text, change=(Change(f"safety.{field}", True),)),)


# detection and shutdown


def _earth_fault(scene: Scene) -> Iterator[Found]:
    told = scene.plant.site.safety.earth_fault_detection
    if not scene.plant.rules.earth_fault_detection or told is True:
        return
    missing = _told(
        "earth-fault-detection",
        told,
        Gap("earth-fault detection of the PV array", "safety.earth_fault_detection"),
    )
    if missing is not None:
        yield missing
        return
    finding = Finding(
        "correct",
        "earth-fault-detection",
        _SITE,
        "an earth fault of the PV array is neither interrupted nor told: a second one starts a fire",
    )
    source = scene.plant.rules.safety_source
    text = (
        f"earth-fault detection of the array ({source}); the local code may except small ones off buildings"
    )
    yield Found(finding, _with("earth_fault_detection", text))


def _arc_fault(scene: Scene, arrays: tuple[PvArray, ...]) -> Iterator[Found]:
    plant, safety = scene.plant, scene.plant.site.safety
    limit = plant.rule_if_any("arc_fault_voltage")
    if limit is None or safety.arc_fault_detection is True or safety.array_on_building is False:
        return
    voltages = [cold_voltage(pv, string) for pv in arrays for string in pv.kinds]
    highest = _highest(voltages)
    over = highest is not None and isinstance(limit, Figure) and highest.value >= limit.value - 1e-9
    if not over:
        missing = gap("arc-fault-detection", _SITE, limit, *voltages)
        if missing is not None:
            yield missing
        return
    told = _told("arc-fault-detection", safety.array_on_building, _BUILDING) or _told(
        "arc-fault-detection",
        safety.arc_fault_detection,
        Gap("arc-fault detection of the PV array", "safety.arc_fault_detection"),
    )
    if told is not None:
        yield told
        return
    assert highest is not None and isinstance(limit, Figure)  # noqa: S101, PT018 - over the limit
    finding = Finding(
        "correct",
        "arc-fault-detection",
        _SITE,
        f"PV on a building reaches {shown(scene, highest, beside=limit)} in the cold and nothing "
        "interrupts a series arc, "
        f"as is wanted from {shown(scene, limit, beside=highest)} on",
        value=highest,
        limit=limit,
    )
    text = f"arc-fault detection that interrupts the array ({plant.rules.safety_source})"
    yield Found(finding, _with("arc_fault_detection", text))


_BUILDING: Final = Gap("whether PV modules or PV wiring are on or in a building", "safety.array_on_building")


def _highest(voltages: list[Quantity]) -> Figure | None:
    known = [one for one in voltages if isinstance(one, Figure)]
    if not known:
        return None
    made = known[0] if len(known) == 1 else greatest("highest PV voltage at the record low", *known)
    return made if isinstance(made, Figure) else None


def _rapid_shutdown(scene: Scene) -> Iterator[Found]:
    safety = scene.plant.site.safety
    if not scene.plant.rules.rapid_shutdown or safety.rapid_shutdown is True:
        return
    if safety.array_on_building is False:
        return
    told = _told("rapid-shutdown", safety.array_on_building, _BUILDING) or _told(
        "rapid-shutdown",
        safety.rapid_shutdown,
        Gap("rapid shutdown of the PV wiring on the building", "safety.rapid_shutdown"),
    )
    if told is not None:
        yield told
        return
    finding = Finding(
        "correct",
        "rapid-shutdown",
        _SITE,
        "PV wiring on the building stays live by day whatever is switched off, in a fire too",
    )
    text = f"rapid shutdown of the PV wiring on the building ({scene.plant.rules.safety_source})"
    yield Found(finding, _with("rapid_shutdown", text))


# isolator and surge protection of an array


def _isolator(pv: PvArray) -> Iterator[Found]:
    guards = {run.protection for run in pv.plant.site.runs if {run.from_, run.to} & _strings(pv)}
    devices = [*array_devices(pv), *(one for one in pv.plant.site.protection if one.id in guards)]
    if any(one.kind in _PARTING for one in devices):
        return
    finding = Finding(
        "correct",
        "array-isolator",
        (pv.id,),
        f"nothing parts the array from {pv.controller.label} under load: the controller stays live by day, "
        "and pulled connectors draw an arc",
    )
    yield Found(finding, (isolator(pv),))


def _strings(pv: PvArray) -> set[str]:
    return {string.id for string in pv.array.strings}


def _surge(pv: PvArray) -> Iterator[Found]:
    owners = {pv.id, *_strings(pv)}
    devices = [one for one in pv.plant.site.protection if one.kind == "surge" and one.current == "dc"]
    if any(one.of in owners for one in devices):
        return
    finding = Finding(
        "advise",
        "surge-protection",
        (pv.id,),
        f"no surge protection on the array of {pv.controller.label}: near lightning reaches the controller",
    )
    yield Found(finding, (array_surge(pv),))


def _surge_at_entry(scene: Scene) -> Iterator[Found]:
    utility = scene.plant.site.utility
    if utility is None:
        return
    runs = [run for run in scene.plant.site.runs if utility.id in {run.from_, run.to}]
    places = {utility.id, *(end for run in runs for end in (run.from_, run.to))}
    panels = [panel for panel in scene.plant.site.panels if panel.id in places]
    held = {position.holds for panel in panels for position in panel.positions}
    devices = [one for one in scene.plant.site.protection if one.kind == "surge" and one.current == "ac"]
    if any(one.of in places or one.id in held for one in devices):
        return
    finding = Finding(
        "advise",
        "surge-protection",
        (utility.id,),
        f"no surge protection where {utility.label} enters: its surges reach the inverters and the loads",
    )
    yield Found(finding, (entry_surge(scene, utility),))
