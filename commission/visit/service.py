"""A service visit beside the visits before: what it goes on from, and what was changed in between."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from textwrap import shorten
from typing import Final

from commission.checklist.intervals import ORDER, covered, covered_when_signed
from commission.checklist.service import ISOLATION, intervals_of, service_walk
from commission.checklist.types import Checklist, Step, StepKey
from commission.plant.equipment import Input
from commission.plant.plant import Plant
from commission.plant.values import Interval, in_words
from commission.sheet.types import Setting, Sheet
from commission.visit.settings import device_number
from commission.visit.types import Comment, PlantChange, Service, SettingEntry, SignedAs, Visit

_EDGE: Final = 1e-9
EVERY_VISIT: Final = f"done at {ORDER[0]}"
_QUOTED: Final = 60
"""Letters of a comment that are told beside a step; the whole stands below it."""


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


def covers_of(visit: Visit, signed_as: SignedAs | None = None) -> frozenset[Interval]:
    """Return the intervals that a visit covers; nothing where it leaves the plant out of service.

    Parameters
    ----------
    signed_as
        State that a visit is to be signed in which is not signed yet; without it such a visit covers nothing.
    """
    state = signed_as if visit.sign_off is None else visit.sign_off.signed_as
    if state is None:
        return frozenset()
    service = None if visit.kind == "commissioning" else visit.service
    return covered_when_signed(state, None if service is None else service.due)


def walk_of_service(whole: Checklist, plant: Plant, service: Service) -> Checklist:
    """Return the walk of a service visit, of the whole walk of its plant.

    Of a returned record only the steps that the supervisor's comments name are done again, judged as they
    were judged then; where no comment names a step that there is, what every visit does.
    """
    returned = service.returned
    steps = tuple(named.key for named in service.put_off)
    if returned is not None:
        steps = tuple(step.key for step in whole.of_service.steps if comments_at(step.key, service))
    added = (named.key for named in service.added)
    return service_walk(
        whole,
        plant,
        due=service.due,
        parts=service.parts,
        changed=service.changed,
        steps=(*steps, *added),
        steps_only=returned is not None and bool(steps),
        aged=returned is None or returned.kind == "service",
    )


def comments_at(key: StepKey, service: Service | None) -> tuple[Comment, ...]:
    """Return what a supervisor said to a step who returned its record."""
    if service is None or service.returned is None:
        return ()
    ident, parts = key
    return tuple(
        comment
        for comment in service.returned.comments
        if comment.step.partition(".")[0] == ident and set(comment.parts) <= set(parts)
    )


def why_repeated(step: Step, plant: Plant, service: Service) -> str:
    """Return in a few words why a step is in the walk of a service visit."""
    comments = comments_at(step.key, service)
    if comments and service.returned is not None:
        return f"commented by {service.returned.by}: {_quoted(comments[0].text)}"
    direct = _touched(service, step.parts)
    if direct:
        return direct
    due = _due(step, plant, service)
    if due and service.returned is None:
        return due
    if step.key in {named.key for named in service.put_off}:
        return "put off at the last visit"
    by = next((named.by for named in service.added if named.key == step.key), None)
    if by is not None:
        return f"added by {by}"
    # of a returned record what every visit does is done only where no comment names a step
    return _follows(step, service) or due or "follows from what was changed"


def _due(step: Step, plant: Plant, service: Service) -> str:
    """Return at which interval a step is done; empty where none is due."""
    intervals = set(intervals_of(step.data, plant.site.service)) & covered(service.due)
    if not intervals:
        return ""
    shortest = min(intervals, key=ORDER.index)
    return EVERY_VISIT if shortest == ORDER[0] else f"due {shortest}"


def _quoted(text: str) -> str:
    """Return the beginning of what somebody said, in one line."""
    return f'"{shorten(text, _QUOTED, placeholder=" …")}"'


def _touched(service: Service, own: tuple[str, ...]) -> str:
    """Return which part of a step was changed or is concerned by the event; empty where none is."""
    for named, told in ((service.changed, "changed"), (service.parts, service.event or "concerned")):
        direct = [part for part in named if part in own]
        if direct:
            return f"{direct[0]}: {told}"
    return ""


def _follows(step: Step, service: Service) -> str:
    """Return why a step is done beside others: for safety, or since it hangs on what they concern."""
    if step.data.stage == ISOLATION:
        return "keeps you safe"
    if step.data.hazard:
        return "what can hurt there"
    if step.data.back_on:
        return "switches the plant on again"
    near = step.circuit | set(step.within)
    beside = [part for part in (*service.changed, *service.parts) if part in near]
    return f"on the circuit of {beside[0]}" if beside else ""


def left_out_text(count: int, *, returned: bool) -> str:
    """Return why the steps that a visit leaves out are left out."""
    if returned:
        return f"{count} are no part of this correction"
    return f"{count} are not due and are left out"


# settings as found against as left


@dataclass(frozen=True, slots=True)
class SettingDrift:
    """A setting that was found otherwise than the last visit left it."""

    device: str
    setting: str
    input: Input | None
    left: float | str
    left_text: str
    """As it was typed then."""
    found: float | str
    found_text: str


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


def setting_drift_lines(plant: Plant, sheet: Sheet, visit: Visit) -> Iterator[str]:
    """Yield them in words: ``Tower array: float voltage was left at 27.1 V, found at 26.4 V``."""
    labels = {device.id: device.label for device in plant.devices}
    for drift in setting_drifts(sheet, visit):
        setting = sheet.setting(drift.device, drift.setting, drift.input)
        where = f" ({drift.input})" if drift.input else ""
        left, found = (
            device_number(value, setting, plant.site.site.units)
            if setting is not None and isinstance(value, float | int)
            else text
            for value, text in ((drift.left, drift.left_text), (drift.found, drift.found_text))
        )
        label = labels.get(drift.device, drift.device)
        yield f"{label}: {in_words(drift.setting)}{where} was left at {left}, found at {found}"


def left_before(visit: Visit, entry: SettingEntry) -> SettingEntry | None:
    """Return a setting as the last visit left it; None where it is not known or the device is another one."""
    return last_left(visit, entry.device, entry.setting, entry.input)


def last_left(visit: Visit, device: str, setting: str, input_: Input | None) -> SettingEntry | None:
    """Return a setting as the last visit left it, also where this one has told nothing of it yet."""
    service = service_now(visit)
    if service is None or device in service.changed:
        return None
    wanted = (device, setting, input_)
    return next((one for one in service.left if (one.device, one.setting, one.input) == wanted), None)


def apart(setting: Setting | None, one: float | str, other: float | str) -> bool:
    """Say whether two values of a setting are different ones, apart from half a step of the device."""
    if isinstance(one, float | int) and isinstance(other, float | int):
        step = None if setting is None else setting.ability.step
        half = (step or 0.0) / 2.0
        return abs(one - other) > max(half * (1.0 - 1e-6), _EDGE * max(abs(one), 1.0))
    return str(one).strip().casefold() != str(other).strip().casefold()
