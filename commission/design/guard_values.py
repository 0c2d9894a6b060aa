"""Values of a protective device that cannot both be true."""

from __future__ import annotations

from collections.abc import Iterator

from commission.design.types import Found, Scene
from commission.design.words import shown
from commission.figure import Figure
from commission.plant.plant import part_fact
from commission.sheet.types import Finding


def check_guard_values(scene: Scene) -> Iterator[Found]:
    """Find devices that are said to open at once under a current that they carry for ever."""
    for guard in scene.plant.site.protection:
        rating, trip = part_fact(guard, "rating"), part_fact(guard, "instant_trip")
        if not isinstance(rating, Figure) or not isinstance(trip, Figure) or trip.value > rating.value:
            continue
        text = (
            f"{guard.label} of {shown(scene, rating)} is said to open at once from {shown(scene, trip)}, "
            "which it carries for ever: one of the two is wrong, and a fault that lasts may go unseen"
        )
        finding = Finding(
            "correct",
            "trip-under-rating",
            (guard.id,),
            text,
            f"{guard.where}.instant_trip as its maker's curve has it, or unknown",
            value=trip,
            limit=rating,
        )
        yield Found(finding)
