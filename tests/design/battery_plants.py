"""Banks for the tests of the battery room, of the bank's build and of AC coupling."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Any

from commission.design.types import Found, Scene
from commission.figure import Figure
from commission.plant.change import changed
from commission.plant.plant import Plant
from commission.sheet.settle import make_sheet
from commission.sheet.types import Finding
from tests.builders import plant

SUN: dict[str, Any] = {"id": "sun-1", "profile": "controller-48v-100-buck-250"}
IEC = {"rules": "iec-230", "units": "metric"}
BOOST: dict[str, Any] = {
    "absorption_voltage": {"value": 2.40, "low": 2.3, "high": 2.5},
    "equalize_voltage": {"value": "none", "low": None, "high": None},
    "equalize_time": {"value": "none", "low": None, "high": None},
    "equalize_interval": {"value": "none", "low": None, "high": None},
}
"""Lead at the voltage that the boost column of the standard's table stands for, never equalised."""

Check = Callable[[Scene], Iterable[Found]]


def room(chemistry: str = "flooded", **changed_fields: Any) -> Plant:
    """Return 24 cells of 500 Ah charged by one controller of 100 A, on a metric site."""
    fields: dict[str, Any] = {
        "chemistry": chemistry,
        "capacity": 500.0,
        "controllers": (SUN,),
        "place": IEC,
        "battery": BOOST if chemistry != "nickel-cadmium" else {},
    }
    return plant(**(fields | changed_fields))


def scene(made: Plant) -> Scene:
    """Return a plant with its sheet."""
    return Scene(made, make_sheet(made))


def found(check: Check, made: Plant) -> dict[str, Found]:
    """Return what a check finds, by the finding's id."""
    return {one.finding.id: one for one in check(scene(made))}


def one(check: Check, made: Plant, ident: str) -> Finding | None:
    """Return one finding of a check, None where it is not raised."""
    raised = found(check, made).get(ident)
    return None if raised is None else raised.finding


def kinds(check: Check, made: Plant) -> dict[str, str]:
    """Return the kind of everything that a check finds, by id."""
    return {ident: raised.finding.kind for ident, raised in found(check, made).items()}


def number(quantity: object) -> float:
    """Return the value of a figure."""
    assert isinstance(quantity, Figure), quantity
    return quantity.value


def mended(check: Check, made: Plant, ident: str, at: int = 0) -> bool:
    """Return whether a remedy of a finding, the best one first, makes it go away."""
    remedy = found(check, made)[ident].remedies[at]
    assert remedy.change, remedy.text
    return ident not in found(check, changed(made, remedy.change))
