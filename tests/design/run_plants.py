"""Plants with conductor runs for tests of conductors, their protection, drops and earth conductors."""

from __future__ import annotations

from typing import Any

from commission.design.circuits import circuits
from commission.design.types import Check, Circuit, Found, Scene
from commission.figure import Figure, Quantity
from commission.plant.plant import Plant
from commission.sheet.settle import make_sheet
from tests.builders import plant
from tests.design.direct_plants import EARTHED, IEC, breaker, fuse, load, run

__all__ = ["EARTHED", "IEC", "breaker", "fuse", "load", "run"]
BIG = {"rating": 10.0, "voltage": 240.0, "interrupting": 10000.0}
INVERTER = {"id": "inverter-1", "profile": "inverter-48v-120-3600", "run": "run-inverter-1"}
CONTROLLER = {"id": "controller-1", "profile": "controller-48v-80-buck-200", "run": "run-controller-1"}
ARRAY = {
    "series": 4,
    "strings": [{"id": "pv-1a"}, {"id": "pv-1b"}],
    "open_circuit_voltage": 37.3,
    "short_circuit_current": 13.9,
    "maximum_power_voltage": 31.2,
    "maximum_power_current": 13.15,
}


def inverter(**datasheet: float) -> dict[str, Any]:
    """Return an inverter with values of its own sheet."""
    return INVERTER | {"datasheet": datasheet}


def controller(current: float) -> dict[str, Any]:
    """Return a charge controller of a rated output, without an array."""
    return CONTROLLER | {"datasheet": {"output_current": current}}


def wire(ident: str, begin: str, end: str, area: Any, length: Any = 3.0, **more: Any) -> dict[str, Any]:
    """Return an AC run; copper with insulation for 90 °C, in air of 30 °C."""
    return run(ident, begin, end, area, length, kind="ac", ambient=30.0, **more)


def built(**more: Any) -> Plant:
    """Return a 48 V lead bank of one string with what a test puts on it."""
    more.setdefault("earthing", EARTHED)
    return plant(**more)


def seen(made: Plant) -> Scene:
    """Return a plant with its sheet, as a check sees it."""
    return Scene(made, make_sheet(made))


def flow(made: Plant, run_id: str) -> Circuit:
    """Return what flows through a run."""
    return next(one for one in circuits(seen(made)) if one.run.id == run_id)


def value(quantity: Quantity | None) -> float:
    """Return the number of a quantity that must be known."""
    assert isinstance(quantity, Figure), quantity
    return quantity.value


def raised(check: Check, made: Plant) -> dict[str, str]:
    """Return the kinds of what a check finds, by id."""
    return {one.finding.id: one.finding.kind for one in check(seen(made))}


def first(check: Check, made: Plant, ident: str) -> Found:
    """Return one of the findings with its remedies."""
    return next(one for one in check(seen(made)) if one.finding.id == ident)
