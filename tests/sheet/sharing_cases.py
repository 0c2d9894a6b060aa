"""Plants with several sources, and what their sheets say, for tests of the sharing."""

from __future__ import annotations

from typing import Any

from commission.figure import Figure, Quantity
from commission.plant.plant import Plant
from commission.sheet.ac_sources import settle_ac_sources
from commission.sheet.bank_limit import settle_bank_limit
from commission.sheet.draft import Draft
from commission.sheet.sharing import settle_sharing
from commission.sheet.types import Finding
from tests.builders import plant

LIMIT = "charge_current_limit"
SUN: dict[str, Any] = {"id": "sun-1", "profile": "controller-48v-80-buck-200"}
"""80 A, 5 to 80 in steps of 1."""
SUN_60: dict[str, Any] = {"id": "sun-2", "profile": "controller-48v-60-buck-150"}
SUN_100: dict[str, Any] = {"id": "sun-3", "profile": "controller-48v-100-buck-250"}
LEG: dict[str, Any] = {"profile": "inverter-48v-120-3600", "inputs": {"generator": "set-1"}}
"""45 A, 5 to 45 in steps of 5; 120 V on one leg."""
WIDE: dict[str, Any] = {
    "id": "inv-1",
    "profile": "inverter-48v-120-240-6000",
    "inputs": {"generator": "set-1"},
}
"""100 A, 5 to 100 in steps of 1; both legs, efficiency 0.92."""
PETROL: dict[str, Any] = {"id": "set-1", "profile": "generator-petrol-split-6500", "load_while_charging": 0.0}
DIESEL: dict[str, Any] = {
    "id": "set-1",
    "profile": "generator-diesel-split-12000",
    "load_while_charging": 0.0,
}
AC_SUN: dict[str, Any] = {"id": "roof", "profile": "ac-pv-240-5000-droop", "leg": "both"}
"""5000 W × 0.92 ÷ 48 V = 95.83 A into the bank."""
APART = {"id": "apart", "one_of": ["roof", "set-1"], "by": "contactor"}
STOPS = {"after": 0.0, "does": "stops"}
ALONE = {"after": 0.0, "does": "carries on alone"}


def array(watts: float) -> dict[str, Any]:
    """Return an array of some watts at standard test conditions: watts × 1.1 ÷ 48 V into the bank."""
    return {
        "module_power": watts,
        "series": 1,
        "strings": [{"id": f"pv-{watts:.0f}"}],
    }


def bank(capacity: float, *sources: dict[str, Any], chemistry: str = "agm", **sections: Any) -> Plant:
    """Return a 48 V plant; AGM takes 0.2 of its capacity a day, 0.3 at most."""
    inverters = tuple(source for source in sources if "inverter" in source["profile"])
    controllers = tuple(source for source in sources if "controller" in source["profile"])
    return plant(chemistry, capacity=capacity, inverters=inverters, controllers=controllers, **sections)


def settled(of: Plant) -> Draft:
    draft = Draft(of)
    settle_bank_limit(draft)
    settle_ac_sources(draft)
    settle_sharing(draft)
    return draft


def amperes(draft: Draft) -> dict[str, float]:
    found = {}
    for source in draft.plant.sources:
        value = draft.value(source.id, LIMIT)
        assert isinstance(value, Figure), (source.id, value)
        found[source.id] = value.value
    return found


def number(value: Quantity | None) -> float:
    assert isinstance(value, Figure), value
    return value.value


def found(draft: Draft, check: str) -> Finding:
    return next(finding for finding in draft.findings if finding.check == check)


def checks(draft: Draft) -> set[str]:
    return {finding.check for finding in draft.findings}


def note(draft: Draft, device: str) -> str:
    return draft.settings[(device, LIMIT, None)].note
