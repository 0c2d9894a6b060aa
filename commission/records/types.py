"""What a record holds beside the visit and the plant: a header, settings and findings as rows, seals."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Literal, TypeAlias

from pydantic import Field

from commission.plant.plant import Plant
from commission.plant.values import Ident, Line, Model
from commission.records.attached import AttachedState
from commission.records.seals import SealState
from commission.sheet.types import Kind
from commission.visit.types import Disposed, FoundBefore, Visit, VisitKind, When

State: TypeAlias = Literal["intact", "rewritten", "changed", "malformed"]
"""Byte for byte as sealed; the same data written anew by another program; other data; no record any more."""


class Counts(Model):
    """How many rows the record has, so that a lost one is noticed."""

    readings: int = Field(ge=0)
    settings: int = Field(ge=0)
    findings: int = Field(ge=0)
    notes: int = Field(ge=0)
    instruments: int = Field(ge=0)
    dispositions: int = Field(ge=0)
    attachments: int = Field(default=0, ge=0)


class Header(Model):
    """What the record is of."""

    program: Line = Field(description="version of the program that wrote it")
    visit: Ident = Field(description="id of the visit, never used twice")
    site: Ident
    kind: VisitKind
    rules: Ident = Field(description="rule set that the numbers follow")
    signed: bool = Field(description="false: readings that were judged, not a signed visit")
    decision_rule: Line = Field(description="how verdicts were reached")
    plant_digest: Line = Field(description="SHA-256 of the resolved plant as canonical JSON (RFC 8785)")
    previous: Line = Field(default="", description="digest of the record of the visit before, so a gap shows")
    counts: Counts


class SettingRow(Model):
    """One setting: what it should be, and as found and as left."""

    device: Ident
    setting: Line
    input: Literal["generator", "utility"] | None = None
    recommended: float | str | None = Field(default=None, description="in the device's own unit and basis")
    missing: tuple[Line, ...] = Field(
        default=(), strict=False, description="what is not known for a recommendation"
    )
    low: float | None = None
    high: float | None = None
    unit: Line = ""
    basis: Line = ""
    found: float | str | None = None
    found_text: Line = ""
    found_before: tuple[FoundBefore, ...] = Field(
        default=(), strict=False, description="what was told as found before it was put right, in order"
    )
    left: float | str | None = None
    left_text: Line = ""
    differs: bool = False
    before: float | str | None = Field(default=None, description="as the visit before left it")
    before_text: Line = ""
    drifted: bool = Field(default=False, description="found otherwise than the visit before left it")
    reason: Line = ""
    note: Line = ""
    at: When | None = None
    why: tuple[Line, ...] = Field(default=(), strict=False, description="derivation of the recommendation")


class FindingRow(Model):
    """A result of the design check and what was done about it."""

    id: Line
    kind: Kind
    check: Line
    parts: tuple[Line, ...] = Field(default=(), strict=False)
    setting: Line | None = None
    text: Line
    remedy: Line = ""
    value: float | None = None
    limit: float | None = None
    passes: float | None = None
    unit: Line = ""
    releasable: bool = True
    disposition: Disposed | None = None
    why: tuple[Line, ...] = Field(default=(), strict=False, description="derivation of the limit")


@dataclass(frozen=True)
class Record:
    """A record, read back."""

    header: Header
    plant: Plant
    visit: Visit
    settings: tuple[SettingRow, ...]
    findings: tuple[FindingRow, ...]
    format: int
    """In which it was written."""
    plant_digest: str
    """Digest of the plant as the file holds it, in the format in which it was written."""


@dataclass(frozen=True, slots=True)
class VerifyResult:
    """Whether a record is what was once written."""

    state: State
    reasons: tuple[str, ...] = ()
    """What is wrong, as a person would say it."""
    digest: str = ""
    """The digest that the record carries, ``sha256:`` and hex; empty where it has none."""
    visit: str = ""
    """Id of the visit, where it can be read."""
    signed_by: str = ""
    """Name in the sign-off; empty where the record is unsigned."""
    seals: tuple[SealState, ...] = ()
    """What was found of each seal, in order."""
    previous: str = ""
    """Digest of the record of the visit before, as this record names it."""
    format: int = 0
    """In which it was written; 0 where it tells none."""
    site: str = ""
    started_at: datetime | None = None
    """When the visit began, where it can be read."""
    attachments: tuple[AttachedState, ...] = ()
    """The attached files that it lists."""
    unlisted: tuple[str, ...] = ()
    """Files in its folder that it does not list."""

    @property
    def complete(self) -> bool:
        """Whether every attached file is there as it was attached; they are looked for beside a file only."""
        return all(one.holds or one.state == "not looked for" for one in self.attachments)

    @property
    def intact(self) -> bool:
        """Whether nothing was changed, no attached file either."""
        return self.state == "intact" and self.complete

    @property
    def word(self) -> str:
        """How it stands, in one word: its state, or that an intact record lacks what was attached."""
        return self.state if self.complete or self.state != "intact" else "incomplete"
