"""Sources that no link stops: static voltages under the cut-off, and a wired contact as second guard."""

from __future__ import annotations

from commission.figure import Figure, Quantity
from commission.formulas.bank import bank_voltage
from commission.plant.plant import fact
from commission.plant.site import DirectCurrentSource, Management
from commission.sheet.bank_state import cells
from commission.sheet.clamp import cell_limit
from commission.sheet.draft import Draft
from commission.sheet.reached import End, Stage, reached
from commission.sheet.settling import annotate, not_checked
from commission.sheet.types import Finding

_STATIC = "static value: this device does not hear the battery"
_STAGES: tuple[Stage, ...] = ("absorption", "float", "equalize")
_ENDS: tuple[End, ...] = ("coldest", "hottest")


def check_static_sources(
    draft: Draft, management: Management, sources: tuple[DirectCurrentSource, ...]
) -> None:
    """Check the voltages of sources off the link, and that a contact of the battery stops them."""
    for source in sources:
        for setting in ("absorption_voltage", "float_voltage", "charge_current_limit"):
            annotate(draft, source, setting, _STATIC)
        _check_voltage(draft, source)
    if sources:
        _check_contact(draft, management, sources)


def static_limit(draft: Draft) -> Quantity:
    """Return what a source off the link may reach: cells × (cut-off less the margin)."""
    limit = cell_limit(draft.plant)
    return bank_voltage.of(
        "cut-off less its margin, whole bank", cells=cells(draft.plant), cell_voltage=limit
    )


def _check_voltage(draft: Draft, source: DirectCurrentSource) -> None:
    limit = static_limit(draft)
    for stage in _STAGES:
        for end in _ENDS:
            value = reached(draft, source, stage, end)
            if isinstance(value, Figure) and isinstance(limit, Figure) and value.value > limit.value + 1e-6:
                draft.find(_over(source, stage, value, limit))
            elif value is not None and not _told_before(draft, source, stage):
                not_checked(draft, "static-voltage", (source.id,), value, f"{stage}_voltage")


def _told_before(draft: Draft, source: DirectCurrentSource, stage: Stage) -> bool:
    """Return whether a stop already says that no value of this device passes."""
    told = f"device-over-chemistry:{source.id}:{stage}_voltage"
    return any(finding.id == told for finding in draft.findings)


def _over(source: DirectCurrentSource, stage: Stage, value: Figure, limit: Figure) -> Finding:
    word = "equalise" if stage == "equalize" else stage
    return Finding(
        "correct",
        "static-voltage",
        (source.id,),
        f"{word} of {source.label} reaches {value.value:.2f} V; off the link at most {limit.value:.2f} V "
        "keep it under the management's cut-off",
        f"{word} of {limit.value:.2f} V or less, or this source on the link",
        value=value,
        limit=limit,
        passes=limit,
        setting=f"{stage}_voltage",
    )


def _check_contact(draft: Draft, management: Management, sources: tuple[DirectCurrentSource, ...]) -> None:
    """Find sources off the link that no charge-permit contact stops."""
    parts = tuple(source.id for source in sources)
    if management.charge_permit_contact == "unknown":
        gap = fact_of_contact(management)
        not_checked(draft, "charge-permit-contact", parts, gap)
        return
    if management.charge_permit_contact:
        return
    names = ", ".join(source.label for source in sources)
    draft.find(
        Finding(
            "correct",
            "charge-permit-contact",
            parts,
            f"{names} do not hear the battery, and no wired contact of its management stops them"
            if len(sources) > 1
            else f"{names} does not hear the battery, and no wired contact of its management stops it",
            "a charge-permit contact of the management wired to each of them, or the source on the link",
        )
    )


def fact_of_contact(management: Management) -> Quantity:
    """Return the gap that an unknown contact is."""
    return fact(management, "charge_permit_contact", "bank.management")
