"""AC sources that can reach one input or one panel while nothing lets only one of them feed."""

from __future__ import annotations

from collections import deque
from collections.abc import Iterator
from itertools import combinations
from typing import Final, TypeAlias

from commission.design.inverter_supplies import panels_of, supplies_of
from commission.design.types import Found, Remedy, Scene
from commission.plant.change import Change
from commission.plant.plant import Plant
from commission.plant.site import Generator, Utility
from commission.sheet.types import Finding

_Source: TypeAlias = Generator | Utility
_BY: Final = "changeover switch that lets only one of them feed"
_RULE: Final = "NEC 702.5 and 445.18, IEC 60364-5-551, 551.6"


def check_joined_sources(scene: Scene) -> Iterator[Found]:
    """Find generators and public supplies that can be joined to each other, or to inverters' outputs."""
    plant = scene.plant
    sources: list[_Source] = [*plant.site.generators]
    if plant.site.utility is not None:
        sources.append(plant.site.utility)
    reached = {source.id: _reached(plant, source) for source in sources}
    for first, second in combinations(sources, 2):
        if parted(plant, first.id, second.id):
            continue
        met = reached[first.id] & reached[second.id]
        if met:
            yield _joined(plant, first, second, met)
    for source in sources:
        yield from _on_outputs(plant, source, reached[source.id])


def parted(plant: Plant, first: str, second: str) -> bool:
    """Whether an interlock lets only one of two parts run."""
    return any({first, second} <= set(lock.one_of) for lock in plant.site.interlocks)


def _joined(plant: Plant, first: _Source, second: _Source, met: frozenset[str]) -> Found:
    panels = met & {panel.id for panel in plant.site.panels}
    where = ", ".join(sorted(_label(plant, one) for one in panels or met))
    finding = Finding(
        "stop",
        "sources-joined",
        (first.id, second.id),
        f"{first.label} and {second.label} both lead to {where}, and nothing lets only one of them feed: "
        "they "
        "meet out of step, and one that is off is fed back into, where people may work",
        f"a changeover switch or an interlock of their devices ({_RULE})",
    )
    return Found(finding, (_changeover(plant, first.id, second.id),))


def _label(plant: Plant, ident: str) -> str:
    part = plant.parts.get(ident)
    return ident if part is None else part.label


def _changeover(plant: Plant, first: str, second: str) -> Remedy:
    lock = {"one_of": [first, second], "by": _BY}
    change = (Change(f"interlocks[interlock-{first}-{second}]", lock),)
    return Remedy(
        f"a changeover switch between {_label(plant, first)} and {_label(plant, second)} ({_RULE}), told "
        "among the interlocks",
        change=change,
    )


def _on_outputs(plant: Plant, source: _Source, reached: frozenset[str]) -> Iterator[Found]:
    """Find a source that feeds the panel of inverters which do not know it: they never fall in step."""
    for supply in supplies_of(plant):
        if any(source.id in unit.inputs.values() for unit in supply.units):
            continue
        met = reached & panels_of(plant, supply)
        if not met or all(parted(plant, source.id, unit.id) for unit in supply.units):
            continue
        where = ", ".join(sorted(_label(plant, one) for one in met))
        finding = Finding(
            "stop",
            "source-on-output",
            (source.id, *supply.ids),
            f"{source.label} leads to {where}, which {supply.names} feed too, and is on no input of theirs: "
            "nothing keeps them in step or lets only one of them feed",
            f"the source on an input of the inverters, or a changeover switch ({_RULE})",
        )
        locks = tuple(
            Change(
                f"interlocks[interlock-{source.id}-{unit.id}]",
                {"one_of": [source.id, unit.id], "by": _BY},
            )
            for unit in supply.units
            if not parted(plant, source.id, unit.id)
        )
        text = f"a changeover switch between {source.label} and {supply.names}, told among the interlocks"
        yield Found(finding, (Remedy(text, change=locks),))


# where a source leads


def _reached(plant: Plant, source: _Source) -> frozenset[str]:
    """Return the AC panels and the devices before an inverter's input to which a source leads.

    An inverter keeps its inputs apart itself; two sources behind one device, or on one panel, it cannot.
    """
    ways = _ways(plant)
    ends = {unit.id for unit in plant.site.inverter_chargers} | {load.id for load in plant.site.loads}
    panels = {panel.id for panel in plant.site.panels if panel.kind == "ac"}
    waiting, seen = deque([source.id]), {source.id}
    while waiting:
        for there in ways.get(waiting.popleft(), ()):
            if there not in seen and there not in ends:
                seen.add(there)
                waiting.append(there)
    return frozenset((seen & panels) | _inputs(plant, source))


def _inputs(plant: Plant, source: _Source) -> set[str]:
    """Return the devices that stand before the input of an inverter which a source feeds."""
    found = set()
    for unit in plant.site.inverter_chargers:
        for kind, ident in unit.inputs.items():
            guard = unit.input_breakers.get(kind)
            if ident == source.id and guard is not None:
                found.add(guard)
    return found


def _ways(plant: Plant) -> dict[str, set[str]]:
    """Return which points AC runs, and the devices of sources on panels, join."""
    holds = {
        position.holds: panel.id
        for panel in plant.site.panels
        for position in panel.positions
        if position.holds is not None and panel.kind == "ac"
    }
    utility = plant.site.utility
    sources = {one.id for one in plant.site.generators} | ({utility.id} if utility else set())
    found: dict[str, set[str]] = {}
    pairs = [
        (holds.get(run.from_, run.from_), holds.get(run.to, run.to))
        for run in plant.site.runs
        if run.kind == "ac"
    ]
    pairs += [
        (guard.of, holds[guard.id])
        for guard in plant.site.protection
        if guard.current == "ac" and guard.of in sources and guard.id in holds and guard.kind != "surge"
    ]  # fmt: skip
    for first, second in pairs:
        found.setdefault(first, set()).add(second)
        found.setdefault(second, set()).add(first)
    return found
