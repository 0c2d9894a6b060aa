"""What several checks ask for in the same words, so that one thing is asked for once."""

from __future__ import annotations

from commission.figure import Gap
from commission.plant.plant import datasheet_gap
from commission.plant.site import Device, DirectCurrentSource, Run


def material_gap(run: Run) -> Gap:
    """Return that the metal of a run's conductors is not known."""
    return Gap(f"material of {run.label}", f"{run.where}.material")


def run_gap(device: Device) -> Gap:
    """Return that no conductor run is told between a device and the bank."""
    return Gap(f"conductor run between {device.label} and the bank", f"{device.where}.run")


def survival_gap(device: DirectCurrentSource) -> Gap:
    """Return that it is not known whether a device survives the loss of its battery."""
    name = f"whether {device.label} survives the loss of its battery"
    return datasheet_gap(device, "survives_battery_loss", name)


def charger_gap(sets: str) -> Gap:
    """Return that no inverter/charger is told which generator sets feed."""
    return Gap(f"a charger that {sets} feeds", helps="the set among the inputs of an inverter/charger")


def serves_gap(run: Run) -> Gap:
    """Return that nothing is told at the far end of a run."""
    return Gap(f"what {run.label} serves", helps=f"the device or load at its end: {run.where}.from or .to")
