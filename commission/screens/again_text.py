"""What the walk writes of the visits before: baseline, last value, how far a reading has gone, why a step."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator, Sequence
from textwrap import wrap
from typing import Final

from commission.checklist.types import Ask, ReadingData, StepKey
from commission.plant.equipment import Input
from commission.screens.walk_text import LABEL, hanging
from commission.units import UnitSystem, show
from commission.units import plain as number
from commission.visit.compared import Earlier
from commission.visit.service import comments_at, last_left, setting_drift_lines
from commission.visit.session import OpenVisit
from commission.visit.state import setting_of
from commission.visit.types import Drift, EarlierReading, Judgement, Service

_WORD: Final = {
    "holds": "change holds", "advise": "advise", "act": "act", "not judged": "not judged",
    "not compared": "not compared",
}  # fmt: skip
_HEAD: Final = 2
"""Lines in which the head of the settings tells what was found otherwise."""
_UNIT: Final = re.compile(r"(?<=\d) (?=[^\s\d]{1,3}(?:[,;]|$))")
"""The blank between a number and its unit, which stay on one line."""
_HELD: Final = "\N{NO-BREAK SPACE}"
_SIGN: Final = {"exact": "", "above": "> ", "below": "< "}


def before_text(ask: Ask, earlier: Earlier, service: Service, system: UnitSystem) -> str:
    """Return what the visits before read: ``baseline 0.42 mΩ 2024-05-12 · last 0.44 mΩ 2026-05-12``."""
    rows = earlier.get(ask.key, ())
    new = [part for part in service.changed if part in ask.key.parts]
    if not rows:
        return f"none: {new[0]} begins anew; this reading becomes its baseline" if new else ""
    return " · ".join(_row_text(row, system) for row in rows)


def _row_text(row: EarlierReading, system: UnitSystem) -> str:
    word = ("provisional baseline" if row.provisional else "baseline") if row.baseline else "last"
    state = [f"{row.temperature:.0f} °C"] if row.temperature is not None else []
    beside = f" at {', '.join(state)}" if state else ""
    sign = _SIGN[row.side] if math.isfinite(row.value) else ""
    return f"{word} {sign}{show(row.value, row.unit, system)} {row.measured_at:%Y-%m-%d}{beside}"


def comment_lines(key: StepKey, service: Service | None) -> Iterator[str]:
    """Yield what the supervisor said to a step who returned its record."""
    for comment in comments_at(key, service):
        by = "" if service is None or service.returned is None else service.returned.by
        was = f" (read then: {comment.was})" if comment.was else ""
        yield f"{by}: {' '.join(comment.text.split())}{was}"


def drift_lines(judged: Judgement, width: int) -> list[list[str]]:
    """Return how far a reading has gone, each comparison as lines; what asks for something first."""
    order = ("act", "advise", "not judged", "not compared", "holds")
    drifts = sorted(judged.drifts, key=lambda drift: order.index(drift.verdict))
    return [hanging(_head(drift), _said(drift), width) for drift in drifts]


def _head(drift: Drift) -> str:
    return f"{_WORD[drift.verdict]:<{LABEL}}"


def _said(drift: Drift) -> str:
    return drift.says.removeprefix(f"{drift.verdict}: ")


def without_drifts(judged: Judgement) -> Judgement:
    """Return a verdict whose words do not repeat what stands in its comparisons."""
    says = judged.says
    for drift in judged.drifts:
        says = says.replace(drift.says, "")
    return judged.model_copy(update={"says": "; ".join(part for part in says.split("; ") if part.strip())})


def limit_lines(data: ReadingData) -> Iterator[str]:
    """Yield the limits of a reading's change, each with its source."""
    for limit in data.change:
        unit = limit.unit if limit.unit == "%" else f" {limit.unit}"
        ends = [
            f"{word} {number(end)}{unit}"
            for word, end in (("a rise of more than", limit.more), ("a fall of more than", limit.less))
            if end is not None
        ]
        since = "the baseline" if limit.since == "baseline" else "the last visit"
        kind = ", a limit for float service: in a cycled plant it only advises" if limit.float_service else ""
        does = f": {limit.says}" if limit.says else ""
        yield f"{limit.verdict:<8}{' or '.join(ends)} since {since}{does}{kind}"
        yield f"        {limit.source}"


def history_lines(
    ask: Ask, earlier: Earlier, system: UnitSystem, judged: Judgement | None, width: int
) -> Sequence[str]:
    """Return all that is known of a reading from the visits before, for the side of a wide terminal."""
    rows = earlier.get(ask.key, ())
    if not rows:
        return ()
    told = ["Before"]
    for row in rows:
        meter = f", {row.instrument}" if row.instrument else ""
        verdict = f", {row.verdict}" if row.verdict else ""
        told += hanging("  ", f"{_row_text(row, system)}{verdict}{meter}", width)
    if judged is not None:
        told += [line for lines in drift_lines(judged, width) for line in lines]
    limits = [line for text in limit_lines(ask.data) for line in hanging("  ", text.strip(), width)]
    return (*told, *(("Limits of its change", *limits) if limits else ()))


# settings


def drifted_settings(visit: OpenVisit, width: int) -> str:
    """Return which settings were found otherwise than the last visit left them, empty where none were.

    As many are told as are whole in two lines of a width; where the others stand is said.
    """
    found = list(setting_drift_lines(visit.plant, visit.sheet, visit.visit))
    head = f"{len(found)} found otherwise than left: "
    for count in range(len(found), 0, -1):
        rest = f"; {len(found) - count} more: F9 tells all" if count < len(found) else ""
        told = _UNIT.sub(_HELD, f"{head}{'; '.join(found[:count])}{rest}")
        lines = wrap(told, width)
        if len(lines) <= _HEAD:
            return "\n".join(lines).replace(_HELD, " ")
    return f"{head}≠ in the list, F9 tells all" if found else ""


def not_found(visit: OpenVisit, device: str) -> bool:
    """Whether a setting of a device that the last visit left is not told as found yet."""
    told = (setting_of(visit.visit, *key) for key in _left_of(visit, device))
    return any(entry is None or entry.found is None for entry in told)


def nothing_to_find(visit: OpenVisit, device: str, label: str) -> str:
    """Return why nothing of a device can be told as found by one key, empty where something can."""
    if not _left_of(visit, device):
        return f"how the last visit left {label} is not known: type what the device shows"
    return (
        "" if not_found(visit, device) else f"all settings of {label} that were left last are told as found"
    )


def _left_of(visit: OpenVisit, device: str) -> list[tuple[str, str, Input | None]]:
    """Return the settings of a device that the last visit left."""
    keys = [setting.key for setting in visit.sheet.settings if setting.device == device]
    return [key for key in keys if last_left(visit.visit, *key) is not None]
