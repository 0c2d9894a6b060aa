"""AC-coupled PV on a full bank: whether it is throttled or comes and goes, and how often."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final

from commission.design.coupled_units import power_of_all
from commission.design.types import Found, Later, Remedy, Scene
from commission.design.words import gap, shown
from commission.figure import Figure, Gap, Quantity, given
from commission.formulas.ac_coupling import linear_power_fraction
from commission.formulas.bands import share_of
from commission.formulas.frequency_shift import (
    delay_for_time,
    frequency_below,
    held_frequency,
    time_between_trips,
    zero_for_frequency,
)
from commission.formulas.load_control import load_share
from commission.plant.change import Change
from commission.plant.plant import Plant, fact
from commission.plant.site import AcPvInverter
from commission.plant.values import UNKNOWN
from commission.sheet.coupling import idle_frequency
from commission.sheet.known import not_checked
from commission.sheet.responses import response_fact
from commission.sheet.types import Finding

_PRACTICE: Final = "common practice"
_ALL: Final = given(1.0, "1", "full sun", source="the worst case: all that the array gives")
_UNDER_TRIP: Final = given(0.1, "Hz", "distance of what is held under the slow trip", source=_PRACTICE)
_STEEPEST: Final = 0.02
"""Least droop that can be set: 2 % (EN 50549-1, 4.6.1; IEEE 1547-2018, table 24, category III)."""
_BETWEEN: Final = given(200.0, "s", "from trip to trip at least: 3 trips in 10 min", source=_PRACTICE)
_DELAY_STEP: Final = 10.0


@dataclass(frozen=True, slots=True)
class _Full:
    """A full bank: only the least load takes power."""

    share: Quantity
    """Of all AC-coupled PV in full sun, what the least load takes."""
    load: Quantity
    power: Quantity


def check_coupled_window(scene: Scene) -> Iterator[Found]:
    """Find PV that a full bank cannot throttle, and PV that would come and go too often."""
    plant = scene.plant
    everyone = plant.site.ac_pv_inverters
    shifting = any(
        "frequency_shift_start" in plant.equipment[one.id].settings for one in plant.site.inverter_chargers
    )
    if not everyone or not shifting:
        return
    yield from _loads_untold(plant)
    full = _full(plant)
    missing = gap("held-share", tuple(pv.id for pv in everyone), full.share)
    if missing is not None:
        yield missing
        return
    for alike in _alike(plant):
        yield from _judged(scene, alike, full)


def _loads_untold(plant: Plant) -> Iterator[Found]:
    """Ask what frequency the AC loads stand, since the shift raises it."""
    untold = [load for load in plant.site.loads if load.current == "ac" and load.frequency_max == UNKNOWN]
    if untold:
        gaps = tuple(
            Gap(f"greatest frequency of {load.label}", f"{load.where}.frequency_max") for load in untold
        )
        yield Found(not_checked("frequency-of-loads", tuple(load.id for load in untold), gaps))


def _full(plant: Plant) -> _Full:
    load = fact(plant.site.expected, "least_load", "expected", "the plant")
    power = power_of_all(plant)
    share = load_share.of("share of full sun that the least load takes", load=load, whole=power)
    return _Full(share, load, power)


def _alike(plant: Plant) -> Iterator[tuple[AcPvInverter, ...]]:
    """Yield the PV inverters by how they answer: those that do alike are told together."""
    found: dict[tuple[object, ...], list[AcPvInverter]] = {}
    for pv in plant.site.ac_pv_inverters:
        own = plant.ac_pv_class(pv).response
        key = tuple(getattr(own, field) for field in type(own).model_fields)
        found.setdefault(key, []).append(pv)
    yield from (tuple(units) for units in found.values())


def _judged(scene: Scene, units: Sequence[AcPvInverter], full: _Full) -> Iterator[Found]:
    plant = scene.plant
    kind = plant.ac_pv_class(units[0]).response.kind
    if kind == UNKNOWN or not isinstance(full.share, Figure) or full.share.value >= 1.0:
        return  # the settings ask for the kind; a load that takes all is never throttled
    if kind == "none":
        yield from _often(scene, units, full)
        return
    start, zero, slow = (response_fact(plant, units[0], field) for field in ("start", "zero", "slow_trip"))
    held = held_frequency.of(
        "frequency that holds the least load", power=full.share, power_before=_ALL, start=start, zero=zero
    )
    missing = gap("pv-comes-and-goes", _ids(units), held, slow)
    if missing is not None:
        yield missing
    if not isinstance(held, Figure) or not isinstance(slow, Figure) or held.value <= slow.value + 1e-9:
        return
    yield _comes_and_goes(scene, units, full, (held, slow))
    yield from _often(scene, units, full)


def _ids(units: Sequence[AcPvInverter]) -> tuple[str, ...]:
    return tuple(pv.id for pv in units)


def _names(units: Sequence[AcPvInverter]) -> str:
    return ", ".join(pv.label for pv in units)


# throttled or not


def _comes_and_goes(
    scene: Scene, units: Sequence[AcPvInverter], full: _Full, found: tuple[Figure, Figure]
) -> Found:
    held, slow = found
    plant = scene.plant
    start, zero = (response_fact(plant, units[0], field) for field in ("start", "zero"))
    least = linear_power_fraction.of(
        "share that is left at the slow trip", frequency=slow, start=start, zero=zero
    )
    watts = share_of.of("load that can be held", value=full.power, share=least).in_unit("W")
    loads = f"; {shown(scene, watts, 0)} of load and more can be held" if isinstance(watts, Figure) else ""
    load = shown(scene, full.load) if isinstance(full.load, Figure) else "the least load"
    text = (
        f"on a full bank {load} of load would be held at {held.value:.2f} Hz, {_names(units)} trips over "
        f"{slow.value:.2f} Hz: it comes and goes{loads}"
    )
    finding = Finding(
        "advise",
        "pv-comes-and-goes",
        _ids(units),
        text,
        "loads that are switched on by a full bank, or PV inverters with a steeper response",
        value=held,
        limit=slow,
    )
    return Found(finding, Later(_steeper(scene, units, full, start, slow)))


def _steeper(
    scene: Scene, units: Sequence[AcPvInverter], full: _Full, start: Quantity, slow: Figure
) -> Iterator[Remedy]:
    """Yield the line that holds the least load under the slow trip, if such a line can be set."""
    plant = scene.plant
    below = frequency_below.of("just under the slow trip", frequency=slow, by=_UNDER_TRIP)
    zero = zero_for_frequency.of("end of the line", power=full.share, frequency=below, start=start)
    nominal = idle_frequency(plant, plant.site.inverter_chargers[0])
    if not (isinstance(zero, Figure) and isinstance(start, Figure) and isinstance(nominal, Figure)):
        return
    end = math.floor(zero.value * 100.0 + 1e-6) / 100.0
    droop = (end - start.value) / nominal.value
    if droop < _STEEPEST:
        return
    text = (
        f"a response of {_names(units)} that ends at {end:.2f} Hz (droop {droop:.1%}), if the PV inverter "
        "can be set and no public supply asks for another"
    )
    changes = tuple(Change(f"{pv.where}.response.zero", end) for pv in units)
    yield Remedy(text, passes=zero, change=changes)


# how often


def _often(scene: Scene, units: Sequence[AcPvInverter], full: _Full) -> Iterator[Found]:
    """Find PV that trips on a full bank more than three times in ten minutes."""
    plant = scene.plant
    delay, ramp = (response_fact(plant, units[0], field) for field in ("return_delay", "return_ramp"))
    time = time_between_trips.of("from trip to trip on a full bank", delay=delay, ramp=ramp, power=full.share)
    missing = gap("pv-trips-often", _ids(units), time)
    if missing is not None:
        yield missing
    if not isinstance(time, Figure) or time.value >= _BETWEEN.value - 1e-9:
        return
    text = (
        f"on a full bank {_names(units)} is back and trips again after "
        f"{shown(scene, time, beside=_BETWEEN)}: more than three "
        f"times in 10 min wears contacts and bank; {shown(scene, _BETWEEN, beside=time)} at least"
    )
    finding = Finding("correct", "pv-trips-often", _ids(units), text, value=time, limit=_BETWEEN)
    wanted = delay_for_time.of("return delay that passes", time_between=_BETWEEN, ramp=ramp, power=full.share)
    if not isinstance(wanted, Figure):
        yield Found(finding)
        return
    seconds = math.ceil(wanted.value / _DELAY_STEP - 1e-9) * _DELAY_STEP
    changes = tuple(Change(f"{pv.where}.response.return_delay", seconds) for pv in units)
    remedy = Remedy(f"a return delay of {seconds:.0f} s on {_names(units)}", passes=wanted, change=changes)
    yield Found(finding, (remedy,))
