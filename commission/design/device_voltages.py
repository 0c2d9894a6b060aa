"""Whether breakers and fuses are rated for the voltage of their circuit, and for its kind of current."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import islice
from typing import Final

from commission.design import currents
from commission.design.circuits import circuits
from commission.design.device_currents import flows
from commission.design.main_protection import greatest_bank_voltage
from commission.design.standard import device_voltages_from
from commission.design.types import Circuit, Found, Later, Remedy, Scene
from commission.design.words import gap, shown
from commission.figure import Figure, Quantity
from commission.formulas.wiring_sizes import line_voltage
from commission.plant.change import Change
from commission.plant.plant import part_fact
from commission.plant.site import Load, Protection
from commission.sheet.types import Finding

_BREAKS: Final = frozenset({"breaker", "fuse", "switch", "residual"})
_ELSEWHERE: Final = frozenset({"bank", "string", "array"})
"""What other subjects judge: devices at the bank, and on the PV side."""


def check_device_voltages(scene: Scene) -> Iterator[Found]:
    """Find devices rated for less than the voltage of their circuit, and DC devices in AC circuits."""
    for device in scene.plant.site.protection:
        if device.kind not in _BREAKS:
            continue
        if device.current == "dc" and _guards_a_run(scene, device, "ac"):
            yield _for_direct(device)
        elif device.current == "ac" and _guards_a_run(scene, device, "dc"):
            continue  # a device for AC in a DC circuit is told as that
        elif device.protects not in _ELSEWHERE and not _of_array(scene, device):
            yield from _voltage(scene, device)


def _of_array(scene: Scene, device: Protection) -> bool:
    return any(one.run.protection == device.id and one.role == "array" for one in circuits(scene))


def _voltage(scene: Scene, device: Protection) -> Iterator[Found]:
    reached = _reached(scene, device)
    rated = part_fact(device, "voltage")
    missing = gap("device-voltage", (device.id,), rated, reached)
    if missing is not None:
        yield missing
    if not isinstance(reached, Figure) or not isinstance(rated, Figure):
        return
    if rated.value >= reached.value * 0.995:  # 400 V devices stand between phases of 231 V
        return
    text = (
        f"{device.label} is rated {shown(scene, rated, beside=reached)}, its circuit may stand at "
        f"{shown(scene, reached, 1, beside=rated)}: over its voltage it does not break a fault"
    )
    word = "dc" if device.current == "dc" else "ac"
    finding = Finding(
        "stop",
        "device-voltage",
        (device.id,),
        text,
        f"a device rated {shown(scene, reached, 1, beside=rated)} {word} or more",
        value=reached,
        limit=rated,
    )
    yield Found(finding, Later(_rated(scene, device, reached)))


def _rated(scene: Scene, device: Protection, reached: Figure) -> Iterator[Remedy]:
    for rated in islice(device_voltages_from(scene.plant, reached.value), 2):
        if device.current == "dc":
            yield Remedy(
                f"{device.label} rated {shown(scene, rated)} dc",
                passes=rated,
                change=(Change(f"{device.where}.voltage", rated.value),),
            )
    if device.current == "ac":
        text = f"{device.label} rated {shown(scene, reached, 0)} ac"
        yield Remedy(text, passes=reached, change=(Change(f"{device.where}.voltage", reached.value),))


def _reached(scene: Scene, device: Protection) -> Quantity:
    """Return the voltage that a device must stand, in V.

    On direct current the most that the bank stands at while it charges; on alternating current what its
    circuit has between its conductors, between phases where it has a pole in each.
    """
    if device.current == "dc":
        return greatest_bank_voltage(scene.plant)
    circuit = next((one for one in _circuits(scene, device) if one.run.kind == "ac"), None)
    if circuit is not None:
        voltage, legs = circuit.voltage, circuit.legs
    else:
        load = scene.plant.parts.get(device.of or "")
        legs = (currents.load_legs(load) or 1) if isinstance(load, Load) else 1
        voltage = currents.across(currents.leg_voltage(scene.plant), legs)
    if legs == 3 and device.poles >= 3:
        return line_voltage.of(f"voltage between phases at {device.label}", phase_voltage=voltage)
    return voltage


def _circuits(scene: Scene, device: Protection) -> tuple[Circuit, ...]:
    return next((flow.circuits for flow in flows(scene) if flow.device.id == device.id), ())


def _guards_a_run(scene: Scene, device: Protection, kind: str) -> bool:
    return any(run.kind == kind and run.protection == device.id for run in scene.plant.site.runs)


def _for_direct(device: Protection) -> Found:
    text = (
        f"{device.label} is made for direct current and sits in an AC circuit: whether it breaks there its "
        "maker alone can say"
    )
    remedy = "a breaker or fuse with an ac rating for this voltage and fault current"
    return Found(Finding("correct", "dc-device-on-ac", (device.id,), text, remedy))
