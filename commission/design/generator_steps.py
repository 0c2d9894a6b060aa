"""What a generator set takes at once: the loads at the transfer, and the start of a motor."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import Final

from commission.design.generator_draw import Drawn, derated, drawn_from
from commission.design.generator_sizes import larger_set, load_changes
from commission.design.types import Found, Later, Remedy, Scene
from commission.design.words import shown
from commission.figure import Figure, given
from commission.formulas.generator_load import load_during_start, step_share
from commission.formulas.load_control import sum_of_powers
from commission.formulas.wiring_sizes import apparent_power
from commission.plant.change import Change
from commission.plant.plant import part_fact
from commission.plant.site import Generator, Load
from commission.sheet.types import Finding

_STEP: Final = given(
    0.5, "1", "step that a set takes", source="ISO 8528-5: first step of class G2, as tenders quote it"
)


def check_generator_steps(scene: Scene) -> Iterator[Found]:
    """Find sets that are loaded too suddenly."""
    for generator in scene.plant.site.generators:
        drawn = drawn_from(scene, generator)
        yield from _step(scene, generator, drawn)
        yield from _starts(scene, generator)


# in one step


def _step(scene: Scene, generator: Generator, drawn: Sequence[Drawn]) -> Iterator[Found]:
    """Find a step of load at the transfer that the set does not take within its limits."""
    plant = scene.plant
    at_once = [part_fact(generator, "load_while_charging").in_unit("W")]
    at_once += [one.apparent.in_unit("W") for one in drawn if not _ramps(scene, one)]
    power = sum_of_powers.of(f"step of load on {generator.label} at the transfer", powers=at_once)
    rated = derated(plant, generator, "rated_power")
    share = step_share.of(f"step of load on {generator.label}", power=power, rating=rated)
    stated = plant.rating(generator, "step_max")
    most = stated if isinstance(stated, Figure) else _STEP
    if not drawn or not isinstance(share, Figure) or share.value <= most.value + 1e-9:
        return
    assert isinstance(power, Figure)  # noqa: S101 - the share was worked out with it
    text = (
        f"at the transfer {generator.label} takes {shown(scene, power)} at once, {share.value:.0%} of what "
        f"it gives here; {most.value:.0%} are safe: frequency and voltage dip and the transfer may fail"
    )
    finding = Finding("advise", "generator-step", (generator.id,), text, value=share, limit=most)
    yield Found(finding, Later(_of_step(scene, generator, drawn, power, most, share)))


def _ramps(scene: Scene, one: Drawn) -> bool:
    """Whether a charger takes its charge up slowly."""
    kind = one.supply.kind
    device, setting = one.device.id, "charge_ramp_time"
    return (scene.sheet.setting(device, setting, kind) or scene.sheet.setting(device, setting)) is not None


def _of_step(
    scene: Scene, generator: Generator, drawn: Sequence[Drawn], power: Figure, most: Figure, share: Figure
) -> Iterator[Remedy]:
    load = part_fact(generator, "load_while_charging")
    over = power.value * (1.0 - most.value / share.value)
    if isinstance(load, Figure) and load.value > over:
        left = math.floor((load.value - over) / 10) * 10.0
        passes = given(left, "VA", "load at the transfer that passes", source="rounded down")
        text = f"at most {shown(scene, passes)} of load at the transfer, the rest switched on later"
        yield Remedy(text, passes, tuple(load_changes(generator, left)))
    stated = math.ceil(share.value * 100) / 100
    if stated <= 1.0:
        passes = given(stated, "1", "step that passes", source="rounded up")
        change = (Change(f"{generator.where}.datasheet.step_max", stated),)
        yield Remedy(f"a set whose maker states a step of {stated:.0%}", passes, change)
    yield from larger_set(scene, generator, share.value / most.value)


# by a start


def _starts(scene: Scene, generator: Generator) -> Iterator[Found]:
    """Find motors whose start takes more than the whole set."""
    rated = derated(scene.plant, generator, "rated_apparent_power")
    whole = part_fact(generator, "load_while_charging")
    if not isinstance(rated, Figure) or not isinstance(whole, Figure):
        return
    for load in scene.plant.site.loads:
        if load.current != "ac":
            continue
        running = apparent_power.of(
            f"{load.label} running",
            power=part_fact(load, "power"),
            power_factor=part_fact(load, "power_factor"),
        )
        starting = part_fact(load, "starting_power")
        if not isinstance(running, Figure) or not isinstance(starting, Figure):
            continue
        if running.value > whole.value + 1e-6:
            continue  # too much to run beside the charge at all: it is kept off meanwhile
        others = given(whole.value - running.value, "VA", "other loads meanwhile", source="the site file")
        total = load_during_start.of(f"start of {load.label}", others=others, starting=starting)
        if isinstance(total, Figure) and total.value > rated.value + 1e-6:
            yield _start(scene, generator, load, total, rated)


def _start(scene: Scene, generator: Generator, load: Load, total: Figure, rated: Figure) -> Found:
    starting = part_fact(load, "starting_power")
    text = (
        f"{load.label} starts with {shown(scene, starting) if isinstance(starting, Figure) else 'too much'} "
        f"beside the other loads: {shown(scene, total, beside=rated)} on {generator.label}, which gives "
        f"{shown(scene, rated, beside=total)} here"
    )
    finding = Finding("advise", "generator-start", (generator.id, load.id), text, value=total, limit=rated)
    remedies = []
    running = part_fact(load, "power")
    if isinstance(starting, Figure) and isinstance(running, Figure):
        left = math.floor((starting.value - total.value + rated.value) / 10) * 10.0
        if left >= running.value:
            passes = given(left, "VA", "starting power that passes", source="rounded down")
            change = (Change(f"{load.where}.starting_power", left),)
            remedies.append(Remedy(f"a soft start of at most {shown(scene, passes)}", passes, change))
    remedies += larger_set(scene, generator, total.value / rated.value)
    return Found(finding, tuple(remedies))
