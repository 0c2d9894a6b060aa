"""Settings and findings as rows of a record, with what was found, left and done."""

from __future__ import annotations

from typing import Any

from commission.figure import Figure, Quantity, Unknown
from commission.records.types import FindingRow, SettingRow
from commission.sheet.types import Finding, Setting, Sheet
from commission.visit.lines import as_line, derivation
from commission.visit.service import apart, left_before
from commission.visit.settings import differs, recommended_value
from commission.visit.state import finding_disposition, setting_of
from commission.visit.types import SettingEntry, Visit


def setting_rows(sheet: Sheet, visit: Visit) -> tuple[SettingRow, ...]:
    """Return every setting of the sheet, and those entered that the sheet does not have."""
    known = {setting.key for setting in sheet.settings}
    others = [entry for entry in visit.settings if (entry.device, entry.setting, entry.input) not in known]
    rows = [_setting_row(setting, visit) for setting in sheet.settings]
    return (*rows, *(SettingRow.model_validate(entry.model_dump()) for entry in others))


def _setting_row(setting: Setting, visit: Visit) -> SettingRow:
    entry = setting_of(visit, setting.device, setting.setting, setting.input)
    wanted = setting.recommended
    fields = {} if entry is None else entry.model_dump(exclude={"device", "setting", "input"})
    fields |= _before(setting, entry, visit)
    return SettingRow(
        device=setting.device,
        setting=setting.setting,
        input=setting.input,
        recommended=recommended_value(setting),
        missing=tuple(as_line(gap) for gap in wanted.missing) if isinstance(wanted, Unknown) else (),
        low=_number(setting.low),
        high=_number(setting.high),
        unit=setting.unit,
        basis=setting.ability.basis,
        differs=entry is not None and entry.left is not None and differs(setting, entry.left),
        note=as_line(setting.note),
        why=derivation(wanted) if isinstance(wanted, Figure) else (),
        **fields,
    )


def _before(setting: Setting, entry: SettingEntry | None, visit: Visit) -> dict[str, Any]:
    """Return what a row says of the visit before: how the setting was left, and whether it was found so."""
    wanted = entry or SettingEntry(
        device=setting.device, setting=setting.setting, input=setting.input, at=visit.started_at
    )
    before = left_before(visit, wanted)
    if before is None or before.left is None:
        return {}
    found = wanted.found
    drifted = found is not None and apart(setting, before.left, found)
    return {"before": before.left, "before_text": before.left_text, "drifted": drifted}


def finding_rows(sheet: Sheet, visit: Visit) -> tuple[FindingRow, ...]:
    """Return every finding; those that a second person released stand first."""
    rows = [_finding_row(finding, visit) for finding in sheet.findings]
    return tuple(sorted(rows, key=lambda row: not _released(row)))


def _released(row: FindingRow) -> bool:
    return row.kind == "stop" and row.disposition is not None and row.disposition.disposition == "accepted"


def _finding_row(finding: Finding, visit: Visit) -> FindingRow:
    known = [item for item in (finding.value, finding.limit, finding.passes) if isinstance(item, Figure)]
    limit = finding.limit if isinstance(finding.limit, Figure) else None
    return FindingRow(
        id=finding.id,
        kind=finding.kind,
        check=finding.check,
        parts=finding.parts,
        setting=finding.setting,
        text=as_line(finding.text),
        remedy=as_line(finding.remedy),
        value=_number(finding.value),
        limit=_number(finding.limit),
        passes=_number(finding.passes),
        unit=known[0].unit if known else "",
        releasable=finding.releasable,
        disposition=finding_disposition(visit, finding.id, stops=finding.kind == "stop"),
        why=derivation(limit) if limit is not None else (),
    )


def _number(quantity: Quantity | None) -> float | None:
    return quantity.value if isinstance(quantity, Figure) else None
