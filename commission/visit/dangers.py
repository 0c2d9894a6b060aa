"""Which steps a finding that stops keeps closed."""

from __future__ import annotations

from collections.abc import Iterable

from commission.plant.plant import Plant
from commission.sheet.types import Finding
from commission.visit.standing import Danger


def dangers(plant: Plant, findings: Iterable[Finding]) -> tuple[Danger, ...]:
    """Return the findings that stop, each with what it bars."""
    return tuple(
        Danger(
            finding.id,
            finding.text,
            frozenset(finding.parts),
            everywhere=any(_everything_hangs_on(plant, part) for part in finding.parts),
        )
        for finding in findings
        if finding.kind == "stop"
    )


def _everything_hangs_on(plant: Plant, part: str) -> bool:
    """Say whether a part is the bank, or stands between it and everything else."""
    at_bank = {plant.bank.id, "site", *(string.id for string in plant.bank.strings)}
    if part in at_bank:
        return True
    guard = plant.protection_of(part)
    if guard is not None:
        return guard.protects in {"bank", "string"}
    if any(panel.id == part and panel.kind == "dc" for panel in plant.site.panels):
        return True
    own = {source.run for source in plant.sources}
    return any(
        run.id == part and run.id not in own and {run.from_, run.to} & at_bank for run in plant.site.runs
    )
