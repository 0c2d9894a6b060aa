"""What carries the current of a PV array: its conductor runs, breakers, fuses, switches, surge devices."""

from __future__ import annotations

from commission.design.circuits import circuits
from commission.design.pv_array import PvArray
from commission.design.types import Circuit
from commission.plant.once import once
from commission.plant.site import Protection, PvString, Run


@once
def array_circuits(pv: PvArray) -> tuple[Circuit, ...]:
    """Return what flows through each run on the PV side of a controller."""
    parts = {pv.id} | {string.id for string in pv.array.strings}
    return tuple(one for one in circuits(pv.scene) if one.role == "array" and one.part in parts)


def array_runs(pv: PvArray) -> tuple[Run, ...]:
    """Return the conductor runs on the PV side of a controller."""
    return tuple(one.run for one in array_circuits(pv))


@once
def array_devices(pv: PvArray) -> tuple[Protection, ...]:
    """Return breakers, fuses, switches and surge devices on the PV side of a controller."""
    owners = {pv.id} | {string.id for string in pv.array.strings}
    named = {run.protection for run in array_runs(pv)}
    return tuple(
        one
        for one in pv.plant.site.protection
        if one.current == "dc" and ((one.protects == "array" and one.of in owners) or one.id in named)
    )


def string_device(pv: PvArray, device: Protection) -> PvString | None:
    """Return the string that a device serves alone, None where it serves all of them."""
    if len(pv.array.strings) < 2:
        return None
    served = {one.part for one in array_circuits(pv) if one.run.protection == device.id} | {device.of}
    return next((string for string in pv.array.strings if string.id in served and pv.id not in served), None)
