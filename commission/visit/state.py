"""The visit as it stands: what each event makes of it, and how its parts are found again."""

from __future__ import annotations

from bisect import bisect_right, insort
from collections.abc import Callable, Iterable
from datetime import datetime
from typing import Any, Final, TypeVar

from commission.checklist.types import ReadingKey
from commission.errors import VisitError
from commission.visit import events
from commission.visit.types import (
    DeviceIdentity,
    Disposed,
    Instrument,
    PlantChange,
    Reading,
    SettingEntry,
    Used,
    Visit,
)

Item = TypeVar("Item")


def opened(event: events.Opened) -> Visit:
    """Return the visit that an opening event begins."""
    return Visit(
        id=event.id,
        site=event.site,
        kind=event.kind,
        started_at=event.at,
        program=event.program,
        checklists=event.checklists,
        walk=event.walk,
        service=event.service,
    )


def apply(visit: Visit, event: events.Event) -> Visit:
    """Return the visit after an event.

    Raises
    ------
    VisitError
        If the visit is signed, or is opened twice.
    """
    if visit.sign_off is not None:
        raise VisitError(f"visit {visit.id} is signed; what comes after belongs into a new visit")
    if isinstance(event, events.Opened):
        raise VisitError(f"visit {visit.id} is open already")
    return visit.model_copy(update=_CHANGES[type(event)](visit, event))


def replayed(line: Iterable[events.Event]) -> Visit:
    """Return the visit that a row of events makes; the first must open it."""
    row = iter(line)
    first = next(row, None)
    if not isinstance(first, events.Opened):
        raise VisitError("the journal does not begin with the opening of a visit")
    visit = opened(first)
    for event in row:
        visit = apply(visit, event)
    return visit


def _person(visit: Visit, event: events.Joined) -> dict[str, Any]:
    gone = {event.instead_of or event.person.name}
    return {"people": _put(visit.people, event.person, lambda person: person.name in gone)}


def _instrument(visit: Visit, event: events.Equipped) -> dict[str, Any]:
    new = event.instrument
    return {"instruments": _put(visit.instruments, new, lambda standing: standing.id == new.id)}


def _reading(visit: Visit, event: events.Read) -> dict[str, Any]:
    return {"readings": (*visit.readings, event.reading)}


def _note(visit: Visit, event: events.Noted) -> dict[str, Any]:
    return {"notes": (*visit.notes, event.note)}


def _attached(visit: Visit, event: events.Attached) -> dict[str, Any]:
    new = event.attachment
    same = (new.digest, new.key)
    return {"attachments": _put(visit.attachments, new, lambda old: (old.digest, old.key) == same)}


def _not_applicable(visit: Visit, event: events.SetAside) -> dict[str, Any]:
    return {"not_applicable": (*visit.not_applicable, event.step)}


def _release(visit: Visit, event: events.Released) -> dict[str, Any]:
    return {"releases": (*visit.releases, event.release)}


def _setting(visit: Visit, event: events.SettingTold) -> dict[str, Any]:
    new = event.setting
    key = (new.device, new.setting, new.input)
    changes: dict[str, Any] = {
        "settings": _put(visit.settings, new, lambda old: (old.device, old.setting, old.input) == key),
    }
    old = setting_of(visit, *key)
    if old is not None and old.left is not None and old.left != new.left:
        changes["settings_before"] = (*visit.settings_before, old)
    return changes


def _device(visit: Visit, event: events.Identified) -> dict[str, Any]:
    return {"devices": _put(visit.devices, event.device, lambda old: old.part == event.device.part)}


def _disposition(visit: Visit, event: events.Settled) -> dict[str, Any]:
    return {"dispositions": (*visit.dispositions, event.disposed)}


def _moved(visit: Visit, event: events.Moved) -> dict[str, Any]:
    return {"at_step": event.step, "at_parts": event.parts}


def _left(visit: Visit, event: events.Left) -> dict[str, Any]:
    told = {name: getattr(event, name) for name in ("next_technician", "spares", "codes_kept")}
    return {name: text for name, text in told.items() if text is not None}


def _replanned(visit: Visit, event: events.Replanned) -> dict[str, Any]:
    changes = (*visit.plant_changes, event.change)
    return {"plant_changes": changes, "checklists": event.checklists, "walk": event.walk}


def _added(visit: Visit, event: events.Added) -> dict[str, Any]:
    if visit.service is None:
        raise VisitError("a step is added to a service visit only; every other one has them all")
    more = {
        "added": (*visit.service.added, event.step),
        "earlier": (*visit.service.earlier, *event.earlier),
    }
    return {"service": visit.service.model_copy(update=more), "walk": event.walk}


def _signed(visit: Visit, event: events.Signed) -> dict[str, Any]:
    return {"sign_off": event.sign_off}


_CHANGES: Final[dict[type, Callable[[Visit, Any], dict[str, Any]]]] = {
    events.Joined: _person,
    events.Equipped: _instrument,
    events.Read: _reading,
    events.Noted: _note,
    events.Attached: _attached,
    events.SetAside: _not_applicable,
    events.Released: _release,
    events.SettingTold: _setting,
    events.Identified: _device,
    events.Settled: _disposition,
    events.Moved: _moved,
    events.Left: _left,
    events.Replanned: _replanned,
    events.Added: _added,
    events.Signed: _signed,
}


def _put(standing: tuple[Item, ...], new: Item, same: Callable[[Item], bool]) -> tuple[Item, ...]:
    """Return the row with the new item in the place of the first that it replaces, else at the end."""
    place = next((at for at, item in enumerate(standing) if same(item)), None)
    if place is None:
        return (*standing, new)
    return (*standing[:place], new, *standing[place + 1 :])


def _same(value: float | bool | str, used: float) -> bool:
    """Say whether a reading's value is the number that was used; words were used by their place in a list."""
    return isinstance(value, str) or float(value) == used


# lookups


def _measured_at(reading: Reading) -> datetime:
    return reading.measured_at


class Readings:
    """The readings of a visit by key; what was corrected stays visible but counts no more.

    Nor does what was read of a part before it was changed.
    """

    def __init__(self, readings: Iterable[Reading] = (), changes: Iterable[PlantChange] = ()) -> None:
        self._all: dict[ReadingKey, list[Reading]] = {}
        self._living: dict[ReadingKey, list[Reading]] = {}
        """In the order entered."""
        self._by_time: dict[ReadingKey, list[Reading]] = {}
        """In the order measured; of two that were measured at one moment the one entered last stands last."""
        for reading in readings:
            self.add(reading)
        for change in changes:
            self._retire(change)

    def _retire(self, change: PlantChange) -> None:
        """Let what was entered before a part was changed count no more."""
        parts = set(change.parts)
        for key in [key for key in self._living if parts & set(key.parts)]:
            left = [reading for reading in self._living.pop(key) if reading.entered_at > change.at]
            if left:
                self._living[key] = left
            self._by_time[key] = sorted(left, key=_measured_at)

    def add(self, reading: Reading) -> None:
        """Take a reading in; a correction ends the living one of its time, else the newest."""
        self._all.setdefault(reading.key, []).append(reading)
        living = self._living.setdefault(reading.key, [])
        by_time = self._by_time.setdefault(reading.key, [])
        if reading.corrects and living:
            same = [at for at, old in enumerate(living) if old.measured_at == reading.measured_at]
            ended = living.pop(same[-1] if same else len(living) - 1)
            del by_time[next(at for at, old in enumerate(by_time) if old is ended)]
        living.append(reading)
        insort(by_time, reading, key=_measured_at)

    def current(self, key: ReadingKey, up_to: datetime | None = None) -> Reading | None:
        """Return the living reading of a key that was measured last, if wanted up to a moment."""
        by_time = self._by_time.get(key, [])
        last = len(by_time) if up_to is None else bisect_right(by_time, up_to, key=_measured_at)
        return by_time[last - 1] if last else None

    def holds(self, used: Used) -> bool:
        """Say whether a reading that a verdict was built on still counts as it was."""
        return any(
            reading.measured_at == used.measured_at and _same(reading.value, used.value)
            for reading in self._living.get(used.key, ())
        )

    def history(self, key: ReadingKey) -> tuple[Reading, ...]:
        """Return everything ever entered for a key, in order, superseded ones too."""
        return tuple(self._all.get(key, ()))

    def all_current(self) -> tuple[Reading, ...]:
        """Return the current reading of every key that has one, in the order first entered."""
        found = (self.current(key) for key in self._living)
        return tuple(reading for reading in found if reading is not None)


def setting_of(visit: Visit, device: str, setting: str, input_: str | None = None) -> SettingEntry | None:
    """Return what was entered for a setting, None where nothing was."""
    wanted = (device, setting, input_)
    return next(
        (entry for entry in visit.settings if (entry.device, entry.setting, entry.input) == wanted), None
    )


def setting_at(
    visit: Visit, device: str, setting: str, input_: str | None, moment: datetime
) -> SettingEntry | None:
    """Return what held for a setting at a moment: the newest entry up to it; None where nothing was."""
    wanted = (device, setting, input_)
    told = [
        entry
        for entry in (*visit.settings_before, *visit.settings)
        if (entry.device, entry.setting, entry.input) == wanted and entry.at <= moment
    ]
    return told[-1] if told else None


def instrument_of(visit: Visit, ident: str | None) -> Instrument | None:
    """Return an instrument of the kit by its id."""
    return next((instrument for instrument in visit.instruments if instrument.id == ident), None)


def identity_of(visit: Visit, part: str) -> DeviceIdentity | None:
    """Return what was read from a device's plate."""
    return next((device for device in visit.devices if device.part == part), None)


def disposition_of(visit: Visit, subject: str, since: datetime | None = None) -> Disposed | None:
    """Return the newest disposition of a subject, if wanted only one made since a moment."""
    found = [item for item in visit.dispositions if item.subject == subject]
    newest = found[-1] if found else None
    return None if newest is None or (since is not None and newest.at < since) else newest


def finding_disposition(visit: Visit, finding: str, *, stops: bool) -> Disposed | None:
    """Return what was said about a finding: in this visit, else in the returned one that it puts right.

    A finding that stops is decided in each visit anew.
    """
    told = disposition_of(visit, finding)
    returned = None if visit.service is None else visit.service.returned
    if told is not None or stops or returned is None:
        return told
    return next((one for one in returned.decided if one.subject == finding), None)


def name_key(name: str) -> str:
    """Return a person's name as it is compared: letters and digits alone, in small letters.

    ``Joe Rain``, ``joe  rain`` and ``Joe Rain.`` are one person.
    """
    return "".join(letter for letter in name.casefold() if letter.isalnum())


def technicians(visit: Visit) -> frozenset[str]:
    """Return the names of the visit's technicians as they are compared (:func:`name_key`)."""
    return frozenset(name_key(person.name) for person in visit.people if person.role == "technician")


def accepted_by(visit: Visit) -> dict[str, str]:
    """Return who, as the second person, accepted something or released a hold point, by compared name."""
    seconds = [item.by for item in visit.dispositions if item.disposition == "accepted" and item.words]
    seconds += [item.by for item in visit.releases if item.role == "supervisor"]
    return {name_key(name): name for name in seconds}
