"""Settings left outside what is acceptable: how that is told, and which of them a second person accepts.

A setting is left within what the device takes, always. Outside what is acceptable it wants its reason, as
whatever differs from the recommendation does; over a limit of danger somebody else than the technician has to
accept it too, as a disposition whose subject is the setting.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Final, Literal, TypeAlias

from commission.errors import VisitError
from commission.figure import Figure
from commission.sheet.types import Setting, Sheet
from commission.units import UnitSystem
from commission.visit.dispose import check_second_person
from commission.visit.settings import OFF, device_number, differs, inward, recommended_value, slack
from commission.visit.state import disposition_of, setting_of
from commission.visit.types import Disposed, SettingEntry, Visit

Side: TypeAlias = Literal["over", "under"]
DANGER: Final = frozenset(
    {
        "absorption_voltage",
        "float_voltage",
        "equalize_voltage",
        "charge_current_limit",
        "charge_voltage_ceiling",
        "charge_disconnect_voltage",
    }
)
"""Settings over whose greatest value a battery or a device comes to harm."""
_CEILING: Final = "charge_voltage_ceiling"


def outside(setting: Setting, left: float | str | None) -> Side | None:
    """Say on which side a value as left is outside what is acceptable; None where it is not."""
    if not isinstance(left, float | int):
        return None
    high, low = greatest(setting), setting.low.value if isinstance(setting.low, Figure) else None
    if high is not None and (high == -math.inf or left > high + slack(high)):
        return "over"
    return "under" if low is not None and left < low - slack(low) else None


def greatest(setting: Setting) -> float | None:
    """Return the greatest acceptable value: minus infinity for a limit of danger that has to be off.

    A ceiling has no room above what is recommended.
    """
    if isinstance(setting.high, Figure):
        return setting.high.value
    wanted = recommended_value(setting)
    if setting.setting in DANGER and wanted == OFF:
        return -math.inf
    return wanted if setting.setting == _CEILING and isinstance(wanted, float | int) else None


def outside_text(setting: Setting, left: float | str | None, system: UnitSystem = "metric") -> str:
    """Return in words how a value as left is outside what is acceptable, empty where it is not."""
    side = outside(setting, left)
    if side is None:
        return ""
    if side == "under" and isinstance(setting.low, Figure):
        least = inward(setting.low.value, setting, "low")
        return f"under the least acceptable, {device_number(least, setting, system)}"
    high = greatest(setting)
    if high is None or high == -math.inf:
        return "on, where only off is acceptable"
    return f"over the greatest acceptable, {device_number(inward(high, setting, 'high'), setting, system)}"


def unexplained(sheet: Sheet, visit: Visit) -> Iterator[tuple[Setting, SettingEntry]]:
    """Yield the settings that were left otherwise than recommended or acceptable, without a reason."""
    for entry in visit.settings:
        setting = sheet.setting(entry.device, entry.setting, entry.input)
        if setting is None or entry.left is None or entry.reason:
            continue
        if differs(setting, entry.left) or outside(setting, entry.left):
            yield setting, entry


# acceptance by a second person


def subject_of(setting: Setting) -> str:
    """Return what a disposition names a setting by."""
    return ".".join(part for part in (setting.device, setting.input, setting.setting) if part)


def setting_named(sheet: Sheet, subject: str) -> Setting | None:
    """Return the setting that a disposition is about, None where it is about none."""
    return next((setting for setting in sheet.settings if subject_of(setting) == subject), None)


def wants_second_person(setting: Setting, left: float | str | None) -> bool:
    """Say whether a value as left is one that a second person has to accept."""
    return setting.setting in DANGER and outside(setting, left) == "over"


def accepted(visit: Visit, setting: Setting, entry: SettingEntry) -> Disposed | None:
    """Return who accepted a value as left, since it was left so and since the plant was last changed."""
    since = max([entry.at, *(change.at for change in visit.plant_changes)])
    return disposition_of(visit, subject_of(setting), since=since)


def unaccepted(sheet: Sheet, visit: Visit) -> Iterator[tuple[Setting, SettingEntry]]:
    """Yield the settings that a second person has to accept as they were left, and has not."""
    for entry in visit.settings:
        setting = sheet.setting(entry.device, entry.setting, entry.input)
        if setting is None or not wants_second_person(setting, entry.left):
            continue
        if accepted(visit, setting, entry) is None:
            yield setting, entry


def check_setting_disposition(disposed: Disposed, setting: Setting, visit: Visit) -> None:
    """Refuse a disposition that a setting does not allow.

    Raises
    ------
    VisitError
        If nothing has to be accepted, it is another disposition, or a second person is wanted.
    """
    entry = setting_of(visit, *setting.key)
    if entry is None or not wants_second_person(setting, entry.left):
        raise VisitError(f"{subject_of(setting)} is left over no limit of danger; nothing has to be accepted")
    if disposed.disposition != "accepted":
        raise VisitError(
            f"'{disposed.disposition}' does not end a setting over a limit of danger: 'accepted', or set it "
            "right"
        )
    check_second_person(disposed, visit, "a setting over a limit of danger")
