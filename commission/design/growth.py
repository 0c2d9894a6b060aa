"""What planned additions would bring: findings of the plant as grown, told ahead as advice."""

from __future__ import annotations

import re
from collections.abc import Callable, Container, Iterator, Mapping
from dataclasses import replace
from typing import Final

from commission.design.agreeing import all_mended
from commission.design.mending import Looked, Trials
from commission.figure import Gap
from commission.plant.change import PLANNED_SECTIONS, Change, grown
from commission.plant.plant import Plant
from commission.plant.site import Planned
from commission.plant.values import UNKNOWN
from commission.sheet.known import what_helps
from commission.sheet.types import KINDS, Finding

_LEAD: Final = {
    "stop": "it must not be energised: ",
    "correct": "to be mended before it: ",
    "not checked": "",
}


def ahead(
    plant: Plant,
    planned: Planned,
    standing: Mapping[str, Finding],
    look: Callable[[Plant], Looked],
    wanted: Container[str] | None = None,
) -> Iterator[Finding]:
    """Yield what would be new or worse with planned additions, each with what would have to change.

    Remedies are tried on the plant as grown, and only for what is new: the rest has been told already.

    Parameters
    ----------
    wanted
        Ids of the findings, as they are told ahead, whose remedies are tried; all where None.
    """
    larger = grown(plant, planned)
    looked = look(larger)
    seen = looked.after
    new = [found for found in seen.values() if _is_new(found.finding, standing)]
    tried = [one for one in new if wanted is None or _as_advice(planned, one.finding).id in wanted]
    mendable = {one.id: one for one in all_mended(Trials(larger, seen, looked.again), tried)}
    for found in new:
        yield _as_advice(planned, mendable.get(found.finding.id, found.finding))


def _is_new(finding: Finding, standing: Mapping[str, Finding]) -> bool:
    """Whether a finding asks for something that the plant as it stands does not ask for."""
    if finding.kind == "advise":
        return False
    before = standing.get(finding.id)
    return before is None or KINDS.index(finding.kind) < KINDS.index(before.kind)


def _as_advice(planned: Planned, finding: Finding) -> Finding:
    missing = tuple(_within(planned, gap) for gap in finding.missing)
    when = f" ({planned.when})" if planned.when not in {"", UNKNOWN} else ""
    return replace(
        finding,
        kind="advise",
        check=f"growth-{slug(planned.name)}-{finding.check}",
        text=f"with {planned.name}{when}: {_LEAD[finding.kind]}{finding.text}",
        remedy=what_helps(missing) if missing else finding.remedy,
        releasable=True,
        missing=missing,
        change=_in_the_plan(planned, finding.change),
    )


def _within(planned: Planned, name: str) -> Gap:
    """Return a gap with the key at which the site file holds it: a planned part's is inside the plan."""
    gap = name if isinstance(name, Gap) else Gap(name)
    for section in PLANNED_SECTIONS:
        for part in getattr(planned, section):
            if gap.key.startswith(f"{part.where}."):
                return Gap(gap, f"planned[{planned.name}].{gap.key}", gap.helps)
    return gap


def _in_the_plan(planned: Planned, change: tuple[Change, ...]) -> tuple[Change, ...]:
    """Return a remedy as part of the plan: the plant as it stands needs none."""
    if not change:
        return ()
    more = {one.key: one.value for one in change}
    return (Change(f"planned[{planned.name}].changes", {**planned.changes, **more}),)


def slug(name: str) -> str:
    """Return a name in small letters, digits and hyphens, as part of an id."""
    return re.sub(r"[^a-z0-9]+", "-", name.lower()).strip("-") or "addition"
