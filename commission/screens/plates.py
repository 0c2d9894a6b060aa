"""What stands on a device's plate, asked for in place."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime

from commission.plant.plant import Plant
from commission.screens.forms import Field, FormPanel
from commission.visit.service import service_now
from commission.visit.session import OpenVisit
from commission.visit.state import identity_of
from commission.visit.types import DeviceIdentity


def part_name(plant: Plant, part: str) -> str:
    """Return what people call a device or a battery string."""
    device = next((device for device in plant.devices if device.id == part), None)
    return f"battery string {part}" if device is None else device.label


def _before(visit: OpenVisit, part: str) -> DeviceIdentity | None:
    """Return the plate as the last visit read it; None of a part that was changed since."""
    service = service_now(visit.visit)
    if service is None or part in service.changed:
        return None
    return next((plate for plate in service.plates if plate.part == part), None)


def plate_form(visit: OpenVisit, part: str, now: Callable[[], datetime]) -> FormPanel:
    """Return the form for serial number, firmware and date code of a device or battery string."""
    known = identity_of(visit.visit, part) or _before(visit, part)
    serial, firmware, date_code = (
        ("", "", "") if known is None else (known.serial, known.firmware, known.date_code)
    )

    def keep(typed: dict[str, str]) -> None:
        visit.identify(part, now(), **typed)

    again = identity_of(visit.visit, part) is None and known is not None
    beside = " What the last visit read stands here: compare it." if again else ""
    return FormPanel(
        f"Plate of {part_name(visit.plant, part)}",
        f"As it stands on the plate and in the device's own display.{beside}",
        (
            Field("serial", "serial number", serial),
            Field("firmware", "firmware version", firmware),
            Field("date_code", "date code", date_code, "may be left empty"),
        ),
        keep,
    )
