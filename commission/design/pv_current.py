"""The current and power of a PV array against what its controller takes and gives."""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from typing import Final

from commission.design.pv_array import (
    PvArray,
    array_fact,
    array_name,
    array_short_circuit_current,
    string_fact,
)
from commission.design.pv_found import PvFound, lacking
from commission.design.types import Found, Remedy
from commission.design.words import shown
from commission.figure import Figure, Quantity, given, least
from commission.formulas.arrays import array_power
from commission.formulas.charging import sum_of_currents
from commission.formulas.pv_limits import clipped_power
from commission.plant.change import Change
from commission.sheet.bank_state import whole
from commission.sheet.types import Finding

CURRENTS: Final = (10.0, 15.0, 20.0, 30.0, 40.0, 50.0, 60.0, 70.0, 80.0, 100.0, 120.0, 150.0)
"""Greatest short-circuit currents in A for which controllers are commonly made; common practice."""
_SLACK: Final = 1e-9
_WORTH_TELLING: Final = 0.01
"""Share of the array's power from which clipping is told; common practice."""


def check_input_current(pv: PvArray) -> Iterator[PvFound]:
    """Find arrays whose short-circuit current is more than the controller's input stands."""
    current = array_short_circuit_current(pv.scene, pv.controller)
    limits = [pv.plant.rating(pv.controller, "pv_input_current")]
    if pv.topology == "switched":  # what comes in goes out
        limits.append(pv.plant.rating(pv.controller, "output_current"))
    yield from lacking("array-current", (pv.id,), current, *limits)
    known = [item for item in limits if isinstance(item, Figure)]
    if not isinstance(current, Figure) or not known:
        return
    limit = least(f"PV current that {pv.controller.label} takes", *known)
    assert isinstance(limit, Figure)  # noqa: S101 - of figures
    if current.value <= limit.value + _SLACK:
        return
    count = len(pv.array.strings)
    strings = "1 string" if count == 1 else f"{count} strings"
    text = (
        f"{strings} can give {shown(pv.scene, current)} on a bright day; {pv.controller.label} takes "
        f"{shown(pv.scene, limit)}"
    )
    finding = Finding("correct", "array-current", (pv.id,), text, value=current, limit=limit)
    yield Found(finding, (*_fewer_strings(pv, current, limit), *_larger_inputs(pv, current)))


def _fewer_strings(pv: PvArray, current: Figure, limit: Figure) -> Iterator[Remedy]:
    """Yield the array with fewer strings: all modules kept in longer ones, then with modules left over."""
    strings = pv.array.strings
    most = int(limit.value / current.value * len(strings) + _SLACK)
    if most < 1 or not pv.alike or any(one.short_circuit_current is not None for one in strings):
        return
    series = pv.count(strings[0])
    where = f"{pv.controller.where}.array"
    for wanted in range(most, 0, -1):
        away = tuple(Change(f"{where}.strings[{one.id}]", None) for one in strings[wanted:])
        word = "1 string" if wanted == 1 else f"{wanted} strings"
        if series is not None and (series * len(strings)) % wanted == 0:
            longer = series * len(strings) // wanted
            text = f"{word} of {longer} in series: all {series * len(strings)} modules stay in use"
            yield Remedy(text, passes=limit, change=(*away, Change(f"{where}.series", longer)))
    away = tuple(Change(f"{where}.strings[{one.id}]", None) for one in strings[most:])
    yield Remedy(f"at most {most} of {len(strings)} strings on it", passes=limit, change=away)


def _larger_inputs(pv: PvArray, current: Figure) -> Iterator[Remedy]:
    sheet = f"{pv.controller.where}.datasheet"
    for rung in itertools.islice((one for one in CURRENTS if one >= current.value), 2):
        change = [Change(f"{sheet}.pv_input_current", rung)]
        if pv.topology == "switched":
            change.append(Change(f"{sheet}.output_current", rung))
        yield Remedy(
            f"a controller for {rung:g} A of PV short-circuit current",
            passes=given(
                rung, "A", "PV current that a controller of this class takes", source="common practice"
            ),
            change=tuple(change),
        )


# power


def array_watts(pv: PvArray) -> Quantity:
    """Return the power of all modules of an array at test conditions, in W."""
    name = f"power of {array_name(pv.controller)}"
    module = array_fact(pv.controller, "module_power")
    strings = pv.array.strings
    if all(one.series is None for one in strings):
        series = array_fact(pv.controller, "series")
        return array_power.of(name, module_power=module, series=series, strings=float(len(strings)))
    each = [
        array_power.of(
            f"power of string {one.id}",
            module_power=module,
            series=string_fact(pv.controller, one, "series"),
            strings=1.0,
        )
        for one in strings
    ]
    return sum_of_currents.of(name, currents=each).in_unit("W")


def check_clipping(pv: PvArray) -> Iterator[PvFound]:
    """Tell how much of the array's power its controller cannot pass on."""
    if pv.topology == "switched":  # its current is what counts
        return
    power = array_watts(pv)
    rating = pv.plant.rating(pv.controller, "output_current")
    clipped = clipped_power.of(
        f"power of {array_name(pv.controller)} that is clipped",
        power=power,
        rating=rating,
        efficiency=pv.plant.rating(pv.controller, "efficiency"),
        bank_voltage=whole(pv.plant, "nominal_cell_voltage"),
    )
    yield from lacking("array-clipping", (pv.id,), clipped)
    if not isinstance(clipped, Figure) or not isinstance(power, Figure):
        return
    if clipped.value <= _WORTH_TELLING * power.value:
        return
    assert isinstance(rating, Figure)  # noqa: S101 - it was worked with
    text = (
        f"of {shown(pv.scene, power)} in full sun {pv.controller.label} leaves {shown(pv.scene, clipped, 0)} "
        f"({clipped.value / power.value:.0%}) unused: it gives {shown(pv.scene, rating)} at most"
    )
    remedy = "accept it where the maker allows so large an array, or spread the strings over more output"
    yield Found(Finding("advise", "array-clipping", (pv.id,), text, remedy, value=clipped, limit=rating))
