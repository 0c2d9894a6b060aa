"""What the tests of the low end, generator, monitor, coupling, link and orders share."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from commission.figure import Figure, Unknown
from commission.plant.plant import Plant
from commission.sheet.draft import Draft
from commission.sheet.setpoints import settle_setpoints
from commission.sheet.temperature import settle_temperature
from commission.sheet.times import settle_times
from commission.sheet.types import Finding
from tests.builders import plant

RUN: dict[str, Any] = {
    "id": "run-1", "kind": "dc", "from": "inv-1", "to": "bank", "area": 70.0, "length": 3.0,
}  # fmt: skip
"""3 m of 70 mm² copper: 2 × 3 ÷ (58 × 70) = 1.47783 mΩ out and back at 20 °C."""
INVERTER: dict[str, Any] = {
    "id": "inv-1",
    "profile": "inverter-48v-230-5000",
    "run": "run-1",
    "datasheet": {"inverter_efficiency": 0.9, "low_cut_off": 40.0},
}
"""Volts in steps of 0.1; 2000 W of load take 2000 ÷ 0.9 = 2222.22 W from the bank."""
MONITOR: dict[str, Any] = {
    "id": "mon-1",
    "profile": "monitor-500a",
    "shunt_current": 500.0,
    "shunt_voltage": 0.05,
    "temperature_sensor": True,
}
MANAGED: dict[str, Any] = {
    "data_link": True,
    "charge_current": 100.0,
    "discharge_current": 150.0,
    "cut_off_high": 3.65,
    "cut_off_low": 2.8,
    "cut_off_state_of_charge": 0.05,
    "margin": 0.05,
    "charge_low_temperature": 0.0,
    "charge_high_temperature": 45.0,
    "charge_permit_contact": True,
    "tells_zero_before_opening": True,
    "wakes_by": "button",
}

Step = Callable[[Draft], None]


def flooded(**changed: Any) -> Plant:
    """Return 24 flooded cells of 450 Ah and 30 mΩ, one inverter on 3 m of 70 mm², 2 kW expected."""
    fields: dict[str, Any] = {
        "chemistry": "flooded",
        "capacity": 450.0,
        "bank": {"resistance": 0.030},
        "inverters": (INVERTER,),
        "runs": [RUN],
        "expected": {"load": 2000.0},
    }
    return plant(**(fields | changed))


def lithium(**changed: Any) -> Plant:
    """Return three managed packs of 16 iron phosphate cells and 280 Ah on a data link."""
    fields: dict[str, Any] = {
        "chemistry": "lfp",
        "cells_per_block": 16,
        "blocks": 1,
        "strings": 3,
        "capacity": 280.0,
        "bank": {"resistance": 0.009, "management": MANAGED, "standing_draw": 25.6},
        "place": {"longest_time_without_charge": 864000.0},
        "inverters": (INVERTER | {"on_battery_link": True},),
        "runs": [RUN],
        "expected": {"load": 3000.0},
        "authority": {"state_of_charge": "battery"},
    }
    return plant(**(fields | changed))


def drafted(of: Plant, *steps: Step) -> Draft:
    """Return a draft after the charging voltages and times, and then some steps."""
    draft = Draft(of)
    settle_setpoints(draft, settle_temperature(draft))
    settle_times(draft)
    for step in steps:
        step(draft)
    return draft


def number(draft: Draft, device: str, setting: str) -> float:
    """Return what a setting holds in whole-bank volts or its own unit."""
    value = draft.value(device, setting)
    assert isinstance(value, Figure), value
    return value.value


def missing(draft: Draft, device: str, setting: str) -> tuple[str, ...]:
    """Return what is missing for a setting that has no recommendation."""
    value = draft.recommended(device, setting)
    assert isinstance(value, Unknown), value
    return value.missing


def found(draft: Draft, check: str, setting: str | None = None) -> Finding | None:
    """Return the first finding of a check."""
    return next(
        (one for one in draft.findings if one.check == check and setting in {None, one.setting}), None
    )


def passes(finding: Finding | None) -> float:
    """Return the number of a finding's remedy."""
    assert finding is not None
    assert isinstance(finding.passes, Figure), finding
    return finding.passes.value
