"""A visit as data: what was done, read, judged, changed and signed."""

from __future__ import annotations

import math
from datetime import datetime
from typing import Annotated, Final, Literal, TypeAlias

from pydantic import AfterValidator, AwareDatetime, Field, StringConstraints

from commission.checklist.types import ChecklistData, InstrumentKind, ReadingKey, Side, StepKey
from commission.plant.values import Ident, Interval, Line, Model, Text

_YEARS: Final = (1900, 2999)
"""Nothing is measured in others; near the ends of the calendar times cannot be counted on from."""


def _whole_minutes(value: datetime) -> datetime:
    offset = value.utcoffset()
    if offset is not None and offset.total_seconds() % 60:
        raise ValueError("an offset from UTC in whole minutes is wanted")
    if not _YEARS[0] <= value.year <= _YEARS[1]:
        raise ValueError(f"a time between the years {_YEARS[0]} and {_YEARS[1]} is wanted")
    return value


def _a_number(value: float) -> float:
    if math.isnan(value):
        raise ValueError("must be a number")
    return value


When = Annotated[AwareDatetime, AfterValidator(_whole_minutes)]
"""A time with its offset from UTC; seconds in the offset could be written to a record but not read back."""
Shown = Annotated[float, Field(allow_inf_nan=True), AfterValidator(_a_number)]
"""What a meter showed; infinite where it was over its range and the end of that is not known."""

Verdict: TypeAlias = Literal[
    "pass", "conditional pass", "conditional fail", "fail", "stop work", "not judged", "recorded"
]
"""ILAC-G8:09/2019 clause 4.2.3 for the first four; ``recorded`` is a reading that nothing is expected of."""
VisitKind: TypeAlias = Literal["commissioning", "service"]
OneSided: TypeAlias = Literal["above", "below"]
"""On which side of a bound the true value lies."""
Disposition: TypeAlias = Literal["mended", "isolated and locked", "accepted", "deferred"]
SignedAs: TypeAlias = Literal["complete", "in service with deferred steps", "made safe, not in service"]


class Accuracy(Model):
    """What a meter's maker promises on one range."""

    unit: Line = Field(description="unit that the range reads in")
    up_to: float = Field(description="end of the range")
    percent: float = Field(default=0.0, ge=0, description="% of reading")
    digits: float = Field(default=0.0, ge=0, description="least digits")
    resolution: float = Field(gt=0, description="one least digit")


class Instrument(Model):
    """An instrument of the kit."""

    id: Ident
    kind: InstrumentKind
    name: Line = ""
    serial: Line = ""
    calibrated: Line = Field(default="", description="date of calibration, YYYY-MM-DD")
    due: Line = Field(default="", description="date it is due again, YYYY-MM-DD")
    ranges: tuple[Accuracy, ...] = Field(default=(), strict=False)


class Person(Model):
    """Somebody who takes part in the visit."""

    name: Line
    role: Literal["technician", "supervisor", "witness", "owner"]
    licence: Line = ""
    employer: Line = ""


class Named(Model):
    """The key of a reading, as a file holds it."""

    step: Line
    parts: tuple[Line, ...] = Field(default=(), strict=False)
    index: int = Field(default=0, ge=0)

    @property
    def key(self) -> ReadingKey:
        """Return the key as the walk knows it."""
        return ReadingKey(self.step, self.parts, self.index)


class Used(Named):
    """A reading that a verdict was built on."""

    value: float
    unit: Line
    measured_at: When


class Drift(Model):
    """How far a reading has gone from an earlier one, and what its limit says of that."""

    since: Literal["baseline", "last"]
    visit: Ident = Field(description="visit of the earlier reading")
    measured_at: When = Field(description="when the earlier one was measured")
    before: Shown = Field(description="the earlier reading, as it was compared")
    now: Shown = Field(description="this reading, as it was compared")
    before_side: OneSided | None = Field(default=None, description="where the earlier one is a bound")
    now_side: OneSided | None = Field(default=None, description="where this one is a bound")
    compared_as: Line | None = Field(
        default=None, description="what was compared, where not the reading as it was read"
    )
    compared_unit: Line | None = Field(default=None, description="of what was compared then")
    change: float = Field(
        description="now less before, or its share of before where the unit is %; of bounds the least"
    )
    unit: Line = ""
    low: float | None = None
    high: float | None = None
    verdict: Literal["holds", "advise", "act", "not judged", "not compared"] = Field(
        description="not judged where a bound does not tell whether a limit was passed"
    )
    says: Line = Field(
        default="", description="what was corrected for, what the limit is, or why not compared"
    )


class Judgement(Model):
    """A verdict with all that it was built on; it is never made anew by a later condition."""

    verdict: Verdict
    low: float | None = None
    nominal: float | None = None
    high: float | None = None
    unit: Line = ""
    stop_below: float | None = None
    stop_above: float | None = None
    compared: float | None = Field(default=None, description="what was judged, where not the reading itself")
    uncertainty: float | None = Field(default=None, description="expanded, k = 2, of what was judged")
    margin: float | None = Field(default=None, description="distance to the nearer limit, negative outside")
    says: Line = Field(default="", description="the conditions in a few words, or why it was not judged")
    used: tuple[Used, ...] = Field(default=(), strict=False)
    waits: tuple[Named, ...] = Field(
        default=(), strict=False, description="readings without which it could not be judged"
    )
    why: tuple[Line, ...] = Field(
        default=(), strict=False, description="derivation of the deciding limit of what did not pass"
    )
    drifts: tuple[Drift, ...] = Field(
        default=(), strict=False, description="against baseline and last reading, at a service visit"
    )


class Reading(Named):
    """One reading as it was entered."""

    kind: Literal["number", "yes or no", "text", "choice"]
    value: Shown | bool | str
    text: Line = Field(description="as typed; its digits count")
    unit: Line = ""
    side: Side = "exact"
    measured_at: When
    entered_at: When
    instrument: Ident | None = None
    read_by: Line = ""
    corrects: bool = Field(default=False, description="replaces an earlier reading of the same key")
    reason: Line = Field(default="", description="why it was corrected, or accepted out of band")
    judgement: Judgement | None = None


class Note(Model):
    """A remark to a step."""

    step: Line
    parts: tuple[Line, ...] = Field(default=(), strict=False)
    text: Text
    at: When


class Attachment(Model):
    """A file that belongs to a step: a photograph, a log."""

    digest: Annotated[str, StringConstraints(pattern=r"^sha256:[0-9a-f]{64}$")] = Field(
        description="SHA-256 of its bytes; the file is kept under it"
    )
    size: int = Field(ge=0, description="bytes")
    ending: Annotated[str, StringConstraints(pattern=r"^\.[a-z0-9]{1,8}$")]
    name: Line = Field(description="what it was called where it came from")
    caption: Line = ""
    step: Line
    parts: tuple[Line, ...] = Field(default=(), strict=False)
    at: When
    withdrawn: Line = Field(default="", description="why it was taken off again; no file then")

    @property
    def key(self) -> StepKey:
        """Return the step as the walk knows it."""
        return self.step, self.parts

    @property
    def file(self) -> str:
        """Return the name under which the file is kept."""
        return f"{self.digest.partition(':')[2]}{self.ending}"


class NotApplicable(Model):
    """A step that does not apply here, with the reason."""

    step: Line
    parts: tuple[Line, ...] = Field(default=(), strict=False)
    reason: Line
    at: When
    withdrawn: bool = False


class Release(Model):
    """A hold point released by the person whom its data name."""

    step: Line
    parts: tuple[Line, ...] = Field(default=(), strict=False)
    by: Line
    role: Literal["technician", "supervisor"]
    reason: Line = ""
    at: When


class FoundBefore(Model):
    """What was told as found before it was put right; it stays in the record."""

    found: float | str
    found_text: Line = ""
    why: Line = Field(description="what was wrong with it")
    at: When = Field(description="when it was put right")


class SettingEntry(Model):
    """One setting of one device as found and as left."""

    device: Ident
    setting: Line
    input: Literal["generator", "utility"] | None = None
    found: float | str | None = None
    found_text: Line = ""
    found_before: tuple[FoundBefore, ...] = Field(
        default=(), strict=False, description="what was told as found before it was put right, in order"
    )
    left: float | str | None = None
    left_text: Line = ""
    reason: Line = Field(default="", description="why it differs from the recommendation")
    at: When


class DeviceIdentity(Model):
    """What stands on a device's plate."""

    part: Ident
    serial: Line = ""
    firmware: Line = ""
    date_code: Line = ""
    at: When


class Disposed(Model):
    """What was done about a finding, a failed reading or a setting that differs."""

    subject: Line = Field(
        description="id of a finding, key of a reading, key of a step that is deferred, or device and setting"
    )
    disposition: Disposition
    reason: Line
    by: Line
    until: Line = Field(default="", description="date, of what is deferred")
    stays_off: Line = Field(default="", description="what stays off until then")
    words: Line = Field(default="", description="confirmation words that the second person read out")
    at: When


class PlantChange(Model):
    """The site file was changed during the visit, and the visit went on with the changed plant."""

    before: Line = Field(description="SHA-256 of the plant before")
    after: Line = Field(description="SHA-256 of the plant after")
    parts: tuple[Line, ...] = Field(
        default=(), strict=False, description="parts that were changed on the plant; read again"
    )
    reason: Line
    by: Line
    at: When


class EarlierReading(Named):
    """What a visit before read under a key that this one reads again."""

    visit: Ident
    baseline: bool = Field(default=False, description="the reading that later ones are compared with")
    value: Shown
    unit: Line = ""
    side: Side = Field(default="exact", description="on which side of a bound the true value lies")
    measured_at: When
    verdict: Verdict | None = None
    instrument: Line = Field(default="", description="id and serial number of the meter")
    temperature: float | None = Field(default=None, description="of the battery then [°C]")
    state_of_charge: float | None = Field(default=None, description="of the battery then, 0 to 1")
    uncertainty: float | None = Field(default=None, description="expanded, k = 2, of the value")
    compared: float | None = Field(default=None, description="what its verdict was made on, where not itself")
    compared_unit: Line = ""
    compared_uncertainty: float | None = Field(default=None, description="expanded, k = 2")
    used: tuple[Used, ...] = Field(default=(), strict=False, description="readings its verdict was built on")
    provisional: bool = Field(default=False, description="a baseline that is not firm yet")


class Comment(Model):
    """What a supervisor said to a step of a record, or to the whole of it where no step is named."""

    step: Line = ""
    parts: tuple[Line, ...] = Field(default=(), strict=False)
    text: Text
    was: Line = Field(default="", description="what the returned record holds of the step, in a few words")


class Returned(Model):
    """A record that a supervisor returned: what has to be done again, and who said so."""

    by: Line
    role: Line = ""
    at: When | None = None
    kind: VisitKind = Field(description="of the returned visit: as which its readings are judged again")
    comments: tuple[Comment, ...] = Field(strict=False, min_length=1)
    decided: tuple[Disposed, ...] = Field(
        default=(), strict=False, description="what that visit said was done about its findings"
    )


class StepNamed(Model):
    """A step by its key."""

    step: Line
    parts: tuple[Line, ...] = Field(default=(), strict=False)

    @property
    def key(self) -> StepKey:
        """Return the step as the walk knows it."""
        return self.step, self.parts


class StepAdded(StepNamed):
    """A step that was not due, and who took it into the walk during the visit."""

    by: Line
    reason: Line = ""
    at: When


class Service(Model):
    """Why a plant is visited again, and what the visits before left there."""

    due: tuple[Interval, ...] = Field(
        default=(), strict=False, description="intervals whose steps are repeated"
    )
    event: Line = Field(default="", description="what happened, where the visit follows an event")
    parts: tuple[Ident, ...] = Field(default=(), strict=False, description="parts that the event concerns")
    changed: tuple[Ident, ...] = Field(
        default=(), strict=False, description="parts told otherwise than at the visit before: begun anew"
    )
    previous_visit: Ident
    previous_digest: Line = Field(default="", description="of the last seal of that visit's record")
    previous_at: When = Field(description="when that visit began")
    earlier: tuple[EarlierReading, ...] = Field(
        default=(), strict=False, description="baseline and newest of every reading that is repeated"
    )
    left: tuple[SettingEntry, ...] = Field(
        default=(), strict=False, description="settings as the visit before left them"
    )
    put_off: tuple[StepNamed, ...] = Field(
        default=(), strict=False, description="steps that the visit before put off, done now"
    )
    added: tuple[StepAdded, ...] = Field(
        default=(), strict=False, description="steps that were not due and were added during the visit"
    )
    returned: Returned | None = Field(
        default=None, description="where only the steps of a returned record are done again"
    )
    plates: tuple[DeviceIdentity, ...] = Field(
        default=(), strict=False, description="plates as the visit before read them"
    )
    kit: tuple[Instrument, ...] = Field(
        default=(), strict=False, description="instruments of the visit before"
    )


class SignOff(Model):
    """The technician's signature block."""

    name: Line
    role: Line
    licence: Line = ""
    employer: Line = ""
    signed_as: SignedAs
    meaning: Line = "I made these measurements and settings and answer for this record"
    at: When


class Visit(Model):
    """One commissioning or service of one plant."""

    id: Ident
    site: Ident
    kind: VisitKind
    started_at: When
    program: Line = Field(description="version of the program")
    people: tuple[Person, ...] = Field(default=(), strict=False)
    instruments: tuple[Instrument, ...] = Field(default=(), strict=False)
    readings: tuple[Reading, ...] = Field(
        default=(), strict=False, description="all, also corrected ones, in order"
    )
    settings: tuple[SettingEntry, ...] = Field(default=(), strict=False, description="newest of each")
    settings_before: tuple[SettingEntry, ...] = Field(
        default=(), strict=False, description="what was left before, where it was changed again, in order"
    )
    devices: tuple[DeviceIdentity, ...] = Field(default=(), strict=False)
    notes: tuple[Note, ...] = Field(default=(), strict=False)
    attachments: tuple[Attachment, ...] = Field(
        default=(), strict=False, description="files, in the folder of the record's name"
    )
    not_applicable: tuple[NotApplicable, ...] = Field(default=(), strict=False)
    releases: tuple[Release, ...] = Field(default=(), strict=False)
    dispositions: tuple[Disposed, ...] = Field(default=(), strict=False)
    walk: Line = Field(default="", description="SHA-256 of the walk's data, so that another walk is noticed")
    checklists: tuple[ChecklistData, ...] = Field(
        default=(), strict=False, description="checklists of the site's own, by which the walk was made"
    )
    plant_changes: tuple[PlantChange, ...] = Field(default=(), strict=False)
    service: Service | None = Field(default=None, description="of a service visit: why, and what was before")
    spares: Line = Field(default="", description="spare fuses and parts left on site")
    codes_kept: Line = Field(default="", description="where access codes are kept, never the codes")
    next_technician: Text = ""
    at_step: Line = Field(default="", description="step that the walk stands on")
    at_parts: tuple[Line, ...] = Field(default=(), strict=False)
    sign_off: SignOff | None = None
