"""Whether the insulation of DC runs stands the bank's voltage, and arrays of which no run is told."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import islice
from typing import Final

from commission.design.circuits import circuits
from commission.design.main_protection import greatest_bank_voltage
from commission.design.pv_array import array_name, pv_arrays
from commission.design.pv_carriers import array_runs
from commission.design.types import Found, Later, Remedy, Scene
from commission.design.words import gap, shown
from commission.figure import Figure, Gap, given
from commission.plant.change import Change
from commission.plant.plant import part_fact
from commission.plant.site import Run
from commission.sheet.known import not_checked
from commission.sheet.types import Finding

CHECK: Final = "insulation-voltage"
_USUAL: Final = (300.0, 600.0, 1000.0, 1500.0)
"""V, dc, for which cables are made (IEC 60227, IEC 62930, UL 83; from memory)."""


def check_direct_insulation(scene: Scene) -> Iterator[Found]:
    """Find DC runs on the bank rated for less than it stands at, and arrays without any run to judge.

    What lies between an array and its controller is judged with the array's voltage in the cold.
    """
    for circuit in circuits(scene):
        if circuit.run.kind == "dc" and circuit.role != "array":
            yield from _on_the_bank(scene, circuit.run)
    for pv in pv_arrays(scene):
        if not array_runs(pv):
            missing = Gap(f"conductor run of {array_name(pv.controller)}", "runs")
            yield Found(not_checked("array-run", (pv.id,), (missing,)))


def _on_the_bank(scene: Scene, run: Run) -> Iterator[Found]:
    rated, reached = part_fact(run, "voltage"), greatest_bank_voltage(scene.plant)
    missing = gap(CHECK, (run.id,), rated, reached)
    if missing is not None:
        yield missing
    if not isinstance(rated, Figure) or not isinstance(reached, Figure):
        return
    if rated.value >= reached.value - 1e-9:
        return
    finding = Finding(
        "correct",
        CHECK,
        (run.id,),
        f"the insulation of {run.label} is rated {shown(scene, rated, beside=reached)}, the bank may "
        "stand at "
        f"{shown(scene, reached, 1, beside=rated)}: it may break down and set fire",
        f"a cable rated {shown(scene, reached, 0, beside=rated)} dc or more",
        value=reached,
        limit=rated,
    )
    fit = (volts for volts in _USUAL if volts >= reached.value)
    yield Found(finding, Later(_rated(run, volts) for volts in islice(fit, 2)))


def _rated(run: Run, volts: float) -> Remedy:
    source = "IEC 60227, IEC 62930, UL 83; from memory"
    passes = given(volts, "V", "usual dc rating of a cable", source=source)
    change = (Change(f"{run.where}.voltage", volts),)
    return Remedy(f"{run.label} as a cable rated {volts:g} V dc", passes=passes, change=change)
