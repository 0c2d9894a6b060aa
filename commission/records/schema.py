"""JSON Schemas of every file that the program reads, for editors and for offices that make such files.

They are those of the models that read the files, so they cannot say anything else; what a model checks
between values (an order, a reference) no schema can tell.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

from pydantic import Field, TypeAdapter
from pydantic.json_schema import GenerateJsonSchema, JsonSchemaValue
from pydantic_core import core_schema

from commission.checklist.types import ChecklistData
from commission.plant.battery import BatteryProfile
from commission.plant.equipment import EquipmentClass
from commission.plant.plant import Plant
from commission.plant.rules import RuleSet
from commission.plant.site import Site
from commission.plant.values import Line, Model
from commission.records.keys import KnownData
from commission.records.migrate import RECORDS
from commission.records.readings import ReadingsFile
from commission.records.types import FindingRow, Header, SettingRow
from commission.visit.types import Note, Reading, SignOff, Visit, When

DIALECT: Final = "https://json-schema.org/draft/2020-12/schema"
_APART: Final = ("readings", "notes", "sign_off")


class SealRow(Model):
    """Who stands for every byte above, with or without a key."""

    kind: Line = Field(description="digest")
    says: Line = Field(default="", description="judged, signed, countersigned or returned")
    name: Line = ""
    role: Line = ""
    at: When | None = None
    comments: tuple[CommentRow, ...] = Field(default=(), strict=False)
    key: Line | None = Field(default=None, description="base64 of the public key, 32 bytes")
    data: Line = Field(default="", description="SHA-256 of the data above as canonical JSON (RFC 8785)")
    digest: Line = Field(description="SHA-256 of every byte above this line")
    signature: Line | None = Field(
        default=None, description="base64 of the Ed25519 signature over the seal's other lines, 64 bytes"
    )


class CommentRow(Model):
    """What a supervisor says to a step, or to the whole record where no step is named."""

    text: Line
    step: Line = ""
    parts: tuple[Line, ...] = Field(default=(), strict=False)


class RecordFile(Model):
    """A visit as one sealed file."""

    format: int = Field(ge=RECORDS.newest, le=RECORDS.newest, description="earlier ones are read too")
    header: Header
    visit: Visit = Field(description="the visit, without the tables that stand by themselves")
    plant: Plant = Field(description="the plant as resolved")
    setting: tuple[SettingRow, ...] = Field(default=(), strict=False)
    finding: tuple[FindingRow, ...] = Field(default=(), strict=False)
    reading: tuple[Reading, ...] = Field(default=(), strict=False)
    note: tuple[Note, ...] = Field(default=(), strict=False)
    sign_off: SignOff | None = None
    seal: tuple[SealRow, ...] = Field(strict=False, min_length=1)


_FILES: Final[Mapping[str, tuple[Any, str, str]]] = {
    "site": (Site, "Site file", "What stands on a site; commission new writes one with comments."),
    "profile-battery": (BatteryProfile, "Battery profile", "A kind of battery: values per cell at 25 °C."),
    "profile-equipment": (EquipmentClass, "Equipment profile", "A class of devices, of one of five kinds."),
    "profile-rules": (RuleSet, "Rule set", "The numbers of one region."),
    "checklist": (ChecklistData, "Checklist", "Steps of the walk as data."),
    "readings": (ReadingsFile, "Readings", "Readings taken on paper, for commission judge."),
    "record": (RecordFile, "Record", "A visit as one sealed file."),
    "keys": (KnownData, "Known keys", "The list of keys whose signatures count."),
}
NAMES: Final = tuple(_FILES)


class _OfFiles(GenerateJsonSchema):
    """Schemas of TOML files: what JSON has as text with a format, TOML may have as a value of its own."""

    ignored_warning_kinds = {"skipped-choice", "non-serializable-default"}  # noqa: RUF012 - as the base class has it

    def default_schema(self, schema: core_schema.WithDefaultSchema) -> JsonSchemaValue:
        """Leave out defaults that are whole tables: they would say each table again."""
        made = super().default_schema(schema)
        if isinstance(made.get("default"), dict):
            del made["default"]
        return made


def schema_of(name: str) -> dict[str, Any]:
    """Return the JSON Schema of a kind of file, one of ``NAMES``.

    Raises
    ------
    KeyError
        If there is no such kind.
    """
    model, title, description = _FILES[name]
    made = TypeAdapter(model).json_schema(by_alias=True, schema_generator=_OfFiles)
    head = {"$schema": DIALECT, "title": title, "description": description}
    whole = head | {key: value for key, value in made.items() if key not in head}
    if name == "record":
        for apart in _APART:
            del whole["$defs"]["Visit"]["properties"][apart]
    return whole
