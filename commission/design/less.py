"""Remedies for want of energy, with their numbers: loads that take less, and a larger bank."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator
from typing import Final

from commission.design.balance import energy_of, inverter_efficiency
from commission.design.bank_remedies import string_like_the_last
from commission.design.fresh import fresh_ids
from commission.design.types import Remedy, Scene
from commission.figure import Figure, Quantity, given
from commission.formulas.energy import in_proportion
from commission.plant.change import Change
from commission.plant.plant import fact
from commission.plant.site import Load

_SENSIBLE: Final = 0.5
"""Share of its energy under which nobody would bring a load: then it is no remedy."""
_STEP: Final = 10.0
"""Wh and Ah to which a remedy is rounded, to the side that passes."""


def energy_shown(energy: Quantity) -> str:
    """Return an energy as a person says it: ``850 Wh``, ``12.4 kWh``."""
    if not isinstance(energy, Figure):
        return "an unknown energy"
    if energy.value < 10000:
        return f"{energy.value:.0f} Wh"
    return f"{energy.value / 1000:.1f} kWh"


def time_shown(time: Figure) -> str:
    """Return a long time as a person says it: ``31 h``, ``3.4 d``; rounded down, so that it is no promise."""
    hours = time.value / 3600
    return (
        f"{math.floor(hours * 10 + 1e-6) / 10:g} h" if hours < 72 else f"{math.floor(hours / 2.4) / 10:g} d"
    )


def less_energy(scene: Scene, excess: float, night: float = 1.0) -> Iterator[Remedy]:
    """Yield the daily energy of the largest load, and of all loads, with which an excess is gone.

    Parameters
    ----------
    excess
        Energy in a day by which the bus is drawn on too much. [Wh]
    night
        Share of a lasting load's energy that counts. [1]
    """
    rows = [(load, energy_of(load)) for load in scene.plant.site.loads]
    known = [(load, energy) for load, energy in rows if isinstance(energy, Figure) and energy.value > 0]
    if not known or len(known) < len(rows):
        return
    largest, energy = max(known, key=lambda row: row[1].value)
    weight = _weight(scene, largest, night)
    if weight > 0:
        left = _down(energy.value - excess / weight)
        if left >= _SENSIBLE * energy.value:
            yield Remedy(
                f"at most {energy_shown(_figure(left))} a day at {largest.label}",
                _figure(left),
                (Change(f"{largest.where}.daily_energy", left),),
            )
    yield from _all_less(scene, known, excess, night)


def _all_less(scene: Scene, rows: list[tuple[Load, Figure]], excess: float, night: float) -> Iterator[Remedy]:
    """Yield all loads lowered alike."""
    counted = sum(energy.value * _weight(scene, load, night) for load, energy in rows)
    factor = 1.0 - excess / counted if counted > 0 else 0.0
    if len(rows) < 2 or factor < _SENSIBLE:
        return
    lowered = [(load, _down(energy.value * factor)) for load, energy in rows]
    percent = math.floor(factor * 100)
    yield Remedy(
        f"every load at most {percent} % of its energy a day",
        given(percent / 100, "1", "share of the loads that passes", source="in proportion"),
        tuple(Change(f"{load.where}.daily_energy", left) for load, left in lowered),
    )


def _weight(scene: Scene, load: Load, night: float) -> float:
    """Return the energy on the bus that counts for each Wh of a load."""
    efficiency = inverter_efficiency(scene.plant) if load.current == "ac" else None
    behind = efficiency.value if isinstance(efficiency, Figure) else 1.0
    return (night if load.continuous else 1.0) / behind


def _down(energy: float) -> float:
    step = _STEP if energy >= 10 * _STEP else 1.0
    return math.floor(energy / step + 1e-9) * step


def _figure(energy: float) -> Figure:
    return given(energy, "Wh", "daily energy that passes", source="rounded down")


def string_capacity(scene: Scene, total: Quantity, wanted: Quantity) -> Figure | None:
    """Return the capacity of one string that gives the bank a capacity in Ah; None where strings differ."""
    bank = scene.plant.bank
    if any(string.capacity is not None for string in bank.strings):
        return None
    one = in_proportion.of(
        "capacity of one string that passes",
        value=fact(bank, "capacity", bank.where, "one string"),
        wanted=wanted,
        given=total,
    )
    if not isinstance(one, Figure):
        return None
    ah = math.ceil(one.value / _STEP - 1e-9) * _STEP
    return given(ah, "Ah", "capacity of one string that passes", source="rounded up")


def larger_strings(scene: Scene, total: Quantity, wanted: Quantity) -> Iterator[Remedy]:
    """Yield larger strings, then more strings, that give the bank a capacity in Ah."""
    one = string_capacity(scene, total, wanted)
    if one is None or not isinstance(total, Figure) or not isinstance(wanted, Figure):
        return
    count = len(scene.plant.bank.strings)
    word = "the string" if count == 1 else f"each of the {count} strings"
    yield Remedy(f"{one.value:g} Ah in {word}", one, (Change("bank.capacity", one.value),))
    more = math.ceil(count * (wanted.value / total.value - 1.0) - 1e-9)
    strings = given(float(count + more), "1", "strings that pass", source="whole strings")
    names = itertools.islice(fresh_ids(scene.plant, "string-more"), more)
    change = tuple(one for name in names for one in string_like_the_last(scene.plant, name))
    word = "like string" if more == 1 else "like strings"
    yield Remedy(f"{more} {word} more in parallel, each with its leads and fuse", strings, change)
