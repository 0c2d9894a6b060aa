"""Which checks a small change touches: what it cannot reach keeps what was found before the change.

Only keys are listed that few checks read and no setting follows from; a change of any other key has
everything settled and checked again. ``tests/design/test_touched.py`` watches what every check reads.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from typing import Final

from commission.plant.change import Change
from commission.plant.plant import Plant

_ITEM: Final = re.compile(r"\[[^\[\]]*\]")

READ_BY: Final[Mapping[str, tuple[str, ...]]] = {
    "bank.beside": ("neighbours",),
    "bank.vent_area": ("battery_room",),
    "bank.vent_flow": ("battery_room",),
    "charge_controllers.array.string_fuse": ("pv",),
    "data_cables.bit_rate": ("data_cables",),
    "data_cables.length": ("data_cables",),
    "data_cables.terminated": ("data_cables",),
    "expected.autonomy": ("autonomy", "energy", "fuel"),
    "generators.fuel_store": ("fuel",),
    "generators.neutral_bond": ("bonds",),
    "generators.neutral_switched": ("bonds",),
    "loads.daily_energy": ("autonomy", "energy", "fuel", "generator_settings"),
    "loads.starting_power": ("bank_delivery", "bank_sag", "generator_steps", "inverter_output"),
    "panels.bus_bar": ("panels",),
    "panels.neutral_bar_bonded": ("bonds",),
    "protection.curve": ("direct_clearing", "disconnection", "guard_values", "output_trips"),
    "protection.distance": ("fault_level", "main_protection"),
    "protection.instant_trip": ("direct_clearing", "disconnection", "guard_values", "output_trips"),
    "protection.interrupting": ("alternating_level", "fault_level", "overcurrent"),
    "protection.polarised": ("direct_devices",),
    "protection.poles": ("device_voltages", "direct_devices", "poles"),
    "protection.residual_current": ("alternating_guards", "disconnection", "output_trips", "residual"),
    "protection.residual_type": ("alternating_guards", "disconnection", "output_trips", "residual"),
    "protection.voltage": ("device_voltages", "main_protection", "overcurrent", "pv"),
    "runs.earth_area": (
        "conductors", "disconnection", "drops", "earth_conductors", "output_trips", "overcurrent",
    ),
    "runs.voltage": ("alternating_insulation", "direct_insulation", "pv"),
    "safety.arc_fault_detection": ("safety",),
    "safety.earth_fault_detection": ("safety",),
    "safety.emergency_stop": ("bank_build", "emergency_stop"),
    "safety.rapid_shutdown": ("safety",),
    "utility.neutral_switched": ("bonds",),
}  # fmt: skip
"""Keys of the site file without the ids of parts, and the subjects that read them."""
SURGE: Final = "protection"
BY_SURGE: Final = (
    "device_voltages", "direct_devices", "disconnection", "guard_values", "main_protection", "overcurrent",
    "poles", "pv", "residual", "safety",
)  # fmt: skip
"""The subjects that look at a surge protective device, or past it: it carries nothing and protects no run."""


def touched(plant: Plant, changes: Iterable[Change]) -> frozenset[str] | None:
    """Return the subjects that changes of a plant can touch, None for everything with the settings."""
    found: set[str] = set()
    for change in changes:
        key = _ITEM.sub("", change.key)
        subjects = BY_SURGE if key == SURGE and _is_new_surge(plant, change) else READ_BY.get(key)
        if subjects is None:
            return None
        found.update(subjects)
    return frozenset(found)


def _is_new_surge(plant: Plant, change: Change) -> bool:
    new = change.key not in {one.where for one in plant.parts.values()}
    return new and isinstance(change.value, Mapping) and change.value.get("kind") == "surge"
