"""What stands on a device's plate, asked for in place."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime

from commission.plant.plant import Plant
from commission.screens.forms import Field, FormPanel
from commission.visit.session import OpenVisit
from commission.visit.state import identity_of


def part_name(plant: Plant, part: str) -> str:
    """Return what people call a device or a battery string."""
    device = next((device for device in plant.devices if device.id == part), None)
    return f"battery string {part}" if device is None else device.label


def plate_form(visit: OpenVisit, part: str, now: Callable[[], datetime]) -> FormPanel:
    """Return the form for serial number, firmware and date code of a device or battery string."""
    known = identity_of(visit.visit, part)
    serial, firmware, date_code = (
        ("", "", "") if known is None else (known.serial, known.firmware, known.date_code)
    )

    def keep(typed: dict[str, str]) -> None:
        visit.identify(part, now(), **typed)

    return FormPanel(
        f"Plate of {part_name(visit.plant, part)}",
        "As it stands on the plate and in the device's own display.",
        (
            Field("serial", "serial number", serial),
            Field("firmware", "firmware version", firmware),
            Field("date_code", "date code", date_code, "may be left empty"),
        ),
        keep,
    )
