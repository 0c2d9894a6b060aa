"""What differs between two descriptions of one plant, by the ids of its parts."""

from __future__ import annotations

from typing import Any

from commission.plant.plant import Plant


def changed_parts(before: Plant, after: Plant) -> tuple[str, ...]:
    """Return the ids of parts that are told otherwise, are new or are gone, in the order of the newer file.

    A device counts as changed too where its class does. The bank is ``bank`` by its id, everything that
    belongs to no part (climate, earthing, coordination) is ``site``.
    """
    old, new = _tables(before), _tables(after)
    found = [ident for ident, table in new.items() if old.get(ident) != table]
    return (*found, *(ident for ident in old if ident not in new))


def _tables(plant: Plant) -> dict[str, Any]:
    """Return everything that is told of each part, by its id."""
    site = plant.site
    made: dict[str, Any] = {}
    for ident, part in plant.parts.items():
        own = plant.equipment.get(ident)
        made[ident] = (part.model_dump(exclude={"array"}), None if own is None else own.model_dump())
    for controller in site.charge_controllers:
        if controller.array is not None:
            shared = controller.array.model_dump(exclude={"strings"})
            made |= {string.id: (string.model_dump(), shared) for string in controller.array.strings}
    made |= {string.id: string.model_dump() for string in plant.bank.strings}
    made[plant.bank.id] = (plant.bank.model_dump(exclude={"strings"}), plant.battery.model_dump())
    lists = {name for name in type(site).model_fields if isinstance(getattr(site, name), tuple)}
    made["site"] = (
        site.model_dump(exclude={*lists, "bank", "utility", "monitor", "service"}),
        plant.rules.model_dump(),
    )
    return made
