"""Small DC plants for tests of fault level and DC protection: a bank, a panel, and what hangs on it."""

from __future__ import annotations

from collections.abc import Iterable
from functools import cache
from typing import Any

from commission.design.types import Check, Found, Scene
from commission.plant.plant import Plant
from commission.sheet.settle import make_sheet
from commission.sheet.types import Finding, Sheet
from tests.builders import plant

IEC = {"rules": "iec-230", "units": "metric"}
EARTHED = {"dc": "negative"}


def run(ident: str, begin: str, end: str, area: Any = 70.0, length: Any = 2.0, **more: Any) -> dict[str, Any]:
    """Return a DC run; copper with insulation for 90 °C."""
    made = {"id": ident, "kind": "dc", "from": begin, "to": end, "area": area, "length": length}
    return made | {"insulation_temperature": 90.0, "terminal_temperature": 75.0} | more


def fuse(ident: str, protects: str, of: str, rating: Any = 200.0, **more: Any) -> dict[str, Any]:
    """Return a DC fuse that can break and stand anything that these tests ask."""
    made = {"id": ident, "kind": "fuse", "current": "dc", "protects": protects, "of": of, "rating": rating}
    return made | {"voltage": 250.0, "interrupting": 100000.0, "distance": 0.3} | more


def breaker(ident: str, protects: str, of: str, rating: Any = 63.0, **more: Any) -> dict[str, Any]:
    """Return a DC breaker that breaks both ways."""
    return fuse(ident, protects, of, rating) | {"kind": "breaker", "polarised": False} | more


def load(ident: str = "load-a", power: float = 200.0) -> dict[str, Any]:
    """Return a DC load."""
    return {"id": ident, "current": "dc", "power": power}


def direct_plant(
    protection: Iterable[dict[str, Any]] = (), runs: Iterable[dict[str, Any]] = (), **more: Any
) -> Plant:
    """Return a 48 V lead bank of one or more strings with runs and protection."""
    more.setdefault("earthing", EARTHED)
    more.setdefault("loads", (load(),))
    return plant(runs=tuple(runs), protection=tuple(protection), **more)


@cache
def _empty_sheet() -> Sheet:
    return make_sheet(plant())


def scene(made: Plant) -> Scene:
    """Return a plant as the checks of DC protection see it: they read nothing of the sheet."""
    return Scene(made, _empty_sheet())


def found(check: Check, made: Plant) -> dict[str, Finding]:
    """Return what a check finds, by id."""
    return {one.finding.id: one.finding for one in check(scene(made))}


def offered(check: Check, made: Plant, ident: str) -> Found:
    """Return one of the findings with its remedies."""
    return next(one for one in check(scene(made)) if one.finding.id == ident)
