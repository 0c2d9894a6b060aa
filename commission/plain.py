"""Text and JSON of what the rooms return, for the command line and the screens alike."""

from __future__ import annotations

import json
import math
from collections.abc import Iterable, Iterator
from typing import Any

from commission.checklist.types import Ask, Checklist, Stage, Step
from commission.errors import escaped
from commission.figure import Band, Figure, Gap, Quantity, Unknown, WhyLine, line_text, why
from commission.plant.plant import Plant
from commission.sheet.types import Finding, Pair, Setting, Sheet
from commission.unchecked import state_first, unchecked_lines, untold
from commission.units import UnitSystem, plain, show, show_time, shown_unit
from commission.visit import settings
from commission.visit.digest import confirmation_words


def json_text(value: Any, *, ascii_only: bool = False) -> str:
    """Return a value as JSON in which no sign is a command to a terminal."""
    return escaped(json.dumps(value, ensure_ascii=ascii_only, indent=2, allow_nan=False))


def setting_text(setting: Setting, system: UnitSystem) -> str:
    """Return a setting's recommendation as it is entered at the device."""
    recommended = setting.recommended
    if isinstance(recommended, str):
        return recommended
    if isinstance(recommended, Unknown):
        return "unknown"
    if isinstance(recommended, tuple):
        return ", ".join(pair_text(pair, setting) for pair in recommended)
    return device_number(recommended.value, setting, system)


def device_number(value: float, setting: Setting, system: UnitSystem) -> str:
    """Return a number of a setting with the digits that the device has, and its unit."""
    return settings.device_number(value, setting, system)


def pair_text(pair: Pair, setting: Setting) -> str:
    """Return a voltage-delay pair: ``47.2 V for 15 min``."""
    return f"{plain(pair.voltage.value, setting.decimals)} {setting.unit} for {show_time(pair.delay.value)}"


def setting_json(setting: Setting) -> dict[str, Any]:
    """Return a setting with the stable keys of ``sheet --json``."""
    return {
        "device": setting.device,
        "setting": setting.setting,
        "input": setting.input,
        "recommended": _recommended_json(setting),
        "unit": setting.unit,
        "low": _number_json(setting.low),
        "high": _number_json(setting.high),
        "why": [line_text(line) for line in setting_why(setting)],
    }


def _recommended_json(setting: Setting) -> Any:
    recommended = setting.recommended
    if isinstance(recommended, tuple):
        return [
            {"voltage": _number_json(pair.voltage), "delay": _number_json(pair.delay)} for pair in recommended
        ]
    if isinstance(recommended, str):
        return recommended
    return _number_json(recommended)


def _number_json(quantity: Quantity | None) -> float | None:
    """Return a number without the noise of binary fractions; None where there is none."""
    if not isinstance(quantity, Figure) or not math.isfinite(quantity.value):
        return None
    return float(f"{quantity.value:.9g}")


def setting_why(setting: Setting) -> Iterator[WhyLine]:
    """Yield the lineage of a setting."""
    recommended = setting.recommended
    if isinstance(recommended, str):
        yield WhyLine(0, None, "", setting.note or f"{recommended}: as the site file states", "")
    elif isinstance(recommended, tuple):
        for pair in recommended:
            yield from why(pair.voltage)
            yield from why(pair.delay)
    else:
        yield from why(recommended)


def finding_json(finding: Finding) -> dict[str, Any]:
    """Return a finding with the stable keys of ``check --json``."""
    return {
        "kind": finding.kind,
        "id": finding.id,
        "check": finding.check,
        "parts": list(finding.parts),
        "setting": finding.setting,
        "text": finding.text,
        "remedy": finding.remedy,
        "value": _number_json(finding.value),
        "limit": _number_json(finding.limit),
        "passes": _number_json(finding.passes),
        "unit": finding.value.unit if finding.value is not None else None,
        "missing": [gap.key for gap in finding.missing if isinstance(gap, Gap) and gap.key],
        "change": {change.key: change.value for change in finding.change},
        "why": [line_text(line) for line in finding_why(finding)],
    }


def finding_why(finding: Finding) -> Iterator[WhyLine]:
    """Yield the lineage of a finding: its value, its limit and the number that passes."""
    for quantity in (finding.value, finding.limit, finding.passes):
        if quantity is not None:
            yield from why(quantity)


def band_text(band: Band, system: UnitSystem, decimals: int | None = None) -> str:
    """Return a band: ``0.059 to 0.087 V``, ``at most 5 V``, ``at least 1 MΩ``, ``2``.

    Limits of a cross-section are no sizes themselves, so where sizes are US ones its own is told with them.
    """
    low, high = (None if end is None else end.value for end in (band.low, band.high))
    unit = band.unit
    if low is not None and low == high:
        return show(low, unit, system, decimals)
    if (
        low is not None
        and high is not None
        and band.nominal is not None
        and shown_unit(unit, system) == "AWG"
    ):
        return f"{show(band.nominal.value, unit, system)}, {plain(low)} to {plain(high)} {unit}"
    if low is not None and high is not None:
        return f"{_bare(low, unit, system, decimals)} to {show(high, unit, system, decimals)}"
    if high is not None:
        return f"at most {show(high, unit, system, decimals)}"
    if low is not None:
        return f"at least {show(low, unit, system, decimals)}"
    return "anything"


def _bare(value: float, unit: str, system: UnitSystem, decimals: int | None) -> str:
    text = show(value, unit, system, decimals)
    sign = shown_unit(unit, system)
    return text.removesuffix(f" {sign}") if unit != "s" else text


def step_json(step: Step) -> dict[str, Any]:
    """Return a step with the stable keys of ``checklist --json``."""
    data = step.data
    return {
        "stage": data.stage,
        "step": data.id,
        "parts": list(step.parts),
        "title": step.title,
        "do": step.do,
        "why": data.why,
        "caution": data.caution,
        "state": data.state,
        "hold": data.hold,
        "released_by": data.released_by if data.hold else None,
        "stands_on": [{"step": ident, "parts": list(parts)} for ident, parts in step.stands_on],
        "service": list(data.service),
        "source": data.source,
        "readings": [ask_json(ask) for ask in step.asks],
    }


def ask_json(ask: Ask) -> dict[str, Any]:
    """Return a reading that a step asks for."""
    return {
        "step": ask.key.step,
        "parts": list(ask.key.parts),
        "index": ask.key.index,
        "label": ask.label,
        "kind": ask.data.kind,
        "unit": ask.data.unit or None,
        "expect": ask.data.expect or None,
        "instrument": ask.data.instrument,
    }


def sheet_lines(plant: Plant, sheet: Sheet, *, lineage: bool = False) -> Iterator[str]:
    """Yield the settings sheet as text, one device after the other."""
    system = plant.site.site.units
    for device in plant.devices:
        settings = [setting for setting in sheet.settings if setting.device == device.id]
        yield ""
        yield f"{device.label}  ({plant.equipment[device.id].name})"
        for setting in settings:
            yield _setting_line(setting, system)
            if lineage:
                yield from (f"        {line_text(line)}" for line in setting_why(setting))
    yield ""
    yield from limit_lines(sheet, system)


def setting_name(setting: Setting) -> str:
    """Return a setting's name for people, with its input."""
    name = setting.setting.replace("_", " ").replace("equalize", "equalise")
    return f"{name}, {setting.input}" if setting.input else name


def _setting_line(setting: Setting, system: UnitSystem) -> str:
    text = setting_text(setting, system)
    fixed = "fixed" if not setting.changeable else ""
    beside = "; ".join(
        part for part in (range_text(setting, system), fixed, gaps_of(setting), setting.note) if part
    )
    return f"    {setting_name(setting):<42} {text:>18}  {beside}".rstrip()


def range_text(setting: Setting, system: UnitSystem) -> str:
    """Return the acceptable range of a setting, empty where there is none.

    The ends are rounded inward to the digits of the device, so that an end as printed is acceptable too.
    """
    low, high = (end.value if isinstance(end, Figure) else None for end in (setting.low, setting.high))
    least = None if low is None else device_number(settings.inward(low, setting, "low"), setting, system)
    most = None if high is None else device_number(settings.inward(high, setting, "high"), setting, system)
    if least is not None and most is not None:
        return f"{least} to {most}"
    if most is not None:
        return f"at most {most}"
    return f"at least {least}" if least is not None else ""


def gaps_of(setting: Setting) -> str:
    """Return what is missing for a setting's number."""
    recommended = setting.recommended
    return f"needs {', '.join(recommended.missing)}" if isinstance(recommended, Unknown) else ""


def limit_lines(sheet: Sheet, system: UnitSystem) -> Iterator[str]:
    """Yield the bank's own limits, each with what binds it."""
    for quantity in (sheet.recommended_limit, sheet.bank_limit, sheet.bus_maximum):
        if isinstance(quantity, Figure):
            number = show(quantity.value, quantity.unit, system)
            yield f"{quantity.name}: {number}; binding: {quantity.binding().name}"
        else:
            yield f"{quantity.name or 'a limit'}: not known, needs {', '.join(quantity.missing)}"


def finding_lines(findings: Iterable[Finding], *, lineage: bool = False) -> Iterator[str]:
    """Yield findings worst first, one line each, with lineage where it is wanted.

    What was not checked is told by what is unknown, one line for each, and last what to state first.
    """
    told = list(findings)
    open_ = untold(one for one in told if one.kind == "not checked")
    lines = list(unchecked_lines(open_))
    for finding in told:
        if finding.kind == "not checked" and finding.missing:
            yield from (f"{finding.kind:<12} {line}" for line in lines)
            lines.clear()
            continue
        remedy = f"; {finding.remedy}" if finding.remedy else ""
        parts = ", ".join(finding.parts)
        yield f"{finding.kind:<12} {parts}: {finding.text}{remedy}"
        if lineage:
            yield from (f"    {line_text(line)}" for line in finding_why(finding))
    yield from state_first(open_)


SCOPE = "Checked as far as the site file tells; the maker's instructions and the local code prevail."
"""What the check rests on, so that no finding is not taken for more than it is."""


def words_lines(plant: Plant, findings: Iterable[Finding]) -> Iterator[str]:
    """Yield the confirmation words of every finding that a second person may release."""
    for finding in findings:
        if finding.kind == "stop" and finding.releasable:
            yield f"{', '.join(finding.parts)}: {finding.text}"
            yield f"    {confirmation_words(plant, finding.id)}"


def summary(findings: Iterable[Finding]) -> str:
    """Return how many findings of each kind there are; 'no findings' only where nothing is left unchecked."""
    counts: dict[str, int] = {}
    for finding in findings:
        counts[finding.kind] = counts.get(finding.kind, 0) + 1
    if not counts:
        return "no findings"
    return ", ".join(
        f"{counts[kind]} {kind}" for kind in ("stop", "correct", "not checked", "advise") if kind in counts
    )


def checklist_lines(checklist: Checklist) -> Iterator[str]:
    """Yield the checklist as text."""
    for stage in _with_empty(checklist):
        yield ""
        yield f"{stage.data.number}  {stage.data.title}{'' if stage.steps else ': nothing to do here'}"
        if not stage.steps:
            continue
        if stage.data.caution:
            yield f"    !  {stage.data.caution}"
        for step in stage.steps:
            hold = f"  (hold point, released by {_released(step)})" if step.data.hold else ""
            yield f"    {step.title}{hold}"
            for ask in step.asks[:1] if len(step.asks) > 3 else step.asks:
                more = f" … {len(step.asks)} readings" if len(step.asks) > 3 else ""
                unit = f" ({ask.data.unit})" if ask.data.unit else ""
                yield f"        {ask.label}{unit}{more}"


def _with_empty(checklist: Checklist) -> list[Stage]:
    """Return the stages of a walk, also those in which this plant has nothing to do."""
    stages = [*checklist.stages, *(Stage(data, ()) for data in checklist.without)]
    return sorted(stages, key=lambda stage: stage.data.number)


def _released(step: Step) -> str:
    return "its own readings" if step.data.released_by == "readings" else f"the {step.data.released_by}"
