"""What can happen in a visit: one line of the journal each."""

from __future__ import annotations

from typing import Annotated, Any, Final, Literal, TypeAlias

from pydantic import Field, TypeAdapter

from commission.checklist.types import ChecklistData
from commission.plant.plant import Plant
from commission.plant.values import Ident, Line, Model, Text
from commission.visit.types import (
    Attachment,
    DeviceIdentity,
    Disposed,
    EarlierReading,
    Instrument,
    NotApplicable,
    Note,
    Person,
    PlantChange,
    Reading,
    Release,
    Service,
    SettingEntry,
    SignOff,
    StepAdded,
    VisitKind,
    When,
)


class Happened(Model):
    """Base of all events."""

    at: When


class Opened(Happened):
    """The visit began; holds plant and own checklists, so that lost or changed files do not end the visit."""

    event: Literal["opened"] = "opened"
    id: Ident
    site: Ident
    kind: VisitKind
    program: Line
    plant: Plant
    checklists: tuple[ChecklistData, ...] = Field(
        default=(), strict=False, description="checklists of the site's own, beside those of the program"
    )
    walk: Line = ""
    service: Service | None = Field(default=None, description="of a service visit: why, and what was before")
    records: Line = Field(
        default="",
        description="folder of the records before, on the machine where it began; no part of the record",
    )


class Joined(Happened):
    """A person takes part."""

    event: Literal["person"] = "person"
    person: Person
    instead_of: Line = Field(default="", description="name that is replaced, where it was mistyped")


class Equipped(Happened):
    """An instrument was put into the kit, or what is known of it was corrected."""

    event: Literal["instrument"] = "instrument"
    instrument: Instrument


class Read(Happened):
    """A reading was entered, corrected, or judged anew because a reading under it was corrected."""

    event: Literal["reading"] = "reading"
    reading: Reading


class Noted(Happened):
    """A remark was made."""

    event: Literal["note"] = "note"
    note: Note


class Attached(Happened):
    """A file was attached to a step, got another caption, or was taken off."""

    event: Literal["attached"] = "attached"
    attachment: Attachment


class SetAside(Happened):
    """A step was found not to apply, or was taken up again."""

    event: Literal["not applicable"] = "not applicable"
    step: NotApplicable


class Released(Happened):
    """A hold point was released."""

    event: Literal["release"] = "release"
    release: Release


class SettingTold(Happened):
    """A setting was read as found or as left, or a reason was given."""

    event: Literal["setting"] = "setting"
    setting: SettingEntry


class Identified(Happened):
    """A device's plate was read."""

    event: Literal["device"] = "device"
    device: DeviceIdentity


class Settled(Happened):
    """Something was done about a finding, a reading or a step."""

    event: Literal["disposition"] = "disposition"
    disposed: Disposed


class Moved(Happened):
    """The walk moved to a step."""

    event: Literal["moved"] = "moved"
    step: Line
    parts: tuple[Line, ...] = Field(default=(), strict=False)


class Left(Happened):
    """Something was left for those who come after; what is None stays as it was."""

    event: Literal["left"] = "left"
    next_technician: Text | None = None
    spares: Line | None = None
    codes_kept: Line | None = None


class Replanned(Happened):
    """The visit goes on with a changed plant; holds it whole, as the opening does."""

    event: Literal["plant"] = "plant"
    change: PlantChange
    plant: Plant
    checklists: tuple[ChecklistData, ...] = Field(default=(), strict=False)
    walk: Line = ""


class Added(Happened):
    """A step that was not due was taken into the walk, with what the visits before read there."""

    event: Literal["added"] = "added"
    step: StepAdded
    earlier: tuple[EarlierReading, ...] = Field(default=(), strict=False)
    walk: Line = ""


class Signed(Happened):
    """The technician signed; nothing may follow."""

    event: Literal["signed"] = "signed"
    sign_off: SignOff


Event: TypeAlias = Annotated[
    Opened
    | Joined
    | Equipped
    | Read
    | Noted
    | Attached
    | SetAside
    | Released
    | SettingTold
    | Identified
    | Settled
    | Moved
    | Left
    | Replanned
    | Added
    | Signed,
    Field(discriminator="event"),
]
EVENT: Final[TypeAdapter[Any]] = TypeAdapter(Event)
"""Reads an event of any kind."""
