"""Whether every conductor run carries what flows through it, where it lies and at its terminals."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from commission.design.circuits import circuit_of, circuits
from commission.design.earth_sizes import carries, protected
from commission.design.guards import holds
from commission.design.sizes import companions, resized, size_remedy, thicker
from commission.design.standard import size_name, sizes_over
from commission.design.types import Circuit, Found, Later, Remedy, Scene
from commission.design.words import gap, marked, shown
from commission.figure import Figure, Quantity, given
from commission.formulas.overcurrent import device_for_load
from commission.plant.plant import part_fact
from commission.plant.site import Run
from commission.plant.values import UNKNOWN
from commission.sheet.known import not_checked
from commission.sheet.run_limits import ampacity_parts, run_ambient
from commission.sheet.types import Finding, Kind

CHECK: Final = "ampacity"
_FAR_OVER: Final = 1.2
"""Current over ampacity from which a run that nothing holds must not be energised: it then gets nearly half
hotter over the air than its insulation stands for long; common practice."""


@dataclass(frozen=True, slots=True)
class _Short:
    """What a run must carry and what it does, where the second is less."""

    needed: Figure
    carried: Figure
    at_terminals: bool
    bare: float
    """A that flows at most, without the factor for hours of it."""
    far_over: bool
    """Even that is far over what it carries."""


def check_conductors(scene: Scene) -> Iterator[Found]:
    """Find runs too thin for their current, and conductors in parallel that are too thin to be."""
    for circuit in circuits(scene):
        if circuit.role == "unclear":
            missing = gap("circuit", (circuit.run.id,), circuit.greatest)
            if missing is not None:
                yield missing
            continue
        yield from _ampacity(scene, circuit)
    for run in scene.plant.site.runs:
        yield from _parallel(scene, run)


def _ampacity(scene: Scene, circuit: Circuit) -> Iterator[Found]:
    in_place, at_terminals = ampacity_parts(scene.plant, circuit.run)
    needed = device_for_load.of(
        f"current that {circuit.run.label} must be able to carry",
        current=circuit.greatest,
        factor=circuit.factor,
    )
    missing = gap(CHECK, (circuit.run.id,), circuit.greatest, in_place, at_terminals)
    if missing is not None:
        yield missing
        return
    short = _short(circuit.greatest, needed, in_place, at_terminals)
    if short is not None:
        yield Found(_finding(scene, circuit, short), Later(_remedies(scene, circuit)))


def _short(greatest: Quantity, needed: Quantity, in_place: Quantity, at_terminals: Quantity) -> _Short | None:
    """Return by what a run is too thin, the worse of both limits; None where it carries its current."""
    if not isinstance(greatest, Figure) or not isinstance(needed, Figure):
        return None
    if not isinstance(in_place, Figure) or not isinstance(at_terminals, Figure):
        return None
    bare = min(in_place.value, at_terminals.value) * _FAR_OVER < greatest.value - 1e-6
    cases = [
        _Short(greatest, in_place, False, greatest.value, bare),
        _Short(needed, at_terminals, True, greatest.value, bare),
    ]
    short = [one for one in cases if one.carried.value < one.needed.value - 1e-6]
    return max(short, key=lambda one: one.needed.value / one.carried.value, default=None)


def _finding(scene: Scene, circuit: Circuit, short: _Short) -> Finding:
    run, served = circuit.run, _served(scene, circuit, short)
    loose = short.far_over and not holds(scene, circuit)
    kind: Kind = "stop" if loose else "correct"
    factor = circuit.factor.value
    times = f": {served}, times {factor:g} for hours of it" if short.needed.value != short.bare else ""
    text = (
        f"{run.label} may carry {shown(scene, short.carried, beside=short.needed)} "
        f"{_where(scene, run, short)} and must carry "
        f"{shown(scene, short.needed, beside=short.carried)}{times or f' ({served})'}"
    )
    if loose:
        text += "; nothing opens before it overheats"
    name = size_name(scene.plant, float(run.area)) if run.area != UNKNOWN else ""
    return Finding(
        kind,
        CHECK,
        (run.id,),
        text,
        f"a thicker conductor than {name}, or less current",
        value=short.needed,
        limit=short.carried,
    )


def _where(scene: Scene, run: Run, short: _Short) -> str:
    air = run_ambient(scene.plant, run)
    if short.at_terminals:
        terminal = part_fact(run, "terminal_temperature")
        assert isinstance(terminal, Figure)  # noqa: S101 - its ampacity is known
        warm = ""
        if scene.plant.rules.terminals_by_air and isinstance(air, Figure):
            hotter = air.value > scene.plant.rule("ampacity_reference").value
            warm = f" in air of {shown(scene, air)}" if hotter else ""
        return f"at terminals of {marked(terminal)}{warm}"
    assert isinstance(air, Figure)  # noqa: S101 - likewise
    beside = f", {run.grouped} circuits together" if run.grouped > 1 else ""
    return f"in air of {shown(scene, air)}{beside}"


def _served(scene: Scene, circuit: Circuit, short: _Short) -> str:
    """Return what flows in a few words: the binding current's own name, with its value where it differs."""
    current = circuit.greatest
    assert isinstance(current, Figure)  # noqa: S101 - asked where it is known
    name = current.binding().name
    return name if short.needed.value == short.bare else f"{shown(scene, current)} ({name})"


def _remedies(scene: Scene, circuit: Circuit) -> Iterator[Remedy]:
    def guarded(run: Run) -> bool:
        return carries(scene.plant, circuit, run) and protected(scene, circuit, run)

    def carrying(run: Run) -> bool:
        return carries(scene.plant, circuit, run)

    tried = list(thicker(scene, circuit, guarded)) or list(thicker(scene, circuit, carrying))
    for row, made in tried:
        yield size_remedy(scene, circuit, row, made)
    yield from _doubled(scene, circuit)


def _doubled(scene: Scene, circuit: Circuit) -> Iterator[Remedy]:
    """Yield one more conductor in parallel, of the size that lies there, where the region allows it."""
    run, least = circuit.run, scene.plant.rule_if_any("parallel_conductor")
    thin = isinstance(least, Figure) and run.area != UNKNOWN and float(run.area) < least.value * 0.98
    if thin or run.area == UNKNOWN or float(run.area) < 25.0:
        return
    count = run.conductors + 1
    made = [
        one.run.model_copy(update={"conductors": one.run.conductors + 1})
        for one in companions(scene, circuit)
    ]
    if all(carries(scene.plant, circuit, one) for one in made):
        more = given(float(count), "1", f"conductors in parallel of {run.label}", source="as laid, one more")
        name = size_name(scene.plant, float(run.area))
        text = f"{' and '.join(one.label for one in made)} as {count} conductors of {name}, of equal length"
        yield Remedy(text, passes=more, change=resized(scene, circuit, made))


def _parallel(scene: Scene, run: Run) -> Iterator[Found]:
    """Find conductors in parallel that are thinner than the region lets them be."""
    least = scene.plant.rule_if_any("parallel_conductor")
    if least is None or run.conductors < 2:
        return
    area = part_fact(run, "area")
    if not isinstance(least, Figure):
        yield Found(not_checked("parallel-conductors", (run.id,), least.missing))
        return
    if not isinstance(area, Figure) or area.value >= least.value * 0.98:
        return
    finding = Finding(
        "correct",
        "parallel-conductors",
        (run.id,),
        f"{run.label} is {run.conductors} conductors of {shown(scene, area, beside=least)} in parallel; "
        "each must be "
        f"{shown(scene, least, beside=area)} or thicker to share the current evenly",
        f"one conductor that carries it all, or several of {shown(scene, least, beside=area)}",
        value=area,
        limit=least,
    )
    yield Found(finding, Later(_single(scene, circuit_of(scene, run))))


def _single(scene: Scene, circuit: Circuit) -> Iterator[Remedy]:
    """Yield one conductor instead, if there is one that carries it all and that its device protects."""
    run = circuit.run
    made = [
        (row, run.model_copy(update={"area": row.area, "conductors": 1}))
        for row in sizes_over(scene.plant, float(run.area))
    ]
    fit = [(row, one) for row, one in made if carries(scene.plant, circuit, one)]
    guarded = [(row, one) for row, one in fit if protected(scene, circuit, one)]
    for row, one in (guarded or fit)[:2]:
        yield size_remedy(scene, circuit, row, (one,), ", one conductor")
