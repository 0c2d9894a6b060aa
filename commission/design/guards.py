"""What protects a conductor run, and up to which rating a device protects it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Final

from commission.design.circuits import net_of, share_among
from commission.design.fault_paths import BREAKS, FaultPaths
from commission.design.main_protection import bank_guards
from commission.design.standard import ratings_from
from commission.design.types import Circuit, Scene
from commission.figure import Figure, Quantity, Unknown, given, least
from commission.formulas.charging import scaled_current, sum_of_currents
from commission.formulas.load_control import share_of_current
from commission.formulas.overcurrent import next_standard_rating
from commission.plant.equipment import Input
from commission.plant.once import once
from commission.plant.plant import Plant, part_fact
from commission.plant.site import AcPvInverter, DirectCurrentSource, InverterCharger, Protection, Run
from commission.sheet.run_limits import run_ampacity, table_row

_INPUTS: Final[tuple[Input, ...]] = ("generator", "utility")


def guard_of(scene: Scene, circuit: Circuit) -> Protection | None:
    """Return the breaker or fuse that protects a run: its own, else the one that the site names for its part.

    A main run without one of its own is held by the bank's.
    """
    breaks = _breaking(scene.plant)
    run = circuit.run
    for ident in (run.protection, run.from_, run.to, *_named(scene.plant, circuit)):
        if ident in breaks and not _of_them_all(scene, circuit, breaks[ident]):
            return breaks[ident]
    return next(_meant_for(scene, circuit), None)


@once
def _breaking(plant: Plant) -> dict[str | None, Protection]:
    """Return the breakers and fuses by their ids."""
    return {one.id: one for one in plant.site.protection if one.kind in BREAKS}


def _of_them_all(scene: Scene, circuit: Circuit, device: Protection) -> bool:
    """Whether a device named for the lead of one of several strings stands behind their common point."""
    if circuit.role != "string" or len(scene.plant.bank.strings) < 2:
        return False
    strings = net_of(scene, "dc").strings
    runs = (run for run in scene.plant.site.runs if run.protection == device.id)
    served = {end for run in runs for end in (run.from_, run.to)}
    return device.protects == "bank" or len(served & strings) > 1


def _named(plant: Plant, circuit: Circuit) -> Iterator[str | None]:
    """Yield the devices that a part names for itself."""
    part = plant.parts.get(circuit.part)
    if isinstance(part, InverterCharger) and circuit.role == "ac output":
        yield part.ac_breaker
    if isinstance(part, InverterCharger) and circuit.role == "ac input":
        yield from (part.input_breakers.get(kind) for kind in _INPUTS)
    if isinstance(part, DirectCurrentSource) and circuit.role in {"inverter", "controller"}:
        yield part.protection
    if isinstance(part, AcPvInverter):
        yield part.panel_breaker


def _meant_for(scene: Scene, circuit: Circuit) -> Iterator[Protection]:
    if circuit.role == "main":
        guards = bank_guards(scene)
        yield from guards if len(guards) == 1 else ()
    if circuit.role in {"string", "direct load", "ac load", "inverter", "controller", "supply"}:
        kinds = {"string"} if circuit.role == "string" else {"device", "branch"}
        for device in scene.plant.site.protection:
            fits = device.current == circuit.run.kind and device.protects in kinds
            if device.kind in BREAKS and fits and device.of == circuit.part:
                yield device


def greatest_rating(plant: Plant, run: Run, kind: str) -> Quantity:
    """Return the greatest rating of a breaker or fuse that still protects a run, in A.

    Its ampacity, of a fuse the rule set's share of it; the next standard rating where the rule set lets a
    device be rounded up; never over what the conductor table allows for a small size.
    """
    carried = run_ampacity(plant, run)
    held = carried
    if kind == "fuse" and plant.rule("fuse_ampacity_share").value != 1.0:
        share = plant.rule("fuse_ampacity_share")
        held = share_of_current.of(f"fuse that {run.label} bears", share=share, current=carried)
    if isinstance(held, Unknown):
        return held
    made = _rounded(plant, run, held)
    small = _of_small_size(plant, run)
    return made if small is None else least(f"device that {run.label} bears", made, small)


def _rounded(plant: Plant, run: Run, held: Figure) -> Figure:
    most = plant.rule("protection_rounding").value
    above = next(ratings_from(plant, held.value), None)
    if above is None or above.value > most:
        return held
    rounded = next_standard_rating.of(
        f"next standard rating over the ampacity of {run.label}",
        current=held,
        ratings=tuple(ratings_from(plant, 0.0)),
    )
    return rounded if isinstance(rounded, Figure) else held


def _of_small_size(plant: Plant, run: Run) -> Quantity | None:
    area = part_fact(run, "area")
    row = table_row(plant, area.value) if isinstance(area, Figure) else None
    if row is None or row.protection_max is None:
        return None
    one = given(
        row.protection_max,
        "A",
        f"greatest device on {row.size}",
        kind="rules",
        where=f"{plant.rules.id}.conductors[{row.size}].protection_max",
        source=plant.rules.conductors_source,
    )
    if run.conductors == 1:
        return one
    return scaled_current.of(one.name, current=one, count=float(run.conductors))


def holds(scene: Scene, circuit: Circuit) -> bool:
    """Whether a device opens before the conductors of a run are overloaded for long."""
    found = protecting(scene, circuit)
    if found is None:
        return False
    rating, most = found.rating, greatest_rating(scene.plant, circuit.run, found.kind)
    known = isinstance(rating, Figure) and isinstance(most, Figure)
    return known and rating.value <= most.value + 1e-9  # type: ignore[union-attr]


# the devices of the strings, where the bank has no main one


@dataclass(frozen=True, slots=True)
class Protecting:
    """What protects a run: a device, or the devices of all strings together."""

    rating: Quantity
    """A; of several devices the sum, for an overload is shared among them."""
    kind: str
    device: Protection | None = None
    """None where the strings' devices together protect it."""


def protecting(scene: Scene, circuit: Circuit) -> Protecting | None:
    """Return what protects a run, None where nothing does.

    Behind the common point of several strings without a main device, each string's device sees only its
    part of an overload: nothing opens before all together carry the sum of their ratings
    (IEC 60364-4-43, 433.1; NEC 240.4 and 240.21(H)).
    """
    guard = guard_of(scene, circuit)
    if guard is not None:
        return Protecting(part_fact(guard, "rating"), guard.kind, guard)
    strings = strings_together(scene.plant) if circuit.role == "main" else None
    if strings is None:
        return None
    twins = net_of(scene, circuit.run.kind).twins(circuit.run)
    if len(twins) < 2:
        return strings
    share = share_among(circuit.run, twins)
    name = f"devices of all strings, share of {circuit.run.label}"
    return replace(strings, rating=share_of_current.of(name, share=share, current=strings.rating))


def strings_together(plant: Plant) -> Protecting | None:
    """Return the devices of all strings as one; None where the bank has another, or a string has none."""
    paths = FaultPaths(plant)
    devices = paths.string_guards
    if len(devices) < 2 or any(one.protects == "bank" for one in paths.guards):
        return None
    ratings = [part_fact(one, "rating") for one in devices]
    kind = "fuse" if any(one.kind == "fuse" for one in devices) else "breaker"
    return Protecting(sum_of_currents.of("devices of all strings together", currents=ratings), kind)
