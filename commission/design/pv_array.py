"""The PV array of a controller: its strings, their values and the currents that they can drive."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from commission.design.types import Scene
from commission.figure import Figure, Gap, Quantity, Unknown, given, least
from commission.formulas.bank import bank_voltage
from commission.formulas.charging import sum_of_currents
from commission.formulas.pv_limits import cold_voltage_by_factor, greatest_array_current
from commission.formulas.pv_ratings import two_sided_current
from commission.formulas.pv_strings import open_circuit_voltage_at
from commission.plant.once import once
from commission.plant.plant import Plant, fact
from commission.plant.site import Array, ChargeController, PvString
from commission.sheet.bank_state import cells, whole

STEEPEST_BELIEVED: Final = -0.15
"""%/K; a voltage coefficient nearer to zero is no module's but a slip, and the table stands for it."""


@dataclass(frozen=True)
class PvArray:
    """A controller with its array, as the checks of PV see them."""

    scene: Scene
    controller: ChargeController
    array: Array

    @property
    def plant(self) -> Plant:
        """Return the plant."""
        return self.scene.plant

    @property
    def id(self) -> str:
        """Return the id of the controller, by which findings name the array."""
        return self.controller.id

    @property
    def topology(self) -> str:
        """Return how the controller treats the PV voltage."""
        return self.plant.controller_class(self.controller).topology

    @property
    def alike(self) -> bool:
        """Whether all strings have the array's count and modules."""
        own = ("series", "open_circuit_voltage", "maximum_power_voltage")
        return all(getattr(string, field) is None for string in self.array.strings for field in own)

    @property
    def kinds(self) -> tuple[PvString, ...]:
        """Return the strings; of those that are all alike one."""
        return self.array.strings[:1] if self.alike else self.array.strings

    def count(self, string: PvString) -> int | None:
        """Return the modules in series in a string, None where that is not known."""
        told = self.array.series if string.series is None else string.series
        return told if isinstance(told, int) else None

    def named(self, string: PvString) -> str:
        """Return a string as a text names it: by its modules, and by its id where it differs from others."""
        count = self.count(string)
        modules = "1 module" if count == 1 else f"{count} modules in series"
        return modules if self.alike else f"string {string.id} with {modules}"


def pv_arrays(scene: Scene) -> tuple[PvArray, ...]:
    """Return every controller that has an array, with the array."""
    return tuple(
        PvArray(scene, controller, controller.array)
        for controller in scene.plant.site.charge_controllers
        if controller.array is not None
    )


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


# currents


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


# voltages in the cold


def cold_voltage(pv: PvArray, string: PvString, modules: int | None = None) -> Quantity:
    """Return the open-circuit voltage of a string at the record low, in V, with its own count or another.

    By the module's coefficient; by the rule set's table where none is told, or where the one that is told can
    be no module's.
    """
    count: Quantity | float = string_fact(pv.controller, string, "series") if modules is None else modules
    voltage = string_fact(pv.controller, string, "open_circuit_voltage")
    temperature = fact(pv.plant.site.site, "coldest_ambient", "site")
    coefficient = array_fact(pv.controller, "voltage_coefficient")
    name = f"open-circuit voltage of {'a string' if pv.alike else f'string {string.id}'} at the record low"
    if isinstance(coefficient, Figure) and coefficient.value <= STEEPEST_BELIEVED:
        return open_circuit_voltage_at.of(
            name,
            module_voltage=voltage,
            modules=count,
            coefficient=coefficient,
            temperature=temperature,
        )
    factor = _cold_factor(pv, temperature)
    return cold_voltage_by_factor.of(name, module_voltage=voltage, modules=count, factor=factor)


def by_table(pv: PvArray) -> bool:
    """Whether the cold voltage comes from the rule set's table."""
    told = array_fact(pv.controller, "voltage_coefficient")
    return isinstance(told, Unknown) or told.value > STEEPEST_BELIEVED


def _cold_factor(pv: PvArray, temperature: Quantity) -> Quantity:
    if isinstance(temperature, Unknown):
        return temperature
    rules, source = pv.plant.rules, pv.plant.rules.cold_source
    where = f"{rules.id}.cold_factors"
    if temperature.value > 25.0:
        return given(1.0, "1", "factor for cold: none over 25 °C", kind="rules", where=where, source=source)
    whole_degrees = math.floor(temperature.value)
    for row in sorted(rules.cold_factors, key=lambda row: -row.down_to):
        if whole_degrees >= row.down_to:
            name = f"factor for cold down to {row.down_to:g} °C"
            return given(row.factor, "1", name, kind="rules", where=where, source=source)
    missing = Gap(
        f"voltage coefficient of {array_name(pv.controller)} (the table of factors ends before the cold)",
        f"{pv.controller.where}.array.voltage_coefficient",
    )
    return Unknown((missing,), "1", "factor for cold")


@once
def least_bank_voltage(plant: Plant) -> Quantity:
    """Return the lowest voltage of the bank in service, in V: at the end of its discharge.

    A management system that opens lower lets the bank fall that low.
    """
    end = whole(plant, "end_of_discharge_voltage").named("voltage of the bank at the end of discharge")
    management = plant.bank.management
    if management is None:
        return end
    told = fact(management, "cut_off_low", "bank.management")
    if isinstance(told, Unknown):
        return end
    opened = bank_voltage.of(f"{told.name}, whole bank", cells=cells(plant), cell_voltage=told)
    return least("lowest voltage of the bank", end, opened)
