"""How a generator set is loaded while it charges: on each leg, at least, and unevenly.

The sheet sets what the chargers may take so that they keep within the set. What is left to find is what no
setting can mend: loads that lie on one leg, a set too large or too small for what stands behind it.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final

from commission.design.generator_draw import (
    Drawn,
    charge_current,
    derated,
    drawn_from,
    free_on_leg,
    least_power,
    on_leg,
)
from commission.design.generator_legs import load_on_leg, set_legs
from commission.design.generator_sizes import larger_set, load_changes, smaller_set
from commission.design.types import Found, Later, Remedy, Scene
from commission.design.words import gap, shown
from commission.figure import Figure, Quantity, given
from commission.formulas.ac_input import drawn_power, leg_power
from commission.formulas.generator import input_budget
from commission.formulas.generator_load import (
    negative_sequence_share,
    rating_for_share,
)
from commission.formulas.load_control import sum_of_powers
from commission.formulas.overcurrent import continuous_limit
from commission.formulas.split_phase import leg_imbalance
from commission.plant.change import Change
from commission.plant.plant import part_fact
from commission.plant.site import Generator
from commission.sheet.types import Finding

_SETTLED: Final = frozenset({"ac-limit-over-source", "ac-source-taken-by-loads"})
"""Findings of the sheet that say already that a set is loaded too much."""
_NEGATIVE: Final = given(
    0.08, "1", "negative-sequence current of a set", source="IEC 60034-1, 7.2.3; from memory"
)
_HALF: Final = 0.5


def check_generator_load(scene: Scene) -> Iterator[Found]:
    """Find sets that are loaded too much, too little or too unevenly."""
    for generator in scene.plant.site.generators:
        drawn = drawn_from(scene, generator)
        yield from _legs(scene, generator, drawn)
        yield from _least(scene, generator, drawn)
        yield from _uneven(scene, generator, drawn)


# on each leg


def _legs(scene: Scene, generator: Generator, drawn: Sequence[Drawn]) -> Iterator[Found]:
    """Find a leg that carries more than the set gives there; said once, where it is worst."""
    if any(one.check in _SETTLED and generator.id in one.parts for one in scene.sheet.findings):
        return
    found = [
        over
        for leg in set_legs(scene.plant, generator)
        for unit, limit in _leg_limits(scene, generator)
        if (over := _over(scene, generator, drawn, leg, unit, limit)) is not None
    ]
    if found:
        yield _too_much(scene, generator, drawn, max(found, key=_by_how_much))


@dataclass(frozen=True, slots=True)
class _Over:
    """A leg that carries more than it should."""

    leg: str
    total: Figure
    load: Figure
    limit: Figure


def _by_how_much(over: _Over) -> float:
    return over.total.value / over.limit.value


def _over(
    scene: Scene, generator: Generator, drawn: Sequence[Drawn], leg: str, unit: str, limit: Quantity
) -> _Over | None:
    """Return a leg with its load where that is over a limit; what is missing the sheet has asked for."""
    load = load_on_leg(scene.plant, generator, leg)
    powers = [load, on_leg(drawn, leg, unit)]
    total = sum_of_powers.of(f"load on leg {leg} of {generator.label}", powers=powers).in_unit(unit)
    if not isinstance(total, Figure) or not isinstance(load, Figure) or not isinstance(limit, Figure):
        return None
    return _Over(leg, total, load, limit) if total.value > limit.value + 1e-6 else None


def _too_much(scene: Scene, generator: Generator, drawn: Sequence[Drawn], over: _Over) -> Found:
    several = len(set_legs(scene.plant, generator)) > 1
    where = f"leg {over.leg} of {generator.label}" if several else generator.label
    text = (
        f"{where} carries {shown(scene, over.total, beside=over.limit)} while it charges, "
        f"{shown(scene, over.load)} of them "
        f"loads; {over.limit.name} gives {shown(scene, over.limit, beside=over.total)}"
    )
    finding = Finding("correct", "generator-load", (generator.id,), text, value=over.total, limit=over.limit)
    return Found(finding, Later(_of_leg(scene, generator, drawn, over)))


def _leg_limits(scene: Scene, generator: Generator) -> Iterator[tuple[str, Quantity]]:
    """Yield what one leg gives for long: by volt-amperes, by watts, by the set's own breaker."""
    plant, legs = scene.plant, float(len(set_legs(scene.plant, generator)))
    for field, unit, name in (
        ("rated_apparent_power", "VA", "its rating where it stands"),
        ("rated_power", "W", "its engine where it stands"),
    ):
        one = leg_power.of(name, rating=derated(plant, generator, field), legs=legs)
        yield unit, one.in_unit(unit)
    carried = continuous_limit.of(
        "breaker of the set, for long",
        rating=plant.rating(generator, "breaker"),
        factor=plant.rule("continuous_factor"),
    )
    volts = plant.rating(generator, "ac_voltage")
    yield "VA", drawn_power.of("its breaker", current=carried, voltage=volts, legs=1.0)


def _of_leg(scene: Scene, generator: Generator, drawn: Sequence[Drawn], over: _Over) -> Iterator[Remedy]:
    """Yield less load beside the charge, a greater set, and in words the loads spread.

    Less load lets a charger take more that the set's budget holds back: then the load has to come down by
    more than the excess, at the most until the chargers give all that is set.
    """
    whole, legs = part_fact(generator, "load_while_charging"), len(set_legs(scene.plant, generator))
    if isinstance(whole, Figure) and over.load.value > 0:
        excess, share = over.total.value - over.limit.value, over.load.value / whole.value
        lefts = [whole.value - excess / share]
        if share > 1.0 / legs + 1e-6:
            lefts.append(whole.value - excess / (share - 1.0 / legs))
        free = free_on_leg(scene, drawn, over.leg, over.total.unit)
        if isinstance(free, Figure):
            lefts.append((over.limit.value - free.value) / share)
        for left in sorted(lefts, reverse=True):
            yield from _less_beside(scene, generator, left)
    yield from larger_set(scene, generator, _by_how_much(over))
    if legs > 1:
        yield Remedy("the loads spread evenly over its legs")


def _less_beside(scene: Scene, generator: Generator, load: float) -> Iterator[Remedy]:
    left = math.floor(load / 10) * 10.0
    if left > 0:
        passes = given(left, "VA", "load meanwhile that passes", source="rounded down")
        text = f"at most {shown(scene, passes)} of load on all legs of {generator.label} while it charges"
        yield Remedy(text, passes, tuple(load_changes(generator, left)))


# at least


def _least(scene: Scene, generator: Generator, drawn: Sequence[Drawn]) -> Iterator[Found]:
    """Find a diesel set that charging alone loads so little that it soots up."""
    plant = scene.plant
    if plant.generator_class(generator).fuel != "diesel" or not drawn:
        return
    share = plant.rating(generator, "least_load")
    missing = gap("generator-least-load", (generator.id,), share)
    if missing is not None:
        yield missing
    beside = part_fact(generator, "least_load_while_charging").in_unit("W")
    power = least_power(scene, drawn, beside).named(f"least load of {generator.label} while it charges")
    wanted = input_budget.of(
        f"least that {generator.label} should carry",
        rating=plant.rating(generator, "rated_power"),
        derating=given(1.0, "1", "of the nameplate", source="NFPA 110"),
        loading=share,
    ).in_unit("W")
    if not isinstance(power, Figure) or not isinstance(wanted, Figure) or power.value >= wanted.value - 1e-6:
        return
    current = charge_current(scene, drawn)
    if not isinstance(current, Figure) or current.value <= 0:
        return  # the sheet tells why nothing flows, or what it lacks
    text = (
        f"{generator.label} carries only {shown(scene, power, beside=wanted)} while it charges, under "
        f"{_percent(share)} of "
        f"its rating ({shown(scene, wanted, beside=power)}): a diesel that idles along soots up"
    )
    finding = Finding("advise", "generator-least-load", (generator.id,), text, value=power, limit=wanted)
    yield Found(finding, Later(_of_least(scene, generator, power, wanted, share)))


def _percent(share: Quantity) -> str:
    """Return a share in percent."""
    return f"{share.value * 100:.0f} %" if isinstance(share, Figure) else "its least share"


def _of_least(
    scene: Scene, generator: Generator, power: Figure, wanted: Figure, share: Quantity
) -> Iterator[Remedy]:
    least = part_fact(generator, "least_load_while_charging")
    if isinstance(least, Figure):
        more = math.ceil((least.value + wanted.value - power.value) / 10) * 10.0
        passes = given(more, "VA", "least load meanwhile that passes", source="rounded up")
        changes = [Change(f"{generator.where}.least_load_while_charging", more)]
        greatest = part_fact(generator, "load_while_charging")
        if isinstance(greatest, Figure) and greatest.value < more:
            changes.append(Change(f"{generator.where}.load_while_charging", more))
        text = f"at least {shown(scene, passes)} of load kept on while {generator.label} charges"
        yield Remedy(text, passes, tuple(changes))
    rating = rating_for_share.of("largest rating that passes", power=power, share=share)
    if isinstance(rating, Figure):
        yield from smaller_set(scene, generator, rating)
    yield Remedy("a smaller set, or more charge current on this one")


# unevenly


def _uneven(scene: Scene, generator: Generator, drawn: Sequence[Drawn]) -> Iterator[Found]:
    legs = set_legs(scene.plant, generator)
    loads = [
        sum_of_powers.of(
            f"leg {leg} of {generator.label}",
            powers=[load_on_leg(scene.plant, generator, leg), on_leg(drawn, leg)],
        ).in_unit("VA")
        for leg in legs
    ]
    rating = leg_power.of(
        "rating of one leg",
        rating=derated(scene.plant, generator, "rated_apparent_power"),
        legs=float(len(legs)),
    )
    if not all(isinstance(one, Figure) and one.value >= 0 for one in loads) or not isinstance(rating, Figure):
        return
    heaviest = max(one.value for one in loads if isinstance(one, Figure))
    if len(legs) == 2 and heaviest > _HALF * rating.value:
        share: Quantity = leg_imbalance.of(
            f"imbalance of the legs of {generator.label}", first=loads[0], second=loads[1]
        )
        yield from _imbalance(scene, generator, loads, share, _low_end(scene))
    elif len(legs) == 3:
        share = negative_sequence_share.of(
            f"negative-sequence current of {generator.label}",
            first=loads[0],
            second=loads[1],
            third=loads[2],
            rated=rating,
        )
        yield from _imbalance(scene, generator, loads, share, _NEGATIVE)


def _low_end(scene: Scene) -> Figure:
    """Return the imbalance that is told: the low end of the rule set's row."""
    rule = scene.plant.rule("leg_imbalance")
    low = scene.plant.rules.leg_imbalance.low
    source = rule.origin
    return rule if low is None else Figure(low, "1", "imbalance of two legs that is told", source)


def _imbalance(
    scene: Scene, generator: Generator, loads: Sequence[Quantity], share: Quantity, most: Figure
) -> Iterator[Found]:
    if not isinstance(share, Figure) or share.value <= most.value + 1e-9:
        return
    each = ", ".join(shown(scene, one) for one in loads if isinstance(one, Figure))
    what = "negative-sequence current" if len(loads) == 3 else "imbalance"
    text = (
        f"the legs of {generator.label} carry {each} while it charges: {what} {share.value:.0%}, "
        f"at most {most.value:.0%} are good for the set"
    )
    remedy = "loads and chargers spread evenly over the legs of the set"
    finding = Finding("advise", "generator-imbalance", (generator.id,), text, remedy, value=share, limit=most)
    yield Found(finding)
