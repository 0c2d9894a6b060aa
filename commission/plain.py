"""Text and JSON of what the rooms return, for the command line and the screens alike."""

from __future__ import annotations

import json
import math
import re
from collections.abc import Callable, Container, Iterable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal

from commission.checklist.types import Ask, Checklist, Stage, Step
from commission.errors import escaped
from commission.figure import Band, Figure, Gap, Quantity, Unknown, WhyLine, line_text, why
from commission.plant.explain import printable
from commission.plant.plant import Plant
from commission.records.attached import AttachedState
from commission.records.chain import Told
from commission.records.keys import KeyFile, KnownKey, fingerprint, key_bytes
from commission.records.migrate import RECORDS
from commission.records.seals import Comment, SealState
from commission.records.types import VerifyResult
from commission.sheet.types import Finding, Pair, Setting, Sheet
from commission.unchecked import state_first, unchecked_lines, untold
from commission.units import UnitSystem, plain, show, show_time, shown_unit
from commission.visit import settings
from commission.visit.digest import confirmation_words
from commission.visit.recompute import Recomputed
from commission.visit.types import Judgement, Reading


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
    """Return a band: ``0.059 to 0.087 V``, ``at most 5 V``, ``at least 1 MΩ``, ``2``."""
    low, high = (None if end is None else end.value for end in (band.low, band.high))
    unit = band.unit
    if low is not None and low == high:
        return show(low, unit, system, decimals)
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
    least = None if low is None else device_number(_inward(low, setting, math.ceil), setting, system)
    most = None if high is None else device_number(_inward(high, setting, math.floor), setting, system)
    if least is not None and most is not None:
        return f"{least} to {most}"
    if most is not None:
        return f"at most {most}"
    return f"at least {least}" if least is not None else ""


def _inward(value: float, setting: Setting, side: Callable[[float], int]) -> float:
    scale = 10.0**setting.decimals
    nearest = round(value * scale)
    return (nearest if abs(value * scale - nearest) < 1e-6 else side(value * scale)) / scale


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


# readings and records

_OPEN_VERDICTS = frozenset({"fail", "conditional fail", "stop work", "not judged"})


def any_open(readings: Iterable[Reading]) -> bool:
    """Whether a reading failed, conditionally or not, stopped work or was not judged."""
    return any(_verdict(reading) in _OPEN_VERDICTS for reading in standing_readings(readings))


def standing_readings(readings: Iterable[Reading]) -> list[Reading]:
    """Return the newest reading of every key, in the order in which they were first entered."""
    return list({reading.key: reading for reading in readings}.values())


def _verdict(reading: Reading) -> str:
    return "recorded" if reading.judgement is None else reading.judgement.verdict


def reading_json(reading: Reading) -> dict[str, Any]:
    """Return a reading and its verdict with the stable keys of ``judge --json``."""
    return reading.model_dump(mode="json", exclude_none=True)


def reading_lines(readings: Iterable[Reading], named: Callable[[str], str] = str) -> Iterator[str]:
    """Yield a line for every reading that holds, with its band and verdict.

    Parameters
    ----------
    named
        Returns what a reading is called, for its key.
    """
    for reading in standing_readings(readings):
        judged = reading.judgement
        band = "" if judged is None else _judged_band(judged)
        says = f"  {judged.says}" if judged is not None and judged.says else ""
        told = f"{_verdict(reading):<17} {named(str(reading.key)):<52} {reading_text(reading)}"
        yield f"{told}{band}{says}".rstrip()


def reading_text(reading: Reading) -> str:
    """Return a reading as it was typed, with its unit where none was typed."""
    typed = reading.text.strip()
    bare = not any(sign.isalpha() or sign in "°%" for sign in typed)
    return f"{typed} {_sign(reading.unit)}".rstrip() if reading.kind == "number" and bare else typed


def _sign(unit: str) -> str:
    return "" if unit == "1" else unit


def _judged_band(judged: Judgement) -> str:
    low, high = (None if end is None else plain(end) for end in (judged.low, judged.high))
    unit = f" {_sign(judged.unit)}".rstrip()
    if low is not None and high is not None:
        return f"  ({low} to {high}{unit})"
    if high is not None:
        return f"  (at most {high}{unit})"
    return f"  (at least {low}{unit})" if low is not None else ""


def verified_json(path: Path, result: VerifyResult) -> dict[str, Any]:
    """Return what was found of a record with the stable keys of ``verify --json``."""
    return {
        "record": str(path),
        "state": result.state,
        "intact": result.intact,
        "format": result.format or None,
        "complete": result.complete,
        "reasons": list(result.reasons),
        "digest": result.digest or None,
        "visit": result.visit or None,
        "signed_by": result.signed_by or None,
        "previous": result.previous or None,
        "site": result.site or None,
        "attachments": [_attached_json(one) for one in result.attachments],
        "unlisted": list(result.unlisted),
        "seals": [_seal_json(seal) for seal in result.seals],
    }


def _attached_json(found: AttachedState) -> dict[str, Any]:
    one = found.attachment
    if one is None:
        return {"state": found.state, "says": found.says}
    fields = {"name", "caption", "digest", "size", "file", "step", "withdrawn"}
    told = one.model_dump(include=fields) | {"file": one.file, "parts": list(one.parts)}
    return told | {"at": one.at.isoformat(), "state": found.state, "says": found.says or None}


def _attached_lines(result: VerifyResult) -> Iterator[str]:
    """Yield how many attached files are there, and what lies beside the record that nobody sealed."""
    wanted = [one for one in result.attachments if one.state != "taken off"]
    if wanted:
        there = sum(one.holds for one in wanted)
        yield f"{there} of {len(wanted)} attached files are there as they were attached"
    if result.unlisted:
        yield f"not listed in it, so nobody's: {', '.join(result.unlisted)}"


def chain_lines(chains: Iterable[Told]) -> Iterator[str]:
    """Yield what is odd about the chains of the sites' records."""
    for told in chains:
        word = "gap" if told.gap else "remark"
        yield f"{word:<10} {printable(told.path.name, 400)}: {printable(told.text, 400)}"


def _seal_json(seal: SealState) -> dict[str, Any]:
    return {
        "says": seal.says,
        "name": seal.name or None,
        "role": seal.role or None,
        "at": None if seal.at is None else seal.at.isoformat(),
        "signature": seal.signature,
        "key": seal.key,
        "fingerprint": fingerprint(seal.public) if seal.public else None,
        "comments": [
            {"step": one.step or None, "parts": list(one.parts), "text": one.text} for one in seal.comments
        ],
    }


_UNUSED = ", ALTHOUGH A KEY OF THIS PERSON IS KNOWN: ask whether they sealed it"


def _seal_lines(seal: SealState) -> Iterator[str]:
    """Yield who stands for a record and how sure that is, and what they say to it."""
    at = "" if seal.at is None else f", {seal.at:%Y-%m-%d %H:%M}"
    by = f" by {seal.name} ({seal.role})" if seal.name else ""
    how = {
        "none": f"without a key: a name and a digest only{_UNUSED if seal.key == 'not used' else ''}",
        "bad": "with a false signature",
        "good": f"key {seal.key or 'without a time'}",
    }[seal.signature]
    yield f"{seal.says or 'sealed'}{by}{at}, {how}"
    if seal.signature == "good":
        yield f"    {fingerprint(seal.public)}"
    for comment in seal.comments:
        where = f"{' '.join((comment.step, *comment.parts))}: " if comment.step else ""
        yield f"    {where}{comment.text}"


def comment_of(text: str, steps: Container[str]) -> Comment:
    """Return a comment as it is typed: ``step part: what to do``, or words to the whole record.

    What is written like a step's id counts as one, so that a mistyped one is told.
    """
    step, colon, rest = text.partition(":")
    named = step.split()
    meant = len(named) == 1 and _WORD.fullmatch(step)
    if colon and named and (named[0] in steps or meant or all(_STEP.fullmatch(word) for word in named)):
        return Comment(rest.strip(), named[0], tuple(named[1:]))
    return Comment(text.strip())


_STEP = re.compile(r"[a-z0-9]+(?:[-.][a-z0-9]+)+")
_WORD = re.compile(r"[a-z0-9.-]+")


def keys_json(own: Iterable[KeyFile], known: Iterable[KnownKey]) -> dict[str, Any]:
    """Return keys with the stable keys of ``keys --json``."""
    return {
        "own": [
            {"name": key.name, "role": key.role, "fingerprint": key.fingerprint, "file": str(key.path)}
            for key in own
        ],
        "known": [
            key.model_dump(include={"name", "role", "since", "until", "revoked"})
            | {"fingerprint": fingerprint(key_bytes(key))}
            for key in known
        ],
    }


def key_lines(own: Sequence[KeyFile], known: Sequence[KnownKey], folder: Path) -> Iterator[str]:
    """Yield keys as text; the fingerprint is what two people compare over a telephone.

    It stands on a line of its own, so that no narrow terminal breaks it.
    """
    yield f"your keys, in {printable(str(folder), 4096)}:" if own else f"no key of yours in {folder}"
    for key in own:
        yield f"    {printable(f'{key.name}, {key.role}', 80)}  {key.path.name}"
        yield f"        {key.fingerprint}"
    yield "keys that you know:" if known else "no list of known keys"
    for one in known:
        times = (("from", one.since), ("until", one.until), ("revoked", one.revoked))
        told = "".join(f"  {word} {day}" for word, day in times if day)
        yield f"    {printable(f'{one.name}, {one.role}', 80)}{told}"
        yield f"        {fingerprint(key_bytes(one))}"


@dataclass(frozen=True, slots=True)
class Anew:
    """What came of working a record out anew."""

    found: Recomputed
    explained: tuple[str, ...] = ()
    """What explains differences: another version, another format; empty where nothing does."""

    @property
    def false(self) -> bool:
        """Whether it says what this program would not have said, and no other version explains it."""
        found = self.found.differences
        return any(not one.excusable for one in found) or bool(found and not self.explained)

    @property
    def doubts(self) -> tuple[str, ...]:
        """Why it cannot be said to be what the program would have said, although nothing is false."""
        excused = self.explained if self.found.differences else ()
        return () if self.false else (*excused, *self.found.in_the_way)

    @property
    def verdict(self) -> Literal["confirmed", "not confirmed", "false"]:
        """How the numbers of a record stand."""
        return "false" if self.false else "not confirmed" if self.doubts else "confirmed"


def anew_json(anew: Anew | None) -> dict[str, Any]:
    """Return what came of working a record out anew; null where that was not asked for."""
    if anew is None:
        return {"verdict": None, "recomputed": None}
    found = anew.found
    return {
        "verdict": anew.verdict,
        "recomputed": {
            "compared": found.count,
            "left_out": found.left_out,
            "differences": [str(one) for one in found.differences],
            "explained_by": list(anew.explained),
            "brought_along": [*found.own, *found.in_the_way],
        },
    }


def anew_lines(anew: Anew | None, result: VerifyResult) -> Iterator[str]:
    """Yield what came of working a record out anew."""
    if anew is None:
        return
    for line in (*_compared_lines(anew), *_believed_lines(anew, result)):
        yield f"           {printable(line, 400)}"


def _compared_lines(anew: Anew) -> Iterator[str]:
    found, many = anew.found, len(anew.found.differences)
    left = f"; {found.left_out} readings that count no more left out" if found.left_out else ""
    if not many:
        yield f"worked out anew: {found.count} settings, findings and verdicts agree{left}"
        return
    why = (
        f", which may be why: {'; '.join(anew.explained)}" if anew.explained else ", and nothing explains it"
    )
    if anew.explained and anew.false:
        why = ", and no other version or format explains all of them"
    yield f"worked out anew: {many} differences in {found.count} settings, findings and verdicts{left}{why}"
    for one in sorted(found.differences, key=lambda one: one.excusable)[:_DIFFERENCES]:
        yield f"  {one}"
    if many > _DIFFERENCES:
        yield f"  and {many - _DIFFERENCES} more; --json lists all"


def _believed_lines(anew: Anew, result: VerifyResult) -> Iterator[str]:
    """Yield what a record brings along itself, and that it can be neither confirmed nor called false."""
    found = anew.found
    for text in (*found.own, *found.in_the_way):
        yield f"believed as it stands: {text}"
    if not anew.doubts:
        return
    what = f"{len(found.differences)} differences" if found.differences else "numbers of the site's own"
    yield f"NOT CONFIRMED: {what} cannot be told from changes made later; {_NEXT}"
    if not any(seal.signature == "good" for seal in result.seals):
        yield f"  it is sealed without a key, so anybody may have written {_EXCUSES}"


_NEXT = "ask who made it, or verify it with what it was made with"
_EXCUSES = "its numbers and the version in it"
_DIFFERENCES = 12


def _format_lines(result: VerifyResult) -> Iterator[str]:
    """Yield that a record is of an earlier format than the program writes."""
    if 0 < result.format < RECORDS.newest:
        yield f"written in format {result.format}, read here as format {RECORDS.newest}"


def verified_text(path: Path, result: VerifyResult) -> str:
    """Return what was found of a record in a line, with every reason below.

    Anybody may have written the record, so nothing of it reaches the terminal as a command to it.
    """
    signed = f"signed by {result.signed_by}" if result.signed_by else "unsigned"
    head = f"{result.word:<10} {printable(str(path), 4096)}  ({printable(signed, 400)})"
    seals = (line for seal in result.seals for line in _seal_lines(seal))
    more = [*_format_lines(result), *result.reasons, *_attached_lines(result), *seals]
    return "\n".join((head, *(f"           {printable(line, 400)}" for line in more)))
