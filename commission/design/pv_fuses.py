"""Fuses in PV strings, and breakers and switches of whole arrays."""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from typing import Final

from commission.design.device_currents import flows
from commission.design.pv_array import (
    PvArray,
    array_fact,
    array_short_circuit_current,
    short_circuit_current,
)
from commission.design.pv_carriers import array_devices, string_device
from commission.design.pv_found import PvFound, lacking
from commission.design.standard import ratings_from
from commission.design.types import Found, Remedy
from commission.design.words import shown
from commission.figure import Figure, Quantity, Unknown, given, least
from commission.formulas.overcurrent import device_for_load
from commission.formulas.pv_ratings import fault_feed
from commission.plant.change import Change
from commission.plant.plant import part_fact
from commission.plant.site import Protection, PvString
from commission.sheet.types import Finding

FUSE_SIZES: Final = (1, 2, 3, 4, 6, 8, 10, 12, 15, 16, 20, 25, 30, 32, 40, 50)
"""Usual ratings of PV string fuses in A (IEC 60269-6; ranges common practice)."""
_OPENS: Final = frozenset({"breaker", "fuse"})
_CARRIES: Final = frozenset({"breaker", "fuse", "switch"})
_SLACK: Final = 1e-9


def check_string_fuses(pv: PvArray) -> Iterator[PvFound]:
    """Find strings that need a fuse and have none, and fuses that do not fit their strings."""
    fuses = {string.id: _fuse_of(pv, string) for string in pv.array.strings}
    unknown = [fuse for fuse in fuses.values() if isinstance(fuse, Unknown)]
    yield from lacking("string-fuse", (pv.id,), *unknown)
    bare = [string for string in pv.array.strings if fuses[string.id] is None]
    if bare:
        yield from _needed(pv, bare)
    sized = [(string, fuse) for string in pv.array.strings if isinstance(fuse := fuses[string.id], Figure)]
    yield from _sizes(pv, sized)


def _own_fuse(pv: PvArray, string: PvString) -> Protection | None:
    """Return the fuse or breaker that one of several strings has as a part of its own."""
    devices = [one for one in array_devices(pv) if one.kind in _OPENS]
    return next((one for one in devices if string_device(pv, one) is string), None)


def _fuse_of(pv: PvArray, string: PvString) -> Quantity | None:
    """Return the rating of what protects a string, None where nothing does."""
    own = _own_fuse(pv, string)
    if own is not None:
        return part_fact(own, "rating")
    return None if pv.array.string_fuse is None else array_fact(pv.controller, "string_fuse")


# who needs one


def _fed(pv: PvArray, string: PvString) -> Quantity:
    """Return what everything beside a string can drive into it, in A."""
    others = [short_circuit_current(pv.controller, one) for one in pv.array.strings if one.id != string.id]
    return fault_feed.of(
        f"reverse current into string {string.id}",
        currents=others,
        factor=pv.plant.rule("pv_reverse_factor"),
        backfeed=pv.plant.rating(pv.controller, "pv_backfeed_current"),
    )


def _needed(pv: PvArray, bare: list[PvString]) -> Iterator[PvFound]:
    fed = [_fed(pv, string) for string in bare]
    if all(isinstance(one, Figure) and one.value <= _SLACK for one in fed):
        return
    most = array_fact(pv.controller, "series_fuse")
    yield from lacking("string-fuse", (pv.id,), most, *fed)
    known = [one for one in fed if isinstance(one, Figure)]
    if not known or not isinstance(most, Figure):
        return
    worst = max(known, key=lambda one: one.value)
    if worst.value <= most.value + _SLACK:
        return
    text = (
        f"a faulty string is fed {shown(pv.scene, worst)} by the others, its modules stand a fuse of "
        f"{shown(pv.scene, most)}: without a fuse in each string it can burn"
    )
    finding = Finding("stop", "string-fuse", (pv.id,), text, value=worst, limit=most)
    yield Found(finding, (*_fuses_that_fit(pv, bare[0]), *_fewer(pv, most)))


def _fewer(pv: PvArray, most: Figure) -> Iterator[Remedy]:
    """Yield the array with so few strings that none needs a fuse."""
    alike = all(one.short_circuit_current is None for one in pv.array.strings)
    current = short_circuit_current(pv.controller, pv.array.strings[0])
    backfeed = pv.plant.rating(pv.controller, "pv_backfeed_current")
    if not alike or not isinstance(current, Figure) or not isinstance(backfeed, Figure):
        return
    each = current.value * pv.plant.rule("pv_reverse_factor").value
    strings = 1 + int((most.value - backfeed.value) / each + _SLACK) if most.value >= backfeed.value else 0
    if not 1 <= strings < len(pv.array.strings):
        return
    where = f"{pv.controller.where}.array.strings"
    away = tuple(Change(f"{where}[{one.id}]", None) for one in pv.array.strings[strings:])
    word = "1 string" if strings == 1 else f"{strings} strings"
    yield Remedy(f"at most {word} on this input without fuses", passes=most, change=away)


# their size


def _window(pv: PvArray, string: PvString) -> tuple[Quantity, list[Quantity]]:
    """Return the least rating of a string's fuse, and what it may not be over."""
    current = short_circuit_current(pv.controller, string)
    low = device_for_load.of(
        f"least fuse of string {string.id}", current=current, factor=pv.plant.rule("string_fuse_least")
    )
    highs = [array_fact(pv.controller, "series_fuse")]
    share = pv.plant.rule_if_any("string_fuse_most")
    if share is not None:
        highs.append(
            device_for_load.of(f"greatest fuse of string {string.id}", current=current, factor=share)
        )
    return low, highs


def _sizes(pv: PvArray, sized: list[tuple[PvString, Figure]]) -> Iterator[PvFound]:
    seen: set[tuple[float, float | str | None]] = set()
    for string, fuse in sized:
        like = (fuse.value, string.short_circuit_current)
        if like in seen:
            continue
        seen.add(like)
        yield from _size(pv, string, fuse)


def _size(pv: PvArray, string: PvString, fuse: Figure) -> Iterator[PvFound]:
    low, highs = _window(pv, string)
    own = _own_fuse(pv, string)
    part = pv.id if own is None else own.id
    yield from lacking("string-fuse-size", (part,), low, *highs)
    known = [item for item in highs if isinstance(item, Figure)]
    high = least("greatest fuse of a string", *known) if known else None
    if isinstance(low, Figure) and fuse.value < low.value - _SLACK:
        wrong = f"blows in bright light: at least {shown(pv.scene, low)}"
        limit: Figure = low
    elif isinstance(high, Figure) and fuse.value > high.value + _SLACK:
        wrong = f"protects neither modules nor string: at most {shown(pv.scene, high)}"
        limit = high
    else:
        return
    text = f"the string fuse of {shown(pv.scene, fuse)} {wrong}"
    fitting = tuple(_fuses_that_fit(pv, string))
    if not fitting and isinstance(low, Figure) and isinstance(high, Figure):
        between = f"{shown(pv.scene, low)} and {shown(pv.scene, high)}"
        text += f"; no usual size lies between {between}"
    remedy = "" if fitting else "modules with a larger series fuse, or so few strings that none is needed"
    finding = Finding("correct", "string-fuse-size", (part,), text, remedy, value=fuse, limit=limit)
    yield Found(finding, fitting)


def _fuses_that_fit(pv: PvArray, string: PvString) -> Iterator[Remedy]:
    """Yield string fuses of usual sizes that fit, least first."""
    low, highs = _window(pv, string)
    known = [item for item in highs if isinstance(item, Figure)]
    if not isinstance(low, Figure) or not known:
        return
    most = min(item.value for item in known)
    own = _own_fuse(pv, string)
    key = f"{pv.controller.where}.array.string_fuse" if own is None else f"{own.where}.rating"
    fitting = (size for size in FUSE_SIZES if low.value - _SLACK <= size <= most + _SLACK)
    for size in itertools.islice(fitting, 2):
        passes = given(float(size), "A", "usual size of a PV string fuse", source="IEC 60269-6")
        text = f"a fuse of {size} A in each string" if own is None else f"{own.label} of {size} A"
        yield Remedy(text, passes=passes, change=(Change(key, float(size)),))


# devices of the whole array


def check_array_devices(pv: PvArray) -> Iterator[PvFound]:
    """Find breakers, fuses and switches of an array that its current is too much for.

    Breakers and fuses of a conductor run are judged with the run.
    """
    judged = {flow.device.id for flow in flows(pv.scene)}
    for device in array_devices(pv):
        if device.id not in judged and device.kind in _CARRIES and string_device(pv, device) is None:
            yield from _device(pv, device)


def _device(pv: PvArray, device: Protection) -> Iterator[PvFound]:
    current = array_short_circuit_current(pv.scene, pv.controller)
    needed = current
    if not device.full_rated:
        needed = device_for_load.of(
            f"least rating of {device.label}", current=current, factor=pv.plant.rule("pv_continuous_factor")
        )
    rating = part_fact(device, "rating")
    yield from lacking("array-device-rating", (device.id,), rating, needed)
    if not isinstance(rating, Figure) or not isinstance(needed, Figure):
        return
    if rating.value >= needed.value - _SLACK:
        return
    text = (
        f"{device.label} of {shown(pv.scene, rating)} carries the array's current in bright light; at least "
        f"{shown(pv.scene, needed)} is needed"
    )
    finding = Finding("correct", "array-device-rating", (device.id,), text, value=rating, limit=needed)
    remedies = tuple(
        Remedy(
            f"{device.label} of {shown(pv.scene, size)}",
            passes=size,
            change=(Change(f"{device.where}.rating", size.value),),
        )
        for size in itertools.islice(ratings_from(pv.plant, needed.value), 3)
    )
    yield Found(finding, remedies)
