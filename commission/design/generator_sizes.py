"""Other sets and other loads beside them, as remedies with their numbers."""

from __future__ import annotations

import math
from collections.abc import Iterator

from commission.design.types import Remedy, Scene
from commission.design.words import shown
from commission.figure import Figure, given
from commission.formulas.energy import in_proportion
from commission.plant.change import Change
from commission.plant.plant import part_fact
from commission.plant.site import Generator


def load_changes(generator: Generator, load: float) -> Iterator[Change]:
    """Yield the changes that bring the greatest load beside the charge down to some VA."""
    yield Change(f"{generator.where}.load_while_charging", load)
    least = part_fact(generator, "least_load_while_charging")
    if isinstance(least, Figure) and least.value > load:
        yield Change(f"{generator.where}.least_load_while_charging", load)


def larger_set(scene: Scene, generator: Generator, ratio: float) -> Iterator[Remedy]:
    """Yield a set whose ratings are greater by a ratio, its breaker grown alike."""
    apparent = scene.plant.rating(generator, "rated_apparent_power")
    if not isinstance(apparent, Figure):
        return
    changes = []
    for field, step in (("rated_apparent_power", 500.0), ("rated_power", 500.0), ("breaker", 1.0)):
        rating = scene.plant.rating(generator, field)
        if isinstance(rating, Figure):
            value = math.ceil(rating.value * ratio / step - 1e-9) * step
            changes.append(Change(f"{generator.where}.datasheet.{field}", value))
    passes = given(changes[0].value, "VA", "rating that passes", source="rounded up")
    yield Remedy(f"a set of {shown(scene, passes)}", passes, tuple(changes))


def smaller_set(scene: Scene, generator: Generator, rating: Figure) -> Iterator[Remedy]:
    """Yield a set of less power, its other ratings smaller alike."""
    now = scene.plant.rating(generator, "rated_power")
    value = math.floor(rating.value / 100) * 100.0
    if value <= 0 or not isinstance(now, Figure):
        return
    apparent = in_proportion.of(
        "apparent power of a smaller set",
        value=scene.plant.rating(generator, "rated_apparent_power"),
        wanted=given(value, "W", "its power", source="rounded down"),
        given=now,
    )
    if isinstance(apparent, Figure):
        passes = given(value, "W", "rated power that passes", source="rounded down")
        change = (
            Change(f"{generator.where}.datasheet.rated_power", value),
            Change(f"{generator.where}.datasheet.rated_apparent_power", apparent.value),
        )
        yield Remedy(f"a set of at most {shown(scene, passes)}", passes, change)
