"""Small AC plants for the tests of bonds, disconnection and residual-current protection."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Any

from commission.design.types import Found, Scene
from commission.plant.plant import Plant
from commission.sheet.settle import make_sheet
from commission.sheet.types import Finding
from tests.builders import plant

REGIONS = {
    "iec-230": ("inverter-48v-230-5000", "generator-diesel-single-230-10000"),
    "north-america": ("inverter-48v-120-3600", "generator-diesel-split-12000"),
}


def inverter(ident: str = "inverter-1", *, rules: str = "iec-230", **fields: Any) -> dict[str, Any]:
    """Return an inverter/charger with its bond told."""
    return {
        "id": ident,
        "profile": REGIONS[rules][0],
        "neutral_bond": "automatic",
        "ac_breaker": f"breaker-{ident}",
    } | fields


def generator(ident: str = "generator-1", *, rules: str = "iec-230", **fields: Any) -> dict[str, Any]:
    """Return a generator set with its bond told."""
    return {
        "id": ident,
        "profile": REGIONS[rules][1],
        "neutral_bond": "bonded frame",
        "neutral_switched": True,
    } | fields


def mode(name: str, *bonds: str, earthing: str = "TN") -> dict[str, Any]:
    """Return one mode of the earthing plan."""
    return {"mode": name, "earthing": earthing, "bonds": list(bonds)}


def breaker(ident: str, of: str, **fields: Any) -> dict[str, Any]:
    """Return an AC breaker of 10 A."""
    return {"id": ident, "kind": "breaker", "current": "ac", "rating": 10.0, "of": of, "poles": 2} | fields


def supplied(
    *devices: dict[str, Any],
    rules: str = "iec-230",
    guards: Iterable[dict[str, Any]] = (),
    runs: Iterable[dict[str, Any]] = (),
    modes: Iterable[dict[str, Any]] = (),
    earthing: dict[str, Any] | None = None,
    panel: dict[str, Any] | None = None,
    **sections: Any,
) -> Plant:
    """Return a plant whose inverters feed one panel with a load, and whose sets stand behind them."""
    held = [guard["id"] for guard in guards]
    positions = [{"position": str(number), "holds": name} for number, name in enumerate(held, start=1)]
    inverters = tuple(one for one in devices if one["profile"].startswith("inverter"))
    outputs = [breaker(f"breaker-{one['id']}", one["id"], rating=25.0) for one in inverters]
    joined = [
        {
            "id": f"run-{one['id']}",
            "kind": "ac",
            "from": one["id"],
            "to": "ac-panel",
            "area": 6.0,
            "length": 5.0,
            "insulation_temperature": 90.0,
            "protection": f"breaker-{one['id']}",
        }
        for one in inverters
    ]
    return plant(
        inverters=inverters,
        place={"rules": rules, "units": "metric"},
        generators=[one for one in devices if one["profile"].startswith("generator")],
        protection=[*outputs, *guards],
        runs=[*joined, *runs],
        panels=[{"id": "ac-panel", "kind": "ac", "positions": positions} | (panel or {})],
        loads=sections.pop("loads", [{"id": "load-1", "current": "ac", "power": 500.0}]),
        earthing={"modes": list(modes)} | (earthing or {}),
        **sections,
    )


def found(check: Callable[[Scene], Iterable[Found]], made: Plant) -> dict[str, Finding]:
    """Return the findings of one check by id."""
    scene = Scene(made, make_sheet(made))
    return {one.finding.id: one.finding for one in check(scene)}


def kinds(check: Callable[[Scene], Iterable[Found]], made: Plant) -> set[tuple[str, str]]:
    """Return kind and id of the findings of one check."""
    return {(one.kind, ident) for ident, one in found(check, made).items()}
