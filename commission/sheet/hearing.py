"""Which sources hear what a managed battery tells."""

from __future__ import annotations

from commission.plant.plant import Plant
from commission.plant.site import DirectCurrentSource


def hears_battery(plant: Plant, source: DirectCurrentSource) -> bool:
    """Return whether a source hears the battery: as the site file says, else through its controller."""
    management = plant.bank.management
    if management is None or management.data_link is not True:
        return False
    if source.on_battery_link is not None:
        return source.on_battery_link
    coordination = plant.site.coordination
    return coordination.hears_battery and source.id in {*coordination.members, coordination.controller}


def linked_sources(plant: Plant) -> tuple[DirectCurrentSource, ...]:
    """Return the sources that hear the managed battery's limits, directly or from their controller."""
    return tuple(source for source in plant.sources if hears_battery(plant, source))
