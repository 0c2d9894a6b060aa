"""The PV array of a controller: its strings, their values and the currents that they can drive."""

from __future__ import annotations

from collections.abc import Iterator

from commission.design.types import Scene
from commission.figure import Figure, Quantity
from commission.formulas.charging import sum_of_currents
from commission.formulas.pv_limits import greatest_array_current
from commission.formulas.pv_ratings import two_sided_current
from commission.plant.plant import fact
from commission.plant.site import Array, ChargeController, Protection, PvString, Run


def arrays(scene: Scene) -> Iterator[tuple[ChargeController, Array]]:
    """Yield every controller that has an array, with the array."""
    for controller in scene.plant.site.charge_controllers:
        if controller.array is not None:
            yield controller, controller.array


def array_name(controller: ChargeController) -> str:
    """Return what people call the array of a controller."""
    return f"the array of {controller.label}"


def array_fact(controller: ChargeController, field: str) -> Quantity:
    """Return a field of a controller's array as a figure, or what is not known."""
    return fact(controller.array, field, f"{controller.where}.array", array_name(controller))


def string_fact(controller: ChargeController, string: PvString, field: str) -> Quantity:
    """Return a field of a string as a figure: its own where it is told, else the array's."""
    if field in type(string).model_fields and getattr(string, field) is not None:
        return fact(string, field, f"{controller.where}.array.strings[{string.id}]", f"string {string.id}")
    return array_fact(controller, field)


def short_circuit_current(controller: ChargeController, string: PvString) -> Quantity:
    """Return the short-circuit current of one string at test conditions, with what its rear adds, in A."""
    front = string_fact(controller, string, "short_circuit_current")
    gain = array_fact(controller, "rear_gain")
    if isinstance(gain, Figure) and gain.value == 0.0:
        return front
    name = f"short-circuit current of string {string.id}, both sides"
    return two_sided_current.of(name, current=front, rear_gain=gain)


def string_short_circuit_current(scene: Scene, controller: ChargeController, string: PvString) -> Quantity:
    """Return the greatest current of one string by the rule set's factor for bright days, in A.

    The rule set's ``pv_continuous_factor`` over it, for conductors and devices, is not in it.
    """
    return greatest_array_current.of(
        f"greatest current of string {string.id}",
        current=short_circuit_current(controller, string),
        strings=1.0,
        factor=scene.plant.rule("pv_current_factor"),
    )


def array_short_circuit_current(scene: Scene, controller: ChargeController) -> Quantity:
    """Return the greatest current of all strings of an array in parallel, in A, as of one string."""
    assert controller.array is not None  # noqa: S101 - asked of controllers with an array
    name = f"greatest current of {array_name(controller)}"
    strings = controller.array.strings
    if all(string.short_circuit_current is None for string in strings):
        return greatest_array_current.of(
            name,
            current=short_circuit_current(controller, strings[0]),
            strings=float(len(strings)),
            factor=scene.plant.rule("pv_current_factor"),
        )
    each = [string_short_circuit_current(scene, controller, string) for string in strings]
    return sum_of_currents.of(name, currents=each)


def array_points(scene: Scene, controller: ChargeController) -> frozenset[str]:
    """Return the ids between which PV current flows: the strings and what protects or parts the array."""
    assert controller.array is not None  # noqa: S101 - asked of controllers with an array
    strings = frozenset(string.id for string in controller.array.strings)
    return strings | frozenset(device.id for device in array_devices(scene, controller))


def array_devices(scene: Scene, controller: ChargeController) -> tuple[Protection, ...]:
    """Return breakers, fuses, switches and surge devices on the PV side of a controller."""
    assert controller.array is not None  # noqa: S101 - asked of controllers with an array
    owners = {controller.id} | {string.id for string in controller.array.strings}
    return tuple(
        one
        for one in scene.plant.site.protection
        if one.current == "dc" and one.protects == "array" and one.of in owners
    )


def array_runs(scene: Scene, controller: ChargeController) -> tuple[Run, ...]:
    """Return the conductor runs on the PV side of a controller."""
    points = array_points(scene, controller)
    return tuple(
        run
        for run in scene.plant.site.runs
        if run.kind == "dc" and run.id != controller.run and (run.from_ in points or run.to in points)
    )
