"""A visit as data: what was done, read, judged, changed and signed."""

from __future__ import annotations

from typing import Literal, TypeAlias

from pydantic import AwareDatetime, Field

from commission.checklist.types import InstrumentKind, ReadingKey
from commission.plant.values import Ident, Line, Model, Text

Verdict: TypeAlias = Literal[
    "pass", "conditional pass", "conditional fail", "fail", "stop work", "not judged", "recorded"
]
"""ILAC-G8:09/2019 clause 4.2.3 for the first four; ``recorded`` is a reading that nothing is expected of."""
VisitKind: TypeAlias = Literal["commissioning", "service"]
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


class Used(Model):
    """A reading that a verdict was built on."""

    step: Line
    parts: tuple[Line, ...] = Field(default=(), strict=False)
    index: int = 0
    value: float
    unit: Line
    measured_at: AwareDatetime


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
    why: tuple[Line, ...] = Field(
        default=(), strict=False, description="derivation of the deciding limit, line by line"
    )


class Reading(Model):
    """One reading as it was entered."""

    step: Line
    parts: tuple[Line, ...] = Field(default=(), strict=False)
    index: int = Field(default=0, ge=0)
    kind: Literal["number", "yes or no", "text", "choice"]
    value: float | bool | str
    text: Line = Field(description="as typed; its digits count")
    unit: Line = ""
    side: Literal["exact", "above", "below"] = "exact"
    measured_at: AwareDatetime
    entered_at: AwareDatetime
    instrument: Ident | None = None
    read_by: Line = ""
    corrects: bool = Field(default=False, description="replaces an earlier reading of the same key")
    reason: Line = Field(default="", description="why it was corrected, or accepted out of band")
    judgement: Judgement | None = None

    @property
    def key(self) -> ReadingKey:
        """What the reading is known by."""
        return ReadingKey(self.step, self.parts, self.index)


class Note(Model):
    """A remark to a step."""

    step: Line
    parts: tuple[Line, ...] = Field(default=(), strict=False)
    text: Text
    at: AwareDatetime


class NotApplicable(Model):
    """A step that does not apply here, with the reason."""

    step: Line
    parts: tuple[Line, ...] = Field(default=(), strict=False)
    reason: Line
    at: AwareDatetime
    withdrawn: bool = False


class Release(Model):
    """A hold point released by the person whom its data name."""

    step: Line
    parts: tuple[Line, ...] = Field(default=(), strict=False)
    by: Line
    role: Literal["technician", "supervisor"]
    reason: Line = ""
    at: AwareDatetime


class SettingEntry(Model):
    """One setting of one device as found and as left."""

    device: Ident
    setting: Line
    input: Literal["generator", "utility"] | None = None
    found: float | str | None = None
    found_text: Line = ""
    left: float | str | None = None
    left_text: Line = ""
    reason: Line = Field(default="", description="why it differs from the recommendation")
    at: AwareDatetime


class DeviceIdentity(Model):
    """What stands on a device's plate."""

    part: Ident
    serial: Line = ""
    firmware: Line = ""
    date_code: Line = ""
    at: AwareDatetime


class Disposed(Model):
    """What was done about a finding, a failed reading or a setting that differs."""

    subject: Line = Field(description="id of a finding, or key of a reading")
    disposition: Disposition
    reason: Line
    by: Line
    until: Line = Field(default="", description="date, of what is deferred")
    at: AwareDatetime


class SignOff(Model):
    """The technician's signature block."""

    name: Line
    role: Line
    licence: Line = ""
    employer: Line = ""
    signed_as: SignedAs
    meaning: Line = "I made these measurements and settings and answer for this record"
    at: AwareDatetime


class Visit(Model):
    """One commissioning or service of one plant."""

    id: Ident
    site: Ident
    kind: VisitKind
    started_at: AwareDatetime
    program: Line = Field(description="version of the program")
    people: tuple[Person, ...] = Field(default=(), strict=False)
    instruments: tuple[Instrument, ...] = Field(default=(), strict=False)
    readings: tuple[Reading, ...] = Field(
        default=(), strict=False, description="all, also corrected ones, in order"
    )
    settings: tuple[SettingEntry, ...] = Field(default=(), strict=False, description="newest of each")
    devices: tuple[DeviceIdentity, ...] = Field(default=(), strict=False)
    notes: tuple[Note, ...] = Field(default=(), strict=False)
    not_applicable: tuple[NotApplicable, ...] = Field(default=(), strict=False)
    releases: tuple[Release, ...] = Field(default=(), strict=False)
    dispositions: tuple[Disposed, ...] = Field(default=(), strict=False)
    spares: Line = Field(default="", description="spare fuses and parts left on site")
    codes_kept: Line = Field(default="", description="where access codes are kept, never the codes")
    next_technician: Text = ""
    at_step: Line = Field(default="", description="step that the walk stands on")
    at_parts: tuple[Line, ...] = Field(default=(), strict=False)
    sign_off: SignOff | None = None
