"""Energy of the design month against what was promised: the load, the sun and the generator's share.

Every finding is advice: a plant that gives less than was promised hurts nobody by being switched on.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from itertools import islice
from typing import Final

from commission.design.balance import (
    feeding_sets,
    from_sun,
    has_array,
    has_utility,
    power_of,
    stc_power,
    sun_hours,
    taken,
)
from commission.design.fresh import fresh_ids
from commission.design.less import energy_shown, less_energy
from commission.design.types import Found, Remedy, Scene
from commission.design.words import gap, shown
from commission.errors import CommissionError
from commission.figure import Figure, Gap, Quantity, Unknown, given
from commission.formulas.energy import array_to_load_ratio, missing_energy, shortfall_share
from commission.plant.change import Change, changed
from commission.plant.plant import Plant, fact
from commission.sheet.known import not_checked
from commission.sheet.types import Finding
from commission.units import show

_ORDINARY: Final = given(
    1.1, "1", "array-to-load ratio for ordinary loads, at least", source="IEEE 1562: 1.1 to 1.2; from memory"
)
_CRITICAL: Final = given(
    1.3,
    "1",
    "array-to-load ratio for loads that must not fail, at least",
    source="IEEE 1562: 1.3 to 1.4; from memory",
)
_MORE_STRINGS: Final = 8
"""Strings that a remedy adds at most to one controller."""
_SITE: Final = ("site",)


def check_energy(scene: Scene) -> Iterator[Found]:
    """Find a plant that the sun of its design month does not carry as promised."""
    yield from _untold(scene)
    if _told(scene.plant):
        missing = gap("daily-energy", _SITE, taken(scene.plant))
        if missing is not None:
            yield missing
            return
    drawn = taken(scene.plant)
    if not isinstance(drawn, Figure) or drawn.value > 0:
        yield from _sun(scene)


def _promise(plant: Plant, field: str) -> Quantity:
    return fact(plant.site.expected, field, "expected")


def _told(plant: Plant) -> bool:
    """Whether anything is told that the energy of the loads is needed to judge."""
    promises = ("autonomy", "sun_hours", "generator_share")
    return any(isinstance(_promise(plant, field), Figure) for field in promises)


def _untold(scene: Scene) -> Iterator[Found]:
    plant = scene.plant
    if not plant.site.loads:
        return
    open_ = []
    if isinstance(_promise(plant, "autonomy"), Unknown):
        open_.append("how long the bank must carry the loads alone")
    promised = isinstance(_promise(plant, "generator_share"), Figure)
    if has_array(plant) and isinstance(sun_hours(plant), Unknown) and not promised:
        open_.append("the sun hours of the design month")
    if open_:
        text = f"not told: {' and '.join(open_)}; whether the plant is large enough was not judged"
        remedy = "expected.autonomy and expected.sun_hours in the site file"
        yield Found(Finding("advise", "energy-untold", _SITE, text, remedy))


# the sun


def _sun(scene: Scene) -> Iterator[Found]:
    plant = scene.plant
    share = _promise(plant, "generator_share")
    sets = tuple(one.id for one in feeding_sets(plant))
    if sets and isinstance(share, Figure):
        yield from _generator_share(scene, sets, share)
    elif not sets and not has_utility(plant) and has_array(plant) and isinstance(sun_hours(plant), Figure):
        yield from _ratio(scene)


def _ratio(scene: Scene) -> Iterator[Found]:
    plant = scene.plant
    wanted = _CRITICAL if plant.site.expected.critical else _ORDINARY
    ratio = _ratio_of(plant)
    missing = gap("array-to-load", _SITE, ratio)
    if missing is not None:
        yield missing
    if not isinstance(ratio, Figure) or ratio.value >= wanted.value - 1e-9:
        return
    kind = "loads that must not fail" if plant.site.expected.critical else "ordinary loads"
    text = (
        f"{_balance(scene)}: array-to-load ratio {ratio.value:.2f}, "
        f"practice is at least {wanted.value:g} for {kind}{_takes(scene, wanted)}"
    )
    finding = Finding("advise", "array-to-load", _SITE, text, value=ratio, limit=wanted)

    def passes(changed_plant: Plant) -> Figure | None:
        found = _ratio_of(changed_plant)
        return found if isinstance(found, Figure) and found.value >= wanted.value else None

    yield Found(finding, (*_more_modules(scene, passes), *_less_load(scene, wanted)))


def _ratio_of(plant: Plant) -> Quantity:
    name = "array-to-load ratio of the design month"
    return array_to_load_ratio.of(name, available=from_sun(plant), taken=taken(plant))


def _generator_share(scene: Scene, sets: tuple[str, ...], promised: Figure) -> Iterator[Found]:
    plant = scene.plant
    if has_utility(plant):
        name = "energy from the public supply in the design month"
        yield Found(
            not_checked(
                "generator-share",
                sets,
                (Gap(name, helps="a year of its meter readings; nothing in the site file tells it"),),
            )
        )
        return
    share = _share_of(plant)
    missing = gap("generator-share", sets, share)
    if missing is not None:
        yield missing
    if not isinstance(share, Figure) or share.value <= promised.value + 1e-9:
        return
    rest = given(1.0 - promised.value, "1", "share that the sun must give", source="the promise")
    text = (
        f"{_balance(scene)}: the generator gives {share.value:.0%} of it, "
        f"at most {promised.value:.0%} were promised{_takes(scene, rest)}"
    )
    finding = Finding("advise", "generator-share", sets, text, value=share, limit=promised)

    def passes(changed_plant: Plant) -> Figure | None:
        found = _share_of(changed_plant)
        return found if isinstance(found, Figure) and found.value <= promised.value else None

    holds = _rounded_up(share)
    promise = Remedy(
        f"{holds.value:.0%} promised instead", holds, (Change("expected.generator_share", holds.value),)
    )
    yield Found(finding, (*_more_modules(scene, passes), *_less_load(scene, rest), promise))


def _share_of(plant: Plant) -> Quantity:
    name = "share of the design month's energy that the sun does not give"
    if not has_array(plant):
        return given(1.0, "1", f"{name}: there is no PV", source="the site file")
    return shortfall_share.of(name, available=from_sun(plant), taken=taken(plant))


def _rounded_up(share: Figure) -> Figure:
    percent = min(100, math.ceil(share.value * 100 - 1e-6))
    return given(percent / 100, "1", "share that holds", source="rounded up to a whole percent")


def _balance(scene: Scene) -> str:
    """Return what the sun gives and what is taken, in words."""
    month = scene.plant.site.expected.design_month or "the design month"
    sun = from_sun(scene.plant) if has_array(scene.plant) else given(0.0, "Wh", "no PV")
    return f"in {month} the sun gives {energy_shown(sun)} a day, {energy_shown(taken(scene.plant))} are taken"


def _takes(scene: Scene, ratio: Figure) -> str:
    """Return how much PV a ratio to the load would take beside what is there, in words."""
    plant = scene.plant
    there, sun, drawn = stc_power(plant), from_sun(plant), taken(plant)
    if not (isinstance(there, Figure) and isinstance(sun, Figure) and isinstance(drawn, Figure)):
        return ""
    if sun.value <= 0:
        return ""
    more = there.value * (ratio.value * drawn.value / sun.value - 1.0)
    return f"; that takes about {show(math.ceil(more / 10) * 10.0, 'W', plant.site.site.units)} more of PV"


def _more_modules(scene: Scene, passes: Callable[[Plant], Figure | None]) -> Iterator[Remedy]:
    """Yield for each controller the least number of further strings with which the finding is gone."""
    for device in scene.plant.site.charge_controllers:
        if device.array is None:
            continue
        before = power_of(device, device.array)
        for count in range(1, _MORE_STRINGS + 1):
            names = islice(fresh_ids(scene.plant, f"{device.id}-more"), count)
            change = tuple(Change(f"{device.where}.array.strings[{name}]", {}) for name in names)
            try:
                after = changed(scene.plant, change)
            except CommissionError:
                break
            reached = passes(after)
            if reached is None:
                continue
            more = _added(after, device.id, before)
            word = "string" if count == 1 else "strings"
            watts = f"{shown(scene, more)} of PV more: " if more is not None else ""
            text = f"{watts}{count} {word} more of like modules on {device.label}"
            yield Remedy(text, more or reached, change)
            break


def _added(after: Plant, ident: str, before: Quantity) -> Figure | None:
    device = next(one for one in after.site.charge_controllers if one.id == ident)
    power = power_of(device, device.array) if device.array is not None else before
    if not isinstance(power, Figure) or not isinstance(before, Figure):
        return None
    return given(power.value - before.value, "W", "power added", source="strings of like modules")


def _less_load(scene: Scene, ratio: Figure) -> Iterator[Remedy]:
    """Yield the energy of the largest load that the sun of the design month carries at a ratio."""
    plant = scene.plant
    if ratio.value <= 0:
        return
    missing = missing_energy.of(
        "energy that is missing", available=from_sun(plant), taken=taken(plant), ratio=ratio
    )
    if isinstance(missing, Figure):
        yield from less_energy(scene, missing.value / ratio.value)
