"""Inverters against their loads: what runs for long and what starts, all of it and on each leg."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from commission.design.compared import asked
from commission.design.inverter_supplies import (
    Supply,
    load_legs,
    loads_on,
    loads_without,
    supplies_of,
    unit_legs,
)
from commission.design.output_load import (
    connected,
    expected_alternating,
    expected_apparent,
    load_for_long,
    on_leg,
    output_for_long,
    running,
    start_is_told,
    start_load,
    starting,
    surge_output,
    together,
)
from commission.design.types import Found, Remedy, Scene
from commission.design.words import shown
from commission.figure import Figure, Gap, Quantity, Unknown, given, greatest
from commission.plant.change import Change
from commission.plant.plant import Plant, fact, part_fact
from commission.plant.site import InverterCharger, Load
from commission.sheet.types import Finding

_SLACK = 1e-6


@dataclass(frozen=True, slots=True)
class _Case:
    """One thing that a supply has to carry: all of it or one leg, for long or at a start."""

    need: Quantity
    has: Quantity
    leg: str | None
    load: Load | None = None

    @property
    def over(self) -> bool:
        """Whether more is needed than there is."""
        need, has = self.need, self.has
        return isinstance(need, Figure) and isinstance(has, Figure) and need.value > has.value + _SLACK

    @property
    def open(self) -> bool:
        """Whether it cannot be told."""
        return isinstance(self.need, Unknown) or isinstance(self.has, Unknown)

    @property
    def excess(self) -> float:
        """By what the output has to grow: 1.2 is a fifth more."""
        need, has = self.need, self.has
        if not isinstance(need, Figure) or not isinstance(has, Figure) or has.value <= 0:
            return math.inf
        return need.value / has.value


def check_inverter_output(scene: Scene) -> Iterator[Found]:
    """Find supplies whose inverters are too small for what runs for long or for what starts."""
    for load in loads_without(scene.plant):
        missing = Unknown(
            (
                Gap(
                    f"which inverter feeds {load.label}",
                    helps="the runs and panels between it and an inverter",
                ),
            )
        )
        yield from asked("load-without-supply", (load.id,), missing)
    for supply in supplies_of(scene.plant):
        yield from _for_long(scene, supply)
        yield from _at_start(scene, supply)


def _legs(supply: Supply) -> tuple[str | None, ...]:
    """Return what is looked at: the whole supply, then each of its legs where it has several."""
    return (None, *supply.legs) if len(supply.legs) > 1 else (None,)


def _on(plant: Plant, supply: Supply, leg: str | None) -> tuple[InverterCharger, ...]:
    return tuple(unit for unit in supply.units if leg is None or leg in unit_legs(plant, unit))


# for long


def _for_long(scene: Scene, supply: Supply) -> Iterator[Found]:
    plant = scene.plant
    cases = [
        _Case(load_for_long(plant, supply, leg), _long(plant, supply, leg), leg) for leg in _legs(supply)
    ]
    worst = _worst(cases)
    if worst is not None:
        yield _too_small(scene, supply, worst, cases)
    elif any(case.open for case in cases):
        yield from asked("inverter-output", supply.ids, *_both(cases))


def _long(plant: Plant, supply: Supply, leg: str | None) -> Quantity:
    outputs = [output_for_long(plant, unit, leg) for unit in _on(plant, supply, leg)]
    name = "output for long" if leg is None else f"output of leg {leg} for long"
    return together(name, outputs)


def _both(cases: list[_Case]) -> list[Quantity]:
    return [item for case in cases if case.open for item in (case.need, case.has)]


def _worst(cases: list[_Case]) -> _Case | None:
    """Return what is over most: of the whole supply and a leg that are over alike the whole."""
    return max((case for case in cases if case.over), key=lambda case: case.excess, default=None)


def _too_small(scene: Scene, supply: Supply, case: _Case, cases: list[_Case]) -> Found:
    need, has = case.need, case.has
    assert isinstance(need, Figure) and isinstance(has, Figure)  # noqa: S101, PT018 - the case is over
    where = "" if case.leg is None else f" on leg {case.leg}"
    text = (
        f"{supply.names} must carry {shown(scene, need, beside=has)}{where} for long "
        f"({need.binding().name}); "
        f"{_verb(supply)} {shown(scene, has, beside=need)} in the air and at the altitude of this site"
    )
    finding = Finding("correct", "inverter-output", supply.ids, text, value=need, limit=has)
    remedies = (
        *_moves(scene.plant, supply, case.leg),
        _larger(scene, supply, case, "continuous_power"),
        *_less_load(scene, supply, cases),
    )
    return Found(finding, remedies)


def _verb(supply: Supply) -> str:
    return "it gives" if len(supply.units) == 1 else "they give"


def _larger(scene: Scene, supply: Supply, case: _Case, field: str) -> Remedy:
    """Return the rating that each unit has to have instead, on the next hundred of VA."""
    units = _on(scene.plant, supply, case.leg)
    ratings = [scene.plant.rating(unit, field) for unit in units]
    known = [rating.value for rating in ratings if isinstance(rating, Figure)]
    need = case.need.value if isinstance(case.need, Figure) else 0.0
    if not known or not math.isfinite(case.excess):
        return Remedy(f"inverters that give {need:.0f} VA")
    wanted = _up(max(known) * case.excess, 100.0)
    word = "for long at 25 °C" if field == "continuous_power" else "at a start"
    passes = given(
        wanted, "VA", f"rating of each inverter {word} that passes", source="needed over what is left"
    )
    each = "each" if len(supply.units) > 1 else "or more"
    changes = tuple(Change(f"{unit.where}.datasheet.{field}", wanted) for unit in supply.units)
    text = f"inverters rated {shown(scene, passes)} {each} {word} instead of {max(known):.0f} VA"
    return Remedy(text, passes, changes)


def _less_load(scene: Scene, supply: Supply, cases: list[_Case]) -> Iterator[Remedy]:
    """Yield the expected load that passes in every case that is over, where it is what binds."""
    told = fact(scene.plant.site.expected, "load", "expected", "the plant")
    apparent = expected_apparent(scene.plant, supply)
    rooms = [_room(case) for case in cases if case.over]
    if not isinstance(told, Figure) or not isinstance(apparent, Figure) or not rooms:
        return
    alternating = expected_alternating(scene.plant)
    if not isinstance(alternating, Figure) or apparent.value <= 0:
        return
    # what is over comes off the AC side, at the loads' own power factor
    factor = min(1.0, alternating.value / apparent.value)
    watts = _down(told.value - (apparent.value - min(rooms)) * factor, 10.0)
    if watts <= 0 or watts >= told.value:
        return
    passes = given(watts, "W", "expected load that passes", source="the excess taken off")
    shed = given(told.value - watts, "W", "load to shed")
    yield Remedy(
        f"at most {shown(scene, passes)} at once: {shown(scene, shed)} of load less, or run at another time",
        passes,
        (Change("expected.load", watts),),
    )


def _room(case: _Case) -> float:
    """Return the apparent power that a case leaves for the load that is expected."""
    has = case.has.value if isinstance(case.has, Figure) else 0.0
    if case.load is None:
        return has
    start = on_leg(case.load, case.leg, starting(case.load))
    return has - (start.value if isinstance(start, Figure) else 0.0)


# at a start


def _at_start(scene: Scene, supply: Supply) -> Iterator[Found]:
    plant = scene.plant
    cases = [
        _Case(start_load(plant, supply, load, leg), _surge(plant, supply, leg), leg, load)
        for leg in _legs(supply)
        for load in loads_on(plant, supply)
        if leg is None or leg in load_legs(load)
    ]
    told = [case for case in cases if case.load is not None and start_is_told(case.load)]
    worst = _worst(told)
    if worst is not None:
        yield _start_too_large(scene, supply, worst, told)
    untold = [case for case in cases if case.open or (case.over and case not in told)]
    if untold:
        yield from asked("inverter-start", _parts(untold, supply, worst), *_untold(plant, untold))


def _parts(cases: list[_Case], supply: Supply, worst: _Case | None) -> tuple[str, ...]:
    """Return the parts of what is not checked: apart from those of a start that is found too large."""
    if worst is None:
        return supply.ids
    return tuple(dict.fromkeys(case.load.id for case in cases if case.load is not None))


def _untold(plant: Plant, cases: list[_Case]) -> list[Quantity]:
    """Return what is missing for starts that could be too large."""
    missing: list[Quantity] = []
    for case in cases:
        assert case.load is not None  # noqa: S101 - every case of a start has its load
        missing += [case.has, running(case.load)]
        if not start_is_told(case.load):
            missing.append(part_fact(case.load, "starting_power"))
        if isinstance(case.need, Unknown) and not isinstance(starting(case.load), Unknown):
            missing.append(case.need)
    return missing


def _surge(plant: Plant, supply: Supply, leg: str | None) -> Quantity:
    units = _on(plant, supply, leg)
    surges = [surge_output(plant, unit, leg) for unit in units]
    long = _long(plant, supply, leg)
    name = "output at a start" if leg is None else f"output of leg {leg} at a start"
    surge = together(name, surges)
    if isinstance(surge, Figure) and isinstance(long, Figure):
        return greatest(name, surge, long)
    return surge


def _start_too_large(scene: Scene, supply: Supply, case: _Case, cases: list[_Case]) -> Found:
    need, has, load = case.need, case.has, case.load
    assert isinstance(need, Figure) and isinstance(has, Figure) and load is not None  # noqa: S101, PT018
    where = "" if case.leg is None else f" on leg {case.leg}"
    times = [scene.plant.rating(unit, "surge_time") for unit in supply.units]
    seconds = [time.value for time in times if isinstance(time, Figure)]
    lasts = f" for {min(seconds):g} s" if len(seconds) == len(times) else ""
    text = (
        f"{load.label} starting beside what runs asks {supply.names} for "
        f"{shown(scene, need, beside=has)}{where}; "
        f"{_verb(supply)} {shown(scene, has, beside=need)}{lasts}"
    )
    finding = Finding("correct", "inverter-start", supply.ids, text, value=need, limit=has)
    remedies = (
        *_softer(scene, load, [one for one in cases if one.load is load]),
        *_moves(scene.plant, supply, case.leg),
        _larger(scene, supply, case, "surge_power"),
        *_less_load(scene, supply, cases),
    )
    return Found(finding, remedies)


def _softer(scene: Scene, load: Load, cases: list[_Case]) -> Iterator[Remedy]:
    """Yield the start that passes, as a soft starter or another motor would give it."""
    told, own = part_fact(load, "starting_power"), running(load)
    if not isinstance(told, Figure) or not isinstance(own, Figure):
        return
    allowed = _down(min(told.value - _excess_of_start(load, case) for case in cases), 100.0)
    if allowed < 1.5 * own.value:  # a motor that may hardly start at all is no remedy
        return
    passes = given(allowed, "VA", f"start of {load.label} that passes", source="the excess taken off")
    yield Remedy(
        f"a soft starter that holds the start of {load.label} to {shown(scene, passes)}",
        passes,
        (Change(f"{load.where}.starting_power", allowed),),
    )


def _excess_of_start(load: Load, case: _Case) -> float:
    """Return by how much a whole start is too large: what is over on one leg counts on each of its legs."""
    need, has = case.need, case.has
    if not isinstance(need, Figure) or not isinstance(has, Figure):
        return 0.0
    return (need.value - has.value) * (1 if case.leg is None else len(load_legs(load)))


# legs


def _moves(plant: Plant, supply: Supply, leg: str | None) -> Iterator[Remedy]:
    """Yield single-leg loads of a leg that could hang on another one, the largest first."""
    if leg is None:
        return
    loads = [load for load in loads_on(plant, supply) if load_legs(load) == (leg,)]
    loads.sort(key=lambda load: -_value(running(load)))
    lightest = sorted(
        (other for other in supply.legs if other != leg),
        key=lambda other: _value(connected(loads_on(plant, supply), other)),
    )
    for load in loads[:2]:
        for other in lightest[:1]:
            yield Remedy(
                f"{load.label} on leg {other} instead of leg {leg}",
                change=(Change(f"{load.where}.leg", other),),
            )


def _value(quantity: Quantity) -> float:
    return quantity.value if isinstance(quantity, Figure) else 0.0


def _up(value: float, step: float) -> float:
    return math.ceil(value / step - 1e-9) * step


def _down(value: float, step: float) -> float:
    return math.floor(value / step + 1e-9) * step
