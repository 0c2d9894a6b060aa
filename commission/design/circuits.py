"""What flows through every conductor run, by what stands at its ends."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from typing import Literal

from commission.design import currents
from commission.design.alternating import alternating
from commission.design.direct import direct
from commission.design.fault_paths import fault_paths
from commission.design.points import Points
from commission.design.types import Circuit, Scene
from commission.figure import Figure, Quantity, Unknown
from commission.formulas.conductors import parallel_share
from commission.formulas.load_control import share_of_current
from commission.plant.once import once
from commission.plant.site import Run
from commission.sheet.cables import cable_resistance


@once
def circuits(scene: Scene) -> tuple[Circuit, ...]:
    """Return what flows through every run of a plant, in the order of the site file."""
    return tuple(_circuit(scene, net_of(scene, run.kind), run) for run in scene.plant.site.runs)


def circuit_of(scene: Scene, run: Run) -> Circuit:
    """Return what flows through a run."""
    return next(one for one in circuits(scene) if one.run.id == run.id)


def net_of(scene: Scene, kind: Literal["dc", "ac"]) -> Points:
    """Return the runs of one kind of a plant as a net."""
    return _nets(scene)[kind]


@once
def _nets(scene: Scene) -> dict[str, Points]:
    return {"dc": fault_paths(scene).points, "ac": Points(scene.plant, "ac")}


def _circuit(scene: Scene, net: Points, run: Run) -> Circuit:
    whole = direct(scene, net, run) if run.kind == "dc" else alternating(scene, net, run)
    twins = net.twins(run)
    if len(twins) < 2:
        return whole
    share = share_among(run, twins)
    return replace(
        whole, greatest=_shared(run, share, whole.greatest), working=_shared(run, share, whole.working)
    )


def _shared(run: Run, share: Quantity, current: Quantity) -> Quantity:
    name = current.name if isinstance(current, Figure) else f"current of {run.label}"
    return share_of_current.of(f"{name}, share of {run.label}", share=share, current=current)


def share_among(run: Run, twins: Iterable[Run]) -> Quantity:
    """Return the share of the current that one of several runs between the same points carries.

    Like runs share evenly, whatever their length; others as their resistances divide it.
    """
    lying = tuple(twins)
    if len({_made_of(one) for one in lying}) == 1:
        return currents.one_of(len(lying), "like runs side by side")
    resistances = [cable_resistance(one) for one in lying]
    own = resistances[[one.id for one in lying].index(run.id)]
    missing = [gap for item in resistances if isinstance(item, Unknown) for gap in item.missing]
    if missing:
        return Unknown(tuple(dict.fromkeys(missing)), "1", f"share of {run.label}")
    return parallel_share.of(f"share of {run.label}", resistance=own, resistances=resistances)


def _made_of(run: Run) -> tuple[object, ...]:
    return run.area, run.conductors, run.material, run.length
