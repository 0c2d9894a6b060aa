"""All that is kept of a visit beside readings: remarks, settings, plates, releases, how faults were met."""

from __future__ import annotations

from datetime import datetime
from typing import Any, Literal

from commission.checklist.types import Step, StepKey
from commission.errors import VisitError
from commission.plant.equipment import Input
from commission.sheet.types import Finding, Setting
from commission.units import UnitSystem
from commission.visit import events
from commission.visit.book import Book, made
from commission.visit.dispose import (
    check_disposition,
    check_finding_disposition,
    check_reading_disposition,
)
from commission.visit.limits import check_setting_disposition, setting_named
from commission.visit.service import last_left
from commission.visit.settings import not_told, read_setting, recommended_typed, recommended_value
from commission.visit.standing import step_text
from commission.visit.state import identity_of, name_key, setting_of, technicians
from commission.visit.types import (
    DeviceIdentity,
    Disposed,
    Disposition,
    FoundBefore,
    NotApplicable,
    Note,
    Reading,
    Release,
    SettingEntry,
)


class Settling(Book):
    """What is said and done in a visit beside its readings."""

    # steps

    def note(self, key: StepKey, text: str, now: datetime) -> None:
        """Keep a remark to a step."""
        step = self._step(key)
        if not text.strip():
            raise VisitError("nothing typed for the note")
        note = made(Note, step=step.data.id, parts=step.parts, text=text, at=now)
        self._keep(events.Noted(at=now, note=note))

    def not_applicable(self, key: StepKey, reason: str, now: datetime) -> None:
        """Say that a step does not apply here, and why. A hold point cannot be passed by so."""
        step = self._step(key)
        if step.data.hold:
            raise VisitError(
                f"'{step.title}' is a hold point: it is released by "
                f"{_released_by(step)}, and cannot be passed by as not applicable"
            )
        if not reason.strip():
            raise VisitError("why does it not apply here? a reason is wanted")
        stopping = next((bar for bar in self.standing.bars(step) if bar.finding), None)
        if stopping is not None:
            raise VisitError(f"'{step.title}' cannot be passed by: {stopping.why}")
        self._set_aside(step, reason, now, withdrawn=False)

    def applies_again(self, key: StepKey, now: datetime) -> None:
        """Take a step up again that was said not to apply."""
        step = self._step(key)
        standing = self.standing.set_aside(step)
        if standing is None:
            raise VisitError(f"'{step.title}' applies already")
        self._set_aside(step, standing.reason, now, withdrawn=True)

    def _set_aside(self, step: Step, reason: str, now: datetime, *, withdrawn: bool) -> None:
        entry = made(
            NotApplicable,
            step=step.data.id,
            parts=step.parts,
            reason=reason,
            at=now,
            withdrawn=withdrawn,
        )
        self._keep(events.SetAside(at=now, step=entry))

    def release(
        self,
        key: StepKey,
        *,
        by: str,
        role: Literal["technician", "supervisor"],
        now: datetime,
        reason: str = "",
    ) -> None:
        """Release a hold point as the person whom its data name."""
        step = self._step(key)
        self._check_release(step, by, role)
        release = made(Release, step=step.data.id, parts=step.parts, by=by, role=role, reason=reason, at=now)
        self._keep(events.Released(at=now, release=release))

    def _check_release(self, step: Step, by: str, role: str) -> None:
        if not step.data.hold:
            raise VisitError(f"'{step.title}' is no hold point")
        if step.data.released_by != role:
            raise VisitError(f"'{step.title}' is released by {_released_by(step)}, not by the {role}")
        name = name_key(by)
        if not name:
            raise VisitError("who releases it? a name is wanted")
        if (role == "technician") != (name in technicians(self.visit)):
            who = (
                "a technician of this visit" if role == "technician" else "somebody other than its technician"
            )
            raise VisitError(f"'{step.title}' is released by {who}")
        standing = self.standing
        readings = {ask.key: standing.current(ask) for ask in step.asks}
        if any(readings[ask.key] is None and not ask.data.optional for ask in step.asks):
            raise VisitError(f"'{step.title}' is released only when all its readings are taken")
        stopped = {reading.key for reading in standing.stops()}
        if stopped & set(readings):
            raise VisitError(f"'{step.title}' has a reading that stops work; nobody can release that")

    # what was done about faults

    def dispose(
        self,
        subject: str,
        disposition: Disposition,
        *,
        reason: str,
        by: str,
        now: datetime,
        until: str = "",
        stays_off: str = "",
        words: str = "",
    ) -> None:
        """Say what was done about a finding (its id), a reading (its key as text) or a step put off.

        Or who accepts a setting over a limit of danger (``inverter-1.absorption_voltage``).

        Raises
        ------
        VisitError
            If that is not allowed for it, or a reason, date or second person is wanted.
        """
        disposed = made(
            Disposed,
            subject=subject,
            disposition=disposition,
            reason=reason,
            by=by,
            until=until,
            stays_off=stays_off,
            words=words,
            at=now,
        )
        check_disposition(disposed, now.date())
        self._check_subject(disposed)
        self._keep(events.Settled(at=now, disposed=disposed))

    def _check_subject(self, disposed: Disposed) -> None:
        finding = self._finding(disposed.subject)
        reading = self._reading_named(disposed.subject)
        if finding is not None:
            check_finding_disposition(disposed, finding, self.plant, self.visit)
        elif reading is not None and reading.judgement is not None:
            check_reading_disposition(disposed, reading.judgement.verdict, self.visit)
        elif (setting := setting_named(self.sheet, disposed.subject)) is not None:
            check_setting_disposition(disposed, setting, self.visit)
        elif self._step_named(disposed.subject) is None:
            raise VisitError(
                f"there is no finding, reading, setting or step '{disposed.subject}' in this visit"
            )
        elif disposed.disposition != "deferred":
            raise VisitError("a step without a reading can be deferred, or said not to apply; nothing else")

    def _finding(self, subject: str) -> Finding | None:
        return next((found for found in self.sheet.findings if found.id == subject), None)

    def _reading_named(self, subject: str) -> Reading | None:
        key = next((key for key in self.checklist.asks if str(key) == subject), None)
        return None if key is None else self.standing.readings.current(key)

    def _step_named(self, subject: str) -> StepKey | None:
        return next((key for key in self.checklist.by_key if step_text(key) == subject), None)

    # settings and plates

    def found_otherwise(
        self, device: str, setting: str, typed: str, *, input_: Input | None = None
    ) -> SettingEntry | None:
        """Return what stands, where it was told as found at another value than is typed now.

        Raises
        ------
        EntryError
            If what is typed is no setting.
        """
        value, _ = read_setting(self._setting(device, setting, input_), typed, self._units)
        before = setting_of(self.visit, device, setting, input_)
        return None if before is None or before.found in {None, value} else before

    def set_found(
        self,
        device: str,
        setting: str,
        typed: str,
        now: datetime,
        *,
        input_: Input | None = None,
        why: str = "",
    ) -> SettingEntry:
        """Keep a setting as it was found; what was told before at another value stays known.

        Parameters
        ----------
        why
            What was wrong with what was told before; of no use where nothing else was told.

        Raises
        ------
        VisitError
            If another value was told before and it is not said what was wrong with it.
        """
        value, text = read_setting(self._setting(device, setting, input_), typed, self._units)
        told: dict[str, Any] = {"found": value, "found_text": text}
        before = self.found_otherwise(device, setting, typed, input_=input_)
        if before is not None:
            if not why.strip():
                shown = before.found_text or before.found
                raise VisitError(f"it was told as found at {shown}; what was wrong with that?")
            old = made(FoundBefore, found=before.found, found_text=before.found_text, why=why.strip(), at=now)
            told["found_before"] = (*before.found_before, old)
        return self._told(device, setting, input_, now, **told)

    def set_left(
        self,
        device: str,
        setting: str,
        typed: str,
        now: datetime,
        *,
        input_: Input | None = None,
        reason: str | None = None,
    ) -> SettingEntry:
        """Keep a setting as it was left, with the reason where it differs from the recommendation.

        Raises
        ------
        EntryError
            If the device cannot hold it.
        """
        value, text = read_setting(self._setting(device, setting, input_), typed, self._units, held=True)
        before = setting_of(self.visit, device, setting, input_)
        same = before is not None and before.left == value
        kept = before.reason if before is not None and same else ""
        return self._told(
            device,
            setting,
            input_,
            now,
            left=value,
            left_text=text,
            reason=kept if reason is None else reason,
        )

    def give_reason(
        self, device: str, setting: str, reason: str, now: datetime, *, input_: Input | None = None
    ) -> SettingEntry:
        """Say why a setting was left otherwise than recommended."""
        self._setting(device, setting, input_)
        if not reason.strip():
            raise VisitError("why does it differ from the recommendation? a reason is wanted")
        return self._told(device, setting, input_, now, reason=reason)

    def left_as_recommended(self, device: str, now: datetime) -> int:
        """Keep that every setting of a device not told yet was read back as recommended; return how many."""
        count = 0
        for setting in not_told(self.sheet, self.visit).get(device, ()):
            value = recommended_value(setting)
            if value is None:
                continue
            text = recommended_typed(setting, self._units) or ""
            self._told(device, setting.setting, setting.input, now, left=value, left_text=text)
            count += 1
        return count

    def found_as_left(self, device: str, now: datetime) -> int:
        """Keep that all of a device not told yet was found as the last visit left it; return how many."""
        count = 0
        for setting in self.sheet.settings:
            before = last_left(self.visit, *setting.key)
            entry = setting_of(self.visit, *setting.key)
            if setting.device != device or before is None or before.left is None:
                continue
            if entry is None or entry.found is None:
                text = before.left_text or str(before.left)
                self._told(device, setting.setting, setting.input, now, found=before.left, found_text=text)
                count += 1
        return count

    @property
    def _units(self) -> UnitSystem:
        return self.plant.site.site.units

    def _setting(self, device: str, setting: str, input_: Input | None) -> Setting:
        found = self.sheet.setting(device, setting, input_)
        if found is None:
            beside = f" for the {input_}" if input_ else ""
            raise VisitError(f"{device} has no setting {setting}{beside}")
        return found

    def _told(
        self, device: str, setting: str, input_: Input | None, now: datetime, **told: Any
    ) -> SettingEntry:
        before = setting_of(self.visit, device, setting, input_)
        standing = {} if before is None else before.model_dump()
        fields = standing | {"device": device, "setting": setting, "input": input_} | told
        # neither a reason, nor what was found, nor a second look makes the value as left a later one
        same = before is not None and before.left is not None and before.left == fields.get("left")
        fields["at"] = before.at if before is not None and (same or set(told) == {"reason"}) else now
        entry = made(SettingEntry, **fields)
        self._keep(events.SettingTold(at=now, setting=entry))
        return entry

    def identify(
        self,
        part: str,
        now: datetime,
        *,
        serial: str | None = None,
        firmware: str | None = None,
        date_code: str | None = None,
    ) -> None:
        """Keep what stands on a device's plate; what is None stays as it was."""
        strings = {string.id for string in self.plant.bank.strings}
        if part not in self.plant.parts and part not in strings:
            raise VisitError(f"the site file has no part '{part}'")
        before = identity_of(self.visit, part)
        told = {"serial": serial, "firmware": firmware, "date_code": date_code}
        fields = ({} if before is None else before.model_dump()) | {
            name: text for name, text in told.items() if text is not None
        }
        device = made(DeviceIdentity, **(fields | {"part": part, "at": now}))
        self._keep(events.Identified(at=now, device=device))


def _released_by(step: Step) -> str:
    who = step.data.released_by
    return "its own readings" if who == "readings" else f"the {who}"
