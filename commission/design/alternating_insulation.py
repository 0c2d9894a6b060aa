"""Whether the insulation of AC conductor runs is made for the voltage of their circuit."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from commission.design.circuits import circuits
from commission.design.types import Circuit, Found, Later, Remedy, Scene
from commission.design.words import gap, shown
from commission.figure import Figure, Quantity, given
from commission.formulas.wiring_sizes import line_voltage
from commission.plant.change import Change
from commission.plant.plant import part_fact
from commission.sheet.types import Finding

CHECK: Final = "insulation-voltage"
_USUAL: Final = (300.0, 450.0, 500.0, 600.0, 750.0, 1000.0)
"""V, ac, for which cables are made (IEC 60227, IEC 60245, UL 83; from memory)."""


def check_alternating_insulation(scene: Scene) -> Iterator[Found]:
    """Find AC runs whose insulation is rated for less than the voltage between their conductors."""
    for circuit in circuits(scene):
        if circuit.run.kind == "ac" and circuit.role != "unclear":
            yield from _judged(scene, circuit)


def _judged(scene: Scene, circuit: Circuit) -> Iterator[Found]:
    run = circuit.run
    rated, reached = part_fact(run, "voltage"), _between(circuit)
    missing = gap(CHECK, (run.id,), rated, reached)
    if missing is not None:
        yield missing
    if not isinstance(rated, Figure) or not isinstance(reached, Figure):
        return
    if rated.value >= reached.value * 0.995:  # 400 V stands for 230 V times the root of three
        return
    finding = Finding(
        "correct",
        CHECK,
        (run.id,),
        f"the insulation of {run.label} is rated {shown(scene, rated, beside=reached)}, its circuit has "
        f"{shown(scene, reached, 0, beside=rated)} between conductors: it may break down and set fire",
        f"a cable rated {shown(scene, reached, 0, beside=rated)} or more",
        value=reached,
        limit=rated,
    )
    fit = [one for one in _USUAL if one >= reached.value * 0.995]
    yield Found(finding, Later(_rated(circuit, one) for one in fit[:2]))


def _between(circuit: Circuit) -> Quantity:
    """Return the voltage between the conductors of a run, in V."""
    if circuit.legs == 3:
        name = f"voltage between phases on {circuit.run.label}"
        return line_voltage.of(name, phase_voltage=circuit.voltage)
    return circuit.voltage


def _rated(circuit: Circuit, volts: float) -> Remedy:
    passes = given(volts, "V", "usual rating of a cable", source="IEC 60227, IEC 60245, UL 83; from memory")
    change = (Change(f"{circuit.run.where}.voltage", volts),)
    return Remedy(f"{circuit.run.label} as a cable rated {volts:g} V", passes=passes, change=change)
