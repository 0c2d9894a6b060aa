"""Start and stop of a generator against the bank, its charge current and the no-start hours."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import Final

from commission.design.balance import from_sun, has_array, has_utility, nominal, taken
from commission.design.fuel import charge_time
from commission.design.generator_draw import Drawn, charge_current, drawn_from
from commission.design.less import larger_strings, time_shown
from commission.design.types import Found, Later, Remedy, Scene
from commission.design.words import shown
from commission.figure import Figure, Quantity, given
from commission.formulas.energy import (
    in_proportion,
    mean_current,
    missing_energy,
    time_between_charges,
    time_until,
)
from commission.formulas.low_end import reserve_time
from commission.plant.change import Change
from commission.plant.plant import Plant
from commission.plant.site import Device, Generator
from commission.sheet.bank_state import COMMON, attempted, capacity
from commission.sheet.generator_run import STOP_STATE
from commission.sheet.states import states_of
from commission.sheet.types import Finding

_OFTEN: Final = given(604800.0, "s", "time between starts by hand, at least a week", source=COMMON)
_ALL_OF_IT: Final = given(1.0, "1", "energy of the loads: all of it", source="definition")
_QUARTER: Final = 900.0
_DAY: Final = 86400.0
_STOP: Final = f"{STOP_STATE.value:.0%}"
_STARTS: Final = ("generator_start", "generator_start_state_of_charge")


def check_generator_settings(scene: Scene) -> Iterator[Found]:
    """Find a set that is stopped too soon, may not run when it is needed, or is started by nobody."""
    for generator in scene.plant.site.generators:
        drawn = drawn_from(scene, generator)
        starter = next((one for one in scene.plant.devices if one.id == generator.started_by), None)
        if starter is not None and drawn:
            yield from _stopped_at_once(scene, generator, starter, drawn)
            yield from _stopped_early(scene, generator, starter, drawn)
            yield from _quiet_hours(scene, generator, starter)
        if generator.started_by is None and drawn:
            yield from _nothing_starts(scene, generator)
            yield from _by_hand_often(scene, generator)


# the stop


def _stopped_at_once(
    scene: Scene, generator: Generator, starter: Device, drawn: Sequence[Drawn]
) -> Iterator[Found]:
    """Find an end current that the set never gives more than: it stops as soon as it has started."""
    end = scene.sheet.value(starter.id, "generator_stop_end_current")
    current = charge_current(scene, drawn)
    if not isinstance(end, Figure) or not isinstance(current, Figure) or current.value > end.value + 1e-9:
        return
    if current.value <= 0:
        return  # the sheet tells why nothing flows
    text = (
        f"{generator.label} charges with {shown(scene, current, beside=end)} and stops under "
        f"{shown(scene, end, beside=current)}: "
        "it stops as soon as it has started"
    )
    remedy = (
        f"the stop by end current off at {starter.label}, or more than "
        f"{shown(scene, end, beside=current)} of charge"
    )
    yield Found(
        Finding(
            "correct",
            "generator-stops-at-once",
            (starter.id, generator.id),
            text,
            remedy,
            value=current,
            limit=end,
            passes=end.named("charge current that passes"),
        )
    )


def _stopped_early(
    scene: Scene, generator: Generator, starter: Device, drawn: Sequence[Drawn]
) -> Iterator[Found]:
    """Find a run limit that ends the charge; the sheet tells of charges that are too long for any limit."""
    if any(one.check == "generator-run" and generator.id in one.parts for one in scene.sheet.findings):
        return
    most, run = scene.sheet.value(starter.id, "generator_max_run_time"), charge_time(scene, drawn)
    if not isinstance(most, Figure) or not isinstance(run, Figure) or run.value <= most.value + 1e-6:
        return
    text = (
        f"a charge from start to stop takes {time_shown(run)}, {starter.label} ends it after "
        f"{time_shown(most)}: the bank is never charged to {_STOP} by {generator.label}"
    )
    current = charge_current(scene, drawn)
    needed = in_proportion.of("charge current that passes", value=current, wanted=run, given=most).in_unit(
        "A"
    )
    amperes = f"{shown(scene, needed)} of charge" if isinstance(needed, Figure) else "more charge"
    yield Found(
        Finding(
            "advise",
            "generator-stops-early",
            (starter.id, generator.id),
            text,
            f"{amperes} on the set, or a longer run limit",
            value=run,
            limit=most,
            passes=needed,
        )
    )


# hours without start


def _quiet_hours(scene: Scene, generator: Generator, starter: Device) -> Iterator[Found]:
    """Find no-start hours that outlast the charge between the start and the load disconnect."""
    begin = scene.sheet.value(starter.id, "generator_no_start_from")
    until = scene.sheet.value(starter.id, "generator_no_start_until")
    if not generator.quiet_from or not isinstance(begin, Figure) or not isinstance(until, Figure):
        return
    quiet = time_until.of(f"no-start hours of {generator.label}", begin=begin, until=until)
    reserve = _reserve(scene.plant)
    if (
        not isinstance(quiet, Figure)
        or not isinstance(reserve, Figure)
        or reserve.value >= quiet.value - 1e-6
    ):
        return
    emergency = "generator_emergency_voltage" in scene.plant.equipment[starter.id].settings
    then = "it then starts in spite of them" if emergency else "the loads then drop"
    text = (
        f"a start asked for at the begin of the no-start hours waits {time_shown(quiet)}, the charge down to "
        f"the load disconnect lasts {time_shown(reserve)} under the mean load: {then}"
    )
    finding = Finding("advise", "generator-quiet-hours", (generator.id,), text, value=quiet, limit=reserve)
    yield Found(finding, Later(_of_quiet(scene, generator, begin, quiet, reserve)))


def _reserve(plant: Plant) -> Quantity:
    """Return how long the charge from the start to the disconnect lasts under the mean load of a day."""
    states, name = states_of(plant), "time that the charge from the start to the disconnect lasts"
    current = mean_current.of("mean current of the loads", energy=taken(plant), voltage=nominal(plant))
    total = capacity(plant)
    return attempted(
        lambda: reserve_time.of(
            name, capacity=total, upper=states.start, lower=states.disconnect, current=current
        ),
        "s",
        name,
    )


def _of_quiet(
    scene: Scene, generator: Generator, begin: Figure, quiet: Figure, reserve: Figure
) -> Iterator[Remedy]:
    left = math.floor(reserve.value / _QUARTER + 1e-9) * _QUARTER
    if left > 0:
        end = _clock((begin.value + left) % _DAY)
        passes = given(left, "s", "no-start hours that pass", source="rounded down to a quarter of an hour")
        change = (Change(f"{generator.where}.quiet_until", end),)
        yield Remedy(f"no-start hours that end at {end}", passes, change)
    total = capacity(scene.plant)
    wanted = in_proportion.of("capacity of the bank that passes", value=total, wanted=quiet, given=reserve)
    yield from larger_strings(scene, total, wanted.in_unit("Ah"))


def _clock(seconds: float) -> str:
    return f"{int(seconds // 3600):02d}:{int(seconds % 3600 // 60):02d}"


# by hand


def _nothing_starts(scene: Scene, generator: Generator) -> Iterator[Found]:
    """Find a set with no-start hours, which belong to an automatic start, that nothing starts."""
    if not generator.quiet_from and not generator.quiet_until:
        return
    text = f"{generator.label} has no-start hours and nothing starts it: it runs only when somebody starts it"
    finding = Finding("advise", "generator-without-starter", (generator.id,), text)
    yield Found(finding, Later(_starters(scene, generator)))


def _starters(scene: Scene, generator: Generator) -> Iterator[Remedy]:
    if scene.plant.generator_class(generator).start_kind == "by hand":
        yield Remedy("a set with two-wire or three-wire start, started by the plant")
        return
    for device in scene.plant.site.inverter_chargers:
        settings = scene.plant.equipment[device.id].settings
        if generator.id in device.inputs.values() and any(name in settings for name in _STARTS):
            change = (
                Change(f"{generator.where}.started_by", device.id),
                Change(f"{device.where}.starts_generator", True),
            )
            yield Remedy(f"started by {device.label}", change=change)


def _by_hand_often(scene: Scene, generator: Generator) -> Iterator[Found]:
    """Find a set that somebody would have to start by hand more than once a week in the design month."""
    plant = scene.plant
    if has_utility(plant) or not has_array(plant):
        return
    lacking = missing_energy.of(
        "energy of a day that the sun does not give",
        available=from_sun(plant),
        taken=taken(plant),
        ratio=_ALL_OF_IT,
    )
    if not isinstance(lacking, Figure) or lacking.value <= 0:
        return
    apart = time_between_charges.of(
        "time between two starts by hand",
        depth=plant.cell("depth_usual"),
        voltage=nominal(plant),
        capacity=capacity(plant),
        missing=lacking,
    )
    if not isinstance(apart, Figure) or apart.value >= _OFTEN.value - 1e-6:
        return
    month = plant.site.expected.design_month or "the design month"
    text = (
        f"in {month} somebody has to start {generator.label} by hand every {time_shown(apart)}: the sun "
        f"lacks {lacking.value / 1000:.1f} kWh a day"
    )
    finding = Finding("advise", "generator-by-hand", (generator.id,), text, value=apart, limit=_OFTEN)
    yield Found(finding, Later(_starters(scene, generator)))
