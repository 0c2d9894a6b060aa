"""Plants and readings that the tests of charging and operation share."""

from __future__ import annotations

from typing import Any

from commission.figure import Figure, Quantity, Unknown, given
from commission.plant.plant import Plant
from commission.sheet.types import Sheet
from tests.builders import plant
from tests.checklist.walks import NO_NUMBER, Site

STATES = (
    "off",
    "waiting",
    "bulk",
    "absorption",
    "float",
    "equalise",
    "current limit",
    "temperature limit",
    "fault",
)
"""What a charger may show, in the order of the checklist's choices."""
Lefts = dict[tuple[str, str], Quantity]


def left(value: float, unit: str) -> Figure:
    """Return a setting as left, in whole-bank volts or its own unit."""
    return given(value, unit, "as left", kind="setting")


def sheet(limit: float | None = None, bus: float | None = None) -> Sheet:
    """Return a sheet that holds only the limits of the bank and of the bus."""
    bank = NO_NUMBER if limit is None else given(limit, "A", "limit of the bank")
    most = Unknown(("a greatest DC voltage",), "V") if bus is None else given(bus, "V", "bus maximum")
    return Sheet((), (), bank, bank, most, {})


def pv_plant(chemistry: str = "agm", datasheet: dict[str, Any] | None = None, **more: Any) -> Plant:
    """Return a 48 V plant with one 80 A controller and an array of two strings of three 410 W modules."""
    array = {
        "series": 3,
        "strings": [{"id": "pv-a"}, {"id": "pv-b"}],
        "module_power": 410.0,
        "maximum_power_current": 13.15,
        "current_coefficient": 0.05,
        "power_coefficient": -0.35,
    }
    controller = {
        "id": "mppt-1",
        "profile": "controller-48v-80-buck-200",
        "datasheet": datasheet or {},
        "array": array,
        **more.pop("controller", {}),
    }
    return plant(chemistry, controllers=(controller,), **more)


def managed_plant(packs: int = 2, *, link: bool | None = True, **management: Any) -> Plant:
    """Return a 48 V plant of LFP packs that tell their limits, with one controller."""
    told = {"data_link": True, "charge_permit_contact": False, "cut_off_high": 3.65, **management}
    return pv_plant(
        "lfp",
        cells_per_block=16,
        blocks=1,
        strings=packs,
        capacity=300.0,
        bank={"management": told},
        controller={"on_battery_link": link},
    )


def charging(site: Site, state: str, device: str = "mppt-1", **readings: float) -> Site:
    """Note the state that a charger shows, and the conditions that go with it."""
    site.read("charger-state", device, float(STATES.index(state)), meter=None)
    names = {
        "temperature": "charger-temperature",
        "current": "source-current",
        "light": "irradiance",
        "warmth": "module-temperature",
    }
    for name, value in readings.items():
        site.read(names[name], device, value)
    return site


def told(site: Site, voltage: float, charge: float, discharge: float = 200.0, ago: float = 0.0) -> Site:
    """Note what a managed battery tells at the moment."""
    for name, value in (("voltage", voltage), ("charge", charge), ("discharge", discharge)):
        site.read(f"battery-told.{name}", "bank", value, ago=ago, meter=None)
    return site
