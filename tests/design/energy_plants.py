"""Plants for the tests of energy and generators: an inverter of round numbers, loads, a set."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from commission.design.types import Check, Scene
from commission.figure import Figure, Quantity, Unknown
from commission.plant.plant import Plant
from commission.sheet.settle import make_sheet
from commission.sheet.types import Finding, Sheet
from tests.builders import plant

_NONE = Unknown(("nothing settled",), "A")
BARE = Sheet((), (), _NONE, _NONE, _NONE, {})
"""A sheet of nothing, for checks that read the plant alone."""

INVERTER: dict[str, Any] = {
    "id": "inverter-1",
    "profile": "inverter-48v-230-5000",
    "datasheet": {"inverter_efficiency": 0.9, "idle_power": 0.0},
}
CONTROLLER: dict[str, Any] = {
    "id": "controller-1",
    "profile": "controller-48v-60-buck-150",
    "datasheet": {"efficiency": 1.0},
}
PLACE: dict[str, Any] = {"rules": "iec-230", "units": "metric", "coldest_battery": 25.0}
SET: dict[str, Any] = {
    "id": "generator-1",
    "profile": "generator-diesel-single-230-10000",
    "load_while_charging": 1000.0,
    "fuel_store": 200.0,
}


def array(power: float, series: int = 1, strings: int = 1) -> dict[str, Any]:
    """Return an array of modules of a power."""
    return {
        "module_power": power,
        "series": series,
        "maximum_power_current": 10.0,
        "strings": [{"id": f"pv-{number}"} for number in range(1, strings + 1)],
    }


def load(energy: float | str = 5000.0, **fields: Any) -> dict[str, Any]:
    """Return an AC load of a daily energy."""
    return {"id": "load-house", "current": "ac", "power": 500.0, "daily_energy": energy} | fields


def energy_plant(
    *,
    loads: Iterable[dict[str, Any]] = (),
    expected: dict[str, Any] | None = None,
    inverter: dict[str, Any] | None = None,
    controllers: Iterable[dict[str, Any]] = (),
    place: dict[str, Any] | None = None,
    bank: dict[str, Any] | None = None,
    chemistry: str = "agm",
    capacity: float = 400.0,
    **sections: Any,
) -> Plant:
    """Return a plant of 48 V with one inverter, no standing draw unless told, and loads."""
    return plant(
        chemistry,
        capacity=capacity,
        blocks=4 if chemistry == "agm" else 1,
        cells_per_block={"agm": 6, "lfp": 16, "nickel-cadmium": 40}[chemistry],
        inverters=(INVERTER | (inverter or {}),),
        controllers=tuple(controllers),
        place=PLACE | (place or {}),
        bank={"standing_draw": 0.0, "capacity_rate": 20.0} | (bank or {}),
        loads=list(loads) or [load()],
        expected=expected or {},
        **sections,
    )


def set_plant(generator: dict[str, Any] | None = None, **sections: Any) -> Plant:
    """Return such a plant with a set on the inverter's input, started by it."""
    made = SET | {"started_by": "inverter-1"} | (generator or {})
    inverter = {"inputs": {"generator": "generator-1"}} | sections.pop("inverter", {})
    return energy_plant(inverter=inverter, generators=[made], **sections)


def scene_of(of: Plant) -> Scene:
    """Return what a check sees of a plant."""
    return Scene(of, make_sheet(of))


def raised(check: Check, of: Plant, sheet: Sheet | None = None) -> dict[str, Finding]:
    """Return the findings of one check by id; what reads no settings can do with a bare sheet."""
    scene = scene_of(of) if sheet is None else Scene(of, sheet)
    return {one.finding.id: one.finding for one in check(scene)}


def remedies(check: Check, of: Plant, ident: str) -> tuple[str, ...]:
    """Return what a check proposes for a finding, in words."""
    found = next(one for one in check(scene_of(of)) if one.finding.id == ident)
    return tuple(remedy.text for remedy in found.remedies)


def number(quantity: Quantity | None) -> float:
    """Return the value of a figure."""
    assert isinstance(quantity, Figure), quantity
    return quantity.value
