"""A service visit beside the visits before: what it goes on from, and what was changed in between."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from commission.checklist.intervals import ORDER, covered
from commission.checklist.service import ISOLATION, intervals_of
from commission.checklist.types import Step
from commission.plant.plant import Plant
from commission.sheet.types import Setting, Sheet
from commission.visit.types import PlantChange, Service, SettingEntry, Visit

_EDGE: Final = 1e-9


def service_now(visit: Visit, *more: PlantChange) -> Service | None:
    """Return why a plant is visited again, with the parts that were changed during the visit itself.

    Parameters
    ----------
    more
        Changes of the plant that are about to be kept.
    """
    if visit.service is None:
        return None
    changes = (*visit.plant_changes, *more)
    changed = (*visit.service.changed, *(part for change in changes for part in change.parts))
    return visit.service.model_copy(update={"changed": tuple(dict.fromkeys(changed))})


def why_repeated(step: Step, plant: Plant, service: Service) -> str:
    """Return in a few words why a step is in the walk of a service visit."""
    own, near = set(step.parts), step.circuit | set(step.within)
    for named, told in ((service.changed, "changed"), (service.parts, service.event or "concerned")):
        direct = [part for part in named if part in own]
        if direct:
            return f"{direct[0]}: {told}"
    intervals = set(intervals_of(step.data, plant.site.service)) & covered(service.due)
    if intervals:
        shortest = min(intervals, key=ORDER.index)
        return f"done at {shortest}" if shortest == ORDER[0] else f"due {shortest}"
    if step.data.stage == ISOLATION:
        return "keeps you safe"
    if step.data.back_on:
        return "switches the plant on again"
    beside = [part for part in (*service.changed, *service.parts) if part in near]
    return f"on the circuit of {beside[0]}" if beside else "follows from what was changed"


# settings as found against as left


@dataclass(frozen=True, slots=True)
class SettingDrift:
    """A setting that was found otherwise than the last visit left it."""

    device: str
    setting: str
    input: str | None
    left: float | str
    left_text: str
    """As it was typed then."""
    found: float | str
    found_text: str

    def __str__(self) -> str:
        where = f" ({self.input})" if self.input else ""
        name = self.setting.replace("_", " ")
        return f"{self.device}: {name}{where} was left at {self.left_text}, found at {self.found_text}"


def setting_drifts(sheet: Sheet, visit: Visit) -> tuple[SettingDrift, ...]:
    """Return the settings found otherwise than the last visit left them, in the order they were entered."""
    found = []
    for entry in visit.settings:
        before = left_before(visit, entry)
        if before is None or before.left is None or entry.found is None:
            continue
        if not apart(sheet.setting(entry.device, entry.setting, entry.input), before.left, entry.found):
            continue
        found.append(
            SettingDrift(
                entry.device,
                entry.setting,
                entry.input,
                before.left,
                before.left_text or str(before.left),
                entry.found,
                entry.found_text or str(entry.found),
            )
        )
    return tuple(found)


def left_before(visit: Visit, entry: SettingEntry) -> SettingEntry | None:
    """Return a setting as the last visit left it; None where it is not known or the device is another one."""
    service = service_now(visit)
    if service is None or entry.device in service.changed:
        return None
    wanted = (entry.device, entry.setting, entry.input)
    return next((one for one in service.left if (one.device, one.setting, one.input) == wanted), None)


def apart(setting: Setting | None, one: float | str, other: float | str) -> bool:
    """Say whether two values of a setting are different ones, apart from half a step of the device."""
    if isinstance(one, float | int) and isinstance(other, float | int):
        step = None if setting is None else setting.ability.step
        half = (step or 0.0) / 2.0
        return abs(one - other) > max(half * (1.0 - 1e-6), _EDGE * max(abs(one), 1.0))
    return str(one).strip().casefold() != str(other).strip().casefold()
