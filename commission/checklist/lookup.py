"""The parts that a reading concerns, found by the ids of its step; numbers of the bank that bands need."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final, Protocol, TypeVar

from commission.checklist.situation import Situation
from commission.errors import FormulaError
from commission.figure import Figure, Quantity, given
from commission.formulas.bank import bank_voltage
from commission.plant.plant import Plant
from commission.plant.site import (
    AcPvInverter,
    Array,
    BondPoint,
    ChargeController,
    DirectCurrentSource,
    Generator,
    InverterCharger,
    Monitor,
    Protection,
    Run,
)
from commission.sheet.bank_state import cells, rested_of_one

PRACTICE: Final = "common practice"


class _WithId(Protocol):
    @property
    def id(self) -> str: ...


Found = TypeVar("Found", bound=_WithId)


def _the(situation: Situation, parts: Iterable[Found], what: str) -> Found:
    """Return the part that a step names, or that its parts sit in or hang on; refuse where there is none."""
    known = {part.id: part for part in parts}
    step = situation.step
    for ident in (*step.parts, *step.within, *sorted(step.circuit)):
        if ident in known:
            return known[ident]
    raise FormulaError(f"'{situation.ask.data.expect}' is a band for {what}; '{step.data.id}' concerns none")


def inverter_of(situation: Situation) -> InverterCharger:
    """Return the inverter/charger that a step concerns; of a group its first unit."""
    units = situation.plant.site.inverter_chargers
    grouped = (unit for unit in units if unit.group and unit.group in situation.step.parts)
    return next(grouped, None) or _the(situation, units, "an inverter/charger")


def controller_of(situation: Situation) -> ChargeController:
    """Return the charge controller that a step concerns; of an array's string its own."""
    return _the(situation, situation.plant.site.charge_controllers, "a charge controller")


def array_of(situation: Situation) -> tuple[ChargeController, Array]:
    """Return the PV array that a step concerns, with its controller."""
    controller = controller_of(situation)
    if controller.array is None:
        raise FormulaError(f"the site file does not describe the array of {controller.label}")
    return controller, controller.array


def source_of(situation: Situation) -> DirectCurrentSource:
    """Return the inverter/charger or charge controller that a step concerns."""
    return _the(situation, situation.plant.sources, "a source on the DC bus")


def ac_pv_of(situation: Situation) -> AcPvInverter:
    """Return the AC-coupled PV inverter that a step concerns."""
    return _the(situation, situation.plant.site.ac_pv_inverters, "an AC-coupled PV inverter")


def generator_of(situation: Situation) -> Generator:
    """Return the generator that a step concerns."""
    return _the(situation, situation.plant.site.generators, "a generator")


def monitor_of(situation: Situation) -> Monitor:
    """Return the battery monitor."""
    monitor = situation.plant.site.monitor
    return _the(situation, () if monitor is None else (monitor,), "a battery monitor")


def run_of(situation: Situation) -> Run:
    """Return the conductor run that a step concerns."""
    return _the(situation, situation.plant.site.runs, "a conductor run")


def guard_of(situation: Situation) -> Protection:
    """Return the protective device that a step concerns."""
    return _the(situation, situation.plant.site.protection, "a protective device")


def mode_of(situation: Situation) -> BondPoint:
    """Return the mode of operation of the earthing plan that a step concerns."""
    for point in situation.plant.site.earthing.modes:
        if point.mode in situation.step.parts:
            return point
    raise FormulaError(
        f"'{situation.ask.data.expect}' is a band for a mode of operation of the earthing plan"
    )


# numbers of the bank


def limit(value: float, unit: str, name: str, source: str = PRACTICE) -> Figure:
    """Return a limit that a rule of the trade gives as a number."""
    return given(value, unit, name, source=source)


def rested_bank(plant: Plant, state: Figure) -> Quantity:
    """Return the rested voltage of the bank at a state of charge."""
    return whole(
        plant, rested_of_one(plant, state), f"rested voltage of the bank at {state.value:.0%} charge"
    )


def whole(plant: Plant, cell_voltage: Quantity, name: str = "") -> Quantity:
    """Return a voltage per cell for all cells in series."""
    return bank_voltage.of(
        name or f"{cell_voltage.name}, whole bank", cells=cells(plant), cell_voltage=cell_voltage
    )


def nominal_voltage(plant: Plant) -> Quantity:
    """Return the nominal voltage of the bank."""
    return whole(plant, plant.cell("nominal_cell_voltage"), "nominal voltage of the bank")


def known_or(quantity: Quantity, value: float, source: str = PRACTICE) -> Figure:
    """Return a quantity, or a value that the trade takes where it is not known, saying so."""
    if isinstance(quantity, Figure):
        return quantity
    return Figure(
        value,
        quantity.unit,
        quantity.name,
        given(value, quantity.unit, quantity.name, source=source).origin,
        "not told; taken as the trade does",
    )
