"""Leads in parallel that must share evenly: the bank's strings, runs side by side, inverters of a group."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from commission.design.circuits import circuits, net_of
from commission.design.sizes import resized
from commission.design.standard import size_name
from commission.design.types import Circuit, Found, Later, Remedy, Scene
from commission.design.words import gap, shown
from commission.figure import Figure, Gap, Quantity, given
from commission.formulas.conductors import parallel_share, series_resistance
from commission.formulas.low_end import bank_resistance
from commission.formulas.split_phase import share_deviation
from commission.plant.plant import Plant, fact
from commission.plant.site import InverterCharger
from commission.plant.values import UNKNOWN
from commission.sheet.bank_state import cells
from commission.sheet.cables import cable_resistance
from commission.sheet.known import not_checked
from commission.sheet.types import Finding, Kind

_GOOD: Final = given(0.1, "1", "good within a tenth of an even share", source="common practice")
_ACT: Final = given(0.2, "1", "to be mended over a fifth from an even share", source="common practice")


@dataclass(frozen=True, slots=True)
class _Group:
    """Paths in parallel: one circuit each, with the resistance of its whole path."""

    check: str
    part: str
    what: str
    """What shares: ``the strings of the bank``."""
    harm: str
    circuits: tuple[Circuit, ...]
    resistances: tuple[Quantity, ...]
    worst: Kind = "correct"

    @property
    def alike(self) -> bool:
        """Whether all are told with like conductors: then they share evenly, however long they are."""
        made = {(one.run.area, one.run.conductors, one.run.material, one.run.length) for one in self.circuits}
        return len(made) == 1


def check_parallel_paths(scene: Scene) -> Iterator[Found]:
    """Find parallel paths whose cables divide the current unevenly."""
    yield from _without_leads(scene)
    for group in _groups(scene):
        yield from _judged(scene, group)


# the groups


def _leads(scene: Scene) -> dict[str, list[Circuit]]:
    """Return the leads of each string of the bank."""
    leads: dict[str, list[Circuit]] = {string.id: [] for string in scene.plant.bank.strings}
    for circuit in circuits(scene):
        if circuit.role == "string" and circuit.part in leads:
            leads[circuit.part].append(circuit)
    return leads


def _without_leads(scene: Scene) -> Iterator[Found]:
    """Ask for the leads of some strings where those of others are told; say so where none are."""
    leads = _leads(scene)
    bare = [string for string, own in leads.items() if not own]
    if len(leads) < 2 or not bare:
        return
    if len(bare) == len(leads):
        text = "the leads of the strings are not told: whether the strings share evenly was not judged"
        remedy = "a run from each string in the site file; until then leads of one size and one length"
        yield Found(Finding("advise", "string-leads-untold", (scene.plant.bank.id,), text, remedy))
        return
    missing = (Gap(f"conductor runs of the strings {', '.join(bare)}", "runs"),)
    yield Found(not_checked("string-leads", (scene.plant.bank.id,), missing))


def _groups(scene: Scene) -> Iterator[_Group]:
    leads = _leads(scene)
    if len(leads) > 1 and all(len(own) == 1 for own in leads.values()):
        yield _of_strings(scene, [own[0] for own in leads.values()])
    for runs in _side_by_side(scene):
        yield _group(
            "parallel-runs",
            runs[0].run.id,
            "the runs side by side",
            "the fuller one overheats before the device opens",
            runs,
        )
    for check, units in _of_groups(scene):
        first = scene.plant.parts[units[0].part]
        assert isinstance(first, InverterCharger)  # noqa: S101 - grouped by it
        direct = check == "inverter-dc-leads"
        harm = (
            "they reach their cut-off at different loads"
            if direct
            else "the one with the shorter lead takes more than its share of the load"
        )
        what = "the inverters of a group" if direct else "the inverters on one leg"
        worst: Kind = "advise" if direct else "correct"
        yield _group(check, first.group or units[0].part, what, harm, units, worst)


def _group(
    check: str, part: str, what: str, harm: str, members: list[Circuit], worst: Kind = "correct"
) -> _Group:
    resistances = tuple(cable_resistance(one.run) for one in members)
    return _Group(check, part, what, harm, tuple(members), resistances, worst)


def _of_strings(scene: Scene, members: list[Circuit]) -> _Group:
    plant = scene.plant
    inside = string_resistance(plant)
    paths = tuple(
        series_resistance.of(
            f"resistance of {one.part} with its leads", resistances=[inside, cable_resistance(one.run)]
        )
        for one in members
    )
    harm = "the fuller string ages first"
    return _Group("string-leads", plant.bank.id, "the strings of the bank", harm, tuple(members), paths)


def string_resistance(plant: Plant) -> Quantity:
    """Return the resistance of one string of the bank, in Ω: its maker's, else as is usual."""
    told = fact(plant.bank, "resistance", plant.bank.where, "one string")
    if isinstance(told, Figure):
        return told
    return bank_resistance.of(
        "resistance of one string, as is usual for the chemistry",
        cells=cells(plant),
        resistance_capacity=plant.cell("resistance_capacity"),
        capacity=fact(plant.bank, "capacity", plant.bank.where, "one string"),
        strings=1.0,
    )


def _side_by_side(scene: Scene) -> Iterator[list[Circuit]]:
    seen: set[str] = set()
    known = {one.run.id: one for one in circuits(scene)}
    for run in scene.plant.site.runs:
        twins = net_of(scene, run.kind).twins(run)
        if len(twins) > 1 and run.id not in seen and known[run.id].role != "unclear":
            seen |= {one.id for one in twins}
            yield [known[one.id] for one in twins]


def _of_groups(scene: Scene) -> Iterator[tuple[str, list[Circuit]]]:
    """Yield the leads of inverters that work in parallel: on the bank, and on one leg of their group."""
    made: dict[tuple[str, str, str], list[Circuit]] = {}
    for circuit in circuits(scene):
        unit = scene.plant.parts.get(circuit.part)
        if not isinstance(unit, InverterCharger) or unit.group is None:
            continue
        if circuit.role == "inverter":
            made.setdefault(("inverter-dc-leads", unit.group, unit.profile), []).append(circuit)
        elif circuit.role == "ac output" and unit.group_leg != UNKNOWN:
            made.setdefault(("inverter-ac-leads", unit.group, unit.group_leg), []).append(circuit)
    for (check, _, _), members in made.items():
        if len(members) > 1 and len({one.part for one in members}) == len(members):
            yield check, members


# judged


def _judged(scene: Scene, group: _Group) -> Iterator[Found]:
    if group.alike:
        return
    missing = gap(group.check, (group.part,), *group.resistances)
    if missing is not None:
        yield missing
        return
    shares = [
        parallel_share.of(f"share of {one.run.label}", resistance=own, resistances=group.resistances)
        for one, own in zip(group.circuits, group.resistances, strict=True)
    ]
    offs = [
        (
            one,
            share_deviation.of(
                f"{one.run.label} against an even share", current=share, currents=shares
            ).in_unit("1"),
        )
        for one, share in zip(group.circuits, shares, strict=True)
    ]
    known = [(one, off) for one, off in offs if isinstance(off, Figure)]
    if not known:
        return
    worst, off = max(known, key=lambda pair: abs(pair[1].value))
    if abs(off.value) <= _GOOD.value + 1e-9:
        return
    yield _uneven(scene, group, worst, off)


def _uneven(scene: Scene, group: _Group, worst: Circuit, off: Figure) -> Found:
    act = abs(off.value) > _ACT.value + 1e-9
    limit = _ACT if act else _GOOD
    kind: Kind = group.worst if act else "advise"
    word = "more" if off.value > 0 else "less"
    text = (
        f"the leads of {group.what} differ: {worst.run.label} carries {abs(off.value) * 100:.3g} % {word} "
        f"than an even share, {limit.value * 100:.0f} % may be; {group.harm}"
    )
    finding = Finding(
        kind,
        group.check,
        (group.part,),
        text,
        "leads of one size and one length",
        value=off,
        limit=limit,
    )
    return Found(finding, Later(_alike(scene, group)))


def _alike(scene: Scene, group: _Group) -> Iterator[Remedy]:
    """Yield leads as thick as the thickest and as long as the longest, which any of them can be made."""
    runs = [one.run for one in group.circuits]
    areas = [float(run.area) for run in runs if run.area != UNKNOWN]
    lengths = [float(run.length) for run in runs if run.length != UNKNOWN]
    if len(areas) < len(runs) or len(lengths) < len(runs) or len({run.material for run in runs}) > 1:
        return
    count = max(run.conductors for run in runs)
    made = tuple(
        run.model_copy(update={"area": max(areas), "length": max(lengths), "conductors": count})
        for run in runs
    )
    length = given(max(lengths), "m", "length of the longest of them", kind="site", where="runs")
    each = f"{count} conductors of " if count > 1 else ""
    yield Remedy(
        f"all {len(runs)} leads {shown(scene, length)} of {each}{size_name(scene.plant, max(areas))}",
        passes=length,
        change=resized(scene, group.circuits[0], made),
    )
