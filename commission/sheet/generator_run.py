"""Run times of a generator: expected run and its limit, warm-up, cool-down, no-start hours, exercise."""

from __future__ import annotations

import re
from typing import Final

from commission.figure import Figure, Gap, Quantity, Unknown, given, least
from commission.formulas.charging import scaled_current, sum_of_currents
from commission.formulas.generator import run_time
from commission.formulas.generator_control import run_time_limit
from commission.plant.plant import fact
from commission.plant.site import Device, Generator, InverterCharger
from commission.sheet.bank_state import COMMON, attempted, capacity
from commission.sheet.draft import Draft
from commission.sheet.gaps import charger_gap
from commission.sheet.settling import not_checked, put_aside, settled
from commission.sheet.states import states_of
from commission.sheet.types import Finding
from commission.units import show

STOP_STATE: Final = given(0.85, "1", "state of charge that stops a generator", source=COMMON)
_LEAST_RUN: Final = given(1800.0, "s", "least run: a set that never gets warm wears out", source=COMMON)
_MOST_RUN: Final = given(43200.0, "s", "longest run, 12 h", source=COMMON)
_LONGEST_EXPECTED: Final = 28800.0
_WARM_UP: Final = given(60.0, "s", "warm-up", source=COMMON)
_WARM_UP_IN_FROST: Final = given(180.0, "s", "warm-up in frost", source=COMMON)
_COOL_DOWN: Final = given(300.0, "s", "cool-down without load", source="NFPA 110, 6.2; from memory")
_EXERCISE_INTERVAL: Final = given(2592000.0, "s", "exercise each month", source="NFPA 110, 8.4.2")
_EXERCISE_TIME: Final = given(1800.0, "s", "exercise of 30 min", source="NFPA 110, 8.4.2")
_TIME_OF_DAY: Final = re.compile(r"^\d{2}:\d{2}$")
_CLOCK: Final = "seconds after midnight, by the device's clock"


def settle_run_times(
    draft: Draft, device: Device, generators: tuple[Generator, ...], fed: tuple[InverterCharger, ...]
) -> None:
    """Settle how long a set warms up, runs and cools down, and when it is not started."""
    settled(draft, device, "generator_least_run_time", _LEAST_RUN)
    run = expected_run(draft, generators, fed)
    limit = run_time_limit.of("longest run", run=run)
    if draft.ability(device, "generator_max_run_time") is not None:
        settled(draft, device, "generator_max_run_time", limit, high=_MOST_RUN, side="up")
    _check_run(draft, generators, fed, run)
    warm_up, note = _warm_up(draft)
    settled(draft, device, "generator_warm_up_time", warm_up, low=warm_up, side="up", note=note)
    settled(draft, device, "generator_cool_down_time", _COOL_DOWN, low=_COOL_DOWN)
    _quiet_hours(draft, device, generators)
    settled(draft, device, "generator_exercise_interval", _EXERCISE_INTERVAL, high=_EXERCISE_INTERVAL)
    note = "under at least 30 % of the set's rated power"
    settled(draft, device, "generator_exercise_time", _EXERCISE_TIME, side="up", note=note)


def charge_current_of(
    draft: Draft, generators: tuple[Generator, ...], fed: tuple[InverterCharger, ...]
) -> Quantity:
    """Return the charge current that the chargers on a set give together."""
    if not fed:
        names = ", ".join(generator.label for generator in generators)
        return Unknown((charger_gap(names),), "A", "charge current on the generator")
    total = sum_of_currents.of(
        "charge current on the generator", currents=[_one(draft, one, generators) for one in fed]
    )
    limit = draft.numbers.get("bank_limit")
    return total if limit is None else least("charge current on the generator", total, limit)


def _one(draft: Draft, device: InverterCharger, generators: tuple[Generator, ...]) -> Quantity:
    """Return what one charger gives: the least of what its source feeds, its setting and its rating."""
    feeds = [draft.numbers.get(f"ac_feed:{device.id}:{generator.id}") for generator in generators]
    found = [
        *feeds,
        draft.value(device.id, "charge_current_limit"),
        draft.plant.rating(device, "charger_current"),
    ]
    return least(
        f"charge current of {device.label} on the generator", *(one for one in found if one is not None)
    )


def expected_run(
    draft: Draft, generators: tuple[Generator, ...], fed: tuple[InverterCharger, ...]
) -> Quantity:
    """Return how long a set runs from its start to the state of charge that stops it."""
    plant = draft.plant
    name = "expected run of the generator"
    start = states_of(plant).start
    current = charge_current_of(draft, generators, fed)
    return attempted(
        lambda: run_time.of(
            name,
            capacity=capacity(plant),
            start=start,
            stop=STOP_STATE,
            current=current,
            charge_efficiency=plant.cell("charge_efficiency"),
        ),
        "s",
        name,
    )


def _check_run(
    draft: Draft, generators: tuple[Generator, ...], fed: tuple[InverterCharger, ...], run: Quantity
) -> None:
    """Find a charge so weak that the set runs longer than any limit allows."""
    parts = tuple(generator.id for generator in generators)
    if not_checked(draft, "generator-run", parts, run) or not isinstance(run, Figure):
        return
    if run.value <= _LONGEST_EXPECTED + 1e-6:
        return
    current = charge_current_of(draft, generators, fed)
    needed = scaled_current.of(
        "charge current that passes", current=current, count=run.value / _LONGEST_EXPECTED
    )
    amperes = f"{needed.value:.0f} A" if isinstance(needed, Figure) else "more"
    draft.find(
        Finding(
            "advise",
            "generator-run",
            parts,
            f"a charge from start to stop takes {run.value / 3600:.1f} h: over 8 h the run limit of 12 h "
            "leaves no room",
            f"{amperes} of charge current in all, or a start at a higher state of charge",
            value=run,
            limit=given(_LONGEST_EXPECTED, "s", "longest expected run", source=COMMON),
            passes=needed,
        )
    )


def _warm_up(draft: Draft) -> tuple[Figure, str]:
    coldest = fact(draft.plant.site.site, "coldest_ambient", "site")
    if not isinstance(coldest, Figure):
        return _WARM_UP_IN_FROST, "coldest air not known: as in frost"
    if coldest.value < 0:
        cold = show(coldest.value, "°C", draft.plant.site.site.units)
        return _WARM_UP_IN_FROST, f"frost: the air gets as cold as {cold}"
    return _WARM_UP, ""


def _quiet_hours(draft: Draft, device: Device, generators: tuple[Generator, ...]) -> None:
    chosen = next((one for one in generators if one.quiet_from or one.quiet_until), None)
    if chosen is None:
        for setting in ("generator_no_start_from", "generator_no_start_until"):
            put_aside(draft, device, setting, "low", f"no no-start hours on this site; {_CLOCK}")
        return
    begin = _clock(chosen, "quiet_from")
    end = _clock(chosen, "quiet_until")
    settled(draft, device, "generator_no_start_from", begin, high=begin, note=_CLOCK)
    settled(draft, device, "generator_no_start_until", end, low=end, side="up", note=_CLOCK)


def _clock(generator: Generator, field: str) -> Quantity:
    """Return a time of day of the site file in seconds after midnight."""
    text = str(getattr(generator, field))
    name = f"{field.replace('_', ' ')} of {generator.label}"
    if not _TIME_OF_DAY.match(text):
        return Unknown((Gap(name, f"{generator.where}.{field}"),), "s", name)
    hours, minutes = text.split(":")
    seconds = int(hours) * 3600.0 + int(minutes) * 60.0
    return given(seconds, "s", f"{name}, {text}", kind="site", where=f"{generator.where}.{field}")
