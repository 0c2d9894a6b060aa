"""Writing a visit as one TOML file, sealed by the digest of its exact bytes.

::

    format = 2
    [header]            what it is of, and how many rows follow
    [visit]             people, instruments, releases, dispositions, what was left
    [plant]             the plant as resolved, from which it can be built again exactly
    [[setting]]         recommended, low, high, as found, as left, reason, derivation
    [[finding]]         results of the design check and what was done about them
    [[reading]]         every reading with band, verdict, time and meter, corrected ones too
    [[note]]
    [sign_off]
    [[seal]]            who stands for it: digests over everything above, a signature where there is a key

Later seals (countersigned, returned) stand below the first; see ``seals``.
"""

from __future__ import annotations

import os
from collections.abc import Mapping
from contextlib import suppress
from pathlib import Path
from typing import Any, Final

from commission.errors import Problem, RecordError
from commission.plant.plant import Plant
from commission.plant.toml import UnfitError
from commission.records.attached import put_beside
from commission.records.canonical import DIGEST
from commission.records.keys import SigningKey
from commission.records.migrate import RECORDS
from commission.records.read import toml_of
from commission.records.rows import finding_rows, setting_rows
from commission.records.seals import sealed
from commission.records.tables import listed, table_text, toml_text
from commission.records.types import Counts, FindingRow, Header, SettingRow
from commission.sheet.types import Sheet
from commission.visit.digest import plant_digest
from commission.visit.disk import flush_folder, give_name, make_folder, reason_of, write_whole
from commission.visit.types import Visit

DECISION_RULE: Final = "ILAC-G8:09/2019, 4.2.3, guard band w = U, k = 2; danger guarded by reading + U"
_APART: Final = ("readings", "notes", "sign_off")
"""Fields of the visit that stand in tables of their own."""


def record_name(visit: Visit) -> str:
    """Return the file name of a visit's record: site, date, kind, and the letters drawn for the visit."""
    drawn = visit.id.rpartition("-")[2]
    return f"{visit.site}_{visit.started_at:%Y-%m-%d}_{visit.kind}_{drawn}.toml"


def record_bytes(
    visit: Visit, plant: Plant, sheet: Sheet, *, previous: str = "", key: SigningKey | None = None
) -> bytes:
    """Return a visit as the bytes of its record; the same visit gives the same bytes.

    Parameters
    ----------
    previous
        Digest of the record of the visit before, as that record has it; of a service visit the one that it
        was begun from where none is told.
    key
        The signer's own; None signs by name and digest only.

    Raises
    ------
    RecordError
        If the key is somebody else's.
    """
    return _sealed(record_content(visit, plant, sheet, previous=previous)[0], visit, key)


def record_content(
    visit: Visit, plant: Plant, sheet: Sheet, *, previous: str = ""
) -> tuple[bytes, dict[str, Any]]:
    """Return what stands above the seals of a record: its bytes, and the data in them as a reader sees it.

    Parameters
    ----------
    previous
        Digest of the record of the visit before, as that record has it.
    """
    settings, findings = setting_rows(sheet, visit), finding_rows(sheet, visit)
    header = _header(visit, plant, settings, findings, previous)
    whole = _data(visit)
    tables = {
        "format": RECORDS.newest,
        "header": _data(header),
        "visit": {key: value for key, value in whole.items() if key not in _APART},
        "plant": _data(plant),
    }
    rows: dict[str, list[dict[str, Any]]] = {
        "setting": [_data(row) for row in settings],
        "finding": [_data(row) for row in findings],
        "reading": whole["readings"],
        "note": whole["notes"],
    }
    written = [toml_text(tables)]
    written += [table_text(name, row, rows=True) for name, found in rows.items() for row in found]
    data = {**tables, **{name: found for name, found in rows.items() if found}}
    if visit.sign_off is not None:
        written.append(table_text("sign_off", whole["sign_off"]))
        data["sign_off"] = whole["sign_off"]
    return "\n".join(written).encode("utf-8").rstrip(b"\n") + b"\n", listed(data)


def _header(
    visit: Visit,
    plant: Plant,
    settings: tuple[SettingRow, ...],
    findings: tuple[FindingRow, ...],
    previous: str,
) -> Header:
    counts = Counts(
        readings=len(visit.readings),
        settings=len(settings),
        findings=len(findings),
        notes=len(visit.notes),
        instruments=len(visit.instruments),
        dispositions=len(visit.dispositions),
        attachments=len(visit.attachments),
    )
    return Header(
        program=visit.program,
        visit=visit.id,
        site=visit.site,
        kind=visit.kind,
        rules=plant.rules.id,
        signed=visit.sign_off is not None,
        decision_rule=DECISION_RULE,
        plant_digest=DIGEST + plant_digest(plant),
        previous=previous or ("" if visit.service is None else visit.service.previous_digest),
        counts=counts,
    )


def _data(model: Any) -> dict[str, Any]:
    data: dict[str, Any] = model.model_dump(mode="python", by_alias=True, exclude_none=True)
    return data


def _sealed(content: bytes, visit: Visit, key: SigningKey | None) -> bytes:
    """Return the content of a record with the seal of its technician, or that of a judged file."""
    signed = visit.sign_off
    above = content.rstrip(b"\n") + b"\n"
    try:
        data = toml_of(above)
    except UnfitError as error:
        right = "a second visit for the rest; everything that was entered is kept"
        raise RecordError([Problem("the record", "file", "", f"would be {error.wrong}", right)]) from None
    if signed is None:
        return sealed(above, data, says="judged")
    if key is not None and (key.name, key.role) != (signed.name, signed.role):
        wrong = f"is that of {key.name}, {key.role}; the visit is signed by {signed.name}, {signed.role}"
        raise RecordError([Problem("the key", "name", key.name, wrong, "the signer's own key, or none")])
    return sealed(above, data, says="signed", name=signed.name, role=signed.role, at=signed.at, key=key)


def write_record(
    folder: Path,
    visit: Visit,
    plant: Plant,
    sheet: Sheet,
    *,
    previous: str = "",
    key: SigningKey | None = None,
    attached: Mapping[str, Path] | None = None,
) -> Path:
    """Write the record of a visit into a folder and return its path.

    It is written beside its name, flushed, and then given its name, so that no half record is ever seen. A
    record that is there already is never written over; the very same one is left as it is. Attached files are
    copied first, into the folder of the record's name.

    Parameters
    ----------
    attached
        Where the attached files are, by the names that they have in a record.

    Raises
    ------
    RecordError
        If another record has the name, an attached file is lost, or the folder cannot be written.
    """
    content = record_bytes(visit, plant, sheet, previous=previous, key=key)
    path = folder / record_name(visit)
    there = _there(path, content)
    if not there and os.path.lexists(path):
        raise _refused(path, "another record has this name", "a record is never written over")
    put_beside(path, visit, attached or {})
    beside = folder / f".{path.name}.part"
    try:
        if there:
            flush_folder(folder)  # the first time may have ended before the disk knew its name
            return path
        make_folder(folder)
        beside.unlink(missing_ok=True)
        write_whole(beside, [content])
        give_name(beside, path)
        flush_folder(folder)
    except FileExistsError:
        raise _refused(path, "another record has this name", "a record is never written over") from None
    except OSError as error:
        with suppress(OSError):
            beside.unlink(missing_ok=True)
        raise _refused(path, f"cannot be written: {reason_of(error)}", "mend that, then again") from None
    return path


def _there(path: Path, content: bytes) -> bool:
    try:
        return path.read_bytes() == content
    except OSError:
        return False


def _refused(path: Path, wrong: str, right: str) -> RecordError:
    return RecordError([Problem(str(path), "file", "", wrong, right)])
