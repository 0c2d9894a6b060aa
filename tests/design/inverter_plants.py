"""Plants for the checks of inverters: a split phase, a lone unit, and what one check says of a plant."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Any

from commission.design.types import Found, Scene
from commission.figure import Figure, Quantity
from commission.plant.plant import Plant
from commission.sheet.settle import make_sheet
from commission.sheet.types import Finding
from tests.builders import plant

RATED = {"ambient_derating": [{"at": 25.0, "factor": 1.0}], "altitude_derating": [{"at": 0.0, "factor": 1.0}]}
"""A datasheet of a unit that keeps its rating in any air and at any altitude."""


def unit(
    number: int = 1,
    profile: str = "inverter-48v-230-5000",
    *,
    sheet: dict[str, Any] | None = None,
    **own: Any,
) -> dict[str, Any]:
    """Return an inverter of a site file, its rating kept in any air."""
    return {
        "id": f"inverter-{number}",
        "profile": profile,
        "firmware": "1.0",
        "datasheet": {**RATED, **(sheet or {})},
        **own,
    }


def split_pair(rating: float = 5000.0, **own: Any) -> tuple[dict[str, Any], ...]:
    """Return two single-leg units as the two legs of a split phase."""
    sheet = {"continuous_power": rating, "surge_power": 2.0 * rating}
    return tuple(
        unit(
            number, "inverter-48v-120-3600", sheet=sheet, group="house", group_role=role, group_leg=leg, **own
        )
        for number, role, leg in ((1, "reference", "1"), (2, "follower", "2"))
    )


def load(number: int = 1, power: float = 1000.0, **own: Any) -> dict[str, Any]:
    """Return an AC load that starts as it runs."""
    return {"id": f"load-{number}", "current": "ac", "power": power, "starting_power": power, **own}


def site(*inverters: dict[str, Any], loads: Iterable[dict[str, Any]] = (), **sections: Any) -> Plant:
    """Return a plant of 48 V with inverters and loads."""
    return plant(inverters=inverters, loads=list(loads), **{"strings": 4, **sections})


def findings(check: Callable[[Scene], Iterable[Found]], of: Plant) -> dict[str, Finding]:
    """Return what one check finds, by the name of the check; two of one name are refused."""
    found = [one.finding for one in check(Scene(of, make_sheet(of)))]
    assert len({one.id for one in found}) == len(found)
    return {one.check: one for one in found}


def found(check: Callable[[Scene], Iterable[Found]], of: Plant) -> list[Found]:
    """Return what one check finds with its remedies untried."""
    return list(check(Scene(of, make_sheet(of))))


def number(quantity: Quantity | None) -> float:
    """Return the value of a figure that must be there."""
    assert isinstance(quantity, Figure)
    return quantity.value
